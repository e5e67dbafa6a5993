//! Tapping cycles: which block starts one, goes on with it, ends it, or should not have been one.

use super::{Event, Rotating, View};
use crate::section::tapping::{LeftActive, Return, Rigid, Stray, Way};
use crate::source::Mark;
use crate::space::Step;
use crate::syntax::tap;
use crate::units::{Lead, Length};

impl Rotating {
    pub(super) fn rigid_mode(&mut self, view: &View<'_>, step: Step) {
        let block = view.block;
        let speed = block.word(b'S').and_then(|word| {
            Some(Mark {
                value: word.number()?.value(),
                span: word.span,
                line: block.line,
            })
        });
        if let Some((_, word)) = block.m_codes().find(|(code, _)| *code == 290) {
            self.rigid = Some(Rigid {
                word: Mark {
                    value: (),
                    span: word.span,
                    line: block.line,
                },
                speed,
                motion: None,
                later_speed: None,
            });
            return;
        }
        let Some(rigid) = self.rigid.as_mut() else {
            return;
        };
        if self.tap.is_some() {
            return;
        }
        if speed.is_some() {
            rigid.later_speed = speed;
        }
        if matches!(step, Step::Move(_) | Step::Lost) && block.has_any(b"XYZUVW") {
            rigid.motion.get_or_insert(view.place());
        }
    }

    pub(super) fn tap_code(&mut self, code: tap::Code, view: &View<'_>, events: &mut Vec<Event>) {
        let block = view.block;
        let i = code.axis.index();
        if let Some(active) = self.tap.as_mut()
            && active.inside
        {
            let to = self.space.target(view.machine, block)[i];
            let bottom = active
                .tapping
                .holes
                .last()
                .and_then(|hole| hole.bottom.get());
            let clear = active
                .tapping
                .holes
                .last()
                .and_then(|hole| hole.clear.get());
            let back = match (to, bottom, clear) {
                (Some(to), Some(bottom), Some(clear)) => {
                    (to - bottom).signum() == (clear - bottom).signum()
                }
                _ => false,
            };
            let returns = code.code.value == 3320 || code.way == Way::FloatingMove && back;
            if returns && matches!(active.tapping.way, Way::Interpolated | Way::FloatingMove) {
                active.inside = false;
                active.tapping.returns.push(Return {
                    block: view.place(),
                    lead: block
                        .number_of(b'K')
                        .and_then(|k| k.real(view.machine.units))
                        .map(Lead::per_turn),
                });
                active.blocks.push(view.place());
                if active.tapping.way == Way::Interpolated {
                    active.feed_words(view.machine, block);
                }
                return;
            }
        }
        if code.code.value == 3320 {
            // A return without a stroke in: nothing is cut.
            return;
        }
        if code.way == Way::FloatingMove && !self.goes_in(code, view) {
            return;
        }
        let goes_on = self
            .tap
            .as_ref()
            .is_some_and(|active| active.goes_on(code, &self.around(view)));
        if !goes_on {
            self.close_tap(events);
            let around = self.around(view);
            let rigid = self
                .rigid
                .filter(|_| matches!(code.way, Way::Cycle | Way::RigidCycle));
            self.tap = Some(tap::Active::start(code, rigid, &around));
            (self.stopped, self.changed) = (None, None);
        }
        let stores_only = !block.has_any(b"XYZUVW") && code.way == Way::Cycle;
        if let Some(mut active) = self.tap.take() {
            if !stores_only || block.has_any(b"R") {
                active.add(&self.around(view));
            }
            active.inside = matches!(code.way, Way::Interpolated | Way::FloatingMove);
            self.tap = Some(active);
        }
    }

    /// Whether a straight tapping move goes into the work: towards minus.
    pub(super) fn goes_in(&self, code: tap::Code, view: &View<'_>) -> bool {
        let i = code.axis.index();
        let to = self.space.target(view.machine, view.block)[i];
        match (self.space.at[i], to) {
            (Some(from), Some(to)) => to < from,
            (None, Some(to)) => to < Length::ZERO,
            _ => false,
        }
    }

