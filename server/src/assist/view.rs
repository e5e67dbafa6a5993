//! A thread for a panel beside the program.

use super::section_at;
use crate::analysis::Judged;
use crate::lsp::View;
use crate::show::text::Text;
use crate::show::{passes, passes_svg, summary};

pub(super) fn section(judged: &Judged, at: usize) -> Option<View> {
    let index = section_at(judged, at)?;
    let section = &judged.program.sections[index];
    let (name, takes) = summary::of(judged, index);
    let lines = if section.first_line == section.last_line {
        format!("line {}", section.first_line)
    } else {
        format!("lines {} to {}", section.first_line, section.last_line)
    };
    let text = Text {
        path: "",
        bytes: &judged.bytes,
        lines: &judged.program.lines,
    };
    // Its first line names the place, which the title does.
    let table = passes::section(text, section, &judged.judgement, index);
    Some(View {
        title: format!("{name}, {lines}"),
        summary: format!("{name}: {takes}"),
        text: table
            .split_once('\n')
            .map_or("", |(_, rest)| rest)
            .to_owned(),
        svg: picture(judged, index),
    })
}

/// The passes drawn in the form of the thread, where they are known.
fn picture(judged: &Judged, index: usize) -> Option<String> {
    let of = passes_svg::Passes {
        section: &judged.program.sections[index],
        identified: judged.judgement.threads.get(index)?,
        table: judged.judgement.tables.get(index)?,
    };
    passes_svg::drawing(of, "Passes", "passes", true).map(|drawing| drawing.svg)
}
