//! Names for sections and findings that stay the same when lines move, blocks are renumbered,
//! comments are edited or blanks come and go, and change when a word does.

use std::collections::HashMap;
use std::hash::Hasher;

use lexer::block::{Value, blocks};
use lexer::program::Program;
use lexer::section::Section;

use crate::finding::Finding;

/// Sixteen hexadecimal digits from the words of the section: letters in capitals, numbers without
/// superfluous zeros, N words and comments left out. Whether a number has a point counts, because
/// controls read `P5` and `P5.` differently.
#[must_use]
pub fn fingerprint(bytes: &[u8], section: &Section) -> String {
    let mut hash = Fnv::new();
    for mark in &section.blocks {
        hash.add_words(mark.span.of(bytes));
    }
    hash.text()
}

/// Sixteen hexadecimal digits for each finding: of its rule and its section, or of the words of
/// its line where it has none. Findings of one rule that are alike in all of that are told apart
/// by their number in the file, counted from the first.
#[must_use]
pub fn of_findings<'a>(
    bytes: &[u8],
    program: &Program,
    findings: impl IntoIterator<Item = &'a Finding>,
) -> Vec<Print> {
    let mut sections: HashMap<usize, String> = HashMap::new();
    let mut seen: HashMap<String, u32> = HashMap::new();
    let prints = findings.into_iter().map(|finding| {
        let mut hash = Fnv::new();
        hash.add(finding.rule.as_bytes());
        hash.add(b"\n");
        match finding
            .section
            .and_then(|index| Some((index, program.sections.get(index)?)))
        {
            Some((index, section)) => {
                let print = sections
                    .entry(index)
                    .or_insert_with(|| fingerprint(bytes, section));
                hash.add(print.as_bytes());
            }
            None => {
                let line = program.lines.span(finding.line).of(bytes);
                if !hash.add_words(line) {
                    // It is about a comment alone.
                    hash.add_squeezed(finding.span.of(bytes));
                }
            }
        }
        let hash = hash.text();
        let number = seen.entry(hash.clone()).or_default();
        *number += 1;
        Print {
            hash,
            number: *number,
        }
    });
    prints.collect()
}

/// The name of a finding.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Print {
    /// Sixteen hexadecimal digits.
    pub hash: String,
    /// Which of the findings of its file that share the digits, from 1.
    pub number: u32,
}

/// FNV-1a, 64 bits: short and the same on every machine and in every version.
#[derive(Debug, Clone)]
pub struct Fnv(u64);

impl Default for Fnv {
    fn default() -> Self {
        Fnv(0xcbf2_9ce4_8422_2325)
    }
}

impl Hasher for Fnv {
    fn write(&mut self, bytes: &[u8]) {
        self.add(bytes);
    }

    fn finish(&self) -> u64 {
        self.0
    }
}

impl Fnv {
    fn new() -> Self {
        Fnv::default()
    }

    fn add(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }

    /// The words of blocks; whether there was any.
    fn add_words(&mut self, text: &[u8]) -> bool {
        let mut any = false;
        for block in blocks(text) {
            any |= !block.words.is_empty() || !block.names.is_empty() || block.statement.is_some();
            if let Some(skip) = block.skip {
                self.add(&[b'/', skip]);
            }
            for word in &block.words {
                self.add(&[word.letter]);
                match word.value {
                    Value::Number(number) => {
                        let (mut digits, mut decimals) = (number.digits, number.decimals);
                        while decimals > 0 && digits % 10 == 0 {
                            (digits, decimals) = (digits / 10, decimals - 1);
                        }
                        self.add(&digits.to_le_bytes());
                        self.add(&[decimals, u8::from(number.point)]);
                    }
                    Value::Expression => self.add_squeezed(word.value_span.of(text)),
                    Value::Missing => {}
                }
            }
            for name in &block.names {
                self.add_squeezed(name.span.of(text));
                if let Some(arguments) = name.arguments {
                    self.add_squeezed(arguments.of(text));
                }
            }
            if let Some(statement) = block.statement {
                self.add_squeezed(statement.of(text));
            }
            self.add(b"\n");
        }
        any
    }

