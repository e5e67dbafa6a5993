//! The cutting profile of a tool.
//!
//! Along the axis counts u, in the direction of the feed; heights count from the tip outwards. The
//! edge towards the feed is the front edge, the other one the back edge. The point that is placed
//! is the middle of the nose: the centre of its radius, the middle of its flat.

use super::edge::{Edge, Edges};
use crate::measure::tool::Nose;
use crate::standards::form::Flanks;

/// A tool that cuts with a nose between two straight edges.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Profile {
    /// Angle of the front edge from the normal to the axis, radians.
    pub front: f64,
    /// Angle of the back edge, radians.
    pub back: f64,
    /// The tip.
    pub nose: Nose,
    /// Height in mm above the tip of the edge that tops the crests, on a full-profile tool.
    pub topping: Option<f64>,
}

impl Profile {
    /// A tool for a form, without a topping edge. `leading_ahead` tells that the front edge cuts
    /// the leading flank: so it is when the tool feeds in from the free end of the thread.
    #[must_use]
    pub fn of(flanks: Flanks, nose: Nose, leading_ahead: bool) -> Profile {
        let (leading, trailing) = (
            flanks.leading_deg.to_radians(),
            flanks.trailing_deg.to_radians(),
        );
        let (front, back) = if leading_ahead {
            (leading, trailing)
        } else {
            (trailing, leading)
        };
        Profile {
            front,
            back,
            nose,
            topping: None,
        }
    }

    /// Both halves, with what depends on the angles alone worked out.
    pub(super) fn edges(&self) -> Edges {
        Edges {
            front: Edge::new(self.nose, self.front),
            back: Edge::new(self.nose, self.back),
        }
    }

    /// How far the front edge stands ahead of the middle of the nose at a height in mm above the
    /// tip; 0 below it.
    #[must_use]
    pub fn ahead(&self, height: f64) -> f64 {
        Edge::new(self.nose, self.front).reach(height)
    }

    /// How far the back edge stands behind the middle of the nose at a height.
    #[must_use]
    pub fn behind(&self, height: f64) -> f64 {
        Edge::new(self.nose, self.back).reach(height)
    }

    /// Heights in mm at which the front and the back edge begin to be straight.
    #[must_use]
    pub fn straight_from(&self) -> [f64; 2] {
        let edges = self.edges();
        [edges.front.straight, edges.back.straight]
    }

    /// Area in mm² between the edges up to a height in mm: the groove of one plunge to that depth.
    #[must_use]
    pub fn area(&self, height: f64) -> f64 {
        if height <= 0.0 {
            return 0.0;
        }
        let edges = self.edges();
        edges.front.half_area(height) + edges.back.half_area(height)
    }

    /// Length in mm of the nose that is in the work at a depth: of its arc between the two
    /// edges, or of its flat.
    #[must_use]
    pub fn nose_length(&self, depth: f64) -> f64 {
        let edges = self.edges();
        edges.front.nose_length(depth) + edges.back.nose_length(depth)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::vee::Vee;

    fn tool(leading_deg: f64, trailing_deg: f64, nose: Nose) -> Profile {
        let flanks = Flanks {
            leading_deg,
            trailing_deg,
            pressure: None,
        };
        Profile::of(flanks, nose, true)
    }

    /// Plane geometry, worked apart from this code: 60° and r = 0.2, below and above the tangent
    /// points; a trapezoidal tip of 2.294 mm; a square one.
    #[test]
    fn areas_worked_by_hand() {
        for (tool, height, area) in [
            (tool(30.0, 30.0, Nose::Radius(0.2)), 1.0, 0.803_990),
            (tool(30.0, 30.0, Nose::Radius(0.2)), 0.05, 0.009_066),
            (tool(30.0, 30.0, Nose::Radius(0.0)), 1.226_87, 0.869_033),
            (tool(15.0, 15.0, Nose::Flat(2.294)), 4.0, 13.463_187),
            (tool(0.0, 0.0, Nose::Flat(3.0)), 3.0, 9.0),
            // Sharp, 7° and 45°: h² (tan 7° + tan 45°) / 2.
            (tool(7.0, 45.0, Nose::Radius(0.0)), 2.0, 2.245_569),
            (tool(30.0, 30.0, Nose::Radius(0.2)), -1.0, 0.0),
        ] {
            assert!((tool.area(height) - area).abs() < 1e-6, "{tool:?} {height}");
        }
    }

    /// The straight edges meet in a sharp V that lies below the tip by the distance that
    /// [`Nose::short_of_apex`] gives, for unequal flanks too.
    #[test]
    fn the_edges_meet_where_the_vee_has_its_apex() {
        for (a, b) in [(30.0, 30.0), (3.0, 30.0), (45.0, 7.0), (14.5, 14.5)] {
            for nose in [Nose::Radius(0.3), Nose::Flat(0.4), Nose::Radius(0.0)] {
                let tool = tool(a, b, nose);
                let vee = Vee::between(Flanks {
                    leading_deg: a,
                    trailing_deg: b,
                    pressure: None,
                })
                .unwrap();
                let width = tool.ahead(2.0) + tool.behind(2.0);
                let above_apex = width / vee.opening();
                assert!((above_apex - 2.0 - nose.short_of_apex(vee)).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn the_nose_in_the_work() {
        let sixty = tool(30.0, 30.0, Nose::Radius(0.3));
        // Between the tangent points the arc turns by 120°.
        assert!((sixty.nose_length(1.0) - 0.3 * 120f64.to_radians()).abs() < 1e-12);
        assert!(sixty.nose_length(0.01) < sixty.nose_length(0.1));
        assert_eq!(tool(30.0, 30.0, Nose::Radius(0.0)).nose_length(1.0), 0.0);
        assert_eq!(tool(15.0, 15.0, Nose::Flat(2.0)).nose_length(0.1), 2.0);
    }
}
