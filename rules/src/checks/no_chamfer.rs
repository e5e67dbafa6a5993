use lexer::contour::Segment;
use lexer::section::Side;
use lexer::units::{Diameter, Length};

use super::surroundings::{SAME, Surroundings, at_z, cut_by, place};
use super::text::{length, length_of_mm};
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// Where the program turns the surface of a thread, it also turns a chamfer at its start, before
    /// the thread and down to its root.
    ///
    /// # Why it matters
    ///
    /// Without a chamfer the first pass meets a sharp edge over its whole depth, which chips the
    /// nose; the first thread is a thin burr that folds over, and the gauge or the nut does not find
    /// its way in. A chamfer behind the thread pushes a burr into the groove.
    ///
    /// # The sum
    ///
    /// Diameter at which the chamfer begins against the root of the thread.
    ///
    /// # What it needs
    ///
    /// The surface turned in the same program from in front of the end face.
    ///
    /// # When it stays silent
    ///
    /// Where another program turned the part, and for a chamfer by a word of a straight block (C or
    /// R), a radius, or one that stops within a tenth of the pitch of the root. In a bore only a
    /// chamfer that is too small is told: the drill may have countersunk it.
    ///
    /// # Mend
    ///
    /// Turn a chamfer of 30° to 45° to a little below the root before the thread.
    ///
    /// # Source
    ///
    /// Common practice, no source.
    "no-chamfer", Advice,
    "the start of the thread is not chamfered before it is cut",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(around) = Surroundings::of(rule, cx, out) else {
        return;
    };
    let Some((crest, crest_by)) = around.crest() else {
        return;
    };
    let (Some(entry), Some(pitch)) = (around.entry(crest), cx.pitch_mm()) else {
        return;
    };
    // The stroke starts in front of the surface: there its edge is.
    if around.ahead(around.start, entry) < 0.0 && !reaches_face(&around, entry) {
        return;
    }
    // A part or a groove may begin in front of it.
    let in_front = around
        .contour
        .at(around.side, entry - Length::from_mm(1.0) * around.direction)
        .is_some();
    let before = around
        .contour
        .chamfer(around.side, crest, around.direction, around.end);
    let units = cx.section.units;
    if let Some(chamfer) = before {
        let high = around.out_of(chamfer.x, around.root);
        if high <= 0.1 * pitch + SAME {
            return;
        }
        out.push(
            rule.found(
                place(chamfer.by),
                format!(
                    "the chamfer begins at {}, {} outside the root of the thread",
                    length(chamfer.x.0, units),
                    length_of_mm(high, units)
                ),
            )
            .because(format!(
                "{}: from {}; the thread ends at {}",
                cut_by(cx, chamfer.by),
                length(chamfer.x.0, units),
                length(around.root.0, units)
            ))
            .source("common practice, no source: a chamfer goes down to the root")
            .help("begin the chamfer a little below the root"),
        );
        return;
    }
    // A bore may have been countersunk by its drill.
    if in_front || around.side == Side::Internal {
        return;
    }
    let later = later(&around, crest, entry);
    let at = later.map_or(place(crest_by), place);
    let mut finding = rule.found(
        at,
        match later {
            Some(_) => {
                "the chamfer at the start is cut after the thread: its burr goes into the groove"
                    .to_owned()
            }
            None => format!(
                "the thread starts on a sharp edge: {} is turned from {} without a chamfer",
                length(crest.0, units),
                at_z(entry, cx)
            ),
        },
    );
    finding = finding.because(format!(
        "{}: the surface of the thread",
        cut_by(cx, crest_by)
    ));
    if let Some(segment) = later {
        finding = finding.because(format!("{}: the chamfer", cut_by(cx, segment)));
    }
    out.push(
        finding
            .source("common practice, no source")
            .help("turn a chamfer of 30° to 45° to a little below the root before the thread"),
    );
}

/// Whether a stroke that starts behind the edge runs out over it: outwards from a relief.
fn reaches_face(around: &Surroundings<'_>, entry: Length) -> bool {
    around.ahead(around.end, entry) > 0.0
}

