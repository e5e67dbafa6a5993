//! Jumps, branches and loops.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::rc::Rc;

use super::outline::Group;
use super::statement::{Line, Part, Statement, Towards, statement};
use super::{File, NO_END, NO_TARGET, NOT_READ, Reader, Run};
use crate::block::{Block, Blocks};
use crate::expression::{self, Seen, Style, Value};

const BRANCH: &str = "the block stands in a branch or behind a jump whose condition is not known: \
                      it may not be cut";
pub(super) const LOOP: &str = "the block stands in a loop whose end is not known: it may be cut more than \
                    once or not at all";
pub(super) const BACK: &str = "a jump stands behind the block whose condition is not known: it may be cut \
                    more than once";
pub(super) const CUT_OFF: &str = "the block stands in a loop that is not run to its end";

/// Lines that are looked through in one file for what loops set in them.
const SEARCH: u32 = 40_000;

/// What a condition came to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Decision {
    /// None where it is not known.
    pub(super) holds: Option<bool>,
    pub(super) seen: Seen,
}

impl<R: Reader> Run<'_, '_, R> {
    pub(super) fn statement(&mut self, file: &Rc<File<'_>>, block: &Block, line: &Line) {
        match &line.statement {
            Statement::None => {}
            Statement::Assign => self.assign(file, block, line),
            Statement::Define => self.define(&line.rest),
            Statement::Condition => self.condition(file, block, line),
            Statement::Jump(towards) => match block.skip {
                None => self.jump(file, block, line, &line.rest, *towards, None),
                Some(_) => {
                    let unknown = Decision {
                        holds: None,
                        seen: Seen::default(),
                    };
                    self.jump(file, block, line, &line.rest, *towards, Some(unknown));
                }
            },
            Statement::Structure(part, _) => self.structure(file, block, line, *part),
            Statement::Break(label) | Statement::Continue(label) => {
                self.charge(file.outline.groups.len() as u32 / 64);
                let group = file.outline.around(block.line, label);
                let to = match (group, &line.statement) {
                    (Some(group), Statement::Break(_)) => group.last() + 1,
                    (Some(group), _) => group.last(),
                    (None, _) => {
                        self.say(file, line.span, block.line, NO_END);
                        return;
                    }
                };
                if self.doubtful() {
                    self.doubt(to, BRANCH);
                    return;
                }
                self.frame().next = to;
            }
            Statement::Return => {
                self.returned(&line.rest);
                self.leave();
            }
            Statement::Call(label) => self.o_call(file, block, line, label.as_deref()),
        }
    }

    /// Works out a condition at the start of a text, and what stands behind it.
    pub(super) fn decide(&mut self, text: &[u8]) -> Option<(Decision, usize)> {
        let mut reader = expression::Reader::new(text, self.style, &mut self.env);
        let value = reader.expression()?;
        let (at, seen) = (reader.at, reader.seen);
        let holds = value.known().map(|num| !num.is_zero());
        if holds.is_some() && seen.reads > 0 {
            self.decided += 1;
        }
        Some((Decision { holds, seen }, at))
    }

    /// `IF [..] GOTO 10`, `IF [..] THEN #1=2`.
    fn condition(&mut self, file: &Rc<File<'_>>, block: &Block, line: &Line) {
        let Some((mut decision, at)) = self.decide(&line.rest) else {
            self.say(file, line.span, block.line, NOT_READ);
            self.env.forget_all();
            return;
        };
        if block.skip.is_some() {
            decision.holds = decision.holds.filter(|holds| !holds);
        }
        let mut rest = &line.rest[at..];
        let blank = |rest: &[u8]| rest.iter().take_while(|byte| **byte == b' ').count();
        rest = &rest[blank(rest)..];
        let then = rest.len() >= 4 && rest[..4].eq_ignore_ascii_case(b"THEN");
        if then {
            rest = &rest[4..];
        }
        let (inner, begin) = statement(rest, self.style);
        match inner {
            Statement::Jump(towards) => {
                self.jump(file, block, line, &rest[begin..], towards, Some(decision));
            }
            _ if decision.holds == Some(false) => {}
            _ => {
                let inside = Line {
                    statement: Statement::Assign,
                    rest: rest.to_vec(),
                    span: crate::source::Span::new(
                        line.span.end.saturating_sub(rest.len() as u32),
                        line.span.end,
                    ),
                };
                match decision.holds {
                    Some(_) => self.assign(file, block, &inside),
                    None => self.assign_unknown(file, block, &inside),
                }
            }
        }
    }

