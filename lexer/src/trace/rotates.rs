//! Hands blocks to the follower of rotating tools and takes its sections.

use super::Walker;
use crate::block::Block;
use crate::rotating::{Event, View};
use crate::section::{Kind, Section};

impl Walker<'_> {
    /// Shows a block of `bytes` to the follower of rotating tools.
    pub(super) fn rotates(&mut self, block: &Block, bytes: &[u8]) {
        let view = View {
            machine: &self.machine,
            block,
            bytes,
            notes: &self.program.notes,
            notes_from: self.notes_from,
            in_loop: self.orders.doubtful,
        };
        let events = self.rotating.see(&view);
        if let Some(from) = self.rotating.take_look(self.notes_from) {
            self.looks.push((block.line, from));
        }
        if !events.is_empty() {
            self.take(events);
        }
    }

    /// Ends what rotating tools still do.
    pub(super) fn rotating_ends(&mut self) {
        let notes = &self.program.notes;
        let events = self.rotating.close(self.bytes, notes, self.notes_from);
        if let Some(from) = self.rotating.take_look(self.notes_from) {
            self.looks.push((self.code_line, from));
        }
        if !events.is_empty() {
            self.take(events);
        }
    }

    fn take(&mut self, events: Vec<Event>) {
        for event in events {
            match event {
                Event::Section(section, from) => {
                    let mut section = *section;
                    self.in_order(&mut section);
                    let own = std::mem::replace(&mut self.notes_from, from);
                    section.notes = self.looked(section.last_line);
                    self.notes_from = own;
                    section.unknown.extend(self.orders.unknown.iter().cloned());
                    section.passes_certain &= !self.orders.doubtful;
                    self.assumptions(&mut section.unknown);
                    self.listed += section.passes.len();
                    self.program.sections.push(section);
                }
                Event::Stray(stray) => {
                    let last = self.program.sections.iter_mut().rev();
                    let mut tapped = last.filter(|section| section.kind == Kind::Tapped);
                    if let Some(tapping) = tapped.next().and_then(|s| s.tapping.as_mut()) {
                        tapping.left_active.push(stray);
                    }
                }
                Event::Unread(mark) => self.program.unread.push(mark),
            }
        }
    }

    /// Puts the places of a section in order: in a program that is run they may lead back.
    fn in_order(&self, section: &mut Section) {
        section.blocks.sort_by_key(|block| block.span.start);
        section.blocks.dedup_by_key(|block| block.span);
        if let (Some(first), Some(last)) = (section.blocks.first(), section.blocks.last()) {
            section.span = first.span.to(last.span);
            (section.first_line, section.last_line) = (first.line, last.line);
        }
    }
}
