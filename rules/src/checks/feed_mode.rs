use lexer::section::Role;

use super::text::{feed, lead, number, quoted, rpm};
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// The lead word of a thread carries the advance per turn, not a feed per minute.
    ///
    /// # Why it matters
    ///
    /// F1600 for a thread of 2 mm at 800 1/min asks for a lead of 1.6 metres. The control stops with
    /// an alarm, or the axis runs off at its highest speed with the tool in the groove.
    ///
    /// # The sum
    ///
    /// Axis feed = lead × speed. Above 100 m/min no slide follows, and F / speed is then the lead
    /// that was meant.
    ///
    /// # What it needs
    ///
    /// The lead word and a constant speed.
    ///
    /// # When it stays silent
    ///
    /// For oil grooves and worms with long leads at low speed.
    ///
    /// # Mend
    ///
    /// Write the lead. Nothing is written for you: speed or feed may be the wrong one.
    ///
    /// # Source
    ///
    /// Arithmetic; that the word carries the advance per turn in a thread: ISO 6983-1, from memory.
    /// 100 m/min: common practice, no source.
    "feed-mode", Error,
    "the lead is written as a feed per minute",
    fixes: false, needs_designation: false, check
}

/// Axis feed in mm/min that no slide of a turning machine reaches.
const BEYOND: f64 = 100_000.0;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let Some(written) = section.cut.lead.get().map(|lead| lead.abs()) else {
        return;
    };
    let speed = section.passes.iter().find_map(|pass| pass.spindle.rpm());
    let Some(speed) = speed.or(section.spindle.rpm()).filter(|speed| *speed > 0.0) else {
        // Surface speed has its own rule.
        if !section.spindle.surface_speed() {
            out.not_judged(rule, "a constant spindle speed is missing");
        }
        return;
    };
    let axis = written.mm() * speed;
    let meant = written.mm() / speed;
    if axis <= BEYOND || !(0.1..=50.0).contains(&meant) {
        return;
    }
    let word = section.word(Role::Lead);
    let mut finding = rule.found(
        word.map_or(cx.place(), |word| (word.span, word.line)),
        format!(
            "a lead of {} at {} is an axis feed of {}: F is a feed per minute",
            lead(written, section.units),
            rpm(speed),
            feed(axis, section.units)
        ),
    );
    if let Some(word) = word {
        finding = finding.because(format!(
            "{} / {} = {} mm, the lead that may be meant",
            quoted(cx.bytes, word.span, word.line),
            rpm(speed),
            number(meant, 4)
        ));
    }
    if let Some(thread) = cx.thread().filter(|_| cx.stated()) {
        finding = finding.because(format!(
            "{} has a lead of {}",
            thread.designation(),
            lead(thread.lead(), section.units)
        ));
    }
    out.push(
        finding
            .because(format!("{} × {} = {}", lead(written, section.units), rpm(speed), feed(axis, section.units)))
            .source("arithmetic; in a thread the word carries the advance per turn (ISO 6983-1, from memory)")
            .help("write the lead: the advance per turn"),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "feed-mode";

    #[test]
    fn found_in_every_syntax() {
        let pairs = [
            (
                "G21 G98\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F@\nM30\n",
                "1600.",
                "2.",
            ),
            (
                "G21 G98\nT0303\nG97 S1000 M3\nG0 X34. Z8.\nG92 X29. Z-30. F@\nX28.\nX27.546\nM30\n",
                "1500.",
                "1.5",
            ),
            (
                "G21 G90 G94\nT0303\nG97 S600 M3\nG0 X34. Z8.\nX29.\nG33 Z-30. F@\nG0 X34.\nZ8.\nX27.546\nG33 Z-30. F@\nG0 X34.\n",
                "1200.",
                "2.",
            ),
            (
                "G20 G98\nT0303\nG97 S900 M3\nG0X.9Z.4\nG76X.6273Z-1.5K.0613D0150A60F@\nG0X4.\n",
                "90.",
                ".1",
            ),
            (
                "G21 G90 G94\nG92 S2000\nT0303\nG97 S700 M3\nG0 X34. Z8.\nG78 X29. Z-30. F@\nX27.546\nG0 X100.\n",
                "1400.",
                "2.",
            ),
        ];
        let texts: Vec<(String, String)> = pairs
            .iter()
            .map(|(text, bad, good)| (text.replace('@', bad), text.replace('@', good)))
            .collect();
        let texts: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &texts);
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // An oil groove, a worm.
                "G21\nT0505\nG97 S60 M3\nG0 X84. Z2.\nX85.8\nG32 Z-14. F32.\nG0 X84.\nZ2.\n",
                "G21\nT0505\nG97 S40 M3\nG0 X84. Z20.\nX78.\nG32 Z-140. F75.4\nG0 X84.\nZ20.\nX70.\nG32 Z-140. F75.4\nG0 X84.\n",
            ],
        );
    }
}
