//! What is asked of a program with one fault and of the same program mended, and that every rule
//! is asked it.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::io::Write as _;

use lexer::program::Settings;

use super::respell::SPELLINGS;
use super::{judged, judged_with, mended};
use crate::checks::RULES;
use crate::facts::Facts;
use crate::finding::{Finding, FixKind, Severity};
use crate::fix::{edited, fix};

/// Where the rules' tests note what they have proven, for [`every_rule_is_proven`].
const LOG: &str = "FLANKWISE_SEEDED";

/// Faults that necessarily show in a second rule, with the reason.
const ALSO: &[(&str, &str, &str)] = &[
    (
        "depth-scale",
        "depth-vs-form",
        "a height with a wrong scale misses the form",
    ),
    (
        "depth-scale",
        "first-pass-heavy",
        "a first cut with a wrong scale is the whole height",
    ),
    (
        "helix-uneven",
        "helix-pitch",
        "one half turn of another advance changes their mean",
    ),
    (
        "lead-vs-designation",
        "feed-mode",
        "threads per inch as a lead are beyond every axis",
    ),
    (
        "lead-vs-designation",
        "multi-start-lead",
        "starts a pitch apart are none on a lead of a pitch",
    ),
    (
        "loop-never-ends",
        "first-pass-heavy",
        "what a loop that runs away cuts is no infeed",
    ),
    (
        "loop-never-ends",
        "start-inside-crest",
        "what a loop that runs away cuts is no infeed",
    ),
    (
        "min-bore",
        "bore-diameter",
        "a bore too narrow for the bar is too small for its thread",
    ),
    (
        "multi-start-lead",
        "lead-vs-designation",
        "the pitch in place of the lead of the designation",
    ),
    (
        "nose-too-big",
        "pitch-diameter-out",
        "a flat too wide for the groove takes its flanks away",
    ),
    (
        "pass-under-minimum",
        "load-spike",
        "whatever follows a sliver is a multiple of it",
    ),
    (
        "return-in-material",
        "blank-diameter",
        "a blank that reaches beyond the start is no blank of the thread",
    ),
    (
        "return-in-material",
        "bore-diameter",
        "a bore that reaches beyond the start is no bore of the thread",
    ),
    (
        "stale-cycle-word",
        "depth-scale",
        "the first cut left over is beyond the whole height",
    ),
    (
        "start-inside-crest",
        "depth-vs-form",
        "the drive line counts its depth from the start",
    ),
    (
        "unit-mode-conflict",
        "depth-scale",
        "increments of the wrong unit are off by a digit",
    ),
    (
        "wrong-side",
        "depth-vs-form",
        "from the wrong side the depth leads away from the form",
    ),
];

/// Spellings that are another fault, with the reason.
const OTHER_FAULT: &[(&str, &str, &str)] = &[
    (
        "cycle-word-missing",
        "no spaces",
        "a lone P before Q400 becomes the name PQ400",
    ),
    (
        "lead-rounding",
        "trailing zeros",
        "a lead with more decimals is rounded finer",
    ),
];

/// Notes a pair that is sound.
///
/// # Errors
/// Everything that is wrong with it.
pub(super) fn prove(rule: &str, facts: &Facts, bad: &str, good: &str) -> Result<(), String> {
    let mut wrong = String::new();
    let mut say = |what: String| {
        let _ = writeln!(wrong, "- {what}");
    };
    let found = judged_with(rule, bad, facts);
    match &found[..] {
        [one] if one.fixes.is_empty() || mended(bad, one) == good => {}
        [one] => say(format!("the first fix gives:\n{}", mended(bad, one))),
        _ => say(format!("{} findings of the rule: {found:?}", found.len())),
    }
    let left = judged_with(rule, good, facts);
    if !left.is_empty() {
        say(format!("not silent on the mended twin: {left:?}"));
    }
    for other in loud(rule, bad, facts) {
        if !ALSO.iter().any(|(a, b, _)| (*a, *b) == (rule, other.rule)) {
            say(format!("another fault: {}: {}", other.rule, other.message));
        }
    }
    for other in loud(rule, good, facts) {
        say(format!("not mended: {}: {}", other.rule, other.message));
    }
    for (name, respell) in SPELLINGS {
        if OTHER_FAULT.iter().any(|(a, b, _)| (*a, *b) == (rule, name)) {
            continue;
        }
        let (bad, good) = (respell(bad), respell(good));
        let found = judged_with(rule, &bad, facts).len();
        if found != 1 {
            say(format!("with {name} {found} findings in:\n{bad}"));
        }
        if !judged_with(rule, &good, facts).is_empty() {
            say(format!("with {name} not silent on:\n{good}"));
        }
    }
    fixes(rule, facts, bad, &mut say);
    if !wrong.is_empty() {
        return Err(format!("{rule}\n{bad}\nand\n{good}\n{wrong}"));
    }
    note(rule, good);
    Ok(())
}

/// Errors and warnings of other rules.
fn loud(rule: &str, text: &str, facts: &Facts) -> Vec<Finding> {
    let mut all = judged(text, facts).findings;
    all.retain(|finding| finding.severity > Severity::Advice && finding.rule != rule);
    all
}

fn errors(findings: &[Finding]) -> BTreeMap<&'static str, usize> {
    let mut counts = BTreeMap::new();
    for finding in findings
        .iter()
        .filter(|one| one.severity == Severity::Error)
    {
        *counts.entry(finding.rule).or_default() += 1;
    }
    counts
}

