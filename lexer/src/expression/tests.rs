use super::*;

struct Fixed;

impl Scope for Fixed {
    fn get(&mut self, key: &Key) -> Value {
        let literal = |text: &str| {
            Value::Known(Num::literal(Number::parse(text.as_bytes()).unwrap()).unwrap())
        };
        match key {
            Key::Hash(1) => literal("3"),
            Key::Hash(2) => literal("0.5"),
            Key::Hash(3) => literal("1"),
            Key::Hash(4) => literal("-2.5"),
            Key::Hash(0) => Value::Null,
            Key::Hash(5) => Value::unknown(5),
            Key::R(1) => literal("7"),
            Key::R(3) => literal("2"),
            Key::Name(name) if name == b"DEPTH" => literal("1.84"),
            Key::Name(name) if name == b"STEP" => literal("0.25"),
            _ => Value::unknown(99),
        }
    }

    fn exists(&self, key: &Key) -> Option<bool> {
        Some(*key == Key::Name(b"DEPTH".to_vec()))
    }
}

fn work_out(text: &str, style: Style) -> Option<Value> {
    let mut scope = Fixed;
    let mut reader = Reader::new(text.as_bytes(), style, &mut scope);
    let value = reader.expression()?;
    reader.rest().is_empty().then_some(value)
}

fn check(style: Style, table: &[(&str, f64, bool)]) {
    for (text, expected, exact) in table {
        let value = work_out(text, style).unwrap_or_else(|| panic!("{text}: not read"));
        let num = value.known().unwrap_or_else(|| panic!("{text}: {value:?}"));
        assert!(
            (num.value() - expected).abs() < 1e-9,
            "{text}: {} is not {expected}",
            num.value()
        );
        assert_eq!(num.exact, *exact, "{text}: exact");
    }
}

/// Worked by hand. Order, remainder, FIX and FUP: documentation and source of the open RS274/NGC
/// interpreter (expressions, binary operators, unary operations); the first row is the sum that
/// its documentation works out.
#[test]
fn the_interpreters_brackets() {
    check(
        Style::Interpreter,
        &[
            ("[1 + acos[0] - [#3 ** [4.0/2]]]", 90.0, false),
            ("[2.0 / 3 * 1.5 - 5.5 / 11.0]", 0.5, false),
            ("2+3*4", 14.0, true),
            ("[2+3]*4", 20.0, true),
            ("2**3**2", 64.0, true),
            ("-2**2", 4.0, true),
            ("12/4/3", 1.0, true),
            ("10-4-3", 3.0, true),
            ("7 MOD 4 * 2", 6.0, true),
            ("-7 MOD 4", 1.0, true),
            ("1 + 2 EQ 3", 1.0, true),
            ("1 EQ 2 OR 3 GT 2", 1.0, true),
            ("1 OR 0 AND 0", 0.0, true),
            ("#1*#2", 1.5, true),
            ("##3", 3.0, true),
            ("#[#3+1]", 0.5, true),
            ("#<depth>*2", 3.68, true),
            ("#< de pth >", 1.84, true),
            ("-#1", -3.0, true),
            ("-[#1-1]", -2.0, true),
            ("FIX[-2.8]", -3.0, true),
            ("FIX[2.8]", 2.0, true),
            ("FUP[-2.8]", -2.0, true),
            ("FUP[2.1]", 3.0, true),
            ("ROUND[2.5]", 3.0, true),
            ("ROUND[-2.5]", -3.0, true),
            ("ABS[#4]", 2.5, true),
            ("SQRT[3]", 1.732_050_807_569, false),
            ("SQRT[2.25]", 1.5, true),
            ("SIN[30]", 0.5, false),
            ("COS[60]", 0.5, false),
            ("TAN[29.5]", 0.565_772_778_188, false),
            ("ATAN[1]/[1]", 45.0, false),
            ("ATAN[-1]/[-1]", -135.0, false),
            ("ASIN[0.5]", 30.0, false),
            ("LN[1]", 0.0, false),
            ("EXP[0]", 1.0, false),
            ("EXISTS[#<depth>]", 1.0, true),
            ("EXISTS[#<other>]", 0.0, true),
            ("0.1+0.2", 0.3, true),
            ("0.1+0.2 EQ 0.3", 1.0, true),
            ("1/4", 0.25, true),
            ("1/3", 1.0 / 3.0, false),
            (".5+.25", 0.75, true),
        ],
    );
    for text in ["[1", "1+", "#", "]", "#<open", "SIN 30", "SIN[]"] {
        assert_eq!(work_out(text, Style::Interpreter), None, "{text}");
    }
}

