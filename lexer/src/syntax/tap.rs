//! Tapping: G84 and G74, on a turning machine G84 along Z and G88 along X; G84.2 and G84.3; G33.1
//! of the open RS274/NGC interpreter; G331 with G332; G63; and calls of tapping cycles.
//!
//! The codes and words of the cycles are those of the RS274/NGC documentation and, for turning
//! machines and M29, as usually described for controls (from memory). What is no tapping: G74 that
//! drills or grooves on a turning machine, G88 that bores on a milling machine.

mod begin;
mod call;
mod feed;
mod words;
mod write;

pub use write::{TapPlan, write};

pub(crate) use call::{Call, call};

use super::{note_unknown, position_scale, role_word};
use crate::block::Block;
use crate::codes::{Meaning, meaning};
use crate::drills::Drills;
use crate::evidence::Family;
use crate::law::Law;
use crate::machine::Machine;
use crate::section::tapping::{Axis, Hole, Place, Tapping, Way};
use crate::section::{
    Cut, Infeed, Missing, Note, Pass, PullOut, Purpose, Role, RoleWord, Side, Val,
};
use crate::source::Mark;
use crate::space::Space;
use crate::units::{Lead, Length};

/// Most holes of a section that are listed.
const LISTED: usize = 20_000;

/// A block with a code of tapping.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Code {
    pub(crate) way: Way,
    pub(crate) code: Mark<i32>,
    pub(crate) axis: Axis,
}

/// Why a block with a code of tapping is not read as one.
pub(crate) const OTHER_WORDS: &str =
    "a tapping code with words that no tapping cycle is known to have";

/// Whether a block starts tapping, and how. `axes` says whether it names a place.
pub(crate) fn code(
    machine: &Machine,
    space: &Space,
    block: &Block,
) -> Option<Result<Code, &'static str>> {
    if !block.has(b'G') {
        return None;
    }
    let family = machine.family;
    let lathe = matches!(family, Family::SystemA | Family::SystemB | Family::SystemC);
    let axes = block.has_any(b"XYZUVW");
    for (code, word) in block.g_codes() {
        let cycle = || meaning(family, code, !axes) == Meaning::HoleCycle;
        let axis = if lathe { Axis::Z } else { space.normal() };
        let (way, axis) = match code {
            840 | 740 if cycle() => (Way::Cycle, axis),
            880 if lathe && block.has_any(b"XU") && machine.feed.is_some() => (Way::Cycle, Axis::X),
            842 | 843 if cycle() => (Way::RigidCycle, axis),
            331 if axes => (Way::Stroke, moved(block)),
            3310 | 3320 if axes => (Way::Interpolated, moved(block)),
            630 if axes && !block.has_motion_code() => (Way::FloatingMove, moved(block)),
            _ => continue,
        };
        let others: &[u8] = match way {
            Way::Cycle | Way::RigidCycle if lathe => b"ABDIJO",
            Way::Cycle | Way::RigidCycle => b"ADIO",
            _ => b"",
        };
        // `R2=5` sets a parameter: the older way of ordering cycles.
        let strange = block.has_any(others)
            || !block.assignments.is_empty()
            || !block.faults.is_empty() && block.has(b'R');
        if strange {
            return Some(Err(OTHER_WORDS));
        }
        let code = Mark {
            value: code,
            span: word.span,
            line: block.line,
        };
        return Some(Ok(Code { way, code, axis }));
    }
    None
}

/// The axis of a stroke that is written with its own words: Z where it has one.
fn moved(block: &Block) -> Axis {
    if block.has_any(b"ZW") {
        Axis::Z
    } else if block.has_any(b"XU") {
        Axis::X
    } else {
        Axis::Y
    }
}

/// What tapping takes from around its block.
pub(crate) struct Around<'a> {
    /// The state behind the block.
    pub(crate) machine: &'a Machine,
    /// The tool in the spindle.
    pub(crate) tool: Option<Mark<u32>>,
    pub(crate) space: &'a Space,
    pub(crate) block: &'a Block,
    pub(crate) drills: &'a Drills,
    pub(crate) notes: &'a [Note],
    /// Whether the block stands in a loop that is not run.
    pub(crate) in_loop: bool,
}

