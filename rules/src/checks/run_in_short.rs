use lexer::section::{Pass, Role, RoleWord, Scale, Section, Syntax};
use lexer::source::Mark;
use lexer::units::{Length, Units};

use super::lines::blocks;
use super::text::{length, length_of_mm, number, quoted, rpm};
use super::words::spell_length;
use super::{Context, Out, Rule, rule};
use crate::cut::drive::{LEAD_ERROR, TIME_CONSTANT, ramp, settling, speed};
use crate::finding::{Edit, Fix, FixKind, Severity};
use crate::table::table;

rule! {
    /// # What it checks
    ///
    /// The tool starts far enough in front of the thread for the axis to get in step with the
    /// spindle.
    ///
    /// # Why it matters
    ///
    /// At the start mark of the spindle the axis stands still. Until it has caught up it cuts a
    /// shorter lead: the first threads are stretched or thin, the ring gauge binds there, and at
    /// another speed they lie elsewhere.
    ///
    /// # The sum
    ///
    /// With the axis speed v = lead × rpm / 60 in mm/s: an axis with a time constant τ needs
    /// v·τ·(−1 − ln 0.01) until the lead is right to 1 %; with an acceleration a it needs at least
    /// v² / (2·a). The run-in is the smallest start of all passes: an infeed along the flank moves
    /// the deepest pass nearer to the part.
    ///
    /// # What it needs
    ///
    /// Start, lead and speed. With `acceleration_m_s2` of the machine a run-in below v² / (2·a) is an
    /// error, with `servo_time_constant_s` one below its distance a warning. Without them it is an
    /// advice, when the run-in is below lead × rpm / 500 (τ = 1/30 s) and below three leads.
    ///
    /// # When it stays silent
    ///
    /// When the tool starts behind Z0, in a groove or relief, or feeds towards +Z: where such a
    /// thread begins the program does not say. It takes Z0 for the end face and says so; a thread
    /// that does not end below Z0 is not judged. Chases and oil grooves are not either.
    ///
    /// # Mend
    ///
    /// Start farther away, or turn slower. In cycles the fix writes the start in the move before
    /// them, unless it is tapered; look for a centre or a tailstock there.
    ///
    /// # Source
    ///
    /// Derived from the two models of the drive. lead × rpm / 500 and τ = 1/30 s: from memory of
    /// control manuals, also quoted in the issue tracker of the open RS274/NGC interpreter. Three
    /// leads: common practice, no source.
    "run-in-short", Error,
    "the run-in is too short for the axis to get in step",
    fixes: true, needs_designation: false, check
}

/// Leads of run-in that shops take as enough.
const LEADS: f64 = 3.0;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let cut = &section.cut;
    if section.chase || cx.is_groove() || section.feed_direction() == Some(1) {
        return;
    }
    let (Some(start), Some(end)) = (cut.start_z.get(), cut.end_z.get()) else {
        return out.not_judged(rule, "where the tool starts or ends is missing");
    };
    if start < Length::ZERO {
        return;
    }
    if end >= Length::ZERO {
        return out.not_judged(
            rule,
            "where the thread begins is missing: it does not end below Z0",
        );
    }
    let Some(lead) = cut.lead.get().map(|lead| lead.mm().abs()) else {
        return out.not_judged(rule, "the lead is missing");
    };
    let nearest = section.passes.iter().filter_map(|pass| pass.z_start).min();
    let Some(nearest) = nearest else {
        return out.not_judged(rule, "where the passes start is missing");
    };
    let Some(fastest) = fastest(section) else {
        return out.not_judged(rule, "a constant spindle speed is missing");
    };
    let run_in = nearest.mm();
    let v = speed(lead, fastest.value);
    let Some(need) = need(cx, lead, fastest.value, run_in) else {
        return;
    };
    let units = section.units;
    let word = start_word(cx, start);
    let place = word.map_or_else(
        || {
            let first = section.passes.first();
            first.map_or(cx.place(), |pass| (pass.span, pass.line))
        },
        |word| (word.span, word.line),
    );
    let mut finding = rule
        .found(
            place,
            format!(
                "the run-in is {}, the axis needs about {} for a lead of {} at {}",
                length_of_mm(run_in.max(0.0), units),
                length_of_mm(need.mm, units),
                length_of_mm(lead, units),
                rpm(fastest.value)
            ),
        )
        .because(if nearest == start {
            format!("the passes start at Z {}; Z0 is taken for the end face", length(start, units))
        } else {
            format!(
                "the tool starts at Z {}, the infeed moves the nearest pass to Z {}; Z0 is taken for \
                 the end face",
                length(start, units),
                length(nearest, units)
            )
        })
        .because(format!(
            "{}: v = {} mm × {} / 60 = {} mm/s",
            quoted(cx.bytes, fastest.span, fastest.line),
            number(lead, 4),
            number(fastest.value, 1),
            number(v, 1)
        ))
        .source(need.source)
        .help("start farther in front of the thread (look for a centre or a tailstock), or turn slower")
        .related((fastest.span, fastest.line), "the speed is set here")
        .severity(need.severity);
    finding.because.extend(need.because);
    if let Some(fix) = word.and_then(|word| farther(cx, &word, start, nearest, need.mm)) {
        finding = finding.fix(fix);
    }
    out.push(finding);
}

