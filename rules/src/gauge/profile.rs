//! The cutting profile of a tool.
//!
//! Along the axis counts u, in the direction of the feed; heights count from the tip outwards. The
//! edge towards the feed is the front edge, the other one the back edge. The point that is placed
//! is the middle of the nose: the centre of its radius, the middle of its flat.

use std::f64::consts::PI;

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

    /// How far the front edge stands ahead of the middle of the nose at a height in mm above the
    /// tip; 0 below it.
    #[must_use]
    pub fn ahead(&self, height: f64) -> f64 {
        reach(self.nose, self.front, height)
    }

    /// How far the back edge stands behind the middle of the nose at a height.
    #[must_use]
    pub fn behind(&self, height: f64) -> f64 {
        reach(self.nose, self.back, height)
    }

    /// Heights in mm at which the front and the back edge begin to be straight.
    #[must_use]
    pub fn straight_from(&self) -> [f64; 2] {
        [self.front, self.back].map(|angle| match self.nose {
            Nose::Radius(radius) => radius * (1.0 - angle.sin()),
            Nose::Flat(_) => 0.0,
        })
    }

    /// Area in mm² between the edges up to a height in mm: the groove of one plunge to that depth.
    #[must_use]
    pub fn area(&self, height: f64) -> f64 {
        if height <= 0.0 {
            return 0.0;
        }
        [self.front, self.back]
            .into_iter()
            .map(|angle| half_area(self.nose, angle, height))
            .sum()
    }

    /// Length in mm of the nose that is in the work at a depth: of its arc between the two
    /// edges, or of its flat.
    #[must_use]
    pub fn nose_length(&self, depth: f64) -> f64 {
        match self.nose {
            Nose::Flat(width) => width,
            Nose::Radius(radius) => [self.front, self.back]
                .into_iter()
                .map(|angle| {
                    let whole = PI / 2.0 - angle;
                    let wet = ((radius - depth) / radius).clamp(-1.0, 1.0).acos();
                    if radius > 0.0 {
                        radius * whole.min(wet)
                    } else {
                        0.0
                    }
                })
                .sum(),
        }
    }
}

fn reach(nose: Nose, angle: f64, height: f64) -> f64 {
    if height < 0.0 {
        return 0.0;
    }
    match nose {
        Nose::Flat(width) => width / 2.0 + height * angle.tan(),
        Nose::Radius(radius) => {
            let straight = radius * (1.0 - angle.sin());
            if height < straight {
                (height * (2.0 * radius - height)).max(0.0).sqrt()
            } else {
                radius * angle.cos() + (height - straight) * angle.tan()
            }
        }
    }
}

/// Area between the middle of the nose and one edge.
fn half_area(nose: Nose, angle: f64, height: f64) -> f64 {
    match nose {
        Nose::Flat(width) => height * (width + height * angle.tan()) / 2.0,
        Nose::Radius(radius) => {
            let straight = radius * (1.0 - angle.sin());
            let low = height.min(straight);
            let segment = if radius > 0.0 {
                let up = radius - low;
                let turn = (up / radius).clamp(-1.0, 1.0).acos();
                (radius * radius * turn - up * (low * (2.0 * radius - low)).max(0.0).sqrt()) / 2.0
            } else {
                0.0
            };
            let tall = (height - straight).max(0.0);
            segment + tall * (radius * angle.cos() + tall * angle.tan() / 2.0)
        }
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
