use lexer::source::Span;
use lexer::units::Length;

use super::text::{length, number};
use super::{Context, Out, Rule, rule};
use crate::facts::{ToolFact, ToolKind};
use crate::finding::{Finding, Severity};

rule! {
    /// # What it checks
    ///
    /// The pitch and the profile angle that a tool is made for against the thread that it cuts.
    ///
    /// # Why it matters
    ///
    /// A full-profile insert carries the crest of its pitch: at another pitch it cuts the crest of
    /// the next thread away or leaves it standing. A tap, a chaser or a thread mill with several
    /// teeth has its pitch ground in. A partial-profile insert serves a range of pitches; outside it
    /// the flank is too short or the nose too large. And a 60° insert in a 55° thread cuts neither.
    ///
    /// # The sum
    ///
    /// |pitch of the thread - pitch of the tool| at most 0.3 % of it, so that threads per inch rounded
    /// to a thousandth of a millimetre agree; for a range of pitches, inside it. Profile angle: the
    /// angle between the flanks of the form, to half a degree.
    ///
    /// # What it needs
    ///
    /// A `[[tool]]` that the T word or a comment stands for, with `pitch_mm`, `threads_per_inch` or
    /// `pitch_range_mm`, or with `angle_deg`; and the thread, or at least the lead.
    ///
    /// # When it stays silent
    ///
    /// A lead of several times the tool's pitch where no designation tells the number of starts.
    ///
    /// # Mend
    ///
    /// Another insert, or the entry in the configuration that no longer says what is in the turret.
    /// Nothing is written for you.
    ///
    /// # Source
    ///
    /// The tool's entry in the configuration, named in the finding; 0.3 % and half a degree are our
    /// own choice.
    "profile-pitch-mismatch", Error,
    "the tool is made for another pitch or profile",
    fixes: false, needs_designation: true, kinds: [Turned, Tapped, Milled], check
}

/// Pitches nearer than this part of a pitch are the same: 11 threads an inch are 2.309 mm.
const SAME: f64 = 0.003;
/// Degrees within which two profile angles are the same.
const SAME_ANGLE: f64 = 0.5;
/// More starts than this are not thought of.
const MOST_STARTS: f64 = 12.0;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    if cx.section.chase || cx.is_groove() {
        return;
    }
    let Some(tool) = &cx.identified.tool else {
        if !cx.facts.tools.is_empty() {
            out.not_judged(rule, "no [[tool]] is configured for this T word");
        }
        return;
    };
    if let Some(finding) = angle(rule, cx, tool) {
        out.push(finding);
    }
    let Some([least, most]) = tool.pitch_mm else {
        if tool.angle_deg.is_none() {
            out.not_judged(rule, "the pitch that the tool is made for is missing");
        }
        return;
    };
    let Some(pitch) = cx.pitch_mm().filter(|pitch| *pitch > 0.0) else {
        return out.not_judged(rule, "neither a designation nor a lead is known");
    };
    let (low, high) = (least * (1.0 - SAME), most * (1.0 + SAME));
    if (low..=high).contains(&pitch) {
        return;
    }
    let starts = pitch / most;
    if !cx.stated()
        && (1.5..MOST_STARTS).contains(&starts)
        && (starts - starts.round()).abs() <= 2.0 * SAME * starts
    {
        return out.not_judged(
            rule,
            format!(
                "the lead is {} times the tool's pitch: with as many starts it would be right, and \
                 no designation tells them",
                starts.round()
            ),
        );
    }
    out.push(pitches(rule, cx, tool, pitch));
}

fn place(cx: &Context<'_>) -> (Span, u32) {
    let tool = cx.section.tool.map(|tool| (tool.span, tool.line));
    tool.unwrap_or_else(|| cx.place())
}

fn pitches(rule: &Rule, cx: &Context<'_>, tool: &ToolFact, pitch: f64) -> Finding {
    let text = |mm: f64| length(Length::from_mm(mm), cx.section.units);
    let [least, most] = tool.pitch_mm.unwrap_or_default();
    let range = most > least;
    let kind = tool.kind.map_or("tool", ToolKind::name);
    let made_for = if range {
        format!("{} to {}", text(least), text(most))
    } else {
        text(least)
    };
    let stated = match cx.thread() {
        Some(thread) => format!(
            "{} ({}): pitch {}",
            thread.designation(),
            cx.identified.why,
            text(pitch)
        ),
        None => format!("lead over starts: pitch {}", text(pitch)),
    };
    let what = match (range, pitch > most) {
        (true, true) => {
            "beyond its range the flanks of the insert are shorter than the thread is deep"
        }
        (true, false) => "below its range the nose of the insert is larger than the root",
        (false, _) if tool.kind == Some(ToolKind::Full) => {
            "the crests that a full profile cuts lie a tool's pitch apart"
        }
        (false, _) => "its teeth lie its own pitch apart",
    };
    let finding = rule
        .found(
            place(cx),
            format!("the {kind} is made for a pitch of {made_for}, the thread has {}", text(pitch)),
        )
        .because(format!("{}: pitch {made_for}", tool.cite("pitch")))
        .because(stated)
        .because(what)
        .source(tool.source.clone())
        .help(
            "use a tool of the thread's pitch; if the one in the turret is right, correct its entry \
             in the configuration",
        );
    // A point that cuts no crest still cuts flanks and root.
    if range || tool.kind == Some(ToolKind::Partial) {
        return finding.severity(Severity::Warning);
    }
    finding
}