/// A chamfer that is cut behind the thread.
fn later<'a>(around: &Surroundings<'a>, crest: Diameter, entry: Length) -> Option<&'a Segment> {
    around.contour.after.iter().copied().find(|segment| {
        let (low, high) = segment.z_range();
        let near = low - Length::from_mm(5.0) <= entry && entry <= high + Length::from_mm(5.0);
        let (x_low, x_high) = segment.x_range();
        let across = match around.side {
            Side::External => x_low < crest,
            Side::Internal => x_high > crest,
        };
        segment.side == Some(around.side) && segment.is_sloped() && near && across
    })
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};

    const RULE: &str = "no-chamfer";
    const TWO: &str = "T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nG0 X100. Z100.\n";

    #[test]
    fn found_in_every_syntax() {
        let turned = "G21\nT0101\nG96 S180 M3\nG0 X29.9 Z2.\nG1 Z-50. F0.2\nX46.\nG0 X100. Z100.\n";
        let chamfered = "G21\nT0101\nG96 S180 M3\nG0 X25. Z2.\nG1 Z0. F0.2\nX29.9 Z-2.5\nZ-50.\nX46.\nG0 X100. Z100.\n";
        let boxed =
            "G21\nT0101\nG97 S700 M3\nG0 X44. Z2.\nG90 X36. Z-50. F0.2\nX29.9\nG0 X90. Z90.\n";
        let bodies = [
            (turned, chamfered, TWO),
            (
                boxed,
                chamfered,
                "T0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nX27.546\nG0 X100.\n",
            ),
            (
                turned,
                chamfered,
                "T0303\nG97 S800 M3\nG0 X34. Z8.\nX29.\nG32 Z-34. F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-34. F2.\nG0 X34.\nZ8.\n",
            ),
            (
                turned,
                chamfered,
                "T0303\nG97 S800 M3\nG0 X34. Z8.\nG76 X27.546 Z-34. K1.227 D0350 A60 F2.\nG0 X100.\n",
            ),
        ];
        let mut texts: Vec<(String, String)> = bodies
            .iter()
            .map(|(bad, good, body)| (format!("{bad}{body}"), format!("{good}{body}")))
            .collect();
        let nut = "T0404\nG0 X31. Z10.\nG92 X34. Z-26. F3.\nX35.\nX36.\nG0 Z50.\nM30\n";
        let bore = |x: &str, z: &str| {
            format!(
                "G21\nT0202\nG97 S700 M3\nG0 X{x} Z0.\nG1 X33. Z-{z} F0.15\nZ-32.\nX31.\nG0 Z5.\nG0 X150. Z150.\n{nut}"
            )
        };
        texts.push((bore("34.", "0.5"), bore("36.4", "1.7")));
        // The chamfer stops too high.
        texts.push((
            format!(
                "{}{TWO}",
                chamfered.replace("X25.", "X29.").replace("Z-2.5", "Z-0.5")
            ),
            format!("{chamfered}{TWO}"),
        ));
        let texts: Vec<(&str, &str)> = texts
            .iter()
            .map(|(bad, good)| (bad.as_str(), good.as_str()))
            .collect();
        assert_pairs(RULE, &texts);
    }

    #[test]
    fn a_chamfer_behind_the_thread_is_named() {
        let text = format!(
            "G21\nT0101\nG96 S180 M3\nG0 X29.9 Z2.\nG1 Z-50. F0.2\nX46.\nG0 X100. Z100.\n{TWO}T0101\nG0 X25. Z0.\nG1 X31. Z-3. F0.1\nG0 X100. Z100.\nM30\n"
        );
        let found = findings(RULE, &text);
        assert!(found[0].message.contains("after the thread"), "{found:?}");
    }

    #[test]
    fn silent_on_legal_programs() {
        let thread = TWO;
        let corner = format!(
            "G21\nT0101\nG96 S180 M3\nG0 X20. Z2.\nG1 Z0. F0.2\nX29.9 C2.5\nZ-50.\nX46.\nG0 X100. Z100.\n{thread}"
        );
        let radius = format!(
            "G21\nT0101\nG96 S180 M3\nG0 X24. Z2.\nG1 Z0. F0.2\nG3 X29.9 Z-3. R3.\nG1 Z-50.\nX46.\nG0 X100. Z100.\n{thread}"
        );
        let separate = format!(
            "G21\nT0101\nG96 S180 M3\nG0 X29.9 Z2.\nG1 Z-50. F0.2\nX46.\nG0 X100. Z100.\nT0202\nG0 X25. Z0.\nG1 X31. Z-3. F0.1\nG0 X100. Z100.\n{thread}"
        );
        assert_silent(RULE, &[&corner, &radius, &separate, thread]);
    }
}
