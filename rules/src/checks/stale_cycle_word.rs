use lexer::section::{Role, RoleWord, Section, Syntax};

use super::text::{lead, quoted};
use super::{Context, Out, Rule, rule};
use crate::finding::Finding;

rule! {
    /// # What it checks
    ///
    /// A thread does not silently use words that another thread or another tool left in force: the
    /// first block of a two-block cycle written for another thread, or the F of a turning cut as its
    /// lead.
    ///
    /// # Why it matters
    ///
    /// Finishing repeats, pull-out, tool angle, minimum cut and allowance of a fine thread make 40
    /// passes of a coarse one, or a pull-out where there is a relief. A turning feed as the lead
    /// cuts a thread of 0.2 mm. Nothing in the block shows it, and whoever changes the first thread
    /// changes the second.
    ///
    /// # The sum
    ///
    /// None: line of the word against the line of the tool change, and the leads of both threads.
    ///
    /// # What it needs
    ///
    /// The program text.
    ///
    /// # When it stays silent
    ///
    /// For the other starts of a thread, its chase, a second thread with the same tool and lead,
    /// which the same words fit, and an F that was written since the tool change.
    ///
    /// # Mend
    ///
    /// Write a first block for each thread, and F in the thread's own block.
    ///
    /// # Source
    ///
    /// That these words stay in force: common to control manuals, from memory.
    "stale-cycle-word", Warning,
    "words that another thread or tool left in force shape this thread",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    if cx.section.chase {
        return;
    }
    if let Some(finding) = first_block(rule, cx).or_else(|| feed(rule, cx)) {
        out.push(finding);
    }
}

/// The first block of a thread before.
fn first_block(rule: &Rule, cx: &Context<'_>) -> Option<Finding> {
    let section = cx.section;
    if section.syntax != Syntax::TwoBlock {
        return None;
    }
    let roles = [Role::Packed, Role::MinCut, Role::FinishAllowance];
    let words: Vec<&RoleWord> = section
        .words
        .iter()
        .filter(|word| roles.contains(&word.role))
        .collect();
    let word = words.first()?;
    if word.line >= section.first_line {
        return None;
    }
    // The thread that the first block was written for.
    cx.seen.sections();
    let owner = cx.program.sections[..cx.index]
        .iter()
        .rev()
        .find(|before| before.first_line <= word.line && word.line <= before.last_line)?;
    let tool = |section: &Section| section.tool.map(|tool| tool.value);
    let (own, other) = (section.cut.lead.get()?, owner.cut.lead.get()?);
    if own == other && tool(section) == tool(owner) && section.side() == owner.side() {
        return None;
    }
    let all: Vec<String> = words
        .iter()
        .map(|word| quoted(cx.bytes, word.span, word.line))
        .collect();
    let why = if own == other {
        "another tool or the other side".to_owned()
    } else {
        format!(
            "a lead of {}, this one has {}",
            lead(other, owner.units),
            lead(own, section.units)
        )
    };
    Some(
        rule.found(
            cx.place(),
            format!(
                "the cycle has no first block of its own: the one of line {} still holds, written for {why}",
                word.line
            ),
        )
        .because(format!("{}: still in force", all.join(", ")))
        .related((word.span, word.line), "written for the thread before")
        .source("words of the first block stay in force: common to control manuals, from memory")
        .help("write a first block with P, Q and R for this thread"),
    )
}

