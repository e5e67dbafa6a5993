//! The area under the outline that several placements of one profile cut together.
//!
//! A placement cuts to depth − height(u − its place). As the profile is convex, of two placements
//! the one farther ahead cuts deeper ahead of a single place, where the two outlines cross, and the
//! other behind it. So the outline follows the placements in the order of their places, each over
//! one stretch, and each stretch has an area in closed form (derived).

use super::edge::Edges;
use super::groove::Placement;

/// One placement in the outline.
#[derive(Clone, Copy)]
struct Stretch {
    placed: Placement,
    /// Where it meets the crest behind and ahead.
    wet: (f64, f64),
    /// From where on it lies deepest.
    from: f64,
}

/// Area in mm² below the crest of what the placements cut.
pub(super) fn area(edges: &Edges, placements: &[Placement]) -> f64 {
    let mut order: Vec<Placement> = placements
        .iter()
        .copied()
        .filter(|p| p.depth > 0.0)
        .collect();
    order.sort_by(|a, b| a.u.total_cmp(&b.u).then(a.depth.total_cmp(&b.depth)));
    let mut outline: Vec<Stretch> = Vec::with_capacity(order.len());
    for placed in order {
        let wet = (
            placed.u - edges.back.reach(placed.depth),
            placed.u + edges.front.reach(placed.depth),
        );
        let mut from = wet.0;
        while let Some(last) = outline.last() {
            from = crossing(edges, last, placed, wet);
            if from > last.from {
                break;
            }
            outline.pop();
            from = wet.0;
        }
        if from < wet.1 {
            outline.push(Stretch { placed, wet, from });
        }
    }
    let until = outline.iter().skip(1).map(|next| next.from);
    let until = until.chain([f64::MAX]);
    let stretches = outline.iter().zip(until);
    stretches
        .map(|(one, until)| {
            let (from, to) = (one.wet.0.max(one.from), one.wet.1.min(until));
            if from >= to {
                return 0.0;
            }
            let (a, b) = (from - one.placed.u, to - one.placed.u);
            one.placed.depth * (b - a) - (edges.under(b) - edges.under(a))
        })
        .sum()
}

/// Where a placement ahead of the last one begins to lie deeper, within where it cuts.
fn crossing(edges: &Edges, last: &Stretch, ahead: Placement, wet: (f64, f64)) -> f64 {
    let (mut low, mut high) = (wet.0.max(last.wet.0), wet.1.min(last.wet.1));
    if low >= high {
        return wet.0;
    }
    let deeper = |u: f64| {
        let cut = |placed: Placement| placed.depth - edges.height(u - placed.u);
        cut(ahead) - cut(last.placed)
    };
    let (mut below, mut above) = (deeper(low), deeper(high));
    if below >= 0.0 {
        return low;
    }
    if above <= 0.0 {
        return high;
    }
    // The secant, brought to the middle where it closes in from one side only (Illinois). The area
    // depends on the crossing's error in the second order.
    let mut side = 0;
    for _ in 0..ROUNDS {
        if high - low < NEAR {
            break;
        }
        let u = (low * above - high * below) / (above - below);
        let value = deeper(u);
        if value.abs() < NEAR * NEAR {
            return u;
        }
        if value < 0.0 {
            (low, below) = (u, value);
            if side < 0 {
                above /= 2.0;
            }
            side = -1;
        } else {
            (high, above) = (u, value);
            if side > 0 {
                below /= 2.0;
            }
            side = 1;
        }
    }
    f64::midpoint(low, high)
}

/// A crossing is known well enough to this, mm.
const NEAR: f64 = 1e-8;
const ROUNDS: usize = 60;
