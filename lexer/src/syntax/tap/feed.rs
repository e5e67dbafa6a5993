//! What the feed of a tapping cycle means: a lead, or a feed per minute that makes one with the
//! speed.

use super::Around;
use crate::evidence::Family;
use crate::number::DecimalRule;
use crate::section::tapping::Way;
use crate::section::{Missing, Role, RoleWord, Scale, Val};
use crate::source::Span;
use crate::syntax::role_word;
use crate::units::{Lead, Length};

/// The lead of a tap and what it was read from.
pub(super) struct Feed {
    pub(super) lead: Val<Lead>,
    /// See [`crate::section::tapping::Tapping::per_minute`].
    pub(super) per_minute: Option<(bool, Option<Span>)>,
}

impl Feed {
    fn unknown(why: impl Into<String>) -> Feed {
        Feed {
            lead: Val::Unknown(why.into()),
            per_minute: None,
        }
    }
}

/// Leads that a tap can have, mm: from the finest of watchmaking to the coarsest of pipes and
/// screws. It only decides whether an F without G94 and G95 is a lead or a feed per minute, which
/// are more than a hundredfold apart.
const POSSIBLE: std::ops::RangeInclusive<f64> = 0.05..=12.0;

/// F with the feed mode in force.
pub(super) fn feed(
    way: Way,
    around: &Around<'_>,
    words: &mut Vec<RoleWord>,
    missing: &mut Vec<Missing>,
    unknown: &mut Vec<String>,
) -> Feed {
    let machine = around.machine;
    let Some(word) = machine.feed else {
        missing.push(Missing {
            role: Role::Feed,
            letters: "F",
            block: around.block.span,
            line: around.block.line,
            in_force: None,
        });
        return Feed::unknown("the feed is not written");
    };
    let Some(number) = word.value.number() else {
        if let Some(mode) = machine.per_minute.filter(|mode| mode.value)
            && machine.spindle.speed.is_none()
            && !machine.spindle.surface_speed()
            && let Some(lead) = machine.tied.lead(machine.units)
        {
            return Feed {
                lead,
                per_minute: Some((true, Some(mode.span))),
            };
        }
        return Feed::unknown("F is a variable or an expression, which is not evaluated");
    };
    let Some(length) = number.real(machine.units).filter(|f| *f > Length::ZERO) else {
        return Feed::unknown("F is no length above 0");
    };
    let turns = machine.spindle.rpm().filter(|rpm| *rpm > 0.0);
    let over_speed = turns.and_then(|rpm| Lead::over(length, (rpm * 10_000.0).round() as i64));
    let mode = machine.per_minute.filter(|mode| {
        // In a program of no known family G98 and G99 beside a hole are return levels.
        let letters = mode.span;
        machine.family != Family::Undecided || !return_level(around, letters)
    });
    let possible = |lead: Lead| POSSIBLE.contains(&lead.mm());
    let as_turn = possible(Lead::per_turn(length));
    let as_minute = over_speed.map(possible);
    // The older rigid cycles take F as the lead on some controls, whatever the feed mode.
    let older = way == Way::RigidCycle;
    let (per_minute, by) = match mode {
        Some(mode) if older && mode.value && as_turn && as_minute == Some(false) => {
            unknown.push(
                "F is read as the lead of the rigid cycle although a feed per minute is in force: \
                 as a feed it would give no lead of a tap"
                    .into(),
            );
            (false, Some(mode.span))
        }
        Some(mode) => (mode.value, Some(mode.span)),
        None => match (as_turn, as_minute) {
            (false, Some(true)) => (true, None),
            (true, Some(false)) => (false, None),
            (true, None) => {
                return Feed::unknown(
                    "no word says whether F is per minute or per turn, and no speed is known",
                );
            }
            _ => {
                return Feed::unknown("no word says whether F is per minute or per turn");
            }
        },
    };
    words.push(RoleWord {
        role: if per_minute { Role::Feed } else { Role::Lead },
        letter: b'F',
        number,
        span: word.value.span,
        value_span: word.value.value_span,
        line: word.line,
        scale: Scale::Real(machine.units),
        factor: 1,
        divisor: 1,
        base: Length::ZERO,
    });
    if by.is_none() {
        unknown.push(format!(
            "no word says whether F is per minute or per turn; it is read as per {} by its size",
            if per_minute { "minute" } else { "turn" }
        ));
    }
    let lead = if per_minute {
        Val::or_unknown(
            over_speed,
            "the lead is feed over speed, and the speed is not known",
        )
    } else if machine.decimal == DecimalRule::LeastIncrement && !number.point {
        Val::Unknown(
            "F has no point in a program that counts in least increments; what one stands for \
             differs between controls"
                .into(),
        )
    } else {
        Val::Exact(Lead::per_turn(length))
    };
    Feed {
        lead,
        per_minute: Some((per_minute, by)),
    }
}

/// Whether a feed mode was set by a G98 or G99 in the block of the cycle.
fn return_level(around: &Around<'_>, mode: Span) -> bool {
    let block = around.block;
    block
        .g_codes()
        .any(|(code, word)| matches!(code, 980 | 990) && word.span == mode)
}

/// K as a signed lead.
pub(super) fn pitch_word(
    around: &Around<'_>,
    words: &mut Vec<RoleWord>,
    missing: &mut Vec<Missing>,
) -> Feed {
    let (machine, block) = (around.machine, around.block);
    let lead = match role_word(block, b'K', Role::Lead, Scale::Real(machine.units)) {
        Some(word) => {
            words.push(word);
            Val::or_unknown(
                word.length().filter(|k| !k.is_zero()).map(Lead::per_turn),
                "K is no lead",
            )
        }
        None if block.has(b'K') => {
            Val::Unknown("K is a variable or an expression, which is not evaluated".into())
        }
        None => {
            missing.push(Missing {
                role: Role::Lead,
                letters: "K",
                block: block.span,
                line: block.line,
                in_force: None,
            });
            Val::Unknown("the lead K is not written".into())
        }
    };
    Feed {
        lead,
        per_minute: None,
    }
}
