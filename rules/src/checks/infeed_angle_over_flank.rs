use lexer::section::{Infeed, Role, RoleWord, Section};
use lexer::source::Span;
use lexer::units::Length;

use super::text::{length, number, quoted};
use super::words::text_of;
use super::{Context, Out, Rule, rule};
use crate::finding::{Edit, Finding, Fix, FixKind};
use crate::standards::form::Flanks;

rule! {
    /// # What it checks
    ///
    /// The angle along which the tool goes deeper against the flank angle of the thread. The cycles
    /// in one and two blocks write the included tool angle and feed at half of it; the drive-line
    /// cycle writes the infeed angle itself.
    ///
    /// # Why it matters
    ///
    /// At the flank angle the tool slides along its trailing flank; a little less is the usual
    /// choice. Beyond it every pass leaves the trailing flank behind as a staircase, and the thread
    /// is wider than its tool: loose, torn, scrap.
    ///
    /// # The sum
    ///
    /// Axial shift over the height h at infeed angle b: h · tan b. The flank at angle a allows
    /// h · tan a. The difference stays on the trailing flank.
    ///
    /// # What it needs
    ///
    /// The thread, for its flank angles. Without one only an angle above 45°, which no thread form
    /// has, is reported. On a form with two different flanks an angle between them is not judged,
    /// because the side that the tool moves to depends on how the part is chucked.
    ///
    /// # When it stays silent
    ///
    /// Any angle up to the flank angle, equal included; radial infeed; a burr chase. A thread known
    /// from its numbers alone counts with the steepest flank that its numbers allow, 30° at least,
    /// since the sizes of several forms look alike.
    ///
    /// # Mend
    ///
    /// Writes the included angle of the form where the word carries that; in the drive-line cycle
    /// half of it, where the whole was written.
    ///
    /// # Source
    ///
    /// The form of the thread's standard; the shift is geometry.
    "infeed-angle-over-flank", Error,
    "the infeed angle is larger than the flank angle",
    fixes: true, needs_designation: true, check
}

/// Steepest flank of any common form, degrees (45° of ASME B1.9).
const STEEPEST: f64 = 45.0;
/// Slack for an angle that was worked out from hand-shifted starts, degrees.
const BY_HAND: f64 = 0.5;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let angle = match &section.cut.infeed {
        Infeed::Radial => return,
        Infeed::Flank(angle) | Infeed::Alternating(angle) => angle.abs(),
        Infeed::Unknown(why) => return out.not_judged(rule, why.clone()),
    };
    if section.chase || cx.is_groove() {
        return;
    }
    let word = [Role::Packed, Role::ToolAngle, Role::InfeedAngle]
        .into_iter()
        .find_map(|role| section.word(role));
    let slack = if word.is_some() { 0.01 } else { BY_HAND };
    let flanks = cx.thread().and_then(|thread| thread.form().flanks);
    let Some(flanks) = flanks else {
        if angle <= STEEPEST + slack {
            return out.not_judged(
                rule,
                "no designation is stated or inferred, so the flank angle is not known",
            );
        }
        return out.push(found(rule, cx, word, angle, STEEPEST, None));
    };
    let (low, high) = (
        flanks.leading_deg.min(flanks.trailing_deg),
        flanks.leading_deg.max(flanks.trailing_deg),
    );
    let high = if cx.stated() {
        high
    } else {
        steepest_candidate(cx, high)
    };
    if angle > high + slack {
        out.push(found(rule, cx, word, angle, high, Some(flanks)));
    } else if angle > low + slack && high > low && cx.stated() {
        out.not_judged(
            rule,
            format!(
                "the flanks have {} and {} degrees; to which the tool moves is not in the program",
                number(low, 1),
                number(high, 1)
            ),
        );
    }
}

/// Where the thread is inferred: the steepest flank of 60° threads and of all that come near, since
/// the same numbers fit several forms and the angle speaks for one of them.
fn steepest_candidate(cx: &Context<'_>, flank: f64) -> f64 {
    let near = cx
        .identified
        .candidates
        .iter()
        .filter(|c| c.distance <= 0.5);
    near.filter_map(|candidate| candidate.thread.form().flanks)
        .flat_map(|flanks| [flanks.leading_deg, flanks.trailing_deg])
        .fold(flank.max(30.0), f64::max)
}

fn found(
    rule: &Rule,
    cx: &Context<'_>,
    word: Option<&RoleWord>,
    angle: f64,
    flank: f64,
    flanks: Option<Flanks>,
) -> Finding {
    let units = cx.section.units;
    let place = word.map_or_else(|| cx.place(), |word| (word.span, word.line));
    let what = match cx.thread() {
        Some(thread) => format!("the flank of {}", thread.designation()),
        None => "the steepest flank of any common form".into(),
    };
    let mut finding = rule.found(
        place,
        format!(
            "the tool goes in at {}°, beyond {what} at {}°",
            number(angle, 1),
            number(flank, 1)
        ),
    );
    if let Some(word) = word {
        let half = match word.role {
            Role::InfeedAngle => "infeed angle",
            _ => "half of the included angle",
        };
        finding = finding.because(format!(
            "{}: {half} {}°",
            quoted(cx.bytes, word.span, word.line),
            number(angle, 1)
        ));
    } else {
        finding = finding.because("worked out from the starts of the passes along the axis");
    }
    if let Some(height) = height_mm(cx.section) {
        let shift = |degrees: f64| height * degrees.to_radians().tan();
        let text = |mm: f64| length(Length::from_mm(mm), units);
        finding = finding.because(format!(
            "over the height of {}: {} along the axis against {} of the flank, {} too much",
            text(height),
            text(shift(angle)),
            text(shift(flank)),
            text(shift(angle) - shift(flank))
        ));
    }
    let source = cx.thread().map_or("common forms", |t| t.form().source);
    finding = finding.source(format!("{source}; the shift is geometry"));
    let mended = word
        .zip(flanks.filter(|_| cx.stated()))
        .and_then(|(word, flanks)| Some((word, mended(cx.bytes, word, flanks)?)));
    let Some((word, (span, text, after))) = mended else {
        return finding.help(format!("go in at {}° or a little less", number(flank, 1)));
    };
    let new = format!(
        "{}{}",
        word.address(),
        replaced(cx.bytes, word, span, &text)
    );
    let title = format!(
        "write {new} for {}: infeed angle {}° -> {}°",
        text_of(cx.bytes, word.span),
        number(angle, 1),
        number(after, 1)
    );
    let title = match height_mm(cx.section) {
        Some(height) => format!(
            "{title}, shift {} -> {}; depth and passes stay",
            length(Length::from_mm(height * angle.to_radians().tan()), units),
            length(Length::from_mm(height * after.to_radians().tan()), units)
        ),
        None => title,
    };
    finding.help(format!("write {new}")).fix(Fix {
        title,
        kind: FixKind::Motion,
        edits: vec![Edit { span, text }],
    })
}

