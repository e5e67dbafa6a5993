//! What a section of tapping says beside its lead: the holes, the way of writing, and what makes
//! the spindle and the feed go together.

use super::{Note, Val};
use crate::source::{Mark, Span};
use crate::units::{Lead, Length};

/// Hand of a helix.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Hand {
    /// Right-hand.
    Right,
    /// Left-hand.
    Left,
}

impl Hand {
    /// `right` or `left`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Hand::Right => "right",
            Hand::Left => "left",
        }
    }
}

/// A linear axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Axis {
    /// X.
    X,
    /// Y.
    Y,
    /// Z.
    Z,
}

impl Axis {
    /// Its letter.
    #[must_use]
    pub const fn letter(self) -> u8 {
        match self {
            Axis::X => b'X',
            Axis::Y => b'Y',
            Axis::Z => b'Z',
        }
    }

    /// Its place in a triple of X, Y and Z.
    #[must_use]
    pub const fn index(self) -> usize {
        match self {
            Axis::X => 0,
            Axis::Y => 1,
            Axis::Z => 2,
        }
    }
}

/// A place in the program's coordinates as written: X is a diameter where the program says so.
pub type Place = [Option<Length>; 3];

/// How tapping is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Way {
    /// A cycle that is in force until it is cancelled: G84, G74, on a turning machine G88.
    Cycle,
    /// G84.2 and G84.3: the same, synchronised.
    RigidCycle,
    /// G33.1: down and back in one block.
    Stroke,
    /// G331 down and G332 back.
    Interpolated,
    /// G63: a straight move with a floating holder.
    FloatingMove,
    /// A call of a synchronised tapping cycle.
    Call,
    /// A call of a tapping cycle for a floating holder.
    FloatingCall,
}

/// A hole that is tapped.
#[derive(Debug, Clone, PartialEq)]
pub struct Hole {
    /// The block that causes it.
    pub block: Mark<()>,
    /// Where the tool stands when the stroke begins, before the tapping axis moves.
    pub at: Place,
    /// Where the stroke starts along the axis, spindle at speed: the R plane.
    pub clear: Val<Length>,
    /// Where it ends: the tap's tip at the bottom.
    pub bottom: Val<Length>,
    /// The drilling at the same place earlier in the same program that went deepest.
    pub drilled: Option<Drilled>,
}

/// A hole that was drilled.
#[derive(Debug, Clone, PartialEq)]
pub struct Drilled {
    /// The block that drills it.
    pub block: Mark<()>,
    /// Code of the cycle in tenths; 10 for a straight feed move.
    pub code: i32,
    /// Where it ends along the axis, as written.
    pub bottom: Length,
    /// The T word in force.
    pub tool: Option<Mark<u32>>,
    /// Comments from its tool change to its block, the nearest last.
    pub notes: Vec<Note>,
}

/// A word for the synchronised mode (M29).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rigid {
    /// The word.
    pub word: Mark<()>,
    /// The S word of its block.
    pub speed: Option<Mark<f64>>,
    /// A motion between it and the cycle: its block.
    pub motion: Option<Mark<()>>,
    /// An S word between it and the cycle, or in the cycle's block.
    pub later_speed: Option<Mark<f64>>,
}

/// Why a block behind tapping is taken for one that should not tap.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stray {
    /// The spindle was stopped before it, by the word at this place.
    Stopped(Span, u32),
    /// The tool was changed before it, by the word at this place.
    ToolChanged(Span, u32),
    /// It moves along the tapping axis to a place outside the work, above the R plane.
    Retract,
    /// Nothing was drilled there, while every hole before it was.
    NotDrilled,
}

/// A block with a position while the cycle is still in force.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeftActive {
    /// The block.
    pub block: Mark<()>,
    /// Why it should not tap.
    pub why: Stray,
}

/// The return stroke of [`Way::Interpolated`].
#[derive(Debug, Clone, PartialEq)]
pub struct Return {
    /// The block.
    pub block: Mark<()>,
    /// Its lead, signed; the one of the stroke in where it writes none.
    pub lead: Option<Lead>,
}

/// A section of [`super::Kind::Tapped`].
#[derive(Debug, Clone, PartialEq)]
pub struct Tapping {
    /// How it is written.
    pub way: Way,
    /// The code in tenths with its place; 0 for a call, whose name stands there.
    pub code: Mark<i32>,
    /// Along which axis.
    pub axis: Axis,
    /// Hand of the thread by the code, the sign of the lead or the direction of the spindle.
    pub hand: Val<Hand>,
    /// What tells the hand, in words.
    pub hand_by: &'static str,
    /// The holes in order. A file that asks for more than 20,000 has the first ones.
    pub holes: Vec<Hole>,
    /// How many holes there are.
    pub count: usize,
    /// Whether the feed follows the spindle.
    pub synchronised: Val<bool>,
    /// The word for the synchronised mode before the cycle.
    pub rigid: Option<Rigid>,
    /// Whether F is a feed per minute (the lead is then F over S) and the word that says so; no
    /// word where the size of F decides.
    pub per_minute: Option<(bool, Option<Span>)>,
    /// Turns per minute on the way in.
    pub rpm: Option<f64>,
    /// Turns per minute on the way out, where another word gives them.
    pub retract_rpm: Option<f64>,
    /// Depth of a peck, where the hole is tapped in several strokes.
    pub peck: Option<Length>,
    /// Nominal size in mm, where the program names the thread by it.
    pub size: Option<f64>,
    /// Axis words of the stroke across its axis: a slanted tap.
    pub slanted: Option<Mark<()>>,
    /// Return strokes, for [`Way::Interpolated`] and [`Way::FloatingMove`].
    pub returns: Vec<Return>,
    /// Blocks with a position that came while the cycle was still in force.
    pub left_active: Vec<LeftActive>,
    /// A word that ends the cycle.
    pub cancelled: Option<Mark<()>>,
}
