use lexer::section::Spindle;
use lexer::source::Mark;

use super::split::earlier;
use super::text::{length_of_mm, number, quoted, rpm};
use super::{Context, Out, Rule, rule};
use crate::cut::drive::{ACCELERATION, TIME_CONSTANT, lag, ramp, speed};
use crate::finding::{Edit, Fix, FixKind, Severity};

rule! {
    /// # What it checks
    ///
    /// All passes of a thread, its spring passes and a second call to chase the burr included, are
    /// cut at one spindle speed.
    ///
    /// # Why it matters
    ///
    /// Every stroke starts at the same mark of the spindle, but the axis needs time to follow. At
    /// another speed it lags by another distance, so the tool enters beside the groove of the
    /// passes before: one flank gets all of the cut, the thread comes out too thin, or a second
    /// helix shows. A higher speed for the finishing pass is the usual cause.
    ///
    /// # The sum
    ///
    /// With the axis speed v = lead × rpm / 60 in mm/s before (v1) and after (v2) the change, the
    /// helix moves by (v2 − v1)·τ when the axis follows with a time constant τ, and by
    /// (v2² − v1²) / (2·a) when it speeds up with an acceleration a. Both are shown.
    ///
    /// # What it needs
    ///
    /// The speed of every pass. The machine's `servo_time_constant_s` and
    /// `acceleration_m_s2` make the
    /// shift that of the machine; without them τ = 1/30 s and a = 1 m/s² are used and named.
    /// Without a lead the shift is not shown.
    ///
    /// # When it stays silent
    ///
    /// With constant surface speed, which has its own rule, and where the speed is a variable.
    /// A shift of less than 0.02 mm in both models is a warning, not an error.
    ///
    /// # Mend
    ///
    /// One speed for all passes. The fix writes the speed of the first pass in place of the later
    /// one.
    ///
    /// # Source
    ///
    /// Derived from the two models; that a changed speed moves the helix is known to every handbook
    /// of the trade and to the issue tracker of the open RS274/NGC interpreter. τ from memory of
    /// control manuals, a common practice without a source.
    "rpm-changes-between-passes", Error,
    "the spindle speed changes between the passes of one thread",
    fixes: true, needs_designation: false, check
}

/// Below this shift in mm the thread is still the same for a gauge.
const HARMLESS: f64 = 0.02;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let before = earlier(cx).into_iter().flat_map(|section| &section.passes);
    let passes: Vec<_> = before.clone().chain(&cx.section.passes).collect();
    if passes.iter().any(|pass| pass.spindle.surface_speed()) {
        return;
    }
    let speeds: Vec<Option<Mark<f64>>> =
        passes.iter().map(|pass| speed_of(&pass.spindle)).collect();
    let Some(first) = speeds.iter().flatten().next().copied() else {
        return;
    };
    // A change inside the section before was reported there.
    let own = before.count();
    let mut changed: Vec<(usize, Mark<f64>)> = Vec::new();
    for (at, now) in speeds.iter().enumerate() {
        if let Some(now) = now
            && now.value != first.value
            && changed
                .last()
                .is_none_or(|(_, known)| known.span != now.span)
        {
            changed.push((at, *now));
        }
    }
    changed.retain(|(at, _)| *at >= own);
    let Some(&(at, now)) = changed.first() else {
        return;
    };
    let which = if own > 0 && at == own {
        "when the thread is gone over again".to_owned()
    } else {
        format!("from pass {}", at - own + 1)
    };
    let mut finding = rule.found(
        (now.span, now.line),
        format!(
            "the spindle turns {} at the first pass and {} {which}",
            rpm(first.value),
            rpm(now.value)
        ),
    );
    match shift(cx, first, now) {
        Some(shift) => {
            finding.message = format!(
                "{}: the helix shifts by about {}",
                finding.message,
                length_of_mm(shift.mm, cx.section.units)
            );
            finding.because = shift.sum;
            if shift.mm < HARMLESS {
                finding = finding.severity(Severity::Warning);
            }
        }
        None => {
            finding = finding.because(format!(
                "{}, {}; the lead is not known, so the shift is not reckoned",
                quoted(cx.bytes, first.span, first.line),
                quoted(cx.bytes, now.span, now.line)
            ));
        }
    }
    let spelled = String::from_utf8_lossy(first.span.of(cx.bytes)).into_owned();
    let edits: Vec<Edit> = changed
        .iter()
        .map(|(_, mark)| Edit {
            span: mark.span,
            text: spelled.clone(),
        })
        .collect();
    out.push(
        finding
            .source(
                "derived from the lag and the run-up of the axis; common practice: one speed for \
                 all passes",
            )
            .help("cut every pass at one speed")
            .related(
                (first.span, first.line),
                format!("the first pass turns {}", rpm(first.value)),
            )
            .fix(Fix {
                title: format!(
                    "write {spelled} for {}: {} -> {} as in the first pass",
                    quoted(cx.bytes, now.span, now.line),
                    rpm(now.value),
                    rpm(first.value)
                ),
                kind: FixKind::Motion,
                edits,
            }),
    );
}

