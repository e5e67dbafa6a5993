//! A cut back to blocks, in a shop's way of writing. What has been written is read back and
//! compared pass by pass, so that rounding and what a syntax cannot say are never silent.

mod style;
mod text;

pub use style::{Habits, Numbering, Style, Whole};
pub(crate) use text::{Text, Words};

use crate::evidence::Family;
use crate::law::{Law, PASS_LIMIT, depths};
use crate::program::Settings;
use crate::section::{Cut, Infeed, Pass, PullOut, Syntax, Val};
use crate::syntax::{box_cycle, drive_line, one_block, strokes, two_block};
use crate::units::{Lead, Length, Radial};

/// Blocks that cut a thread. They expect the tool at the start point of the cut and leave it there
/// ([`Syntax::DriveLine`] leaves it at the start diameter over the end of the thread).
#[derive(Debug, Clone, PartialEq)]
pub struct Written {
    /// The blocks, each with its line end.
    pub text: String,
    /// Largest distance between a pass as asked for and as written, along X (a diameter) or Z:
    /// the rounding of the words.
    pub deviation: Length,
    /// What this syntax does not say and the cut had, in sentences without a full stop.
    pub lost: Vec<String>,
}

/// Why a cut cannot be written in a syntax, in a sentence without a full stop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cannot(pub String);

impl Cannot {
    pub(crate) fn because<T>(why: impl Into<String>) -> Result<T, Cannot> {
        Err(Cannot(why.into()))
    }
}

/// One start of a thread in a multi-pass cycle.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Run {
    /// Where the tool stands along the axis.
    pub(crate) z: Option<Length>,
    /// Start angle in thousandths of a degree.
    pub(crate) angle: Option<i64>,
    /// Block skip.
    pub(crate) skip: Option<u8>,
    depths: Vec<Radial>,
}

/// Writes the passes of a cut in a syntax; the passes of the cut's own law when `passes` is empty.
///
/// # Errors
///
/// When the syntax, the family of controls or the rounding of the style cannot express the cut.
pub fn write(cut: &Cut, passes: &[Pass], syntax: Syntax, style: &Style) -> Result<Written, Cannot> {
    let own;
    let passes = if passes.is_empty() {
        own = super::passes(cut, syntax);
        &own
    } else {
        passes
    };
    if passes.is_empty() {
        return Cannot::because("no passes are given and the cut does not say them");
    }
    if passes.len() >= PASS_LIMIT {
        return Cannot::because(format!("{PASS_LIMIT} passes and more are not written"));
    }
    if style.incremental {
        return Cannot::because("X and Z are distances here (G91); only positions are written");
    }
    fits_family(syntax, style.family)?;
    let mut lost = lost(cut, passes, syntax);
    let mut answer = Cannot::because("the depths follow no law of this cycle");
    match syntax {
        Syntax::Strokes => {
            let text = strokes::write(cut, passes, style)?;
            answer = proved(text, cut, passes, syntax, style);
        }
        Syntax::Box => {
            let text = box_cycle::write(cut, passes, style)?;
            answer = proved(text, cut, passes, syntax, style);
        }
        Syntax::TwoBlock | Syntax::OneBlock | Syntax::DriveLine => {
            if syntax != Syntax::DriveLine && !ends_only(passes, &cut.pull_out) {
                return Cannot::because("a pass is made of several pieces");
            }
            let runs = runs(cut, passes)?;
            for law in laws(syntax, cut, &runs[0].depths, style) {
                let text = match syntax {
                    Syntax::TwoBlock => two_block::write(cut, &law, &runs, style)?,
                    Syntax::OneBlock => one_block::write(cut, &law, &runs, style)?,
                    _ => drive_line::write(cut, &law, passes, &runs, style)?,
                };
                answer = proved(text, cut, passes, syntax, style);
                if answer.is_ok() {
                    break;
                }
            }
        }
    }
    let (text, deviation, shifted) = answer?;
    lost.extend(shifted);
    Ok(Written {
        text,
        deviation,
        lost,
    })
}

