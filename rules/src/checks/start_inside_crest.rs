use lexer::section::{Section, Side, Syntax};
use lexer::source::Span;
use lexer::units::{Diameter, Length};

use super::text::{length, number, quoted};
use super::{Context, Out, Rule, rule, slip, stages};
use crate::finding::Severity;
use crate::identify::X_MODE;

rule! {
    /// # What it checks
    ///
    /// The diameter at which the tool starts and to which it returns between the passes, against
    /// the crest of the material: it must lie outside the blank of a bolt and inside the bore of a
    /// nut.
    ///
    /// # Why it matters
    ///
    /// The tool goes back along the thread at rapid, at the start diameter. A start inside the crest
    /// drags it through the material on the first return, or already on the way to the start point.
    ///
    /// # The sum
    ///
    /// Bolt: start - crest must not be negative; nut: crest - start. The crest is the nominal major
    /// diameter, or the basic minor diameter of a nut. Inside the smallest blank (the largest bore)
    /// that the class allows it is an error, between that and the nominal crest a warning. Where no
    /// thread is known, the crest is the one that the cycle itself states: last diameter plus twice
    /// the height.
    ///
    /// # What it needs
    ///
    /// The start diameter, and the thread or a height in the cycle.
    ///
    /// # When it stays silent
    ///
    /// A start exactly at the crest, a height taken from the start diameter, oil grooves, the first
    /// plunge of hand-written strokes from the other side. Of a cone only a warning is made, and
    /// only where it reaches farthest at the end of the stroke.
    ///
    /// # Mend
    ///
    /// Start farther out, by a clearance of a millimetre or two. How much room there is the program
    /// does not say, so nothing is written for you.
    ///
    /// # Source
    ///
    /// The limits of size of the thread's standard; that cycles return at the start diameter is
    /// common practice of controls.
    "start-inside-crest", Error,
    "the tool starts and returns inside the material",
    fixes: false, needs_designation: true, check
}

/// The crest by the words of a cycle may lie this far outside the start, on the diameter: shops
/// take the height from the start and round it.
const ROUNDING: Length = Length::from_pm(60_000_000);

/// Where the crest is.
struct Crest {
    nominal: Diameter,
    /// The smallest blank, or the largest bore.
    least: Diameter,
    what: String,
    source: String,
    certain: bool,
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    if cx.is_groove() || stages::is_approach(cx) {
        return;
    }
    if !cx.diameters_sure() {
        return out.not_judged(rule, X_MODE);
    }
    let Some(side) = cx.side() else {
        let why = section.cut.side.why().unwrap_or("bolt or nut is not known");
        return out.not_judged(rule, why);
    };
    let Some(taper) = section.cut.taper.get() else {
        return out.not_judged(rule, "the taper is not known");
    };
    let Some((x, place, way)) = clearance(cx, side) else {
        return out.not_judged(rule, "the start diameter is not known");
    };
    let crest = if taper.is_zero() {
        crest(cx, side).ok_or("no designation is stated or inferred, and no height tells the crest")
    } else {
        cone_crest(cx, side, taper)
    };
    let crest = match crest {
        Ok(crest) => crest,
        Err(why) => return out.not_judged(rule, why),
    };
    let inside = |crest: Diameter| match side {
        Side::External => crest.above(x),
        Side::Internal => x.above(crest),
    };
    let depth = inside(crest.nominal);
    if depth.mm() <= 5e-4 {
        return;
    }
    // An inferred thread may be another than was meant: the cycle's own crest must agree.
    if !cx.stated()
        && let Some(own) = own_crest(cx, side)
        && inside(own.nominal).mm() <= 5e-4
    {
        return;
    }
    let certain = crest.certain && inside(crest.least).mm() > 5e-4;
    let units = section.units;
    let (name, most) = match side {
        Side::External => ("crest", "smallest blank"),
        Side::Internal => ("bore", "largest bore"),
    };
    let mut finding = rule
        .found(
            place,
            format!(
                "the tool {way}s at {}, {} inside the {name} of {}",
                length(x.0, units),
                length(depth.0, units),
                length(crest.nominal.0, units)
            ),
        )
        .because(format!(
            "{}: {way}s here",
            quoted(cx.bytes, place.0, place.1)
        ))
        .because(crest.what);
    if crest.least != crest.nominal {
        finding = finding.because(format!("the {most} is {}", length(crest.least.0, units)));
    }
    if !certain {
        finding = finding.severity(Severity::Warning);
    }
    let side_word = match side {
        Side::External => "outside the blank",
        Side::Internal => "inside the bore",
    };
    out.push(finding.source(crest.source).help(format!(
        "start {side_word} with a clearance; rapids along the thread run at this diameter"
    )));
}

/// The diameter that the returns run at, where it was set, and what the tool does there.
fn clearance(cx: &Context<'_>, side: Side) -> Option<(Diameter, (Span, u32), &'static str)> {
    let section = cx.section;
    if section.syntax == Syntax::Strokes
        && let Some(back) = worst_return(section, side)
    {
        return Some((back.0, back.1, "return"));
    }
    let x = section.cut.start_x.get()?;
    Some((x.abs(), stages::start_place(cx), "start"))
}

