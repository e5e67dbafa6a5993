//! Remembers what is drilled: cycles, straight feeds and peck cycles on the axis of a turning
//! machine.

use super::{Drilling, Rotating, View};
use crate::number::Number;
use crate::section::tapping::Place;
use crate::units::Length;

impl Rotating {
    /// A drilling or boring cycle.
    pub(super) fn drill(&mut self, code: i32, view: &View<'_>) {
        let (block, machine) = (view.block, view.machine);
        if code == 331 || block.has_any(b"UVW") {
            return;
        }
        let axis = self.space.normal();
        let i = axis.index();
        let fresh = block.g_codes().any(|(c, _)| c == code);
        let value = |letter: u8| block.number_of(letter).and_then(|n| machine.length(n));
        let initial = self.space.at[i];
        if fresh && block.has(axis.letter()) {
            self.drilling = Drilling::default();
        }
        if let Some(r) = value(b'R') {
            self.drilling.clear = if machine.incremental {
                initial.map(|from| from + r)
            } else {
                Some(r)
            };
        }
        if block.has(axis.letter()) {
            let z = value(axis.letter());
            self.drilling.bottom = if machine.incremental {
                self.drilling.clear.zip(z).map(|(clear, z)| clear + z)
            } else {
                z
            };
        }
        let Some(bottom) = self.drilling.bottom else {
            return;
        };
        let letters: &[u8] = b"LK";
        let repeats = letters
            .iter()
            .filter(|_| code != 730 || !block.has(b'K'))
            .find_map(|&letter| block.number_of(letter).and_then(Number::integer))
            .map_or(1, |count| count.clamp(0, 1_000));
        let to = self.space.target(machine, block);
        let mut at = to;
        for n in 0..repeats {
            if n > 0 && machine.incremental {
                for k in (0..3).filter(|&k| k != i) {
                    let step = to[k].zip(self.space.at[k]).map(|(to, from)| to - from);
                    at[k] = at[k].zip(step).map(|(at, step)| at + step);
                }
            }
            self.looked = true;
            self.drills.add(
                self.space.frame(),
                (at, i),
                bottom,
                (view.place(), code),
                self.tool_of(machine),
                view.own_notes(),
            );
        }
    }

    /// A drill that is fed straight on the axis of a turning machine.
    pub(super) fn drilled_by_feed(&mut self, code: i32, to: Place, view: &View<'_>) {
        let machine = view.machine;
        let on_axis = machine.family.turns()
            && code == 10
            && to[0] == Some(Length::ZERO)
            && self.space.at[0] == Some(Length::ZERO);
        if let (true, Some(bottom), from) = (on_axis, to[2], self.space.at[2])
            && from.is_none_or(|from| bottom < from)
        {
            let tool = (view.place(), 10);
            let frame = self.space.frame();
            self.looked = true;
            self.drills.add(
                frame,
                (to, 2),
                bottom,
                tool,
                self.tool_of(machine),
                view.own_notes(),
            );
        }
    }

    /// G74 with Z on the axis of a turning machine drills.
    pub(super) fn drilled_by_turning(&mut self, view: &View<'_>) {
        let (block, machine) = (view.block, view.machine);
        if !block.has_g(740) || !machine.family.turns() || machine.incremental {
            return;
        }
        let x = block
            .number_of(b'X')
            .and_then(|x| machine.length(x))
            .or(self.space.at[0]);
        let z = block.number_of(b'Z').and_then(|z| machine.length(z));
        if let (Some(Length::ZERO), Some(bottom)) = (x, z) {
            let at = [x, self.space.at[1], z];
            let tool = (view.place(), 740);
            let frame = self.space.frame();
            self.looked = true;
            self.drills.add(
                frame,
                (at, 2),
                bottom,
                tool,
                self.tool_of(machine),
                view.own_notes(),
            );
        }
    }
}
