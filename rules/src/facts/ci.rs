//! `[ci]`: what the gate of a repository needs to know.

use toml::Spanned;
use toml::de::DeValue;

use super::keys::{Keys, Slip};
use crate::finding::Severity;

/// How a gate judges a run.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Ci {
    /// Lowest severity that fails a run.
    pub fail_on: Option<FailOn>,
    /// File with the findings that are known already; from the folder of the configuration.
    pub baseline: Option<String>,
    /// Most seconds that a change may add to a part.
    pub time_budget_s: Option<f64>,
    /// Where `time_budget_s` stands, `flankwise.toml: ci`.
    pub source: String,
}

/// Which findings fail a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FailOn {
    /// Those of this severity and worse.
    Severity(Severity),
    /// None.
    Never,
}

const FAIL_ON: [(&str, FailOn); 4] = [
    ("error", FailOn::Severity(Severity::Error)),
    ("warning", FailOn::Severity(Severity::Warning)),
    ("advice", FailOn::Severity(Severity::Advice)),
    ("never", FailOn::Never),
];

pub(super) fn read(name: &str, value: Spanned<DeValue<'_>>, slips: &mut Vec<Slip>) -> Ci {
    let place = value.span();
    let DeValue::Table(table) = value.into_inner() else {
        slips.push((place, "ci must be a table, written as [ci]".to_owned()));
        return Ci::default();
    };
    let mut keys = Keys::new("[ci]", table, slips);
    let ci = Ci {
        fail_on: keys.choice("fail_on", &FAIL_ON),
        baseline: keys.text("baseline").map(Spanned::into_inner),
        time_budget_s: keys.not_negative("time_budget_s"),
        source: format!("{name}: ci"),
    };
    keys.finish();
    ci
}
