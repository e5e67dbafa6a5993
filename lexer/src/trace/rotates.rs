//! Hands blocks to the follower of rotating tools and takes its sections.

use super::{Walker, not_run};
use crate::block::Block;
use crate::rotating::{Event, View};
use crate::section::Kind;

impl Walker<'_> {
    /// Shows a block to the follower of rotating tools.
    pub(super) fn rotates(&mut self, block: &Block) {
        let view = View {
            machine: &self.machine,
            block,
            bytes: self.bytes,
            notes: &self.program.notes,
            notes_from: self.notes_from,
            in_loop: self.loops.inside(),
        };
        let events = self.rotating.see(&view);
        if !events.is_empty() {
            self.take(events);
        }
    }

    /// Ends what rotating tools still do.
    pub(super) fn rotating_ends(&mut self) {
        let notes = &self.program.notes;
        let events = self.rotating.close(self.bytes, notes, self.notes_from);
        if !events.is_empty() {
            self.take(events);
        }
    }

    fn take(&mut self, events: Vec<Event>) {
        for event in events {
            match event {
                Event::Section(section, from) => {
                    let mut section = *section;
                    let own = std::mem::replace(&mut self.notes_from, from);
                    section.notes = self.notes(section.last_line);
                    self.notes_from = own;
                    if self.loops.inside() {
                        not_run(&mut section.unknown, "the block stands in a loop");
                        section.passes_certain = false;
                    }
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
}
