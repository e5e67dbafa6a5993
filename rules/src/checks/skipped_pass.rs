use lexer::section::Pass;

use super::text::length_of_mm;
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// No single pass of a thread that takes depth stands behind a block skip.
    ///
    /// # Why it matters
    ///
    /// With block skip switched on, which is a switch on the panel, the pass vanishes: the next one
    /// takes its depth too, or, if it was the last, the thread stays shallow.
    ///
    /// # The sum
    ///
    /// Step of the next pass without the skipped one = both steps together.
    ///
    /// # What it needs
    ///
    /// Passes in blocks of their own.
    ///
    /// # When it stays silent
    ///
    /// Where every pass is skipped, so that the thread is there or not; for spring passes, which
    /// shops skip on purpose; for skips on other blocks.
    ///
    /// # Mend
    ///
    /// Take the skip away, or put it on all blocks of the thread.
    ///
    /// # Source
    ///
    /// Block skip: ISO 6983-1, from memory.
    "skipped-pass", Warning,
    "a single pass stands behind a block skip",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let passes = &cx.section.passes;
    // A cycle makes all its passes in one block.
    let listed = passes
        .first()
        .zip(passes.last())
        .is_some_and(|(first, last)| first.line != last.line);
    if !listed || passes.iter().all(|pass| pass.skip.is_some()) {
        return;
    }
    let takes = |pass: &Pass| pass.step.is_none_or(|step| step.mm() > 0.0);
    let skipped: Vec<(usize, &Pass)> = passes
        .iter()
        .enumerate()
        .filter(|(_, pass)| pass.skip.is_some() && takes(pass))
        .collect();
    let Some(&(at, pass)) = skipped.first() else {
        return;
    };
    let units = cx.section.units;
    let next = passes[at + 1..]
        .iter()
        .find(|next| next.skip.is_none() && takes(next));
    let consequence = match next {
        Some(next) => {
            let steps: Option<f64> = passes[at..]
                .iter()
                .take_while(|other| other.line <= next.line)
                .map(|other| other.step.map(|step| step.mm()))
                .sum();
            match steps {
                Some(steps) => format!(
                    "the pass of line {} then takes {} at once",
                    next.line,
                    length_of_mm(steps, units)
                ),
                None => format!("the pass of line {} then takes its depth too", next.line),
            }
        }
        None => "the thread then stays shallow".to_owned(),
    };
    let count = skipped.len();
    out.push(
        rule.found(
            (pass.span, pass.line),
            format!(
                "block skip can leave out the pass of line {}: {consequence}",
                pass.line
            ),
        )
        .because(format!(
            "{count} of {} passes {} behind a skip",
            passes.len(),
            if count == 1 { "stands" } else { "stand" }
        ))
        .source("block skip: ISO 6983-1, from memory")
        .help("take the / away, or put it on every block of the thread"),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "skipped-pass";

    #[test]
    fn found_in_every_syntax() {
        let texts: Vec<String> = [
            "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\n/X28.3\nX27.546\nX27.546\nG0 X100.\n",
            "G21 G90 G95\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG78 X29. Z-30. F2.\nX28.3\n/X27.546\nG0 X100.\n",
            "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\n/G32 Z-30. F2.\nG0 X34.\nZ8.\nX28.\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-30. F2.\nG0 X34.\n",
            "G20\nT0303\nG97 S800 M3\nG0X.9Z.4\nG92X.71Z-1.2F.1\n/2X.68\nX.65\nX.6273\nG0X4.\n",
            "G71\nG90 G95\nT0606\nG97 S600 M3\nG0 X64. Z8.\nG21 X59.3 Z-18. F2.\n/X58.35\nX57.546\nG0 X200.\n",
        ]
        .map(str::to_owned)
        .to_vec();
        let good: Vec<String> = texts
            .iter()
            .map(|text| text.replace("/2", "").replace('/', ""))
            .collect();
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .zip(&good)
            .map(|(bad, good)| (bad.as_str(), good.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // The whole thread, a spring pass, a coolant block.
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\n/G92 X29. Z-30. F2.\n/X28.3\n/X27.546\nG0 X100.\n",
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX28.3\nX27.546\n/X27.546\nG0 X100.\n",
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\n/M8\n/G76 P020060 Q60 R0.03\n/G76 X27.546 Z-34. P1227 Q350 F2.\nG0 X100.\n",
            ],
        );
    }
}