/// The return along the axis that runs deepest in the material.
fn worst_return(section: &Section, side: Side) -> Option<(Diameter, (Span, u32))> {
    let last = section.passes.len();
    let returns = section
        .moves
        .iter()
        .filter(|m| (1..last).contains(&m.after_pass) && m.rapid)
        .filter(|m| m.from.0 == m.to.0 && m.from.1 != m.to.1)
        .filter_map(|m| Some((m.to.0?.abs(), (m.span, m.line))));
    match side {
        Side::External => returns.min_by_key(|(x, _)| *x),
        Side::Internal => returns.max_by_key(|(x, _)| *x),
    }
}

fn crest(cx: &Context<'_>, side: Side) -> Option<Crest> {
    if let Some(thread) = cx.thread() {
        let limits = thread.limits(side);
        let (nominal, least) = match side {
            Side::External => (thread.major.mm(), limits.major.min),
            Side::Internal => (thread.basic().minor, limits.minor.max),
        };
        let nominal = Diameter::from_mm(nominal);
        return Some(Crest {
            nominal,
            least: least.map_or(nominal, Diameter::from_mm),
            what: format!(
                "{}: {}",
                cx.table.crest_from,
                length(nominal.0, cx.section.units)
            ),
            source: if limits.sources.is_empty() {
                thread.family.standard().standards.to_owned()
            } else {
                limits.sources.join(", ")
            },
            certain: least.is_some(),
        });
    }
    own_crest(cx, side)
}

