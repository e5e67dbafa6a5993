//! Where the tool stands along three axes as the program writes them, and the modal states that
//! holes and arcs need beside those of [`crate::machine`]: plane, work offset, compensation,
//! return level.

use crate::block::Block;
use crate::codes::{Meaning, meaning};
use crate::machine::{Action, Machine};
use crate::moved::places;
use crate::section::milling::Compensation;
use crate::section::tapping::{Axis, Place};
use crate::source::Mark;
use crate::units::Length;

/// What a block does to the place of the tool.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Step {
    /// Nothing that is followed here.
    Nothing,
    /// A rapid or feed move; the code in tenths.
    Move(i32),
    /// A cycle of drilling, boring or tapping: its code in this block, or the one in force.
    Hole(i32),
    /// Another cycle, a reference point, a preset, a call: where the tool stands is lost along the
    /// axes that it names.
    Lost,
}

/// The state.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Space {
    /// Where the tool stands.
    pub(crate) at: Place,
    /// The axis at right angles to the plane in force; Z without a word.
    normal: Option<Axis>,
    /// The work offset in force.
    offset: i64,
    /// How often the coordinates were changed in another way.
    shifts: i64,
    /// G40, G41 or G42 with its word.
    pub(crate) compensation: Option<(Compensation, Mark<()>)>,
    /// G90.1 or G91.1: whether I, J and K are positions.
    pub(crate) absolute_centres: Option<bool>,
    /// G98 or G99 on a milling machine: whether a cycle ends where it began.
    pub(crate) returns_to_start: Option<bool>,
    /// The code of the hole cycle in force, in tenths.
    hole: Option<i32>,
}

places!(Space {
    in compensation;
    other at, normal, offset, shifts, absolute_centres, returns_to_start, hole;
});

impl Space {
    /// The axis at right angles to the plane in force.
    pub(crate) fn normal(&self) -> Axis {
        self.normal.unwrap_or(Axis::Z)
    }

    /// A number that is the same where equal coordinates are the same place.
    pub(crate) fn frame(&self) -> (i64, i64) {
        (self.offset, self.shifts)
    }

    /// Takes the modal words of a block, and tells what it does. `machine` is the state behind the
    /// block.
    pub(crate) fn see(&mut self, machine: &Machine, block: &Block) -> Step {
        let axes = block.has_any(b"XYZUVW");
        let mut step = None;
        if block.has(b'G') {
            for (code, word) in block.g_codes() {
                self.mode(block, code, word.span);
                match meaning(machine.family, code, !axes) {
                    Meaning::Home | Meaning::MachineMove => step = Some(Step::Lost),
                    Meaning::ClampOrPreset | Meaning::BoxThread => {
                        self.shifts += i64::from(axes);
                        step = Some(Step::Lost);
                    }
                    Meaning::NoMotion => step = Some(Step::Nothing),
                    Meaning::HoleCycle => {
                        self.hole = Some(code);
                        step = Some(Step::Hole(code));
                    }
                    Meaning::Stroke | Meaning::VariableLead | Meaning::MultiPass => {
                        self.hole = None;
                        step = Some(Step::Lost);
                    }
                    // G74 and G75 drill and groove; the code tells who follows it.
                    Meaning::TurningCycle => {
                        self.hole = None;
                        step = Some(if axes { Step::Lost } else { Step::Nothing });
                    }
                    Meaning::Rapid | Meaning::Feed | Meaning::Arc | Meaning::Cancel => {
                        self.hole = None;
                    }
                    _ => {}
                }
            }
        }
        let calls = block
            .m_codes()
            .any(|(code, _)| matches!(code, 980 | 970 | 1980));
        if block.computes_code() || calls {
            self.at = Place::default();
            self.hole = self.hole.filter(|_| calls);
            return Step::Lost;
        }
        if let Some(step) = step {
            return step;
        }
        match (self.hole, machine.motion) {
            (Some(code), _) if axes || block.has_any(b"ABCH") => Step::Hole(code),
            (None, Action::Move(code)) if axes || code != 0 && block.has_any(b"IJK") => {
                Step::Move(code)
            }
            (None, Action::Move(_)) | (Some(_), _) => Step::Nothing,
            _ if axes => Step::Lost,
            _ => Step::Nothing,
        }
    }

    fn mode(&mut self, block: &Block, code: i32, span: crate::source::Span) {
        let mark = Mark {
            value: (),
            span,
            line: block.line,
        };
        match code {
            170 => self.normal = Some(Axis::Z),
            180 => self.normal = Some(Axis::Y),
            190 => self.normal = Some(Axis::X),
            400 => self.compensation = Some((Compensation::Off, mark)),
            410 => self.compensation = Some((Compensation::Left, mark)),
            420 => self.compensation = Some((Compensation::Right, mark)),
            901 => self.absolute_centres = Some(true),
            911 => self.absolute_centres = Some(false),
            541 => {
                let page = block.number_of(b'P').and_then(|p| p.integer()).unwrap_or(0);
                self.offset = 10_000 + page;
            }
            540..=599 => self.offset = i64::from(code),
            980 | 990 => self.returns_to_start = Some(code == 980),
            // Local frames, scaling, mirroring, rotation, polar words, data.
            100 | 150 | 160 | 500 | 510 | 511 | 501 | 520 | 680 | 681 | 682 | 690 | 691 | 921
            | 922 | 923 => {
                self.shifts += 1;
            }
            _ => {}
        }
    }

    /// Where the axis words of a block lead from the present place.
    pub(crate) fn target(&self, machine: &Machine, block: &Block) -> Place {
        let mut to = self.at;
        let turns = machine.family.turns();
        for (axis, letter, increment) in [(0, b'X', b'U'), (1, b'Y', b'V'), (2, b'Z', b'W')] {
            let by = |distance: Option<Length>| self.at[axis].zip(distance).map(|(a, d)| a + d);
            if let Some(word) = block.word(letter) {
                let value = word.number().and_then(|number| machine.length(number));
                to[axis] = if machine.incremental {
                    by(value)
                } else {
                    value
                };
            } else if turns && let Some(word) = block.word(increment) {
                to[axis] = by(word.number().and_then(|number| machine.length(number)));
            }
        }
        to
    }

    /// Forgets the place along the axes that a block names.
    pub(crate) fn lose(&mut self, block: &Block) {
        let bare = !block.has_any(b"XYZUVW");
        for (axis, letters) in [(0, b"XU"), (1, b"YV"), (2, b"ZW")] {
            if bare || block.has_any(letters) {
                self.at[axis] = None;
            }
        }
    }
}
