use lexer::section::{Note, Role};

use super::text::quoted;
use super::{Context, Out, Rule, rule, words};
use crate::identify::Conflict;

rule! {
    /// # What it checks
    ///
    /// Comments near the tool and at the head of the program that clearly name a thread, against
    /// the lead and the deepest diameter that the blocks cut.
    ///
    /// # Why it matters
    ///
    /// Programs are copied. The header still says M20x1.5 while the blocks cut M20x2.5, or the other
    /// way round, and whoever sets the job believes the header and takes the wrong gauge and the
    /// wrong insert.
    ///
    /// # The sum
    ///
    /// A comment contradicts when its lead (starts times pitch) is not the lead written, beyond
    /// rounding, or when no thread of that size can end at the deepest diameter.
    ///
    /// # What it needs
    ///
    /// A comment that reads as a designation beyond doubt: pitch and diameter belong together, a
    /// series or a class is written, or a word for threading stands beside it. A `(THREAD …)` note
    /// that cannot be read is said to be so.
    ///
    /// # When it stays silent
    ///
    /// Comments that speak of a tap, a drill or a mating part, that another section of the same
    /// program cuts, or that stand elsewhere than near the tool or at the head. Beside a comment
    /// that goes with the numbers only another pitch of the same size counts. A `(THREAD …)` note
    /// overrides free comments.
    ///
    /// # Mend
    ///
    /// Look at the drawing and correct the comment or the blocks. Which of them is right is not in
    /// the program, so nothing is written for you.
    ///
    /// # Source
    ///
    /// The sizes of the thread's standard; how a comment is weighed is our own choice.
    "designation-conflict", Warning,
    "a comment names another thread than the blocks cut",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    if let Some((why, (_, line))) = &cx.identified.unreadable {
        out.not_judged(
            rule,
            format!("the THREAD note in line {line} cannot be read: {why}"),
        );
    }
    let Some(conflict) = &cx.identified.conflict else {
        return;
    };
    if cx.section.chase || cx.is_groove() || told_before(cx, conflict) {
        return;
    }
    let named = conflict.named.designation();
    let mut finding = rule
        .found(
            (conflict.span, conflict.line),
            format!(
                "the comment names {named}, the blocks in lines {} to {} do not cut it: {}",
                cx.section.first_line, cx.section.last_line, conflict.disagrees
            ),
        )
        .because(format!(
            "{} names {named}",
            quoted(cx.bytes, conflict.span, conflict.line)
        ))
        .because(conflict.disagrees.clone());
    for (role, what) in [
        (Role::Lead, "the lead"),
        (Role::EndX, "the deepest diameter"),
    ] {
        if let Some(word) = words::at_line(cx.section, role, cx.section.last_line) {
            finding = finding
                .because(format!(
                    "{}: {what} written",
                    quoted(cx.bytes, word.span, word.line)
                ))
                .related((word.span, word.line), format!("{what} is written here"));
        }
    }
    let cut = match (cx.thread(), cx.identified.candidates.first()) {
        (Some(thread), _) => Some((thread.designation(), cx.identified.why.clone())),
        (None, Some(best)) if best.distance <= 0.5 => Some((
            best.thread.designation(),
            format!("nearest, {}", best.reasons.join("; ")),
        )),
        _ => None,
    };
    if let Some((cut, why)) = &cut {
        finding = finding.because(format!("the numbers are those of {cut} ({why})"));
    }
    let help = match cut {
        Some((cut, _)) => format!(
            "look at the drawing: if {cut} is right, correct the comment; if {named} is right, \
             correct lead, depth and diameters"
        ),
        None => "look at the drawing and correct the comment or the blocks".into(),
    };
    out.push(
        finding
            .source(format!(
                "sizes of {}",
                conflict.named.family.standard().standards
            ))
            .help(help),
    );
}

