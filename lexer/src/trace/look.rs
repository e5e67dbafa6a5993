//! The first look at a file: which family, units and decimal rule, and its comments and damage. A
//! look at a stretch of lines can be added to the look at what stands before it.

use crate::block::{Block, Blocks, Fault, FaultKind};
use crate::evidence::{Evidence, Family, Left};
use crate::expression::Style;
use crate::number::DecimalRule;
use crate::program::{Program, Settings};
use crate::run::needs_running;
use crate::section::Note;
use crate::source::Span;
use crate::units::Units;

/// What the first look at a file decides.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct First {
    pub(super) family: Family,
    pub(super) units: Units,
    pub(super) units_assumed: bool,
    pub(super) decimal: DecimalRule,
    pub(super) radius_mode: bool,
    /// How variables are written, where the program has to be run.
    pub(super) runs: Option<Style>,
    /// Lines with an O word.
    pub(super) heads: Vec<u32>,
}

impl First {
    /// Whether the blocks of both are read in the same way.
    pub(super) fn reads_as(&self, other: &First) -> bool {
        let of = |it: &First| {
            (
                (it.family, it.units, it.units_assumed, it.decimal),
                (it.radius_mode, it.runs),
            )
        };
        of(self) == of(other)
    }
}

/// What was seen in some lines.
#[derive(Debug, Clone, Default)]
pub(super) struct Look {
    evidence: Evidence,
    largest_x: f64,
    /// Whether a code of threading stood with an F word.
    led: bool,
    /// Whether one of those was no lead in inches.
    coarse: bool,
    unit_word: Option<i32>,
    variables: Variables,
    heads: Vec<u32>,
    notes: Vec<Note>,
    faults: Vec<(u32, Fault)>,
}

impl Look {
    /// At all of a text.
    pub(super) fn of(bytes: &[u8]) -> Look {
        let mut look = Look::default();
        let mut blocks = Blocks::new(bytes);
        let mut block = Block::default();
        while blocks.read(&mut block) {
            look.see(&block, bytes);
        }
        look
    }

    /// At the first `lines` lines of a text that come behind other lines.
    pub(super) fn at_lines(bytes: &[u8], lines: u32, left: Left) -> Look {
        let mut look = Look {
            evidence: Evidence::behind(left),
            ..Look::default()
        };
        let mut blocks = Blocks::new(bytes);
        let mut block = Block::default();
        for _ in 0..lines {
            if !blocks.read(&mut block) {
                break;
            }
            look.see(&block, bytes);
        }
        look
    }

    /// What a look at the lines behind depends on.
    pub(super) fn left(&self) -> Left {
        self.evidence.left()
    }

    fn see(&mut self, block: &Block, bytes: &[u8]) {
        self.evidence.look(block, bytes);
        self.variables.look(block, bytes);
        if block.program.is_some() {
            self.heads.push(block.line);
        }
        for &span in &block.comments {
            self.notes.push(Note {
                span,
                line: block.line,
            });
        }
        for &fault in &block.faults {
            self.faults.push((block.line, fault));
        }
        let odd = block.words.iter().filter(|word| word.is_odd_code());
        self.faults.extend(odd.map(|word| {
            let fault = Fault {
                kind: FaultKind::OddCode,
                span: word.span,
            };
            (block.line, fault)
        }));
        if let Some(x) = block.number_of(b'X') {
            self.largest_x = self.largest_x.max(x.value().abs());
        }
        let threading = block
            .g_codes()
            .any(|(code, _)| matches!(code, 320 | 330 | 760 | 780 | 920));
        if threading && let Some(f) = block.number_of(b'F') {
            self.led = true;
            self.coarse |= !(f.value() > 0.0 && f.value() <= 0.25);
        }
        if self.unit_word.is_none() {
            self.unit_word = block
                .g_codes()
                .map(|(code, _)| code)
                .find(|code| matches!(code, 200 | 210));
        }
    }

    /// Adds a look at the lines behind, whose places count from `bytes` and `lines` of this text.
    pub(super) fn add(&mut self, behind: &Look, bytes: u32, lines: u32) {
        let moved = |span: Span| Span::new(span.start + bytes, span.end + bytes);
        self.evidence.add(&behind.evidence, bytes, lines);
        self.largest_x = self.largest_x.max(behind.largest_x);
        self.led |= behind.led;
        self.coarse |= behind.coarse;
        self.unit_word = self.unit_word.or(behind.unit_word);
        self.variables.add(&behind.variables);
        self.heads
            .extend(behind.heads.iter().map(|line| line + lines));
        self.notes.extend(behind.notes.iter().map(|note| Note {
            span: moved(note.span),
            line: note.line + lines,
        }));
        self.faults
            .extend(behind.faults.iter().map(|&(line, fault)| {
                let span = moved(fault.span);
                (line + lines, Fault { span, ..fault })
            }));
    }

    /// What follows from it; comments and damage go to the program.
    pub(super) fn decide(self, settings: &Settings, program: &mut Program) -> First {
        let evidence = self.evidence;
        program.notes = self.notes;
        program.faults = self.faults;
        let pointless = (evidence.pointless, evidence.huge_pointless);
        let (found, reasons) = evidence.decide();
        let family = settings.family.unwrap_or(found);
        program.family = family;
        program.reasons = reasons;
        let decimal =
            settings
                .decimal
                .unwrap_or(if pointless.1 > 2 && pointless.1 * 2 > pointless.0 {
                    DecimalRule::LeastIncrement
                } else {
                    DecimalRule::Whole
                });
        // Without a units word: leads of a quarter and less on work no larger than 16 are inches.
        let inches = self.led && !self.coarse && self.largest_x <= 16.0;
        let units = settings.units.unwrap_or(if inches {
            Units::Inch
        } else {
            Units::Millimetre
        });
        First {
            family,
            units,
            units_assumed: settings.units.is_none(),
            runs: self.variables.style(family),
            heads: self.heads,
            decimal,
            radius_mode: settings
                .diameter_mode
                .map_or(family == Family::Interpreter, |diameter| !diameter),
        }
    }
}

/// What the first look sees of variables, jumps and calls.
#[derive(Debug, Clone, Default)]
struct Variables {
    used: bool,
    hash: bool,
    o_words: bool,
    parentheses: bool,
}

impl Variables {
    fn look(&mut self, block: &Block, bytes: &[u8]) {
        if !needs_running(block, bytes) {
            return;
        }
        self.used = true;
        let statement = block.statement.map(|span| span.of(bytes));
        let texts = block.words.iter().map(|word| word.value_span.of(bytes));
        for text in texts.chain(statement) {
            self.hash |= memchr::memchr(b'#', text).is_some();
        }
        self.o_words |= statement.is_some_and(|text| matches!(text[0], b'O' | b'o'));
        self.parentheses |= !block.assignments.is_empty()
            || statement.is_some_and(|text| memchr::memmem::find(text, b"GOTOF").is_some());
    }

    fn add(&mut self, behind: &Variables) {
        self.used |= behind.used;
        self.hash |= behind.hash;
        self.o_words |= behind.o_words;
        self.parentheses |= behind.parentheses;
    }

    fn style(&self, family: Family) -> Option<Style> {
        self.used
            .then_some(match (self.hash, self.o_words, self.parentheses) {
                (_, true, _) => Style::Interpreter,
                (true, ..) if family == Family::Interpreter => Style::Interpreter,
                (false, _, true) => Style::Parentheses,
                _ => Style::Brackets,
            })
    }
}
