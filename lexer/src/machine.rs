//! Modal state carried from block to block.

use crate::block::{Block, Value, Word};
use crate::codes::{Meaning, meaning};
use crate::evidence::Family;
use crate::moved::{Moved, Places, places};
use crate::number::{DecimalRule, Number};
use crate::section::{SpeedMode, Spindle, Turning};
use crate::source::Mark;
use crate::units::{Length, Units};

/// A position: diameter and Z.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Position {
    /// Diameter.
    pub x: Option<Length>,
    /// Along the axis.
    pub z: Option<Length>,
}

/// What a block asks for, besides changing the state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Action {
    /// No motion.
    None,
    /// A rapid or feed move; the code in tenths.
    Move(i32),
    /// A synchronised stroke.
    Stroke,
    /// A synchronised stroke with a changing lead.
    VariableLead,
    /// A box cycle of threading.
    BoxThread,
    /// A multi-pass threading cycle or what else the code means by its words.
    MultiPass,
    /// A cycle that is none of ours.
    OtherCycle,
}

/// The state.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    /// Family of controls.
    pub family: Family,
    /// Units in force.
    pub units: Units,
    /// Where they were set; none while they are assumed.
    pub units_mark: Option<Mark<Units>>,
    /// How lengths without a point are read.
    pub decimal: DecimalRule,
    /// X and Z are distances.
    pub incremental: bool,
    /// X is a radius.
    pub radius_mode: bool,
    /// Whether a word of the program set the radius or diameter mode.
    pub x_mode_written: bool,
    /// Feed per minute, where a word said which.
    pub per_minute: Option<Mark<bool>>,
    /// The F word in force.
    pub feed: Option<Mark<Word>>,
    /// Spindle.
    pub spindle: Spindle,
    /// The T word in force.
    pub tool: Option<Mark<u32>>,
    /// Where the tool is.
    pub at: Position,
    /// The motion code in force, as an action.
    pub motion: Action,
    /// Start point and end block of a roughing cycle whose contour is being passed over.
    contour: Option<(Position, i64)>,
}

impl Machine {
    /// The state at the start of a program.
    #[must_use]
    pub fn new(family: Family, units: Units, decimal: DecimalRule, radius_mode: bool) -> Self {
        Machine {
            family,
            units,
            units_mark: None,
            decimal,
            incremental: false,
            radius_mode,
            x_mode_written: false,
            per_minute: None,
            feed: None,
            spindle: Spindle::default(),
            tool: None,
            at: Position::default(),
            motion: Action::None,
            contour: None,
        }
    }

    /// The number of the tool station of a T word: `T0303` is 3, `T3` is 3.
    #[must_use]
    pub fn station(word: u32) -> u32 {
        if word >= 100 { word / 100 } else { word }
    }

    /// A length by the units and the decimal rule in force.
    #[must_use]
    pub fn length(&self, number: Number) -> Option<Length> {
        number.length(self.units, self.decimal)
    }

    /// Applies the block's modal words and returns what it asks for. The position is not changed;
    /// see [`Machine::target`] and [`Machine::go`].
    pub fn apply(&mut self, block: &Block, bytes: &[u8]) -> Action {
        let bare = !block.has_any(b"XZUW");
        let mut action = None;
        let mut no_motion = false;
        let mut clamp_block = false;
        for (code, word) in block.g_codes() {
            let mark = |value| Mark {
                value,
                span: word.span,
                line: block.line,
            };
            match meaning(self.family, code, bare) {
                Meaning::Rapid | Meaning::Feed | Meaning::Arc => {
                    self.motion = Action::Move(code);
                    action = None;
                }
                Meaning::Stroke => self.motion = Action::Stroke,
                Meaning::VariableLead => self.motion = Action::VariableLead,
                Meaning::BoxThread => {
                    if code == 920 && self.is_clamp_or_preset(block) {
                        clamp_block = true;
                        no_motion = true;
                    } else {
                        self.motion = Action::BoxThread;
                    }
                }
                // Beside a motion code G76 shapes a corner in one family.
                Meaning::MultiPass if block.has_motion_code() => {}
                Meaning::MultiPass => action = Some(Action::MultiPass),
                Meaning::TurningCycle => {
                    action = Some(Action::OtherCycle);
                    if matches!(code, 900 | 940 | 200 | 240 | 770 | 790) {
                        self.motion = Action::OtherCycle;
                    }
                    if matches!(code, 710 | 720 | 730)
                        && let Some(last) = block.number_of(b'Q').and_then(Number::integer)
                        && block.has(b'P')
                    {
                        self.contour = Some((self.at, last));
                    }
                }
                Meaning::HoleCycle => self.motion = Action::OtherCycle,
                Meaning::Cancel => {
                    if self.motion == Action::OtherCycle {
                        self.motion = Action::None;
                    }
                }
                Meaning::Millimetre => self.set_units(mark(()), Units::Millimetre),
                Meaning::Inch => self.set_units(mark(()), Units::Inch),
                Meaning::Absolute => self.incremental = false,
                Meaning::Incremental => self.incremental = true,
                Meaning::PerMinute => self.per_minute = Some(mark_of(mark(()), true)),
                Meaning::PerTurn => self.per_minute = Some(mark_of(mark(()), false)),
                Meaning::SurfaceSpeed => {
                    self.spindle.mode = Some(mark_of(mark(()), SpeedMode::SurfaceSpeed));
                    if let Some(d) = block.number_of(b'D') {
                        self.spindle.clamp = Some(mark_of(mark(()), d.value()));
                    }
                }
                Meaning::ConstantRpm => {
                    self.spindle.mode = Some(mark_of(mark(()), SpeedMode::ConstantRpm));
                }
                Meaning::ClampOrPreset => {
                    clamp_block = true;
                    no_motion = true;
                }
                Meaning::DiameterMode => {
                    (self.radius_mode, self.x_mode_written) = (false, true);
                }
                Meaning::RadiusMode => (self.radius_mode, self.x_mode_written) = (true, true),
                Meaning::Home | Meaning::MachineMove => {
                    no_motion = true;
                    if block.has_any(b"XU") || bare {
                        self.at.x = None;
                    }
                    if block.has_any(b"ZW") || bare {
                        self.at.z = None;
                    }
                }
                Meaning::NoMotion => no_motion = true,
                Meaning::Other => {}
            }
        }
        self.names(block, bytes);
        self.speed(block, clamp_block);
        // An expression is kept too: the literal before it is no longer in force.
        if let Some(word) = block.word(b'F').filter(|word| word.value != Value::Missing) {
            self.feed = Some(Mark {
                value: *word,
                span: word.span,
                line: block.line,
            });
        }
        if let Some(word) = block.word(b'T') {
            let value = word.number().and_then(Number::integer);
            if word.value == Value::Expression {
                self.tool = None;
            } else if let Some(value) = value.and_then(|value| u32::try_from(value).ok())
                && value > 0
            {
                self.tool = Some(Mark {
                    value,
                    span: word.span,
                    line: block.line,
                });
            }
        }
        if clamp_block && !bare {
            let to = self.target(block);
            self.at = to;
        }
        if no_motion {
            return Action::None;
        }
        if block.computes_code() {
            // What the block does is not known, nor which motion is in force behind it.
            self.motion = Action::None;
            self.at = Position::default();
            return Action::None;
        }
        match action {
            Some(action) => action,
            None if bare => Action::None,
            None => self.motion,
        }
    }

