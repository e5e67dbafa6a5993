use lexer::source::Span;

use super::*;

/// A finding at each place of `wrong` with a fix that writes `right` there.
fn replace(
    text: &[u8],
    rule: &'static str,
    kind: FixKind,
    wrong: &str,
    right: &str,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (at, window) in text.windows(wrong.len()).enumerate() {
        if window == wrong.as_bytes() {
            let span = Span::new(at as u32, (at + wrong.len()) as u32);
            findings.push(finding(rule, span, kind, right));
        }
    }
    findings
}

fn finding(rule: &'static str, span: Span, kind: FixKind, right: &str) -> Finding {
    Finding {
        rule,
        severity: Severity::Warning,
        span,
        line: 1,
        section: Some(span.start as usize),
        message: format!("{rule} is broken"),
        because: Vec::new(),
        source: String::new(),
        help: String::new(),
        related: Vec::new(),
        fixes: vec![Fix {
            title: format!("write {right}"),
            kind,
            edits: vec![Edit {
                span,
                text: right.to_owned(),
            }],
        }],
    }
}

/// What the test texts do: everything but dots.
fn dotless(text: &[u8]) -> Vec<u8> {
    text.iter().copied().filter(|&byte| byte != b'.').collect()
}

#[test]
fn all_places_are_mended_and_a_second_time_changes_nothing() {
    let judge = |text: &[u8]| replace(text, "dots", FixKind::Text, "3 ", "3. ");
    let once = mend(b"G1 X3 Z3 F3 \r\n", false, judge, dotless);
    assert_eq!(once.bytes, b"G1 X3. Z3. F3. \r\n");
    assert_eq!(once.applied.len(), 3);
    assert_eq!((once.left.len(), once.fighting.len()), (0, 0));
    let twice = mend(&once.bytes, false, judge, dotless);
    assert_eq!((twice.bytes, twice.applied.len()), (once.bytes, 0));
}

#[test]
fn a_text_fix_that_changes_the_motion_is_refused_and_the_others_are_kept() {
    let judge = |text: &[u8]| {
        let mut findings = replace(text, "dots", FixKind::Text, "X3 ", "X3. ");
        findings.extend(replace(text, "liar", FixKind::Text, "Z3", "Z4"));
        findings.extend(replace(text, "dots", FixKind::Text, "F3 ", "F3. "));
        findings
    };
    let mended = mend(b"X3 Z3 F3 ", false, judge, dotless);
    assert_eq!(mended.bytes, b"X3. Z3 F3. ");
    assert_eq!(mended.refused.len(), 1);
    assert_eq!(mended.refused[0].rule, "liar");
    assert_eq!(
        mended.refused[0].why,
        "it would change what the machine does"
    );
    assert_eq!(mended.left.len(), 1);
}

#[test]
fn motion_only_when_allowed() {
    let judge = |text: &[u8]| replace(text, "depth", FixKind::Motion, "P18", "P1840");
    let kept = mend(b"G76 P18 ", false, judge, dotless);
    assert_eq!(kept.bytes, b"G76 P18 ");
    assert!(kept.applied.is_empty() && kept.refused.is_empty());
    // `P18` is also found in `P1840`, so that the fix does not mend its finding.
    let refused = mend(b"G76 P18 ", true, judge, dotless);
    assert_eq!(refused.bytes, b"G76 P18 ");
    assert_eq!(refused.refused[0].why, "it does not mend its finding");
    let judge = |text: &[u8]| replace(text, "depth", FixKind::Motion, "P18 ", "P1840 ");
    let mended = mend(b"G76 P18 ", true, judge, dotless);
    assert_eq!(mended.bytes, b"G76 P1840 ");
    assert_eq!(mended.applied[0].kind, FixKind::Motion);
}

#[test]
fn no_fix_may_bring_an_error() {
    let judge = |text: &[u8]| {
        let mut findings = replace(text, "depth", FixKind::Motion, "P1 ", "P2 ");
        for mut error in replace(text, "crash", FixKind::Text, "P2 ", "P2 ") {
            error.severity = Severity::Error;
            findings.push(error);
        }
        findings
    };
    let mended = mend(b"P1 ", true, judge, dotless);
    assert_eq!(mended.bytes, b"P1 ");
    assert_eq!(mended.refused[0].why, "it would bring a new error: crash");
}

