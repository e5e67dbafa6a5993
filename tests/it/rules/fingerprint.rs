//! Names of findings: the same for a program that was renumbered, moved about and spaced anew,
//! another for one that cuts something else.

use std::collections::BTreeSet;

use ::rules::fingerprint::{Print, of_findings};
use lexer::block::blocks;
use proptest::prelude::*;
use proptest::test_runner::TestCaseError;

use super::*;

/// A finding by rule and name.
type Named = BTreeSet<(&'static str, Print)>;

fn named(case: &Case, text: &[u8]) -> Named {
    let program = lexer::read(text, &case.settings);
    let findings = judge(text, &program, &case.settings, &case.facts).findings;
    let prints = of_findings(text, &program, &findings);
    let rules = findings.iter().map(|finding| finding.rule);
    let all: Named = rules.zip(prints).collect();
    assert_eq!(all.len(), findings.len(), "no two findings share a name");
    all
}

/// What is done to a line.
#[derive(Debug, Clone)]
struct Shift {
    /// Blanks between the words.
    gap: usize,
    number: bool,
    small: bool,
    blank_before: bool,
    comment_before: bool,
}

fn shift() -> impl Strategy<Value = Shift> {
    (
        0usize..3,
        any::<bool>(),
        any::<bool>(),
        prop::bool::weighted(0.2),
        prop::bool::weighted(0.1),
    )
        .prop_map(|(gap, number, small, blank_before, comment_before)| Shift {
            gap,
            number,
            small,
            blank_before,
            comment_before,
        })
}

/// The same blocks, written another way.
fn rewritten(text: &[u8], shifts: &[Shift], step: u32, crlf: bool) -> Vec<u8> {
    let mut out = Vec::new();
    let end: &[u8] = if crlf { b"\r\n" } else { b"\n" };
    for (at, block) in blocks(text).into_iter().enumerate() {
        let shift = &shifts[at % shifts.len()];
        if shift.blank_before && at > 1 {
            out.extend_from_slice(end);
        }
        if shift.comment_before && at > 1 {
            out.extend_from_slice(b"(CHECKED)");
            out.extend_from_slice(end);
        }
        let plain = block.names.is_empty() && block.faults.is_empty() && block.statement.is_none();
        if !plain || block.words.is_empty() || block.skip.is_some() || block.program.is_some() {
            out.extend_from_slice(block.span.of(text));
            out.extend_from_slice(end);
            continue;
        }
        if shift.number {
            out.extend_from_slice(format!("N{}", (at as u32 + 1) * step).as_bytes());
            out.extend(std::iter::repeat_n(b' ', shift.gap.max(1)));
        }
        for word in &block.words {
            let word = word.span.of(text);
            out.extend_from_slice(&if shift.small {
                word.to_ascii_lowercase()
            } else {
                word.to_ascii_uppercase()
            });
            out.extend(std::iter::repeat_n(b' ', shift.gap));
        }
        for comment in &block.comments {
            out.extend_from_slice(comment.of(text));
        }
        out.extend_from_slice(end);
    }
    out
}

/// Rules that look at the spelling of a text, which another spelling mends or breaks.
const SPELLING: [&str; 1] = ["code-damaged"];

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    #[test]
    fn names_survive_another_way_of_writing(
        shifts in prop::collection::vec(shift(), 1..12),
        step in 1u32..200,
        crlf in any::<bool>(),
    ) {
        for case in cases().filter(|case| !SPELLING.contains(&case.rule.name)) {
            let bad = case.text("bad.nc");
            let other = rewritten(&bad, &shifts, step, crlf);
            let (before, after) = (named(&case, &bad), named(&case, &other));
            if before != after {
                let text = String::from_utf8_lossy(&other).into_owned();
                return Err(TestCaseError::fail(format!("{}:\n{text}\n{before:?}\n{after:?}", case.rule.name)));
            }
        }
    }
}

#[test]
fn another_cut_has_another_name() {
    let case = Case::of(Rule::named("equal-depth-passes").unwrap());
    let bad = case.text("bad.nc");
    let text = String::from_utf8(bad.clone()).unwrap();
    let other = text.replace("Z-42.", "Z-41.");
    assert_ne!(text, other);
    let (before, after) = (named(&case, &bad), named(&case, other.as_bytes()));
    assert_eq!((before.len(), after.len()), (1, 1));
    assert!(before.is_disjoint(&after));
}

/// Two sections alike in one file are two findings.
#[test]
fn twins_are_counted() {
    let case = Case::of(Rule::named("equal-depth-passes").unwrap());
    let text = String::from_utf8(case.text("bad.nc")).unwrap();
    let twin =
        text.replace("M30\n%\n", "") + &text.replace("%\nO2170", "O2171").replace("T0303", "T0505");
    let all = named(&case, twin.as_bytes());
    let numbers: Vec<_> = all
        .iter()
        .filter(|(rule, _)| *rule == "equal-depth-passes")
        .map(|(_, print)| (print.number, print.hash.clone()))
        .collect();
    assert_eq!(numbers.len(), 2, "{twin}");
    assert_eq!(
        numbers
            .iter()
            .map(|(number, _)| *number)
            .collect::<Vec<_>>(),
        [1, 2]
    );
    assert_eq!(numbers[0].1, numbers[1].1);
}
