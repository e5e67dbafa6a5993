//! Judges small programs in the tests of the rules.

mod respell;
mod seeded;

use lexer::program::Settings;

use crate::checks::RULES;
use crate::facts::{Config, Facts};
use crate::finding::Finding;
use crate::judge::{Judgement, judge};

/// The judgement of a program with facts.
pub(crate) fn judged(text: &str, facts: &Facts) -> Judgement {
    let settings = Settings::default();
    let program = lexer::read(text.as_bytes(), &settings);
    judge(text.as_bytes(), &program, &settings, facts)
}

/// The findings of one rule without facts.
pub(crate) fn findings(rule: &str, text: &str) -> Vec<Finding> {
    let mut all = judged(text, &Facts::default()).findings;
    all.retain(|finding| finding.rule == rule);
    all
}

/// The facts of a configuration for a program `part.nc`.
pub(crate) fn facts_of(toml: &str) -> Facts {
    let rules: Vec<&str> = RULES.iter().map(|rule| rule.name).collect();
    let config = Config::parse("flankwise.toml", toml, &rules).expect("a sound configuration");
    config.facts("part.nc").1
}

/// The findings of one rule with facts.
pub(crate) fn judged_with(rule: &str, text: &str, facts: &Facts) -> Vec<Finding> {
    let mut all = judged(text, facts).findings;
    all.retain(|finding| finding.rule == rule);
    all
}

/// The text with the first fix of a finding.
pub(crate) fn mended(text: &str, finding: &Finding) -> String {
    let fix = finding.fixes.first().expect("a fix is offered");
    let mut mended = text.to_owned();
    for edit in fix.edits.iter().rev() {
        let span = edit.span.start as usize..edit.span.end as usize;
        mended.replace_range(span, &edit.text);
    }
    mended
}

/// Asserts that each program has one finding of the rule and each mended twin none, and all that
/// [`seeded`] asks of such a pair.
pub(crate) fn assert_pairs(rule: &str, pairs: &[(&str, &str)]) {
    assert_pairs_with(rule, &Facts::default(), pairs);
}

/// [`assert_pairs`] with facts.
pub(crate) fn assert_pairs_with(rule: &str, facts: &Facts, pairs: &[(&str, &str)]) {
    let wrong: Vec<String> = pairs
        .iter()
        .filter_map(|(bad, good)| seeded::prove(rule, facts, bad, good).err())
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// [`assert_pairs_with`] where the mended twin is what the first fix makes of the program.
pub(crate) fn assert_mended(rule: &str, facts: &Facts, texts: &[&str]) {
    for text in texts {
        let found = judged_with(rule, text, facts);
        assert_eq!(found.len(), 1, "{text}\n{found:?}");
        assert_pairs_with(rule, facts, &[(text, &mended(text, &found[0]))]);
    }
}

/// Asserts that no program has a finding of the rule.
pub(crate) fn assert_silent(rule: &str, texts: &[&str]) {
    for text in texts {
        assert!(
            findings(rule, text).is_empty(),
            "{text}\n{:?}",
            findings(rule, text)
        );
    }
}
