//! Walks the blocks of a file, moves the machine's state, and gathers threading sections.

use crate::block::{Block, Blocks, Fault, FaultKind};
use crate::contour;
use crate::effects::{self, Consumed, Recorder};
use crate::evidence::{Evidence, Family};
use crate::flow::{Flow, Loops};
use crate::group::{Around, group, join, place};
use crate::machine::{Action, Machine, Position};
use crate::number::DecimalRule;
use crate::program::{Effect, Part, Program, Settings};
use crate::section::{Kind, Move, Note, Section, Syntax};
use crate::source::{Lines, Mark};
use crate::syntax::strokes::{self, Stroke};
use crate::syntax::{Draft, box_cycle, drive_line, one_block, two_block};
use crate::units::{Diameter, Length, Units};

/// Reads a program.
#[must_use]
pub fn read(bytes: &[u8], settings: &Settings) -> Program {
    walk(bytes, settings, None).0
}

/// What a text does, for comparing two texts: moves, passes, speeds, tools and modal states in
/// order. Spelling makes no difference (spaces, leading zeros, N numbers, comments, a state set
/// twice, a lead written out instead of inherited); a change of motion, lead, depth, speed, tool or
/// auxiliary function does.
#[must_use]
pub fn effects(bytes: &[u8], settings: &Settings) -> Vec<Effect> {
    let (program, recorder) = walk(bytes, settings, Some(Recorder::new(bytes)));
    recorder.map_or_else(Vec::new, |recorder| recorder.finish(&program.sections))
}

/// What the first look at a file decides.
struct First {
    family: Family,
    units: Units,
    units_assumed: bool,
    decimal: DecimalRule,
    radius_mode: bool,
    /// See [`Evidence::compound`].
    compound: bool,
}

fn walk<'a>(
    bytes: &'a [u8],
    settings: &'a Settings,
    effects: Option<Recorder<'a>>,
) -> (Program, Option<Recorder<'a>>) {
    let mut program = Program {
        lines: Lines::new(bytes),
        length: bytes.len() as u32,
        ..Program::default()
    };
    let first = look(bytes, settings, &mut program);
    let mut walker = Walker {
        bytes,
        settings,
        machine: start_of(&first, settings),
        strokes: Vec::new(),
        modal_box: box_cycle::Modal::default(),
        setup: two_block::Setup::default(),
        setup_used: false,
        notes_from: 0,
        moves: Vec::new(),
        clear_x: None,
        last_was_stroke: false,
        code_line: 0,
        loops: Loops::default(),
        gathered_passes: 0,
        listed: 0,
        units_assumed: first.units_assumed,
        compound: first.compound,
        program,
        effects,
        contour: contour::Recorder::default(),
    };
    let mut blocks = Blocks::new(bytes);
    let mut block = Block::default();
    while blocks.read(&mut block) {
        walker.block(&block);
    }
    walker.flush();
    let mut program = walker.program;
    program.sections = join(std::mem::take(&mut program.sections));
    program.turning = walker.contour.finish();
    (program, walker.effects)
}

