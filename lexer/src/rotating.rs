//! Follows what rotating tools do beside the turned threads: drills, taps, thread mills. It sees
//! every block after the machine's state has moved and puts out sections.

use crate::block::Block;
use crate::drills::Drills;
use crate::evidence::Family;
use crate::machine::Machine;
use crate::section::tapping::{LeftActive, Rigid};
use crate::section::{Note, Section};
use crate::source::{Mark, Span};
use crate::space::{Space, Step};
use crate::syntax::{helix, tap};
use crate::units::Length;

mod calls;
mod cycles;
mod drilling;
mod made;
mod places;

use made::{milled, tapped};

/// What a block brings to an end.
pub(crate) enum Event {
    /// A section, without notes, and the index of the first comment of its tool.
    Section(Box<Section>, usize),
    /// A position of the last section's cycle that should not be one.
    Stray(LeftActive),
    /// A construct that was not read.
    Unread(Mark<&'static str>),
}

/// What is looked at.
#[derive(Clone, Copy)]
pub(crate) struct View<'a> {
    /// The state behind the block.
    pub(crate) machine: &'a Machine,
    pub(crate) block: &'a Block,
    pub(crate) bytes: &'a [u8],
    /// The comments of the file, and the index of the first of the present tool.
    pub(crate) notes: &'a [Note],
    pub(crate) notes_from: usize,
    pub(crate) in_loop: bool,
}

impl<'a> View<'a> {
    /// The comments of the present tool that stand in the file, whatever comes behind this block.
    fn own(&self) -> &'a [Note] {
        self.notes.get(self.notes_from..).unwrap_or_default()
    }

    fn place(&self) -> Mark<()> {
        Mark {
            value: (),
            span: self.block.span,
            line: self.block.line,
        }
    }

    /// Comments of the present tool up to this block: from and to in the list of all.
    fn own_notes(&self) -> (usize, usize) {
        let line = self.block.line;
        let end = self.notes.partition_point(|note| note.line <= line);
        (self.notes_from.min(end), end)
    }
}

/// Words of a drilling cycle that stay in force.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Drilling {
    bottom: Option<Length>,
    clear: Option<Length>,
}

/// A tool that M6 brought into the spindle.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Exchanged {
    tool: Option<Mark<u32>>,
    /// Index of its first comment.
    notes_from: usize,
}

/// The follower.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Rotating {
    space: Space,
    drills: Drills,
    drilling: Drilling,
    tap: Option<tap::Active>,
    call: Option<tap::Call>,
    rigid: Option<Rigid>,
    mill: Option<helix::Active>,
    gather: helix::Gather,
    tool: Option<u32>,
    /// The tool that M6 brought into the spindle, and its comments; a T word alone stages the next
    /// one there.
    exchanged: Option<Exchanged>,
    /// Whether a T word has just staged a tool.
    staged: bool,
    /// The last line with words.
    code_line: u32,
    /// Whether comments were looked at, or will be for what this block drills.
    looked: bool,
    /// Words that stopped the spindle or changed the tool since the last cycle code.
    stopped: Option<(Span, u32)>,
    changed: Option<(Span, u32)>,
}

impl Rotating {
    /// Looks at a block.
    pub(crate) fn see(&mut self, view: &View<'_>) -> Vec<Event> {
        let block = view.block;
        if block.words.is_empty() && block.names.is_empty() && block.statement.is_none() {
            return Vec::new();
        }
        let mut events = self.exchange(view);
        let before = events.len();
        let own = View {
            notes_from: self.notes_from(view.notes_from),
            ..*view
        };
        self.follow_block(&own, &mut events);
        placed(&mut events[before..], own.notes_from);
        self.code_line = block.line;
        events
    }

    /// To be asked before a tool change closes the sections: a T word without M6 only stages the
    /// next tool where M6 brings tools into the spindle.
    pub(crate) fn stages(&mut self, machine: &Machine, block: &Block) {
        self.staged = self.exchanged.is_some() && exchanges(machine) && !block_exchanges(block);
    }

    fn notes_from(&self, walked: usize) -> usize {
        self.exchanged.map_or(walked, |one| one.notes_from)
    }

    /// The tool in the spindle.
    fn tool_of(&self, machine: &Machine) -> Option<Mark<u32>> {
        self.exchanged.map_or(machine.tool, |one| one.tool)
    }

    /// M6: what the old tool did ends, the comments since the last words belong to the new one.
    fn exchange(&mut self, view: &View<'_>) -> Vec<Event> {
        let (block, machine) = (view.block, view.machine);
        let Some((_, word)) = block.m_codes().find(|(code, _)| *code == 60) else {
            return Vec::new();
        };
        if !exchanges(machine) {
            return Vec::new();
        }
        let events = self.close(view.bytes, view.notes, view.notes_from);
        if self.exchanged.is_some() || self.tool.is_some() {
            self.changed = Some((word.span, block.line));
        }
        let behind = self.code_line;
        self.exchanged = Some(Exchanged {
            tool: machine.tool,
            notes_from: view.notes.partition_point(|note| note.line <= behind),
        });
        events
    }

    fn follow_block(&mut self, view: &View<'_>, events: &mut Vec<Event>) {
        let (block, machine) = (view.block, view.machine);
        self.spindle_and_tool(view);
        let step = self.space.see(machine, block);
        self.rigid_mode(view, step);
        let called = !block.names.is_empty() || block.statement.is_some();
        if called {
            self.calls(view, events);
        }
        match tap::code(machine, &self.space, block) {
            Some(Ok(code)) => self.tap_code(code, view, events),
            Some(Err(why)) => {
                self.close_tap(events);
                events.push(Event::Unread(Mark {
                    value: why,
                    span: block.span,
                    line: block.line,
                }));
            }
            None => self.no_code(step, view, events),
        }
        self.follow(step, view, events);
    }

