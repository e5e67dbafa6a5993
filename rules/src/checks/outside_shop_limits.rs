use lexer::section::{Pass, Purpose};
use lexer::source::Span;
use lexer::units::Length;

use super::text::{length, number, quoted, rpm};
use super::{Context, Out, Rule, rule, stages};
use crate::finding::Finding;

rule! {
    /// # What it checks
    ///
    /// The passes against the limits that the shop has set for a cut in `[material]` or `[limits]`:
    /// smallest and first depth, chip area, spring passes, cutting speed, run-in and retract.
    ///
    /// # Why it matters
    ///
    /// What an insert stands and what a material takes, a shop knows better than any table. Written
    /// down once, every program is held to it.
    ///
    /// # The sum
    ///
    /// Depth: from one pass to the next on the radius, the first from the crest. Area: as in the
    /// table of passes. Speed: pi · crest · rpm / 1000 in m/min. Run-in: from the nearest start of a
    /// pass to Z0, where the stroke crosses Z0, in mm and in leads. Retract: from the crest to the
    /// diameter at which the tool returns, on the radius.
    ///
    /// # What it needs
    ///
    /// `min_pass_mm`, `first_pass_max_mm`, `max_area_mm2`, `spring_passes_max`, `speed_m_min` in
    /// `[material]` or `[limits]` (the material's comes first); `start_min_mm`, `start_min_leads`,
    /// `retract_max_mm` in `[limits]`; and the crest of the thread for what counts from it.
    ///
    /// # When it stays silent
    ///
    /// Without a configured limit. The first, the last of a hand-written list and finishing passes
    /// may be smaller than the smallest depth. Oil grooves and burr chases.
    ///
    /// # Mend
    ///
    /// Split the depth anew, or change the speed; nothing is written for you.
    ///
    /// # Source
    ///
    /// The configuration; the key is named in the finding.
    "outside-shop-limits", Warning,
    "a pass is outside the limits that the shop has set",
    fixes: false, needs_designation: false, check
}

/// Part of a limit that is rounding.
const ROUNDING: f64 = 1e-6;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    if cx.section.chase || cx.is_groove() || stages::is_approach(cx) {
        return;
    }
    let limits = Limits { rule, cx };
    limits.passes(out);
    limits.spring_passes(out);
    limits.speed(out);
    limits.run_in(out);
    limits.retract(out);
}

struct Limits<'a, 'c> {
    rule: &'a Rule,
    cx: &'a Context<'c>,
}

impl Limits<'_, '_> {
    fn text(&self, mm: f64) -> String {
        length(Length::from_mm(mm), self.cx.section.units)
    }

    fn found(&self, at: (Span, u32), message: String, source: String, help: &str) -> Finding {
        self.rule.found(at, message).source(source).help(help)
    }

    fn at(pass: &Pass) -> (Span, u32) {
        (pass.span, pass.line)
    }

    /// A limit of `[limits]` alone.
    fn of_shop(&self, value: Option<f64>, key: &str) -> Option<(f64, String)> {
        let source = &self.cx.facts.limits.source;
        Some((value?, format!("{source} {key}")))
    }

