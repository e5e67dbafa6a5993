//! The outline of a thread in the plane of its axis, for drawings: straight flanks between crests
//! and roots as the form designs them, to scale, in mm.
//!
//! A pitch is drawn from the pitch line: the flanks cross it half a pitch apart, whatever the
//! angles, and are cut off by the lines of crest and root. Radii are laid into the corners as
//! large as they fit; a radius that takes the whole root leaves one arc.

use crate::standards::Side;
use crate::standards::form::{End, Flanks};
use crate::standards::thread::Thread;

/// A point of the outline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Along the axis in mm, growing toward the free end of the thread (the end that meets its
    /// mate), from the middle of the outline.
    pub z: f64,
    /// Distance from the axis in mm.
    pub r: f64,
}

/// The outline of some pitches of a thread.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// The corners and points of arcs, in order of z.
    pub points: Vec<Point>,
    /// How many pitches are drawn.
    pub pitches: u32,
    /// Radius of the crest line at z = 0, mm.
    pub crest: f64,
    /// Radius of the pitch line at z = 0, mm.
    pub pitch_line: f64,
    /// Radius of the root line at z = 0, mm.
    pub root: f64,
    /// Change of radius per length toward the free end: negative for an external taper thread.
    pub slope: f64,
    /// Width of the crest between its flanks in mm, before its corners are rounded.
    pub crest_flat: f64,
    /// Width of the root between its flanks in mm, before its corners are rounded.
    pub root_flat: f64,
    /// Middle of the first groove at the pitch line.
    pub groove: f64,
    /// Middle of the first groove at its root; another place where the flanks are unequal.
    pub groove_root: f64,
}

/// Points that an arc is drawn with.
const ARC_POINTS: u32 = 12;
/// Depths of the design less than this part of a pitch are not drawn.
const LEAST_DEPTH: f64 = 0.01;

/// The outline of the basic form of one side over so many pitches, at most 20; `None` where the
/// form has no straight flanks, or where its figures do not make a profile.
#[must_use]
pub fn outline(thread: &Thread, side: Side, pitches: u32) -> Option<Outline> {
    let (form, basic, pitch) = (thread.form(), thread.basic(), thread.pitch.mm());
    let flanks = form.flanks?;
    let pitches = pitches.clamp(1, 20);
    let design = form.design_depth(side, pitch);
    let (crest, root) = match side {
        Side::External => (basic.major, basic.major - 2.0 * design),
        Side::Internal => (basic.minor, basic.minor + 2.0 * design),
    };
    let (crest, root, line) = (crest / 2.0, root / 2.0, basic.pitch / 2.0);
    let outward = (crest - root).signum();
    let sound = (crest - line) * outward > 0.0
        && (line - root) * outward > 0.0
        && design > LEAST_DEPTH * pitch
        && root > 0.0;
    if !sound {
        return None;
    }
    let slope = match side {
        Side::External => -form.taper / 2.0,
        Side::Internal => form.taper / 2.0,
    };
    let lines = Lines {
        flanks,
        line,
        outward,
        slope,
        half: pitch / 4.0,
    };
    let groove_edges = |middle: f64, level: f64| {
        let left = lines.meets(middle - lines.half, lines.lean(false), level);
        let right = lines.meets(middle + lines.half, lines.lean(true), level);
        (left, right)
    };
    let (left, right) = groove_edges(0.0, root);
    let root_flat = right.z - left.z;
    let root_middle = f64::midpoint(left.z, right.z);
    let (left, right) = groove_edges(0.0, crest);
    let crest_flat = pitch - (right.z - left.z);
    // Grooves of unequal flanks stand with their mouths, not their middles, between the ends.
    let aside = f64::midpoint(left.z, right.z);
    if root_flat < -1e-6 * pitch || crest_flat < -1e-6 * pitch {
        return None;
    }
    let profile = form.side(side);
    let crest_radius = corner(&profile.crest, pitch, crest_flat, flanks);
    let root_radius = corner(&profile.root, pitch, root_flat, flanks);
    let mut corners: Vec<(Point, f64)> = Vec::new();
    let first = -f64::from(pitches) / 2.0 + 0.5;
    for k in 0..pitches {
        let middle = (first + f64::from(k)) * pitch - aside;
        let (top_left, top_right) = groove_edges(middle, crest);
        let (foot_left, foot_right) = groove_edges(middle, root);
        corners.extend([
            (top_left, crest_radius),
            (foot_left, root_radius),
            (foot_right, root_radius),
            (top_right, crest_radius),
        ]);
    }
    // Half a crest at either end.
    let end = f64::from(pitches) / 2.0 * pitch;
    let at = |z: f64| Point {
        z,
        r: crest + slope * z,
    };
    corners.insert(0, (at(-end), 0.0));
    corners.push((at(end), 0.0));
    let groove = first * pitch - aside;
    Some(Outline {
        points: rounded(&corners),
        pitches,
        crest,
        pitch_line: line,
        root,
        slope,
        crest_flat: crest_flat.max(0.0),
        root_flat: root_flat.max(0.0),
        groove,
        groove_root: groove + root_middle,
    })
}

