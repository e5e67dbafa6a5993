//! A threading section: the blocks that together cut one thread with one tool, whatever the way
//! of writing, with every value's place.

pub mod milling;
mod places;
pub mod tapping;

use crate::law::Law;
use crate::number::Number;
use crate::source::{Mark, Span};
use crate::units::{Diameter, Lead, Length, Radial, Units};

/// A way of writing a thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Syntax {
    /// Single synchronised strokes: G32, G33.
    Strokes,
    /// One box per X: G92, G78 or G21, by the G-code system.
    Box,
    /// A multi-pass cycle written in two blocks.
    TwoBlock,
    /// A multi-pass cycle written in one block.
    OneBlock,
    /// The multi-pass cycle of the open RS274/NGC interpreter.
    DriveLine,
    /// A named cycle with positional arguments.
    Call,
    /// Words H, B and D on the line of a compound turning cycle, and its box.
    Compound,
    /// Tapping cycles and synchronised tapping strokes.
    Tap,
    /// Arcs with an axial word: a milled thread.
    Helix,
}

impl Syntax {
    /// Every syntax.
    pub const ALL: [Syntax; 9] = [
        Syntax::Strokes,
        Syntax::Box,
        Syntax::TwoBlock,
        Syntax::OneBlock,
        Syntax::DriveLine,
        Syntax::Call,
        Syntax::Compound,
        Syntax::Tap,
        Syntax::Helix,
    ];

    /// The name used in configuration, JSON and messages.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Syntax::Strokes => "strokes",
            Syntax::Box => "box",
            Syntax::TwoBlock => "two-block",
            Syntax::OneBlock => "one-block",
            Syntax::DriveLine => "drive-line",
            Syntax::Call => "call",
            Syntax::Compound => "compound",
            Syntax::Tap => "tap",
            Syntax::Helix => "helix",
        }
    }

    /// Whether the words give the crest, and the root lies the thread height below it; elsewhere
    /// they give the root, and the crest follows.
    #[must_use]
    pub const fn counts_from_crest(self) -> bool {
        matches!(self, Syntax::DriveLine | Syntax::Call)
    }
}

/// What makes the thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// A single point on a turning machine.
    Turned,
    /// A tap or a die, one stroke in and out of a hole.
    Tapped,
    /// A rotating cutter on a helix.
    Milled,
}

impl Kind {
    /// The name used in JSON.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Kind::Turned => "turned",
            Kind::Tapped => "tapped",
            Kind::Milled => "milled",
        }
    }
}

/// Bolt or nut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Side {
    /// On the outside: the tool moves towards the axis to cut deeper.
    External,
    /// In a bore: the tool moves away from the axis to cut deeper.
    Internal,
}

impl Side {
    /// `external` or `internal`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Side::External => "external",
            Side::Internal => "internal",
        }
    }

    /// The mating side.
    #[must_use]
    pub const fn other(self) -> Side {
        match self {
            Side::External => Side::Internal,
            Side::Internal => Side::External,
        }
    }
}

/// A value, or why there is none.
#[derive(Debug, Clone, PartialEq)]
pub enum Val<T> {
    /// As written, or exact arithmetic on what was written.
    Exact(T),
    /// With a bound of its error in the same unit.
    Approx(T, T),
    /// Not known, with the reason.
    Unknown(String),
}

impl<T: Copy> Val<T> {
    /// The value where there is one.
    #[must_use]
    pub fn get(&self) -> Option<T> {
        match self {
            Val::Exact(value) | Val::Approx(value, _) => Some(*value),
            Val::Unknown(_) => None,
        }
    }

    /// An exact value, or the reason why there is none.
    pub fn or_unknown(value: Option<T>, why: impl Into<String>) -> Val<T> {
        value.map_or_else(|| Val::Unknown(why.into()), Val::Exact)
    }

    /// The reason where there is no value.
    #[must_use]
    pub fn why(&self) -> Option<&str> {
        match self {
            Val::Unknown(why) => Some(why),
            _ => None,
        }
    }