impl Around<'_> {
    fn place(&self) -> Mark<()> {
        Mark {
            value: (),
            span: self.block.span,
            line: self.block.line,
        }
    }
}

/// Tapping that is being gathered: one activation.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Active {
    pub(crate) tapping: Tapping,
    pub(crate) blocks: Vec<Mark<()>>,
    pub(crate) passes: Vec<Pass>,
    pub(crate) words: Vec<RoleWord>,
    pub(crate) unknown: Vec<String>,
    pub(crate) missing: Vec<Missing>,
    pub(crate) lead: Val<Lead>,
    pub(crate) machine: Machine,
    /// Bottom and R plane in force.
    bottom: Val<Length>,
    clear: Val<Length>,
    /// Where the tool stood along the axis when the cycle began.
    initial: Option<Length>,
    /// Whether every hole so far was drilled before.
    pub(crate) all_drilled: bool,
    /// Whether [`Way::FloatingMove`] or [`Way::Interpolated`] waits for its return stroke.
    pub(crate) inside: bool,
    /// Whether the cycle was left by G80 or a motion code.
    pub(crate) over: bool,
}

impl Active {
    /// Adds a hole of a call at a place.
    pub(crate) fn add_called(&mut self, at: Place, around: &Around<'_>) {
        self.blocks.push(around.place());
        self.hole(at, around);
    }

    /// Whether a further block with a code goes on with this activation.
    pub(crate) fn goes_on(&self, code: Code, around: &Around<'_>) -> bool {
        let machine = around.machine;
        let same =
            |a: Option<Mark<u32>>, b: Option<Mark<u32>>| a.map(|t| t.value) == b.map(|t| t.value);
        let cycle = matches!(code.way, Way::Cycle | Way::RigidCycle);
        let lead = match code.way {
            Way::Stroke | Way::Interpolated => {
                let written = around.block.number_of(b'K');
                written.is_none_or(|k| {
                    let lead = k.real(machine.units).map(Lead::per_turn);
                    lead.map(Lead::abs) == self.lead.get()
                })
            }
            _ => {
                self.machine.feed.map(|f| f.value.number())
                    == machine.feed.map(|f| f.value.number())
            }
        };
        self.tapping.way == code.way
            && self.tapping.code.value == code.code.value
            && !(cycle && self.over)
            && lead
            && same(self.machine.tool, around.tool)
            && self.machine.spindle.speed.map(|s| s.value) == machine.spindle.speed.map(|s| s.value)
            && self.machine.spindle.turning.map(|s| s.value)
                == machine.spindle.turning.map(|s| s.value)
    }

    /// Adds the holes of a block.
    pub(crate) fn add(&mut self, around: &Around<'_>) {
        let Around {
            machine,
            block,
            space,
            ..
        } = *around;
        let axis = self.tapping.axis;
        let cycle = matches!(self.tapping.way, Way::Cycle | Way::RigidCycle);
        let to = space.target(machine, block);
        if !self.blocks.is_empty() {
            self.feed_words(machine, block);
        }
        self.blocks.push(around.place());
        if cycle {
            self.read_clear(around);
        } else {
            self.clear = Val::or_unknown(
                space.at[axis.index()],
                "where the stroke starts is not written in this program",
            );
            let across = |i: usize| i != axis.index() && to[i] != space.at[i];
            if self.tapping.way == Way::Stroke && (0..3).any(across) {
                self.tapping.slanted = Some(around.place());
            }
        }
        self.read_bottom(around);
        if let Some(word) = role_word(
            block,
            b'Q',
            Role::Peck,
            position_scale(machine, block, b'Q'),
        ) && cycle
        {
            self.tapping.peck = word.length().filter(|peck| *peck > Length::ZERO);
            self.words.push(word);
        }
        let repeats = if cycle { self.repeats(around) } else { 1 };
        let mut at = space.at;
        for _ in 0..repeats {
            for i in (0..3).filter(|&i| i != axis.index()) {
                let step = to[i].zip(space.at[i]).map(|(to, from)| to - from);
                let moves = match i {
                    0 => block.has_any(b"XU"),
                    1 => block.has_any(b"YV"),
                    _ => block.has_any(b"ZW"),
                };
                if moves {
                    let counts = machine.incremental;
                    at[i] = if counts {
                        at[i].zip(step).map(|(at, step)| at + step)
                    } else {
                        to[i]
                    };
                }
            }
            self.hole(at, around);
        }
    }

