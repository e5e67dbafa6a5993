//! How often each rule spoke.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use rules::checks::Rule;
use rules::finding::{Finding, Severity};
use serde::Serialize;

/// Counts by rule.
#[derive(Debug, Default)]
pub(crate) struct Statistics(BTreeMap<&'static str, Count>);

#[derive(Debug, Default, Clone, Copy)]
struct Count {
    error: usize,
    warning: usize,
    advice: usize,
    programs: usize,
    fixes: usize,
}

/// What one rule found.
#[derive(Debug, Serialize)]
pub(crate) struct Row {
    rule: &'static str,
    findings: usize,
    error: usize,
    warning: usize,
    advice: usize,
    programs: usize,
    fixable: usize,
    summary: &'static str,
}

impl Statistics {
    /// Adds the findings of one program.
    pub(crate) fn add(&mut self, findings: &[(&'static str, Severity, bool)]) {
        let mut seen: Vec<&str> = Vec::new();
        for (rule, severity, fixable) in findings {
            let count = self.0.entry(rule).or_default();
            match severity {
                Severity::Error => count.error += 1,
                Severity::Warning => count.warning += 1,
                Severity::Advice => count.advice += 1,
            }
            count.fixes += usize::from(*fixable);
            if !seen.contains(rule) {
                seen.push(rule);
                count.programs += 1;
            }
        }
    }

    /// What [`Statistics::add`] wants to know of findings.
    pub(crate) fn of(findings: &[Finding]) -> Vec<(&'static str, Severity, bool)> {
        let of = |finding: &Finding| (finding.rule, finding.severity, !finding.fixes.is_empty());
        findings.iter().map(of).collect()
    }

    /// The rules that spoke: most findings first, then by name.
    pub(crate) fn rows(&self) -> Vec<Row> {
        let mut rows: Vec<Row> = self
            .0
            .iter()
            .map(|(rule, count)| Row {
                rule,
                findings: count.error + count.warning + count.advice,
                error: count.error,
                warning: count.warning,
                advice: count.advice,
                programs: count.programs,
                fixable: count.fixes,
                summary: Rule::named(rule).map_or("", |rule| rule.summary),
            })
            .collect();
        rows.sort_by_key(|row| (std::cmp::Reverse(row.findings), row.rule));
        rows
    }

    /// A table for a person.
    pub(crate) fn text(&self) -> String {
        let rows = self.rows();
        let width = rows
            .iter()
            .map(|row| row.rule.len())
            .max()
            .unwrap_or(0)
            .max(4);
        let mut table = String::new();
        if rows.is_empty() {
            return table;
        }
        let _ = writeln!(
            table,
            "findings  errors  warnings  advice  programs  with fix  {:width$}  what it finds",
            "rule"
        );
        for row in &rows {
            let _ = writeln!(
                table,
                "{:8}  {:6}  {:8}  {:6}  {:8}  {:8}  {:width$}  {}",
                row.findings,
                row.error,
                row.warning,
                row.advice,
                row.programs,
                row.fixable,
                row.rule,
                row.summary
            );
        }
        table.push('\n');
        table
    }
}
