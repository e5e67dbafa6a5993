use lexer::block::Block;
use lexer::source::Mark;

use super::lines::{blocks, states};
use super::text::quoted;
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// Between the start of the spindle, or a change of its speed, and the first stroke stands a move
    /// or a dwell, in which the spindle gets to its speed.
    ///
    /// # Why it matters
    ///
    /// A stroke that starts while the spindle still speeds up begins at another lag than the passes
    /// behind it: the first pass cuts beside the others. Controls that wait for the speed do not mind;
    /// whether yours does, a parameter decides.
    ///
    /// # The sum
    ///
    /// None: the order of the blocks.
    ///
    /// # What it needs
    ///
    /// The blocks between the S or M word and the first pass.
    ///
    /// # When it stays silent
    ///
    /// With a move or a dwell (G4) between, or where the speed before was within a tenth of the new
    /// one.
    ///
    /// # Mend
    ///
    /// Start the spindle before the approach.
    ///
    /// # Source
    ///
    /// Common practice, no source.
    "speed-not-settled", Advice,
    "the first stroke follows right behind the start of the spindle",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(pass) = cx.section.passes.first() else {
        return;
    };
    let spindle = &pass.spindle;
    let speed = spindle.speed.map(|mark| Mark {
        value: (),
        span: mark.span,
        line: mark.line,
    });
    let turning = spindle.turning.map(|mark| Mark {
        value: (),
        span: mark.span,
        line: mark.line,
    });
    // What came last.
    let Some(word) = speed
        .into_iter()
        .chain(turning)
        .max_by_key(|mark| mark.span.start)
    else {
        return;
    };
    let mut settled = word.line > pass.line;
    if word.line < pass.line {
        blocks(cx, word.line..=pass.line - 1, |block| {
            settled |= moves(block) && (block.line > word.line || begins_with_motion(block));
            settled |= block.statement.is_some() || !block.names.is_empty();
            !settled
        });
    }
    // A slow word of an earlier speed changes little; it is a pass of another program otherwise.
    if settled || unchanged(cx, word) {
        return;
    }
    out.push(
        rule.found(
            (word.span, word.line),
            format!(
                "the first stroke in line {} follows right behind {}: the spindle may not be at its speed",
                pass.line,
                quoted(cx.bytes, word.span, word.line)
            ),
        )
        .because("no move and no dwell stands between them")
        .source("common practice, no source; some controls wait for the speed")
        .help("start the spindle before the approach, or dwell for a second"),
    );
}

fn moves(block: &Block) -> bool {
    block.has_any(b"XZUW") || block.has_g(40)
}

/// Whether the block with the spindle word also moves the tool to the start.
fn begins_with_motion(block: &Block) -> bool {
    block.has_any(b"XZUW")
}

/// Whether the S word of the same program before was nearly the same, with the spindle turning.
fn unchanged(cx: &Context<'_>, word: Mark<()>) -> bool {
    let Some(now) = cx
        .section
        .passes
        .first()
        .and_then(|pass| pass.spindle.speed)
    else {
        return false;
    };
    let part = super::lines::part(cx);
    let mut before: Option<f64> = None;
    let mut turning = false;
    if word.line <= *part.start() {
        return false;
    }
    states(cx, *part.start()..=word.line - 1, |block| {
        if let Some(speed) = block.number_of(b'S')
            && !block.has_g(500)
            && !block.has_g(920)
        {
            before = (!block.has_g(960)).then(|| speed.value());
        }
        for (code, _) in block.m_codes() {
            match code {
                30 | 40 => turning = true,
                50 => turning = false,
                _ => {}
            }
        }
        true
    });
    turning && before.is_some_and(|before| (before - now.value).abs() <= 0.1 * now.value)
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "speed-not-settled";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\nT0303\nG0 X34. Z8.\nG97 S800 M3\nG92 X29. Z-30. F2.\nX27.546\nG0 X100.\n",
                    "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX27.546\nG0 X100.\n",
                ),
                (
                    "G21\nT0303\nG0 X34. Z8.\nG97 S800 M3\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
                    "G21\nT0303\nG0 X34. Z8.\nG97 S800 M3\nG4 X1.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
                ),
                (
                    "G21\nT0303\nG97 S300 M3\nG0 X34. Z8.\nX29.\nS900\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-30. F2.\nG0 X34.\n",
                    "G21\nT0303\nG97 S900 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-30. F2.\nG0 X34.\n",
                ),
                (
                    "G20\nT0303\nG0X.9Z.4\nG97 S700 M3\nG76X.6273Z-1.5K.0613D0150A60F.1\nG0X4.\n",
                    "G20\nT0303\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.5K.0613D0150A60F.1\nG0X4.\n",
                ),
                (
                    "G21 G18 G7 G90\nG0 X28 Z8\nS800 M3\nG76 P2 Z-30 I-4 J0.7 R2 K2.454 Q27\nM2\n",
                    "G21 G18 G7 G90\nS800 M3\nG0 X28 Z8\nG76 P2 Z-30 I-4 J0.7 R2 K2.454 Q27\nM2\n",
                ),
            ],
        );
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // Nearly the same speed as before; started in the block of the approach.
                "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nS820\nG92 X29. Z-30. F2.\nX27.546\nG0 X100.\n",
                "G21\nT0303\nG0 X34. Z8. S800 M3\nG92 X29. Z-30. F2.\nX27.546\nG0 X100.\n",
            ],
        );
    }
}