    /// The value changed by `f`, errors dropped where `f` is not linear being the caller's care.
    pub fn map<U>(self, f: impl Fn(T) -> U) -> Val<U> {
        match self {
            Val::Exact(value) => Val::Exact(f(value)),
            Val::Approx(value, error) => Val::Approx(f(value), f(error)),
            Val::Unknown(why) => Val::Unknown(why),
        }
    }
}

/// From which side the tool goes deeper.
#[derive(Debug, Clone, PartialEq)]
pub enum Infeed {
    /// Straight in.
    Radial,
    /// Along a line at this angle (degrees from the radial direction), towards the feed direction.
    Flank(f64),
    /// At this angle (degrees), to one side and the other in turn.
    Alternating(f64),
    /// Not known, with the reason.
    Unknown(String),
}

/// How the tool leaves at the end.
#[derive(Debug, Clone, PartialEq)]
pub enum PullOut {
    /// Straight out at full depth, in a relief or in the air.
    None,
    /// Chamfered over this many tenths of a lead.
    TenthsOfLead(u32),
    /// Along this axial length.
    Axial(Length),
    /// Set in the control, not in the program.
    Setting,
}

/// The geometry of a thread as the words give it.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Bolt or nut; unknown when the start diameter is.
    pub side: Val<Side>,
    /// Diameter at which the tool starts and to which it returns.
    pub start_x: Val<Diameter>,
    /// Where the stroke starts along the axis, before any infeed shift.
    pub start_z: Val<Length>,
    /// Diameter of the tool tip at the end of the deepest pass.
    pub root_x: Val<Diameter>,
    /// End of the stroke along the axis.
    pub end_z: Val<Length>,
    /// Crest diameter implied by the words (root and height), where the syntax has a height.
    pub crest_x: Val<Diameter>,
    /// Thread height from crest to root by the words.
    pub height: Val<Radial>,
    /// Radius at the start of the stroke minus radius at its end.
    pub taper: Val<Length>,
    /// Advance per turn, along the axis.
    pub lead: Val<Lead>,
    /// Starts seen in the program: distinct phases of the strokes.
    pub starts: u32,
    /// Start angle of the stroke in thousandths of a degree, where written.
    pub start_angle: Option<i64>,
    /// How the depth is split.
    pub law: Law,
    /// Infeed.
    pub infeed: Infeed,
    /// Exit.
    pub pull_out: PullOut,
}

impl Cut {
    /// Words with these letters (A is bit 0) are near what was worked out: the lengths that rest on
    /// them are known to 1e-9 mm and not exact.
    pub(crate) fn make_near(&mut self, letters: u32) {
        fn near<T: Copy>(value: &mut Val<T>, error: T) {
            if let Val::Exact(exact) = *value {
                *value = Val::Approx(exact, error);
            }
        }
        let any = |wanted: &[u8]| {
            wanted
                .iter()
                .any(|letter| letters & (1 << (letter - b'A')) != 0)
        };
        let error = Length::from_pm(1);
        if any(b"XU") {
            near(&mut self.start_x, Diameter(error));
            near(&mut self.root_x, Diameter(error));
            near(&mut self.crest_x, Diameter(error));
        }
        if any(b"ZW") {
            near(&mut self.start_z, error);
            near(&mut self.end_z, error);
        }
        if any(b"PKI") {
            near(&mut self.height, Radial(error));
            near(&mut self.crest_x, Diameter(error));
        }
        if any(b"XURI") && self.taper != Val::Exact(Length::ZERO) {
            near(&mut self.taper, error);
        }
        if any(b"FEP") || any(b"K") && self.law == Law::List {
            near(&mut self.lead, Lead::per_turn(error));
        }
    }
}

/// Why a pass is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Purpose {
    /// Takes depth.
    Rough,
    /// Takes the finishing allowance.
    Finish,
    /// Takes no new depth.
    Spring,
}

