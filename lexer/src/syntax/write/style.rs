//! A shop's way of writing: how numbers, codes, words and lines look.

use crate::evidence::Family;
use crate::number::DecimalRule;
use crate::section::{Role, Syntax};
use crate::syntax::call::Order;
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
    /// Order of the arguments of a call.
    pub order: Option<Order>,
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

    /// The habits for a syntax, where they were taken from a section in it.
    pub(crate) fn habits_of(&self, syntax: Syntax) -> Option<&Habits> {
        self.habits
            .as_ref()
            .filter(|habits| habits.syntax == syntax)
    }

    /// How a control must read positions without a point for this style to mean what it says.
    pub(crate) fn decimal_rule(&self) -> DecimalRule {
        match self.whole {
            Whole::Increments => DecimalRule::LeastIncrement,
            _ => DecimalRule::Whole,
        }
    }

    /// The value of the last digit of a position, for the lengths as the program states them.
    pub(crate) fn last_digit(&self) -> Length {
        let least = self.units.least_increment();
        match self.whole {
            Whole::Increments => least,
            _ => Length::from_pm(self.units.pm() / 10i64.pow(u32::from(self.decimals))),
        }
    }

    /// A G code in tenths: `G0` or `G00`.
    #[must_use]
    pub fn code(&self, tenths: i32) -> String {
        match (tenths % 10, self.two_digits) {
            (0, true) => format!("G{:02}", tenths / 10),
            (0, false) => format!("G{}", tenths / 10),
            _ => format!("G{}.{}", tenths / 10, tenths % 10),
        }
    }

    /// X at a diameter.
    #[must_use]
    pub fn x(&self, x: Diameter) -> String {
        let written = if self.radius_mode { x.0.half() } else { x.0 };
        let written = if self.mirrored { -written } else { written };
        self.position('X', written)
    }

    /// A position or a length along an axis.
    #[must_use]
    pub fn position(&self, letter: char, length: Length) -> String {
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

    /// A plain value: degrees, exponents, speeds.
    #[must_use]
    pub fn plain(&self, letter: char, value: f64) -> String {
        let text = format!("{value:.6}");
        let text = text.trim_end_matches('0').trim_end_matches('.');
        let text = match text {
            "-0" => "0",
            text => text,
        };
        format!("{letter}{text}")
    }

    /// A length as an argument of a call.
    pub(crate) fn argument(&self, length: Length) -> String {
        self.decimal(length, self.decimals, Whole::Bare)
    }

    /// A lead as an argument of a call.
    pub(crate) fn lead_argument(&self, lead: Lead) -> String {
        self.decimal(lead.length(), self.lead_decimals, Whole::Bare)
    }

    /// Degrees behind an address or in a place.
    pub(crate) fn degrees(&self, address: &str, degrees: f64) -> String {
        format!("{address}{}", &self.plain(' ', degrees)[1..])
    }

    /// The order of arguments that the shop writes.
    pub(crate) fn call_order(&self) -> Order {
        self.habits_of(Syntax::Call)
            .and_then(|habits| habits.order)
            .unwrap_or(Order::LeadFirst)
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
