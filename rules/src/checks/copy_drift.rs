//! The rule `copy-drift`, and what it needs to compare several files.

mod files;

use std::collections::BTreeMap;

use lexer::program::Program;
use lexer::section::{Section, Side};
use lexer::source::Span;
use lexer::units::{Diameter, Lead, Length, Units};

use super::text::{lead, length};
use super::{Out, Rule, Whole, rule};
use crate::finding::Finding;

rule! {
    /// # What it checks
    ///
    /// Programs with the same number cut the same threads: several in one file, and copies in
    /// several files that are checked together. Files hold copies of one program when its number is
    /// the same and also the file's name (unless that only repeats the number) or the comment behind
    /// the number; without such a comment, when no thread differs in more than one value.
    ///
    /// # Why it matters
    ///
    /// The copy in the control, the one on the server and the one of the second machine part from
    /// each other the first time somebody mends only one of them. Which of them made the good part
    /// nobody knows.
    ///
    /// # The sum
    ///
    /// Lead, side, last diameter and end of each thread, in order, against those of the first
    /// program with the number.
    ///
    /// # What it needs
    ///
    /// An O number, and as many threads in each program.
    ///
    /// # When it stays silent
    ///
    /// For another number of threads, which is another program, values that are not known,
    /// differences below 0.001 mm, and files that share no more than a number: many shops number
    /// every job from 1.
    ///
    /// # Mend
    ///
    /// Find out which one is right, and make the others like it, or give them a number of their own.
    ///
    /// # Source
    ///
    /// Comparison of the programs.
    "copy-drift", Warning,
    "programs with the same number cut different threads",
    fixes: false, needs_designation: false, program check
}

/// What a program with a number cuts.
#[derive(Debug, Clone)]
pub struct Copy {
    /// The O number.
    pub number: i64,
    /// First line of the program.
    pub first_line: u32,
    /// The comment behind the number up to its first comma, letters and digits alone, in capitals.
    title: String,
    threads: Vec<Key>,
}

/// What makes a thread another thread.
#[derive(Debug, Clone)]
struct Key {
    lead: Option<Lead>,
    side: Option<Side>,
    root: Option<Diameter>,
    end: Option<Length>,
    units: Units,
    line: u32,
    span: Span,
}

/// The numbered programs of a file that cut threads.
#[must_use]
pub fn copies(bytes: &[u8], program: &Program) -> Vec<Copy> {
    let mut copies: Vec<Copy> = Vec::new();
    for (at, part) in program.parts.iter().enumerate() {
        let Some(number) = part.number.filter(|&number| number > 0) else {
            continue;
        };
        let next = program.parts.get(at + 1);
        let end = next.map_or(u32::MAX, |next| next.first_line);
        let from = program
            .sections
            .partition_point(|s| s.first_line < part.first_line);
        let threads: Vec<Key> = program.sections[from..]
            .iter()
            .take_while(|section| section.first_line < end)
            .map(Key::of)
            .collect();
        if !threads.is_empty() {
            copies.push(Copy {
                number,
                first_line: part.first_line,
                title: title(bytes, program, part.first_line),
                threads,
            });
        }
    }
    copies
}

fn title(bytes: &[u8], program: &Program, line: u32) -> String {
    let at = program.notes.partition_point(|note| note.line < line);
    let note = program.notes.get(at).filter(|note| note.line == line);
    let text = note.map_or(&b""[..], |note| note.span.of(bytes));
    text.iter()
        .take_while(|&&byte| byte != b',')
        .filter(|byte| byte.is_ascii_alphanumeric())
        .map(|byte| char::from(byte.to_ascii_uppercase()))
        .collect()
}

impl Key {
    fn of(section: &Section) -> Key {
        let block = section.blocks.last();
        Key {
            lead: section.cut.lead.get(),
            side: section.side(),
            root: section.cut.root_x.get(),
            end: section.cut.end_z.get(),
            units: section.units,
            line: block.map_or(section.first_line, |block| block.line),
            span: block.map_or(section.span, |block| block.span),
        }
    }

