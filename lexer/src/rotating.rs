//! Follows what rotating tools do beside the turned threads: drills, taps, thread mills. It sees
//! every block after the machine's state has moved and puts out sections.

use crate::block::Block;
use crate::drills::Drills;
use crate::evidence::Family;
use crate::machine::Machine;
use crate::number::Number;
use crate::section::tapping::{LeftActive, Return, Rigid, Stray, Way};
use crate::section::{Note, Section};
use crate::source::{Mark, Span};
use crate::space::{Space, Step};
use crate::syntax::{helix, tap};
use crate::units::{Lead, Length};

mod made;

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
#[derive(Debug, Clone, Copy, Default)]
struct Drilling {
    bottom: Option<Length>,
    clear: Option<Length>,
}

/// A tool that M6 brought into the spindle.
#[derive(Debug, Clone, Copy)]
struct Exchanged {
    tool: Option<Mark<u32>>,
    /// Index of its first comment.
    notes_from: usize,
}

/// The follower.
#[derive(Debug, Clone, Default)]
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

    fn rigid_mode(&mut self, view: &View<'_>, step: Step) {
        let block = view.block;
        let speed = block.word(b'S').and_then(|word| {
            Some(Mark {
                value: word.number()?.value(),
                span: word.span,
                line: block.line,
            })
        });
        if let Some((_, word)) = block.m_codes().find(|(code, _)| *code == 290) {
            self.rigid = Some(Rigid {
                word: Mark {
                    value: (),
                    span: word.span,
                    line: block.line,
                },
                speed,
                motion: None,
                later_speed: None,
            });
            return;
        }
        let Some(rigid) = self.rigid.as_mut() else {
            return;
        };
        if self.tap.is_some() {
            return;
        }
        if speed.is_some() {
            rigid.later_speed = speed;
        }
        if matches!(step, Step::Move(_) | Step::Lost) && block.has_any(b"XYZUVW") {
            rigid.motion.get_or_insert(view.place());
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

    fn tap_code(&mut self, code: tap::Code, view: &View<'_>, events: &mut Vec<Event>) {
        let block = view.block;
        let i = code.axis.index();
        if let Some(active) = self.tap.as_mut()
            && active.inside
        {
            let to = self.space.target(view.machine, block)[i];
            let bottom = active
                .tapping
                .holes
                .last()
                .and_then(|hole| hole.bottom.get());
            let clear = active
                .tapping
                .holes
                .last()
                .and_then(|hole| hole.clear.get());
            let back = match (to, bottom, clear) {
                (Some(to), Some(bottom), Some(clear)) => {
                    (to - bottom).signum() == (clear - bottom).signum()
                }
                _ => false,
            };
            let returns = code.code.value == 3320 || code.way == Way::FloatingMove && back;
            if returns && matches!(active.tapping.way, Way::Interpolated | Way::FloatingMove) {
                active.inside = false;
                active.tapping.returns.push(Return {
                    block: view.place(),
                    lead: block
                        .number_of(b'K')
                        .and_then(|k| k.real(view.machine.units))
                        .map(Lead::per_turn),
                });
                active.blocks.push(view.place());
                if active.tapping.way == Way::Interpolated {
                    active.feed_words(view.machine, block);
                }
                return;
            }
        }
        if code.code.value == 3320 {
            // A return without a stroke in: nothing is cut.
            return;
        }
        if code.way == Way::FloatingMove && !self.goes_in(code, view) {
            return;
        }
        let goes_on = self
            .tap
            .as_ref()
            .is_some_and(|active| active.goes_on(code, &self.around(view)));
        if !goes_on {
            self.close_tap(events);
            let around = self.around(view);
            let rigid = self
                .rigid
                .filter(|_| matches!(code.way, Way::Cycle | Way::RigidCycle));
            self.tap = Some(tap::Active::start(code, rigid, &around));
            (self.stopped, self.changed) = (None, None);
        }
        let stores_only = !block.has_any(b"XYZUVW") && code.way == Way::Cycle;
        if let Some(mut active) = self.tap.take() {
            if !stores_only || block.has_any(b"R") {
                active.add(&self.around(view));
            }
            active.inside = matches!(code.way, Way::Interpolated | Way::FloatingMove);
            self.tap = Some(active);
        }
    }

    /// Whether a straight tapping move goes into the work: towards minus.
    fn goes_in(&self, code: tap::Code, view: &View<'_>) -> bool {
        let i = code.axis.index();
        let to = self.space.target(view.machine, view.block)[i];
        match (self.space.at[i], to) {
            (Some(from), Some(to)) => to < from,
            (None, Some(to)) => to < Length::ZERO,
            _ => false,
        }
    }

    /// A block without a code of tapping.
    fn no_code(&mut self, step: Step, view: &View<'_>, events: &mut Vec<Event>) {
        let block = view.block;
        let tapping_code = |code: i32| {
            self.tap
                .as_ref()
                .is_some_and(|active| active.tapping.code.value == code)
        };
        match step {
            Step::Hole(code) if tapping_code(code) => self.position(view),
            Step::Hole(code) if matches!(code, 840 | 740 | 842 | 843) && self.tap.is_none() => {
                // The section ended with its tool, the cycle did not.
                let why = match (self.changed, self.stopped) {
                    (Some((span, line)), _) => Some(Stray::ToolChanged(span, line)),
                    (None, Some((span, line))) => Some(Stray::Stopped(span, line)),
                    _ => None,
                };
                if let Some(why) = why {
                    events.push(Event::Stray(LeftActive {
                        block: view.place(),
                        why,
                    }));
                }
            }
            Step::Hole(code) => {
                self.end_cycle(None, events);
                self.drill(code, view);
            }
            _ => {
                let cancel = block.g_codes().find(|(code, _)| *code == 800);
                let motion = block
                    .g_codes()
                    .find(|(code, _)| matches!(code, 0 | 10 | 20 | 30));
                if let Some((code, word)) = cancel.or(motion) {
                    let mark = Mark {
                        value: (),
                        span: word.span,
                        line: block.line,
                    };
                    self.end_cycle(Some(mark), events);
                    if code == 800 {
                        self.rigid = None;
                    }
                }
                self.called_position(step, view);
            }
        }
    }

    /// A cycle in force ends; strokes that are written block by block stay open for the next hole.
    fn end_cycle(&mut self, by: Option<Mark<()>>, events: &mut Vec<Event>) {
        let cycle = self
            .tap
            .as_ref()
            .is_some_and(|active| matches!(active.tapping.way, Way::Cycle | Way::RigidCycle));
        if cycle {
            if let Some(active) = self.tap.as_mut() {
                active.tapping.cancelled = by;
            }
            self.close_tap(events);
        }
    }

    /// A position while the tapping cycle is in force.
    fn position(&mut self, view: &View<'_>) {
        let Some(mut active) = self.tap.take() else {
            return;
        };
        let why = self.stray(&active, view);
        if let Some(why) = why {
            active.tapping.left_active.push(LeftActive {
                block: view.place(),
                why,
            });
        }
        if !matches!(why, Some(Stray::Retract)) {
            let known = active.all_drilled;
            active.add(&self.around(view));
            let drilled = active
                .tapping
                .holes
                .last()
                .is_some_and(|hole| hole.drilled.is_some());
            if known && !drilled && why.is_none() && active.tapping.holes.len() > 2 {
                active.tapping.left_active.push(LeftActive {
                    block: view.place(),
                    why: Stray::NotDrilled,
                });
            }
        }
        self.tap = Some(active);
    }

    fn stray(&self, active: &tap::Active, view: &View<'_>) -> Option<Stray> {
        if let Some((span, line)) = self.changed {
            return Some(Stray::ToolChanged(span, line));
        }
        if let Some((span, line)) = self.stopped {
            return Some(Stray::Stopped(span, line));
        }
        // The axis word alone leads out of the work: it was meant as a move.
        let (block, machine) = (view.block, view.machine);
        let axis = active.tapping.axis;
        let last = active.tapping.holes.last()?;
        let written = block.number_of(axis.letter())?;
        let to = machine.length(written).filter(|_| !machine.incremental)?;
        let (clear, bottom) = (last.clear.get()?, last.bottom.get()?);
        let out = (to - clear).signum() == (clear - bottom).signum() && to != clear;
        out.then_some(Stray::Retract)
    }

    /// Calls of tapping and drilling cycles.
    fn calls(&mut self, view: &View<'_>, events: &mut Vec<Event>) {
        let (block, bytes) = (view.block, view.bytes);
        if tap::ends_call(block, bytes) {
            self.close_tap(events);
            self.call = None;
            return;
        }
        let Some(call) = tap::call(block, bytes) else {
            return;
        };
        self.close_tap(events);
        self.call = None;
        if let Some(way) = call.way {
            self.tap = Some(tap::Active::of_call(&call, way, &self.around(view)));
        }
        if call.modal {
            self.call = Some(call);
        } else {
            self.called_at(&call, view);
            self.close_tap(events);
        }
    }

    /// A position at which a call is repeated.
    fn called_position(&mut self, step: Step, view: &View<'_>) {
        let Some(call) = self.call.take() else {
            return;
        };
        let moves = matches!(step, Step::Move(_)) && view.block.has_any(b"XYZ");
        if moves {
            let held = self.space.at;
            self.space.at = self.space.target(view.machine, view.block);
            self.called_at(&call, view);
            self.space.at = held;
        }
        self.call = Some(call);
    }

    fn called_at(&mut self, call: &tap::Call, view: &View<'_>) {
        let at = self.space.at;
        if let Some(mut active) = self.tap.take() {
            active.add_called(at, &self.around(view));
            self.tap = Some(active);
        } else if call.way.is_none()
            && let Some(bottom) = call.bottom(view.machine.units)
        {
            let axis = self.space.normal().index();
            self.drills.add(
                self.space.frame(),
                (at, axis),
                bottom,
                (view.place(), 0),
                self.tool_of(view.machine),
                view.own_notes(),
            );
        }
    }

    /// A drilling or boring cycle.
    fn drill(&mut self, code: i32, view: &View<'_>) {
        let (block, machine) = (view.block, view.machine);
        if code == 331 || block.has_any(b"UVW") {
            return;
        }
        let axis = self.space.normal();
        let i = axis.index();
        let fresh = block.g_codes().any(|(c, _)| c == code);
        let value = |letter: u8| block.number_of(letter).and_then(|n| machine.length(n));
        let initial = self.space.at[i];
        if fresh && block.has(axis.letter()) {
            self.drilling = Drilling::default();
        }
        if let Some(r) = value(b'R') {
            self.drilling.clear = if machine.incremental {
                initial.map(|from| from + r)
            } else {
                Some(r)
            };
        }
        if block.has(axis.letter()) {
            let z = value(axis.letter());
            self.drilling.bottom = if machine.incremental {
                self.drilling.clear.zip(z).map(|(clear, z)| clear + z)
            } else {
                z
            };
        }
        let Some(bottom) = self.drilling.bottom else {
            return;
        };
        let letters: &[u8] = b"LK";
        let repeats = letters
            .iter()
            .filter(|_| code != 730 || !block.has(b'K'))
            .find_map(|&letter| block.number_of(letter).and_then(Number::integer))
            .map_or(1, |count| count.clamp(0, 1_000));
        let to = self.space.target(machine, block);
        let mut at = to;
        for n in 0..repeats {
            if n > 0 && machine.incremental {
                for k in (0..3).filter(|&k| k != i) {
                    let step = to[k].zip(self.space.at[k]).map(|(to, from)| to - from);
                    at[k] = at[k].zip(step).map(|(at, step)| at + step);
                }
            }
            self.drills.add(
                self.space.frame(),
                (at, i),
                bottom,
                (view.place(), code),
                self.tool_of(machine),
                view.own_notes(),
            );
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

    /// A drill that is fed straight on the axis of a turning machine.
    fn drilled_by_feed(&mut self, code: i32, to: crate::section::tapping::Place, view: &View<'_>) {
        let machine = view.machine;
        let on_axis = machine.family.turns()
            && code == 10
            && to[0] == Some(Length::ZERO)
            && self.space.at[0] == Some(Length::ZERO);
        if let (true, Some(bottom), from) = (on_axis, to[2], self.space.at[2])
            && from.is_none_or(|from| bottom < from)
        {
            let tool = (view.place(), 10);
            let frame = self.space.frame();
            self.drills.add(
                frame,
                (to, 2),
                bottom,
                tool,
                self.tool_of(machine),
                view.own_notes(),
            );
        }
    }

    /// G74 with Z on the axis of a turning machine drills.
    fn drilled_by_turning(&mut self, view: &View<'_>) {
        let (block, machine) = (view.block, view.machine);
        if !block.has_g(740) || !machine.family.turns() || machine.incremental {
            return;
        }
        let x = block
            .number_of(b'X')
            .and_then(|x| machine.length(x))
            .or(self.space.at[0]);
        let z = block.number_of(b'Z').and_then(|z| machine.length(z));
        if let (Some(Length::ZERO), Some(bottom)) = (x, z) {
            let at = [x, self.space.at[1], z];
            let tool = (view.place(), 740);
            let frame = self.space.frame();
            self.drills.add(
                frame,
                (at, 2),
                bottom,
                tool,
                self.tool_of(machine),
                view.own_notes(),
            );
        }
    }

    fn helices(
        &mut self,
        runs: Vec<helix::Run>,
        bytes: &[u8],
        own_notes: &[Note],
        events: &mut Vec<Event>,
    ) {
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
