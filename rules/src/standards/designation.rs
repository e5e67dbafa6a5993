//! Reads the name of one thread and prints it.

use std::fmt;

use super::reader::{Reader, Text};
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
    let mut complaint = None;
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
        complaint = complaint.or(reader.complaint);
    }
    let reason = match (best, complaint) {
        (Some((end, thread)), _) => format!(
            "it begins like {}, but `{}` does not belong to it",
            thread.designation(),
            &text[prepared.span(end, prepared.len())]
        ),
        (None, Some(complaint)) => complaint,
        (None, None) => "no thread family known here is written like this".to_owned(),
    };
    Err(DesignationError {
        text: text.trim().to_owned(),
        reason,
        nearest: nearest_names(text),
    })
}

/// Up to three designations of listed sizes that are spelled most like `text`.
fn nearest_names(text: &str) -> Vec<String> {
    let prepared = Text::new(text);
    let wanted: String = (0..prepared.len().min(40))
        .map(|at| prepared.at(at).to_ascii_uppercase())
        .filter(|c| *c != ' ')
        .collect();
    if wanted.is_empty() {
        return Vec::new();
    }
    let mut names: Vec<(usize, u8, String)> = Vec::new();
    for family in FAMILIES {
        for size in family.sizes() {
            let name = Thread::of_size(family, size).designation();
            let plain = name.to_ascii_uppercase().replace(' ', "");
            // A text without its pitch is compared with the size alone.
            let short = plain.split(['X', '-']).next().unwrap_or(&plain);
            let distance = strsim::damerau_levenshtein(&wanted, &plain)
                .min(strsim::damerau_levenshtein(&wanted, short));
            if 3 * distance <= wanted.len().max(3) + 2 {
                names.push((distance, size.rank, name));
            }
        }
    }
    names.sort();
    names.truncate(3);
    names.into_iter().map(|(_, _, name)| name).collect()
}
