//! Which comments speak of a thread.

use super::*;

impl Walker<'_> {
    pub(super) fn comments_before(&self, line: u32) -> usize {
        self.program.notes.partition_point(|note| note.line < line)
    }

    /// Comments from the last tool change to the line. In a subprogram its own ones, and those of
    /// the caller as long as no other thread was cut behind them.
    pub(super) fn notes(&self, last_line: u32) -> Vec<Note> {
        self.notes_behind(last_line, self.program.sections.len())
    }

    /// The same, and remembers how far back it looked.
    pub(super) fn looked(&mut self, last_line: u32) -> Vec<Note> {
        self.looks.push((last_line, self.notes_from));
        self.notes(last_line)
    }

    /// The same where that many sections of the file come before.
    pub(super) fn notes_behind(&self, last_line: u32, sections: usize) -> Vec<Note> {
        let all = &self.program.notes;
        let end = all.partition_point(|note| note.line <= last_line);
        let near = |from: usize, end: usize| from.min(end).max(end.saturating_sub(NOTES))..end;
        let head = self.orders.head(last_line);
        let caller = self.orders.head(self.orders.notes_line);
        if caller == head {
            return all[near(self.notes_from, end)].to_vec();
        }
        let own = near(self.comments_before(head), end);
        let mut notes = all[own].to_vec();
        if sections == self.orders.before_tool {
            let part = &self.orders.heads;
            let behind = part.partition_point(|&next| next <= caller);
            let stop = part.get(behind).map_or(all.len(), |&next| {
                all.partition_point(|note| note.line < next)
            });
            notes.extend_from_slice(&all[near(self.notes_from, stop)]);
            notes.sort_by_key(|note| note.line);
        }
        let surplus = notes.len().saturating_sub(NOTES);
        notes.drain(..surplus);
        notes
    }
}