fn fits_family(syntax: Syntax, family: Family) -> Result<(), Cannot> {
    let interpreter = family == Family::Interpreter;
    match (syntax, family) {
        (_, Family::Mill) => Cannot::because("a milling machine cuts no thread this way"),
        (Syntax::Strokes, _) => Ok(()),
        (Syntax::DriveLine, _) if !interpreter => {
            Cannot::because("only the open RS274/NGC interpreter knows this cycle")
        }
        (Syntax::Box | Syntax::TwoBlock | Syntax::OneBlock, _) if interpreter => {
            Cannot::because("the open RS274/NGC interpreter does not know this cycle")
        }
        (Syntax::OneBlock, Family::SystemC) => {
            Cannot::because("how system C writes this cycle in one block is not known")
        }
        _ => Ok(()),
    }
}

/// Whether every pass is straight, or tapered at its end only, which the cut calls a pull-out.
pub(crate) fn ends_only(passes: &[Pass], pull_out: &PullOut) -> bool {
    let exit = matches!(pull_out, PullOut::Axial(_));
    passes
        .iter()
        .all(|pass| pass.legs.is_empty() || exit && pass.legs.len() == 2)
}

/// What a syntax leaves to the control or to the machinist although the cut says it.
fn lost(cut: &Cut, passes: &[Pass], syntax: Syntax) -> Vec<String> {
    let mut lost = Vec::new();
    let tapered = passes.iter().any(|pass| !pass.legs.is_empty());
    let over = match cut.pull_out {
        PullOut::TenthsOfLead(tenths) => {
            Some(format!("over {}.{} leads", tenths / 10, tenths % 10))
        }
        PullOut::Axial(length) => Some(format!("over {length} mm")),
        PullOut::None | PullOut::Setting => None,
    };
    if let Some(over) = over {
        match syntax {
            Syntax::Strokes | Syntax::DriveLine if !tapered => lost.push(format!(
                "the pull-out {over}: the passes end at full depth, which needs a relief"
            )),
            Syntax::Box | Syntax::OneBlock => lost.push(format!(
                "the pull-out {over}: this cycle pulls out as the control is set"
            )),
            _ => {}
        }
    } else if cut.pull_out == PullOut::Setting
        && matches!(syntax, Syntax::Strokes | Syntax::DriveLine)
    {
        lost.push(
            "the pull-out that is set in the control: the passes end at full depth, which needs \
             a relief"
                .into(),
        );
    }
    let speed = |pass: &Pass| pass.spindle.speed.map(|speed| speed.value);
    if passes.iter().any(|pass| speed(pass) != speed(&passes[0])) {
        lost.push("the change of speed between passes".into());
    }
    lost
}

/// The passes split into starts: a new one where the tool begins shallow again, or at another
/// place of the turn.
fn runs(cut: &Cut, passes: &[Pass]) -> Result<Vec<Run>, Cannot> {
    let depth = |pass: &Pass| -> Result<Radial, Cannot> {
        let from_crest = || Some(Radial(pass.x?.above(cut.crest_x.get()?).0.abs()));
        pass.depth.or_else(from_crest).ok_or_else(|| {
            Cannot("where the crest is is not known, so the passes have no depths".into())
        })
    };
    let mut runs: Vec<Run> = Vec::new();
    let mut before: Option<&Pass> = None;
    for pass in passes {
        let own = depth(pass)?;
        let new = match (before, runs.last().and_then(|run| run.depths.last())) {
            (Some(before), Some(&last)) => {
                own < last
                    || before.start_angle != pass.start_angle
                    || own == last && before.z_start != pass.z_start
            }
            _ => true,
        };
        if new {
            let first = passes.first().and_then(|first| first.z_start);
            let moved = pass.z_start.zip(first).map(|(z, first)| z - first);
            runs.push(Run {
                z: cut.start_z.get().zip(moved).map(|(z, moved)| z + moved),
                angle: pass.start_angle,
                skip: pass.skip,
                depths: Vec::new(),
            });
        }
        if let Some(run) = runs.last_mut() {
            run.depths.push(own);
        }
        before = Some(pass);
    }
    Ok(runs)
}

