//! Single synchronised strokes: G32 or G33 with F (lead along the longer axis), G33 with K (lead
//! along the path, as the open RS274/NGC interpreter does). A stroke right behind another belongs
//! to the same pass.

use super::write::{Cannot, Style, Text, Words, need};
use super::{end_x, end_z, lead, role_word};
use crate::block::Block;
use crate::evidence::Family;
use crate::machine::{Machine, Position};
use crate::section::{
    Cut, LeadChange, Leg, Pass, Role, RoleWord, Scale, Side, Spindle, Syntax, Val,
};
use crate::source::Mark;
use crate::units::{Diameter, Lead, Length};

pub(super) const UNREAD_ANGLE: &str =
    "the start angle Q is a variable or an expression without a known value";

/// One stroke, of this syntax or of a box.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// Way of writing.
    pub syntax: Syntax,
    /// The block.
    pub block: Mark<()>,
    /// Line of the last block, where strokes are chained.
    pub last_line: u32,
    /// Where the tool stands when the block starts.
    pub from: Position,
    /// Diameter where the tool was before it went in for this stroke, and to which it returns.
    pub clear_x: Option<Length>,
    /// Diameter to which the tool goes right behind it, before it returns along the axis.
    pub retract_x: Option<Length>,
    /// Bolt or nut, told by where the tool comes from and goes to; see `group`.
    pub side: Option<Side>,
    /// Diameter at the end.
    pub x: Option<Length>,
    /// Z at the end.
    pub z: Option<Length>,
    /// Radius at the start minus radius at the end.
    pub taper: Val<Length>,
    /// Advance per turn along the axis.
    pub lead: Val<Lead>,
    /// Start angle in thousandths of a degree.
    pub start_angle: Option<i64>,
    /// How the lead changes along the stroke, where it does; none inside where that is not known.
    pub lead_change: Option<Option<LeadChange>>,
    /// Words.
    pub words: Vec<RoleWord>,
    /// Block skip.
    pub skip: Option<u8>,
    /// Spindle.
    pub spindle: Spindle,
    /// Tool.
    pub tool: Option<Mark<u32>>,
    /// What is not known.
    pub why: Vec<String>,
    /// Pieces of the path, where it is more than one.
    pub legs: Vec<Leg>,
    /// Whether it follows another stroke without a move between.
    pub chained: bool,
}

/// Reads one stroke.
#[must_use]
pub fn read(machine: &Machine, block: &Block, clear_x: Option<Length>, chained: bool) -> Stroke {
    let interpreter = machine.family == Family::Interpreter;
    let call = machine.family == Family::Call;
    let along_path = interpreter || !call && block.has(b'K') && !block.has_any(b"FE");
    let mut words: Vec<RoleWord> = Vec::new();
    let ends = Ends::read(machine, block, &mut words);
    let written = if call {
        ends.longer_lead(machine, block, &mut words)
    } else if along_path {
        lead_of(machine, block, b'K', &mut words)
    } else {
        lead(machine, block, &mut words)
    };
    let mut stroke = ends.stroke(machine, block, written, along_path, words);
    stroke.clear_x = clear_x;
    stroke.chained = chained;
    let other: &[u8] = if call {
        b"RPLABCHQ"
    } else if along_path {
        b"RPLABCDHIJ"
    } else {
        b"RPLABCDHIJK"
    };
    stroke.doubt(block, other);
    if interpreter && block.has_any(b"FE") {
        stroke
            .why
            .push("F beside a stroke with K is refused by the open RS274/NGC interpreter".into());
    }
    stroke
}

/// Where a stroke leads.
pub(super) struct Ends {
    x: Val<Diameter>,
    z: Val<Length>,
    /// Radial and axial way.
    pub(super) way: Option<(Length, Length)>,
}

impl Ends {
    /// Reads X and Z.
    pub(super) fn read(machine: &Machine, block: &Block, words: &mut Vec<RoleWord>) -> Ends {
        let x = end_x(machine, block, words);
        let z = end_z(machine, block, words);
        let dx = x
            .get()
            .zip(machine.at.x)
            .map(|(to, from)| (to.0 - from).half());
        let dz = z.get().zip(machine.at.z).map(|(to, from)| to - from);
        Ends {
            x,
            z,
            way: dx.zip(dz),
        }
    }

