use lexer::block::blocks;
use lexer::section::tapping::{LeftActive, Stray};

use super::text::quoted;
use super::{Context, Out, Rule, rule};
use crate::finding::{Edit, Fix, FixKind, Severity};

rule! {
    /// # What it checks
    ///
    /// Blocks with a position that come while a tapping cycle is still in force, where something shows
    /// that they were meant as moves: the spindle was stopped or the tool changed before them, the block
    /// leads along the tap's axis out of the work, or nothing was drilled there while every hole before
    /// it was.
    ///
    /// # Why it matters
    ///
    /// A cycle taps at every position until G80 or a motion code ends it. A move without G80 in front of
    /// it drives the tap, or the next tool, into the part.
    ///
    /// # The sum
    ///
    /// None.
    ///
    /// # What it needs
    ///
    /// The words of the program.
    ///
    /// # When it stays silent
    ///
    /// Further holes of a pattern, G0 or G1 in the block (they end the cycle), G28 and G53.
    ///
    /// # Mend
    ///
    /// Writes G80 G0 in front of the block. For a place where nothing was drilled no fix is offered:
    /// the drilling may be what is missing.
    ///
    /// # Source
    ///
    /// The documentation of the RS274/NGC codes: a canned cycle is modal, G80 and the motion codes end
    /// it.
    "cycle-left-active", Error,
    "a move follows while the tapping cycle is still in force",
    fixes: true, needs_designation: false, kinds: [Tapped], check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(tapping) = cx.section.tapping.as_deref() else {
        return;
    };
    let code = (tapping.code.span, tapping.code.line);
    for stray in &tapping.left_active {
        let LeftActive { block, why } = *stray;
        let text = quoted(cx.bytes, block.span, block.line);
        let (message, place) = match why {
            Stray::Stopped(span, line) => (
                "the tapping cycle is still in force behind the stop of the spindle",
                Some(((span, line), "the spindle is stopped here")),
            ),
            Stray::ToolChanged(span, line) => (
                "the tapping cycle is still in force behind the tool change",
                Some(((span, line), "the tool is changed here")),
            ),
            Stray::Retract => (
                "the block is meant to move out of the hole, and the tapping cycle is still in force",
                None,
            ),
            Stray::NotDrilled => (
                "a hole is tapped where nothing was drilled, behind holes that were",
                None,
            ),
        };
        let mut finding = rule
            .found((block.span, block.line), message)
            .because(format!(
                "{} is in force until G80 or a motion code; {text} has neither",
                quoted(cx.bytes, code.0, code.1)
            ))
            .source("documentation of the RS274/NGC codes: canned cycles are modal")
            .help("end the cycle with G80 before the move")
            .related(code, "the cycle begins here");
        if let Some((at, text)) = place {
            finding = finding.related(at, text);
        }
        if why == Stray::NotDrilled {
            finding = finding.severity(Severity::Warning);
        } else if let Some(fix) = fix(cx, stray) {
            finding = finding.fix(fix);
        }
        out.push(finding);
    }
}

fn fix(cx: &Context<'_>, stray: &LeftActive) -> Option<Fix> {
    let text = stray.block.span.of(cx.bytes);
    let read = blocks(text);
    let words = &read.first()?.words;
    let first = words.first()?.span;
    let at = stray.block.span.start + first.start;
    let spaced = words.len() < 2 || words[0].span.end < words[1].span.start;
    let lower = text.get(first.start as usize)?.is_ascii_lowercase();
    let new = if spaced { "G80 G0 " } else { "G80G0" };
    Some(Fix {
        title: format!(
            "write {} in front of the move in line {}",
            new.trim(),
            stray.block.line
        ),
        kind: FixKind::Motion,
        edits: vec![Edit {
            span: lexer::source::Span::new(at, at),
            text: if lower {
                new.to_ascii_lowercase()
            } else {
                new.to_owned()
            },
        }],
    })
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};
    use crate::finding::Severity;

    const RULE: &str = "cycle-left-active";

    fn mill(tail: &str) -> String {
        format!(
            "G21 G90 G17 G94\nT5 M6 (M8 TAP)\nS300 M3\nG0 X0 Y0\nG43 H5 Z10.\nG84 X10. Y10. Z-20. R3. F375.\nX30.\n{tail}\nM30\n"
        )
    }

    /// The same with a left-hand tap.
    fn left(tail: &str) -> String {
        mill(tail)
            .replace("G84", "G74")
            .replace("S300 M3", "S300 M4")
            .replace("M8 TAP", "M8 LH TAP")
    }

    #[test]
    fn found_and_mended() {
        let texts = [
            (mill("Z50.\nM5"), mill("G80 G0 Z50.\nM5")),
            (mill("M5\nX100. Y100."), mill("M5\nG80 G0 X100. Y100.")),
            (mill("N90Z80.M9"), mill("N90G80G0Z80.M9")),
            (
                mill("T6 M6\nX50. Y20.\nG0 Z9."),
                mill("T6 M6\nG80 G0 X50. Y20.\nG0 Z9."),
            ),
            (left("m19\nx100."), left("m19\ng80 g0 x100.")),
            (
                "G20G90G94\nT5M6\nG0X0Y1.\nM29S600\nG84X1.Y1.Z-.75R.2F30.\nX2.\nZ4.M5\nM30\n"
                    .into(),
                "G20G90G94\nT5M6\nG0X0Y1.\nM29S600\nG84X1.Y1.Z-.75R.2F30.\nX2.\nG80G0Z4.M5\nM30\n"
                    .into(),
            ),
        ];
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b): &(String, String)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn nothing_drilled_is_a_warning() {
        let text = "G21 G90 G17 G94\nT4 M6\nS900 M3\nG0 X0 Y0\nG81 X10. Y10. Z-25. R3. F100.\nX30.\nX50.\nG80\nT5 M6\nS300 M3\nG84 X10. Y10. Z-20. R3. F375.\nX30.\nX50.\nX0 Y0\nG80\nM30\n";
        let found = findings(RULE, text);
        assert_eq!((found.len(), found[0].severity), (1, Severity::Warning));
        assert!(found[0].fixes.is_empty());
    }

    #[test]
    fn silent_on_patterns_and_ends() {
        assert_silent(
            RULE,
            &[
                &mill("X50.\nY40.\nG80\nM5\nG0 X100."),
                &mill("G0 Z50.\nM5\nX100."),
                &mill("G1 Z50. F500."),
                &mill("G28 Z0\nM5"),
                &mill("Z-25.\nX50. Z-15.\nG80"),
                &mill("G98 X50.\nR8. X60.\nG80"),
            ],
        );
    }
}