/// How far the helix moves, by the larger of the two models, and the sum.
struct Shift {
    mm: f64,
    sum: Vec<String>,
}

fn shift(cx: &Context<'_>, first: Mark<f64>, now: Mark<f64>) -> Option<Shift> {
    let lead = cx.section.cut.lead.get()?.mm().abs();
    let (v1, v2) = (speed(lead, first.value), speed(lead, now.value));
    let (tau, tau_from) = cx.fact(
        |machine| machine.servo_time_constant,
        "servo_time_constant_s",
        TIME_CONSTANT,
    );
    let (a, a_from) = cx.fact(
        |machine| machine.acceleration.map(|a| a * 1000.0),
        "acceleration_m_s2",
        ACCELERATION,
    );
    let by_lag = lag(v2, tau) - lag(v1, tau);
    let by_ramp = ramp(v2, a) - ramp(v1, a);
    let units = cx.section.units;
    let axis = |name: &str, mark: Mark<f64>, v: f64| {
        format!(
            "{}: {name} = {} mm × {} / 60 = {} mm/s",
            quoted(cx.bytes, mark.span, mark.line),
            number(lead, 4),
            number(mark.value, 1),
            number(v, 1)
        )
    };
    Some(Shift {
        mm: by_lag.abs().max(by_ramp.abs()),
        sum: vec![
            axis("v1", first, v1),
            axis("v2", now, v2),
            format!(
                "lag: (v2 − v1)·τ = {}, τ = {} s ({tau_from})",
                length_of_mm(by_lag, units),
                number(tau, 4)
            ),
            format!(
                "run-up: (v2² − v1²) / (2·a) = {}, a = {} m/s² ({a_from})",
                length_of_mm(by_ramp, units),
                number(a / 1000.0, 3)
            ),
        ],
    })
}

