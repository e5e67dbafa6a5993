//! Functions. Angles are degrees.

use super::Style;
use super::value::{Num, Value, Why};

/// A function of one or two values, its name in capitals.
pub(super) fn apply(style: Style, function: &[u8], first: Value, second: Option<Value>) -> Value {
    let value = if style == Style::Parentheses {
        in_parentheses(function, first, second)
    } else {
        in_brackets(style, function, first, second)
    };
    value.unwrap_or(Value::Unknown(Why::NotRead))
}

fn of(value: Value, f: impl Fn(f64) -> f64) -> Value {
    value.apply(|num| Num::near(f(num.value())))
}

/// What both ways of writing have.
fn common(function: &[u8], value: Value) -> Option<Value> {
    let angle = |value: Value, f: fn(f64) -> f64| of(value, |num| f(num).to_degrees());
    Some(match function {
        b"SIN" => of(value, |num| num.to_radians().sin()),
        b"COS" => of(value, |num| num.to_radians().cos()),
        b"TAN" => of(value, |num| num.to_radians().tan()),
        // What does not exist is not finite, and so no value.
        b"ASIN" => angle(value, f64::asin),
        b"ACOS" => angle(value, f64::acos),
        b"SQRT" => value.apply(Num::root),
        b"ABS" => value.apply(|num| Some(num.abs())),
        b"LN" => of(value, f64::ln),
        b"EXP" => of(value, f64::exp),
        b"ROUND" => value.apply(Num::round),
        _ => return None,
    })
}

fn in_brackets(
    style: Style,
    function: &[u8],
    value: Value,
    second: Option<Value>,
) -> Option<Value> {
    if let Some(second) = second {
        return match (function, style) {
            (b"ATAN", Style::Brackets) => Some(value.both(second, angle_above)),
            (b"POW", Style::Brackets) => Some(value.both(second, power)),
            _ => None,
        };
    }
    match (function, style) {
        // The interpreter goes down and up, other controls towards zero and away from it (from
        // memory).
        (b"FIX", Style::Interpreter) => Some(value.apply(|num| num.floor(false))),
        (b"FUP", Style::Interpreter) => Some(value.apply(|num| num.floor(true))),
        (b"FIX", _) => Some(value.apply(towards_zero)),
        (b"FUP", _) => Some(value.apply(|num| num.floor(num.signum() > 0))),
        (b"ATAN", Style::Brackets) => Some(of(value, |num| num.atan().to_degrees())),
        _ => common(function, value),
    }
}

fn in_parentheses(function: &[u8], value: Value, second: Option<Value>) -> Option<Value> {
    if let Some(second) = second {
        let both = |f: fn(Num, Num) -> Option<Num>| Some(value.both(second, f));
        return match function {
            b"ATAN2" => both(angle),
            b"MINVAL" => both(|a, b| Some(if a.minus(b)?.signum() < 0 { a } else { b })),
            b"MAXVAL" => both(|a, b| Some(if a.minus(b)?.signum() > 0 { a } else { b })),
            _ => None,
        };
    }
    match function {
        b"TRUNC" => Some(value.apply(towards_zero)),
        b"POT" => Some(value.times(value)),
        b"NOT" => Some(value.apply(|num| Some(Num::truth(num.is_zero())))),
        _ => common(function, value),
    }
}

pub(super) fn towards_zero(num: Num) -> Option<Num> {
    num.floor(num.signum() < 0)
}

/// The angle of a point by its y and x, above -180 to 180 degrees.
pub(super) fn angle(y: Num, x: Num) -> Option<Num> {
    if y.is_zero() && x.is_zero() {
        return None;
    }
    Num::near(y.value().atan2(x.value()).to_degrees())
}

/// The same where it is not below the axis: there some controls count to 360 and others from -180.
pub(super) fn angle_above(y: Num, x: Num) -> Option<Num> {
    if y.signum() < 0 { None } else { angle(y, x) }
}

pub(super) fn power(base: Num, exponent: Num) -> Option<Num> {
    if let Some(times @ 0..=64) = exponent.integer() {
        return (0..times).try_fold(Num::ONE, |product, _| product.times(base));
    }
    Num::near(base.value().powf(exponent.value()))
}
