//! The groove that several placements of one tool leave together.
//!
//! Depths count from the crest inwards, u along the axis in the direction of the feed. The edges of
//! the groove at a depth are those of the placement that reaches farthest there.

use super::edge::Edges;
use super::envelope::Outline;
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
    tool: Edges,
    /// The placements that no other one covers.
    kept: Vec<Placement>,
}

impl Groove {
    /// Uncut work.
    #[must_use]
    pub fn new(profile: Profile) -> Groove {
        Groove {
            profile,
            tool: profile.edges(),
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
        if !usable
            || placement.depth <= 0.0
            || self.kept.iter().any(|k| covers(&self.tool, *k, placement))
        {
            return;
        }
        let tool = self.tool;
        self.kept.retain(|k| !covers(&tool, placement, *k));
        self.kept.push(placement);
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
            let front = placement.u + self.tool.front.reach(height);
            let back = placement.u - self.tool.back.reach(height);
            edges = Some(edges.map_or((front, back), |(f, b)| (f.max(front), b.min(back))));
        }
        edges
    }

    /// Width in mm from edge to edge at a depth; 0 below the root.
    #[must_use]
    pub fn width(&self, depth: f64) -> f64 {
        self.edges(depth).map_or(0.0, |(front, back)| front - back)
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
        self.area_along(&mut Outline::default())
    }

    /// The same after every pass of one groove, which keeps its outline: only what a pass changed is
    /// worked out again.
    pub fn area_along(&self, outline: &mut Outline) -> Option<f64> {
        match self.kept.as_slice() {
            [] => Some(0.0),
            [one] => Some(self.profile.area(one.depth)),
            many if many.len() > AREA_LIMIT => None,
            many => Some(outline.area(&self.tool, many)),
        }
    }
}

fn covers(tool: &Edges, over: Placement, under: Placement) -> bool {
    let (along, deeper) = (under.u - over.u, over.depth - under.depth);
    along <= deeper * tool.front.tangent() && -along <= deeper * tool.back.tangent()
}

#[cfg(test)]
mod tests;
