//! How hard a pass cuts: how thick the chip is on each edge, and the force, torque and power that
//! a well-known model makes of it.
//!
//! Each edge of the tool, and its nose, is taken for an orthogonal cut of its own, as a published
//! study of thread cutting does (Int J Adv Manuf Technol 68 (2013) 1601–1612, known
//! from excerpts). The force of each follows Kienzle: kc1.1 · width · thickness^(1 − mc). Forces
//! that way are estimates for comparison: another handbook formula gives three times as much for
//! the same pass (from memory), so take them as ratios.

use crate::gauge::groove::Placement;
use crate::gauge::profile::Profile;
use crate::standards::form::Flanks;

/// What stands beside every force.
pub const ESTIMATE: &str = "estimate for comparison";

/// A chip by its parts. Thickness is at right angles to the edge, mm; 0 where the edge only rubs or
/// does not touch.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Chip {
    /// Thickness on the edge towards the feed.
    pub leading: f64,
    /// Thickness on the edge away from the feed.
    pub trailing: f64,
    /// Thickness at the nose: the step of the tip.
    pub nose: f64,
    /// Length of the leading edge in the cut: the mean of before and after, mm.
    pub leading_width: f64,
    /// Length of the trailing edge in the cut.
    pub trailing_width: f64,
    /// Length of the nose in the cut: arc or flat.
    pub nose_width: f64,
}

/// Chip thickness per step on the leading and the trailing edge for an infeed at an angle from the
/// radial direction, degrees: sin a + tan b · cos a and sin a − tan b · cos a (derived). Below 0 the
/// edge moves away from the work.
#[must_use]
pub fn thickness_per_step(flanks: Flanks, infeed_deg: f64) -> [f64; 2] {
    let tangent = infeed_deg.to_radians().tan();
    let edge = |degrees: f64, along: f64| {
        let angle = degrees.to_radians();
        angle.sin() + along * angle.cos()
    };
    [
        edge(flanks.leading_deg, tangent),
        edge(flanks.trailing_deg, -tangent),
    ]
}

/// Makes chips pass by pass. It remembers how far each edge has cut.
#[derive(Debug, Clone)]
pub struct Chips {
    profile: Profile,
    front: f64,
    back: f64,
    depth: f64,
}

impl Chips {
    /// Uncut work, whose crest the infeed meets at `u` mm along the axis in the direction of the
    /// feed.
    #[must_use]
    pub fn from_crest(profile: Profile, u: f64) -> Chips {
        Chips {
            profile,
            front: u,
            back: -u,
            depth: 0.0,
        }
    }

    /// The chip of the next pass; all 0 in the air or where the tool cuts nothing new.
    pub fn cut(&mut self, placement: Placement) -> Chip {
        if placement.depth <= 0.0 {
            return Chip::default();
        }
        let Profile { front, back, .. } = self.profile;
        // How far each edge stands along the axis, brought to the crest along itself.
        let at_front = placement.u + placement.depth * front.tan();
        let at_back = placement.depth * back.tan() - placement.u;
        let step = (placement.depth - self.depth).max(0.0);
        let before = self.depth;
        let straight = self.profile.straight_from();
        let width = |from: f64, angle: f64| {
            let tall = |depth: f64| (depth - from).max(0.0);
            f64::midpoint(tall(before), tall(placement.depth)) / angle.cos()
        };
        let chip = Chip {
            leading: (at_front - self.front).max(0.0) * front.cos(),
            trailing: (at_back - self.back).max(0.0) * back.cos(),
            nose: step,
            leading_width: width(straight[0], front),
            trailing_width: width(straight[1], back),
            nose_width: self.profile.nose_length(placement.depth),
        };
        self.front = self.front.max(at_front);
        self.back = self.back.max(at_back);
        self.depth = self.depth.max(placement.depth);
        chip
    }
}

/// Constants of a material for Kienzle's law.
#[derive(Debug, Clone, PartialEq)]
pub struct Kienzle {
    /// Force for a chip of 1 mm × 1 mm, N/mm².
    pub kc11: f64,
    /// Exponent by which thin chips cost more.
    pub mc: f64,
    /// What it is for, and where it comes from.
    pub source: String,
}

impl Kienzle {
    /// Cutting force of a chip in N.
    #[must_use]
    pub fn force(&self, chip: &Chip) -> f64 {
        let part = |width: f64, thickness: f64| {
            if width > 0.0 && thickness > 0.0 {
                width * thickness.powf(1.0 - self.mc)
            } else {
                0.0
            }
        };
        self.kc11
            * (part(chip.leading_width, chip.leading)
                + part(chip.trailing_width, chip.trailing)
                + part(chip.nose_width, chip.nose))
    }
}

/// Force, torque and power of a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Load {
    /// Cutting force, N.
    pub force_n: f64,
    /// Torque on the spindle, N·m.
    pub torque_nm: f64,
    /// Power at the tip, kW; the spindle's efficiency is not in it. None without a speed.
    pub power_kw: Option<f64>,
}

/// The load of a force in N at a diameter in mm, turning at `rpm`: M = F · d / 2000 and
/// P = F · v / 60,000 with v = π · d · n / 1000 in m/min.
#[must_use]
pub fn load(force_n: f64, diameter: f64, rpm: Option<f64>) -> Load {
    let speed = |rpm: f64| std::f64::consts::PI * diameter * rpm / 1000.0;
    Load {
        force_n,
        torque_nm: force_n * diameter / 2000.0,
        power_kw: rpm.map(|rpm| force_n * speed(rpm) / 60_000.0),
    }
}

#[cfg(test)]
mod tests;
