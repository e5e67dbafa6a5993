//! Expressions and conditions: `[ ]` with `#` variables, and `( )` with R parameters and named
//! variables.
//!
//! Order of precedence. The open RS274/NGC interpreter (its documentation of binary operators):
//! `**`, then `* / MOD`, then `+ -`, then comparisons, then `AND OR XOR`, equals from left to right.
//! Other controls with `#` variables (from memory): `* / AND MOD` before `+ - OR XOR`, comparisons
//! last; with parentheses: `* / DIV MOD` before `+ -`, and controls differ on comparisons beside
//! `AND OR XOR`. Where a logical word and a comparison stand in one bracket, only the interpreter's
//! order is followed; elsewhere the value is not known.

mod function;
mod value;

#[cfg(test)]
pub(crate) use value::Linear;
pub(crate) use value::{Num, Value, Why};

use crate::number::Number;

/// How expressions are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Style {
    /// `[ ]`, as the open RS274/NGC interpreter does it.
    Interpreter,
    /// `[ ]`, as other controls do it.
    Brackets,
    /// `( )`, with R parameters and names.
    Parentheses,
}

/// Which variable.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) enum Key {
    /// `#1`.
    Hash(i64),
    /// `R1`.
    R(i64),
    /// `#<name>`, or a name of its own, in capitals.
    Name(Vec<u8>),
}

impl Key {
    /// As it is written.
    pub(crate) fn text(&self) -> String {
        match self {
            Key::Hash(number) => format!("#{number}"),
            Key::R(number) => format!("R{number}"),
            Key::Name(name) => String::from_utf8_lossy(name).into_owned(),
        }
    }
}

/// Where variables get their values.
pub(crate) trait Scope {
    fn get(&mut self, key: &Key) -> Value;
    /// Whether the variable exists; none when that is not known.
    fn exists(&self, key: &Key) -> Option<bool>;
}

/// A comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Relation {
    Equal,
    Unequal,
    Less,
    LessOrEqual,
    Greater,
    GreaterOrEqual,
}

/// What was seen on the way to a value.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Seen {
    /// Variables that were read.
    pub(crate) reads: u32,
    /// Comparisons and logical words.
    pub(crate) tests: u32,
    /// The last comparison: left side minus right side.
    pub(crate) gap: Option<(Relation, Num)>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Operator {
    Power,
    Times,
    Over,
    Mod,
    Div,
    Plus,
    Minus,
    Test(Relation),
    And,
    Or,
    Xor,
}

impl Operator {
    fn logical(self) -> bool {
        matches!(self, Operator::And | Operator::Or | Operator::Xor)
    }

    /// The higher, the earlier.
    fn rank(self, style: Style) -> u8 {
        match (self, style) {
            (Operator::Power, _) => 5,
            (Operator::Times | Operator::Over | Operator::Mod | Operator::Div, _) => 4,
            (Operator::And, Style::Brackets) => 4,
            (Operator::Or | Operator::Xor, Style::Brackets) => 3,
            (Operator::Plus | Operator::Minus, _) => 3,
            (Operator::Test(_), _) => 2,
            (Operator::And | Operator::Or | Operator::Xor, _) => 1,
        }
    }
}

const WORDS: [(&[u8], Operator); 11] = [
    (b"XOR", Operator::Xor),
    (b"AND", Operator::And),
    (b"MOD", Operator::Mod),
    (b"DIV", Operator::Div),
    (b"OR", Operator::Or),
    (b"EQ", Operator::Test(Relation::Equal)),
    (b"NE", Operator::Test(Relation::Unequal)),
    (b"GT", Operator::Test(Relation::Greater)),
    (b"GE", Operator::Test(Relation::GreaterOrEqual)),
    (b"LT", Operator::Test(Relation::Less)),
    (b"LE", Operator::Test(Relation::LessOrEqual)),
];

