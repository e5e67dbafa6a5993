use lexer::law::Law;
use lexer::number::Number;
use lexer::section::{Purpose, Role, RoleWord, Val};
use lexer::units::{Length, Radial, Units};

use super::split::{CutPass, Split};
use super::text::{length, length_of_mm, number, quoted};
use super::words::{is_own, spell_length};
use super::{Context, Out, Rule, restate, rule};
use crate::cut::passes::least_step;
use crate::finding::{Edit, Fix, FixKind};

rule! {
    /// # What it checks
    ///
    /// No pass takes so little depth that it rubs rather than cuts: the rest that a cycle leaves for
    /// its last rough cut, and rows of very small steps.
    ///
    /// # Why it matters
    ///
    /// An edge has a radius. A step below it slides over the flank, heats and hardens it, and wears
    /// the edge where it has to cut next; in stainless and heat-resistant steels that ends the
    /// insert. It also costs the time of a full pass.
    ///
    /// # The sum
    ///
    /// Step of a pass = difference of depths, radial. Reported: the last rough cut of a cycle when
    /// it is less than half of the cut before it and less than 0.03 mm, or 0.01 mm where a finishing
    /// cut follows; in a list any pass but the first and the last that is less than half of the one
    /// before and less than 0.02 mm; and two or more rough passes of less than 0.02 mm. Below a pitch of 1 mm the limits shrink with the pitch.
    ///
    /// # What it needs
    ///
    /// Every pass. Where the control adds its own minimum cut or finishing allowance, it does not
    /// judge.
    ///
    /// # When it stays silent
    ///
    /// For spring passes, the finishing cut, the last cut of a list, which is one, chases, oil
    /// grooves.
    ///
    /// # Mend
    ///
    /// A first cut slightly larger, so that the passes come out even, or a larger minimum cut. The
    /// fix writes the least change of the first cut, and a minimum cut of 0.05 mm where that is
    /// what lacks.
    ///
    /// # Source
    ///
    /// Common practice, no source: 0.05 mm in roughing, 0.02 to 0.03 mm in finishing.
    "pass-under-minimum", Advice,
    "a pass takes so little depth that it rubs",
    fixes: true, needs_designation: false, check
}

const HALF: f64 = 0.5;
/// Least last cut of a cycle, mm.
const LAST: f64 = 0.03;
/// Least last rough cut of a cycle that a finishing cut follows, mm: below it the pass is a waste.
const BEFORE_FINISHING: f64 = 0.01;
/// Least step elsewhere, mm.
const TINY: f64 = 0.02;

/// Above this number of passes something else is wrong, and no fix is looked for.
const MOST_PASSES: usize = 200;
/// First cuts that are tried.
const MOST_TRIES: i64 = 40;

/// A pass that rubs.
#[derive(Debug, Clone, Copy)]
struct Rubs<'a> {
    cut: CutPass<'a>,
    step: f64,
    before: f64,
    limit: f64,
    /// How many passes are below the limit, where it is not a single rest.
    row: Option<usize>,
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(split) = Split::of(rule, cx, out) else {
        return;
    };
    if !cx.section.passes_certain {
        return out.not_judged(
            rule,
            "the control's own minimum cut or finishing allowance is missing",
        );
    }
    let Some(rubs) = rubbing(&cx.section.cut.law, &split) else {
        return;
    };
    let units = cx.section.units;
    let word = guilty(cx, &rubs);
    let place = word.map_or((rubs.cut.pass.span, rubs.cut.pass.line), |word| {
        (word.span, word.line)
    });
    let step = match rubs.step {
        step if step < 0.001 => "less than 0.001 mm".to_owned(),
        step => length_of_mm(step, units),
    };
    let message = match rubs.row {
        Some(count) => format!(
            "{count} passes take less than {} each, the smallest {step}",
            length_of_mm(rubs.limit, units)
        ),
        None => format!(
            "pass {} takes only {step}, the pass before it {}",
            rubs.cut.number,
            length_of_mm(rubs.before, units)
        ),
    };
    let mut finding = rule.found(place, message);
    for role in [
        Role::FirstCut,
        Role::MinCut,
        Role::FinishAllowance,
        Role::Degression,
    ] {
        if let Some(word) = cx.section.word(role) {
            finding = finding.because(describe(cx, word));
        }
    }
    let x = rubs.cut.pass.x.map_or(0.0, |x| x.abs().mm());
    finding = finding.because(format!(
        "pass {} to diameter {}: step {step}, limit {}",
        rubs.cut.number,
        length_of_mm(x, units),
        length_of_mm(rubs.limit, units)
    ));
    if let Some(fix) = evened(rule, cx, &rubs) {
        finding = finding.fix(fix);
    }
    out.push(
        finding
            .source("common practice, no source: at least 0.05 mm in roughing, 0.02 to 0.03 mm in finishing")
            .help("let the passes before take this depth, or split the depth so that it comes out even"),
    );
}

