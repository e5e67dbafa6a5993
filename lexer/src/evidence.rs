//! What speaks for which family of controls, with weights.

mod call;

use crate::block::Block;
use crate::source::Span;

/// A family of controls: which code means what.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Family {
    /// Turning, G-code system A: G32, G92 box, G98/G99, U and W.
    SystemA,
    /// Turning, G-code system B: G33, G78 box, G90/G91, G94/G95.
    SystemB,
    /// Turning, G-code system C: G33, G21 box, G70/G71 units.
    SystemC,
    /// The open RS274/NGC interpreter.
    Interpreter,
    /// A milling machine.
    Mill,
    /// Controls with named cycles and `=` behind addresses.
    Call,
    /// Turning, with a threading cycle as G71 or G72 with H, B and D, and G33 as a box.
    Compound,
    /// Turning, with G82 as the box of threading.
    BoxG82,
    /// Nothing speaks for one of them.
    #[default]
    Undecided,
}

impl Family {
    /// The name used in configuration and messages.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Family::SystemA => "A",
            Family::SystemB => "B",
            Family::SystemC => "C",
            Family::Interpreter => "interpreter",
            Family::Mill => "mill",
            Family::Call => "call",
            Family::Compound => "compound",
            Family::BoxG82 => "G82",
            Family::Undecided => "undecided",
        }
    }

    /// Whether it turns.
    #[must_use]
    pub const fn turns(self) -> bool {
        !matches!(self, Family::Mill)
    }
}

/// One piece of evidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reason {
    /// What it speaks for.
    pub family: Family,
    /// How strongly.
    pub weight: u32,
    /// What was seen.
    pub seen: &'static str,
    /// Where it was seen first.
    pub span: Span,
    /// Line, from 1.
    pub line: u32,
}

/// Lines with words that count as the head of a program, and more.
const HEAD: u32 = 8;

/// What evidence leaves to the evidence of the lines behind.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Left {
    /// Lines with words, as far as they count.
    words: u32,
    box_x: Option<f64>,
}

/// Gathers evidence block by block.
#[derive(Debug, Clone, Default)]
pub struct Evidence {
    reasons: Vec<Reason>,
    header_lines: u32,
    /// Lines with words before the first that was looked at.
    behind: u32,
    /// Numbers of at least 2000 without a point behind X or Z, and all without a point.
    pub huge_pointless: u32,
    /// Numbers without a point behind X or Z that are not zero.
    pub pointless: u32,
    /// Whether a word that only a lathe program has was seen.
    pub lathe: u32,
    /// Whether a word that only a milling program has was seen.
    pub mill: u32,
    /// Diameter of the G82 block before, while it may be a box of threading.
    box_x: Option<f64>,
}

impl Evidence {
    /// Evidence that is gathered behind what was left by other evidence.
    pub(crate) fn behind(left: Left) -> Self {
        Evidence {
            header_lines: left.words,
            behind: left.words,
            box_x: left.box_x,
            ..Evidence::default()
        }
    }

    /// What the evidence of the lines behind depends on.
    pub(crate) fn left(&self) -> Left {
        Left {
            words: self.header_lines.min(HEAD),
            box_x: self.box_x,
        }
    }

    /// Adds evidence from the lines behind, whose places count from `bytes` and `lines`.
    pub(crate) fn add(&mut self, later: &Evidence, bytes: u32, lines: u32) {
        self.header_lines += later.header_lines - later.behind;
        self.box_x = later.box_x;
        self.huge_pointless += later.huge_pointless;
        self.pointless += later.pointless;
        self.lathe += later.lathe;
        self.mill += later.mill;
        for reason in &later.reasons {
            let known = self
                .reasons
                .iter()
                .any(|known| known.family == reason.family && known.seen == reason.seen);
            if !known {
                self.reasons.push(Reason {
                    span: Span::new(reason.span.start + bytes, reason.span.end + bytes),
                    line: reason.line + lines,
                    ..*reason
                });
            }
        }
    }

    fn speak(&mut self, block: &Block, family: Family, weight: u32, seen: &'static str) {
        let known = self
            .reasons
            .iter()
            .any(|reason| reason.family == family && reason.seen == seen);
        if !known {
            self.reasons.push(Reason {
                family,
                weight,
                seen,
                span: block.span,
                line: block.line,
            });
        }
    }

