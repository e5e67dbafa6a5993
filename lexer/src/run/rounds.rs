//! Whether a loop can end.

use crate::expression::{Num, Relation, Seen};

/// Rounds of a condition that goes away from its end by the same step before it is held to do so
/// for good.
const STEADY: u32 = 64;

/// What is known about the rounds of a loop so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Rounds {
    count: u64,
    /// The state of all variables in an earlier round, and when the next is kept.
    kept: Option<u64>,
    keep_at: u64,
    /// Decided conditions with variables when it was kept.
    decided: u64,
    gap: Option<Num>,
    step: Option<Num>,
    steady: u32,
}

/// Why a loop never ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Never {
    /// Every variable is as it was in an earlier round; whether a condition with variables was
    /// decided between them.
    Repeats { decided: bool },
    /// The sides of the condition go apart by the same step each round.
    GoesAway,
}

impl Rounds {
    /// One round more, with the state of all variables and what the condition compared.
    pub(super) fn next(&mut self, state: u64, decided: u64, seen: Option<Seen>) -> Option<Never> {
        self.count += 1;
        if self.kept == Some(state) {
            return Some(Never::Repeats {
                decided: decided > self.decided,
            });
        }
        // Kept at rounds 1, 2, 4, 8 …: a circle of any length is seen within twice its length.
        if self.count > self.keep_at {
            self.kept = Some(state);
            self.decided = decided;
            self.keep_at = self.count * 2;
        }
        let plain = seen
            .filter(|seen| seen.tests == 1)
            .and_then(|seen| seen.gap);
        match plain {
            Some((relation, gap)) => self.away(relation, gap).then_some(Never::GoesAway),
            None => {
                self.gap = None;
                None
            }
        }
    }

    fn away(&mut self, relation: Relation, gap: Num) -> bool {
        let step = self.gap.and_then(|before| gap.minus(before));
        self.gap = Some(gap);
        if step.is_none() || step != self.step {
            (self.step, self.steady) = (step, 0);
            return false;
        }
        self.steady += 1;
        let Some(step) = step else { return false };
        let leads_away = match relation {
            Relation::Less | Relation::LessOrEqual => step.signum() <= 0,
            Relation::Greater | Relation::GreaterOrEqual => step.signum() >= 0,
            Relation::Unequal => step.signum() == 0 || step.signum() == gap.signum(),
            Relation::Equal => step.signum() == 0,
        };
        leads_away && self.steady >= STEADY
    }
}
