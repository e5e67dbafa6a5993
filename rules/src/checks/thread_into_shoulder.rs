use lexer::section::{PullOut, Side};

use super::surroundings::{NOTHING, SAME, Surroundings, at_z, cut_by, place};
use super::text::{length, length_of_mm};
use super::{Context, Out, Rule, rule};
use crate::finding::Severity;

rule! {
    /// # What it checks
    ///
    /// The stroke ends before the shoulder that was turned behind the thread, with room for the
    /// flank of the tool.
    ///
    /// # Why it matters
    ///
    /// A tool that is fed into a shoulder at full depth breaks, and takes the part, the holder or
    /// the turret with it. In a thread nobody can stop it: feed hold acts behind the stroke.
    ///
    /// # The sum
    ///
    /// The shoulder stands where the turned contour first comes nearer to the tool than the crest.
    /// Distance = shoulder − end of the stroke along the axis; below 0 the tip is inside the
    /// shoulder. At the crest the tool is wider than at its tip: below depth × tan(flank angle) its
    /// leading flank touches. With a pull-out of 45° the tip has risen by its distance from the
    /// start of the pull-out when it reaches the shoulder.
    ///
    /// # What it needs
    ///
    /// A contour in the same program: feed moves, box cycles or the blocks of a roughing or
    /// finishing cycle that end at the shoulder.
    ///
    /// # When it stays silent
    ///
    /// Where nothing was turned in the program, the thread runs out over the end of what was turned,
    /// the part was turned round or the zero moved between; for tapered threads and oil grooves.
    ///
    /// # Mend
    ///
    /// End the stroke before the shoulder by the flank's width, the run-out of the axis and the
    /// holder, or turn a relief. How much the holder needs is not in the program.
    ///
    /// # Source
    ///
    /// Plane geometry on the programmed contour.
    "thread-into-shoulder", Error,
    "the stroke ends inside the shoulder behind the thread",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    if let Some(side) = cx.side()
        && cx.contour().doubt.is_none()
        && cx.contour().is_unknown(side)
    {
        return out.not_judged(rule, NOTHING);
    }
    let Some(around) = Surroundings::of(rule, cx, out) else {
        return;
    };
    let Some((crest, crest_by)) = around.crest() else {
        return;
    };
    let middle = around.start + (around.end - around.start).half();
    let shoulder = around
        .contour
        .shoulder(around.side, middle, around.direction, crest);
    let Some(shoulder) = shoulder else {
        return;
    };
    let distance = around.ahead(around.end, shoulder.z);
    let depth = around.out_of(crest, around.root);
    let units = cx.section.units;
    // How high the tip is above the root when it comes to the shoulder.
    let risen = match around.pull_out(cx) {
        Some(pull_out) => (pull_out + distance).clamp(0.0, pull_out),
        // A box pulls out by the control's setting, at most about a lead.
        None if cx.section.cut.pull_out == PullOut::Setting => depth,
        None => return,
    };
    let height = around.out_of(shoulder.x, around.root);
    let flank = cx
        .thread()
        .and_then(|thread| thread.form().flanks)
        .map(|flanks| flanks.leading_deg.to_radians().tan() * (depth - risen).max(0.0));
    let touches = distance < -SAME && risen < height - SAME;
    let grazes = risen <= SAME && flank.is_some_and(|flank| distance < flank - SAME);
    if !touches && !grazes {
        return;
    }
    let end = cx.section.word(lexer::section::Role::EndZ);
    let at = end.map_or(cx.place(), |word| (word.span, word.line));
    let what = match around.side {
        Side::External => "shoulder",
        Side::Internal => "bottom of the bore",
    };
    let mut finding = rule.found(
        at,
        if touches {
            format!(
                "the stroke ends {} inside the {what}: at {}, the {what} stands at {}",
                length_of_mm(-distance, units),
                at_z(around.end, cx),
                at_z(shoulder.z, cx)
            )
        } else {
            format!(
                "the stroke ends {} before the {what}, the leading flank needs {}",
                length_of_mm(distance.max(0.0), units),
                length_of_mm(flank.unwrap_or(0.0), units)
            )
        },
    );
    if !touches {
        finding = finding.severity(Severity::Warning).because(format!(
            "{} deep below the crest × tan of the flank angle = {}",
            length_of_mm(depth, units),
            length_of_mm(flank.unwrap_or(0.0), units)
        ));
    } else if cx.section.cut.pull_out == PullOut::Setting {
        // Where the pull-out of the control begins is not in the program.
        finding = finding.severity(Severity::Warning);
    }
    if risen > 0.0 && touches {
        finding = finding.because(format!(
            "the pull-out has lifted the tip by {} there, the {what} is {} high above the root",
            length_of_mm(risen, units),
            length_of_mm(height, units)
        ));
    }
    out.push(
        finding
            .because(format!(
                "{}: to {} at {}",
                cut_by(cx, shoulder.by),
                length(shoulder.x.0, units),
                at_z(shoulder.z, cx)
            ))
            .because(format!(
                "{}: the thread is cut into {}",
                cut_by(cx, crest_by),
                length(crest.0, units)
            ))
            .related(place(shoulder.by), "the shoulder is cut here")
            .source("plane geometry on the contour that the program turns")
            .help(
                "end the stroke before the shoulder, with room for the flank, the holder and the \
                 run-out of the axis, or turn a relief; prove it out in the air first",
            ),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};
    use crate::finding::Severity;

    const RULE: &str = "thread-into-shoulder";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\nT0101\nG96 S180 M3\nG0 X26. Z2.\nG1 X30. Z-2. F0.2\nZ-40.\nX46.\nZ-60.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-41.5 P1227 Q350 F2.\nG0 X100. Z100.\nM30\n",
                    "G21\nT0101\nG96 S180 M3\nG0 X26. Z2.\nG1 X30. Z-2. F0.2\nZ-40.\nX46.\nZ-60.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-36. P1227 Q350 F2.\nG0 X100. Z100.\nM30\n",
                ),
                // A contour roughed and finished, strokes.
                (
                    "G21\nT0101\nG0 X52. Z2.\nG71 U2. R0.5\nG71 P80 Q130 U0.4 W0.1 F0.25\nN80 G0 X16.\nN90 G1 Z0.\nN100 X19.9 Z-2.\nN110 Z-30.\nN120 X40.\nN130 Z-50.\nG70 P80 Q130\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X24. Z8.\nX19.2\nG32 Z-31. F2.5\nG0 X24.\nZ8.\nX17.\nG32 Z-31. F2.5\nG0 X24.\nZ8.\n",
                    "G21\nT0101\nG0 X52. Z2.\nG71 U2. R0.5\nG71 P80 Q130 U0.4 W0.1 F0.25\nN80 G0 X16.\nN90 G1 Z0.\nN100 X19.9 Z-2.\nN110 Z-30.\nN120 X40.\nN130 Z-50.\nG70 P80 Q130\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X24. Z8.\nX19.2\nG32 Z-27. F2.5\nG0 X24.\nZ8.\nX17.\nG32 Z-27. F2.5\nG0 X24.\nZ8.\n",
                ),
                // Boxes of system B: turning and threading.
                (
                    "G21 G90 G95\nG92 S2000\nT0101\nG97 S700 M3\nG0 X44. Z2.\nG77 X36. Z-30. F0.2\nX29.9\nG0 X90. Z90.\nT0707\nG0 X34. Z8.\nG78 X29.3 Z-33. F2.\nX28.\nX27.546\nG0 X90.\n",
                    "G21 G90 G95\nG92 S2000\nT0101\nG97 S700 M3\nG0 X44. Z2.\nG77 X36. Z-30. F0.2\nX29.9\nG0 X90. Z90.\nT0707\nG0 X34. Z8.\nG78 X29.3 Z-28. F2.\nX28.\nX27.546\nG0 X90.\n",
                ),
                // A blind bore in inches.
                (
                    "G20\nT0202\nG97 S700 M3\nG0X.65Z.1\nG1Z-1.F.006\nX.5\nG0Z.5\nG0X4.Z4.\nT0404\nG0X.6Z.4\nG76X.75Z-1.05K.0541D0150A60F.1\nG0Z2.\n",
                    "G20\nT0202\nG97 S700 M3\nG0X.65Z.1\nG1Z-1.F.006\nX.5\nG0Z.5\nG0X4.Z4.\nT0404\nG0X.6Z.4\nG76X.75Z-.85K.0541D0150A60F.1\nG0Z2.\n",
                ),
                // The interpreter.
                (
                    "G21 G18 G8 G90\nT1 M6\nS800 M3\nG0 X13 Z2\nG1 X15 Z-1 F200\nZ-30\nX20\nG0 X40 Z40\nT3 M6\nG0 X16 Z8\nG76 P2 Z-30.5 I-1 J0.35 R2 K1.227 Q27\n",
                    "G21 G18 G8 G90\nT1 M6\nS800 M3\nG0 X13 Z2\nG1 X15 Z-1 F200\nZ-30\nX20\nG0 X40 Z40\nT3 M6\nG0 X16 Z8\nG76 P2 Z-26 I-1 J0.35 R2 K1.227 Q27\n",
                ),
            ],
        );
    }

    #[test]
    fn a_flank_that_touches_is_a_warning() {
        let text = "G21\n(THREAD M30X2-6G)\nT0101\nG96 S180 M3\nG0 X30. Z2.\nG1 Z-40. F0.2\nX46.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-39.8 P1227 Q350 F2.\nG0 X100. Z100.\nM30\n";
        let found = findings(RULE, text);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].severity, Severity::Warning, "{found:?}");
    }

    #[test]
    fn silent_on_legal_programs() {
        assert_silent(
            RULE,
            &[
                // Out over the end of what was turned.
                "G21\nT0101\nG96 S180 M3\nG0 X30. Z2.\nG1 Z-40. F0.2\nG0 X46.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-42. P1227 Q350 F2.\nG0 X100. Z100.\nM30\n",
                // Pulled out over a shoulder lower than the start diameter.
                "G21\nT0101\nG96 S180 M3\nG0 X30. Z2.\nG1 Z-40. F0.2\nX31.\nZ-60.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P021560 Q60 R0.03\nG76 X27.546 Z-40.5 P1227 Q350 F2.\nG0 X100. Z100.\nM30\n",
                // The other side of a groove is no shoulder.
                "G21\nT0101\nG96 S180 M3\nG0 X30. Z2.\nG1 Z-80. F0.2\nG0 X60.\nG0 X100. Z100.\nT0202\nG0 X32. Z-40.\nG1 X26. F0.1\nG0 X60.\nG0 X100. Z100.\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-41. P1227 Q350 F2.\nG0 X100. Z100.\nM30\n",
                // The part was turned round.
                "G21\nT0101\nG0 X30. Z2.\nG1 Z-20. F0.2\nX46.\nG0 X100. Z100.\nM0\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-36. P1227 Q350 F2.\nM30\n",
                // From the relief outwards: the shoulder lies behind the start.
                "G21\nT0101\nG0 X30. Z2.\nG1 Z-30. F0.2\nX26.\nZ-40.\nX46.\nZ-60.\nG0 X100. Z100.\nT0303\nG97 S300 M4\nG0 X50. Z-36.\nG0 X29.3\nG32 Z3. F2.\nG0 X50.\nZ-36.\nX27.546\nG32 Z3. F2.\nG0 X50.\n",
            ],
        );
    }
}
