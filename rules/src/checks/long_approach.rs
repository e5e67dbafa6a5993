use super::text::{length_of_mm, number};
use super::{Context, Out, Rule, rule, stages};
use crate::cut::drive::{LEAD_ERROR, TIME_CONSTANT, settling, speed};

rule! {
    /// # What it checks
    ///
    /// The passes do not start several times farther from the part than the axis needs, nor retract
    /// far more than they have to.
    ///
    /// # Why it matters
    ///
    /// The way through the air in front of the thread is made in step with the spindle, at the slow
    /// feed of the thread, in every pass. It is the time that is easiest to win.
    ///
    /// # The sum
    ///
    /// Time in excess = passes × (start − need) / (lead × rpm / 60). The need is the larger of
    /// three leads and the run-in for a lead error of 1 %.
    ///
    /// # What it needs
    ///
    /// Start, lead, speed and the number of passes. `servo_time_constant_s` of the machine makes the
    /// need that of the machine.
    ///
    /// # When it stays silent
    ///
    /// Below three times the need and below 15 mm, where less than two seconds are to be won, for
    /// starts behind Z0 and strokes towards +Z, where the program has a tailstock or a centre in a
    /// comment.
    ///
    /// # Mend
    ///
    /// Start nearer. Look for a collar, a centre or the tailstock first.
    ///
    /// # Source
    ///
    /// Derived from the first-order model of the drive; three leads and the limits: common practice,
    /// no source.
    "long-approach", Advice,
    "the passes start several times farther away than the axis needs",
    fixes: false, needs_designation: false, check
}

/// How many times the need.
const TIMES: f64 = 3.0;
/// Starts nearer than this in mm are not worth a word.
const NEAR: f64 = 15.0;
/// Nor are seconds below this.
const SECONDS: f64 = 2.0;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    if section.chase || cx.is_groove() || section.feed_direction() != Some(-1) {
        return;
    }
    let (Some(start), Some(end), Some(lead)) = (
        section.cut.start_z.get(),
        section.cut.end_z.get(),
        section.cut.lead.get(),
    ) else {
        return;
    };
    let lead = lead.mm().abs();
    let passes = section.passes.len();
    let rpm = section.passes.first().and_then(|pass| pass.spindle.rpm());
    let Some(rpm) = rpm.filter(|rpm| *rpm > 0.0 && lead > 0.0) else {
        // Surface speed has its own rule.
        if !section.spindle.surface_speed() {
            out.not_judged(rule, "the lead or a constant spindle speed is missing");
        }
        return;
    };
    // Z0 is taken for the end face; a thread above it lies elsewhere.
    if end.mm() >= 0.0 || start.mm() <= NEAR {
        return;
    }
    let (constant, source) = cx.fact(
        |machine| machine.servo_time_constant,
        "servo_time_constant_s",
        TIME_CONSTANT,
    );
    let v = speed(lead, rpm);
    let need = settling(v, constant, LEAD_ERROR).max(3.0 * lead);
    let seconds = passes as f64 * (start.mm() - need) / v;
    if start.mm() <= TIMES * need || seconds < SECONDS || centred(cx) {
        return;
    }
    let units = section.units;
    out.push(
        rule.found(
            stages::start_place(cx),
            format!(
                "the passes start {} in front of the part, the axis needs about {}: {} s of air",
                length_of_mm(start.mm(), units),
                length_of_mm(need, units),
                number(seconds, 1)
            ),
        )
        .because(format!(
            "{passes} passes × {} / {} mm/s = {} s",
            length_of_mm(start.mm() - need, units),
            number(v, 2),
            number(seconds, 1)
        ))
        .because(format!(
            "need: the larger of three leads and the run-in for a lead error of 1 % ({source}); Z0 is taken for the end face"
        ))
        .source("derived from the lag of the axis; three leads: common practice, no source")
        .help("start nearer, after a look for collar, centre and tailstock"),
    );
}

/// Whether a comment of the section speaks of a centre or a tailstock.
fn centred(cx: &Context<'_>) -> bool {
    const WORDS: [&str; 4] = ["TAILSTOCK", "CENTRE", "CENTER", "STEADY"];
    cx.section.notes.iter().any(|note| {
        let text = String::from_utf8_lossy(note.span.of(cx.bytes)).to_ascii_uppercase();
        WORDS.iter().any(|word| text.contains(word))
    })
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "long-approach";

    #[test]
    fn found_in_every_syntax() {
        let bodies = [
            "G21\nT0303\nG97 S400 M3\nG0 X34. Z@.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
            "G21\nT0303\nG97 S400 M3\nG0 X34. Z@.\nG92 X29.3 Z-30. F1.5\nX29.\nX28.7\nX28.4\nX28.16\nG0 X100.\n",
            "G21\nT0303\nG97 S300 M3\nG0 X34. Z@.\nX29.\nG32 Z-30. F2.\nG0 X34.\nZ@.\nX28.\nG32 Z-30. F2.\nG0 X34.\nZ@.\nX27.546\nG32 Z-30. F2.\nG0 X34.\nZ@.\n",
            "G21\nT0303\nG97 S400 M3\nG0 X34. Z@.\nG76 X27.546 Z-34. K1.227 D0350 A60 F2.\nG0 X100.\n",
            "G21 G90 G95\nG92 S2000\nT0303\nG97 S400 M3\nG0 X34. Z@.\nG78 X29.3 Z-30. F1.5\nX29.\nX28.7\nX28.4\nX28.16\nG0 X100.\n",
        ];
        let texts: Vec<(String, String)> = bodies
            .iter()
            .map(|body| (body.replace('@', "40"), body.replace('@', "8")))
            .collect();
        let texts: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &texts);
    }

    /// Five passes from 40 mm instead of 6 at 400 1/min with a lead of 2: 5 × 34 / 13.33 = 12.75 s.
    #[test]
    fn the_seconds_by_hand() {
        let text = "G21\nT0303\nG97 S400 M3\nG0 X34. Z40.\nG92 X29.3 Z-30. F2.\nX29.\nX28.7\nX28.4\nX27.546\nG0 X100.\n";
        let found = crate::checks::testing::findings(RULE, text);
        assert!(found[0].message.contains("12.8 s"), "{found:?}");
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // A tailstock, a coarse lead, a face elsewhere.
                "G21\nT0303 (TAILSTOCK IN)\nG97 S400 M3\nG0 X34. Z40.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
                "G21\nT0303\nG97 S300 M3\nG0 X45. Z18.\nG92 X39. Z-60. F6.\nX36.319\nG0 X150.\n",
                "G21\nT0303\nG97 S400 M3\nG0 X34. Z140.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z66. P1227 Q350 F2.\nM30\n",
            ],
        );
    }
}
