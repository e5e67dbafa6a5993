//! A better split of a section's depth: the fewest passes inside every limit, in what its syntax can
//! express, never slower than it was.
//!
//! Where neither the shop nor the caller states a limit, the heaviest pass that the program itself
//! makes is the limit: then nothing is heavier than what ran before.

mod groove;
mod limits;
mod words;

use lexer::law::Law;
use lexer::section::{Pass, Purpose, Section, Syntax};
use lexer::syntax::{Style, write};
use lexer::units::{Length, Radial};

use self::groove::Groove;
pub use self::limits::{Limit, LimitKind, Wish};

use super::lay::{passes, starts, with_crest};
use super::place::Place;
use super::{Job, Reread, rounding};
use crate::cut::plan::{Broken, Demand, Shape, Split, by_table, check, fewest, lightest};
use crate::finding::Edit;
use crate::table::{Table, table};

/// How a section splits its depth, and what that costs.
#[derive(Debug, Clone, PartialEq)]
pub struct State {
    /// All passes of the section.
    pub passes: usize,
    /// Those of one start that take no new depth.
    pub springs: usize,
    /// Depth of the first pass in the material, mm.
    pub first_mm: f64,
    /// Step of the last pass that takes depth, mm.
    pub last_mm: f64,
    /// Chip area of the heaviest pass, mm².
    pub peak_mm2: f64,
    /// Force of the heaviest pass by the model, N, an estimate for comparison; none without constants
    /// of the material.
    pub peak_n: Option<f64>,
    /// Seconds of the section; none where they are not known.
    pub seconds: Option<f64>,
    /// Turns per minute, where constant and known.
    pub rpm: Option<f64>,
}

/// A point of the front: what a number of passes costs at least.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Passes of one start, spring passes included.
    pub passes: usize,
    /// Chip area of the heaviest pass, mm².
    pub peak_mm2: f64,
    /// Depth of the first pass, mm.
    pub first_mm: f64,
    /// Seconds of the section; none where they are not known.
    pub seconds: Option<f64>,
}

/// What became of the plan.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The section as it is.
    pub before: State,
    /// Limits that hold, each with its source.
    pub limits: Vec<Limit>,
    /// The better split; none where the section is as good as the limits let it be.
    pub better: Option<Better>,
    /// The fewest passes of a free list with the load of its heaviest, where the section's own cycle
    /// cannot do as well.
    pub free: Option<(usize, f64)>,
    /// Time against peak load, fewest passes first, when asked for.
    pub front: Vec<Point>,
    /// What was assumed, and why there is nothing better, in sentences.
    pub notes: Vec<String>,
}

/// A better split, written and read back.
#[derive(Debug, Clone)]
pub struct Better {
    /// The section after it.
    pub after: State,
    /// What to change in the text.
    pub edits: Vec<Edit>,
    /// The program after it.
    pub reread: Reread,
}

/// Plans a section anew.
///
/// # Errors
/// Which fact is missing, or which limits contradict each other.
pub fn plan(job: &Job<'_>, wish: &Wish) -> Result<Plan, String> {
    let section = job.section()?;
    let table = job.table()?;
    if section.chase {
        return Err("the section chases a thread that was cut before".into());
    }
    let assumed = job.assumed(section)?;
    let groove = Groove::of(job, section, table)?;
    let mut plan = Plan {
        before: state(section, table, &groove),
        limits: Vec::new(),
        better: None,
        free: None,
        front: Vec::new(),
        notes: assumed.into_iter().collect(),
    };
    let limits = limits::Limits::of(job, section, table, wish, &plan.before)?;
    plan.limits = limits.said.clone();
    plan.notes.extend(limits.notes.iter().cloned());
    // Parts of the limits where both chips and forces count.
    let load = |before: f64, depth: f64| match limits.force {
        None => groove.chip(before, depth),
        Some(most) => {
            let force = groove.force(before, depth).unwrap_or(f64::INFINITY) / most;
            force.max(groove.chip(before, depth) / limits.peak)
        }
    };
    let demand = Demand {
        height: groove.height,
        air: groove.above.max(0.0),
        load: &load,
        peak: if limits.force.is_some() {
            1.0
        } else {
            limits.peak
        },
        first: limits.first + groove.above.min(0.0),
        least: limits.least,
        finish: limits.finish,
        springs: limits.springs,
        digit: digit(section),
    };
    let shape = shape(section)?;
    let split = match (&wish.steps, wish.passes) {
        (Some(steps), _) => {
            if shape != Shape::List {
                return Err("this cycle takes no table of steps; only lists of passes do".into());
            }
            by_table(&demand, steps)
        }
        (None, Some(passes)) => {
            let cuts = passes.saturating_sub(limits.springs as usize);
            let heavy = |split: Split| {
                let checked = check(&demand, &split.depths);
                checked.map(|_| split)
            };
            lightest(shape, &demand, cuts).and_then(heavy)
        }
        (None, None) => fewest(shape, &demand),
    };
    if wish.front {
        plan.front = front(job, section, shape, &demand, &groove);
    }
    if shape != Shape::List
        && let Ok(free) = fewest(
            Shape::List,
            &Demand {
                digit: demand.digit / 2.0,
                ..demand
            },
        )
        && split
            .as_ref()
            .map_or(usize::MAX, |split| split.depths.len())
            > free.depths.len()
    {
        plan.free = Some((free.depths.len(), groove.peak(&free)));
    }
    let split = split.map_err(|broken| said(broken, &limits))?;
    let as_good = "inside these limits the program is as good as it can be: fewer passes need a limit \
                   that allows heavier ones";
    let Some(better) = carry_out(job, section, &split, wish, &groove)? else {
        plan.notes.push(as_good.into());
        return Ok(plan);
    };
    let (before, after) = (&plan.before, &better.after);
    let slower = match (before.seconds, after.seconds) {
        (Some(before), Some(after)) => after > before + 1e-6,
        _ => after.passes > before.passes,
    };
    let faster = match (before.seconds, after.seconds) {
        (Some(before), Some(after)) => after < before - 1e-6,
        _ => false,
    };
    let shorter = after.passes < before.passes || faster;
    let lighter = after.peak_mm2 < 0.98 * before.peak_mm2;
    if slower {
        plan.notes.push(format!(
            "the best split inside these limits takes {} passes and would be slower: nothing is \
             changed",
            after.passes
        ));
    } else if shorter || lighter || wish.passes.is_some() || wish.steps.is_some() {
        plan.better = Some(better);
    } else {
        plan.notes.push(as_good.into());
    }
    Ok(plan)
}

