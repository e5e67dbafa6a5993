use lexer::evidence::Family;
use lexer::section::tapping::{Rigid, Tapping, Way};

use super::hole_facts::{comments, says};
use super::text::{lead as lead_text, quoted, rpm};
use super::{Context, Out, Rule, rule};
use crate::finding::Severity;

rule! {
    /// # What it checks
    ///
    /// Whether the feed follows the spindle, and whether the program keeps what that needs: between
    /// M29 and the cycle no motion and no other speed, one lead for the way in and the way out, the tap
    /// straight along its axis, a constant speed.
    ///
    /// # Why it matters
    ///
    /// In a rigid holder only a synchronised feed reverses with the spindle. A call of the synchronised
    /// mode that is lost or given another speed ends in an alarm, or in a tap that is fed by the clock.
    ///
    /// # The sum
    ///
    /// None.
    ///
    /// # What it needs
    ///
    /// The words of the program. Where neither a code nor M29 says whether a cycle is synchronised, a
    /// setting of the control may: that is not judged.
    ///
    /// # When it stays silent
    ///
    /// Cycles in floating holders, another speed on the way out where the cycle has a word for it.
    ///
    /// # Mend
    ///
    /// Put M29 with the speed of the tap right in front of the cycle. No fix is offered, because the
    /// words between may be there for another reason.
    ///
    /// # Source
    ///
    /// The documentation of the open RS274/NGC interpreter: G33.1 moves along a straight line to the
    /// place that X, Y and Z give, and its G84 is not synchronised. The order of M29 and the cycle, and
    /// that both strokes of G331 and G332 need one lead, are from memory.
    "tap-mode", Error,
    "synchronised tapping is broken, or asked for and not there",
    fixes: false, needs_designation: false, kinds: [Tapped], check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(tapping) = cx.section.tapping.as_deref() else {
        return;
    };
    if let Some(rigid) = &tapping.rigid {
        broken(rule, cx, rigid, out);
    }
    if let Some(block) = tapping.slanted {
        out.push(
            rule.found(
                (block.span, block.line),
                "the tap moves sideways while it cuts",
            )
            .because(format!(
                "{} has words across its axis",
                quoted(cx.bytes, block.span, block.line)
            ))
            .source("documentation of the open RS274/NGC interpreter, G33.1")
            .help("go to the hole first, and give the tapping stroke its own axis alone"),
        );
    }
    returns(rule, cx, tapping, out);
    if cx.section.spindle.surface_speed() {
        let mode = cx.section.spindle.mode;
        let mut finding = rule
            .found(
                cx.place(),
                "a constant surface speed is in force while the tap cuts",
            )
            .because("the speed then follows X and not the tap; on the axis it runs to the clamp")
            .source("common practice, no source")
            .help("write G97 and the speed of the tap before it");
        if let Some(mode) = mode {
            finding = finding.related((mode.span, mode.line), "it is set here");
        }
        out.push(finding);
    }
    unsaid(rule, cx, tapping, out);
}

/// What stands between M29 and the cycle.
fn broken(rule: &Rule, cx: &Context<'_>, rigid: &Rigid, out: &mut Out) {
    let word = (rigid.word.span, rigid.word.line);
    if let (Some(asked), Some(later)) = (rigid.speed, rigid.later_speed)
        && asked.value != later.value
    {
        out.push(
            rule.found(
                (later.span, later.line),
                format!(
                    "M29 asks for {}, the tap runs at {}",
                    rpm(asked.value),
                    rpm(later.value)
                ),
            )
            .because(format!(
                "{} comes behind {}",
                quoted(cx.bytes, later.span, later.line),
                quoted(cx.bytes, asked.span, asked.line)
            ))
            .source("from memory: the speed of M29 and of the cycle must be the same")
            .help("write the speed of the tap once, with M29 right before the cycle")
            .related(word, "the synchronised mode is called here"),
        );
    }
    if let Some(motion) = rigid.motion {
        out.push(
            rule.found(
                (motion.span, motion.line),
                "a motion stands between M29 and the tapping cycle",
            )
            .severity(Severity::Warning)
            .because(format!(
                "M29 in line {}, then {}",
                word.1,
                quoted(cx.bytes, motion.span, motion.line)
            ))
            .source("from memory: M29 holds for the cycle that follows it without a motion between")
            .help("write M29 right in front of the cycle")
            .related(word, "the synchronised mode is called here"),
        );
    }
}

/// The strokes out.
fn returns(rule: &Rule, cx: &Context<'_>, tapping: &Tapping, out: &mut Out) {
    if tapping.way != Way::Interpolated {
        return;
    }
    let lead = cx.section.cut.lead.get();
    let units = cx.section.units;
    for back in &tapping.returns {
        if let (Some(own), Some(lead)) = (back.lead, lead)
            && own.abs() != lead
        {
            out.push(
                rule.found(
                    (back.block.span, back.block.line),
                    format!(
                        "the tap comes out with a lead of {}, it went in with {}",
                        lead_text(own.abs(), units),
                        lead_text(lead, units)
                    ),
                )
                .because("G332 repeats the lead of G331 or leaves it out")
                .source("from memory")
                .help("write the same K in both blocks"),
            );
        }
    }
    if tapping.returns.len() < tapping.holes.len() && !tapping.holes.is_empty() {
        let at = tapping
            .holes
            .get(tapping.returns.len())
            .map_or_else(|| cx.place(), |hole| (hole.block.span, hole.block.line));
        out.push(
            rule.found(
                at,
                "the tap goes in with G331 and is not taken out with G332",
            )
            .because(format!(
                "{} strokes in, {} strokes out",
                tapping.holes.len(),
                tapping.returns.len()
            ))
            .source("from memory: G331 goes in, G332 turns back and comes out")
            .help("write G332 with the place above the hole behind every G331"),
        );
    }
}

