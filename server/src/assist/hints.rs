//! Depths and steps behind the blocks that cut them, what a number without a point stands for, and
//! a line above each thread.

use std::ops::Range;

use lexer::section::{Role, Scale, Section, Syntax};

use super::bytes;
use crate::analysis::Judged;
use crate::lsp::{Hint, Lens};
use crate::show::summary;

pub(super) fn hints(judged: &Judged, within: &Range<usize>) -> Vec<Hint> {
    let mut hints = Vec::new();
    for (index, section) in judged.program.sections.iter().enumerate() {
        let span = bytes(section.span);
        if span.end < within.start || within.end < span.start {
            continue;
        }
        name(judged, index, section, &mut hints);
        passes(judged, index, section, &mut hints);
        counts(section, &mut hints);
    }
    hints.retain(|hint| within.start <= hint.at && hint.at <= within.end);
    hints.sort_by_key(|hint| hint.at);
    hints
}

/// The designation behind the first block of a list, behind the last of a cycle.
fn name(judged: &Judged, index: usize, section: &Section, hints: &mut Vec<Hint>) {
    let place = if is_list(section) {
        section.blocks.first()
    } else {
        section.blocks.last()
    };
    let Some(place) = place else { return };
    let (name, takes) = summary::of(judged, index);
    let why = judged.judgement.threads.get(index);
    hints.push(Hint {
        at: place.span.end as usize,
        text: if is_list(section) {
            name
        } else {
            format!("{name}, {takes}")
        },
        tooltip: why.map_or_else(String::new, |one| one.why.clone()),
    });
}

fn is_list(section: &Section) -> bool {
    matches!(section.syntax, Syntax::Strokes | Syntax::Box)
}

/// Depth and step of each pass that has a block of its own, behind its X where that stands there.
fn passes(judged: &Judged, index: usize, section: &Section, hints: &mut Vec<Hint>) {
    if !is_list(section) {
        return;
    }
    let Some(table) = judged.judgement.tables.get(index) else {
        return;
    };
    let mut before = None;
    for (pass, row) in section.passes.iter().zip(&table.rows) {
        // In a loop one block makes many passes; their depths have no place in it.
        if before.replace(pass.span) == Some(pass.span) || row.depth.is_none() {
            continue;
        }
        let x = section.words.iter().find(|word| {
            word.role == Role::EndX
                && pass.span.start <= word.span.start
                && word.span.end <= pass.span.end
        });
        let at = x.map_or(pass.span.end, |word| word.span.end) as usize;
        hints.push(Hint {
            at,
            text: summary::pass(section, row),
            tooltip: String::new(),
        });
    }
}

/// What a length written as a count of least increments is.
fn counts(section: &Section, hints: &mut Vec<Hint>) {
    for word in &section.words {
        let Scale::Increments(units) = word.scale else {
            continue;
        };
        if word.number.point {
            continue;
        }
        if let Some(length) = word.length() {
            hints.push(Hint {
                at: word.value_span.end as usize,
                text: format!("= {}", summary::length(length, units)),
                tooltip: "without a point the number counts least increments".to_owned(),
            });
        }
    }
}

pub(super) fn lenses(judged: &Judged) -> Vec<Lens> {
    let sections = judged.program.sections.iter().enumerate();
    sections
        .filter_map(|(index, section)| {
            let (name, takes) = summary::of(judged, index);
            let mut title = format!("{name}: {takes}");
            if let Some(heaviest) = summary::heaviest(judged, index) {
                title.push_str(", ");
                title.push_str(&heaviest);
            }
            Some(Lens {
                bytes: bytes(section.blocks.first()?.span),
                title,
            })
        })
        .collect()
}
