//! The multi-pass cycle of the open RS274/NGC interpreter: `G76 P Z I J K R Q H E L`.
//!
//! The tool stands on the drive line. I is the distance from there to the crest (negative
//! outside), J the first cut, K the height, R the degression, Q the infeed angle, H spring passes,
//! E the length of the end tapers and L which ends have one. Under G7 (diameter mode) I, J and K
//! are diameters. The expansion is the one observed in the interpreter's canonical output
//! (stand-alone, version 2.9.0~pre1), R below 1 acting as 1.

use super::write::{Cannot, Run, Style, Text, Words, need};
use super::{Draft, Origin, Required, end_z, note_limit, note_unknown, role_word, start};
use crate::block::Block;
use crate::evidence::Family;
use crate::law::{Law, depths};
use crate::machine::Machine;
use crate::number::Number;
use crate::section::{
    Cut, Infeed, Leg, Missing, Pass, PullOut, Role, RoleWord, Scale, Side, Syntax, Val,
};
use crate::units::{Diameter, Lead, Length, Radial};

/// Whether a multi-pass block is written this way: J and another of I and K, in a program of the
/// interpreter any of the three, and no word of the other ways.
#[must_use]
pub fn is_drive_line(block: &Block, family: Family) -> bool {
    let seen = |letters: &[u8]| letters.iter().filter(|&&letter| block.has(letter)).count();
    let enough = match family {
        Family::Interpreter => seen(b"IJK") >= 1,
        _ => block.has(b'J') && seen(b"IK") >= 1,
    };
    enough && !block.has_any(b"DAY")
}

/// Reads the block.
#[must_use]
pub fn read(machine: &Machine, block: &Block) -> Draft {
    let mut words: Vec<RoleWord> = Vec::new();
    let mut unknown = Vec::new();
    let mut missing = Vec::new();
    let real = Scale::Real(machine.units);
    let end_z = if block.has_any(b"ZW") {
        end_z(machine, block, &mut words)
    } else {
        missing.push(Missing {
            role: Role::EndZ,
            letters: "Z",
            block: block.span,
            line: block.line,
            in_force: None,
        });
        Val::Unknown("Z is not written".into())
    };
    let divisor = if machine.radius_mode { 1 } else { 2 };
    if !machine.x_mode_written {
        unknown.push(
            "neither G7 nor G8 is written; X, I, J and K are read as the interpreter starts, \
             in radius mode, unless the configuration says otherwise"
                .into(),
        );
    }
    let mut quantity = |letter: &'static str, role, divisor| {
        let required = Required {
            role,
            letter,
            name: letter,
            scale: real,
            divisor,
        };
        required.read(block, &mut words, &mut missing)
    };
    let lead = quantity("P", Role::Lead, 1).map(Lead::per_turn);
    let offset = quantity("I", Role::CrestOffset, divisor);
    let first = quantity("J", Role::FirstCut, divisor).map(Radial);
    let height = quantity("K", Role::Height, divisor).map(Radial);
    // Why there can be no list of passes although height, first cut and lead are known.
    let mut refused: Option<String> = None;
    let plain = |letter: u8, role: Role, words: &mut Vec<RoleWord>| -> Option<Number> {
        let word = role_word(block, letter, role, Scale::Plain)?;
        words.push(word);
        Some(word.number)
    };
    let degression = plain(b'R', Role::Degression, &mut words).map_or(1.0, Number::value);
    let angle = plain(b'Q', Role::InfeedAngle, &mut words).map_or(0.0, Number::value);
    let springs = plain(b'H', Role::SpringPasses, &mut words);
    if springs.is_some_and(|springs| springs.integer().is_none()) {
        refused = Some("H is no whole number, which the interpreter refuses".into());
    }
    let springs = springs.and_then(Number::integer);
    let ends = plain(b'L', Role::EndTaperChoice, &mut words).and_then(Number::integer);
    if let Some(letter) = b"RQHEL"
        .iter()
        .find(|&&letter| block.has(letter) && block.number_of(letter).is_none())
    {
        let name = *letter as char;
        refused = Some(format!(
            "{name} is a variable or an expression without a known value"
        ));
    }
    if let Some(first) = missing.first() {
        let letter = first.letters;
        refused = Some(format!(
            "the interpreter refuses the block without {letter}"
        ));
    }
    if offset.get().is_some_and(Length::is_zero) {
        refused = Some("the interpreter refuses I of 0".into());
    }
    if let (Some(first), Some(height)) = (first.get(), height.get()) {
        if first.0 <= Length::ZERO {
            refused = Some("the interpreter refuses a first cut J of 0 or less".into());
        } else if height <= first {
            refused = Some("the interpreter refuses a height K that is not above J".into());
        }
    }
    let taper_length = role_word(block, b'E', Role::EndTaperLength, real);
    words.extend(taper_length);
    let taper_length = taper_length
        .and_then(|word| word.length())
        .filter(|length| !length.is_zero());

    let (start_x, start_z) = start(machine);
    let side = match &offset {
        Val::Exact(offset) if offset.is_zero() => {
            Val::Unknown("I is 0, so bolt or nut cannot be told".into())
        }
        Val::Exact(offset) if *offset < Length::ZERO => Val::Exact(Side::External),
        Val::Exact(_) => Val::Exact(Side::Internal),
        other => Val::Unknown(other.why().unwrap_or_default().to_owned()),
    };
    let crest_x = match (start_x.get(), offset.get()) {
        (Some(start), Some(offset)) => Val::Exact(start.out_by(Radial(offset))),
        _ => Val::Unknown("the drive line or I is not known".into()),
    };
    let root_x = match (crest_x.get(), height.get(), side.get()) {
        (Some(crest), Some(height), Some(Side::External)) => Val::Exact(crest.in_by(height)),
        (Some(crest), Some(height), Some(Side::Internal)) => Val::Exact(crest.out_by(height)),
        _ => Val::Unknown("the drive line, I or K is not known".into()),
    };
    let cut = Cut {
        side,
        start_x,
        start_z,
        root_x,
        end_z,
        crest_x,
        height,
        taper: Val::Exact(Length::ZERO),
        lead,
        starts: 1,
        start_angle: None,
        law: Law::Power {
            first,
            degression,
            springs: springs.unwrap_or(0),
        },
        infeed: if angle == 0.0 {
            Infeed::Radial
        } else {
            Infeed::Flank(angle)
        },
        pull_out: match (taper_length, ends) {
            (Some(length), Some(2 | 3)) => PullOut::Axial(length),
            _ => PullOut::None,
        },
    };
    let entry = taper_length.filter(|_| matches!(ends, Some(1 | 3)));
    let exit = taper_length.filter(|_| matches!(ends, Some(2 | 3)));
    let passes = match &refused {
        Some(_) => Vec::new(),
        None => expand(&cut, entry, exit, &Origin::of(machine, block)),
    };
    unknown.extend(refused);
    note_limit(&passes, &mut unknown);
    note_unknown(&cut, &mut unknown);
    if let Law::Power { first, .. } = &cut.law
        && let Some(why) = first.why()
    {
        unknown.push(why.to_owned());
    }
    Draft {
        syntax: Syntax::DriveLine,
        cut,
        passes,
        passes_certain: true,
        words,
        unknown,
        missing,
        span: block.span,
        line: block.line,
    }
}

