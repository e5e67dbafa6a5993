//! Reading a text again after an edit, page by page.
//!
//! A page is some hundred lines. What the first look sees of a page is kept with places that count
//! from the page, so an edit costs a look at its own pages and a sum over the others. Of the walk
//! the state is kept where some pages begin. After an edit the walk starts again at the last state
//! before it, and ends where its state is the one that was kept, with every place moved by the
//! edit: what comes behind is then what it was, moved too. Where the states never agree, the walk
//! goes to the end of the text, as it does where the edit changes what the first look decides.
//!
//! A program that has to be run (variables, jumps, calls) is read afresh.

use std::ops::Range;
use std::sync::Arc;

use super::look::{First, Look};
use super::state::{Counts, Renumber, State};
use super::{Orders, Walker, start_of, walk};
use crate::block::{Block, Blocks};
use crate::contour;
use crate::evidence::Left;
use crate::group::join;
use crate::moved::{Moved, Places};
use crate::program::{Program, Settings};
use crate::rotating::Rotating;
use crate::run::Library;
use crate::section::Section;
use crate::source::{Lines, Mark};
use crate::syntax::{box_cycle, compound, two_block};

/// Lines of a page.
const PAGE: usize = 512;
/// States that are kept of a text, about; twice as many for a while.
const STATES: usize = 256;
/// Edits at different places that kept states follow; after one more they are made anew.
const EDITS: usize = 256;

/// What is kept of a reading, to read the text again after an edit.
#[derive(Debug, Clone)]
pub struct Reading {
    settings: Settings,
    /// Lines of a page, about.
    page: usize,
    pages: Vec<Page>,
    /// Pages that the last reading walked over.
    pages_walked: usize,
    walked: Option<Walked>,
}

#[derive(Debug, Clone)]
struct Page {
    bytes: u32,
    lines: u32,
    /// What the pages before it leave to its look.
    left: Left,
    look: Arc<Look>,
}

/// What is kept of a walk. None of it for a program that is run.
#[derive(Debug, Clone)]
struct Walked {
    first: First,
    kept: Vec<Kept>,
    edits: Vec<(Moved, Renumber)>,
    /// The sections as they were found, where putting them in order and joining them changes them.
    raw: Option<Vec<Section>>,
    /// Looks at comments: line of the block, and index of the first comment.
    looks: Vec<(u32, usize)>,
    listed: usize,
}

/// The state where a page begins.
#[derive(Debug, Clone)]
struct Kept {
    page: usize,
    /// How many of the edits it has followed.
    edits: usize,
    counts: Counts,
    state: Arc<State>,
}

/// An edit, for reading again.
#[derive(Debug)]
pub struct Again<'a> {
    /// What the text before the edit was read as.
    pub program: &'a Program,
    /// The replaced bytes in the text before.
    pub old: Range<usize>,
    /// The bytes that replaced them in the text now; it starts where `old` does.
    pub new: Range<usize>,
}

impl Reading {
    /// Reads a text as [`super::read_with`] does, and keeps what is needed to read it again.
    #[must_use]
    pub fn new(bytes: &[u8], settings: &Settings, library: &dyn Library) -> (Program, Reading) {
        Reading::in_pages(PAGE, bytes, settings, library)
    }

    /// The same in pages of about so many lines: small ones for tests, which want many borders.
    #[must_use]
    pub fn in_pages(
        page: usize,
        bytes: &[u8],
        settings: &Settings,
        library: &dyn Library,
    ) -> (Program, Reading) {
        let page = page.max(1);
        let lines = Lines::new(bytes);
        let mut pages = Vec::new();
        let starts = lines.starts();
        for chunk in starts.chunks(page) {
            let behind = starts.get(pages.len() * page + chunk.len()).copied();
            let end = behind.map_or(bytes.len(), |start| start as usize);
            let start = chunk[0] as usize;
            let left = pages.last().map_or(Left::default(), Page::left_behind);
            pages.push(Page::new(&bytes[start..end], chunk.len(), left));
        }
        let mut reading = Reading {
            settings: settings.clone(),
            page,
            pages,
            pages_walked: 0,
            walked: None,
        };
        let mut program = Program {
            lines,
            length: bytes.len() as u32,
            ..Program::default()
        };
        let first = reading.look(&mut program);
        let program = reading.walk(bytes, library, program, first);
        (program, reading)
    }

