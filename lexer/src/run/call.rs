//! Calls and returns, and what is set on the way.

use std::borrow::Cow;
use std::rc::Rc;

use super::outline::Outline;
use super::statement::{Line, Towards};
use super::{Callee, DEEPEST, File, Frame, Modal, NOT_FOUND, Reader, Run, TOO_DEEP};
use crate::block::{Block, Value as WordValue};
use crate::expression::{self, Key, Num, Style, Value};

/// How a program ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    /// M2, M30.
    Stop,
    /// M99, M17: back to where it was called.
    Return,
}

/// A program that was found.
#[derive(Debug, Clone, Copy)]
struct Found {
    file: usize,
    line: u32,
    /// The line is the O word of the program.
    headed: bool,
}

/// The variables of a call that has its own.
struct Own {
    arguments: Vec<(Key, Value)>,
    /// Those without an argument are empty.
    empty: bool,
    /// Those without an argument are worth what they are in the caller.
    inherit: bool,
}

impl Own {
    fn plain() -> Own {
        Own {
            arguments: Vec::new(),
            empty: false,
            inherit: false,
        }
    }

    fn of_macro(arguments: Vec<(Key, Value)>) -> Own {
        Own {
            arguments,
            empty: true,
            inherit: false,
        }
    }

    fn o_word(arguments: Vec<(Key, Value)>) -> Own {
        Own {
            arguments,
            empty: false,
            inherit: true,
        }
    }
}

impl<R: Reader> Run<'_, '_, R> {
    pub(super) fn ends(&self, block: &Block) -> Option<End> {
        block.m_codes().find_map(|(code, _)| match code {
            20 | 300 => Some(End::Stop),
            990 => Some(End::Return),
            170 if self.style == Style::Parentheses => Some(End::Return),
            _ => None,
        })
    }

    pub(super) fn end(&mut self, file: &Rc<File<'_>>, block: &Block, end: End) {
        if self.doubtful() || block.skip.is_some() {
            // It may go on behind.
            return;
        }
        match end {
            End::Stop => {
                self.next_start();
            }
            End::Return => {
                let to = block.number_of(b'P').and_then(|p| p.integer());
                let depth = self.frames.len();
                self.leave();
                // `M99 P100`: back to a block of the caller.
                if let Some(number) = to
                    && self.frames.len() < depth
                    && depth > 1
                {
                    let index = self.frame().file;
                    let caller = self.files[index].clone();
                    let from = self.frame().next;
                    let text = number.to_string();
                    if let Ok(Some(line)) =
                        self.target(&caller, from, text.as_bytes(), Towards::Anywhere)
                    {
                        self.frame().next = line;
                    }
                }
                let _ = file;
            }
        }
    }

    /// Back to the caller, or to the next program of the file.
    pub(super) fn leave(&mut self) {
        if self.doubtful() {
            return;
        }
        if self.frames.len() > 1 {
            self.give_back();
        } else {
            self.next_start();
        }
    }

    /// Ends the innermost call, or begins it again.
    pub(super) fn give_back(&mut self) {
        let depth = self.frames.len();
        self.close_doubts(depth - 1);
        let stop = self.exhausted();
        let frame = self.frame();
        if frame.again > 1 && !stop {
            frame.again -= 1;
            frame.next = frame.entry;
            frame.times.clear();
            frame.rounds.clear();
            self.entering = self.headed(depth);
            return;
        }
        let own = frame.own;
        self.frames.pop();
        if self
            .modal
            .as_ref()
            .is_some_and(|modal| modal.depth >= depth)
        {
            self.modal = None;
        }
        if own {
            self.env.leave();
        }
    }

    /// Whether the entry of the innermost frame is an O word.
    fn headed(&self, depth: usize) -> bool {
        let frame = &self.frames[depth - 1];
        let programs = &self.files[frame.file].outline.programs;
        programs
            .binary_search_by_key(&frame.entry, |program| program.line)
            .is_ok()
    }

