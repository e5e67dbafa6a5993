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
    /// Start angle of the block's strokes by `SF=`, in thousandths of a degree.
    pub start_angle: Option<i64>,
    /// Number of the spindle that S and M without an index mean.
    master: u8,
    /// X is a diameter as a position and a radius as a distance.
    diam90: bool,
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
            start_angle: None,
            master: 1,
            diam90: false,
            contour: None,
        }
    }

    /// The number of the tool station of a T word: `T0303` is 3, `T3` is 3.
    #[must_use]
    pub fn station(word: u32) -> u32 {
        if (100..0x8000_0000).contains(&word) {
            word / 100
        } else {
            word
        }
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
            if let Some(name) = tool_name(word, bytes) {
                self.tool = Some(Mark {
                    value: name,
                    span: word.span,
                    line: block.line,
                });
            } else if word.value == Value::Expression {
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

    /// The names of the call style: `LIMS=3000`, `S1=800`, `M1=3`, `DIAMON`, `SF=120`.
    fn names(&mut self, block: &Block, bytes: &[u8]) {
        self.start_angle = None;
        for name in &block.names {
            let text = name.span.of(bytes).to_ascii_uppercase();
            let mark = Mark {
                value: name.assigned.map(Number::value),
                span: name
                    .value_span
                    .map_or(name.span, |value| name.span.to(value)),
                line: block.line,
            };
            let assigns = name.value_span.is_some();
            match text.as_slice() {
                b"LIMS" if assigns => self.spindle.clamp = some(mark),
                b"SF" if assigns => {
                    self.start_angle = mark.value.map(|angle| (angle * 1000.0).round() as i64);
                }
                b"DIAMON" => self.diameters(false, false),
                b"DIAMOF" => self.diameters(true, false),
                b"DIAM90" => self.diameters(false, true),
                b"SETMS" => {
                    let number = name
                        .arguments
                        .and_then(|span| Number::parse(span.of(bytes)));
                    let number = number.and_then(Number::integer).unwrap_or(1);
                    self.master = u8::try_from(number).unwrap_or(1);
                }
                [b'S', index @ ..] if assigns && self.is_master(index) => {
                    self.spindle.speed = some(mark);
                }
                [b'M', index @ ..] if assigns && self.is_master(index) => {
                    let code = name.assigned.and_then(Number::integer);
                    if let Some(turning) = code.and_then(|code| turning(code * 10)) {
                        self.spindle.turning = Some(mark_of(mark_of(mark, ()), turning));
                    }
                }
                _ => {}
            }
        }
        if self.diam90 {
            self.radius_mode = self.incremental;
        }
    }

    fn diameters(&mut self, radius: bool, diam90: bool) {
        self.radius_mode = radius;
        self.diam90 = diam90;
        self.x_mode_written = true;
    }

    fn is_master(&self, index: &[u8]) -> bool {
        let plain = !index.is_empty() && index.iter().all(u8::is_ascii_digit);
        let number = Number::parse(index).and_then(Number::integer);
        plain && number == Some(i64::from(self.master))
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
            let Some(turning) = turning(i64::from(code)) else {
                continue;
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
    other family, units, decimal, incremental, radius_mode, x_mode_written, at, motion, contour,
        start_angle, master, diam90;
});

impl Places for Mark<Word> {
    fn follow(&mut self, moved: &mut Moved) {
        moved.place(&mut self.span, &mut self.line);
        moved.span(&mut self.value.span);
        moved.span(&mut self.value.value_span);
    }
}

/// A number of its own, above all stations, for a tool with a name in quotes.
fn tool_name(word: &Word, bytes: &[u8]) -> Option<u32> {
    let text = word.value_span.of(bytes);
    let name = text.strip_prefix(b"\"")?;
    let hash = name.iter().fold(0x811c_9dc5u32, |hash, &byte| {
        (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193)
    });
    Some(hash | 0x8000_0000)
}

/// The direction that an M code in tenths asks for.
fn turning(code: i64) -> Option<Turning> {
    Some(match code {
        30 => Turning::Clockwise,
        40 => Turning::Counterclockwise,
        50 => Turning::Stopped,
        _ => return None,
    })
}

/// A mark where it has a value.
fn some<T: Copy>(mark: Mark<Option<T>>) -> Option<Mark<T>> {
    mark.value.map(|value| mark_of(mark, value))
}

fn mark_of<T, U>(mark: Mark<T>, value: U) -> Mark<U> {
    Mark {
        value,
        span: mark.span,
        line: mark.line,
    }
}