    /// Reads a text again after an edit: the same as a fresh reading.
    #[must_use]
    pub fn again(
        &self,
        bytes: &[u8],
        settings: &Settings,
        library: &dyn Library,
        again: &Again<'_>,
    ) -> (Program, Reading) {
        self.try_again(bytes, settings, library, again)
            .unwrap_or_else(|| Reading::in_pages(self.page, bytes, settings, library))
    }

    fn try_again(
        &self,
        bytes: &[u8],
        settings: &Settings,
        library: &dyn Library,
        again: &Again<'_>,
    ) -> Option<(Program, Reading)> {
        let before = again.program;
        let fits = again.old.start == again.new.start
            && again.old.end <= before.length as usize
            && again.new.end <= bytes.len()
            && before.length as usize - again.old.end == bytes.len() - again.new.end;
        if !fits || bytes.len() >= i32::MAX as usize || self.settings != *settings {
            return None;
        }
        let replaced = self.replaced(bytes, again);
        let (pages, lines, region) = (replaced.pages, replaced.lines, replaced.region);
        let mut reading = Reading {
            settings: settings.clone(),
            page: self.page,
            pages,
            pages_walked: 0,
            walked: None,
        };
        let mut program = Program {
            lines,
            length: bytes.len() as u32,
            ..Program::default()
        };
        let first = reading.look(&mut program);
        let walked = self
            .walked
            .as_ref()
            .filter(|walked| first.runs.is_none() && walked.first.reads_as(&first));
        let Some(walked) = walked.filter(|walked| walked.edits.len() < EDITS) else {
            let program = reading.walk(bytes, library, program, first);
            return Some((program, reading));
        };
        let narrow = |range: &Range<usize>| range.start as u32..range.end as u32;
        let moved = Moved::new(
            &narrow(&again.old),
            &narrow(&again.new),
            &before.lines,
            &program.lines,
        );
        let renumber = Renumber::new(&moved, &before.notes, &program.notes);
        let rewalk = Rewalk {
            bytes,
            settings,
            reading: &reading,
            before,
            walked,
            region,
            moved,
            renumber,
        };
        let (program, walked) = rewalk.walk(program, first)?;
        reading.pages_walked = walked.1;
        reading.walked = Some(walked.0);
        Some((program, reading))
    }

    /// How many pages the last reading walked over, of how many.
    #[must_use]
    pub fn walked(&self) -> (usize, usize) {
        (self.pages_walked, self.pages.len())
    }

    /// The sum of the looks at all pages.
    fn look(&self, program: &mut Program) -> First {
        let mut sum = Look::default();
        let (mut bytes, mut lines) = (0, 0);
        for page in &self.pages {
            sum.add(&page.look, bytes, lines);
            bytes += page.bytes;
            lines += page.lines;
        }
        sum.decide(&self.settings, program)
    }

    /// Walks all of the text, keeping states.
    fn walk(
        &mut self,
        bytes: &[u8],
        library: &dyn Library,
        program: Program,
        first: First,
    ) -> Program {
        self.pages_walked = self.pages.len();
        if first.runs.is_some() {
            let (mut program, _) = walk(bytes, &self.settings, library, None);
            program.sections.sort_by_key(|section| section.first_line);
            return program;
        }
        let mut walker = Walker::begin(bytes, &self.settings, &first, program);
        let mut keeper = Keeper::new(self.pages.len(), bytes.len());
        let mut blocks = Blocks::new(bytes);
        let mut block = Block::default();
        let mut line = 1;
        for (at, page) in self.pages.iter().enumerate() {
            keeper.see((at, line), 0, false, &walker);
            line += page.lines;
            for _ in 0..page.lines {
                if blocks.read(&mut block) {
                    walker.block(&block, bytes);
                }
            }
        }
        walker.flush();
        let looks = std::mem::take(&mut walker.looks);
        let listed = walker.listed;
        let turning = std::mem::take(&mut walker.contour).finish();
        let mut program = walker.program;
        program.turning = turning;
        let raw = in_order(&mut program);
        self.walked = Some(Walked {
            first,
            kept: keeper.kept,
            edits: Vec::new(),
            raw,
            looks,
            listed,
        });
        program
    }