/// What the depths of a syntax may look like.
fn shape(section: &Section) -> Result<Shape, String> {
    match (&section.cut.law, section.syntax) {
        (Law::List, Syntax::Strokes | Syntax::Box) => Ok(Shape::List),
        (Law::SquareRoot { min, .. }, Syntax::TwoBlock) => Ok(Shape::SquareRoot {
            min: min.get().map_or(0.0, Radial::mm),
        }),
        (Law::Method { method, .. }, Syntax::OneBlock) => {
            let to_and_fro = u8::from(*method % 2 == 0);
            Ok(Shape::Method {
                equal_chips: 1 + to_and_fro,
                // Only where the shop cuts so already.
                equal_depths: (*method > 2).then_some(3 + to_and_fro),
            })
        }
        (Law::Power { degression, .. }, Syntax::DriveLine) => Ok(Shape::Power {
            degression: *degression,
        }),
        (Law::Counted { equal_areas, .. }, Syntax::Call) => Ok(Shape::Counted {
            equal_chips: *equal_areas,
        }),
        (Law::SquareRoot { .. } | Law::Method { .. }, Syntax::Compound) => Ok(Shape::Compound),
        _ => Err(format!(
            "a split in this way of writing ({}) is not planned yet",
            section.syntax.name()
        )),
    }
}

/// The smallest difference of depths that the section can write, mm: a diameter's last digit is half
/// of it on the radius.
fn digit(section: &Section) -> f64 {
    let least = section.units.least_increment().mm();
    match section.cut.law {
        Law::List if !section.radius_mode => least / 2.0,
        // The compound cycle's depths are written on diameter.
        _ if section.syntax == Syntax::Compound => least / 2.0,
        // Under G7 the interpreter's depth words are differences of diameters.
        Law::Power { .. } if !section.radius_mode => least / 2.0,
        _ => least,
    }
}

fn said(broken: Broken, limits: &limits::Limits) -> String {
    let (what, kind) = match broken {
        Broken::First(depth) => (
            format!("the first pass would have to be {depth:.3} mm deep"),
            LimitKind::First,
        ),
        Broken::Heavy(nth, load) => (
            match limits.force {
                None => format!("pass {nth} would have to take {load:.3} mm²"),
                Some(_) => format!("pass {nth} would be {load:.2} times as heavy as allowed"),
            },
            if limits.force.is_some() {
                LimitKind::Force
            } else {
                LimitKind::Peak
            },
        ),
        Broken::Thin(nth, step) => (
            format!("pass {nth} would take only {step:.3} mm"),
            LimitKind::Least,
        ),
        Broken::None => return "no split of this cycle keeps the limits".into(),
    };
    let limit = limits.said.iter().find(|limit| limit.kind == kind);
    let limit = limit.map_or_else(String::new, |limit| format!(" ({})", limit.text()));
    format!("the limits contradict each other: {what}{limit}")
}

