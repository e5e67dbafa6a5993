use lexer::law::Law;
use lexer::number::Number;
use lexer::section::{Purpose, Role, RoleWord, Val};
use lexer::units::Radial;

use super::split::{CutPass, Split};
use super::text::{length, length_of_mm, number, quoted};
use super::words::spell_length;
use super::{Context, Out, Rule, restate, rule, stages};
use crate::cut::passes::finishing_cut;
use crate::finding::{Edit, Fix, FixKind};

rule! {
    /// # What it checks
    ///
    /// The last cut of a thread, with most cycles the finishing allowance, is not the heaviest.
    ///
    /// # Why it matters
    ///
    /// The last cut leaves the flanks and the size. In the full depth the tool cuts along its whole
    /// profile, so that a step that was harmless at the start is a broad chip there: it bends tool
    /// and part, tears the flanks, and what the gauge finds is chance. A finishing allowance of
    /// 0.2 mm, copied from turning, does that.
    ///
    /// # The sum
    ///
    /// Chip area of a pass = area of the V down to its depth less the area down to the depth before
    /// (with the nose radius where a note gives it). Reported when the last cut is at least 1.25
    /// times as deep as each of the two before it and its chip at least 1.1 times the largest of all
    /// others.
    ///
    /// # What it needs
    ///
    /// Every pass, from a list or from a two-block cycle with minimum cut and finishing allowance
    /// written. Where the crest is not known the steps are compared instead of the areas.
    ///
    /// # When it stays silent
    ///
    /// For a last cut of up to 0.05 mm (0.002 in; less below a pitch of 1 mm), for fewer than three
    /// cuts in a list, for equal steps throughout (which have their own rule), when a later cycle
    /// goes on with the thread, for oil grooves and chases.
    ///
    /// # Mend
    ///
    /// A finishing cut of 0.02 to 0.05 mm. In the two-block cycle the fix writes 0.05 mm, or the
    /// minimum cut where that is less. In a list, the cuts before have to take more.
    ///
    /// # Source
    ///
    /// Areas: plane geometry. Size of the finishing cut: common practice, no source.
    "last-pass-heaviest", Warning,
    "the last cut of the thread is the heaviest",
    fixes: true, needs_designation: false, check
}

const STEP: f64 = 1.25;
const AREA: f64 = 1.1;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let law = &cx.section.cut.law;
    if !matches!(
        law,
        Law::List | Law::SquareRoot { .. } | Law::Counted { .. }
    ) || stages::later(cx).is_some()
    {
        return;
    }
    let Some(split) = Split::of(rule, cx, out) else {
        return;
    };
    if !cx.section.passes_certain {
        return out.not_judged(rule, "minimum cut or finishing allowance is missing");
    }
    let Some((start, last)) = heavy(&split) else {
        return;
    };
    let step = last.step.unwrap_or_default();
    let units = cx.section.units;
    let word = guilty(cx, &last);
    let place = word.map_or((last.pass.span, last.pass.line), |word| {
        (word.span, word.line)
    });
    let others = &start[..start.len() - 1];
    let before = others.last().and_then(|cut| cut.step).unwrap_or_default();
    let mut finding = rule.found(
        place,
        format!(
            "the last cut takes {}, the one before it {}: the heaviest comes last",
            length_of_mm(step, units),
            length_of_mm(before, units)
        ),
    );
    for role in [Role::FinishAllowance, Role::MinCut] {
        if let Some(word) = cx.section.word(role)
            && let Some(value) = word.length()
        {
            let what = if role == Role::MinCut {
                "minimum cut"
            } else {
                "finishing allowance"
            };
            finding = finding.because(format!(
                "{}: {what} {}",
                quoted(cx.bytes, word.span, word.line),
                length(value, units)
            ));
        }
    }
    let largest = others
        .iter()
        .filter_map(|cut| Some((cut, cut.area?)))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    finding = match (last.area, largest) {
        (Some(area), Some((cut, most))) => finding.because(format!(
            "chip area of the last cut (pass {}): {} mm², largest before it (pass {}): {} mm²",
            last.number,
            number(area, 3),
            cut.number,
            number(most, 3)
        )),
        _ => {
            let steps: Vec<String> = start
                .iter()
                .filter_map(|cut| cut.step)
                .map(|step| number(step, 3))
                .collect();
            finding.because(format!(
                "steps from pass to pass, mm: {}; the first depth is not known",
                steps.join(", ")
            ))
        }
    };
    if let Some(fix) = word.and_then(|word| lighter(rule, cx, word)) {
        finding = finding.fix(fix);
    }
    out.push(
        finding
            .source("chip areas: plane geometry; finishing cut 0.02 to 0.05 mm: common practice, no source")
            .help("leave 0.02 to 0.05 mm for the last cut and let the cuts before take the rest"),
    );
}

