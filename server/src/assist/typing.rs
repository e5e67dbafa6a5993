//! Help while a block or a note is typed.

use lexer::block::Block;
use lexer::syntax::two_block;
use rules::standards::FAMILIES;
use rules::standards::thread::Thread;

use super::{block_at, bytes, cycles};
use crate::analysis::Judged;
use crate::lsp::{Completion, Signature};

/// Most designations offered at once.
const DESIGNATIONS: usize = 200;

pub(super) fn completions(judged: &Judged, at: usize) -> Vec<Completion> {
    let Some(block) = block_at(judged, at) else {
        return Vec::new();
    };
    let comment = block.comments.iter().find(|comment| {
        (comment.start as usize) < at
            && (at < comment.end as usize || !is_closed(judged, **comment))
    });
    match comment {
        Some(comment) => note(judged, comment.start as usize, at),
        None => words(judged, &block, at),
    }
}

fn is_closed(judged: &Judged, comment: lexer::source::Span) -> bool {
    comment.of(&judged.bytes).ends_with(b")")
}

/// Inside a comment: the note that states a thread, and what stands in it.
fn note(judged: &Judged, start: usize, at: usize) -> Vec<Completion> {
    let Ok(text) = std::str::from_utf8(&judged.bytes[start + 1..at.max(start + 1)]) else {
        return Vec::new();
    };
    let upper = text.to_uppercase();
    let trimmed = upper.trim_start();
    if let Some(typed) = trimmed.strip_prefix("THREAD ").map(str::trim_start) {
        return if typed.contains(',') {
            facts(typed, at)
        } else {
            designations(typed, at)
        };
    }
    if trimmed.is_empty() || !"THREAD ".starts_with(trimmed) {
        return Vec::new();
    }
    vec![Completion {
        label: "THREAD".to_owned(),
        detail: "states which thread this is".to_owned(),
        documentation: "(THREAD M24X3-6G, NOSE 0.4, LENGTH 30)".to_owned(),
        bytes: at - trimmed.len()..at,
        text: "THREAD ".to_owned(),
    }]
}

fn designations(typed: &str, at: usize) -> Vec<Completion> {
    let plain = |text: &str| text.to_uppercase().replace(' ', "");
    let wanted = plain(typed);
    let mut found = Vec::new();
    for family in FAMILIES {
        let standard = family.standard();
        for size in family.sizes() {
            let name = Thread::of_size(family, size).designation();
            if plain(&name).starts_with(&wanted) {
                found.push((size.rank, name.len(), name, standard.name));
            }
        }
    }
    // The common ones first, each family's own order within.
    found.sort_by_key(|(rank, length, _, _)| (*rank, *length));
    found.dedup_by(|a, b| a.2 == b.2);
    found
        .into_iter()
        .take(DESIGNATIONS)
        .map(|(_, _, name, family)| Completion {
            text: name.to_uppercase(),
            label: name,
            detail: family.to_owned(),
            documentation: String::new(),
            bytes: at - typed.len()..at,
        })
        .collect()
}

/// What may follow the designation of a THREAD note.
fn facts(typed: &str, at: usize) -> Vec<Completion> {
    let last = typed.rsplit(',').next().unwrap_or_default().trim_start();
    let words = [
        ("NOSE ", "nose radius of the tool"),
        ("LENGTH ", "length of full thread"),
    ];
    words
        .into_iter()
        .filter(|(word, _)| word.starts_with(last))
        .map(|(word, detail)| Completion {
            label: word.trim_end().to_owned(),
            detail: detail.to_owned(),
            documentation: String::new(),
            bytes: at - last.len()..at,
            text: word.to_owned(),
        })
        .collect()
}

/// Between the words of a cycle: those that are not there yet.
fn words(judged: &Judged, block: &Block, at: usize) -> Vec<Completion> {
    let Some((code, cycle)) = cycles::of(judged.program.family, block) else {
        return Vec::new();
    };
    let typed = block
        .words
        .iter()
        .find(|word| word.span.end as usize == at && word.value == lexer::block::Value::Missing);
    let start = typed.map_or(at, |word| word.span.start as usize);
    let inside = block
        .words
        .iter()
        .any(|word| (word.span.start as usize) < start && start < word.span.end as usize);
    if inside {
        return Vec::new();
    }
    cycle
        .words
        .iter()
        .filter(|(letter, _)| {
            !block.has(*letter) || typed.is_some_and(|word| word.letter == *letter)
        })
        .map(|(letter, meaning)| {
            let letter = char::from(*letter);
            Completion {
                label: letter.to_string(),
                detail: meaning.get(3..).unwrap_or_default().to_owned(),
                documentation: format!("{code}: {}", cycle.about),
                bytes: start..at,
                text: letter.to_string(),
            }
        })
        .collect()
}

pub(super) fn signature(judged: &Judged, at: usize) -> Option<Signature> {
    let block = block_at(judged, at)?;
    let (code, cycle) = cycles::of(judged.program.family, &block)?;
    let mut label = code;
    let mut words = Vec::new();
    let under = block
        .words
        .iter()
        .filter(|word| bytes(word.span).start < at && at <= bytes(word.span).end)
        .map(|word| incremental(word.letter))
        .next();
    let mut active = None;
    for (letter, meaning) in cycle.words {
        label.push(' ');
        let start = label.len();
        label.push(char::from(*letter));
        if under == Some(*letter) {
            active = Some(words.len());
        }
        let mut meaning = (*meaning).to_owned();
        if *letter == b'P' && meaning.starts_with("P: six digits") {
            meaning.push_str(&digits(&block));
        }
        words.push((start..label.len(), meaning));
    }
    Some(Signature {
        label,
        documentation: cycle.about.to_owned(),
        words,
        active,
    })
}

/// U and W are X and Z counted from where the tool stands.
fn incremental(letter: u8) -> u8 {
    match letter {
        b'U' => b'X',
        b'W' => b'Z',
        letter => letter,
    }
}

/// `. P020060: 02 finishing passes, 00 = pull-out over 0.0 leads, 60 degrees`.
fn digits(block: &Block) -> String {
    let number = block.number_of(b'P');
    let Some((passes, pull_out, angle)) = number.and_then(two_block::unpack) else {
        return String::new();
    };
    format!(
        ". P{passes:02}{pull_out:02}{angle:02}: {passes:02} finishing passes, {pull_out:02} = pull-out over \
         {}.{} leads, {angle:02} degrees",
        pull_out / 10,
        pull_out % 10
    )
}
