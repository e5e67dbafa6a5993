//! Which tool: from the shop's own tools those that can cut a thread, with the reason for every yes
//! and no; and which way of making it.

pub mod methods;

use crate::facts::{Facts, ToolFact, ToolKind};
use crate::measure::tool::{
    CLEARANCE_MARGIN_DEG, Fit, Nose, cut, flank_clearance_deg, largest_flat, largest_radius,
};
use crate::measure::vee::Vee;
use crate::standards::form::lead_angle_deg;
use crate::standards::thread::Thread;
use crate::standards::{Hand, Side};

/// Whether something speaks for a tool.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// Against it: it cannot cut the thread.
    No,
    /// A fact that decides is missing.
    Unknown,
    /// For it, with a caution.
    Care,
    /// For it.
    Yes,
}

impl Answer {
    /// The name used in text and JSON.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Answer::No => "no",
            Answer::Unknown => "unknown",
            Answer::Care => "with care",
            Answer::Yes => "yes",
        }
    }
}

/// One thing that speaks for or against a tool.
#[derive(Debug, Clone, PartialEq)]
pub struct Reason {
    /// Which way.
    pub answer: Answer,
    /// Why, in a sentence without a full stop; lengths in mm.
    pub text: String,
}

/// What is to be said of one tool.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict<'a> {
    /// The tool.
    pub tool: &'a ToolFact,
    /// The worst of its reasons: one no is a no.
    pub answer: Answer,
    /// Why.
    pub reasons: Vec<Reason>,
}

/// Pitches that differ by less than this part are the same (our own choice: a millimetre pitch
/// written for an inch one is off by more).
const SAME_PITCH: f64 = 1e-3;

/// Judges every tool of the shop for one side of a thread, the best first; tools of equal answer
/// stay in the order written.
#[must_use]
pub fn tools<'a>(thread: &Thread, side: Side, facts: &'a Facts) -> Vec<Verdict<'a>> {
    let mut verdicts: Vec<Verdict<'a>> = facts
        .tools
        .iter()
        .map(|tool| judge(thread, side, facts, tool))
        .collect();
    verdicts.sort_by_key(|verdict| match verdict.answer {
        Answer::Yes => 0,
        Answer::Care => 1,
        Answer::Unknown => 2,
        Answer::No => 3,
    });
    verdicts
}

fn judge<'a>(thread: &Thread, side: Side, facts: &Facts, tool: &'a ToolFact) -> Verdict<'a> {
    let mut about = About {
        thread,
        side,
        tool,
        reasons: Vec::new(),
    };
    match tool.kind {
        None => about.say(Answer::Unknown, "its kind is missing"),
        Some(ToolKind::Partial | ToolKind::Full | ToolKind::Chaser) => {
            about.pitch();
            about.angle();
            about.nose();
            about.hand();
            about.lead_angle();
            about.bore();
        }
        Some(ToolKind::Tap | ToolKind::RollTap) => about.tap(facts),
        Some(ToolKind::Mill) => {
            about.pitch();
            about.angle();
            about.nose();
            about.mill();
        }
    }
    about.edges();
    let answers = about.reasons.iter().map(|reason| reason.answer);
    let rank = |answer: &Answer| match answer {
        Answer::No => 0,
        Answer::Unknown => 1,
        Answer::Care => 2,
        Answer::Yes => 3,
    };
    Verdict {
        tool,
        answer: answers.min_by_key(rank).unwrap_or(Answer::Unknown),
        reasons: about.reasons,
    }
}

struct About<'t, 'a> {
    thread: &'t Thread,
    side: Side,
    tool: &'a ToolFact,
    reasons: Vec<Reason>,
}

impl About<'_, '_> {
    fn say(&mut self, answer: Answer, text: impl Into<String>) {
        self.reasons.push(Reason {
            answer,
            text: text.into(),
        });
    }

    fn pitch(&mut self) {
        let pitch = self.thread.pitch.mm();
        let Some([least, most]) = self.tool.pitch_mm else {
            return self.say(Answer::Unknown, "the pitch it is made for is missing");
        };
        let same = |a: f64, b: f64| (a - b).abs() <= SAME_PITCH * b;
        // A tool that shapes the crest too, or several teeth at once, fits one pitch only.
        let one = matches!(self.tool.kind, Some(ToolKind::Full | ToolKind::Chaser));
        if one && !same(least, most) {
            return self.say(
                Answer::Unknown,
                format!(
                    "a {} is made for one pitch, a range is stated",
                    self.tool.kind.map_or("tool", ToolKind::name)
                ),
            );
        }
        let inside = pitch >= least * (1.0 - SAME_PITCH) && pitch <= most * (1.0 + SAME_PITCH);
        let range = if same(least, most) {
            format!("a pitch of {least:.4}")
        } else {
            format!("pitches of {least:.4} to {most:.4}")
        };
        let answer = if inside { Answer::Yes } else { Answer::No };
        self.say(
            answer,
            format!("made for {range}, the thread has {pitch:.4}"),
        );
    }

