use lexer::program::{Endless, NeverEnds};

use super::text::quoted;
use super::{Out, Rule, Whole, rule};

rule! {
    /// # What it checks
    ///
    /// A loop, or a jump back, whose condition rests on values that the program gives, comes to its
    /// end.
    ///
    /// # Why it matters
    ///
    /// A loop around threading passes that never ends cuts on, pass after pass: at the same depth
    /// until the insert breaks, or deeper and deeper into the part. The usual causes are a counter
    /// that is not advanced, one that is advanced the wrong way, and a step that jumps over the one
    /// value that the condition waits for.
    ///
    /// # The sum
    ///
    /// The loop is run, block by block. It never ends when all variables are in one round as they
    /// were in an earlier one, or when the two sides of its one comparison go apart by the same step
    /// in 64 rounds on end.
    ///
    /// # What it needs
    ///
    /// The program alone, with the values that the condition compares.
    ///
    /// # When it stays silent
    ///
    /// Where a value of the condition is not in the program; for loops without a condition on
    /// variables, which are meant to go on until someone stops them (a bar of parts, `M99` at the
    /// end of the main program); for a loop that only takes long, which is listed as not read to its
    /// end.
    ///
    /// # Mend
    ///
    /// Advance the counter inside the loop, towards the end of the condition, and compare with LT,
    /// LE, GT or GE instead of with one value.
    ///
    /// # Source
    ///
    /// WHILE and IF with GOTO as the documentation of the open RS274/NGC interpreter has them
    /// (o-codes); the forms with DO and END are from memory. How many rounds are looked at is our own
    /// choice.
    "loop-never-ends", Error,
    "a loop never ends with the values of the program",
    fixes: false, needs_designation: false, program check
}

fn check(rule: &Rule, whole: &Whole<'_>, out: &mut Out) {
    for endless in &whole.program.endless {
        let Endless { span, line, why } = *endless;
        let (message, because) = match why {
            NeverEnds::NothingChanges => (
                "this loop never ends: its variables come back to values that they had before",
                "in one round every variable is as it was in an earlier round, so that all rounds \
                 behind it are the same again",
            ),
            NeverEnds::GoesAway => (
                "this loop never ends: the sides of its comparison go apart",
                "the difference of the two sides changed by the same step in 64 rounds on end, away \
                 from where the loop would end",
            ),
        };
        let text = quoted(whole.bytes, span, line);
        out.push(
            rule.found((span, line), message)
                .because(format!("condition: {text}"))
                .because(because)
                .source("the program, run block by block")
                .help(
                    "advance the counter inside the loop, towards the end of the condition; prove \
                     out the mended loop with the tool away from the part",
                ),
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "loop-never-ends";

    const HEAD: &str = "O1\nG21\nT0303\nG97 S800 M3\nG0 X28. Z8.\n";

    #[test]
    fn pairs() {
        let while_do = |step: &str| {
            format!(
                "{HEAD}#1=0\nWHILE [#1 LT 5] DO1\nG0 X[24.-.5*#1]\nG32 Z-30. F2.\nG0 X28.\nZ8.\n{step}\nEND1\nM30\n"
            )
        };
        let jump = |step: &str| {
            format!(
                "{HEAD}#1=24.\nN10 #1=#1{step}\nG92 X#1 Z-30. F2.\nIF [#1 GT 21.4] GOTO 10\nG0 X50.\nM30\n"
            )
        };
        let o_word = |step: &str| {
            format!(
                "G21 G18 G7\nG97 S800 M3\nG0 X28 Z8\n#<depth>=0\no10 while [#<depth> LE 1.2]\nG0 X[24-2*#<depth>]\nG33 Z-30 K2\nG0 X28\nZ8\n{step}\no10 endwhile\nM2\n"
            )
        };
        let not_equal = |step: &str| {
            format!("{HEAD}#1=0\nWHILE [#1 NE 5] DO1\nG4 X.1\n#1=#1+{step}\nEND1\nM30\n")
        };
        let names = |step: &str| {
            format!(
                "G21\nT0303\nG97 S800 M3\nG0 X28. Z8.\nR1=0\nWHILE R1<5\nG4 F1\nR1=R1{step}\nENDWHILE\nM30\n"
            )
        };
        let pairs = [
            (while_do("#2=#1+1"), while_do("#1=#1+1")),
            (while_do("#1=#1-1"), while_do("#1=#1+1")),
            (jump("+.5"), jump("-.5")),
            (
                o_word("#<dept>=[#<depth>+.2]"),
                o_word("#<depth>=[#<depth>+.2]"),
            ),
            (not_equal("2"), not_equal("1")),
            (names("-1"), names("+1")),
        ];
        let pairs: Vec<(&str, &str)> = pairs
            .iter()
            .map(|(bad, good)| (bad.as_str(), good.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn silent_where_it_is_meant_or_not_known() {
        let texts = [
            format!("{HEAD}N10 G92 X23. Z-30. F2.\nG0 X50.\nM1\nGOTO 10\n"),
            format!("{HEAD}G92 X23. Z-30. F2.\nG0 X50.\nM99\n"),
            format!("{HEAD}WHILE [1 EQ 1] DO1\nG4 X1.\nEND1\n"),
            format!("{HEAD}WHILE [#500 LT 5] DO1\nG4 X1.\nEND1\nM30\n"),
            format!("{HEAD}#1=0\nWHILE [#1 LT #500] DO1\nG4 X1.\nEND1\nM30\n"),
            format!("{HEAD}#1=0\nWHILE [#1 LT 1000000] DO1\n#1=#1+1\nEND1\nM30\n"),
        ];
        let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
        assert_silent(RULE, &texts);
    }
}
