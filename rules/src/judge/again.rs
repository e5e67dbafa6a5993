//! Judging a text again after an edit: the same as a fresh judgement. What is known of a section
//! holds on where the section, its neighbours, and all that its checks looked at are what they
//! were, wherever they stand now.

use std::ops::RangeInclusive;

use lexer::block::{Block, Blocks};
use lexer::contour::Segment;
use lexer::moved::{Moved, Places};
use lexer::program::Program;
use lexer::section::{Kind, Note, Section};

use super::{Judgement, Kept};
use crate::checks::seen::{Looks, is_plain_move};
use crate::finding::Finding;
use crate::identify::{From, Identified};

/// The text before an edit, and what is known of it.
#[derive(Debug)]
pub struct Before<'a> {
    /// The text.
    pub bytes: &'a [u8],
    /// What it was read as.
    pub program: &'a Program,
    /// What it was judged to be, by the same settings and facts as the text now.
    pub judgement: &'a Judgement,
    /// The edit.
    pub moved: Moved,
}

/// Lines before a section in which the name of a rotating tool is looked for.
const TOOL_NAME: u32 = 200;

/// What of a judgement holds on.
pub(super) struct Holds<'a> {
    before: &'a Before<'a>,
    now: &'a Program,
    moved: Moved,
    /// Lines of the edit in the old text.
    edited: (u32, u32),
    /// Whether there are plain moves alone in the changed lines, then and now.
    plain: bool,
    /// Whether the comments of the changed lines are what they were.
    comments: bool,
    /// Whether the comments at the head of a part may no longer stand together.
    heads: bool,
    /// For each section now the old one that it equals, where there is one.
    same: Vec<Option<usize>>,
    /// For each section now whether a place of it moved.
    shifted: Vec<bool>,
    /// Whether every section is an old one, and every old one is there.
    all_same: bool,
    turning: bool,
    unread: bool,
}

impl<'a> Holds<'a> {
    /// `None` where something changed that concerns every section.
    pub(super) fn new(before: &'a Before<'a>, bytes: &[u8], now: &'a Program) -> Option<Self> {
        let (then, mut moved) = (before.program, before.moved.clone());
        let radius = |it: &Program| it.reasons.iter().any(|why| why.seen == "G7 or G8");
        let mut units = then.units;
        units.follow(&mut moved);
        let mut parts = then.parts.clone();
        for part in &mut parts {
            moved.line(&mut part.first_line);
        }
        let whole = then.family == now.family
            && radius(then) == radius(now)
            && units == now.units
            && parts == now.parts
            && then.shared.is_empty()
            && now.shared.is_empty()
            && before.judgement.kept.len() == then.sections.len();
        if moved.lost() || moved.touched() || !whole {
            return None;
        }
        let (first, last, last_now) = moved.lines();
        let plain = plain(before.bytes, then, first..=last) && plain(bytes, now, first..=last_now);
        let own = |notes: &'a [Note], to: u32| {
            let from = notes.partition_point(|note| note.line < first);
            &notes[from..notes.partition_point(|note| note.line <= to).max(from)]
        };
        let (was, is) = (own(&then.notes, last), own(&now.notes, last_now));
        let comments = was.len() == is.len()
            && was.iter().zip(is).all(|(was, is)| {
                let mut then = *was;
                then.follow(&mut moved);
                !moved.lost() && !moved.touched() && then == *is
            });
        let (same, shifted) = pairs(&then.sections, &now.sections, &mut moved);
        let all_same =
            then.sections.len() == now.sections.len() && same.iter().all(Option::is_some);
        let mut turning = then.turning.clone();
        turning.follow(&mut moved);
        let turning = turning == now.turning && !moved.lost() && !moved.touched();
        // A comment stands at the head where nothing but comments stands before it.
        let heads = last != last_now && {
            let mut starts = then.parts.iter().map(|part| part.first_line).chain([1]);
            starts.any(|start| start <= last && head_end(&then.notes, start) + 1 >= first)
        };
        Some(Holds {
            before,
            now,
            moved,
            edited: (first, last),
            plain,
            comments,
            heads,
            same,
            shifted,
            all_same,
            turning,
            unread: then.unread.is_empty() == now.unread.is_empty(),
        })
    }

    /// What was known of a section, where it holds on: thread, table, not judged, findings.
    pub(super) fn of(&mut self, index: usize) -> Option<(usize, Kept, Identified)> {
        let old = self.same[index]?;
        let _ = (self.moved.lost(), self.moved.touched());
        let judgement = self.before.judgement;
        let (kept, thread) = (judgement.kept.get(old)?, judgement.threads.get(old)?);
        let looks = &kept.looks;
        let next = index + 1 < self.same.len();
        let neighbours = self.same.get(index + 1).copied().flatten() == next.then_some(old + 1)
            && (index == 0) == (old == 0)
            && (index == 0 || self.same[index - 1] == Some(old - 1))
            && next == (old + 1 < self.before.program.sections.len());
        let others = !(looks.sections || thread.asked_others) || self.all_same && self.unread;
        let holds = neighbours
            && others
            && !self.meets(&looks.lines)
            && (self.plain || !self.meets(&looks.states))
            && (self.turning || !looks.contour || self.contour_holds(index, old))
            && self.named_as_before(index, old, thread);
        if !holds {
            return None;
        }
        let mut thread = thread.clone();
        let mut kept = kept.clone();
        let (first, last, last_now) = self.moved.lines();
        if last != last_now && !self.all_before(index, looks) && mentions_lines(self, old, &kept) {
            return None;
        }
        thread.follow(&mut self.moved);
        kept.findings.follow(&mut self.moved);
        // What stands under a place that was touched may read otherwise.
        if self.moved.lost() || self.moved.touched() {
            return None;
        }
        let by = i64::from(last_now) - i64::from(last);
        let shift = |line: &mut u32| *line = u32::try_from(i64::from(*line) + by).unwrap_or(0);
        for (from, to) in kept.looks.lines.iter_mut().chain(&mut kept.looks.states) {
            if *from > last {
                shift(from);
            }
            if *to >= first {
                shift(to);
            }
        }
        Some((old, kept, thread))
    }

    fn meets(&self, lines: &[(u32, u32)]) -> bool {
        let (first, last) = self.edited;
        lines.iter().any(|&(from, to)| from <= last && first <= to)
    }

    /// Whether a section and all that a finding about it may speak of stand before the edit.
    fn all_before(&self, index: usize, looks: &Looks) -> bool {
        let first = self.edited.0;
        let near = index.saturating_sub(1)..(index + 2).min(self.shifted.len());
        let units = self.before.program.units;
        units.is_none_or(|units| units.line < first)
            && !looks.sections
            && !looks.contour
            && self.shifted[near].iter().all(|shifted| !shifted)
            && looks
                .lines
                .iter()
                .chain(&looks.states)
                .all(|&(_, to)| to < first)
    }

    /// Whether the section is still the same thread.
    fn named_as_before(&self, index: usize, old: usize, thread: &Identified) -> bool {
        let section = &self.before.program.sections[old];
        let (first, last) = self.edited;
        if section.kind != Kind::Turned {
            let from = section.first_line.saturating_sub(TOOL_NAME);
            if first <= section.first_line && from <= last {
                return false;
            }
        }
        let stated = matches!(&thread.thread, Some((_, From::Annotation | From::Config)));
        let below =
            self.now.sections[index].last_line == section.last_line && first > section.last_line;
        stated || below || self.comments && !self.heads
    }

    fn contour_holds(&mut self, index: usize, old: usize) -> bool {
        let (then, now) = (self.before.program.contour(old), self.now.contour(index));
        let mut doubt = then.doubt;
        doubt.follow(&mut self.moved);
        let equal = doubt == now.doubt
            && follow_to(&then.before, &now.before, &mut self.moved)
            && follow_to(&then.after, &now.after, &mut self.moved);
        let met = self.moved.touched();
        equal && !met && !self.moved.lost()
    }
}

