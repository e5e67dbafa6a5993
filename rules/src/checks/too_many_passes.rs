use lexer::law::Law;
use lexer::section::{Purpose, Role, RoleWord};

use super::split::{Split, is_v};
use super::text::{length, length_of_mm, number, quoted};
use super::{Context, Out, Rule, rule};
use crate::cut::passes::{BOOK, finishing_cut, first_step, least_step, plain_split};

rule! {
    /// # What it checks
    ///
    /// The thread is not cut in far more passes than a plain split needs, and not with more than
    /// three passes without new depth.
    ///
    /// # Why it matters
    ///
    /// Every pass costs its full stroke and return, however little it takes. A first cut that is too
    /// small makes the number explode, because passes of equal chips go with its square: half the
    /// first cut, four times the passes. Thin chips also wear the edge faster than thick ones.
    ///
    /// # The sum
    ///
    /// A plain split: first cut of a textbook table (0.35 mm for a pitch of 1 mm, 0.45 for 2, 0.6
    /// for 3, 0.75 for 4), depth n = first cut · √n with no step below 0.05 mm, a finishing cut of
    /// 0.05 mm and one spring pass, all of it finer below a pitch of 1 mm. Reported when the program
    /// makes more than twice as many passes and two, and more than twelve. The time is shown as an
    /// estimate for both.
    ///
    /// # What it needs
    ///
    /// Every pass of one start, and the crest. It does not judge the number where the control adds
    /// its own minimum cut, nor where the form is not one of 55° or 60°.
    ///
    /// # When it stays silent
    ///
    /// For chases and second cuts over the same thread, oil grooves, and a height that is off by a
    /// factor, which has its own rule.
    ///
    /// # Mend
    ///
    /// A larger first cut or minimum cut, fewer passes without new depth. Material, insert and part
    /// decide how far, so no fix is offered.
    ///
    /// # Source
    ///
    /// A table that many vocational textbooks print, from memory: an orientation for steel. The
    /// factor of two and the three spring passes are common practice, no source.
    "too-many-passes", Advice,
    "far more passes than a plain split needs, or more than three without new depth",
    fixes: false, needs_designation: false, check
}

const SPRINGS: usize = 3;
/// Up to this number nobody minds.
const NEVER_MANY: usize = 12;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(split) = Split::of(rule, cx, out) else {
        return;
    };
    springs(rule, cx, out);
    // Equal steps are counted by the words alone; a setting of the control only adds to them.
    let counted = cx.section.passes_certain
        || matches!(cx.section.cut.law, Law::Method { method: 3 | 4, .. });
    if !counted {
        return out.not_judged(
            rule,
            "the control's own minimum cut or finishing allowance is missing",
        );
    }
    if !is_v(cx) {
        return out.not_judged(rule, "a table of first steps for this form is missing");
    }
    let Some(height) = split.height.filter(|height| *height > 0.0) else {
        return out.not_judged(rule, Split::NO_CREST);
    };
    let count = per_start(cx, |_| true);
    let plain = plain_split(split.pitch, height).len();
    let limit = (2 * plain + 2).max(NEVER_MANY);
    if count <= limit {
        return;
    }
    let units = cx.section.units;
    let cuts = split.starts.iter().map(Vec::len).max().unwrap_or_default();
    let without = per_start(cx, |purpose| purpose == Purpose::Spring);
    let word = cx.section.word(Role::FirstCut);
    let mut finding = rule
        .found(
            word.map_or(cx.place(), |word| (word.span, word.line)),
            format!("{count} passes, where a plain split of this depth takes about {plain}"),
        )
        .because(format!(
            "{count} passes: {cuts} take depth, {without} at the depth of one before, {} in the air",
            count.saturating_sub(cuts + without)
        ));
    for (role, what) in [(Role::FirstCut, "first cut"), (Role::MinCut, "minimum cut")] {
        if let Some(word) = cx.section.word(role)
            && let Some(value) = word.length()
        {
            finding = finding.because(format!(
                "{}: {what} {}",
                quoted(cx.bytes, word.span, word.line),
                length(value, units)
            ));
        }
    }
    finding = finding.because(format!(
        "plain split of {} ({}) for a pitch of {}: first cut {}, no step below {}, finishing cut {}, \
         one spring pass: {plain} passes; reported above twice that and two, {limit}",
        length_of_mm(height, units),
        split.crest,
        length_of_mm(split.pitch, units),
        length_of_mm(first_step(split.pitch), units),
        length_of_mm(least_step(split.pitch), units),
        length_of_mm(finishing_cut(split.pitch), units)
    ));
    if let Some(seconds) = &cx.table.seconds {
        let all = seconds.total();
        finding = finding.because(format!(
            "{} s now, about {} s with {plain} passes ({})",
            number(all, 1),
            number(all * plain as f64 / count as f64, 1),
            cx.table.time_basis
        ));
    }
    out.push(finding.source(BOOK).help(
        "take a larger first cut and keep small steps for the end; insert and material decide",
    ));
}

