use lexer::block::{FaultKind, blocks};
use lexer::section::{Missing, Role, RoleWord, Section, Side};
use lexer::source::Span;
use lexer::units::Length;

use super::text::{length, quoted};
use super::words::{append, text_of};
use super::{Context, Out, Rule, rule};
use crate::finding::{Finding, Fix, FixKind, Severity};

rule! {
    /// # What it checks
    ///
    /// Whether a threading cycle has the words it cannot do without (height, first cut, lead; in the
    /// drive-line cycle P, I, J and K), each with a value above zero. And whether the first block of
    /// a two-block cycle writes P, Q and R, or leaves them to what the control happens to hold.
    ///
    /// # Why it matters
    ///
    /// Without a height or a first cut the control stops with an alarm, in the middle of a shift. A
    /// first block without Q or R is worse: the control takes the values of the last thread that was
    /// cut, in this program or in another, so that the same program makes 9 passes today and 24
    /// tomorrow.
    ///
    /// # The sum
    ///
    /// None; where the thread is known, the height that would be right is shown.
    ///
    /// # What it needs
    ///
    /// The program alone. Settings of the control in the configuration (minimum cut, finishing
    /// allowance) count as written.
    ///
    /// # When it stays silent
    ///
    /// Words with a variable or an expression, a second block that uses the first block of the
    /// thread before it, and a feed word that is still in force from an earlier block.
    ///
    /// # Mend
    ///
    /// Where an earlier first block of the program wrote the word that is still in force, the same
    /// word is added, which changes nothing in the cut. Missing heights, cuts and leads are not made
    /// up.
    ///
    /// # Source
    ///
    /// Words of the drive-line cycle: documentation of the open RS274/NGC interpreter. Words of the
    /// other cycles: common to control manuals, from memory.
    "cycle-word-missing", Error,
    "a word that the cycle needs is missing, zero or left to the control's memory",
    fixes: true, needs_designation: false, check
}

/// Letters of cycle words that stand for nothing without a value.
const LETTERS: &[u8] = b"XZUWIJKPQRDAFEHL";

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let empty = without_value(cx);
    for (span, line) in &empty {
        out.push(
            rule.found(
                (*span, *line),
                format!("{} in line {line} has no value", text_of(cx.bytes, *span)),
            )
            .because(quoted(
                cx.bytes,
                block(section, *line).unwrap_or(*span),
                *line,
            ))
            .source("common to control manuals, from memory: an address needs a number")
            .help("write the value, or delete the letter"),
        );
    }
    let is_empty = |missing: &Missing| {
        let letters = missing.letters.as_bytes();
        empty.iter().any(|(span, _)| {
            span.of(cx.bytes)
                .iter()
                .all(|b| letters.contains(&b.to_ascii_uppercase()))
        })
    };
    for missing in section.missing.iter().filter(|m| !is_first_block(m.role)) {
        if !is_empty(missing) && !has_letter(cx.bytes, missing.block, missing.letters) {
            out.push(needed(
                rule,
                cx,
                missing.role,
                missing.letters,
                (missing.block, missing.line),
            ));
        }
    }
    let lead_told = section.missing.iter().any(|m| m.role == Role::Lead);
    let no_lead = section.cut.lead.why() == Some("the lead is not written");
    if no_lead && !lead_told && !has_letter(cx.bytes, cx.place().0, "FE") {
        out.push(needed(rule, cx, Role::Lead, "F", cx.place()));
    }
    for role in [Role::Height, Role::FirstCut, Role::Lead, Role::CrestOffset] {
        if let Some(word) = section.word(role)
            && let Some(finding) = zero(rule, cx, word)
        {
            out.push(finding);
        }
    }
    first_block(rule, cx, out);
}

const fn is_first_block(role: Role) -> bool {
    matches!(role, Role::Packed | Role::MinCut | Role::FinishAllowance)
}

