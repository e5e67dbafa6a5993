use lexer::section::Side;
use lexer::section::milling::Compensation;

use super::hole_facts::{comments, cutter, says};
use super::text::{length_of_mm, number};
use super::{Context, Out, Rule, rule};
use crate::finding::Severity;
use crate::measure::mill::overcut;
use crate::measure::vee::Vee;

rule! {
    /// # What it checks
    ///
    /// Whether the cutter is small enough for the internal thread that it mills.
    ///
    /// # Why it matters
    ///
    /// The cutter does not leave the groove at one height: while it turns through the thread it also
    /// advances, and its flanks cut away from the flanks of the thread. The pitch diameter grows, the
    /// more the nearer the cutter comes to the thread's size.
    ///
    /// # The sum
    ///
    /// overcut on the radius = k² · r / (2 · e · R), k = P / 2π · cot(half angle), with the cutter's
    /// radius r, the thread's R and e = R - r. The pitch diameter grows by twice that. More than half of
    /// its tolerance is an advice, more than all of it a warning.
    ///
    /// # What it needs
    ///
    /// The thread's name and the cutter's diameter: in the note (`CUTTER 16`), in the tool's comment, or
    /// as what is left between the thread and the path of the tool's centre (D - 2 · radius of the
    /// path).
    ///
    /// # When it stays silent
    ///
    /// External threads, tapered ones, cutters whose comment says that their profile is corrected
    /// (`CORRECTED`).
    ///
    /// # Mend
    ///
    /// A smaller cutter: a tool, no word of the program.
    ///
    /// # Source
    ///
    /// Derived and checked numerically (M10x1.5 with 7.5 mm: 0.052 mm of radius); no published source is
    /// known. The tolerance is that of the thread's standard. Shops keep cutters below two thirds of a
    /// coarse and three quarters of a fine thread (common practice).
    "profile-distortion", Warning,
    "the thread mill is so large that its path distorts the profile",
    fixes: false, needs_designation: true, kinds: [Milled], check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(milling) = cx.section.milling.as_deref() else {
        return;
    };
    if cx.side() == Some(Side::External) || says(&comments(cx), &["CORRECTED"]) {
        return;
    }
    let Some(thread) = cx.thread() else {
        return out.not_judged(rule, "the name of the thread is missing");
    };
    let form = thread.form();
    let Some(vee) = Vee::of(&form).filter(|_| form.taper == 0.0) else {
        return;
    };
    let Some(helix) = milling.helices.last() else {
        return;
    };
    let major = thread.major.mm();
    let derived = (milling.compensation.0 == Compensation::Off)
        .then_some(major - 2.0 * helix.radius_mm)
        .filter(|d| *d > 0.0);
    let (size, from, stated) = match (cutter(cx), derived) {
        (Some((size, from)), _) => (size, from, true),
        (None, Some(size)) => (
            size,
            format!(
                "what the path of radius {} leaves of {}",
                number(helix.radius_mm, 3),
                number(major, 3)
            ),
            false,
        ),
        _ => return out.not_judged(rule, "the diameter of the cutter is missing"),
    };
    let band = thread.limits(Side::Internal).pitch;
    let (Some(min), Some(max)) = (band.min, band.max) else {
        return out.not_judged(rule, "the tolerance of the pitch diameter is missing");
    };
    let angle = vee.angles().into_iter().fold(f64::INFINITY, f64::min);
    let Some(overcut) = overcut(major, size, thread.pitch.mm(), angle) else {
        return;
    };
    let (growth, tolerance) = (2.0 * overcut, max - min);
    if growth <= 0.5 * tolerance {
        return;
    }
    let Some(piece) = helix.pieces.first() else {
        return;
    };
    let units = cx.section.units;
    let mut finding = rule
        .found(
            (piece.block.span, piece.block.line),
            format!(
                "a cutter of {} enlarges the pitch diameter of {} by {}, the tolerance is {}",
                length_of_mm(size, units),
                thread.designation(),
                length_of_mm(growth, units),
                length_of_mm(tolerance, units)
            ),
        )
        .because(format!("cutter of {} ({from})", length_of_mm(size, units)))
        .because(format!(
            "2 · k² · r / (2 · e · R) with k = {} / 2π · cot {}°, r {}, R {}, e {} = {}",
            number(thread.pitch.mm(), 4),
            number(angle.to_degrees(), 1),
            number(size / 2.0, 3),
            number(major / 2.0, 3),
            number((major - size) / 2.0, 3),
            length_of_mm(growth, units)
        ))
        .source("derived and checked numerically, no published source; tolerance of the thread's standard")
        .help("take a smaller cutter, or one whose profile is corrected for this thread");
    if growth <= tolerance || !stated {
        finding = finding.severity(Severity::Advice);
    }
    out.push(finding);
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};
    use crate::finding::Severity;

    const RULE: &str = "profile-distortion";

    fn mill(note: &str, radius: &str, rise: &str) -> String {
        format!(
            "G21 G90 G17 G94 G40\nT7 M6 (THREAD MILL)\n(THREAD {note})\nS2000 M3\nG0 X0 Y0\nG43 H7 Z5.\nG1 Z-12. F500\nG1 X{radius} F99.\nG91 G3 Z{rise} I-{radius}\nG90 G1 X0\nG0 Z5.\nM30\n"
        )
    }

    #[test]
    fn found_and_mended() {
        let texts = [
            (
                mill("M10X1.5, CUTTER 7.5", "1.25", "1.5"),
                mill("M10X1.5, CUTTER 6", "2.", "1.5"),
            ),
            (
                mill("M10X1.5, CUTTER 8.4", "0.8", "1.5").replace("G91 G3 Z1.5", "G3 Z-10.5"),
                mill("M10X1.5, CUTTER 5", "2.5", "1.5").replace("G91 G3 Z1.5", "G3 Z-10.5"),
            ),
            (
                mill("M24X3, CUTTER 20", "2.", "-3.").replace("G3", "G2"),
                mill("M24X3, CUTTER 12", "6.", "-3.").replace("G3", "G2"),
            ),
            // The path alone tells the cutter.
            (
                mill("M12X1.75", "1.25", "1.75"),
                mill("M12X1.75", "3.", "1.75"),
            ),
            (
                mill("M10X1.5", "1.25", "1.5").replace("THREAD MILL", "THREAD MILL D8"),
                mill("M10X1.5", "2.", "1.5").replace("THREAD MILL", "THREAD MILL D6"),
            ),
        ];
        let pairs: Vec<(&str, &str)> = texts
            .iter()
            .map(|(a, b): &(String, String)| (a.as_str(), b.as_str()))
            .collect();
        assert_pairs(RULE, &pairs);
    }

    /// M10x1.5 with 7.5 mm: 0.0513 mm on the radius, 0.103 of a tolerance of 0.180 mm (6H).
    #[test]
    fn severities() {
        let of = |cutter: &str| {
            findings(
                RULE,
                &mill(&format!("M10X1.5, CUTTER {cutter}"), "1.", "1.5"),
            )[0]
            .severity
        };
        assert_eq!(of("7.5"), Severity::Advice);
        assert_eq!(of("8.6"), Severity::Warning);
    }

    #[test]
    fn silent_outside_and_with_a_corrected_profile() {
        let text = mill("M10X1.5, CUTTER 7.5", "1.25", "1.5");
        assert_silent(
            RULE,
            &[&text.replace("THREAD MILL", "THREAD MILL, CORRECTED PROFILE")],
        );
    }
}
