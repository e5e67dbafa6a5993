use lexer::section::RoleWord;
use lexer::units::Lead;

use super::lead_drift::{Leads, leads};
use super::lead_fix::{edits, fix};
use super::meant::{other_thread, other_units, root_fits};
use super::text::{lead as lead_text, length_of_mm, quoted};
use super::words::{is_own, spell_lead, text_of};
use super::{Context, Out, Rule, rule};
use crate::finding::Finding;
use crate::standards::thread::Thread;

rule! {
    /// # What it checks
    ///
    /// The advance per turn that the program writes (F, E, K or P, by the way of writing) against
    /// the thread that the note, the configuration or a comment names. The word carries the lead:
    /// starts times pitch.
    ///
    /// # Why it matters
    ///
    /// A thread with the wrong lead goes onto nothing. The usual ways to get there: the word of
    /// another size left standing in a copied block, the pitch instead of the lead of a thread with
    /// several starts, threads per inch written as a lead, millimetres in an inch program, or no F
    /// at all, so that the last turning feed becomes the lead.
    ///
    /// # The sum
    ///
    /// lead = starts · pitch. A difference of up to half a unit of the last decimal written is
    /// rounding, not a fault, as long as it stays below 1.2 % of the lead; where it adds up over the
    /// thread, lead-rounding says so.
    ///
    /// # What it needs
    ///
    /// A designation in a note `(THREAD …)`, the configuration or a comment. A thread that was only
    /// inferred rests on the lead itself and is not compared with it.
    ///
    /// # When it stays silent
    ///
    /// Inch leads to the decimals of the control, metric leads in an inch program (F.059055 is
    /// 1.5 mm), each start of a thread with several starts cut with the whole lead.
    ///
    /// # Mend
    ///
    /// Writes the lead of the designation in the style of the word, where the deepest pass fits the
    /// designation too. Where it fits another thread, the note may be what is wrong, and nothing is
    /// offered.
    ///
    /// # Source
    ///
    /// The pitches of the thread's standard, named in the finding.
    "lead-vs-designation", Error,
    "the lead written is not starts times pitch of the stated thread",
    fixes: true, needs_designation: true, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(thread) = cx.thread() else {
        if !cx.is_groove() {
            out.not_judged(rule, "no designation is stated");
        }
        return;
    };
    if !cx.stated() {
        return;
    }
    let section = cx.section;
    if let Some(why) = section.cut.lead.why() {
        return out.not_judged(rule, format!("the lead is not known: {why}"));
    }
    if let Leads::Wrong(lead, word, line) = leads(cx, thread) {
        out.push(wrong(rule, cx, thread, lead, word, line));
    }
}

/// What slip the lead looks like.
fn slip(cx: &Context<'_>, thread: &Thread, lead: Lead, word: Option<&RoleWord>) -> Option<String> {
    let wanted = thread.lead().mm();
    let near = |value: f64| (lead.mm() - value).abs() <= 0.012 * value;
    let seen = cx.section.cut.starts;
    if thread.starts > 1 && near(thread.pitch.mm()) {
        return Some(format!(
            "it is the pitch; with {} starts the word must carry {} times as much",
            thread.starts, thread.starts
        ));
    }
    if seen > thread.starts && near(wanted * f64::from(seen)) {
        return Some(format!(
            "the program cuts {seen} starts, the designation names {}",
            thread.starts
        ));
    }
    if let Some(word) = word {
        let per_inch = 25.4 / thread.pitch.mm();
        if (word.number.value() - per_inch).abs() < 0.01 * per_inch {
            return Some("it is the number of threads per inch".into());
        }
        if !is_own(cx.section, word) {
            return Some(format!(
                "the thread writes no lead of its own, {} is still in force",
                quoted(cx.bytes, word.span, word.line)
            ));
        }
    }
    for (factor, what) in [
        (25.4, "it would be right in millimetres"),
        (1.0 / 25.4, "it would be right in inches"),
        (10.0, "it is ten times too large"),
        (0.1, "it is ten times too small"),
        (2.0, "it is twice the lead"),
        (0.5, "it is half the lead"),
    ] {
        if near(wanted * factor) {
            return Some(what.into());
        }
    }
    None
}

