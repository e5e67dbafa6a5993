//! A shop's way of writing: how numbers, codes, words and lines look.

use crate::block::{Block, Blocks, Word};
use crate::evidence::Family;
use crate::number::{DecimalRule, Number};
use crate::section::{Role, RoleWord, Scale, Section, Syntax};
use crate::units::{Diameter, Lead, Length, Radial, Units};

/// How a position that is a whole number is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Whole {
    /// `20`
    Bare,
    /// `20.`
    Point,
    /// `20.0`
    OneZero,
    /// `20.000`: all decimals, in every number.
    AllZeros,
    /// `20000`: positions count least increments and have no point.
    Increments,
}

/// N numbers for written blocks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Numbering {
    /// Number of the first block.
    pub start: u32,
    /// From block to block.
    pub step: u32,
    /// Digits at least, filled with leading zeros.
    pub digits: u8,
}

/// Habits that belong to one syntax, taken from a section written in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Habits {
    /// Whose habits.
    pub syntax: Syntax,
    /// The words of the first blocks in the order written; these are written even where their
    /// value is the default one.
    pub roles: Vec<Role>,
    /// Depth words written without a point, in least increments.
    pub increments: Vec<Role>,
    /// Letter of the taper word: R or I.
    pub taper_letter: u8,
    /// Letter of the lead: F or E.
    pub lead_letter: u8,
    /// Whether the lead is written as threads per inch.
    pub per_inch: bool,
    /// Code of the threading block in tenths.
    pub code: Option<i32>,
}

/// A way of writing.
#[derive(Debug, Clone, PartialEq)]
pub struct Style {
    /// Family of controls the blocks are for.
    pub family: Family,
    /// Units in force where the blocks will stand.
    pub units: Units,
    /// Whether X is written as a radius there.
    pub radius_mode: bool,
    /// Whether X and Z are distances there, in which nothing is written.
    pub incremental: bool,
    /// Whether diameters are written negative: the tool works behind the centre line.
    pub mirrored: bool,
    /// Most decimals of a position.
    pub decimals: u8,
    /// Most decimals of a lead.
    pub lead_decimals: u8,
    /// Whole positions.
    pub whole: Whole,
    /// Whether a zero stands in front of the point.
    pub leading_zero: bool,
    /// Whether words are separated by a space.
    pub spaced: bool,
    /// Whether letters are lower case.
    pub lower: bool,
    /// Whether codes below 10 have two digits (`G00`).
    pub two_digits: bool,
    /// N numbers; none when blocks have none.
    pub numbers: Option<Numbering>,
    /// Line end.
    pub line_end: &'static str,
    /// Habits of one syntax.
    pub habits: Option<Habits>,
}

impl Style {
    /// A plain way of writing for a family of controls: diameters (radii for the interpreter),
    /// spaces, trailing points, no N numbers.
    #[must_use]
    pub fn new(family: Family, units: Units) -> Style {
        let inch = units == Units::Inch;
        Style {
            family,
            units,
            radius_mode: family == Family::Interpreter,
            incremental: false,
            mirrored: false,
            decimals: if inch { 4 } else { 3 },
            lead_decimals: if inch { 6 } else { 4 },
            whole: Whole::Point,
            leading_zero: true,
            spaced: true,
            lower: false,
            two_digits: false,
            numbers: None,
            line_end: "\n",
            habits: None,
        }
    }

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
        style.habits = Some(habits(section, code));
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

    /// The habits for a syntax, where they were taken from a section in it.
    pub(crate) fn habits_of(&self, syntax: Syntax) -> Option<&Habits> {
        self.habits
            .as_ref()
            .filter(|habits| habits.syntax == syntax)
    }

    /// How a control must read positions without a point for this style to mean what it says.
    pub(super) fn decimal_rule(&self) -> DecimalRule {
        match self.whole {
            Whole::Increments => DecimalRule::LeastIncrement,
            _ => DecimalRule::Whole,
        }
    }

    /// The value of the last digit of a position, for the lengths as the program states them.
    pub(super) fn last_digit(&self) -> Length {
        let least = self.units.least_increment();
        match self.whole {
            Whole::Increments => least,
            _ => Length::from_pm(self.units.pm() / 10i64.pow(u32::from(self.decimals))),
        }
    }

