use lexer::contour::Relief;
use lexer::section::Role;
use lexer::units::Length;

use super::surroundings::{SAME, Surroundings, at_z, cut_by, place};
use super::text::{length_of_mm, number};
use super::{Context, Out, Rule, rule};
use crate::finding::Severity;

rule! {
    /// # What it checks
    ///
    /// The thread runs into the relief that was turned for it: the stroke ends inside the groove,
    /// and a pull-out begins no earlier than the groove.
    ///
    /// # Why it matters
    ///
    /// A pull-out that begins in front of the groove leaves shallow threads there, so that the nut
    /// does not come up to the shoulder, although the groove was made for it. A stroke that ends in
    /// front of the groove leaves a ring of full diameter.
    ///
    /// # The sum
    ///
    /// Start of the pull-out = end of the stroke − length of the pull-out (tenths of a lead × lead).
    /// Both are compared with the nearer edge of the groove's bottom.
    ///
    /// # What it needs
    ///
    /// A relief that the same program turns along a contour, and the pull-out in the program. The
    /// width of a groove that was plunged depends on the tool, which the program does not tell; it
    /// is then judged only where 6 mm more of groove would not help.
    ///
    /// # When it stays silent
    ///
    /// Without a relief, where the pull-out is a setting of the control (boxes), for threads that
    /// start in the relief, tapered threads and oil grooves.
    ///
    /// # Mend
    ///
    /// A pull-out of 00 where there is a relief, or the end of the stroke inside the groove.
    ///
    /// # Source
    ///
    /// Arithmetic on the programmed contour; DIN 76-1 and ISO 4755 give the widths of reliefs (their
    /// tables are not repeated here). 6 mm as the widest grooving tool: common practice, no source.
    "pull-out-vs-relief", Warning,
    "the pull-out begins, or the stroke ends, before the relief",
    fixes: false, needs_designation: false, check
}

/// Widest plunge in mm of a grooving tool.
const TOOL: f64 = 6.0;

/// How far behind the end of a stroke, in leads, a groove still belongs to it.
const REACH: f64 = 3.0;

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
    let reach = Length::from_mm(REACH * lead) * around.direction;
    let range = (
        around.not_before(crest, around.end - reach),
        around.end + reach,
    );
    let Some(relief) = around.contour.relief(around.side, range, crest) else {
        return;
    };
    // The relief at the start of a thread that runs outwards is not its end.
    if around.ahead(around.start, far(&relief, -around.direction)) < lead {
        return;
    }
    let edge = far(&relief, -around.direction);
    let units = cx.section.units;
    let room = if relief.plunged { TOOL } else { 0.0 };
    let short = around.ahead(around.end, edge) - room;
    let end = cx.section.word(Role::EndZ);
    let at = end.map_or(cx.place(), |word| (word.span, word.line));
    let finding = if short > SAME {
        rule.found(
            at,
            format!(
                "the stroke ends {} before the relief: at {}, the groove begins at {}",
                length_of_mm(around.ahead(around.end, edge), units),
                at_z(around.end, cx),
                at_z(edge, cx)
            ),
        )
        .help("end the stroke inside the groove")
    } else {
        let Some(pull_out) = around.pull_out(cx) else {
            return;
        };
        let begins = around.ahead(around.end, edge) + pull_out;
        if begins - room <= 0.1 * lead || pull_out <= 0.0 {
            return;
        }
        let word = cx.section.word(Role::Packed);
        rule.found(
            word.map_or(at, |word| (word.span, word.line)),
            format!(
                "the pull-out begins {} before the relief: {} of incomplete thread in front of the \
                 groove",
                length_of_mm(begins, units),
                length_of_mm(begins, units)
            ),
        )
        .because(format!(
            "pull-out {} long ({} leads), so it begins that much before {}",
            length_of_mm(pull_out, units),
            number(pull_out / lead, 2),
            at_z(around.end, cx)
        ))
        .severity(Severity::Warning)
        .help("with a relief no pull-out is needed: 00, or end farther inside the groove")
    };
    let mut finding = finding.because(format!(
        "{}: the bottom of the relief begins at {}",
        cut_by(cx, relief.by),
        at_z(edge, cx)
    ));
    if relief.plunged {
        finding = finding.because(format!(
            "the groove is wider than its plunges by the tool; {} were allowed for",
            length_of_mm(TOOL, units)
        ));
    }
    out.push(
        finding
            .related(place(relief.by), "the relief is cut here")
            .source("arithmetic on the contour that the program turns; DIN 76-1, ISO 4755 for the widths"),
    );
}

