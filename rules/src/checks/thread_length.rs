use lexer::section::Role;
use lexer::units::Length;

use super::surroundings::{SAME, Surroundings, at_z};
use super::text::{length_of_mm, quoted};
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// The stroke leaves at least the length of full thread that the note asks for.
    ///
    /// # Why it matters
    ///
    /// The nut does not come home, the gauge stops a turn too early. A pull-out takes its length
    /// from the full thread, which is easy to forget.
    ///
    /// # The sum
    ///
    /// Full thread = from Z0 (or the end face where the contour shows it) to the end of the stroke,
    /// less the pull-out.
    ///
    /// # What it needs
    ///
    /// `LENGTH` in the note: `(THREAD M30X2-6G, LENGTH 30)`. A stroke that crosses Z0 towards −Z.
    ///
    /// # When it stays silent
    ///
    /// Without a stated length; for threads that start behind Z0 or run outwards; for what a pull-out
    /// by the control's setting takes.
    ///
    /// # Mend
    ///
    /// End the stroke later, if the relief or the shoulder leaves room, or shorten the pull-out.
    ///
    /// # Source
    ///
    /// The note; arithmetic on the programmed stroke.
    "thread-length", Warning,
    "the full thread is shorter than the note asks",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(wanted) = cx.identified.length_mm else {
        return;
    };
    let section = cx.section;
    if section.chase {
        return;
    }
    let (Some(start), Some(end)) = (section.cut.start_z.get(), section.cut.end_z.get()) else {
        return out.not_judged(rule, "where the stroke starts or ends is missing");
    };
    if start < Length::ZERO || end >= Length::ZERO {
        return out.not_judged(
            rule,
            "the place of the end face is missing: the stroke does not cross Z0",
        );
    }
    let cut = &section.cut;
    let pull_out = match &cut.pull_out {
        lexer::section::PullOut::TenthsOfLead(tenths) => cut
            .lead
            .get()
            .map_or(0.0, |lead| f64::from(*tenths) / 10.0 * lead.mm().abs()),
        lexer::section::PullOut::Axial(length) => length.abs().mm(),
        _ => 0.0,
    };
    // Inside the relief the tool cuts nothing: the thread ends at its edge.
    let edge = relief_edge(rule, cx);
    let reach = (-end.mm() - pull_out).min(edge.unwrap_or(f64::INFINITY));
    let short = wanted - reach;
    if short <= SAME + 0.03 {
        return;
    }
    let units = section.units;
    let word = section.word(Role::EndZ);
    let mut finding = rule.found(
        word.map_or(cx.place(), |word| (word.span, word.line)),
        format!(
            "{} of full thread, the note asks for {}",
            length_of_mm(reach, units),
            length_of_mm(wanted, units)
        ),
    );
    finding = finding.because(format!(
        "from Z0, taken for the end face, to {}{}",
        at_z(end, cx),
        if pull_out > 0.0 {
            format!(", less {} of pull-out", length_of_mm(pull_out, units))
        } else {
            String::new()
        }
    ));
    if let Some(edge) = edge.filter(|edge| *edge < -end.mm() - pull_out) {
        finding = finding.because(format!(
            "the relief begins at Z -{}",
            length_of_mm(edge, units)
        ));
    }
    if let Some((span, line)) = cx.identified.place {
        finding = finding
            .because(format!("{}: the length", quoted(cx.bytes, span, line)))
            .related((span, line), "the length is stated here");
    }
    out.push(
        finding
            .source("the note in the program; arithmetic on the stroke")
            .help("end the stroke later, where shoulder and relief leave room, or shorten the pull-out"),
    );
}

/// Distance in mm from Z0 to a relief that was turned along a contour.
fn relief_edge(rule: &Rule, cx: &Context<'_>) -> Option<f64> {
    let mut unheard = Out::default();
    let around = Surroundings::of(rule, cx, &mut unheard)?;
    let (crest, _) = around.crest()?;
    let lead = cx.section.cut.lead.get()?.mm().abs();
    let back = Length::from_mm(3.0 * lead) * around.direction;
    let range = (around.not_before(crest, around.end - back), around.end);
    let relief = around.contour.relief(around.side, range, crest)?;
    (!relief.plunged && around.direction < 0).then(|| -relief.z.1.mm())
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "thread-length";

    #[test]
    fn found_in_every_syntax() {
        let note = "(THREAD M30X2-6G, LENGTH 30)";
        let bodies = [
            (
                "G76 P020060 Q60 R0.03\nG76 X27.546 Z-@ P1227 Q350 F2.\nM30\n",
                "28.",
                "30.",
            ),
            // The pull-out takes 3 mm.
            (
                "G76 P021560 Q60 R0.03\nG76 X27.546 Z-@ P1227 Q350 F2.\nM30\n",
                "31.",
                "33.",
            ),
            ("G92 X29. Z-@ F2.\nX28.\nX27.546\nG0 X100.\n", "25.", "32."),
            (
                "X29.\nG32 Z-@ F2.\nG0 X34.\nZ8.\nX27.546\nG32 Z-@ F2.\nG0 X34.\nZ8.\n",
                "20.",
                "31.",
            ),
            (
                "G76 X27.546 Z-@ K1.227 D0350 A60 F2.\nG0 X100.\n",
                "29.",
                "30.",
            ),
        ];
        let texts: Vec<(String, String)> = bodies
            .iter()
            .map(|(body, bad, good)| {
                let text = |end: &str| {
                    format!(
                        "G21\n{note}\nT0303\nG97 S800 M3\nG0 X34. Z8.\n{}",
                        body.replace('@', end)
                    )
                };
                (text(bad), text(good))
            })
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
                "G21\n(THREAD M30X2-6G)\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-10. F2.\nX27.546\nG0 X100.\n",
                // Where the face is, nothing says.
                "G21\n(THREAD M30X2-6G, LENGTH 30)\nT0303\nG97 S800 M3\nG0 X34. Z108.\nG92 X29. Z80. F2.\nX27.546\nG0 X100.\n",
            ],
        );
    }
}
