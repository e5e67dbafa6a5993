use lexer::section::tapping::{Drilled, Hole};

use super::hole_facts::{Ends, ends, noted, only_starts};
use super::text::{length_of_mm, number, quoted};
use super::{Context, Out, Rule, rule};
use crate::finding::{Finding, Severity};

rule! {
    /// # What it checks
    ///
    /// How deep the tap goes against the hole that the same program drilled at the same place, and
    /// against the length of thread that the note asks for.
    ///
    /// # Why it matters
    ///
    /// A tap that meets the bottom of a blind hole breaks or strips the thread. It needs room for the
    /// turns that it makes while the spindle stops and reverses. The threads of its chamfer are not
    /// full: a tap that goes no deeper than the thread is long leaves it short.
    ///
    /// # The sum
    ///
    /// room = depth of the drilled hole - depth of the tap's tip, both as programmed. Below 0 the tap
    /// is deeper than the hole. In a hole that goes through that is sound, as long as the chamfer of
    /// the tap explains it: five pitches. In a blind hole one pitch must be left, two where the tap is
    /// not synchronised. Full thread = depth of the tip - chamfer · pitch.
    ///
    /// # What it needs
    ///
    /// The drilling in the same program, with the same work offset. `THRU` or `BLIND` in a comment of
    /// the tap or the drill says which kind of hole it is. For the length of thread a note such as
    /// `(THREAD M8, LENGTH 15, CHAMFER 3)`, with the chamfer in pitches.
    ///
    /// # When it stays silent
    ///
    /// Spot drills and chamfers, holes drilled by another program, through holes.
    ///
    /// # Mend
    ///
    /// Drill deeper, tap less deep, or take a tap with a shorter chamfer: no fix is offered.
    ///
    /// # Source
    ///
    /// Hole depth = full thread + chamfer + room (geometry). Chamfers of 7 to 10 pitches (taper), 3 to
    /// 5 (plug), 1 to 2 (bottoming) and one to two pitches of room are common practice, no source.
    "tap-depth", Error,
    "the tap goes deeper than its drilled hole lets it, or not deep enough",
    fixes: false, needs_designation: false, kinds: [Tapped], check
}

/// Most pitches by which a tap's chamfer sticks out of a through hole.
const CHAMFER: f64 = 5.0;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(tapping) = cx.section.tapping.as_deref() else {
        return;
    };
    let Some(pitch) = cx.pitch_mm() else {
        return out.not_judged(rule, "the pitch is missing");
    };
    let mut drilled_somewhere = false;
    for hole in &tapping.holes {
        let Some(drilled) = hole.drilled.as_ref().filter(|one| !only_starts(cx, one)) else {
            continue;
        };
        let (Some(bottom), Some(clear)) = (hole.bottom.get(), hole.clear.get()) else {
            continue;
        };
        drilled_somewhere = true;
        let down = (bottom - clear).signum() as f64;
        let room = (drilled.bottom - bottom).mm() * down;
        if let Some(finding) = short_hole(rule, cx, hole, drilled, room, pitch) {
            out.push(finding);
        }
    }
    if !drilled_somewhere {
        out.not_judged(
            rule,
            "the drilling of these holes in the same program is missing",
        );
    }
    full_thread(rule, cx, pitch, out);
}

