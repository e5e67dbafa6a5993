use lexer::section::Side;

use super::hole_facts::{comments, says};
use super::text::quoted;
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// Whether a thread mill climbs or mills conventionally.
    ///
    /// # Why it matters
    ///
    /// Climb milling starts with the full chip and ends with none: the flanks come out cleaner and the
    /// edge lasts longer. Conventional milling rubs before it cuts; on weak set-ups and in hard or
    /// work-hardening metal it is chosen on purpose.
    ///
    /// # The sum
    ///
    /// With the spindle turning clockwise (M3) the cutter climbs counterclockwise in a hole and clockwise
    /// round a bolt, whichever way it goes along the axis. A right-hand thread in a hole is then milled
    /// upwards, out of it.
    ///
    /// # What it needs
    ///
    /// M3 or M4, and whether it is a hole or a bolt: by the side of the compensation, or by the way onto
    /// the helix.
    ///
    /// # When it stays silent
    ///
    /// When a comment near the tool says CONVENTIONAL, or the cutter climbs.
    ///
    /// # Mend
    ///
    /// Turn the arcs round and the direction along the axis with them, so that the hand stays. No fix is
    /// offered.
    ///
    /// # Source
    ///
    /// Geometry; that climb milling is the usual choice is common practice, no source.
    "climb-or-conventional", Advice,
    "a thread is milled conventionally",
    fixes: false, needs_designation: false, kinds: [Milled], check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(milling) = cx.section.milling.as_deref() else {
        return;
    };
    if let Some(why) = milling.climb.why() {
        return out.not_judged(rule, why.to_owned());
    }
    if milling.climb.get() != Some(false)
        || says(&comments(cx), &["CONVENTIONAL", "CONV", "GEGENLAUF"])
    {
        return;
    }
    let helices = milling.helices.first();
    let piece = helices.and_then(|helix| helix.pieces.first());
    let at = piece.map_or_else(|| cx.place(), |piece| (piece.block.span, piece.block.line));
    let round = if milling.counterclockwise {
        "counterclockwise"
    } else {
        "clockwise"
    };
    let place = match cx.side() {
        Some(Side::External) => "round a bolt",
        _ => "in a hole",
    };
    let mut finding = rule
        .found(at, "the thread is milled conventionally")
        .because(format!(
            "{}: {round} {place}, the cutter turning {}",
            quoted(cx.bytes, at.0, at.1),
            match cx.section.spindle.turning {
                Some(turning) => quoted(cx.bytes, turning.span, turning.line),
                None => "as the program says".into(),
            }
        ))
        .source("geometry; climb milling as the usual choice is common practice, no source")
        .help(
            "turn the arcs and the direction along the axis round, or write CONVENTIONAL into the \
             tool's comment where it is meant",
        );
    if let Some(turning) = cx.section.spindle.turning {
        finding = finding.related((turning.span, turning.line), "the spindle is started here");
    }
    out.push(finding);
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "climb-or-conventional";

    fn mill(spindle: &str, from: &str, arc: &str) -> String {
        format!(
            "G21 G90 G17 G94 G40\nT7 M6 (THREAD MILL)\nS2000 {spindle}\nG0 X0 Y0\nG43 H7 Z5.\nG1 Z{from} F500\nG1 X4. F200\n{arc}\nG1 X0\nG0 Z5.\nM30\n"
        )
    }

    #[test]
    fn found_and_mended() {
        let texts = [
            (mill("M3", "-10.5", "G2 Z-12. I-4."), mill("M3", "-12.", "G3 Z-10.5 I-4.")),
            (mill("M4", "-12.", "G3 Z-10.5 I-4."), mill("M4", "-10.5", "G2 Z-12. I-4.")),
            (
                mill("M03", "-10.5", "G02 X-4. Z-11.25 R4.\nX4. Z-12. R4."),
                mill("M03", "-12.", "G03 X-4. Z-11.25 R4.\nX4. Z-10.5 R4."),
            ),
            // Outside, with compensation: right of the path and left of it.
            (
                "G21 G90 G17 G94\nT7 M6 (THREAD MILL)\nS2000 M3\nG0 X40. Y0\nG1 Z-4. F500\nG42 D7 G1 X15. F200\nG3 Z-2. I-15.\nG40 G1 X40.\nG0 Z5.\nM30\n".into(),
                "G21 G90 G17 G94\nT7 M6 (THREAD MILL)\nS2000 M3\nG0 X40. Y0\nG1 Z-2. F500\nG41 D7 G1 X15. F200\nG2 Z-4. I-15.\nG40 G1 X40.\nG0 Z5.\nM30\n".into(),
            ),
            (
                "G20G90G17G94\nT7M6(THREADMILL)\nS2000M3\nG0X0Y0\nG1Z-.5F20.\nG1X.125F5.\nG2Z-.5625I-.125\nG1X0\nG0Z1.\nM30\n".into(),
                "G20G90G17G94\nT7M6(THREADMILL)\nS2000M3\nG0X0Y0\nG1Z-.5625F20.\nG1X.125F5.\nG3Z-.5I-.125\nG1X0\nG0Z1.\nM30\n".into(),
            ),
        ];
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b): &(String, String)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn silent_where_it_is_meant_or_not_known() {
        let text = mill("M3", "-10.5", "G2 Z-12. I-4.");
        assert_silent(
            RULE,
            &[
                &text.replace("THREAD MILL", "THREAD MILL, CONVENTIONAL"),
                &text.replace(" M3", ""),
            ],
        );
    }
}
