//! Reads the name of one thread and prints it.

use std::fmt;

use super::reader::Reader;
use super::text::Text;
use super::thread::Thread;
use super::{FAMILIES, Side};

/// Why a text is not the designation of a thread.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DesignationError {
    /// What was to be read.
    pub text: String,
    /// What is wrong with it, as a sentence without its full stop.
    pub reason: String,
    /// Designations of listed sizes that are spelled most like it, the nearest first.
    pub nearest: Vec<String>,
}

impl fmt::Display for DesignationError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` is not a thread: {}", self.text, self.reason)?;
        if !self.nearest.is_empty() {
            write!(f, "; did you mean {}?", self.nearest.join(" or "))?;
        }
        Ok(())
    }
}

impl std::error::Error for DesignationError {}

/// Reads a designation that fills the whole text.
///
/// Case, blanks, `×`, Cyrillic look-alikes and decimal commas are taken as they come. `side` is the
/// side being cut where it is known: it settles a class in capitals that could be meant for
/// either, and fills a side that the text leaves open; it never overrides the text.
///
/// # Errors
/// Says why the text is no designation of a known family, with the nearest listed names.
pub fn parse(text: &str, side: Option<Side>) -> Result<Thread, DesignationError> {
    let prepared = Text::new(text);
    let start = (0..prepared.len()).find(|at| prepared.at(*at) != ' ');
    let start = start.unwrap_or(0);
    let mut best: Option<(usize, Thread)> = None;
    let mut complaint: Option<(usize, String)> = None;
    for family in FAMILIES {
        let mut reader = Reader::new(&prepared, start);
        if let Some(thread) = (family.standard().read)(&mut reader) {
            if reader.at_end() {
                return Ok(match side {
                    Some(side) => thread.on(side),
                    None => thread,
                });
            }
            let end = reader.place();
            if best.as_ref().is_none_or(|(longest, _)| end > *longest) {
                best = Some((end, thread));
            }
        }
        // The family that came farthest knows best what is wrong.
        let place = reader.place();
        if let Some(why) = reader.complaint
            && complaint
                .as_ref()
                .is_none_or(|(farthest, _)| place > *farthest)
        {
            complaint = Some((place, why));
        }
    }
    let reason = match (best, complaint) {
        (Some((end, _)), Some((place, complaint))) if place > end => complaint,
        (Some((end, thread)), _) => format!(
            "it begins like {}, but `{}` does not belong to it",
            thread.designation(),
            &text[prepared.span(end, prepared.len())]
        ),
        (None, Some((_, complaint))) => complaint,
        (None, None) => "no thread family known here is written like this".to_owned(),
    };
    Err(DesignationError {
        text: text.trim().to_owned(),
        reason,
        nearest: nearest_names(text),
    })
}

/// The diameter and what follows it: `M24` and `3-6G`, `1/2` and `13UNC`.
fn size_and_rest(name: &str) -> (&str, &str) {
    name.split_once(['X', '-']).unwrap_or((name, ""))
}

/// Up to three designations of listed sizes that are spelled most like `text`.
fn nearest_names(text: &str) -> Vec<String> {
    let prepared = Text::new(text);
    let mut wanted = String::new();
    for at in 0..prepared.len().min(40) {
        let (c, next) = (prepared.at(at).to_ascii_uppercase(), prepared.at(at + 1));
        let padding = c == '0'
            && next.is_ascii_digit()
            && !wanted.ends_with(|c: char| c.is_ascii_digit() || c == '.');
        if c != ' ' && !padding {
            wanted.push(c);
        }
    }
    if wanted.is_empty() {
        return Vec::new();
    }
    let (size_part, rest) = size_and_rest(&wanted);
    let mut names: Vec<(usize, u8, String)> = Vec::new();
    for family in FAMILIES {
        for size in family.sizes() {
            let name = Thread::of_size(family, size).designation();
            let plain = name.to_ascii_uppercase().replace(' ', "");
            let (name_size, name_rest) = size_and_rest(&plain);
            // The size weighs most; a text without its pitch is compared by its size alone.
            let mut distance = 2 * strsim::damerau_levenshtein(size_part, name_size);
            if !rest.is_empty() {
                distance += strsim::damerau_levenshtein(rest, name_rest);
            }
            if distance <= 2 + wanted.len() / 2 {
                names.push((distance, size.rank, name));
            }
        }
    }
    names.sort();
    names.truncate(3);
    names.into_iter().map(|(_, _, name)| name).collect()
}

#[cfg(test)]
mod tests;
