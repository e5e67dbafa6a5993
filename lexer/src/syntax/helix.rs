//! Thread milling: arcs with an advance along their axis. Most helices are ramps into a pocket or
//! bores; one is taken for a thread where the program says so, or where it goes round as only a
//! thread does: from the middle of the hole out, up and back to the middle.

mod arc;
mod evidence;
mod gather;
mod write;

pub use write::{MillPlan, write};

pub(crate) use evidence::{EITHER, Verdict, judge, says};
pub(crate) use gather::{Gather, Run};

use super::note_unknown;
use crate::law::Law;
use crate::machine::Machine;
use crate::section::milling::{Compensation, Helix, Milling};
use crate::section::tapping::{Axis, Hand};
use crate::section::{Cut, Infeed, Pass, PullOut, Purpose, Side, Turning, Val};
use crate::source::Mark;
use crate::units::{Lead, Length};

/// Most helices of a section that are listed.
const LISTED: usize = 5_000;

/// Thread milling that is being gathered.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Active {
    pub(crate) milling: Milling,
    pub(crate) blocks: Vec<Mark<()>>,
    pub(crate) passes: Vec<Pass>,
    pub(crate) unknown: Vec<String>,
    pub(crate) machine: Machine,
    side: Val<Side>,
    /// Whether helices were left out of the list.
    full: bool,
}

impl Active {
    /// Begins with the first helix. `machine` is the state on it.
    pub(crate) fn start(run: Run, evidence: Vec<&'static str>, stated: bool) -> Active {
        let side = side(&run);
        let climb = climb(&side, run.counterclockwise, &run.machine);
        let rises = run.helix.rise() > Length::ZERO;
        let hand = if run.counterclockwise == rises {
            Hand::Right
        } else {
            Hand::Left
        };
        let mut active = Active {
            milling: Milling {
                axis: run.axis,
                counterclockwise: run.counterclockwise,
                hand: Val::Exact(hand),
                climb,
                compensation: run.compensation,
                helices: Vec::new(),
                evidence,
                stated,
            },
            blocks: Vec::new(),
            passes: Vec::new(),
            unknown: Vec::new(),
            machine: run.machine.clone(),
            side,
            full: false,
        };
        active.add(run);
        active
    }

    /// Whether a helix belongs to the same thread: same tool, direction, hand and pitch.
    pub(crate) fn goes_on(&self, run: &Run) -> bool {
        let Some(last) = self.milling.helices.last() else {
            return false;
        };
        let (own, new) = (last.pitch_mm(), run.helix.pitch_mm());
        self.milling.axis == run.axis
            && self.milling.counterclockwise == run.counterclockwise
            && (own - new).abs() <= 0.002 * own.abs()
            && self.machine.tool.map(|t| t.value) == run.machine.tool.map(|t| t.value)
            && self.milling.compensation.0 == run.compensation.0
    }

    /// Adds a helix.
    pub(crate) fn add(&mut self, run: Run) {
        if self.milling.helices.len() >= LISTED {
            self.full = true;
            return;
        }
        let helix = run.helix;
        self.blocks
            .extend(helix.pieces.iter().map(|piece| piece.block));
        let place = helix
            .pieces
            .first()
            .map(|piece| piece.block)
            .unwrap_or(Mark {
                value: (),
                span: Default::default(),
                line: 0,
            });
        self.passes.push(Pass {
            line: place.line,
            span: place.span,
            purpose: Purpose::Rough,
            x_start: None,
            x: None,
            depth: None,
            step: None,
            z_start: Some(helix.start),
            z_end: Some(helix.end),
            lead: lead(&helix).get(),
            lead_change: None,
            start_angle: None,
            spindle: run.machine.spindle,
            skip: run.skip,
            legs: Vec::new(),
        });
        self.milling.helices.push(helix);
    }

