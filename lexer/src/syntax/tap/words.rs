//! The words of a tapping block: R plane, bottom, repeats, feed.

use super::{Active, Around, LISTED};
use crate::block::Block;
use crate::evidence::Family;
use crate::machine::Machine;
use crate::section::tapping::{Axis, Way};
use crate::section::{Missing, Role, Scale, Val};
use crate::syntax::{position_scale, role_word};
use crate::units::Length;

impl Active {
    /// The lead or feed written again in a later block.
    pub(crate) fn feed_words(&mut self, machine: &Machine, block: &Block) {
        let (letter, role) = match (self.tapping.way, self.tapping.per_minute) {
            (Way::Stroke | Way::Interpolated, _) => (b'K', Role::Lead),
            (_, Some((true, _))) => (b'F', Role::Feed),
            _ => (b'F', Role::Lead),
        };
        let word = role_word(block, letter, role, Scale::Real(machine.units));
        self.words.extend(word);
    }

    pub(super) fn repeats(&mut self, around: &Around<'_>) -> usize {
        let block = around.block;
        let letters: &[u8] = match around.machine.family {
            Family::Interpreter => b"L",
            _ => b"LK",
        };
        let Some(&letter) = letters.iter().find(|&&letter| block.has(letter)) else {
            return 1;
        };
        let Some(word) = role_word(block, letter, Role::Repeats, Scale::Plain) else {
            self.say("how often the cycle is repeated is an expression, which is not evaluated");
            return 1;
        };
        match word.number.integer() {
            Some(count @ 0..) => {
                self.words.push(word);
                usize::try_from(count).unwrap_or(usize::MAX).min(LISTED + 1)
            }
            _ => {
                self.say("the number of repeats is no whole number");
                1
            }
        }
    }

    /// The R word: a place in G90, a distance from where the tool stands in G91; on turning
    /// machines one or the other.
    pub(super) fn read_clear(&mut self, around: &Around<'_>) {
        let Around { machine, block, .. } = *around;
        let lathe = machine.family.turns() && machine.family != Family::Interpreter;
        let Some(word) = role_word(
            block,
            b'R',
            Role::Clearance,
            position_scale(machine, block, b'R'),
        ) else {
            if block.has(b'R') {
                self.clear = Val::Unknown("R is an expression, which is not evaluated".into());
            } else if self.tapping.count == 0 && lathe {
                self.clear = Val::or_unknown(
                    self.initial,
                    "where the tool stands before the cycle is not written",
                );
            } else if self.tapping.count == 0 && machine.family == Family::Interpreter {
                self.missing.push(Missing {
                    role: Role::Clearance,
                    letters: "R",
                    block: block.span,
                    line: block.line,
                    in_force: None,
                });
            }
            return;
        };
        let value = word.length();
        self.words.push(word);
        self.clear = if machine.family == Family::Undecided || lathe && !machine.incremental {
            if machine.family == Family::Undecided && !machine.incremental {
                Val::or_unknown(value, "R is too long a number")
            } else {
                Val::Unknown(
                    "R is a place on some turning controls and a distance on others".into(),
                )
            }
        } else if machine.incremental {
            Val::or_unknown(
                self.initial.zip(value).map(|(from, by)| from + by),
                "R counts from a place that is not known",
            )
        } else {
            Val::or_unknown(value, "R is too long a number")
        };
    }

    /// The word along the axis: a place in G90, from the R plane in G91.
    pub(super) fn read_bottom(&mut self, around: &Around<'_>) {
        let Around {
            machine,
            block,
            space,
            ..
        } = *around;
        let axis = self.tapping.axis;
        let increment = match axis {
            Axis::X => b'U',
            Axis::Y => b'V',
            Axis::Z => b'W',
        };
        let relative = machine.family.turns() && block.has(increment);
        let letter = if relative { increment } else { axis.letter() };
        if !block.has(letter) {
            if self.tapping.count == 0 {
                self.missing.push(Missing {
                    role: Role::EndZ,
                    letters: match axis {
                        Axis::X => "X",
                        Axis::Y => "Y",
                        Axis::Z => "Z",
                    },
                    block: block.span,
                    line: block.line,
                    in_force: None,
                });
            }
            return;
        }
        let scale = position_scale(machine, block, letter);
        let Some(mut word) = role_word(block, letter, Role::EndZ, scale) else {
            self.bottom =
                Val::Unknown("the bottom is an expression, which is not evaluated".into());
            return;
        };
        let cycle = matches!(self.tapping.way, Way::Cycle | Way::RigidCycle);
        let base = if !(machine.incremental || relative) {
            Some(Length::ZERO)
        } else if cycle {
            self.clear.get()
        } else {
            space.at[axis.index()]
        };
        word.base = base.unwrap_or(Length::ZERO);
        self.bottom = Val::or_unknown(
            base.and(word.length()),
            "the bottom counts from a place that is not known",
        );
        self.words.push(word);
    }
}