const SIGNS: [(&[u8], Operator); 10] = [
    (b"==", Operator::Test(Relation::Equal)),
    (b"<>", Operator::Test(Relation::Unequal)),
    (b"<=", Operator::Test(Relation::LessOrEqual)),
    (b">=", Operator::Test(Relation::GreaterOrEqual)),
    (b"<", Operator::Test(Relation::Less)),
    (b">", Operator::Test(Relation::Greater)),
    (b"*", Operator::Times),
    (b"/", Operator::Over),
    (b"+", Operator::Plus),
    (b"-", Operator::Minus),
];

/// Deepest nesting of brackets and variables in variables.
const DEEPEST: u32 = 32;

/// Reads expressions from a text and works them out.
pub(crate) struct Reader<'a, S> {
    text: &'a [u8],
    pub(crate) at: usize,
    style: Style,
    scope: &'a mut S,
    depth: u32,
    /// Whether the present bracket holds a comparison, and a logical word.
    bracket: (bool, bool),
    pub(crate) seen: Seen,
}

impl<'a, S: Scope> Reader<'a, S> {
    pub(crate) fn new(text: &'a [u8], style: Style, scope: &'a mut S) -> Self {
        Reader {
            text,
            at: 0,
            style,
            scope,
            depth: 0,
            bracket: (false, false),
            seen: Seen::default(),
        }
    }

