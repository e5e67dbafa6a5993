//! What is set, and what stands behind it on the line.

use std::rc::Rc;

use super::call::End;
use super::statement::Line;
use super::{File, NOT_READ, Reader, Run};
use crate::block::{Block, Blocks};
use crate::expression::{self, Key, Num, Style, Value};

impl<R: Reader> Run<'_, '_, R> {
    /// Sets what a block assigns to R parameters and names.
    pub(super) fn assign_all(&mut self, file: &File<'_>, block: &Block) {
        for span in &block.assignments {
            let text = span.of(&file.bytes);
            if let Some((sets, _)) = self.sets(text) {
                self.set_all(sets, block.skip.is_some());
            }
        }
    }

    fn set_all(&mut self, sets: Vec<(Key, Value)>, unsure: bool) {
        for (key, value) in sets {
            if unsure {
                self.env.forget(&key);
            } else {
                self.env.set(key, value);
            }
        }
    }

    /// Variables and values of a text like `#1=5 #2=#1*2`, and where it goes on. The interpreter
    /// works out all of a line before it sets anything; elsewhere each counts for the next.
    fn sets(&mut self, text: &[u8]) -> Option<(Vec<(Key, Value)>, usize)> {
        let mut at = 0;
        let mut all = Vec::new();
        loop {
            let mut reader = expression::Reader::new(&text[at..], self.style, &mut self.env);
            let key = match reader.hash() {
                Some(key) => key,
                None => {
                    if self.style != Style::Parentheses {
                        break;
                    }
                    let Some(name) = reader.name() else { break };
                    match reader.r_parameter(name) {
                        Some(key) => key,
                        None => Ok(Key::Name(expression::name(name))),
                    }
                }
            };
            if !reader.eat(b'=') {
                break;
            }
            let value = reader
                .expression()
                .unwrap_or(Value::Unknown(expression::Why::NotRead));
            at += reader.at;
            let Ok(key) = key else {
                // Any of them.
                self.env.forget_all();
                return Some((all, text.len()));
            };
            if self.style != Style::Interpreter {
                self.env.set(key.clone(), value);
            }
            all.push((key, value));
            if all.len() > 64 {
                break;
            }
        }
        (!all.is_empty()).then_some((all, at))
    }

    /// `#1=..`, several of them, and words behind them.
    pub(super) fn assign(&mut self, file: &Rc<File<'_>>, block: &Block, line: &Line) {
        let Some((sets, at)) = self.sets(&line.rest) else {
            self.words_behind(file, block, line, 0);
            return;
        };
        let alarm = sets.iter().any(|(key, _)| *key == Key::Hash(3000));
        if self.style == Style::Interpreter {
            self.words_behind(file, block, line, at);
            self.set_all(sets, block.skip.is_some());
            return;
        }
        self.set_all(sets, block.skip.is_some());
        if alarm && self.style == Style::Brackets {
            // An alarm of the program's own: the control stops (from memory).
            self.end(file, block, End::Stop);
            return;
        }
        self.words_behind(file, block, line, at);
    }

    /// Words behind an assignment or THEN are a block of their own.
    fn words_behind(&mut self, file: &Rc<File<'_>>, block: &Block, line: &Line, at: usize) {
        let rest = &line.rest[at..];
        let blanks = rest
            .iter()
            .take_while(|byte| byte.is_ascii_whitespace())
            .count();
        let rest = &rest[blanks..];
        let Some(first) = rest.first() else { return };
        let offset = line.span.end - rest.len() as u32;
        let mut words = Block::default();
        Blocks::at(&file.bytes, offset, block.line).read(&mut words);
        let plain = words.statement.is_none() && words.names.is_empty();
        if !first.is_ascii_alphabetic() || !plain || words.words.is_empty() {
            self.say(file, line.span, block.line, NOT_READ);
            return;
        }
        words.line = block.line;
        words.skip = block.skip;
        words.number = None;
        words.program = None;
        words.comments.clear();
        words.span.end = words.span.end.max(words.span.start);
        words.span.start = block.span.start.min(words.span.start);
        self.execute(file, words);
    }

    /// What a text would set is not known.
    pub(super) fn assign_unknown(&mut self, file: &Rc<File<'_>>, block: &Block, line: &Line) {
        let assigns = line
            .rest
            .iter()
            .find(|byte| !byte.is_ascii_whitespace())
            .is_some_and(|&byte| byte == b'#')
            || self.style == Style::Parentheses && line.rest.contains(&b'=');
        if assigns {
            self.forget_assigned(&line.rest);
            return;
        }
        self.say(file, line.span, block.line, NOT_READ);
        self.reader.lost();
    }

    pub(super) fn forget_assigned(&mut self, text: &[u8]) {
        // Working out sets them; forgetting undoes that.
        match self.sets(text) {
            Some((sets, _)) => {
                for (key, _) in sets {
                    self.env.forget(&key);
                }
            }
            None => {
                if text.contains(&b'=') {
                    self.env.forget_all();
                }
            }
        }
    }

    /// `DEF REAL A=1, B`.
    pub(super) fn define(&mut self, rest: &[u8]) {
        let mut reader = expression::Reader::new(rest, self.style, &mut self.env);
        let Some(kind) = reader.name() else { return };
        if !matches!(
            expression::name(kind).as_slice(),
            b"REAL" | b"INT" | b"BOOL"
        ) {
            return;
        }
        let mut at = reader.at;
        for _ in 0..64 {
            let mut reader = expression::Reader::new(&rest[at..], self.style, &mut self.env);
            let Some(name) = reader.name() else { return };
            let key = Key::Name(expression::name(name));
            // Without a value it begins as zero (from memory).
            let value = if reader.eat(b'=') {
                reader
                    .expression()
                    .unwrap_or(Value::Unknown(expression::Why::NotRead))
            } else {
                Value::Known(Num::ZERO)
            };
            let more = reader.eat(b',');
            at += reader.at;
            self.env.set(key, value);
            if !more {
                return;
            }
        }
    }
}
