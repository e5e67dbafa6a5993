//! All programs together: ranked, summed, grouped.

use std::collections::BTreeMap;

use super::cluster::{Cluster, clusters};
use super::group::{Missing, Reason, Wrong, assumed, at, missing, not_planned, wrong};
use super::program::{Planned, ProgramAudit, ThreadAudit};
use super::quantities::{Named, Quantities, Quantity};
use crate::cut::money::{Range, Saving, saving};

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

/// Seconds that a plan saves at least to be called faster: what a report shows.
const FASTER_S: f64 = 0.05;

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