    /// Goes to the block that a text names. Without a decision there is no condition.
    fn jump(
        &mut self,
        file: &Rc<File<'_>>,
        block: &Block,
        line: &Line,
        to: &[u8],
        towards: Towards,
        decision: Option<Decision>,
    ) {
        if decision.is_some_and(|decision| decision.holds == Some(false)) {
            self.frame().rounds.remove(&block.line);
            return;
        }
        let target = match self.target(file, block.line, to, towards) {
            Ok(Some(target)) => target,
            Ok(None) => {
                self.say(file, line.span, block.line, NO_TARGET);
                return;
            }
            Err(()) => {
                // Somewhere: everything up to the end of the program may be left out.
                self.env.forget_all();
                self.doubt(file.outline.program_around(block.line).1 + 1, BRANCH);
                return;
            }
        };
        let known = decision.is_none_or(|decision| decision.holds == Some(true));
        if !known || self.doubtful() {
            if target > block.line {
                self.doubt(target, BRANCH);
            } else {
                self.again_unknown(file, target, block.line, BACK);
            }
            return;
        }
        if target <= block.line {
            let seen = decision.map(|decision| decision.seen);
            if !self.round(file, (line.span, block.line), target, block.line, seen) {
                return;
            }
        }
        self.frame().next = target;
    }

    /// The line of a jump's target: none where there is no such block, an error where it is not
    /// known which.
    pub(super) fn target(
        &mut self,
        file: &File<'_>,
        from: u32,
        to: &[u8],
        towards: Towards,
    ) -> Result<Option<u32>, ()> {
        let mut reader = expression::Reader::new(to, self.style, &mut self.env);
        let lines = if self.style == Style::Parentheses
            && let Some(name) = reader.name()
        {
            let label = expression::name(name);
            let number = label
                .strip_prefix(b"N")
                .and_then(|digits| std::str::from_utf8(digits).ok()?.parse().ok());
            match (file.outline.labels.get(&label), number) {
                (Some(lines), _) => lines,
                (None, Some(number)) => match file.outline.numbers.get(&number) {
                    Some(lines) => lines,
                    None => return Ok(None),
                },
                _ => return Ok(None),
            }
        } else {
            let number = reader.operand().and_then(Value::known).ok_or(())?;
            let number = number.integer().ok_or(())?;
            match file.outline.numbers.get(&number) {
                Some(lines) => lines,
                None => return Ok(None),
            }
        };
        let (first, last) = file.outline.program_around(from);
        let start = lines.partition_point(|&line| line < first);
        let end = lines.partition_point(|&line| line <= last);
        let inside = &lines[start..end.max(start)];
        let behind = inside.partition_point(|&line| line <= from);
        let forward = inside.get(behind).copied();
        Ok(match towards {
            Towards::Forward => forward,
            Towards::Backward => behind.checked_sub(1).map(|at| inside[at]),
            Towards::Anywhere => forward.or_else(|| inside.first().copied()),
        })
    }

    /// A stretch may be executed again, in a number that is not known.
    pub(super) fn again_unknown(
        &mut self,
        file: &File<'_>,
        first: u32,
        last: u32,
        why: &'static str,
    ) {
        self.forget_set(file, first, last);
        if std::ptr::eq(file, &*self.files[0]) {
            self.reader.uncertain(first, why);
        }
        self.reader.lost();
    }

