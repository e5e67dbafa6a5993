//! One thread, three ways: cut with a single point, tapped, milled. Seconds and edges of each, from
//! facts; a way whose facts are missing says which.

use crate::cut::passes::plain_split;
use crate::cut::time::{Rapids, centre_feed, helix_turn, tapping};
use crate::standards::Side;
use crate::standards::thread::Thread;

/// What the ways are compared for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Job {
    /// Threaded length, mm.
    pub length: f64,
    /// Run-in and run-out of a single point together, mm.
    pub beyond: f64,
    /// Radial clearance to which a single point goes back, mm.
    pub clearance: f64,
    /// Parts.
    pub parts: f64,
    /// Spindle speed of a single point, 1/min.
    pub turning_rpm: Option<f64>,
    /// Spindle speed of a tap, 1/min.
    pub tapping_rpm: Option<f64>,
    /// Seconds for the spindle to turn round under a tap.
    pub reversal_s: Option<f64>,
    /// Diameter of a thread mill, mm.
    pub mill: Option<f64>,
    /// Feed at the edge of the mill, mm/min.
    pub mill_feed: Option<f64>,
    /// Whether the mill has teeth over the whole length, so that one turn cuts it all.
    pub mill_full_length: bool,
    /// Parts that an edge or a tool lasts for: single point, tap, mill.
    pub parts_per_edge: [Option<f64>; 3],
}

impl Job {
    /// Distances of a usual thread, nothing else: 8 mm before and behind it together and 2.5 mm of
    /// clearance (common practice, no source).
    pub const USUAL: Job = Job {
        length: 0.0,
        beyond: 8.0,
        clearance: 2.5,
        parts: 1.0,
        turning_rpm: None,
        tapping_rpm: None,
        reversal_s: None,
        mill: None,
        mill_feed: None,
        mill_full_length: false,
        parts_per_edge: [None; 3],
    };
}

/// One way.
#[derive(Debug, Clone, PartialEq)]
pub struct Method {
    /// `single point`, `tap` or `mill`.
    pub name: &'static str,
    /// Seconds a part, or what is missing.
    pub seconds: Result<f64, &'static str>,
    /// Edges (or tools) for all parts, where their life is known.
    pub edges: Option<f64>,
    /// How the seconds come about.
    pub sum: String,
}

/// The three ways. Tapping needs a nut; the single point splits the depth as books do.
#[must_use]
pub fn methods(thread: &Thread, side: Side, job: &Job, rapids: &Rapids) -> [Method; 3] {
    let one = |name, (seconds, sum): (Result<f64, &'static str>, String), life: Option<f64>| {
        let edges = life
            .filter(|life| *life > 0.0)
            .map(|life| (job.parts / life).ceil());
        Method {
            name,
            seconds,
            edges: seconds.ok().and(edges),
            sum,
        }
    };
    let [point, tap, mill] = job.parts_per_edge;
    [
        one(
            "single point",
            single_point(thread, side, job, rapids),
            point,
        ),
        one("tap", tapped(thread, side, job, rapids), tap),
        one("mill", milled(thread, side, job, rapids), mill),
    ]
}

