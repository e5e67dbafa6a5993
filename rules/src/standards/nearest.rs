//! From numbers to names: which threads of all families could have been meant by a crest, a root
//! and a lead.
//!
//! The distance of a candidate is a sum of terms, each counted in pitches so that one scale serves
//! all families: how far the diameters lie outside what the form allows, how far the lead lies
//! outside its tolerance, and small amounts that put common series before rare ones. The weights
//! are our own choice: within 0.1 the numbers fit, above 0.5 something contradicts.

use std::sync::Arc;

use super::custom::Custom;
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
    /// Taper on the diameter per length along the axis, whatever its sign, where it is known: 0 for
    /// a parallel thread.
    pub taper: Option<f64>,
}

/// A thread that could have been meant.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// The thread, with its side and without a class.
    pub thread: Thread,
    /// How badly the numbers fit, 0 for not at all badly.
    pub distance: f64,
    /// Whether lead, taper and diameters all lie where the form has them; the distance then only
    /// tells how common the thread is.
    pub fits: bool,
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
/// What a taper costs that is not the thread's, such as one taken for the other side of the axis.
const OTHER_TAPER: f64 = 0.5;
/// A diameter of four decimals of an inch is within this of the exact one, in mm.
const ROUNDED_DIAMETER: f64 = 0.003;
/// A parallel thread may be cut with a little taper, to make up for a part that bends.
const STRAIGHT: f64 = 0.005;
/// What the second start costs, and each further one a third of it: a feed word alone cannot tell
/// `M24x6` from two starts of `M24x3`.
const SECOND_START: f64 = 0.6;

/// The threads that fit the numbers, the nearest first; empty where neither diameter is known or
/// nothing comes near. The second entry is the runner-up to be named beside the first.
#[must_use]
pub fn nearest(measured: &Measured) -> Vec<Candidate> {
    nearest_with(measured, &[])
}