fn speed_of(spindle: &Spindle) -> Option<Mark<f64>> {
    spindle.speed.filter(|speed| speed.value > 0.0)
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_mended, findings, judged_with};
    use crate::facts::{Facts, Machine};
    use crate::finding::Severity;

    const RULE: &str = "rpm-changes-between-passes";

    #[test]
    fn found_in_every_list_and_in_a_second_call() {
        for text in [
            "G21\nT0303\nG97 S900 M3\nG0 X20. Z8.\nX15.6\nG32 Z-42. F2.\nG0 X20.\nZ8.\nS1200\nX15.2\nG32 Z-42. F2.\nG0 X20.\n",
            "G21\nT0303\nG97 S900 M3\nG0 X34. Z8.\nG92 X29.2 Z-36. F2.\nX28.5\nX27.9 S1200\nX27.546\nG0 X50.\n",
            "G21 G90 G95\nT0303\ng97s900m3\ng0x34.z8.\ng78x29.z-36.f2.\nx28.\ns1200\nx27.546\ng0x50.\n",
            "G71\nG90 G95\nT0303\nG97 S900 M3\nG0 X34. Z8.\nG21 X29. Z-36. F2.\nX28.\nX27.546 S1200\nG0 X50.\n",
            "G20\nT0303\nG97 S900 M3\nG0 X1.3 Z.3\nX1.15\nG32 Z-1. F.0833\nG0 X1.3\nZ.3\nX1.1 S1200\nG32 Z-1. F.0833\n",
            // The burr chased at another speed.
            "G21\nT0303\nG97 S900 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nS1200\nG76 X27.546 Z-36. P1227 Q1000 F2.\n",
            // Roughed and finished by two calls.
            "G20\nT0505\nG97 S900 M3\nG0X.9Z.4\nG76X.64Z-1.75K.0513D0150A60F.1\nS1200\nG76X.62Z-1.75K.0613D0600A60F.1\n",
        ] {
            let found = findings(RULE, text);
            assert_eq!(found.len(), 1, "{text}");
            assert_eq!(found[0].severity, Severity::Error);
            assert_eq!(found[0].fixes[0].edits[0].text.to_uppercase(), "S900");
            let mended = text.replace("S1200", "S900").replace("s1200", "S900");
            assert!(findings(RULE, &mended).is_empty(), "{mended}");
            assert_mended(RULE, &Facts::default(), &[text]);
        }
    }

    #[test]
    fn two_starts_must_share_the_speed() {
        let text = "G21\nT0303\nG97 S300 M3\nG0 X45. Z18.\nG92 X39. Z-60. F6.\nX38.\nG0 X45. Z21.\nS400\nG92 X39. Z-60. F6.\nX38.\nG0 X99.\n";
        assert_eq!(findings(RULE, text).len(), 1);
    }

    #[test]
    fn other_threads_may_have_other_speeds() {
        for text in [
            // Another tool, another end, another lead.
            "G21\nT0303\nG97 S900 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nG0 X50.\nT0404\nS1200\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nG0 X50.\n",
            "G21\nT0303\nG97 S900 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nG0 X50.\nS1200\nG0 X34. Z-40.\nG92 X29. Z-60. F2.\nX28.\nG0 X50.\n",
            "G21\nT0303\nG97 S900 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nG0 X50.\nS1200\nG0 X34. Z8.\nG92 X29. Z-36. F1.5\nX28.\nG0 X50.\n",
            // A speed written again, and one that is a variable.
            "G21\nT0303\nG97 S900 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28. S900\nX27.5\nG0 X50.\n",
            "G21\nT0303\nG97 S900 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28. S#5\nX27.5\nG0 X50.\n",
        ] {
            assert!(findings(RULE, text).is_empty(), "{text}");
        }
    }

    #[test]
    fn a_hair_is_a_warning() {
        let text =
            "G21\nT0303\nG97 S1000 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28. S1010\nG0 X50.\n";
        assert_eq!(findings(RULE, text)[0].severity, Severity::Warning);
    }

    #[test]
    fn the_machine_tells_the_shift() {
        let text =
            "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28. S1000\nG0 X50.\n";
        // Lead 2, 800 to 1000 1/min: 0.22 mm by lag at 1/30 s, 0.2 mm by run-up at 1 m/s².
        let sum = findings(RULE, text)[0].because.join("\n");
        assert!(
            sum.contains("= 0.222 mm") && sum.contains("= 0.2 mm"),
            "{sum}"
        );
        let facts = Facts {
            machine: Some(Machine {
                servo_time_constant: Some(0.01),
                ..Machine::default()
            }),
            source: "flankwise.toml: machine \"lathe-2\"".into(),
            ..Facts::default()
        };
        let sum = judged_with(RULE, text, &facts)[0].because.join("\n");
        assert!(sum.contains("= 0.067 mm"), "{sum}");
        assert!(
            sum.contains("machine \"lathe-2\" servo_time_constant_s"),
            "{sum}"
        );
    }
}
