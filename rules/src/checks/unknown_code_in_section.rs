use lexer::block::{Block, Blocks, FaultKind};
use lexer::evidence::Family;

use super::text::quoted;
use super::{Out, Rule, Whole, rule};

rule! {
    /// # What it checks
    ///
    /// G codes with two decimals and more in a turning program. No control has such a code; most
    /// often a letter is missing behind it.
    ///
    /// # Why it matters
    ///
    /// `G76.55` was `G76 X.55`: the thread is not cut, or the control stops with an alarm. Where it
    /// rounds to the code it knows, a cycle runs with half of its words.
    ///
    /// # The sum
    ///
    /// None. Codes have one decimal at most, as in G33.1 or G84.2.
    ///
    /// # What it needs
    ///
    /// The text.
    ///
    /// # When it stays silent
    ///
    /// In milling programs without a thread, for codes that are variables or expressions.
    ///
    /// # Mend
    ///
    /// Write the code and the word that it ran into. Which letter was meant is not in the text.
    ///
    /// # Source
    ///
    /// ISO 6983-1 (from memory): G and two digits; one decimal is common practice of controls and of
    /// the open RS274/NGC interpreter.
    "unknown-code-in-section", Error,
    "a G code with more than one decimal, which no control has",
    fixes: false, needs_designation: false, program check
}

/// Most findings for one file.
const MOST: usize = 5;

fn check(rule: &Rule, whole: &Whole<'_>, out: &mut Out) {
    let program = whole.program;
    let turns = program.family.turns() && program.family != Family::Undecided;
    if !turns && program.sections.is_empty() {
        return;
    }
    let odd = program
        .faults
        .iter()
        .filter(|(_, fault)| fault.kind == FaultKind::OddCode);
    for (line, fault) in odd.take(MOST) {
        let mut finding = rule
            .found(
                (fault.span, *line),
                format!(
                    "{} is no code of any control",
                    quoted(whole.bytes, fault.span, *line)
                ),
            )
            .because("G codes have at most one decimal");
        let block = block_of(whole, *line);
        if let Some(letters) = block.as_ref().and_then(missing) {
            finding = finding.because(format!("the block has no {letters} word"));
        }
        out.push(
            finding
                .source(
                    "ISO 6983-1 and the open RS274/NGC interpreter's list of codes, from memory",
                )
                .help("write the code and the word that ran into it"),
        );
    }
}

fn block_of(whole: &Whole<'_>, line: u32) -> Option<Block> {
    let span = whole.program.lines.span(line);
    let mut block = Block::default();
    Blocks::new(span.of(whole.bytes))
        .read(&mut block)
        .then_some(block)
}

/// Axis words that a cycle of threading would have.
fn missing(block: &Block) -> Option<&'static str> {
    match (block.has_any(b"XU"), block.has_any(b"ZW")) {
        (false, true) => Some("X"),
        (true, false) => Some("Z"),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "unknown-code-in-section";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G20\nT0303\nG97 S800 M3\nG0 X.9 Z.4\nG76 P020060 Q20 R.002\nG76.6273 Z-1.2 P613 Q150 F.1\nG0 X4.\nM30\n",
                    "G20\nT0303\nG97 S800 M3\nG0 X.9 Z.4\nG76 P020060 Q20 R.002\nG76 X.6273 Z-1.2 P613 Q150 F.1\nG0 X4.\nM30\n",
                ),
                (
                    "G20\nT0303\nG97 S800 M3\nG0X.9Z.4\nG92.71Z-1.2F.1\nX.65\nX.6273\nG0X4.\nG50S2000\n",
                    "G20\nT0303\nG97 S800 M3\nG0X.9Z.4\nG92X.71Z-1.2F.1\nX.65\nX.6273\nG0X4.\nG50S2000\n",
                ),
                (
                    "G21\nG50 S2000\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32.30 F2.\nG0 X34.\nZ8.\n",
                    "G21\nG50 S2000\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-.30 F2.\nG0 X34.\nZ8.\n",
                ),
                (
                    "G21 G90 G95\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG78.29 Z-30. F2.\nG78 X28.3 Z-30. F2.\nX27.546\nG0 X100.\n",
                    "G21 G90 G95\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG78 X29 Z-30. F2.\nG78 X28.3 Z-30. F2.\nX27.546\nG0 X100.\n",
                ),
                (
                    "G20 G18 G7 G90\nS800 M3\nG0 X.9 Z.4\nG76.05 Z-1 I-.15 J.012 R2 K.06 Q29.5\nG0 Z2\nM2\n",
                    "G20 G18 G7 G90\nS800 M3\nG0 X.9 Z.4\nG76 P.05 Z-1 I-.15 J.012 R2 K.06 Q29.5\nG0 Z2\nM2\n",
                ),
            ],
        );
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                "G21 G18 G7 G90\nG64 P0.01\nG43.1 Z0\nG33.1 Z-10 K1\nG7 G92.1\nM2\n",
                "G21 G17 G90\nT1 M6\nG43 H1 Z50.\nG1 X10. Y5. F200\nG05.1 Q1\nG54.1 P2\nM30\n",
                "G21\nG50 S2000\n(G76.55 IS WRONG)\nG#100 X5.\nM30\n",
            ],
        );
    }
}
