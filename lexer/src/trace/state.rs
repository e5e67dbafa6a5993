//! The state of a walk where a page begins.

use super::{MOVES, Walker};
use crate::contour::Recorder;
use crate::machine::Machine;
use crate::moved::{Moved, Places, places};
use crate::program::Program;
use crate::rotating::Rotating;
use crate::section::{Kind, Move, Note, Section};
use crate::source::Mark;
use crate::syntax::{box_cycle, compound, two_block};
use crate::units::{Length, Units};

/// What a walk carries from block to block while no thread is being gathered.
#[derive(Debug, Clone)]
pub(super) struct State {
    /// The line that comes next, from 1.
    line: u32,
    live: Live,
}

/// How much a walk has put out.
#[derive(Debug, Clone, Copy)]
pub(super) struct Counts {
    pub(super) sections: usize,
    pub(super) parts: usize,
    pub(super) unread: usize,
    pub(super) looks: usize,
    pub(super) listed: usize,
    /// The last tapped section, and how many blocks it has that came while its cycle was in force.
    left_active: Option<(usize, usize)>,
}

/// What decides how the walk goes on.
#[derive(Debug, Clone, PartialEq)]
struct Live {
    machine: Machine,
    modal_box: box_cycle::Modal,
    setup: two_block::Setup,
    setup_used: bool,
    notes_from: usize,
    moves: Vec<Move>,
    clear_x: Option<Length>,
    last_was_stroke: bool,
    code_line: u32,
    notes_line: u32,
    gathered_passes: usize,
    rotating: Rotating,
    contour: Recorder,
    /// See [`Program::units`].
    first_units: Option<Mark<Units>>,
    /// Whether another program of the file came before.
    in_part: bool,
    compound: compound::Modes,
    /// Sections behind the last tool change.
    of_tool: usize,
}

places!(Live {
    in machine, modal_box, setup, moves, rotating, contour, first_units;
    lines code_line, notes_line;
    other setup_used, notes_from, clear_x, last_was_stroke, gathered_passes, in_part, of_tool,
        compound;
});

impl State {
    /// The state of a walk; `None` while a thread is being gathered.
    pub(super) fn of(walker: &Walker<'_>, line: u32) -> Option<State> {
        let orders = &walker.orders;
        let busy = !walker.strokes.is_empty()
            || walker.rotating.is_busy()
            || walker.marked.is_some()
            || walker.modal_call.is_some()
            || !orders.unknown.is_empty()
            || !orders.lost.is_empty()
            || orders.doubtful
            || orders.near != 0;
        if busy {
            return None;
        }
        let sections = walker.program.sections.len();
        Some(State {
            line,
            live: Live {
                machine: walker.machine.clone(),
                modal_box: walker.modal_box.clone(),
                setup: walker.setup,
                setup_used: walker.setup_used,
                notes_from: walker.notes_from,
                moves: walker.moves[walker.moves.len().saturating_sub(MOVES)..].to_vec(),
                clear_x: walker.clear_x,
                last_was_stroke: walker.last_was_stroke,
                code_line: walker.code_line,
                notes_line: orders.notes_line,
                gathered_passes: walker.gathered_passes,
                rotating: walker.rotating.clone(),
                contour: walker.contour.clone(),
                first_units: walker.program.units,
                compound: walker.compound,
                in_part: !walker.program.parts.is_empty(),
                of_tool: sections - orders.before_tool.min(sections),
            },
        })
    }

    /// Sets a fresh walk to the state; `before` and `raw` are what was put out by the walk that it
    /// comes from.
    pub(super) fn restore(
        &self,
        counts: &Counts,
        walker: &mut Walker<'_>,
        before: &Program,
        raw: &[Section],
    ) {
        let live = self.live.clone();
        walker.machine = live.machine;
        walker.modal_box = live.modal_box;
        walker.setup = live.setup;
        walker.setup_used = live.setup_used;
        walker.notes_from = live.notes_from;
        walker.moves = live.moves;
        walker.clear_x = live.clear_x;
        walker.last_was_stroke = live.last_was_stroke;
        walker.code_line = live.code_line;
        walker.orders.notes_line = live.notes_line;
        walker.gathered_passes = live.gathered_passes;
        walker.rotating = live.rotating;
        walker.contour = live.contour;
        walker.compound = live.compound;
        walker.orders.before_tool = counts.sections - live.of_tool.min(counts.sections);
        walker.listed = counts.listed;
        let program = &mut walker.program;
        program.units = live.first_units;
        program.sections = head(raw, counts.sections).to_vec();
        program.parts = head(&before.parts, counts.parts).to_vec();
        program.unread = head(&before.unread, counts.unread).to_vec();
        if let Some((index, count)) = counts.left_active
            && let Some(section) = program.sections.get_mut(index)
            && let Some(tapping) = section.tapping.as_mut()
        {
            tapping.left_active.truncate(count);
        }
    }

