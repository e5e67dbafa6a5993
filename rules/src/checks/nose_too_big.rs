use lexer::section::Side;
use lexer::source::Span;
use lexer::units::Length;

use super::text::{length, mm, number};
use super::{Context, Out, Rule, rule};
use crate::finding::Finding;
use crate::identify::Stated;
use crate::measure::tool::{Nose, largest_flat, largest_radius};
use crate::measure::vee::Vee;
use crate::standards::limits::Limits;
use crate::standards::thread::Thread;

rule! {
    /// # What it checks
    ///
    /// The nose of the tool, a radius or a flat, against the root of the thread: a nose larger than
    /// the root leaves room for fills the place of the mating crest.
    ///
    /// # Why it matters
    ///
    /// Such a tool can be brought to the right pitch diameter and the thread still does not go:
    /// the crest of the go gauge fouls the fillet. No wear offset mends that, only another insert.
    ///
    /// # The sum
    ///
    /// Largest radius: what the form states for its root; where it states none, the radius whose
    /// arc leaves the flanks just beyond the crest of a go gauge of basic size,
    /// r = (d1 - d2 + H) / (2 h), h being the height per radius at which the arc leaves the flanks.
    /// Widest flat, with the pitch diameter in the middle of its limits and the root at the
    /// diameter that a go gauge needs: f = (d3 - d2 + H) (tan a + tan b) / 2.
    ///
    /// # What it needs
    ///
    /// The thread with its side, and the nose: `NOSE 0.4` or `FLAT 2.3` in the note, `nose_radius_mm`
    /// or `nose_flat_mm` of a `[[tool]]` that the T word or a comment stands for.
    ///
    /// # When it stays silent
    ///
    /// A nose up to the limit, however fine: how deep it must then go is another rule's business.
    ///
    /// # Mend
    ///
    /// An insert with a nose within the limit. The last diameter then changes too; nothing is
    /// written for you.
    ///
    /// # Source
    ///
    /// The root of the thread's standard, named in the finding; where it states none, plane geometry
    /// of the flanks and a go gauge.
    "nose-too-big", Error,
    "the nose of the tool is larger than the root of the thread",
    fixes: false, needs_designation: true, check
}

/// Noses are stated to a thousandth or two.
const SLACK: f64 = 0.002;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    if cx.section.chase || cx.is_groove() {
        return;
    }
    let Some(nose) = &cx.identified.nose else {
        if cx.stated() {
            out.not_judged(rule, "the nose of the tool is missing");
        }
        return;
    };
    let Some(thread) = cx.thread() else {
        return out.not_judged(rule, "no designation is stated or inferred");
    };
    let Some(side) = cx.side() else {
        return out.not_judged(rule, "bolt or nut is not known");
    };
    let limits = thread.limits(side);
    let (size, most, shape, is) = match nose.value {
        Nose::Radius(radius) => (radius, largest_radius(thread, side), "radius", "large"),
        Nose::Flat(flat) => (flat, largest_flat(thread, side, &limits), "flat", "wide"),
    };
    let Some(most) = most else {
        return out.not_judged(
            rule,
            format!(
                "the largest nose {shape} for {} is not known",
                thread.designation()
            ),
        );
    };
    if size <= most + SLACK {
        return;
    }
    let text = |mm: f64| length(Length::from_mm(mm), cx.section.units);
    let mut finding = rule
        .found(
            place(cx, nose),
            format!(
                "the nose is too {is}: {shape} {}, the root of {} takes at most {}",
                text(size),
                thread.designation(),
                text(most)
            ),
        )
        .because(format!("{}: nose {shape} {}", nose.from, text(size)));
    finding = because(finding, thread, side, &limits, nose.value, most);
    if let Some((span, line)) = cx.identified.place {
        finding = finding.related((span, line), "the thread is named here");
    }
    out.push(finding.source(source(thread, &limits)).help(format!(
        "use an insert with a nose {shape} of at most {}, and work its last diameter out anew: a \
         finer nose goes deeper for the same pitch diameter",
        text(most)
    )));
}