    fn passes(&self, out: &mut Out) {
        let facts = self.cx.facts;
        let least = facts.cut_limit(|l| l.min_pass_mm, "min_pass_mm");
        let first_most = facts.cut_limit(|l| l.first_pass_max_mm, "first_pass_max_mm");
        let area_most = facts.cut_limit(|l| l.max_area_mm2, "max_area_mm2");
        if least.is_none() && first_most.is_none() && area_most.is_none() {
            return;
        }
        let (passes, table) = (&self.cx.section.passes, self.cx.table);
        let listed = matches!(self.cx.section.cut.law, lexer::law::Law::List);
        let cuts: Vec<_> = passes
            .iter()
            .zip(&table.rows)
            .enumerate()
            .filter(|(_, (pass, _))| pass.purpose != Purpose::Spring)
            .collect();
        if table.crest.is_none() && (first_most.is_some() || area_most.is_some()) {
            out.not_judged(self.rule, "the crest of the thread is missing");
        }
        let mut seen: Vec<usize> = Vec::new();
        let last = cuts.last().map(|(at, _)| *at);
        for (at, (pass, row)) in cuts {
            let is_first = !seen.contains(&row.start);
            if is_first {
                seen.push(row.start);
            }
            let step = row.step.map(|step| step.mm());
            if let (true, Some((most, source)), Some(step), Some(_)) =
                (is_first, &first_most, step, table.crest)
                && step > most * (1.0 + ROUNDING)
            {
                let message = format!(
                    "the first pass cuts {} deep, the shop allows {}",
                    self.text(step),
                    self.text(*most)
                );
                let help = "take the first pass lighter";
                out.push(
                    self.found(Self::at(pass), message, source.clone(), help)
                        .because(format!("crest: {}", table.crest_from)),
                );
            }
            let may_be_less =
                is_first || pass.purpose == Purpose::Finish || listed && Some(at) == last;
            if let (false, Some((least, source)), Some(step)) = (may_be_less, &least, step)
                && step > 0.0
                && step < least * (1.0 - ROUNDING)
            {
                let message = format!(
                    "pass {} cuts {} deep, the shop asks for {} at least",
                    at + 1,
                    self.text(step),
                    self.text(*least)
                );
                let help = "split the depth into fewer passes, or raise the minimum cut";
                out.push(
                    self.found(Self::at(pass), message, source.clone(), help)
                        .because("depth from one pass to the next, on the radius"),
                );
            }
            if let (Some((most, source)), Some(area)) = (&area_most, row.area_mm2)
                && area > most * (1.0 + ROUNDING)
            {
                let message = format!(
                    "pass {} cuts {} mm², the shop allows {} mm²",
                    at + 1,
                    number(area, 3),
                    number(*most, 3)
                );
                let help = "take less depth in this pass";
                out.push(
                    self.found(Self::at(pass), message, source.clone(), help)
                        .because(format!(
                            "nose radius {} mm; crest: {}",
                            number(table.nose_mm, 3),
                            table.crest_from
                        )),
                );
            }
        }
    }

    fn spring_passes(&self, out: &mut Out) {
        let limit = |l: &crate::facts::CutLimits| l.spring_passes_max;
        let Some((most, source)) = self.cx.facts.cut_limit(limit, "spring_passes_max") else {
            return;
        };
        let mut springs = self.cx.section.passes.iter();
        let springs: Vec<&Pass> = springs
            .by_ref()
            .filter(|pass| pass.purpose == Purpose::Spring)
            .collect();
        // One start's spring passes are no other start's.
        let starts = self.cx.section.cut.starts.max(1) as usize;
        let each = springs.len().div_ceil(starts);
        if let Some(last) = springs.last()
            && each > most as usize
        {
            let message = format!("{each} spring passes, the shop allows {most}");
            let help = "leave the surplus spring passes out";
            out.push(
                self.found(Self::at(last), message, source, help)
                    .because(format!("passes without new depth: {each} for each start")),
            );
        }
    }

    fn speed(&self, out: &mut Out) {
        let limit = |l: &crate::facts::CutLimits| l.speed_m_min;
        let Some(([least, most], source)) = self.cx.facts.cut_limit(limit, "speed_m_min") else {
            return;
        };
        let spindle = &self.cx.section.spindle;
        let (Some(turns), Some(word), Some(crest)) =
            (spindle.rpm(), spindle.speed, self.cx.table.crest)
        else {
            return out.not_judged(self.rule, "a constant speed or the crest is missing");
        };
        let speed = std::f64::consts::PI * crest.abs().mm() * turns / 1000.0;
        if (least..=most).contains(&speed) {
            return;
        }
        let message = format!(
            "the cutting speed is {} m/min, the shop has {} to {} m/min",
            number(speed, 1),
            number(least, 1),
            number(most, 1)
        );
        let help = if speed > most {
            "turn slower"
        } else {
            "turn faster, if machine and run-in allow it"
        };
        out.push(
            self.found((word.span, word.line), message, source, help)
                .because(format!(
                    "pi x {} mm x {} / 1000 = {} m/min ({})",
                    number(crest.abs().mm(), 3),
                    rpm(turns),
                    number(speed, 1),
                    self.cx.table.crest_from
                )),
        );
    }