/// The radius in the corners of a crest or root. Where the form has a flat and a radius that would
/// take all of it, the two are a choice, and the flat is drawn.
fn corner(end: &End, pitch: f64, flat: f64, flanks: Flanks) -> f64 {
    let radius = end.radius.map_or(0.0, |spread| spread.design.at(pitch));
    let taken = |flank_deg: f64| radius * ((90.0 - flank_deg) / 2.0).to_radians().tan();
    let all = taken(flanks.leading_deg) + taken(flanks.trailing_deg) > 0.95 * flat;
    if end.flat.is_some() && all {
        0.0
    } else {
        radius
    }
}

struct Lines {
    flanks: Flanks,
    line: f64,
    outward: f64,
    slope: f64,
    half: f64,
}

impl Lines {
    /// Change of z per height above the root on the right or the left edge of a groove. The flank
    /// that faces the free end is the leading one; it is the left edge.
    fn lean(&self, right: bool) -> f64 {
        if right {
            self.flanks.trailing_deg.to_radians().tan()
        } else {
            -self.flanks.leading_deg.to_radians().tan()
        }
    }

    /// Where the flank that crosses the pitch line at `z` meets the line that runs at `level`
    /// at z = 0; `lean` is the change of z per height above the root.
    fn meets(&self, z: f64, lean: f64, level: f64) -> Point {
        // The flank: z' = z + lean · outward · (r − r0); the level: r = level + slope · z'.
        let lean = lean * self.outward;
        let r0 = self.line + self.slope * z;
        let met = (z + lean * (level - r0)) / (1.0 - lean * self.slope);
        Point {
            z: met,
            r: level + self.slope * met,
        }
    }
}

/// Lays radii into corners, each no larger than the straight pieces beside it leave room for.
fn rounded(corners: &[(Point, f64)]) -> Vec<Point> {
    let mut points = Vec::with_capacity(corners.len() * 4);
    let last = corners.len().saturating_sub(1);
    for (index, &(here, radius)) in corners.iter().enumerate() {
        if radius <= 0.0 || index == 0 || index == last {
            points.push(here);
            continue;
        }
        let (before, after) = (corners[index - 1].0, corners[index + 1].0);
        let (to_before, to_after) = (Ray::from(here, before), Ray::from(here, after));
        let cosine = to_before.z * to_after.z + to_before.r * to_after.r;
        let half = cosine.clamp(-1.0, 1.0).acos() / 2.0;
        // The ends of the outline lie half a crest away and have no radius of their own.
        let share = |neighbour: usize, length: f64| {
            if neighbour == 0 || neighbour == last {
                length
            } else {
                length / 2.0
            }
        };
        let room = share(index - 1, to_before.length).min(share(index + 1, to_after.length));
        let back = (radius / half.tan()).min(room);
        if back <= 1e-9 || half >= std::f64::consts::FRAC_PI_2 - 1e-6 {
            points.push(here);
            continue;
        }
        let radius = back * half.tan();
        let bisector = Ray::along(to_before.z + to_after.z, to_before.r + to_after.r);
        let reach = radius / half.sin();
        let centre = Point {
            z: here.z + bisector.z * reach,
            r: here.r + bisector.r * reach,
        };
        let start = to_before.at(here, back);
        let end = to_after.at(here, back);
        let from = (start.r - centre.r).atan2(start.z - centre.z);
        let to = (end.r - centre.r).atan2(end.z - centre.z);
        let turn = (to - from + std::f64::consts::PI).rem_euclid(std::f64::consts::TAU)
            - std::f64::consts::PI;
        for step in 0..=ARC_POINTS {
            let angle = from + turn * f64::from(step) / f64::from(ARC_POINTS);
            points.push(Point {
                z: centre.z + radius * angle.cos(),
                r: centre.r + radius * angle.sin(),
            });
        }
    }
    points
}