    /// Every place follows an edit; `false` where one is lost.
    pub(super) fn follow(&mut self, moved: &mut Moved, renumber: &Renumber) -> bool {
        moved.lost = false;
        let (first, last, _) = moved.lines();
        if self.line > first {
            let one = |at| renumber.one(at);
            let range = |range, line| match line {
                line if line < first => Some(range),
                line if line > last => renumber.range(range),
                _ => renumber.range(range).filter(|to| *to == range),
            };
            let Some(from) = one(self.live.notes_from) else {
                return false;
            };
            self.live.notes_from = from;
            if !self.live.rotating.renumber_notes(&one, &range) {
                return false;
            }
            moved.line(&mut self.line);
        }
        self.live.follow(moved);
        !moved.lost()
    }

    /// Whether a walk goes on from both in the same way.
    pub(super) fn goes_on_as(&self, now: &State) -> bool {
        self.live == now.live
    }

    /// Roughly what it takes that is not shared with `other`, in things of about a hundred bytes.
    pub(super) fn weight(&self, other: Option<&State>) -> usize {
        let live = &self.live;
        let shared = other.is_some_and(|other| live.contour.is_shared_with(&other.live.contour));
        let segments = if shared { 0 } else { live.contour.len() };
        let threads = live.contour.threads() / 8;
        let rotating = live
            .rotating
            .weight(other.map(|other| &other.live.rotating));
        16 + live.moves.len() + segments + threads + rotating
    }
}

impl Counts {
    /// How much a walk has put out so far.
    pub(super) fn of(walker: &Walker<'_>) -> Counts {
        let program = &walker.program;
        Counts {
            sections: program.sections.len(),
            parts: program.parts.len(),
            unread: program.unread.len(),
            looks: walker.looks.len(),
            listed: walker.listed,
            left_active: left_active(&program.sections),
        }
    }

    /// Whether none of the sections that were put out was changed later.
    pub(super) fn are_left_alone(&self, sections: &[Section]) -> bool {
        left_active(head(sections, self.sections)) == self.left_active
    }

    /// Whether blocks behind this place, which belong to the last tapped section, may belong to one
    /// only in the other walk.
    pub(super) const fn gains_tapping(&self, other: &Counts) -> bool {
        self.left_active.is_none() && other.left_active.is_some()
    }

    /// The same place in another walk, where this one has put out `here` that one `there`.
    pub(super) fn moved(self, here: &Counts, there: &Counts) -> Counts {
        Counts {
            sections: self.sections - here.sections + there.sections,
            parts: self.parts - here.parts + there.parts,
            unread: self.unread - here.unread + there.unread,
            looks: self.looks - here.looks + there.looks,
            listed: self.listed - here.listed + there.listed,
            left_active: match self.left_active {
                Some((index, count)) if index >= here.sections => {
                    Some((index - here.sections + there.sections, count))
                }
                _ => there.left_active,
            },
        }
    }
}

fn head<T>(all: &[T], count: usize) -> &[T] {
    all.get(..count).unwrap_or(all)
}

fn left_active(sections: &[Section]) -> Option<(usize, usize)> {
    let mut all = sections.iter();
    let index = all.rposition(|section| section.kind == Kind::Tapped)?;
    let tapping = sections[index].tapping.as_ref()?;
    Some((index, tapping.left_active.len()))
}

/// How the numbers of comments change by an edit.
#[derive(Debug, Clone)]
pub(super) struct Renumber {
    /// Comments before the changed lines.
    before: usize,
    /// Comments of the old text down to their end.
    end: usize,
    /// Comments that came to them.
    more: i64,
    /// Whether the comments of the changed lines are the same, word for word.
    same: bool,
}

impl Renumber {
    /// By the comments of the old and of the new text.
    pub(super) fn new(moved: &Moved, old: &[Note], new: &[Note]) -> Renumber {
        let (first, last, last_now) = moved.lines();
        let before = old.partition_point(|note| note.line < first);
        let end = old.partition_point(|note| note.line <= last);
        let end_now = new.partition_point(|note| note.line <= last_now);
        let was = old.get(before..end).unwrap_or_default();
        let is = new.get(before..end_now).unwrap_or_default();
        let same = was.len() == is.len()
            && was.iter().zip(is).all(|(was, is)| {
                let mut then = *was;
                let mut moved = moved.clone();
                then.follow(&mut moved);
                !moved.meets(was.span) && !moved.lost() && then == *is
            });
        Renumber {
            before,
            end,
            more: end_now as i64 - end as i64,
            same,
        }
    }

    /// The number that a number becomes behind the edit: of the first comment from some line on.
    /// `None` where the comments of the changed lines may stand on either side of that line.
    pub(super) fn one(&self, at: usize) -> Option<usize> {
        if self.same || at < self.before {
            return Some(at);
        }
        if at >= self.end && at > self.before {
            return usize::try_from(at as i64 + self.more).ok();
        }
        None
    }

    /// The numbers of the comments of a range behind the edit; `None` where it may have comments of
    /// the changed lines.
    fn range(&self, (from, to): (usize, usize)) -> Option<(usize, usize)> {
        let reaches = !self.same && (from < self.end || from <= self.before);
        (!reaches).then(|| Some((self.one(from)?, self.one(to)?)))?
    }

    /// Whether none of the looks reaches the comments of the changed lines.
    pub(super) fn reaches_none(&self, looks: &[(u32, usize)]) -> bool {
        self.same
            || looks
                .iter()
                .all(|&(_, from)| from >= self.end && from > self.before)
    }
}
