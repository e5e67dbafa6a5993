//! Walks the blocks of a file, moves the machine's state, and gathers threading sections.

use crate::block::{Block, Blocks};
use crate::contour;
use crate::effects::{self, Consumed, Recorder};
use crate::evidence::Family;
use crate::expression::Style;
use crate::group::{Around, group, join, place};
use crate::machine::{Action, Machine, Position};
use crate::multiple::{Multiple, height_over_lead};
use crate::program::{Effect, Endless, Part, Program, Settings};
use crate::rotating::Rotating;
use crate::run::{self, Alone, How, Library, run};
use crate::section::{Kind, Move, Note, Section, Syntax};
use crate::source::{Lines, Mark, Span};
use crate::syntax::strokes::{self, Stroke};
use crate::syntax::{
    Draft, MIRRORED, box_cycle, call, compound, drive_line, one_block, two_block, variable,
};
use crate::units::{Diameter, Length, Units};
use look::{First, Look};

pub use pages::{Again, Reading};

/// Reads a program by itself: what it calls and does not hold is not known.
#[must_use]
pub fn read(bytes: &[u8], settings: &Settings) -> Program {
    read_with(bytes, settings, &Alone)
}

/// Reads a program that may call others, which lie beside it.
#[must_use]
pub fn read_with(bytes: &[u8], settings: &Settings, library: &dyn Library) -> Program {
    let mut program = walk(bytes, settings, library, None).0;
    // Subprograms stand where they are written, not where they are called.
    program.sections.sort_by_key(|section| section.first_line);
    program
}

/// What a text does, for comparing two texts: moves, passes, speeds, tools and modal states in
/// order. Spelling makes no difference (spaces, leading zeros, N numbers, comments, a state set
/// twice, a lead written out instead of inherited); a change of motion, lead, depth, speed, tool or
/// auxiliary function does.
#[must_use]
pub fn effects(bytes: &[u8], settings: &Settings) -> Vec<Effect> {
    let (program, recorder) = walk(bytes, settings, &Alone, Some(Recorder::new(bytes)));
    recorder.map_or_else(Vec::new, |recorder| recorder.finish(&program.sections))
}

fn walk<'a>(
    bytes: &'a [u8],
    settings: &'a Settings,
    library: &dyn Library,
    effects: Option<Recorder<'a>>,
) -> (Program, Option<Recorder<'a>>) {
    let mut program = Program {
        lines: Lines::new(bytes),
        length: bytes.len() as u32,
        ..Program::default()
    };
    let first = Look::of(bytes).decide(settings, &mut program);
    let mut walker = Walker {
        effects,
        ..Walker::begin(bytes, settings, &first, program)
    };
    match first.runs {
        None => {
            let mut blocks = Blocks::new(bytes);
            let mut block = Block::default();
            while blocks.read(&mut block) {
                walker.block(&block, bytes);
            }
            walker.flush();
        }
        Some(style) => walker.run(style, library),
    }
    let mut program = walker.program;
    // What rotating tools cut ends later than it begins.
    program.sections.sort_by_key(|section| {
        section
            .passes
            .first()
            .map_or(section.last_line, |pass| pass.line)
    });
    program.sections = join(std::mem::take(&mut program.sections));
    program.turning = walker.contour.finish();
    (program, walker.effects)
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

/// Moves that are kept before a thread and behind a pass.
const MOVES: usize = 16;

mod cycles;
mod look;
mod notes;
mod pages;
mod rotates;
mod running;
mod state;

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
    orders: Orders,
    marked: Option<Marked>,
    /// Drills, taps and thread mills.
    rotating: Rotating,
    /// Passes among the strokes gathered so far.
    gathered_passes: usize,
    /// Passes listed so far in the whole file.
    listed: usize,
    units_assumed: bool,
    compound: compound::Modes,
    /// The call that every block with a motion repeats, and whether one did.
    modal_call: Option<(Block, bool)>,
    program: Program,
    effects: Option<Recorder<'a>>,
    contour: contour::Recorder,
    /// Looks at comments: line of the block, and index of the first comment.
    looks: Vec<(u32, usize)>,
}

