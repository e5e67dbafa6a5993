//! Values of variables and expressions: decimal numbers counted in 1e-12, with a note whether the
//! count is exact, and one unknown with a factor and a summand.

use crate::number::Number;

const ONE: i128 = 1_000_000_000_000;

/// Beyond any length, speed or count that a program needs.
const LARGEST: i128 = 1_000_000_000_000_000 * ONE;

/// A decimal number in steps of 1e-12.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Num {
    count: i128,
    /// Whether the value is this count and not only near it (a root, an angle, most quotients).
    pub(crate) exact: bool,
}

impl Num {
    pub(crate) const ZERO: Num = Num {
        count: 0,
        exact: true,
    };
    pub(crate) const ONE: Num = Num {
        count: ONE,
        exact: true,
    };

    fn new(count: i128, exact: bool) -> Option<Num> {
        (count.abs() <= LARGEST).then_some(Num { count, exact })
    }

    pub(crate) fn of(integer: i64) -> Option<Num> {
        Num::new(i128::from(integer) * ONE, true)
    }

    pub(crate) fn truth(truth: bool) -> Num {
        if truth { Num::ONE } else { Num::ZERO }
    }

    /// The nearest count; none when it is no number or too large.
    pub(crate) fn near(value: f64) -> Option<Num> {
        let scaled = (value * ONE as f64).round();
        if !scaled.is_finite() || scaled.abs() > LARGEST as f64 {
            return None;
        }
        Num::new(scaled as i128, false)
    }

    /// A literal; none when digits were dropped.
    pub(crate) fn literal(number: Number) -> Option<Num> {
        if number.clipped {
            return None;
        }
        let digits = i128::from(number.digits);
        match number.decimals {
            decimals @ 0..=12 => Num::new(digits * 10i128.pow(12 - u32::from(decimals)), true),
            decimals => {
                let scale = 10i128.pow(u32::from(decimals) - 12);
                Num::new(divide(digits, scale), digits % scale == 0)
            }
        }
    }

    pub(crate) fn value(self) -> f64 {
        self.count as f64 / ONE as f64
    }

    pub(crate) fn is_zero(self) -> bool {
        self.count == 0
    }

    pub(crate) fn signum(self) -> i128 {
        self.count.signum()
    }

    /// The value where it is a whole number.
    pub(crate) fn integer(self) -> Option<i64> {
        (self.count % ONE == 0)
            .then(|| i64::try_from(self.count / ONE).ok())
            .flatten()
    }

    /// The value as a number with nine decimals at most, and whether that is exact. A whole number
    /// has a point where `point` asks for it.
    pub(crate) fn number(self, point: bool) -> Option<(Number, bool)> {
        let mut digits = i64::try_from(divide(self.count, 1000)).ok()?;
        let exact = self.exact && self.count % 1000 == 0;
        let mut decimals = 9;
        while decimals > 0 && digits % 10 == 0 {
            digits /= 10;
            decimals -= 1;
        }
        let number = Number {
            digits,
            decimals,
            whole_digits: 1,
            point: point || decimals > 0,
            signed: digits < 0,
            clipped: false,
        };
        Some((number, exact))
    }

    pub(crate) fn negate(self) -> Num {
        Num {
            count: -self.count,
            ..self
        }
    }

    pub(crate) fn abs(self) -> Num {
        Num {
            count: self.count.abs(),
            ..self
        }
    }

    pub(crate) fn plus(self, other: Num) -> Option<Num> {
        Num::new(self.count + other.count, self.exact && other.exact)
    }

    pub(crate) fn minus(self, other: Num) -> Option<Num> {
        self.plus(other.negate())
    }

    pub(crate) fn times(self, other: Num) -> Option<Num> {
        match self.count.checked_mul(other.count) {
            Some(product) => Num::new(
                divide(product, ONE),
                self.exact && other.exact && product % ONE == 0,
            ),
            None => Num::near(self.value() * other.value()),
        }
    }