/// The end of the groove's bottom in a direction.
fn far(relief: &Relief<'_>, direction: i64) -> Length {
    if direction > 0 {
        relief.z.1
    } else {
        relief.z.0
    }
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "pull-out-vs-relief";
    const SHAFT: &str = "G21\nT0101\nG96 S180 M3\nG0 X26. Z2.\nG1 Z0. F0.2\nX29.9 Z-2.\nZ-30.\nX26.6 Z-31.\nZ-36.\nX46.\nZ-60.\nG0 X100. Z100.\n";

    fn twins(bad: &str, good: &str) -> (String, String) {
        (format!("{SHAFT}{bad}"), format!("{SHAFT}{good}"))
    }

    #[test]
    fn found_in_every_syntax() {
        let mut pairs = vec![
            // A pull-out of 1.5 leads in front of the groove; and a stroke that is too short.
            twins(
                "T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P021560 Q60 R0.03\nG76 X27.546 Z-32. P1227 Q350 F2.\nM30\n",
                "T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-32. P1227 Q350 F2.\nM30\n",
            ),
            twins(
                "T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-28. P1227 Q350 F2.\nM30\n",
                "T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-33. P1227 Q350 F2.\nM30\n",
            ),
            twins(
                "T0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-29. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-29. F2.\nG0 X34.\nZ8.\n",
                "T0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-33. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-33. F2.\nG0 X34.\nZ8.\n",
            ),
            twins(
                "T0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-27.5 F2.\nX28.\nX27.546\nG0 X100.\n",
                "T0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-34. F2.\nX28.\nX27.546\nG0 X100.\n",
            ),
        ];
        pairs.push((
            "G20\nT0101\nG97 S700 M3\nG0X.75Z.1\nG1Z-1.F.006\nX.62\nZ-1.2\nX1.\nG0X4.Z4.\nT0404\nG0X.9Z.4\nG76X.6273Z-.92K.0613D0150A60F.1\nG0Z2.\n".into(),
            "G20\nT0101\nG97 S700 M3\nG0X.75Z.1\nG1Z-1.F.006\nX.62\nZ-1.2\nX1.\nG0X4.Z4.\nT0404\nG0X.9Z.4\nG76X.6273Z-1.1K.0613D0150A60F.1\nG0Z2.\n".into(),
        ));
        let pairs: Vec<(&str, &str)> = pairs
            .iter()
            .map(|(bad, good)| (bad.as_str(), good.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn silent_on_legal_programs() {
        let outwards = format!(
            "{SHAFT}T0303\nG97 S300 M4\nG0 X50. Z-33.\nG0 X29.3\nG32 Z3. F2.\nG0 X50.\nZ-33.\nX27.546\nG32 Z3. F2.\nG0 X50.\n"
        );
        assert_silent(
            RULE,
            &[
                &outwards,
                // A plunged groove of unknown width.
                "G21\nT0101\nG96 S180 M3\nG0 X30. Z2.\nG1 Z-36. F0.2\nX46.\nZ-50.\nG0 X100. Z100.\nT0202\nG0 X48. Z-36.\nG1 X26.4 F0.08\nG0 X48.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P021060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
                // No relief: a pull-out is the usual thing.
                "G21\nT0101\nG96 S180 M3\nG0 X30. Z2.\nG1 Z-60. F0.2\nG0 X46.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P021060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
            ],
        );
    }
}