    /// The value that a subprogram of the interpreter gives back.
    pub(super) fn returned(&mut self, rest: &[u8]) {
        if self.style != Style::Interpreter || self.frames.len() < 2 {
            return;
        }
        let mut reader = expression::Reader::new(rest, self.style, &mut self.env);
        if let Some(value) = reader.operand() {
            self.env.set(Key::Name(b"_VALUE".to_vec()), value);
            let one = Value::Known(Num::ONE);
            self.env.set(Key::Name(b"_VALUE_RETURNED".to_vec()), one);
        }
    }

    /// M98, M97 and calls by name. Whether there was one.
    pub(super) fn calls(&mut self, file: &Rc<File<'_>>, block: &Block) -> bool {
        for (code, _) in block.m_codes() {
            match code {
                980 => {
                    self.numbered_call(file, block);
                    return true;
                }
                970 => {
                    self.local_call(file, block);
                    return true;
                }
                _ => {}
            }
        }
        if self.style != Style::Parentheses {
            return false;
        }
        self.named_call(file, block)
    }

    /// `M98 P1000 L3`, `M98 P31000`.
    fn numbered_call(&mut self, file: &Rc<File<'_>>, block: &Block) {
        let whole = |letter| block.number_of(letter).and_then(|number| number.integer());
        let unknown = |letter: u8| block.has(letter) && whole(letter).is_none();
        let Some(program) = whole(b'P').filter(|_| !unknown(b'L')) else {
            self.not_found(file, block, true);
            return;
        };
        let found = self.find(file, Callee::Number(program));
        let (found, times) = match (found, whole(b'L')) {
            (Some(found), times) => (Some(found), times.unwrap_or(1)),
            // Up to four digits in front of the four of the program count the calls.
            (None, None) if program > 9_999 => (
                self.find(file, Callee::Number(program % 10_000)),
                program / 10_000,
            ),
            (None, _) => (None, 1),
        };
        match found {
            Some(found) if times >= 0 => self.go(file, block, found, times, None),
            _ => self.not_found(file, block, true),
        }
    }

    /// `M97 P100`: from block N100 of the same program to M99.
    fn local_call(&mut self, file: &Rc<File<'_>>, block: &Block) {
        let number = block.number_of(b'P').and_then(|p| p.integer());
        let text = number.map_or(String::new(), |number| number.to_string());
        let target = self.target(file, block.line, text.as_bytes(), Towards::Anywhere);
        let times = block.number_of(b'L').and_then(|l| l.integer()).unwrap_or(1);
        match target {
            Ok(Some(line)) if !block.has(b'L') || block.number_of(b'L').is_some() => {
                let found = Found {
                    file: self.frame().file,
                    line,
                    headed: false,
                };
                self.go(file, block, found, times, None);
            }
            _ => self.not_found(file, block, true),
        }
    }

    /// `L100 P3`, `SCREW_HEAD`: programs beside the file.
    fn named_call(&mut self, file: &Rc<File<'_>>, block: &Block) -> bool {
        let name = match (block.words.as_slice(), block.names.as_slice()) {
            ([], [name]) if block.assignments.is_empty() && name.arguments.is_none() => {
                String::from_utf8_lossy(name.span.of(&file.bytes)).into_owned()
            }
            ([word, rest @ ..], [])
                if word.letter == b'L'
                    && rest.iter().all(|word| word.letter == b'P')
                    && matches!(word.value, WordValue::Number(_)) =>
            {
                let digits = word.value_span.of(&file.bytes);
                format!("L{}", String::from_utf8_lossy(digits))
            }
            _ => return false,
        };
        let times = match (block.has(b'P'), block.number_of(b'P')) {
            (false, _) => 1,
            (true, Some(number)) => number.integer().unwrap_or(1),
            (true, None) => 1,
        };
        let Some(found) = self.find(file, Callee::Name(&name)) else {
            return false;
        };
        self.go(file, block, found, times, Some(Own::plain()));
        true
    }