impl Purpose {
    /// The name used in JSON and tables.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Purpose::Rough => "rough",
            Purpose::Finish => "finish",
            Purpose::Spring => "spring",
        }
    }
}

/// One straight piece of a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leg {
    /// Diameter at its end.
    pub x: Diameter,
    /// Position along the axis at its end.
    pub z: Length,
    /// Advance per turn measured along the piece.
    pub lead: Lead,
}

/// Why a section whose lead changes along the stroke has no one lead.
pub const LEAD_CHANGES: &str = "the lead changes along the stroke";

/// A lead that grows or shrinks along a stroke.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeadChange {
    /// Change a turn, negative where the lead shrinks.
    pub per_turn: Length,
    /// Lead at the end of the stroke; none where it shrinks to nothing before the end.
    pub end: Option<Lead>,
}

/// One synchronised cut along the thread.
#[derive(Debug, Clone, PartialEq)]
pub struct Pass {
    /// Line of the block that causes it.
    pub line: u32,
    /// That block.
    pub span: Span,
    /// Why it is made; list syntaxes know only rough and spring.
    pub purpose: Purpose,
    /// Tool tip diameter at the start of the stroke.
    pub x_start: Option<Diameter>,
    /// Tool tip diameter at the end of the stroke: the depth of the pass.
    pub x: Option<Diameter>,
    /// Depth below the crest, where the words give a crest.
    pub depth: Option<Radial>,
    /// Depth taken by this pass beyond the one before.
    pub step: Option<Radial>,
    /// Start along the axis.
    pub z_start: Option<Length>,
    /// End along the axis.
    pub z_end: Option<Length>,
    /// Advance per turn along the axis, at the start where it changes.
    pub lead: Option<Lead>,
    /// How the lead changes, where it does.
    pub lead_change: Option<LeadChange>,
    /// Start angle in thousandths of a degree.
    pub start_angle: Option<i64>,
    /// Spindle at this pass.
    pub spindle: Spindle,
    /// Block skip of the block.
    pub skip: Option<u8>,
    /// The pieces of the path, where it is more than one straight stroke. The first starts at
    /// `x_start`, `z_start`.
    pub legs: Vec<Leg>,
}

/// Direction of rotation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Turning {
    /// M3.
    Clockwise,
    /// M4.
    Counterclockwise,
    /// M5, or M3 and M4 nowhere before.
    Stopped,
}

/// How the S word is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SpeedMode {
    /// Turns per minute.
    ConstantRpm,
    /// Surface speed, turns follow the diameter.
    SurfaceSpeed,
}

/// Spindle state with the places that set it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Spindle {
    /// The S word as written (rpm, or surface speed in m/min or ft/min).
    pub speed: Option<Mark<f64>>,
    /// G96 or G97; none when the program wrote neither.
    pub mode: Option<Mark<SpeedMode>>,
    /// M3, M4 or M5; none when the program wrote none.
    pub turning: Option<Mark<Turning>>,
    /// Speed clamp in rpm.
    pub clamp: Option<Mark<f64>>,
}

impl Spindle {
    /// Turns per minute where they are constant and known.
    #[must_use]
    pub fn rpm(&self) -> Option<f64> {
        match self.mode.map(|mode| mode.value) {
            Some(SpeedMode::SurfaceSpeed) => None,
            _ => self.speed.map(|speed| speed.value),
        }
    }

    /// Whether surface speed is in force.
    #[must_use]
    pub fn surface_speed(&self) -> bool {
        self.mode
            .is_some_and(|mode| mode.value == SpeedMode::SurfaceSpeed)
    }
}

