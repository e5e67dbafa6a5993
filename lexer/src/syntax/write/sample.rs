//! A shop's way of writing, taken from a section that it wrote.

use super::style::{Habits, Numbering, Style, Whole};
use crate::block::{Block, Blocks, Word};
use crate::evidence::Family;
use crate::number::Number;
use crate::section::{Role, RoleWord, Scale, Section, Syntax};
use crate::syntax::call::{self, Call, Order};

impl Style {
    /// The way a section of `bytes` is written. `family` is the program's.
    #[must_use]
    pub fn of(section: &Section, family: Family, bytes: &[u8]) -> Style {
        // Places in `text` count from the start of the section.
        let start = section.span.start.min(bytes.len() as u32);
        let text = &bytes[start as usize..];
        let blocks = sample(text, section.span.end.saturating_sub(start));
        let own: Vec<&Block> = blocks
            .iter()
            .filter(|block| start + block.span.start <= section.span.end)
            .collect();
        let code = code_of(section, &own, start);
        let family = match family {
            Family::Undecided => family_of(section, code, &own),
            family => family,
        };
        let mut style = Style::new(family, section.units);
        style.radius_mode = section.radius_mode;
        style.line_end = line_end(text, bytes);
        style.numbers = numbering(&blocks);
        style.positions(section, &own);
        style.letters(&own, text);
        style.habits = Some(Habits {
            order: order(&own, text),
            ..habits(section, code)
        });
        style
    }

    fn positions(&mut self, section: &Section, blocks: &[&Block]) {
        let mut votes = [0usize; 4];
        for word in blocks.iter().flat_map(|block| &block.words) {
            let Some(number) = word.number().filter(|_| b"XZUWRI".contains(&word.letter)) else {
                continue;
            };
            if number.point && number.whole_digits == 0 && number.digits != 0 {
                self.leading_zero = false;
            }
            if !b"XZUW".contains(&word.letter) {
                continue;
            }
            self.decimals = self.decimals.max(number.decimals.min(8));
            let padded = number.decimals > 1 && number.digits % 10 == 0;
            match (number.point, number.integer(), number.decimals) {
                _ if padded => votes[3] += 1,
                (false, Some(_), _) => votes[0] += 1,
                (true, Some(_), decimals) => votes[1 + usize::from(decimals)] += 1,
                _ => {}
            }
        }
        let habits = [Whole::Bare, Whole::Point, Whole::OneZero, Whole::AllZeros];
        if let Some((_, habit)) = votes
            .iter()
            .zip(habits)
            .filter(|(count, _)| **count > 0)
            .max_by_key(|(count, _)| **count)
        {
            self.whole = habit;
        }
        let ends = || {
            section
                .words
                .iter()
                .filter(|word| matches!(word.role, Role::EndX | Role::EndZ))
        };
        if ends().any(|word| matches!(word.scale, Scale::Increments(_))) {
            self.whole = Whole::Increments;
        }
        self.incremental =
            ends().any(|word| matches!(word.letter, b'X' | b'Z') && !word.base.is_zero());
        let mut diameters = ends().filter(|word| word.letter == b'X').peekable();
        self.mirrored = diameters.peek().is_some() && diameters.all(|word| word.number.digits < 0);
        for word in section.words.iter().filter(|word| word.role == Role::Lead) {
            self.lead_decimals = self.lead_decimals.max(word.number.decimals.min(9));
        }
    }

    fn letters(&mut self, blocks: &[&Block], text: &[u8]) {
        let words = || blocks.iter().flat_map(|block| &block.words);
        self.lower = words().any(|word| {
            word.span
                .of(text)
                .first()
                .is_some_and(u8::is_ascii_lowercase)
        });
        let gaps: Vec<bool> = blocks
            .iter()
            .flat_map(|block| block.words.windows(2))
            .map(|pair| pair[0].span.end < pair[1].span.start)
            .collect();
        if !gaps.is_empty() {
            self.spaced = gaps.contains(&true);
        }
        self.two_digits = words().any(|word| {
            word.letter == b'G'
                && word
                    .number()
                    .is_some_and(|number| number.digits < 10 && number.whole_digits > 1)
        });
    }
}

/// The first blocks of a section that ends at `end`, and the one behind it.
fn sample(text: &[u8], end: u32) -> Vec<Block> {
    let mut reader = Blocks::new(text);
    let mut block = Block::default();
    let mut all = Vec::new();
    while all.len() < 64 && reader.read(&mut block) {
        if block.words.is_empty() {
            continue;
        }
        all.push(block.clone());
        if block.span.start > end {
            break;
        }
    }
    all
}

