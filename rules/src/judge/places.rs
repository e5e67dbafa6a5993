//! How the places of findings and of what is known of a section follow an edit.

use lexer::moved::{Moved, Places};

use crate::finding::{Edit, Finding, Fix, Related};
use crate::identify::{Conflict, Identified, Stated};

impl Places for Finding {
    fn follow(&mut self, moved: &mut Moved) {
        moved.place(&mut self.span, &mut self.line);
        self.related.follow(moved);
        self.fixes.follow(moved);
    }
}

impl Places for Related {
    fn follow(&mut self, moved: &mut Moved) {
        moved.place(&mut self.span, &mut self.line);
    }
}

impl Places for Fix {
    fn follow(&mut self, moved: &mut Moved) {
        self.edits.follow(moved);
    }
}

impl Places for Edit {
    fn follow(&mut self, moved: &mut Moved) {
        moved.span(&mut self.span);
    }
}

impl Places for Identified {
    fn follow(&mut self, moved: &mut Moved) {
        let Identified {
            thread: _,
            place,
            why: _,
            runner_up: _,
            conflict,
            unreadable,
            candidates: _,
            nose_radius_mm: _,
            nose,
            tool: _,
            layer,
            layer_unknown,
            length_mm: _,
            face_z_mm,
            asked_others: _,
        } = self;
        place.follow(moved);
        conflict.follow(moved);
        if let Some((_, place)) = unreadable {
            place.follow(moved);
        }
        nose.follow(moved);
        layer.follow(moved);
        layer_unknown.follow(moved);
        face_z_mm.follow(moved);
    }
}

impl Places for Conflict {
    fn follow(&mut self, moved: &mut Moved) {
        moved.place(&mut self.span, &mut self.line);
    }
}

impl<T> Places for Stated<T> {
    fn follow(&mut self, moved: &mut Moved) {
        self.place.follow(moved);
    }
}
