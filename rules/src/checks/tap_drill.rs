use lexer::section::Side;
use lexer::section::tapping::Drilled;

use super::hole_facts::{comments, drill, only_starts, says};
use super::text::{length_of_mm, number};
use super::{Context, Out, Rule, rule};
use crate::finding::{Finding, Severity};
use crate::measure::drill::{Basis, tap_hole};
use crate::measure::drill_name::Named;
use crate::standards::thread::Thread;

rule! {
    /// # What it checks
    ///
    /// The drill that made the hole, by its comment, against the limits of the minor diameter of the
    /// thread that is tapped into it.
    ///
    /// # Why it matters
    ///
    /// The hole is the minor diameter. Too small a hole breaks taps and is no thread to the gauge; too
    /// large a one leaves a shallow thread that strips.
    ///
    /// # The sum
    ///
    /// per cent of thread = (D - drill) / (k · P) · 100, with k = 1.0825 on the basis of the full basic
    /// height (5/8 H) and 1.299 on that of 3/4 H, as handbooks in the USA count. The limits are those
    /// of the class that is written, otherwise of the standard's default class.
    ///
    /// # What it needs
    ///
    /// The tap's name, the drilling at the same place in the same program, and the drill's diameter in
    /// the comment at its tool change: `(DRILL 6.8)`, `(#7 DRILL)`, `(27/64 DRILL)`.
    ///
    /// # When it stays silent
    ///
    /// Tapered threads; forming taps, whose hole is near D - 0.5 P; a hole of that size where no
    /// comment says whether the tap cuts or forms. Holes that are bored or reamed afterwards show the
    /// deepest tool only.
    ///
    /// # Mend
    ///
    /// Another drill: a tool, no word of the program. No fix is offered.
    ///
    /// # Source
    ///
    /// Limits of the thread's standard, named in the finding. The sum: FED-STD-H28/2B (1991), 5.4:
    /// M10x1.5 at 75 % has a hole of 8.539 mm. That forming taps want about D - 0.5 P is common
    /// practice; sources differ.
    "tap-drill", Warning,
    "the drill leaves a hole outside the limits of the thread",
    fixes: false, needs_designation: true, kinds: [Tapped], check
}

const CUTS: [&str; 6] = ["CUT", "CUTTING", "SPIRAL", "POINT", "FLUTE", "GUN"];
const FORMS: [&str; 8] = [
    "FORM",
    "FORMING",
    "ROLL",
    "ROLLFORM",
    "FLUTELESS",
    "COLDFORM",
    "FURCHER",
    "FORMER",
];

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(tapping) = cx.section.tapping.as_deref() else {
        return;
    };
    let Some(thread) = cx.thread() else {
        return out.not_judged(rule, "the name of the tap is missing");
    };
    let drilled = tapping
        .holes
        .iter()
        .filter_map(|hole| hole.drilled.as_ref())
        .find(|one| !only_starts(cx, one));
    let Some(drilled) = drilled else {
        return out.not_judged(
            rule,
            "the drilling of these holes in the same program is missing",
        );
    };
    let Some(named) = drill(cx, drilled) else {
        return out.not_judged(rule, "the diameter of the drill is missing in its comment");
    };
    if thread.form().taper != 0.0 {
        return;
    }
    let limits = thread.limits(Side::Internal);
    let (Some(min), Some(max)) = (limits.minor.min, limits.minor.max) else {
        return out.not_judged(rule, "limits of the minor diameter are missing");
    };
    let (major, pitch) = (thread.major.mm(), thread.pitch.mm());
    let formed = major - 0.5 * pitch;
    let near_formed = (named.mm - formed).abs() <= 0.15 * pitch;
    let words = comments(cx);
    let forms = says(&words, &FORMS);
    if forms {
        if near_formed || named.mm > max && named.mm < major {
            return;
        }
    } else if near_formed && named.mm > max && !says(&words, &CUTS) {
        return out.not_judged(
            rule,
            "whether the tap cuts or forms is missing: the hole fits a forming tap",
        );
    }
    // Drills are named to a hundredth, and a thousandth of an inch.
    if (min - 0.005..=max + 0.005).contains(&named.mm) && !forms {
        return;
    }
    out.push(outside(
        rule,
        cx,
        thread,
        drilled,
        &named,
        [min, max],
        forms,
    ));
}

