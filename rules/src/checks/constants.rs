//! Depth constants that circulate in shops, by the name of what they really are.

use crate::standards::Side;
use crate::standards::form::{NUT_HEIGHT, ROUNDED_ROOT, SHARP_V, TEACHING_RULE};
use crate::standards::thread::Thread;

/// A depth that was taken for another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Constant {
    /// Radial depth per pitch.
    pub per_pitch: f64,
    /// What it is.
    pub what: &'static str,
}

/// How near a depth must come to a constant, in pitches.
const NEAR: f64 = 0.01;

/// The wrong constant that a depth (in pitches, from the nominal crest) matches.
pub(super) fn constant(thread: &Thread, side: Side, depth: f64) -> Option<Constant> {
    let form = thread.form();
    let flanks = form.flanks?;
    let p = thread.pitch.mm();
    let design = form.design_depth(side, p) / p;
    let sharp = flanks.sharp_height();
    let sixty = (flanks.included_deg() - 60.0).abs() < 1e-9;
    let one = |per_pitch, what| Constant { per_pitch, what };
    let mut all = vec![
        one(sharp, "the full sharp V, which no thread has"),
        one(2.0 * design, "the depth on the diameter, taken as a radius"),
        one(design / 2.0, "half the depth, a radius taken as a diameter"),
    ];
    if sixty {
        all.extend([
            one(7.0 / 8.0 * SHARP_V, "the depth of a tool without a nose"),
            one(
                2.0 * ROUNDED_ROOT,
                "the depth on the diameter, taken as a radius",
            ),
            one(
                2.0 * TEACHING_RULE,
                "the depth on the diameter, taken as a radius",
            ),
            one(
                2.0 * NUT_HEIGHT,
                "the nut's height on the diameter, taken as a radius",
            ),
            one(
                ROUNDED_ROOT / 2.0,
                "half the depth, a radius taken as a diameter",
            ),
            one(
                TEACHING_RULE / 2.0,
                "half the depth, a radius taken as a diameter",
            ),
        ]);
    }
    all.into_iter()
        .filter(|constant| (depth - constant.per_pitch).abs() <= NEAR)
        .min_by(|a, b| {
            let off = |c: &Constant| (depth - c.per_pitch).abs();
            off(a).total_cmp(&off(b))
        })
}
