//! Threads that are the same by name, side and lead, in one program or in several.

use std::collections::BTreeMap;

use lexer::section::Kind;

use super::program::ThreadAudit;
use super::sum::{Row, Summed};

/// Threads that are the same.
#[derive(Debug, Clone, PartialEq)]
pub struct Cluster {
    /// The designation, or `lead 2 mm` where no thread is named.
    pub name: String,
    /// `external`, `internal` or `unknown`.
    pub side: &'static str,
    /// How it is made.
    pub kind: Kind,
    /// Advance per turn, mm.
    pub lead_mm: f64,
    /// Its threads as places in [`Summed::rows`], which is the order of the hours.
    pub rows: Vec<usize>,
    /// Programs.
    pub programs: usize,
    /// Fewest and most passes.
    pub passes: (usize, usize),
    /// Different numbers of passes: in how many ways the same thread is cut.
    pub ways: usize,
    /// Hours a year of those whose quantity is known; none where it is for no one.
    pub hours: Option<f64>,
    /// Seconds of one part each, of those whose time is known.
    pub seconds: f64,
    /// Hours a year that plans save; none as above.
    pub saved_hours: Option<f64>,
    /// Seconds that plans save on one part each.
    pub saved_seconds: f64,
}

/// What makes two threads the same.
type Key = (String, &'static str, i64, u32, &'static str);

fn key(thread: &ThreadAudit) -> Option<Key> {
    let lead = thread.lead_mm?;
    let name = match &thread.designation {
        Some((name, _)) => name.clone(),
        None => format!("lead {} mm", crate::checks::text::number(lead, 4)),
    };
    let side = thread.side.map_or("unknown", |side| side.name());
    // Leads are compared as a micrometre shows them: an inch lead is written to few places.
    let steps = (lead * 1000.0).round() as i64;
    Some((name, side, steps, thread.starts, thread.kind.name()))
}

/// The clusters of two threads and more, by hours and then by seconds.
#[must_use]
pub fn clusters(summed: &Summed) -> Vec<Cluster> {
    let mut by_key: BTreeMap<Key, Vec<usize>> = BTreeMap::new();
    for (at, row) in summed.rows.iter().enumerate() {
        if let Some(key) = key(summed.thread(row)) {
            by_key.entry(key).or_default().push(at);
        }
    }
    let mut all: Vec<Cluster> = by_key
        .into_iter()
        .filter(|(_, rows)| rows.len() > 1)
        .map(|((name, side, ..), rows)| cluster(summed, name, side, rows))
        .collect();
    let rank = |one: &Cluster| (one.hours.unwrap_or(-1.0), one.seconds);
    all.sort_by(|a, b| {
        let ((ah, a_s), (bh, b_s)) = (rank(a), rank(b));
        bh.total_cmp(&ah).then(b_s.total_cmp(&a_s))
    });
    all
}

fn cluster(summed: &Summed, name: String, side: &'static str, rows: Vec<usize>) -> Cluster {
    let members = || rows.iter().map(|at| &summed.rows[*at]);
    let threads = || members().map(|row| summed.thread(row));
    let mut programs: Vec<usize> = members().map(|row| row.program).collect();
    programs.sort_unstable();
    programs.dedup();
    let mut passes: Vec<usize> = threads().map(|thread| thread.passes).collect();
    passes.sort_unstable();
    let span = (
        passes.first().copied().unwrap_or_default(),
        passes.last().copied().unwrap_or_default(),
    );
    passes.dedup();
    let sum = |value: fn(&Row) -> Option<f64>| {
        let known: Vec<f64> = members().filter_map(value).collect();
        (!known.is_empty()).then(|| known.iter().sum())
    };
    let first = &summed.rows[rows[0]];
    Cluster {
        name,
        side,
        kind: summed.thread(first).kind,
        lead_mm: summed.thread(first).lead_mm.unwrap_or_default(),
        programs: programs.len(),
        passes: span,
        ways: passes.len(),
        hours: sum(|row| row.hours_year),
        seconds: threads().filter_map(ThreadAudit::total).sum(),
        saved_hours: sum(|row| row.saved_year),
        saved_seconds: threads().filter_map(ThreadAudit::saved).sum(),
        rows,
    }
}