    /// None for a division by zero.
    pub(crate) fn over(self, other: Num) -> Option<Num> {
        if other.count == 0 {
            return None;
        }
        match self.count.checked_mul(ONE) {
            Some(scaled) => Num::new(
                divide(scaled, other.count),
                self.exact && other.exact && scaled % other.count == 0,
            ),
            None => Num::near(self.value() / other.value()),
        }
    }

    /// The remainder of a division that rounds towards zero.
    pub(crate) fn remainder(self, other: Num) -> Option<Num> {
        if other.count == 0 {
            return None;
        }
        Num::new(self.count % other.count, self.exact && other.exact)
    }

    /// The square root, exact where there is one.
    pub(crate) fn root(self) -> Option<Num> {
        if self.count < 0 {
            return None;
        }
        let near = Num::near(self.value().sqrt())?;
        let exact = near.count.checked_mul(near.count) == self.count.checked_mul(ONE);
        Some(Num {
            exact: exact && self.exact,
            ..near
        })
    }

    /// The whole number below (`up` for above). None where a value that is not exact lies so near
    /// a whole number that the control may be on its other side.
    pub(crate) fn floor(self, up: bool) -> Option<Num> {
        if !self.exact && self.near_integer(0) {
            return None;
        }
        let floor = self.count.div_euclid(ONE);
        let whole = if up && self.count.rem_euclid(ONE) != 0 {
            floor + 1
        } else {
            floor
        };
        Num::new(whole * ONE, true)
    }

    /// The nearest whole number, halves away from zero.
    pub(crate) fn round(self) -> Option<Num> {
        if !self.exact && self.near_integer(ONE / 2) {
            return None;
        }
        Num::new(divide(self.count, ONE) * ONE, true)
    }

    fn near_integer(self, offset: i128) -> bool {
        let rest = (self.count + offset).rem_euclid(ONE);
        rest.min(ONE - rest) < 1000
    }

    /// Difference of two values to compare, with what is not exact taken as equal below 1e-9.
    pub(crate) fn against(self, other: Num) -> Num {
        let count = self.count - other.count;
        let exact = self.exact && other.exact;
        if !exact && count.abs() < 1000 {
            return Num::ZERO;
        }
        Num { count, exact }
    }
}

/// Rounds halves away from zero.
fn divide(count: i128, by: i128) -> i128 {
    let (count, by) = if by < 0 { (-count, -by) } else { (count, by) };
    let half = by / 2;
    if count < 0 {
        -((-count + half) / by)
    } else {
        (count + half) / by
    }
}

/// `by` times an unknown plus `plus`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Linear {
    /// Which unknown.
    pub(crate) of: u32,
    pub(crate) by: Num,
    pub(crate) plus: Num,
}

/// Why there is no value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Why {
    /// It depends on this unknown.
    DependsOn(u32),
    /// It depends on an empty variable.
    Empty,
    /// Division by zero, root of a negative number, an angle that does not exist.
    NoResult,
    /// More digits than any control keeps.
    TooLarge,
    /// Controls differ in the order in which it is worked out.
    Order,
    /// Controls differ in the result.
    Differs,
    /// A variable of the control.
    System,
    /// A function or a spelling that is not read.
    NotRead,
}

/// What a variable or an expression is worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Value {
    /// An empty variable: a word with it is not there.
    Null,
    Known(Num),
    Linear(Linear),
    Unknown(Why),
}

impl Value {
    pub(crate) fn unknown(of: u32) -> Value {
        Value::Linear(Linear {
            of,
            by: Num::ONE,
            plus: Num::ZERO,
        })
    }

    pub(crate) fn known(self) -> Option<Num> {
        match self {
            Value::Known(num) => Some(num),
            _ => None,
        }
    }

    /// Why there is no number.
    pub(crate) fn why(self) -> Option<Why> {
        match self {
            Value::Known(_) => None,
            Value::Null => Some(Why::Empty),
            Value::Linear(linear) => Some(Why::DependsOn(linear.of)),
            Value::Unknown(why) => Some(why),
        }
    }

    fn or(num: Option<Num>, why: Why) -> Value {
        num.map_or(Value::Unknown(why), Value::Known)
    }

