//! A name for a section that stays the same when lines move, blocks are renumbered, comments are
//! edited or blanks come and go, and changes when a word does.

use lexer::block::{Value, blocks};
use lexer::section::Section;

/// Sixteen hexadecimal digits from the words of the section: letters in capitals, numbers without
/// superfluous zeros, N words and comments left out. Whether a number has a point counts, because
/// controls read `P5` and `P5.` differently.
#[must_use]
pub fn fingerprint(bytes: &[u8], section: &Section) -> String {
    let mut hash = Fnv::new();
    for mark in &section.blocks {
        for block in blocks(mark.span.of(bytes)) {
            let text = mark.span.of(bytes);
            if let Some(skip) = block.skip {
                hash.add(&[b'/', skip]);
            }
            for word in &block.words {
                hash.add(&[word.letter]);
                match word.value {
                    Value::Number(number) => {
                        let (mut digits, mut decimals) = (number.digits, number.decimals);
                        while decimals > 0 && digits % 10 == 0 {
                            (digits, decimals) = (digits / 10, decimals - 1);
                        }
                        hash.add(&digits.to_le_bytes());
                        hash.add(&[decimals, u8::from(number.point)]);
                    }
                    Value::Expression => hash.add_squeezed(word.value_span.of(text)),
                    Value::Missing => {}
                }
            }
            for name in &block.names {
                hash.add_squeezed(name.span.of(text));
                if let Some(arguments) = name.arguments {
                    hash.add_squeezed(arguments.of(text));
                }
            }
            if let Some(statement) = block.statement {
                hash.add_squeezed(statement.of(text));
            }
            hash.add(b"\n");
        }
    }
    format!("{:016x}", hash.0)
}

/// FNV-1a, 64 bits: short and the same on every machine and in every version.
struct Fnv(u64);

impl Fnv {
    fn new() -> Self {
        Fnv(0xcbf2_9ce4_8422_2325)
    }

    fn add(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
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
