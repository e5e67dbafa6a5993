use lexer::section::{Move, Pass, Side, Syntax};
use lexer::units::{Diameter, Length};

use super::surroundings::{SAME, Surroundings, at_z, cut_by, place};
use super::text::{length, length_of_mm};
use super::{Context, Out, Rule, rule, stages};
use crate::finding::Finding;

rule! {
    /// # What it checks
    ///
    /// The way back between the passes runs clear of the material: at a diameter outside of what
    /// was turned, and not slantwise from the end of the thread to its start.
    ///
    /// # Why it matters
    ///
    /// The way back is a rapid along the whole thread. A block that moves X and Z together cuts the
    /// corner: the tool is still in the groove when it is already on its way, and tears the threads
    /// off. A return below the turned diameter ploughs along the part.
    ///
    /// # The sum
    ///
    /// Diameter of the return against the turned diameter in front of the thread's end. For a
    /// slanted way: it begins at the depth of the pass and ends nearer to the start of the thread.
    ///
    /// # What it needs
    ///
    /// The moves between hand-written strokes; for cycles the start diameter and the surface turned
    /// in the same program.
    ///
    /// # When it stays silent
    ///
    /// For a slanted way out forwards, away from the thread, for one that begins outside of the
    /// material after a chained pull-out, and where nothing says how large the blank is. A return
    /// inside the crest of a known thread is told by start-inside-crest.
    ///
    /// # Mend
    ///
    /// Retract in X alone, then return along Z; or start at a larger diameter (a smaller one in a
    /// bore).
    ///
    /// # Source
    ///
    /// Plane geometry on the programmed moves.
    "return-in-material", Error,
    "the way back between the passes is not clear of the material",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    if let Some(finding) = slanted(rule, cx) {
        return out.push(finding);
    }
    let Some(around) = Surroundings::of(rule, cx, out) else {
        return;
    };
    let (Some((crest, crest_by)), Some(clear)) = (around.crest(), around.clear) else {
        return;
    };
    // A start diameter on the thread's own side of the crest only; the others have their rules.
    let known = match around.side {
        Side::External => cx.table.crest.is_some_and(|known| clear < known.abs()),
        Side::Internal => cx.table.crest.is_some_and(|known| clear > known.abs()),
    };
    let inside = around.out_of(crest, clear);
    if known
        || inside <= SAME
        || stages::is_approach(cx)
        || around.out_of(clear, around.root) <= 0.0
    {
        return;
    }
    let units = cx.section.units;
    let what = match around.side {
        Side::External => "turned",
        Side::Internal => "bored",
    };
    out.push(
        rule.found(
            stages::start_place(cx),
            format!(
                "the tool returns at {}, {} inside the {what} diameter of {}",
                length(clear.0, units),
                length_of_mm(inside, units),
                length(crest.0, units)
            ),
        )
        .because(format!(
            "{}: {what} to {}",
            cut_by(cx, crest_by),
            length(crest.0, units)
        ))
        .because(format!(
            "start and return at {}: every return runs along the thread there",
            length(clear.0, units)
        ))
        .related(place(crest_by), "the surface is cut here")
        .source("arithmetic on the contour that the program turns")
        .help("start clear of the material; every pass returns at the start diameter"),
    );
}

/// A rapid from the depth of a pass that moves X and Z together towards the start.
fn slanted(rule: &Rule, cx: &Context<'_>) -> Option<Finding> {
    let section = cx.section;
    if section.syntax != Syntax::Strokes {
        return None;
    }
    let direction = section.feed_direction()?;
    let side = cx.side()?;
    let units = section.units;
    let (pass, way) = section.passes.iter().enumerate().find_map(|(at, pass)| {
        let way = section.moves.iter().find(|m| m.after_pass == at + 1)?;
        leaves_slanted(pass, way, side, direction).then_some((pass, way))
    })?;
    let (x, z) = (way.from.0?.abs(), way.from.1?);
    Some(
        rule.found(
            (way.span, way.line),
            format!(
                "the way back moves X and Z together from {} at {}: it cuts through the thread",
                length(x.0, units),
                at_z(z, cx)
            ),
        )
        .because(format!(
            "the pass of line {} ends at {}, {}; the rapid goes to {}, {}",
            pass.line,
            length(x.0, units),
            at_z(z, cx),
            way.to.0.map_or_else(String::new, |x| length(x.abs().0, units)),
            way.to.1.map_or_else(String::new, |z| at_z(z, cx)),
        ))
        .source("plane geometry on the programmed moves; how a control interpolates rapids differs, none of the ways is clear")
        .help("retract in X alone, then return along Z"),
    )
}

