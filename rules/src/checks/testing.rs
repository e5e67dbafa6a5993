//! Judges small programs in the tests of the rules.

use lexer::program::Settings;

use crate::facts::Facts;
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

/// The findings of one rule with facts.
pub(crate) fn judged_with(rule: &str, text: &str, facts: &Facts) -> Vec<Finding> {
    let mut all = judged(text, facts).findings;
    all.retain(|finding| finding.rule == rule);
    all
}