#[test]
fn rules_that_fight_are_named_and_stopped() {
    let judge = |text: &[u8]| {
        let mut findings = replace(text, "up", FixKind::Motion, "F1 ", "F2 ");
        findings.extend(replace(text, "down", FixKind::Motion, "F2 ", "F1 "));
        findings.extend(replace(text, "dots", FixKind::Text, "X3 ", "X3. "));
        findings
    };
    let mended = mend(b"X3 F1 ", true, judge, dotless);
    assert_eq!(mended.bytes, b"X3. F1 ");
    assert_eq!(mended.fighting, ["down", "up"]);
    assert_eq!(mended.applied.len(), 1);
    let again = mend(&mended.bytes, true, judge, dotless);
    assert_eq!(again.bytes, mended.bytes);
}

#[test]
fn a_text_that_never_rests_is_left_alone() {
    let judge = |text: &[u8]| {
        let end = text.len() as u32;
        let mut growing = finding("grow", Span::new(end, end), FixKind::Motion, "1");
        growing.message = format!("{end} digits");
        vec![growing]
    };
    let mended = mend(b"F", true, judge, dotless);
    assert_eq!(mended.bytes, b"F");
    assert_eq!(mended.fighting, ["grow"]);
    assert!(mended.applied.is_empty());
}

#[test]
fn fixes_that_touch_wait_for_the_next_round() {
    let judge = |text: &[u8]| {
        let mut findings = replace(text, "a", FixKind::Text, "X3 ", "X3. ");
        findings.extend(replace(text, "b", FixKind::Text, " Z3 ", " Z3. "));
        findings
    };
    let mended = mend(b"X3 Z3 ", false, judge, dotless);
    assert_eq!(mended.bytes, b"X3. Z3. ");
    let rules: Vec<_> = mended.applied.iter().map(|applied| applied.rule).collect();
    assert_eq!(rules, ["a", "b"]);
}

#[test]
fn one_motion_fix_a_section_and_round() {
    let mut rounds = Vec::new();
    let judge = |text: &[u8]| {
        rounds.push(text.to_vec());
        let mut findings = replace(text, "depth", FixKind::Motion, "P1 ", "P9 ");
        findings.extend(replace(text, "start", FixKind::Motion, "Z1 ", "Z9 "));
        for finding in &mut findings {
            finding.section = Some(0);
        }
        findings
    };
    let mended = mend(b"P1 X20. Z1 ", true, judge, dotless);
    assert_eq!(mended.bytes, b"P9 X20. Z9 ");
    assert_eq!(
        rounds,
        [&b"P1 X20. Z1 "[..], b"P9 X20. Z1 ", b"P9 X20. Z9 "]
    );
}

#[test]
fn edits_that_do_not_fit_are_refused() {
    let cases = [
        (Span::new(2, 9), "x", "its edits do not fit the text"),
        (Span::new(2, 1), "x", "its edits do not fit the text"),
        (
            Span::new(0, 1),
            "\u{2212}1",
            "it would write characters that a control may not read",
        ),
        (Span::new(0, 2), "F1", "it changes nothing"),
    ];
    for (span, right, why) in cases {
        let judge = |_: &[u8]| vec![finding("bad", span, FixKind::Text, right)];
        let mended = mend(b"F1", false, judge, dotless);
        assert_eq!(mended.bytes, b"F1");
        assert_eq!(mended.refused[0].why, why);
    }
}

#[test]
fn bytes_outside_the_edits_stay() {
    let mut text = b"%\r\n(\xd0\xe5\xe7\xfc\xe1\xe0 \x1b[31m)\rX3 \n\r\r".to_vec();
    text.extend(0..=255u8);
    let judge = |text: &[u8]| replace(text, "dots", FixKind::Text, "X3 ", "X3. ");
    let mended = mend(&text, false, judge, dotless);
    let at = text.windows(3).position(|window| window == b"X3 ").unwrap();
    let mut wanted = text.clone();
    wanted.splice(at..at + 3, *b"X3. ");
    assert_eq!(mended.bytes, wanted);
}

/// Two rules want the same word: the first in order mends it, the other is told of.
#[test]
fn a_fix_that_an_earlier_one_made_needless_is_told() {
    let judge = |text: &[u8]| {
        let mut findings = replace(text, "first", FixKind::Motion, "X3", "X4");
        findings.extend(replace(text, "second", FixKind::Motion, "X3", "X5"));
        findings
    };
    let mended = mend(b"G1 X3\n", true, judge, dotless);
    assert_eq!(mended.bytes, b"G1 X4\n");
    assert_eq!(mended.applied.len(), 1);
    let [overtaken] = mended.overtaken.as_slice() else {
        panic!("{:?}", mended.overtaken);
    };
    assert_eq!(
        (overtaken.rule, overtaken.title.as_str()),
        ("second", "write X5")
    );
    // What is not allowed was not asked for.
    let mended = mend(b"G1 X3\n", false, judge, dotless);
    assert!(mended.overtaken.is_empty() && mended.applied.is_empty());
    assert_eq!(mended.left.len(), 2);
}
