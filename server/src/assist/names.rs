//! Names in a program: program numbers, line numbers, variables; where they get their meaning and
//! where they are used.

use std::ops::Range;

use lexer::block::{Block, Value, Word};
use lexer::source::Span;

use super::{bytes, each_block};
use crate::analysis::Judged;
use crate::lsp::{Link, Occurrence, Routine};

/// What a name stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Name {
    /// A program.
    Program(i64),
    /// A line number in the nth program of the file.
    Line(usize, i64),
    /// A variable, in capitals and without blanks.
    Variable(Vec<u8>),
}

struct Place {
    name: Name,
    bytes: Range<usize>,
    defines: bool,
}

pub(super) fn occurrences(judged: &Judged, at: usize) -> Vec<Occurrence> {
    let places = places(judged);
    let touches = |place: &&Place| place.bytes.start <= at && at <= place.bytes.end;
    let Some(name) = places.iter().find(touches).map(|place| place.name.clone()) else {
        return Vec::new();
    };
    places
        .into_iter()
        .filter(|place| place.name == name)
        .map(|place| Occurrence {
            bytes: place.bytes,
            defines: place.defines,
        })
        .collect()
}

fn places(judged: &Judged) -> Vec<Place> {
    let mut places = Vec::new();
    let mut part = 0;
    each_block(judged, 0..judged.bytes.len(), |block| {
        part += usize::from(block.program.is_some());
        let mut push = |name, bytes, defines| {
            places.push(Place {
                name,
                bytes,
                defines,
            });
        };
        if let Some((number, word)) = block.program.as_ref().and_then(numbered) {
            push(Name::Program(number), bytes(word.span), true);
        }
        if let Some((number, word)) = block.number.as_ref().and_then(numbered) {
            push(Name::Line(part, number), bytes(word.span), true);
        }
        if let Some((number, place)) = called(block) {
            push(Name::Program(number), place, false);
        }
        for (number, place) in targets(block, &judged.bytes) {
            push(Name::Line(part, number), place, false);
        }
        for (place, name, defines) in variables(block, &judged.bytes) {
            push(Name::Variable(name), place, defines);
        }
    });
    places
}

fn numbered(word: &Word) -> Option<(i64, &Word)> {
    Some((word.number()?.integer()?, word))
}

/// The program that a block calls: M98 P, G65 P, G66 P. The longer form of M98, repeats before a
/// number of four digits, is read as that number.
fn called(block: &Block) -> Option<(i64, Range<usize>)> {
    let calls = block.m_codes().any(|(code, _)| code == 980)
        || block.g_codes().any(|(code, _)| matches!(code, 650 | 660));
    let (number, word) = calls.then(|| block.word(b'P').and_then(numbered))??;
    let number = if number > 99_999 {
        number % 10_000
    } else {
        number
    };
    Some((number, bytes(word.span)))
}

/// The line numbers that a block goes to: GOTO, and the P and Q of a turning cycle.
fn targets(block: &Block, text: &[u8]) -> Vec<(i64, Range<usize>)> {
    let mut found = Vec::new();
    let contour = |(code, _): (i32, &Word)| matches!(code, 700 | 710 | 720 | 730);
    if block.g_codes().any(contour) {
        for word in block
            .words
            .iter()
            .filter(|word| matches!(word.letter, b'P' | b'Q'))
        {
            found.extend(numbered(word).map(|(number, word)| (number, bytes(word.span))));
        }
    }
    if let Some(statement) = block.statement {
        let line = statement.of(text);
        let upper = line.to_ascii_uppercase();
        for at in memchr::memmem::find_iter(&upper, b"GOTO") {
            let rest = &upper[at + 4..];
            let blank = rest
                .iter()
                .take_while(|byte| byte.is_ascii_whitespace())
                .count();
            let digits = &rest[blank..];
            let count = digits
                .iter()
                .take_while(|byte| byte.is_ascii_digit())
                .count();
            let number = std::str::from_utf8(&digits[..count])
                .ok()
                .and_then(|it| it.parse().ok());
            if let Some(number) = number {
                let start = statement.start as usize + at + 4 + blank;
                found.push((number, start..start + count));
            }
        }
    }
    found
}