/// Laws of a syntax that might give these depths: the cut's own first, then what the depths
/// suggest. Each is tried; only one that gives the passes is taken.
fn laws(syntax: Syntax, cut: &Cut, wanted: &[Radial], style: &Style) -> Vec<Law> {
    match (syntax, &cut.law) {
        (Syntax::TwoBlock, Law::SquareRoot { .. })
        | (Syntax::OneBlock, Law::Method { .. })
        | (Syntax::DriveLine, Law::Power { .. }) => return vec![cut.law.clone()],
        _ => {}
    }
    let (Some(&first), Some(&full)) = (wanted.first(), wanted.last()) else {
        return Vec::new();
    };
    let at_full = wanted.iter().filter(|&&depth| depth == full).count();
    let known = |value: Radial| Val::Exact(value);
    match syntax {
        Syntax::OneBlock => {
            let both = matches!(cut.infeed, Infeed::Alternating(_));
            let law = |method| Law::Method {
                first: known(first),
                method,
            };
            if both {
                vec![law(2), law(4)]
            } else {
                vec![law(1), law(3)]
            }
        }
        Syntax::DriveLine => [2.0, 1.0]
            .into_iter()
            .map(|degression| Law::Power {
                first: known(first),
                degression,
                springs: at_full as i64 - 1,
            })
            .collect(),
        _ => two_block_laws(wanted, first, full, at_full, style.last_digit()),
    }
}

fn two_block_laws(
    wanted: &[Radial],
    first: Radial,
    full: Radial,
    at_full: usize,
    digit: Length,
) -> Vec<Law> {
    let rough = &wanted[..wanted.len() - at_full];
    let deepest = rough.last().copied().unwrap_or_default();
    // A constant step at the end of the roughing is a minimum cut.
    let step = match rough {
        [.., a, b] => Radial(b.0 - a.0),
        _ => first,
    };
    // The last cut as a finishing allowance; a digit more, where rounding would make another
    // roughing pass between.
    let last = full.0 - deepest.0;
    let mut all = Vec::new();
    for min in [Radial::default(), step] {
        for (finish, repeats) in [
            (Length::ZERO, at_full.saturating_sub(1)),
            (last, at_full),
            (last + digit, at_full),
        ] {
            if repeats > 0 {
                all.push(Law::SquareRoot {
                    first: Val::Exact(first),
                    min: Val::Exact(min),
                    finish: Val::Exact(Radial(finish)),
                    repeats: Val::Exact(repeats as u32),
                });
            }
        }
    }
    // Only laws that give as many passes are worth writing.
    all.retain(|law| depths(law, full).len().abs_diff(wanted.len()) <= 1);
    all
}

