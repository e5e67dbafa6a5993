use lexer::section::tapping::Hand;

use super::text::quoted;
use super::{Context, Out, Rule, rule};
use crate::finding::Severity;
use crate::identify::From;
use crate::standards;

rule! {
    /// # What it checks
    ///
    /// The hand of a milled thread, by the direction round and the direction along its axis, against its
    /// name.
    ///
    /// # Why it matters
    ///
    /// An arc turned round while the depths stay, or the reverse, makes a left-hand thread that looks
    /// right on the machine.
    ///
    /// # The sum
    ///
    /// Counterclockwise (G3) with an advance towards plus, or clockwise (G2) towards minus, is a
    /// right-hand thread; the other two are left-hand. Inside and outside alike.
    ///
    /// # What it needs
    ///
    /// The thread's name. A name without LH is right-handed.
    ///
    /// # When it stays silent
    ///
    /// Climb and conventional milling of the same hand.
    ///
    /// # Mend
    ///
    /// Turn the arcs round, or go the other way along the axis; which of the two keeps the way of
    /// milling is told by climb-or-conventional. No fix is offered.
    ///
    /// # Source
    ///
    /// Geometry of the helix, right-handed axes.
    "helix-hand", Error,
    "a milled thread has another hand than its name",
    fixes: false, needs_designation: true, kinds: [Milled], check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(milling) = cx.section.milling.as_deref() else {
        return;
    };
    let Some((thread, from)) = cx.identified.thread.as_ref().filter(|_| cx.stated()) else {
        return out.not_judged(rule, "the name of the thread is missing");
    };
    let Some(hand) = milling.hand.get() else {
        return out.not_judged(rule, "the hand of the helix is missing");
    };
    let named = match thread.hand {
        standards::Hand::Right => Hand::Right,
        standards::Hand::Left => Hand::Left,
    };
    if named == hand {
        return;
    }
    let helices = milling.helices.first();
    let piece = helices.and_then(|helix| helix.pieces.first());
    let at = piece.map_or_else(|| cx.place(), |piece| (piece.block.span, piece.block.line));
    // A cycle goes from its reference plane to its depth.
    let rise = piece.map_or_else(
        || cx.section.feed_direction(),
        |piece| Some(piece.rise.signum()),
    );
    let round = if milling.counterclockwise {
        "counterclockwise"
    } else {
        "clockwise"
    };
    let along = if rise.is_none_or(|rise| rise >= 0) {
        "plus"
    } else {
        "minus"
    };
    let mut finding = rule
        .found(
            at,
            format!(
                "{} is a {}-hand thread, the program mills a {}-hand one",
                thread.designation(),
                named.name(),
                hand.name()
            ),
        )
        .because(format!(
            "{}: {round}, towards {along}: {} hand",
            quoted(cx.bytes, at.0, at.1),
            hand.name()
        ))
        .because(cx.identified.why.clone())
        .source("geometry of the helix, right-handed axes")
        .help("turn the arcs round or go the other way along the axis");
    if let Some(place) = cx.identified.place {
        finding = finding.related(place, "the thread is named here");
    }
    // A comment leaves LH out more easily than a note.
    if *from == From::Comment && named == Hand::Right {
        finding = finding.severity(Severity::Warning);
    }
    out.push(finding);
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::assert_pairs;

    const RULE: &str = "helix-hand";

    #[test]
    fn found_and_mended() {
        let mill = |tool: &str, from: &str, arc: &str| {
            format!(
                "G21 G90 G17 G94 G40\nT7 M6 ({tool})\nS2000 M3\nG0 X0 Y0\nG43 H7 Z5.\nG1 Z{from} F500\nG1 X4. F200\n{arc}\nG1 X0\nG0 Z5.\nM30\n"
            )
        };
        let texts = [
            (
                mill("THREAD M16X1.5", "-12.", "G2 Z-10.5 I-4."),
                mill("THREAD M16X1.5", "-12.", "G3 Z-10.5 I-4."),
            ),
            (
                mill("M16X1.5 LH THREAD MILL", "-12.", "G3 Z-10.5 I-4."),
                mill("M16X1.5 LH THREAD MILL", "-10.5", "G3 Z-12. I-4."),
            ),
            (
                mill("THREAD M16X1.5", "-10.5", "G3 X-4. Z-11.25 R4.\nX4. Z-12. R4."),
                mill("THREAD M16X1.5", "-12.", "G3 X-4. Z-11.25 R4.\nX4. Z-10.5 R4."),
            ),
            (
                mill("THREAD M16X1.5-LH", "-12.", "G3 Z-9. I-4. P2"),
                mill("THREAD M16X1.5-LH", "-12.", "G2 Z-9. I-4. P2"),
            ),
            (
                "G20G90G17G94\nT7M6(THREADMILL 3/4-16)\nS2000M3\nG0X0Y0\nG1Z-.5F20.\nG1X.125F5.\nG3Z-.5625I-.125\nG1X0\nG0Z1.\nM30\n".into(),
                "G20G90G17G94\nT7M6(THREADMILL 3/4-16)\nS2000M3\nG0X0Y0\nG1Z-.5625F20.\nG1X.125F5.\nG3Z-.5I-.125\nG1X0\nG0Z1.\nM30\n".into(),
            ),
        ];
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b): &(String, String)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    /// A cycle called by its name, counterclockwise and down.
    #[test]
    fn a_call_has_its_hand() {
        let call = |name: &str| {
            format!(
                "G21 G17 G90 G94\n(THREAD {name})\nT7 M6\nS2000 M3\nG0 X0 Y0 Z10\nCYCLE90(50,0,2,-20,,60,57.835,2,500,3,0,0,0)\nG0 Z50\nM30\n"
            )
        };
        assert_pairs(RULE, &[(&call("M60X2-6H"), &call("M60X2-6H-LH"))]);
    }
}