    fn angle(&mut self) {
        let Some(flanks) = self.thread.form().flanks else {
            return self.say(Answer::Unknown, "the form has no straight flanks");
        };
        let wanted = flanks.included_deg();
        match self.tool.angle_deg {
            None => self.say(Answer::Unknown, "the angle between its flanks is missing"),
            Some(angle) => {
                let fits = (angle - wanted).abs() < 0.1;
                let answer = if fits { Answer::Yes } else { Answer::No };
                let text = format!("its flanks make {angle} degrees, those of the form {wanted}");
                self.say(answer, text);
                if fits && (flanks.leading_deg - flanks.trailing_deg).abs() > 1e-9 {
                    self.say(
                        Answer::Care,
                        "the form's flanks are unequal: check that the tool's stand the same way",
                    );
                }
            }
        }
    }

    fn nose(&mut self) {
        let Some(nose) = self.tool.nose else {
            return self.say(Answer::Unknown, "its nose is missing");
        };
        let limits = self.thread.limits(self.side);
        let (shape, size, most) = match nose {
            Nose::Radius(radius) => ("radius", radius, largest_radius(self.thread, self.side)),
            Nose::Flat(flat) => ("flat", flat, largest_flat(self.thread, self.side, &limits)),
        };
        let Some(fitted) = cut(self.thread, self.side, &limits, nose, "") else {
            return self.say(Answer::Unknown, "the form has no flanks that open");
        };
        let Some(most) = most else {
            return self.say(
                Answer::Unknown,
                format!("the largest nose {shape} for this root is not known"),
            );
        };
        match fitted.fit {
            Fit::TooLarge => self.say(
                Answer::No,
                format!("its nose {shape} {size:.3} is larger than the root, which takes {most:.3}"),
            ),
            Fit::Fits => self.say(
                Answer::Yes,
                format!(
                    "its nose {shape} {size:.3} goes into the root, which takes {most:.3}; it cuts to \
                     diameter {:.3}, {:.3} deep",
                    fitted.middle, fitted.depth_middle
                ),
            ),
            Fit::TooDeep { by, stop_at, widen } => self.say(
                Answer::Care,
                format!(
                    "its fine nose {shape} {size:.3} cuts {by:.3} on the diameter beyond the limit of \
                     the root before the pitch diameter is right; or stop at {stop_at:.3} and widen \
                     the groove along the axis by {widen:.3}"
                ),
            ),
        }
    }

    fn hand(&mut self) {
        let wanted = self.thread.hand;
        match self.tool.hand {
            Some(hand) if hand == wanted => {
                self.say(Answer::Yes, format!("made for {} threads", name(hand)));
            }
            Some(hand) => self.say(
                Answer::No,
                format!(
                    "made for {} threads, this one is {}",
                    name(hand),
                    name(wanted)
                ),
            ),
            None => {}
        }
    }

    /// Each flank of the tool must keep clear of the helix: the lead angle less the tilt must stay
    /// inside the clearance that the relief gives on the flank.
    fn lead_angle(&mut self) {
        let form = self.thread.form();
        let basic = self.thread.basic();
        let smallest = match self.side {
            Side::External => basic.root,
            Side::Internal => basic.minor,
        };
        let lead_angle = lead_angle_deg(self.thread.lead().mm(), smallest);
        let signed = match self.thread.hand {
            Hand::Right => lead_angle,
            Hand::Left => -lead_angle,
        };
        let (Some(tilt), Some(relief)) = (self.tool.tilt_deg, self.tool.relief_deg) else {
            return self.say(
                Answer::Care,
                format!(
                    "its tilt or its relief is missing: check that its flanks clear a lead angle of \
                     {lead_angle:.2} degrees"
                ),
            );
        };
        // A tilt is stated towards the hand that the tool is made for.
        let tilt = match (self.tool.hand, self.thread.hand) {
            (Some(Hand::Left), _) | (None, Hand::Left) => -tilt,
            _ => tilt,
        };
        let Some(steeper) = Vee::of(&form).map(|vee| {
            let [a, b] = vee.angles();
            a.min(b).to_degrees()
        }) else {
            return;
        };
        let clearance = flank_clearance_deg(relief, steeper);
        let apart = (signed - tilt).abs();
        let sum = format!(
            "lead angle {lead_angle:.2} less tilt {:.2} leaves {apart:.2} degrees, its flanks clear \
             {clearance:.2}",
            tilt.abs()
        );
        let answer = if apart >= clearance {
            Answer::No
        } else if apart > clearance - CLEARANCE_MARGIN_DEG {
            Answer::Care
        } else {
            Answer::Yes
        };
        self.say(answer, sum);
    }