const fn name(role: Role) -> &'static str {
    match role {
        Role::Height => "the thread height",
        Role::FirstCut => "the first cut",
        Role::Lead => "the lead",
        Role::CrestOffset => "the distance from the drive line to the crest",
        Role::Packed => "passes, pull-out and tool angle",
        Role::MinCut => "the minimum cut",
        Role::FinishAllowance => "the finishing allowance",
        _ => "a value",
    }
}

fn block(section: &Section, line: u32) -> Option<Span> {
    let mut blocks = section.blocks.iter();
    blocks
        .find(|block| block.line == line)
        .map(|block| block.span)
}

/// Addresses of the section's blocks that stand alone. A template's braces are no fault.
fn without_value(cx: &Context<'_>) -> Vec<(Span, u32)> {
    let section = cx.section;
    cx.seen.lines(section.first_line..=section.last_line);
    let faults = &cx.program.faults;
    let first = faults.partition_point(|(line, _)| *line < section.first_line);
    faults[first..]
        .iter()
        .take_while(|(line, _)| *line <= section.last_line)
        .filter(|(line, fault)| {
            fault.kind == FaultKind::MissingValue && block(section, *line).is_some()
        })
        .filter(|(_, fault)| {
            let letter = fault.span.of(cx.bytes).first().map(u8::to_ascii_uppercase);
            let behind = cx.bytes.get(fault.span.end as usize);
            letter.is_some_and(|letter| LETTERS.contains(&letter))
                && behind.is_none_or(|byte| !b"{[<$\"".contains(byte))
        })
        .map(|(line, fault)| (fault.span, *line))
        .collect()
}

fn needed(rule: &Rule, cx: &Context<'_>, role: Role, letters: &str, place: (Span, u32)) -> Finding {
    let finding = rule
        .found(
            place,
            format!(
                "the cycle cannot run: {letters} ({}) is missing in line {}",
                name(role),
                place.1
            ),
        )
        .because(quoted(cx.bytes, place.0, place.1))
        .source(source(cx))
        .help(format!("write {letters} with {}", name(role)));
    with_right_value(cx, role, finding)
}

