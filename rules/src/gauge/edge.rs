//! One half of a cutting profile: half of the nose and the straight edge that follows it.
//!
//! v counts from the middle of the nose outwards along the axis, heights from the tip, both in mm.
//! What depends on the angle alone is worked out once, as grooves ask thousands of times.

use std::f64::consts::FRAC_PI_2;

use crate::measure::tool::Nose;

/// Half a profile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edge {
    nose: Nose,
    angle: f64,
    tangent: f64,
    /// Height at which the edge begins to be straight.
    pub(super) straight: f64,
    /// How far out it does.
    out: f64,
}

impl Edge {
    /// The edge at an angle in radians from the normal to the axis.
    pub(super) fn new(nose: Nose, angle: f64) -> Edge {
        let (sine, cosine) = angle.sin_cos();
        let (straight, out) = match nose {
            Nose::Radius(radius) => (radius * (1.0 - sine), radius * cosine),
            Nose::Flat(width) => (0.0, width / 2.0),
        };
        Edge {
            nose,
            angle,
            tangent: angle.tan(),
            straight,
            out,
        }
    }

    /// Tangent of its angle.
    pub(super) fn tangent(&self) -> f64 {
        self.tangent
    }

    /// How far out the edge stands at a height; 0 below the tip.
    pub(super) fn reach(&self, height: f64) -> f64 {
        if height < 0.0 {
            return 0.0;
        }
        match self.nose {
            Nose::Radius(radius) if height < self.straight => {
                (height * (2.0 * radius - height)).max(0.0).sqrt()
            }
            _ => self.out + (height - self.straight) * self.tangent,
        }
    }

    /// Height of the edge at v ≥ 0; beside an edge square to the axis, that of its foot.
    fn height(&self, v: f64) -> f64 {
        let beyond = v - self.out;
        if beyond > 0.0 {
            return self.straight + self.slope() * beyond;
        }
        match self.nose {
            Nose::Flat(_) => 0.0,
            // r − √(r² − v²) without the loss of digits near the tip.
            Nose::Radius(radius) => {
                let up = ((radius - v) * (radius + v)).max(0.0).sqrt();
                if radius + up > 0.0 {
                    v * v / (radius + up)
                } else {
                    0.0
                }
            }
        }
    }

    /// Area in mm² under the edge from the tip's height, from the middle of the nose out to v ≥ 0:
    /// the integral of [`Edge::height`].
    fn under(&self, v: f64) -> f64 {
        let beyond = (v - self.out).max(0.0);
        let low = v.min(self.out);
        let nose = match self.nose {
            Nose::Radius(radius) if radius > 0.0 => {
                let up = ((radius - low) * (radius + low)).max(0.0).sqrt();
                let turn = (low / radius).clamp(-1.0, 1.0).asin();
                radius * low - (low * up + radius * radius * turn) / 2.0
            }
            _ => 0.0,
        };
        nose + beyond * (self.straight + self.slope() * beyond / 2.0)
    }

    fn slope(&self) -> f64 {
        if self.tangent > 0.0 {
            1.0 / self.tangent
        } else {
            0.0
        }
    }

    /// Area in mm² between the middle of the nose and the edge, up to a height.
    pub(super) fn half_area(&self, height: f64) -> f64 {
        let low = height.min(self.straight);
        let tall = (height - self.straight).max(0.0);
        let nose = match self.nose {
            Nose::Radius(radius) if radius > 0.0 => {
                let up = radius - low;
                let turn = (up / radius).clamp(-1.0, 1.0).acos();
                (radius * radius * turn - up * (low * (2.0 * radius - low)).max(0.0).sqrt()) / 2.0
            }
            _ => 0.0,
        };
        nose + tall * (self.out + tall * self.tangent / 2.0)
    }

    /// Length of the nose that is in the work at a depth, on this half.
    pub(super) fn nose_length(&self, depth: f64) -> f64 {
        match self.nose {
            Nose::Flat(width) => width / 2.0,
            Nose::Radius(radius) if radius > 0.0 => {
                let wet = ((radius - depth) / radius).clamp(-1.0, 1.0).acos();
                radius * (FRAC_PI_2 - self.angle).min(wet)
            }
            Nose::Radius(_) => 0.0,
        }
    }
}

/// Both halves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edges {
    /// Towards the feed.
    pub(super) front: Edge,
    /// Away from it.
    pub(super) back: Edge,
}

impl Edges {
    /// Height of the profile at v, in front of the middle of the nose or, below 0, behind it.
    pub(super) fn height(&self, v: f64) -> f64 {
        if v < 0.0 {
            self.back.height(-v)
        } else {
            self.front.height(v)
        }
    }

    /// The integral of [`Edges::height`] from 0 to v.
    pub(super) fn under(&self, v: f64) -> f64 {
        if v < 0.0 {
            -self.back.under(-v)
        } else {
            self.front.under(v)
        }
    }
}