fn wrong(
    rule: &Rule,
    cx: &Context<'_>,
    thread: &Thread,
    lead: Lead,
    word: Option<&RoleWord>,
    line: u32,
) -> Finding {
    let section = cx.section;
    let units = section.units;
    let wanted = thread.lead();
    let written = word.map_or("the block".into(), |word| text_of(cx.bytes, word.span));
    let place = match word {
        Some(word) if is_own(section, word) => (word.span, word.line),
        _ => block_at(cx, line),
    };
    let mut finding = rule
        .found(
            place,
            format!(
                "{written} makes a lead of {}, {} has {}",
                lead_text(lead, units),
                thread.designation(),
                lead_text(wanted, units)
            ),
        )
        .because(match word {
            Some(word) => format!(
                "{}: lead {}",
                quoted(cx.bytes, word.span, word.line),
                lead_text(lead, units)
            ),
            None => format!("line {line}: lead {}", lead_text(lead, units)),
        })
        .because(format!(
            "{}: pitch {} x {} {} = lead {}",
            cx.identified.why,
            lead_text(thread.pitch, units),
            thread.starts,
            if thread.starts == 1 {
                "start"
            } else {
                "starts"
            },
            lead_text(wanted, units)
        ))
        .because(format!(
            "every turn is off by {}",
            length_of_mm((lead.mm() - wanted.mm()).abs(), units)
        ))
        .source(format!(
            "{}; the word carries starts times pitch",
            thread.family.standard().standards
        ));
    if let Some(slip) = slip(cx, thread, lead, word) {
        finding = finding.because(slip);
    }
    if let Some((span, at)) = cx.identified.place {
        finding = finding.related(
            (span, at),
            format!("{} is named here", thread.designation()),
        );
    }
    if let Some(other) = other_thread(cx, thread) {
        return finding.help(format!(
            "the diameters and the lead are those of {other}: either the designation or the \
             numbers are wrong; correct what the drawing does not say"
        ));
    }
    if other_units(cx, thread) {
        return finding.help(format!(
            "the diameters too are off by 25.4: check whether the program is in millimetres or \
             inches (it is read in {})",
            units.name()
        ));
    }
    let new = word.map(|word| {
        let text = spell_lead(word, wanted);
        (word, format!("{}{text}", word.address()), text)
    });
    let lead_words = lead_text(wanted, units);
    if !root_fits(cx, thread) {
        return finding.help(format!(
            "the deepest diameter does not fit {} either; check the designation, then write a lead \
             of {lead_words}",
            thread.designation()
        ));
    }
    let Some((word, new, text)) = new else {
        return finding.help(format!("write a lead of {lead_words}"));
    };
    let finding = finding.help(format!("write {new}"));
    match edits(cx, word, &text, line) {
        Some(edits) => finding.fix(fix(cx, &new, &written, lead, wanted, edits)),
        None => finding,
    }
}

