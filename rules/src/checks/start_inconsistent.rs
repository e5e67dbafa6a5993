use lexer::law::Law;
use lexer::section::{Pass, Syntax};
use lexer::units::Length;

use super::surroundings::at_z;
use super::text::{length_of_mm, number};
use super::{Context, Out, Rule, rule};
use crate::finding::Severity;

rule! {
    /// # What it checks
    ///
    /// All passes of a list start at the same place along the axis, or shift as an infeed along the
    /// flank does.
    ///
    /// # Why it matters
    ///
    /// The place where a stroke starts is the place of its groove in the turn. One pass that starts
    /// half a millimetre elsewhere cuts beside the groove: half the thread is gone.
    ///
    /// # The sum
    ///
    /// Shift = start of the pass − start of the others, without whole leads, which change nothing.
    ///
    /// # What it needs
    ///
    /// A list of boxes or strokes of which at least three in five start at one place, and the lead.
    ///
    /// # When it stays silent
    ///
    /// For infeed along the flank or in zigzag, threads of several starts, passes that take no depth
    /// and shift to widen the groove or to smooth a flank, shifts below 0.02 mm.
    ///
    /// # Mend
    ///
    /// Start every pass at the same Z.
    ///
    /// # Source
    ///
    /// Arithmetic on the programmed starts.
    "start-inconsistent", Error,
    "a pass starts at another place of the turn than the others",
    fixes: false, needs_designation: false, check
}

/// Shifts below this in mm are rounding.
const ROUNDING: f64 = 0.02;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let listed = matches!(section.syntax, Syntax::Strokes | Syntax::Box)
        && matches!(section.cut.law, Law::List);
    if !listed || section.cut.starts > 1 || section.chase || cx.is_groove() {
        return;
    }
    let Some(lead) = section.cut.lead.get().map(|lead| lead.mm().abs()) else {
        return out.not_judged(rule, "the lead is missing");
    };
    if lead <= 0.0
        || section
            .passes
            .iter()
            .any(|pass| pass.start_angle.is_some_and(|q| q != 0))
    {
        return;
    }
    let starts: Vec<(Length, &Pass)> = section
        .passes
        .iter()
        .filter_map(|pass| Some((pass.z_start?, pass)))
        .collect();
    let Some(usual) = usual(&starts) else {
        return;
    };
    let shift = |z: Length| {
        let turns = (z - usual).mm() / lead;
        (turns - turns.round()) * lead
    };
    let takes = |pass: &Pass| pass.step.is_none_or(|step| step.mm() > 0.0);
    let odd: Vec<&(Length, &Pass)> = starts
        .iter()
        .filter(|(z, pass)| shift(*z).abs() > ROUNDING && takes(pass))
        .collect();
    let Some(&&(z, pass)) = odd.first() else {
        return;
    };
    let last = starts
        .last()
        .is_some_and(|(_, last)| last.line == pass.line);
    let by = shift(z);
    let mut finding = rule.found(
        (pass.span, pass.line),
        format!(
            "the pass of line {} starts at {}, the others at {}: its groove lies {} beside theirs",
            pass.line,
            at_z(z, cx),
            at_z(usual, cx),
            length_of_mm(by.abs(), section.units)
        ),
    );
    // The last may smooth one flank on purpose, if it is by little.
    if last && odd.len() == 1 && by.abs() < 0.1 * lead {
        finding = finding.severity(Severity::Warning);
    }
    out.push(
        finding
            .because(format!(
                "{} of {} passes start at {}",
                starts.iter().filter(|(z, _)| *z == usual).count(),
                starts.len(),
                at_z(usual, cx)
            ))
            .because(format!(
                "shift of {} over a lead of {} mm: {}° of the turn",
                length_of_mm(by, section.units),
                number(lead, 4),
                number(360.0 * by / lead, 1)
            ))
            .source("arithmetic on the programmed starts")
            .help("start every pass at the same Z, or shift all of them with their depth"),
    );
}

/// The start that at least three in five of at least three passes have.
fn usual(starts: &[(Length, &Pass)]) -> Option<Length> {
    let mut sorted: Vec<Length> = starts.iter().map(|(z, _)| *z).collect();
    sorted.sort_unstable();
    let middle = *sorted.get(sorted.len() / 2)?;
    let count = sorted.iter().filter(|z| **z == middle).count();
    (count >= 3 && count * 5 >= sorted.len() * 3).then_some(middle)
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "start-inconsistent";

    fn strokes(code: &str, head: &str, zs: &[&str]) -> String {
        let mut text = format!("{head}T0303\nG97 S800 M3\nG0 X34. Z8.\n");
        for (at, z) in zs.iter().enumerate() {
            text.push_str(&format!(
                "G0 X34. Z{z}\nX{}\n{code} Z-30. F2.\nG0 X34.\n",
                ["29.3", "28.7", "28.3", "28.", "27.7", "27.546"][at]
            ));
        }
        text
    }

    #[test]
    fn found_in_every_syntax() {
        let a = "G21\n";
        let b = "G21 G90 G95\nG92 S2000\n";
        let good = ["8."; 6];
        let mut pairs = vec![
            (
                strokes("G32", a, &["8.", "8.", "8.5", "8.", "8.", "8."]),
                strokes("G32", a, &good),
            ),
            (
                strokes("G33", b, &["8.", "8.", "8.", "8.", "7.", "8."]),
                strokes("G33", b, &good),
            ),
            // A whole lead more is the same place.
            (
                strokes("G32", a, &["8.", "8.", "8.", "9.", "8.", "8."]),
                strokes("G32", a, &["8.", "8.", "8.", "10.", "8.", "8."]),
            ),
        ];
        let boxes = |z: &str| {
            format!(
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29.3 Z-30. F2.\nX28.7\nX28.3\nX28.\nG0 X34. Z{z}\nG92 X27.7 Z-30. F2.\nX27.546\nG0 X100.\n"
            )
        };
        pairs.push((boxes("8.4"), boxes("8.")));
        pairs.push((
            boxes("8.4")
                .replace("G21\n", "G21 G90 G95\nG92 S2000\n")
                .replace("G92 X", "G78 X"),
            boxes("8.")
                .replace("G21\n", "G21 G90 G95\nG92 S2000\n")
                .replace("G92 X", "G78 X"),
        ));
        let pairs: Vec<(&str, &str)> = pairs
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn silent_on_legal_programs() {
        let a = "G21\n";
        assert_silent(
            RULE,
            &[
                // Along the flank, in zigzag, all different.
                &strokes("G32", a, &["8.", "7.83", "7.71", "7.62", "7.54", "7.49"]),
                &strokes("G32", a, &["8.", "8.17", "8.", "8.17", "8.", "8.17"]),
                // The groove is widened without new depth.
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX28.\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-30. F2.\nG0 X34.\nZ8.1\nX27.546\nG32 Z-30. F2.\nG0 X34.\n",
            ],
        );
    }
}
