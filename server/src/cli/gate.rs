//! What a run of `check` looks at besides single programs: which rules run, and how the waivers
//! of the configuration fared over all programs.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::fs;
use std::path::PathBuf;

use lexer::program::{Program, Settings};
use lexer::source::Lines;
use rules::checks::{RULES, Rule};
use rules::date::Date;
use rules::facts::{Facts, Setting};
use rules::finding::Finding;
use rules::judge::Judgement;
use rules::nearest::nearest;
use rules::waive::{By, of_config};

use super::args::Rules;
use super::examine::{Batch, Examined};
use crate::config::Configured;
use crate::show::verdict::{Known, verdict};
use crate::show::visible;

/// The rules of `--select` and `--ignore`.
pub(super) struct Choice<'a> {
    select: Vec<&'a str>,
    ignore: Vec<&'a str>,
}

impl<'a> Choice<'a> {
    /// Reads the names.
    ///
    /// # Errors
    /// What is wrong with them, one line each.
    pub(super) fn read(rules: &'a Rules) -> Result<Choice<'a>, Vec<String>> {
        let mut wrong = Vec::new();
        let mut names = |option: &str, list: &'a [String]| {
            let names = list.iter().map(|name| name.trim());
            let names: Vec<&str> = names.filter(|name| !name.is_empty()).collect();
            for name in &names {
                if Rule::named(name).is_none() {
                    let hint = match nearest(name, RULES.iter().map(|rule| rule.name)) {
                        Some(near) => format!("did you mean {near}?"),
                        None => "`flankwise explain` lists all rules".to_owned(),
                    };
                    wrong.push(format!(
                        "{option}: there is no rule {}: {hint}",
                        visible::text(name)
                    ));
                }
            }
            names
        };
        let choice = Choice {
            select: names("--select", &rules.select),
            ignore: names("--ignore", &rules.ignore),
        };
        if wrong.is_empty() {
            Ok(choice)
        } else {
            Err(wrong)
        }
    }

    /// Switches rules off, and on again those that are selected.
    pub(super) fn apply(&self, rules: &mut BTreeMap<String, Setting>) {
        for rule in RULES {
            let selected = self.select.contains(&rule.name);
            if self.ignore.contains(&rule.name) || !self.select.is_empty() && !selected {
                rules.insert(rule.name.to_owned(), Setting::Off);
            } else if selected && rules.get(rule.name) == Some(&Setting::Off) {
                rules.remove(rule.name);
            }
        }
    }
}

/// What became of the waivers of the configurations, by their place in words.
#[derive(Debug, Default, Clone)]
pub(super) struct Watch {
    /// For a program that was judged.
    seen: HashSet<String>,
    /// How many findings it covers.
    used: HashMap<String, usize>,
    /// For a program in which their rule did not run or could not judge.
    blind: HashSet<String>,
}

impl Watch {
    /// What one program tells.
    pub(super) fn of(facts: &Facts, judgement: &Judgement) -> Watch {
        let mut watch = Watch::default();
        for waiver in &facts.waivers {
            let off = facts.rules.get(&waiver.rule) == Some(&Setting::Off);
            let mut not_judged = judgement.not_judged.iter().flatten();
            if off || not_judged.any(|(rule, _)| *rule == waiver.rule) {
                watch.blind.insert(waiver.source.clone());
            }
            watch.seen.insert(waiver.source.clone());
        }
        for waived in &judgement.waived {
            if let By::Config { source, .. } = &waived.by {
                *watch.used.entry(source.clone()).or_default() += 1;
            }
        }
        watch
    }

    pub(super) fn add(&mut self, other: Watch) {
        self.seen.extend(other.seen);
        for (source, count) in other.used {
            *self.used.entry(source).or_default() += count;
        }
        self.blind.extend(other.blind);
    }

    /// What is wrong with the waivers of a configuration. `whole` says whether every program below
    /// its folder was judged.
    pub(super) fn findings(
        &self,
        configured: &Configured,
        rules: &BTreeMap<String, Setting>,
        today: Option<Date>,
        whole: bool,
    ) -> Vec<Finding> {
        let mut findings = Vec::new();
        for waiver in &configured.waivers {
            let off = rules.get(&waiver.rule) == Some(&Setting::Off);
            let complete = whole && !off && !self.blind.contains(&waiver.source);
            if !complete && !self.seen.contains(&waiver.source) {
                continue;
            }
            let used = self.used.get(&waiver.source).copied().unwrap_or(0);
            let Some(mut finding) = of_config(waiver, today, used, complete) else {
                continue;
            };
            match rules.get(finding.rule) {
                Some(Setting::Off) => continue,
                Some(Setting::Severity(severity)) => finding.severity = *severity,
                None => {}
            }
            findings.push(finding);
        }
        findings
    }
}

/// Whether a run looked at every program below a folder.
pub(super) fn whole(batch: &Batch, paths: &[PathBuf], folder: &std::path::Path) -> bool {
    let holds = |path: &PathBuf| {
        path.is_dir() && fs::canonicalize(path).is_ok_and(|path| folder.starts_with(path))
    };
    !batch.narrowed && paths.iter().any(holds)
}

/// A configuration as something that has findings.
pub(super) fn examined(
    configured: &Configured,
    findings: Vec<Finding>,
    known: Option<Known>,
) -> Examined<'_> {
    let bytes = configured.text.clone().into_bytes();
    let lines = Lines::new(&bytes);
    let program = Program {
        lines: lines.clone(),
        ..lexer::read(b"", &Settings::default())
    };
    let mut judgement = Judgement::default();
    judgement.findings.extend(findings);
    let verdict = verdict(&bytes, &program, &mut judgement, known);
    Examined {
        shown: &configured.shown,
        bytes,
        lines,
        program,
        judgement,
        verdict,
    }
}
