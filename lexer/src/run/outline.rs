//! Where the blocks of a file are that others jump to: block numbers, labels, programs,
//! subprograms, and which heads and ends belong together.

use std::collections::HashMap;

use super::statement::{self, Part, Statement};
use crate::block::{Block, Blocks};
use crate::expression::Style;

/// A program of the file: from its O word to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Program {
    pub(super) number: Option<i64>,
    pub(super) line: u32,
}

/// Lines that belong together: the head, what stands between, and the end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Group {
    pub(super) head: Part,
    pub(super) label: Vec<u8>,
    pub(super) lines: Vec<u32>,
}

impl Group {
    pub(super) fn first(&self) -> u32 {
        self.lines[0]
    }

    pub(super) fn last(&self) -> u32 {
        self.lines[self.lines.len() - 1]
    }

    pub(super) fn loops(&self) -> bool {
        !matches!(self.head, Part::If | Part::Sub)
    }
}

#[derive(Debug, Default)]
pub(super) struct Outline {
    /// Lines of each block number.
    pub(super) numbers: HashMap<i64, Vec<u32>>,
    pub(super) labels: HashMap<Vec<u8>, Vec<u32>>,
    pub(super) programs: Vec<Program>,
    /// Line of the first program with each number.
    pub(super) by_number: HashMap<i64, u32>,
    pub(super) groups: Vec<Group>,
    /// The group of a line that is its head, its end or between.
    pub(super) group_of: HashMap<u32, usize>,
    /// Line of the head of each o-word subprogram.
    pub(super) subs: HashMap<Vec<u8>, u32>,
    pub(super) lines: u32,
}

impl Outline {
    pub(super) fn of(bytes: &[u8], style: Style) -> Outline {
        let mut outline = Outline::default();
        let mut open: Vec<Group> = Vec::new();
        let mut blocks = Blocks::new(bytes);
        let mut block = Block::default();
        while blocks.read(&mut block) {
            outline.lines = block.line;
            if let Some(number) = block.number.and_then(|word| word.number()?.integer()) {
                outline.numbers.entry(number).or_default().push(block.line);
            }
            if let Some(word) = block.program {
                let number = word.number().and_then(|number| number.integer());
                if let Some(number) = number {
                    outline.by_number.entry(number).or_insert(block.line);
                }
                outline.programs.push(Program {
                    number,
                    line: block.line,
                });
                open.clear();
            }
            if block.statement.is_none() && block.names.is_empty() {
                continue;
            }
            if let Some(label) = statement::label(&block, bytes) {
                outline.labels.entry(label).or_default().push(block.line);
            }
            let line = statement::read(&block, bytes, style);
            if let Statement::Structure(part, label) = line.statement {
                outline.structure(&mut open, part, label, block.line);
            }
        }
        outline
    }

    fn structure(&mut self, open: &mut Vec<Group>, part: Part, label: Vec<u8>, line: u32) {
        /// Deeper than any control nests.
        const DEEPEST: usize = 64;
        let head = match part {
            // `o1 while` closes `o1 do` and opens a loop otherwise.
            Part::While
                if Self::innermost(open, &[Part::Do], &label).is_some() && !label.is_empty() =>
            {
                None
            }
            Part::While
            | Part::Endless
            | Part::Do
            | Part::Times
            | Part::For
            | Part::If
            | Part::Sub => Some(part),
            _ => None,
        };
        // `WHILE [..] DO1` is a head; `o1 do` behind nothing too.
        if let Some(head) = head {
            if open.len() < DEEPEST {
                open.push(Group {
                    head,
                    label,
                    lines: vec![line],
                });
            }
            return;
        }
        let heads: &[Part] = match part {
            Part::End => &[Part::While, Part::Endless, Part::Times, Part::For],
            Part::While | Part::Until => &[Part::Do],
            Part::ElseIf | Part::Else | Part::EndIf => &[Part::If],
            _ => &[Part::Sub],
        };
        let Some(at) = Self::innermost(open, heads, &label) else {
            return;
        };
        if matches!(part, Part::ElseIf | Part::Else) {
            open[at].lines.push(line);
            return;
        }
        // What was opened inside and not closed belongs to nothing.
        open.truncate(at + 1);
        if let Some(mut group) = open.pop() {
            group.lines.push(line);
            if group.head == Part::Sub {
                self.subs.insert(group.label.clone(), group.first());
            }
            for &line in &group.lines {
                self.group_of.insert(line, self.groups.len());
            }
            self.groups.push(group);
        }
    }

    fn innermost(open: &[Group], heads: &[Part], label: &[u8]) -> Option<usize> {
        open.iter()
            .rposition(|group| heads.contains(&group.head) && group.label == label)
    }

    pub(super) fn group(&self, line: u32) -> Option<(usize, &Group)> {
        let index = *self.group_of.get(&line)?;
        Some((index, &self.groups[index]))
    }

    /// The innermost loop around a line, with a label where one is given.
    pub(super) fn around(&self, line: u32, label: &[u8]) -> Option<&Group> {
        self.groups
            .iter()
            .filter(|group| group.loops() && group.first() < line && line < group.last())
            .filter(|group| label.is_empty() || group.label == label)
            .max_by_key(|group| group.first())
    }

    /// First and last line of the program that a line belongs to.
    pub(super) fn program_around(&self, line: u32) -> (u32, u32) {
        let behind = self
            .programs
            .partition_point(|program| program.line <= line);
        let first = behind.checked_sub(1).map_or(1, |at| self.programs[at].line);
        let last = self
            .programs
            .get(behind)
            .map_or(self.lines, |next| next.line - 1);
        (first, last)
    }
}
