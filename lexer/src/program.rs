//! A whole file: its threading sections, the programs in it, and what speaks for which family of
//! controls.

use crate::block::Fault;
use crate::evidence::{Family, Reason};
use crate::number::DecimalRule;
use crate::section::{Note, Section};
use crate::source::{Lines, Mark};
use crate::units::{Length, Radial, Units};

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

/// A file that has been read.
#[derive(Debug, Clone, Default)]
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
    /// Length of the text in bytes.
    pub length: u32,
}

/// What a block does, for comparing two texts: the motion, speed and tool stream.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// A move to a diameter and a Z, with its kind in tenths of a G code and its feed word.
    Move {
        /// G code in tenths.
        code: i32,
        /// Diameter at the end.
        x: Option<Length>,
        /// Z at the end.
        z: Option<Length>,
        /// Feed or lead in force, in picometres of the program's units, as read.
        feed: Option<Length>,
    },
    /// A pass of a section.
    Pass {
        /// Start and end diameters, start and end Z.
        path: [Option<Length>; 4],
        /// Lead.
        lead: Option<Length>,
        /// Start angle.
        angle: Option<i64>,
        /// Surface speed mode, S value, direction code.
        spindle: (bool, Option<u64>, u8),
    },
    /// Any other word: letter and value in 1e-9 units, or the text of an expression.
    Word(u8, i64),
    /// Text that is not evaluated.
    Text(Vec<u8>),
}
