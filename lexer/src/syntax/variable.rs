//! Strokes whose lead grows or shrinks from turn to turn: G34 and G35.
//!
//! After the path L the lead is √(P² + 2·K·L), where K is the change a turn: the lead is P + K·n
//! after n turns and the path is P·n + K·n²/2 (derived). Words: F and a signed K with G34 (from
//! memory); K or I and F with the call style, where G34 grows and G35 shrinks the lead (as on a
//! published manual page); F and E in the family with G33 as a box (likewise).

use super::strokes::{Ends, Stroke, longer_axis};
use super::{compound, lead, role_word};
use crate::block::Block;
use crate::evidence::Family;
use crate::machine::Machine;
use crate::section::{LeadChange, Role, RoleWord, Scale};
use crate::units::{Lead, Length};

/// Reads one stroke, or says why it is not read.
pub(crate) fn read(
    machine: &Machine,
    block: &Block,
    clear_x: Option<Length>,
    chained: bool,
) -> Result<Stroke, &'static str> {
    let grows = match (block.has_g(340), block.has_g(350)) {
        (true, false) => true,
        (false, true) => false,
        _ => {
            return Err(
                "a stroke with a changing lead that does not write its code again is not judged",
            );
        }
    };
    let signed = !matches!(machine.family, Family::Call | Family::Compound);
    if signed && !grows {
        return Err(
            "G35 is a stroke with a shrinking lead on some controls and another thread on others",
        );
    }
    let mut words: Vec<RoleWord> = Vec::new();
    let ends = Ends::read(machine, block, &mut words);
    let (written, letter, other): (_, u8, &[u8]) = match machine.family {
        Family::Call => (
            ends.longer_lead(machine, block, &mut words),
            b'F',
            b"RPLABCHQ",
        ),
        Family::Compound => (
            compound::box_lead(machine, block, &mut words),
            b'E',
            b"RPIKABDHLC",
        ),
        _ => (lead(machine, block, &mut words), b'K', b"RPLABCDHIJ"),
    };
    let way = ends.way;
    let mut stroke = ends.stroke(machine, block, written, false, words);
    stroke.clear_x = clear_x;
    stroke.chained = chained;
    stroke.doubt(block, other);
    let name = letter as char;
    let change = role_word(block, letter, Role::LeadChange, Scale::Real(machine.units));
    stroke.words.extend(change);
    let per_turn = change.and_then(|word| word.length());
    if per_turn.is_none() {
        stroke.why.push(if block.has(letter) {
            format!("{name} is a variable or an expression, which is not evaluated")
        } else {
            format!("the change of the lead {name} is not written")
        });
    }
    if !signed && per_turn.is_some_and(|change| change < Length::ZERO) {
        return Err("the change of the lead is negative, although the code says its direction");
    }
    stroke.lead_change = Some(per_turn.zip(stroke.lead.get()).zip(way).map(
        |((change, start), (dx, dz))| {
            let per_turn = if grows { change } else { -change };
            LeadChange {
                per_turn,
                end: end_lead(start, per_turn, longer_axis(dx, dz)),
            }
        },
    ));
    Ok(stroke)
}

/// The lead after a way in mm; none where it shrinks to nothing before.
#[must_use]
pub fn end_lead(start: Lead, per_turn: Length, way: f64) -> Option<Lead> {
    let square = start.mm() * start.mm() + 2.0 * per_turn.mm() * way;
    (square > 0.0).then(|| Lead::per_turn(Length::from_mm(square.sqrt())))
}