/// Other controls: FIX and FUP towards zero and away from it, AND as a multiplication of bits, an
/// empty variable (all from memory).
#[test]
fn other_brackets() {
    check(
        Style::Brackets,
        &[
            ("FIX[-2.8]", -2.0, true),
            ("FUP[-2.1]", -3.0, true),
            ("FUP[2.1]", 3.0, true),
            ("6 AND 3 + 1", 3.0, true),
            ("[#1 EQ 3] AND [#3 LT 2]", 1.0, true),
            ("[#1 EQ 3] OR [#3 GT 2]", 1.0, true),
            ("#1GT2", 1.0, true),
            ("#0 EQ #0", 1.0, true),
            ("#0 EQ 0", 0.0, true),
            ("#0 NE 0", 1.0, true),
            ("#0 GE 0", 1.0, true),
            ("#0+5", 5.0, true),
            ("ATAN[1]/[2]", 26.565_051_177, false),
        ],
    );
    for (text, why) in [
        ("#1 EQ 3 AND #3 LT 2", Why::Order),
        ("-7 MOD 4", Why::Differs),
        ("ATAN[-1]/[-1]", Why::NoResult),
        ("1/0", Why::NoResult),
        ("SQRT[-1]", Why::NoResult),
        ("ASIN[2]", Why::NoResult),
        ("#5*#6", Why::DependsOn(5)),
    ] {
        let value = work_out(text, Style::Brackets).unwrap();
        assert_eq!(value.why(), Some(why), "{text}");
    }
}

/// With parentheses (from memory).
#[test]
fn parentheses() {
    check(
        Style::Parentheses,
        &[
            ("R1+2*3", 13.0, true),
            ("(R1+2)*3", 27.0, true),
            ("R[R3-1]", 7.0, true),
            ("7 DIV 2", 3.0, true),
            ("7 MOD 2", 1.0, true),
            ("3/4", 0.75, true),
            ("DEPTH-STEP*2", 1.34, true),
            ("SIN(30)", 0.5, false),
            ("TRUNC(-2.7)", -2.0, true),
            ("ROUND(2.5)", 3.0, true),
            ("POT(3)", 9.0, true),
            ("SQRT(4)", 2.0, true),
            ("MINVAL(2,3)", 2.0, true),
            ("R1==7", 1.0, true),
            ("R1<>7", 0.0, true),
            ("R1>=7", 1.0, true),
            ("(R1==7) AND (R3<1)", 0.0, true),
            ("NOT (R1==7)", 0.0, true),
            ("-R1", -7.0, true),
        ],
    );
    let both = work_out("R1==7 AND R3<1", Style::Parentheses).unwrap();
    assert_eq!(both, Value::Unknown(Why::Order));
    let system = work_out("$AA_IW[X]+1", Style::Parentheses).unwrap();
    assert_eq!(system, Value::Unknown(Why::System));
}

/// What is left of an unknown: a factor and a summand, and the ratio of two of them.
#[test]
fn one_unknown_is_carried() {
    let linear = |by: &str, plus: &str| {
        let literal = |text: &str| Num::literal(Number::parse(text.as_bytes()).unwrap()).unwrap();
        Value::Linear(Linear {
            of: 5,
            by: literal(by),
            plus: literal(plus),
        })
    };
    for (text, expected) in [
        ("0.6134*#5", linear("0.6134", "0")),
        ("[#5-1]*2+#5", linear("3", "-2")),
        ("#5/4", linear("0.25", "0")),
    ] {
        assert_eq!(work_out(text, Style::Brackets), Some(expected), "{text}");
    }
    check(
        Style::Brackets,
        &[
            ("[#5*0.6134]/#5", 0.6134, true),
            ("#5-#5+2", 2.0, true),
            ("#5+1 GT #5", 1.0, true),
        ],
    );
}

/// Nested deeper than anyone writes, and long: no overflow of the stack and no long wait.
#[test]
fn hostile_nesting() {
    for text in ["[", "-", "#", "SIN[", "1+[", "##[", "[#"] {
        let text = text.repeat(100_000);
        for style in [Style::Interpreter, Style::Brackets, Style::Parentheses] {
            let value = work_out(&text, style);
            assert!(
                value.is_none_or(|value| value.known().is_none()),
                "{style:?}"
            );
        }
    }
    let long = format!("1{}", "+1".repeat(50_000));
    assert_eq!(
        work_out(&long, Style::Brackets).unwrap().known(),
        Num::of(50_001)
    );
}
