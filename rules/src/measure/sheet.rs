//! Everything that is known of one side of a thread, gathered for those who show it.

use super::coating::{CoatedThread, Coating, coated};
use super::drill::{Hole, tap_hole};
use super::first_article::{self, Line};
use super::gauge_names::{self, Gauge, gauges};
use super::starts::{Start, starts};
use super::taper::Taper;
use super::tool::usual_noses;
use super::tool::{Cut, LeadAngles, Nose, cut, largest_flat, largest_radius, lead_angles};
use super::wires::{Wires, wires};
use crate::standards::Side;
use crate::standards::limits::{Band, Basic, Limits};
use crate::standards::planes::GaugePlanes;
use crate::standards::thread::Thread;

/// What is asked beyond the thread itself; lengths in mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Wish {
    /// A coating to allow for.
    pub coating: Option<Coating>,
    /// The nose of the tool at hand, instead of those that the form names.
    pub nose: Option<Nose>,
    /// The wires or balls at hand, instead of the best ones.
    pub wire: Option<f64>,
    /// The whole stroke of a cycle, for the taper word.
    pub stroke: Option<f64>,
}

/// One side of a thread; lengths in mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// The thread with its side settled.
    pub thread: Thread,
    /// The side.
    pub side: Side,
    /// Limits of size for its class.
    pub limits: Limits,
    /// Diameters without deviations.
    pub basic: Basic,
    /// Radial depths that are accepted from the nominal crest.
    pub depth: Band,
    /// Lead angles and clearance.
    pub lead_angles: LeadAngles,
    /// What tools of several noses cut to; empty where the flanks do not open.
    pub cuts: Vec<Cut>,
    /// The largest nose radius that the root takes.
    pub largest_radius: Option<f64>,
    /// The widest nose flat that the root takes.
    pub largest_flat: Option<f64>,
    /// The measurement over wires or balls, or why there is none.
    pub wires: Result<Wires, String>,
    /// The hole for tapping the internal thread; `None` for taper threads and without limits.
    pub hole: Option<Hole>,
    /// The taper; `None` for a parallel thread.
    pub taper: Option<Taper>,
    /// The planes of a taper thread, where its family states them.
    pub planes: Option<GaugePlanes>,
    /// The stroke that was asked for and its taper word.
    pub taper_word: Option<(f64, f64)>,
    /// The starts; one for a thread of one start.
    pub starts: Vec<Start>,
    /// What the coating asked for does.
    pub coated: Option<CoatedThread>,
    /// The gauges that decide.
    pub gauges: Vec<Gauge>,
    /// The lines of a first-article sheet.
    pub first_article: Vec<Line>,
    /// Where the numbers come from.
    pub sources: Vec<&'static str>,
}

impl Sheet {
    /// Gathers one side of a thread. A side that the designation tells is kept by the thread; the
    /// caller sees to it that the two agree.
    #[must_use]
    pub fn of(thread: &Thread, side: Side, wish: &Wish) -> Sheet {
        let thread = thread.on(side);
        let limits = thread.limits(side);
        let form = thread.form();
        let noses = match wish.nose {
            Some(nose) => vec![(nose, "as given")],
            None => usual_noses(&thread, side),
        };
        let cuts = noses
            .into_iter()
            .filter_map(|(nose, label)| cut(&thread, side, &limits, nose, label));
        let wires = wires(&thread, side, &limits, wish.wire);
        let gauges = gauges(&thread, side, &limits);
        let taper = Taper::of(form.taper);
        let hole = tap_hole(&thread);
        let planes = thread.gauge_planes(side);
        let mut sources = limits.sources.clone();
        sources.push(form.source);
        sources.extend(planes.iter().flat_map(|planes| &planes.sources));
        sources.extend((!gauges.is_empty()).then_some(gauge_names::SOURCE));
        sources.push(GEOMETRY);
        let per_cent = hole.as_ref().and_then(|hole| hole.percent_three_quarters);
        sources.extend(per_cent.map(|_| PER_CENT));
        let mut seen = Vec::new();
        sources.retain(|source| {
            !seen.contains(source) && {
                seen.push(*source);
                true
            }
        });
        Sheet {
            side,
            basic: thread.basic(),
            depth: thread.depth_band(side),
            lead_angles: lead_angles(&thread, side),
            cuts: cuts.collect(),
            largest_radius: largest_radius(&thread, side),
            largest_flat: largest_flat(&thread, side, &limits),
            hole,
            planes,
            taper,
            taper_word: taper
                .zip(wish.stroke)
                .map(|(t, stroke)| (stroke, t.word(stroke))),
            starts: starts(&thread),
            coated: wish
                .coating
                .map(|layer| coated(&thread, side, &limits, layer)),
            first_article: first_article::lines(
                &thread,
                side,
                &limits,
                wires.as_ref().ok(),
                &gauges,
            ),
            wires,
            gauges,
            sources,
            limits,
            thread,
        }
    }
}

/// Sources of what is computed here from the standards' figures.
const GEOMETRY: &str = "depth to cut, wires, coating, lead angle: plane geometry of the form";
const PER_CENT: &str = "per cent of thread: FED-STD-H28/2";