fn angle(rule: &Rule, cx: &Context<'_>, tool: &ToolFact) -> Option<Finding> {
    let (angle, thread) = (tool.angle_deg?, cx.thread()?);
    let form = thread.form();
    let wanted = form.flanks?.included_deg();
    if (angle - wanted).abs() <= SAME_ANGLE {
        return None;
    }
    let finding = rule
        .found(
            place(cx),
            format!(
                "the tool has a profile of {}°, {} has {}°",
                number(angle, 2),
                thread.designation(),
                number(wanted, 2)
            ),
        )
        .because(format!("{}: {}°", tool.cite("angle_deg"), number(angle, 2)))
        .because(format!(
            "{}: the flanks of the form make {}°",
            cx.identified.why,
            number(wanted, 2)
        ))
        .source(format!("{}; {}", tool.source, form.source))
        .help("use an insert of the thread's profile");
    Some(finding)
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs_with, judged, judged_with};
    use crate::facts::{Config, FILE_NAME, Facts};
    use crate::finding::Severity;

    const RULE: &str = "profile-pitch-mismatch";

    fn facts(tool: &str) -> Facts {
        let text = format!("[[tool]]\nnumber = 3\n{tool}\n");
        Config::parse(FILE_NAME, &text, &[])
            .unwrap()
            .facts("a.nc")
            .1
    }

    /// The same program with the wrong tool and with the right one.
    #[test]
    fn found_in_every_syntax() {
        let two_block = "G21\nT0303\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020055 Q60 R0.03\nG76 X27.546 Z-32. P1227 Q400 F2.\n";
        let one_block = "G20\nT0303\n(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n";
        let boxes = "G21 G90 G95\nT0303\n(THREAD M42X1.5-6G)\nG97 S600 M3\nG0 X46. Z6.\nG78 X41. Z-20. F1.5\nX40.16\nG0 X90.\n";
        let strokes = "G21\nT0303\n(THREAD G 1/2 A)\nG97 S600 M3\nG0 X25. Z8.\nX20.\nG32 Z-20. F1.814\nG0 X25.\nZ8.\nX18.631\nG32 Z-20. F1.814\nG0 X25.\n";
        let drive_line = "; THREAD M24x2-6g\nT3 M6\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n";
        let two_starts = "G21\nT0303\n(THREAD TR 40X14(P7)-7E)\nG97 S120 M3\nG0 X44. Z28.\nG76 P010030 Q80 R0.03\nG76 X32. Z-80. P4000 Q400 F14.\n";
        for (text, wrong, right) in [
            (
                two_block,
                "kind = \"full\"\npitch_mm = 1.5",
                "kind = \"full\"\npitch_mm = 2",
            ),
            (
                one_block,
                "kind = \"full\"\nthreads_per_inch = 11",
                "threads_per_inch = 10",
            ),
            (
                boxes,
                "kind = \"chaser\"\npitch_mm = 2",
                "kind = \"chaser\"\npitch_mm = 1.5",
            ),
            (
                strokes,
                "angle_deg = 60",
                "angle_deg = 55\nthreads_per_inch = 14",
            ),
            (
                drive_line,
                "kind = \"partial\"\npitch_range_mm = [0.5, 1.5]",
                "pitch_range_mm = [1.75, 3]",
            ),
            (
                two_starts,
                "kind = \"full\"\npitch_mm = 6",
                "kind = \"full\"\npitch_mm = 7\nangle_deg = 30",
            ),
        ] {
            let found = judged_with(RULE, text, &facts(wrong));
            assert_eq!(found.len(), 1, "{text}{wrong}");
            let good = judged_with(RULE, text, &facts(right));
            assert!(good.is_empty(), "{text}{right}{good:?}");
            // One of two starts is a fault of its own.
            if text == two_starts {
                continue;
            }
            // Both tools stand in the turret, and the program calls the wrong one.
            let both = facts(&format!("{wrong}\n[[tool]]\nnumber = 4\n{right}"));
            let other = text.replace("T0303", "T0404").replace("T3", "T4");
            assert_pairs_with(RULE, &both, &[(text, &other)]);
        }
    }

    #[test]
    fn severities() {
        let text = "G21\nT0303\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020055 Q60 R0.03\nG76 X27.546 Z-32. P1227 Q400 F2.\n";
        let worst = |text: &str, tool: &str| judged_with(RULE, text, &facts(tool))[0].severity;
        assert_eq!(
            worst(text, "kind = \"full\"\npitch_mm = 1.5"),
            Severity::Error
        );
        assert_eq!(
            worst(text, "kind = \"partial\"\npitch_mm = 1.5"),
            Severity::Warning
        );
        let bare = text.replace("(THREAD M30X2-6G)\n", "");
        assert_eq!(
            worst(&bare, "kind = \"full\"\npitch_mm = 1.5"),
            Severity::Warning
        );
    }

    /// A lead of twice the tool's pitch is two starts, if anybody says so.
    #[test]
    fn starts_that_nobody_tells_are_not_judged() {
        let text = "G21\nT0303\nG97 S300 M3\nG0 X45. Z18.\nG92 X37. Z-60. F6.\nX36.6\nG0 X90.\n";
        let judgement = judged(text, &facts("kind = \"full\"\npitch_mm = 3"));
        assert!(
            judgement
                .findings
                .iter()
                .all(|finding| finding.rule != RULE)
        );
        let reasons = judgement.not_judged.concat();
        let why = reasons.iter().find(|(name, _)| *name == RULE).unwrap();
        assert!(why.1.contains("2 times the tool's pitch"), "{why:?}");
    }
}
