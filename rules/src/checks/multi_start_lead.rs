use lexer::section::{Pass, Role, Section};
use lexer::units::Lead;

use super::text::{lead, number, quoted};
use super::{Context, Out, Rule, rule};
use crate::finding::{Finding, Severity};

rule! {
    /// # What it checks
    ///
    /// A thread with several starts: each is cut with the lead, not the pitch; they divide the turn
    /// evenly; none is missing; and start angles are written in the unit of the control.
    ///
    /// # Why it matters
    ///
    /// With the pitch in place of the lead the second start cuts away the threads of the first. With
    /// an uneven shift one thread of the two comes out thin. A start angle of 180 where the control
    /// counts thousandths of a degree cuts the same start twice, and the nut does not go on.
    ///
    /// # The sum
    ///
    /// lead = starts × pitch; start n lies n × 360° / starts further, or n × pitch along the axis.
    /// Place of a pass in the turn = (start Z / lead + start angle / 360°) without its whole turns.
    ///
    /// # What it needs
    ///
    /// The starts of the passes; for the lead and the number of starts a stated designation.
    ///
    /// # When it stays silent
    ///
    /// For a second cut that is shifted by less than an eighth of a turn: that widens the groove.
    /// Where the starts are made by calls or loops that were not run.
    ///
    /// # Mend
    ///
    /// Write the lead; shift each start by one pitch, or by 360° / starts.
    ///
    /// # Source
    ///
    /// Definition of lead, pitch and starts in ISO 5408. That Q counts thousandths of a degree:
    /// common to control manuals, from memory.
    "multi-start-lead", Error,
    "the lead, the shift or the number of the starts does not make a thread of several starts",
    fixes: false, needs_designation: true, check
}

/// A shift of less than this part of a turn widens a groove.
const WIDENS: f64 = 0.125;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let finding = small_angle(rule, cx)
        .or_else(|| pitch_for_lead(rule, cx))
        .or_else(|| uneven(rule, cx))
        .or_else(|| too_few(rule, cx));
    if let Some(mut finding) = finding {
        if let Some((span, line)) = cx.identified.place.filter(|_| cx.stated()) {
            finding = finding.related((span, line), "the thread is named here");
        }
        out.push(finding);
    } else if cx.stated()
        && cx.thread().is_some_and(|thread| thread.starts > 1)
        && !section.passes_certain
    {
        out.not_judged(rule, "some passes are missing");
    }
}

/// `Q180`: 0.18° where thousandths are counted.
fn small_angle(rule: &Rule, cx: &Context<'_>) -> Option<Finding> {
    let angles = cx
        .section
        .words
        .iter()
        .filter(|w| w.role == Role::StartAngle);
    let word = angles.clone().find(|word| {
        word.number
            .integer()
            .is_some_and(|angle| (1..=360).contains(&angle.abs()) && 360 % angle.abs() == 0)
    })?;
    // All of them small: none speaks for thousandths.
    if angles.clone().any(|word| word.number.value().abs() > 360.0) {
        return None;
    }
    let degrees = word.number.value();
    Some(
        rule.found(
            (word.span, word.line),
            format!(
                "the start angle {} is {}° where the control counts thousandths of a degree",
                quoted(cx.bytes, word.span, word.line),
                number(degrees / 1000.0, 3)
            ),
        )
        .severity(Severity::Warning)
        .because(format!(
            "{degrees} / 1000 = {}°; {degrees}° would be {}",
            number(degrees / 1000.0, 3),
            number(degrees * 1000.0, 0)
        ))
        .source("common to control manuals, from memory")
        .help("write the angle in thousandths of a degree, without a point; look in the manual of the control"),
    )
}

/// Several starts, each cut with the pitch.
fn pitch_for_lead(rule: &Rule, cx: &Context<'_>) -> Option<Finding> {
    let thread = cx.thread().filter(|_| cx.stated())?;
    let section = cx.section;
    let starts = section.cut.starts;
    let cut = section.cut.lead.get()?.abs();
    let same = |a: Lead, b: Lead| (a.mm() - b.mm()).abs() <= 0.003 * b.mm();
    if starts < 2 || !same(cut, thread.pitch) {
        return None;
    }
    let word = section.word(Role::Lead);
    let right = thread.pitch.times(starts.max(thread.starts));
    Some(
        rule.found(
            word.map_or(cx.place(), |word| (word.span, word.line)),
            format!(
                "{starts} starts are cut with the pitch of {}: the lead is {}",
                lead(thread.pitch, section.units),
                lead(right, section.units)
            ),
        )
        .because(format!(
            "lead = starts × pitch = {} × {} = {}",
            starts.max(thread.starts),
            lead(thread.pitch, section.units),
            lead(right, section.units)
        ))
        .because(cx.identified.why.clone())
        .source("definition of lead and pitch in ISO 5408")
        .help("write the lead, or leave the shifted starts out if the thread has one"),
    )
}

