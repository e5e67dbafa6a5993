//! A whole threading block from a designation and facts: notes, units, tool, speed, approach, thread
//! and the way back, read again and judged before it is given.

pub(super) mod geometry;

use lexer::evidence::Family;
use lexer::law::{Law, depths};
use lexer::program::Settings;
use lexer::section::{Cut, Infeed, Pass, PullOut, Purpose, Side, Spindle, Syntax, Val};
use lexer::source::Span;
use lexer::syntax::{Style, write};
use lexer::units::{Diameter, Length, Radial, Units};

use super::lay::{Start, passes};
use super::note;
use crate::cut::area::{flat_groove, groove};
use crate::cut::passes::{BOOK, finishing_cut, first_step, least_step};
use crate::cut::plan::{Broken, Demand, Shape, Split, fewest};
use crate::facts::Facts;
use crate::finding::Severity;
use crate::judge::judge;
use crate::standards::form::Flanks;
use crate::standards::thread::Thread;
use crate::standards::{Hand, Side as ThreadSide};

/// How fast the spindle turns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Speed {
    /// Turns per minute.
    Rpm(f64),
    /// Surface speed in m/min at the crest: the turns that give it, rounded down to tens, within
    /// the machine's limits.
    Surface(f64),
}

/// What to write. Lengths in mm.
#[derive(Debug, Clone)]
pub struct Order {
    /// The thread.
    pub thread: Thread,
    /// Bolt or nut.
    pub side: ThreadSide,
    /// The syntax.
    pub syntax: Syntax,
    /// How the blocks look, and the family of controls they are for.
    pub style: Style,
    /// Length of the thread from Z0.
    pub length: f64,
    /// Where the stroke starts in front of Z0; none for as far as the axis needs.
    pub start: Option<f64>,
    /// Radial clearance of the start; none for the usual one.
    pub clearance: Option<f64>,
    /// Speed.
    pub speed: Speed,
    /// Nose radius of the tool; none where it is not known.
    pub nose: Option<f64>,
    /// The T word, such as `T0303`.
    pub tool: Option<String>,
    /// Infeed angle in degrees; none for the usual one of the form.
    pub infeed: Option<f64>,
    /// Largest depth of the first pass.
    pub first: Option<f64>,
    /// Largest chip area of a pass, mm².
    pub peak: Option<f64>,
    /// Smallest step of a roughing pass.
    pub least: Option<f64>,
    /// Last cut.
    pub finish: Option<f64>,
    /// Passes without new depth.
    pub springs: Option<u32>,
    /// Tenths of a lead of pull-out, where the syntax has a word for it.
    pub pull_out: Option<u32>,
    /// Whether comments begin with a semicolon instead of standing in brackets.
    pub semicolon: bool,
}

/// A block that was written.
#[derive(Debug, Clone)]
pub struct Block {
    /// The lines, each with its line end.
    pub text: String,
    /// Depths of the passes of one start, mm below the crest.
    pub depths: Vec<(Radial, Purpose)>,
    /// Chip area of the heaviest pass, mm²; none where the form has no straight flanks.
    pub peak_mm2: Option<f64>,
    /// Seconds of the thread, where the model gives them.
    pub seconds: Option<f64>,
    /// Turns per minute.
    pub rpm: f64,
    /// What was assumed, with sources, in sentences.
    pub notes: Vec<String>,
    /// What `check` says of it, as `rule: message`.
    pub findings: Vec<String>,
}