    fn run_in(&self, out: &mut Out) {
        let limits = &self.cx.facts.limits;
        let cut = &self.cx.section.cut;
        let lead = cut.lead.get().map(|lead| lead.mm().abs());
        let in_mm = self.of_shop(limits.start_min_mm, "start_min_mm");
        let in_leads = self
            .of_shop(limits.start_min_leads, "start_min_leads")
            .zip(lead)
            .map(|((leads, source), lead)| (leads * lead, source));
        let wanted = in_mm.into_iter().chain(in_leads);
        let Some((least, source)) = wanted.max_by(|a, b| a.0.total_cmp(&b.0)) else {
            return;
        };
        let (Some(start), Some(end)) = (cut.start_z.get(), cut.end_z.get()) else {
            return out.not_judged(self.rule, "where the tool starts or ends is missing");
        };
        // Elsewhere the end face is not known.
        if start.signum() <= 0 || end.signum() >= 0 {
            return;
        }
        let starts = self.cx.section.passes.iter();
        let nearest = starts.filter_map(|pass| Some((pass.z_start?, pass)));
        let Some((z, pass)) = nearest.min_by_key(|(z, _)| *z) else {
            return;
        };
        if z.mm() >= least * (1.0 - ROUNDING) {
            return;
        }
        let message = format!(
            "the run-in is {}, the shop asks for {}",
            self.text(z.mm()),
            self.text(least)
        );
        let help = "start farther in front of the thread (look for a centre or a tailstock)";
        out.push(
            self.found(stages::start_place(self.cx), message, source, help)
                .because(format!(
                    "{}: the nearest pass starts at Z {}; Z0 is taken for the end face",
                    quoted(self.cx.bytes, pass.span, pass.line),
                    self.text(z.mm())
                )),
        );
    }

