use lexer::section::Side;
use lexer::units::{Diameter, Length};

use super::surroundings::{SAME, Surroundings, at_z, cut_by, place};
use super::text::{length, length_of_mm};
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// The stroke does not start between the end face and the thread's end, over a surface that was
    /// turned and is not cut away there: the tool would plunge into it at rapid.
    ///
    /// # Why it matters
    ///
    /// The infeed to the depth of a pass is a rapid. Over the blank it drives the insert into the
    /// material with the spindle turning: the insert breaks, the part is pushed out of the chuck.
    ///
    /// # The sum
    ///
    /// Surface at the start Z (by the cuts of the program before) against the diameter of the first
    /// pass. The start lies in the material when the surface covers it by more than 5 mm, the usual
    /// approach of a turning cut, or begins at a chamfer that was turned before it.
    ///
    /// # What it needs
    ///
    /// The surface turned in the same program, and where the passes start.
    ///
    /// # When it stays silent
    ///
    /// For a start inside a relief or groove that is as deep as the pass, or within 6 mm of a
    /// plunge (a tool's width); for strokes that start at a Z of 0 or more towards −Z; where the
    /// program turned nothing there.
    ///
    /// # Mend
    ///
    /// Start in front of the end face, or in the relief.
    ///
    /// # Source
    ///
    /// Arithmetic on the programmed contour. 5 and 6 mm: common practice, no source.
    "start-in-material", Error,
    "the passes start inside the material",
    fixes: false, needs_designation: false, check
}

/// Longest approach in mm of a turning cut.
const APPROACH: f64 = 5.0;
/// Widest plunge in mm of a grooving tool.
const TOOL: f64 = 6.0;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(around) = Surroundings::of(rule, cx, out) else {
        return;
    };
    let Some(pass) = cx.section.passes.first() else {
        return;
    };
    let (Some(x), Some(z)) = (pass.x_start.or(pass.x), pass.z_start) else {
        return out.not_judged(rule, "where the first pass starts is missing");
    };
    let x = x.abs();
    // By far the most programs have Z0 at the end face.
    if around.direction < 0 && z >= Length::ZERO {
        return;
    }
    let Some(surface) = around.contour.at(around.side, z) else {
        return;
    };
    let depth = around.out_of(surface.x, x);
    let Some(entry) = around.entry(surface.x) else {
        return;
    };
    if depth <= SAME || in_groove(&around, x, z, entry) {
        return;
    }
    let crest = surface.x;
    let chamfered = around
        .contour
        .chamfer(around.side, crest, around.direction, around.end)
        .is_some_and(|chamfer| {
            let (low, high) = chamfer.by.z_range();
            let begins = if around.direction < 0 { high } else { low };
            around.ahead(begins, z) > SAME
        });
    let inside = around.ahead(entry, z);
    if inside <= APPROACH && !chamfered {
        return;
    }
    let units = cx.section.units;
    let what = match around.side {
        Side::External => "outside",
        Side::Internal => "bore",
    };
    out.push(
        rule.found(
            (pass.span, pass.line),
            format!(
                "the first pass starts at {}, where the {what} stands at {}: the tool plunges {} deep",
                at_z(z, cx),
                length(crest.0, units),
                length_of_mm(depth, units)
            ),
        )
        .because(format!(
            "{}: {} from {} on",
            cut_by(cx, surface.by),
            length(crest.0, units),
            at_z(entry, cx)
        ))
        .because(format!(
            "the first pass goes to {} at {}",
            length(x.0, units),
            at_z(z, cx)
        ))
        .related(place(surface.by), "this surface is still there")
        .source("arithmetic on the contour that the program turns")
        .help("start in front of the end face, or in a relief that is as deep as the thread"),
    );
}

/// Whether a plunge as deep as the pass is near enough for the start to lie in its groove; a facing
/// cut at the start of the surface is none.
fn in_groove(around: &Surroundings<'_>, x: Diameter, z: Length, entry: Length) -> bool {
    around.contour.of(around.side).any(|cut| {
        let (low, high) = cut.x_range();
        let bottom = match around.side {
            Side::External => low,
            Side::Internal => high,
        };
        cut.is_wall()
            && (cut.from.1 - z).abs().mm() <= TOOL
            && around.ahead(entry, cut.from.1) > SAME
            && around.out_of(bottom, x) <= SAME
    })
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent};

    const RULE: &str = "start-in-material";
    const SHAFT: &str = "G21\nT0101\nG96 S180 M3\nG0 X26. Z2.\nG1 Z0. F0.2\nX29.9 Z-2.\nZ-50.\nX46.\nZ-60.\nG0 X100. Z100.\n";

    #[test]
    fn found_in_every_syntax() {
        let bodies = [
            "T0303\nG97 S800 M3\nG0 X34. Z-4.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nM30\n",
            "T0303\nG97 S800 M3\nG0 X34. Z-4.\nG92 X29. Z-36. F2.\nX28.\nX27.546\nG0 X100.\n",
            "T0303\nG97 S800 M3\nG0 X34. Z-4.\nX29.\nG32 Z-34. F2.\nG0 X34.\nZ-4.\nX27.546\nG32 Z-34. F2.\nG0 X34.\nZ-4.\n",
            "T0303\nG97 S800 M3\nG0 X34. Z-4.\nG76 X27.546 Z-34. K1.227 D0350 A60 F2.\nG0 X100.\n",
            // Outwards, but not from the relief.
            "T0303\nG97 S300 M4\nG0 X50. Z-30.\nX29.\nG32 Z4. F2.\nG0 X50.\nZ-30.\nX27.546\nG32 Z4. F2.\nG0 X50.\n",
        ];
        let texts: Vec<(String, String)> = bodies
            .iter()
            .map(|body| {
                let good = body.replace("Z-4.", "Z8.").replace("Z-30.\n", "Z-56.\n");
                let shaft = SHAFT.replace("Z-50.\nX46.", "Z-50.\nX27.\nZ-58.\nX46.");
                (format!("{SHAFT}{body}"), format!("{shaft}{good}"))
            })
            .collect();
        let texts: Vec<(&str, &str)> = texts
            .iter()
            .map(|(bad, good)| (bad.as_str(), good.as_str()))
            .collect();
        assert_pairs(RULE, &texts);
    }

    #[test]
    fn silent_on_legal_programs() {
        let in_plunge = format!(
            "{}T0202\nG0 X48. Z-50.\nG1 X27. F0.08\nG0 X48.\nG0 X100. Z100.\nT0303\nG97 S300 M4\nG0 X50. Z-48.\nX29.\nG32 Z4. F2.\nG0 X50.\nZ-48.\nX27.546\nG32 Z4. F2.\nG0 X50.\n",
            SHAFT
        );
        assert_silent(
            RULE,
            &[
                &in_plunge,
                // The zero lies at the chuck: the face is at Z100, the turning came from Z102.
                "G21\nT0101\nG0 X30. Z102.\nG1 Z40. F0.2\nG0 X60.\nG0 Z200.\nT0303\nG97 S800 M3\nG0 X34. Z101.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z60. P1227 Q350 F2.\nM30\n",
                // Nothing turned there.
                "G21\nT0101\nG0 X60. Z-2.\nG1 Z-9. F0.2\nG0 X70.\nG0 Z200.\nT0303\nG97 S800 M3\nG0 X34. Z-20.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-60. P1227 Q350 F2.\nM30\n",
            ],
        );
    }
}