type Sum = (Result<f64, &'static str>, String);

fn missing(what: &'static str) -> Sum {
    (Err(what), String::new())
}

fn single_point(thread: &Thread, side: Side, job: &Job, rapids: &Rapids) -> Sum {
    let Some(rpm) = job.turning_rpm else {
        return missing("the speed of the spindle is missing: --rpm");
    };
    let (pitch, lead) = (thread.pitch.mm(), thread.lead().mm());
    let height = thread.form().design_depth(side, pitch);
    let passes = plain_split(pitch, height).len() * thread.starts as usize;
    let stroke = job.length + job.beyond;
    let speed = lead * rpm / 60.0;
    let each =
        stroke / speed + rapids.run_up(speed) + rapids.between(job.clearance, stroke, rpm).total();
    let seconds = passes as f64 * each * rapids.factor;
    let sum = format!(
        "{passes} passes of {stroke:.1} mm at {rpm:.0} 1/min, {each:.2} s each with retract, return and \
         wait"
    );
    (Ok(seconds), sum)
}

fn tapped(thread: &Thread, side: Side, job: &Job, rapids: &Rapids) -> Sum {
    if side == Side::External {
        return missing("a tap cuts internal threads only");
    }
    let (Some(rpm), Some(reversal)) = (job.tapping_rpm, job.reversal_s) else {
        return missing(
            "the speed of the tap or the time to turn round is missing: --tap-rpm, --reversal",
        );
    };
    let seconds = tapping(job.length, thread.lead().mm(), rpm, reversal) * rapids.factor;
    let sum = format!(
        "{:.1} mm in and out at {rpm:.0} 1/min, {reversal:.2} s to turn round",
        job.length
    );
    (Ok(seconds), sum)
}

fn milled(thread: &Thread, side: Side, job: &Job, rapids: &Rapids) -> Sum {
    let (Some(cutter), Some(feed)) = (job.mill, job.mill_feed) else {
        return missing(
            "the diameter of the mill (mill_diameter_mm of a [[tool]] that fits) or its feed is missing: --mill-feed",
        );
    };
    // The edge works at the root of the thread; the middle of the mill stays a radius off.
    let (root, circle) = match side {
        Side::External => (thread.basic().root, thread.basic().root + cutter),
        Side::Internal => (thread.major.mm(), thread.major.mm() - cutter),
    };
    if circle <= 0.0 {
        return missing("the mill does not go into the hole");
    }
    let lead = thread.lead().mm();
    let centre = centre_feed(feed, circle, root);
    let turn = helix_turn(circle / 2.0, lead, centre);
    // One turn more: half a turn each to come in and to go out on an arc.
    let turns = if job.mill_full_length {
        2.0
    } else {
        (job.length / lead).ceil() + 1.0
    };
    let seconds = turns * turn * rapids.factor;
    let sum = format!(
        "{turns:.0} turns with those to come in and go out, {turn:.2} s each at {centre:.0} mm/min of \
         the middle"
    );
    (Ok(seconds), sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;

    const NOTHING: Job = Job {
        length: 30.0,
        parts: 500.0,
        ..Job::USUAL
    };

    #[test]
    fn what_is_missing_is_said() {
        let thread = parse("M24x3-6H", None).unwrap();
        for method in methods(&thread, Side::Internal, &NOTHING, &Rapids::DEFAULT) {
            assert!(
                method.seconds.unwrap_err().contains("missing"),
                "{}",
                method.name
            );
            assert_eq!(method.edges, None);
        }
    }

    /// M24x3 nut 30 mm long, tapped at 150 1/min: 2 · 30 / 450 min = 8 s and 1 s to turn round.
    /// Milled with 16 mm at 200 mm/min: 22.78 s a turn, 10 turns and one (threads of a public
    /// example worked apart from this code: centre on 4 mm, 66.67 mm/min, 25.3112 mm a turn).
    #[test]
    fn three_ways() {
        let thread = parse("M24x3-6H", None).unwrap();
        let job = Job {
            turning_rpm: Some(600.0),
            tapping_rpm: Some(150.0),
            reversal_s: Some(1.0),
            mill: Some(16.0),
            mill_feed: Some(200.0),
            parts_per_edge: [Some(50.0), Some(200.0), None],
            ..NOTHING
        };
        let [point, tap, mill] = methods(&thread, Side::Internal, &job, &Rapids::DEFAULT);
        assert!((tap.seconds.unwrap() - 9.0).abs() < 1e-9);
        assert!(
            (mill.seconds.unwrap() - 11.0 * 22.780).abs() < 0.02,
            "{mill:?}"
        );
        assert_eq!(
            (point.edges, tap.edges, mill.edges),
            (Some(10.0), Some(3.0), None)
        );
        // 38 mm at 30 mm/s is 1.27 s a pass, retract and return come on top.
        let passes: f64 = point
            .sum
            .split_whitespace()
            .next()
            .unwrap()
            .parse()
            .unwrap();
        let each = point.seconds.unwrap() / passes;
        assert!((1.4..2.0).contains(&each), "{point:?}");
        let full = Job {
            mill_full_length: true,
            ..job
        };
        let [_, _, mill] = methods(&thread, Side::Internal, &full, &Rapids::DEFAULT);
        assert!((mill.seconds.unwrap() - 2.0 * 22.780).abs() < 0.01);
        let [_, tap, _] = methods(&thread, Side::External, &job, &Rapids::DEFAULT);
        assert!(tap.seconds.unwrap_err().contains("internal"));
        let large = Job {
            mill: Some(30.0),
            ..job
        };
        let [_, _, mill] = methods(&thread, Side::Internal, &large, &Rapids::DEFAULT);
        assert!(mill.seconds.is_err());
    }
}