/// Writes a block.
///
/// # Errors
/// Which fact is missing, or why the syntax cannot say the thread.
pub fn block(order: &Order, facts: &Facts) -> Result<Block, String> {
    let mut notes = Vec::new();
    let units = order.style.units;
    let digit = units.least_increment().mm();
    let shape = geometry::shape(order, digit, &mut notes)?;
    let rpm = {
        let limits = geometry::speed_limits(facts, Some(order.thread.lead().mm()));
        geometry::rpm(order.speed, shape.crest, limits, &mut notes)?
    };
    let infeed = geometry::infeed(order, &mut notes)?;
    let run_in = geometry::run_in(order, facts, rpm, shape.depth, infeed, &mut notes);
    let stroke = run_in + order.length;
    // Radius at the start minus radius at the end.
    let slope = order.thread.form().taper / 2.0;
    let taper = match order.side {
        Side::External => -stroke * slope,
        Side::Internal => stroke * slope,
    };
    let pull_out = match order.syntax {
        Syntax::TwoBlock => PullOut::TenthsOfLead(order.pull_out.unwrap_or(0)),
        _ => PullOut::None,
    };
    let on_digit = |mm: f64| Length::from_mm((mm / digit).round() * digit);
    // A diameter written as a radius has half as many.
    let grid = if order.style.radius_mode {
        2.0 * digit
    } else {
        digit
    };
    let diameter = |mm: f64| Diameter(Length::from_mm((mm / grid).round() * grid));
    let mut cut = Cut {
        side: Val::Exact(order.side),
        start_x: Val::Exact(diameter(shape.start_x)),
        start_z: Val::Exact(on_digit(run_in)),
        root_x: Val::Exact(diameter(shape.root)),
        end_z: Val::Exact(on_digit(-order.length)),
        crest_x: Val::Exact(diameter(shape.crest)),
        height: Val::Exact(Radial(on_digit(shape.depth))),
        taper: Val::Exact(on_digit(taper)),
        lead: Val::Exact(order.thread.lead()),
        starts: order.thread.starts,
        start_angle: None,
        law: Law::List,
        infeed: if infeed == 0.0 {
            Infeed::Radial
        } else {
            Infeed::Flank(infeed)
        },
        pull_out,
    };
    let height = cut.height.get().map_or(0.0, Radial::mm);
    let split = split(order, height, digit, &mut notes)?;
    cut.law = split.law.clone();
    // The cycle itself may add passes that its law has.
    let depths = match cut.law {
        Law::List => split.depths.clone(),
        _ => depths(&cut.law, Radial::from_mm(height)),
    };
    let starts = starts(order, &cut);
    let passes = passes(&cut, order.syntax, &depths, &starts, false)?;
    let written = write(&cut, &passes, order.syntax, &order.style).map_err(|cannot| cannot.0)?;
    notes.extend(
        written
            .lost
            .iter()
            .map(|lost| format!("not in this syntax: {lost}")),
    );
    let left = order.thread.hand == Hand::Left;
    if left {
        notes.push(
            "left-hand: the spindle turns counterclockwise (M4) and the tool feeds towards the chuck; \
             look at how the tool is mounted"
                .into(),
        );
    }
    let note = note::text(order);
    if note.is_none() {
        notes
            .push("its designation cannot stand in a comment: name it in the configuration".into());
    }
    let frame = Frame {
        style: &order.style,
        note,
        // Brackets are arguments there.
        semicolon: order.semicolon || order.style.family == Family::Call,
        tool: order.tool.clone(),
        rpm,
        counterclockwise: left,
        start: (diameter(shape.start_x), on_digit(run_in)),
    };
    let text = framed(&frame, &written.text);
    let mut block = Block {
        text,
        depths,
        peak_mm2: order.thread.form().flanks.map(|_| split.peak),
        seconds: None,
        rpm,
        notes,
        findings: Vec::new(),
    };
    prove(&mut block, order, facts)?;
    Ok(block)
}

/// The block read again: one section in this syntax with these passes, and no error.
fn prove(block: &mut Block, order: &Order, facts: &Facts) -> Result<(), String> {
    let bytes = block.text.as_bytes();
    let settings = Settings {
        family: Some(order.style.family),
        ..Settings::default()
    };
    let program = lexer::read(bytes, &settings);
    let [section] = program.sections.as_slice() else {
        let count = program.sections.len();
        return Err(format!(
            "the block is read back as {count} threads, not as one"
        ));
    };
    let wanted = block.depths.len() * order.thread.starts as usize;
    if section.syntax != order.syntax || section.passes.len() != wanted {
        return Err(format!(
            "the block is read back as {} with {} passes, not as {} with {wanted}",
            section.syntax.name(),
            section.passes.len(),
            order.syntax.name()
        ));
    }
    let judgement = judge(bytes, &program, &settings, facts);
    block.seconds = judgement.tables[0].seconds.map(|seconds| seconds.total());
    let errors = judgement
        .findings
        .iter()
        .filter(|f| f.severity == Severity::Error);
    let errors: Vec<String> = errors.map(|error| error.message.clone()).collect();
    if !errors.is_empty() {
        return Err(format!("the block would be wrong: {}", errors.join("; ")));
    }
    let said = |finding: &crate::finding::Finding| format!("{}: {}", finding.rule, finding.message);
    block.findings = judgement.findings.iter().map(said).collect();
    Ok(())
}

