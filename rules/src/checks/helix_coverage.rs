use lexer::section::milling::{Helix, Milling};

use super::hole_facts::{comments, says};
use super::text::{length_of_mm, number};
use super::{Context, Out, Rule, rule};
use crate::finding::Severity;

rule! {
    /// # What it checks
    ///
    /// Whether a milled thread goes all the way round, and, for a cutter with one row of teeth, whether
    /// it is as long as the note asks for.
    ///
    /// # Why it matters
    ///
    /// A cutter with the form of many turns closes the thread in one turn; less than one leaves a part
    /// of the circle without a thread. A single row cuts one groove: it has to go round once for every
    /// pitch of the length.
    ///
    /// # The sum
    ///
    /// turns = degrees about the axis / 360, of all helices at one place. One row: turns needed =
    /// length / lead + 1.
    ///
    /// # What it needs
    ///
    /// For the length a note such as `(THREAD M24X3, LENGTH 20)` and a comment of the tool that says
    /// SINGLE. The cutting length of a cutter with several rows is a fact that no program holds.
    ///
    /// # When it stays silent
    ///
    /// A full turn and more.
    ///
    /// # Mend
    ///
    /// More turns: no fix is offered.
    ///
    /// # Source
    ///
    /// Geometry.
    "helix-coverage", Error,
    "a milled thread does not go all the way round, or is too short",
    fixes: false, needs_designation: false, kinds: [Milled], check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(milling) = cx.section.milling.as_deref() else {
        return;
    };
    let units = cx.section.units;
    let single = says(&comments(cx), &["SINGLE", "SINGLEPOINT", "SP", "1T"]);
    for helix in &milling.helices {
        let Some(piece) = helix.pieces.last() else {
            continue;
        };
        let at = (piece.block.span, piece.block.line);
        let turns = at_one_place(milling, helix);
        if turns < 0.999 {
            out.push(
                rule.found(
                    at,
                    format!(
                        "the thread is milled over {} of a turn only",
                        number(turns, 2)
                    ),
                )
                .because(format!(
                    "{}° about the axis; a closed thread needs 360°",
                    number(360.0 * turns, 1)
                ))
                .source("geometry")
                .help("go round once at least, and a little farther so that start and end meet"),
            );
            continue;
        }
        let Some(length) = cx.identified.length_mm.filter(|_| single) else {
            continue;
        };
        let rise = helix.rise().mm().abs();
        let pitch = helix.pitch_mm().abs();
        if rise + 1e-3 * pitch + units.least_increment().mm() < length {
            out.push(
                rule.found(
                    at,
                    format!(
                        "the single row mills {} of thread, {} are asked for",
                        length_of_mm(rise, units),
                        length_of_mm(length, units)
                    ),
                )
                .severity(Severity::Warning)
                .because(format!(
                    "{} turns of {}; needed are {} / {} + 1 = {}",
                    number(helix.turns(), 2),
                    length_of_mm(pitch, units),
                    length_of_mm(length, units),
                    length_of_mm(pitch, units),
                    number(length / pitch + 1.0, 1)
                ))
                .source("one row cuts one groove (geometry)")
                .help("add turns"),
            );
        }
    }
    if cx.identified.length_mm.is_some() && !single {
        out.not_judged(rule, "the cutting length of the thread mill is missing");
    }
}

/// Turns of all helices at the place and radius of one.
fn at_one_place(milling: &Milling, helix: &Helix) -> f64 {
    let near = |a: lexer::units::Length, b: lexer::units::Length| (a - b).mm().abs() < 0.05;
    milling
        .helices
        .iter()
        .filter(|other| {
            near(other.centre.0, helix.centre.0)
                && near(other.centre.1, helix.centre.1)
                && (other.radius_mm - helix.radius_mm).abs() < 0.01
        })
        .map(Helix::turns)
        .sum()
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "helix-coverage";

    fn mill(tool: &str, arcs: &str) -> String {
        format!(
            "G21 G90 G17 G94 G40\nT7 M6 ({tool})\nS2000 M3\nG0 X0 Y0\nG43 H7 Z5.\nG1 Z-12. F500\nG1 X4. F200\n{arcs}\nG1 X0 Y0\nG0 Z5.\nM30\n"
        )
    }

    #[test]
    fn found_and_mended() {
        let single = "THREAD M16X1.5, LENGTH 6)(SINGLE POINT THREAD MILL";
        let texts = [
            // Three quarters of a turn.
            (
                mill("THREAD MILL", "G3 X0 Y-4. Z-10.875 I-4. J0"),
                mill(
                    "THREAD MILL",
                    "G3 X0 Y-4. Z-10.875 I-4. J0\nG3 X4. Y0 Z-10.5 I0 J4.",
                ),
            ),
            (
                mill(
                    "THREADMILL M16X1.5",
                    "G3 X-4. Y0 Z-11.25 R4.\nX0 Y-4. Z-10.875 R4.",
                ),
                mill(
                    "THREADMILL M16X1.5",
                    "G3 X-4. Y0 Z-11.25 R4.\nX0 Y-4. Z-10.875 R4.\nX4. Y0 Z-10.5 R4.",
                ),
            ),
            (
                mill("THREAD MILL", "G2 X0 Y4. Z-13.125 I-4. J0"),
                mill(
                    "THREAD MILL",
                    "G2 X0 Y4. Z-13.125 I-4. J0\nX4. Y0 Z-13.5 I0 J-4.",
                ),
            ),
            (
                mill(single, "G3 Z-10.5 I-4."),
                mill(single, "G3 Z-6. I-4. P4"),
            ),
            (
                mill(single, "G3 Z-10.5 I-4.\nZ-9. I-4.\nZ-7.5 I-4."),
                mill(single, "G3 Z-10.5 I-4.\nZ-9. I-4.\nZ-7.5 I-4.\nZ-6. I-4."),
            ),
        ];
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b): &(String, String)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    #[test]
    fn one_turn_of_many_rows_is_enough() {
        assert_silent(
            RULE,
            &[
                &mill("THREAD MILL", "G3 Z-10.5 I-4."),
                &mill("THREAD M16X1.5, LENGTH 12)(THREAD MILL", "G3 Z-10.5 I-4."),
            ],
        );
    }
}
