//! Heads and ends of loops, and whether another round is run.

use std::rc::Rc;

use super::flow::{BACK, CUT_OFF, LOOP};
use super::outline::Group;
use super::rounds::Never;
use super::statement::{Line, Part};
use super::{File, NOT_READ, Reader, Run};
use crate::block::{Block, Blocks};
use crate::expression::{self, Key, Num, Seen, Value};
use crate::program::{Endless, NeverEnds};

impl<R: Reader> Run<'_, '_, R> {
    pub(super) fn while_head(
        &mut self,
        file: &Rc<File<'_>>,
        block: &Block,
        line: &Line,
        group: &Group,
        id: (usize, usize),
    ) {
        let here = block.line;
        let Some((decision, _)) = self.decide(&line.rest) else {
            self.say(file, line.span, here, NOT_READ);
            self.unknown_loop(file, group, id);
            return;
        };
        match decision.holds.filter(|_| block.skip.is_none()) {
            None => self.unknown_loop(file, group, id),
            Some(false) => self.out(group),
            Some(true) => {
                let place = (line.span, here);
                if !self.round(
                    file,
                    place,
                    group.first(),
                    group.last(),
                    Some(decision.seen),
                ) {
                    self.out(group);
                }
            }
        }
    }

    /// Leaves a loop.
    fn out(&mut self, group: &Group) {
        let frame = self.frame();
        for line in &group.lines {
            frame.rounds.remove(line);
            frame.times.remove(line);
        }
        frame.next = group.last() + 1;
    }

    /// A loop that is read once because it is not known how often it runs.
    fn unknown_loop(&mut self, file: &File<'_>, group: &Group, id: (usize, usize)) {
        self.forget_set(file, group.first(), group.last());
        self.reader.lost();
        self.undecided.insert(id);
        self.doubt(group.last() + 1, LOOP);
    }

    /// The end of a loop whose condition stands there.
    pub(super) fn tail(
        &mut self,
        file: &Rc<File<'_>>,
        line: &Line,
        group: &Group,
        id: (usize, usize),
        wanted: bool,
    ) {
        let here = group.last();
        let Some((decision, _)) = self.decide(&line.rest) else {
            self.say(file, line.span, here, NOT_READ);
            self.again_unknown(file, group.first(), here, BACK);
            return;
        };
        self.undecided.remove(&id);
        match decision.holds.map(|holds| holds == wanted) {
            None => self.again_unknown(file, group.first(), here, BACK),
            Some(false) => self.out(group),
            Some(true) => {
                // UNTIL goes on while its condition is false: what leads away is the other way
                // round, and only a repeated state tells.
                let seen = if wanted {
                    decision.seen
                } else {
                    Seen {
                        gap: None,
                        ..decision.seen
                    }
                };
                if self.round(file, (line.span, here), group.first(), here, Some(seen)) {
                    self.frame().next = group.first() + 1;
                } else {
                    self.out(group);
                }
            }
        }
    }

    pub(super) fn times_head(
        &mut self,
        file: &Rc<File<'_>>,
        line: &Line,
        group: &Group,
        id: (usize, usize),
    ) {
        let times = self
            .decide(&line.rest)
            .and_then(|_| {
                let mut reader = expression::Reader::new(&line.rest, self.style, &mut self.env);
                reader.expression()?.known()
            })
            .and_then(|num| num.round()?.integer());
        match times {
            None => self.unknown_loop(file, group, id),
            Some(times) if times <= 0 => self.out(group),
            Some(times) => {
                self.frame().times.insert(group.first(), times);
            }
        }
    }

    /// `R1=1 TO 5`: the variable and the texts of start and end.
    fn for_parts(&mut self, rest: &[u8]) -> Option<(Key, Value, Value)> {
        let mut reader = expression::Reader::new(rest, self.style, &mut self.env);
        let name = reader.name()?;
        let key = match reader.r_parameter(name) {
            Some(key) => key.ok()?,
            None => Key::Name(expression::name(name)),
        };
        if !reader.eat(b'=') {
            return None;
        }
        let from = reader.expression()?;
        if !reader.word(b"TO") {
            return None;
        }
        Some((key, from, reader.expression()?))
    }

