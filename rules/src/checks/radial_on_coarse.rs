use lexer::section::{Infeed, Role};

use super::text::{length_of_mm, number};
use super::{Context, Out, Rule, rule, stages};

rule! {
    /// # What it checks
    ///
    /// A coarse V thread is not cut straight in.
    ///
    /// # Why it matters
    ///
    /// Straight in, both flanks cut at once and their chips meet in the middle of the groove, where
    /// they have no way to go. At a coarse pitch the chip is wide: it chatters, the nose gets hot
    /// and breaks. Along one flank the chip flows to one side.
    ///
    /// # The sum
    ///
    /// None: pitch and infeed angle. Width of the chip on both flanks together = 2 × depth / cos of
    /// the flank angle.
    ///
    /// # What it needs
    ///
    /// The passes, and the pitch: from 4 mm.
    ///
    /// # When it stays silent
    ///
    /// For forms with flanks steeper than 25°, which are cut straight or in steps to the sides, for
    /// passes whose start shifts, several starts, oil grooves and chases.
    ///
    /// # Mend
    ///
    /// An infeed angle a degree or two below the flank angle; in a list a shift of the start with
    /// the depth.
    ///
    /// # Source
    ///
    /// Common practice, no source; handbooks give 1.5 to 3 mm as the pitch above which not to plunge.
    "radial-on-coarse", Advice,
    "a coarse thread is cut straight in",
    fixes: false, needs_designation: false, check
}

/// Pitch in mm from which it is told.
const COARSE: f64 = 4.0;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    if section.chase || cx.is_groove() || stages::is_approach(cx) || section.cut.starts > 1 {
        return;
    }
    if section.cut.infeed != Infeed::Radial || section.passes.len() < 4 {
        return;
    }
    let Some(pitch) = cx.pitch_mm() else {
        return out.not_judged(rule, "the lead is missing");
    };
    // What form it is must be known: worms and trapezoidal threads are cut otherwise.
    let Some(flanks) = cx.thread().and_then(|thread| thread.form().flanks) else {
        return;
    };
    let flank = flanks.leading_deg.min(flanks.trailing_deg);
    if pitch < COARSE - 1e-6 || flank < 25.0 {
        return;
    }
    let Some(side) = cx.side() else {
        return;
    };
    let height = cx.table.height(side).map_or(0.0, |height| height.mm());
    let units = section.units;
    let word = section
        .word(Role::Packed)
        .or_else(|| section.word(Role::ToolAngle));
    let word = word.or_else(|| section.word(Role::InfeedAngle));
    let width = 2.0 * height / flank.to_radians().cos();
    out.push(
        rule.found(
            word.map_or(cx.place(), |word| (word.span, word.line)),
            format!(
                "a pitch of {} is cut straight in, on both flanks at once",
                length_of_mm(pitch, units)
            ),
        )
        .because(format!(
            "chip along both flanks at the full depth of {}: {} wide",
            length_of_mm(height, units),
            length_of_mm(width, units)
        ))
        .because(format!(
            "the passes start at one Z; flank angle {}°",
            number(flank, 1)
        ))
        .source("common practice, no source")
        .help("feed in along the flank, a degree or two less than the flank angle"),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "radial-on-coarse";

    #[test]
    fn found_in_every_syntax() {
        let list: Vec<String> = (1..=12)
            .map(|n| format!("{:.3}", 36.0 - 4.907 * f64::sqrt(f64::from(n) / 12.0)))
            .collect();
        let strokes = |code: &str, head: &str, slope: f64| {
            let mut text = format!("{head}(THREAD M36X4-6G)\nT0303\nG97 S300 M3\nG0 X42. Z16.\n");
            for x in &list {
                let depth = (36.0 - x.parse::<f64>().unwrap()) / 2.0;
                text.push_str(&format!(
                    "G0 X42. Z{:.3}\nX{x}\n{code} Z-40. F4.\nG0 X42.\n",
                    16.0 - slope * depth
                ));
            }
            text
        };
        let a = "G21\n";
        let b = "G21 G90 G95\nG92 S2000\n";
        let two = |angle: &str| {
            format!(
                "G21\n(THREAD M36X4-6G)\nT0303\nG97 S300 M3\nG0 X42. Z16.\nG76 P0200{angle} Q60 R0.03\nG76 X31.093 Z-40. P2454 Q600 F4.\nM30\n"
            )
        };
        let one = |angle: &str| {
            format!(
                "G21\n(THREAD M36X4-6G)\nT0303\nG97 S300 M3\nG0 X42. Z16.\nG76 X31.093 Z-40. K2.454 D0600 A{angle} F4.\nG0 X99.\n"
            )
        };
        let line = |angle: &str| {
            format!(
                "; THREAD M36x4-6g\nG21 G18 G7 G90\nS300 M3\nG0 X42 Z16\nG76 P4 Z-40 I-6 J0.8 R2 K4.907 Q{angle}\nM2\n"
            )
        };
        let pairs = [
            (two("00"), two("55")),
            (one("0"), one("55")),
            (line("0"), line("29")),
            (strokes("G32", a, 0.0), strokes("G32", a, 0.55)),
            (strokes("G33", b, 0.0), strokes("G33", b, 0.55)),
        ];
        let pairs: Vec<(&str, &str)> = pairs
            .iter()
            .map(|(a, b)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // A finer pitch, a trapezoidal thread, nothing known of the form.
                "G21\n(THREAD M30X2-6G)\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020000 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
                "G21\n(THREAD TR40X7)\nT0303\nG97 S200 M3\nG0 X44. Z22.\nG76 P020000 Q60 R0.03\nG76 X32. Z-60. P4000 Q500 F7.\nM30\n",
            ],
        );
    }
}
