use lexer::block::{Fault, FaultKind};
use lexer::source::Span;

use super::lines::blocks;
use super::text::quoted;
use super::words::text_of;
use super::{Context, Out, Rule, rule};
use crate::finding::{Edit, Fix, FixKind};

rule! {
    /// # What it checks
    ///
    /// The blocks of a thread and the three lines before it for characters that look right and are
    /// not: a comma for the decimal point, a typographic dash for the minus sign, the letter O for a
    /// zero.
    ///
    /// # Why it matters
    ///
    /// Such text comes from mail, word processors, web pages and scanned listings. One control stops
    /// with an alarm, another drops the character and reads `F2,5` as 25 or `Z–30.` as plus 30: the
    /// tool then moves into the chuck or the tailstock.
    ///
    /// # The sum
    ///
    /// None: each character is shown with its place. A comma, a dash, and an O right behind its
    /// address are read as they were meant. An O inside a number ends it there: what was meant is
    /// another motion than what was read.
    ///
    /// # What it needs
    ///
    /// The text alone.
    ///
    /// # When it stays silent
    ///
    /// Commas, dashes and letters in comments, names and calls, and damage farther away from a
    /// thread.
    ///
    /// # Mend
    ///
    /// Writes the point, the minus sign and the zero. The motion stays what was read, except for an O
    /// inside a number.
    ///
    /// # Source
    ///
    /// The characters of program text: ISO 6983-1 (from memory). What controls do with others is
    /// common practice, no source.
    "code-damaged", Error,
    "a comma, a dash or a letter stands where a point, a minus or a zero belongs",
    fixes: true, needs_designation: false, check
}

/// Blocks before a section that are looked at too: its start position, speed and feed.
const BEFORE: usize = 3;

/// The line of the block so many before a section, behind a line.
fn words_before(cx: &Context<'_>, behind: u32, section: u32) -> u32 {
    /// Lines in which they are looked for.
    const LINES: u32 = 64;
    let mut lines = Vec::new();
    let first = section.saturating_sub(LINES).max(behind + 1);
    blocks(cx, first..=section.saturating_sub(1), |block| {
        if !block.words.is_empty() || !block.faults.is_empty() {
            lines.push(block.line);
        }
        true
    });
    let at = lines.len().saturating_sub(BEFORE);
    lines.get(at).copied().unwrap_or(section)
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    // What belongs to the section before is reported there.
    let behind = cx
        .index
        .checked_sub(1)
        .map_or(0, |at| cx.program.sections[at].last_line);
    let from = words_before(cx, behind, section.first_line);
    cx.seen
        .lines(from.min(section.first_line)..=section.last_line);
    let faults = &cx.program.faults;
    let first = faults.partition_point(|(line, _)| *line < from);
    let mut damage: Vec<(u32, Fault, Edit)> = faults[first..]
        .iter()
        .take_while(|(line, _)| *line <= section.last_line)
        .filter_map(|(line, fault)| Some((*line, *fault, mended(cx.bytes, fault)?)))
        .collect();
    let inside = letters_inside(cx);
    let kind = if inside.is_empty() {
        FixKind::Text
    } else {
        FixKind::Motion
    };
    damage.extend(inside);
    damage.sort_by_key(|(_, _, edit)| edit.span.start);
    damage.dedup_by_key(|(_, _, edit)| edit.span);
    let Some((line, fault, _)) = damage.first() else {
        return;
    };
    let more = damage.len() - 1;
    let mut finding = rule.found(
        (fault.span, *line),
        format!(
            "{}: {}{}",
            fault.kind.text(),
            text_of(cx.bytes, around(cx.bytes, fault.span)),
            match more {
                0 => String::new(),
                more => format!(" (and {more} more)"),
            }
        ),
    );
    for (line, fault, edit) in &damage {
        let place = around(cx.bytes, fault.span);
        finding = finding.because(format!(
            "{}: {}",
            quoted(cx.bytes, place, *line),
            fault.kind.text()
        ));
        if finding.because.len() > 1 {
            finding = finding.related((edit.span, *line), fault.kind.text());
        }
        if finding.because.len() > 20 {
            break;
        }
    }
    let count = damage.len();
    let edits: Vec<Edit> = damage.into_iter().map(|(_, _, edit)| edit).collect();
    out.push(
        finding
            .source("program text is letters, digits, points and signs of the ASCII set")
            .help("type the point, the minus sign or the zero, and look for more of the same")
            .fix(Fix {
                title: match count {
                    1 => "write the character that was meant (a control may read the damaged one otherwise)".into(),
                    count => format!(
                        "write the {count} characters that were meant (a control may read the \
                         damaged ones otherwise)"
                    ),
                },
                kind,
                edits,
            }),
    );
}

/// Letters O inside numbers of the section's blocks: `Z-2O.`, `P12O0`.
fn letters_inside(cx: &Context<'_>) -> Vec<(u32, Fault, Edit)> {
    let mut found = Vec::new();
    for block in &cx.section.blocks {
        let text = block.span.of(cx.bytes);
        let mut depth = 0usize;
        for (at, &byte) in text.iter().enumerate() {
            match byte {
                b'(' => depth += 1,
                b')' => depth = depth.saturating_sub(1),
                b';' if depth == 0 => break,
                _ => {}
            }
            let before = at.checked_sub(1).map(|at| text[at]);
            let behind = text.get(at + 1);
            let in_number = before.is_some_and(|b| b.is_ascii_digit() || b == b'.')
                && behind.is_none_or(|b| b.is_ascii_digit() || b". \tOo".contains(b));
            if depth == 0 && matches!(byte, b'O' | b'o') && in_number {
                let start = block.span.start + at as u32;
                let span = Span::new(start, start + 1);
                let fault = Fault {
                    kind: FaultKind::LetterO,
                    span,
                };
                let edit = Edit {
                    span,
                    text: "0".into(),
                };
                found.push((block.line, fault, edit));
            }
        }
    }
    found
}

