use lexer::section::Role;
use lexer::source::Mark;

use super::split::repeats;
use super::text::{feed, length_of_mm, number, quoted, rpm, speed_word};
use super::{Context, Out, Rule, rule};
use crate::finding::{Edit, Fix, FixKind, Severity};

rule! {
    /// # What it checks
    ///
    /// The axis can follow: lead × spindle speed stays within the feed that the machine reaches
    /// while threading, and the spindle within its highest speed.
    ///
    /// # Why it matters
    ///
    /// In a thread the feed follows the spindle, whatever that asks for. An axis that cannot keep
    /// up stops with an alarm on some controls; on others it runs at its limit and cuts a finer
    /// lead than the program says, without a word.
    ///
    /// # The sum
    ///
    /// Axis feed in mm/min = lead in mm × speed in 1/min, with the lead along the longer axis, which
    /// is the faster one of a taper. Highest speed for a lead = feed limit / lead.
    ///
    /// # What it needs
    ///
    /// Lead and speed; `max_thread_feed_mm_min` and `max_rpm` of the machine. Above them it is an
    /// error. Without a configured machine only an axis feed above 5000 mm/min is shown, as an
    /// advice. Where lead or speed are not known it does not judge.
    ///
    /// # When it stays silent
    ///
    /// With constant surface speed, which has its own rule, and for a chase that runs as the
    /// section before it did.
    ///
    /// # Mend
    ///
    /// A lower speed. With a configured machine the fix writes the highest speed that fits, down to
    /// a multiple of ten.
    ///
    /// # Source
    ///
    /// The sum is plain; the limits are those of the machine. 5000 mm/min: common practice, no
    /// source. The issue tracker of the open RS274/NGC interpreter tells of threads that came out
    /// with a wrong pitch this way.
    "axis-feed-limit", Error,
    "lead times speed is more than the axis can feed, or the spindle faster than it turns",
    fixes: true, needs_designation: false, check
}

