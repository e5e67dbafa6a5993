use lexer::section::{Pass, Role};
use lexer::units::Length;

use super::surroundings::{SAME, Surroundings, at_z, cut_by, place};
use super::text::{length_of_mm, number};
use super::{Context, Out, Rule, rule};
use crate::cut::drive::{TIME_CONSTANT, lag, speed};
use crate::finding::Severity;

rule! {
    /// # What it checks
    ///
    /// The stroke goes on far enough into the relief: the axis slows down before the programmed end,
    /// and there the lead is short.
    ///
    /// # Why it matters
    ///
    /// At the end of the stroke the axis has to stop while the spindle turns on. Over the distance
    /// by which it lags behind, the thread gets narrower and the tool cuts into its own flank. In
    /// the relief that does no harm; in the last full threads the gauge binds.
    ///
    /// # The sum
    ///
    /// Run-out = axis speed × time constant = lead × rpm / 60 × τ, against the distance from the
    /// groove's edge to the end of the stroke.
    ///
    /// # What it needs
    ///
    /// A relief that the same program turns along a contour, lead and speed. With
    /// `servo_time_constant_s` of the machine a warning, without it (τ = 1/30 s) an advice.
    ///
    /// # When it stays silent
    ///
    /// Without a relief, with a pull-out, in grooves of unknown width, and where the stroke ends
    /// before the groove, which has its own rule.
    ///
    /// # Mend
    ///
    /// End the stroke deeper in the groove, widen the groove, or turn slower.
    ///
    /// # Source
    ///
    /// Derived from the first-order model of the drive; τ = 1/30 s from memory of control manuals.
    "run-out-short", Warning,
    "the stroke ends too near behind the edge of the relief",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(around) = Surroundings::of(rule, cx, out) else {
        return;
    };
    let Some((crest, _)) = around.crest() else {
        return;
    };
    let Some(lead) = cx.section.cut.lead.get().map(|lead| lead.mm().abs()) else {
        return out.not_judged(rule, "the lead is missing");
    };
    if around.pull_out(cx).is_none_or(|pull_out| pull_out > 0.0) {
        return;
    }
    let back = Length::from_mm(3.0 * lead) * around.direction;
    let range = (around.not_before(crest, around.end - back), around.end);
    let Some(relief) = around.contour.relief(around.side, range, crest) else {
        return;
    };
    let edge = if around.direction > 0 {
        relief.z.0
    } else {
        relief.z.1
    };
    let has = around.ahead(edge, around.end);
    if relief.plunged || has <= 0.0 || around.out_of(relief.x, around.root) > SAME {
        return;
    }
    let fastest = |pass: &Pass| pass.spindle.rpm();
    let Some(rpm) = cx
        .section
        .passes
        .iter()
        .filter_map(fastest)
        .max_by(f64::total_cmp)
    else {
        return out.not_judged(rule, "a constant spindle speed is missing");
    };
    let (constant, source) = cx.fact(
        |machine| machine.servo_time_constant,
        "servo_time_constant_s",
        TIME_CONSTANT,
    );
    let need = lag(speed(lead, rpm), constant);
    if has + SAME >= need {
        return;
    }
    let known = cx
        .facts
        .machine
        .as_ref()
        .is_some_and(|machine| machine.servo_time_constant.is_some());
    let units = cx.section.units;
    let word = cx.section.word(Role::EndZ);
    out.push(
        rule.found(
            word.map_or(cx.place(), |word| (word.span, word.line)),
            format!(
                "the stroke ends {} behind the edge of the relief, the axis needs about {} to stop",
                length_of_mm(has, units),
                length_of_mm(need, units)
            ),
        )
        .severity(if known {
            Severity::Warning
        } else {
            Severity::Advice
        })
        .because(format!(
            "{} mm × {} / 60 × {} s = {} mm ({source})",
            number(lead, 4),
            number(rpm, 0),
            number(constant, 4),
            number(need, 2)
        ))
        .because(format!(
            "{}: the groove begins at {}; the stroke ends at {}",
            cut_by(cx, relief.by),
            at_z(edge, cx),
            at_z(around.end, cx)
        ))
        .related(place(relief.by), "the relief is cut here")
        .source("derived from the lag of the axis; τ = 1/30 s from memory of control manuals")
        .help("end the stroke farther inside the groove, or turn slower"),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, judged_with};
    use crate::facts::{Facts, Machine};
    use crate::finding::Severity;

    const RULE: &str = "run-out-short";
    const SHAFT: &str = "G21\nT0101\nG96 S180 M3\nG0 X26. Z2.\nG1 Z0. F0.2\nX29.9 Z-2.\nZ-30.\nX26.6 Z-31.\nZ-36.\nX46.\nZ-60.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\n";

    #[test]
    fn found_in_every_syntax() {
        let bodies = [
            "G76 P020060 Q60 R0.03\nG76 X27.546 Z-@ P1227 Q350 F2.\nM30\n",
            "X29.\nG32 Z-@ F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-@ F2.\nG0 X34.\nZ8.\n",
            "G76 P020060 Q60 R0.03\nG76 X26.93 Z-@ P1534 Q350 F2.5\nM30\n",
            "X29.\nG32 Z-@ F1.5\nG0 X34.\nZ8.\nX28.1\nG32 Z-@ F1.5\nG0 X34.\nZ8.\n",
            "G97 S1500\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-@ P1227 Q350 F2.\nM30\n",
        ];
        let mut texts: Vec<(String, String)> = bodies
            .iter()
            .map(|body| {
                (
                    format!("{SHAFT}{}", body.replace('@', "31.3")),
                    format!("{SHAFT}{}", body.replace('@', "33.")),
                )
            })
            .collect();
        // G-code system B: absolute and per turn by their own codes.
        let system_b = SHAFT.replace("G21\n", "G21 G90 G95\nG92 S2000\n");
        let strokes = "X29.\nG33 Z-@ F2.\nG0 X34.\nZ8.\nX27.546\nG33 Z-@ F2.\nG0 X34.\nZ8.\n";
        texts.push((
            format!("{system_b}{}", strokes.replace('@', "31.3")),
            format!("{system_b}{}", strokes.replace('@', "33.")),
        ));
        let texts: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &texts);
    }

    /// Lead 2 at 800 1/min and τ = 0.02 s, by hand: 0.533 mm.
    #[test]
    fn the_machine_decides() {
        let facts = Facts {
            machine: Some(Machine {
                id: "lathe-2".into(),
                servo_time_constant: Some(0.02),
                ..Machine::default()
            }),
            source: "flankwise.toml: machine \"lathe-2\"".into(),
            ..Facts::default()
        };
        let text = |end: &str| {
            format!("{SHAFT}G76 P020060 Q60 R0.03\nG76 X27.546 Z-{end} P1227 Q350 F2.\nM30\n")
        };
        let found = judged_with(RULE, &text("31.4"), &facts);
        assert_eq!(found[0].severity, Severity::Warning);
        assert!(found[0].because[0].contains("0.53 mm"), "{found:?}");
        assert!(judged_with(RULE, &text("31.6"), &facts).is_empty());
    }

    #[test]
    fn silent_on_legal_programs() {
        let pull_out =
            format!("{SHAFT}G76 P021060 Q60 R0.03\nG76 X27.546 Z-31.3 P1227 Q350 F2.\nM30\n");
        assert_silent(
            RULE,
            &[
                &pull_out,
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-31.3 P1227 Q350 F2.\nM30\n",
            ],
        );
    }
}