/// What the run-in should be.
struct Need {
    mm: f64,
    because: Vec<String>,
    source: String,
    severity: Severity,
}

/// The need that the run-in does not meet, the gravest first.
fn need(cx: &Context<'_>, lead: f64, rpm: f64, run_in: f64) -> Option<Need> {
    let units = cx.section.units;
    let v = speed(lead, rpm);
    let machine = cx.facts.machine.as_ref();
    let text = |mm: f64| length_of_mm(mm, units);
    let tau = machine.and_then(|machine| machine.servo_time_constant);
    let limits = &cx.facts.limits;
    let (error, of_error) = match limits.lead_error_percent {
        Some(percent) => (
            percent / 100.0,
            format!("; {} lead_error_percent", limits.source),
        ),
        None => (LEAD_ERROR, String::new()),
    };
    let lag = settling(v, tau.unwrap_or(TIME_CONSTANT), error);
    if let Some(a) = machine.and_then(|machine| machine.acceleration) {
        let least = ramp(v, a * 1000.0);
        if run_in < least {
            return Some(Need {
                mm: tau.map_or(least, |_| lag.max(least)),
                because: vec![format!(
                    "to reach this speed at all: v² / (2·a) = {} with a = {} m/s²",
                    text(least),
                    number(a, 3)
                )],
                source: format!("derived; {}", cx.facts.cite("acceleration_m_s2")),
                severity: Severity::Error,
            });
        }
    }
    if let Some(tau) = tau {
        return (run_in < lag).then(|| Need {
            mm: lag,
            because: vec![format!(
                "lead right to {} %: v·τ·(−1 − ln {}) = {} with τ = {} s",
                number(100.0 * error, 2),
                number(error, 4),
                text(lag),
                number(tau, 4)
            )],
            source: format!(
                "derived; {}{of_error}",
                cx.facts.cite("servo_time_constant_s")
            ),
            severity: Severity::Warning,
        });
    }
    let (model, leads) = (rpm * lead / 500.0, LEADS * lead);
    (run_in < model && run_in < leads).then(|| Need {
        mm: model.min(leads),
        because: vec![
            format!(
                "lead right to 1 % with τ = 1/30 s: lead × rpm / 500 = {}",
                text(model)
            ),
            format!(
                "three leads: {}; the smaller of the two counts",
                text(leads)
            ),
        ],
        source: "lead × rpm / 500: derived with a time constant from memory of control manuals; \
                 three leads: common practice, no source; no machine is configured"
            .into(),
        severity: Severity::Advice,
    })
}

/// The S word of the fastest pass; none when a speed is not constant or not known.
fn fastest(section: &Section) -> Option<Mark<f64>> {
    let speeds: Option<Vec<Mark<f64>>> = section
        .passes
        .iter()
        .map(|pass| pass.spindle.speed.filter(|_| pass.spindle.rpm().is_some()))
        .collect();
    speeds?
        .into_iter()
        .max_by(|a, b| a.value.total_cmp(&b.value))
        .filter(|speed| speed.value > 0.0)
}

