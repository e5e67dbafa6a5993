use super::{Context, Out, Rule, rule};
use crate::facts::Setting;

rule! {
    /// # What it checks
    ///
    /// Every thread has its designation, in a note or in the configuration.
    ///
    /// # Why it matters
    ///
    /// Without it the program says what it cuts, but not what it should: depth, lead and class are
    /// judged only against the nearest listed thread, and never as errors.
    ///
    /// # The sum
    ///
    /// None.
    ///
    /// # What it needs
    ///
    /// To be asked for: `callout-missing = "warning"` under `[rules]`. It is a shop's own policy.
    ///
    /// # When it stays silent
    ///
    /// Where the configuration does not name it; for burr chases and oil grooves.
    ///
    /// # Mend
    ///
    /// A note before the thread, `(THREAD M24X3-6G)`, or a `[[thread]]` in the configuration.
    ///
    /// # Source
    ///
    /// The configuration of the shop.
    "callout-missing", Error,
    "a thread has no designation, where the shop asks for one",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let asked = matches!(cx.facts.rules.get(rule.name), Some(Setting::Severity(_)));
    if !asked || cx.section.chase || cx.is_groove() || cx.stated() {
        return;
    }
    let inferred = cx.thread().map(|thread| thread.designation());
    let mut finding = rule
        .found(cx.place(), "the thread has no designation")
        .because(cx.identified.why.clone());
    if let Some(text) = inferred {
        finding = finding.because(format!("by its numbers it may be {text}"));
    }
    out.push(
        finding
            .source("[rules] of the configuration asks for it")
            .help("write a note before the thread: (THREAD designation)"),
    );
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use crate::checks::testing::{assert_pairs_with, findings, judged_with};
    use crate::facts::{Facts, Setting};
    use crate::finding::Severity;

    const RULE: &str = "callout-missing";

    #[test]
    fn asked_for_it_speaks_in_every_syntax() {
        let facts = Facts {
            rules: BTreeMap::from([(RULE.to_owned(), Setting::Severity(Severity::Warning))]),
            ..Facts::default()
        };
        for text in [
            "G21\n@T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
            "G21\n@T0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX28.\nX27.546\nG0 X100.\n",
            "G21\n@T0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-30. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-30. F2.\nG0 X34.\n",
            "G21\n@T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 X27.546 Z-34. K1.227 D0350 A60 F2.\nG0 X100.\n",
            "G21 G90 G95\nG92 S2000\n@T0303\nG97 S800 M3\nG0 X34. Z8.\nG78 X29. Z-30. F2.\nX27.546\nG0 X100.\n",
        ] {
            let bad = text.replace('@', "");
            let found = judged_with(RULE, &bad, &facts);
            assert_eq!(found.len(), 1, "{bad}");
            assert_eq!(found[0].severity, Severity::Warning);
            assert!(findings(RULE, &bad).is_empty());
            let good = text.replace('@', "(THREAD M30X2-6G)\n");
            assert_pairs_with(RULE, &facts, &[(&bad, &good)]);
        }
    }
}