    /// Looks at one block. Weights follow the strength with which a construct is tied to one
    /// family (common practice, no source).
    pub fn look(&mut self, block: &Block, bytes: &[u8]) {
        if block.words.is_empty() && block.statement.is_none() && block.names.is_empty() {
            return;
        }
        call::look(self, block, bytes);
        self.look_box(block);
        self.header_lines += 1;
        for word in &block.words {
            if matches!(word.letter, b'X' | b'Z' | b'U' | b'W')
                && let Some(number) = word.number()
                && !number.point
                && number.digits != 0
            {
                self.pointless += 1;
                self.huge_pointless += u32::from(number.digits.abs() >= 2000);
            }
        }
        let motion = block.has_any(b"XZUW");
        let moves_y = block
            .number_of(b'Y')
            .is_some_and(|y| y.digits != 0 || block.has(b'X'))
            && !block.has_g(280);
        if moves_y {
            self.mill += 3;
            self.speak(block, Family::Mill, 4, "moves along Y");
        }
        if block.has_g(430) && block.has(b'H') {
            self.mill += 3;
            self.speak(block, Family::Mill, 4, "G43 with H");
        }
        if block.has_any(b"UW") && !block.has_g(40) && !block.has_g(710) && !block.has_g(720) {
            self.lathe += 2;
            self.speak(block, Family::SystemA, 3, "incremental words U or W");
        }
        if let Some(tool) = block.number_of(b'T')
            && tool.whole_digits == 4
        {
            self.lathe += 2;
        }
        for (code, _) in block.g_codes() {
            self.look_code(block, code, motion);
        }
        if let Some(span) = block.statement
            && span.start == block.span.start
        {
            // An o-word or a variable opens the line.
            self.look_statement(block);
        }
    }

    fn look_code(&mut self, block: &Block, code: i32, motion: bool) {
        let has = |letters: &[u8]| letters.iter().all(|&letter| block.has(letter));
        match code {
            70 | 80 => self.speak(block, Family::Interpreter, 3, "G7 or G8"),
            331 => self.speak(block, Family::Interpreter, 4, "G33.1"),
            330 | 310 if motion && block.has(b'F') && block.has_any(b"LJ") => {
                self.lathe += 2;
                self.speak(block, Family::Compound, 2, "G33 or G31 with L or J");
            }
            330 if block.has(b'K') && !block.has(b'F') => {
                self.speak(block, Family::Interpreter, 3, "G33 with K");
                self.speak(block, Family::Call, 2, "G33 with K");
            }
            330 if motion && (block.has(b'F') || block.has(b'E')) => {
                self.lathe += 1;
                self.speak(block, Family::SystemB, 2, "G33 with F");
                self.speak(block, Family::SystemC, 2, "G33 with F");
            }
            320 if motion => {
                self.lathe += 3;
                self.speak(block, Family::SystemA, 4, "G32 stroke");
            }
            760 if has(b"IJKP") => {
                self.lathe += 3;
                self.speak(block, Family::Interpreter, 6, "G76 with I, J and K");
            }
            760 if block.has(b'K') && block.has_any(b"DA") => {
                self.lathe += 3;
                self.speak(block, Family::SystemA, 5, "one-block G76 with K and D or A");
            }
            760 if !motion && block.has(b'P') && !block.has(b'Y') => {
                self.lathe += 3;
                self.speak(block, Family::SystemA, 5, "two-block G76");
            }
            760 if block.has(b'Y') => {
                self.mill += 2;
                self.speak(block, Family::Mill, 4, "G76 with Y");
            }
            780 if motion && block.has(b'F') && !block.has_any(b"PQ") => {
                self.lathe += 2;
                self.speak(block, Family::SystemB, 5, "G78 box");
            }
            780 if !motion && block.has(b'P') => {
                self.lathe += 3;
                self.speak(block, Family::SystemC, 5, "two-block G78");
            }
            210 if motion && block.has(b'F') && !block.has_motion_code() => {
                self.lathe += 2;
                self.speak(block, Family::SystemC, 5, "G21 with X, Z and F");
            }
            710 | 720 if motion && block.has(b'H') && block.has_any(b"BD") => {
                self.lathe += 3;
                self.speak(block, Family::Compound, 8, "G71 or G72 with H and B or D");
            }
            820 if motion && block.has(b'F') && block.has_any(b"EC") && !block.has(b'Y') => {
                self.lathe += 3;
                self.speak(block, Family::BoxG82, 5, "G82 with E or C");
            }
            700 | 710 if self.header_lines <= 4 && !block.has_any(b"PQUR") => {
                self.speak(block, Family::SystemC, 4, "G70 or G71 alone near the start");
            }
            710 | 720 if block.has_any(b"PQUR") => {
                self.lathe += 3;
                self.speak(block, Family::SystemA, 1, "roughing cycle G71 or G72");
            }
            920 if motion && block.has(b'F') => {
                self.speak(block, Family::SystemA, 5, "G92 with X or Z and F");
            }
            920 if block.has(b'S') && !motion => {
                self.speak(block, Family::SystemB, 2, "speed clamp G92 S");
                self.speak(block, Family::SystemC, 2, "speed clamp G92 S");
            }
            500 if block.has(b'S') => {
                self.lathe += 3;
                self.speak(block, Family::SystemA, 3, "speed clamp G50 S");
            }
            980 | 990 if !block.has_any(b"XYZR") => {
                self.speak(block, Family::SystemA, 2, "G98 or G99 as feed mode");
            }
            940 | 950 if !motion => {
                self.speak(block, Family::SystemB, 1, "G94 or G95 as feed mode");
                self.speak(block, Family::SystemC, 1, "G94 or G95 as feed mode");
                self.speak(block, Family::Interpreter, 1, "G94 or G95 as feed mode");
                self.speak(block, Family::Call, 1, "G94 or G95 as feed mode");
            }
            900 | 910 if !motion || block.has_any(b"G") && code == 910 => {
                self.speak(block, Family::SystemB, 1, "G90 or G91 as a mode");
                self.speak(block, Family::SystemC, 1, "G90 or G91 as a mode");
                self.speak(block, Family::Interpreter, 1, "G90 or G91 as a mode");
                self.speak(block, Family::Call, 1, "G90 or G91 as a mode");
            }
            960 | 970 => self.lathe += 1,
            180 => self.lathe += 1,
            810..=890 if has(b"XYZR") => {
                self.mill += 2;
                self.speak(block, Family::Mill, 2, "hole cycle with X, Y and R");
            }
            _ => {}
        }
    }

