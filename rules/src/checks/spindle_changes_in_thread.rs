use lexer::section::Turning;

use super::lines::{blocks, states};
use super::text::quoted;
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// Between the first and the last pass of a thread the spindle keeps its direction and its gear
    /// range and is not stopped or oriented.
    ///
    /// # Why it matters
    ///
    /// The passes find their groove again by the one-turn mark of the spindle, at the same speed and
    /// the same lag. After a change of direction the next pass cuts the other hand into the first.
    /// In another gear range the mark may lie elsewhere, and the speed rises in another time.
    ///
    /// # The sum
    ///
    /// None: M3, M4, M5, M19 and M40 to M45 between the passes.
    ///
    /// # What it needs
    ///
    /// The blocks between the passes.
    ///
    /// # When it stays silent
    ///
    /// For the same direction written again, M codes before the first and behind the last pass, a
    /// stop that is followed by the same start and no other pass in between, and calls, which are
    /// not run. A change of the S word has its own rule.
    ///
    /// # Mend
    ///
    /// Set direction and range before the first pass.
    ///
    /// # Source
    ///
    /// M3, M4, M5 and M19: ISO 6983-1 (from memory); M40 to M45 as gear ranges: common practice of
    /// machines, no source.
    "spindle-changes-in-thread", Error,
    "the spindle is reversed, stopped or changes its gear between the passes",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let passes = &cx.section.passes;
    let (Some(first), Some(last)) = (passes.first(), passes.last()) else {
        return;
    };
    if first.line == last.line {
        return;
    }
    let Some(direction) = first.spindle.turning.map(|turning| turning.value) else {
        return;
    };
    let turned = passes.iter().find_map(|pass| {
        let turning = pass.spindle.turning?;
        (turning.value != direction && direction != Turning::Stopped).then_some((pass, turning))
    });
    if let Some((pass, turning)) = turned {
        let what = match turning.value {
            Turning::Stopped => "stopped",
            _ => "reversed",
        };
        return out.push(
            rule.found(
                (turning.span, turning.line),
                format!(
                    "the spindle is {what} before the pass of line {}",
                    pass.line
                ),
            )
            .because(format!(
                "{} stands between the pass of line {} and that of line {}",
                quoted(cx.bytes, turning.span, turning.line),
                first.line,
                pass.line
            ))
            .source("M3, M4 and M5: ISO 6983-1, from memory")
            .help("cut all passes of a thread with the spindle turning one way"),
        );
    }
    let mut ranges: Option<(i32, lexer::source::Span, u32)> = None;
    blocks(cx, first.line + 1..=last.line.saturating_sub(1), |block| {
        let word = block
            .m_codes()
            .find(|(code, _)| matches!(code, 190 | 400..=450) && code % 10 == 0);
        ranges = word.map(|(code, word)| (code, word.span, block.line));
        ranges.is_none()
    });
    let Some((code, span, line)) = ranges else {
        return;
    };
    // The same range written again changes nothing; which was in force before, a program shows.
    if code != 190 && range_before(cx, first.line) == Some(code) {
        return;
    }
    out.push(
        rule.found(
            (span, line),
            if code == 190 {
                "the spindle is oriented between the passes".to_owned()
            } else {
                format!(
                    "the gear range changes between the passes: {}",
                    quoted(cx.bytes, span, line)
                )
            },
        )
        .because(format!(
            "{} stands between the passes of lines {} and {}",
            quoted(cx.bytes, span, line),
            first.line,
            last.line
        ))
        .source(
            "M19: ISO 6983-1, from memory; M40 to M45 as gear ranges: common practice, no source",
        )
        .help("set the range before the first pass"),
    );
}

/// The last gear range before a line of the program.
fn range_before(cx: &Context<'_>, line: u32) -> Option<i32> {
    let mut range = None;
    let part = super::lines::part(cx);
    states(cx, *part.start()..=line, |block| {
        let code = block
            .m_codes()
            .map(|(code, _)| code)
            .find(|code| matches!(code, 400..=450) && code % 10 == 0);
        range = code.or(range);
        true
    });
    range
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "spindle-changes-in-thread";

    #[test]
    fn found_in_every_syntax() {
        let strokes = |head: &str, code: &str, between: &str| {
            format!(
                "{head}T0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\n{code} Z-30. F2.\nG0 X34.\nZ8.\n{between}X27.546\n{code} Z-30. F2.\nG0 X34.\nZ8.\nM5\n"
            )
        };
        let a = "G21\n";
        let b = "G21 G90 G95\nG92 S2000\n";
        let boxes = |between: &str| {
            format!(
                "G21\nT0303\nM42\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX28.\n{between}G92 X27.546 Z-30. F2.\nG0 X100. M5\n"
            )
        };
        let pairs = [
            (strokes(a, "G32", "M4\n"), strokes(a, "G32", "M3\n")),
            (strokes(b, "G33", "M5\n"), strokes(b, "G33", "M5\nM3\n")),
            (strokes(a, "G32", "M41\n"), strokes(a, "G32", "M8\n")),
            (strokes(b, "G33", "M19\n"), strokes(b, "G33", "")),
            (boxes("M41\n"), boxes("M42\n")),
            (boxes("M4\n"), boxes("")),
        ];
        let pairs: Vec<(&str, &str)> = pairs
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // Before the first and behind the last pass.
                "G21\nT0303\nM41\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX27.546\nM42\nM4\nM5\nM19\nM30\n",
                // A cycle in one block.
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM5\nM41\nM30\n",
            ],
        );
    }
}