/// The crest of a cone where it reaches farthest, which must be the end of the stroke: by the planes
/// of the thread where the face is told, else by the words of the cycle.
fn cone_crest(cx: &Context<'_>, side: Side, taper: Length) -> Result<Crest, &'static str> {
    let farthest_at_end = match side {
        Side::External => taper.signum() < 0,
        Side::Internal => taper.signum() > 0,
    };
    if !farthest_at_end {
        return Err("the cone reaches farthest at the start of the stroke, where it may be air");
    }
    let by_planes = || {
        let thread = cx.thread()?;
        let planes = thread.gauge_planes(side)?;
        let face = cx.identified.face_z_mm.as_ref()?;
        let (start, end) = (cx.section.cut.start_z.get()?, cx.section.cut.end_z.get()?);
        // An external cone grows towards the end of such a stroke, an internal one shrinks.
        let along = match side {
            Side::External => (end - start).signum(),
            Side::Internal => (start - end).signum(),
        };
        let at = planes.at(along as f64 * (end.mm() - face.value));
        let crest = Diameter::from_mm(match side {
            Side::External => at.major,
            Side::Internal => at.minor,
        });
        Some(Crest {
            nominal: crest,
            least: crest,
            what: format!(
                "{}, face by {}: the crest at the end of the stroke is {}",
                thread.designation(),
                face.from,
                length(crest.0, cx.section.units)
            ),
            source: thread.form().source.to_owned(),
            certain: false,
        })
    };
    let own = || {
        own_crest(cx, side).map(|crest| Crest {
            certain: false,
            ..crest
        })
    };
    by_planes()
        .or_else(own)
        .ok_or("the face of the tapered thread is missing, and no height tells the crest")
}

/// The crest by the words of the cycle.
fn own_crest(cx: &Context<'_>, side: Side) -> Option<Crest> {
    let section = cx.section;
    let (crest, height) = (section.cut.crest_x.get()?.abs(), section.cut.height.get()?);
    let ratio = height.mm() / cx.pitch_mm()?;
    if !(0.3..=1.3).contains(&ratio) || slip::height(cx).is_some() {
        return None;
    }
    // Rounding of a height taken from the start is no fault.
    let crest = match side {
        Side::External => Diameter(crest.0 - ROUNDING),
        Side::Internal => Diameter(crest.0 + ROUNDING),
    };
    Some(Crest {
        nominal: crest,
        least: crest,
        what: format!(
            "the cycle's own crest, last diameter and height ({} of the pitch), less 0.06 mm for \
             rounding: {}",
            number(ratio, 2),
            length(crest.0, section.units)
        ),
        source: "arithmetic on the words of the cycle".into(),
        // Above this a height is often larger than the thread's.
        certain: ratio <= 0.7,
    })
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings};
    use crate::finding::Severity;

    const RULE: &str = "start-inside-crest";

    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                // Strokes: the return runs inside the crest, wherever the first plunge came from.
                (
                    "G21\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nX15.\nG32 Z-30. F2.\nG0 X15.4\nZ8.\nX13.546\nG32 Z-30. F2.\nG0 X20.\n",
                    "G21\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nX15.\nG32 Z-30. F2.\nG0 X18.\nZ8.\nX13.546\nG32 Z-30. F2.\nG0 X20.\n",
                ),
                // Boxes, and the bore of a nut.
                (
                    "G21 G90 G95\nT0707\n(THREAD M42X1.5-6G)\nG97 S600 M3\nG0 X41. Z6.\nG78 X40.9 Z-20. F1.5\nX40.16\nG0 X90.\n",
                    "G21 G90 G95\nT0707\n(THREAD M42X1.5-6G)\nG97 S600 M3\nG0 X46. Z6.\nG78 X40.9 Z-20. F1.5\nX40.16\nG0 X90.\n",
                ),
                (
                    "G21\nT0404 (M36X3 INT THREAD)\nG97 S700 M3\nG0 X34. Z10.\nG92 X34.5 Z-27. F3.\nX36.\nG0 Z50.\n",
                    "G21\nT0404 (M36X3 INT THREAD)\nG97 S700 M3\nG0 X31. Z10.\nG92 X34.5 Z-27. F3.\nX36.\nG0 Z50.\n",
                ),
                // No thread is known: the cycle's own crest.
                (
                    "G20\nG97 S700 M3\nG0X.68Z.4\nG76X.55Z-1.75K.09D0150A60F.17\n",
                    "G20\nG97 S700 M3\nG0X.9Z.4\nG76X.55Z-1.75K.09D0150A60F.17\n",
                ),
                // The drive line lies below the crest of the stated size.
                (
                    "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X11.5 Z8\nG76 P2 Z-30 I-.2 J0.35 R2 K1.227 Q27\n",
                    "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                ),
            ],
        );
    }

    #[test]
    fn between_nominal_and_smallest_blank_is_a_warning() {
        let worst = |x: &str| {
            let text = format!(
                "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X{x} Z8.\nG92 X29. Z-36. F2.\nX27.546\nG0 X90.\n"
            );
            findings(RULE, &text)
                .first()
                .map(|finding| finding.severity)
        };
        assert_eq!(worst("29.5"), Some(Severity::Error));
        assert_eq!(worst("29.8"), Some(Severity::Warning));
        assert_eq!(worst("30."), None);
    }

    /// R 1/2: the crest is 20.955 mm in the gauge plane 8.2 mm from the face, at Z-20 0.7375 more.
    /// With a height in the cycle its own crest counts: 19.4 + 2 · 1.162.
    #[test]
    fn cones_are_judged_at_their_large_end() {
        let box_cycle = |x: &str| {
            format!(
                "G21\n(THREAD R 1/2, FACE 0)\nG97 S600 M3\nG0 X{x} Z6.\nG92 X20.5 Z-20. R-0.8125 F1.814\nX19.4\nG0 X90.\n"
            )
        };
        let found = findings(RULE, &box_cycle("21.5"));
        assert_eq!(found[0].severity, Severity::Warning, "{found:?}");
        assert!(
            found[0]
                .message
                .contains("0.096 mm inside the crest of 21.692 mm"),
            "{found:?}"
        );
        assert!(findings(RULE, &box_cycle("21.7")).is_empty());
        let two_block = |x: &str| {
            format!(
                "G21\n(THREAD R 1/2)\nG97 S600 M3\nG0 X{x} Z6.\nG76 P020055 Q60 R0.03\nG76 X19.4 Z-20. R-0.8125 P1162 Q300 F1.814\n"
            )
        };
        assert_eq!(findings(RULE, &two_block("21.4")).len(), 1);
        assert!(findings(RULE, &two_block("21.7")).is_empty());
        // An internal cone is narrowest at the end; Rc 3/4 has 24.117 in its gauge plane.
        let internal = |x: &str| {
            format!(
                "G21\n(THREAD RC 3/4)\nG97 S600 M3\nG0 X{x} Z6.\nG76 P020055 Q60 R0.03\nG76 X25.2 Z-20. R0.8125 P1162 Q300 F1.814\n"
            )
        };
        assert_eq!(findings(RULE, &internal("23.5")).len(), 1);
        assert!(findings(RULE, &internal("20.")).is_empty());
    }

    #[test]
    fn silent_on_legal_starts() {
        assert_silent(
            RULE,
            &[
                // The height is half of start minus root, to a thousandth.
                "G20\nG97 S700 M3\nG0X.9Z.4\nG76X.5Z-1.75K.201D0150A60F.17\n",
                // Strokes that first plunge from the centre.
                "G21\n(THREAD M20X2.5-6G)\nG97 S700 M3\nG0 X0. Z8.\nX19.4\nG32 Z-30. F2.5\nG0 X24.\nZ8.\nX16.933\nG32 Z-30. F2.5\nG0 X24.\n",
                // Behind the centre line.
                "G21\n(THREAD M50X2-6G)\nG97 S700 M3\nG0 X-54. Z8.\nG92 X-49. Z-24. F2.\nX-47.546\nG0 X-90.\n",
                // An oil groove from inside a bore.
                "G21\nG97 S60 M3\nG0 X84. Z2.\nX85.8\nG32 Z-14. F32.\nG0 X84.\nZ2.\nX86.4\nG32 Z-14. F32.\nG0 X84.\n",
                // A start behind the face, in a relief.
                "G21\n(THREAD M30X2-6G)\nG97 S800 M4\nG0 X33. Z-40.\nG92 X29. Z5. F2.\nX27.546\nG0 X90.\n",
            ],
        );
    }
}