    /// Makes unknown what a stretch sets.
    pub(super) fn forget_set(&mut self, file: &File<'_>, first: u32, last: u32) {
        let lines = last.saturating_sub(first) + 1;
        self.searched = self.searched.saturating_add(lines);
        if self.searched > SEARCH {
            self.env.forget_all();
            return;
        }
        let mut blocks = Blocks::at(&file.bytes, file.lines.span(first).start, first);
        let mut block = Block::default();
        while blocks.read(&mut block) && block.line <= last {
            let calls = block.has_any(b"MG")
                && (block.m_codes().any(|(code, _)| matches!(code, 970 | 980))
                    || block.g_codes().any(|(code, _)| matches!(code, 650..=669)));
            if calls {
                self.env.forget_all();
                return;
            }
            if block.statement.is_none() && block.assignments.is_empty() {
                continue;
            }
            for span in block.assignments.clone() {
                self.forget_assigned(span.of(&file.bytes));
            }
            let line = super::statement::read(&block, &file.bytes, self.style);
            match line.statement {
                Statement::Assign | Statement::Structure(Part::For, _) | Statement::Define => {
                    self.forget_assigned(&line.rest);
                }
                Statement::Condition => {
                    // `IF [..] THEN #1=2`: only THEN can set something.
                    let then = line
                        .rest
                        .windows(4)
                        .position(|word| word.eq_ignore_ascii_case(b"THEN"));
                    if let Some(at) = then {
                        self.forget_assigned(&line.rest[at + 4..]);
                    }
                }
                Statement::Call(_) => {
                    self.env.forget_all();
                    return;
                }
                _ => {}
            }
        }
    }

    fn structure(&mut self, file: &Rc<File<'_>>, block: &Block, line: &Line, part: Part) {
        let here = block.line;
        let Some((index, group)) = file.outline.group(here) else {
            self.say(file, line.span, here, NO_END);
            return;
        };
        let id = (self.frame().file, index);
        let deciding = std::mem::take(&mut self.deciding);
        match part {
            // `o1 while` at the end of `o1 do`.
            Part::While if group.head == Part::Do => self.tail(file, line, group, id, true),
            Part::Until => self.tail(file, line, group, id, false),
            Part::While => self.while_head(file, block, line, group, id),
            Part::Endless | Part::Do => {}
            Part::Times => self.times_head(file, line, group, id),
            Part::For => self.for_head(file, line, group, id),
            Part::End => self.loop_end(file, line, group, id),
            Part::If => self.branch(file, line, group, id, here),
            Part::ElseIf | Part::Else if self.undecided.contains(&id) => self.reader.lost(),
            Part::ElseIf if deciding => self.branch(file, line, group, id, here),
            Part::Else if deciding => {}
            Part::ElseIf | Part::Else => self.frame().next = group.last(),
            Part::EndIf => {
                self.undecided.remove(&id);
            }
            Part::Sub => self.frame().next = group.last() + 1,
            Part::EndSub => {
                self.returned(&line.rest);
                self.leave();
            }
        }
    }

    fn branch(
        &mut self,
        file: &Rc<File<'_>>,
        line: &Line,
        group: &Group,
        id: (usize, usize),
        here: u32,
    ) {
        let holds = match self.decide(&line.rest) {
            Some((decision, _)) => decision.holds,
            None => {
                self.say(file, line.span, here, NOT_READ);
                None
            }
        };
        match holds {
            Some(true) => {}
            Some(false) => {
                let next = group.lines.iter().find(|&&next| next > here);
                self.frame().next = next.copied().unwrap_or(here + 1);
                self.deciding = true;
            }
            None => {
                self.undecided.insert(id);
                self.doubt(group.last() + 1, BRANCH);
            }
        }
    }

    /// The same number for the same values at the same place.
    pub(super) fn state(&self) -> u64 {
        let mut hasher = DefaultHasher::new();
        for frame in &self.frames {
            (frame.file, frame.entry, frame.again).hash(&mut hasher);
            let mut times: Vec<_> = frame.times.iter().collect();
            times.sort_unstable();
            times.hash(&mut hasher);
        }
        for frame in self.frames.iter().rev().skip(1) {
            frame.next.hash(&mut hasher);
        }
        self.env.state().hash(&mut hasher);
        hasher.finish()
    }
}