/// The first line end behind the section's start, or one that stands anywhere.
fn line_end(text: &[u8], bytes: &[u8]) -> &'static str {
    let first = |bytes: &[u8]| {
        let at = memchr::memchr2(b'\r', b'\n', bytes)?;
        Some(match (bytes[at], bytes.get(at + 1)) {
            (b'\r', Some(b'\n')) => "\r\n",
            (b'\r', _) => "\r",
            _ => "\n",
        })
    };
    first(text).or_else(|| first(bytes)).unwrap_or("\n")
}

fn numbering(blocks: &[Block]) -> Option<Numbering> {
    let numbers: Vec<Number> = blocks
        .iter()
        .map_while(|block| block.number?.number())
        .collect();
    let first = numbers.first()?;
    let start = u32::try_from(first.integer()?).ok()?;
    let step = match numbers.get(1).and_then(|second| second.integer()) {
        Some(second) => u32::try_from(second - i64::from(start)).unwrap_or(10),
        None => 10,
    };
    let padded = first.whole_digits as usize > start.to_string().len();
    Some(Numbering {
        start,
        step,
        digits: if padded { first.whole_digits } else { 1 },
    })
}

const THREADING: [i32; 10] = [320, 330, 920, 780, 210, 760, 310, 820, 710, 720];

/// The code of the block that causes the first cut.
fn code_of(section: &Section, blocks: &[&Block], start: u32) -> Option<i32> {
    let first = section.passes.first().map(|pass| pass.span);
    blocks
        .iter()
        .filter(|block| first.is_none_or(|span| span.touches(start + block.span.start)))
        .flat_map(|block| block.g_codes())
        .map(|(code, _)| code)
        .find(|code| THREADING.contains(code))
}

/// The family that writes this syntax with this code.
fn family_of(section: &Section, code: Option<i32>, blocks: &[&Block]) -> Family {
    let k = |word: &Word| word.letter == b'K';
    match (section.syntax, code) {
        (Syntax::DriveLine, _) => Family::Interpreter,
        (Syntax::Call, _) => Family::Call,
        (Syntax::Compound, _) | (Syntax::Box, Some(310 | 330)) => Family::Compound,
        (Syntax::Box, Some(820)) => Family::BoxG82,
        (Syntax::Strokes, Some(330)) => {
            if blocks.iter().any(|block| block.words.iter().any(k)) {
                Family::Interpreter
            } else {
                Family::SystemB
            }
        }
        (Syntax::Box, Some(780)) => Family::SystemB,
        (Syntax::Box, Some(210)) | (_, Some(780)) => Family::SystemC,
        _ => Family::SystemA,
    }
}

fn habits(section: &Section, code: Option<i32>) -> Habits {
    let mut words: Vec<&RoleWord> = section
        .words
        .iter()
        .filter(|word| word.line >= section.first_line && word.line <= section.last_line)
        .collect();
    words.sort_by_key(|word| word.span.start);
    let mut roles: Vec<Role> = Vec::new();
    for block in words.chunk_by(|a, b| a.line == b.line) {
        for (index, word) in block.iter().enumerate() {
            if roles.contains(&word.role) {
                continue;
            }
            // In front of the word that it precedes here.
            let place = block[index..]
                .iter()
                .find_map(|next| roles.iter().position(|&known| known == next.role));
            roles.insert(place.unwrap_or(roles.len()), word.role);
        }
    }
    let depth = |word: &&RoleWord| {
        matches!(
            word.role,
            Role::Height | Role::FirstCut | Role::MinCut | Role::FinishAllowance
        ) && matches!(word.scale, Scale::Increments(_))
    };
    let letter = |role: Role, default: u8| section.word(role).map_or(default, |word| word.letter);
    Habits {
        syntax: section.syntax,
        roles,
        increments: section
            .words
            .iter()
            .filter(depth)
            .map(|word| word.role)
            .collect(),
        taper_letter: letter(Role::Taper, b'R'),
        lead_letter: letter(Role::Lead, b'F'),
        per_inch: section
            .word(Role::Lead)
            .is_some_and(|word| word.scale == Scale::Plain),
        code,
        order: None,
    }
}

/// The order of the arguments of the call that a block makes.
fn order(blocks: &[&Block], text: &[u8]) -> Option<Order> {
    let mut calls = blocks.iter().filter_map(|block| call::found(block, text));
    calls.find_map(|(call, _, _)| match call {
        Call::Turning(order) => Some(order),
        _ => None,
    })
}
