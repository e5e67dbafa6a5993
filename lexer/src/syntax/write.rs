//! A cut back to blocks, in a shop's way of writing. What has been written is read back and
//! compared pass by pass, so that rounding and what a syntax cannot say are never silent.

mod laws;
mod proof;
mod sample;
mod style;
mod text;

pub use style::{Habits, Numbering, Style, Whole};
pub(crate) use text::{Text, Words};

use self::laws::laws;
use self::proof::proved;
use crate::evidence::Family;
use crate::law::PASS_LIMIT;
use crate::section::{Cut, Pass, PullOut, Syntax, Val};
use crate::syntax::{box_cycle, call, compound, drive_line, one_block, strokes, two_block};
use crate::units::{Length, Radial};

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
        Syntax::TwoBlock
        | Syntax::OneBlock
        | Syntax::DriveLine
        | Syntax::Call
        | Syntax::Compound => {
            if syntax != Syntax::DriveLine && !ends_only(passes, &cut.pull_out) {
                return Cannot::because("a pass is made of several pieces");
            }
            let runs = runs(cut, passes)?;
            for law in laws(syntax, cut, &runs[0].depths, style) {
                let text = match syntax {
                    Syntax::TwoBlock => two_block::write(cut, &law, &runs, style)?,
                    Syntax::OneBlock => one_block::write(cut, &law, &runs, style)?,
                    Syntax::Call => call::write(cut, &law, &runs, style)?,
                    Syntax::Compound => compound::write(cut, &law, &runs, style)?,
                    _ => drive_line::write(cut, &law, passes, &runs, style)?,
                };
                answer = proved(text, cut, passes, syntax, style);
                if answer.is_ok() {
                    break;
                }
            }
        }
        Syntax::Tap | Syntax::Helix => {
            return Cannot::because("a single point's passes are no tapping and no milling");
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
        (Syntax::Strokes, Family::Compound) => Cannot::because(
            "how the family of controls with G33 as a box writes single strokes is not known",
        ),
        (Syntax::Strokes, _) => Ok(()),
        (Syntax::DriveLine, _) if !interpreter => {
            Cannot::because("only the open RS274/NGC interpreter knows this cycle")
        }
        (Syntax::Call, Family::Call) => Ok(()),
        (Syntax::Call, _) => Cannot::because("only controls with named cycles know this call"),
        (Syntax::Compound, Family::Compound) => Ok(()),
        (Syntax::Compound, _) => {
            Cannot::because("only the family of controls with G33 as a box knows this cycle")
        }
        (Syntax::Box, Family::Call)
        | (Syntax::TwoBlock | Syntax::OneBlock, Family::Call | Family::Compound | Family::BoxG82) => {
            Cannot::because("this family of controls does not know this cycle")
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
            Syntax::Box | Syntax::OneBlock | Syntax::Call => lost.push(format!(
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

/// The value, or the reason why there is none.
pub(crate) fn need<T: Copy>(value: &Val<T>, name: &str) -> Result<T, Cannot> {
    value
        .get()
        .ok_or_else(|| Cannot(format!("{name}: {}", value.why().unwrap_or("not known"))))
}