/// What comments ask for and no word says.
fn unsaid(rule: &Rule, cx: &Context<'_>, tapping: &Tapping, out: &mut Out) {
    if tapping.synchronised.get() == Some(true) {
        return;
    }
    let place = (tapping.code.span, tapping.code.line);
    let interpreter = cx.program.family == Family::Interpreter;
    let asked = says(
        &comments(cx),
        &["RIGID", "SYNC", "SYNCHRONISED", "SYNCHRONIZED"],
    );
    if asked && tapping.way == Way::Cycle {
        let finding = rule
            .found(
                place,
                "a comment speaks of rigid tapping, and no word of the program makes the cycle \
                 synchronised",
            )
            .because(if interpreter {
                "G84 of the open RS274/NGC interpreter does not follow the spindle; G33.1 does"
            } else {
                "neither M29 nor a code of synchronised tapping stands before the cycle"
            })
            .source(
                "documentation of the open RS274/NGC interpreter; M29 from memory, and a setting of \
                 the control may stand for it",
            )
            .help("write the synchronised mode before the cycle, or take a floating holder");
        return out.push(finding.severity(if interpreter {
            Severity::Error
        } else {
            Severity::Advice
        }));
    }
    if tapping.peck.is_some() && tapping.synchronised.get() == Some(false) {
        return out.push(
            rule.found(
                place,
                "a tap that does not follow the spindle is taken out between pecks",
            )
            .severity(Severity::Warning)
            .because("it cannot find its thread again")
            .source("from memory: pecking belongs to synchronised tapping")
            .help("tap in one stroke, or synchronised"),
        );
    }
    if tapping.synchronised.get().is_none() {
        out.not_judged(
            rule,
            "whether the control is set to tap synchronised is missing",
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, judged};
    use crate::facts::Facts;
    use crate::finding::Severity;

    const RULE: &str = "tap-mode";

    fn mill(words: &str) -> String {
        format!(
            "G21 G90 G17 G94\nT5 M6 (M8 TAP)\nG0 X0 Y0 S300 M3\nG43 H5 Z10.\n{words}\nG80\nM30\n"
        )
    }

    #[test]
    fn found_and_mended() {
        let texts = [
            (
                mill("M29 S500\nS300\nG84 X10. Y5. Z-20. R3. F375."),
                mill("M29 S300\nS300\nG84 X10. Y5. Z-20. R3. F375."),
            ),
            (
                mill("M29 S500\nG84 X10. Y5. Z-20. R3. S300 F375."),
                mill("M29 S300\nG84 X10. Y5. Z-20. R3. S300 F375."),
            ),
            (
                mill("M29 S300\nG0 X10. Y5.\nG84 Z-20. R3. F375."),
                mill("G0 X10. Y5.\nM29 S300\nG84 Z-20. R3. F375."),
            ),
            (
                "G21 G17 G90\nG97 S300 M3\nG0 X10 Y10 Z5\nG33.1 X12 Z-20 K1.25\nG0 Z20\nM2\n"
                    .into(),
                "G21 G17 G90\nG97 S300 M3\nG0 X12 Y10 Z5\nG33.1 X12 Z-20 K1.25\nG0 Z20\nM2\n"
                    .into(),
            ),
            (
                "G90 G17\nT5 M6\nG0 X20 Y30 Z5\nG331 Z-25 K1.5 S350\nG332 Z5 K1.25\nG0 Z50\nM30\n"
                    .into(),
                "G90 G17\nT5 M6\nG0 X20 Y30 Z5\nG331 Z-25 K1.5 S350\nG332 Z5 K1.5\nG0 Z50\nM30\n"
                    .into(),
            ),
            (
                "G90 G17\nT5 M6\nG0 X20 Y30 Z5\nG331 Z-25 K1.5 S350\nG0 Z50\nM30\n".into(),
                "G90 G17\nT5 M6\nG0 X20 Y30 Z5\nG331 Z-25 K1.5 S350\nG332 Z5\nG0 Z50\nM30\n".into(),
            ),
            (
                "G50 S3000\nT0505 (TAP M6)\nG96 S40 M3\nG99\nG0 X0 Z5.\nG84 Z-15. F1.\nG80\nM30\n"
                    .into(),
                "G50 S3000\nT0505 (TAP M6)\nG97 S400 M3\nG99\nG0 X0 Z5.\nG84 Z-15. F1.\nG80\nM30\n"
                    .into(),
            ),
        ];
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b): &(String, String)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn a_comment_that_asks_for_more_than_the_words() {
        let text = mill("G84 X10. Y5. Z-20. R3. F375.").replace("M8 TAP", "M8 TAP RIGID");
        assert_eq!(findings(RULE, &text)[0].severity, Severity::Advice);
        assert_silent(RULE, &[&text.replace("G84", "M29 S300\nG84")]);
    }

    #[test]
    fn a_setting_of_the_control_is_not_judged() {
        let judgement = judged(&mill("G84 X10. Y5. Z-20. R3. F375."), &Facts::default());
        assert!(judgement.findings.iter().all(|f| f.rule != RULE));
        assert!(
            judgement
                .not_judged
                .iter()
                .flatten()
                .any(|(rule, _)| *rule == RULE)
        );
    }
}