/// A direction with a length.
struct Ray {
    z: f64,
    r: f64,
    length: f64,
}

impl Ray {
    fn from(here: Point, there: Point) -> Ray {
        Ray::along(there.z - here.z, there.r - here.r)
    }

    fn along(z: f64, r: f64) -> Ray {
        let length = z.hypot(r);
        let unit = if length > 0.0 { 1.0 / length } else { 0.0 };
        Ray {
            z: z * unit,
            r: r * unit,
            length,
        }
    }

    fn at(&self, from: Point, length: f64) -> Point {
        Point {
            z: from.z + self.z * length,
            r: from.r + self.r * length,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;
    use crate::standards::{FAMILIES, Side};

    /// M24x3: crest flat P/8, root of radius H/6 as one arc whose lowest point lies at the design
    /// root diameter 20.319 (ISO 68-1).
    #[test]
    fn the_root_of_m_is_one_arc() {
        let m24 = parse("M24x3", None).unwrap();
        let outline = outline(&m24, Side::External, 3).unwrap();
        assert!((outline.crest_flat - 0.375).abs() < 1e-9);
        let lowest = outline.points.iter().map(|p| p.r).fold(f64::MAX, f64::min);
        assert!((lowest - 20.319 / 2.0).abs() < 3e-4, "{lowest}");
        let radius = 3.0 * 0.144_337_567;
        let near_root = outline.points.iter().filter(|p| p.z.abs() < 0.3);
        let mut counted = 0;
        for point in near_root {
            let distance = point.z.hypot(point.r - (lowest + radius));
            assert!((distance - radius).abs() < 1e-6, "{point:?}");
            counted += 1;
        }
        assert!(counted > 5);
    }

    /// Every form that is known makes an outline that stays between crest and root, runs on along
    /// the axis and is as wide as its pitches; the groove is half a pitch wide at the pitch line.
    #[test]
    fn outlines_of_all_families() {
        for family in FAMILIES {
            for size in family.sizes() {
                let thread = Thread::of_size(family, size);
                let pitch = thread.pitch.mm();
                for side in [Side::External, Side::Internal] {
                    let Some(outline) = outline(&thread, side, 3) else {
                        continue;
                    };
                    let points = &outline.points;
                    let name = thread.designation();
                    let width = points[points.len() - 1].z - points[0].z;
                    assert!((width - 3.0 * pitch).abs() < 1e-9, "{name}");
                    for pair in points.windows(2) {
                        assert!(pair[1].z >= pair[0].z - 1e-9 * pitch, "{name} {pair:?}");
                    }
                    let (low, high) = (
                        outline.crest.min(outline.root),
                        outline.crest.max(outline.root),
                    );
                    for point in points {
                        let level = point.r - outline.slope * point.z;
                        assert!((low - 1e-6..=high + 1e-6).contains(&level), "{name}");
                    }
                    let crossings = points.windows(2).filter_map(|pair| {
                        let level = |p: &Point| p.r - outline.slope * p.z - outline.pitch_line;
                        let (a, b) = (level(&pair[0]), level(&pair[1]));
                        (a * b < 0.0).then(|| pair[0].z + (pair[1].z - pair[0].z) * a / (a - b))
                    });
                    let crossings: Vec<f64> = crossings.collect();
                    assert_eq!(crossings.len(), 6, "{name}");
                    for pair in crossings.windows(2) {
                        assert!(
                            (pair[1] - pair[0] - pitch / 2.0).abs() < 1e-3 * pitch,
                            "{name}"
                        );
                    }
                }
            }
        }
    }
}