fn describe(cx: &Context<'_>, word: &RoleWord) -> String {
    let what = match word.role {
        Role::FirstCut => "first cut",
        Role::MinCut => "minimum cut",
        Role::FinishAllowance => "finishing allowance",
        _ => "degression",
    };
    let value = word.length().map_or_else(
        || number(word.number.value(), 3),
        |value| length(value, cx.section.units),
    );
    format!("{}: {what} {value}", quoted(cx.bytes, word.span, word.line))
}

/// The worst case: a row of tiny passes, otherwise a rest.
fn rubbing<'a>(law: &Law, split: &Split<'a>) -> Option<Rubs<'a>> {
    let scale = split.pitch.min(1.0);
    let list = matches!(law, Law::List);
    split.starts.iter().find_map(|cuts| {
        let finishes = |cut: &CutPass<'_>| cut.pass.purpose == Purpose::Finish;
        let finishing = cuts.iter().any(finishes);
        let mut rough: Vec<(CutPass<'a>, f64)> = cuts
            .iter()
            .filter(|cut| !finishes(cut))
            .filter_map(|cut| Some((*cut, cut.step?)))
            .collect();
        if list {
            rough.pop();
        }
        // The first is whatever the blank and the air before it make it.
        let first = cuts.first()?.number;
        let after_first = |at: &usize| rough[*at].0.number != first;
        let rubs = |at: usize, limit: f64, row: Option<usize>| Rubs {
            cut: rough[at].0,
            step: rough[at].1,
            before: at.checked_sub(1).map_or(0.0, |before| rough[before].1),
            limit,
            row,
        };
        let tiny: Vec<usize> = (0..rough.len())
            .filter(after_first)
            .filter(|at| rough[*at].1 < TINY * scale)
            .collect();
        if tiny.len() > 1 {
            let smallest = tiny
                .iter()
                .copied()
                .min_by(|a, b| rough[*a].1.total_cmp(&rough[*b].1))?;
            return Some(rubs(smallest, TINY * scale, Some(tiny.len())));
        }
        let limit = scale
            * match (list, finishing) {
                (true, _) => TINY,
                (false, true) => BEFORE_FINISHING,
                (false, false) => LAST,
            };
        let is_rest = |at: &usize| {
            let before = at.checked_sub(1).map(|before| rough[before].1);
            rough[*at].1 < limit && before.is_some_and(|before| rough[*at].1 < HALF * before)
        };
        let candidates = if list {
            0..rough.len()
        } else {
            rough.len().saturating_sub(1)..rough.len()
        };
        let mut rests = candidates.filter(after_first).filter(is_rest);
        rests.next().map(|at| rubs(at, limit, None))
    })
}

/// The word to change: the minimum cut for a row of tiny passes, the first cut for a rest, the end
/// diameter in a list.
fn guilty<'a>(cx: &Context<'a>, rubs: &Rubs<'_>) -> Option<&'a RoleWord> {
    let section = cx.section;
    if matches!(section.cut.law, Law::List) {
        return rubs.cut.word(cx);
    }
    let roles: &[Role] = match rubs.row {
        Some(_) => &[Role::MinCut, Role::Degression, Role::FirstCut],
        None => &[Role::FirstCut],
    };
    roles.iter().find_map(|role| section.word(*role))
}

