//! The passes of a section as a table: depth, step, chip area and time of each.

use lexer::units::{Diameter, Length, Radial};

/// One pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Index of the pass in the section.
    pub pass: usize,
    /// Depth below the crest; none where the crest is unknown.
    pub depth: Option<Radial>,
    /// Depth beyond the deepest pass before (of the same start).
    pub step: Option<Radial>,
    /// Chip area in mm², sharp V; none where the depth or the flank angles are unknown.
    pub area_mm2: Option<f64>,
    /// Seconds of the synchronised stroke; none where rpm or lead are unknown.
    pub cut_seconds: Option<f64>,
}

/// Seconds of a section.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Seconds {
    /// In the thread.
    pub cut: f64,
    /// Synchronised but before the thread's end face and behind its end: run-in.
    pub air: f64,
    /// Retract, return and infeed at rapid, and waiting for the one-turn mark.
    pub back: f64,
}

impl Seconds {
    /// All of it.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.cut + self.air + self.back
    }
}

/// The table.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Table {
    /// Crest diameter used for the depths.
    pub crest: Option<Diameter>,
    /// Where the crest comes from, in words.
    pub crest_from: String,
    /// Root diameter: the deepest pass.
    pub root: Option<Diameter>,
    /// One row a pass, in order.
    pub rows: Vec<Row>,
    /// Time; none where rpm, lead or the stroke are unknown.
    pub seconds: Option<Seconds>,
    /// What the time rests on: rapid and acceleration, or that they are defaults.
    pub time_basis: String,
    /// Start of the deepest pass along the axis.
    pub z_start: Option<Length>,
    /// Its end.
    pub z_end: Option<Length>,
}