    /// The geometry for the section.
    pub(crate) fn cut(&self) -> Cut {
        const CUTTER: &str = "the cutter's diameter is no word of the program";
        let helices = &self.milling.helices;
        let value = |of: fn(&Helix) -> Length| {
            Val::or_unknown(helices.first().map(of), "there is no helix")
        };
        let cone = helices.first().filter(|helix| helix.cone_mm != 0.0);
        Cut {
            side: self.side.clone(),
            start_x: Val::Unknown(CUTTER.into()),
            start_z: value(|helix| helix.start),
            root_x: Val::Unknown(CUTTER.into()),
            end_z: value(|helix| helix.end),
            crest_x: Val::Unknown(CUTTER.into()),
            height: Val::Unknown("the height is in the cutter".into()),
            taper: match cone {
                Some(helix) => {
                    let change = Length::from_mm(-helix.cone_mm * helix.turns());
                    Val::Approx(change, Length::from_pm(1000))
                }
                None => Val::Exact(Length::ZERO),
            },
            lead: helices.first().map_or_else(
                || Val::Unknown("there is no helix".into()),
                |helix| lead(helix).map(Lead::abs),
            ),
            starts: 1,
            start_angle: None,
            law: Law::List,
            infeed: Infeed::Radial,
            pull_out: PullOut::None,
        }
    }

    /// What is not known.
    pub(crate) fn all_unknown(&self, cut: &Cut) -> Vec<String> {
        let mut unknown = self.unknown.clone();
        note_unknown(cut, &mut unknown);
        if let Some(why) = self.milling.climb.why() {
            unknown.push(why.to_owned());
        }
        if self.full {
            unknown.push(format!("the list ends after {LISTED} helices"));
        }
        unknown
    }
}

/// Advance per turn: exact where the helix makes a number of turns that is.
fn lead(helix: &Helix) -> Val<Lead> {
    let turns = helix.turns();
    let whole = (turns * 10_000.0).round();
    if (turns - whole / 10_000.0).abs() < 1e-7
        && let Some(lead) = Lead::over(helix.rise(), whole as i64)
    {
        return Val::Exact(lead);
    }
    Val::Approx(
        Lead::per_turn(Length::from_mm(helix.pitch_mm())),
        Lead::per_turn(Length::from_pm(1000)),
    )
}

/// Bolt or hole: by the side on which the compensation puts the tool, or by where it comes from.
fn side(run: &Run) -> Val<Side> {
    let inside = match (run.compensation.0, run.counterclockwise) {
        (Compensation::Left, ccw) => Some(ccw),
        (Compensation::Right, ccw) => Some(!ccw),
        (Compensation::Off, _) => {
            let far = [run.helix.entry, run.helix.exit]
                .into_iter()
                .flatten()
                .map(|approach| approach.radius_mm - run.helix.radius_mm)
                .find(|beyond| beyond.abs() > 0.02 + 0.002 * run.helix.radius_mm);
            far.map(|beyond| beyond < 0.0)
        }
    };
    Val::or_unknown(
        inside.map(|inside| {
            if inside {
                Side::Internal
            } else {
                Side::External
            }
        }),
        "neither compensation nor the way onto the helix tells whether it is a hole or a bolt",
    )
}

/// Climb milling: a right-hand turning cutter goes counterclockwise in a hole and clockwise round
/// a bolt.
fn climb(side: &Val<Side>, counterclockwise: bool, machine: &Machine) -> Val<bool> {
    let turning = machine.spindle.turning.map(|turning| turning.value);
    let reversed = match turning {
        Some(Turning::Clockwise) => false,
        Some(Turning::Counterclockwise) => true,
        _ => return Val::Unknown("no M3 or M4 tells how the cutter turns".into()),
    };
    match side {
        Val::Exact(side) | Val::Approx(side, _) => {
            let inside = *side == Side::Internal;
            Val::Exact((inside == counterclockwise) != reversed)
        }
        Val::Unknown(why) => Val::Unknown(why.clone()),
    }
}

/// The axes of the plane at right angles to an axis, in the order in which G3 turns the first onto
/// the second.
pub(crate) const fn plane(axis: Axis) -> (usize, usize, usize) {
    match axis {
        Axis::Z => (0, 1, 2),
        Axis::Y => (2, 0, 1),
        Axis::X => (1, 2, 0),
    }
}