/// The fix: the least first cut, and where needed a usual minimum cut, with which no pass rubs.
fn evened(rule: &Rule, cx: &Context<'_>, rubs: &Rubs<'_>) -> Option<Fix> {
    let section = cx.section;
    if section.passes.len() > MOST_PASSES {
        return None;
    }
    let first = section.word(Role::FirstCut)?;
    let min = section
        .word(Role::MinCut)
        .filter(|word| is_own(section, word));
    let grid = match section.units {
        Units::Millimetre => Length::from_mm(0.01),
        Units::Inch => Length::from_mm(0.0127),
    };
    let min_text = match (rubs.row, &section.cut.law) {
        (None, _) => None,
        (Some(_), Law::SquareRoot { .. }) => Some(spell_length(
            min?,
            Length::from_mm(least_step(cx.pitch_mm()?)),
        )),
        (Some(_), _) => return None,
    };
    let says = |word: &RoleWord, text: &str| {
        let number = Number::parse(text.as_bytes())?;
        RoleWord { number, ..*word }.length().map(Radial)
    };
    let now = first.length()?;
    // Multiples of the grid from the present first cut to a quarter more.
    let from = now.pm().div_euclid(grid.pm());
    let to = (now.pm() / 4 * 5).div_euclid(grid.pm());
    for n in from..=to.min(from + MOST_TRIES) {
        let text = if n == from {
            spell_length(first, now)
        } else {
            spell_length(first, grid * n)
        };
        let cut = says(first, &text)?;
        let least = min_text
            .as_ref()
            .and_then(|text| says(min?, text))
            .map(Val::Exact);
        let after = restate::changed(section, |all| match &mut all.law {
            Law::SquareRoot { first, min, .. } => {
                *first = Val::Exact(cut);
                if let Some(least) = &least {
                    *min = least.clone();
                }
            }
            Law::Power { first, .. } => *first = Val::Exact(cut),
            _ => {}
        });
        let rubs = |split: &Split<'_>| rubbing(&after.cut.law, split).is_some();
        if Split::still(rule, cx, &after, rubs) {
            continue;
        }
        let mut edits = Vec::new();
        let mut writes = Vec::new();
        let mut write = |word: &RoleWord, text: &str| {
            if text.as_bytes() != word.value_span.of(cx.bytes) {
                writes.push(format!(
                    "{}{text} for {}",
                    word.address(),
                    quoted(cx.bytes, word.span, word.line)
                ));
                edits.push(Edit {
                    span: word.value_span,
                    text: text.to_owned(),
                });
            }
        };
        if let (Some(min), Some(text)) = (min, &min_text) {
            write(min, text);
        }
        write(first, &text);
        edits.sort_by_key(|edit| edit.span);
        return (!edits.is_empty()).then(|| Fix {
            title: format!(
                "write {}: {}",
                writes.join(" and "),
                restate::before_after(cx, &after)
            ),
            kind: FixKind::Motion,
            edits,
        });
    }
    None
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, judged};
    use crate::facts::Facts;

    const RULE: &str = "pass-under-minimum";

    #[test]
    fn found_in_cycles_and_lists() {
        assert_pairs(
            RULE,
            &[
                // Height 1.227, first cut 0.4, minimum 0.05: 0.027 is left behind 0.069.
                (
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q50 R0\nG76 X27.546 Z-36. P1227 Q400 F2.\n",
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q50 R0\nG76 X27.546 Z-36. P1227 Q410 F2.\n",
                ),
                (
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q10 R0.05\nG76 X27.546 Z-36. P1227 Q150 F2.\n",
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q50 R0.05\nG76 X27.546 Z-36. P1227 Q150 F2.\n",
                ),
                (
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.36 R2 K1.227 Q27\n",
                ),
                (
                    "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X15.1 Z-42. F2.\nX14.4\nX13.9\nX13.88\nX13.6\nX13.546\nG0 X20.\n",
                    "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X15.1 Z-42. F2.\nX14.4\nX13.9\nX13.6\nX13.546\nG0 X20.\n",
                ),
                (
                    "G20 G90 G95\nT0303\nG97 S500 M3\nG0 X1.2 Z.4\nG78 X.96 Z-1.5 F.125\nX.92\nX.89\nX.87\nX.8692\nX.8684\nX.8676\nX.85\nG0 X2.\n",
                    "G20 G90 G95\nT0303\nG97 S500 M3\nG0 X1.2 Z.4\nG78 X.96 Z-1.5 F.125\nX.92\nX.89\nX.868\nX.85\nG0 X2.\n",
                ),
                // Three and more: a degression of 3 makes rows of tiny passes.
                (
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.35 R3 K1.227 Q27\n",
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.36 R2 K1.227 Q27\n",
                ),
            ],
        );
    }

    #[test]
    fn silent_on_what_a_shop_does() {
        assert_silent(
            RULE,
            &[
                // A light last cut and spring passes by hand.
                "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X15.1 Z-42. F2.\nX14.4\nX13.9\nX13.6\nX13.556\nX13.546\nX13.546\nG0 X20.\n",
                // A finishing allowance of 0.02.
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.02\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                // A fine pitch has fine steps.
                "G21\nT0303\n(THREAD M6X0.5-6G)\nG97 S900 M3\nG0 X8. Z4.\nG92 X5.8 Z-8. F0.5\nX5.66\nX5.56\nX5.49\nX5.44\nX5.41\nX5.387\nG0 X9.\n",
                // What the minimum cut leaves before the finishing cut: 0.015 mm.
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q50 R0.05\nG76 X27.546 Z-36. P1227 Q150 F2.\n",
                // The first cut only scratches, because the height counts from the start diameter.
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q80 R0.05\nG76 X27.546 Z-36. P3227 Q1005 F2.\n",
                // The chase.
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nG76 P010060 Q1 R0\nG76 X27.546 Z-36. P30 Q10 F2.\n",
            ],
        );
    }

    #[test]
    fn settings_of_the_control_are_not_guessed() {
        for text in [
            "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 R0\nG76 X27.546 Z-36. P1227 Q400 F2.\n",
            "G20\nT0505\nG97 S900 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0050A60F.1\n",
        ] {
            let judgement = judged(text, &Facts::default());
            assert!(
                judgement
                    .findings
                    .iter()
                    .all(|finding| finding.rule != RULE)
            );
            let mut not = judgement.not_judged.iter().flatten();
            assert!(not.any(|(rule, _)| *rule == RULE), "{text}");
        }
    }
}