fn short_hole(
    rule: &Rule,
    cx: &Context<'_>,
    hole: &Hole,
    drilled: &Drilled,
    room: f64,
    pitch: f64,
) -> Option<Finding> {
    let units = cx.section.units;
    let synchronised = cx.section.tapping.as_ref()?.synchronised.get() == Some(true);
    let needed = if synchronised { pitch } else { 2.0 * pitch };
    // Positions are written to a thousandth: what is meant to be equal is.
    let below = |limit: f64| room < limit - 1e-4;
    let (severity, message) = match ends(cx, drilled) {
        Ends::Through => return None,
        Ends::Blind if below(0.0) => (
            Severity::Error,
            format!(
                "the tap goes {} deeper than its blind hole is drilled",
                length_of_mm(-room, units)
            ),
        ),
        Ends::Blind if below(needed) => (
            Severity::Warning,
            format!(
                "the tap stops {} above the bottom of its blind hole, it needs {}",
                length_of_mm(room, units),
                length_of_mm(needed, units)
            ),
        ),
        Ends::Unsaid if below(0.0) => (
            if below(-CHAMFER * pitch) {
                Severity::Warning
            } else {
                Severity::Advice
            },
            format!(
                "the tap goes {} deeper than its hole is drilled: it breaks unless the hole goes \
                 through",
                length_of_mm(-room, units)
            ),
        ),
        _ => return None,
    };
    let block = (hole.block.span, hole.block.line);
    let drill = (drilled.block.span, drilled.block.line);
    Some(
        rule.found(block, message)
            .severity(severity)
            .because(format!(
                "tap's tip at {}, hole drilled to {} ({})",
                length_of_mm(hole.bottom.get()?.mm(), units),
                length_of_mm(drilled.bottom.mm(), units),
                quoted(cx.bytes, drill.0, drill.1)
            ))
            .because(format!(
                "room {} = {} pitches of {}",
                length_of_mm(room, units),
                number(room / pitch, 1),
                length_of_mm(pitch, units)
            ))
            .source(
                "geometry; the room that reversing needs and the length of chamfers are common \
                 practice, no source",
            )
            .help(
                "drill deeper or tap less deep; where the hole goes through, write THRU into the \
                 comment of the tap or the drill",
            )
            .related(drill, "the hole is drilled here"),
    )
}

