use lexer::section::{Pass, Side};
use lexer::units::{Diameter, Length};

use super::surroundings::{SAME, at_z};
use super::text::length;
use super::{Context, Out, Rule, rule};

rule! {
    /// # What it checks
    ///
    /// No pass starts or ends where the nose of the tailstock stands.
    ///
    /// # Why it matters
    ///
    /// A long shaft is held by a centre, and the run-in of the thread lies beside it. An approach
    /// that is safe on a short part drives the tool into the centre or its sleeve at rapid.
    ///
    /// # The sum
    ///
    /// The nose is taken for a cylinder of `tailstock_diameter_mm` that begins at `tailstock_z_mm`
    /// and goes on towards +Z. A pass collides when the tip is at a smaller diameter than the nose
    /// and one of its ends lies beyond that Z.
    ///
    /// # What it needs
    ///
    /// `tailstock_diameter_mm` and `tailstock_z_mm` of the `[[machine]]`, and where the passes start.
    ///
    /// # When it stays silent
    ///
    /// For internal threads and threads on a face, which cannot be cut with the centre in place, and
    /// for machines without these facts.
    ///
    /// # Mend
    ///
    /// Start between the nose and the thread: a lower speed needs less run-in. Nothing is written
    /// for you, because the run-in shrinks.
    ///
    /// # Source
    ///
    /// The machine's entry in the configuration; plane geometry. The width of the tool's body
    /// beside its tip is not known and comes on top.
    "tailstock-clearance", Error,
    "a pass starts or ends where the tailstock stands",
    fixes: false, needs_designation: false, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let Some(machine) = &cx.facts.machine else {
        return;
    };
    let (Some(nose), Some(from)) = (machine.tailstock_diameter_mm, machine.tailstock_z_mm) else {
        return;
    };
    if cx.side() == Some(Side::Internal) || cx.section.is_facing() {
        return;
    }
    if cx.section.side().is_none() {
        return out.not_judged(rule, "whether a bolt or a nut is cut is not known");
    }
    if !cx.diameters_sure() {
        return out.not_judged(rule, crate::identify::X_MODE);
    }
    let from = Length::from_mm(from);
    let far = |pass: &Pass| {
        let ends = [
            (pass.x_start.or(pass.x), pass.z_start),
            (pass.x, pass.z_end),
        ];
        let ends = ends.into_iter().filter_map(|(x, z)| Some((x?.abs(), z?)));
        ends.max_by_key(|(_, z)| *z)
    };
    let mut known = cx
        .section
        .passes
        .iter()
        .filter_map(|pass| Some((pass, far(pass)?)));
    let hits = |x: Diameter, z: Length| (z - from).mm() > SAME && x.mm() < nose - SAME;
    let Some((pass, (x, z))) = known.find(|(_, (x, z))| hits(*x, *z)) else {
        if cx.section.passes.iter().all(|pass| far(pass).is_none()) {
            out.not_judged(rule, "where the passes start is missing");
        }
        return;
    };
    let units = cx.section.units;
    let text = |mm: f64| length(Length::from_mm(mm), units);
    out.push(
        rule.found(
            (pass.span, pass.line),
            format!(
                "the tool tip stands at {} and {}, inside the nose of the tailstock",
                length(x.0, units),
                at_z(z, cx)
            ),
        )
        .because(format!(
            "{}: {}",
            cx.facts.cite("tailstock_diameter_mm"),
            text(nose)
        ))
        .because(format!(
            "{}: {}, the nose begins {} before",
            cx.facts.cite("tailstock_z_mm"),
            at_z(from, cx),
            length(z - from, units)
        ))
        .source("the machine's entry in the configuration; plane geometry")
        .help(
            "start on the thread's side of the nose, with a speed that its run-in is enough for; \
             prove it out with hands near feed hold",
        ),
    );
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs_with, facts_of, judged_with};

    const RULE: &str = "tailstock-clearance";

    const TAILSTOCK: &str = "[[machine]]\nid = \"long\"\nfiles = [\"*.nc\"]\ntailstock_diameter_mm = 34\ntailstock_z_mm = 6\n";

    #[test]
    fn found_in_every_syntax() {
        let facts = facts_of(TAILSTOCK);
        let two = |z: &str| {
            format!(
                "G21\nT0303\nG97 S400 M3\nG0 X36. Z{z}\nG76 P020055 Q60 R0.03\nG76 X27.546 Z-34. P1227 Q350 F2.\nG0 X100.\nM30\n"
            )
        };
        let one = |z: &str| {
            format!(
                "G20\nT0303\nG97 S400 M3\nG0X1.4Z{z}\nG76X1.0845Z-1.3K.0483D0140A55F.07874\nG0X4.\nM30\n"
            )
        };
        let boxes = |z: &str| {
            format!(
                "G21\nT0303\nG97 S400 M3\nG0 X36. Z{z}\nG92 X29. Z-34. F2.\nX28.2\nX27.546\nG0 X100.\nM30\n"
            )
        };
        let strokes = |z: &str| {
            let pass = |x: &str| format!("X{x}\nG32 Z-34. F2.\nG0 X36.\nZ{z}\n");
            format!(
                "G21\nT0303\nG97 S400 M3\nG0 X36. Z{z}\n{}{}G0 X100.\nM30\n",
                pass("28.4"),
                pass("27.546")
            )
        };
        // Outwards from a relief, with the end beside the nose.
        let outward = |z: &str| {
            format!(
                "G21\nT0303\nG97 S400 M4\nG0 X36. Z-40.\nX28.4\nG32 Z{z} F2.\nG0 X36.\nZ-40.\nX27.546\nG32 Z{z} F2.\nG0 X100.\nM30\n"
            )
        };
        let line = |z: &str| {
            format!(
                "G21 G18 G7 G90\nT3 M6\nG97 S400 M3\nG0 X36 Z{z}\nG76 P2 Z-34 I-6 J0.35 R2 K2.454 Q27\nG0 X100\nM2\n"
            )
        };
        for (bad, good) in [
            (two("8."), two("6.")),
            (one(".3"), one(".23")),
            (boxes("8."), boxes("5.")),
            (strokes("7."), strokes("6.")),
            (outward("8."), outward("4.")),
            (line("8"), line("5")),
        ] {
            assert_pairs_with(RULE, &facts, &[(&bad, &good)]);
        }
    }

    #[test]
    fn silent_where_nothing_can_meet() {
        let facts = facts_of(TAILSTOCK);
        for text in [
            // A thread larger than the nose.
            "G21\nT0303\nG97 S400 M3\nG0 X64. Z8.\nG92 X59. Z-34. F2.\nX57.546\nG0 X100.\nM30\n",
            // In a bore the centre is drawn back.
            "G21\nT0404\nG97 S400 M3\nG0 X26. Z8.\nG92 X28.6 Z-34. F2.\nX30.\nG0 Z100.\nM30\n",
        ] {
            assert!(judged_with(RULE, text, &facts).is_empty(), "{text}");
        }
        let other = facts_of("[[machine]]\nid = \"short\"\nfiles = [\"*.nc\"]\nmax_rpm = 3000\n");
        let text =
            "G21\nT0303\nG97 S400 M3\nG0 X36. Z8.\nG92 X29. Z-34. F2.\nX27.546\nG0 X100.\nM30\n";
        assert!(judged_with(RULE, text, &other).is_empty());
    }
}
