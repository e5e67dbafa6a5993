use lexer::section::Role;
use lexer::section::milling::Helix;

use super::text::{lead as lead_text, length_of_mm, number};
use super::{Context, Out, Rule, rule};
use crate::finding::Severity;
use crate::standards::FAMILIES;
use lexer::units::{Lead, Length};

rule! {
    /// # What it checks
    ///
    /// How far a milled thread advances per turn about its axis, against the lead of the thread.
    ///
    /// # Why it matters
    ///
    /// The cutter has the form of a groove, the path makes the pitch. A helix that rises too much or too
    /// little per turn is a thread of another pitch.
    ///
    /// # The sum
    ///
    /// advance per turn = advance along the axis · 360 / degrees about the axis, over the whole helix.
    /// It may be off by the last digit of the words at both ends, and by 0.05 %.
    ///
    /// # What it needs
    ///
    /// The thread's name: a note `(THREAD M24X3)`, the configuration, or a comment of the tool. Without
    /// one, a helix of a tool that is called a thread mill is compared with all listed pitches.
    ///
    /// # When it stays silent
    ///
    /// Ramps, bores and pockets on a helix, and helices of which nothing says that they are threads.
    ///
    /// # Mend
    ///
    /// The words along the axis of every block of the helix: no fix is offered.
    ///
    /// # Source
    ///
    /// One turn of a helix is one lead (geometry); the pitch is that of the thread's standard.
    "helix-pitch", Error,
    "a milled thread advances by another amount per turn than its lead",
    fixes: false, needs_designation: true, kinds: [Milled], check
}

/// Rounding of both ends, as a part of the lead at least.
const ROUNDING: f64 = 0.0005;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(milling) = cx.section.milling.as_deref() else {
        return;
    };
    let units = cx.section.units;
    let tolerance = |helix: &Helix, lead: f64| {
        (1.01 * units.least_increment().mm() / helix.turns().max(0.5)).max(ROUNDING * lead)
    };
    let Some(thread) = cx.thread().filter(|_| cx.stated()) else {
        if milling.stated {
            unlisted(rule, cx, out);
        }
        return out.not_judged(rule, "the name of the thread is missing");
    };
    if cx.program.units.is_none() {
        return out.not_judged(rule, "a word for the units (G20, G21) is missing");
    }
    let wanted = thread.lead();
    if let (true, Some(own)) = (milling.helices.is_empty(), cx.section.cut.lead.get()) {
        return called(rule, cx, (own, wanted), out);
    }
    for helix in &milling.helices {
        let own = helix.pitch_mm().abs();
        if (own - wanted.mm()).abs() <= tolerance(helix, wanted.mm()) {
            continue;
        }
        let Some(piece) = helix.pieces.first() else {
            continue;
        };
        let per_cent = (own / wanted.mm() - 1.0) * 100.0;
        let mut finding = rule
            .found(
                (piece.block.span, piece.block.line),
                format!(
                    "the helix advances {} a turn, {} has {} ({}{} %)",
                    lead_text(Lead::per_turn(Length::from_mm(own)), units),
                    thread.designation(),
                    lead_text(wanted, units),
                    if per_cent > 0.0 { "+" } else { "" },
                    number(per_cent, 1)
                ),
            )
            .because(sum(cx, helix))
            .because(cx.identified.why.clone())
            .source("one turn of a helix is one lead (geometry); pitch by the thread's standard")
            .help("write the advance of each block as lead · degrees about the axis / 360");
        if thread.starts > 1 && (own - thread.pitch.mm()).abs() <= tolerance(helix, own) {
            finding = finding.because("it is the pitch; with several starts a turn is the lead");
        }
        if let Some(place) = cx.identified.place {
            finding = finding.related(place, "the thread is named here");
        }
        out.push(finding);
    }
}

/// A cycle that makes the helix by itself, against the wanted lead.
fn called(rule: &Rule, cx: &Context<'_>, (own, wanted): (Lead, Lead), out: &mut Out) {
    let (units, name) = (cx.section.units, cx.identified.why.clone());
    if (own.mm() / wanted.mm() - 1.0).abs() <= ROUNDING {
        return;
    }
    let word = cx.section.word(Role::Lead);
    let at = word.map_or_else(|| cx.place(), |word| (word.span, word.line));
    let thread = cx.thread().map(|thread| thread.designation());
    out.push(
        rule.found(
            at,
            format!(
                "the cycle mills a lead of {}, {} has {}",
                lead_text(own, units),
                thread.unwrap_or_default(),
                lead_text(wanted, units)
            ),
        )
        .because(name)
        .source("pitch by the thread's standard; place of the lead in the call from memory")
        .help("write the lead of the thread into the call"),
    );
}

