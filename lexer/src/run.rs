//! Runs a program: follows its jumps, loops and calls, keeps its variables, and hands the blocks on
//! in the order in which the control executes them, with worked-out words.
//!
//! What depends on a value that the text does not give is not guessed: such a stretch is read once,
//! in the order written, under a doubt that is said. Work is bounded by [`AGAIN`].

mod assign;
mod call;
mod env;
mod flow;
mod loops;
mod outline;
mod rounds;
mod statement;

pub(crate) use statement::needs_running;

use std::borrow::Cow;
use std::collections::{HashMap, HashSet};
use std::rc::Rc;
use std::sync::Arc;

use crate::block::{Block, Blocks, Value as WordValue, Word};
use crate::expression::{self, Key, Style, Value};
use crate::multiple::Multiple;
use crate::program::Endless;
use crate::source::{Lines, Mark, Span};
use env::Env;
use outline::Outline;
use rounds::Rounds;
use statement::Statement;

/// Most blocks that are executed again after their first time. A thread by a loop takes some
/// hundreds; this many take some 30 ms.
const AGAIN: u32 = 20_000;

/// Most calls inside calls.
const DEEPEST: usize = 12;

const TOO_LONG: &str = "the loops and calls of the file run through more than 20000 blocks; what \
                        comes behind is read once, in the order written";
const TOO_DEEP: &str = "calls nest deeper than 12 levels; the innermost is not followed";
const NO_TARGET: &str = "a jump leads to a block that is not in the program";
const NO_END: &str = "a loop or a branch has no end, or more than one head";
const NOT_READ: &str = "a statement that this reader does not work out";
pub(crate) const NOT_FOUND: &str =
    "a subprogram that is neither in this file nor beside it; what it does is not read";

/// A program that another one calls.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Callee<'a> {
    /// By number: `M98 P1000`, `G65 P9100`, `o123 call`.
    Number(i64),
    /// By name, in capitals as far as the text does not tell: `o<thread> call`, `THREAD`.
    Name(&'a str),
}

/// Programs that lie beside the one that is read.
pub trait Library {
    /// The bytes of the file that holds the program, and what the file is called.
    fn find(&self, callee: Callee<'_>) -> Option<(String, Arc<[u8]>)>;
}

/// No program lies beside.
#[derive(Debug, Clone, Copy, Default)]
pub struct Alone;

impl Library for Alone {
    fn find(&self, _: Callee<'_>) -> Option<(String, Arc<[u8]>)> {
        None
    }
}

/// How a block is executed.
pub(crate) struct How<'a> {
    /// The text that the block's spans point into, where it is not the file's own.
    pub(crate) bytes: &'a [u8],
    /// Why it may not be executed, or more than once.
    pub(crate) doubt: Option<&'static str>,
    /// Why words of it have no value.
    pub(crate) reasons: &'a [String],
    /// Letters of worked-out words that are near their value only; A is bit 0.
    pub(crate) near: u32,
    /// Words without a value that are multiples of an unknown one.
    pub(crate) multiples: &'a [Multiple],
    /// The file that it stands in, where that is another.
    pub(crate) elsewhere: Option<&'a str>,
    /// Its words are arguments and no orders.
    pub(crate) arguments: bool,
    /// The control goes on behind a call instead of ending.
    pub(crate) returns: bool,
}

/// What became of the words of a block that are variables or expressions.
#[derive(Default)]
struct Worked {
    /// Why words have no value.
    reasons: Vec<String>,
    /// See [`How::near`].
    near: u32,
    multiples: Vec<Multiple>,
}

