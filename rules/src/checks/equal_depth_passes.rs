use lexer::law::Law;
use lexer::section::Role;

use super::split::{CutPass, Split};
use super::text::{length_of_mm, mm, number, quoted};
use super::{Context, Out, Rule, rule};
use crate::cut::passes::{even_steps, first_step};

rule! {
    /// # What it checks
    ///
    /// The depth is not split into equal steps over most of the thread.
    ///
    /// # Why it matters
    ///
    /// The groove gets wider as it gets deeper, so that equal steps cut chips that grow from pass to
    /// pass: of six equal steps the last cuts eleven times the area of the first. The first passes
    /// waste time and the last ones overload the edge and bend the part.
    ///
    /// # The sum
    ///
    /// With a sharp V the chip area of pass n of equal steps is (2n − 1) times that of the first.
    /// Equal areas come from depth n = height · √(n / passes). Reported for four and more passes in
    /// a row whose steps differ by no more than 5 %, when they make up 0.6 of the depth and the
    /// largest chip is more than 1.6 times the mean.
    ///
    /// # What it needs
    ///
    /// The crest, from a designation or a height that counts from it. Without it, and for forms
    /// whose broad tip makes the chip rather than the flanks (trapezoidal, buttress, round), it does
    /// not judge.
    ///
    /// # When it stays silent
    ///
    /// For up to three passes, oil grooves, chases, spring passes; in cycles, unless their words ask
    /// for equal steps: method 3 or 4, degression 1, or a minimum cut as large as the first.
    ///
    /// # Mend
    ///
    /// Steps that get smaller as the tool goes in; the sum shows them for about the same number of
    /// passes. In a cycle: method 1 or 2, degression 2, a smaller minimum cut. No fix is offered,
    /// because the number of passes is the programmer's choice.
    ///
    /// # Source
    ///
    /// Plane geometry; chips of equal area are the common rule of the trade and of the cycles. The
    /// limits are our own choice, common practice, no source.
    "equal-depth-passes", Advice,
    "equal steps in depth make the chip grow from pass to pass",
    fixes: false, needs_designation: false, check
}

