//! All programs together: ranked, summed, grouped.

use std::collections::{BTreeMap, BTreeSet};

use super::cluster::{Cluster, clusters};
use super::missing::settles;
use super::program::{Planned, ProgramAudit, ThreadAudit};
use super::quantities::{Named, Quantities, Quantity};
use crate::cut::money::{Range, Saving, saving};
use crate::finding::Severity;

/// The whole audit.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Audit {
    /// Programs and threads.
    pub summed: Summed,
    /// The sums.
    pub totals: Totals,
    /// Threads that are the same.
    pub clusters: Vec<Cluster>,
    /// What is wrong, worst first.
    pub wrong: Vec<Wrong>,
    /// What could not be judged, by the fact that is missing, most hours first.
    pub missing: Vec<Missing>,
    /// Why threads were not planned, most threads first.
    pub not_planned: Vec<Reason>,
    /// What the figures rest on, most threads first.
    pub assumed: Vec<Reason>,
    /// Rows of quantities that fit no program, as `file:line: what`.
    pub stray_quantities: Vec<String>,
}

/// Programs in the order given, threads ranked.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Summed {
    /// The programs.
    pub programs: Vec<ProgramAudit>,
    /// The quantity of each program.
    pub quantities: Vec<Quantity>,
    /// Every thread: most hours a year first, then those without a known quantity by their seconds,
    /// then those without a known time.
    pub rows: Vec<Row>,
}

/// A thread in the ranking; hours are those of its threading.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Index of the program.
    pub program: usize,
    /// Index of the thread in it.
    pub thread: usize,
    /// Hours a batch.
    pub hours_batch: Option<f64>,
    /// Hours a year.
    pub hours_year: Option<f64>,
    /// Hours a batch that its plan saves; 0 without one.
    pub saved_batch: Option<f64>,
    /// Hours a year that its plan saves.
    pub saved_year: Option<f64>,
    /// Money a year that those are worth; only where the machine holds the shop up.
    pub money_year: Option<f64>,
}

impl Summed {
    /// The thread of a row.
    #[must_use]
    pub fn thread(&self, row: &Row) -> &ThreadAudit {
        &self.programs[row.program].threads[row.thread]
    }

    /// `path:line` of a row.
    #[must_use]
    pub fn place(&self, row: &Row) -> String {
        let line = self.thread(row).lines.0;
        format!("{}:{line}", self.programs[row.program].path)
    }
}

/// Sums over all threads.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Totals {
    /// Programs read.
    pub programs: usize,
    /// Programs with threads.
    pub with_threads: usize,
    /// Threads.
    pub threads: usize,
    /// Threads whose time is known.
    pub timed: usize,
    /// Threads that were planned, better or not.
    pub planned: usize,
    /// Threads with a plan that is faster.
    pub faster: usize,
    /// Threads with a plan that takes as long and loads the edge less.
    pub lighter: usize,
    /// Threads whose time is corrected by a stop-watch factor of their machine.
    pub calibrated: usize,
    /// Programs with threads and with known parts a year.
    pub with_quantity: usize,
    /// Programs of those with a known time: those that the hours a year are of.
    pub with_hours: usize,
    /// Seconds of threading of one part of each program.
    pub seconds: f64,
    /// The same with the plans.
    pub seconds_after: f64,
    /// Hours of one batch of each program whose batch is known.
    pub hours_batch: f64,
    /// Hours of it that plans save.
    pub saved_batch: f64,
    /// Hours a year of the programs whose quantity is known.
    pub hours_year: f64,
    /// Hours of it that plans save.
    pub saved_year: f64,
    /// Saved hours a year on machines that hold the shop up.
    pub bottleneck_hours: f64,
    /// Saved hours a year on machines that do not: capacity.
    pub capacity_hours: f64,
    /// Saved hours a year on machines of which nobody has said.
    pub unsaid_hours: f64,
    /// Saved hours a year where the machine holds the shop up and its hour has no price.
    pub unpriced_hours: f64,
    /// Money a year by currency.
    pub money: BTreeMap<String, f64>,
    /// Findings: errors, warnings, advice.
    pub findings: [usize; 3],
}

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

/// Seconds that a plan saves at least to be called faster: what a report shows.
const FASTER_S: f64 = 0.05;

const SEVERITIES: [Severity; 3] = [Severity::Error, Severity::Warning, Severity::Advice];

fn at(severity: Severity) -> usize {
    SEVERITIES.iter().position(|s| *s == severity).unwrap_or(0)
}

