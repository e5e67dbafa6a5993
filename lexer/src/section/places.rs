//! How the places of a section follow a replacement in the text.

use super::milling::{Approach, Compensation, Helix, Milling, Piece};
use super::tapping::{Drilled, Hole, LeftActive, Return, Rigid, Stray, Tapping};
use super::{Missing, Move, Note, Pass, RoleWord, Section, SpeedMode, Spindle, Turning};
use crate::moved::{Moved, Places, places, plain};
use crate::source::{Mark, Span};
use crate::units::{Length, Units};

plain!(Turning, SpeedMode, Length, Units);

places!(Section {
    in span, blocks, passes, words, spindle, tool, notes, missing, moves, tapping, milling;
    lines first_line, last_line;
    other syntax, kind, cut, passes_certain, units, radius_mode, unknown, chase;
});
places!(Pass {
    at (span, line);
    in spindle;
    other purpose, x_start, x, depth, step, z_start, z_end, lead, lead_change, start_angle,
        skip, legs;
});
places!(Spindle { in speed, mode, turning, clamp; });
places!(Note { at (span, line); });
places!(Move { at (span, line); other rapid, after_pass, from, to; });
places!(Missing { at (block, line); in in_force; other role, letters; });

impl Places for RoleWord {
    fn follow(&mut self, moved: &mut Moved) {
        moved.place(&mut self.span, &mut self.line);
        moved.span(&mut self.value_span);
    }
}

/// The place of a word, with the place of the block that wrote it.
impl Places for Mark<Span> {
    fn follow(&mut self, moved: &mut Moved) {
        moved.place(&mut self.span, &mut self.line);
        moved.span(&mut self.value);
    }
}

places!(Tapping {
    in code, holes, rigid, slanted, returns, left_active, cancelled, per_minute;
    other way, axis, hand, hand_by, count, synchronised, rpm, retract_rpm, peck, size;
});
places!(Hole { in block, drilled; other at, clear, bottom; });
places!(Drilled { in block, tool, notes; other code, bottom; });
places!(Rigid { in word, speed, motion, later_speed; });
places!(LeftActive { in block, why; });
places!(Return { in block; other lead; });

impl Places for Stray {
    fn follow(&mut self, moved: &mut Moved) {
        match self {
            Stray::Stopped(span, line) | Stray::ToolChanged(span, line) => moved.place(span, line),
            Stray::Retract | Stray::NotDrilled => {}
        }
    }
}

/// The same where there is a word in any case.
impl Places for (Compensation, Mark<()>) {
    fn follow(&mut self, moved: &mut Moved) {
        self.1.follow(moved);
    }
}

/// Whether the feed is per minute, with the word that says so.
impl Places for (bool, Option<Span>) {
    fn follow(&mut self, moved: &mut Moved) {
        self.1.follow(moved);
    }
}

places!(Milling {
    in helices, compensation;
    other axis, counterclockwise, hand, climb, evidence, stated;
});
places!(Helix {
    in pieces, entry, exit, feed;
    other centre, radius_mm, cone_mm, start, end, per_turn;
});
places!(Piece { in block, rise_word; other degrees, rise; });
places!(Approach { in block; other arc, own_degrees, degrees, rise, radius_mm; });

/// Compensation with its word.
impl Places for (Compensation, Option<Mark<()>>) {
    fn follow(&mut self, moved: &mut Moved) {
        self.1.follow(moved);
    }
}
