//! A block that was written: what it rests on, and JSON.

use std::fmt::Write as _;

use lexer::evidence::Family;
use lexer::section::Syntax;
use lexer::units::Radial;
use rules::rewrite::block::Block;
use rules::standards::Side;
use serde::Serialize;

use super::json::{VERSION, print, round};
use super::text::plural;
use super::{CAUTION_SHORT, visible};

/// What was assumed, for standard error: the block alone goes to standard output.
pub(crate) fn notes(block: &Block) -> String {
    let mut out = String::new();
    let seconds = block
        .seconds
        .map_or_else(String::new, |seconds| format!(", {seconds:.1} s"));
    let passes = match block.depths.len() {
        0 => String::new(),
        count => format!("{} of each start, ", plural(count, "pass", "passes")),
    };
    // Writing to a string cannot fail.
    let _ = writeln!(
        out,
        "{passes}{} 1/min{seconds}; read back as one section",
        block.rpm
    );
    for note in &block.notes {
        let _ = writeln!(out, "note: {}", visible::text(note));
    }
    for finding in &block.findings {
        let _ = writeln!(out, "check says: {}", visible::text(finding));
    }
    out
}

#[derive(Serialize)]
struct Document<'a> {
    version: u32,
    designation: String,
    side: &'static str,
    syntax: &'static str,
    system: &'static str,
    text: &'a str,
    depths_mm: Vec<f64>,
    peak_mm2: Option<f64>,
    rpm: f64,
    seconds: Option<f64>,
    notes: &'a [String],
    findings: &'a [String],
    caution: &'static str,
}

/// What was asked for.
pub(crate) struct What {
    pub(crate) designation: String,
    pub(crate) side: Side,
    pub(crate) syntax: Syntax,
    pub(crate) family: Family,
}

/// The block as a document, version 1.
pub(crate) fn json(what: &What, block: &Block) -> String {
    print(&Document {
        version: VERSION,
        designation: what.designation.clone(),
        side: what.side.name(),
        syntax: what.syntax.name(),
        system: what.family.name(),
        text: &block.text,
        depths_mm: block
            .depths
            .iter()
            .map(|(depth, _)| Radial::mm(*depth))
            .collect(),
        peak_mm2: block.peak_mm2.map(|area| round(area, 6)),
        rpm: block.rpm,
        seconds: block.seconds.map(|seconds| round(seconds, 3)),
        notes: &block.notes,
        findings: &block.findings,
        caution: CAUTION_SHORT,
    }) + "\n"
}