fn source(cx: &Context<'_>) -> &'static str {
    match cx.section.syntax {
        lexer::section::Syntax::DriveLine => "documentation of the open RS274/NGC interpreter",
        _ => "common to control manuals, from memory",
    }
}

/// Shows the height or the lead of a known thread.
fn with_right_value(cx: &Context<'_>, role: Role, finding: Finding) -> Finding {
    let Some(thread) = cx.thread() else {
        return finding;
    };
    let units = cx.section.units;
    let right = match (role, cx.side()) {
        (Role::Lead, _) => super::text::lead(thread.lead(), units),
        (Role::Height, Some(side)) => {
            let root = cx.section.cut.root_x.get().map(|root| root.abs().mm());
            let depth = match (side, root) {
                (Side::External, Some(root)) => (thread.major.mm() - root) / 2.0,
                (Side::Internal, Some(root)) => (root - thread.basic().minor) / 2.0,
                (side, None) => thread.form().design_depth(side, thread.pitch.mm()),
            };
            length(Length::from_mm(depth), units)
        }
        _ => return finding,
    };
    finding.because(format!(
        "{}: {} would be {right}",
        thread.designation(),
        name(role)
    ))
}

/// A word that says zero or less where the cycle needs more.
fn zero(rule: &Rule, cx: &Context<'_>, word: &RoleWord) -> Option<Finding> {
    let value = word.number.value();
    let wrong = match word.role {
        Role::CrestOffset => value == 0.0,
        Role::Lead => value == 0.0,
        _ => value <= 0.0,
    };
    if !wrong {
        return None;
    }
    let finding = rule
        .found(
            (word.span, word.line),
            format!(
                "the cycle cannot run: {} makes {} {}",
                text_of(cx.bytes, word.span),
                name(word.role),
                if value == 0.0 { "zero" } else { "negative" }
            ),
        )
        .because(quoted(cx.bytes, word.span, word.line))
        .source(source(cx))
        .help(format!("write {} with a value above zero", name(word.role)));
    Some(with_right_value(cx, word.role, finding))
}

/// Whether a block writes one of the letters all the same, with a variable, a template or nothing.
fn has_letter(bytes: &[u8], block: Span, letters: &str) -> bool {
    let read = blocks(block.of(bytes));
    read.first()
        .is_some_and(|block| block.has_any(letters.as_bytes()))
}

/// Words of the first block that are left to the control's memory.
fn first_block(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let configured = |role: Role| match role {
        Role::MinCut => cx.settings.min_cut.is_some(),
        Role::FinishAllowance => cx.settings.finish_allowance.is_some(),
        _ => false,
    };
    let main = section.blocks.last().map(|block| block.span);
    let left: Vec<&Missing> = section
        .missing
        .iter()
        .filter(|missing| is_first_block(missing.role) && !configured(missing.role))
        .filter(|missing| {
            // The second block's own letters say something else.
            Some(missing.block) == main || !has_letter(cx.bytes, missing.block, missing.letters)
        })
        .collect();
    let Some(first) = left.first() else {
        return;
    };
    let letters: Vec<&str> = left.iter().map(|missing| missing.letters).collect();
    let no_block = main == Some(first.block);
    let message = if no_block {
        format!(
            "no first block writes {}: the control takes what it holds",
            letters.join(", ")
        )
    } else {
        format!(
            "the first block leaves {} to the control's memory",
            letters.join(" and ")
        )
    };
    let mut finding = rule
        .found((first.block, first.line), message)
        .severity(Severity::Advice)
        .source("common to control manuals, from memory: these words stay in force");
    for missing in &left {
        finding = finding.because(match missing.in_force {
            Some(word) => format!(
                "{} ({}): {} is still in force",
                missing.letters,
                name(missing.role),
                quoted(cx.bytes, word.value, word.line)
            ),
            None => format!(
                "{} ({}): written nowhere before in this program",
                missing.letters,
                name(missing.role)
            ),
        });
        if let Some(word) = missing.in_force {
            finding = finding.related((word.value, word.line), "still in force from here");
        }
    }
    let words: Option<Vec<String>> = left
        .iter()
        .map(|missing| Some(text_of(cx.bytes, missing.in_force?.value)))
        .collect();
    let fix = words
        .filter(|_| !no_block)
        .and_then(|words| Some((append(cx.bytes, first.block, &words)?, words)));
    out.push(match fix {
        Some((edit, words)) => finding
            .help(format!("write {} here too", words.join(" ")))
            .fix(Fix {
                title: format!(
                    "add {} as it stands in force; the cut stays as it is",
                    words.join(" ")
                ),
                kind: FixKind::Text,
                edits: vec![edit],
            }),
        None => finding.help(format!(
            "write {} in the first block, so that the program does not depend on the last one",
            letters.join(", ")
        )),
    });
}

#[cfg(test)]
mod tests {
    use lexer::program::Settings;
    use lexer::units::Radial;

    use crate::checks::testing::{assert_pairs, assert_silent, findings};
    use crate::facts::Facts;
    use crate::finding::{FixKind, Severity};
    use crate::judge::judge;

    const RULE: &str = "cycle-word-missing";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. Q400 F2.5\n",
                    "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
                ),
                (
                    "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 F2.5\n",
                    "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
                ),
                (
                    "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q400\n",
                    "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
                ),
                (
                    "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q0 F2.5\n",
                    "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
                ),
                // An address that stands alone.
                (
                    "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P Q400 F2.5\n",
                    "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
                ),
                (
                    "G20\nG97S700M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613A60F.1\n",
                    "G20\nG97S700M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n",
                ),
                (
                    "G21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 J0.35 R2 K1.227 Q27\n",
                    "G21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                ),
                (
                    "G21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I0 J0.35 R2 K1.227 Q27\n",
                    "G21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                ),
                // No lead at all, in strokes.
                (
                    "G21\nG97 S900 M3\nG0 X20. Z8.\nX15.\nG32 Z-30.\nG0 X20.\nZ8.\nX14.\nG32 Z-30.\n",
                    "G21\nG97 S900 M3\nG0 X20. Z8.\nX15.\nG32 Z-30. F2.\nG0 X20.\nZ8.\nX14.\nG32 Z-30.\n",
                ),
                // The first block of the second thread leaves Q and R to the control's memory.
                (
                    "G21\nG97 S900 M3\nG0 X34. Z8.\nG76 P020055 Q60 R0.03\nG76 X27.546 Z-32. P1227 Q360 F2.\nT0404\nG0 X24. Z8.\nG76 P020060\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
                    "G21\nG97 S900 M3\nG0 X34. Z8.\nG76 P020055 Q60 R0.03\nG76 X27.546 Z-32. P1227 Q360 F2.\nT0404\nG0 X24. Z8.\nG76 P020060 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
                ),
                (
                    "G21\nG97S900M3\nG0X34.Z8.\nG76P020055Q60R0.03\nG76X27.546Z-32.P1227Q360F2.\nT0404\nG0X24.Z8.\nG76P020060Q70(FINE)\nG76X16.933Z-32.P1534Q400F2.5\n",
                    "G21\nG97S900M3\nG0X34.Z8.\nG76P020055Q60R0.03\nG76X27.546Z-32.P1227Q360F2.\nT0404\nG0X24.Z8.\nG76P020060Q70R0.03(FINE)\nG76X16.933Z-32.P1534Q400F2.5\n",
                ),
            ],
        );
    }

    #[test]
    fn memory_is_advice_and_its_fix_changes_no_motion() {
        let text = "G21\nG97 S900 M3\nG0 X34. Z8.\nG76 P020055 Q60 R0.03\nG76 X27.546 Z-32. P1227 Q360 F2.\nT0404\nG0 X24. Z8.\nG76 P020060\nG76 X16.933 Z-32. P1534 Q400 F2.5\n";
        let found = findings(RULE, text);
        assert_eq!(found[0].severity, Severity::Advice);
        assert_eq!(found[0].fixes[0].kind, FixKind::Text);
        // Nothing in this program tells what is in force.
        let found = findings(
            RULE,
            "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020060\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
        );
        assert_eq!(
            (found[0].severity, found[0].fixes.len()),
            (Severity::Advice, 0)
        );
        let found = findings(
            RULE,
            "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
        );
        assert!(
            found[0]
                .message
                .starts_with("no first block writes P, Q, R"),
            "{found:?}"
        );
    }

    #[test]
    fn settings_of_the_control_count_as_written() {
        let text =
            b"G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020060\nG76 X16.933 Z-32. P1534 Q400 F2.5\n";
        let settings = Settings {
            min_cut: Some(Radial::from_mm(0.05)),
            finish_allowance: Some(Radial::from_mm(0.02)),
            ..Settings::default()
        };
        let program = lexer::read(text, &settings);
        let judgement = judge(text, &program, &settings, &Facts::default());
        assert!(
            judgement
                .findings
                .iter()
                .all(|finding| finding.rule != RULE)
        );
    }

    #[test]
    fn silent_on_what_is_written_elsewhere() {
        assert_silent(
            RULE,
            &[
                // Two threads under one first block.
                "G21\nG97 S900 M3\nG0 X34. Z8.\nG76 P020055 Q60 R0.03\nG76 X27.546 Z-32. P1227 Q360 F2.\nG0 X24. Z8.\nG76 X16.933 Z-32. P1534 Q400 F2.5\n",
                // Variables.
                "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q#5 R0.03\nG76 X16.933 Z-32. P#1 Q[#1/4] F2.5\n",
                // F in force from the positioning block.
                "G21\nG97 S900 M3\nG0 X20. Z8. F2.\nX15.\nG32 Z-30.\nG0 X20.\nZ8.\nX14.\nG32 Z-30.\n",
                // A template.
                "G21\nG97 S900 M3\nG0 X24. Z8.\nG76 P020055 Q60 R0.03\nG76 X16.933 Z-32. P1534 Q400 F{LEAD}\n",
            ],
        );
    }
}
