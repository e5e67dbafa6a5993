use lexer::law::Law;

use super::split::{CutPass, Split};
use super::text::{length_of_mm, number};
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// No pass in the middle of a list takes a chip more than twice as large as the passes on both
    /// sides of it.
    ///
    /// # Why it matters
    ///
    /// A pass that somebody deleted, or a digit that slipped, leaves a step in the list. The cutting
    /// force jumps there; the nose breaks late in the thread, when the part is nearly done.
    ///
    /// # The sum
    ///
    /// Chip area of a pass = area of the V down to its depth less the area down to the depth before.
    ///
    /// # What it needs
    ///
    /// A list of passes and the crest of the thread.
    ///
    /// # When it stays silent
    ///
    /// For the first and the last cut, which have their own rules, for cycles, whose law makes the
    /// steps, and below 0.05 mm².
    ///
    /// # Mend
    ///
    /// Divide the step, or put the missing pass back.
    ///
    /// # Source
    ///
    /// Areas: plane geometry. Twice: our own choice, common practice, no source.
    "load-spike", Warning,
    "one pass in the middle takes more than twice the chip of its neighbours",
    fixes: false, needs_designation: false, check
}

/// How many times the chip of both neighbours.
const TIMES: f64 = 2.0;
/// Chips below this in mm² break nothing.
const SMALL: f64 = 0.05;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    if !matches!(cx.section.cut.law, Law::List) {
        return;
    }
    let Some(split) = Split::of(rule, cx, out) else {
        return;
    };
    if split.height.is_none() {
        if split.starts.iter().any(|cuts| cuts.len() >= 4) {
            out.not_judged(rule, Split::NO_CREST);
        }
        return;
    }
    let spike = split
        .starts
        .iter()
        .filter(|cuts| cuts.len() >= 4)
        .flat_map(|cuts| cuts.windows(3))
        .find(|three| is_spike(three));
    let Some([before, cut, behind]) = spike else {
        return;
    };
    let area = |cut: &CutPass<'_>| cut.area.unwrap_or_default();
    let units = cx.section.units;
    let word = cut.word(cx);
    let step = |cut: &CutPass<'_>| {
        cut.step
            .map_or_else(String::new, |step| length_of_mm(step, units))
    };
    out.push(
        rule.found(
            word.map_or((cut.pass.span, cut.pass.line), |word| {
                (word.span, word.line)
            }),
            format!(
                "pass {} takes a chip of {} mm², {} times that of the pass before",
                cut.number,
                number(area(cut), 3),
                number(area(cut) / area(before).max(1e-6), 1)
            ),
        )
        .because(format!(
            "pass {}: {} deep, {} mm²; pass {}: {}, {} mm²; pass {}: {}, {} mm²",
            before.number,
            step(before),
            number(area(before), 3),
            cut.number,
            step(cut),
            number(area(cut), 3),
            behind.number,
            step(behind),
            number(area(behind), 3)
        ))
        .because(format!("depths below the crest: {}", split.crest))
        .source("areas: plane geometry; twice the neighbours: common practice, no source")
        .help("divide the step, or see whether a pass is missing"),
    );
}

fn is_spike(three: &[CutPass<'_>]) -> bool {
    let [before, cut, behind] = three else {
        return false;
    };
    let (Some(a), Some(b), Some(c)) = (before.area, cut.area, behind.area) else {
        return false;
    };
    a > 0.0 && c > 0.0 && b > SMALL && b > TIMES * a && b > TIMES * c
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "load-spike";

    #[test]
    fn found_in_every_syntax() {
        let boxes = |head: &str, code: &str, xs: &[&str]| {
            format!(
                "{head}T0303\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\n{code} X{} Z-30. F2.\nX{}\nG0 X100.\nM30\n",
                xs[0],
                xs[1..].join("\nX")
            )
        };
        let strokes = |head: &str, code: &str, xs: &[&str]| {
            let mut text = format!("{head}T0303\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\n");
            for x in xs {
                text.push_str(&format!("X{x}\n{code}\nG0 X34.\nZ8.\n"));
            }
            text + "M30\n"
        };
        let good = ["29.3", "28.75", "28.35", "28.05", "27.8", "27.62", "27.546"];
        // 28.35 left out.
        let bad = ["29.3", "28.9", "28.7", "28.05", "27.85", "27.65", "27.546"];
        let b = "G21 G90 G95\nG92 S2000\n";
        let pairs = [
            (boxes("G21\n", "G92", &bad), boxes("G21\n", "G92", &good)),
            (boxes(b, "G78", &bad), boxes(b, "G78", &good)),
            (
                boxes("G71\nG90 G95\n", "G21", &bad),
                boxes("G71\nG90 G95\n", "G21", &good),
            ),
            (
                strokes("G21\n", "G32 Z-30. F2.", &bad),
                strokes("G21\n", "G32 Z-30. F2.", &good),
            ),
            (
                strokes(b, "G33 Z-30. F2.", &bad),
                strokes(b, "G33 Z-30. F2.", &good),
            ),
        ];
        let pairs: Vec<(&str, &str)> = pairs
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // Growing chips, a light finish, no crest.
                "G21\nT0303\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29.6 Z-30. F2.\nX29.2\nX28.8\nX28.4\nX28.\nX27.6\nX27.546\nG0 X100.\n",
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29.3 Z-30. F1.9\nX28.9\nX28.7\nX28.05\nX27.85\nX27.65\nX27.3\nG0 X100.\n",
            ],
        );
    }
}