    fn bore(&mut self) {
        if self.side == Side::External {
            return;
        }
        let bore = self.thread.basic().minor;
        match self.tool.min_bore_mm {
            None => self.say(Answer::Unknown, "the smallest bore it goes into is missing"),
            Some(least) => {
                let answer = if least <= bore {
                    Answer::Yes
                } else {
                    Answer::No
                };
                let text = format!("goes into bores from {least:.3}, the bore is {bore:.3}");
                self.say(answer, text);
            }
        }
    }

    fn tap(&mut self, facts: &Facts) {
        if self.side == Side::External {
            return self.say(Answer::No, "a tap cuts internal threads only");
        }
        if self.thread.form().taper != 0.0 {
            return self.say(Answer::Unknown, "whether it is a taper tap is not stated");
        }
        self.pitch();
        match &self.tool.designation {
            None => self.say(Answer::Unknown, "the thread it is made for is missing"),
            Some(written) => match facts.named(written, Some(Side::Internal)) {
                Ok(made_for) => {
                    let same = made_for.family == self.thread.family
                        && (made_for.major.mm() - self.thread.major.mm()).abs() < 1e-4
                        && made_for.starts == self.thread.starts;
                    let answer = if same { Answer::Yes } else { Answer::No };
                    self.say(answer, format!("made for {}", made_for.designation()));
                }
                Err(why) => self.say(Answer::Unknown, why),
            },
        }
        match self.tool.hand {
            None => {}
            Some(hand) => {
                let answer = if hand == self.thread.hand {
                    Answer::Yes
                } else {
                    Answer::No
                };
                self.say(answer, format!("a {} tap", name(hand)));
            }
        }
    }

    /// A mill cuts the helix with a straight profile, so that the flanks come out fuller than its
    /// own, the more the larger it is for the hole; and it must go in.
    fn mill(&mut self) {
        let Some(cutter) = self.tool.mill_diameter_mm else {
            return self.say(Answer::Unknown, "its diameter is missing");
        };
        if self.side == Side::External {
            return self.say(Answer::Yes, format!("diameter {cutter:.3}, from outside"));
        }
        let (bore, major) = (self.thread.basic().minor, self.thread.major.mm());
        if cutter >= bore {
            return self.say(
                Answer::No,
                format!("diameter {cutter:.3} does not go into the bore of {bore:.3}"),
            );
        }
        let Some(grown) = Vee::of(&self.thread.form()).map(|vee| {
            let [a, b] = vee.angles();
            let half = f64::midpoint(a, b);
            2.0 * mill_overcut(self.thread.lead().mm(), half, cutter, major)
        }) else {
            return;
        };
        let band = self.thread.limits(self.side).pitch;
        let play = band.min.zip(band.max).map(|(min, max)| max - min);
        let text = format!(
            "diameter {cutter:.3} in a bore of {bore:.3}: the flanks come out fuller, {grown:.3} on the \
             pitch diameter"
        );
        // More than half of the tolerance leaves little room for anything else (our own choice).
        let answer = match play {
            Some(play) if grown > play => Answer::No,
            Some(play) if grown > play / 2.0 => Answer::Care,
            Some(_) => Answer::Yes,
            None => Answer::Care,
        };
        self.say(answer, text);
    }

    fn edges(&mut self) {
        if let (Some(edges), Some(parts)) = (self.tool.edges, self.tool.parts_per_edge) {
            self.say(
                Answer::Yes,
                format!(
                    "{edges} edges of {parts} parts each: {} parts an insert",
                    f64::from(edges) * parts
                ),
            );
        }
    }
}

const fn name(hand: Hand) -> &'static str {
    match hand {
        Hand::Right => "right-hand",
        Hand::Left => "left-hand",
    }
}

/// How much deeper than its profile a thread mill cuts a flank of an internal thread, radially in
/// mm, because it leaves the helix on a chord: about k² · rc / (2 · e · R) with k = L / (2π · tan α),
/// rc the radius of the cutter, R that of the thread and e = R − rc (derived and checked
/// numerically, no published source). `half_angle` is in radians.
#[must_use]
pub fn mill_overcut(lead: f64, half_angle: f64, cutter: f64, major: f64) -> f64 {
    let rise = lead / (2.0 * std::f64::consts::PI * half_angle.tan());
    let (rc, radius) = (cutter / 2.0, major / 2.0);
    rise * rise * rc / (2.0 * (radius - rc) * radius)
}

#[cfg(test)]
mod tests;