/// A feed of an earlier tool as the lead.
fn feed(rule: &Rule, cx: &Context<'_>) -> Option<Finding> {
    let section = cx.section;
    let word = section
        .word(Role::Lead)
        .filter(|word| word.letter == b'F')?;
    let tool = section.tool?;
    let first = section.passes.first()?;
    if word.line >= tool.line || word.line >= first.line {
        return None;
    }
    // The lead of a thread before, with another tool, is a habit for roughing and finishing.
    cx.seen.sections();
    let threaded = cx.program.sections[..cx.index].iter().any(|before| {
        let own = before.word(Role::Lead);
        own.is_some_and(|own| own.span == word.span)
            || before.cut.lead.get() == section.cut.lead.get()
    });
    if threaded {
        return None;
    }
    let value = section.cut.lead.get()?;
    Some(
        rule.found(
            cx.place(),
            format!(
                "the thread has no F of its own: {} of the tool before is its lead",
                quoted(cx.bytes, word.span, word.line)
            ),
        )
        .because(format!(
            "the lead is {}; the tool changes in line {}",
            lead(value, section.units),
            tool.line
        ))
        .related((word.span, word.line), "the feed of an earlier tool")
        .source("F stays in force: ISO 6983-1, from memory")
        .help("write the lead in the thread's own block"),
    )
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "stale-cycle-word";

    #[test]
    fn found_in_every_syntax() {
        let turned = "T0101\nG96 S180 M3\nG0 X30. Z2.\nG1 Z-40. F0.2\nG0 X60. Z100.\n";
        let pairs = [
            (
                "G21\nT0303\nG97 S800 M3\nG0 X22. Z8.\nG76 P030055 Q30 R0.02\nG76 X18.16 Z-20. P920 Q200 F1.5\nG0 X46. Z12.\nG76 X36.93 Z-40. P2454 Q500 F4.\nM30\n".to_owned(),
                "G21\nT0303\nG97 S800 M3\nG0 X22. Z8.\nG76 P030055 Q30 R0.02\nG76 X18.16 Z-20. P920 Q200 F1.5\nG0 X46. Z12.\nG76 P020055 Q80 R0.05\nG76 X36.93 Z-40. P2454 Q500 F4.\nM30\n".to_owned(),
            ),
            // Another tool.
            (
                "G21\nT0303\nG97 S800 M3\nG0 X22. Z8.\nG76 P030055 Q30 R0.02\nG76 X18.16 Z-20. P920 Q200 F1.5\nG0 X100. Z100.\nT0404\nG0 X34. Z8.\nG76 X36. Z-20. P812 Q200 F1.5\nM30\n".to_owned(),
                "G21\nT0303\nG97 S800 M3\nG0 X22. Z8.\nG76 P030055 Q30 R0.02\nG76 X18.16 Z-20. P920 Q200 F1.5\nG0 X100. Z100.\nT0404\nG0 X34. Z8.\nG76 P030055 Q30 R0.02\nG76 X36. Z-20. P812 Q200 F1.5\nM30\n".to_owned(),
            ),
            // The turning feed as a lead.
            (
                format!("G21\n{turned}T0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30.\nG0 X34.\nZ8.\nX27.546\nG32 Z-30.\nG0 X34.\n"),
                format!("G21\n{turned}T0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-30.\nG0 X34.\n"),
            ),
            (
                format!("G21\n{turned}T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350\nM30\n"),
                format!("G21\n{turned}T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n"),
            ),
            (
                format!("G21 G90 G95\nG92 S2000\n{turned}T0303\nG97 S800 M3\nG0 X34. Z8.\nG78 X29. Z-30.\nX28.\nX27.546\nG0 X100.\n"),
                format!("G21 G90 G95\nG92 S2000\n{turned}T0303\nG97 S800 M3\nF2.\nG0 X34. Z8.\nG78 X29. Z-30.\nX28.\nX27.546\nG0 X100.\n"),
            ),
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
                // The second start of the same thread.
                "G21\nT0303\nG97 S300 M3\nG0 X45. Z18.\nG76 P030055 Q30 R0.02\nG76 X36.319 Z-60. P1840 Q400 F6.\nG0 X45. Z21.\nG76 X36.319 Z-60. P1840 Q400 F6.\nM30\n",
                // Two threads of the same lead with one tool.
                "G21\nT0303\nG97 S300 M3\nG0 X45. Z8.\nG76 P030055 Q30 R0.02\nG76 X37.546 Z-20. P1227 Q400 F2.\nG0 X64. Z-40.\nG76 X57.546 Z-60. P1227 Q400 F2.\nM30\n",
            ],
        );
    }
}