/// How far strokes and sections were marked as uncertain, and from which line on.
#[derive(Clone, Copy)]
struct Marked {
    from: u32,
    why: &'static str,
    strokes: usize,
    sections: usize,
}

/// How the present block is executed, in a program that is run.
#[derive(Default)]
struct Orders {
    /// What is not known of it, in sentences.
    unknown: Vec<String>,
    /// It may not be executed, or more than once.
    doubtful: bool,
    /// Letters whose words are near their value in the section in hand; A is bit 0.
    near: u32,
    /// Words of the block that are multiples of an unknown value.
    multiples: Vec<Multiple>,
    /// The next M99 goes back to a caller.
    returns: bool,
    /// Why the place of the tool is not known, where a word without a value led there.
    lost: Vec<String>,
    /// Lines with an O word.
    heads: Vec<u32>,
    /// Sections that were there when the comments near the tool began.
    before_tool: usize,
    /// Line from which on comments are near the tool.
    notes_line: u32,
}

impl Orders {
    /// The first line of the program that a line belongs to.
    fn head(&self, line: u32) -> u32 {
        let behind = self.heads.partition_point(|&head| head <= line);
        behind.checked_sub(1).map_or(1, |at| self.heads[at])
    }
}

impl Walker<'_> {
    /// Anything may have happened to the machine.
    fn forget(&mut self) {
        self.machine.go(Position::default());
        if let Some(effects) = self.effects.as_mut() {
            effects.forget(self.code_line);
            self.machine.motion = Action::None;
            self.machine.feed = None;
        }
    }

    fn block(&mut self, block: &Block, bytes: &[u8]) {
        if let Some(word) = block.program {
            self.new_part(block, word.number().and_then(|number| number.integer()));
        }
        let tool_before = self.machine.tool.map(|tool| Machine::station(tool.value));
        let before = self.machine.at;
        let motion_before = self.machine.motion;
        let action = self.machine.apply(block, bytes);
        if self.machine.family == Family::Compound {
            self.compound.see(block);
        }
        self.program.units = self.program.units.or(self.machine.units_mark);
        let tool_after = self.machine.tool.map(|tool| Machine::station(tool.value));
        if tool_before.is_some() && tool_before != tool_after {
            self.rotating.stages(&self.machine, block);
            self.flush();
            // Comments on lines of their own right before a tool change belong to it.
            self.notes_from = self.comments_before(self.code_line + 1);
            self.orders.notes_line = self.code_line + 1;
            self.orders.before_tool = self.program.sections.len();
        }
        if !block.words.is_empty() || block.statement.is_some() {
            self.code_line = block.line;
        }
        if block.computes_code() {
            self.unread(
                block,
                "a G code is a variable or an expression without a known value",
            );
        }
        self.contour.block(block, &self.machine);
        if !block.names.is_empty() && call::found(block, bytes).is_none() {
            self.contour.named_call(block, bytes);
        }
        let consumed = self.read(block, bytes, action, motion_before);
        self.rotates(block, bytes);
        self.contour.behind(block);
        if let Some(effects) = self.effects.as_mut() {
            effects.block(&self.machine, block, before, action, consumed);
        }
        self.machine.finish(block);
        if block
            .m_codes()
            .any(|(code, _)| matches!(code, 20 | 300) || code == 990 && !self.orders.returns)
        {
            self.flush();
        }
    }

    /// Reads a block; the letters that its passes stand for, where it is one of a thread.
    fn read(
        &mut self,
        block: &Block,
        bytes: &[u8],
        action: Action,
        motion_before: Action,
    ) -> Option<Consumed> {
        let to = self.machine.target(block);
        if !block.names.is_empty() {
            self.named(block, bytes);
        }
        match action {
            Action::None => self.preset_or_box(block),
            Action::OtherCycle => {
                self.last_was_stroke = false;
                self.contour.cycle(block, &self.machine);
            }
            Action::Move(code) => {
                self.contour.moved(block, code, &self.machine, to);
                self.moved(block, code == 0, to);
                if let Some((call, used)) = self.modal_call.take() {
                    self.call(&call, self.bytes, block, used);
                    self.modal_call = Some((call, true));
                }
            }
            Action::Stroke | Action::VariableLead if self.machine.family == Family::Mill => {
                self.machine.go(to);
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
                let stroke =
                    variable::read(&self.machine, block, self.clear_x, self.last_was_stroke);
                match stroke {
                    Ok(stroke) => {
                        self.gather(stroke);
                        self.last_was_stroke = true;
                        self.machine.go(to);
                        return Some(effects::PATH);
                    }
                    Err(why) => self.unread(block, why),
                }
                self.last_was_stroke = false;
                self.machine.go(to);
            }
            Action::BoxThread => {
                let fresh = motion_before != Action::BoxThread;
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
        if self.strokes.is_empty() {
            self.latest_moves();
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
        let lost = match (stroke.x, stroke.from.x, stroke.from.z) {
            (Some(_), Some(_), Some(_)) => &[],
            _ => self.orders.lost.as_slice(),
        };
        for why in self.orders.unknown.iter().chain(lost) {
            if !stroke.why.contains(why) {
                stroke.why.push(why.clone());
            }
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
        let behind_stroke = std::mem::replace(&mut self.last_was_stroke, false);
        if from.x != to.x {
            self.clear_x = from.x;
        }
        if behind_stroke && let Some(stroke) = self.strokes.last_mut() {
            stroke.retract_x = to.x.filter(|_| from.x != to.x);
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
        let count = self.moves.len();
        if count <= 2 * MOVES {
            return;
        }
        if self.strokes.is_empty() {
            self.moves.drain(..MOVES);
        } else if self.moves[count - MOVES - 1].after_pass == self.gathered_passes {
            self.moves.remove(count - MOVES / 2);
        }
    }

    /// Of the moves before a thread the latest; how many more are kept depends on how far the last
    /// thread lies back.
    fn latest_moves(&mut self) {
        let surplus = self.moves.len().saturating_sub(MOVES);
        self.moves.drain(..surplus);
    }

    /// Turns the strokes gathered so far into sections.
    fn flush(&mut self) {
        self.rotating_ends();
        if self.strokes.is_empty() {
            self.moves.clear();
            return;
        }
        self.gathered_passes = 0;
        self.marked = None;
        let strokes = std::mem::take(&mut self.strokes);
        let moves = std::mem::take(&mut self.moves);
        let last_line = strokes.last().map_or(0, |stroke| stroke.block.line);
        let notes = self.looked(last_line);
        let around = Around {
            units: self.machine.units,
            radius_mode: self.machine.radius_mode,
            notes: &notes,
            moves: &moves,
        };
        let mut sections = group(&strokes, &around);
        let near = std::mem::take(&mut self.orders.near);
        // Strokes of a caller and of what it calls: each with its own comments.
        let head = self.orders.head(last_line);
        if sections
            .iter()
            .any(|section| self.orders.head(section.last_line) != head)
        {
            for (index, section) in sections.iter_mut().enumerate() {
                let before = self.program.sections.len() + index;
                section.notes = self.notes_behind(section.last_line, before);
            }
        }
        for section in &mut sections {
            self.assumptions(&mut section.unknown);
            section.cut.make_near(near);
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
        self.orders.notes_line = block.line;
        self.orders.before_tool = self.program.sections.len();
        self.setup = two_block::Setup::default();
        self.rotating.restart();
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
            if let Some(effects) = self.effects.as_mut() {
                effects.forget(block.line);
            }
        }
        self.compound = compound::Modes::default();
        self.modal_call = None;
    }

    fn unread(&mut self, block: &Block, why: &'static str) {
        self.program.unread.push(Mark {
            value: why,
            span: block.span,
            line: block.line,
        });
    }
}