/// Reads the text back and compares it with what was asked for: the text with its deviation and
/// what has shifted.
fn proved(
    text: String,
    cut: &Cut,
    wanted: &[Pass],
    syntax: Syntax,
    style: &Style,
) -> Result<(String, Length, Vec<String>), Cannot> {
    let settings = Settings {
        family: Some(match style.family {
            Family::Undecided => Family::SystemA,
            family => family,
        }),
        diameter_mode: Some(!style.radius_mode),
        units: Some(style.units),
        decimal: Some(style.decimal_rule()),
        ..Settings::default()
    };
    let mut approach = Text::new(style);
    let mut words = vec![style.code(0)];
    words.extend(cut.start_x.get().map(|x| style.x(x)));
    words.extend(cut.start_z.get().map(|z| style.position('Z', z)));
    approach.line(&words);
    let program = crate::read((approach.finish() + &text).as_bytes(), &settings);
    let got: Vec<&Pass> = program
        .sections
        .iter()
        .flat_map(|section| &section.passes)
        .collect();
    if program
        .sections
        .iter()
        .any(|section| section.syntax != syntax)
    {
        return Cannot::because("the blocks would be read in another way");
    }
    if got.len() != wanted.len() {
        return Cannot::because(format!(
            "the words of this syntax, rounded to its digits, give {} passes and not {}",
            got.len(),
            wanted.len()
        ));
    }
    let count = wanted.len() as f64;
    let limit =
        Length::from_pm((style.last_digit().pm() as f64 * (2.0 + 2.0 * count.sqrt())) as i64);
    let flank = match cut.infeed {
        Infeed::Flank(angle) | Infeed::Alternating(angle) => angle.to_radians().tan().abs(),
        _ => 0.0,
    };
    let height = cut.height.get().map_or(0.0, Radial::mm);
    let along_flank = Length::from_mm(height * flank) + limit;
    let mut deviation = Length::ZERO;
    let mut shifted = Vec::new();
    for (index, (got, wanted)) in got.iter().zip(wanted).enumerate() {
        let nth = index + 1;
        let off = |a: Option<Length>, b: Option<Length>| {
            a.zip(b).map_or(Length::ZERO, |(a, b)| (a - b).abs())
        };
        let x = |x: Option<crate::units::Diameter>| x.map(|x| x.0);
        let depth = |depth: Option<Radial>| depth.map(|depth| depth.0.double());
        let across = off(x(got.x), x(wanted.x))
            .max(off(x(got.x_start), x(wanted.x_start)))
            .max(off(depth(got.depth), depth(wanted.depth)));
        if across > limit {
            return Cannot::because(format!(
                "pass {nth} would be cut {across} mm off in diameter; this syntax has no word for \
                 its depth"
            ));
        }
        let mut along = off(got.z_start, wanted.z_start);
        if along > limit {
            return Cannot::because(format!(
                "pass {nth} would start {along} mm off along the axis"
            ));
        }
        let end = off(got.z_end, wanted.z_end);
        if end > along_flank {
            return Cannot::because(format!("pass {nth} would end {end} mm off along the axis"));
        }
        if end <= limit {
            along = along.max(end);
        } else if shifted.is_empty() {
            shifted.push(format!(
                "where each pass ends: up to {along_flank} mm off, because this cycle moves the \
                 whole stroke along the flank"
            ));
        }
        if got.start_angle.unwrap_or(0) != wanted.start_angle.unwrap_or(0) {
            return Cannot::because(format!(
                "this syntax has no word for the start angle of pass {nth}"
            ));
        }
        same_lead(nth, got, wanted, style)?;
        let pieces = same_pieces(nth, got, wanted, syntax, limit)?;
        deviation = deviation.max(pieces);
        deviation = deviation.max(across).max(along);
    }
    Ok((text, deviation, shifted))
}

/// Largest distance between the ends of the pieces of two passes.
fn same_pieces(
    nth: usize,
    got: &Pass,
    wanted: &Pass,
    syntax: Syntax,
    limit: Length,
) -> Result<Length, Cannot> {
    if !matches!(syntax, Syntax::Strokes | Syntax::DriveLine) {
        return Ok(Length::ZERO);
    }
    let off = got
        .legs
        .iter()
        .zip(&wanted.legs)
        .flat_map(|(a, b)| [(a.x.0 - b.x.0).abs(), (a.z - b.z).abs()])
        .max()
        .unwrap_or_default();
    if got.legs.len() != wanted.legs.len() || off > limit {
        return Cannot::because(format!("the pieces of pass {nth} would be others"));
    }
    Ok(off)
}

fn same_lead(nth: usize, got: &Pass, wanted: &Pass, style: &Style) -> Result<(), Cannot> {
    let (Some(got), Some(wanted)) = (got.lead, wanted.lead) else {
        return Ok(());
    };
    let digit = style.units.pm() / 10i64.pow(u32::from(style.lead_decimals));
    let off = (got.length() - wanted.length()).abs();
    if off > Length::from_pm(digit) {
        return Cannot::because(format!(
            "the lead of pass {nth} would be {} mm instead of {}",
            Lead::length(got),
            Lead::length(wanted)
        ));
    }
    Ok(())
}

/// The value, or the reason why there is none.
pub(crate) fn need<T: Copy>(value: &Val<T>, name: &str) -> Result<T, Cannot> {
    value
        .get()
        .ok_or_else(|| Cannot(format!("{name}: {}", value.why().unwrap_or("not known"))))
}