fn sum(cx: &Context<'_>, helix: &Helix) -> String {
    format!(
        "{} along the axis in {} turns",
        length_of_mm(helix.rise().mm(), cx.section.units),
        number(helix.turns(), 4)
    )
}

/// An advance that no listed thread has.
fn unlisted(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(milling) = cx.section.milling.as_deref() else {
        return;
    };
    if cx.program.units.is_none() {
        return;
    }
    let units = cx.section.units;
    for helix in &milling.helices {
        let own = helix.pitch_mm().abs();
        let tolerance = (2.0 * units.least_increment().mm()).max(0.004 * own);
        let mut sizes = FAMILIES.iter().flat_map(|family| family.sizes());
        if sizes.any(|size| (size.pitch.mm() - own).abs() <= tolerance) {
            continue;
        }
        let Some(piece) = helix.pieces.first() else {
            continue;
        };
        out.push(
            rule.found(
                (piece.block.span, piece.block.line),
                format!(
                    "the helix of a thread mill advances {} a turn, which no listed thread has",
                    lead_text(Lead::per_turn(Length::from_mm(own)), units)
                ),
            )
            .severity(Severity::Warning)
            .because(sum(cx, helix))
            .source("pitches of all listed threads")
            .help("write the thread's name in a note, and the advance per turn as its lead"),
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};
    use crate::finding::Severity;

    const RULE: &str = "helix-pitch";

    fn mill(tool: &str, arcs: &str) -> String {
        format!(
            "G21 G90 G17 G94 G40\nT7 M6 ({tool})\nS2000 M3\nG0 X0 Y0\nG43 H7 Z5.\nG1 Z-12. F500\nG1 X4. F200\n{arcs}\nG1 X0\nG0 Z5.\nM30\n"
        )
    }

    #[test]
    fn found_and_mended() {
        let texts = [
            (
                mill("THREAD MILL M20X1.5", "G3 Z-10.476 I-4."),
                mill("THREAD MILL M20X1.5", "G3 Z-10.5 I-4."),
            ),
            (
                mill("THREAD M16X2, CUTTER 8", "G3 X-4. Z-11.25 R4.\nX4. Z-10.5 R4."),
                mill("THREAD M16X2, CUTTER 8", "G3 X-4. Z-11. R4.\nX4. Z-10. R4."),
            ),
            (
                mill("M20X1.5 THREADMILL", "G3 Z-6. I-4. P3"),
                mill("M20X1.5 THREADMILL", "G3 Z-7.5 I-4. P3"),
            ),
            // .060 in for 1.5 mm.
            (
                "G20 G90 G17 G94\nT7 M6 (M20X1.5 THREAD MILL)\nS2000 M3\nG0 X0 Y0\nG1 Z-.6 F20.\nG1 X.2 F5.\nG3 Z-.54 I-.2\nG1 X0\nG0 Z1.\nM30\n".into(),
                "G20 G90 G17 G94\nT7 M6 (M20X1.5 THREAD MILL)\nS2000 M3\nG0 X0 Y0\nG1 Z-.6 F20.\nG1 X.2 F5.\nG3 Z-.5409 I-.2\nG1 X0\nG0 Z1.\nM30\n".into(),
            ),
            (
                mill("GEWINDEFRAESER M10", "G91\nG3 X0 Y0 Z1.25 I-4. J0\nG90"),
                mill("GEWINDEFRAESER M10", "G91\nG3 X0 Y0 Z1.5 I-4. J0\nG90"),
            ),
        ];
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b): &(String, String)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn without_a_name_only_unlisted_pitches() {
        let odd = findings(RULE, &mill("THREAD MILL", "G3 Z-10.37 I-4."));
        assert_eq!(odd[0].severity, Severity::Warning);
        assert_silent(
            RULE,
            &[
                &mill("THREAD MILL", "G3 Z-10.5 I-4."),
                &mill("TOOL 7", "G3 Z-10.37 I-4."),
                &mill("10 ENDMILL", "G3 Z-10.37 I-4."),
            ],
        );
    }

    /// A cycle called by its name; places of its arguments from memory.
    #[test]
    fn a_call_has_its_lead() {
        let call = |pitch: &str| {
            format!(
                "G21 G17 G90 G94\n(THREAD M60X2-6H)\nT7 M6\nS2000 M3\nG0 X0 Y0 Z10\nCYCLE90(50,0,2,-20,,60,57.835,{pitch},500,2,0,0,0)\nG0 Z50\nM30\n"
            )
        };
        assert_pairs(RULE, &[(&call("1.5"), &call("2"))]);
    }
}
