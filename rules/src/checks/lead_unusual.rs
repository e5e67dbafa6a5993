use lexer::section::Role;
use lexer::units::Units;

use super::text::{lead as lead_text, length, number, quoted};
use super::{Context, Out, Rule, rule, words};
use crate::identify::X_MODE;

rule! {
    /// # What it checks
    ///
    /// Without a designation, whether the lead and the diameters belong to any listed thread of
    /// any family, or to a metric or inch special size with a usual pitch.
    ///
    /// # Why it matters
    ///
    /// A lead that no series lists beside this diameter is most often the word of another size, a
    /// slip of a digit, or a pitch typed in the other unit. If the thread is meant to be special,
    /// a note says so and every other check becomes sharper too.
    ///
    /// # The sum
    ///
    /// Every listed thread gets a distance in pitches: how far crest and root lie outside its form,
    /// plus a charge for a lead that is off and for a size outside the series. Up to 0.1 the numbers
    /// fit; above 0.5 something contradicts, and that is reported with the nearest threads.
    ///
    /// # What it needs
    ///
    /// The lead, bolt or nut, and the diameter of the deepest pass. No designation may be stated.
    ///
    /// # When it stays silent
    ///
    /// Oil grooves and other long leads, worm threads with a lead of pi times a module, a taper that
    /// no listed thread has, a thread that is named, and numbers that two threads fit equally well.
    ///
    /// # Mend
    ///
    /// Correct the lead or the diameter, or name the thread in a note such as
    /// `(THREAD M37X1.5-6G)`. Nothing is written for you: the numbers cannot tell which is wrong.
    ///
    /// # Source
    ///
    /// The series of the thread standards. Distance and its limit are our own choice.
    "lead-unusual", Advice,
    "no listed thread has this lead at this diameter",
    fixes: false, needs_designation: false, check
}

/// Distance above which something contradicts.
const CONTRADICTS: f64 = 0.5;

/// Modules of worms, mm (ISO 54, first and second choice, from memory).
const MODULES: [f64; 22] = [
    0.5, 0.6, 0.7, 0.75, 0.8, 0.9, 1.0, 1.125, 1.25, 1.5, 1.75, 2.0, 2.25, 2.5, 3.0, 3.5, 4.0, 4.5,
    5.0, 6.0, 8.0, 10.0,
];

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let identified = cx.identified;
    // A note that could not be read, or a comment that contradicts, is reported as such.
    let named = identified.unreadable.is_some() || identified.conflict.is_some();
    if cx.thread().is_some() || named || cx.is_groove() || section.chase {
        return;
    }
    if !cx.diameters_sure() {
        return out.not_judged(rule, X_MODE);
    }
    let Some(lead) = section.cut.lead.get() else {
        let why = section.cut.lead.why().unwrap_or_default();
        return out.not_judged(rule, format!("the lead is not known: {why}"));
    };
    let (Some(side), Some(root)) = (cx.side(), cx.table.root) else {
        return out.not_judged(rule, "bolt or nut, or the deepest diameter, is not known");
    };
    if let Err(why) = usual_taper(cx) {
        return out.not_judged(rule, why);
    }
    let word = words::at_line(section, Role::Lead, section.last_line);
    let best = identified.candidates.first().map(|best| best.distance);
    if best.is_some_and(|best| best <= CONTRADICTS) || is_worm(lead.mm().abs(), section.units) {
        return;
    }
    let place = match word {
        Some(word) if words::is_own(section, word) => (word.span, word.line),
        _ => cx.place(),
    };
    let lead_words = lead_text(lead.abs(), section.units);
    let mut finding = rule.found(
        place,
        format!(
            "no listed {} thread that ends at {} has a lead of {lead_words}",
            side.name(),
            length(root.0, section.units),
        ),
    );
    if let Some(word) = word {
        let written = quoted(cx.bytes, word.span, word.line);
        finding = finding.because(format!("{written}: lead {lead_words}"));
        if !words::is_own(section, word) {
            finding =
                finding.because("the thread writes no lead of its own; that word is in force");
        }
    }
    finding = finding.because(format!(
        "the deepest pass ends at {}",
        length(root.0, section.units)
    ));
    let near = identified.candidates.iter().filter(|c| c.distance <= 1.0);
    for candidate in near.take(3) {
        finding = finding.because(format!(
            "{}: distance {} ({})",
            candidate.thread.designation(),
            number(candidate.distance, 2),
            candidate.reasons.join("; ")
        ));
    }
    if identified.candidates.is_empty() {
        finding = finding.because("no thread of any series comes near");
    }
    out.push(
        finding
            .source("the series of the thread standards; the distance is our own measure")
            .help(
                "check the lead and the last diameter against the drawing, or name the thread in \
                 a note: (THREAD designation)",
            ),
    );
}

/// Tapers on the diameter of the families known here: 1:16, 1:12 (ISO 7-1, ASME B1.20.1, API 5B),
/// 1:6 and 1:4 (API 7-2).
const TAPERS: [f64; 4] = [1.0 / 16.0, 1.0 / 12.0, 1.0 / 6.0, 1.0 / 4.0];