/// The edit that writes what was meant.
fn mended(bytes: &[u8], fault: &Fault) -> Option<Edit> {
    let text = fault.span.of(bytes);
    let (wrong, right): (&[u8], &str) = match fault.kind {
        FaultKind::DecimalComma => (b",", "."),
        FaultKind::TypographicMinus => {
            return Some(Edit {
                span: fault.span,
                text: "-".into(),
            });
        }
        FaultKind::LetterO => (b"Oo", "0"),
        _ => return None,
    };
    // The letter O behind its address, which is no O itself.
    let skip = usize::from(fault.kind == FaultKind::LetterO);
    let at = text
        .iter()
        .skip(skip)
        .position(|byte| wrong.contains(byte))?
        + skip;
    let start = fault.span.start + at as u32;
    Some(Edit {
        span: Span::new(start, start + 1),
        text: right.into(),
    })
}

/// A fault with the word it stands in: back to the address, on to the end of the number.
fn around(bytes: &[u8], span: Span) -> Span {
    let (mut from, mut to) = (span.start as usize, span.end as usize);
    let part = |byte: &u8| byte.is_ascii_digit() || b".,-+Oo".contains(byte);
    while from > 0 && part(&bytes[from - 1]) {
        from -= 1;
    }
    if from > 0 && bytes[from - 1].is_ascii_alphabetic() && part(&bytes[from]) {
        from -= 1;
    } else if from > 0 && !bytes[from].is_ascii() && bytes[from - 1].is_ascii_alphabetic() {
        // A dash of more than one byte.
        from -= 1;
    }
    while bytes
        .get(to)
        .is_some_and(|byte| byte.is_ascii_digit() || b".,Oo".contains(byte))
    {
        to += 1;
    }
    Span::new(from as u32, to as u32)
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, mended};
    use crate::finding::FixKind;

    const RULE: &str = "code-damaged";

    #[test]
    fn found_and_mended_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\n(THREAD M20X2.5-6G)\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q400 F2,5\n",
                    "G21\n(THREAD M20X2.5-6G)\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
                ),
                // A dash in the strokes, twice, and one in the lines before.
                (
                    "G21\nG97 S900 M3\nGO X20. Z8.\nX15.\nG32 Z–30. F2.\nG0 X20.\nZ8.\nX14.\nG32 Z–30. F2.\n",
                    "G21\nG97 S900 M3\nG0 X20. Z8.\nX15.\nG32 Z-30. F2.\nG0 X20.\nZ8.\nX14.\nG32 Z-30. F2.\n",
                ),
                (
                    "G20\nG97S700M3\nG0X,9Z.4\nG76X,6273Z-1.75K.0613D0150A60F.1\n",
                    "G20\nG97S700M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n",
                ),
                (
                    "G21 G90 G95\nG97 S600 M3\nG0 XO46. Z6.\nG78 X41. Z-2O. F1.5\nX40.16\n",
                    "G21 G90 G95\nG97 S600 M3\nG0 X046. Z6.\nG78 X41. Z-20. F1.5\nX40.16\n",
                ),
                (
                    "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z−30 I−2 J0.35 R2 K1,227 Q27\n",
                    "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                ),
            ],
        );
    }

    #[test]
    fn one_fix_mends_all_of_a_section() {
        let text = "G21\nG97 S900 M3\nG0 X24. Z8,5\nG76 P020055 Q60 R0,03\nG76 X16,933 Z–32. P1534 Q400 F2,5\n";
        let found = findings(RULE, text);
        assert!(found[0].message.contains("and 4 more"), "{found:?}");
        let good = mended(text, &found[0]);
        assert!(good.is_ascii() && !good.contains(','), "{good}");
    }

    #[test]
    fn an_o_inside_a_number_changes_the_motion() {
        let one = |text: &str| findings(RULE, text)[0].fixes[0].kind;
        let text = "G21\nG97 S900 M3\nG0 X24. Z8.\nG92 X18. Z-32. F2.5\nX16.O33\nG0 X50.\n";
        assert_eq!(one(text), FixKind::Motion);
        assert_eq!(
            one(&text.replace("O33", ",").replace("24.", "2,4")),
            FixKind::Text
        );
    }

    #[test]
    fn silent_on_commas_that_belong_there_and_on_damage_far_away() {
        assert_silent(
            RULE,
            &[
                "G21\n(M20X2,5 – NEUE ZEICHNUNG)\nG97 S900 M3\nG0 X24. Z8.\nG92 X18. Z-32. F2.5 (F2,5)\nX16.933\n",
                "G21\nG1 X30. F0,2\nX31.\nX32.\nX33.\nG97 S900 M3\nG0 X24. Z8.\nG92 X18. Z-32. F2.5\nX16.933\nG0 X30.\nG1 Z–5. F0,2\n",
                "G21\nG1 X30.,R2.\nG97 S900 M3\nG0 X24. Z8.\nG92 X18. Z-32. F2.5\nX16.933\n",
            ],
        );
    }
}
