use lexer::section::{Section, Turning};
use lexer::source::Mark;

use super::lines::{part, states};
use super::text::quoted;
use super::{Context, Out, Rule, rule};
use crate::finding::Severity;
use crate::standards::Hand;

rule! {
    /// # What it checks
    ///
    /// The hand that spindle direction and feed direction make is the hand of the stated thread.
    ///
    /// # Why it matters
    ///
    /// A left-hand thread cut as a right-hand one fits nothing, and no measurement of pitch or
    /// diameter shows it. A copied program with M3 for M4, or with the Z direction turned round,
    /// does it.
    ///
    /// # The sum
    ///
    /// M3 and a stroke towards −Z, to the chuck, make a right-hand thread; M4 makes a left-hand one.
    ///
    /// # What it needs
    ///
    /// A stated designation, M3 or M4 before the thread and a stroke towards −Z. Towards +Z the tool
    /// may feed to the chuck of a second spindle, which the program does not tell.
    ///
    /// # When it stays silent
    ///
    /// Where all tools of the program turn with M4: then the machine's M4 is its usual direction and
    /// what M3 would mean there is not known. A right-hand thread cut with the other direction than
    /// the rest is only an advice, because machines exist whose M3 is the other way round.
    ///
    /// # Mend
    ///
    /// Change the spindle direction together with the tool's side, or the direction of the stroke.
    /// The tool has to fit, so nothing is written for you.
    ///
    /// # Source
    ///
    /// The definition of M3 in ISO 6983-1 and of the axes in ISO 841 (from memory): with M3 a
    /// right-hand screw advances into the workpiece.
    "hand-mismatch", Warning,
    "spindle and feed direction make the other hand than the designation states",
    fixes: false, needs_designation: true, check
}

/// The hand that a section cuts, with the word that turns the spindle.
pub(super) fn hand_cut(section: &Section) -> Option<(Hand, Mark<Turning>)> {
    let turning = section.passes.first()?.spindle.turning?;
    let clockwise = match turning.value {
        Turning::Clockwise => true,
        Turning::Counterclockwise => false,
        Turning::Stopped => return None,
    };
    let inwards = section.feed_direction()? < 0;
    let hand = if clockwise == inwards {
        Hand::Right
    } else {
        Hand::Left
    };
    Some((hand, turning))
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(thread) = cx.thread().filter(|_| cx.stated()) else {
        return;
    };
    let Some((cut, turning)) = hand_cut(cx.section) else {
        if thread.hand == Hand::Left {
            out.not_judged(rule, "M3 or M4, or a stroke towards -Z, is missing");
        }
        return;
    };
    if cut == thread.hand || only_counterclockwise(cx) {
        return;
    }
    let (name, other) = match thread.hand {
        Hand::Left => ("left-hand", "right-hand"),
        Hand::Right => ("right-hand", "left-hand"),
    };
    let mut finding = rule.found(
        (turning.span, turning.line),
        format!(
            "{} is {name}; with {} and a stroke towards -Z it becomes {other}",
            thread.designation(),
            quoted(cx.bytes, turning.span, turning.line)
        ),
    );
    if thread.hand == Hand::Right {
        finding = finding.severity(Severity::Advice);
    }
    if let Some((span, line)) = cx.identified.place {
        finding = finding.related((span, line), "the thread is named here");
    }
    out.push(
        finding
            .because("M3 towards -Z: right-hand; M4 towards -Z: left-hand")
            .because(cx.identified.why.clone())
            .source("definition of M3 (ISO 6983-1) and of the axes (ISO 841), from memory")
            .help(
                "turn the spindle the other way with the tool that fits it, or feed the other way; \
                 where the machine's M3 turns the other way, switch this rule off for it",
            ),
    );
}

/// Whether the whole program turns the spindle with M4 alone.
fn only_counterclockwise(cx: &Context<'_>) -> bool {
    let (mut forward, mut backward) = (0, 0);
    states(cx, part(cx), |block| {
        for (code, _) in block.m_codes() {
            forward += usize::from(code == 30);
            backward += usize::from(code == 40);
        }
        forward == 0
    });
    forward == 0 && backward > 1
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};
    use crate::finding::Severity;

    const RULE: &str = "hand-mismatch";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\n(THREAD M30X2-LH)\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
                    "G21\n(THREAD M30X2-LH)\nT0303\nG97 S800 M4\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
                ),
                (
                    "G21\n(THREAD M30X2-LH)\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX28.\nX27.546\nM30\n",
                    "G21\n(THREAD M30X2-LH)\nT0303\nG97 S800 M3\nG0 X34. Z-30.\nG92 X29. Z8. F2.\nX28.\nX27.546\nM30\n",
                ),
                (
                    "G21 G90 G95\n(THREAD M30X2-LH)\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG33 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG33 Z-30. F2.\nG0 X34.\n",
                    "G21 G90 G95\n(THREAD M30X2-LH)\nT0303\nG97 S800 M4\nG0 X34. Z8.\nX29.\nG33 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG33 Z-30. F2.\nG0 X34.\n",
                ),
                (
                    "G20\n(THREAD 3/4-10 UNC-2A LH)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n",
                    "G20\n(THREAD 3/4-10 UNC-2A LH)\nG97 S700 M4\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n",
                ),
                (
                    "; THREAD M24x2-LH\nG21 G18 G7 G90\nS800 M3\nG0 X28 Z8\nG76 P2 Z-30 I-4 J0.7 R2 K2.454 Q27\n",
                    "; THREAD M24x2-LH\nG21 G18 G7 G90\nS800 M4\nG0 X28 Z8\nG76 P2 Z-30 I-4 J0.7 R2 K2.454 Q27\n",
                ),
            ],
        );
    }

    #[test]
    fn a_right_hand_thread_is_an_advice() {
        let text = "G21\nT0101\nG97 S800 M3\nG0 X40. Z2.\nG1 Z-9. F0.2\nG0 X60.\n(THREAD M30X2-6G)\nT0303\nG97 S800 M4\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX28.\nX27.546\nM30\n";
        let found = findings(RULE, text);
        assert_eq!(found[0].severity, Severity::Advice, "{found:?}");
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // A machine that turns with M4.
                "G21\nT0101\nG97 S800 M4\nG0 X40. Z2.\nG1 Z-9. F0.2\nG0 X60.\n(THREAD M30X2-6G)\nT0303\nG97 S800 M4\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX28.\nX27.546\nM30\n",
                // Outwards from a relief with M4.
                "G21\n(THREAD M30X2-6G)\nT0303\nG97 S300 M4\nG0 X34. Z-33.\nX29.\nG32 Z4. F2.\nG0 X34.\nZ-33.\nX27.546\nG32 Z4. F2.\nG0 X34.\n",
                // Nothing stated.
                "G21\nT0303\nG97 S800 M4\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX28.\nX27.546\nM30\n",
            ],
        );
    }
}