    /// What is left to read.
    pub(crate) fn rest(&mut self) -> &'a [u8] {
        self.blanks();
        &self.text[self.at..]
    }

    fn blanks(&mut self) {
        while let Some(b' ' | b'\t') = self.text.get(self.at) {
            self.at += 1;
        }
    }

    fn peek(&self) -> Option<u8> {
        let mut rest = self.text[self.at..].iter();
        rest.find(|byte| !matches!(byte, b' ' | b'\t')).copied()
    }

    pub(crate) fn eat(&mut self, byte: u8) -> bool {
        let found = self.peek() == Some(byte);
        if found {
            self.blanks();
            self.at += 1;
        }
        found
    }

    /// Takes a word in any case, where it stands here.
    pub(crate) fn word(&mut self, word: &[u8]) -> bool {
        let before = self.at;
        self.blanks();
        let found = self
            .text
            .get(self.at..self.at + word.len())
            .is_some_and(|text| text.eq_ignore_ascii_case(word));
        self.at = if found { self.at + word.len() } else { before };
        found
    }

    /// A name: letters, digits and underscores.
    pub(crate) fn name(&mut self) -> Option<&'a [u8]> {
        self.blanks();
        let rest = &self.text[self.at..];
        if !matches!(rest.first(), Some(b'A'..=b'Z' | b'a'..=b'z' | b'_' | b'$')) {
            return None;
        }
        let length = rest
            .iter()
            .take_while(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'_' | b'$'))
            .count();
        self.at += length;
        Some(&rest[..length])
    }

    /// An expression as far as it goes; none when there is none.
    pub(crate) fn expression(&mut self) -> Option<Value> {
        let outside = std::mem::take(&mut self.bracket);
        let value = self.above(0)?;
        let mixed = self.bracket == (true, true) && self.style != Style::Interpreter;
        self.bracket = outside;
        Some(if mixed {
            Value::Unknown(Why::Order)
        } else {
            value
        })
    }

    fn above(&mut self, least: u8) -> Option<Value> {
        let mut left = self.operand()?;
        loop {
            let before = self.at;
            let Some(operator) = self.operator() else {
                self.at = before;
                return Some(left);
            };
            let rank = operator.rank(self.style);
            if rank < least {
                self.at = before;
                return Some(left);
            }
            let right = self.above(rank + 1)?;
            left = self.result(operator, left, right);
            self.bracket.0 |= matches!(operator, Operator::Test(_));
            self.bracket.1 |= operator.logical();
        }
    }

    fn operator(&mut self) -> Option<Operator> {
        self.blanks();
        if self.style == Style::Interpreter && self.word(b"**") {
            return Some(Operator::Power);
        }
        let signs: &[_] = match self.style {
            Style::Parentheses => &SIGNS,
            _ => &SIGNS[6..],
        };
        for (sign, operator) in signs {
            if self.word(sign) {
                return Some(*operator);
            }
        }
        for (word, operator) in WORDS {
            let written = match operator {
                Operator::Test(_) => self.style != Style::Parentheses,
                Operator::Div => self.style == Style::Parentheses,
                _ => true,
            };
            if written && self.word(word) {
                return Some(operator);
            }
        }
        None
    }

    fn result(&mut self, operator: Operator, left: Value, right: Value) -> Value {
        let interpreter = self.style == Style::Interpreter;
        match operator {
            Operator::Times => left.times(right),
            Operator::Over => left.over(right),
            Operator::Plus => left.plus(right),
            Operator::Minus => left.minus(right),
            Operator::Power => left.both(right, function::power),
            Operator::Div => left.both(right, |a, b| a.over(b)?.apply_trunc()),
            Operator::Mod => {
                let signs = left.both(right, |a, b| Num::of((a.signum() * b.signum()) as i64));
                let negative = signs.known().is_some_and(|sign| sign.signum() < 0)
                    || left.known().is_some_and(|num| num.signum() < 0);
                match (negative, interpreter) {
                    (false, _) => left.both(right, Num::remainder),
                    // The interpreter always gives a positive remainder.
                    (true, true) => left.both(right, |a, b| {
                        let rest = a.remainder(b)?;
                        if rest.signum() < 0 {
                            rest.plus(b.abs())
                        } else {
                            Some(rest)
                        }
                    }),
                    (true, false) => Value::Unknown(Why::Differs),
                }
            }
            Operator::Test(relation) => self.compare(relation, left, right),
            Operator::And | Operator::Or | Operator::Xor => {
                self.seen.tests += 1;
                self.seen.gap = None;
                left.both(right, |a, b| match self.style {
                    Style::Brackets => bits(operator, a, b),
                    _ => {
                        let (a, b) = (!a.is_zero(), !b.is_zero());
                        Some(Num::truth(match operator {
                            Operator::And => a && b,
                            Operator::Or => a || b,
                            _ => a != b,
                        }))
                    }
                })
            }
        }
    }

    fn compare(&mut self, relation: Relation, left: Value, right: Value) -> Value {
        self.seen.tests += 1;
        self.seen.gap = None;
        // An empty variable is equal to another only, and not to zero (from memory).
        if let (Style::Brackets, Relation::Equal | Relation::Unequal) = (self.style, relation) {
            let wanted = relation == Relation::Equal;
            match (left, right) {
                (Value::Null, Value::Null) => return Value::Known(Num::truth(wanted)),
                (Value::Null, Value::Known(_)) | (Value::Known(_), Value::Null) => {
                    return Value::Known(Num::truth(!wanted));
                }
                (Value::Null, other) | (other, Value::Null) => {
                    return Value::Unknown(other.why().unwrap_or(Why::NotRead));
                }
                _ => {}
            }
        }
        let gap = match left.minus(right) {
            Value::Known(gap) => match (left, right) {
                (Value::Known(a), Value::Known(b)) => a.against(b),
                _ => gap,
            },
            other => return Value::Unknown(other.why().unwrap_or(Why::NotRead)),
        };
        self.seen.gap = Some((relation, gap));
        // Versions of the interpreter take numbers as equal below 1e-4 or below 1e-6.
        let close = gap.value().abs();
        let equal = match self.style {
            Style::Interpreter if close < 1e-6 => true,
            Style::Interpreter if close < 1e-4 => {
                let decided = match relation {
                    Relation::Less | Relation::Greater => true,
                    Relation::LessOrEqual => gap.signum() < 0,
                    Relation::GreaterOrEqual => gap.signum() > 0,
                    Relation::Equal | Relation::Unequal => false,
                };
                if !decided {
                    return Value::Unknown(Why::Differs);
                }
                false
            }
            _ => gap.is_zero(),
        };
        Value::Known(Num::truth(match relation {
            Relation::Equal => equal,
            Relation::Unequal => !equal,
            Relation::Less => gap.signum() < 0,
            Relation::Greater => gap.signum() > 0,
            Relation::LessOrEqual => equal || gap.signum() < 0,
            Relation::GreaterOrEqual => equal || gap.signum() > 0,
        }))
    }

    /// A signed operand: a literal, a variable, a bracket, a function.
    pub(crate) fn operand(&mut self) -> Option<Value> {
        if self.depth >= DEEPEST {
            return None;
        }
        self.depth += 1;
        let value = self.operand_inside();
        self.depth -= 1;
        value
    }

    fn operand_inside(&mut self) -> Option<Value> {
        let first = self.peek()?;
        self.blanks();
        match first {
            b'-' => {
                self.at += 1;
                Some(self.operand()?.negate())
            }
            b'+' => {
                self.at += 1;
                self.operand()
            }
            b'0'..=b'9' | b'.' => self.literal(),
            b'#' => {
                let key = self.hash()?;
                Some(self.read(key))
            }
            b'[' if self.style != Style::Parentheses => self.bracket(b'[', b']'),
            b'(' if self.style == Style::Parentheses => self.bracket(b'(', b')'),
            _ => self.named(),
        }
    }

    fn read(&mut self, key: Result<Key, Why>) -> Value {
        self.seen.reads += 1;
        match key {
            Ok(key) => self.scope.get(&key),
            Err(why) => Value::Unknown(why),
        }
    }

    fn literal(&mut self) -> Option<Value> {
        let rest = &self.text[self.at..];
        let mut point = false;
        let length = rest
            .iter()
            .take_while(|byte| match byte {
                b'0'..=b'9' => true,
                b'.' => !std::mem::replace(&mut point, true),
                _ => false,
            })
            .count();
        self.at += length;
        let number = Number::parse(&rest[..length])?;
        Some(Num::literal(number).map_or(Value::Unknown(Why::TooLarge), Value::Known))
    }

    fn bracket(&mut self, open: u8, close: u8) -> Option<Value> {
        if !self.eat(open) {
            return None;
        }
        let value = self.expression()?;
        self.eat(close).then_some(value)
    }

    /// The variable that `#` begins; its number may be worked out.
    pub(crate) fn hash(&mut self) -> Option<Result<Key, Why>> {
        if !self.eat(b'#') {
            return None;
        }
        if self.peek()? == b'<' {
            self.blanks();
            let rest = &self.text[self.at + 1..];
            let length = rest.iter().position(|&byte| byte == b'>')?;
            self.at += length + 2;
            return Some(Ok(Key::Name(name(&rest[..length]))));
        }
        let number = match self.peek()? {
            b'0'..=b'9' => {
                self.blanks();
                self.literal()?
            }
            b'#' | b'[' => self.operand()?,
            _ => return None,
        };
        Some(index(number).map(Key::Hash))
    }

    /// `R1`, `R[..]`, a function, a name.
    fn named(&mut self) -> Option<Value> {
        let start = self.at;
        let name = self.name()?;
        if self.style == Style::Parentheses {
            if let Some(key) = self.r_parameter(name) {
                return Some(self.read(key));
            }
            if name[0] == b'$' {
                if self.peek() == Some(b'[') {
                    self.skip_brackets();
                }
                self.seen.reads += 1;
                return Some(Value::Unknown(Why::System));
            }
        }
        // Letters before a bracket are a function; a digit may not belong to its name.
        let function = name.to_ascii_uppercase();
        let open = match self.style {
            Style::Parentheses => b'(',
            _ => b'[',
        };
        // A bracket behind a blank may be a comment.
        let at_once = self.text.get(self.at) == Some(&open);
        if at_once || self.style != Style::Parentheses && self.peek() == Some(open) {
            return self.call(&function);
        }
        match self.style {
            Style::Parentheses => match function.as_slice() {
                b"TRUE" => Some(Value::Known(Num::ONE)),
                b"FALSE" => Some(Value::Known(Num::ZERO)),
                b"NOT" => Some(self.operand()?.apply(|num| Some(Num::truth(num.is_zero())))),
                _ => {
                    if self.peek() == Some(b'[') {
                        self.skip_brackets();
                        self.seen.reads += 1;
                        return Some(Value::Unknown(Why::NotRead));
                    }
                    Some(self.read(Ok(Key::Name(function))))
                }
            },
            _ => {
                self.at = start;
                None
            }
        }
    }

    /// The key of `R1` or `R[..]` whose name was taken.
    pub(crate) fn r_parameter(&mut self, name: &[u8]) -> Option<Result<Key, Why>> {
        let [b'R' | b'r', digits @ ..] = name else {
            return None;
        };
        if digits.is_empty() {
            if self.peek() != Some(b'[') {
                return None;
            }
            self.eat(b'[');
            let number = self.expression()?;
            return self.eat(b']').then(|| index(number).map(Key::R));
        }
        let number = std::str::from_utf8(digits).ok()?.parse().ok()?;
        digits
            .iter()
            .all(u8::is_ascii_digit)
            .then_some(Ok(Key::R(number)))
    }

    fn skip_brackets(&mut self) {
        self.blanks();
        let mut depth = 0;
        while let Some(&byte) = self.text.get(self.at) {
            self.at += 1;
            match byte {
                b'[' => depth += 1,
                b']' => depth -= 1,
                _ => {}
            }
            if depth == 0 {
                break;
            }
        }
    }

    fn call(&mut self, function: &[u8]) -> Option<Value> {
        let (open, close) = match self.style {
            Style::Parentheses => (b'(', b')'),
            _ => (b'[', b']'),
        };
        if function == b"EXISTS" {
            self.eat(open);
            let key = self.hash()?;
            self.seen.reads += 1;
            let exists = key.ok().and_then(|key| self.scope.exists(&key));
            let value = exists.map_or(Value::Unknown(Why::NotRead), |exists| {
                Value::Known(Num::truth(exists))
            });
            return self.eat(close).then_some(value);
        }
        self.eat(open);
        let first = self.expression()?;
        let second = match self.eat(b',') {
            true => Some(self.expression()?),
            false => None,
        };
        if !self.eat(close) {
            return None;
        }
        if function == b"ATAN" && self.style != Style::Parentheses {
            let before = self.at;
            if self.eat(b'/') && self.peek() == Some(b'[') {
                let x = self.bracket(b'[', b']')?;
                return Some(first.both(
                    x,
                    match self.style {
                        Style::Interpreter => function::angle,
                        _ => function::angle_above,
                    },
                ));
            }
            self.at = before;
        }
        Some(function::apply(self.style, function, first, second))
    }
}

