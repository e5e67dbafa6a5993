//! What stands in many threads at once: findings by rule, missing facts, reasons, assumptions.

use std::collections::{BTreeMap, BTreeSet};

use super::missing::settles;
use super::program::Planned;
use super::sum::Summed;
use crate::finding::Severity;

/// What one rule found.
#[derive(Debug, Clone, PartialEq)]
pub struct Wrong {
    /// The rule.
    pub rule: &'static str,
    /// Its worst severity.
    pub worst: Severity,
    /// Errors, warnings, advice.
    pub counts: [usize; 3],
    /// Programs that it concerns.
    pub programs: usize,
    /// Hours a year of the threads that it concerns, of those known.
    pub hours: f64,
    /// The worst and first place with its message.
    pub first: (String, String),
    /// How many of its findings have a fix.
    pub fixes: usize,
}

/// A fact that is missing.
#[derive(Debug, Clone, PartialEq)]
pub struct Missing {
    /// What it is.
    pub what: String,
    /// Where to state it; none where no key is known here.
    pub settle: Option<String>,
    /// Threads that it keeps from being judged.
    pub threads: usize,
    /// Their programs.
    pub programs: usize,
    /// Hours a year of those threads, of those known.
    pub hours: f64,
    /// Rules, and `time` for the seconds.
    pub rules: BTreeSet<&'static str>,
    /// The first place.
    pub first: String,
}

/// A sentence with the number of threads that it holds for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reason {
    /// The sentence.
    pub text: String,
    /// Threads.
    pub threads: usize,
    /// The first place.
    pub first: String,
}

const SEVERITIES: [Severity; 3] = [Severity::Error, Severity::Warning, Severity::Advice];

/// Place of a severity among counts.
pub(super) fn at(severity: Severity) -> usize {
    SEVERITIES.iter().position(|s| *s == severity).unwrap_or(0)
}

/// Hours a year of each thread, by program and thread.
fn hours(summed: &Summed) -> BTreeMap<(usize, usize), f64> {
    let rows = summed.rows.iter();
    rows.filter_map(|row| Some(((row.program, row.thread), row.hours_year?)))
        .collect()
}

pub(super) fn wrong(summed: &Summed) -> Vec<Wrong> {
    let hours = hours(summed);
    let mut all: BTreeMap<&'static str, (Wrong, BTreeSet<usize>)> = BTreeMap::new();
    for (index, program) in summed.programs.iter().enumerate() {
        for found in &program.findings {
            let place = || {
                (
                    format!("{}:{}", program.path, found.line),
                    found.message.clone(),
                )
            };
            let (one, programs) = all.entry(found.rule).or_insert_with(|| {
                let one = Wrong {
                    rule: found.rule,
                    worst: found.severity,
                    counts: [0; 3],
                    programs: 0,
                    hours: 0.0,
                    first: place(),
                    fixes: 0,
                };
                (one, BTreeSet::new())
            });
            if found.severity > one.worst {
                (one.worst, one.first) = (found.severity, place());
            }
            one.counts[at(found.severity)] += 1;
            one.fixes += usize::from(found.fix.is_some());
            programs.insert(index);
        }
    }
    // A rule may find several things in a thread, whose hours count once.
    for (index, program) in summed.programs.iter().enumerate() {
        let pairs: BTreeSet<(&'static str, usize)> = program
            .findings
            .iter()
            .filter_map(|found| Some((found.rule, found.thread?)))
            .collect();
        for (rule, thread) in pairs {
            if let (Some((one, _)), Some(hours)) = (all.get_mut(rule), hours.get(&(index, thread)))
            {
                one.hours += hours;
            }
        }
    }
    let mut all: Vec<Wrong> = all
        .into_values()
        .map(|(one, programs)| Wrong {
            programs: programs.len(),
            ..one
        })
        .collect();
    all.sort_by(|a, b| {
        (b.worst, b.counts)
            .cmp(&(a.worst, a.counts))
            .then(a.rule.cmp(b.rule))
    });
    all
}

pub(super) fn missing(summed: &Summed) -> Vec<Missing> {
    let mut all: BTreeMap<String, (Missing, BTreeSet<usize>)> = BTreeMap::new();
    for row in &summed.rows {
        let thread = summed.thread(row);
        let time = thread.seconds.as_ref().err().map(|why| ("time", why));
        let judged = thread.not_judged.iter().map(|(rule, why)| (*rule, why));
        let mut met = BTreeSet::new();
        for (rule, why) in judged.chain(time) {
            let fact = settles(why);
            let what = fact.map_or_else(|| why.clone(), |fact| fact.name.to_owned());
            let (one, programs) = all.entry(what.clone()).or_insert_with(|| {
                let one = Missing {
                    what: what.clone(),
                    settle: fact.map(|fact| fact.told()),
                    threads: 0,
                    programs: 0,
                    hours: 0.0,
                    rules: BTreeSet::new(),
                    first: summed.place(row),
                };
                (one, BTreeSet::new())
            });
            one.rules.insert(rule);
            programs.insert(row.program);
            if met.insert(what) {
                one.threads += 1;
                one.hours += row.hours_year.unwrap_or(0.0);
            }
        }
    }
    let mut all: Vec<Missing> = all
        .into_values()
        .map(|(one, programs)| Missing {
            programs: programs.len(),
            ..one
        })
        .collect();
    // What has no hours is ranked by threads.
    all.sort_by(|a, b| b.hours.total_cmp(&a.hours).then(b.threads.cmp(&a.threads)));
    all
}

fn grouped<'a>(texts: impl Iterator<Item = (&'a str, String)>) -> Vec<Reason> {
    let mut all: BTreeMap<&str, Reason> = BTreeMap::new();
    for (text, first) in texts {
        let one = all.entry(text).or_insert_with(|| Reason {
            text: text.to_owned(),
            threads: 0,
            first,
        });
        one.threads += 1;
    }
    let mut all: Vec<Reason> = all.into_values().collect();
    all.sort_by(|a, b| b.threads.cmp(&a.threads).then(a.text.cmp(&b.text)));
    all
}

pub(super) fn not_planned(summed: &Summed) -> Vec<Reason> {
    grouped(
        summed
            .rows
            .iter()
            .filter_map(|row| match &summed.thread(row).planned {
                Planned::Not(why) => Some((why.as_str(), summed.place(row))),
                _ => None,
            }),
    )
}

pub(super) fn assumed(summed: &Summed) -> Vec<Reason> {
    let times = summed.rows.iter().filter_map(|row| {
        let thread = summed.thread(row);
        thread.total()?;
        Some((thread.time_basis.as_str(), summed.place(row)))
    });
    let limits = summed.rows.iter().flat_map(|row| {
        let split = summed.thread(row).better();
        let split = split.map_or(&[][..], |split| &split.notes);
        split.iter().map(|note| (note.as_str(), summed.place(row)))
    });
    grouped(times.chain(limits))
}
