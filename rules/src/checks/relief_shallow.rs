use lexer::section::Role;
use lexer::units::Length;

use super::surroundings::{SAME, Surroundings, at_z, cut_by, place};
use super::text::{length, length_of_mm};
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// The relief at the end of the thread is turned deeper than the root of the thread.
    ///
    /// # Why it matters
    ///
    /// In a relief that is too shallow the tool goes on cutting at full depth up to the shoulder
    /// and stops there in the material: a ring, a torn last turn, a chipped nose.
    ///
    /// # The sum
    ///
    /// Last diameter of the thread against the diameter of the groove's bottom.
    ///
    /// # What it needs
    ///
    /// A relief that the same program turns around the end of the stroke, along a contour or by a
    /// plunge.
    ///
    /// # When it stays silent
    ///
    /// Where the stroke does not end in the groove, for grooves across a thread and seats of rings,
    /// which have no shoulder behind them, for a step of the shaft, tapered threads, oil grooves.
    ///
    /// # Mend
    ///
    /// Turn the groove deeper than the root, by a tenth or two of a millimetre.
    ///
    /// # Source
    ///
    /// Arithmetic on the programmed contour; the diameters of reliefs in DIN 76-1 and ISO 4755 lie
    /// below the root in the same way (their tables are not repeated here).
    "relief-shallow", Warning,
    "the relief is not as deep as the thread",
    fixes: false, needs_designation: false, check
}

/// Widest plunge in mm of a grooving tool.
const TOOL: f64 = 6.0;

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
    // A groove around the end: the stroke ends in it or runs through it.
    let back = Length::from_mm(3.0 * lead) * around.direction;
    let range = (around.not_before(crest, around.end - back), around.end);
    let Some(relief) = around.contour.relief(around.side, range, crest) else {
        return;
    };
    // The stroke ends in it; how wide a plunge is, the tool decides.
    let room = if relief.plunged { TOOL } else { 0.5 };
    let (near, far) = if around.direction > 0 {
        relief.z
    } else {
        (relief.z.1, relief.z.0)
    };
    let holds_end =
        around.ahead(near, around.end) >= -room && around.ahead(around.end, far) >= -room;
    let shallow = around.out_of(relief.x, around.root);
    if shallow <= SAME || !holds_end || !around.is_undercut(&relief, crest) {
        return;
    }
    let units = cx.section.units;
    let word = cx.section.word(Role::EndX);
    out.push(
        rule.found(
            place(relief.by),
            format!(
                "the relief ends at {}, the thread goes {} deeper, to {}",
                length(relief.x.0, units),
                length_of_mm(shallow, units),
                length(around.root.0, units)
            ),
        )
        .because(format!(
            "{}: bottom of the groove at {}",
            cut_by(cx, relief.by),
            length(relief.x.0, units)
        ))
        .because(format!(
            "the deepest pass ends at {}, {}",
            length(around.root.0, units),
            at_z(around.end, cx)
        ))
        .related(
            word.map_or(cx.place(), |word| (word.span, word.line)),
            "the thread's last diameter",
        )
        .source("arithmetic on the contour that the program turns; DIN 76-1, ISO 4755 for reliefs")
        .help("turn the groove deeper than the root of the thread by a tenth or two"),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "relief-shallow";

    #[test]
    fn found_in_every_syntax() {
        let shaft = |x: &str| {
            format!(
                "G21\nT0101\nG96 S180 M3\nG0 X26. Z2.\nG1 Z0. F0.2\nX29.9 Z-2.\nZ-30.\nX{x} Z-31.\nZ-36.\nX46.\nZ-60.\nG0 X100. Z100.\n"
            )
        };
        let plunge = |x: &str| {
            format!(
                "G21\nT0101\nG96 S180 M3\nG0 X30. Z2.\nG1 Z-38. F0.2\nX46.\nZ-60.\nG0 X100. Z100.\nT0202\nG0 X48. Z-38.\nG1 X{x} F0.08\nZ-36.\nX48.\nG0 X100. Z100.\n"
            )
        };
        let cycle = |x: &str| {
            format!(
                "G21\nT0101\nG96 S180 M3\nG0 X30. Z2.\nG1 Z-36. F0.2\nX46.\nZ-60.\nG0 X100. Z100.\nT0202\nG0 X48. Z-36.\nG75 R0.5\nG75 X{x} P2000 F0.08\nG0 X100. Z100.\n"
            )
        };
        let two = "T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n";
        let strokes = "T0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-36. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-36. F2.\nG0 X34.\nZ8.\n";
        let boxes =
            "T0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nX27.546\nG0 X100.\n";
        let one =
            "T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 X27.546 Z-34. K1.227 D0350 A60 F2.\nG0 X100.\n";
        let bore = |x: &str| {
            format!(
                "G21\nT0202\nG97 S700 M3\nG0 X33. Z2.\nG1 Z-26. F0.15\nX{x}\nZ-32.\nX20.\nG0 Z5.\nG0 X150. Z150.\nT0404\nG0 X31. Z10.\nG92 X34. Z-28. F3.\nX35.\nX36.\nG0 Z50.\nM30\n"
            )
        };
        let pairs = [
            (shaft("28."), shaft("27.")),
            (plunge("28."), plunge("27.")),
            (cycle("28."), cycle("27.")),
            (shaft("27.8"), shaft("27.3")),
        ];
        let bodies = [two, strokes, boxes, one];
        let mut texts: Vec<(String, String)> = pairs
            .into_iter()
            .zip(bodies)
            .map(|((bad, good), body)| (bad + body, good + body))
            .collect();
        texts.push((bore("35.4"), bore("36.4")));
        let texts: Vec<(&str, &str)> = texts
            .iter()
            .map(|(bad, good)| (bad.as_str(), good.as_str()))
            .collect();
        assert_pairs(RULE, &texts);
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // The shaft goes on thinner behind the thread.
                "G21\nT0101\nG96 S180 M3\nG0 X29.9 Z2.\nG1 Z-30. F0.2\nG0 X32.\nG0 X100. Z100.\nT0202\nG0 X28. Z-60.\nG1 Z-30. F0.2\nG0 X60.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-32. P1227 Q350 F2.\nM30\n",
                // A groove for a lock across the thread.
                "G21\nT0101\nG96 S180 M3\nG0 X29.9 Z2.\nG1 Z-40. F0.2\nX46.\nG0 X100. Z100.\nT0202\nG0 X48. Z-32.\nG1 X28.5 F0.08\nG0 X48.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P021060 Q60 R0.03\nG76 X27.546 Z-35. P1227 Q350 F2.\nM30\n",
                // The groove is a seat for a ring far behind the thread.
                "G21\nT0101\nG96 S180 M3\nG0 X29.9 Z2.\nG1 Z-80. F0.2\nX46.\nG0 X100. Z100.\nT0202\nG0 X48. Z-60.\nG1 X28.5 F0.08\nG0 X48.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-32. P1227 Q350 F2.\nM30\n",
            ],
        );
    }
}