/// The Z word of the last move before the first pass that brings the tool to its start.
fn start_word(cx: &Context<'_>, start: Length) -> Option<RoleWord> {
    let section = cx.section;
    let moves = section.moves.iter().rev().filter(|mv| mv.after_pass == 0);
    let mv = moves.take_while(|mv| mv.to.1 == Some(start)).last()?;
    let mut found = None;
    blocks(cx, mv.line..=mv.line, |block| {
        found = block.word(b'Z').and_then(|word| {
            let number = word.number()?;
            let scale = [Scale::Real(section.units), Scale::Increments(section.units)]
                .into_iter()
                .find(|scale| {
                    let value = match scale {
                        Scale::Real(units) => number.real(*units),
                        _ => number.increments(section.units),
                    };
                    value == Some(start)
                })?;
            Some(RoleWord {
                role: Role::EndZ,
                letter: b'Z',
                number,
                span: word.span,
                value_span: word.value_span,
                line: block.line,
                scale,
                factor: 1,
                divisor: 1,
                base: Length::ZERO,
            })
        });
        false
    });
    found
}

/// The fix: a start that is far enough, in steps of half a millimetre or 0.02 in. Strokes write
/// their start for each pass, a taper word has to cover the whole stroke: no fix for them.
fn farther(
    cx: &Context<'_>,
    word: &RoleWord,
    start: Length,
    nearest: Length,
    need: f64,
) -> Option<Fix> {
    let section = cx.section;
    let parallel = section.cut.taper.get().is_some_and(Length::is_zero);
    let boxes = section.syntax == Syntax::Box;
    let one_start = section
        .passes
        .iter()
        .all(|pass| pass.z_start == Some(start));
    if section.syntax == Syntax::Strokes || !parallel || (boxes && !one_start) {
        return None;
    }
    let grid = match section.units {
        Units::Millimetre => 0.5,
        Units::Inch => 0.508,
    };
    let wanted = need + (start - nearest).mm();
    let wanted = Length::from_mm((wanted / grid - 1e-6).ceil() * grid);
    let text = spell_length(word, wanted);
    let shift = wanted - start;
    let after = Section {
        passes: section
            .passes
            .iter()
            .map(|pass| Pass {
                z_start: pass.z_start.map(|z| z + shift),
                ..pass.clone()
            })
            .collect(),
        ..section.clone()
    };
    let seconds = |table: &crate::table::Table| table.seconds.map(|seconds| seconds.total());
    let time = seconds(cx.table)
        .zip(seconds(&table(&after, cx.identified, cx.facts)))
        .map(|(now, then)| format!(", {} s -> {} s", number(now, 1), number(then, 1)));
    Some(Fix {
        title: format!(
            "write Z{text} for {}: run-in {} -> {}{}",
            quoted(cx.bytes, word.span, word.line),
            length_of_mm(nearest.mm().max(0.0), section.units),
            length(nearest + shift, section.units),
            time.unwrap_or_default()
        ),
        kind: FixKind::Motion,
        edits: vec![Edit {
            span: word.value_span,
            text,
        }],
    })
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, judged, judged_with};
    use crate::facts::{Facts, Machine};
    use crate::finding::Severity;

    const RULE: &str = "run-in-short";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                // 1000 1/min × 2 mm / 500 = 4 mm, three leads 6 mm; 30° infeed takes 0.708 mm.
                (
                    "G21\nT0303 (M30X2-6G)\nG97 S1000 M3\nG0 X34. Z3.\nG76 P010060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                    "G21\nT0303 (M30X2-6G)\nG97 S1000 M3\nG0 X34. Z5.\nG76 P010060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                ),
                (
                    "G21\nT0303 (M42X1.5)\nG97 S1800 M3\nG0 X46. Z0.5\nG92 X41.3 Z-20. F1.5\nX40.8\nX40.45\nX40.16\nG0 X120.\n",
                    "G21\nT0303 (M42X1.5)\nG97 S1800 M3\nG0 X46. Z4.5\nG92 X41.3 Z-20. F1.5\nX40.8\nX40.45\nX40.16\nG0 X120.\n",
                ),
                (
                    "G21 G90 G95\nT0303\nG97 S1800 M3\nG0 X46.\nZ0\nM8\nG78 X41.3 Z-20. F1.5\nX40.8\nX40.45\nX40.16\nG0 X120.\n",
                    "G21 G90 G95\nT0303\nG97 S1800 M3\nG0 X46.\nZ4.5\nM8\nG78 X41.3 Z-20. F1.5\nX40.8\nX40.45\nX40.16\nG0 X120.\n",
                ),
                (
                    "G20\nT0505\nG97 S900 M3\nG0X.9Z.05\nG76X.6273Z-1.75K.0613D0100A0F.1\n",
                    "G20\nT0505\nG97 S900 M3\nG0X.9Z.18\nG76X.6273Z-1.75K.0613D0100A0F.1\n",
                ),
                (
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z1\nG76 P2 Z-30 I-2 J0.36 R2 K1.227 Q27\n",
                    "G21 G18 G8 G90\nG97 S900 M3\nG0 X17 Z4.5\nG76 P2 Z-30 I-2 J0.36 R2 K1.227 Q27\n",
                ),
            ],
        );
        let strokes = "G20\nT0303\nG97 S900 M3\nG0 X1.3 Z.077\nX1.15\nG32 Z-1. F.0833\nG0 X1.3\nZ.077\nX1.1\nG32 Z-1. F.0833\n";
        assert_eq!(findings(RULE, strokes).len(), 1);
        assert!(findings(RULE, &strokes.replace("Z.077", "Z.3")).is_empty());
    }

    #[test]
    fn silent_where_the_thread_begins_elsewhere() {
        assert_silent(
            RULE,
            &[
                // In a groove behind the face; running outward; slow enough; three leads away.
                "G21\nT0303\nG97 S1000 M3\nG0 X34. Z-20.\nG92 X29. Z-36. F2.\nX27.546\nG0 X50.\n",
                "G21\nT0303\nG97 S1000 M4\nG0 X34. Z-40.\nG92 X29. Z3. F2.\nX27.546\nG0 X50.\n",
                "G21\nT0303\nG97 S200 M3\nG0 X34. Z1.\nG92 X29. Z-36. F2.\nX27.546\nG0 X50.\n",
                "G21\nT0303\nG97 S2000 M3\nG0 X34. Z6.\nG92 X29. Z-36. F2.\nX27.546\nG0 X50.\n",
                // An oil groove.
                "G21\nT0505 (OIL GROOVE)\nG97 S60 M3\nG0 X84. Z2.\nX85.8\nG32 Z-14. F32.\nG0 X84.\nZ2.\nX86.4\nG32 Z-14. F32.\nG0 X84.\n",
            ],
        );
    }

    #[test]
    fn not_judged_without_speed_or_beginning() {
        for text in [
            "G21\nT0303\nG97 S#1 M3\nG0 X34. Z1.\nG92 X29. Z-36. F2.\nX27.546\nG0 X50.\n",
            "G21\nT0303\nG96 S150 M3\nG0 X34. Z1.\nG92 X29. Z-36. F2.\nX27.546\nG0 X50.\n",
            "G21\nT0303\nG97 S1000 M3\nG0 X34. Z101.\nG92 X29. Z64. F2.\nX27.546\nG0 X50.\n",
        ] {
            let judgement = judged(text, &Facts::default());
            assert!(
                judgement
                    .findings
                    .iter()
                    .all(|finding| finding.rule != RULE)
            );
            let mut not = judgement.not_judged.iter().flatten();
            assert!(not.any(|(rule, _)| *rule == RULE), "{text}");
        }
    }

    /// Lead 2 at 1000 1/min: 0.556 mm at 1 m/s², 4.006 mm at 1/30 s.
    #[test]
    fn a_configured_machine_makes_it_grave() {
        let facts = |acceleration, servo_time_constant| Facts {
            machine: Some(Machine {
                acceleration,
                servo_time_constant,
                ..Machine::default()
            }),
            source: "flankwise.toml: machine \"lathe-2\"".into(),
            ..Facts::default()
        };
        let text = |z: &str| {
            format!(
                "G21\nT0303\nG97 S1000 M3\nG0 X34. Z{z}\nG92 X29. Z-36. F2.\nX27.546\nG0 X50.\n"
            )
        };
        let severity = |z, facts: &Facts| {
            let found = judged_with(RULE, &text(z), facts);
            found.first().map(|finding| finding.severity)
        };
        let both = facts(Some(1.0), Some(1.0 / 30.0));
        assert_eq!(severity("0.5", &both), Some(Severity::Error));
        assert_eq!(severity("0.6", &both), Some(Severity::Warning));
        assert_eq!(severity("4.", &both), Some(Severity::Warning));
        assert_eq!(severity("4.01", &both), None);
        // A stiff drive needs less than the default.
        assert_eq!(severity("1.5", &facts(None, Some(0.01))), None);
        assert_eq!(
            severity("1.5", &facts(Some(1.0), None)),
            Some(Severity::Advice)
        );
    }
}