    /// What differs, in words.
    fn differs(&self, other: &Key) -> Vec<String> {
        let near = |a: Length, b: Length| a.near(b, Length::from_pm(1_000_000));
        let mut all = Vec::new();
        if let (Some(a), Some(b)) = (self.lead, other.lead)
            && !near(a.length(), b.length())
        {
            let (a, b) = (lead(a, self.units), lead(b, other.units));
            all.push(format!("lead {a} against {b}"));
        }
        if let (Some(a), Some(b)) = (self.side, other.side)
            && a != b
        {
            all.push(format!("{} against {}", a.name(), b.name()));
        }
        if let (Some(a), Some(b)) = (self.root, other.root)
            && !near(a.0, b.0)
        {
            let (a, b) = (length(a.0, self.units), length(b.0, other.units));
            all.push(format!("last diameter {a} against {b}"));
        }
        if let (Some(a), Some(b)) = (self.end, other.end)
            && !near(a, b)
        {
            let (a, b) = (length(a, self.units), length(b, other.units));
            all.push(format!("end Z {a} against {b}"));
        }
        all
    }
}

/// What parts a program from another with its number; none when they agree, or do not compare.
/// `place` says where the other stands.
fn drift(copy: &Copy, first: &Copy, place: &str) -> Option<Finding> {
    if copy.number != first.number || copy.threads.len() != first.threads.len() {
        return None;
    }
    let pairs = copy.threads.iter().zip(&first.threads);
    let differences: Vec<(usize, &Key, &Key, String)> = pairs
        .enumerate()
        .filter_map(|(at, (own, other))| {
            let what = own.differs(other);
            (!what.is_empty()).then(|| (at, own, other, what.join(", ")))
        })
        .collect();
    let (at, own, _, what) = differences.first()?;
    let mut finding = RULE.found(
        (own.span, own.line),
        format!(
            "O{} stands here and in {place}, and thread {} differs: {what}",
            copy.number,
            at + 1
        ),
    );
    for (at, own, other, what) in differences.iter().take(5) {
        finding = finding.because(format!(
            "thread {}: {what} (lines {} and {})",
            at + 1,
            own.line,
            other.line
        ));
    }
    Some(
        finding
            .source("comparison of the programs")
            .help("find out which one made the good part, and make the others like it"),
    )
}

pub use files::Copies;

fn check(rule: &Rule, whole: &Whole<'_>, out: &mut Out) {
    debug_assert_eq!(rule.name, RULE.name);
    if whole.program.parts.len() < 2 {
        return;
    }
    let copies = copies(whole.bytes, whole.program);
    let mut seen: BTreeMap<i64, &Copy> = BTreeMap::new();
    for copy in &copies {
        let Some(first) = seen.get(&copy.number) else {
            seen.insert(copy.number, copy);
            continue;
        };
        let place = format!("line {}", first.first_line);
        if let Some(mut finding) = drift(copy, first, &place) {
            if let Some(key) = first.threads.first() {
                finding = finding.related((key.span, key.line), "the first of the name");
            }
            out.push(finding);
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "copy-drift";

    #[test]
    fn found_in_every_syntax() {
        let two =
            |a: &str, b: &str| format!("O1204\nG21\nT0303\n{a}M30\nO1204\nG21\nT0303\n{b}M30\n");
        let cycle = "G97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nG0 X100.\n";
        let boxes = "G97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX27.546\nG0 X100.\n";
        let strokes = "G97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-30. F2.\nG0 X34.\n";
        let one = "G97 S800 M3\nG0 X34. Z8.\nG76 X27.546 Z-34. K1.227 D0350 A60 F2.\nG0 X100.\n";
        let nut = "G97 S800 M3\nG0 X31. Z8.\nG92 X34. Z-26. F3.\nX36.\nG0 Z50.\n";
        let pairs = [
            (two(cycle, &cycle.replace("F2.", "F1.5")), two(cycle, cycle)),
            (
                two(boxes, &boxes.replace("X27.546", "X27.5")),
                two(boxes, boxes),
            ),
            (
                two(strokes, &strokes.replace("Z-30.", "Z-31.")),
                two(strokes, strokes),
            ),
            (
                two(one, &one.replace("X27.546", "X27.4")),
                two(one, &one.replace("D0350", "D0300")),
            ),
            (two(nut, &nut.replace("X36.", "X36.1")), two(nut, nut)),
        ];
        let pairs: Vec<(&str, &str)> = pairs
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // Other numbers, another number of threads.
                "O1\nG21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX27.546\nM30\nO2\nG21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-20. F1.5\nX28.16\nM30\n",
                "O1\nG21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX27.546\nM30\nO1\nG21\nM30\n",
            ],
        );
    }
}