    fn retract(&self, out: &mut Out) {
        let most = self.of_shop(self.cx.facts.limits.retract_max_mm, "retract_max_mm");
        let Some((most, source)) = most else {
            return;
        };
        let (Some(start), Some(crest)) = (self.cx.section.cut.start_x.get(), self.cx.table.crest)
        else {
            return out.not_judged(self.rule, "the start diameter or the crest is missing");
        };
        let retract = (start.abs().mm() - crest.abs().mm()).abs() / 2.0;
        if retract <= most * (1.0 + ROUNDING) {
            return;
        }
        let message = format!(
            "the tool returns {} clear of the crest, the shop has {} at most",
            self.text(retract),
            self.text(most)
        );
        let help = "start nearer to the crest, clear of it by what a safe return needs";
        out.push(
            self.found(stages::start_place(self.cx), message, source, help)
                .because(format!(
                    "start {}, crest {} ({}), on the radius",
                    self.text(start.abs().mm()),
                    self.text(crest.abs().mm()),
                    self.cx.table.crest_from
                )),
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs_with, findings, judged_with};
    use crate::facts::{Config, FILE_NAME, Facts};

    const RULE: &str = "outside-shop-limits";

    fn facts(text: &str) -> Facts {
        Config::parse(FILE_NAME, text, &[]).unwrap().facts("a.nc").1
    }

    const BOXES: &str = "G21\nT0303\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29.2 Z-36. F2.\nX28.6\nX28.1\nX27.75\nX27.71\nX27.6\nX27.546\nX27.546\nX27.546\nG0 X90.\n";

    /// M30 at 800 1/min runs 75.4 m/min; boxes of 0.4, 0.3, 0.25, 0.175, 0.02, 0.055 and 0.027 mm
    /// and two springs.
    #[test]
    fn each_limit_by_itself() {
        for (limits, wrong, right) in [
            ("min_pass_mm", "0.05", "0.02"),
            ("first_pass_max_mm", "0.35", "0.4"),
            ("max_area_mm2", "0.22", "0.25"),
            ("spring_passes_max", "1", "2"),
            ("speed_m_min", "[80, 120]", "[60, 80]"),
            ("speed_m_min", "[40, 75]", "[75, 76]"),
            ("start_min_mm", "8.1", "8"),
            ("start_min_leads", "5", "4"),
            ("retract_max_mm", "1.9", "2"),
        ] {
            let found = judged_with(
                RULE,
                BOXES,
                &facts(&format!("[limits]\n{limits} = {wrong}\n")),
            );
            assert_eq!(found.len(), 1, "{limits} = {wrong} {found:?}");
            assert!(
                found[0].source.ends_with(&format!("limits {limits}")),
                "{found:?}"
            );
            let found = judged_with(
                RULE,
                BOXES,
                &facts(&format!("[limits]\n{limits} = {right}\n")),
            );
            assert!(found.is_empty(), "{limits} = {right} {found:?}");
        }
        assert!(findings(RULE, BOXES).is_empty());
    }

    /// Other ways of writing, with a limit that they break and one that they keep.
    #[test]
    fn in_every_syntax() {
        let two_block = "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020055 Q20 R0.03\nG76 X27.546 Z-32. P1227 Q500 F2.\n";
        let one_block = "G20\n(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0200A60F.1\n";
        let strokes = "G21\n(THREAD M16X2-6G)\nG97 S900 M3\nG0 X20. Z8.\nX15.\nG32 Z-30. F2.\nG0 X20.\nZ8.\nX14.2\nG32 Z-30. F2.\nG0 X20.\nZ8.\nX13.546\nG32 Z-30. F2.\nG0 X20.\n";
        let drive_line = "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.45 R2 K1.227 Q27\n";
        let system_b = "G21 G90 G95\nT0707\n(THREAD M42X1.5-6G)\nG97 S600 M3\nG0 X46. Z6.\nG78 X41.1 Z-20. F1.5\nX40.6\nX40.16\nG0 X90.\n";
        for (text, wrong, right, mend) in [
            (
                two_block,
                "first_pass_max_mm = 0.4",
                "first_pass_max_mm = 0.5",
                ("Q500", "Q400"),
            ),
            (
                one_block,
                "first_pass_max_mm = 0.4",
                "first_pass_max_mm = 0.55",
                ("D0200", "D0150"),
            ),
            (
                strokes,
                "first_pass_max_mm = 0.45",
                "first_pass_max_mm = 0.5",
                ("X15.", "X15.2"),
            ),
            (
                drive_line,
                "first_pass_max_mm = 0.4",
                "first_pass_max_mm = 0.5",
                ("J0.45", "J0.4"),
            ),
            (
                system_b,
                "speed_m_min = [90, 120]",
                "speed_m_min = [70, 90]",
                ("S600", "S800"),
            ),
        ] {
            let found = judged_with(RULE, text, &facts(&format!("[limits]\n{wrong}\n")));
            assert_eq!(found.len(), 1, "{text}{found:?}");
            let found = judged_with(RULE, text, &facts(&format!("[limits]\n{right}\n")));
            assert!(found.is_empty(), "{text}{found:?}");
            let mended = text.replace(mend.0, mend.1);
            let facts = facts(&format!("[limits]\n{wrong}\n"));
            assert_pairs_with(RULE, &facts, &[(text, &mended)]);
        }
    }

    #[test]
    fn the_material_comes_first() {
        let config = "[limits]\nspeed_m_min = [70, 90]\n[material]\nspeed_m_min = [20, 40]\n";
        let found = judged_with(RULE, BOXES, &facts(config));
        assert_eq!(found[0].source, "flankwise.toml: material 1 speed_m_min");
    }
}
