use lexer::contour::Segment;
use lexer::section::Side;
use lexer::units::Length;

use super::surroundings::{SAME, Surroundings, at_z, cut_by, place};
use super::text::length;
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// The relief in front of a shoulder is cut before the thread that ends in it.
    ///
    /// # Why it matters
    ///
    /// Cut first, the thread ends in full material in front of the shoulder: the tool stops at full
    /// depth in its own groove. The relief that comes after it throws a burr into the last thread.
    ///
    /// # The sum
    ///
    /// Order of the cuts; the relief's bottom lies below the crest, within three leads of the end of
    /// the stroke.
    ///
    /// # What it needs
    ///
    /// Shoulder, thread and relief in one program.
    ///
    /// # When it stays silent
    ///
    /// Without a shoulder, where the thread may come first; for a pull-out, where the tool leaves the
    /// material by itself; for reliefs that were roughed before and are only finished after.
    ///
    /// # Mend
    ///
    /// Put the grooving tool before the threading tool.
    ///
    /// # Source
    ///
    /// Common practice, no source.
    "relief-after-thread", Advice,
    "the relief is cut after the thread that ends in it",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(around) = Surroundings::of(rule, cx, out) else {
        return;
    };
    let (Some((crest, _)), Some(lead)) = (around.crest(), cx.section.cut.lead.get()) else {
        return;
    };
    if around.pull_out(cx).is_none_or(|pull_out| pull_out > 0.0) {
        return;
    }
    let lead = lead.mm().abs();
    let reach = Length::from_mm(3.0 * lead) * around.direction;
    let middle = around.start + (around.end - around.start).half();
    let walled = around
        .contour
        .shoulder(around.side, middle, around.direction, crest)
        .is_some_and(|wall| around.ahead(around.end, wall.z) < 3.0 * lead + SAME);
    let (from, to) = (around.end - reach, around.end + reach);
    let before = around
        .contour
        .relief(around.side, (around.not_before(crest, from), to), crest);
    if !walled || before.is_some() {
        return;
    }
    let (low, high) = (from.min(to), from.max(to));
    let groove = |cut: &&Segment| {
        let (z_low, z_high) = cut.z_range();
        let (x_low, x_high) = cut.x_range();
        let bottom = match around.side {
            Side::External => x_low,
            Side::Internal => x_high,
        };
        cut.side == Some(around.side)
            && (cut.is_wall() || cut.is_cylinder())
            && z_high >= low
            && z_low <= high
            && around.out_of(crest, bottom) > 0.1
    };
    let Some(later) = around.contour.after.iter().copied().find(groove) else {
        return;
    };
    let (x_low, x_high) = later.x_range();
    let bottom = match around.side {
        Side::External => x_low,
        Side::Internal => x_high,
    };
    out.push(
        rule.found(
            place(later),
            format!(
                "the relief to {} is cut after the thread that ends in it at {}",
                length(bottom.0, cx.section.units),
                at_z(around.end, cx)
            ),
        )
        .because(format!("{}: behind the thread", cut_by(cx, later)))
        .related(cx.place(), "the thread ends here, in full material")
        .source("common practice, no source")
        .help("cut the relief before the thread"),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "relief-after-thread";

    #[test]
    fn found_in_every_syntax() {
        let shaft = "G21\nT0101\nG96 S180 M3\nG0 X27. Z2.\nG1 Z0. F0.2\nX29.9 Z-2.\nZ-36.\nX46.\nZ-60.\nG0 X100. Z100.\n";
        let groove = "T0202\nG0 X48. Z-36.\nG1 X26.4 F0.08\nG0 X48.\nG0 X100. Z100.\n";
        let cycle = "T0202\nG0 X48. Z-36.\nG75 R0.5\nG75 X26.4 P2000 F0.08\nG0 X100. Z100.\n";
        let two = "T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nG0 X100. Z100.\n";
        let strokes = "T0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-34. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-34. F2.\nG0 X100.\n";
        let system_b = |text: &str| {
            text.replace("G21\n", "G21 G90 G95\nG92 S2000\n")
                .replace("G32", "G33")
        };
        let bore =
            "G21\nT0505\nG97 S700 M3\nG0 X33. Z2.\nG1 Z-32. F0.15\nX20.\nG0 Z5.\nG0 X150. Z150.\n";
        let inner = "T0202\nG0 X30. Z5.\nZ-32.\nG1 X36.6 F0.08\nG0 X30.\nZ5.\nG0 X150. Z150.\n";
        let nut = "T0404\nG97 S650 M3\nG0 X31. Z12.\nX33.4\nG32 Z-30. F3.\nG0 X31.\nZ12.\nX36.\nG32 Z-30. F3.\nG0 X31.\nZ12.\nG0 Z50.\nG0 X150. Z150.\n";
        let pairs = [
            (
                format!("{shaft}{two}{groove}M30\n"),
                format!("{shaft}{groove}{two}M30\n"),
            ),
            (
                format!("{shaft}{strokes}{groove}M30\n"),
                format!("{shaft}{groove}{strokes}M30\n"),
            ),
            (
                format!("{shaft}{two}{cycle}M30\n"),
                format!("{shaft}{cycle}{two}M30\n"),
            ),
            (
                system_b(&format!("{shaft}{strokes}{groove}M30\n")),
                system_b(&format!("{shaft}{groove}{strokes}M30\n")),
            ),
            (
                format!("{bore}{nut}{inner}M30\n"),
                format!("{bore}{inner}{nut}M30\n"),
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
                // No shoulder: the groove is for something else.
                "G21\nT0101\nG96 S180 M3\nG0 X27. Z2.\nG1 Z0. F0.2\nX29.9 Z-2.\nZ-80.\nG0 X46.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nG0 X100. Z100.\nT0202\nG0 X48. Z-36.\nG1 X26.4 F0.08\nG0 X48.\nM30\n",
                // A pull-out.
                "G21\nT0101\nG96 S180 M3\nG0 X27. Z2.\nG1 Z0. F0.2\nX29.9 Z-2.\nZ-36.\nX46.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P021060 Q60 R0.03\nG76 X27.546 Z-33. P1227 Q350 F2.\nG0 X100. Z100.\nT0202\nG0 X48. Z-36.\nG1 X26.4 F0.08\nG0 X48.\nM30\n",
            ],
        );
    }
}
