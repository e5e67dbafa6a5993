//! One thread at length, for a page about the worst of a tree: the areas of its passes before and
//! after, time against load, and what its edges must last for.

use lexer::section::Purpose;

use super::program::Source;
use crate::cut::money::{Range, break_even_parts, saving};
use crate::rewrite::Job;
use crate::rewrite::plan::{Plan, Wish, plan};
use crate::table::Table;

use super::quantities::Quantity;

/// One pass in a chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bar {
    /// Chip area, mm²; none where it is not known.
    pub area_mm2: Option<f64>,
    /// Why it is made.
    pub purpose: Purpose,
}

/// The bars of a section's passes.
#[must_use]
pub fn bars(section: &lexer::section::Section, table: &Table) -> Vec<Bar> {
    let passes = section.passes.iter().zip(&table.rows);
    passes
        .map(|(pass, row)| Bar {
            area_mm2: row.area_mm2,
            purpose: pass.purpose,
        })
        .collect()
}

/// The plan of a thread with its front of time against load; none where it cannot be planned.
#[must_use]
pub fn with_front(source: Source<'_>, index: usize) -> Option<Plan> {
    let job = Job {
        bytes: source.bytes,
        program: source.program,
        settings: source.settings,
        facts: source.facts,
        judgement: source.judgement,
        index,
    };
    let wish = Wish {
        front: true,
        ..Wish::default()
    };
    plan(&job, &wish).ok()
}

/// Parts that an edge lasts for now, and the fewest that it must last for after a change that saves
/// `saved_s` seconds a part; none where edge, rate or the machine's state are not known, or where
/// hours are no money.
#[must_use]
pub fn edge_must_last(
    thread: &super::program::ThreadAudit,
    quantity: &Quantity,
) -> Option<(f64, f64)> {
    let (edge, rate) = (thread.edge?, quantity.rate_per_hour?);
    let saved = thread.saved()?;
    if saving(Range::exact(saved), &quantity.production()).bottleneck != Some(true) {
        return None;
    }
    Some((edge.parts, break_even_parts(saved, rate, &edge)?))
}
