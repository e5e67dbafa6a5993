//! The centre and sweep of an arc, by I, J, K or by R.

use super::plane;
use crate::block::Block;
use crate::machine::Machine;
use crate::number::Number;
use crate::section::tapping::{Axis, Place};
use crate::space::Space;

/// A point of the plane, mm.
pub(super) type Point = (f64, f64);

/// A circular move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Arc {
    pub(super) centre: Point,
    pub(super) start_radius: f64,
    pub(super) end_radius: f64,
    /// Degrees swept, above 0.
    pub(super) degrees: f64,
}

/// Places that differ by less are the same: no control resolves less, mm.
const SAME: f64 = 2e-4;
/// Most turns of one block.
const MOST_TURNS: i64 = 10_000;

/// The point of a place in the plane.
pub(super) fn point(axis: Axis, at: Place) -> Option<Point> {
    let (u, v, _) = plane(axis);
    Some((at[u]?.mm(), at[v]?.mm()))
}

pub(super) fn distance(a: Point, b: Point) -> f64 {
    (a.0 - b.0).hypot(a.1 - b.1)
}

/// Degrees from a direction to another about a centre, counterclockwise or clockwise, 0 to 360.
pub(super) fn sweep(centre: Point, from: Point, to: Point, counterclockwise: bool) -> f64 {
    let angle = |p: Point| (p.1 - centre.1).atan2(p.0 - centre.0).to_degrees();
    let by = angle(to) - angle(from);
    let by = if counterclockwise { by } else { -by };
    by.rem_euclid(360.0)
}

/// Reads an arc from `from` to `to`. None where a word that it needs is missing or is no literal.
pub(super) fn read(
    (machine, space, block): (&Machine, &Space, &Block),
    bytes: &[u8],
    from: Place,
    to: Place,
    counterclockwise: bool,
) -> Option<Arc> {
    let axis = space.normal();
    let (u, v, _) = plane(axis);
    let (start, end) = (point(axis, from)?, point(axis, to)?);
    let turns = turns(block, bytes)?;
    let letters = [b'I', b'J', b'K'];
    let closed = distance(start, end) < SAME;
    let mut arc = if block.has(letters[u]) || block.has(letters[v]) {
        let offset = |letter: u8| match block.word(letter) {
            None => Some(0.0),
            Some(word) => Some(machine.length(word.number()?)?.mm()),
        };
        let given = (offset(letters[u])?, offset(letters[v])?);
        by_centre(space, start, end, given, counterclockwise)?
    } else {
        let radius = machine.length(block.number_of(b'R')?)?.mm();
        if closed {
            return None;
        }
        by_radius(start, end, radius, counterclockwise)?
    };
    if closed || arc.degrees < 1e-7 || arc.degrees > 360.0 - 1e-7 {
        arc.degrees = 360.0;
    }
    arc.degrees += 360.0 * turns as f64;
    Some(arc)
}

fn by_centre(
    space: &Space,
    start: Point,
    end: Point,
    given: Point,
    counterclockwise: bool,
) -> Option<Arc> {
    let of = |centre: Point| Arc {
        centre,
        start_radius: distance(start, centre),
        end_radius: distance(end, centre),
        degrees: sweep(centre, start, end, counterclockwise),
    };
    let relative = of((start.0 + given.0, start.1 + given.1));
    let absolute = of(given);
    let round =
        |arc: &Arc| (arc.start_radius - arc.end_radius).abs() <= 0.002 + 0.002 * arc.start_radius;
    let arc = match space.absolute_centres {
        Some(true) => absolute,
        Some(false) => relative,
        None if !round(&relative) && round(&absolute) => absolute,
        None => relative,
    };
    let least = arc.start_radius.min(arc.end_radius);
    let spread = (arc.start_radius - arc.end_radius).abs();
    // Beyond a cone no one could have meant the circle.
    (least > 1e-3 && spread <= 0.25 * least).then_some(arc)
}

fn by_radius(start: Point, end: Point, radius: f64, counterclockwise: bool) -> Option<Arc> {
    let chord = distance(start, end);
    let size = radius.abs();
    if size < chord / 2.0 - 0.005 || size < 1e-3 {
        return None;
    }
    let middle = ((start.0 + end.0) / 2.0, (start.1 + end.1) / 2.0);
    let height = (size * size - chord * chord / 4.0).max(0.0).sqrt();
    // The short way counterclockwise has its centre on the left of the chord.
    let left = (radius > 0.0) == counterclockwise;
    let sign = if left { 1.0 } else { -1.0 };
    let normal = (-(end.1 - start.1) / chord, (end.0 - start.0) / chord);
    let centre = (
        middle.0 + sign * height * normal.0,
        middle.1 + sign * height * normal.1,
    );
    let half = (chord / 2.0 / size).min(1.0).asin().to_degrees();
    Some(Arc {
        centre,
        start_radius: size,
        end_radius: size,
        degrees: if radius > 0.0 {
            2.0 * half
        } else {
            360.0 - 2.0 * half
        },
    })
}

/// Full turns beyond the first part of one: P of the RS274/NGC interpreter counts it, TURN= does
/// not; L counts like P (from memory).
fn turns(block: &Block, bytes: &[u8]) -> Option<i64> {
    for letter in [b'P', b'L'] {
        if block.has(letter) {
            let count = block.number_of(letter).and_then(Number::integer)?;
            return (1..=MOST_TURNS).contains(&count).then_some(count - 1);
        }
    }
    for name in &block.names {
        if name.span.of(bytes).eq_ignore_ascii_case(b"TURN") {
            let count = name.assigned.and_then(Number::integer)?;
            return (0..=MOST_TURNS).contains(&count).then_some(count);
        }
    }
    Some(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arcs_by_radius_take_the_way_of_their_sign() {
        // Quarter about the origin from (1, 0) to (0, 1), the short way and the long way.
        let short = by_radius((1.0, 0.0), (0.0, 1.0), 1.0, true).unwrap();
        assert!(distance(short.centre, (0.0, 0.0)) < 1e-12);
        assert!((short.degrees - 90.0).abs() < 1e-9);
        let long = by_radius((1.0, 0.0), (0.0, 1.0), -1.0, true).unwrap();
        assert!(distance(long.centre, (1.0, 1.0)) < 1e-12);
        assert!((long.degrees - 270.0).abs() < 1e-9);
        let clockwise = by_radius((0.0, 1.0), (1.0, 0.0), 1.0, false).unwrap();
        assert!(distance(clockwise.centre, (0.0, 0.0)) < 1e-12);
        assert!(by_radius((0.0, 0.0), (10.0, 0.0), 4.0, true).is_none());
    }

    #[test]
    fn sweeps_go_the_way_of_the_arc() {
        let quarter = sweep((0.0, 0.0), (1.0, 0.0), (0.0, 1.0), true);
        let back = sweep((0.0, 0.0), (1.0, 0.0), (0.0, 1.0), false);
        assert!((quarter - 90.0).abs() < 1e-9 && (back - 270.0).abs() < 1e-9);
    }
}
