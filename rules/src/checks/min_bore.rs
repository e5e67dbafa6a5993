use lexer::section::Side;
use lexer::source::Span;
use lexer::units::{Diameter, Length};

use super::surroundings::{SAME, cut_by};
use super::text::{length, length_of_mm};
use super::{Context, Out, Rule, rule};
use crate::finding::Finding;

rule! {
    /// # What it checks
    ///
    /// The bore of an internal thread is as large as the tool needs, with room left behind it when
    /// the tool leaves the thread.
    ///
    /// # Why it matters
    ///
    /// A bar that is too thick for its bore rubs on the far wall as soon as the tip is in the
    /// thread, or is pressed into it by the retract. It bends, the thread becomes oval, and the
    /// insert breaks on the way back.
    ///
    /// # The sum
    ///
    /// bore against the smallest bore of the tool, `min_bore_mm`. A tool that just goes into a bore of
    /// that size reaches as far back from its tip. With the tip at the diameter X its back stands at
    /// X / 2 - min_bore on the other side of the axis, so it is clear of the wall as long as
    /// X >= 2 · min_bore - bore.
    ///
    /// # What it needs
    ///
    /// A `[[tool]]` that the T word or a comment stands for, with `min_bore_mm`; and the bore: turned
    /// in the same program before the thread, or else the minor diameter of the stated thread.
    ///
    /// # When it stays silent
    ///
    /// For external threads, and where the program turned the bore with jumps or variables.
    ///
    /// # Mend
    ///
    /// A thinner bar, or less retract: the smallest that leaves the crest. Nothing is written for
    /// you.
    ///
    /// # Source
    ///
    /// The tool's entry in the configuration; geometry of a circle in a circle (derived).
    "min-bore", Error,
    "the bore is too small for the tool, or for its retract",
    fixes: false, needs_designation: true, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    if cx.side() != Some(Side::Internal) || cx.section.is_facing() {
        return;
    }
    let Some((tool, least)) = cx
        .identified
        .tool
        .as_ref()
        .and_then(|tool| Some((tool, tool.min_bore_mm?)))
    else {
        return;
    };
    let Some(bore) = bore(cx) else {
        return out.not_judged(
            rule,
            "the bore is missing: neither turned in this program nor known from a designation",
        );
    };
    let units = cx.section.units;
    let own = bore.x.mm();
    let text = |mm: f64| length(Length::from_mm(mm), units);
    let cite = format!("{}: {}", tool.cite("min_bore_mm"), text(least));
    let close = |finding: Finding| {
        finding
            .because(cite.clone())
            .because(bore.by.clone())
            .source("the tool's entry in the configuration; geometry (derived)")
    };
    if own < least - SAME {
        return out.push(
            close(rule.found(
                place(cx),
                format!(
                    "the tool needs a bore of {}, this one has {}",
                    text(least),
                    text(own)
                ),
            ))
            .help("take a thinner bar, or compare the tool in the turret with its entry"),
        );
    }
    let Some(start) = cx.section.cut.start_x.get().map(Diameter::abs) else {
        return;
    };
    // The back of the bar behind the axis, with the tip retracted.
    let room = 2.0 * least - own;
    if start.mm() < room - SAME {
        let beyond = length_of_mm((room - start.mm()) / 2.0, units);
        out.push(
            close(rule.found(
                place(cx),
                format!(
                    "retracted to {}, the back of the tool stands {beyond} deep in the far wall of the bore",
                    length(start.0, units)
                ),
            ))
            .because(format!(
                "2 · {} - {} = {}: the tip may go back to there",
                text(least),
                text(own),
                text(room)
            ))
            .help("retract less: just clear of the crest"),
        );
    }
}

fn place(cx: &Context<'_>) -> (Span, u32) {
    let tool = cx.section.tool.map(|tool| (tool.span, tool.line));
    tool.unwrap_or_else(|| cx.place())
}

/// A bore and where it is known from.
struct Bore {
    x: Diameter,
    by: String,
}

