//! How the places that the follower holds follow a replacement in the text.

use super::{Exchanged, Rotating};
use crate::moved::{Moved, Places, places};

places!(Exchanged { in tool; other notes_from; });

impl Places for Rotating {
    fn follow(&mut self, moved: &mut Moved) {
        let Rotating {
            space,
            drills,
            drilling: _,
            // Nothing is asked to follow while a thread is being gathered.
            tap: _,
            call: _,
            mill: _,
            rigid,
            gather,
            tool: _,
            exchanged,
            staged: _,
            code_line,
            looked: _,
            stopped,
            changed,
        } = self;
        space.follow(moved);
        drills.follow(moved);
        rigid.follow(moved);
        gather.follow(moved);
        exchanged.follow(moved);
        moved.line(code_line);
        stopped.follow(moved);
        changed.follow(moved);
    }
}

impl Rotating {
    /// Whether a thread is being gathered.
    pub(crate) const fn is_busy(&self) -> bool {
        self.tap.is_some() || self.call.is_some() || self.mill.is_some()
    }

    /// The index of the first comment that a look at this block reaches, where there was a look.
    pub(crate) fn take_look(&mut self, walked: usize) -> Option<usize> {
        let from = self.notes_from(walked);
        std::mem::take(&mut self.looked).then_some(from)
    }

    /// Numbers and ranges of comments become others; `false` where one cannot.
    pub(crate) fn renumber_notes(
        &mut self,
        one: &dyn Fn(usize) -> Option<usize>,
        range: &dyn Fn((usize, usize), u32) -> Option<(usize, usize)>,
    ) -> bool {
        if let Some(exchanged) = &mut self.exchanged {
            match one(exchanged.notes_from) {
                Some(to) => exchanged.notes_from = to,
                None => return false,
            }
        }
        self.drills.renumber_notes(range)
    }

    /// Roughly how much memory a clone takes that is not shared with `other`, in things.
    pub(crate) fn weight(&self, other: Option<&Rotating>) -> usize {
        let drills = match other {
            Some(other) if self.drills.is_shared_with(&other.drills) => 0,
            _ => self.drills.len(),
        };
        drills + self.gather.len()
    }
}