fn follow_to(then: &[&Segment], now: &[&Segment], moved: &mut Moved) -> bool {
    then.len() == now.len()
        && then.iter().zip(now).all(|(then, now)| {
            let mut then = **then;
            then.follow(moved);
            then == **now
        })
}

/// The last line of the comments that stand at the head of the part that begins in a line.
fn head_end(notes: &[Note], start: u32) -> u32 {
    let mut line = start;
    for note in &notes[notes.partition_point(|note| note.line < start)..] {
        if note.line > line + 1 {
            break;
        }
        line = note.line;
    }
    line
}

fn plain(bytes: &[u8], program: &Program, lines: RangeInclusive<u32>) -> bool {
    let text = program
        .lines
        .span(*lines.start())
        .to(program.lines.span(*lines.end()));
    let mut blocks = Blocks::new(text.of(bytes));
    let mut block = Block::default();
    let mut plain = true;
    while plain && blocks.read(&mut block) {
        plain = is_plain_move(&block);
    }
    plain
}

/// Which old section each section now equals, from the front as far as they go, then from the back;
/// and whether a place of it moved.
fn pairs(then: &[Section], now: &[Section], moved: &mut Moved) -> (Vec<Option<usize>>, Vec<bool>) {
    let mut same = vec![None; now.len()];
    let mut shifted = vec![true; now.len()];
    let mut equal = |old: usize, new: usize| {
        let mut section = then[old].clone();
        section.follow(moved);
        // What stands under a place that was touched may read otherwise.
        let (lost, touched) = (moved.lost(), moved.touched());
        shifted[new] = moved.shifted();
        !lost && !touched && section == now[new]
    };
    let both = then.len().min(now.len());
    let mut front = 0;
    while front < both && equal(front, front) {
        same[front] = Some(front);
        front += 1;
    }
    let mut back = 0;
    while back < both - front && equal(then.len() - 1 - back, now.len() - 1 - back) {
        same[now.len() - 1 - back] = Some(then.len() - 1 - back);
        back += 1;
    }
    (same, shifted)
}

/// Whether a text about a section speaks of lines, which may have other numbers now.
fn mentions_lines(holds: &Holds<'_>, old: usize, kept: &Kept) -> bool {
    let judgement = holds.before.judgement;
    let speaks = |text: &String| text.contains("line");
    let finding = |finding: &Finding| {
        speaks(&finding.message)
            || speaks(&finding.help)
            || speaks(&finding.source)
            || finding.because.iter().any(speaks)
            || finding.related.iter().any(|related| speaks(&related.text))
            || finding.fixes.iter().any(|fix| speaks(&fix.title))
    };
    let (thread, table) = (&judgement.threads[old], &judgement.tables[old]);
    let stated = [
        thread.nose.as_ref().map(|stated| &stated.from),
        thread.layer.as_ref().map(|stated| &stated.from),
        thread.face_z_mm.as_ref().map(|stated| &stated.from),
        thread.unreadable.as_ref().map(|(why, _)| why),
        thread.conflict.as_ref().map(|conflict| &conflict.disagrees),
        thread.runner_up.as_ref(),
        table.cuts.force_from.as_ref(),
        table.cuts.force_missing.as_ref(),
    ];
    kept.findings.iter().any(finding)
        || judgement.not_judged[old].iter().any(|(_, why)| speaks(why))
        || speaks(&thread.why)
        || stated.into_iter().flatten().any(speaks)
        || speaks(&table.crest_from)
        || speaks(&table.time_basis)
        || table.hints.iter().any(speaks)
}