    /// The pages after an edit.
    fn replaced(&self, bytes: &[u8], again: &Again<'_>) -> Replaced {
        let by = again.new.end as i64 - again.old.end as i64;
        let at = |offset: usize| {
            let mut start = 0;
            for (index, page) in self.pages.iter().enumerate() {
                let end = start + page.bytes as usize;
                if offset < end || index + 1 == self.pages.len() {
                    return (index, start, end);
                }
                start = end;
            }
            (0, 0, 0)
        };
        // A line end of two bytes may begin or end with what was replaced.
        let (first, start, _) = at(again.old.start.saturating_sub(1));
        let (last, _, old_end) = at(again.old.end);
        let end = (old_end as i64 + by) as usize;
        let text = &bytes[start..end];
        let last_page = last + 1 == self.pages.len();
        let mut starts = Lines::new(text).starts().to_vec();
        if !last_page {
            // The line behind the last line end belongs to the next page.
            starts.pop();
        }
        let mut pages = self.pages[..first].to_vec();
        let count = (starts.len() / self.page).max(1);
        let length = starts.len().div_ceil(count).max(1);
        for chunk in starts.chunks(length) {
            let behind = starts.get((pages.len() - first) * length + chunk.len());
            let end = behind.map_or(text.len(), |&start| start as usize);
            let left = pages.last().map_or(Left::default(), Page::left_behind);
            let own = &text[chunk[0] as usize..end];
            pages.push(Page::new(own, chunk.len(), left));
        }
        let fresh = first..pages.len();
        let mut offset = end;
        for page in &self.pages[last + 1..] {
            let mut page = page.clone();
            let left = pages.last().map_or(Left::default(), Page::left_behind);
            let end = offset + page.bytes as usize;
            if page.left != left {
                page = Page::new(&bytes[offset..end], page.lines as usize, left);
            }
            offset = end;
            pages.push(page);
        }
        let line = |index: usize| -> usize {
            let before = self.pages[..index].iter();
            before.map(|page| page.lines as usize).sum()
        };
        starts.iter_mut().for_each(|it| *it += start as u32);
        let (from, to) = (line(first), line(last + 1));
        let lines = again.program.lines.replaced(from, to, &starts, by);
        Replaced {
            pages,
            lines,
            region: Region {
                old: first..last + 1,
                new: fresh,
            },
        }
    }
}

impl Page {
    fn new(text: &[u8], lines: usize, left: Left) -> Page {
        let lines = lines as u32;
        Page {
            bytes: text.len() as u32,
            lines,
            left,
            look: Arc::new(Look::at_lines(text, lines, left)),
        }
    }

    fn left_behind(&self) -> Left {
        self.look.left()
    }
}

struct Replaced {
    pages: Vec<Page>,
    lines: Lines,
    region: Region,
}

/// Pages that were replaced, and those that took their place.
struct Region {
    old: Range<usize>,
    new: Range<usize>,
}

/// Keeps states on the way.
struct Keeper {
    kept: Vec<Kept>,
    every: usize,
    /// How much may still be kept, in things of about a hundred bytes.
    room: usize,
}

impl Keeper {
    fn new(pages: usize, bytes: usize) -> Keeper {
        Keeper {
            kept: Vec::new(),
            every: pages.div_ceil(STATES),
            room: STATES * 64 + bytes / 100,
        }
    }

    /// Looks at the state where a page begins.
    fn see(&mut self, at: (usize, u32), edits: usize, wanted: bool, walker: &Walker<'_>) {
        let (page, line) = at;
        let last = self.kept.last().map(|kept| kept.page);
        let far = last.is_none_or(|last| last + self.every <= page);
        if !wanted && !far || last == Some(page) {
            return;
        }
        let Some(state) = State::of(walker, line) else {
            return;
        };
        let weight = state.weight(self.kept.last().map(|kept| &*kept.state));
        let Some(room) = self.room.checked_sub(weight) else {
            return;
        };
        self.room = room;
        self.kept.push(Kept {
            page,
            edits,
            counts: Counts::of(walker),
            state: Arc::new(state),
        });
    }
}

