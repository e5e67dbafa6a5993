use lexer::section::SpeedMode;

use super::text::{number, quoted};
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// No pass of a thread may be cut while constant surface speed (G96) is in force.
    ///
    /// # Why it matters
    ///
    /// With G96 the spindle turns faster the deeper the tool goes. The lead stays right, because the
    /// axis follows the spindle, but every pass is cut at another speed: the axis needs another
    /// distance to get in step, the start of the helix wanders from pass to pass, and near the axis
    /// the speed runs up to its clamp. Most often G96 is simply left on from the turning before.
    ///
    /// # The sum
    ///
    /// Speed at a diameter d in mm for a surface speed v in m/min: n = 1000·v / (π·d).
    ///
    /// # What it needs
    ///
    /// The program alone. The speeds are shown where the diameters and the S word are known.
    ///
    /// # When it stays silent
    ///
    /// With G97, and where the program writes neither G96 nor G97.
    ///
    /// # Mend
    ///
    /// Write G97 with the speed in 1/min before the first pass. Which speed is the programmer's
    /// choice, so no fix is offered.
    ///
    /// # Source
    ///
    /// Common practice; shops that leave it on find it in the thread. The sum is geometry.
    "surface-speed-in-thread", Error,
    "constant surface speed is in force while a thread is cut",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let passes = &cx.section.passes;
    let caught = passes.iter().find(|pass| pass.spindle.surface_speed());
    let (spindle, place) = match caught {
        Some(pass) => (pass.spindle, (pass.span, pass.line)),
        None if passes.is_empty() && cx.section.spindle.surface_speed() => {
            (cx.section.spindle, cx.place())
        }
        None => return,
    };
    let mut finding = rule.found(place, "the thread is cut with constant surface speed (G96)");
    if let Some(mode) = spindle.mode
        && mode.value == SpeedMode::SurfaceSpeed
    {
        finding = finding
            .because(format!(
                "{} is still in force here",
                quoted(cx.bytes, mode.span, mode.line)
            ))
            .related((mode.span, mode.line), "constant surface speed starts here");
    }
    if let Some(speed) = spindle.speed {
        let metres = match cx.section.units {
            lexer::units::Units::Millimetre => speed.value,
            lexer::units::Units::Inch => speed.value * 0.3048,
        };
        let rpm = |x: Option<lexer::units::Diameter>| {
            x.map(|x| 1000.0 * metres / (std::f64::consts::PI * x.abs().mm()))
                .filter(|rpm| rpm.is_finite())
        };
        let first = rpm(passes.first().and_then(|pass| pass.x));
        let last = rpm(passes.last().and_then(|pass| pass.x));
        if let (Some(first), Some(last)) = (first, last) {
            finding = finding.because(format!(
                "{}: first pass {} 1/min, last pass {} 1/min (n = 1000·v / (π·d))",
                quoted(cx.bytes, speed.span, speed.line),
                number(first, 0),
                number(last, 0)
            ));
        }
    }
    out.push(
        finding
            .source("common practice: the spindle speed must not change within a thread")
            .help("write G97 with a speed in 1/min before the first pass"),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, findings};

    const RULE: &str = "surface-speed-in-thread";

    #[test]
    fn found_in_every_syntax() {
        for text in [
            "G21\nT0303\nG96 S150 M3\nG0 X34. Z8.\nG76 P020060 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\n",
            "G21\nT0303\nG96 S150 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX28.\nX27.546\nG0 X50.\n",
            "G21 G90 G95\nT0303\ng96s150m3\ng0x34.z8.\ng78x29.z-36.f2.\nx28.\nx27.546\ng0x50.\n",
            "G20\nT0303\nG96 S400 M3\nG0 X1.3 Z.3\nX1.15\nG32 Z-1. F.0833\nG0 X1.3\nZ.3\nX1.1\nG32 Z-1. F.0833\n",
            "G20\nT0505\nG96 S400 M3\nG0X.9Z.4\nG76X.62Z-1.75K.0613D0150A60F.1\n",
            "G21 G18 G8 G90\nG96 D2000 S100 M3\nG0 X17 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
            "G90 G95 G18 DIAMON\nT=\"THREAD60\" D1\nG96 S150 M3\nG0 X26 Z8\nCYCLE99(0,20,-30,20,5,1,0.92,0.05,30,0,5,1,1.5,1300101,1)\nG0 X150 Z100\nM30\n",
            "G90 G95\nT050505\nG96 S150 M3\nG0 X30. Z9.\nG71 X20.32 Z-30. B60 D.8 U.1 H3.68 F3. M32 M73\nG0 X150. Z100.\nM2\n",
            "G21 G18 G99\nT0505\nG96 S150 M3\nG0 X26. Z6.\nG82 X18.916 Z-28. F2.5\nG82 X18.466 Z-28. F2.5\nG82 X18.122 Z-28. F2.5\nG82 X17.83 Z-28. F2.5\nG82 X17.574 Z-28. F2.5\nG82 X17.344 Z-28. F2.5\nG82 X17.13 Z-28. F2.5\nG82 X16.932 Z-28. F2.5\nG0 X150. Z100.\nM30\n",
        ] {
            assert_eq!(findings(RULE, text).len(), 1, "{text}");
            let mended = text
                .replace("G96", "G97")
                .replace("g96", "g97")
                .replace(" D2000", "");
            assert!(findings(RULE, &mended).is_empty(), "{mended}");
            assert_pairs(RULE, &[(text, &mended)]);
        }
    }
}