    /// A block without a code of tapping.
    pub(super) fn no_code(&mut self, step: Step, view: &View<'_>, events: &mut Vec<Event>) {
        let block = view.block;
        let tapping_code = |code: i32| {
            self.tap
                .as_ref()
                .is_some_and(|active| active.tapping.code.value == code)
        };
        match step {
            Step::Hole(code) if tapping_code(code) => self.position(view),
            Step::Hole(code) if matches!(code, 840 | 740 | 842 | 843) && self.tap.is_none() => {
                // The section ended with its tool, the cycle did not.
                let why = match (self.changed, self.stopped) {
                    (Some((span, line)), _) => Some(Stray::ToolChanged(span, line)),
                    (None, Some((span, line))) => Some(Stray::Stopped(span, line)),
                    _ => None,
                };
                if let Some(why) = why {
                    events.push(Event::Stray(LeftActive {
                        block: view.place(),
                        why,
                    }));
                }
            }
            Step::Hole(code) => {
                self.end_cycle(None, events);
                self.drill(code, view);
            }
            _ => {
                let cancel = block.g_codes().find(|(code, _)| *code == 800);
                let motion = block
                    .g_codes()
                    .find(|(code, _)| matches!(code, 0 | 10 | 20 | 30));
                if let Some((code, word)) = cancel.or(motion) {
                    let mark = Mark {
                        value: (),
                        span: word.span,
                        line: block.line,
                    };
                    self.end_cycle(Some(mark), events);
                    if code == 800 {
                        self.rigid = None;
                    }
                }
                self.called_position(step, view);
            }
        }
    }

    /// A cycle in force ends; strokes that are written block by block stay open for the next hole.
    pub(super) fn end_cycle(&mut self, by: Option<Mark<()>>, events: &mut Vec<Event>) {
        let cycle = self
            .tap
            .as_ref()
            .is_some_and(|active| matches!(active.tapping.way, Way::Cycle | Way::RigidCycle));
        if cycle {
            if let Some(active) = self.tap.as_mut() {
                active.tapping.cancelled = by;
            }
            self.close_tap(events);
        }
    }

    /// A position while the tapping cycle is in force.
    pub(super) fn position(&mut self, view: &View<'_>) {
        let Some(mut active) = self.tap.take() else {
            return;
        };
        let why = self.stray(&active, view);
        if let Some(why) = why {
            active.tapping.left_active.push(LeftActive {
                block: view.place(),
                why,
            });
        }
        if !matches!(why, Some(Stray::Retract)) {
            let known = active.all_drilled;
            active.add(&self.around(view));
            let drilled = active
                .tapping
                .holes
                .last()
                .is_some_and(|hole| hole.drilled.is_some());
            if known && !drilled && why.is_none() && active.tapping.holes.len() > 2 {
                active.tapping.left_active.push(LeftActive {
                    block: view.place(),
                    why: Stray::NotDrilled,
                });
            }
        }
        self.tap = Some(active);
    }

    pub(super) fn stray(&self, active: &tap::Active, view: &View<'_>) -> Option<Stray> {
        if let Some((span, line)) = self.changed {
            return Some(Stray::ToolChanged(span, line));
        }
        if let Some((span, line)) = self.stopped {
            return Some(Stray::Stopped(span, line));
        }
        // The axis word alone leads out of the work: it was meant as a move.
        let (block, machine) = (view.block, view.machine);
        let axis = active.tapping.axis;
        let last = active.tapping.holes.last()?;
        let written = block.number_of(axis.letter())?;
        let to = machine.length(written).filter(|_| !machine.incremental)?;
        let (clear, bottom) = (last.clear.get()?, last.bottom.get()?);
        let out = (to - clear).signum() == (clear - bottom).signum() && to != clear;
        out.then_some(Stray::Retract)
    }
}