/// The walk after an edit.
struct Rewalk<'a> {
    bytes: &'a [u8],
    settings: &'a Settings,
    reading: &'a Reading,
    before: &'a Program,
    walked: &'a Walked,
    region: Region,
    moved: Moved,
    renumber: Renumber,
}

impl Rewalk<'_> {
    /// `None` where a place is lost that the result needs.
    fn walk(mut self, program: Program, first: First) -> Option<(Program, (Walked, usize))> {
        let begin = (self.walked.kept.iter().rev())
            .filter(|kept| kept.page <= self.region.new.start)
            .find_map(|kept| Some((kept, self.followed(kept)?)))?;
        let (kept, state) = begin;
        let page = kept.page;
        let mut count = 0;
        let raw = self.walked.raw.as_ref().unwrap_or(&self.before.sections);
        let mut walker = Walker::begin(self.bytes, self.settings, &first, program);
        state.restore(&kept.counts, &mut walker, self.before, raw);
        let looks = (self.walked.looks).get(..kept.counts.looks);
        let looks = looks.unwrap_or_default();
        walker.looks.extend_from_slice(looks);

        let edits = self.walked.edits.len() + 1;
        let pages = &self.reading.pages;
        let (mut offset, mut line) = (0, 1);
        for page in &pages[..page] {
            offset += page.bytes;
            line += page.lines;
        }
        let mut keeper = Keeper::new(pages.len(), self.bytes.len());
        let mut blocks = Blocks::at(self.bytes, offset, line);
        let mut block = Block::default();
        let mut met = None;
        let behind = self.region.new.end;
        for (at, page) in pages.iter().enumerate().skip(page) {
            if at >= behind
                && let Some(index) = self.meets(at, &walker)
            {
                met = Some((index, at));
                break;
            }
            let near = at + 1 >= self.region.new.start && at <= behind + 1;
            keeper.see((at, line), edits, near, &walker);
            line += page.lines;
            count += 1;
            for _ in 0..page.lines {
                if blocks.read(&mut block) {
                    walker.block(&block, self.bytes);
                }
            }
        }
        if met.is_none() {
            walker.flush();
        }
        let here = Counts::of(&walker);
        let mut looks = std::mem::take(&mut walker.looks);
        let mut listed = walker.listed;
        let mut kept: Vec<Kept> = (self.walked.kept.iter())
            .filter(|kept| kept.page < page)
            .cloned()
            .chain(keeper.kept)
            .collect();
        let contour = std::mem::take(&mut walker.contour);
        let mut program = walker.program;
        match met {
            None => program.turning = contour.finish(),
            Some((index, at)) => {
                let there = &self.walked.kept[index];
                listed += self.walked.listed - there.counts.listed;
                self.behind(&there.counts, raw, &mut program, &mut looks)?;
                let later = self.walked.kept[index..].iter();
                kept.extend(later.map(|kept| Kept {
                    page: kept.page - there.page + at,
                    counts: kept.counts.moved(&there.counts, &here),
                    ..kept.clone()
                }));
            }
        }
        let raw = in_order(&mut program);
        thin(&mut kept, pages.len());
        let mut walked = Walked {
            first,
            kept,
            edits: self.walked.edits.clone(),
            raw,
            looks,
            listed,
        };
        walked.edits.push((self.moved, self.renumber));
        Some((program, (walked, count)))
    }

    /// A kept state with the places that it had in the text before this edit.
    fn followed(&self, kept: &Kept) -> Option<State> {
        let mut state = (*kept.state).clone();
        for (moved, renumber) in &self.walked.edits[kept.edits..] {
            if !state.follow(&mut moved.clone(), renumber) {
                return None;
            }
        }
        Some(state)
    }

    /// The kept state that the walk has come to where a page begins, if what comes behind is then
    /// what it was.
    fn meets(&self, page: usize, walker: &Walker<'_>) -> Option<usize> {
        let old = page + self.region.old.end - self.region.new.end;
        let index = self
            .walked
            .kept
            .binary_search_by_key(&old, |kept| kept.page);
        let kept = &self.walked.kept[index.ok()?];
        let now = State::of(walker, 0)?;
        let mut then = self.followed(kept)?;
        let looks_back = self.walked.looks.get(kept.counts.looks..)?;
        if !self.renumber.reaches_none(looks_back) {
            return None;
        }
        if !then.follow(&mut self.moved.clone(), &self.renumber) || !then.goes_on_as(&now) {
            return None;
        }
        // Neither walk is stopped by the number of passes.
        let rest = self.walked.listed - kept.counts.listed;
        let room = super::LISTED - rest.min(super::LISTED);
        let free = self.walked.listed < super::LISTED && walker.listed < room;
        let raw = self.walked.raw.as_ref().unwrap_or(&self.before.sections);
        let counts = &kept.counts;
        let alone = counts.are_left_alone(raw) && !counts.gains_tapping(&Counts::of(walker));
        (free && alone).then_some(index.ok()?)
    }

    /// Adds what comes behind a state that the walk has come to.
    fn behind(
        &mut self,
        there: &Counts,
        raw: &[Section],
        program: &mut Program,
        looks: &mut Vec<(u32, usize)>,
    ) -> Option<()> {
        let moved = &mut self.moved;
        let before = self.before;
        let mut sections = raw.get(there.sections..)?.to_vec();
        sections.follow(moved);
        program.sections.append(&mut sections);
        for part in before.parts.get(there.parts..)? {
            let mut part = *part;
            moved.line(&mut part.first_line);
            program.parts.push(part);
        }
        for mark in before.unread.get(there.unread..)? {
            let mut mark: Mark<&'static str> = *mark;
            mark.follow(moved);
            program.unread.push(mark);
        }
        if program.units.is_none() {
            program.units = before.units;
            program.units.follow(moved);
        }
        program.turning = before.turning.clone();
        program.turning.follow(moved);
        for &(line, from) in self.walked.looks.get(there.looks..)? {
            let mut line = line;
            moved.line(&mut line);
            let from = self.renumber.one(from)?;
            looks.push((line, from));
        }
        (!moved.lost()).then_some(())
    }
}