    /// `o100 call [1] [2]`.
    pub(super) fn o_call(
        &mut self,
        file: &Rc<File<'_>>,
        block: &Block,
        line: &Line,
        label: Option<&[u8]>,
    ) {
        let mut arguments = Vec::new();
        let mut reader = expression::Reader::new(&line.rest, self.style, &mut self.env);
        for number in 1..=30 {
            if !reader.rest().starts_with(b"[") {
                break;
            }
            let value = reader
                .operand()
                .unwrap_or(Value::Unknown(expression::Why::NotRead));
            arguments.push((Key::Hash(number), value));
        }
        let Some(label) = label else {
            self.not_found(file, block, false);
            return;
        };
        let text = String::from_utf8_lossy(label).into_owned();
        let callee = match text.strip_prefix('<') {
            Some(name) => Callee::Name(name),
            None => match text.parse() {
                Ok(number) => Callee::Number(number),
                Err(_) => Callee::Name(&text),
            },
        };
        let here = file.outline.subs.get(label).map(|&line| Found {
            file: self.frame().file,
            line: line + 1,
            headed: false,
        });
        let found = here.or_else(|| {
            let beside = self.find_beside(callee)?;
            let inside = self.files[beside].outline.subs.get(label).copied();
            Some(Found {
                file: beside,
                line: inside.map_or(1, |line| line + 1),
                headed: false,
            })
        });
        match found {
            Some(found) if block.skip.is_none() => {
                self.go(file, block, found, 1, Some(Own::o_word(arguments)));
            }
            _ => self.not_found(file, block, false),
        }
    }

    /// G65, G66, G67: calls with arguments.
    pub(super) fn macro_block(&mut self, file: &Rc<File<'_>>, block: &Block) {
        let modal = block.g_codes().any(|(code, _)| matches!(code, 660 | 661));
        let whole = |letter| block.number_of(letter).and_then(|number| number.integer());
        let arguments = arguments(block);
        let Some(number) = whole(b'P') else {
            self.not_found(file, block, false);
            return;
        };
        if modal {
            self.modal = Some(Modal {
                number,
                arguments,
                depth: self.frames.len(),
            });
            return;
        }
        let times = if block.has(b'L') {
            whole(b'L')
        } else {
            Some(1)
        };
        match (self.find(file, Callee::Number(number)), times) {
            (Some(found), Some(times)) if times >= 0 => {
                self.go(file, block, found, times, Some(Own::of_macro(arguments)));
            }
            _ => self.not_found(file, block, false),
        }
    }

    /// Behind a motion: the macro that G66 ordered.
    pub(super) fn modal_macro(&mut self, file: &Rc<File<'_>>, block: &Block) {
        if self.modal.is_none() {
            return;
        }
        if block.has_g(670) {
            self.modal = None;
            return;
        }
        let depth = self.frames.len();
        let moves = block.has_any(b"XYZUVW") && !block.has_g(40);
        let Some(modal) = self
            .modal
            .clone()
            .filter(|modal| moves && modal.depth == depth)
        else {
            return;
        };
        match self.find(file, Callee::Number(modal.number)) {
            Some(found) => {
                let variables = Some(Own::of_macro(modal.arguments));
                self.go(file, block, found, 1, variables);
            }
            None => self.not_found(file, block, false),
        }
    }

    /// A program in the same file, or beside it.
    fn find(&mut self, file: &Rc<File<'_>>, callee: Callee<'_>) -> Option<Found> {
        let here = self.frame().file;
        if let Callee::Number(number) = callee {
            if let Some(line) = program_line(&file.outline, number) {
                return Some(Found {
                    file: here,
                    line,
                    headed: true,
                });
            }
            let of_sub = file.outline.subs.get(number.to_string().as_bytes());
            if let Some(&line) = of_sub {
                return Some(Found {
                    file: here,
                    line: line + 1,
                    headed: false,
                });
            }
            // A program of the file that is read, called from another.
            if here != 0
                && let Some(line) = program_line(&self.files[0].outline, number)
            {
                return Some(Found {
                    file: 0,
                    line,
                    headed: true,
                });
            }
        }
        let beside = self.find_beside(callee)?;
        let line = match callee {
            Callee::Number(number) => program_line(&self.files[beside].outline, number),
            Callee::Name(_) => None,
        };
        Some(Found {
            file: beside,
            line: line.unwrap_or(1),
            headed: line.is_some(),
        })
    }