    /// The lead of the call style: K where the stroke is longer along Z, I where it is longer
    /// along X (as on a published manual page). One alone is the lead.
    pub(super) fn longer_lead(
        &self,
        machine: &Machine,
        block: &Block,
        words: &mut Vec<RoleWord>,
    ) -> Val<Lead> {
        let along_x = match (block.has(b'I'), block.has(b'K'), self.way) {
            (true, false, _) => true,
            (false, _, _) => false,
            (true, true, Some((dx, dz))) => dx.abs() > dz.abs(),
            (true, true, None) => {
                return Val::Unknown("which of I and K is the lead is not known".into());
            }
        };
        lead_of(machine, block, if along_x { b'I' } else { b'K' }, words)
    }

    /// The stroke with a lead along its longer axis, or along its path.
    pub(super) fn stroke(
        self,
        machine: &Machine,
        block: &Block,
        written: Val<Lead>,
        along_path: bool,
        mut words: Vec<RoleWord>,
    ) -> Stroke {
        let Ends { x, z, way } = self;
        let angle = role_word(block, b'Q', Role::StartAngle, Scale::Plain)
            .filter(|_| machine.family != Family::Call);
        words.extend(angle);
        let dx = x
            .get()
            .zip(machine.at.x)
            .map(|(to, from)| (to.0 - from).half());
        let taper = Val::or_unknown(
            dx.map(|dx| -dx),
            "the diameter where the stroke starts is not known",
        );
        let sloped = way.filter(|(dx, dz)| !dx.is_zero() && !dz.is_zero());
        let (axial, path_lead) = match (&written, sloped) {
            (Val::Exact(lead), Some((dx, dz))) if along_path => {
                (scaled(*lead, longer_axis(dx, dz) / path(dx, dz)), *lead)
            }
            (Val::Exact(lead), Some((dx, dz))) => (
                written.clone(),
                scale(*lead, path(dx, dz) / longer_axis(dx, dz)),
            ),
            (Val::Exact(lead), None) => (written.clone(), *lead),
            _ => (written.clone(), Lead::per_turn(Length::ZERO)),
        };
        let mut why: Vec<String> = [x.why(), z.why()]
            .into_iter()
            .flatten()
            .map(str::to_owned)
            .collect();
        if block.has(b'Q') && angle.is_none() && machine.family != Family::Call {
            why.push(UNREAD_ANGLE.into());
        }
        let legs = match (x.get(), z.get(), written.get()) {
            (Some(x), Some(z), Some(_)) => vec![Leg {
                x: Diameter(x.0),
                z,
                lead: path_lead,
            }],
            _ => Vec::new(),
        };
        Stroke {
            syntax: Syntax::Strokes,
            block: Mark {
                value: (),
                span: block.span,
                line: block.line,
            },
            last_line: block.line,
            from: machine.at,
            clear_x: None,
            retract_x: None,
            side: None,
            x: x.get().map(|x| x.0),
            z: z.get(),
            taper,
            lead: axial,
            lead_change: None,
            start_angle: machine
                .start_angle
                .or_else(|| angle.and_then(|word| word.number.integer())),
            words,
            skip: block.skip,
            spindle: machine.spindle,
            tool: machine.tool,
            why,
            legs,
            chained: false,
        }
    }
}

impl Stroke {
    /// Notes a word whose meaning in a stroke is not settled.
    pub(super) fn doubt(&mut self, block: &Block, letters: &[u8]) {
        if let Some(&letter) = letters.iter().find(|&&letter| block.has(letter)) {
            let name = letter as char;
            self.why.push(format!(
                "the meaning of {name} in a stroke differs between controls"
            ));
        }
    }
}

/// A lead by a letter of its own.
fn lead_of(machine: &Machine, block: &Block, letter: u8, words: &mut Vec<RoleWord>) -> Val<Lead> {
    let name = letter as char;
    match role_word(block, letter, Role::Lead, Scale::Real(machine.units)) {
        Some(word) => {
            words.push(word);
            Val::or_unknown(
                word.length().map(Lead::per_turn),
                format!("{name} is too long a number"),
            )
        }
        None if block.has(letter) => Val::Unknown(format!(
            "{name} is a variable or an expression without a known value"
        )),
        None => Val::Unknown(format!("the lead {name} is not written")),
    }
}

/// Length of a slope from its two sides, in millimetres.
pub(super) fn path(dx: Length, dz: Length) -> f64 {
    dx.mm().hypot(dz.mm())
}

/// The longer side of a slope, in millimetres.
pub(super) fn longer_axis(dx: Length, dz: Length) -> f64 {
    dx.mm().abs().max(dz.mm().abs())
}