fn height_mm(section: &Section) -> Option<f64> {
    section.cut.height.get().map(|height| height.mm())
}

/// The word's value with a part of it replaced.
fn replaced(bytes: &[u8], word: &RoleWord, span: Span, text: &str) -> String {
    let value = text_of(bytes, word.value_span);
    let from = (span.start - word.value_span.start) as usize;
    let to = (span.end - word.value_span.start) as usize;
    format!(
        "{}{text}{}",
        value.get(..from).unwrap_or_default(),
        value.get(to..).unwrap_or_default()
    )
}

/// What to replace by what, and the infeed angle that it makes; none where the right word is not
/// clear.
fn mended(bytes: &[u8], word: &RoleWord, flanks: Flanks) -> Option<(Span, String, f64)> {
    let included = flanks.included_deg();
    match word.role {
        Role::Packed => {
            // The last two digits are the included angle.
            let span = word.value_span;
            let digits = span.of(bytes);
            let last_two = digits.len().checked_sub(2)?;
            if !digits[last_two..].iter().all(u8::is_ascii_digit) || included.fract() != 0.0 {
                return None;
            }
            let span = Span::new(span.end - 2, span.end);
            Some((span, format!("{included:02}"), included / 2.0))
        }
        Role::ToolAngle => {
            let text = word.number.restyle(included, 1);
            Some((word.value_span, text, included / 2.0))
        }
        Role::InfeedAngle if (word.number.value() - included).abs() < 0.5 => {
            let half = included / 2.0;
            let text = if word.number.point || half.fract() == 0.0 {
                word.number.restyle(half, 1)
            } else {
                number(half, 1)
            };
            Some((word.value_span, text, half))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, judged};
    use crate::facts::Facts;
    use crate::finding::Severity;

    const RULE: &str = "infeed-angle-over-flank";

    #[test]
    fn found_and_mended_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020080 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                    "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                ),
                (
                    "G20\n(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A80.F.1\n",
                    "G20\n(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60.F.1\n",
                ),
                // Both flanks in turn.
                (
                    "G20\n(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A70P2F.1\n",
                    "G20\n(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60P2F.1\n",
                ),
                // The whole angle where half is wanted.
                (
                    "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q60\n",
                    "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q30\n",
                ),
                // System C, block one of G78.
                (
                    "G71\nG90 G95\nT0606\n(THREAD M60X2-6G)\nG97 S600 M3\nG0 X64. Z8.\nG78 P010080 Q80 R0.05\nG78 X57.546 Z-18. P1227 Q350 F2.\n",
                    "G71\nG90 G95\nT0606\n(THREAD M60X2-6G)\nG97 S600 M3\nG0 X64. Z8.\nG78 P010060 Q80 R0.05\nG78 X57.546 Z-18. P1227 Q350 F2.\n",
                ),
            ],
        );
    }

    #[test]
    fn hand_shifted_starts_are_measured() {
        // 0.25 deeper, 0.2 along: 38.7 degrees.
        let text = "G21\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nX15.\nG32 Z-30. F2.\nG0 X20.\nZ7.8\nX14.5\nG32 Z-30. F2.\nG0 X20.\nZ7.6\nX14.\nG32 Z-30. F2.\n";
        let found = findings(RULE, text);
        assert!(found[0].message.contains("38.7°"), "{found:?}");
        let sound = text.replace("Z7.8", "Z7.866").replace("Z7.6", "Z7.732");
        assert!(findings(RULE, &sound).is_empty());
    }

    #[test]
    fn an_inferred_thread_makes_no_error() {
        let text = "G21\nG97 S800 M3\nG0 X34. Z8.\nG76 P020080 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n";
        assert_eq!(findings(RULE, text)[0].severity, Severity::Warning);
    }

    #[test]
    fn silent_up_to_the_flank_and_where_no_form_is_known() {
        assert_silent(
            RULE,
            &[
                "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020029 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020000 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q29.5\n",
                // An 80° form that is not known by its numbers.
                "G21\nG97 S800 M3\nG0 X34. Z8.\nG76 P020080 Q80 R0.05\nG76 X20.9 Z-36. P760 Q200 F1.588\n",
            ],
        );
        let text = "G21\nG97 S800 M3\nG0 X34. Z8.\nG76 P020080 Q80 R0.05\nG76 X20.9 Z-36. P760 Q200 F1.588\n";
        let reasons = judged(text, &Facts::default()).not_judged.concat();
        assert!(reasons.iter().any(|(name, _)| *name == RULE), "{reasons:?}");
    }
}