/// Where the nose is stated in the program, or else the tool.
fn place(cx: &Context<'_>, nose: &Stated<Nose>) -> (Span, u32) {
    let tool = cx.section.tool.map(|tool| (tool.span, tool.line));
    nose.place.or(tool).unwrap_or_else(|| cx.place())
}

fn because(
    finding: Finding,
    thread: &Thread,
    side: Side,
    limits: &Limits,
    nose: Nose,
    most: f64,
) -> Finding {
    let (pitch, basic, form) = (thread.pitch.mm(), thread.basic(), thread.form());
    let stated = form.nose_radius(side, pitch).and_then(|band| band.max);
    let height = Vee::of(&form).map_or(0.0, |vee| vee.sharp_height(pitch));
    match nose {
        Nose::Radius(_) if stated.is_some_and(|radius| (radius - most).abs() < 1e-9) => finding
            .because(format!(
                "{}: root radius at most {} mm, {} of the pitch {}",
                form.source,
                mm(most),
                number(most / pitch, 4),
                mm(pitch)
            )),
        Nose::Radius(_) => {
            let (from, to) = match side {
                Side::External => (basic.minor, basic.pitch),
                Side::Internal => (basic.pitch, basic.major),
            };
            let touch = Vee::of(&form).map_or(0.0, |vee| vee.touches().1);
            finding.because(format!(
                "({} - {} + H {}) / (2 x {}) = {} mm: with a larger radius the arc reaches the crest \
                 of a go gauge",
                number(from, 4),
                number(to, 4),
                number(height, 4),
                number(touch, 4),
                mm(most)
            ))
        }
        Nose::Flat(_) => {
            let middle = limits.pitch.middle().unwrap_or(basic.pitch);
            let gap = match side {
                Side::External => limits.minor.max.map(|most| most - middle),
                Side::Internal => limits.major.min.map(|least| middle - least),
            };
            let opening = Vee::of(&form).map_or(0.0, Vee::opening);
            finding.because(format!(
                "({} + H {}) x {} / 2 = {} mm: with a wider flat the root does not come deep enough \
                 before the pitch diameter is reached",
                number(gap.unwrap_or(0.0), 4),
                number(height, 4),
                number(opening, 4),
                mm(most)
            ))
        }
    }
}

