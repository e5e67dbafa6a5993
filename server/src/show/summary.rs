//! A thread in a few words: for an outline, a line above it, a status bar.

use lexer::section::Section;
use lexer::units::{Length, Units};
use rules::table::Row;

use super::lengths::Lengths;
use super::thread;
use crate::analysis::Judged;

/// Name, and what it takes: `M24x3-6g`, `two-block, 12 passes, 20.8 s`.
pub(crate) fn of(judged: &Judged, index: usize) -> (String, String) {
    let section = &judged.program.sections[index];
    let shown = thread::of(section, judged.judgement.threads.get(index));
    let name = shown.designation.unwrap_or_else(|| {
        let lead = section.cut.lead.get().map(|lead| lead.length());
        match lead {
            Some(lead) => format!("thread, lead {}", length(lead, section.units)),
            None => "thread".to_owned(),
        }
    });
    (name, takes(judged, index, section))
}

fn takes(judged: &Judged, index: usize, section: &Section) -> String {
    let table = judged.judgement.tables.get(index);
    let mut parts = vec![section.syntax.name().to_owned()];
    match section.passes.len() {
        0 => {}
        1 => parts.push("1 pass".to_owned()),
        count => parts.push(format!("{count} passes")),
    }
    if let Some(seconds) = table.and_then(|table| table.seconds) {
        parts.push(format!("{:.1} s", seconds.total()));
    }
    parts.join(", ")
}

/// The heaviest pass of a thread: `heaviest pass 0.098 mm²`; none where no area is known.
pub(crate) fn heaviest(judged: &Judged, index: usize) -> Option<String> {
    let rows = &judged.judgement.tables.get(index)?.rows;
    let areas = rows.iter().filter_map(|row| row.area_mm2);
    let most = areas.max_by(f64::total_cmp)?;
    Some(format!("heaviest pass {most:.3} mm²"))
}

/// Depth and step of a pass: `0.495 deep, +0.145`.
pub(crate) fn pass(section: &Section, row: &Row) -> String {
    let decimals = if section.units == Units::Inch { 4 } else { 3 };
    let number = |length: Length| format!("{:.decimals$}", section.units.value_of(length));
    let mut text = match row.depth {
        Some(depth) => format!("{} deep", number(depth.0)),
        None => "depth unknown".to_owned(),
    };
    if let Some(step) = row.step {
        text.push_str(&format!(", +{}", number(step.0)));
    }
    text
}

/// A length with its unit.
pub(crate) fn length(length: Length, units: Units) -> String {
    Lengths(units).needed(length.mm(), 3)
}
