//! Calls of tapping and drilling cycles, once or at every position.

use super::{Event, Rotating, View};
use crate::space::Step;
use crate::syntax::call::ends_modal;
use crate::syntax::tap;

impl Rotating {
    /// Calls of tapping and drilling cycles.
    pub(super) fn calls(&mut self, view: &View<'_>, events: &mut Vec<Event>) {
        let (block, bytes) = (view.block, view.bytes);
        if ends_modal(block, bytes) {
            self.close_tap(events);
            self.call = None;
            return;
        }
        let Some(call) = tap::call(block, bytes) else {
            return;
        };
        self.close_tap(events);
        self.call = None;
        if let Some(way) = call.way {
            self.tap = Some(tap::Active::of_call(&call, way, &self.around(view)));
        }
        if call.modal {
            self.call = Some(call);
        } else {
            self.called_at(&call, view);
            self.close_tap(events);
        }
    }

    /// A position at which a call is repeated.
    pub(super) fn called_position(&mut self, step: Step, view: &View<'_>) {
        let Some(call) = self.call.take() else {
            return;
        };
        let moves = matches!(step, Step::Move(_)) && view.block.has_any(b"XYZ");
        if moves {
            let held = self.space.at;
            self.space.at = self.space.target(view.machine, view.block);
            self.called_at(&call, view);
            self.space.at = held;
        }
        self.call = Some(call);
    }

    pub(super) fn called_at(&mut self, call: &tap::Call, view: &View<'_>) {
        let at = self.space.at;
        if let Some(mut active) = self.tap.take() {
            active.add_called(at, &self.around(view));
            self.tap = Some(active);
        } else if call.way.is_none()
            && let Some(bottom) = call.bottom(view.machine.units)
        {
            let axis = self.space.normal().index();
            self.drills.add(
                self.space.frame(),
                (at, axis),
                bottom,
                (view.place(), 0),
                self.tool_of(view.machine),
                view.own_notes(),
            );
        }
    }
}
