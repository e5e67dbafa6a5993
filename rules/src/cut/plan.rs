//! How many passes a thread needs, and how deep each goes: the fewest that keep every limit, split
//! so that the heaviest of them is as light as it can be.
//!
//! A split is either free (a list of depths) or one that the law of a cycle can express. The load of
//! a pass is whatever the caller measures: the area of its chip, or the force on it. Derived from the
//! geometry of the groove; the limits are the caller's.

mod free;
mod laws;
#[cfg(test)]
mod tests;

use lexer::law::Law;
use lexer::section::Purpose;
use lexer::units::Radial;

/// Most passes that are planned; more is no plan.
pub const MOST_PASSES: usize = 200;

/// What a split must keep. Lengths are radial, in mm below the crest that the depths count from.
#[derive(Clone, Copy)]
pub struct Demand<'a> {
    /// Depth of the thread.
    pub height: f64,
    /// Depth down to which the tool cuts air: the depths may count from above the material.
    pub air: f64,
    /// Load of a pass that goes from one depth to another; grows with the second, falls with the
    /// first.
    pub load: &'a dyn Fn(f64, f64) -> f64,
    /// Largest load of a pass; infinite where there is no such limit.
    pub peak: f64,
    /// Largest depth of the first pass in the material; infinite where there is no such limit.
    pub first: f64,
    /// Smallest step of a roughing pass.
    pub least: f64,
    /// Last cut; 0 where the last roughing pass ends at the full depth.
    pub finish: f64,
    /// Passes at full depth without new depth.
    pub springs: u32,
    /// Smallest difference of depths that can be written.
    pub digit: f64,
}

/// What the depths may look like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// Any list.
    List,
    /// `first·√n`, no step below a minimum cut, a finishing cut: the two-block cycle. `min` is the
    /// minimum cut that the shop writes.
    SquareRoot {
        /// Minimum cut in mm that is kept where it serves as well as another.
        min: f64,
    },
    /// `first·√n` or `first·n`, then full depth: the one-block cycle.
    Method {
        /// Method number of equal chips that keeps the infeed.
        equal_chips: u8,
        /// That of equal depths, where it may be taken: its last chips are the heaviest.
        equal_depths: Option<u8>,
    },
    /// A number of roughing passes with equal depths or equal chips, a finishing cut, spring passes:
    /// the cycle called by its name.
    Counted {
        /// Whether the shop cuts equal chips, or nothing yet; otherwise equal depths may stay.
        equal_chips: bool,
    },
    /// `first·√n` without a minimum cut, and a finishing cut: the compound cycle with M75. It makes
    /// no pass without new depth.
    Compound,
    /// `first·n^(1/R)`, then full depth and spring passes: the open RS274/NGC interpreter's cycle.
    Power {
        /// R that is kept where it serves as well as another.
        degression: f64,
    },
}

/// A split of the depth.
#[derive(Debug, Clone, PartialEq)]
pub struct Split {
    /// The law that gives it.
    pub law: Law,
    /// Depths with the purpose of each pass, spring passes included.
    pub depths: Vec<(Radial, Purpose)>,
    /// Load of the heaviest pass.
    pub peak: f64,
}

impl Split {
    /// Passes that take depth.
    #[must_use]
    pub fn cuts(&self) -> usize {
        let springs = |purpose: &Purpose| *purpose == Purpose::Spring;
        self.depths
            .iter()
            .filter(|(_, purpose)| !springs(purpose))
            .count()
    }
}

/// Which limit a split breaks, with what it would need.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Broken {
    /// The first pass would be this deep, mm.
    First(f64),
    /// A pass of this number would carry this load.
    Heavy(usize, f64),
    /// A roughing pass of this number would take only this step, mm.
    Thin(usize, f64),
    /// The law gives no split with so few passes.
    None,
}