/// Whether the cone of the passes is one that listed threads have; another one is a special whose
/// lead no series can tell.
fn usual_taper(cx: &Context<'_>) -> Result<(), &'static str> {
    let cut = &cx.section.cut;
    let taper = cut.taper.get().ok_or("the taper is not known")?.mm();
    if taper == 0.0 {
        return Ok(());
    }
    let ends = cut.start_z.get().zip(cut.end_z.get());
    let stroke = ends.map_or(0.0, |(start, end)| (start - end).abs().mm());
    let own = cx.facts.forms.iter().map(|form| form.taper);
    let mut known = TAPERS.into_iter().chain(own);
    let near = |known: f64| (2.0 * taper.abs() / stroke - known).abs() <= 0.1 * known;
    if stroke > 0.0 && known.any(near) {
        Ok(())
    } else {
        Err("no listed thread has this taper")
    }
}

/// Whether a lead is pi times a module, or a few times that: such leads are written to 0.001 mm or
/// 0.0001 in at least.
fn is_worm(lead_mm: f64, units: Units) -> bool {
    let tolerance = match units {
        Units::Millimetre => 0.0006,
        Units::Inch => 0.0013,
    };
    MODULES.iter().any(|module| {
        (1..=4).any(|starts| {
            let exact = std::f64::consts::PI * module * f64::from(starts);
            (lead_mm - exact).abs() <= tolerance
        })
    })
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};

    const RULE: &str = "lead-unusual";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                (
                    "G21\nG97 S800 M3\nG0 X24. Z8.\nX19.\nG32 Z-20. F1.3\nG0 X24.\nZ8.\nX18.2\nG32 Z-20. F1.3\nG0 X24.\nZ8.\nX17.546\nG32 Z-20. F1.3\n",
                    "G21\nG97 S800 M3\nG0 X24. Z8.\nX19.\nG32 Z-20. F2.\nG0 X24.\nZ8.\nX18.2\nG32 Z-20. F2.\nG0 X24.\nZ8.\nX17.546\nG32 Z-20. F2.\n",
                ),
                // An internal thread with a mistyped lead.
                (
                    "G21\nG97 S700 M3\nG0 X31. Z10.\nG92 X33.8 Z-27. F3.3\nX34.7\nX35.4\nX36.\n",
                    "G21\nG97 S700 M3\nG0 X31. Z10.\nG92 X33.8 Z-27. F3.\nX34.7\nX35.4\nX36.\n",
                ),
                (
                    "G21\nG97 S700 M3\nG0 X34. Z8.\nG76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.2\n",
                    "G21\nG97 S700 M3\nG0 X34. Z8.\nG76 P020055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
                ),
                // No series has six and two thirds threads per inch.
                (
                    "G20\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.15\n",
                    "G20\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n",
                ),
                (
                    "G21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2.2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                    "G21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                ),
            ],
        );
    }

    /// Pipe threads with a taper of 1:16 have leads of their own; a cone of 1:9 may be anything.
    #[test]
    fn tapered_threads_too() {
        let text = |r: &str, f: &str| {
            format!(
                "G21\nG97 S600 M3\nG0 X26. Z6.\nG76 P020055 Q60 R0.03\nG76 X19.4 Z-20. R{r} P1162 Q300 F{f}\n"
            )
        };
        assert!(findings(RULE, &text("-0.8125", "1.814")).is_empty());
        let found = findings(RULE, &text("-0.8125", "2.1"));
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(findings(RULE, &text("-1.4444", "2.1")).is_empty());
    }

    #[test]
    fn silent_on_legal_leads() {
        assert_silent(
            RULE,
            &[
                // A special size of a usual pitch.
                "G21\nG97 S800 M3\nG0 X40. Z8.\nG92 X36. Z-20. F1.5\nX35.16\n",
                // Two starts.
                "G21\nG97 S300 M3\nG0 X45. Z18.\nG92 X37. Z-60. F6.\nX36.319\nG0 X45. Z21.\nG92 X37. Z-60. F6.\nX36.319\nG0 X90.\n",
                // A worm, module 2.
                "G21\nG97 S200 M3\nG0 X45. Z20.\nG92 X38. Z-60. F6.283\nX31.2\nG0 X90.\n",
                // An oil groove.
                "G21\nG97 S60 M3\nG0 X84. Z2.\nX85.8\nG32 Z-14. F32.\nG0 X84.\nZ2.\nX86.4\nG32 Z-14. F32.\nG0 X84.\n",
                // A named thread, right or not, is judged against its name.
                "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG92 X28. Z-20. F2.2\nX27.546\n",
                // A name that is not known yet.
                "G21\n(THREAD XX30X5)\nG97 S800 M3\nG0 X34. Z8.\nG92 X28. Z-20. F4.2\nX24.5\n",
            ],
        );
    }
}
