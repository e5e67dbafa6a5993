//! The finished thread in the plane of its axis.

use super::groove::Groove;
use crate::measure::tool::Nose;
use crate::standards::Side;
use crate::standards::form::Flanks;

/// What was there to be cut, and how often the groove comes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blank {
    /// Bolt or nut.
    pub side: Side,
    /// Diameter in mm that the depths count from: of the blank, or of the bore.
    pub crest: f64,
    /// Pitch, mm.
    pub pitch: f64,
}

impl Blank {
    /// The diameter in mm at a depth.
    #[must_use]
    pub fn at(&self, depth: f64) -> f64 {
        match self.side {
            Side::External => self.crest - 2.0 * depth,
            Side::Internal => self.crest + 2.0 * depth,
        }
    }

    /// The depth in mm at a diameter.
    #[must_use]
    pub fn depth(&self, diameter: f64) -> f64 {
        match self.side {
            Side::External => (self.crest - diameter) / 2.0,
            Side::Internal => (diameter - self.crest) / 2.0,
        }
    }
}

/// The finished thread, all in mm, diameters as diameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finished {
    /// The pitch diameter: where groove and ridge are equally wide (simple pitch diameter of
    /// ISO 5408). It may lie outside the crest of a thread that was hardly cut.
    pub pitch: f64,
    /// The crest: the blank, or less where the grooves meet or the tool tops the crest.
    pub crest: f64,
    /// The root: the deepest tip.
    pub root: f64,
    /// Width of the flat on the crest; 0 where it is sharp.
    pub crest_flat: f64,
    /// Width of the flat at the root: that of the tip, and what the passes widened it by.
    pub root_flat: f64,
    /// Radius at the root: of the nose, 0 for a tip with a flat.
    pub root_radius: f64,
    /// How much larger (above 0) or smaller the angles of the two flanks from the normal to the axis
    /// came out than the tool's, in degrees, over the middle half of their height: the one ahead,
    /// then the one behind. A chord: an infeed beyond the flank leaves steps.
    pub flank_error_deg: [f64; 2],
}

/// The finished thread; `None` for uncut work, or where the groove is nowhere half a pitch wide.
#[must_use]
pub fn finished(groove: &Groove, blank: Blank) -> Option<Finished> {
    let depth = groove.depth();
    let profile = groove.profile();
    let pitch_depth = groove.depth_of_width(blank.pitch / 2.0)?;
    // Where neighbouring grooves meet, and where the tool tops the crest.
    let meet = groove.depth_of_width(blank.pitch).unwrap_or(0.0).max(0.0);
    let topped = profile
        .topping
        .map_or(0.0, |topping| (depth - topping).max(0.0));
    let crest_depth = meet.max(topped);
    let at_root = groove.shaping().iter().filter(|p| depth - p.depth < 1e-9);
    let (first, last) = at_root.fold((f64::MAX, f64::MIN), |(a, b), p| (a.min(p.u), b.max(p.u)));
    let (tip_flat, root_radius) = match profile.nose {
        Nose::Flat(width) => (width, 0.0),
        Nose::Radius(radius) => (0.0, radius),
    };
    Some(Finished {
        pitch: blank.at(pitch_depth),
        crest: blank.at(crest_depth),
        root: blank.at(depth),
        crest_flat: (blank.pitch - groove.width(crest_depth)).max(0.0),
        root_flat: tip_flat + (last - first).max(0.0),
        root_radius,
        flank_error_deg: flank_errors(groove, crest_depth),
    })
}

/// Chord of each flank between a quarter and three quarters of the height on which it is straight,
/// against the tool's own angle: see [`Finished::flank_error_deg`]; where the tool's angle is not
/// the form's, the caller adds the difference.
fn flank_errors(groove: &Groove, crest_depth: f64) -> [f64; 2] {
    let profile = groove.profile();
    let straight = profile.straight_from();
    let chord = |from: f64, angle: f64, edge: &dyn Fn((f64, f64)) -> f64| {
        let low = groove.depth() - from;
        let (high, low) = (
            crest_depth + (low - crest_depth) / 4.0,
            crest_depth + (low - crest_depth) * 0.75,
        );
        match (groove.edges(high), groove.edges(low)) {
            (Some(up), Some(down)) if low - high > 1e-9 => {
                let run = edge(up) - edge(down);
                (run / (low - high)).atan().to_degrees() - angle.to_degrees()
            }
            _ => 0.0,
        }
    };
    [
        chord(straight[0], profile.front, &|edges| edges.0),
        chord(straight[1], profile.back, &|edges| -edges.1),
    ]
}

/// How a gauge of the form's own flanks goes into the groove: the pitch diameter of the gauge that
/// just fits, and whether its crest fouls the root.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Functional {
    /// Pitch diameter in mm of the largest (bolt: smallest) gauge that goes on or in.
    pub pitch: f64,
    /// Whether the gauge's crest finds room; if not, it stops whatever the pitch diameter.
    pub clears_root: bool,
}

/// The gauge that just fits the groove, with its crest at the diameter `gauge_crest` mm and true
/// lead (derived).
///
/// A gauge ridge at z with its pitch line at depth v fills, at depth y, from
/// z − P/4 − (v − y)·tan b to z + P/4 + (v − y)·tan a. It must lie inside the groove's edges B(y)
/// to F(y) at every depth down to its crest, so v·(tan a + tan b) is at most
/// min(F + y·tan a) − max(B − y·tan b) − P/2.
#[must_use]
pub fn functional(
    groove: &Groove,
    blank: Blank,
    flanks: Flanks,
    leading_ahead: bool,
    gauge_crest: f64,
) -> Option<Functional> {
    let tangents = (
        flanks.leading_deg.to_radians().tan(),
        flanks.trailing_deg.to_radians().tan(),
    );
    let (a, b) = if leading_ahead {
        tangents
    } else {
        (tangents.1, tangents.0)
    };
    if a + b < 1e-6 {
        return None;
    }
    let lowest = blank.depth(gauge_crest);
    let clears_root = lowest <= groove.depth() + 1e-9;
    let lowest = lowest.min(groove.depth());
    let highest = 0.0f64.min(lowest);
    let ahead = |y: f64| groove.edges(y).map_or(f64::MIN, |edges| edges.0 + y * a);
    let behind = |y: f64| groove.edges(y).map_or(f64::MIN, |edges| -edges.1 + y * b);
    let room = least(&ahead, highest, lowest) + least(&behind, highest, lowest);
    let depth = (room - blank.pitch / 2.0) / (a + b);
    depth.is_finite().then(|| Functional {
        pitch: blank.at(depth),
        clears_root,
    })
}

/// The least value of a function on an interval: the ends, a grid, and a narrowing around the least
/// point of the grid.
fn least(value: &impl Fn(f64) -> f64, from: f64, to: f64) -> f64 {
    const GRID: u32 = 256;
    let at = |n: u32| from + (to - from) * f64::from(n) / f64::from(GRID);
    let lowest = (0..=GRID)
        .min_by(|m, n| value(at(*m)).total_cmp(&value(at(*n))))
        .unwrap_or(0);
    let (mut low, mut high) = (at(lowest.saturating_sub(1)), at((lowest + 1).min(GRID)));
    for _ in 0..100 {
        let (third, other) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if value(third) <= value(other) {
            high = other;
        } else {
            low = third;
        }
    }
    value(at(lowest)).min(value(f64::midpoint(low, high)))
}

#[cfg(test)]
mod tests;