/// The passes; `entry` and `exit` are the lengths of the end tapers.
pub(super) fn expand(
    cut: &Cut,
    entry: Option<Length>,
    exit: Option<Length>,
    origin: &Origin,
) -> Vec<Pass> {
    let (Some(height), Some(lead)) = (cut.height.get(), cut.lead.get()) else {
        return Vec::new();
    };
    let travel = match (cut.start_z.get(), cut.end_z.get()) {
        (Some(start), Some(end)) => (end - start).signum(),
        _ => 0,
    };
    let outward = match cut.side.get() {
        Some(Side::External) => 1,
        Some(Side::Internal) => -1,
        None => 0,
    };
    let mut before = Radial(Length::ZERO);
    let tangent = match cut.infeed {
        Infeed::Flank(angle) => angle.to_radians().tan(),
        _ => 0.0,
    };
    depths(&cut.law, height)
        .into_iter()
        .map(|(depth, purpose)| {
            let x = cut
                .crest_x
                .get()
                .map(|crest| Diameter(crest.0 - depth.0.double() * outward));
            let shift = |depth: Length| Length::from_mm(depth.mm() * tangent) * travel;
            let z_start = cut.start_z.get().map(|z| z + shift(depth.0));
            let z_end = cut.end_z.get().map(|z| z - shift(height.0 - depth.0));
            let step = Radial(depth.0 - before.0);
            before = depth;
            let mut legs = Vec::new();
            let mut x_start = x;
            if let (Some(x), Some(z_start), Some(z_end)) = (x, z_start, z_end) {
                let crest = Diameter(x.0 + height.0.double() * outward);
                let slope = |length: Length| {
                    let (run, rise) = (length.mm(), height.mm());
                    Lead::per_turn(Length::from_mm(lead.mm() * run.hypot(rise) / run.abs()))
                };
                if let Some(length) = entry {
                    x_start = Some(retract_x(cut, depth).unwrap_or(crest));
                    legs.push(Leg {
                        x: crest,
                        z: z_start,
                        lead: slope(length),
                    });
                    legs.push(Leg {
                        x,
                        z: z_start + length * travel,
                        lead: slope(length),
                    });
                }
                match exit {
                    Some(length) => {
                        legs.push(Leg {
                            x,
                            z: z_end - length * travel,
                            lead,
                        });
                        legs.push(Leg {
                            x: crest,
                            z: z_end,
                            lead: slope(length),
                        });
                    }
                    None if entry.is_some() => legs.push(Leg { x, z: z_end, lead }),
                    None => {}
                }
            }
            Pass {
                line: origin.line,
                span: origin.span,
                purpose,
                x_start,
                x,
                depth: Some(depth),
                step: Some(step),
                z_start,
                z_end,
                lead: Some(lead),
                lead_change: None,
                start_angle: None,
                spindle: origin.spindle,
                skip: origin.skip,
                legs,
            }
        })
        .collect()
}