/// The first look: family, units, decimal rule, comments, damage.
fn look(bytes: &[u8], settings: &Settings, program: &mut Program) -> First {
    let mut evidence = Evidence::default();
    let mut largest_x = 0f64;
    let mut leads: Vec<f64> = Vec::new();
    let mut unit_word: Option<i32> = None;
    let mut blocks = Blocks::new(bytes);
    let mut block = Block::default();
    while blocks.read(&mut block) {
        evidence.look(&block);
        for &span in &block.comments {
            program.notes.push(Note {
                span,
                line: block.line,
            });
        }
        for &fault in &block.faults {
            program.faults.push((block.line, fault));
        }
        let odd = block.words.iter().filter(|word| word.is_odd_code());
        program.faults.extend(odd.map(|word| {
            let fault = Fault {
                kind: FaultKind::OddCode,
                span: word.span,
            };
            (block.line, fault)
        }));
        if let Some(x) = block.number_of(b'X') {
            largest_x = largest_x.max(x.value().abs());
        }
        let threading = block
            .g_codes()
            .any(|(code, _)| matches!(code, 320 | 330 | 760 | 780 | 920));
        if threading && let Some(f) = block.number_of(b'F') {
            leads.push(f.value());
        }
        if unit_word.is_none() {
            unit_word = block
                .g_codes()
                .map(|(code, _)| code)
                .find(|code| matches!(code, 200 | 210));
        }
    }
    let pointless = (evidence.pointless, evidence.huge_pointless);
    let compound = evidence.compound;
    let (found, reasons) = evidence.decide();
    let family = settings.family.unwrap_or(found);
    program.family = family;
    program.reasons = reasons;
    let decimal = settings
        .decimal
        .unwrap_or(if pointless.1 > 2 && pointless.1 * 2 > pointless.0 {
            DecimalRule::LeastIncrement
        } else {
            DecimalRule::Whole
        });
    // Without a units word: leads of a quarter and less on work no larger than 16 are inches.
    let inches = !leads.is_empty()
        && leads.iter().all(|&lead| lead > 0.0 && lead <= 0.25)
        && largest_x <= 16.0;
    let units = settings.units.unwrap_or(if inches {
        Units::Inch
    } else {
        Units::Millimetre
    });
    First {
        family,
        units,
        units_assumed: settings.units.is_none(),
        compound,
        decimal,
        radius_mode: settings
            .diameter_mode
            .map_or(family == Family::Interpreter, |diameter| !diameter),
    }
}

fn start_of(first: &First, settings: &Settings) -> Machine {
    let mut machine = Machine::new(first.family, first.units, first.decimal, first.radius_mode);
    machine.x_mode_written = settings.diameter_mode.is_some();
    machine
}

/// Most passes that are listed for one file: far more than any machine makes, far less than a file
/// that is no program could ask for.
const LISTED: usize = 1_000_000;

const TOO_MANY: &str = "the file asks for a million passes; those from here on are not listed";

/// Most comments kept beside a section, the nearest ones.
const NOTES: usize = 256;

struct Walker<'a> {
    bytes: &'a [u8],
    settings: &'a Settings,
    machine: Machine,
    strokes: Vec<Stroke>,
    modal_box: box_cycle::Modal,
    setup: two_block::Setup,
    setup_used: bool,
    notes_from: usize,
    moves: Vec<Move>,
    clear_x: Option<Length>,
    last_was_stroke: bool,
    /// Last line before the present one that holds more than comments.
    code_line: u32,
    loops: Loops,
    /// Passes among the strokes gathered so far.
    gathered_passes: usize,
    /// Passes listed so far in the whole file.
    listed: usize,
    units_assumed: bool,
    compound: bool,
    program: Program,
    effects: Option<Recorder<'a>>,
    contour: contour::Recorder,
}

