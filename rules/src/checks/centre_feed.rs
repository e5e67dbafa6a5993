use lexer::section::Side;
use lexer::section::milling::Compensation;

use super::hole_facts::{cutter, noted_mm};
use super::text::{feed as feed_text, length_of_mm, number, quoted, speed_word};
use super::{Context, Out, Rule, rule};
use crate::finding::{Edit, Fix, FixKind, Severity};
use crate::measure::mill::centre_feed;

rule! {
    /// # What it checks
    ///
    /// The feed of a thread mill, which the control keeps at the centre of the tool, against the feed at
    /// its edge that the note asks for.
    ///
    /// # Why it matters
    ///
    /// In a hole the edge goes a longer way than the centre. A cutter of two thirds of the thread is fed
    /// three times as fast at its edge as F says, and breaks; round a bolt it is slower than meant.
    ///
    /// # The sum
    ///
    /// F = edge feed · (D - d) / D in a hole, edge feed · (D + d) / D round a bolt, with the thread's
    /// major diameter D and the cutter's diameter d.
    ///
    /// # What it needs
    ///
    /// The thread's name, the feed at the edge in the note (`(THREAD M24X3, CUTTER 16, FEED 200)`), and
    /// the diameter of the cutter, in the note or in the tool's comment.
    ///
    /// # When it stays silent
    ///
    /// Within a tenth of the sum. With G41 or G42 some controls keep the feed at the edge themselves:
    /// that is not judged.
    ///
    /// # Mend
    ///
    /// Writes the feed of the centre.
    ///
    /// # Source
    ///
    /// Geometry. M24x3 with a cutter of 16 mm at 200 mm/min: 66.7 mm/min.
    "centre-feed", Warning,
    "the feed of a thread mill is not the one that its edge should have",
    fixes: true, needs_designation: true, kinds: [Milled], check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(milling) = cx.section.milling.as_deref() else {
        return;
    };
    let Some(thread) = cx.thread() else {
        return out.not_judged(rule, "the name of the thread is missing");
    };
    let Some(edge) = noted_mm(cx, "FEED").filter(|feed| *feed > 0.0) else {
        return out.not_judged(rule, "the feed at the edge is missing (FEED in the note)");
    };
    let Some((cutter, from)) = cutter(cx) else {
        return out.not_judged(rule, "the diameter of the cutter is missing");
    };
    if milling.compensation.0 != Compensation::Off {
        return out.not_judged(
            rule,
            "whether the control keeps the feed at the edge under compensation is missing",
        );
    }
    let Some(side) = cx.side() else {
        return out.not_judged(rule, "bolt or hole is missing");
    };
    let Some(helix) = milling.helices.first() else {
        return;
    };
    if helix.per_turn == Some(true) {
        return out.not_judged(rule, "a feed per turn is not compared");
    }
    let Some(word) = helix.feed else {
        return out.not_judged(rule, "the feed is missing");
    };
    let major = thread.major.mm();
    if side == Side::Internal && cutter >= major {
        return;
    }
    let wanted = centre_feed(side, edge, major, cutter);
    let now = word.value.mm();
    if (now / wanted - 1.0).abs() <= 0.1 {
        return;
    }
    let units = cx.section.units;
    let sign = if side == Side::Internal { '-' } else { '+' };
    let real = now * edge / wanted;
    let mut finding = rule
        .found(
            (word.span, word.line),
            format!(
                "the edge of the cutter is fed {}, the note asks for {}",
                feed_text(real, units),
                feed_text(edge, units)
            ),
        )
        .because(format!(
            "{} at the centre; {} · ({} {sign} {}) / {} = {}",
            quoted(cx.bytes, word.span, word.line),
            feed_text(edge, units),
            number(major, 3),
            number(cutter, 3),
            number(major, 3),
            feed_text(wanted, units)
        ))
        .because(format!(
            "cutter of {} ({from})",
            length_of_mm(cutter, units)
        ))
        .source(
            "geometry: the edge turns about the axis at the thread's radius, the centre at less",
        )
        .help("write the feed of the tool's centre");
    if now < wanted {
        finding = finding.severity(Severity::Advice);
    }
    let spelled = speed_word(
        cx.bytes,
        word.span,
        units.value_of(lexer::units::Length::from_mm(wanted)),
    );
    if let Some(text) = spelled {
        finding = finding.fix(Fix {
            title: format!(
                "write {text}: edge fed {} -> {}",
                feed_text(real, units),
                feed_text(edge, units)
            ),
            kind: FixKind::Motion,
            edits: vec![Edit {
                span: word.span,
                text,
            }],
        });
    }
    out.push(finding);
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "centre-feed";

    fn mill(note: &str, radius: &str, feed: &str) -> String {
        format!(
            "G21 G90 G17 G94 G40\nT7 M6 (THREAD MILL)\n(THREAD {note})\nS2000 M3\nG0 X0 Y0\nG43 H7 Z5.\nG1 Z-12. F500\nG1 X{radius} {feed}\nG3 Z-9. I-{radius}\nG1 X0\nG0 Z5.\nM30\n"
        )
    }

    #[test]
    fn found_and_mended() {
        let texts = [
            (
                mill("M24X3, CUTTER 16, FEED 200", "4.", "F200"),
                mill("M24X3, CUTTER 16, FEED 200", "4.", "F67"),
            ),
            (
                mill("M24X3, CUTTER 12, FEED 200", "6.", "F200."),
                mill("M24X3, CUTTER 12, FEED 200", "6.", "F100."),
            ),
            (
                mill("M24X3, FEED 200, CUTTER 18", "3.", "F30.")
                    .replace("G3 Z-9. I-3.", "G91 G3 Z3. I-3.\nG90"),
                mill("M24X3, FEED 200, CUTTER 18", "3.", "F50.")
                    .replace("G3 Z-9. I-3.", "G91 G3 Z3. I-3.\nG90"),
            ),
            (
                mill("M24X3, FEED 240", "4.", "F240.0").replace("(THREAD MILL)", "(THREAD MILL D16)"),
                mill("M24X3, FEED 240", "4.", "F80.0").replace("(THREAD MILL)", "(THREAD MILL D16)"),
            ),
            (
                "G20G90G17G94\nT7M6(3/4-16 THREAD MILL)\n(THREAD 3/4-16 UNF, CUTTER .5, FEED 9)\nS2000M3\nG0X0Y0\nG1Z-.5625F20.\nG1X.125F9.0\nG3Z-.5I-.125\nG1X0\nG0Z1.\nM30\n".into(),
                "G20G90G17G94\nT7M6(3/4-16 THREAD MILL)\n(THREAD 3/4-16 UNF, CUTTER .5, FEED 9)\nS2000M3\nG0X0Y0\nG1Z-.5625F20.\nG1X.125F3.0\nG3Z-.5I-.125\nG1X0\nG0Z1.\nM30\n".into(),
            ),
        ];
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b): &(String, String)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn silent_without_the_facts() {
        assert_silent(
            RULE,
            &[
                &mill("M24X3, CUTTER 16", "4.", "F200"),
                &mill("M24X3, FEED 200", "4.", "F200"),
                &mill("M24X3, CUTTER 16, FEED 200", "4.", "F70"),
                &mill("M24X3, CUTTER 16, FEED 200", "12.", "F200")
                    .replace("G1 X12.", "G41 D7 G1 X12."),
            ],
        );
    }
}
