//! A whole file: its threading sections, the programs in it, and what speaks for which family of
//! controls.

use crate::block::Fault;
use crate::contour::Turning;
use crate::evidence::{Family, Reason};
use crate::number::DecimalRule;
use crate::section::{Cut, Leg, Note, Section};
use crate::source::{Lines, Mark, Span};
use crate::units::{Lead, Length, Radial, Units};

/// Facts about the control that the text may leave open. All optional: the text speaks first.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Settings {
    /// Family of controls; overrides the evidence.
    pub family: Option<Family>,
    /// Whether X is a diameter when the program has no word for it.
    pub diameter_mode: Option<bool>,
    /// Units when the program has no word for them.
    pub units: Option<Units>,
    /// How lengths without a point are read.
    pub decimal: Option<DecimalRule>,
    /// Minimum depth of cut that the control uses when a cycle does not write it.
    pub min_cut: Option<Radial>,
    /// Finishing allowance that the control uses when a cycle does not write it.
    pub finish_allowance: Option<Radial>,
}

/// One program of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// O number, where there is one.
    pub number: Option<i64>,
    /// First line.
    pub first_line: u32,
}

/// Why a loop never ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NeverEnds {
    /// After some rounds every variable is as it was.
    NothingChanges,
    /// The two sides of its condition go apart by the same step in each round.
    GoesAway,
}

/// A loop that never ends, with values that the text gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Endless {
    /// The block with its condition.
    pub span: Span,
    /// Line, from 1.
    pub line: u32,
    /// Why.
    pub why: NeverEnds,
}

/// A file that has been read.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Program {
    /// The family that the text speaks for, or that was set.
    pub family: Family,
    /// Why.
    pub reasons: Vec<Reason>,
    /// Units of the first units word; none when the text has no such word.
    pub units: Option<Mark<Units>>,
    /// Threading sections in order.
    pub sections: Vec<Section>,
    /// Damage in the text, whole file.
    pub faults: Vec<(u32, Fault)>,
    /// O-programs in order.
    pub parts: Vec<Part>,
    /// All comments.
    pub notes: Vec<Note>,
    /// Line starts.
    pub lines: Lines,
    /// What was not read, in sentences: constructs beyond this reader, with their line.
    pub unread: Vec<Mark<&'static str>>,
    /// Loops that never end.
    pub endless: Vec<Endless>,
    /// Places that no edit may touch as though they were made once: blocks that are run more than
    /// once, calls of other files, worked-out words. In order, none inside another.
    pub shared: Vec<Span>,
    /// What is turned around the threads; see [`Program::contour`].
    pub turning: Turning,
    /// Length of the text in bytes.
    pub length: u32,
}

/// What a text does, piece by piece, for comparing two texts: see [`crate::effects()`].
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// What follows of the block may be skipped.
    Skip(u8),
    /// A modal state changes: its name and the G code in tenths.
    Mode(&'static str, i32),
    /// The S word in force changes (bits of the value); none when it is an expression.
    Speed(Option<u64>),
    /// The speed clamp changes (bits of the value).
    Clamp(Option<u64>),
    /// The feed or lead in force at a cycle, as a key that is equal for equal values.
    Feed(Option<i64>),
    /// A move to a diameter and a Z.
    Move {
        /// G code in tenths.
        code: i32,
        /// Diameter at the end.
        x: Option<Length>,
        /// Z at the end.
        z: Option<Length>,
        /// Feed in force, as in [`Effect::Feed`]; none for a rapid.
        feed: Option<i64>,
    },
    /// The geometry of a multi-pass cycle.
    Cut(Box<Cut>),
    /// A pass of a section.
    Pass {
        /// Start and end diameters, depth, start and end Z.
        path: [Option<Length>; 5],
        /// Lead.
        lead: Option<Lead>,
        /// Start angle.
        angle: Option<i64>,
        /// Pieces.
        legs: Vec<Leg>,
    },
    /// Any other word: letter, and a key that is equal for equal values.
    Word(u8, i64),
    /// Text that is not evaluated, without blanks and in capitals.
    Text(Vec<u8>),
}