/// The start whose last cut is its heaviest, with that cut.
fn heavy<'a, 's>(split: &'s Split<'a>) -> Option<(&'s [CutPass<'a>], CutPass<'a>)> {
    split.starts.iter().find_map(|cuts| {
        let (last, others) = cuts.split_last()?;
        let least = match last.pass.purpose {
            Purpose::Finish => 1,
            _ => 2,
        };
        let step = last.step?;
        if step <= finishing_cut(split.pitch) + 0.002 {
            return None;
        }
        let near: Vec<f64> = others
            .iter()
            .rev()
            .take(2)
            .filter_map(|cut| cut.step)
            .collect();
        if others.len() < least || near.is_empty() || near.iter().any(|&other| step < STEP * other)
        {
            return None;
        }
        let areas: Option<Vec<f64>> = others.iter().map(|cut| cut.area).collect();
        let heaviest = match (last.area, areas) {
            (Some(area), Some(areas)) => areas.iter().all(|&other| area >= AREA * other),
            _ => others
                .iter()
                .filter_map(|cut| cut.step)
                .all(|other| step >= STEP * other),
        };
        heaviest.then_some((cuts.as_slice(), *last))
    })
}

/// The word that makes the last cut.
fn guilty<'a>(cx: &Context<'a>, last: &CutPass<'_>) -> Option<&'a RoleWord> {
    if last.pass.purpose == Purpose::Finish {
        return cx.section.word(Role::FinishAllowance);
    }
    last.word(cx)
}