/// Axis feed in mm/min that most turning machines reach in a thread.
const USUAL: f64 = 5000.0;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let passes = &section.passes;
    if passes.iter().any(|pass| pass.spindle.surface_speed()) || section.spindle.surface_speed() {
        return;
    }
    let Some(lead) = section.cut.lead.get().map(|lead| lead.mm().abs()) else {
        return out.not_judged(rule, "the lead is missing");
    };
    let mut speeds: Vec<Mark<f64>> = passes
        .iter()
        .filter_map(|pass| pass.spindle.speed)
        .collect();
    if passes.is_empty() {
        speeds.extend(section.spindle.speed);
    }
    speeds.dedup_by_key(|speed| speed.span);
    let Some(fastest) = speeds
        .iter()
        .copied()
        .max_by(|a, b| a.value.total_cmp(&b.value))
    else {
        return out.not_judged(rule, "the spindle speed is missing");
    };
    if repeats(cx, fastest) {
        return;
    }
    let machine = cx.facts.machine.as_ref();
    let max_feed = machine.and_then(|machine| machine.max_thread_feed);
    let max_rpm = machine.and_then(|machine| machine.max_rpm);
    let needed = lead * fastest.value;
    let highest = max_feed
        .map_or(f64::INFINITY, |feed| feed / lead)
        .min(max_rpm.unwrap_or(f64::INFINITY));
    let allowed = (highest / 10.0 + 1e-9).floor() * 10.0;
    let units = section.units;
    let place = (fastest.span, fastest.line);
    let word = quoted(cx.bytes, fastest.span, fastest.line);
    if let Some(limit) = max_rpm
        && fastest.value > limit
    {
        out.push(
            rule.found(
                place,
                format!(
                    "the spindle should turn {}, the machine turns up to {}",
                    rpm(fastest.value),
                    rpm(limit)
                ),
            )
            .because(format!("{word}: {} > {}", rpm(fastest.value), rpm(limit)))
            .source(cx.facts.cite("max_rpm"))
            .help("write a speed that the spindle has"),
        );
    }
    let (limit, from) = match max_feed {
        Some(limit) => (limit, cx.facts.cite("max_thread_feed_mm_min")),
        None => (
            USUAL,
            "5000 mm/min, common practice, no source; no max_thread_feed_mm_min is configured"
                .to_owned(),
        ),
    };
    if needed > limit {
        let mut finding = rule
            .found(
                place,
                format!(
                    "the axis has to feed {} in this thread, more than {}",
                    feed(needed, units),
                    feed(limit, units)
                ),
            )
            .because(format!(
                "lead {} × {} ({word}) = {}",
                length_of_mm(lead, units),
                rpm(fastest.value),
                feed(needed, units)
            ))
            .because(format!(
                "highest speed for this lead: {} / {} = {}",
                feed(limit, units),
                length_of_mm(lead, units),
                rpm((limit / lead).floor())
            ))
            .source(from)
            .help(format!("turn {} or slower", rpm((limit / lead).floor())));
        if max_feed.is_none() {
            finding.help += ", or configure what the axis reaches in a thread";
            finding = finding.severity(Severity::Advice);
        }
        if let Some(word) = section.word(Role::Lead) {
            finding = finding.related((word.span, word.line), "the lead is written here");
        }
        out.push(finding);
    }
    // Judged as one finding: each carries the speed that mends them all.
    if allowed >= 10.0 && fastest.value > highest {
        let edits: Vec<Edit> = speeds
            .iter()
            .filter(|speed| speed.value > highest)
            .filter_map(|speed| {
                Some(Edit {
                    span: speed.span,
                    text: speed_word(cx.bytes, speed.span, allowed)?,
                })
            })
            .collect();
        if let Some(first) = edits.first().map(|edit| edit.text.clone()) {
            let title = format!(
                "write {first} for {word}: {} -> {}, axis {} -> {} mm/min",
                rpm(fastest.value),
                rpm(allowed),
                number(needed, 0),
                number(lead * allowed, 0)
            );
            for finding in &mut out.findings {
                finding.fixes.push(Fix {
                    title: title.clone(),
                    kind: FixKind::Motion,
                    edits: edits.clone(),
                });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_mended, findings, judged, judged_with};
    use crate::facts::{Facts, Machine};
    use crate::finding::Severity;

    const RULE: &str = "axis-feed-limit";

    fn machine(feed: Option<f64>, rpm: Option<f64>) -> Facts {
        Facts {
            machine: Some(Machine {
                max_thread_feed: feed,
                max_rpm: rpm,
                ..Machine::default()
            }),
            source: "flankwise.toml: machine \"lathe-2\"".into(),
            ..Facts::default()
        }
    }

    const FAST: [&str; 6] = [
        "G21\nT0303\nG97 S2000 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
        "G21\nT0303\nG97 S2000 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nX27.546\nG0 X50.\n",
        "G21 G90 G95\nT0303\ng97s2000m3\ng0x34.z8.\ng78x29.z-36.f2.\nx28.\nx27.546\ng0x50.\n",
        "G20\nT0303\nG97 S2000 M3\nG0 X1.3 Z.3\nX1.15\nG32 Z-1. F.0833\nG0 X1.3\nZ.3\nX1.1\nG32 Z-1. F.0833\n",
        "G20\nT0505\nG97 S2000 M3\nG0X.9Z.4\nG76X.62Z-1.75K.0613D0150A60F.1\n",
        "G21 G18 G8 G90\nG97 S2000 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
    ];

    #[test]
    fn an_error_above_what_the_machine_feeds() {
        for text in FAST {
            let found = judged_with(RULE, text, &machine(Some(3000.0), None));
            assert_eq!(found.len(), 1, "{text}");
            assert_eq!(found[0].severity, Severity::Error);
            let slower = text.replace("2000", "1100");
            assert!(judged_with(RULE, &slower, &machine(Some(3000.0), None)).is_empty());
        }
    }

    #[test]
    fn the_limit_itself_is_allowed() {
        // 2 mm × 1500 1/min = 3000 mm/min.
        let text = FAST[0].replace("2000", "1500");
        assert!(judged_with(RULE, &text, &machine(Some(3000.0), Some(1500.0))).is_empty());
        let found = judged_with(RULE, FAST[0], &machine(Some(3000.0), Some(1500.0)));
        assert!(found[0].message.contains("and 1 more"));
        assert_eq!(found[0].fixes[0].edits[0].text, "S1500");
    }

    #[test]
    fn the_spindle_has_its_limit_too() {
        let found = judged_with(RULE, FAST[1], &machine(None, Some(1810.0)));
        assert_eq!(found[0].severity, Severity::Error);
        assert_eq!(found[0].fixes[0].edits[0].text, "S1810");
    }

    #[test]
    fn without_a_machine_only_an_advice() {
        for text in FAST {
            let text = text.replace("2000", "1900");
            assert!(findings(RULE, &text).is_empty(), "{text}");
        }
        let text = FAST[1].replace("F2.", "F3.");
        let found = findings(RULE, &text);
        assert_eq!(found[0].severity, Severity::Advice);
        assert!(found[0].fixes.is_empty());
    }

    #[test]
    fn silent_or_not_judged() {
        let facts = machine(Some(100.0), Some(100.0));
        for (text, judged_not) in [
            (FAST[0].replace("G97", "G96"), false),
            (FAST[0].replace("S2000", "S#5"), true),
            (FAST[0].replace("F2.", "F#6"), true),
        ] {
            assert!(judged_with(RULE, &text, &facts).is_empty(), "{text}");
            let not = judged(&text, &facts).not_judged;
            let said = not.iter().flatten().any(|(rule, _)| *rule == RULE);
            assert_eq!(said, judged_not, "{text}");
        }
    }

    #[test]
    fn a_chase_is_not_told_twice() {
        let text = format!("{}G76 X27.546 Z-36. P1227 Q1000 F2.\n", FAST[0]);
        assert_eq!(
            judged_with(RULE, &text, &machine(Some(3000.0), None)).len(),
            1
        );
    }

    #[test]
    fn mended_by_a_slower_spindle() {
        assert_mended(RULE, &machine(Some(3000.0), None), &FAST);
        let more = [
            "G90 G95 G18 DIAMON\nT=\"THREAD60\" D1\nG97 S2500 M3\nG0 X26 Z8\nCYCLE99(0,20,-30,20,5,1,0.92,0.05,30,0,5,1,1.5,1300101,1)\nG0 X150 Z100\nM30\n",
            "G90 G95\nT050505\nG97 S1500 M3\nG0 X30. Z9.\nG71 X20.32 Z-30. B60 D.8 U.1 H3.68 F3. M32 M73\nG0 X150. Z100.\nM2\n",
            "G21 G18 G99\nT0505\nG97 S1600 M3\nG0 X26. Z6.\nG82 X18.916 Z-28. F2.5\nG82 X18.466 Z-28. F2.5\nG82 X18.122 Z-28. F2.5\nG82 X17.83 Z-28. F2.5\nG82 X17.574 Z-28. F2.5\nG82 X17.344 Z-28. F2.5\nG82 X17.13 Z-28. F2.5\nG82 X16.932 Z-28. F2.5\nG0 X150. Z100.\nM30\n",
        ];
        assert_mended(RULE, &machine(Some(3000.0), None), &more);
    }
}