/// Each fix takes its finding away, brings no error, is of the kind that it says; mending twice is
/// mending once, and what stands around the edits stays as it was.
fn fixes(rule: &str, facts: &Facts, bad: &str, say: &mut impl FnMut(String)) {
    let settings = Settings::default();
    let before = judged(bad, facts).findings;
    let own = before.iter().find(|finding| finding.rule == rule);
    for one in own.iter().flat_map(|finding| &finding.fixes) {
        let title = &one.title;
        let Some(text) = edited(bad.as_bytes(), one) else {
            say(format!("`{title}` does not fit the text"));
            continue;
        };
        let program = lexer::read(&text, &settings);
        let after = crate::judge::judge(&text, &program, &settings, facts).findings;
        if after.iter().any(|finding| finding.rule == rule) {
            say(format!("`{title}` leaves the finding"));
        }
        let had = errors(&before);
        for (new, count) in errors(&after) {
            if had.get(new).unwrap_or(&0) < &count {
                say(format!("`{title}` brings an error: {new}"));
            }
        }
        let same = lexer::effects(bad.as_bytes(), &settings) == lexer::effects(&text, &settings);
        if same != (one.kind == FixKind::Text) {
            say(format!("`{title}` is not of the kind that it says"));
        }
    }
    let once = fix(bad.as_bytes(), &settings, facts, true);
    let twice = fix(&once.bytes, &settings, facts, true);
    if !once.fighting.is_empty() || twice.bytes != once.bytes {
        say(format!(
            "mended twice is not mended once: {:?}",
            once.fighting
        ));
    }
    if own.is_some_and(|own| !own.fixes.is_empty())
        && once.left.iter().any(|finding| finding.rule == rule)
    {
        say(format!("the finding is left: {:?}", once.refused));
    }
    if !once.applied.is_empty()
        && fix(&old_tape(bad.as_bytes()), &settings, facts, true).bytes != old_tape(&once.bytes)
    {
        say("line ends, leader, code page or trailing bytes are not kept".to_owned());
    }
}

/// The text as an old machine sends it: a leader, a comment in a code page of its own, CR LF, and
/// bytes behind the end.
fn old_tape(text: &[u8]) -> Vec<u8> {
    let mut out = b"\0\0\r\n(PUMPENGEH\x8eUSE \x96 \xc4)\r\n".to_vec();
    for &byte in text {
        if byte == b'\n' {
            out.push(b'\r');
        }
        out.push(byte);
    }
    out.extend_from_slice(b"\x1a\0\0");
    out
}

/// Adds a sound pair to the log, where one is kept.
fn note(rule: &str, good: &str) {
    let Some(log) = std::env::var_os(LOG) else {
        return;
    };
    let sections = lexer::read(good.as_bytes(), &Settings::default()).sections;
    let syntaxes: Vec<&str> = sections.iter().map(|one| one.syntax.name()).collect();
    let line = format!("{rule}\t{}\t{}\n", syntaxes.join(" "), form(good));
    let file = std::fs::OpenOptions::new()
        .create(true)
        .append(true)
        .open(log);
    file.and_then(|mut file| file.write_all(line.as_bytes()))
        .expect("the log of the proofs is written");
}

/// The codes and the letters of a program without their numbers: how it is written.
fn form(text: &str) -> String {
    let mut codes = BTreeSet::new();
    let code = text.to_uppercase();
    for word in code.split(|c: char| !c.is_ascii_alphanumeric() && c != '.') {
        let mut rest = word;
        while let Some(at) = rest.find('G') {
            let digits = rest[at + 1..]
                .bytes()
                .take_while(|b| b.is_ascii_digit() || *b == b'.');
            let end = at + 1 + digits.count();
            codes.insert(rest[at..end].trim_end_matches('.').to_owned());
            rest = &rest[end..];
        }
        if word.starts_with("CYCLE") {
            codes.insert(word.to_owned());
        }
    }
    codes.into_iter().collect::<Vec<_>>().join(" ")
}

/// Runs the tests of the rules once more and counts what they have proven: five programs a rule,
/// in at least three ways of writing.
#[test]
fn every_rule_is_proven() {
    let log = std::env::temp_dir().join(format!("flankwise-seeded-{}", std::process::id()));
    let _ = std::fs::remove_file(&log);
    let ran = std::process::Command::new(std::env::current_exe().expect("this test is a program"))
        .args([
            "checks::",
            "waive::",
            "--skip",
            "checks::sound",
            "--skip",
            "every_rule_is_proven",
        ])
        .env(LOG, &log)
        .output()
        .expect("the tests run");
    let text = std::fs::read_to_string(&log).expect("the proofs are noted");
    let _ = std::fs::remove_file(&log);
    let mut pairs: BTreeMap<&str, usize> = BTreeMap::new();
    let mut forms: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    let mut syntaxes = BTreeSet::new();
    for line in text.lines() {
        let mut parts = line.split('\t');
        let (Some(rule), Some(syntax), Some(form)) = (parts.next(), parts.next(), parts.next())
        else {
            panic!("{line}");
        };
        *pairs.entry(rule).or_default() += 1;
        forms.entry(rule).or_default().insert(form);
        syntaxes.extend(syntax.split(' ').filter(|one| !one.is_empty()));
    }
    let mut missing = String::new();
    for rule in RULES {
        let count = pairs.get(rule.name).copied().unwrap_or(0);
        let ways = forms.get(rule.name).map_or(0, BTreeSet::len);
        if count < 5 || ways < 3 {
            let _ = writeln!(
                missing,
                "{}: {count} programs, {ways} ways of writing",
                rule.name
            );
        }
    }
    for syntax in lexer::section::Syntax::ALL {
        if !syntaxes.contains(syntax.name()) {
            let _ = writeln!(missing, "no program with a section in {}", syntax.name());
        }
    }
    assert!(missing.is_empty(), "{missing}");
    assert!(
        ran.status.success(),
        "{}",
        String::from_utf8_lossy(&ran.stdout)
    );
}