/// Keeps no more states than are needed, those near the last edits longest.
fn thin(kept: &mut Vec<Kept>, pages: usize) {
    if kept.len() <= 2 * STATES {
        return;
    }
    let every = pages.div_ceil(STATES);
    let mut last = None;
    kept.retain(|kept| {
        let far = last.is_none_or(|last: usize| last + every <= kept.page);
        if far {
            last = Some(kept.page);
        }
        far
    });
}

/// Puts the sections in order and joins them, as [`super::read_with`] does; gives them as they were
/// found where that changes more than nothing.
fn in_order(program: &mut Program) -> Option<Vec<Section>> {
    let place = |section: &Section| {
        let pass = section.passes.first();
        pass.map_or(section.last_line, |pass| pass.line)
    };
    let sections = &mut program.sections;
    let in_place =
        sections.is_sorted_by_key(place) && sections.is_sorted_by_key(|section| section.first_line);
    let joins = sections
        .windows(2)
        .any(|two| crate::group::joins(&two[0], &two[1]));
    if in_place && !joins {
        return None;
    }
    let raw = sections.clone();
    sections.sort_by_key(place);
    *sections = join(std::mem::take(sections));
    sections.sort_by_key(|section| section.first_line);
    Some(raw)
}

impl<'a> Walker<'a> {
    /// Before the first block.
    pub(super) fn begin(
        bytes: &'a [u8],
        settings: &'a Settings,
        first: &First,
        program: Program,
    ) -> Self {
        Walker {
            bytes,
            settings,
            machine: start_of(first, settings),
            strokes: Vec::new(),
            modal_box: box_cycle::Modal::default(),
            setup: two_block::Setup::default(),
            setup_used: false,
            notes_from: 0,
            moves: Vec::new(),
            clear_x: None,
            last_was_stroke: false,
            code_line: 0,
            orders: Orders {
                heads: first.heads.clone(),
                ..Orders::default()
            },
            marked: None,
            rotating: Rotating::default(),
            gathered_passes: 0,
            listed: 0,
            units_assumed: first.units_assumed,
            compound: compound::Modes::default(),
            modal_call: None,
            program,
            effects: None,
            contour: contour::Recorder::default(),
            looks: Vec::new(),
        }
    }
}
