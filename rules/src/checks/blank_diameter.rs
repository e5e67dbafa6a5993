use lexer::section::Side;

use super::{Context, Out, Rule, crest_diameter, rule};

rule! {
    /// # What it checks
    ///
    /// The diameter that the program turns before it cuts an external thread, against the limits of
    /// the major diameter for the thread's class.
    ///
    /// # Why it matters
    ///
    /// A partial-profile insert leaves the crest as it was turned. Too large, and the thread jams in
    /// the roots of the nut although its flanks are right; too small, and its crests stay flat and
    /// carry less. The usual slip is to turn to the nominal diameter.
    ///
    /// # The sum
    ///
    /// Turned diameter against major diameter, smallest and largest. Up to the nominal diameter only
    /// the allowance of the class is missing: advice. Up to 0.3 mm beyond it the surface may be stock
    /// for a full profile: silent with such a tool, advice where no tool is configured.
    ///
    /// # What it needs
    ///
    /// The turning cut in the same program, by the moves of another tool; the thread with its class.
    /// `kind = "full"` or `"partial"` of the `[[tool]]` makes it sharper.
    ///
    /// # When it stays silent
    ///
    /// Where the program turns nothing before the thread, or it is not known what; tapered threads;
    /// burr chases and further sections of the same thread.
    ///
    /// # Mend
    ///
    /// Turn to the middle of the limits. Nothing is written for you: the same block may shape more
    /// than the thread.
    ///
    /// # Source
    ///
    /// The limits of the thread's standard, named in the finding; 0.3 mm of stock is common practice,
    /// no source.
    "blank-diameter", Warning,
    "the diameter turned before the thread is outside its major diameter",
    fixes: false, needs_designation: true, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    crest_diameter::judge(rule, cx, Side::External, out);
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, judged_with};
    use crate::facts::{Config, FILE_NAME};
    use crate::finding::Severity;

    const RULE: &str = "blank-diameter";

    fn program(x: &str) -> String {
        format!(
            "G21 G40 G99\nT0101\nG97 S1200 M3\nG0 X{x} Z2.\nG1 Z-40. F.2\nX36.\nG0 X100. Z100.\n\
             T0303\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.546\nG0 X90.\n"
        )
    }

    /// M30x2-6g: 29.962 and 29.682 mm (ISO 965-1).
    #[test]
    fn found_in_every_syntax() {
        let (bad, good) = (program("30.4"), program("29.85"));
        let two_block = |x: &str| {
            format!(
                "G21 G40 G99\nT0101\nG97 S1200 M3\nG0 X40. Z2.\nG90 X33. Z-40. F.2\nX{x}\nG0 X100. Z100.\n\
                 T0303\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020055 Q60 R0.03\n\
                 G76 X27.546 Z-36. P1227 Q350 F2.\nG0 X90.\n"
            )
        };
        let one_block = |x: &str| {
            format!(
                "G20 G40 G99\nT0101\nG97 S1200 M3\nG0 X{x} Z.1\nG1 Z-2. F.008\nX1.\nG0 X4. Z4.\n\
                 T0303\n(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n"
            )
        };
        let strokes = |x: &str| {
            format!(
                "G21 G40 G99\nT0101\nG97 S1200 M3\nG0 X{x} Z2.\nG1 Z-32. F.2\nX36.\nG0 X100. Z100.\n\
                 T0303\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nX15.\nG32 Z-30. F2.\nG0 X20.\nZ8.\n\
                 X13.546\nG32 Z-30. F2.\nG0 X20.\n"
            )
        };
        let system_b = |x: &str| {
            format!(
                "G21 G90 G95\nT0101\nG97 S1200 M3\nG0 X{x} Z2.\nG1 Z-24. F.2\nX50.\nG0 X100. Z100.\n\
                 T0707\n(THREAD M42X1.5-6G)\nG97 S600 M3\nG0 X46. Z6.\nG78 X41. Z-20. F1.5\nX40.16\nG0 X90.\n"
            )
        };
        assert_pairs(
            RULE,
            &[
                (&bad, &good),
                (&two_block("29.5"), &two_block("29.8")),
                (&one_block(".7300"), &one_block(".7450")),
                (&strokes("16.5"), &strokes("15.85")),
                (&system_b("41.5"), &system_b("41.85")),
            ],
        );
    }

    #[test]
    fn how_bad() {
        let worst = |x: &str| findings(RULE, &program(x)).first().map(|f| f.severity);
        assert_eq!(worst("29.5"), Some(Severity::Warning));
        assert_eq!(worst("29.9"), None);
        // Nominal: the allowance alone.
        assert_eq!(worst("30."), Some(Severity::Advice));
        assert_eq!(worst("30.2"), Some(Severity::Advice));
        assert_eq!(worst("30.4"), Some(Severity::Warning));
    }

    /// A full profile wants stock, a partial one must have none.
    #[test]
    fn the_tool_decides() {
        let count = |kind: &str, x: &str| {
            let config = format!("[[tool]]\nnumber = 3\nkind = \"{kind}\"\n");
            let facts = Config::parse(FILE_NAME, &config, &[])
                .unwrap()
                .facts("a.nc")
                .1;
            let found = judged_with(RULE, &program(x), &facts);
            found.first().map(|finding| finding.severity)
        };
        assert_eq!(count("full", "30.2"), None);
        assert_eq!(count("full", "30.5"), Some(Severity::Warning));
        assert_eq!(count("partial", "30.2"), Some(Severity::Warning));
    }

    #[test]
    fn silent_where_nothing_is_turned() {
        assert_silent(
            RULE,
            &[
                "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.546\nG0 X90.\n",
                // Another diameter beside the thread.
                "G21 G40 G99\nT0101\nG97 S1200 M3\nG0 X40. Z-50.\nG1 Z-80. F.2\nX46.\nG0 X100. Z100.\nT0303\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.546\nG0 X90.\n",
            ],
        );
    }
}