impl Num {
    fn apply_trunc(self) -> Option<Num> {
        function::towards_zero(self)
    }
}

/// The number of a variable.
fn index(number: Value) -> Result<i64, Why> {
    match number {
        Value::Known(num) => num.integer().filter(|&n| n >= 0).ok_or(Why::NotRead),
        other => Err(other.why().unwrap_or(Why::NotRead)),
    }
}

/// A name in capitals, without blanks.
pub(crate) fn name(text: &[u8]) -> Vec<u8> {
    text.iter()
        .filter(|byte| !byte.is_ascii_whitespace())
        .map(u8::to_ascii_uppercase)
        .collect()
}

/// Logical words of controls that work on the bits of whole numbers (from memory).
fn bits(operator: Operator, a: Num, b: Num) -> Option<Num> {
    let (a, b) = (a.integer()?, b.integer()?);
    if a < 0 || b < 0 {
        return None;
    }
    Num::of(match operator {
        Operator::And => a & b,
        Operator::Or => a | b,
        _ => a ^ b,
    })
}

/// Where an expression ends that begins at the start of a text: the operands and operators that
/// follow each other.
pub(crate) fn extent(text: &[u8], style: Style) -> usize {
    struct Nowhere;
    impl Scope for Nowhere {
        fn get(&mut self, _: &Key) -> Value {
            Value::Unknown(Why::NotRead)
        }
        fn exists(&self, _: &Key) -> Option<bool> {
            None
        }
    }
    let mut scope = Nowhere;
    let mut reader = Reader::new(text, style, &mut scope);
    if reader.expression().is_none() {
        return 0;
    }
    text[..reader.at].trim_ascii_end().len()
}

#[cfg(test)]
mod tests;