/// A lead multiplied by a ratio, rounded to 1e-9 mm.
pub(super) fn scale(lead: Lead, ratio: f64) -> Lead {
    Lead::per_turn(Length::from_mm(lead.mm() * ratio))
}

fn scaled(lead: Lead, ratio: f64) -> Val<Lead> {
    Val::Approx(scale(lead, ratio), Lead::per_turn(Length::from_pm(1)))
}

/// Writes passes: rapid in, the stroke with all its pieces, rapid out, rapid back.
pub(super) fn write(cut: &Cut, passes: &[Pass], style: &Style) -> Result<String, Cannot> {
    if passes.iter().any(|pass| pass.lead_change.is_some()) {
        return Cannot::because("strokes with a changing lead are read only");
    }
    let out = need(&cut.start_x, "the start diameter")?;
    let home = need(&cut.start_z, "the start along the axis")?;
    let mut text = Text::new(style);
    let mut at = home;
    for (index, pass) in passes.iter().enumerate() {
        let (Some(x), Some(z), Some(lead)) = (pass.x, pass.z_end, pass.lead) else {
            return Cannot::because("a pass has no known diameter, end or lead");
        };
        let (Some(x_start), Some(z_start)) = (pass.x_start, pass.z_start) else {
            return Cannot::because("where a pass starts is not known");
        };
        text.skip = pass.skip;
        if z_start != at {
            text.rapid_z(z_start);
        }
        text.line(&[style.code(0), style.x(x_start)]);
        let straight = [Leg {
            x,
            z,
            lead: along_path(lead, x_start.above(x).0, z - z_start),
        }];
        let legs = match pass.legs.as_slice() {
            [] => straight.as_slice(),
            legs => legs,
        };
        let mut from = (x_start, z_start);
        for leg in legs {
            text.line(&stroke(from, leg, pass.start_angle, style)?);
            from = (leg.x, leg.z);
        }
        if from.0 != out {
            text.line(&[style.code(0), style.x(out)]);
        }
        // Back to where the next pass starts.
        at = passes
            .get(index + 1)
            .and_then(|next| next.z_start)
            .unwrap_or(home);
        if from.1 != at {
            text.rapid_z(at);
        }
    }
    Ok(text.finish())
}

/// The words of one straight piece.
fn stroke(
    from: (Diameter, Length),
    leg: &Leg,
    start_angle: Option<i64>,
    style: &Style,
) -> Result<Vec<String>, Cannot> {
    let (dx, dz) = (leg.x.above(from.0).0, leg.z - from.1);
    let interpreter = style.family == Family::Interpreter;
    let call = style.family == Family::Call;
    let code = style
        .habits_of(Syntax::Strokes)
        .and_then(|habits| habits.code)
        .unwrap_or(match style.family {
            Family::SystemA | Family::Undecided => 320,
            _ => 330,
        });
    let mut words = Words::new(style, Syntax::Strokes);
    if !dx.is_zero() {
        words.add(Role::EndX, style.x(leg.x));
    }
    if !dz.is_zero() {
        words.add(Role::EndZ, style.position('Z', leg.z));
    }
    match start_angle {
        Some(angle) if interpreter && angle != 0 => {
            return Cannot::because("a stroke of the interpreter has no word for a start angle");
        }
        Some(angle) if call => {
            words.add(
                Role::StartAngle,
                style.degrees("SF=", angle as f64 / 1000.0),
            );
        }
        Some(angle) if !interpreter => words.add(Role::StartAngle, format!("Q{angle}")),
        _ => {}
    }
    let along_longer_axis = match path(dx, dz) {
        0.0 => return Cannot::because("a piece of a pass has no length"),
        path => scale(leg.lead, longer_axis(dx, dz) / path),
    };
    words.add(
        Role::Lead,
        if interpreter {
            style.lead('K', leg.lead)
        } else if call {
            let letter = if dx.abs() > dz.abs() { 'I' } else { 'K' };
            style.lead(letter, along_longer_axis)
        } else if dx.is_zero() || dz.is_zero() {
            style.lead_word(Syntax::Strokes, leg.lead)
        } else {
            style.lead_word(Syntax::Strokes, along_longer_axis)
        },
    );
    Ok(words.line(style.code(code)))
}

/// The lead along the path of a stroke whose lead is given along its longer axis.
fn along_path(lead: Lead, dx: Length, dz: Length) -> Lead {
    if dx.is_zero() || dz.is_zero() {
        lead
    } else {
        scale(lead, path(dx, dz) / longer_axis(dx, dz))
    }
}