/// The fix: a usual finishing allowance, where that mends it.
fn lighter(rule: &Rule, cx: &Context<'_>, word: &RoleWord) -> Option<Fix> {
    if word.role != Role::FinishAllowance {
        return None;
    }
    let min = match &cx.section.cut.law {
        Law::SquareRoot { min, .. } => min.get(),
        Law::Counted { .. } => None,
        _ => return None,
    };
    let usual = finishing_cut(cx.pitch_mm()?);
    let min = min.map(Radial::mm).filter(|min| *min > 0.0);
    let wanted = Radial::from_mm(min.map_or(usual, |min| min.min(usual)));
    let text = spell_length(word, wanted.0);
    let says = RoleWord {
        number: Number::parse(text.as_bytes())?,
        ..*word
    };
    let says = says.length()?;
    let after = restate::changed(cx.section, |cut| {
        if let Law::SquareRoot { finish, .. } | Law::Counted { finish, .. } = &mut cut.law {
            *finish = Val::Exact(Radial(says));
        }
    });
    let still = Split::still(rule, cx, &after, |split| heavy(split).is_some());
    (!still).then(|| Fix {
        title: format!(
            "write {}{text} for {}: last cut {} -> {}; {}",
            word.address(),
            quoted(cx.bytes, word.span, word.line),
            length(word.length().unwrap_or_default(), cx.section.units),
            length(says, cx.section.units),
            restate::before_after(cx, &after)
        ),
        kind: FixKind::Motion,
        edits: vec![Edit {
            span: word.value_span,
            text,
        }],
    })
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, judged};
    use crate::facts::Facts;

    const RULE: &str = "last-pass-heaviest";

    #[test]
    fn found_in_cycles_and_lists() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q50 R0.2\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q50 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                ),
                (
                    "G20\nT0404\nG97 S450 M3\nG0 X.9 Z.5\nG76 P010060 Q15 R80\nG76 X1.125 Z-1.1 P773 Q180 F.142857\n",
                    "G20\nT0404\nG97 S450 M3\nG0 X.9 Z.5\nG76 P010060 Q15 R15\nG76 X1.125 Z-1.1 P773 Q180 F.142857\n",
                ),
                (
                    "G71\nG90 G95\nT0606\n(THREAD M60X2-6G)\nG97 S600 M3\nG0 X64. Z8.\nG78 P020060 Q50 R0.3\nG78 X57.546 Z-18. P1227 Q450 F2.\n",
                    "G71\nG90 G95\nT0606\n(THREAD M60X2-6G)\nG97 S600 M3\nG0 X64. Z8.\nG78 P020060 Q50 R0.05\nG78 X57.546 Z-18. P1227 Q450 F2.\n",
                ),
                (
                    "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X15.3 Z-42. F2.\nX14.8\nX14.5\nX13.546\nX13.546\nG0 X20.\n",
                    "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X15.1 Z-42. F2.\nX14.4\nX13.9\nX13.546\nX13.546\nG0 X20.\n",
                ),
                // A list without a designation: the steps tell.
                (
                    "G21\nT0303\nG97 S900 M3\nG0 X21.3 Z8.\nX19.2\nG32 Z-42. F2.2\nG0 X21.3\nZ8.\nX19.\nG32 Z-42. F2.2\nG0 X21.3\nZ8.\nX18.3\nG32 Z-42. F2.2\nG0 X21.3\n",
                    "G21\nT0303\nG97 S900 M3\nG0 X21.3 Z8.\nX19.2\nG32 Z-42. F2.2\nG0 X21.3\nZ8.\nX18.6\nG32 Z-42. F2.2\nG0 X21.3\nZ8.\nX18.3\nG32 Z-42. F2.2\nG0 X21.3\n",
                ),
                (
                    "G21\nT0404\n(THREAD M36X3-6H)\nG97 S700 M3\nG0 X31. Z10.\nG92 X33.6 Z-27. F3.\nX34.2\nX34.6\nX36.\nG0 Z50.\n",
                    "G21\nT0404\n(THREAD M36X3-6H)\nG97 S700 M3\nG0 X31. Z10.\nG92 X33.6 Z-27. F3.\nX34.8\nX35.5\nX36.\nG0 Z50.\n",
                ),
            ],
        );
    }

    #[test]
    fn silent_on_what_a_shop_does() {
        assert_silent(
            RULE,
            &[
                // The allowance as large as the minimum cut, or larger than a clipped rough cut.
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q100 R0.1\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q80 R0.08\nG76 X27.546 Z-36. P1227 Q390 F2.\n",
                // A usual finishing cut behind smaller ones.
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q40 R0.05\nG76 X27.546 Z-36. P1227 Q100 F2.\n",
                // Equal steps; one cut; the rest comes in another call.
                "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X15.6 Z-42. F2.\nX15.2\nX14.8\nX14.4\nX14.\nX13.546\nG0 X20.\n",
                "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X13.546 Z-42. F2.\nG0 X20.\n",
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q50 R0.2\nG76 X28.046 Z-36. P977 Q350 F2.\nG76 P010060 Q50 R0.05\nG76 X27.546 Z-36. P250 Q100 F2.\n",
                // The chase.
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nG76 P010060 Q50 R0.5\nG76 X27.546 Z-36. P1227 Q700 F2.\n",
            ],
        );
    }

    #[test]
    fn a_setting_of_the_control_is_not_guessed() {
        let text = "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q50\nG76 X27.546 Z-36. P1227 Q350 F2.\n";
        let judgement = judged(text, &Facts::default());
        let mut not = judgement.not_judged.iter().flatten();
        assert!(not.any(|(rule, _)| *rule == RULE));
    }
}