    fn find_beside(&mut self, callee: Callee<'_>) -> Option<usize> {
        /// Files that are looked for in one run.
        const FILES: usize = 64;
        let asked = match callee {
            Callee::Number(number) => number.to_string(),
            Callee::Name(name) => format!("<{name}"),
        };
        if let Some(&known) = self.beside.get(&asked) {
            return known;
        }
        if self.beside.len() >= FILES {
            return None;
        }
        let found = self.library.find(callee).map(|(name, bytes)| {
            let file = File::new(Cow::Owned(bytes.to_vec()), self.style, name);
            self.files.push(Rc::new(file));
            self.files.len() - 1
        });
        self.beside.insert(asked, found);
        found
    }

    /// Enters a program.
    fn go(
        &mut self,
        file: &Rc<File<'_>>,
        block: &Block,
        found: Found,
        times: i64,
        variables: Option<Own>,
    ) {
        if times == 0 {
            return;
        }
        if block.skip.is_some() || self.exhausted() {
            self.not_found(file, block, variables.is_none());
            return;
        }
        if self.frames.len() > DEEPEST {
            self.say(file, block.span, block.line, TOO_DEEP);
            self.unknown_program(file, block, variables.is_none());
            return;
        }
        let from = match found.file {
            0 => None,
            _ => Some(self.place(file, block.span, block.line)),
        };
        if from.is_some()
            && let Some((_, line)) = from
        {
            // A block that stands for a whole program has no word to change.
            self.visits[line as usize] = 2;
        }
        let own = variables.is_some();
        if let Some(own) = variables {
            self.env.enter(own.arguments, own.empty, own.inherit);
        }
        self.frames.push(Frame {
            file: found.file,
            next: found.line,
            entry: found.line,
            again: times,
            own,
            from,
            times: Default::default(),
            rounds: Default::default(),
        });
        self.entering = found.headed;
    }

    fn not_found(&mut self, file: &File<'_>, block: &Block, shares: bool) {
        self.say(file, block.span, block.line, NOT_FOUND);
        self.unknown_program(file, block, shares);
    }

    /// A program is called that is not known: anything may be set behind it.
    fn unknown_program(&mut self, file: &File<'_>, block: &Block, shares: bool) {
        if shares {
            self.env.forget_all();
        } else {
            self.env.forget_common();
        }
        let place = self.place(file, block.span, block.line);
        self.reader.unknown_call(place);
    }
}

fn program_line(outline: &Outline, number: i64) -> Option<u32> {
    outline.by_number.get(&number).copied()
}

/// The variables of a macro by the letters of its call (from memory): A 1, B 2, C 3, I 4, J 5, K 6,
/// D 7, E 8, F 9, H 11, M 13, Q 17 to Z 26; and where I, J and K come again, on from 7 by threes.
fn arguments(block: &Block) -> Vec<(Key, Value)> {
    let mut all = Vec::new();
    // Which I, J, K is next: three times the round, plus the place in it.
    let mut next = 0i64;
    for word in &block.words {
        let number = match word.letter {
            b'A' => 1,
            b'B' => 2,
            b'C' => 3,
            b'D' => 7,
            b'E' => 8,
            b'F' => 9,
            b'H' => 11,
            b'M' => 13,
            b'Q'..=b'Z' => i64::from(word.letter - b'Q') + 17,
            b'I' | b'J' | b'K' => {
                let place = i64::from(word.letter - b'I');
                let round = next / 3 + i64::from(next % 3 > place);
                next = round * 3 + place + 1;
                4 + round * 3 + place
            }
            _ => continue,
        };
        if number > 33 {
            continue;
        }
        let value = match word.value {
            WordValue::Number(number) => {
                Num::literal(number).map_or(Value::Unknown(expression::Why::TooLarge), Value::Known)
            }
            _ => Value::Unknown(expression::Why::NotRead),
        };
        all.push((Key::Hash(number), value));
    }
    all
}