/// The threads that are cut in full against the length that the note asks for.
fn full_thread(rule: &Rule, cx: &Context<'_>, pitch: f64, out: &mut Out) {
    let Some(wanted) = cx.identified.length_mm else {
        return;
    };
    let Some(bottom) = cx.section.cut.end_z.get().map(|z| z.abs().mm()) else {
        return;
    };
    let units = cx.section.units;
    let chamfer = noted(cx, "CHAMFER");
    let full = bottom - chamfer.unwrap_or(0.0) * pitch;
    if full >= wanted - 1e-4 {
        if chamfer.is_none() {
            out.not_judged(
                rule,
                "the chamfer of the tap is missing (CHAMFER in the note)",
            );
        }
        return;
    }
    let mut finding = rule
        .found(
            cx.place(),
            format!(
                "the tap leaves {} of full thread, {} are asked for",
                length_of_mm(full.max(0.0), units),
                length_of_mm(wanted, units)
            ),
        )
        .severity(Severity::Warning)
        .because(format!(
            "tip at {} from Z0, less {} pitches of chamfer",
            length_of_mm(bottom, units),
            number(chamfer.unwrap_or(0.0), 1)
        ))
        .source("full thread = depth of the tip - chamfer · pitch (geometry; Z0 taken as the face)")
        .help("tap deeper where the hole lets it, or take a tap with a shorter chamfer");
    if let Some(place) = cx.identified.place {
        finding = finding.related(place, "the length is asked for here");
    }
    out.push(finding);
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};
    use crate::finding::Severity;

    const RULE: &str = "tap-depth";

    fn mill(drill: &str, tap: &str, comment: &str) -> String {
        format!(
            "G21 G90 G17 G94\nT4 M6 (DRILL 6.8)\nS1200 M3\nG0 X0 Y0\nG43 H4 Z10.\n{drill}\nG80\n\
             T5 M6 (M8 TAP{comment})\nS300 M3\nG43 H5 Z10.\nM29 S300\n{tap}\nG80\nM30\n"
        )
    }

    #[test]
    fn found_and_mended() {
        let texts = [
            (
                mill("G81 X10. Y5. Z-18. R2. F120.", "G84 X10. Y5. Z-20. R3. F375.", " BLIND"),
                mill("G81 X10. Y5. Z-24. R2. F120.", "G84 X10. Y5. Z-20. R3. F375.", " BLIND"),
            ),
            // The second of two holes, pecked.
            (
                mill("G83 X10. Y5. Z-24. R2. Q5. F120.\nX30. Z-12.", "G84 X10. Y5. Z-20. R3. F375.\nX30.", ""),
                mill("G83 X10. Y5. Z-24. R2. Q5. F120.\nX30. Z-24.", "G84 X10. Y5. Z-20. R3. F375.\nX30.", ""),
            ),
            // No room at the bottom.
            (
                mill("G73 X10. Y5. Z-20.5 R2. Q5. F120.", "G84 X10. Y5. Z-20. R3. F375.", ", BLIND"),
                mill("G73 X10. Y5. Z-22.5 R2. Q5. F120.", "G84 X10. Y5. Z-20. R3. F375.", ", BLIND"),
            ),
            // Incremental words.
            (
                mill("G91\nG82 X10. Y5. Z-14. R-8. F120.\nG90", "G84 X10. Y5. Z-20. R3. F375.", ""),
                mill("G91\nG82 X10. Y5. Z-24. R-8. F120.\nG90", "G84 X10. Y5. Z-20. R3. F375.", ""),
            ),
            // A turning machine.
            (
                "G50 S3000\nT0202 (DRILL 5)\nG97 S900 M3\nG99\nG0 X0 Z5.\nG74 R1.\nG74 Z-9. Q5000 F0.1\nG0 Z100.\nT0505 (M6 TAP)\nG97 S400 M3\nG0 X0 Z5.\nG84 Z-15. F1.\nG80\nG0 Z100.\nM30\n".into(),
                "G50 S3000\nT0202 (DRILL 5)\nG97 S900 M3\nG99\nG0 X0 Z5.\nG74 R1.\nG74 Z-19. Q5000 F0.1\nG0 Z100.\nT0505 (M6 TAP)\nG97 S400 M3\nG0 X0 Z5.\nG84 Z-15. F1.\nG80\nG0 Z100.\nM30\n".into(),
            ),
            // Calls.
            (
                "G90 G17\nT4 M6 (DRILL 6.8)\nS1200 M3 F120\nG0 X0 Y0 Z50\nMCALL CYCLE83(50,0,2,-10)\nX10 Y10\nMCALL\nT5 M6 (M8 TAP)\nS500 M3\nMCALL CYCLE84(50,0,2,-20,,0,3,,1.25,0,400,600)\nX10 Y10\nMCALL\nG0 Z100\nM30\n".into(),
                "G90 G17\nT4 M6 (DRILL 6.8)\nS1200 M3 F120\nG0 X0 Y0 Z50\nMCALL CYCLE83(50,0,2,-25)\nX10 Y10\nMCALL\nT5 M6 (M8 TAP)\nS500 M3\nMCALL CYCLE84(50,0,2,-20,,0,3,,1.25,0,400,600)\nX10 Y10\nMCALL\nG0 Z100\nM30\n".into(),
            ),
        ];
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b): &(String, String)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn severities_follow_what_is_known_of_the_hole() {
        let of = |drill: &str, comment: &str| {
            let text = mill(drill, "G84 X10. Y5. Z-20. R3. F375.", comment);
            findings(RULE, &text)
                .first()
                .map(|finding| finding.severity)
        };
        assert_eq!(
            of("G81 X10. Y5. Z-18. R2. F120.", " BLIND"),
            Some(Severity::Error)
        );
        assert_eq!(
            of("G81 X10. Y5. Z-18. R2. F120.", ""),
            Some(Severity::Advice)
        );
        assert_eq!(
            of("G81 X10. Y5. Z-10. R2. F120.", ""),
            Some(Severity::Warning)
        );
        assert_eq!(of("G81 X10. Y5. Z-10. R2. F120.", " THRU"), None);
        assert_eq!(of("G81 X10. Y5. Z-20. R2. F120.", ""), None);
    }

    #[test]
    fn silent_on_spot_drills_other_holes_and_other_programs() {
        let text = mill(
            "G81 X10. Y5. Z-2. R2. F120.",
            "G84 X10. Y5. Z-20. R3. F375.",
            " BLIND",
        );
        assert_silent(
            RULE,
            &[
                &text.replace("DRILL 6.8", "SPOT DRILL 10"),
                &text.replace("X10. Y5. Z-2.", "X99. Y5. Z-2."),
                &text.replace("T5 M6", "G55\nT5 M6"),
                &text.replace("T5 M6", "M30\nO2\nT5 M6"),
            ],
        );
    }

    /// Tip at 20 mm, 3 pitches of 1.25 mm chamfer: 16.25 mm of full thread (arithmetic).
    #[test]
    fn full_thread_and_its_note() {
        let text = |length: &str| {
            mill(
                "G81 X10. Y5. Z-30. R2. F120.",
                "G84 X10. Y5. Z-20. R3. F375.",
                "",
            )
            .replace(
                "(M8 TAP)",
                &format!("(THREAD M8, LENGTH {length}, CHAMFER 3)"),
            )
        };
        let found = findings(RULE, &text("16.3"));
        assert_eq!(found.len(), 1);
        assert!(
            found[0].message.contains("16.25 mm"),
            "{}",
            found[0].message
        );
        assert_silent(RULE, &[&text("16.2")]);
    }
}
