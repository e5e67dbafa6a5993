use lexer::source::Mark;

use super::split::repeats;
use super::text::{quoted, rpm, speed_word};
use super::{Context, Out, Rule, rule};
use crate::finding::{Edit, Fix, FixKind};

rule! {
    /// # What it checks
    ///
    /// The constant speed of a thread lies within the speed clamp that the program set before
    /// (`G50 S…`, `G92 S…`, `LIMS=…`).
    ///
    /// # Why it matters
    ///
    /// Controls differ: on some the clamp holds with constant surface speed only, and the thread is
    /// cut faster than whoever wrote the clamp for the chuck or the bar wanted; on others it holds
    /// always, and the thread is cut slower than the S word says. Either way one of the two numbers
    /// is not what happens.
    ///
    /// # The sum
    ///
    /// The S word in force at the pass against the clamp in force there.
    ///
    /// # What it needs
    ///
    /// The program alone.
    ///
    /// # When it stays silent
    ///
    /// With constant surface speed, which has its own rule; where no clamp or no speed is written;
    /// for a clamp written as D in the G96 block, which ends with G96.
    ///
    /// # Mend
    ///
    /// Write a speed within the clamp, or the clamp anew if it was meant for the turning before.
    /// The fix writes the clamp's speed, the lower of the two.
    ///
    /// # Source
    ///
    /// From memory of control manuals, which differ in what the clamp does outside of constant
    /// surface speed.
    "speed-above-clamp", Warning,
    "the speed of a thread is above the speed clamp",
    fixes: true, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let spindles: Vec<_> = if cx.section.passes.is_empty() {
        vec![cx.section.spindle]
    } else {
        cx.section.passes.iter().map(|pass| pass.spindle).collect()
    };
    if spindles.iter().any(|spindle| spindle.surface_speed()) {
        return;
    }
    let mut above: Vec<(Mark<f64>, Mark<f64>)> = spindles
        .iter()
        .filter_map(|spindle| spindle.speed.zip(spindle.clamp))
        .filter(|(speed, clamp)| speed.value > clamp.value && clamp.value > 0.0)
        // `G96 D…`: the mark is the G word.
        .filter(|(_, clamp)| !matches!(clamp.span.of(cx.bytes).first(), Some(b'G' | b'g')))
        .collect();
    above.dedup_by_key(|(speed, _)| speed.span);
    let Some(&(speed, clamp)) = above.first() else {
        return;
    };
    if repeats(cx, speed) {
        return;
    }
    let word = quoted(cx.bytes, speed.span, speed.line);
    let limit = quoted(cx.bytes, clamp.span, clamp.line);
    let mut finding = rule
        .found(
            (speed.span, speed.line),
            format!(
                "the thread is to turn {}, the speed clamp in force is {}",
                rpm(speed.value),
                rpm(clamp.value)
            ),
        )
        .because(format!("{word} is above {limit}"))
        .because(
            "on some controls the clamp holds with constant surface speed (G96) only, on others \
             always",
        )
        .source("from memory: manuals of controls differ in what the clamp does with G97")
        .help(format!(
            "write a speed up to {}, or the clamp that is meant for this tool",
            rpm(clamp.value)
        ))
        .related((clamp.span, clamp.line), "the clamp is set here");
    let edits: Vec<Edit> = above
        .iter()
        .filter_map(|(speed, clamp)| {
            Some(Edit {
                span: speed.span,
                text: speed_word(cx.bytes, speed.span, clamp.value)?,
            })
        })
        .collect();
    if let Some(first) = edits.first() {
        finding = finding.fix(Fix {
            title: format!(
                "write {} for {word}: {} -> {} as the clamp says",
                first.text,
                rpm(speed.value),
                rpm(clamp.value)
            ),
            kind: FixKind::Motion,
            edits,
        });
    }
    out.push(finding);
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_mended, findings};
    use crate::facts::Facts;

    const RULE: &str = "speed-above-clamp";

    const ABOVE: [&str; 7] = [
        "G21\nG50 S1000\nT0303\nG97 S1200 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
        "G21\nT0303\ng50s1000\ng97s1200m3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nX27.546\nG0 X50.\n",
        "G21 G90 G95\nT0303\nG92 S1000\nG97 S1200 M3\nG0 X34. Z8.\nG78 X29. Z-36. F2.\nX28.\nX27.546\nG0 X50.\n",
        "G71\nG90 G95\nG92 S1000\nT0606\nG97 S1200 M3\nG0 X64. Z8.\nG21 X59.3 Z-18. F2.\nX58.\nG0 X99.\n",
        "G20\nG50 S1000\nT0303\nG97 S1200 M3\nG0 X1.3 Z.3\nX1.15\nG32 Z-1. F.0833\nG0 X1.3\nZ.3\nX1.1\nG32 Z-1. F.0833\n",
        "G20\nG50 S1000\nT0505\nG97 S1200 M3\nG0X.9Z.4\nG76X.62Z-1.75K.0613D0150A60F.1\n",
        "G21\nT0303\nLIMS=1000\nG97 S1200 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nX27.546\nG0 X50.\n",
    ];

    #[test]
    fn found_in_every_syntax() {
        for text in ABOVE {
            let found = findings(RULE, text);
            assert_eq!(found.len(), 1, "{text}");
            assert_eq!(found[0].fixes[0].edits[0].text.to_uppercase(), "S1000");
            for mended in [text.replace("1200", "1000"), text.replace("1000", "1500")] {
                assert!(findings(RULE, &mended).is_empty(), "{mended}");
            }
        }
    }

    #[test]
    fn clamps_that_do_not_hold_here() {
        for text in [
            // The clamp of the surface speed before, in the block that sets it.
            "G21 G18 G8 G90\nG96 D800 S100 M3\nG0 X17 Z8\nG97 S1200\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
            // Set anew for the thread, or in the next program.
            "G21\nG50 S1000\nT0101\nG96 S150 M3\nT0303\nG50 S2000\nG97 S1200 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nG0 X50.\n",
            "O1\nG21\nG50 S1000\nM30\nO2\nT0303\nG97 S1200 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nG0 X50.\n",
            // Surface speed has its own rule; a variable says nothing.
            "G21\nG50 S100\nT0303\nG96 S120 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nG0 X50.\n",
            "G21\nG50 S1000\nT0303\nG97 S#5 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nG0 X50.\n",
        ] {
            assert!(findings(RULE, text).is_empty(), "{text}");
        }
    }

    #[test]
    fn mended_by_the_clamp() {
        assert_mended(RULE, &Facts::default(), &ABOVE);
        let more = [
            "G90 G95 G18 DIAMON\nT=\"THREAD60\" D1\nLIMS=1000\nG97 S1200 M3\nG0 X26 Z8\nCYCLE99(0,20,-30,20,5,1,0.92,0.05,30,0,5,1,1.5,1300101,1)\nG0 X150 Z100\nM30\n",
        ];
        assert_mended(RULE, &Facts::default(), &more);
    }
}