/// Starts at uneven parts of the turn.
fn uneven(rule: &Rule, cx: &Context<'_>) -> Option<Finding> {
    let section = cx.section;
    if section.cut.starts != 1 {
        return None;
    }
    let phases = phases(section)?;
    let count = phases.len();
    if !(2..=12).contains(&count) {
        return None;
    }
    let part = 1.0 / count as f64;
    let gaps: Vec<f64> = (0..count)
        .map(|at| {
            let next = phases.get(at + 1).map_or(phases[0].0 + 1.0, |next| next.0);
            next - phases[at].0
        })
        .collect();
    let least = gaps.iter().copied().fold(f64::INFINITY, f64::min);
    if least < WIDENS.min(0.6 * part) || gaps.iter().all(|gap| (gap - part).abs() < 0.03) {
        return None;
    }
    let off = phases.iter().max_by_key(|(_, pass)| pass.line)?.1;
    let turn = |part: f64| format!("{}°", number(360.0 * part, 1));
    Some(
        rule.found(
            (off.span, off.line),
            format!(
                "the {count} starts lie {} apart, even ones {}",
                gaps.iter()
                    .map(|gap| turn(*gap))
                    .collect::<Vec<_>>()
                    .join(" and "),
                turn(part)
            ),
        )
        .because(
            phases
                .iter()
                .map(|(phase, pass)| format!("line {}: {} of the turn", pass.line, turn(*phase)))
                .collect::<Vec<_>>()
                .join(", "),
        )
        .because(match section.cut.lead.get() {
            Some(cut) => format!(
                "the lead is {}, so a shift along the axis is a multiple of {}",
                lead(cut, section.units),
                lead(cut.divided(count as u32), section.units)
            ),
            None => "the lead is not known".to_owned(),
        })
        .source("definition of starts in ISO 5408: they divide the turn evenly")
        .help("shift each start by one pitch along the axis, or by 360° / starts"),
    )
}

/// Places in the turn of the passes that reach the root, apart by more than a fiftieth.
fn phases(section: &Section) -> Option<Vec<(f64, &Pass)>> {
    let root = section.cut.root_x.get()?;
    let mut phases: Vec<(f64, &Pass)> = Vec::new();
    for pass in section.passes.iter().filter(|pass| pass.x == Some(root)) {
        let lead = pass.lead?.mm().abs();
        if lead <= 0.0 {
            return None;
        }
        let angle = pass.start_angle.unwrap_or(0) as f64 / 360_000.0;
        let phase = (pass.z_start?.mm() / lead + angle).rem_euclid(1.0);
        let same = |known: f64| {
            let apart = (known - phase).abs();
            apart.min(1.0 - apart) < 0.02
        };
        if !phases.iter().any(|(known, _)| same(*known)) {
            phases.push((phase, pass));
        }
        if phases.len() > 12 {
            return None;
        }
    }
    phases.sort_by(|a, b| a.0.total_cmp(&b.0));
    Some(phases)
}

/// Fewer starts than the designation has.
fn too_few(rule: &Rule, cx: &Context<'_>) -> Option<Finding> {
    let thread = cx.thread().filter(|_| cx.stated())?;
    let section = cx.section;
    let starts = section.cut.starts;
    let cut = section.cut.lead.get()?.abs();
    let led = (cut.mm() - thread.lead().mm()).abs() <= 0.003 * thread.lead().mm();
    cx.seen.sections();
    let alone = cx.program.sections.len() == 1 && cx.program.unread.is_empty();
    if thread.starts < 2 || starts >= thread.starts || !led || !alone || !section.passes_certain {
        return None;
    }
    // A subprogram is called once for each start.
    if cx.program.parts.len() > 1 || calls(cx) {
        return None;
    }
    Some(
        rule.found(
            cx.place(),
            format!(
                "{} has {} starts, the program cuts {starts}",
                thread.designation(),
                thread.starts
            ),
        )
        .severity(Severity::Warning)
        .because(format!(
            "all passes start at {} place{} of the turn",
            starts,
            if starts == 1 { "" } else { "s" }
        ))
        .because(cx.identified.why.clone())
        .source("definition of starts in ISO 5408")
        .help("cut each start: shifted by one pitch along the axis, or by a start angle"),
    )
}

