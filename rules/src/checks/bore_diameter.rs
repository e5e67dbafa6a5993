use lexer::section::Side;

use super::{Context, Out, Rule, crest_diameter, rule};

rule! {
    /// # What it checks
    ///
    /// The diameter that the program bores before it cuts an internal thread, against the limits of
    /// the minor diameter for the thread's class.
    ///
    /// # Why it matters
    ///
    /// Bored too large, the nut has too little overlap with its bolt and strips; too small, the plug
    /// gauge does not enter, or a partial-profile insert has to plough the crest.
    ///
    /// # The sum
    ///
    /// Bored diameter against minor diameter, smallest and largest. Up to 0.3 mm below the basic
    /// minor diameter the surface may be stock for a full profile: silent with such a tool, advice
    /// where no tool is configured.
    ///
    /// # What it needs
    ///
    /// The boring cut in the same program, by the moves of another tool; the thread with its class.
    /// A drill's diameter does not stand in the program and is not judged here.
    ///
    /// # When it stays silent
    ///
    /// Where the program bores nothing before the thread, or it is not known what; tapered threads;
    /// burr chases and further sections of the same thread.
    ///
    /// # Mend
    ///
    /// Bore to the middle of the limits. Nothing is written for you: the same block may shape more
    /// than the thread.
    ///
    /// # Source
    ///
    /// The limits of the thread's standard, named in the finding; 0.3 mm of stock is common practice,
    /// no source.
    "bore-diameter", Warning,
    "the diameter bored before the thread is outside its minor diameter",
    fixes: false, needs_designation: true, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    crest_diameter::judge(rule, cx, Side::Internal, out);
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};
    use crate::finding::Severity;

    const RULE: &str = "bore-diameter";

    fn program(x: &str) -> String {
        format!(
            "G21 G40 G99\nT0101\nG97 S900 M3\nG0 X{x} Z2.\nG1 Z-30. F.15\nX30.\nG0 Z100.\nT0404\n\
             (THREAD M36X3-6H)\nG97 S700 M3\nG0 X31. Z10.\nG92 X34. Z-27. F3.\nX36.\nG0 Z50.\n"
        )
    }

    /// M36x3-6H: 32.752 to 33.252 mm (ISO 965-1).
    #[test]
    fn found_in_every_syntax() {
        let two_block = |x: &str| {
            format!(
                "G21 G40 G99\nT0101\nG97 S900 M3\nG0 X30. Z2.\nG90 X31.5 Z-30. F.2\nX{x}\nG0 Z100.\nT0404\n\
                 (THREAD M36X3-6H)\nG97 S700 M3\nG0 X31. Z10.\nG76 P020055 Q60 R0.03\n\
                 G76 X36. Z-27. P1624 Q350 F3.\nG0 Z50.\n"
            )
        };
        let strokes = |x: &str| {
            format!(
                "G21 G40 G99\nT0101\nG97 S900 M3\nG0 X{x} Z2.\nG1 Z-30. F.15\nX30.\nG0 Z100.\nT0404\n\
                 (THREAD M36X3-6H)\nG97 S600 M3\nG0 X31. Z10.\nX34.\nG32 Z-27. F3.\nG0 X31.\nZ10.\nX36.\n\
                 G32 Z-27. F3.\nG0 X31.\n"
            )
        };
        let inch = |x: &str| {
            format!(
                "G20 G40 G99\nT0101\nG97 S900 M3\nG0 X{x} Z.1\nG1 Z-1.2 F.006\nX.8\nG0 Z4.\nT0404\n\
                 (THREAD 1-8 UNC-2B)\nG97 S500 M3\nG0X.8Z.4\nG76X1.Z-1.K.0677D0150A60F.125\n"
            )
        };
        let system_b = |x: &str| {
            format!(
                "G21 G90 G95\nT0101\nG97 S900 M3\nG0 X{x} Z2.\nG1 Z-24. F.15\nX40.\nG0 Z100.\nT0707\n\
                 (THREAD M48X1.5-6H)\nG97 S600 M3\nG0 X44. Z6.\nG78 X47. Z-20. F1.5\nX48.\nG0 Z90.\n"
            )
        };
        assert_pairs(
            RULE,
            &[
                (&program("33.6"), &program("33.")),
                (&two_block("33.4"), &two_block("33.1")),
                (&strokes("32.3"), &strokes("32.9")),
                (&inch(".9"), &inch(".875")),
                (&system_b("47.1"), &system_b("46.5")),
            ],
        );
    }

    #[test]
    fn how_bad() {
        let worst = |x: &str| findings(RULE, &program(x)).first().map(|f| f.severity);
        assert_eq!(worst("33.3"), Some(Severity::Warning));
        assert_eq!(worst("32.6"), Some(Severity::Advice));
        assert_eq!(worst("32.3"), Some(Severity::Warning));
        assert_eq!(worst("32.752"), None);
    }

    #[test]
    fn silent_on_bolts_and_unknown_bores() {
        assert_silent(
            RULE,
            &[
                // A drill's diameter is not in its moves.
                "G21 G40 G99\nT0101\nG97 S900 M3\nG0 X0 Z2.\nG1 Z-30. F.15\nG0 Z100.\nT0404\n(THREAD M36X3-6H)\nG97 S700 M3\nG0 X31. Z10.\nG92 X34. Z-27. F3.\nX36.\nG0 Z50.\n",
                "G21 G40 G99\nT0101\nG97 S1200 M3\nG0 X30.4 Z2.\nG1 Z-40. F.2\nX36.\nG0 X100. Z100.\nT0303\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.546\nG0 X90.\n",
            ],
        );
    }
}
