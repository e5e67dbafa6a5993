use lexer::section::milling::{Helix, Piece};

use super::text::{length_of_mm, number, quoted};
use super::{Context, Out, Rule, rule};
use crate::finding::Severity;

rule! {
    /// # What it checks
    ///
    /// Whether every block of a milled thread advances in proportion to the angle that it turns.
    ///
    /// # Why it matters
    ///
    /// Between blocks of unequal slope the groove bends: the thread has drunken turns, goes onto nothing
    /// or binds. A block without its word along the axis cuts a ring.
    ///
    /// # The sum
    ///
    /// advance of a block = advance of the whole helix · degrees of the block / degrees of the whole.
    /// Two of the last digits, or 1 % of the advance per turn, are rounding; 5 % are an error.
    ///
    /// # What it needs
    ///
    /// A helix in at least two blocks.
    ///
    /// # When it stays silent
    ///
    /// Rounded words, helices of a few blocks with the same slope, whatever their angles.
    ///
    /// # Mend
    ///
    /// The words along the axis between the two ends: no fix is offered, because which of them was
    /// meant is not known.
    ///
    /// # Source
    ///
    /// A helix advances in proportion to its angle (geometry). Limits: our own choice, after the last
    /// digit that programs write.
    "helix-uneven", Error,
    "the blocks of a milled thread rise unevenly",
    fixes: false, needs_designation: false, kinds: [Milled], check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(milling) = cx.section.milling.as_deref() else {
        return;
    };
    let units = cx.section.units;
    for helix in milling
        .helices
        .iter()
        .filter(|helix| helix.pieces.len() > 1)
    {
        let pitch = helix.pitch_mm();
        let digits = 2.02 * units.least_increment().mm();
        let worst = helix
            .pieces
            .iter()
            .max_by(|a, b| off(a, pitch).abs().total_cmp(&off(b, pitch).abs()));
        let Some(worst) = worst else {
            continue;
        };
        let most = off(worst, pitch).abs();
        if most <= digits.max(0.01 * pitch.abs()) {
            continue;
        }
        let place = (worst.block.span, worst.block.line);
        let flat = worst.rise.is_zero();
        let message = if flat {
            "a block in the middle of a milled thread does not advance: it cuts a ring".to_owned()
        } else {
            format!(
                "a block of the milled thread advances {}, it should be {}",
                length_of_mm(worst.rise.mm(), units),
                length_of_mm(pitch * worst.degrees / 360.0, units)
            )
        };
        let mut finding = rule
            .found(place, message)
            .because(format!(
                "{}: {} in {}°; the helix as a whole has {} in {}°",
                quoted(cx.bytes, place.0, place.1),
                length_of_mm(worst.rise.mm(), units),
                number(worst.degrees, 1),
                length_of_mm(helix.rise().mm(), units),
                number(360.0 * helix.turns(), 1)
            ))
            .because(steps(cx, helix))
            .source("a helix advances in proportion to its angle (geometry)")
            .help("give every block lead · degrees / 360 along the axis");
        if most <= 0.05 * pitch.abs() {
            finding = finding.severity(Severity::Warning);
        }
        out.push(finding);
    }
}

/// By how much a block is off, mm.
fn off(piece: &Piece, pitch: f64) -> f64 {
    piece.rise.mm() - pitch * piece.degrees / 360.0
}

/// The advances of the blocks in a row.
fn steps(cx: &Context<'_>, helix: &Helix) -> String {
    let units = cx.section.units;
    let shown: Vec<String> = helix
        .pieces
        .iter()
        .take(8)
        .map(|piece| number(units.value_of(piece.rise), 4))
        .collect();
    let more = if helix.pieces.len() > 8 { " …" } else { "" };
    format!("advances in {}: {}{more}", units.name(), shown.join(", "))
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};
    use crate::finding::Severity;

    const RULE: &str = "helix-uneven";

    fn mill(arcs: &str) -> String {
        format!(
            "G21 G90 G17 G94 G40\nT7 M6 (THREAD MILL)\nS2000 M3\nG0 X0 Y0\nG43 H7 Z5.\nG1 Z-12. F500\nG1 X4. F200\n{arcs}\nG1 X0\nG0 Z5.\nM30\n"
        )
    }

    #[test]
    fn found_and_mended() {
        let texts = [
            // Half turns of 3/4-16, the steps of a real kind of slip.
            (
                "G20 G90 G17 G94\nT7 M6 (3/4-16 THREAD MILL)\nS2000 M3\nG0 X0 Y0\nG1 Z-.6 F20.\nG1 X.125 F5.\nG3 X-.125 Z-.5584 R.125\nX.125 Z-.5343 R.125\nX-.125 Z-.5025 R.125\nX.125 Z-.4963 R.125\nG1 X0\nG0 Z1.\nM30\n".into(),
                "G20 G90 G17 G94\nT7 M6 (3/4-16 THREAD MILL)\nS2000 M3\nG0 X0 Y0\nG1 Z-.6 F20.\nG1 X.125 F5.\nG3 X-.125 Z-.5688 R.125\nX.125 Z-.5375 R.125\nX-.125 Z-.5063 R.125\nX.125 Z-.475 R.125\nG1 X0\nG0 Z1.\nM30\n".into(),
            ),
            (
                mill("G3 X-4. Z-11.25 I-4.\nG3 X4. I4.\nG3 X-4. Z-9.75 I-4.\nG3 X4. Z-9. I4."),
                mill("G3 X-4. Z-11.25 I-4.\nG3 X4. Z-10.5 I4.\nG3 X-4. Z-9.75 I-4.\nG3 X4. Z-9. I4."),
            ),
            (
                mill("G3 Z-10.5 I-4.\nG3 Z-8. I-4.\nG3 Z-7.5 I-4."),
                mill("G3 Z-10.5 I-4.\nG3 Z-9. I-4.\nG3 Z-7.5 I-4."),
            ),
            (
                mill("G3 X0 Y4. Z-11.5 I-4.\nG3 X-4. Y0 Z-11. J-4.\nG3 X0 Y-4. Z-10.5 I4.\nG3 X4. Y0 Z-9. J4."),
                mill("G3 X0 Y4. Z-11.5 I-4.\nG3 X-4. Y0 Z-11. J-4.\nG3 X0 Y-4. Z-10.5 I4.\nG3 X4. Y0 Z-10. J4."),
            ),
            (
                mill("G91\nG3 X-8. Y0 Z.75 I-4.\nX8. Z.6 I4.\nG90"),
                mill("G91\nG3 X-8. Y0 Z.75 I-4.\nX8. Z.75 I4.\nG90"),
            ),
        ];
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b): &(String, String)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn rounding_and_unequal_angles_pass() {
        assert_silent(
            RULE,
            &[
                &mill("G3 X-4. Z-11.334 I-4.\nG3 X4. Z-10.667 I4."),
                &mill("G3 X0 Y4. Z-11.625 I-4.\nG3 X4. Y0 Z-10.5 J-4."),
                &mill("G3 Z-10.5 I-4."),
            ],
        );
        let small = findings(RULE, &mill("G3 X-4. Z-11.28 I-4.\nG3 X4. Z-10.5 I4."));
        assert_eq!(small[0].severity, Severity::Warning);
    }
}