fn leaves_slanted(pass: &Pass, way: &Move, side: Side, direction: i64) -> bool {
    let (Some(x), Some(z_end), Some(from_x), Some(from_z), Some(to_x), Some(to_z)) = (
        pass.x.map(Diameter::abs),
        pass.z_end,
        way.from.0.map(Diameter::abs),
        way.from.1,
        way.to.0.map(Diameter::abs),
        way.to.1,
    ) else {
        return false;
    };
    let near = |a: Length, b: Length| (a - b).abs().mm() <= SAME;
    let out = match side {
        Side::External => to_x > from_x,
        Side::Internal => to_x < from_x,
    };
    // A chained pull-out has already left the groove.
    let at_depth = near(from_x.0, x.0) && near(from_z, z_end) && pass.legs.len() < 2;
    let back = ((to_z - from_z) * direction).mm();
    let lead = pass.lead.map_or(1.0, |lead| lead.mm().abs());
    way.rapid && at_depth && out && back < -lead
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "return-in-material";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F2.\nG0 X34. Z8.\nX27.546\nG32 Z-30. F2.\nG0 X34. Z8.\n",
                    "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-30. F2.\nG0 X34.\nZ8.\n",
                ),
                // Distances, in a bore.
                (
                    "G21 G90 G95\nG92 S2000\nT0303\nG97 S800 M3\nG0 X31. Z8.\nX33.6\nG33 Z-26. F3.\nG0 X31. Z8.\nX36.\nG33 Z-26. F3.\nG0 X31.\nZ8.\n",
                    "G21 G90 G95\nG92 S2000\nT0303\nG97 S800 M3\nG0 X31. Z8.\nX33.6\nG33 Z-26. F3.\nG0 X31.\nZ8.\nX36.\nG33 Z-26. F3.\nG0 X31.\nZ8.\n",
                ),
                // The blank is larger than the start of the cycle.
                (
                    "G21\nT0101\nG0 X38. Z2.\nG1 X38. Z-50. F0.2\nG0 X60. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
                    "G21\nT0101\nG0 X29.9 Z2.\nG1 Z-50. F0.2\nG0 X60. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
                ),
                (
                    "G20\nT0101\nG97 S700 M3\nG0X.95Z.1\nG1Z-2.F.008\nG0X1.5\nG0X4.Z4.\nT0505\nG0X.9Z.4\nG76X.6273Z-1.5K.0613D0150A60F.1\nG0X4.\n",
                    "G20\nT0101\nG97 S700 M3\nG0X.75Z.1\nG1Z-2.F.008\nG0X1.5\nG0X4.Z4.\nT0505\nG0X.9Z.4\nG76X.6273Z-1.5K.0613D0150A60F.1\nG0X4.\n",
                ),
                (
                    "G21\nT0202\nG97 S700 M3\nG0 X30. Z2.\nG1 Z-32. F0.15\nG0 X28. Z5.\nG0 X150. Z150.\nT0404\nG0 X31. Z10.\nG92 X34. Z-26. F3.\nX35.\nX36.\nG0 Z50.\nM30\n",
                    "G21\nT0202\nG97 S700 M3\nG0 X33. Z2.\nG1 Z-32. F0.15\nG0 X28. Z5.\nG0 X150. Z150.\nT0404\nG0 X31. Z10.\nG92 X34. Z-26. F3.\nX35.\nX36.\nG0 Z50.\nM30\n",
                ),
            ],
        );
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // Out forwards into the free.
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F2.\nG0 X34. Z-31.\nZ8.\nX27.546\nG32 Z-30. F2.\nG0 X34. Z-31.\nZ8.\n",
                // Pulled out in step, then straight back.
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F2.\nG32 X34. Z-33. F2.\nG0 X36. Z8.\nX27.546\nG32 Z-30. F2.\nG32 X34. Z-33. F2.\nG0 X36. Z8.\n",
                // No blank known.
                "G21\nT0303\nG97 S800 M3\nG0 X30.5 Z8.\nG92 X29. Z-30. F2.\nX27.546\nG0 X100.\n",
            ],
        );
    }
}