fn source(thread: &Thread, limits: &Limits) -> String {
    let mut sources = vec![thread.form().source];
    for source in &limits.sources {
        if !sources.contains(source) {
            sources.push(source);
        }
    }
    format!("{}; plane geometry of the flanks", sources.join(", "))
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, judged, judged_with};
    use crate::facts::{Config, FILE_NAME, Facts};
    use crate::finding::Severity;

    const RULE: &str = "nose-too-big";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                // M30x2: a root radius of H/6 = 0.289 mm (ISO 68-1).
                (
                    "G21\n(THREAD M30X2-6G, NOSE 0.4)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.7\nG0 X90.\n",
                    "G21\n(THREAD M30X2-6G, NOSE 0.2)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.3\nG0 X90.\n",
                ),
                (
                    "G21 G90 G95\nT0707\n(THREAD M42X1.5-6G, NOSE 0.3)\nG97 S600 M3\nG0 X46. Z6.\nG78 X41. Z-20. F1.5\nX40.28\nG0 X90.\n",
                    "G21 G90 G95\nT0707\n(THREAD M42X1.5-6G, NOSE 0.2)\nG97 S600 M3\nG0 X46. Z6.\nG78 X41. Z-20. F1.5\nX40.08\nG0 X90.\n",
                ),
                // 10 threads an inch: 0.3666 mm.
                (
                    "G20\n(THREAD 3/4-10 UNC-2A, NOSE .02)\nG97 S700 M3\nG0X.9Z.4\nG76X.637Z-1.75K.0613D0150A60F.1\n",
                    "G20\n(THREAD 3/4-10 UNC-2A, NOSE .012)\nG97 S700 M3\nG0X.9Z.4\nG76X.621Z-1.75K.0613D0150A60F.1\n",
                ),
                // Strokes, a nut: the arc must begin beyond the crest of the bolt.
                (
                    "G21\n(THREAD M36X3-6H, NOSE 0.4)\nG97 S600 M3\nG0 X31. Z10.\nX32.9\nG32 Z-27. F3.\nG0 X31.\nZ10.\nX35.95\nG32 Z-27. F3.\nG0 X31.\n",
                    "G21\n(THREAD M36X3-6H, NOSE 0.2)\nG97 S600 M3\nG0 X31. Z10.\nX32.9\nG32 Z-27. F3.\nG0 X31.\nZ10.\nX36.35\nG32 Z-27. F3.\nG0 X31.\n",
                ),
                (
                    "; THREAD M24x2-6g, NOSE 0.35\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.226 Q27\n",
                    "; THREAD M24x2-6g, NOSE 0.25\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.326 Q27\n",
                ),
                // A trapezoidal thread and the flat of its tool: Tr 40x7 has 2.294 mm at its root.
                (
                    "G21\n(THREAD TR 40X7-7E, FLAT 2.6)\nG97 S120 M3\nG0 X44. Z28.\nG76 P010030 Q80 R0.03\nG76 X32.1 Z-80. P4000 Q400 F7.\n",
                    "G21\n(THREAD TR 40X7-7E, FLAT 2.2)\nG97 S120 M3\nG0 X44. Z28.\nG76 P010030 Q80 R0.03\nG76 X31.35 Z-80. P4000 Q400 F7.\n",
                ),
            ],
        );
    }

    /// The tool is known by its T word or by a comment; the note comes before either.
    #[test]
    fn the_nose_from_the_configuration() {
        let facts = |text: &str| Config::parse(FILE_NAME, text, &[]).unwrap().facts("a.nc").1;
        let text = |note: &str| {
            format!(
                "G21\nT0303 (OD THREADER 16ER)\n(THREAD M30X2-6G{note})\nG97 S800 M3\nG0 X34. Z8.\n\
                 G92 X29. Z-36. F2.\nX27.7\nG0 X90.\n"
            )
        };
        for tool in ["number = 3", "comment = \"*threader 16er*\""] {
            let facts = facts(&format!("[[tool]]\n{tool}\nnose_radius_mm = 0.4\n"));
            let found = judged_with(RULE, &text(""), &facts);
            assert_eq!(found.len(), 1, "{tool}");
            assert!(found[0].because[0].starts_with("flankwise.toml: tool 1 nose_radius_mm"));
            assert_eq!(found[0].line, 2);
            assert!(judged_with(RULE, &text(", NOSE 0.2"), &facts).is_empty());
        }
        let other = facts("[[tool]]\nnumber = 4\nnose_radius_mm = 0.4\n");
        assert!(judged_with(RULE, &text(""), &other).is_empty());
    }

    #[test]
    fn an_inferred_thread_makes_no_error() {
        let facts = "[[tool]]\nnumber = 3\nnose_radius_mm = 0.4\n";
        let facts = Config::parse(FILE_NAME, facts, &[])
            .unwrap()
            .facts("a.nc")
            .1;
        let text = "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG76 P020055 Q60 R0.03\nG76 X27.546 Z-32. P1227 Q400 F2.\n";
        let found = judged_with(RULE, text, &facts);
        assert_eq!(found[0].severity, Severity::Warning, "{found:?}");
        let named = text.replace("T0303", "T0303 (THREAD M30X2-6G)");
        assert_eq!(
            judged_with(RULE, &named, &facts)[0].severity,
            Severity::Error
        );
    }

    #[test]
    fn silent_on_fine_noses_and_unknown_ones() {
        assert_silent(
            RULE,
            &[
                "G21\n(THREAD M30X2-6G, NOSE 0.05)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.\nG0 X90.\n",
                "G21\n(THREAD M30X2-6G, NOSE 0.289)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.5\nG0 X90.\n",
            ],
        );
        let text = "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.5\nG0 X90.\n";
        assert!(findings(RULE, text).is_empty());
        let reasons = judged(text, &Facts::default()).not_judged.concat();
        assert!(
            reasons
                .iter()
                .any(|(name, why)| *name == RULE && why.contains("missing"))
        );
    }
}