    /// A G code in tenths.
    pub(crate) fn code(&self, tenths: i32) -> String {
        match (tenths % 10, self.two_digits) {
            (0, true) => format!("G{:02}", tenths / 10),
            (0, false) => format!("G{}", tenths / 10),
            _ => format!("G{}.{}", tenths / 10, tenths % 10),
        }
    }

    /// X at a diameter.
    pub(crate) fn x(&self, x: Diameter) -> String {
        let written = if self.radius_mode { x.0.half() } else { x.0 };
        let written = if self.mirrored { -written } else { written };
        self.position('X', written)
    }

    /// A position or a length along an axis.
    pub(crate) fn position(&self, letter: char, length: Length) -> String {
        let text = match self.whole {
            Whole::Increments => increments(self.units, length),
            whole => self.decimal(length, self.decimals, whole),
        };
        format!("{letter}{text}")
    }

    /// A depth word: least increments without a point, or real units with one.
    pub(crate) fn depth(&self, letter: char, depth: Radial, in_increments: bool) -> String {
        let whole = match self.whole {
            Whole::Bare | Whole::Increments => Whole::Point,
            whole => whole,
        };
        let text = if in_increments {
            increments(self.units, depth.0)
        } else {
            self.decimal(depth.0, self.decimals, whole)
        };
        format!("{letter}{text}")
    }

    /// The lead word of a syntax: F, or what the shop writes there.
    pub(crate) fn lead_word(&self, syntax: Syntax, lead: Lead) -> String {
        match self.habits_of(syntax) {
            Some(habits) if habits.per_inch => self.plain('E', 25.4 / lead.mm()),
            Some(habits) => self.lead(habits.lead_letter as char, lead),
            None => self.lead('F', lead),
        }
    }

    /// A lead as a length per turn.
    pub(crate) fn lead(&self, letter: char, lead: Lead) -> String {
        let whole = match self.whole {
            Whole::AllZeros | Whole::Increments => Whole::Point,
            whole => whole,
        };
        let text = self.decimal(lead.length(), self.lead_decimals, whole);
        format!("{letter}{text}")
    }

    /// A plain value: degrees, exponents.
    pub(crate) fn plain(&self, letter: char, value: f64) -> String {
        let text = format!("{value:.6}");
        let text = text.trim_end_matches('0').trim_end_matches('.');
        let text = match text {
            "-0" => "0",
            text => text,
        };
        format!("{letter}{text}")
    }

    /// A length in real units.
    fn decimal(&self, length: Length, decimals: u8, habit: Whole) -> String {
        let scale = 10i128.pow(u32::from(decimals));
        let count = rounded(i128::from(length.pm()) * scale, i128::from(self.units.pm()));
        let sign = if count < 0 { "-" } else { "" };
        let (whole, fraction) = (count.abs() / scale, count.abs() % scale);
        let digits = match decimals {
            0 => String::new(),
            decimals => format!("{fraction:0width$}", width = usize::from(decimals)),
        };
        let digits = match habit {
            Whole::AllZeros => digits.as_str(),
            _ => digits.trim_end_matches('0'),
        };
        match (digits.is_empty(), habit) {
            (true, Whole::Bare | Whole::Increments) => format!("{sign}{whole}"),
            (true, Whole::OneZero) => format!("{sign}{whole}.0"),
            (true, _) => format!("{sign}{whole}."),
            (false, _) if whole == 0 && !self.leading_zero => format!("{sign}.{digits}"),
            (false, _) => format!("{sign}{whole}.{digits}"),
        }
    }
}

fn increments(units: Units, length: Length) -> String {
    let least = i128::from(units.least_increment().pm());
    rounded(i128::from(length.pm()), least).to_string()
}

/// `value / unit`, halves away from zero.
fn rounded(value: i128, unit: i128) -> i128 {
    let half = if value < 0 { -(unit / 2) } else { unit / 2 };
    (value + half) / unit
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

const THREADING: [i32; 6] = [320, 330, 920, 780, 210, 760];

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
    }
}
