//! Splits that the law of a cycle can express. Each is expanded by the reader's own law, so that what
//! is checked is what the control does.

use lexer::law::{Law, depths};
use lexer::section::{Purpose, Val};
use lexer::units::Radial;

use super::{Broken, Demand, Shape, Split, check, worse};

/// Minimum cuts and exponents that are tried between the ends.
const TRIED: usize = 16;
/// A split that is heavier by less than this part of the lightest is as good: the shop's own words
/// are kept then.
const AS_GOOD: f64 = 0.01;

/// The lightest law with this number of passes that take depth.
pub(super) fn lightest(shape: Shape, demand: &Demand<'_>, passes: usize) -> Result<Split, Broken> {
    let mut best: Option<Split> = None;
    let mut broken = Broken::None;
    for law in candidates(shape, demand, passes) {
        let split = depths(&law, Radial::from_mm(demand.height));
        let cuts = split
            .iter()
            .filter(|(_, purpose)| *purpose != Purpose::Spring);
        if cuts.count() > passes {
            continue;
        }
        match check(demand, &split) {
            Ok(peak) => {
                // Candidates come in the order in which they are liked.
                let lighter = best
                    .as_ref()
                    .is_none_or(|best| peak < best.peak * (1.0 - AS_GOOD));
                if lighter {
                    best = Some(Split {
                        law,
                        depths: split,
                        peak,
                    });
                }
            }
            Err(why) => broken = worse(broken, why),
        }
    }
    best.ok_or(broken)
}

fn candidates(shape: Shape, demand: &Demand<'_>, passes: usize) -> Vec<Law> {
    match shape {
        Shape::List => Vec::new(),
        Shape::SquareRoot { min } => square_roots(demand, passes, min),
        Shape::Method {
            equal_chips,
            equal_depths,
        } => [
            Some((equal_chips, 2.0)),
            equal_depths.map(|method| (method, 1.0)),
        ]
        .into_iter()
        .flatten()
        .flat_map(|(method, degression)| {
            firsts(demand, passes, degression)
                .into_iter()
                .map(move |first| Law::Method { first, method })
        })
        .collect(),
        Shape::Counted { equal_chips } => counted(demand, passes, equal_chips),
        Shape::Compound => compound(demand, passes),
        Shape::Power { degression } => {
            let between = (0..=TRIED).map(|n| 1.0 + 2.0 * n as f64 / TRIED as f64);
            [degression.max(1.0), 2.0]
                .into_iter()
                .chain(between)
                .flat_map(|degression| {
                    firsts(demand, passes, degression)
                        .into_iter()
                        .map(move |first| Law::Power {
                            first,
                            degression,
                            springs: i64::from(demand.springs),
                        })
                })
                .collect()
        }
    }
}

/// First cuts with which `first·n^(1/degression)` gets to the full depth in so many passes: the
/// smallest, and the one that leaves the finishing cut for the last.
fn firsts(demand: &Demand<'_>, passes: usize, degression: f64) -> Vec<Val<Radial>> {
    let root = |n: usize| (n as f64).powf(1.0 / degression);
    let up = |first: f64| (first / demand.digit - 1e-6).ceil() * demand.digit;
    let mut all = vec![up(demand.height / root(passes))];
    if demand.finish > 0.0 && passes > 1 {
        let first = (demand.height - demand.finish) / root(passes - 1);
        all.push((first / demand.digit + 1e-6).floor() * demand.digit);
    }
    all.into_iter()
        .filter(|first| *first > 0.0)
        .map(|first| Val::Exact(Radial::from_mm(first)))
        .collect()
}

fn counted(demand: &Demand<'_>, passes: usize, equal_chips: bool) -> Vec<Law> {
    let finish = Val::Exact(Radial::from_mm(demand.finish));
    let rough = u32::try_from(passes - usize::from(demand.finish > 0.0)).unwrap_or_default();
    // Equal depths only where the shop cuts so already.
    let kinds = [Some(true), (!equal_chips).then_some(false)];
    kinds
        .into_iter()
        .flatten()
        .filter(|_| rough > 0)
        .map(|equal_areas| Law::Counted {
            rough: Val::Exact(rough),
            equal_areas,
            finish: finish.clone(),
            springs: Val::Exact(demand.springs),
        })
        .collect()
}

fn compound(demand: &Demand<'_>, passes: usize) -> Vec<Law> {
    if demand.finish <= 0.0 {
        let firsts = firsts(demand, passes, 2.0).into_iter();
        return firsts
            .map(|first| Law::Method { first, method: 1 })
            .collect();
    }
    let first = match passes - 1 {
        0 => None,
        rough => smallest_first(demand, rough, 0.0),
    };
    first
        .map(|first| Law::SquareRoot {
            first: Val::Exact(Radial::from_mm(first)),
            min: Val::Exact(Radial::default()),
            finish: Val::Exact(Radial::from_mm(demand.finish)),
            repeats: Val::Exact(1),
        })
        .into_iter()
        .collect()
}

fn square_roots(demand: &Demand<'_>, passes: usize, own_min: f64) -> Vec<Law> {
    let rough = passes - usize::from(demand.finish > 0.0);
    if rough == 0 {
        return Vec::new();
    }
    let stop = demand.height - demand.finish;
    let equal = stop / rough as f64;
    let on_digit = |length: f64| (length / demand.digit).round() * demand.digit;
    let mut mins = vec![own_min.max(demand.least), demand.least, own_min];
    mins.extend((1..TRIED).map(|n| equal * n as f64 / TRIED as f64));
    let mut all = Vec::new();
    for min in mins.into_iter().map(on_digit) {
        if min > equal || all.iter().any(|(known, _)| *known == min) {
            continue;
        }
        if let Some(first) = smallest_first(demand, rough, min) {
            all.push((min, first));
        }
    }
    all.into_iter()
        .map(|(min, first)| square_root(demand, first, min))
        .collect()
}

fn square_root(demand: &Demand<'_>, first: f64, min: f64) -> Law {
    let exact = |mm: f64| Val::Exact(Radial::from_mm(mm));
    let repeats = demand.springs + u32::from(demand.finish > 0.0);
    Law::SquareRoot {
        first: exact(first),
        min: exact(min),
        finish: exact(demand.finish),
        // The cycle makes one pass at full depth at least.
        repeats: Val::Exact(repeats.max(1)),
    }
}

/// The smallest first cut, in whole digits, with which the roughing takes so many passes.
fn smallest_first(demand: &Demand<'_>, rough: usize, min: f64) -> Option<f64> {
    let stop = demand.height - demand.finish;
    let takes = |digits: u64| {
        let law = square_root(demand, digits as f64 * demand.digit, min);
        depths(&law, Radial::from_mm(demand.height))
            .iter()
            .filter(|(_, purpose)| *purpose == Purpose::Rough)
            .count()
    };
    let pure = (stop / (rough as f64).sqrt() / demand.digit - 1e-6).ceil() as u64;
    let mut high = (pure..=pure + 2).find(|digits| takes(*digits) <= rough)?;
    if min > 0.0 {
        let mut low = 0;
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if takes(middle) <= rough {
                high = middle;
            } else {
                low = middle;
            }
        }
    }
    Some(high as f64 * demand.digit)
}
