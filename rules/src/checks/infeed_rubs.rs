use lexer::section::{Infeed, Role};
use lexer::units::Length;

use super::text::{length, length_of_mm, number};
use super::{Context, Out, Rule, rule};
use crate::cut::load::thickness_per_step;
use crate::facts::MaterialGroup;

rule! {
    /// # What it checks
    ///
    /// The trailing edge of the tool cuts a chip, in materials that harden where an edge only rubs.
    ///
    /// # Why it matters
    ///
    /// Along the flank angle, or a degree below it, one flank of the insert slides over the flank
    /// that it has cut before. Stainless steel and heat-resistant alloys harden under it: the edge
    /// wears a groove into its flank, and that side of the thread is torn.
    ///
    /// # The sum
    ///
    /// Chip on the trailing edge for a step s at the flank angle a and the infeed angle b:
    /// s · (sin a - tan b · cos a). 60° threads: 0.096 s at 25°, 0.059 s at 27°, 0.020 s at 29°, 0 at
    /// 30°. Below 4 % of the step the edge rubs: 27.5°, the next angle below 30° that the two-block
    /// cycle can say on most controls, has 4.9 %.
    ///
    /// # What it needs
    ///
    /// The `group` of the `[material]`, M or S; the infeed angle, and the thread for its flanks.
    ///
    /// # When it stays silent
    ///
    /// For other materials, where an infeed along the flank is usual and does no harm worth a word;
    /// for radial and alternating infeed, chases and grooves, and beyond the flank angle, which is
    /// another rule's.
    ///
    /// # Mend
    ///
    /// Three to five degrees less than the flank angle. The packed word of the two-block cycle takes
    /// the included tool angle, from which the control makes the infeed: 55 for a 60° thread gives
    /// 27.5°.
    ///
    /// # Source
    ///
    /// Geometry of the infeed (derived). 4 %, and three to five degrees less: common practice, no
    /// source.
    "infeed-rubs", Advice,
    "the trailing edge rubs in a material that hardens",
    fixes: false, needs_designation: true, check
}

/// Part of the step that the chip of the trailing edge has at least.
const LEAST: f64 = 0.04;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    let Some(material) = &cx.facts.material else {
        return;
    };
    if section.chase || cx.is_groove() {
        return;
    }
    if !matches!(material.group, Some(MaterialGroup::M | MaterialGroup::S)) {
        return;
    }
    let angle = match &section.cut.infeed {
        Infeed::Flank(angle) => angle.abs(),
        Infeed::Radial | Infeed::Alternating(_) => return,
        Infeed::Unknown(why) => return out.not_judged(rule, why.clone()),
    };
    let Some(flanks) = cx.thread().and_then(|thread| thread.form().flanks) else {
        return out.not_judged(rule, "the thread, and so its flank angle, is not known");
    };
    // To which of two different flanks the tool moves is not in the program.
    if (flanks.leading_deg - flanks.trailing_deg).abs() > 0.01 {
        return;
    }
    let flank = flanks.trailing_deg;
    let [_, trailing] = thickness_per_step(flanks, angle);
    if trailing >= LEAST || angle > flank + 0.5 {
        return;
    }
    let trailing = trailing.max(0.0);
    let units = section.units;
    let steps = section.passes.iter().filter_map(|pass| pass.step);
    let step = steps.map(|step| step.mm()).fold(0.0, f64::max);
    let word = [Role::Packed, Role::ToolAngle, Role::InfeedAngle]
        .into_iter()
        .find_map(|role| section.word(role));
    let mut finding = rule
        .found(
            word.map_or_else(|| cx.place(), |word| (word.span, word.line)),
            format!(
                "the infeed at {}° leaves {} % of the step to the trailing edge, which rubs",
                number(angle, 1),
                number(100.0 * trailing, 1)
            ),
        )
        .because(format!(
            "sin {0}° - tan {1}° · cos {0}° = {2}",
            number(flank, 1),
            number(angle, 1),
            number(trailing, 3)
        ));
    if step > 0.0 {
        finding = finding.because(format!(
            "at the largest step of {} the trailing edge cuts {}",
            length(Length::from_mm(step), units),
            length_of_mm(step * trailing, units)
        ));
    }
    out.push(
        finding
            .because(format!("{} group: the material hardens", material.source))
            .source("geometry (derived); 4 % is common practice, no source")
            .help("go in three to five degrees below the flank angle"),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs_with, facts_of, judged_with};

    const RULE: &str = "infeed-rubs";

    const STAINLESS: &str = "[[material]]\nfiles = [\"*.nc\"]\ngroup = \"M\"\n";

    #[test]
    fn found_in_every_syntax() {
        let facts = facts_of(STAINLESS);
        let head = "G21\n(THREAD M30X2-6G)\nT0303\nG97 S400 M3\nG0 X34. Z8.\n";
        let two = |angle: &str| {
            format!(
                "{head}G76 P0200{angle} Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nG0 X100.\nM30\n"
            )
        };
        let one = |angle: &str| {
            format!("{head}G76 X27.546 Z-34. K1.227 D0350 A{angle} F2.\nG0 X100.\nM30\n")
        };
        let line = |angle: &str| {
            format!(
                "; THREAD M30x2-6g\nG21 G18 G7 G90\nT3 M6\nG97 S400 M3\nG0 X34 Z8\nG76 P2 Z-34 I-4 J0.7 R2 K2.454 Q{angle}\nG0 X100\nM2\n"
            )
        };
        let call = |angle: &str| {
            format!(
                "; THREAD M30x2-6g\nG90 G95 G18 DIAMON\nLIMS=2000\nT=\"THREAD\" D1\nG97 S400 M3\nG0 X38 Z8\nCYCLE97(2,,0,-34,30,30,8,2,1.227,0.05,{angle},0,8,1,3,1)\nG0 X100\nM30\n"
            )
        };
        let compound = |angle: &str| {
            format!(
                "; THREAD M30x2-6g\nG90 G95 G97\nT050505\nS500 M3\nG0 X34. Z8.\nG71 X27.546 Z-34. B{angle} D.8 U.1 H2.454 F2. M32 M75\nG0 X100.\nM2\n"
            )
        };
        for (bad, good) in [
            (two("60"), two("55")),
            (one("60"), one("54")),
            (line("29"), line("27")),
            (call("30"), call("26")),
            (compound("60"), compound("54")),
        ] {
            assert_pairs_with(RULE, &facts, &[(&bad, &good)]);
        }
        // sin 30° - tan 29° · cos 30° = 0.020 (worked by hand).
        let found = judged_with(RULE, &line("29"), &facts);
        assert!(
            found[0].message.contains("leaves 2 % of the step"),
            "{found:?}"
        );
    }

    #[test]
    fn silent_in_other_materials_and_ways() {
        let text = "G21\n(THREAD M30X2-6G)\nT0303\nG97 S400 M3\nG0 X34. Z8.\nG76 P020060 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nG0 X100.\nM30\n";
        let steel = facts_of("[[material]]\nfiles = [\"*.nc\"]\ngroup = \"P\"\n");
        assert!(judged_with(RULE, text, &steel).is_empty());
        assert!(judged_with(RULE, text, &facts_of("")).is_empty());
        let stainless = facts_of(STAINLESS);
        for other in ["020000", "020080"] {
            let other = text.replace("020060", other);
            assert!(judged_with(RULE, &other, &stainless).is_empty(), "{other}");
        }
    }
}
