//! What a section of thread milling says beside its lead: every helix with its axis, radius,
//! pieces, entry and exit.

use super::Val;
use super::tapping::{Axis, Hand};
use crate::source::{Mark, Span};
use crate::units::Length;

/// A helical piece: one block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// The block.
    pub block: Mark<()>,
    /// Place of the word along the helix axis; none where the block has none.
    pub rise_word: Option<Span>,
    /// Degrees swept about the axis of the helix, above 0.
    pub degrees: f64,
    /// Advance along the axis.
    pub rise: Length,
}

/// How the tool gets onto the helix, or off it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Approach {
    /// The block.
    pub block: Mark<()>,
    /// Whether it is an arc.
    pub arc: bool,
    /// Degrees of the arc about its own centre; 0 for a straight move.
    pub own_degrees: f64,
    /// Degrees swept about the axis of the helix, in its direction of rotation.
    pub degrees: f64,
    /// Advance along the axis.
    pub rise: Length,
    /// Distance from the axis of the helix at the far end, mm.
    pub radius_mm: f64,
}

/// One helix: the tool goes round one axis in one direction.
#[derive(Debug, Clone, PartialEq)]
pub struct Helix {
    /// Centre in the plane: the axes after and before the helix axis in the order X, Y, Z, X.
    pub centre: (Length, Length),
    /// Radius of the programmed path at its start, mm.
    pub radius_mm: f64,
    /// Change of the radius per turn, mm; 0 for a cylinder.
    pub cone_mm: f64,
    /// Pieces in order.
    pub pieces: Vec<Piece>,
    /// Start along the axis.
    pub start: Length,
    /// End along the axis.
    pub end: Length,
    /// The move onto it.
    pub entry: Option<Approach>,
    /// The move off it.
    pub exit: Option<Approach>,
    /// Feed in force: the F word as a length per minute or per turn.
    pub feed: Option<Mark<Length>>,
    /// Whether the feed is per turn, where a word says so.
    pub per_turn: Option<bool>,
}

impl Helix {
    /// Turns about the axis.
    #[must_use]
    pub fn turns(&self) -> f64 {
        self.pieces.iter().map(|piece| piece.degrees).sum::<f64>() / 360.0
    }

    /// Advance along the axis, signed.
    #[must_use]
    pub fn rise(&self) -> Length {
        self.end - self.start
    }

    /// Advance per turn, signed, in mm.
    #[must_use]
    pub fn pitch_mm(&self) -> f64 {
        self.rise().mm() / self.turns()
    }
}

/// Cutter compensation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Compensation {
    /// G40, or none written.
    Off,
    /// G41: the tool is left of the path.
    Left,
    /// G42: the tool is right of the path.
    Right,
}

/// A section of [`super::Kind::Milled`].
#[derive(Debug, Clone, PartialEq)]
pub struct Milling {
    /// Axis of the helices.
    pub axis: Axis,
    /// Whether the tool goes counterclockwise (G3) seen against the axis.
    pub counterclockwise: bool,
    /// Hand of the thread: direction of rotation with direction of advance.
    pub hand: Val<Hand>,
    /// Whether the cutter climbs, from the side, the direction and the spindle.
    pub climb: Val<bool>,
    /// Compensation on the helix, with its word.
    pub compensation: (Compensation, Option<Mark<()>>),
    /// Every helix in order.
    pub helices: Vec<Helix>,
    /// What speaks for a thread.
    pub evidence: Vec<&'static str>,
    /// Whether a comment calls the tool a thread mill or names a thread.
    pub stated: bool,
}