fn block_at(cx: &Context<'_>, line: u32) -> (lexer::source::Span, u32) {
    let mut blocks = cx.section.blocks.iter();
    blocks
        .find(|block| block.line == line)
        .map_or_else(|| cx.place(), |block| (block.span, block.line))
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};

    const RULE: &str = "lead-vs-designation";

    #[test]
    fn found_and_mended_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                // Strokes: every F of the section.
                (
                    "G21\nT0303 (THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nX15.\nG32 Z-30. F1.5\nG0 X20.\nZ8.\nX14.2\nG32 Z-30. F1.5\nG0 X20.\nZ8.\nX13.546\nG32 Z-30. F1.5\n",
                    "G21\nT0303 (THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nX15.\nG32 Z-30. F2.0\nG0 X20.\nZ8.\nX14.2\nG32 Z-30. F2.0\nG0 X20.\nZ8.\nX13.546\nG32 Z-30. F2.0\n",
                ),
                // Boxes A, B, C: one F in force for all.
                (
                    "G20\nT0202(THREAD 3/4-10 UNC-2A)\nG97S800M3\nG0X.95Z.4\nG92X.7Z-1.F.0833\nX.66\nX.6273\n",
                    "G20\nT0202(THREAD 3/4-10 UNC-2A)\nG97S800M3\nG0X.95Z.4\nG92X.7Z-1.F.1000\nX.66\nX.6273\n",
                ),
                (
                    "G21 G90 G95\nT0707\n(THREAD M42X1.5-6G)\nG97 S600 M3\nG0 X46. Z6.\nG78 X41. Z-20. F2\nX40.16\n",
                    "G21 G90 G95\nT0707\n(THREAD M42X1.5-6G)\nG97 S600 M3\nG0 X46. Z6.\nG78 X41. Z-20. F1.5\nX40.16\n",
                ),
                (
                    "G71\nG90 G95\nT0606\n(THREAD M60X2-6G)\nG97 S600 M3\nG0 X64. Z8.\nG21 X59.3 Z-18. F20.\nX57.546\n",
                    "G71\nG90 G95\nT0606\n(THREAD M60X2-6G)\nG97 S600 M3\nG0 X64. Z8.\nG21 X59.3 Z-18. F2.\nX57.546\n",
                ),
                // The pitch written for the lead of two starts.
                (
                    "G21\nT0303\n(THREAD M40XPH6P3-6G)\nG97 S300 M3\nG0 X45. Z18.\nG92 X39. Z-60. F3. Q0\nX39. Q180000\nX37.9 Q0\nX37.9 Q180000\nX37. Q0\nX37. Q180000\nX36.319 Q0\nX36.319 Q180000\nG0 X90.\n",
                    "G21\nT0303\n(THREAD M40XPH6P3-6G)\nG97 S300 M3\nG0 X45. Z18.\nG92 X39. Z-60. F6. Q0\nX39. Q180000\nX37.9 Q0\nX37.9 Q180000\nX37. Q0\nX37. Q180000\nX36.319 Q0\nX36.319 Q180000\nG0 X90.\n",
                ),
                // Threads per inch for a lead.
                (
                    "G20\nT0505(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F10\n",
                    "G20\nT0505(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F0.1\n",
                ),
                (
                    "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P1.5 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                    "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2.0 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                ),
                // No F in the thread: the turning feed before is still in force.
                (
                    "G21\nT0303 (THREAD M16X2-6G)\nG97 S900 M3\nG1 X20. F0.2\nG0 X20. Z8.\nX15.\nG32 Z-30.\nG0 X20.\nZ8.\nX14.2\nG32 Z-30.\nG0 X20.\nZ8.\nX13.546\nG32 Z-30.\n",
                    "G21\nT0303 (THREAD M16X2-6G)\nG97 S900 M3\nG1 X20. F0.2\nG0 X20. Z8.\nX15.\nG32 Z-30. F2.0\nG0 X20.\nZ8.\nX14.2\nG32 Z-30.\nG0 X20.\nZ8.\nX13.546\nG32 Z-30.\n",
                ),
            ],
        );
    }

    #[test]
    fn slips_are_named() {
        let one = |text: &str| findings(RULE, text).remove(0).because.join("; ");
        let starts =
            one("G21\n(THREAD M40XPH6P3-6G)\nG97 S300 M3\nG0 X45. Z18.\nG92 X36.319 Z-60. F3.\n");
        assert!(
            starts.contains("it is the pitch; with 2 starts"),
            "{starts}"
        );
        let feed =
            one("G21\n(THREAD M16X2-6G)\nG97 S9 M3\nG1 X20. Z5. F0.2\nG0 X13.546\nG32 Z-30.\n");
        assert!(feed.contains("F0.2 in line 4"), "{feed}");
    }

    #[test]
    fn silent_on_sound_leads() {
        assert_silent(
            RULE,
            &[
                // A metric lead in an inch program, an inch lead in a metric one.
                "G20\n(THREAD M20X1.5-6G)\nG97 S700 M3\nG0 X.9 Z.4\nG76 P020055 Q20 R.001\nG76 X.7149 Z-1. P0362 Q100 F.059055\n",
                "G21\n(THREAD 1/2-13 UNC-2A)\nG97 S700 M3\nG0 X16. Z8.\nG92 X12. Z-20. F1.9538\nX10.3\n",
                // Thirteen threads per inch to four decimals, over half an inch.
                "G20\n(THREAD 1/2-13 UNC-2A)\nG97 S700 M3\nG0 X.7 Z.4\nG92 X.45 Z-.75 F.0769\nX.4056\n",
                // Threads per inch in the fine-lead word.
                "G20\n(THREAD 1 1/8-7 UNC-2A)\nG97 S400 M3\nG0 X1.3 Z.6\nG92 X1.05 Z-1. E7.\nX.9498\n",
                // Two starts by a shifted start, each with the whole lead.
                "G21\n(THREAD M40XPH6P3-6G)\nG97 S300 M3\nG0 X45. Z18.\nG92 X36.319 Z-60. F6.\nG0 X45. Z21.\nG92 X36.319 Z-60. F6.\nG0 X90.\n",
                // Nothing stated: the lead is what names the thread.
                "G21\nG97 S700 M3\nG0 X34. Z8.\nG92 X29. Z-20. F2.\nX27.546\n",
            ],
        );
    }
}
