//! A block that was written: what it rests on, and JSON.

use std::fmt::Write as _;

use lexer::units::Radial;
use rules::rewrite::block::{Block, Order};
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
    // Writing to a string cannot fail.
    let _ = writeln!(
        out,
        "{} of each start, {} 1/min{seconds}; read back as one section",
        plural(block.depths.len(), "pass", "passes"),
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

/// The block as a document, version 1.
pub(crate) fn json(order: &Order, block: &Block) -> String {
    print(&Document {
        version: VERSION,
        designation: order.thread.designation_for(order.side),
        side: order.side.name(),
        syntax: order.syntax.name(),
        system: order.style.family.name(),
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
