//! Facts about taps, drills and thread mills that stand in comments and notes.

use lexer::section::Note;
use lexer::section::tapping::Drilled;
use lexer::source::decode;

use super::Context;
use crate::measure::drill_name::{Named, drill_in_text};

/// The comments of the section's tool in capitals, the nearest last.
pub(super) fn comments(cx: &Context<'_>) -> Vec<String> {
    texts(cx, &cx.section.notes)
}

fn texts(cx: &Context<'_>, notes: &[Note]) -> Vec<String> {
    let near = notes.len().saturating_sub(24);
    let notes = notes[near..].iter();
    notes
        .map(|note| decode(note.span.of(cx.bytes)).to_uppercase())
        .collect()
}

/// Whether a word stands in one of the texts, alone: `BLIND`, not `BLINDED`.
pub(super) fn says(texts: &[String], words: &[&str]) -> bool {
    texts.iter().any(|text| {
        text.split(|c: char| !c.is_alphanumeric())
            .any(|word| words.contains(&word))
    })
}

/// A number of the `(THREAD …)` note: `CUTTER 16` in `(THREAD M24X3, CUTTER 16)`.
pub(super) fn noted(cx: &Context<'_>, key: &str) -> Option<f64> {
    comments(cx)
        .iter()
        .rev()
        .filter(|text| {
            text.trim_start_matches(['(', ';', '/', ' '])
                .starts_with("THREAD ")
        })
        .find_map(|text| {
            text.split(',').skip(1).find_map(|part| {
                let part = part.trim().trim_end_matches(')');
                let rest = part.strip_prefix(key)?;
                rest.trim().parse::<f64>().ok()
            })
        })
}

/// A length of the note in mm, in the units of the program.
pub(super) fn noted_mm(cx: &Context<'_>, key: &str) -> Option<f64> {
    Some(cx.section.units.length(noted(cx, key)?).mm())
}

/// Diameter of the thread mill in mm, and where it stands: the note, or the tool's comment.
pub(super) fn cutter(cx: &Context<'_>) -> Option<(f64, String)> {
    if let Some(mm) = noted_mm(cx, "CUTTER") {
        return Some((mm, "the note's CUTTER".into()));
    }
    let all = comments(cx);
    let text = all.iter().rev().find(|text| {
        let plain = text.trim_start_matches(['(', ';', '/', ' ']);
        // A note names the thread, not the tool.
        let note = plain.starts_with("THREAD ") && !plain.starts_with("THREAD MILL");
        text.contains("MILL") && !note
    })?;
    diameter_in(text, cx).map(|mm| (mm, "the tool's comment".into()))
}

/// `D16`, `16 MM`, `DIA 16`, `Ø16` in the comment of a mill.
fn diameter_in(text: &str, cx: &Context<'_>) -> Option<f64> {
    let words: Vec<&str> = text
        .split(|c: char| !(c.is_alphanumeric() || c == '.' || c == 'Ø'))
        .filter(|word| !word.is_empty())
        .collect();
    let value = |word: &str| word.parse::<f64>().ok().filter(|v| *v > 0.0);
    let units = cx.section.units;
    let mut found = words.iter().enumerate().filter_map(|(at, word)| {
        let behind = words.get(at + 1).copied().unwrap_or_default();
        let before = at.checked_sub(1).map_or("", |at| words[at]);
        let marked = word.strip_prefix('D').or(word.strip_prefix('Ø'));
        if let Some(size) = marked.and_then(value) {
            return Some(units.length(size).mm());
        }
        if let Some(size) = word.strip_suffix("MM").and_then(value) {
            return Some(size);
        }
        let size = value(word)?;
        if behind == "MM" {
            return Some(size);
        }
        let named = matches!(before, "DIA" | "DIAM" | "D" | "Ø") || behind == "DIA";
        named.then(|| units.length(size).mm())
    });
    let first = found.next()?;
    found
        .all(|other| (other - first).abs() < 1e-9)
        .then_some(first)
}

/// The drill of a drilled hole by its comments.
pub(super) fn drill(cx: &Context<'_>, drilled: &Drilled) -> Option<Named> {
    let texts = texts(cx, &drilled.notes);
    let nearest = texts.iter().rev();
    nearest
        .filter(|text| text.contains("DR") || text.contains("BOHR") || text.contains("СВЕРЛ"))
        .find_map(|text| drill_in_text(text, cx.section.units))
}

/// Whether the drilling only starts the hole or breaks its edge.
pub(super) fn only_starts(cx: &Context<'_>, drilled: &Drilled) -> bool {
    says(
        &texts(cx, &drilled.notes),
        &[
            "SPOT",
            "CENTER",
            "CENTRE",
            "CHAMFER",
            "CSINK",
            "COUNTERSINK",
            "CBORE",
        ],
    )
}

/// What the comments of tap and drill say of the hole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ends {
    /// It goes through the part.
    Through,
    /// It ends in the part.
    Blind,
    /// Nothing is said.
    Unsaid,
}

/// Whether a hole is through or blind, by the comments.
pub(super) fn ends(cx: &Context<'_>, drilled: &Drilled) -> Ends {
    let mut all = comments(cx);
    all.extend(texts(cx, &drilled.notes));
    if says(&all, &["THRU", "THROUGH", "DURCH", "DURCHGANG", "PASSANT"]) {
        Ends::Through
    } else if says(&all, &["BLIND", "SACKLOCH", "BORGNE"]) {
        Ends::Blind
    } else {
        Ends::Unsaid
    }
}