/// What a word means in its section.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Role {
    /// End diameter (X or U).
    EndX,
    /// End along the axis (Z or W).
    EndZ,
    /// Advance per turn.
    Lead,
    /// Height from crest to root.
    Height,
    /// First depth of cut.
    FirstCut,
    /// Minimum depth of cut.
    MinCut,
    /// Finishing allowance.
    FinishAllowance,
    /// Radius at the start minus radius at the end.
    Taper,
    /// Included tool angle, in degrees.
    ToolAngle,
    /// Six digits: finishing repeats, pull-out, tool angle.
    Packed,
    /// Degression exponent.
    Degression,
    /// Passes without new depth.
    SpringPasses,
    /// Start angle.
    StartAngle,
    /// Distance from the drive line to the crest.
    CrestOffset,
    /// Infeed angle, in degrees.
    InfeedAngle,
    /// Length of the entry or exit taper.
    EndTaperLength,
    /// Which ends are tapered.
    EndTaperChoice,
    /// Cutting method number.
    Method,
    /// Feed per minute: the lead is it over the speed.
    Feed,
    /// Where a tapping stroke starts along its axis.
    Clearance,
    /// Depth of a peck.
    Peck,
    /// How often a cycle is repeated.
    Repeats,
    /// Number of roughing passes.
    RoughPasses,
    /// Number of starts.
    Starts,
    /// Change of the lead a turn.
    LeadChange,
    /// Length of the pull-out along the axis.
    PullOut,
}

/// How a literal becomes a quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Scale {
    /// Lengths in the program's units, decimal or whole.
    Real(Units),
    /// Lengths in least increments.
    Increments(Units),
    /// A plain number: counts, degrees, digits.
    Plain,
}

/// A word of a section with its meaning.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoleWord {
    /// What it means.
    pub role: Role,
    /// Address letter as written, upper case.
    pub letter: u8,
    /// The literal.
    pub number: Number,
    /// Letter and value.
    pub span: Span,
    /// Value alone: what a fix replaces.
    pub value_span: Span,
    /// Line, from 1.
    pub line: u32,
    /// How the literal becomes a quantity.
    pub scale: Scale,
    /// Quantity = literal × this / [`RoleWord::divisor`]: 2 for an X written as a radius.
    pub factor: i64,
    /// See [`RoleWord::factor`]: 2 for a depth written as a difference of diameters.
    pub divisor: i64,
    /// What an incremental word counts from; zero for a position.
    pub base: Length,
}

impl RoleWord {
    /// The address letter; nothing for an argument, which has none.
    #[must_use]
    pub fn address(&self) -> String {
        char::from(self.letter).to_string().trim().to_owned()
    }

    /// The quantity as a length: a diameter for [`Role::EndX`], radial for depths.
    #[must_use]
    pub fn length(&self) -> Option<Length> {
        let raw = match self.scale {
            Scale::Real(units) => self.number.real(units)?,
            Scale::Increments(units) => self.number.increments(units)?,
            Scale::Plain => return None,
        };
        Some(self.base + Length::from_pm(raw.pm().saturating_mul(self.factor) / self.divisor))
    }

    /// The value as text that gives `length`, in this word's own style. A plain number takes the
    /// millimetres as its value.
    #[must_use]
    pub fn spell(&self, length: Length) -> String {
        let raw =
            Length::from_pm((length - self.base).pm().saturating_mul(self.divisor) / self.factor);
        match self.scale {
            Scale::Real(units) => {
                let decimals = if units == Units::Inch { 4 } else { 3 };
                self.number.restyle(units.value_of(raw), decimals)
            }
            Scale::Increments(units) => self
                .number
                .restyle(raw.pm() as f64 / units.least_increment().pm() as f64, 0),
            Scale::Plain => self.number.restyle(length.mm(), 3),
        }
    }
}

/// A comment near a section.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Note {
    /// The comment, brackets or semicolon included.
    pub span: Span,
    /// Line, from 1.
    pub line: u32,
}

