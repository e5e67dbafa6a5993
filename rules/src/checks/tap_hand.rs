use lexer::evidence::Family;
use lexer::section::Turning;
use lexer::section::tapping::{Hand, Way};

use super::text::quoted;
use super::{Context, Out, Rule, rule};
use crate::finding::Severity;
use crate::identify::From;
use crate::standards;

rule! {
    /// # What it checks
    ///
    /// The hand that the tapping code or the sign of the lead stands for, against the direction of
    /// the spindle and against the hand of the tap's name.
    ///
    /// # Why it matters
    ///
    /// A tap that turns the wrong way does not cut: it is pushed into the hole and breaks. A left-hand
    /// thread where the drawing has a right-hand one is scrap.
    ///
    /// # The sum
    ///
    /// None. G84 taps a right-hand thread and wants M3, G74 a left-hand one and wants M4. On turning
    /// machines one code taps both, by the direction of the spindle. A name without LH is
    /// right-handed.
    ///
    /// # What it needs
    ///
    /// M3 or M4 in front of the cycle, or the tap's name from a comment, a note or the configuration.
    ///
    /// # When it stays silent
    ///
    /// With a synchronised cycle (M29) the cycle itself turns the spindle: M3 and M4 are not compared.
    /// Driven tools of turning machines turn by other words, which are not read.
    ///
    /// # Mend
    ///
    /// The code or the spindle: only the drawing tells which, so no fix is offered.
    ///
    /// # Source
    ///
    /// The documentation of the open RS274/NGC interpreter: it refuses G84 while the spindle turns
    /// counterclockwise and G74 while it turns clockwise. That other controls want the same is from
    /// memory; there the finding is a warning.
    "tap-hand", Error,
    "a tap turns the wrong way for its code or its name",
    fixes: false, needs_designation: true, kinds: [Tapped], check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(tapping) = cx.section.tapping.as_deref() else {
        return;
    };
    let code = (tapping.code.span, tapping.code.line);
    let turning = cx.section.spindle.turning;
    let family = cx.program.family;
    let fixed = matches!(family, Family::Mill | Family::Interpreter);
    if tapping.way == Way::Cycle
        && fixed
        && tapping.rigid.is_none()
        && let (Some(turning), Some(hand)) = (turning, tapping.hand.get())
    {
        let wrong = match turning.value {
            Turning::Clockwise => hand == Hand::Left,
            Turning::Counterclockwise => hand == Hand::Right,
            Turning::Stopped => false,
        };
        if wrong {
            let word = quoted(cx.bytes, turning.span, turning.line);
            let mut finding = rule
                .found(
                    code,
                    format!(
                        "a {}-hand tapping cycle with the spindle turned the other way",
                        hand.name()
                    ),
                )
                .because(format!(
                    "{} is the {}-hand cycle and wants {}, {word} is in force",
                    quoted(cx.bytes, code.0, code.1),
                    hand.name(),
                    if hand == Hand::Right { "M3" } else { "M4" },
                ))
                .source(
                    "documentation of the open RS274/NGC interpreter, G84 and G74; for other \
                     controls from memory",
                )
                .help("start the spindle the way the cycle needs it, or write the other code")
                .related((turning.span, turning.line), "the spindle is started here");
            if family != Family::Interpreter {
                finding = finding.severity(Severity::Warning);
            }
            return out.push(finding);
        }
    }
    let Some((thread, from)) = &cx.identified.thread else {
        return out.not_judged(rule, "the name of the tap is missing");
    };
    if *from == From::Numbers {
        return;
    }
    let Some(hand) = tapping.hand.get() else {
        let why = tapping.hand.why().unwrap_or("the hand is missing");
        return out.not_judged(rule, why.to_owned());
    };
    let named = match thread.hand {
        standards::Hand::Right => Hand::Right,
        standards::Hand::Left => Hand::Left,
    };
    if named == hand {
        return;
    }
    let mut finding = rule
        .found(
            code,
            format!(
                "{} is a {}-hand thread, the program taps a {}-hand one",
                thread.designation(),
                named.name(),
                hand.name()
            ),
        )
        .because(format!("{} gives a {} hand", tapping.hand_by, hand.name()))
        .because(cx.identified.why.clone())
        .source("G84 right, G74 left: documentation of the open RS274/NGC interpreter")
        .help("compare with the drawing: code and spindle, or the name, are wrong");
    if let Some(place) = cx.identified.place {
        finding = finding.related(place, "the tap is named here");
    }
    // A comment leaves LH out more easily than a note, and a spindle may be named otherwise.
    let sure = *from == From::Annotation || *from == From::Config || named == Hand::Left;
    if !sure || tapping.hand_by == "the direction of the spindle" {
        finding = finding.severity(Severity::Warning);
    }
    out.push(finding);
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "tap-hand";

    #[test]
    fn found_and_mended() {
        let mill = |spindle: &str, code: &str, name: &str| {
            format!(
                "G21 G90 G17 G94\nT5 M6 ({name})\nS300 {spindle}\nG0 X0 Y0\nG43 H5 Z10.\n{code} X10. Y5. Z-20. R3. F375.\nG80\nM30\n"
            )
        };
        let texts = [
            (mill("M4", "G84", "M8 TAP"), mill("M3", "G84", "M8 TAP")),
            (mill("M3", "G74", "M8 LH TAP"), mill("M4", "G74", "M8 LH TAP")),
            (mill("M3", "G84", "M8 LH TAP"), mill("M4", "G74", "M8 LH TAP")),
            (
                mill("M3", "M29 S300\nG74", "THREAD M8-6H"),
                mill("M3", "M29 S300\nG84", "THREAD M8-6H"),
            ),
            (
                "G90 G17\nT5 M6 (TAP M10)\nG0 X20 Y30 Z5\nG331 Z-25 K-1.5 S350\nG332 Z5 K-1.5\nG0 Z50\nM30\n".into(),
                "G90 G17\nT5 M6 (TAP M10)\nG0 X20 Y30 Z5\nG331 Z-25 K1.5 S350\nG332 Z5 K1.5\nG0 Z50\nM30\n".into(),
            ),
            (
                "(M8 TAP)\ng21 g17 g90\ng97 s300 m4\ng0 x10 y10 z5\ng33.1 z-20 k1.25\ng0 z20\nm2\n".into(),
                "(M8 TAP)\ng21 g17 g90\ng97 s300 m3\ng0 x10 y10 z5\ng33.1 z-20 k1.25\ng0 z20\nm2\n".into(),
            ),
            (
                "G50 S3000\nT0505 (TAP M6)\nG97 S400 M4\nG99\nG0 X0 Z5.\nG84 Z-15. F1.\nG80\nM30\n".into(),
                "G50 S3000\nT0505 (TAP M6)\nG97 S400 M3\nG99\nG0 X0 Z5.\nG84 Z-15. F1.\nG80\nM30\n".into(),
            ),
        ];
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b): &(String, String)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn silent_where_nothing_contradicts() {
        assert_silent(
            RULE,
            &[
                // The rigid cycle turns the spindle itself.
                "G21 G90 G17 G94\nT5 M6 (M8 LH TAP)\nS300 M3\nG0 X0 Y0\nM29 S300\nG74 X10. Y5. Z-20. R3. F375.\nG80\nM30\n",
                // Driven tool.
                "G50 S3000\nT0707 (M5 TAP)\nG97 S600 M13\nG98\nG0 X50. Z-12. C0.\nG88 X30. R5. F480.\nG80\nM30\n",
                "G50 S3000\nT0505 (TAP M6 LH)\nG97 S400 M4\nG99\nG0 X0 Z5.\nG84 Z-15. F1.\nG80\nM30\n",
            ],
        );
    }
}