/// Sums up programs, with quantities where a file states them.
#[must_use]
pub fn sum(programs: Vec<ProgramAudit>, quantities: Option<&Quantities>) -> Audit {
    let named: Vec<Named<'_>> = programs
        .iter()
        .map(|one| Named {
            path: &one.path,
            numbers: &one.numbers,
        })
        .collect();
    let (assigned, stray_quantities) = quantities.map_or_else(
        || (vec![None; programs.len()], Vec::new()),
        |file| file.assign(&named),
    );
    let of_program: Vec<Quantity> = programs
        .iter()
        .zip(assigned)
        .map(|(one, row)| match (quantities, row) {
            (Some(file), Some(row)) => file.rows[row].quantity.over(&one.quantity),
            _ => one.quantity.clone(),
        })
        .collect();
    let mut rows = Vec::new();
    for (program, one) in programs.iter().enumerate() {
        for (thread, known) in one.threads.iter().enumerate() {
            rows.push(row(program, thread, known, &of_program[program]));
        }
    }
    let mut summed = Summed {
        programs,
        quantities: of_program,
        rows: Vec::new(),
    };
    let rank = |row: &Row| {
        let seconds = summed.thread(row).total();
        (row.hours_year.unwrap_or(-1.0), seconds.unwrap_or(-1.0))
    };
    rows.sort_by(|a, b| {
        let ((ah, a_s), (bh, b_s)) = (rank(a), rank(b));
        bh.total_cmp(&ah)
            .then(b_s.total_cmp(&a_s))
            .then((a.program, a.thread).cmp(&(b.program, b.thread)))
    });
    summed.rows = rows;
    Audit {
        totals: totals(&summed),
        clusters: clusters(&summed),
        wrong: wrong(&summed),
        missing: missing(&summed),
        not_planned: not_planned(&summed),
        assumed: assumed(&summed),
        stray_quantities,
        summed,
    }
}

fn row(program: usize, thread: usize, known: &ThreadAudit, quantity: &Quantity) -> Row {
    let hours = |seconds: Option<f64>, parts: Option<f64>| {
        seconds
            .zip(parts)
            .map(|(seconds, parts)| seconds * parts / 3600.0)
    };
    let saved: Option<Saving> = known
        .saved()
        .map(|saved| saving(Range::exact(saved), &quantity.production()));
    let batch = quantity.parts_per_batch;
    Row {
        program,
        thread,
        hours_batch: hours(known.total(), batch),
        hours_year: hours(known.total(), quantity.parts_per_year),
        saved_batch: saved
            .filter(|_| batch.is_some())
            .and_then(|s| Some(s.per_batch_h?.low)),
        saved_year: saved.and_then(|saved| Some(saved.per_year_h?.low)),
        money_year: saved.and_then(|saved| Some(saved.machine_money_per_year?.low)),
    }
}

fn totals(summed: &Summed) -> Totals {
    let mut totals = Totals {
        programs: summed.programs.len(),
        threads: summed.rows.len(),
        ..Totals::default()
    };
    for (program, quantity) in summed.programs.iter().zip(&summed.quantities) {
        let with = !program.threads.is_empty();
        totals.with_threads += usize::from(with);
        let quantity = with && quantity.parts_per_year.is_some();
        totals.with_quantity += usize::from(quantity);
        let timed = program.threads.iter().any(|thread| thread.seconds.is_ok());
        totals.with_hours += usize::from(quantity && timed);
        for found in &program.findings {
            totals.findings[at(found.severity)] += 1;
        }
    }
    for row in &summed.rows {
        let (thread, quantity) = (summed.thread(row), &summed.quantities[row.program]);
        totals.calibrated += usize::from(thread.calibrated);
        totals.planned += usize::from(!matches!(thread.planned, Planned::Not(_)));
        if thread.better().is_some() {
            let faster = thread.saved().is_none_or(|saved| saved >= FASTER_S);
            totals.faster += usize::from(faster);
            totals.lighter += usize::from(!faster);
        }
        if let (Some(before), Some(after)) = (thread.total(), thread.total_after()) {
            totals.timed += 1;
            totals.seconds += before;
            totals.seconds_after += after;
        }
        totals.hours_batch += row.hours_batch.unwrap_or(0.0);
        totals.saved_batch += row.saved_batch.unwrap_or(0.0);
        totals.hours_year += row.hours_year.unwrap_or(0.0);
        let saved = row.saved_year.unwrap_or(0.0);
        totals.saved_year += saved;
        match quantity.bottleneck {
            Some(true) => totals.bottleneck_hours += saved,
            Some(false) => totals.capacity_hours += saved,
            None => totals.unsaid_hours += saved,
        }
        match (quantity.bottleneck, row.money_year) {
            (Some(true), None) => totals.unpriced_hours += saved,
            (_, Some(money)) => {
                let currency = quantity.currency.clone().unwrap_or_default();
                *totals.money.entry(currency).or_default() += money;
            }
            _ => {}
        }
    }
    totals
}

/// Hours a year of each thread, by program and thread.
fn hours(summed: &Summed) -> BTreeMap<(usize, usize), f64> {
    let rows = summed.rows.iter();
    rows.filter_map(|row| Some(((row.program, row.thread), row.hours_year?)))
        .collect()
}

fn wrong(summed: &Summed) -> Vec<Wrong> {
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

fn missing(summed: &Summed) -> Vec<Missing> {
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

fn not_planned(summed: &Summed) -> Vec<Reason> {
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

fn assumed(summed: &Summed) -> Vec<Reason> {
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