    /// In the families where one code is a box of threading and a preset or clamp: a preset has no
    /// lead, neither here nor from a box before, and a clamp has S and no axis word.
    fn is_clamp_or_preset(&self, block: &Block) -> bool {
        if !block.has_any(b"XZUW") {
            return true;
        }
        let led = block.has_any(b"FE") || self.motion == Action::BoxThread;
        !led
    }

    fn set_units(&mut self, mark: Mark<()>, units: Units) {
        self.units = units;
        self.units_mark = Some(mark_of(mark, units));
    }

    /// `LIMS=3000`: the clamp of the call style.
    fn names(&mut self, block: &Block, bytes: &[u8]) {
        for name in &block.names {
            if let Some(number) = name.assigned
                && name.span.of(bytes).eq_ignore_ascii_case(b"LIMS")
            {
                self.spindle.clamp = Some(Mark {
                    value: number.value(),
                    span: name.span,
                    line: block.line,
                });
            }
        }
    }

    fn speed(&mut self, block: &Block, clamp_block: bool) {
        if let Some(word) = block.word(b'S').filter(|word| word.value != Value::Missing) {
            // An expression makes the speed unknown.
            let mark = word.number().map(|number| Mark {
                value: number.value(),
                span: word.span,
                line: block.line,
            });
            if clamp_block {
                self.spindle.clamp = mark;
            } else {
                self.spindle.speed = mark;
            }
        }
        for (code, word) in block.m_codes() {
            let turning = match code {
                30 => Turning::Clockwise,
                40 => Turning::Counterclockwise,
                50 => Turning::Stopped,
                _ => continue,
            };
            self.spindle.turning = Some(Mark {
                value: turning,
                span: word.span,
                line: block.line,
            });
        }
    }

    /// Where the block's axis words lead from the present position.
    #[must_use]
    pub fn target(&self, block: &Block) -> Position {
        Position {
            x: self.target_x(block),
            z: self.target_z(block),
        }
    }

    fn target_x(&self, block: &Block) -> Option<Length> {
        let double = if self.radius_mode { 2 } else { 1 };
        if let Some(word) = block.word(b'X') {
            let value = self.length(word.number()?)? * double;
            return if self.incremental {
                Some(self.at.x? + value)
            } else {
                Some(value)
            };
        }
        match block.word(b'U') {
            Some(word) => Some(self.at.x? + self.length(word.number()?)? * double),
            None => self.at.x,
        }
    }

    fn target_z(&self, block: &Block) -> Option<Length> {
        if let Some(word) = block.word(b'Z') {
            let value = self.length(word.number()?)?;
            return if self.incremental {
                Some(self.at.z? + value)
            } else {
                Some(value)
            };
        }
        match block.word(b'W') {
            Some(word) => Some(self.at.z? + self.length(word.number()?)?),
            None => self.at.z,
        }
    }

    /// Moves to a position; at the last block of a roughing contour back to the cycle's start.
    pub fn go(&mut self, to: Position) {
        self.at = to;
    }

    /// To be called after every block.
    pub fn finish(&mut self, block: &Block) {
        if let Some((start, last)) = self.contour
            && block.number.and_then(|word| word.number()?.integer()) == Some(last)
        {
            self.at = start;
            self.contour = None;
        }
    }
}

places!(Machine {
    in units_mark, per_minute, feed, spindle, tool;
    other family, units, decimal, incremental, radius_mode, x_mode_written, at, motion, contour;
});

impl Places for Mark<Word> {
    fn follow(&mut self, moved: &mut Moved) {
        moved.place(&mut self.span, &mut self.line);
        moved.span(&mut self.value.span);
        moved.span(&mut self.value.value_span);
    }
}

fn mark_of<T, U>(mark: Mark<T>, value: U) -> Mark<U> {
    Mark {
        value,
        span: mark.span,
        line: mark.line,
    }
}