    /// An empty variable counts as zero in arithmetic (from memory).
    fn zeroed(self) -> Value {
        match self {
            Value::Null => Value::Known(Num::ZERO),
            other => other,
        }
    }

    pub(crate) fn apply(self, f: impl Fn(Num) -> Option<Num>) -> Value {
        match self.zeroed() {
            Value::Known(num) => Value::or(f(num), Why::NoResult),
            Value::Linear(linear) => Value::Unknown(Why::DependsOn(linear.of)),
            other => other,
        }
    }

    pub(crate) fn both(self, other: Value, f: impl Fn(Num, Num) -> Option<Num>) -> Value {
        match (self.zeroed(), other.zeroed()) {
            (Value::Known(a), Value::Known(b)) => Value::or(f(a, b), Why::NoResult),
            (Value::Known(_), other) | (other, _) => {
                Value::Unknown(other.why().unwrap_or(Why::NotRead))
            }
        }
    }

    pub(crate) fn negate(self) -> Value {
        self.scale(Num::ONE.negate())
    }

    fn scale(self, by: Num) -> Value {
        self.scale_by(|num| num.times(by))
    }

    fn scale_by(self, f: impl Fn(Num) -> Option<Num>) -> Value {
        match self.zeroed() {
            Value::Known(num) => Value::or(f(num), Why::TooLarge),
            Value::Linear(linear) => match (f(linear.by), f(linear.plus)) {
                (Some(by), Some(plus)) => linear_of(linear.of, by, plus),
                _ => Value::Unknown(Why::TooLarge),
            },
            other => other,
        }
    }

    pub(crate) fn plus(self, other: Value) -> Value {
        let sum = |of, a: (Num, Num), b: (Num, Num)| match (a.0.plus(b.0), a.1.plus(b.1)) {
            (Some(by), Some(plus)) => linear_of(of, by, plus),
            _ => Value::Unknown(Why::TooLarge),
        };
        match (self.zeroed(), other.zeroed()) {
            (Value::Known(a), Value::Known(b)) => Value::or(a.plus(b), Why::TooLarge),
            (Value::Linear(a), Value::Known(b)) | (Value::Known(b), Value::Linear(a)) => {
                sum(a.of, (a.by, a.plus), (Num::ZERO, b))
            }
            (Value::Linear(a), Value::Linear(b)) if a.of == b.of => {
                sum(a.of, (a.by, a.plus), (b.by, b.plus))
            }
            (Value::Unknown(why), _) | (_, Value::Unknown(why)) => Value::Unknown(why),
            (a, _) => Value::Unknown(a.why().unwrap_or(Why::NotRead)),
        }
    }

    pub(crate) fn minus(self, other: Value) -> Value {
        self.plus(other.negate())
    }

    pub(crate) fn times(self, other: Value) -> Value {
        match (self.zeroed(), other.zeroed()) {
            (Value::Known(a), b) => b.scale(a),
            (a, Value::Known(b)) => a.scale(b),
            (Value::Unknown(why), _) | (_, Value::Unknown(why)) => Value::Unknown(why),
            (a, _) => Value::Unknown(a.why().unwrap_or(Why::NotRead)),
        }
    }

    pub(crate) fn over(self, other: Value) -> Value {
        match (self.zeroed(), other.zeroed()) {
            (_, Value::Known(b)) if b.is_zero() => Value::Unknown(Why::NoResult),
            (a, Value::Known(b)) => a.scale_by(|num| num.over(b)),
            // One unknown over itself.
            (Value::Linear(a), Value::Linear(b))
                if a.of == b.of && a.plus.is_zero() && b.plus.is_zero() =>
            {
                Value::or(a.by.over(b.by), Why::NoResult)
            }
            (Value::Unknown(why), _) | (_, Value::Unknown(why)) => Value::Unknown(why),
            (_, b) => Value::Unknown(b.why().unwrap_or(Why::NotRead)),
        }
    }
}

fn linear_of(of: u32, by: Num, plus: Num) -> Value {
    if by.is_zero() {
        Value::Known(plus)
    } else {
        Value::Linear(Linear { of, by, plus })
    }
}