fn starts(order: &Order, cut: &Cut) -> Vec<Start> {
    let like = Pass {
        line: 1,
        span: Span::default(),
        purpose: Purpose::Rough,
        x_start: cut
            .root_x
            .get()
            .zip(cut.taper.get())
            .map(|(x, taper)| x.out_by(Radial(taper))),
        x: cut.root_x.get(),
        depth: None,
        step: None,
        z_start: cut.start_z.get(),
        z_end: cut.end_z.get(),
        lead: cut.lead.get(),
        start_angle: None,
        spindle: Spindle::default(),
        skip: None,
        lead_change: None,
        legs: Vec::new(),
    };
    (0..order.thread.starts)
        .map(|start| {
            let moved = order.thread.pitch.length() * i64::from(start);
            Start {
                like: like.clone(),
                z: cut.start_z.get().map(|z| z + moved),
            }
        })
        .collect()
}

fn split(order: &Order, height: f64, digit: f64, notes: &mut Vec<String>) -> Result<Split, String> {
    let pitch = order.thread.pitch.mm();
    let form = order.thread.form();
    let flanks = form.flanks.unwrap_or(Flanks::symmetric(30.0));
    let flat = form.tip_flat_mm(order.side, pitch);
    let nose = order.nose.unwrap_or(0.0);
    let area = |depth: f64| match flat {
        Some(flat) => flat_groove(flanks, flat, depth),
        None => groove(flanks, nose, depth),
    };
    let load = |before: f64, depth: f64| area(depth) - area(before);
    let on_digit = |mm: f64| (mm / digit).round() * digit;
    let finish = on_digit(order.finish.unwrap_or(finishing_cut(pitch)));
    let least = order.least.unwrap_or(least_step(pitch));
    let (shape, digit) = match order.syntax {
        Syntax::TwoBlock => (
            Shape::SquareRoot {
                min: on_digit(least),
            },
            digit,
        ),
        Syntax::OneBlock => (
            Shape::Method {
                equal_chips: 1,
                // Across a flat tip equal steps are nearly equal chips.
                equal_depths: flat.map(|_| 3),
            },
            digit,
        ),
        Syntax::DriveLine => (Shape::Power { degression: 2.0 }, digit),
        Syntax::Call => (Shape::Counted { equal_chips: true }, digit),
        // Its depths are written on diameter.
        Syntax::Compound => (Shape::Compound, digit / 2.0),
        // A diameter's last digit is half of it on the radius.
        _ if order.style.radius_mode => (Shape::List, digit),
        _ => (Shape::List, digit / 2.0),
    };
    let mut demand = Demand {
        height,
        air: 0.0,
        load: &load,
        // As much as the usual first step of a 60° thread of this pitch takes; in proportion to the
        // pitch above 4 mm, where the table ends and tools are larger (our own choice).
        peak: order.peak.unwrap_or_else(|| {
            let usual = groove(Flanks::symmetric(30.0), 0.0, first_step(pitch));
            usual * (pitch / 4.0).max(1.0)
        }),
        first: order.first.unwrap_or(first_step(pitch)),
        least,
        finish,
        springs: order.springs.unwrap_or(1),
        digit,
    };
    let mut split = fewest(shape, &demand);
    let mut raised = false;
    // A wide form cannot be cut in chips that small without rubbing, and a law may be uneven in it.
    for _ in 0..RAISES {
        if split.is_ok() || order.peak.is_some() && order.first.is_some() {
            break;
        }
        raised = true;
        if order.peak.is_none() {
            demand.peak *= RAISE;
        }
        if order.first.is_none() {
            demand.first *= RAISE;
        }
        split = fewest(shape, &demand);
    }
    if order.first.is_none() || order.peak.is_none() {
        let why = if raised {
            "more than the usual first step of a 60° thread of this pitch, because its form cannot be \
             split finer in this way of writing without rubbing (our own choice)"
                .to_owned()
        } else if pitch > 4.0 && order.peak.is_none() {
            format!("{BOOK}, in proportion to the pitch above 4 mm (our own choice)")
        } else {
            BOOK.to_owned()
        };
        notes.push(format!(
            "split: first pass at most {:.3} mm, chips of at most {:.3} mm² each: {why}; insert and \
             material decide",
            demand.first, demand.peak
        ));
    }
    split.map_err(|broken| match broken {
        Broken::First(mm) => format!("the first pass would have to be {mm:.3} mm deep: allow more"),
        Broken::Heavy(_, load) => format!("a pass would have to take {load:.3} mm²: allow more"),
        Broken::Thin(_, mm) => format!("a pass would take only {mm:.3} mm: allow less"),
        Broken::None => "no split keeps these limits".to_owned(),
    })
}