/// Whether the section before stands under the same comment and has been told of it.
fn told_before(cx: &Context<'_>, conflict: &Conflict) -> bool {
    let note = Note {
        span: conflict.span,
        line: conflict.line,
    };
    let before = cx.index.checked_sub(1).map(|at| &cx.program.sections[at]);
    before.is_some_and(|before| before.notes.contains(&note))
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, judged};
    use crate::facts::Facts;

    const RULE: &str = "designation-conflict";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\n(M16X1.5 STUD)\nT0303\nG97 S900 M3\nG0 X20. Z8.\nX15.\nG32 Z-30. F2.\nG0 X20.\nZ8.\nX13.546\nG32 Z-30. F2.\n",
                    "G21\n(M16X2 STUD)\nT0303\nG97 S900 M3\nG0 X20. Z8.\nX15.\nG32 Z-30. F2.\nG0 X20.\nZ8.\nX13.546\nG32 Z-30. F2.\n",
                ),
                // The diameter disagrees.
                (
                    "G21\nT0404 (M33X3 INT THREAD)\nG97 S700 M3\nG0 X31. Z10.\nG92 X33.6 Z-27. F3.\nX36.\n",
                    "G21\nT0404 (M36X3 INT THREAD)\nG97 S700 M3\nG0 X31. Z10.\nG92 X33.6 Z-27. F3.\nX36.\n",
                ),
                (
                    "O1(SLEEVE M20X1.5)\nG21\nT0303\nG97 S700 M3\nG0 X24. Z8.\nG76 P020055 Q80 R0.05\nG76 X16.933 Z-36. P1534 Q350 F2.5\n",
                    "O1(SLEEVE M20X2.5)\nG21\nT0303\nG97 S700 M3\nG0 X24. Z8.\nG76 P020055 Q80 R0.05\nG76 X16.933 Z-36. P1534 Q350 F2.5\n",
                ),
                (
                    "O2(3/4-16 UNF)\nG20\nT0505\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n",
                    "O2(3/4-10 UNC)\nG20\nT0505\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n",
                ),
                (
                    "; M24x3 shaft end\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                    "; M24x2 shaft end\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                ),
            ],
        );
    }

    #[test]
    fn silent_where_a_comment_speaks_of_something_else() {
        assert_silent(
            RULE,
            &[
                // Two threads in one program, both named at the head.
                "O1\n(M30X2 LEFT, M20X1.5 RIGHT)\nG21\nT0303\nG97 S700 M3\nG0 X34. Z8.\nG76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nG0 X24. Z8.\nG76 P020055 Q80 R0.05\nG76 X18.16 Z-16. P920 Q300 F1.5\n",
                // A tap and a tool list.
                "O1\n(T3 THREAD TOOL)\n(T5 TAP M8X1.25)\nG21\nT0303\nG97 S700 M3\nG0 X34. Z8.\nG76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                // The mating part.
                "O1\n(MATES WITH M36X3 NUT)\nG21\nT0303\nG97 S700 M3\nG0 X34. Z8.\nG76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                // A note overrides a comment.
                "O1 (M30X3)\n(THREAD M30X2-6G)\nG21\nT0303\nG97 S700 M3\nG0 X34. Z8.\nG76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                // A comment of another tool.
                "O1\nG21\nT0101 (M24X1.5 INSERT)\nG0 X50. Z5.\nT0303\nG97 S700 M3\nG0 X34. Z8.\nG76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                // No size beyond doubt.
                "O1 (M12 REV 2-56)\nG21\nT0303\nG97 S700 M3\nG0 X34. Z8.\nG76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
            ],
        );
    }

    #[test]
    fn a_note_that_cannot_be_read_is_said_to_be_so() {
        let text =
            "G21\n(THREAD M30X2-9Q)\nG97 S700 M3\nG0 X34. Z8.\nG92 X28. Z-36. F2.\nX27.546\n";
        let judgement = judged(text, &Facts::default());
        let reasons: Vec<_> = judgement.not_judged.concat();
        assert!(
            reasons
                .iter()
                .any(|(name, why)| *name == RULE && why.contains("line 2 cannot be read")),
            "{reasons:?}"
        );
    }
}
