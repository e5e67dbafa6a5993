//! Splits that are free: any list of depths.

use lexer::law::Law;
use lexer::section::Purpose;
use lexer::units::Radial;

use super::{Broken, Demand, MOST_PASSES, Split, check};

/// Halvings of an interval: to 1e-10 of it.
const HALVINGS: usize = 36;

/// The number of passes that take depth, when each goes as deep as the limits let it: no split has
/// fewer.
///
/// # Errors
/// The limit that even this breaks, so that every split does.
pub(super) fn count(demand: &Demand<'_>) -> Result<usize, Broken> {
    let rough = depths(demand, demand.peak, MOST_PASSES).ok_or(Broken::None)?;
    for (at, depth) in rough.iter().enumerate() {
        let before = if at == 0 { demand.air } else { rough[at - 1] };
        let lighter = (depth - demand.digit).max(before);
        if (demand.load)(before, lighter) > demand.peak * (1.0 + 1e-9) {
            return Err(Broken::Heavy(at + 1, (demand.load)(before, *depth)));
        }
    }
    Ok(rough.len() + usize::from(demand.finish > 0.0))
}

/// The lightest list with this number of passes that take depth.
pub(super) fn lightest(demand: &Demand<'_>, passes: usize) -> Result<Split, Broken> {
    let rough = passes - usize::from(demand.finish > 0.0);
    if rough == 0 {
        return Err(Broken::None);
    }
    let all = (demand.load)(demand.air, demand.height);
    let (mut low, mut high) = (0.0, all);
    // What the first pass may not take, no cap can make up for.
    let enough = |cap: f64| depths(demand, cap, rough);
    let Some(mut best) = enough(high) else {
        return Err(Broken::None);
    };
    for _ in 0..HALVINGS {
        let cap = (low + high) / 2.0;
        match enough(cap) {
            Some(depths) => (best, high) = (depths, cap),
            None => low = cap,
        }
    }
    if demand.finish > 0.0 {
        best.push(demand.height);
    }
    list(demand, &best)
}

/// A list of depths, rounded to what can be written, with its spring passes; checked.
pub(super) fn list(demand: &Demand<'_>, all: &[f64]) -> Result<Split, Broken> {
    let round = |depth: f64| (depth / demand.digit).round() * demand.digit;
    let last = all.len().saturating_sub(1);
    let mut depths: Vec<(Radial, Purpose)> = all
        .iter()
        .enumerate()
        .map(|(at, depth)| {
            let finish = at == last && demand.finish > 0.0;
            let purpose = if finish {
                Purpose::Finish
            } else {
                Purpose::Rough
            };
            // The thread's own depth is not rounded: it is what the program cuts to.
            let depth = if at == last {
                demand.height
            } else {
                round(*depth)
            };
            (Radial::from_mm(depth), purpose)
        })
        .collect();
    let full = Radial::from_mm(demand.height);
    depths.extend((0..demand.springs).map(|_| (full, Purpose::Spring)));
    let peak = check(demand, &depths)?;
    Ok(Split {
        law: Law::List,
        depths,
        peak,
    })
}

/// Roughing depths that carry `cap` each, none below the smallest step, the first not deeper than it
/// may be; none where they are more than `most`.
fn depths(demand: &Demand<'_>, cap: f64, most: usize) -> Option<Vec<f64>> {
    let stop = demand.height - demand.finish;
    let mut all = Vec::new();
    let mut depth = demand.air;
    while depth < stop {
        if all.len() == most {
            return None;
        }
        let mut next = deepest(demand, depth, stop, cap);
        if all.is_empty() {
            next = next.min(demand.air + demand.first);
        }
        next = next.max(depth + demand.least).min(stop);
        if next <= depth {
            return None;
        }
        all.push(next);
        depth = next;
    }
    Some(all)
}

/// The deepest that a pass from `depth` may go with a load of at most `cap`.
fn deepest(demand: &Demand<'_>, depth: f64, stop: f64, cap: f64) -> f64 {
    if (demand.load)(depth, stop) <= cap {
        return stop;
    }
    let (mut low, mut high) = (depth, stop);
    for _ in 0..HALVINGS {
        let middle = (low + high) / 2.0;
        if (demand.load)(depth, middle) <= cap {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}
