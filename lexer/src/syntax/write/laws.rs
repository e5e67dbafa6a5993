//! Which law of a multi-pass cycle might give a list of depths.

use super::style::Style;
use crate::law::{Law, depths};
use crate::section::{Cut, Infeed, Syntax, Val};
use crate::units::{Length, Radial};

/// Laws of a syntax that might give these depths: the cut's own first, then what the depths
/// suggest. Each is tried; only one that gives the passes is taken.
pub(super) fn laws(syntax: Syntax, cut: &Cut, wanted: &[Radial], style: &Style) -> Vec<Law> {
    match (syntax, &cut.law) {
        (Syntax::TwoBlock, Law::SquareRoot { .. })
        | (Syntax::OneBlock, Law::Method { .. })
        | (Syntax::DriveLine, Law::Power { .. })
        | (Syntax::Call, Law::Counted { .. }) => return vec![cut.law.clone()],
        (Syntax::Compound, Law::Method { method: 1, .. }) => return vec![cut.law.clone()],
        (Syntax::Compound, Law::SquareRoot { min, repeats, .. })
            if min.get() == Some(Radial::default()) && repeats.get() == Some(1) =>
        {
            return vec![cut.law.clone()];
        }
        _ => {}
    }
    let (Some(&first), Some(&full)) = (wanted.first(), wanted.last()) else {
        return Vec::new();
    };
    let at_full = wanted.iter().filter(|&&depth| depth == full).count();
    let known = |value: Radial| Val::Exact(value);
    match syntax {
        Syntax::OneBlock => {
            let both = matches!(cut.infeed, Infeed::Alternating(_));
            let law = |method| Law::Method {
                first: known(first),
                method,
            };
            if both {
                vec![law(2), law(4)]
            } else {
                vec![law(1), law(3)]
            }
        }
        Syntax::DriveLine => [2.0, 1.0]
            .into_iter()
            .map(|degression| Law::Power {
                first: known(first),
                degression,
                springs: at_full as i64 - 1,
            })
            .collect(),
        Syntax::Call => counted_laws(wanted, full, at_full),
        Syntax::Compound => compound_laws(wanted, first, full, at_full),
        _ => two_block_laws(wanted, first, full, at_full, style.last_digit()),
    }
}

/// A number of passes to full height, or to all but the last cut.
fn counted_laws(wanted: &[Radial], full: Radial, at_full: usize) -> Vec<Law> {
    let rough = wanted.len() - at_full;
    let last = match wanted[..rough].last() {
        Some(deepest) => Radial(full.0 - deepest.0),
        None => Radial::default(),
    };
    let law = |rough: usize, finish: Radial, springs: usize, equal_areas| Law::Counted {
        rough: Val::Exact(rough as u32),
        equal_areas,
        finish: Val::Exact(finish),
        springs: Val::Exact(springs as u32),
    };
    let springs = at_full.saturating_sub(1);
    let mut all = Vec::new();
    for equal_areas in [true, false] {
        all.push(law(rough + 1, Radial::default(), springs, equal_areas));
        if rough > 0 {
            all.push(law(rough, last, springs, equal_areas));
        }
    }
    all
}

/// Equal areas to full height, or to all but the last cut.
fn compound_laws(wanted: &[Radial], first: Radial, full: Radial, at_full: usize) -> Vec<Law> {
    let deepest = wanted[..wanted.len() - at_full].last().copied();
    let mut all = vec![Law::Method {
        first: Val::Exact(first),
        method: 1,
    }];
    if let Some(deepest) = deepest {
        all.push(Law::SquareRoot {
            first: Val::Exact(first),
            min: Val::Exact(Radial::default()),
            finish: Val::Exact(Radial(full.0 - deepest.0)),
            repeats: Val::Exact(1),
        });
    }
    all
}

fn two_block_laws(
    wanted: &[Radial],
    first: Radial,
    full: Radial,
    at_full: usize,
    digit: Length,
) -> Vec<Law> {
    let rough = &wanted[..wanted.len() - at_full];
    let deepest = rough.last().copied().unwrap_or_default();
    // A constant step at the end of the roughing is a minimum cut.
    let step = match rough {
        [.., a, b] => Radial(b.0 - a.0),
        _ => first,
    };
    // The last cut as a finishing allowance; a digit more, where rounding would make another
    // roughing pass between.
    let last = full.0 - deepest.0;
    let mut all = Vec::new();
    for min in [Radial::default(), step] {
        for (finish, repeats) in [
            (Length::ZERO, at_full.saturating_sub(1)),
            (last, at_full),
            (last + digit, at_full),
        ] {
            if repeats > 0 {
                all.push(Law::SquareRoot {
                    first: Val::Exact(first),
                    min: Val::Exact(min),
                    finish: Val::Exact(Radial(finish)),
                    repeats: Val::Exact(repeats as u32),
                });
            }
        }
    }
    // Only laws that give as many passes are worth writing.
    all.retain(|law| depths(law, full).len().abs_diff(wanted.len()) <= 1);
    all
}