/// The diameter to which the interpreter goes back behind a pass, and from which it goes in for it:
/// beyond the start diameter by the depth that is still to be cut. None where the cut does not say
/// side, height or start diameter. As observed in its output.
#[must_use]
pub fn retract_x(cut: &Cut, depth: Radial) -> Option<Diameter> {
    let left = Radial(cut.height.get()?.0 - depth.0);
    let start = cut.start_x.get()?;
    Some(match cut.side.get()? {
        Side::External => start.out_by(left),
        Side::Internal => start.in_by(left),
    })
}

/// Writes a cut: one block a start.
pub(super) fn write(
    cut: &Cut,
    law: &Law,
    passes: &[Pass],
    runs: &[Run],
    style: &Style,
) -> Result<String, Cannot> {
    let Law::Power {
        first,
        degression,
        springs,
    } = law
    else {
        return Cannot::because("the depths follow no law of this cycle");
    };
    if !need(&cut.taper, "the taper")?.is_zero() {
        return Cannot::because("this cycle cuts no tapered thread");
    }
    let angle = match &cut.infeed {
        Infeed::Radial => 0.0,
        Infeed::Flank(angle) => *angle,
        Infeed::Alternating(_) => {
            return Cannot::because("this cycle does not change from flank to flank");
        }
        Infeed::Unknown(why) => return Cannot::because(format!("the infeed: {why}")),
    };
    let side = need(&cut.side, "bolt or nut")?;
    let start_x = need(&cut.start_x, "the start diameter")?;
    let offset = need(&cut.crest_x, "the crest diameter")?.above(start_x);
    let right_way = match side {
        Side::External => offset.0 < Length::ZERO,
        Side::Internal => offset.0 > Length::ZERO,
    };
    if !right_way {
        return Cannot::because("the tool does not start clear of the crest, as the cycle needs");
    }
    let end_z = need(&cut.end_z, "the end")?;
    let lead = need(&cut.lead, "the lead")?;
    let height = need(&cut.height, "the thread height")?;
    let first = need(first, "the first cut")?;
    let ends = end_tapers(passes)?;
    // Under G7 these three are differences of diameters.
    let across = |letter: char, radial: Radial| {
        let written = if style.radius_mode {
            radial.0
        } else {
            radial.0.double()
        };
        style.position(letter, written)
    };
    let mut text = Text::new(style);
    let mut at = cut.start_z.get();
    for run in runs {
        if run.angle.is_some_and(|angle| angle != 0) {
            return Cannot::because("this cycle has no word for a start angle");
        }
        text.skip = run.skip;
        if run.z != at
            && let Some(z) = run.z
        {
            text.rapid_z(z);
        }
        at = Some(end_z);
        let mut words = Words::new(style, Syntax::DriveLine);
        words.add(Role::Lead, style.lead('P', lead));
        words.add(Role::EndZ, style.position('Z', end_z));
        words.add(Role::CrestOffset, across('I', offset));
        words.add(Role::FirstCut, across('J', first));
        words.add_unless(
            *degression == 1.0,
            Role::Degression,
            style.plain('R', *degression),
        );
        words.add(Role::Height, across('K', height));
        words.add_unless(angle == 0.0, Role::InfeedAngle, style.plain('Q', angle));
        words.add_unless(
            *springs == 0,
            Role::SpringPasses,
            style.plain('H', *springs as f64),
        );
        let (length, choice) = ends.unwrap_or((Length::ZERO, 0));
        words.add_unless(
            choice == 0,
            Role::EndTaperLength,
            style.position('E', length),
        );
        words.add_unless(
            choice == 0,
            Role::EndTaperChoice,
            style.plain('L', f64::from(choice)),
        );
        text.line(&words.line(style.code(760)));
    }
    Ok(text.finish())
}

/// Length of the end tapers and which ends have one (the L word), from the pieces of the passes.
fn end_tapers(passes: &[Pass]) -> Result<Option<(Length, u8)>, Cannot> {
    let Some(pass) = passes.first() else {
        return Ok(None);
    };
    let start = need(
        &Val::or_unknown(pass.z_start, "not known"),
        "the start of the first pass",
    );
    match pass.legs.as_slice() {
        [] => Ok(None),
        [a, b] => Ok(Some(((b.z - a.z).abs(), 2))),
        [_, a, _] => Ok(Some(((a.z - start?).abs(), 1))),
        [_, a, _, _] => Ok(Some(((a.z - start?).abs(), 3))),
        _ => Cannot::because("a pass is made of more pieces than this cycle has"),
    }
}