/// Where no limit is stated, the usual ones are raised by this factor, so often.
const RAISE: f64 = 1.25;
const RAISES: usize = 8;

/// What stands around written passes.
pub(super) struct Frame<'a> {
    pub(super) style: &'a Style,
    /// The `THREAD` note, without brackets.
    pub(super) note: Option<String>,
    pub(super) semicolon: bool,
    pub(super) tool: Option<String>,
    pub(super) rpm: f64,
    pub(super) counterclockwise: bool,
    pub(super) start: (Diameter, Length),
}

/// Cautions that stand in every written block, in letters that any control takes.
pub(super) const CAUTIONS: [&str; 2] = [
    "CAUTION - ARITHMETIC ONLY - PROVE OUT CLEAR OF THE PART",
    "HAND NEAR FEED HOLD - GAUGE THE FIRST PART",
];

/// Passes with notes, units, tool, speed, approach and the way back to the start.
pub(super) fn framed(frame: &Frame<'_>, passes: &str) -> String {
    let style = frame.style;
    let mut out = String::new();
    let comment = |text: &str| {
        if frame.semicolon {
            format!("; {text}")
        } else {
            format!("({text})")
        }
    };
    for text in frame.note.iter().map(String::as_str).chain(CAUTIONS) {
        out.push_str(&comment(text));
        out.push_str(style.line_end);
    }
    let mut line = |words: &[String]| {
        let text = words.join(if style.spaced { " " } else { "" });
        out.push_str(&if style.lower {
            text.to_ascii_lowercase()
        } else {
            text
        });
        out.push_str(style.line_end);
    };
    line(&state(style));
    if let Some(tool) = &frame.tool {
        let change = (style.family == Family::Interpreter).then(|| "M6".to_owned());
        let words: Vec<String> = std::iter::once(tool.clone()).chain(change).collect();
        line(&words);
    }
    let turn = if frame.counterclockwise { 4 } else { 3 };
    let turn = if style.two_digits {
        format!("M{turn:02}")
    } else {
        format!("M{turn}")
    };
    line(&[style.code(970), style.plain('S', frame.rpm), turn]);
    let (x, z) = frame.start;
    line(&[style.code(0), style.x(x), style.position('Z', z)]);
    let mut all = out;
    all.push_str(passes);
    let back = [style.code(0), style.x(x), style.position('Z', z)];
    let text = back.join(if style.spaced { " " } else { "" });
    all.push_str(&if style.lower {
        text.to_ascii_lowercase()
    } else {
        text
    });
    all.push_str(style.line_end);
    all
}

/// Units, plane, kind of distances and feed per turn, in the codes of the family.
pub(super) fn state(style: &Style) -> Vec<String> {
    let inch = style.units == Units::Inch;
    let (metric, imperial) = match style.family {
        Family::SystemC | Family::Call => (710, 700),
        _ => (210, 200),
    };
    let units = if inch { imperial } else { metric };
    let rest: &[i32] = match style.family {
        Family::SystemB | Family::SystemC | Family::Call => &[900, 950],
        Family::Interpreter if style.radius_mode => &[180, 80, 900],
        Family::Interpreter => &[180, 70, 900],
        _ => &[990],
    };
    std::iter::once(&units)
        .chain(rest)
        .map(|code| style.code(*code))
        .collect()
}

#[cfg(test)]
pub(super) mod tests;