    pub(super) fn for_head(
        &mut self,
        file: &Rc<File<'_>>,
        line: &Line,
        group: &Group,
        id: (usize, usize),
    ) {
        let Some((key, from, to)) = self.for_parts(&line.rest) else {
            self.say(file, line.span, group.first(), NOT_READ);
            self.unknown_loop(file, group, id);
            return;
        };
        self.env.set(key, from);
        self.for_goes_on(file, group, id, from, to);
    }

    fn for_goes_on(
        &mut self,
        file: &File<'_>,
        group: &Group,
        id: (usize, usize),
        now: Value,
        to: Value,
    ) {
        match to.minus(now) {
            Value::Known(left) if left.signum() < 0 => self.out(group),
            Value::Known(_) => self.frame().next = group.first() + 1,
            _ => self.unknown_loop(file, group, id),
        }
    }

    pub(super) fn loop_end(
        &mut self,
        file: &Rc<File<'_>>,
        line: &Line,
        group: &Group,
        id: (usize, usize),
    ) {
        let (first, last) = (group.first(), group.last());
        if self.undecided.remove(&id) {
            self.forget_set(file, first, last);
            return;
        }
        match group.head {
            Part::While => self.frame().next = first,
            Part::Times => {
                let left = self.frame().times.get(&first).copied().unwrap_or(1) - 1;
                self.frame().times.insert(first, left);
                if left <= 0 || !self.round(file, (line.span, last), first, last, None) {
                    self.out(group);
                } else {
                    self.frame().next = first + 1;
                }
            }
            Part::For => {
                let mut block = Block::default();
                Blocks::at(&file.bytes, file.lines.span(first).start, first).read(&mut block);
                self.charge((block.span.end - block.span.start) / 16);
                let head = super::statement::read(&block, &file.bytes, self.style);
                let Some((key, _, to)) = self.for_parts(&head.rest) else {
                    self.out(group);
                    return;
                };
                let now = expression::Scope::get(&mut self.env, &key).plus(Value::Known(Num::ONE));
                self.env.set(key, now);
                if self.round(file, (line.span, last), first, last, None) {
                    self.for_goes_on(file, group, id, now, to);
                } else {
                    self.out(group);
                }
            }
            // Without a condition: another round, until a jump leads out.
            _ => {
                if self.round(file, (line.span, last), first, last, None) {
                    self.frame().next = first + 1;
                } else {
                    self.out(group);
                }
            }
        }
    }

    /// Whether a loop is run another round. It is not where it never ends, and where the file has
    /// run through too many blocks.
    pub(super) fn round(
        &mut self,
        file: &Rc<File<'_>>,
        place: (crate::source::Span, u32),
        first: u32,
        last: u32,
        seen: Option<Seen>,
    ) -> bool {
        if self.exhausted() {
            self.again_unknown(file, first, last, CUT_OFF);
            return false;
        }
        let state = self.state();
        let decided = self.decided;
        let rounds = self.frame().rounds.entry(place.1).or_default();
        let Some(never) = rounds.next(state, decided, seen) else {
            return true;
        };
        self.frame().rounds.remove(&place.1);
        // A loop without a condition on variables is meant to go on until someone stops it.
        let meant = match (never, seen) {
            (Never::Repeats { .. }, Some(seen)) => seen.reads == 0,
            (Never::Repeats { decided }, None) => !decided,
            (Never::GoesAway, _) => false,
        };
        if !meant && self.doubts.is_empty() {
            let (span, line) = self.place(file, place.0, place.1);
            self.reader.endless(Endless {
                span,
                line,
                why: match never {
                    Never::Repeats { .. } => NeverEnds::NothingChanges,
                    Never::GoesAway => NeverEnds::GoesAway,
                },
            });
        }
        self.again_unknown(file, first, last, CUT_OFF);
        false
    }
}