/// Whether the program calls or is a subprogram.
fn calls(cx: &Context<'_>) -> bool {
    let mut calls = false;
    super::lines::blocks(cx, super::lines::part(cx), |block| {
        calls |= block
            .m_codes()
            .any(|(code, _)| matches!(code, 970 | 980 | 990))
            || block.has_g(650)
            || block.statement.is_some()
            || block.names.iter().any(|name| name.arguments.is_some());
        !calls
    });
    calls
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "multi-start-lead";

    /// One stroke a start, at each of four diameters.
    fn strokes(head: &str, code: &str, angles: &[u32]) -> String {
        let mut text = format!("{head}\nG97 S300 M3\nG0 X34. Z18.\n");
        for x in ["29.2", "28.5", "27.95", "27.546"] {
            for angle in angles {
                text += &format!("X{x}\n{code}{angle}\nG0 X34.\nZ18.\n");
            }
        }
        text
    }

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                // The pitch as the lead.
                (
                    "G21\n(THREAD M40XPH6P3)\nT0303\nG97 S300 M3\nG0 X45. Z18.\nG92 X39. Z-60. F3.\nX36.319\nG0 X45. Z19.5\nG92 X39. Z-60. F3.\nX36.319\nG0 X150.\nM30\n",
                    "G21\n(THREAD M40XPH6P3)\nT0303\nG97 S300 M3\nG0 X45. Z18.\nG92 X39. Z-60. F6.\nX36.319\nG0 X45. Z21.\nG92 X39. Z-60. F6.\nX36.319\nG0 X150.\nM30\n",
                ),
                // Shifted by 2 instead of 3 mm.
                (
                    "G21\nT0303\nG97 S300 M3\nG0 X45. Z18.\nG92 X39. Z-60. F6.\nX36.319\nG0 X45. Z20.\nG92 X39. Z-60. F6.\nX36.319\nG0 X150.\nM30\n",
                    "G21\nT0303\nG97 S300 M3\nG0 X45. Z18.\nG92 X39. Z-60. F6.\nX36.319\nG0 X45. Z21.\nG92 X39. Z-60. F6.\nX36.319\nG0 X150.\nM30\n",
                ),
                // Three starts by angle, one of them twice the shift.
                (
                    &strokes(
                        "G21\nT0303\n(THREAD M30XPH6P2-6G)",
                        "G32 Z-30. F6. Q",
                        &[0, 120_000, 180_000],
                    ),
                    &strokes(
                        "G21\nT0303\n(THREAD M30XPH6P2-6G)",
                        "G32 Z-30. F6. Q",
                        &[0, 120_000, 240_000],
                    ),
                ),
                // Degrees for thousandths.
                (
                    &strokes(
                        "G21 G90 G95\nT0707\n(THREAD M30XPH4P2-6G)",
                        "G33 Z-30. F4. Q",
                        &[0, 180],
                    ),
                    &strokes(
                        "G21 G90 G95\nT0707\n(THREAD M30XPH4P2-6G)",
                        "G33 Z-30. F4. Q",
                        &[0, 180_000],
                    ),
                ),
                // Only one of two starts.
                (
                    "G21\n(THREAD M40XPH6P3)\nT0303\nG97 S300 M3\nG0 X45. Z18.\nG92 X39. Z-60. F6.\nX36.319\nG0 X150.\nM30\n",
                    "G21\n(THREAD M40XPH6P3)\nT0303\nG97 S300 M3\nG0 X45. Z18.\nG92 X39. Z-60. F6.\nX36.319\nG0 X45. Z21.\nG92 X39. Z-60. F6.\nX36.319\nG0 X150.\nM30\n",
                ),
            ],
        );
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // The groove is widened by a third of a millimetre.
                "G21\nT0303\nG97 S300 M3\nG0 X45. Z18.\nG92 X39. Z-60. F6.\nX36.319\nG0 X45. Z18.3\nG92 X39. Z-60. F6.\nX36.319\nG0 X150.\nM30\n",
                // The starts stand in a subprogram that is called twice.
                "G21\nO1\n(THREAD M40XPH6P3)\nT0303\nG97 S300 M3\nG0 X45. Z18.\nM98 P2\nG0 X45. Z21.\nM98 P2\nM30\nO2\nG92 X39. Z-60. F6.\nX36.319\nM99\n",
                "G21\n(THREAD M40XPH6P3)\nT0303\nG97 S300 M3\nG0 X45. Z18.\nG92 X39. Z-60. F6. Q0\nG92 X39. Q180000\nG92 X36.319 Q0\nG92 X36.319 Q180000\nG0 X150.\nM30\n",
            ],
        );
    }
}