/// The variables in a block: where, in capitals without blanks, and whether they are set there.
pub(super) fn variables(block: &Block, text: &[u8]) -> Vec<(Range<usize>, Vec<u8>, bool)> {
    let mut found = Vec::new();
    let mut spans: Vec<Span> = block.statement.into_iter().collect();
    for word in &block.words {
        let in_statement = spans
            .first()
            .is_some_and(|span| span.start <= word.span.start);
        if word.value == Value::Expression && !in_statement {
            spans.push(word.value_span);
        }
    }
    for span in spans {
        scan(span.of(text), span.start as usize, &mut found);
    }
    found
}

fn scan(text: &[u8], offset: usize, found: &mut Vec<(Range<usize>, Vec<u8>, bool)>) {
    let mut at = 0;
    while at < text.len() {
        let length = match text[at] {
            b'#' => hash(&text[at..]),
            b'R' | b'r' if at == 0 || !text[at - 1].is_ascii_alphanumeric() => {
                let digits = digits(&text[at + 1..]);
                (digits > 0).then_some(1 + digits)
            }
            b'(' | b';' => break,
            _ => None,
        };
        let Some(length) = length else {
            at += 1;
            continue;
        };
        let name: Vec<u8> = text[at..at + length]
            .iter()
            .filter(|byte| !byte.is_ascii_whitespace())
            .map(u8::to_ascii_uppercase)
            .collect();
        let rest = text[at + length..].trim_ascii_start();
        let sets = rest.first() == Some(&b'=') && rest.get(1) != Some(&b'=');
        found.push((offset + at..offset + at + length, name, sets));
        at += length;
    }
}

/// `#101`, `##1`, `#<name>`; computed numbers have no name.
fn hash(text: &[u8]) -> Option<usize> {
    let hashes = text.iter().take_while(|&&byte| byte == b'#').count();
    let rest = &text[hashes..];
    if rest.first() == Some(&b'<') {
        return rest
            .iter()
            .position(|&byte| byte == b'>')
            .map(|end| hashes + end + 1);
    }
    let digits = digits(rest);
    (digits > 0).then_some(hashes + digits)
}

fn digits(text: &[u8]) -> usize {
    text.iter().take_while(|byte| byte.is_ascii_digit()).count()
}

pub(super) fn routines(judged: &Judged) -> Vec<Routine> {
    let end = judged.bytes.len();
    let mut routines: Vec<Routine> = Vec::new();
    each_block(judged, 0..end, |block| {
        if let Some((number, word)) = block.program.as_ref().and_then(numbered) {
            if let Some(last) = routines.last_mut() {
                last.bytes.end = block.span.start as usize;
            }
            routines.push(Routine {
                name: format!("O{number}"),
                bytes: block.span.start as usize..end,
                select: bytes(word.span),
                calls: Vec::new(),
            });
        }
        if let Some((number, place)) = called(block)
            && let Some(last) = routines.last_mut()
        {
            last.calls.push((place, format!("O{number}")));
        }
    });
    routines
}

pub(super) fn links(judged: &Judged) -> Vec<Link> {
    let here: Vec<i64> = judged
        .program
        .parts
        .iter()
        .filter_map(|part| part.number)
        .collect();
    let mut links = Vec::new();
    each_block(judged, 0..judged.bytes.len(), |block| {
        if let Some((number, place)) = called(block)
            && !here.contains(&number)
        {
            let numbers = [
                format!("O{number:04}"),
                format!("{number:04}"),
                number.to_string(),
            ];
            let ends = ["", ".nc", ".NC", ".ngc", ".tap", ".cnc", ".txt"];
            let names = numbers
                .iter()
                .flat_map(|number| ends.iter().map(move |end| format!("{number}{end}")));
            links.push(Link {
                bytes: place,
                names: names.collect(),
            });
        }
    });
    links
}