/// A threading section.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// Way of writing.
    pub syntax: Syntax,
    /// What makes the thread.
    pub kind: Kind,
    /// From the first to the last block of the section.
    pub span: Span,
    /// Line of the first block, from 1.
    pub first_line: u32,
    /// Line of the last block, from 1.
    pub last_line: u32,
    /// Blocks that belong to the section (span of each without line end).
    pub blocks: Vec<Mark<()>>,
    /// The geometry.
    pub cut: Cut,
    /// Every pass in order.
    pub passes: Vec<Pass>,
    /// Whether the passes are what the control will do (false where it adds settings that the
    /// program does not hold; `unknown` says which).
    pub passes_certain: bool,
    /// Words with their meaning.
    pub words: Vec<RoleWord>,
    /// Units in force.
    pub units: Units,
    /// Whether X is written as a radius.
    pub radius_mode: bool,
    /// Spindle at the first pass.
    pub spindle: Spindle,
    /// The T word in force.
    pub tool: Option<Mark<u32>>,
    /// Comments from the tool change (or program start) to the end of the section.
    pub notes: Vec<Note>,
    /// What is not known, in sentences without a full stop.
    pub unknown: Vec<String>,
    /// Whether this section repeats an earlier one at the same root (a burr chase).
    pub chase: bool,
    /// Words that the syntax needs and that are missing, by role, with the block to add them to.
    pub missing: Vec<Missing>,
    /// Rapid feed moves of the section in order, with the strokes between them.
    pub moves: Vec<Move>,
    /// What only [`Kind::Tapped`] has.
    pub tapping: Option<Box<tapping::Tapping>>,
    /// What only [`Kind::Milled`] has.
    pub milling: Option<Box<milling::Milling>>,
}

/// A word that the syntax needs and that is not there.
#[derive(Debug, Clone, PartialEq)]
pub struct Missing {
    /// What it would say.
    pub role: Role,
    /// Address letters that could carry it.
    pub letters: &'static str,
    /// The block it belongs to.
    pub block: Span,
    /// Line, from 1.
    pub line: u32,
    /// The value still in force from an earlier block of this program, where there is one:
    /// the word as it stood there.
    pub in_force: Option<Mark<Span>>,
}

/// A motion of a section that is not synchronised.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Move {
    /// Line, from 1.
    pub line: u32,
    /// The block.
    pub span: Span,
    /// Whether it is a rapid.
    pub rapid: bool,
    /// Number of passes made before it.
    pub after_pass: usize,
    /// From, diameter and Z.
    pub from: (Option<Diameter>, Option<Length>),
    /// To, diameter and Z.
    pub to: (Option<Diameter>, Option<Length>),
}

impl Move {
    /// The move with its diameters turned around, as those of a section with negative diameters
    /// are.
    #[must_use]
    pub fn mirrored(self) -> Move {
        let turned = |(x, z): (Option<Diameter>, Option<Length>)| (x.map(|x| Diameter(-x.0)), z);
        Move {
            from: turned(self.from),
            to: turned(self.to),
            ..self
        }
    }
}

impl Section {
    /// The last word with this role.
    #[must_use]
    pub fn word(&self, role: Role) -> Option<&RoleWord> {
        self.words.iter().rev().find(|word| word.role == role)
    }

    /// Bolt or nut, where known.
    #[must_use]
    pub fn side(&self) -> Option<Side> {
        self.cut.side.get()
    }

    /// Whether the thread lies on a face: every pass feeds along X alone.
    #[must_use]
    pub fn is_facing(&self) -> bool {
        let along_x = |pass: &Pass| {
            pass.z_start.is_some()
                && pass.z_start == pass.z_end
                && pass.x_start.is_some()
                && pass.x_start != pass.x
        };
        !self.passes.is_empty() && self.passes.iter().all(along_x)
    }

    /// -1 when the tool feeds towards -Z, 1 towards +Z.
    #[must_use]
    pub fn feed_direction(&self) -> Option<i64> {
        let travel = self.cut.end_z.get()? - self.cut.start_z.get()?;
        (!travel.is_zero()).then(|| travel.signum())
    }
}