/// What executes the blocks.
pub(crate) trait Reader {
    fn block(&mut self, block: &Block, how: &How<'_>);
    /// The tool may be anywhere.
    fn lost(&mut self);
    /// A program was called here that is not known.
    fn unknown_call(&mut self, place: (Span, u32));
    /// What stands from this line on may be cut in another number than was read.
    fn uncertain(&mut self, from: u32, why: &'static str);
    fn unread(&mut self, mark: Mark<&'static str>);
    fn endless(&mut self, endless: Endless);
    /// Goes on where no block leads: behind the end of a program, at a subprogram that is not
    /// called.
    fn restart(&mut self);
}

struct File<'a> {
    bytes: Cow<'a, [u8]>,
    lines: Lines,
    outline: Outline,
    name: String,
}

impl<'a> File<'a> {
    fn new(bytes: Cow<'a, [u8]>, style: Style, name: String) -> File<'a> {
        File {
            lines: Lines::new(&bytes),
            outline: Outline::of(&bytes, style),
            bytes,
            name,
        }
    }
}

/// A program that is being executed.
struct Frame {
    file: usize,
    /// Line of the next block.
    next: u32,
    /// Line where it began, and how often it is still to begin again.
    entry: u32,
    again: i64,
    /// Whether it has variables of its own.
    own: bool,
    /// The block of this file that led to another file.
    from: Option<(Span, u32)>,
    /// What is left of counted loops, by the line of their head.
    times: HashMap<u32, i64>,
    rounds: HashMap<u32, Rounds>,
}

/// A stretch that is read although it may not be executed.
struct Doubt {
    /// Number of frames in which it began.
    depth: usize,
    /// The first line behind it.
    until: u32,
    why: &'static str,
}

/// A macro that is called behind every motion.
#[derive(Clone)]
struct Modal {
    number: i64,
    arguments: Vec<(Key, Value)>,
    depth: usize,
}

pub(crate) struct Run<'a, 'r, R> {
    reader: &'r mut R,
    library: &'r dyn Library,
    style: Style,
    files: Vec<Rc<File<'a>>>,
    /// Files beside, by what was asked for.
    beside: HashMap<String, Option<usize>>,
    frames: Vec<Frame>,
    env: Env,
    /// How often each line of the file was executed, as far as two.
    visits: Vec<u8>,
    left: u32,
    /// Line from which the next start is looked for.
    scan: u32,
    /// Nothing is left to execute.
    done: bool,
    /// The next O word belongs to the program that was called.
    entering: bool,
    /// A branch whose condition was false leads here.
    deciding: bool,
    doubts: Vec<Doubt>,
    /// Groups whose condition is not known, by file.
    undecided: HashSet<(usize, usize)>,
    modal: Option<Modal>,
    /// Conditions with variables that were decided so far.
    decided: u64,
    /// Lines that were looked through for what is set in them.
    searched: u32,
    /// Places of worked-out words.
    computed: Vec<Span>,
    said: HashSet<(u32, &'static str)>,
}

/// What a run leaves behind.
pub(crate) struct Ran {
    /// Lines that were executed more than once, or that lead to another file.
    pub(crate) repeated: Vec<u32>,
    /// Lines that were not executed.
    pub(crate) skipped: Vec<u32>,
    /// Places of worked-out words, in order.
    pub(crate) computed: Vec<Span>,
    /// Programs of the file: O number and line.
    pub(crate) programs: Vec<(Option<i64>, u32)>,
}

/// Executes a text.
pub(crate) fn run<R: Reader>(
    bytes: &[u8],
    style: Style,
    library: &dyn Library,
    reader: &mut R,
) -> Ran {
    let file = File::new(Cow::Borrowed(bytes), style, String::new());
    let lines = file.outline.lines;
    let mut run = Run {
        reader,
        library,
        style,
        files: vec![Rc::new(file)],
        beside: HashMap::new(),
        frames: Vec::new(),
        env: Env::new(style == Style::Interpreter),
        visits: vec![0; lines as usize + 2],
        left: AGAIN,
        scan: 1,
        done: false,
        entering: false,
        deciding: false,
        doubts: Vec::new(),
        undecided: HashSet::new(),
        modal: None,
        decided: 0,
        searched: 0,
        computed: Vec::new(),
        said: HashSet::new(),
    };
    run.start_at(1);
    while run.step() {}
    run.computed.sort_unstable();
    run.computed.dedup();
    let with = |wanted: fn(u8) -> bool| {
        (1..=lines)
            .filter(|&line| wanted(run.visits[line as usize]))
            .collect()
    };
    Ran {
        repeated: with(|visits| visits > 1),
        skipped: with(|visits| visits == 0),
        programs: run.files[0]
            .outline
            .programs
            .iter()
            .map(|program| (program.number, program.line))
            .collect(),
        computed: run.computed,
    }
}

impl<R: Reader> Run<'_, '_, R> {
    fn start_at(&mut self, line: u32) {
        self.frames = vec![Frame {
            file: 0,
            next: line,
            entry: line,
            again: 0,
            own: false,
            from: None,
            times: HashMap::new(),
            rounds: HashMap::new(),
        }];
        self.scan = self.scan.max(line);
    }

    fn frame(&mut self) -> &mut Frame {
        let last = self.frames.len() - 1;
        &mut self.frames[last]
    }

    fn exhausted(&self) -> bool {
        self.left == 0
    }

    /// Executes one block; `false` at the end of the run.
    fn step(&mut self) -> bool {
        let Some(frame) = self.frames.last().filter(|_| !self.done) else {
            return false;
        };
        let (index, line) = (frame.file, frame.next);
        let file = self.files[index].clone();
        self.end_doubts(line);
        if line > file.outline.lines {
            return self.end_of_program();
        }
        let before = match index {
            0 => {
                let visits = &mut self.visits[line as usize];
                let before = *visits;
                *visits = before.saturating_add(1).min(2);
                before
            }
            _ => 1,
        };
        let mut block = Block::default();
        let start = file.lines.span(line).start;
        Blocks::at(&file.bytes, start, line).read(&mut block);
        if block.program.is_some() && !self.boundary(&mut block, before) {
            return true;
        }
        if before > 0 {
            self.again(&file, &block);
        }
        self.frame().next = line + 1;
        self.execute(&file, block);
        true
    }

    /// At an O word: whether its block is executed.
    fn boundary(&mut self, block: &mut Block, before: u8) -> bool {
        if std::mem::take(&mut self.entering) {
            block.program = None;
            return true;
        }
        if self.frames.len() > 1 {
            // The program that was called ends without saying so.
            if self.frame().file == 0 {
                self.visits[block.line as usize] = before;
            }
            self.give_back();
            return false;
        }
        self.close_doubts(0);
        if before > 0 {
            // It was called before.
            self.visits[block.line as usize] = before;
            self.next_start();
            return false;
        }
        if block.line > 1 && self.scan > 1 {
            self.env.restart();
        }
        self.scan = self.scan.max(block.line + 1);
        self.modal = None;
        true
    }

    /// One block more that is executed again; a long one counts for several.
    fn again(&mut self, file: &File<'_>, block: &Block) {
        self.charge(1 + (block.span.end - block.span.start) / 16);
        if self.left == 0 {
            self.say(file, block.span, block.line, TOO_LONG);
        }
    }

    fn charge(&mut self, blocks: u32) {
        self.left = self.left.saturating_sub(blocks);
    }

    /// Says once what was not read.
    fn say(&mut self, file: &File<'_>, span: Span, line: u32, value: &'static str) {
        let (span, line) = self.place(file, span, line);
        // The bound belongs to the file, not to a line.
        let of = if value == TOO_LONG { 0 } else { line };
        if self.said.len() < 10_000 && self.said.insert((of, value)) {
            self.reader.unread(Mark { value, span, line });
        }
    }

    /// A place in the file that is read: of another file the block that led there.
    fn place(&self, file: &File<'_>, span: Span, line: u32) -> (Span, u32) {
        match self.frames.last().and_then(|frame| frame.from) {
            Some(from) if !std::ptr::eq(file, &*self.files[0]) => from,
            _ => (span, line),
        }
    }

    fn execute(&mut self, file: &Rc<File<'_>>, mut block: Block) {
        let own = std::ptr::eq(&**file, &*self.files[0]);
        let worked = self.work_out(file, &mut block, own);
        let text = block.statement.is_some() || !block.names.is_empty();
        let line = text.then(|| statement::read(&block, &file.bytes, self.style));
        let macro_call = block
            .g_codes()
            .any(|(code, _)| matches!(code, 650 | 660 | 661));
        if macro_call {
            self.emit(file, &block, &worked, true, false);
            self.macro_block(file, &block);
            return;
        }
        let ends = self.ends(&block);
        let returns = ends == Some(call::End::Return) && self.frames.len() > 1;
        self.emit(file, &block, &worked, false, returns);
        self.assign_all(file, &block);
        if let Some(line) = line {
            if line.statement != Statement::None {
                self.statement(file, &block, &line);
                return;
            }
            if self.behind_label(file, &block) {
                return;
            }
        }
        if self.calls(file, &block) {
            return;
        }
        match ends {
            Some(end) => self.end(file, &block, end),
            None => self.modal_macro(file, &block),
        }
    }

    /// What stands behind a label on its line is a block of its own. Whether there is a label.
    fn behind_label(&mut self, file: &Rc<File<'_>>, block: &Block) -> bool {
        if statement::label(block, &file.bytes).is_none() {
            return false;
        }
        let text = block.span.of(&file.bytes);
        let Some(colon) = memchr::memchr(b':', text) else {
            return true;
        };
        let mut inside = Block::default();
        let offset = block.span.start + colon as u32 + 1;
        Blocks::at(&file.bytes, offset, block.line).read(&mut inside);
        inside.program = None;
        // One label a line.
        if statement::label(&inside, &file.bytes).is_none() {
            self.execute(file, inside);
        }
        true
    }

    /// Replaces worked-out words by their values.
    fn work_out(&mut self, file: &File<'_>, block: &mut Block, own: bool) -> Worked {
        let computed = |word: &Word| word.value == WordValue::Expression;
        let mut worked = Worked::default();
        if !block.words.iter().any(computed) {
            return worked;
        }
        let line = block.line;
        let multi = block.g_codes().any(|(code, _)| matches!(code, 760 | 780));
        let mut empty = Vec::new();
        for word in block.words.iter_mut().filter(|word| computed(word)) {
            if own && self.computed.len() < 1_000_000 {
                self.computed.push(word.value_span);
            }
            let text = word.value_span.of(&file.bytes);
            let mut reader = expression::Reader::new(text, self.style, &mut self.env);
            let value = reader.expression();
            let whole = reader.rest().is_empty();
            match value.filter(|_| whole) {
                Some(Value::Null) => empty.push(word.span),
                Some(Value::Known(num)) => match spelled(num, word.letter, multi, self.style) {
                    Some((number, exact)) => {
                        worked.near |= u32::from(!exact) << (word.letter - b'A');
                        word.value = WordValue::Number(number);
                    }
                    None => worked.reasons.push(format!(
                        "the value of {} is no whole number, and controls differ in what they \
                             make of it",
                        word.letter as char
                    )),
                },
                Some(other) => {
                    let multiple = Multiple::of(word.letter, other, word.span, line);
                    worked.multiples.extend(multiple);
                    if let Some(why) = other.why() {
                        worked.reasons.push(self.env.why(why));
                    }
                }
                None => worked.reasons.push(self.env.why(expression::Why::NotRead)),
            }
        }
        if !empty.is_empty() {
            block.retain(|word| !empty.contains(&word.span));
        }
        worked
    }

    fn emit(
        &mut self,
        file: &File<'_>,
        block: &Block,
        worked: &Worked,
        arguments: bool,
        returns: bool,
    ) {
        let from = self.frames.last().and_then(|frame| frame.from);
        let doubt = self.doubts.last().map(|doubt| doubt.why);
        let how = How {
            bytes: &file.bytes,
            doubt,
            reasons: &worked.reasons,
            near: worked.near,
            multiples: &worked.multiples,
            elsewhere: from.map(|_| file.name.as_str()),
            arguments,
            returns,
        };
        match from {
            None => self.reader.block(block, &how),
            Some((span, line)) => {
                let mut moved = block.clone();
                moved.program = None;
                moved.number = None;
                moved.comments.clear();
                moved.faults.clear();
                (moved.span, moved.line) = (span, line);
                for word in &mut moved.words {
                    (word.span, word.value_span) = (span, span);
                }
                let mut multiples = worked.multiples.clone();
                for multiple in &mut multiples {
                    (multiple.span, multiple.line) = (span, line);
                }
                let how = How {
                    multiples: &multiples,
                    ..how
                };
                self.reader.block(&moved, &how);
            }
        }
    }

    /// The next place to go on from behind the end of a program: what was not called and stands
    /// there.
    fn next_start(&mut self) -> bool {
        self.close_doubts(0);
        self.frames.truncate(1);
        self.modal = None;
        let file = self.files[0].clone();
        // Right behind the end of a program text goes on; what was jumped over does not.
        let mut behind_end = true;
        while self.scan <= file.outline.lines {
            let line = self.scan;
            self.scan += 1;
            if self.visits[line as usize] > 0 {
                behind_end = false;
                continue;
            }
            let program = file
                .outline
                .programs
                .binary_search_by_key(&line, |program| program.line)
                .is_ok();
            let sub = file.outline.group(line).is_some_and(|(_, group)| {
                group.head == statement::Part::Sub && group.first() == line
            });
            if program || sub || behind_end {
                self.start_at(if sub { line + 1 } else { line });
                if !program {
                    self.reader.restart();
                }
                if sub {
                    self.visits[line as usize] = 1;
                    self.env.restart();
                }
                return true;
            }
        }
        self.done = true;
        false
    }

    fn end_of_program(&mut self) -> bool {
        if self.frames.len() > 1 {
            self.give_back();
            return true;
        }
        self.next_start()
    }

    /// Ends the doubts that do not reach to this line.
    fn end_doubts(&mut self, line: u32) {
        let depth = self.frames.len();
        while let Some(doubt) = self.doubts.last() {
            if doubt.depth < depth || doubt.depth == depth && line < doubt.until {
                return;
            }
            self.end_doubt();
        }
    }

    fn end_doubt(&mut self) {
        self.doubts.pop();
        self.env.end_log();
        if !self.doubts.is_empty() {
            self.env.start_log();
        }
        self.reader.lost();
    }

    /// Ends the doubts that began in a frame deeper than this.
    fn close_doubts(&mut self, depth: usize) {
        while self.doubts.last().is_some_and(|doubt| doubt.depth > depth) {
            self.end_doubt();
        }
    }

    fn doubt(&mut self, until: u32, why: &'static str) {
        let depth = self.frames.len();
        match self.doubts.last_mut() {
            Some(doubt) if doubt.depth == depth => doubt.until = doubt.until.max(until),
            _ => self.doubts.push(Doubt { depth, until, why }),
        }
        if !self.env.logging() {
            self.env.start_log();
        }
    }

    fn doubtful(&self) -> bool {
        self.doubts
            .last()
            .is_some_and(|doubt| doubt.depth == self.frames.len())
    }
}

/// A value as the literal that stands for it. Depth words of multi-pass cycles count least
/// increments: a value that is no whole number is rounded by the control, which is plain only where
/// it is far larger than a depth in real units.
fn spelled(
    num: expression::Num,
    letter: u8,
    multi: bool,
    style: Style,
) -> Option<(crate::number::Number, bool)> {
    let counts = multi && style != Style::Interpreter && matches!(letter, b'P' | b'Q' | b'D');
    if !counts {
        // Real units, point or not (from memory); codes and counts have none.
        let plain = matches!(
            letter,
            b'G' | b'M' | b'N' | b'T' | b'P' | b'L' | b'Q' | b'H' | b'O'
        );
        return num.number(!plain);
    }
    match num.integer() {
        Some(_) => num.number(false),
        None if num.value().abs() >= 100.0 => num.round()?.number(false),
        None => None,
    }
}