    /// All that is still open; before a tool change, another thread, the end.
    pub(crate) fn close(&mut self, bytes: &[u8], notes: &[Note], walked: usize) -> Vec<Event> {
        let mut events = Vec::new();
        if std::mem::take(&mut self.staged) {
            return events;
        }
        let from = self.notes_from(walked);
        let own_notes = notes.get(from..).unwrap_or_default();
        let runs = self.gather.end();
        self.helices(runs, bytes, own_notes, &mut events);
        self.close_tap(&mut events);
        self.close_mill(&mut events);
        self.call = None;
        placed(&mut events, from);
        events
    }

    /// Another program of the file begins.
    pub(crate) fn restart(&mut self) {
        *self = Rotating::default();
    }

    fn spindle_and_tool(&mut self, view: &View<'_>) {
        let (block, machine) = (view.block, view.machine);
        for (code, word) in block.m_codes() {
            match code {
                50 | 190 => self.stopped = Some((word.span, block.line)),
                30 | 40 | 130 | 140 => self.stopped = None,
                _ => {}
            }
        }
        let tool = machine.tool.map(|tool| tool.value);
        if tool != self.tool {
            if self.tool.is_some()
                && self.exchanged.is_none()
                && let Some(mark) = machine.tool
            {
                self.changed = Some((mark.span, mark.line));
            }
            self.tool = tool;
        }
    }

    fn around<'v>(&'v self, view: &View<'v>) -> tap::Around<'v> {
        tap::Around {
            machine: view.machine,
            tool: self.tool_of(view.machine),
            space: &self.space,
            block: view.block,
            drills: &self.drills,
            notes: view.notes,
            in_loop: view.in_loop,
        }
    }

    /// Moves the place of the tool, and gathers feed moves.
    fn follow(&mut self, step: Step, view: &View<'_>, events: &mut Vec<Event>) {
        let (block, machine) = (view.block, view.machine);
        let to = match step {
            Step::Nothing => return,
            Step::Lost => {
                self.drilled_by_turning(view);
                let runs = self.gather.end();
                self.helices(runs, view.bytes, view.own(), events);
                return self.space.lose(block);
            }
            Step::Move(_) | Step::Hole(_) => self.space.target(machine, block),
        };
        match step {
            Step::Move(0) | Step::Hole(_) => {
                let runs = self.gather.end();
                self.helices(runs, view.bytes, view.own(), events);
            }
            Step::Move(code) => {
                self.drilled_by_feed(code, to, view);
                let turned = machine.family.turns()
                    && !matches!(machine.family, Family::Interpreter | Family::Undecided);
                if !turned {
                    let state = (machine, &self.space, block);
                    let runs = self.gather.add(state, view.bytes, code, to);
                    self.helices(runs, view.bytes, view.own(), events);
                }
            }
            _ => {}
        }
        match step {
            Step::Hole(code) => {
                // G33.1 is written along its axis and ends where it began; so does a cycle,
                // unless G99 leaves it at the R plane.
                let i = self.space.normal().index();
                let start = self.space.at[i];
                self.space.at = to;
                self.space.at[i] = match (self.space.returns_to_start, code) {
                    (Some(false), 810..=899 | 730 | 740) => self.drilling.clear.or(self
                        .tap
                        .as_ref()
                        .and_then(|active| active.tapping.holes.last())
                        .and_then(|hole| hole.clear.get())),
                    _ => start,
                };
            }
            _ => self.space.at = to,
        }
    }

    fn helices(
        &mut self,
        runs: Vec<helix::Run>,
        bytes: &[u8],
        own_notes: &[Note],
        events: &mut Vec<Event>,
    ) {
        self.looked |= !runs.is_empty();
        for mut run in runs {
            run.machine.tool = self.tool_of(&run.machine);
            let end = own_notes.partition_point(|note| note.line <= run.last_line);
            match helix::judge(&run, helix::says(&own_notes[..end], bytes)) {
                helix::Verdict::Thread { evidence, stated } => {
                    match self.mill.as_mut() {
                        Some(active) if active.goes_on(&run) => active.add(run),
                        _ => {
                            self.close_mill(events);
                            self.mill = Some(helix::Active::start(run, evidence, stated));
                        }
                    };
                }
                helix::Verdict::Either => {
                    if let Some(piece) = run.helix.pieces.first() {
                        events.push(Event::Unread(Mark {
                            value: helix::EITHER,
                            span: piece.block.span,
                            line: piece.block.line,
                        }));
                    }
                }
                helix::Verdict::None => {}
            }
        }
    }

    fn close_tap(&mut self, events: &mut Vec<Event>) {
        if let Some(active) = self.tap.take()
            && active.tapping.count > 0
        {
            events.push(Event::Section(Box::new(tapped(active)), 0));
        }
    }

    fn close_mill(&mut self, events: &mut Vec<Event>) {
        if let Some(active) = self.mill.take() {
            events.push(Event::Section(Box::new(milled(active)), 0));
        }
    }
}

/// Whether the machine brings tools into its spindle by M6.
fn exchanges(machine: &Machine) -> bool {
    !matches!(
        machine.family,
        Family::SystemA | Family::SystemB | Family::SystemC
    )
}

fn block_exchanges(block: &Block) -> bool {
    block.m_codes().any(|(code, _)| code == 60)
}

/// Tells sections where the comments of their tool begin.
fn placed(events: &mut [Event], from: usize) {
    for event in events {
        if let Event::Section(_, first) = event {
            *first = from;
        }
    }
}