    /// G82 as a box of threading: X, Z and a lead per turn, no plane and no dwell, and behind it X
    /// alone or the same again, a step farther. Holes are farther apart, or not along X.
    fn look_box(&mut self, block: &Block) {
        let x = block.number_of(b'X').map(|x| x.value());
        let before = self.box_x.take();
        let written = block.has_g(820);
        let lead = block.number_of(b'F').map(|f| f.value());
        let per_turn = lead.is_some_and(|f| f > 0.0 && f <= 10.0);
        let hole = block.has_any(b"YRPQLKUW");
        let whole = written && per_turn && !hole && block.has(b'Z');
        let bare = !written && before.is_some() && block.words.len() == 1;
        if !whole && !bare {
            return;
        }
        if let (Some(before), Some(x)) = (before, x)
            && (0.0..=0.1 * before.abs()).contains(&(x - before).abs())
            && x != before
        {
            self.lathe += 2;
            self.speak(
                block,
                Family::BoxG82,
                5,
                "G82 with X, Z and F, then X a step farther",
            );
        }
        self.box_x = x;
    }

    fn look_statement(&mut self, block: &Block) {
        let named = block.names.is_empty();
        if named && block.program.is_none() {
            // `#<depth>=` and `o100 while` belong to the interpreter; `#1=` to several.
            self.speak(block, Family::Interpreter, 1, "statement with variables");
        }
    }

    /// The family with the most weight, and the evidence, strongest first. A mill needs more mill
    /// than lathe evidence.
    #[must_use]
    pub fn decide(self) -> (Family, Vec<Reason>) {
        let mut reasons = self.reasons;
        let total = |family: Family| -> u32 {
            reasons
                .iter()
                .filter(|reason| reason.family == family)
                .map(|reason| reason.weight)
                .sum()
        };
        let mill = total(Family::Mill);
        let turning = [
            Family::SystemA,
            Family::SystemB,
            Family::SystemC,
            Family::Interpreter,
            Family::Call,
            Family::Compound,
            Family::BoxG82,
        ];
        let best = turning
            .into_iter()
            .max_by_key(|&family| {
                // Of equals the first: A before B before C.
                (total(family), std::cmp::Reverse(family as u8))
            })
            .filter(|&family| total(family) > 0);
        let family = match best {
            Some(_) if mill > 0 && self.mill > self.lathe => Family::Mill,
            None if mill > 0 => Family::Mill,
            Some(family) => family,
            None => Family::Undecided,
        };
        reasons.sort_by_key(|reason| std::cmp::Reverse(reason.weight));
        (family, reasons)
    }
}