fn outside(
    rule: &Rule,
    cx: &Context<'_>,
    thread: &Thread,
    drilled: &Drilled,
    named: &Named,
    [min, max]: [f64; 2],
    forms: bool,
) -> Finding {
    let units = cx.section.units;
    let (major, pitch) = (thread.major.mm(), thread.pitch.mm());
    let basis = Basis((major - thread.basic().minor) / pitch);
    let per_cent = number(basis.percent(major, pitch, named.mm), 0);
    let limits = thread.limits(Side::Internal);
    let size = length_of_mm(named.mm, units);
    let message = if forms {
        format!(
            "a drill of {size} for a forming tap {}, which wants about {}",
            thread.designation(),
            length_of_mm(major - 0.5 * pitch, units)
        )
    } else if named.mm >= major {
        format!(
            "a drill of {size} leaves nothing of {}",
            thread.designation()
        )
    } else {
        format!(
            "a drill of {size} leaves {per_cent} % of {}, the hole has to be {} to {}",
            thread.designation(),
            length_of_mm(min, units),
            length_of_mm(max, units)
        )
    };
    let usual = tap_hole(thread).and_then(|hole| hole.drill);
    let at = (drilled.block.span, drilled.block.line);
    let mut finding = rule
        .found(cx.place(), message)
        .because(format!(
            "({} - {}) / ({} · {}) = {per_cent} % of the basic height",
            number(major, 3),
            number(named.mm, 3),
            number(basis.0, 4),
            number(pitch, 4)
        ))
        .because(cx.identified.why.clone())
        .source(format!(
            "minor diameter of class {}{}: {}",
            limits.class,
            if limits.class_assumed {
                " (assumed)"
            } else {
                ""
            },
            limits.sources.join("; ")
        ))
        .help(match usual {
            Some(drill) if !forms => format!(
                "the usual drill is {}{}",
                length_of_mm(drill.size, units),
                if drill.name.is_empty() {
                    String::new()
                } else {
                    format!(" ({})", drill.name)
                }
            ),
            _ => "compare drill and tap with the drawing".into(),
        })
        .related(at, format!("the hole is drilled here ({})", named.text));
    if named.mm >= major {
        finding = finding.severity(Severity::Error);
    }
    finding
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, judged};
    use crate::facts::Facts;

    const RULE: &str = "tap-drill";

    fn mill(drill: &str, tap: &str) -> String {
        let pitch = [
            ("M8X1", 1.0),
            ("M10", 1.5),
            ("1/4-20", 1.27),
            ("3/8-16", 1.5875),
        ];
        let pitch = pitch.iter().find(|(name, _)| tap.contains(name));
        let feed = 300.0 * pitch.map_or(1.25, |(_, pitch)| *pitch);
        format!(
            "G21 G90 G17 G94\nT4 M6 ({drill})\nS1200 M3\nG0 X0 Y0\nG43 H4 Z10.\nG81 X10. Y5. Z-30. R2. F120.\nG80\n\
             T5 M6 ({tap})\nS300 M3\nG43 H5 Z10.\nM29 S300\nG84 X10. Y5. Z-20. R3. F{feed:.2}\nG80\nM30\n"
        )
    }

    #[test]
    fn found_and_mended() {
        let texts = [
            (mill("DRILL 7.0", "M8 TAP"), mill("DRILL 6.8", "M8 TAP")),
            (
                mill("6.0MM DRILL", "M8 TAP").replace("M29 S300", "G95").replace("F375.00", "F1.25"),
                mill("6.8MM DRILL", "M8 TAP").replace("M29 S300", "G95").replace("F375.00", "F1.25"),
            ),
            (mill("DRILL 6.8", "TAP M8X1"), mill("DRILL 7.0", "TAP M8X1")),
            (mill("BOHRER 8.0", "THREAD M10-6H"), mill("BOHRER 8.5", "THREAD M10-6H")),
            (mill("#3 DRILL", "1/4-20 TAP"), mill("#7 DRILL", "1/4-20 TAP")),
            (mill("27/64 DRILL", "3/8-16 UNC TAP"), mill("5/16 DRILL", "3/8-16 UNC TAP")),
            (mill("DRILL 6.8", "M8 FORM TAP"), mill("DRILL 7.4", "M8 FORM TAP")),
            (
                "G20\nG50 S3000\nT0202 (LETTER I DRILL)\nG97 S900 M3\nG99\nG0 X0 Z.2\nG1 Z-1. F.004\nG0 Z4.\nT0505 (5/16-18 TAP)\nG97 S400 M3\nG0 X0 Z.2\nG84 Z-.6 F.055556\nG80\nM30\n".into(),
                "G20\nG50 S3000\nT0202 (LETTER F DRILL)\nG97 S900 M3\nG99\nG0 X0 Z.2\nG1 Z-1. F.004\nG0 Z4.\nT0505 (5/16-18 TAP)\nG97 S400 M3\nG0 X0 Z.2\nG84 Z-.6 F.055556\nG80\nM30\n".into(),
            ),
        ];
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b): &(String, String)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    /// FED-STD-H28/2B, 5.4: M10x1.5 with a hole of 8.539 mm has 75 % of 3/4 H, which is 90 % of the
    /// basic height of 5/8 H; with 8.377 mm 83.3 %, which is all of it.
    #[test]
    fn published_per_cents() {
        use crate::measure::drill::Basis;
        for (hole, three_quarters, basic) in [
            (8.733, 65.0, 78.0),
            (8.539, 75.0, 90.0),
            (8.377, 83.3, 100.0),
        ] {
            assert!((Basis::THREE_QUARTERS.percent(10.0, 1.5, hole) - three_quarters).abs() < 0.05);
            assert!((Basis::FULL_HEIGHT.percent(10.0, 1.5, hole) - basic).abs() < 0.06);
        }
        // 9 mm for M10: 62 %.
        let found = findings(RULE, &mill("DRILL 9.0", "M10 TAP, SPIRAL POINT"));
        assert!(found[0].message.contains("62 %"), "{}", found[0].message);
    }

    #[test]
    fn silent_or_not_judged() {
        assert_silent(
            RULE,
            &[
                &mill("DRILL 6.7", "M8 TAP"),
                &mill("DRILL 6.9", "M8 TAP"),
                &mill("SPOT DRILL 10", "M8 TAP"),
                &mill("DRILL 11.1", "1/4 NPT TAP"),
            ],
        );
        for text in [
            mill("DRILL 7.4", "M8 TAP"),
            mill("TOOL 4", "M8 TAP"),
            mill("DRILL 7.4", "TAP"),
        ] {
            let judgement = judged(&text, &Facts::default());
            assert!(judgement.findings.iter().all(|f| f.rule != RULE), "{text}");
            assert!(
                judgement
                    .not_judged
                    .iter()
                    .flatten()
                    .any(|(rule, _)| *rule == RULE),
                "{text}"
            );
        }
    }
}