fn bore(cx: &Context<'_>) -> Option<Bore> {
    let contour = cx.contour();
    let units = cx.section.units;
    if contour.doubt.is_none() && !contour.is_unknown(Side::Internal) {
        let cut = &cx.section.cut;
        let (start, end) = (cut.start_z.get()?, cut.end_z.get()?);
        // Neither the chamfer at its mouth nor the relief at its end.
        let middle = Length::from_pm(start.pm().midpoint(end.pm()));
        if let Some(surface) = contour.inner_at(middle) {
            return Some(Bore {
                x: surface.x.abs(),
                by: format!(
                    "{}: bore {}",
                    cut_by(cx, surface.by),
                    length(surface.x.abs().0, units)
                ),
            });
        }
    }
    let thread = cx.thread()?;
    let minor = thread.basic().minor;
    Some(Bore {
        x: Diameter::from_mm(minor),
        by: format!(
            "minor diameter of {}: {}",
            thread.designation(),
            length(Length::from_mm(minor), units)
        ),
    })
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs_with, facts_of, judged_with};

    const RULE: &str = "min-bore";

    /// M36x2: minor diameter 36 - 1.0825 · 2 = 33.835 by ISO 724.
    #[test]
    fn found_in_every_syntax() {
        let facts = facts_of("[[tool]]\nnumber = 4\nmin_bore_mm = 33\n");
        let cycle = |start: &str, bore: &str| {
            format!(
                "G21\n{bore}T0404\nG97 S500 M3\nG0 X{start} Z8.\nG76 P020055 Q60 R0.03\nG76 X36. Z-28. P1083 Q300 F2.\nG0 Z100.\nM30\n"
            )
        };
        let named = "(THREAD M36X2-6H)\n";
        let bored = "T0202\nG96 S150 M3\nG0 X33.835 Z2.\nG1 Z-40. F0.15\nG0 X30.\nZ100.\nX100.\n";
        let narrow = bored.replace("33.835", "32.5");
        let boxes = |start: &str| {
            format!(
                "G21\n{named}T0404\nG97 S500 M3\nG0 X{start} Z8.\nG92 X34.6 Z-28. F2.\nX35.4\nX36.\nG0 Z100.\nM30\n"
            )
        };
        let strokes = |start: &str| {
            let pass = |x: &str| format!("X{x}\nG32 Z-28. F2.\nG0 X{start}\nZ8.\n");
            format!(
                "G21\n{named}T0404\nG97 S500 M3\nG0 X{start} Z8.\n{}{}{}G0 Z100.\nM30\n",
                pass("34.6"),
                pass("35.4"),
                pass("36.")
            )
        };
        let one = |start: &str| {
            format!(
                "G21\n{named}T0404\nG97 S500 M3\nG0 X{start} Z8.\nG76 X36. Z-28. K1.083 D0300 A55 F2.\nG0 Z100.\nM30\n"
            )
        };
        // The crest lies I from the start.
        let line = |start: &str, to_crest: &str| {
            format!(
                "; THREAD M36x2-6H\nG21 G18 G7 G90\nT4 M6\nG97 S500 M3\nG0 X{start} Z8\nG76 P2 Z-28 I{to_crest} J0.35 R2 K2.166 Q27\nG0 Z100\nM2\n"
            )
        };
        // 2 · 33 - 33.835 = 32.165 is the smallest retract.
        for (bad, good) in [
            (cycle("31.", named), cycle("32.5", named)),
            (cycle("32.4", &narrow), cycle("32.5", bored)),
            (boxes("30."), boxes("33.")),
            (strokes("32."), strokes("32.2")),
            (one("31."), one("33.")),
            (line("31", "2.835"), line("32.5", "1.335")),
        ] {
            assert_pairs_with(RULE, &facts, &[(&bad, &good)]);
        }
        let found = judged_with(RULE, &cycle("31.", named), &facts);
        let sum = "2 · 33 mm - 33.835 mm = 32.165 mm";
        assert!(
            found[0].because.iter().any(|line| line.contains(sum)),
            "{found:?}"
        );
    }

    #[test]
    fn silent_without_the_fact_and_outside() {
        let facts = facts_of("[[tool]]\nnumber = 4\nkind = \"full\"\n");
        let text = "G21\n(THREAD M36X2-6H)\nT0404\nG97 S500 M3\nG0 X20. Z8.\nG92 X34.6 Z-28. F2.\nX36.\nG0 Z100.\nM30\n";
        assert!(judged_with(RULE, text, &facts).is_empty());
        let facts = facts_of("[[tool]]\nnumber = 4\nmin_bore_mm = 40\n");
        let bolt = "G21\n(THREAD M36X2-6G)\nT0404\nG97 S500 M3\nG0 X40. Z8.\nG92 X35. Z-28. F2.\nX33.546\nG0 X100.\nM30\n";
        assert!(judged_with(RULE, bolt, &facts).is_empty());
    }
}