/// The split with the fewest passes that keeps every limit, made as light as that number allows.
///
/// # Errors
/// The limit that the best attempt broke: the limits contradict each other, or more than
/// [`MOST_PASSES`] would be needed.
pub fn fewest(shape: Shape, demand: &Demand<'_>) -> Result<Split, Broken> {
    if !sound(demand) {
        return Err(Broken::None);
    }
    let stop = demand.height - demand.finish;
    // A greedy list is as short as any split can be, but for what the last digit gives away.
    let from = free::count(demand)?.saturating_sub(1).max(1);
    let most = (stop / demand.least.max(demand.digit)).ceil() as usize + 2;
    let mut broken = Broken::None;
    for passes in from..=most.min(MOST_PASSES) {
        match lightest(shape, demand, passes) {
            Ok(split) => return Ok(split),
            Err(why) => broken = worse(broken, why),
        }
    }
    Err(broken)
}

/// The lightest split with this number of passes that take depth.
///
/// # Errors
/// The limit that every attempt breaks.
pub fn lightest(shape: Shape, demand: &Demand<'_>, passes: usize) -> Result<Split, Broken> {
    if !sound(demand) || passes == 0 || passes > MOST_PASSES {
        return Err(Broken::None);
    }
    match shape {
        Shape::List => free::lightest(demand, passes),
        _ => laws::lightest(shape, demand, passes),
    }
}

/// A split with these steps in mm, as a shop's own table gives them. The last depth is that of the
/// thread: a table for another height is stretched over the roughing depth.
///
/// # Errors
/// The limit that it breaks.
pub fn by_table(demand: &Demand<'_>, steps: &[f64]) -> Result<Split, Broken> {
    let all: f64 = steps.iter().sum();
    let usable = steps.iter().all(|step| *step > 0.0) && all > 0.0 && steps.len() <= MOST_PASSES;
    if !sound(demand) || !usable {
        return Err(Broken::None);
    }
    let stretch = (demand.height - demand.air) / all;
    let mut depth = demand.air;
    let depths = steps
        .iter()
        .map(|step| {
            depth += step * stretch;
            depth
        })
        .collect::<Vec<_>>();
    free::list(demand, &depths)
}

/// Checks a split against the limits, each within the last digit that can be written. Gives the load
/// of its heaviest pass.
///
/// # Errors
/// The first limit that it breaks.
pub fn check(demand: &Demand<'_>, depths: &[(Radial, Purpose)]) -> Result<f64, Broken> {
    let mut before = demand.air;
    let mut peak = 0.0f64;
    let mut first = true;
    for (index, (depth, purpose)) in depths.iter().enumerate() {
        let depth = depth.mm();
        let step = depth - before;
        if step <= 0.0 {
            continue;
        }
        let nth = index + 1;
        if first && step > demand.first + demand.digit {
            return Err(Broken::First(step));
        }
        let lighter = (depth - demand.digit).max(before);
        let load = (demand.load)(before, depth);
        if (demand.load)(before, lighter) > demand.peak * (1.0 + 1e-9) {
            return Err(Broken::Heavy(nth, load));
        }
        if *purpose == Purpose::Rough && step < demand.least - demand.digit {
            return Err(Broken::Thin(nth, step));
        }
        peak = peak.max(load);
        before = depth;
        first = false;
    }
    Ok(peak)
}

fn sound(demand: &Demand<'_>) -> bool {
    let lengths = [
        demand.height,
        demand.air,
        demand.least,
        demand.finish,
        demand.digit,
    ];
    lengths
        .iter()
        .all(|length| length.is_finite() && *length >= 0.0)
        && demand.height < 1e3
        && demand.digit > 0.0
        && demand.air < demand.height - demand.finish
        && demand.first > 0.0
        && demand.peak > 0.0
}

/// Which of two reasons says more: a pass that is too thin means that more passes do not help.
fn worse(known: Broken, new: Broken) -> Broken {
    match (known, new) {
        (known, Broken::None) => known,
        (Broken::Thin(..), _) => known,
        (_, new) => new,
    }
}
