use super::lead_drift::{Leads, drift, leads};
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// A lead that is right to the decimals written, but whose rounding adds up over the thread.
    ///
    /// # Why it matters
    ///
    /// Inch leads have no end: 12 threads an inch are .08333…, and `.083` looks right. Each turn is
    /// off by the same little bit to the same side. Over the length that is screwed together the
    /// flanks run apart, and on the gauge that acts like a bolt that is too thick.
    ///
    /// # The sum
    ///
    /// drift = turns · |lead written - lead|, counted over the length that is screwed together (the
    /// thread length, at most one diameter). A drift acts like a change of pitch diameter of
    /// 2 · drift / (tan a + tan b), at 60° 1.732 · drift. Above a tenth of the pitch diameter
    /// tolerance, or the part that `[limits] lead_drift_percent` allows, it is reported.
    ///
    /// # What it needs
    ///
    /// A designation in a note `(THREAD …)`, the configuration or a comment, bolt or nut, the
    /// stroke and the limits of the class.
    ///
    /// # When it stays silent
    ///
    /// Inch leads to the decimals of the control over usual lengths, metric leads in an inch
    /// program (F.059055 is 1.5 mm). A lead that is wrong by more than rounding is the business of
    /// lead-vs-designation.
    ///
    /// # Mend
    ///
    /// Writes the lead with the decimals that controls take, four in millimetres and six in inches,
    /// in the style of the word.
    ///
    /// # Source
    ///
    /// The pitches and limits of the thread's standard, named in the finding. The drift is geometry;
    /// the tenth of the tolerance and the limit of one diameter are common practice, no source.
    "lead-rounding", Warning,
    "the rounding of the lead adds up over the thread",
    fixes: true, needs_designation: true, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(thread) = cx.thread().filter(|_| cx.stated()) else {
        if !cx.is_groove() {
            out.not_judged(rule, "no designation is stated");
        }
        return;
    };
    match leads(cx, thread) {
        Leads::Rounded(lead, Some(word)) => drift(rule, cx, thread, lead, word, out),
        // A wrong lead has a rule of its own, an unknown one is said there.
        Leads::Rounded(_, None) | Leads::Right | Leads::Wrong(..) => {}
    }
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, judged_with, mended};
    use crate::facts::{Config, FILE_NAME};

    const RULE: &str = "lead-rounding";

    #[test]
    fn found_and_mended_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G20\nT0303\n(THREAD 2-12 UN-2A)\nG97 S400 M3\nG0 X2.2 Z.4\nG76 P020055 Q20 R.001\nG76 X1.8978 Z-2.2 P511 Q150 F.083\n",
                    "G20\nT0303\n(THREAD 2-12 UN-2A)\nG97 S400 M3\nG0 X2.2 Z.4\nG76 P020055 Q20 R.001\nG76 X1.8978 Z-2.2 P511 Q150 F.083333\n",
                ),
                (
                    "G20\nT0303\n(THREAD 1-14 UNS-2A)\nG97S700M3\nG0X1.2Z.4\nG92X.98Z-1.5F.071\nX.9124\nG0X3.\n",
                    "G20\nT0303\n(THREAD 1-14 UNS-2A)\nG97S700M3\nG0X1.2Z.4\nG92X.98Z-1.5F.071429\nX.9124\nG0X3.\n",
                ),
                (
                    "G20\nT0505(THREAD 1 3/8-6 UNC-2A)\nG97 S300 M3\nG0X1.6Z.6\nG76X1.1705Z-1.75K.1022D0150A60F.167\n",
                    "G20\nT0505(THREAD 1 3/8-6 UNC-2A)\nG97 S300 M3\nG0X1.6Z.6\nG76X1.1705Z-1.75K.1022D0150A60F.166667\n",
                ),
                // Strokes in millimetres: 11 threads an inch.
                (
                    "G21\nT0303\n(THREAD G 2 A)\nG97 S300 M3\nG0 X64. Z8.\nX58.\nG32 Z-40. F2.3\nG0 X64.\nZ8.\nX56.656\nG32 Z-40. F2.3\nG0 X64.\n",
                    "G21\nT0303\n(THREAD G 2 A)\nG97 S300 M3\nG0 X64. Z8.\nX58.\nG32 Z-40. F2.3091\nG0 X64.\nZ8.\nX56.656\nG32 Z-40. F2.3091\nG0 X64.\n",
                ),
                (
                    "; THREAD 1 1/2-12 UNF-2A\nG20 G18 G7 G90\nG97 S500 M3\nG0 X1.7 Z.4\nG76 P0.083 Z-1.5 I-0.2 J0.03 R2 K.1022 Q29.5\n",
                    "; THREAD 1 1/2-12 UNF-2A\nG20 G18 G7 G90\nG97 S500 M3\nG0 X1.7 Z.4\nG76 P0.083333 Z-1.5 I-0.2 J0.03 R2 K.1022 Q29.5\n",
                ),
            ],
        );
    }

    #[test]
    fn the_sum() {
        let bad = "G20\nT0303\n(THREAD 2-12 UN-2A)\nG97 S400 M3\nG0 X2.2 Z.4\nG76 P020055 Q20 R.001\nG76 X1.8978 Z-2.2 P511 Q150 F.083\n";
        let found = findings(RULE, bad);
        // 2 in over 12 threads: 24 turns of 0.000333 in drift 0.2032 mm, times 1.732.
        assert!(found[0].message.contains("like 0.352 mm"), "{:?}", found[0]);
        assert!(findings("lead-vs-designation", bad).is_empty());
        assert!(findings(RULE, &mended(bad, &found[0])).is_empty());
    }

    /// 0.8 in of 13 threads an inch to four decimals: 0.8 · 13 · 0.000023 in · 1.732 = 0.0106 mm,
    /// of a tolerance of 0.127 mm.
    #[test]
    fn the_shop_may_allow_less_or_more() {
        let text =
            "G20\n(THREAD 1/2-13 UNC-2A)\nG97 S700 M3\nG0 X.7 Z.4\nG92 X.45 Z-.75 F.0769\nX.4056\n";
        let count = |percent: f64| {
            let config = format!("[limits]\nlead_drift_percent = {percent}\n");
            let facts = Config::parse(FILE_NAME, &config, &[])
                .unwrap()
                .facts("a.nc")
                .1;
            judged_with(RULE, text, &facts).len()
        };
        assert_eq!((count(2.0), count(10.0)), (1, 0));
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
                // A wrong lead is no rounding.
                "G21\nT0303 (THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nX15.\nG32 Z-30. F1.5\nG0 X20.\nZ8.\nX14.\nG32 Z-30. F1.5\n",
            ],
        );
    }
}
