//! From numbers to names: which threads of all families could have been meant by a crest, a root
//! and a lead.
//!
//! The distance of a candidate is a sum of terms, each counted in pitches so that one scale serves
//! all families: how far the diameters lie outside what the form allows, how far the lead lies
//! outside its tolerance, and small amounts that put common series before rare ones. The weights
//! are our own choice: within 0.1 the numbers fit, above 0.5 something contradicts.

use super::limits::Band;
use super::thread::Thread;
use super::{FAMILIES, Side};

/// Numbers taken from a program. For an external thread the crest is the outside diameter and the
/// root the last pass; for an internal thread the crest is the bore and the root the last pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// Side of the thread.
    pub side: Side,
    /// Crest diameter in mm, where it is known.
    pub crest_mm: Option<f64>,
    /// Root diameter in mm, where it is known.
    pub root_mm: Option<f64>,
    /// Advance per turn in mm.
    pub lead_mm: f64,
    /// How far a written lead may lie from the exact one: half a unit of its last decimal, in mm.
    pub lead_tolerance_mm: f64,
}

/// A thread that could have been meant.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// The thread, with its side and without a class.
    pub thread: Thread,
    /// How badly the numbers fit, 0 for not at all badly.
    pub distance: f64,
    /// The comparisons behind the distance, one sentence each without its full stop.
    pub reasons: Vec<String>,
}

/// Candidates beyond this distance are not worth showing.
const FARTHEST: f64 = 1.5;
/// As many as a reader looks at.
const MOST: usize = 8;
/// More starts than this are not guessed.
const MOST_STARTS: u32 = 4;
/// What a size outside every series costs.
const SPECIAL: f64 = 0.4;
/// What the second start costs, and each further one a third of it: a feed word alone cannot tell
/// `M24x6` from two starts of `M24x3`.
const SECOND_START: f64 = 0.6;

/// The threads that fit the numbers, the nearest first; empty where neither diameter is known or
/// nothing comes near. The second entry is the runner-up to be named beside the first.
#[must_use]
pub fn nearest(measured: &Measured) -> Vec<Candidate> {
    let usable = |v: Option<f64>| v.filter(|mm| mm.is_finite() && *mm > 0.0);
    let measured = Measured {
        crest_mm: usable(measured.crest_mm),
        root_mm: usable(measured.root_mm),
        lead_tolerance_mm: measured.lead_tolerance_mm.max(1e-6),
        ..*measured
    };
    let blind = measured.crest_mm.is_none() && measured.root_mm.is_none();
    if blind || !measured.lead_mm.is_finite() || measured.lead_mm <= 0.0 {
        return Vec::new();
    }
    let mut found: Vec<Candidate> = Vec::new();
    for family in FAMILIES {
        for size in family.sizes() {
            for starts in 1..=MOST_STARTS {
                let mut thread = Thread::of_size(family, size);
                thread.starts = starts;
                let extra = 0.01 * f64::from(size.rank);
                found.extend(compare(thread, &measured, extra));
            }
        }
        for guess in guesses(&measured) {
            let special = family.standard().special;
            let tolerance = measured.lead_tolerance_mm;
            if let Some(thread) = special(guess, measured.lead_mm, tolerance)
                && !thread.is_standard_size()
            {
                found.extend(compare(thread, &measured, SPECIAL));
            }
        }
    }
    found.sort_by(|a, b| a.distance.total_cmp(&b.distance));
    let mut named = std::collections::HashSet::new();
    found.retain(|c| named.insert(c.thread.designation()));
    found.truncate(MOST);
    found
}

/// Major diameters in mm that the numbers point at.
fn guesses(measured: &Measured) -> Vec<f64> {
    // Depth of a 60° thread, near enough to find the size on its grid.
    let depths = 2.0 * 0.6 * measured.lead_mm;
    match measured.side {
        Side::External => {
            let from_root = measured.root_mm.map(|root| root + depths);
            [measured.crest_mm, from_root]
                .into_iter()
                .flatten()
                .collect()
        }
        Side::Internal => {
            let from_bore = measured.crest_mm.map(|bore| bore + depths);
            [measured.root_mm, from_bore]
                .into_iter()
                .flatten()
                .collect()
        }
    }
}