    fn say(&mut self, what: &str) {
        if !self.unknown.iter().any(|known| known == what) {
            self.unknown.push(what.to_owned());
        }
    }

    /// One hole at a place with the bottom and R plane in force.
    fn hole(&mut self, at: Place, around: &Around<'_>) {
        self.tapping.count += 1;
        if self.tapping.holes.len() >= LISTED {
            return;
        }
        if around.in_loop {
            self.say("the block stands in a loop, which is not run: holes may be missing");
        }
        let axis = self.tapping.axis.index();
        let clear = self.clear.get().or(self.initial);
        let down = match (clear, self.bottom.get()) {
            (Some(clear), Some(bottom)) => (bottom - clear).signum(),
            _ => -1,
        };
        let frame = around.space.frame();
        let tool = around.tool.map(|tool| tool.value);
        let drilled = around
            .drills
            .at(frame, (at, axis), down, tool, around.notes);
        self.all_drilled &= drilled.is_some();
        self.passes.push(Pass {
            line: around.block.line,
            span: around.block.span,
            purpose: Purpose::Rough,
            x_start: None,
            x: None,
            depth: None,
            step: None,
            z_start: self.clear.get(),
            z_end: self.bottom.get(),
            lead: self.lead.get(),
            lead_change: None,
            start_angle: None,
            spindle: around.machine.spindle,
            skip: around.block.skip,
            legs: Vec::new(),
        });
        self.tapping.holes.push(Hole {
            block: around.place(),
            at,
            clear: self.clear.clone(),
            bottom: self.bottom.clone(),
            drilled,
        });
    }

    /// The geometry for the section.
    pub(crate) fn cut(&self) -> Cut {
        let down = self.deepest();
        Cut {
            side: Val::Exact(Side::Internal),
            start_x: Val::Unknown("a tap has its diameter in itself".into()),
            start_z: self
                .tapping
                .holes
                .first()
                .map_or_else(|| self.clear.clone(), |hole| hole.clear.clone()),
            root_x: Val::Unknown("a tap has its diameter in itself".into()),
            end_z: down,
            crest_x: Val::Unknown("the hole's diameter is no word of the tapping".into()),
            height: Val::Unknown("a tap has its height in itself".into()),
            taper: Val::Unknown("a tap has its taper in itself".into()),
            lead: self.lead.clone(),
            starts: 1,
            start_angle: None,
            law: Law::List,
            infeed: Infeed::Radial,
            pull_out: PullOut::None,
        }
    }

    /// The bottom of the deepest hole.
    fn deepest(&self) -> Val<Length> {
        let mut all = self.tapping.holes.iter().map(|hole| &hole.bottom);
        let known = all.clone().filter_map(Val::get);
        let deepest = match self.clear.get().or(self.initial) {
            Some(from) => known.max_by_key(|bottom| (*bottom - from).abs()),
            None => known.min(),
        };
        match deepest {
            Some(deepest) => Val::Exact(deepest),
            None => all.next_back().unwrap_or(&self.bottom).clone(),
        }
    }

    /// What is not known, with the reasons of unknown values.
    pub(crate) fn all_unknown(&self, cut: &Cut) -> Vec<String> {
        let mut unknown = self.unknown.clone();
        let mut shown = cut.clone();
        // What a tap has in itself is not missing.
        let none = Val::Exact(crate::units::Diameter::default());
        (shown.start_x, shown.root_x) = (none.clone(), none);
        shown.taper = Val::Exact(Length::ZERO);
        note_unknown(&shown, &mut unknown);
        if let Some(why) = self.tapping.synchronised.why() {
            unknown.push(why.to_owned());
        }
        if self.tapping.count > self.tapping.holes.len() {
            unknown.push(format!(
                "{} holes are tapped; the list ends after {LISTED}",
                self.tapping.count
            ));
        }
        unknown
    }
}