impl Walker<'_> {
    fn block(&mut self, block: &Block) {
        if let Some(word) = block.program {
            self.new_part(block, word.number().and_then(|number| number.integer()));
        }
        self.flow(block);
        let tool_before = self.machine.tool.map(|tool| Machine::station(tool.value));
        let before = self.machine.at;
        let motion_before = self.machine.motion;
        let action = self.machine.apply(block, self.bytes);
        self.program.units = self.program.units.or(self.machine.units_mark);
        let tool_after = self.machine.tool.map(|tool| Machine::station(tool.value));
        if tool_before.is_some() && tool_before != tool_after {
            self.flush();
            // Comments on lines of their own right before a tool change belong to it.
            self.notes_from = self.comments_before(self.code_line + 1);
        }
        if !block.words.is_empty() || block.statement.is_some() {
            self.code_line = block.line;
        }
        if block.computes_code() {
            self.unread(
                block,
                "a G code is a variable or an expression, which is not evaluated",
            );
        }
        self.contour.block(block, &self.machine, self.bytes);
        let consumed = self.read(block, action, motion_before);
        self.contour.behind(block);
        if let Some(effects) = self.effects.as_mut() {
            effects.block(&self.machine, block, before, action, consumed);
        }
        self.machine.finish(block);
        if block
            .m_codes()
            .any(|(code, _)| matches!(code, 20 | 300 | 990))
        {
            self.flush();
        }
    }

    /// Loops and jumps are not run: behind a loop the tool may be anywhere, and what stands in a
    /// loop or before a jump may be cut more than once or not at all.
    fn flow(&mut self, block: &Block) {
        match self.loops.see(block, self.bytes) {
            Some(Flow::Closes) => self.machine.go(Position::default()),
            Some(Flow::Jumps) => {
                for stroke in &mut self.strokes {
                    not_run(&mut stroke.why, "a jump stands behind the block");
                }
            }
            Some(Flow::Opens) | None => {}
        }
    }

    /// Reads a block; the letters that its passes stand for, where it is one of a thread.
    fn read(&mut self, block: &Block, action: Action, motion_before: Action) -> Option<Consumed> {
        let to = self.machine.target(block);
        match action {
            Action::None => self.preset_or_box(block),
            Action::OtherCycle => {
                self.last_was_stroke = false;
                self.contour.cycle(block, &self.machine);
                if self.compound && block.has(b'H') && (block.has_g(710) || block.has_g(720)) {
                    self.unread(
                        block,
                        "a threading cycle as G71 or G72 with H is not judged",
                    );
                }
            }
            Action::Move(code) => {
                self.contour.moved(block, code, &self.machine, to);
                self.moved(block, code == 0, to);
            }
            Action::Stroke | Action::VariableLead if self.machine.family == Family::Mill => {
                self.machine.go(to);
            }
            Action::Stroke if self.compound => {
                if block.has_g(330) {
                    self.unread(
                        block,
                        "G33 is a box in the family of controls with G71 and H; it is not judged",
                    );
                }
            }
            Action::Stroke => {
                let stroke =
                    strokes::read(&self.machine, block, self.clear_x, self.last_was_stroke);
                self.gather(stroke);
                self.last_was_stroke = true;
                self.machine.go(to);
                return Some(effects::STROKE);
            }
            Action::VariableLead => {
                self.unread(block, "strokes with a changing lead are not judged");
                self.last_was_stroke = false;
                self.machine.go(to);
            }
            Action::BoxThread => {
                let written = block
                    .g_codes()
                    .any(|(code, _)| matches!(code, 920 | 780 | 210));
                let fresh = written || motion_before != Action::BoxThread;
                let stroke = box_cycle::read(&self.machine, block, &mut self.modal_box, fresh);
                self.gather(stroke);
                self.last_was_stroke = false;
                return Some(effects::BOX);
            }
            Action::MultiPass => return self.multi_pass(block),
        }
        None
    }

    fn gather(&mut self, mut stroke: Stroke) {
        if self.listed >= LISTED {
            return;
        }
        if self.strokes.is_empty() || !stroke.chained {
            self.gathered_passes += 1;
        }
        self.listed += 1;
        if self.listed == LISTED {
            self.program.unread.push(Mark {
                value: TOO_MANY,
                span: stroke.block.span,
                line: stroke.block.line,
            });
        }
        if self.loops.inside() {
            not_run(&mut stroke.why, "the block stands in a loop");
        }
        self.contour.thread(stroke.block.line);
        self.strokes.push(stroke);
    }

    /// G92 with X or Z but no lead, in the family where it is a box, behind a feed: the lead may be
    /// in force, or it is a preset. Neither is guessed.
    fn preset_or_box(&mut self, block: &Block) {
        let open = self.machine.family == Family::SystemA
            && self.machine.feed.is_some()
            && block.has_g(920)
            && block.has_any(b"XZUW")
            && !block.has_any(b"FES");
        if open {
            self.unread(
                block,
                "G92 without F is a preset, or a box of threading whose lead is in force",
            );
            self.machine.go(Position::default());
        }
    }

    fn moved(&mut self, block: &Block, rapid: bool, to: Position) {
        let from = self.machine.at;
        self.last_was_stroke = false;
        if from.x != to.x {
            self.clear_x = from.x;
        }
        self.moves.push(Move {
            line: block.line,
            span: block.span,
            rapid,
            after_pass: self.gathered_passes,
            from: (from.x.map(Diameter), from.z),
            to: (to.x.map(Diameter), to.z),
        });
        self.forget_moves();
        self.machine.go(to);
    }

    /// Of the moves since the last pass the first lead away from it and the last lead to the next;
    /// none in between is kept.
    fn forget_moves(&mut self) {
        const KEPT: usize = 16;
        let count = self.moves.len();
        if count <= 2 * KEPT {
            return;
        }
        if self.strokes.is_empty() {
            self.moves.drain(..KEPT);
        } else if self.moves[count - KEPT - 1].after_pass == self.gathered_passes {
            self.moves.remove(count - KEPT / 2);
        }
    }

    fn multi_pass(&mut self, block: &Block) -> Option<Consumed> {
        if self.machine.family == Family::Mill {
            return None;
        }
        if self.listed >= LISTED {
            self.unread(block, TOO_MANY);
            return None;
        }
        if drive_line::is_drive_line(block, self.machine.family) {
            let draft = drive_line::read(&self.machine, block);
            // The cycle ends at the far end of the drive line.
            let end = Position {
                z: draft.cut.end_z.get(),
                ..self.machine.at
            };
            let consumed = self.finished(draft, block, effects::DRIVE_LINE);
            self.machine.go(end);
            return consumed;
        }
        if one_block::is_one_block(block) {
            let draft = one_block::read(&self.machine, block);
            return self.finished(draft, block, effects::ONE_BLOCK);
        }
        if two_block::is_setup(block) {
            two_block::read_setup(&self.machine, block, &mut self.setup);
            self.setup_used = false;
            let digits = block.number_of(b'P');
            let read = digits.is_none_or(|digits| two_block::unpack(digits).is_some());
            return read.then_some(effects::SETUP);
        }
        if self.bores(block) {
            // A hole cycle of another machine.
            return None;
        }
        if two_block::is_main(block, &self.setup) {
            let draft = two_block::read(&self.machine, block, &self.setup, self.settings);
            return self.finished(draft, block, effects::TWO_BLOCK);
        }
        self.unread(
            block,
            "a multi-pass code whose words fit none of its known ways",
        );
        None
    }

    /// Fine boring on a machine that the text does not settle: a hole cycle moves along Z alone,
    /// with R as a plane and no height P.
    fn bores(&self, block: &Block) -> bool {
        let per_minute = block.number_of(b'F').is_some_and(|f| f.value() > 10.0);
        block.has(b'Y')
            || (self.machine.family == Family::Undecided
                && self.setup.block.is_none()
                && per_minute)
            || (self.setup.block.is_none() && !block.has_any(b"XU") && block.has(b'R'))
            || !block.has_any(b"XU") && !block.has(b'P')
    }

    /// Adds a multi-pass cycle as a section; `letters` are those that its passes stand for.
    fn finished(&mut self, draft: Draft, block: &Block, letters: Consumed) -> Option<Consumed> {
        // The moves before a cycle lead to it, unless they belong to strokes that end here.
        let moves = if self.strokes.is_empty() {
            std::mem::take(&mut self.moves)
        } else {
            Vec::new()
        };
        self.flush();
        self.listed += draft.passes.len();
        self.contour.thread(block.line);
        let with_setup = draft.syntax == Syntax::TwoBlock;
        let consumed = (!draft.passes.is_empty()).then_some(letters);
        let setup = two_block::setup_span(&self.setup).filter(|_| with_setup && !self.setup_used);
        self.setup_used |= with_setup;
        let mut blocks = Vec::new();
        let mut span = draft.span;
        let mut first_line = draft.line;
        if let Some((setup_span, line)) = setup {
            blocks.push(place(setup_span, line));
            span = setup_span.to(span);
            first_line = line;
        }
        blocks.push(place(block.span, block.line));
        let mut unknown = draft.unknown;
        if self.loops.inside() {
            not_run(&mut unknown, "the block stands in a loop");
        }
        self.assumptions(&mut unknown);
        let section = Section {
            syntax: draft.syntax,
            kind: Kind::Turned,
            span,
            first_line,
            last_line: block.line,
            blocks,
            cut: draft.cut,
            passes: draft.passes,
            passes_certain: draft.passes_certain && !self.loops.inside(),
            words: draft.words,
            units: self.machine.units,
            radius_mode: self.machine.radius_mode,
            spindle: self.machine.spindle,
            tool: self.machine.tool,
            notes: self.notes(block.line),
            unknown,
            chase: false,
            missing: draft.missing,
            moves,
        };
        self.program.sections.push(section);
        self.last_was_stroke = false;
        consumed
    }

    /// Turns the strokes gathered so far into sections.
    fn flush(&mut self) {
        if self.strokes.is_empty() {
            self.moves.clear();
            return;
        }
        self.gathered_passes = 0;
        let strokes = std::mem::take(&mut self.strokes);
        let moves = std::mem::take(&mut self.moves);
        let last_line = strokes.last().map_or(0, |stroke| stroke.block.line);
        let notes = self.notes(last_line);
        let around = Around {
            units: self.machine.units,
            radius_mode: self.machine.radius_mode,
            notes: &notes,
            moves: &moves,
        };
        let mut sections = group(&strokes, &around);
        for section in &mut sections {
            self.assumptions(&mut section.unknown);
        }
        self.program.sections.extend(sections);
    }

    fn assumptions(&self, unknown: &mut Vec<String>) {
        if self.units_assumed && self.machine.units_mark.is_none() {
            unknown.push(format!(
                "no word of the program sets the units; read as {}",
                match self.machine.units {
                    Units::Millimetre => "millimetres",
                    Units::Inch => "inches, because the leads are 0.25 or less",
                }
            ));
        }
    }

    fn new_part(&mut self, block: &Block, number: Option<i64>) {
        self.flush();
        self.contour.part();
        self.program.parts.push(Part {
            number,
            first_line: block.line,
        });
        self.notes_from = self.comments_before(block.line);
        self.setup = two_block::Setup::default();
        // Another program starts with nothing in force but what the control was left in.
        if self.program.parts.len() > 1 {
            let fresh = Machine::new(
                self.machine.family,
                self.machine.units,
                self.machine.decimal,
                self.machine.radius_mode,
            );
            let kept = (self.machine.units_mark, self.machine.x_mode_written);
            self.machine = fresh;
            (self.machine.units_mark, self.machine.x_mode_written) = kept;
            self.clear_x = None;
        }
        self.loops = Loops::default();
    }

    fn comments_before(&self, line: u32) -> usize {
        self.program.notes.partition_point(|note| note.line < line)
    }

    /// Comments from the last tool change to the line and right behind it.
    fn notes(&self, last_line: u32) -> Vec<Note> {
        let end = self
            .program
            .notes
            .partition_point(|note| note.line <= last_line);
        let from = self.notes_from.min(end).max(end.saturating_sub(NOTES));
        self.program.notes[from..end].to_vec()
    }

    fn unread(&mut self, block: &Block, why: &'static str) {
        self.program.unread.push(Mark {
            value: why,
            span: block.span,
            line: block.line,
        });
    }
}

fn not_run(unknown: &mut Vec<String>, where_it_stands: &str) {
    unknown.push(format!(
        "{where_it_stands}, which is not run: it may be cut more than once or not at all"
    ));
}