/// As [`nearest`], with forms of the shop's own among the sizes.
#[must_use]
pub fn nearest_with(measured: &Measured, forms: &[Arc<Custom>]) -> Vec<Candidate> {
    let usable = |v: Option<f64>| v.filter(|mm| mm.is_finite() && *mm > 0.0);
    let measured = Measured {
        crest_mm: usable(measured.crest_mm),
        root_mm: usable(measured.root_mm),
        lead_tolerance_mm: measured.lead_tolerance_mm.max(1e-6),
        taper: measured.taper.map(f64::abs).filter(|t| t.is_finite()),
        ..*measured
    };
    let blind = measured.crest_mm.is_none() && measured.root_mm.is_none();
    if blind || !measured.lead_mm.is_finite() || measured.lead_mm <= 0.0 {
        return Vec::new();
    }
    let mut found: Vec<(f64, Thread)> = Vec::new();
    let mut weigh = |thread: Thread, extra: f64| {
        let distance =
            extra + Comparison::of(&thread, &measured).map_or(f64::INFINITY, |c| c.distance());
        if distance <= FARTHEST {
            found.push((distance, thread));
        }
    };
    for thread in forms.iter().map(Custom::thread) {
        if thread.exists_on(measured.side) {
            weigh(thread, 0.0);
        }
    }
    for family in FAMILIES {
        for size in family.sizes() {
            // Cheap first: most sizes are far away.
            let (major, pitch) = (size.major.mm(), size.pitch.mm());
            let any = measured.crest_mm.or(measured.root_mm).unwrap_or(major);
            if (major - any).abs() > 4.0 * pitch + 1.0 {
                continue;
            }
            let thread = Thread::of_size(family, size);
            if !thread.exists_on(measured.side) {
                continue;
            }
            let most_starts = match family.standard().several_starts {
                true => MOST_STARTS,
                false => 1,
            };
            for starts in 1..=most_starts {
                let mut thread = thread.clone();
                thread.starts = starts;
                weigh(thread, 0.01 * f64::from(size.rank));
            }
        }
        for guess in guesses(&measured) {
            let special = family.standard().special;
            let tolerance = measured.lead_tolerance_mm;
            if let Some(thread) = special(guess, measured.lead_mm, tolerance)
                && !thread.is_standard_size()
            {
                weigh(thread, SPECIAL);
            }
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut candidates: Vec<Candidate> = Vec::new();
    for (distance, mut thread) in found {
        // Two guesses can lead to one special size.
        if candidates.iter().any(|c| same_size(&c.thread, &thread)) {
            continue;
        }
        let Some(comparison) = Comparison::of(&thread, &measured) else {
            continue;
        };
        let mut reasons = comparison.reasons();
        if !thread.is_standard_size() {
            reasons.push("no series lists this size".to_owned());
        }
        thread.side = Some(measured.side);
        candidates.push(Candidate {
            thread,
            distance,
            fits: comparison.fits(),
            reasons,
        });
        if candidates.len() == MOST {
            break;
        }
    }
    candidates
}

fn same_size(a: &Thread, b: &Thread) -> bool {
    let key = |t: &Thread| (t.family, t.series, t.name, t.major, t.starts);
    key(a) == key(b) && a.pitch == b.pitch && a.custom == b.custom
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

/// One thread set against the numbers.
struct Comparison {
    pitch: f64,
    starts: u32,
    lead: LeadFit,
    /// The taper measured and the form's, where the form has one and it was measured.
    taper: Option<(f64, f64)>,
    /// The diameters that are known.
    diameters: Vec<DiameterFit>,
}

/// How a lead fits, in mm.
struct LeadFit {
    written: f64,
    exact: f64,
    tolerance: f64,
}

/// How a diameter or a depth fits, in mm.
struct DiameterFit {
    measured: f64,
    fit: Fit,
}

/// What is expected of a diameter or a depth: how it is called, the range, and where in the range
/// the standard's drawing has it.
#[derive(Clone, Copy)]
struct Fit {
    what: &'static str,
    band: Band,
    ideal: Band,
}

impl Comparison {
    /// `None` when the lead or the taper rules the thread out.
    fn of(thread: &Thread, measured: &Measured) -> Option<Self> {
        let lead = LeadFit {
            written: measured.lead_mm,
            exact: thread.lead().mm(),
            tolerance: measured.lead_tolerance_mm,
        };
        lead.distance(thread.starts)?;
        let form = thread.form().taper;
        let taper = match measured.taper {
            Some(taper) if form == 0.0 && taper > STRAIGHT => return None,
            Some(taper) if form > 0.0 && !(0.4 * form..=2.5 * form).contains(&taper) => {
                return None;
            }
            Some(taper) if form > 0.0 => Some((taper, form)),
            _ => None,
        };
        let expected = Expected::of(thread, measured.side);
        let height = measured.crest_mm.zip(measured.root_mm);
        let known = [
            (measured.crest_mm, Some(expected.crest)),
            (measured.root_mm, Some(expected.root)),
            (height.map(|(a, b)| (a - b).abs() / 2.0), expected.depth),
        ];
        let fit = |(measured, fit): (Option<f64>, Option<Fit>)| {
            let (measured, fit) = measured.zip(fit)?;
            Some(DiameterFit { measured, fit })
        };
        let diameters = known.into_iter().filter_map(fit);
        Some(Comparison {
            pitch: thread.pitch.mm(),
            starts: thread.starts,
            lead,
            taper,
            diameters: diameters.collect(),
        })
    }

    fn distance(&self) -> f64 {
        let starts = match self.starts {
            0 | 1 => 0.0,
            more => SECOND_START * (1.0 + f64::from(more - 2) / 3.0),
        };
        let diameters: f64 = self.diameters.iter().map(|d| d.distance(self.pitch)).sum();
        let taper = if self.taper_fits() { 0.0 } else { OTHER_TAPER };
        self.lead.distance(self.starts).unwrap_or(f64::INFINITY) + starts + taper + diameters
    }

    fn fits(&self) -> bool {
        let inside = |d: &DiameterFit| d.fit.band.excess(d.measured).abs() <= ROUNDED_DIAMETER;
        self.lead.fits() && self.taper_fits() && self.diameters.iter().all(inside)
    }

    fn taper_fits(&self) -> bool {
        self.taper
            .is_none_or(|(measured, form)| (measured - form).abs() <= 0.05 * form)
    }

    fn reasons(&self) -> Vec<String> {
        let mut reasons = vec![self.lead.reason()];
        if self.starts > 1 {
            reasons.push(format!("it would have {} starts", self.starts));
        }
        if let Some((measured, form)) = self.taper {
            let (measured, form) = (1.0 / measured, 1.0 / form);
            reasons.push(if (measured - form).abs() < 0.05 * form {
                format!("the taper on the diameter is 1:{form:.0}")
            } else {
                format!("the taper on the diameter is 1:{measured:.1}, not 1:{form:.0}")
            });
        }
        reasons.extend(self.diameters.iter().map(DiameterFit::reason));
        reasons
    }
}

impl LeadFit {
    fn off(&self) -> f64 {
        (self.written - self.exact).abs()
    }

    fn fits(&self) -> bool {
        self.off() <= self.tolerance * (1.0 + 1e-9)
    }

    /// A single-start thread whose lead is off by less than a twentieth is a slip of the pen that
    /// is worth a candidate, never a good one.
    fn distance(&self, starts: u32) -> Option<f64> {
        let relative = self.off() / self.exact;
        if self.fits() {
            return Some(0.0);
        }
        (starts == 1 && relative < 0.05).then_some(0.3 + 10.0 * relative)
    }

    fn reason(&self) -> String {
        let (written, exact) = (self.written, self.exact);
        if self.off() <= 1e-9 {
            format!("the lead is {exact:.6} mm")
        } else if self.fits() {
            format!("the lead {written:.6} is {exact:.6} mm to the decimals written")
        } else {
            format!("the lead {written:.6} is not {exact:.6} mm")
        }
    }
}

impl DiameterFit {
    fn distance(&self, pitch: f64) -> f64 {
        let outside = self.fit.band.excess(self.measured).abs();
        (outside + 0.05 * self.fit.ideal.excess(self.measured).abs()) / pitch
    }

    fn reason(&self) -> String {
        let (what, measured, band) = (self.fit.what, self.measured, self.fit.band);
        let (min, max) = (band.min.unwrap_or(0.0), band.max.unwrap_or(f64::INFINITY));
        match band.excess(measured).abs() {
            0.0 => format!("the {what} {measured:.3} lies between {min:.3} and {max:.3} mm"),
            outside => format!(
                "the {what} {measured:.3} lies {outside:.3} mm outside {min:.3} to {max:.3} mm"
            ),
        }
    }
}

/// Where the diameters of a thread are expected, and the depth where they alone cannot tell it.
struct Expected {
    crest: Fit,
    root: Fit,
    depth: Option<Fit>,
}

impl Expected {
    fn of(thread: &Thread, side: Side) -> Expected {
        let pitch = thread.pitch.mm();
        let basic = thread.basic();
        let depth = thread.form().side(side).depth;
        // Crests are turned a tolerance under, topping leaves a little stock over.
        let under = 0.05 + 0.15 * pitch;
        let over = 0.02 + 0.05 * pitch;
        let exactly = |value: f64| Band::between(value, value);
        let (crest, root) = match side {
            Side::External => {
                let d = basic.major;
                let (least, most) = (depth.min.at(pitch), depth.max.at(pitch));
                let roots = Band::between(d - 2.0 * most - 0.05 * pitch, d - 2.0 * least);
                let crests = Band::between(d - under, d + over);
                (("crest", crests, d), ("root", roots, basic.root))
            }
            Side::Internal => {
                let bore = basic.minor;
                let (ideal, most) = (
                    bore + 2.0 * depth.design.at(pitch),
                    bore + 2.0 * depth.max.at(pitch),
                );
                let widest = bore + 0.05 + 0.25 * pitch;
                let bores = Band::between(bore - over, widest);
                let roots = Band::between(basic.major - over, most);
                (("bore", bores, bore), ("major diameter", roots, ideal))
            }
        };
        let planes = thread.gauge_planes(side);
        // A stroke may end at any of the planes, and a little before or behind them.
        let reach = planes.as_ref().map(|planes| planes.reach_of_stroke(pitch));
        let (low, high) = reach.unwrap_or((0.0, 0.0));
        let along = |band: Band| Band {
            min: band.min.map(|v| v + low),
            max: band.max.map(|v| v + high),
        };
        let fit = |(what, band, ideal): (&'static str, Band, f64)| Fit {
            what,
            band: along(band),
            ideal: along(exactly(ideal)),
        };
        Expected {
            crest: fit(crest),
            root: fit(root),
            depth: planes.map(|_| Fit {
                what: "depth",
                band: depth.band(pitch),
                ideal: exactly(depth.design.at(pitch)),
            }),
        }
    }
}

#[cfg(test)]
mod tests;