/// Steps in a row that count as a split into equal steps.
const IN_A_ROW: usize = 4;
const SAME: f64 = 0.05;
const OF_DEPTH: f64 = 0.6;
const OVER_MEAN: f64 = 1.6;
/// How far the first of even steps may lie over the books' before more passes are shown.
const OVER_BOOK: f64 = 1.25;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let asked = match &section.cut.law {
        Law::List => None,
        Law::Method { method: 3 | 4, .. }
        | Law::Counted {
            equal_areas: false, ..
        } => section.word(Role::Method),
        Law::Power { degression, .. } if *degression <= 1.0 => section
            .word(Role::Degression)
            .or_else(|| section.word(Role::FirstCut)),
        Law::SquareRoot { first, min, .. } if section.passes_certain => {
            let (Some(first), Some(min)) = (first.get(), min.get()) else {
                return;
            };
            if min < first {
                return;
            }
            section.word(Role::MinCut)
        }
        _ => return,
    };
    let Some(split) = Split::of(rule, cx, out) else {
        return;
    };
    let Some(start) = split.starts.iter().max_by_key(|cuts| cuts.len()) else {
        return;
    };
    if start.len() < IN_A_ROW {
        return;
    }
    let areas: Option<Vec<f64>> = start.iter().map(|cut| cut.area).collect();
    let (Some(height), Some(areas)) = (split.height.filter(|h| *h > 0.0), areas) else {
        let why = match split.height {
            Some(_) => "a rule for chips of this form is missing",
            None => Split::NO_CREST,
        };
        return out.not_judged(rule, why);
    };
    let Some(run) = longest_run(start) else {
        return;
    };
    let taken: f64 = run.iter().filter_map(|cut| cut.step).sum();
    let mean = areas.iter().sum::<f64>() / areas.len() as f64;
    let largest = areas.iter().copied().fold(0.0, f64::max);
    if taken < OF_DEPTH * height || largest <= OVER_MEAN * mean {
        return;
    }
    let area = |cut: &CutPass<'_>| cut.area.unwrap_or_default();
    let heaviest = start.iter().max_by(|a, b| area(a).total_cmp(&area(b)));
    let heaviest = heaviest.unwrap_or(&start[0]);
    let word = asked.or_else(|| heaviest.word(cx));
    let place = word.map_or((heaviest.pass.span, heaviest.pass.line), |word| {
        (word.span, word.line)
    });
    let units = section.units;
    let first_area = areas[0];
    let mut finding = rule.found(
        place,
        format!(
            "{} passes of {} each: the chip grows from {} to {} mm²",
            run.len(),
            length_of_mm(taken / run.len() as f64, units),
            number(first_area, 3),
            number(largest, 3)
        ),
    );
    if let Some(word) = asked {
        let asks = match word.role {
            Role::MinCut => "a minimum cut as large as the first leaves no degression",
            Role::Method => "this method cuts equal steps",
            Role::Degression => "degression 1 cuts equal steps",
            _ => "without a degression word R the steps are equal",
        };
        finding = finding.because(format!(
            "{}: {asks}",
            quoted(cx.bytes, word.span, word.line)
        ));
    }
    let list = |values: &[f64]| {
        let texts: Vec<String> = values.iter().take(24).map(|value| mm(*value)).collect();
        let more = if values.len() > 24 { ", …" } else { "" };
        format!("{}{more}", texts.join(", "))
    };
    let steps: Vec<f64> = start.iter().filter_map(|cut| cut.step).collect();
    let even = even_steps(height, even_count(height, split.pitch, start.len()));
    out.push(
        finding
            .because(format!("steps, mm: {}", list(&steps)))
            .because(format!(
                "chip areas, mm²: {}; pass {} cuts {} times the first",
                list(&areas),
                heaviest.number,
                number(largest / first_area, 1)
            ))
            .because(format!(
                "height {} ({}) in {} passes of equal chips by depth = height · √(n / {}): steps, \
                 mm: {}",
                length_of_mm(height, units),
                split.crest,
                even.len(),
                even.len(),
                list(&even)
            ))
            .source(
                "plane geometry of the V; equal chips: common practice of the trade and its cycles",
            )
            .help("make the steps smaller from pass to pass"),
    );
}

/// The longest row of passes with the same step, where it is long enough.
fn longest_run<'s, 'a>(cuts: &'s [CutPass<'a>]) -> Option<&'s [CutPass<'a>]> {
    let mut best = 0..0;
    let (mut from, mut smallest, mut largest) = (0, f64::INFINITY, 0.0_f64);
    for (at, cut) in cuts.iter().enumerate() {
        let Some(step) = cut.step else {
            (from, smallest, largest) = (at + 1, f64::INFINITY, 0.0);
            continue;
        };
        (smallest, largest) = (smallest.min(step), largest.max(step));
        if largest - smallest > SAME * largest {
            (from, smallest, largest) = (at, step, step);
        }
        if at + 1 - from > best.len() {
            best = from..at + 1;
        }
    }
    (best.len() >= IN_A_ROW).then(|| &cuts[best])
}

