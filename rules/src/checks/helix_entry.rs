use lexer::section::milling::{Approach, Helix};

use super::text::{length_of_mm, number, quoted};
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// Whether the arcs onto and off a milled thread advance along the axis as the thread does.
    ///
    /// # Why it matters
    ///
    /// On the entry arc the cutter is already in the groove. If it does not advance there as the helix
    /// does, or advances too much, it cuts a step into the flank where the thread begins.
    ///
    /// # The sum
    ///
    /// advance of the arc = lead · degrees / 360, with the degrees that the tool turns about the axis of
    /// the thread, not about the centre of the arc: a quarter arc that starts at half the radius turns
    /// 45° about the axis and advances lead / 8; a half circle that starts on the far side turns 180°
    /// and advances lead / 2. The usual rule of shops takes the arc's own angle instead: a quarter of
    /// the lead on a quarter arc. Both pass, and what lies between them, to a tenth of the lead.
    ///
    /// # What it needs
    ///
    /// An arc right in front of the helix or right behind it.
    ///
    /// # When it stays silent
    ///
    /// Straight ways onto the helix.
    ///
    /// # Mend
    ///
    /// The word along the axis of the arc, and of the move before it: no fix is offered.
    ///
    /// # Source
    ///
    /// Geometry: angle about the axis. The rule of the arc's own angle is common practice, no source; the
    /// tenth is our own choice.
    "helix-entry", Warning,
    "the arc onto or off a milled thread does not advance with it",
    fixes: false, needs_designation: false, kinds: [Milled], check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(milling) = cx.section.milling.as_deref() else {
        return;
    };
    for helix in &milling.helices {
        let ways = [(helix.entry, "onto", "begins"), (helix.exit, "off", "ends")];
        for (approach, word, edge) in ways {
            if let Some(arc) = approach.filter(|approach| approach.arc)
                && !fits(helix, &arc)
            {
                one(rule, cx, helix, &arc, (word, edge), out);
            }
        }
    }
}

/// The advance that the angle about the axis asks for, mm.
fn wanted(helix: &Helix, arc: &Approach) -> f64 {
    helix.pitch_mm() * arc.degrees / 360.0
}

/// Whether the advance is that of the angle about the axis, that of the arc's own angle, or between.
fn fits(helix: &Helix, arc: &Approach) -> bool {
    let pitch = helix.pitch_mm();
    let tolerance = 0.1 * pitch.abs() + 1e-6;
    let (rise, exact) = (arc.rise.mm(), wanted(helix, arc));
    let by_the_arc = pitch * arc.own_degrees / 360.0 * arc.degrees.signum();
    let (low, high) = (exact.min(by_the_arc), exact.max(by_the_arc));
    (low - tolerance..=high + tolerance).contains(&rise)
}

fn one(
    rule: &Rule,
    cx: &Context<'_>,
    helix: &Helix,
    arc: &Approach,
    (word, edge): (&str, &str),
    out: &mut Out,
) {
    let units = cx.section.units;
    let at = (arc.block.span, arc.block.line);
    let wanted = wanted(helix, arc);
    out.push(
        rule.found(
            at,
            format!(
                "the arc {word} the thread advances {}, it should be {}: the thread {edge} with a \
                 step",
                length_of_mm(arc.rise.mm(), units),
                length_of_mm(wanted, units)
            ),
        )
        .because(format!(
            "{}: {}° about its own centre, {}° about the axis of the thread",
            quoted(cx.bytes, at.0, at.1),
            number(arc.own_degrees, 1),
            number(arc.degrees, 1)
        ))
        .because(format!(
            "{} · {} / 360 = {}",
            length_of_mm(helix.pitch_mm(), units),
            number(arc.degrees, 1),
            length_of_mm(wanted, units)
        ))
        .source("angle about the axis of the thread (geometry)")
        .help("let the arc advance by the lead times its angle about the axis over 360°"),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "helix-entry";

    fn mill(start: &str, entry: &str, exit: &str) -> String {
        format!(
            "G21 G90 G17 G94 G40\nT7 M6 (THREAD MILL)\nS2000 M3\nG0 {start}\nG43 H7 Z5.\nG1 Z-14. F500\n{entry}\nG3 X4. Y0 Z-10.5 I-4. J0\n{exit}\nG0 Z5.\nM30\n"
        )
    }

    /// The turn of the thread in incremental words.
    fn turned(text: String) -> String {
        text.replace("G3 X4. Y0 Z-10.5 I-4. J0", "G91 G3 X0 Y0 Z1.5 I-4. J0\nG90")
    }

    #[test]
    fn found_and_mended() {
        let straight = "G1 X0";
        let texts = [
            // From half the radius: 45 degrees about the axis, 0.1875 mm.
            (
                mill("X2. Y-2.", "G1 Z-12. F99.\nG3 X4. Y0 Z-12. J2.", straight),
                mill(
                    "X2. Y-2.",
                    "G1 Z-12.188 F99.\nG3 X4. Y0 Z-12. J2.",
                    straight,
                ),
            ),
            (
                mill("X2. Y-2.", "G1 Z-12.75 F99.\nG3 X4. Y0 Z-12. R2.", straight),
                mill(
                    "X2. Y-2.",
                    "G1 Z-12.375 F99.\nG3 X4. Y0 Z-12. R2.",
                    straight,
                ),
            ),
            // From the far side: half a turn.
            (
                turned(mill(
                    "X-2. Y0",
                    "G1 Z-12.2 F99.\nG3 X4. Y0 Z-12. I3.",
                    straight,
                )),
                turned(mill(
                    "X-2. Y0",
                    "G1 Z-12.75 F99.\nG3 X4. Y0 Z-12. I3.",
                    straight,
                )),
            ),
            // Off the thread without an advance.
            (
                mill("X0 Y0", "G1 Z-12. F99.\nG1 X4.", "G3 X-2. Y0 Z-10.5 I-3."),
                mill("X0 Y0", "G1 Z-12. F99.\nG1 X4.", "G3 X-2. Y0 Z-9.75 I-3."),
            ),
            // From the axis, downwards while the thread goes up.
            (
                mill("X0 Y0", "G1 Z-11.5 F99.\nG3 X4. Y0 Z-12. I2.", straight),
                mill("X0 Y0", "G1 Z-12.375 F99.\nG3 X4. Y0 Z-12. I2.", straight),
            ),
            // Clockwise and downwards, upwards onto the thread.
            (
                mill("X0 Y0", "G1 Z-9.5 F99.\nG3 X4. Y0 Z-9. I2.", straight).replace("G3", "G2"),
                mill("X0 Y0", "G1 Z-8.625 F99.\nG3 X4. Y0 Z-9. I2.", straight).replace("G3", "G2"),
            ),
        ];
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b): &(String, String)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn both_usual_advances_of_a_half_circle_from_the_axis_pass() {
        for start in ["-12.375", "-12.75"] {
            assert_silent(
                RULE,
                &[&mill(
                    "X0 Y0",
                    &format!("G1 Z{start} F99.\nG3 X4. Y0 Z-12. I2."),
                    "G3 X0 Y0 Z-10.125 I-2.",
                )],
            );
        }
    }
}
