//! Sections from what was gathered.

use crate::machine::Machine;
use crate::section::{Cut, Kind, Pass, Section, Syntax};
use crate::source::Mark;
use crate::syntax::{helix, tap};

/// The section of a tapping activation.
pub(super) fn tapped(active: tap::Active) -> Section {
    let cut = active.cut();
    let unknown = active.all_unknown(&cut);
    let mut section = section(Syntax::Tap, &active.machine, &active.blocks, cut, unknown);
    section.passes = active.passes;
    section.words = active.words;
    section.missing = active.missing;
    section.tapping = Some(Box::new(active.tapping));
    section
}

/// The section of a milled thread.
pub(super) fn milled(active: helix::Active) -> Section {
    let cut = active.cut();
    let unknown = active.all_unknown(&cut);
    let mut section = section(Syntax::Helix, &active.machine, &active.blocks, cut, unknown);
    section.kind = Kind::Milled;
    section.passes = active.passes;
    section.milling = Some(Box::new(active.milling));
    section
}

fn section(
    syntax: Syntax,
    machine: &Machine,
    blocks: &[Mark<()>],
    cut: Cut,
    unknown: Vec<String>,
) -> Section {
    let first = blocks.first().copied();
    let last = blocks.last().copied();
    let span = first.zip(last).map(|(a, b)| a.span.to(b.span));
    Section {
        syntax,
        kind: Kind::Tapped,
        span: span.unwrap_or_default(),
        first_line: first.map_or(0, |block| block.line),
        last_line: last.map_or(0, |block| block.line),
        blocks: blocks.to_vec(),
        cut,
        passes: Vec::<Pass>::new(),
        passes_certain: true,
        words: Vec::new(),
        units: machine.units,
        radius_mode: machine.radius_mode,
        spindle: machine.spindle,
        tool: machine.tool,
        notes: Vec::new(),
        unknown,
        chase: false,
        missing: Vec::new(),
        moves: Vec::new(),
        tapping: None,
        milling: None,
        height_over_lead: None,
    }
}