/// The number of passes of equal chips: as many as there are, more where the first would be far
/// deeper than books say.
fn even_count(height: f64, pitch: f64, now: usize) -> usize {
    let first = OVER_BOOK * first_step(pitch);
    let enough = (height / first).powi(2).ceil() as usize;
    now.max(enough.min(100))
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, judged};
    use crate::facts::Facts;

    const RULE: &str = "equal-depth-passes";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nX15.5\nG32 Z-42. F2.\nG0 X20.\nZ8.\nX15.\nG32 Z-42. F2.\nG0 X20.\nZ8.\nX14.5\nG32 Z-42. F2.\nG0 X20.\nZ8.\nX14.\nG32 Z-42. F2.\nG0 X20.\nZ8.\nX13.546\nG32 Z-42. F2.\n",
                    "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nX14.9\nG32 Z-42. F2.\nG0 X20.\nZ8.\nX14.4\nG32 Z-42. F2.\nG0 X20.\nZ8.\nX14.05\nG32 Z-42. F2.\nG0 X20.\nZ8.\nX13.75\nG32 Z-42. F2.\nG0 X20.\nZ8.\nX13.546\nG32 Z-42. F2.\n",
                ),
                (
                    "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X15.6 Z-42. F2.\nX15.2\nX14.8\nX14.4\nX14.\nX13.6\nX13.546\nX13.546\nG0 X20.\n",
                    "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X15.1 Z-42. F2.\nX14.6\nX14.25\nX14.\nX13.8\nX13.6\nX13.546\nX13.546\nG0 X20.\n",
                ),
                (
                    "G20 G90 G95\nT0303\n(THREAD 1-8 UNC-2A)\nG97 S500 M3\nG0 X1.2 Z.4\nG78 X.97 Z-1.5 F.125\nX.94\nX.91\nX.88\nX.85\nG0 X2.\n",
                    "G20 G90 G95\nT0303\n(THREAD 1-8 UNC-2A)\nG97 S500 M3\nG0 X1.2 Z.4\nG78 X.94 Z-1.5 F.125\nX.91\nX.887\nX.867\nX.85\nG0 X2.\n",
                ),
                (
                    "G20\nT0505\nG97 S900 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0100A60F.1P3\n",
                    "G20\nT0505\nG97 S900 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0100A60F.1P1\n",
                ),
                (
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.2 R1 K1.227 Q27\n",
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                ),
                (
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.2 K1.227 Q27\n",
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.2 K1.227 Q27 R2\n",
                ),
                (
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q150 R0.05\nG76 X27.546 Z-36. P1227 Q150 F2.\n",
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                ),
                (
                    "G21\nT0404\n(THREAD M36X3-6H)\nG97 S700 M3\nG0 X31. Z10.\nG92 X33.3 Z-27. F3.\nX33.85\nX34.4\nX34.95\nX35.5\nX36.\nG0 Z50.\n",
                    "G21\nT0404\n(THREAD M36X3-6H)\nG97 S700 M3\nG0 X31. Z10.\nG92 X33.9 Z-27. F3.\nX34.6\nX35.1\nX35.5\nX35.8\nX36.\nG0 Z50.\n",
                ),
            ],
        );
    }

    #[test]
    fn silent_on_what_a_shop_does() {
        assert_silent(
            RULE,
            &[
                // Three passes.
                "G21\nT0303\n(THREAD M8X1-6G)\nG97 S900 M3\nG0 X10. Z5.\nG92 X7.6 Z-12. F1.\nX7.2\nX6.8\nX6.8\nG0 X20.\n",
                // Equal small steps at the end of a falling split.
                "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X15.1 Z-42. F2.\nX14.6\nX14.2\nX14.\nX13.9\nX13.8\nX13.7\nX13.6\nX13.546\nG0 X20.\n",
                // Spring passes, a chase, an oil groove.
                "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X15.1 Z-42. F2.\nX14.\nX13.546\nX13.546\nX13.546\nX13.546\nG0 X20.\n",
                "G21\nT0505 (OIL GROOVE)\nG97 S60 M3\nG0 X84. Z2.\nX85.4\nG32 Z-14. F32.\nG0 X84.\nZ2.\nX85.8\nG32 Z-14. F32.\nG0 X84.\nZ2.\nX86.2\nG32 Z-14. F32.\nG0 X84.\nZ2.\nX86.6\nG32 Z-14. F32.\nG0 X84.\nZ2.\nX87.\nG32 Z-14. F32.\nG0 X84.\n",
                // The minimum cut takes over late.
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q100 R0.05\nG76 X27.546 Z-36. P1227 Q250 F2.\n",
            ],
        );
    }

    #[test]
    fn not_judged_without_a_crest() {
        let text = "G21\nT0303\nG97 S900 M3\nG0 X21.3 Z8.\nG92 X17.2 Z-42. F2.2\nX16.8\nX16.4\nX16.\nX15.6\nG0 X20.\n";
        let judgement = judged(text, &Facts::default());
        assert!(
            judgement
                .findings
                .iter()
                .all(|finding| finding.rule != RULE)
        );
        let mut not = judgement.not_judged.iter().flatten();
        assert!(not.any(|(rule, why)| *rule == RULE && why.contains("crest")));
    }
}