fn springs(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let count = per_start(cx, |purpose| purpose == Purpose::Spring);
    if count <= SPRINGS {
        return;
    }
    let section = cx.section;
    let says: Option<&RoleWord> = match &section.cut.law {
        Law::SquareRoot { .. } => section.word(Role::Packed),
        Law::Power { .. } | Law::Counted { .. } => section.word(Role::SpringPasses),
        _ => None,
    };
    let place = says.map_or(cx.place(), |word| (word.span, word.line));
    let mut finding = rule.found(place, format!("{count} passes take no new depth"));
    finding = match says {
        Some(word) => finding.because(format!(
            "{}: {count} passes at a depth that was cut before",
            quoted(cx.bytes, word.span, word.line)
        )),
        None => finding.because(format!(
            "{count} passes end at a diameter that was cut before"
        )),
    };
    let seconds: Option<Vec<f64>> = cx.table.rows.iter().map(|row| row.seconds).collect();
    if let Some(last) = seconds.as_ref().and_then(|all| all.last()) {
        finding = finding.because(format!("each takes about {} s", number(*last, 1)));
    }
    out.push(
        finding
            .source("common practice, no source: one or two spring passes, none where the material hardens")
            .help("make one or two passes without new depth"),
    );
}

/// The number of passes with a purpose that the start with the most of them makes.
fn per_start(cx: &Context<'_>, wanted: impl Fn(Purpose) -> bool) -> usize {
    let mut counts: Vec<usize> = Vec::new();
    for (row, pass) in cx.table.rows.iter().zip(&cx.section.passes) {
        if row.start >= counts.len() {
            counts.resize(row.start + 1, 0);
        }
        counts[row.start] += usize::from(wanted(pass.purpose));
    }
    counts.into_iter().max().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, judged};
    use crate::facts::Facts;

    const RULE: &str = "too-many-passes";

    /// Strokes or boxes of M16×2 at these diameters.
    fn boxes(diameters: impl Iterator<Item = f64>) -> String {
        let mut text =
            "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X15.9 Z-42. F2.\n"
                .to_owned();
        for x in diameters {
            text += &format!("X{x:.3}\n");
        }
        text + "X13.546\nG0 X20.\n"
    }

    #[test]
    fn found_in_every_syntax() {
        let many = boxes((1..24).map(|n| 15.9 - f64::from(n) * 0.0981));
        let few = boxes([15.1, 14.6, 14.2, 13.9, 13.65].into_iter());
        assert_pairs(
            RULE,
            &[
                (&many, &few),
                (
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q20 R0.02\nG76 X27.546 Z-36. P1227 Q100 F2.\n",
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 Q50 R0.02\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                ),
                (
                    "G20\nT0404\nG97 S450 M3\nG0 X.9 Z.5\nG76 P010060 Q10 R20\nG76 X1.125 Z-1.1 P773 Q60 F.142857\n",
                    "G20\nT0404\nG97 S450 M3\nG0 X.9 Z.5\nG76 P010060 Q30 R20\nG76 X1.125 Z-1.1 P773 Q220 F.142857\n",
                ),
                (
                    "G20\nT0505\nG97 S900 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0020A60F.1P3\n",
                    "G20\nT0505\nG97 S900 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0100A60F.1P3\n",
                ),
                (
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.2 R2 K1.227 Q27\n",
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.36 R2 K1.227 Q27\n",
                ),
            ],
        );
    }

    #[test]
    fn too_many_spring_passes() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P050060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                    "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                ),
                (
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.36 R2 K1.227 Q27 H5\n",
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.36 R2 K1.227 Q27 H2\n",
                ),
                (
                    "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X15.1 Z-42. F2.\nX14.2\nX13.546\nX13.546\nX13.546\nX13.546\nX13.546\nG0 X20.\n",
                    "G21\nT0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nG92 X15.1 Z-42. F2.\nX14.2\nX13.546\nX13.546\nX13.546\nX13.546\nG0 X20.\n",
                ),
            ],
        );
        // The number of repeats is known although the minimum cut is the control's.
        let text = "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P060060\nG76 X27.546 Z-36. P1227 Q350 F2.\n";
        assert_eq!(findings(RULE, text).len(), 1);
    }

    #[test]
    fn starts_are_counted_one_by_one() {
        let cycle = |z: &str| {
            format!(
                "G0 X45. Z{z}\nG92 X39.4 Z-60. F6.\nX38.8\nX38.3\nX37.9\nX37.6\nX37.3\nX37.05\nX36.85\nX36.7\nX36.55\nX36.4\nX36.319\nX36.319\n"
            )
        };
        let text = format!(
            "G21\nT0303\n(THREAD M40XPH6P3-6G)\nG97 S300 M3\n{}{}G0 X150.\n",
            cycle("18."),
            cycle("21.")
        );
        assert!(findings(RULE, &text).is_empty());
    }

    #[test]
    fn silent_on_what_a_shop_does() {
        assert_silent(
            RULE,
            &[
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P020060 Q50 R0.05\nG76 X27.546 Z-36. P1227 Q250 F2.\n",
                // A few air passes, because the height counts from the start diameter.
                "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X31. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1727 Q350 F2.\n",
            ],
        );
    }

    #[test]
    fn settings_of_the_control_are_not_guessed() {
        for text in [
            "G21\nT0303 (M30X2-6G)\nG97 S900 M3\nG0 X34. Z8.\nG76 P010060 R0.05\nG76 X27.546 Z-36. P1227 Q100 F2.\n",
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