/// The section with a split, not yet written: its cut and its passes.
fn laid(
    section: &Section,
    table: &Table,
    split: &Split,
) -> Result<(lexer::section::Cut, Vec<Pass>), String> {
    let height = section.side().and_then(|side| table.height(side));
    let mut cut = with_crest(&section.cut, table.crest, height);
    cut.law = split.law.clone();
    let start_of: Vec<usize> = table.rows.iter().map(|row| row.start).collect();
    let (starts, interleaved) = starts(&cut, &section.passes, &start_of)?;
    let passes = passes(&cut, section.syntax, &split.depths, &starts, interleaved)?;
    if matches!(cut.law, Law::List) {
        // A list says neither; what it is read back as does not either.
        cut.crest_x = section.cut.crest_x.clone();
        cut.height = section.cut.height.clone();
    }
    Ok((cut, passes))
}

/// Writes a split and reads it back; none where the text says it already.
fn carry_out(
    job: &Job<'_>,
    section: &Section,
    split: &Split,
    wish: &Wish,
    groove: &Groove,
) -> Result<Option<Better>, String> {
    let table = job.table()?;
    let (cut, passes) = laid(section, table, split)?;
    let speed = words::speed(job, section, wish)?;
    let limit = rounding(section, passes.len()) + Length::from_pm(1);
    let finish = |mut edits: Vec<Edit>| -> Result<Option<Better>, String> {
        edits.extend(speed.clone());
        edits.retain(|edit| edit.span.of(job.bytes) != edit.text.as_bytes());
        if edits.is_empty() {
            return Ok(None);
        }
        edits.sort_by_key(|edit| (edit.span.start, edit.span.end));
        let reread = job.reread(&edits, section.syntax, &passes, limit)?;
        Ok(Some(Better {
            after: state(&reread.section, &reread.table, groove),
            edits,
            reread,
        }))
    };
    // The least text: the words of a cycle where they stand.
    if let Some(edits) = words::edits(job.bytes, section, &split.law)
        && let Ok(better) = finish(edits)
    {
        return Ok(better);
    }
    let place = Place::of(job.bytes, job.program, section)?;
    let mut style = Style::of(section, job.program.family, job.bytes);
    let written = write(&cut, &passes, section.syntax, &style).map_err(|cannot| cannot.0)?;
    place.numbered(&mut style, written.text.lines().count());
    let written = write(&cut, &passes, section.syntax, &style).map_err(|cannot| cannot.0)?;
    finish(vec![place.edit(&written.text, section.syntax, &style)])
}

fn state(section: &Section, table: &Table, groove: &Groove) -> State {
    let mut state = State {
        passes: section.passes.len(),
        springs: 0,
        first_mm: 0.0,
        last_mm: 0.0,
        peak_mm2: 0.0,
        peak_n: None,
        seconds: table.seconds.map(|seconds| seconds.total()),
        rpm: section.spindle.rpm(),
    };
    let mut before = 0.0;
    for (row, pass) in table.rows.iter().zip(&section.passes) {
        let Some(depth) = row.depth.map(Radial::mm).filter(|_| row.start == 0) else {
            continue;
        };
        state.springs += usize::from(pass.purpose == Purpose::Spring);
        if depth <= before {
            continue;
        }
        if before == 0.0 {
            state.first_mm = depth;
        }
        state.last_mm = depth - before;
        // Depths of rows count from the material's crest.
        let words = |depth: f64| {
            if depth == 0.0 {
                0.0
            } else {
                depth + groove.above
            }
        };
        let chip = groove.chip(words(before), words(depth));
        state.peak_mm2 = state.peak_mm2.max(chip);
        let force = groove.force(words(before), words(depth));
        state.peak_n = force.map(|force| force.max(state.peak_n.unwrap_or(0.0)));
        before = depth;
    }
    state
}

/// The lightest split of every number of passes, from the fewest that the law gives to as many as
/// the section makes, as far as each is lighter than the one before.
fn front(
    job: &Job<'_>,
    section: &Section,
    shape: Shape,
    demand: &Demand<'_>,
    groove: &Groove,
) -> Vec<Point> {
    let (Ok(table), Ok(identified)) = (job.table(), job.identified()) else {
        return Vec::new();
    };
    let load = |before: f64, depth: f64| groove.chip(before, depth);
    let open = Demand {
        load: &load,
        peak: f64::INFINITY,
        first: f64::INFINITY,
        ..*demand
    };
    let most = section.passes.len().min(60);
    let mut all: Vec<Point> = Vec::new();
    for cuts in 1..=most {
        let Ok(split) = lightest(shape, &open, cuts) else {
            continue;
        };
        if split.cuts() != cuts || all.last().is_some_and(|last| split.peak >= last.peak_mm2) {
            continue;
        }
        let Ok((cut, passes)) = laid(section, table, &split) else {
            continue;
        };
        let after = Section {
            cut,
            passes,
            ..section.clone()
        };
        let timed = self::table(&after, identified, job.facts);
        all.push(Point {
            passes: split.depths.len(),
            peak_mm2: split.peak,
            first_mm: split
                .depths
                .first()
                .map_or(0.0, |(depth, _)| depth.mm() - groove.above),
            seconds: timed.seconds.map(|seconds| seconds.total()),
        });
    }
    all
}
