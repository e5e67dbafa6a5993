//! The area under the outline that several placements of one profile cut together.
//!
//! A placement cuts to depth − height(u − its place). As the profile is convex, of two placements
//! the one farther ahead cuts deeper ahead of a single place, where the two outlines cross, and the
//! other behind it. So the outline follows the placements in the order of their places, each over
//! one stretch, and each stretch has an area in closed form (derived).

use super::edge::Edges;
use super::groove::Placement;

/// One placement in the outline.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    placed: Placement,
    /// The placement that lies deepest behind it.
    behind: Option<Placement>,
    /// Where it meets the crest behind and ahead.
    wet: (f64, f64),
    /// From where on it lies deepest.
    from: f64,
}

/// The outline of a groove. A pass changes little of it, so where two placements cross is kept for
/// the next time.
#[derive(Debug, Clone, Default)]
pub struct Outline {
    stretches: Vec<Stretch>,
}

impl Outline {
    /// Area in mm² below the crest of what the placements cut, in any order.
    pub(super) fn area(&mut self, edges: &Edges, placements: &[Placement]) -> f64 {
        let mut order: Vec<Placement> = placements.to_vec();
        order.retain(|placed| placed.depth > 0.0);
        order.sort_by(|a, b| a.u.total_cmp(&b.u).then(a.depth.total_cmp(&b.depth)));
        let mut outline: Vec<Stretch> = Vec::with_capacity(order.len());
        for placed in order {
            let wet = (
                placed.u - edges.back.reach(placed.depth),
                placed.u + edges.front.reach(placed.depth),
            );
            let (mut from, mut behind) = (wet.0, None);
            while let Some(last) = outline.last() {
                let known = self.known(last.placed, placed);
                let crossing = known.unwrap_or_else(|| crossing(edges, last, placed, wet));
                if crossing > last.from {
                    (from, behind) = (crossing, Some(last.placed));
                    break;
                }
                outline.pop();
            }
            if from < wet.1 {
                outline.push(Stretch {
                    placed,
                    behind,
                    wet,
                    from,
                });
            }
        }
        self.stretches = outline;
        let until = self.stretches.iter().skip(1).map(|next| next.from);
        let stretches = self.stretches.iter().zip(until.chain([f64::MAX]));
        stretches.map(|(one, until)| one.area(edges, until)).sum()
    }

    fn known(&self, behind: Placement, placed: Placement) -> Option<f64> {
        let at = self
            .stretches
            .partition_point(|one| one.placed.u < placed.u);
        let one = self.stretches.get(at)?;
        (one.placed == placed && one.behind == Some(behind)).then_some(one.from)
    }
}

impl Stretch {
    fn area(&self, edges: &Edges, until: f64) -> f64 {
        let (from, to) = (self.wet.0.max(self.from), self.wet.1.min(until));
        if from >= to {
            return 0.0;
        }
        let (a, b) = (from - self.placed.u, to - self.placed.u);
        self.placed.depth * (b - a) - (edges.under(b) - edges.under(a))
    }
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
