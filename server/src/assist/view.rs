//! A thread for a panel beside the program.

use super::section_at;
use crate::analysis::Judged;
use crate::lsp::View;
use crate::show::text::Text;
use crate::show::{passes, summary};

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
        path: "line",
        bytes: &judged.bytes,
        lines: &judged.program.lines,
    };
    Some(View {
        title: format!("{name}, {lines}"),
        summary: format!("{name}: {takes}"),
        text: passes::section(text, section, &judged.judgement, index),
        svg: None,
    })
}
