use lexer::block::{Block, Value};
use lexer::section::Role;
use lexer::source::Span;

use super::lines::{blocks, part};
use super::text::{lead, quoted};
use super::{Context, Out, Rule, rule};
use crate::finding::Severity;

rule! {
    /// # What it checks
    ///
    /// The first feed move behind a thread has a feed of its own. F stays in force: without one it
    /// runs at the lead of the thread.
    ///
    /// # Why it matters
    ///
    /// A chamfer turned at 2 mm per turn breaks the insert, or the part leaves the chuck. The fault
    /// hides until the turning block in front of the thread, whose feed it had, is moved.
    ///
    /// # The sum
    ///
    /// None: the F word of the thread against a usual turning feed. A lead of up to 0.5 mm is one.
    ///
    /// # What it needs
    ///
    /// The blocks behind the thread up to the first G1, G2 or G3 that moves, or the end of the
    /// program.
    ///
    /// # When it stays silent
    ///
    /// Where a feed per minute or a feed word comes first, at cycles, calls, loops and variables,
    /// and for a feed move of the threading tool itself, which moves in the air.
    ///
    /// # Mend
    ///
    /// Write the feed in the first feed block of every tool.
    ///
    /// # Source
    ///
    /// F stays in force: ISO 6983-1, from memory. 0.5 mm per turn: common practice, no source.
    "lead-left-as-feed", Warning,
    "the next feed move runs at the lead of the thread",
    fixes: false, needs_designation: false, check
}

/// Largest usual turning feed in mm per turn.
const FEED: f64 = 0.5;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let Some(value) = section.cut.lead.get().map(|lead| lead.abs()) else {
        return;
    };
    let word = section.word(Role::Lead).filter(|word| word.letter == b'F');
    let (Some(word), true) = (word, value.mm() > FEED) else {
        return;
    };
    // The next thread has its own finding.
    let next = cx.program.sections.get(cx.index + 1);
    let last = next.map_or(*part(cx).end(), |next| next.first_line.saturating_sub(1));
    let mut found: Option<(Span, u32)> = None;
    let mut tool = false;
    let mut motion: Option<i32> = None;
    blocks(cx, section.last_line + 1..=last, |block| {
        if settles(block) {
            return false;
        }
        tool |= block.has(b'T');
        let code = block
            .g_codes()
            .map(|(code, _)| code)
            .find(|code| matches!(code, 0 | 10 | 20 | 30));
        motion = code.or(motion);
        let moves = block.has_any(b"XZUW") && !block.has_g(280) && !block.has_g(530);
        if moves && tool && matches!(motion, Some(10 | 20 | 30)) {
            found = Some((block.span, block.line));
        }
        found.is_none()
    });
    let Some(place) = found else {
        return;
    };
    let severity = if value.mm() > 2.0 * FEED {
        Severity::Warning
    } else {
        Severity::Advice
    };
    out.push(
        rule.found(
            place,
            format!(
                "{} has no feed of its own: it runs at {} per turn, the lead of the thread before",
                quoted(cx.bytes, place.0, place.1),
                lead(value, section.units)
            ),
        )
        .severity(severity)
        .because(format!(
            "{}: still in force",
            quoted(cx.bytes, word.span, word.line)
        ))
        .related((word.span, word.line), "the lead of the thread")
        .source("F stays in force: ISO 6983-1, from memory; a usual turning feed: common practice, no source")
        .help("write F in the first feed block of the tool"),
    );
}

/// Whether a block ends the search: a feed, feed per minute, the end, or what is not followed.
fn settles(block: &Block) -> bool {
    let codes = block.g_codes().any(|(code, _)| {
        matches!(code, 650 | 660 | 980 | 940)
            || (700..=790).contains(&code)
            || (810..=899).contains(&code)
    });
    let ends = block
        .m_codes()
        .any(|(code, _)| matches!(code, 20 | 300 | 970 | 980 | 990));
    let open = block
        .words
        .iter()
        .any(|word| word.letter == b'G' && word.value == Value::Expression);
    block.has_any(b"FE")
        || codes
        || ends
        || open
        || block.statement.is_some()
        || !block.names.is_empty()
        || block.program.is_some()
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "lead-left-as-feed";

    #[test]
    fn found_in_every_syntax() {
        let tail = "G0 X100. Z100.\nT0505\nG0 X28. Z1.\nG1 X32. Z-1.@\nG0 X60.\nM30\n";
        let heads = [
            "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\n",
            "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX28.\nX27.546\n",
            "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-30.\nG0 X34.\n",
            "G21 G90 G95\nG92 S2000\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG78 X29. Z-30. F2.\nX28.\nX27.546\n",
            "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 X27.546 Z-34. K1.227 D0350 A60 F2.\n",
        ];
        let texts: Vec<(String, String)> = heads
            .iter()
            .map(|head| {
                (
                    format!("{head}{}", tail.replace('@', "")),
                    format!("{head}{}", tail.replace('@', " F0.1")),
                )
            })
            .collect();
        let texts: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &texts);
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // A fine lead is a turning feed; the tool itself; feed per minute; a cycle.
                "G21\nT0303\nG97 S800 M3\nG0 X12. Z8.\nG92 X9.7 Z-30. F0.5\nX9.387\nG0 X100.\nT0505\nG1 X8. Z-1.\nM30\n",
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX27.546\nG1 X40.\nG0 Z100.\nM30\n",
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX27.546\nG0 X100.\nG98\nT0505\nG1 X28. Z-1.\nM30\n",
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX27.546\nG0 X100.\nT0505\nG1 F0.1\nX28. Z-1.\nM30\n",
            ],
        );
    }
}