    fn text(&self) -> String {
        format!("{:016x}", self.0)
    }

    /// Capitals, no blanks.
    fn add_squeezed(&mut self, bytes: &[u8]) {
        for byte in bytes.iter().filter(|byte| !byte.is_ascii_whitespace()) {
            self.add(&[byte.to_ascii_uppercase()]);
        }
    }
}

#[cfg(test)]
mod tests {
    use lexer::law::Law;
    use lexer::section::{Cut, Infeed, Kind, PullOut, Spindle, Syntax, Val};
    use lexer::source::{Lines, Mark, Span};
    use lexer::units::Units;

    use super::*;

    fn of(text: &str) -> String {
        let lines = Lines::new(text.as_bytes());
        let unknown = || "not looked at".to_owned();
        let blocks = (1..=lines.count())
            .map(|line| Mark {
                value: (),
                span: lines.span(line),
                line,
            })
            .collect();
        let section = Section {
            syntax: Syntax::TwoBlock,
            kind: Kind::Turned,
            span: Span::new(0, text.len() as u32),
            first_line: 1,
            last_line: lines.count(),
            blocks,
            cut: Cut {
                side: Val::Unknown(unknown()),
                start_x: Val::Unknown(unknown()),
                start_z: Val::Unknown(unknown()),
                root_x: Val::Unknown(unknown()),
                end_z: Val::Unknown(unknown()),
                crest_x: Val::Unknown(unknown()),
                height: Val::Unknown(unknown()),
                taper: Val::Unknown(unknown()),
                lead: Val::Unknown(unknown()),
                starts: 1,
                start_angle: None,
                law: Law::List,
                infeed: Infeed::Radial,
                pull_out: PullOut::None,
            },
            passes: Vec::new(),
            passes_certain: true,
            words: Vec::new(),
            units: Units::Millimetre,
            radius_mode: false,
            spindle: Spindle::default(),
            tool: None,
            notes: Vec::new(),
            unknown: Vec::new(),
            chase: false,
            missing: Vec::new(),
            moves: Vec::new(),
            tapping: None,
            milling: None,
            height_over_lead: None,
        };
        fingerprint(text.as_bytes(), &section)
    }

    #[test]
    fn only_words_count() {
        let plain = of("G76 P021060 Q100 R0.05\nG76 X20.32 Z-30. P1840 Q300 F3.");
        for same in [
            "N10 G76P021060Q100R.05\nN20 g76 x20.320 z-30.0 p1840 q300 f3.00",
            "G76 P021060 Q0100 R0.05 (SETTINGS)\nG76 X20.32 Z-30. P1840 Q300 F3. ; M24",
        ] {
            assert_eq!(of(same), plain, "{same}");
        }
        for other in [
            "G76 P021060 Q100 R0.05\nG76 X20.32 Z-30. P1840 Q300 F3.5",
            "G76 P021060 Q100 R0.05\nG76 X20.32 Z-30. P1840. Q300 F3.",
            "G76 P021060 Q100 R0.05\n/G76 X20.32 Z-30. P1840 Q300 F3.",
            "G76 P021060 Q100 R0.05\nG76 X#101 Z-30. P1840 Q300 F3.",
        ] {
            assert_ne!(of(other), plain, "{other}");
        }
        assert_eq!(of("G1 X[#1 + 2]"), of("G01X[#1+2]"));
    }

    /// FNV-1a test vectors of the hash's authors: empty, "a", "foobar".
    #[test]
    fn the_hash_is_the_published_one() {
        let hash = |text: &[u8]| {
            let mut hash = Fnv::new();
            hash.add(text);
            hash.0
        };
        assert_eq!(hash(b""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(hash(b"a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(hash(b"foobar"), 0x8594_4171_f739_67e8);
    }
}