/// Weighs one thread against the numbers; `None` when it is too far away.
fn compare(mut thread: Thread, measured: &Measured, extra: f64) -> Option<Candidate> {
    let (lead_term, lead_reason) = lead(&thread, measured)?;
    // Cheap first: most sizes are far away.
    let pitch = thread.pitch.mm();
    let any = measured.crest_mm.or(measured.root_mm)?;
    if (thread.major.mm() - any).abs() > 4.0 * pitch + 1.0 {
        return None;
    }
    thread.side = Some(measured.side);
    let expected = Expected::of(&thread, measured.side);
    let mut distance = extra + lead_term;
    let mut reasons = vec![lead_reason];
    if thread.starts > 1 {
        distance += SECOND_START * (1.0 + f64::from(thread.starts - 2) / 3.0);
        reasons.push(format!("it would have {} starts", thread.starts));
    }
    for (value, (what, band, ideal)) in [
        (measured.crest_mm, expected.crest),
        (measured.root_mm, expected.root),
    ] {
        let Some(value) = value else { continue };
        let outside = band.excess(value);
        distance += outside.abs() / pitch + 0.05 * (value - ideal).abs() / pitch;
        let (min, max) = (band.min.unwrap_or(0.0), band.max.unwrap_or(f64::INFINITY));
        reasons.push(if outside == 0.0 {
            format!("the {what} {value:.3} lies between {min:.3} and {max:.3} mm")
        } else {
            format!(
                "the {what} {value:.3} lies {:.3} mm outside {min:.3} to {max:.3} mm",
                outside.abs()
            )
        });
    }
    (distance <= FARTHEST).then_some(Candidate {
        thread,
        distance,
        reasons,
    })
}

/// The lead fits within its tolerance, or a single-start thread is off by less than a twentieth:
/// a slip of the pen that is worth a candidate, never a good one.
fn lead(thread: &Thread, measured: &Measured) -> Option<(f64, String)> {
    let exact = thread.lead().mm();
    let off = measured.lead_mm - exact;
    let written = measured.lead_mm;
    if off.abs() <= 1e-9 {
        return Some((0.0, format!("the lead is {exact:.6} mm")));
    }
    if off.abs() <= measured.lead_tolerance_mm * (1.0 + 1e-9) {
        let reason = format!("the lead {written:.6} is {exact:.6} mm to the decimals written");
        return Some((0.0, reason));
    }
    let relative = (off / exact).abs();
    (thread.starts == 1 && relative < 0.05).then(|| {
        let reason = format!("the lead {written:.6} is not {exact:.6} mm");
        (0.3 + 10.0 * relative, reason)
    })
}

/// Where the diameters of a thread are expected: what it is called, the range, the ideal.
struct Expected {
    crest: (&'static str, Band, f64),
    root: (&'static str, Band, f64),
}

impl Expected {
    fn of(thread: &Thread, side: Side) -> Expected {
        let pitch = thread.pitch.mm();
        let basic = thread.basic();
        let depth = thread.form().side(side).depth;
        // Crests are turned a tolerance under, topping leaves a little stock over.
        let under = 0.05 + 0.15 * pitch;
        let over = 0.02 + 0.05 * pitch;
        match side {
            Side::External => {
                let d = basic.major;
                let roots = depth.band(pitch).map(|h| d - 2.0 * h);
                let roots = Band {
                    min: roots.max.map(|v| v - 0.05 * pitch),
                    max: roots.min,
                };
                Expected {
                    crest: ("crest", Band::between(d - under, d + over), d),
                    root: ("root", roots, basic.root),
                }
            }
            Side::Internal => {
                let bore = basic.minor;
                let most = basic.major + 2.0 * (depth.max.at(pitch) - depth.design.at(pitch));
                let widest = bore + 0.05 + 0.25 * pitch;
                Expected {
                    crest: ("bore", Band::between(bore - over, widest), bore),
                    root: (
                        "major diameter",
                        Band::between(basic.major - over, most),
                        basic.major,
                    ),
                }
            }
        }
    }
}
