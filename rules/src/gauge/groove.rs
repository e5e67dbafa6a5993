//! The groove that several placements of one tool leave together.
//!
//! Depths count from the crest inwards, u along the axis in the direction of the feed. The edges of
//! the groove at a depth are those of the placement that reaches farthest there.

use super::profile::Profile;

/// Where the middle of the nose stands during a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    /// Along the axis in the direction of the feed, mm.
    pub u: f64,
    /// Depth of the tip below the crest, mm.
    pub depth: f64,
}

/// More placements than this leave marks of their own only in a program that makes no thread; the
/// area is then not worked out.
const AREA_LIMIT: usize = 24;

/// A groove.
#[derive(Debug, Clone)]
pub struct Groove {
    profile: Profile,
    /// The placements that no other one covers.
    kept: Vec<Placement>,
}

impl Groove {
    /// Uncut work.
    #[must_use]
    pub fn new(profile: Profile) -> Groove {
        Groove {
            profile,
            kept: Vec::new(),
        }
    }

    /// The groove of all placements.
    #[must_use]
    pub fn cut(profile: Profile, placements: impl IntoIterator<Item = Placement>) -> Groove {
        let mut groove = Groove::new(profile);
        for placement in placements {
            groove.add(placement);
        }
        groove
    }

    /// One pass more. One in the air changes nothing.
    ///
    /// A placement covers another when it lies deeper by so much that the shift between the two is
    /// within the edges: du ≤ dd · tan of the edge's angle (the profile is convex and opens along
    /// its edges for ever).
    pub fn add(&mut self, placement: Placement) {
        let usable = placement.u.is_finite() && placement.depth.is_finite();
        if !usable || placement.depth <= 0.0 || self.kept.iter().any(|k| self.covers(*k, placement))
        {
            return;
        }
        let profile = self.profile;
        self.kept.retain(|k| !covers(profile, placement, *k));
        self.kept.push(placement);
    }

    fn covers(&self, over: Placement, under: Placement) -> bool {
        covers(self.profile, over, under)
    }

    /// The tool.
    #[must_use]
    pub fn profile(&self) -> Profile {
        self.profile
    }

    /// The placements that shape the groove.
    #[must_use]
    pub fn shaping(&self) -> &[Placement] {
        &self.kept
    }

    /// Depth of the deepest tip, mm; 0 for uncut work.
    #[must_use]
    pub fn depth(&self) -> f64 {
        self.kept.iter().map(|k| k.depth).fold(0.0, f64::max)
    }

    /// Where the groove ends towards the feed and against it at a depth; `None` below its root.
    #[must_use]
    pub fn edges(&self, depth: f64) -> Option<(f64, f64)> {
        let mut edges: Option<(f64, f64)> = None;
        for placement in &self.kept {
            let height = placement.depth - depth;
            if height < 0.0 {
                continue;
            }
            let front = placement.u + self.profile.ahead(height);
            let back = placement.u - self.profile.behind(height);
            edges = Some(edges.map_or((front, back), |(f, b)| (f.max(front), b.min(back))));
        }
        edges
    }

    /// Width in mm from edge to edge at a depth; 0 below the root.
    #[must_use]
    pub fn width(&self, depth: f64) -> f64 {
        self.edges(depth).map_or(0.0, |(front, back)| front - back)
    }

    /// How much in mm is cut away at a depth: less than the width where marks of single passes stand
    /// apart and leave a ridge between them.
    fn cut_away(&self, depth: f64) -> f64 {
        let deep = self.kept.iter().filter(|k| k.depth >= depth);
        let mut spans: Vec<(f64, f64)> = deep
            .map(|k| {
                let height = k.depth - depth;
                (
                    k.u - self.profile.behind(height),
                    k.u + self.profile.ahead(height),
                )
            })
            .collect();
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut end = f64::MIN;
        let mut sum = 0.0;
        for (from, to) in spans {
            sum += (to - from.max(end)).max(0.0);
            end = end.max(to);
        }
        sum
    }

    /// Depth in mm at which the groove is `width` mm wide; `None` where it is narrower at the crest
    /// or wider at the root. Above the crest the groove is taken to widen on.
    #[must_use]
    pub fn depth_of_width(&self, width: f64) -> Option<f64> {
        let (mut wide, mut narrow) = (-self.depth().max(width) * 4.0, self.depth());
        if self.kept.is_empty() || self.width(wide) < width || self.width(narrow) > width {
            return None;
        }
        // Halving stops when there is no number between the two.
        for _ in 0..200 {
            let middle = f64::midpoint(wide, narrow);
            if self.width(middle) >= width {
                wide = middle;
            } else {
                narrow = middle;
            }
        }
        Some(f64::midpoint(wide, narrow))
    }

    /// Area in mm² of the groove below the crest; `None` for very many placements side by side.
    #[must_use]
    pub fn area(&self) -> Option<f64> {
        match self.kept.as_slice() {
            [] => Some(0.0),
            [one] => Some(self.profile.area(one.depth)),
            many if many.len() > AREA_LIMIT => None,
            many => {
                // The edges are smooth between these depths, but for the places where two
                // placements take turns.
                let straight = self.profile.straight_from();
                let mut at: Vec<f64> = many
                    .iter()
                    .flat_map(|k| [k.depth, k.depth - straight[0], k.depth - straight[1]])
                    .chain([0.0])
                    .filter(|depth| (0.0..=self.depth()).contains(depth))
                    .collect();
                at.sort_by(f64::total_cmp);
                at.dedup_by(|a, b| (*a - *b).abs() < 1e-12);
                let parts = at.windows(2);
                Some(parts.map(|p| self.area_between(p[0], p[1])).sum())
            }
        }
    }

    /// Area between two depths. In t with depth = middle + half · sin t the integrand is smooth at
    /// the tip of a nose, where the width grows with a square root.
    fn area_between(&self, from: f64, to: f64) -> f64 {
        let (middle, half) = (f64::midpoint(from, to), (to - from) / 2.0);
        let value = |t: f64| self.cut_away(middle + half * t.sin()) * half * t.cos();
        let end = std::f64::consts::FRAC_PI_2;
        simpson(
            &value,
            (-end, value(-end)),
            (0.0, value(0.0)),
            (end, value(end)),
            1e-10,
            24,
        )
    }
}

fn covers(profile: Profile, over: Placement, under: Placement) -> bool {
    let (along, deeper) = (under.u - over.u, over.depth - under.depth);
    along <= deeper * profile.front.tan() && -along <= deeper * profile.back.tan()
}

type Sample = (f64, f64);

/// Simpson's rule, halved where it is not yet exact to `within`.
fn simpson(
    value: &impl Fn(f64) -> f64,
    from: Sample,
    middle: Sample,
    to: Sample,
    within: f64,
    deeper: u32,
) -> f64 {
    let sample = |t: f64| (t, value(t));
    let rule = |a: Sample, m: Sample, b: Sample| (b.0 - a.0) / 6.0 * (a.1 + 4.0 * m.1 + b.1);
    let left = sample(f64::midpoint(from.0, middle.0));
    let right = sample(f64::midpoint(middle.0, to.0));
    let whole = rule(from, middle, to);
    let halves = rule(from, left, middle) + rule(middle, right, to);
    if deeper == 0 || (deeper < 20 && (halves - whole).abs() <= 15.0 * within) {
        return halves + (halves - whole) / 15.0;
    }
    simpson(value, from, left, middle, within / 2.0, deeper - 1)
        + simpson(value, middle, right, to, within / 2.0, deeper - 1)
}

#[cfg(test)]
mod tests;
