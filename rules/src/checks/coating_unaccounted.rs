use lexer::section::Side;
use lexer::source::Span;
use lexer::units::Length;

use super::text::{length, mm, number};
use super::{Context, Out, Rule, rule, stages};
use crate::facts::CoatingLimits;
use crate::finding::{Finding, Severity};
use crate::identify::{Layer, Stated};
use crate::measure::coating::pitch_factor;
use crate::measure::tool::{Nose, pitch_diameter};
use crate::measure::vee::Vee;
use crate::standards::limits::Limits;
use crate::standards::thread::Thread;

rule! {
    /// # What it checks
    ///
    /// Whether a thread that will be coated leaves room for the layer: the pitch diameter that the
    /// passes leave, plus what the layer adds, against the limits.
    ///
    /// # Why it matters
    ///
    /// A layer stands on both flanks of a groove, so that the pitch diameter grows by four times the
    /// thickness at 60°, by eight times at 29°. A thread cut to the uncoated limits passes its gauge
    /// at the machine and sticks after plating, when it can no longer be mended.
    ///
    /// # The sum
    ///
    /// Growth of a bolt's pitch diameter, shrinkage of a nut's: 2 t / sin a, with the thickest layer.
    /// Where the limits hold before coating (ISO 965-1, ASME B1.1, and where nothing is said), the
    /// coated thread must not pass the basic size; where they hold after coating, it must not pass
    /// the limit.
    ///
    /// # What it needs
    ///
    /// The thread with its class and side, the thickness (`COATING 0.005-0.008` in the note, millimetres
    /// or inches as the program; a comment such as `ZINC PLATED 5-8 UM`; `coating_mm` of a
    /// `[[thread]]`), and the nose of the tool. Without the nose, only advice: the depth is then
    /// compared with the form's own root.
    ///
    /// # When it stays silent
    ///
    /// The allowance of the class takes up the layer; the pitch diameter lies outside its limits
    /// anyway, which depth-vs-form reports; a wear offset leaves the room, which the program does not
    /// show: then waive it.
    ///
    /// # Mend
    ///
    /// The last diameter that leaves the room is named; nothing is written for you, because the
    /// wear offset may be meant to do it.
    ///
    /// # Source
    ///
    /// ISO 965-1 and ASME B1.1 section 7 for the limits before and after coating; the factor is plane
    /// geometry.
    "coating-unaccounted", Warning,
    "the thread leaves no room for its coating",
    fixes: false, needs_designation: true, check
}

/// A pitch diameter this near to a bound, in mm, meets it.
const SLACK: f64 = 5e-4;

/// The layer against one thread.
struct Judged<'a, 'c> {
    rule: &'a Rule,
    cx: &'a Context<'c>,
    thread: &'a Thread,
    side: Side,
    layer: &'a Stated<Layer>,
    vee: Vee,
    limits: Limits,
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    if cx.section.chase || cx.is_groove() || stages::is_approach(cx) || stages::later(cx).is_some()
    {
        return;
    }
    let Some(layer) = &cx.identified.layer else {
        if let Some((_, line)) = cx.identified.layer_unknown {
            let why = format!("line {line} speaks of a coating, its thickness is missing");
            out.not_judged(rule, why);
        }
        return;
    };
    let Some(thread) = cx.thread() else {
        return out.not_judged(rule, "no designation is stated or inferred");
    };
    let Some(side) = cx.side() else {
        return out.not_judged(rule, "bolt or nut is not known");
    };
    let Some(root) = cx.table.root.filter(|_| cx.diameters_sure()) else {
        return out.not_judged(rule, "the diameter of the deepest pass is not known");
    };
    let Some(vee) = Vee::of(&thread.form()).filter(|_| thread.form().taper == 0.0) else {
        return out.not_judged(rule, "the thread is tapered or has no straight flanks");
    };
    let judged = Judged {
        rule,
        cx,
        thread,
        side,
        layer,
        vee,
        limits: thread.limits(side),
    };
    match &cx.identified.nose {
        Some(nose) => {
            if let Some(finding) = judged.with_nose(root.mm(), nose) {
                out.push(finding);
            }
        }
        None => {
            if let Some(finding) = judged.by_form(root.mm()) {
                out.push(finding);
            }
            out.not_judged(
                rule,
                "the nose of the tool is missing, so the pitch diameter is not worked out",
            );
        }
    }
}

impl Judged<'_, '_> {
    fn grows(&self) -> f64 {
        pitch_factor(self.vee) * self.layer.value.coating.max
    }

    /// The pitch diameter that the coated thread may not pass, and what it is.
    fn bound(&self) -> Option<(f64, String)> {
        let basic = self.thread.basic().pitch;
        if self.layer.value.limits == Some(CoatingLimits::After) {
            let (limit, what) = match self.side {
                Side::External => (self.limits.pitch.max?, "largest"),
                Side::Internal => (self.limits.pitch.min?, "smallest"),
            };
            let class = &self.limits.class;
            return Some((
                limit,
                format!("the {what} of {class}, which holds after coating"),
            ));
        }
        Some((
            basic,
            "the basic size, which a coated thread must not pass".to_owned(),
        ))
    }

    /// How far a pitch diameter passes the bound after coating; negative where there is room.
    fn past(&self, pitch_diameter: f64, bound: f64) -> f64 {
        match self.side {
            Side::External => pitch_diameter + self.grows() - bound,
            Side::Internal => bound - (pitch_diameter - self.grows()),
        }
    }

    fn with_nose(&self, root: f64, nose: &Stated<Nose>) -> Option<Finding> {
        let pitch = self.thread.pitch.mm();
        let cut = pitch_diameter(self.vee, pitch, self.side, nose.value, root);
        // Outside its limits it is wrong with and without a coating.
        if self.limits.pitch.excess(cut).abs() > SLACK {
            return None;
        }
        let (bound, what) = self.bound()?;
        let past = self.past(cut, bound);
        if past <= SLACK {
            return None;
        }
        let how = format!(
            "{}: with this nose the last diameter {} leaves a pitch diameter of {}",
            nose.from,
            self.text(root),
            self.text(cut)
        );
        let finding = self.found(root, cut, (past, bound, &what), how);
        Some(self.done(finding, root, past))
    }

    /// Without the nose: a depth that is the form's own, whose root leaves the basic pitch diameter.
    fn by_form(&self, root: f64) -> Option<Finding> {
        let basic = self.thread.basic();
        let design = match self.side {
            Side::External => basic.root,
            Side::Internal => basic.major,
        };
        // Farther off it was cut for some nose that is not known.
        if (root - design).abs() > 0.02 * self.thread.pitch.mm() {
            return None;
        }
        let (bound, what) = self.bound()?;
        let cut = basic.pitch + (root - design);
        let past = self.past(cut, bound);
        if past <= SLACK {
            return None;
        }
        let how = format!(
            "the last diameter {} is that of the form without a coating; with the form's own root \
             the pitch diameter comes to {}",
            self.text(root),
            self.text(cut)
        );
        let finding = self.found(root, cut, (past, bound, &what), how);
        Some(self.done(finding.severity(Severity::Advice), root, past))
    }

    /// `how` says where the pitch diameter that is cut comes from.
    fn found(
        &self,
        root: f64,
        cut: f64,
        (past, bound, what): (f64, f64, &str),
        how: String,
    ) -> Finding {
        let layer = self.layer.value.coating;
        let (change, sign) = match self.side {
            Side::External => ("grows", "+"),
            Side::Internal => ("shrinks", "-"),
        };
        let coated = match self.side {
            Side::External => cut + self.grows(),
            Side::Internal => cut - self.grows(),
        };
        self.rule
            .found(
                self.place(root),
                format!(
                    "no room for the coating: the pitch diameter {change} by {} to {}, {} past {what}",
                    self.text(self.grows()),
                    self.text(coated),
                    self.text(past)
                ),
            )
            .because(how)
            .because(format!(
                "{}: a layer of {} to {} µm",
                self.layer.from,
                number(layer.min * 1000.0, 2),
                number(layer.max * 1000.0, 2)
            ))
            .because(format!(
                "{} x {} mm = {} mm on the pitch diameter; {} {sign} {} = {} mm against {} mm",
                number(pitch_factor(self.vee), 3),
                number(layer.max, 4),
                number(self.grows(), 4),
                mm(cut),
                number(self.grows(), 4),
                mm(coated),
                mm(bound)
            ))
    }

    fn done(&self, finding: Finding, root: f64, past: f64) -> Finding {
        let inward = match self.side {
            Side::External => -past,
            Side::Internal => past,
        };
        let mut finding = finding;
        if let Some((span, line)) = self.cx.identified.place {
            finding = finding.related((span, line), "the thread is named here");
        }
        if let Some((span, line)) = self.layer.place {
            finding = finding.related((span, line), "the coating is named here");
        }
        let mut sources = self.limits.sources.clone();
        sources.push("ISO 965-1 and ASME B1.1 section 7: limits before and after coating");
        sources.push("the factor is plane geometry");
        finding.source(sources.join("; ")).help(format!(
            "a last diameter of {} leaves the room, if no wear offset already does; if the limits \
             hold otherwise, say LIMITS BEFORE or LIMITS AFTER in the note",
            self.text(root + inward)
        ))
    }

    fn place(&self, root: f64) -> (Span, u32) {
        let section = self.cx.section;
        let deepest = section
            .passes
            .iter()
            .find(|pass| pass.x.is_some_and(|x| (x.abs().mm() - root).abs() < 1e-6));
        let line = deepest.map_or(section.last_line, |pass| pass.line);
        super::words::at_line(section, lexer::section::Role::EndX, line)
            .map_or_else(|| self.cx.place(), |word| (word.span, word.line))
    }

    fn text(&self, value: f64) -> String {
        length(Length::from_mm(value), self.cx.section.units)
    }
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, judged, judged_with};
    use crate::facts::{Config, FILE_NAME, Facts};
    use crate::finding::Severity;

    const RULE: &str = "coating-unaccounted";

    /// At 60° the pitch diameter grows by 4 t (ASME B1.1 section 7).
    #[test]
    fn found_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                // M24x3-6h, d2 22.051 at most and basic: 21.995 leaves room for 14 µm, not for 20.
                (
                    "G21\n(THREAD M24X3-6H, NOSE 0.35, COATING 0.015-0.02)\nG97 S700 M3\nG0 X36. Z9.\nG76 P020055 Q60 R0.03\nG76 X20.097 Z-32. P1841 Q400 F3.\n",
                    "G21\n(THREAD M24X3-6H, NOSE 0.35, COATING 0.015-0.02)\nG97 S700 M3\nG0 X36. Z9.\nG76 P020055 Q60 R0.03\nG76 X20.06 Z-32. P1841 Q400 F3.\n",
                ),
                // A comment with its thickness; boxes. M30x2-6g, basic d2 28.701: 28.55 + 0.16.
                (
                    "G21\n(ZINC PLATED 30-40 UM)\n(THREAD M30X2-6G, NOSE 0.2)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.218\nG0 X90.\n",
                    "G21\n(ZINC PLATED 30-40 UM)\n(THREAD M30X2-6G, NOSE 0.2)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.2\nG0 X90.\n",
                ),
                // After coating the class itself must hold: 28.663 less 4 x 8 µm.
                (
                    "G21 G90 G95\nT0707\n(THREAD M30X2-6G, NOSE 0.2, COATING 0.008, LIMITS AFTER)\nG97 S600 M3\nG0 X34. Z6.\nG78 X29. Z-20. F2.\nX27.32\nG0 X90.\n",
                    "G21 G90 G95\nT0707\n(THREAD M30X2-6G, NOSE 0.2, COATING 0.008, LIMITS AFTER)\nG97 S600 M3\nG0 X34. Z6.\nG78 X29. Z-20. F2.\nX27.29\nG0 X90.\n",
                ),
                // Strokes, a nut: D2 34.051 less 4 x 10 µm.
                (
                    "G21\n(THREAD M36X3-6H, NOSE 0.2, COATING 0.01)\nG97 S600 M3\nG0 X31. Z10.\nX33.5\nG32 Z-27. F3.\nG0 X31.\nZ10.\nX36.27\nG32 Z-27. F3.\nG0 X31.\n",
                    "G21\n(THREAD M36X3-6H, NOSE 0.2, COATING 0.01)\nG97 S600 M3\nG0 X31. Z10.\nX33.5\nG32 Z-27. F3.\nG0 X31.\nZ10.\nX36.3\nG32 Z-27. F3.\nG0 X31.\n",
                ),
                // Inches, 3A without allowance: PD .6850 at most and basic.
                (
                    "G20\n(THREAD 3/4-10 UNC-3A, NOSE .012, COATING .0004)\nG97 S700 M3\nG0X.9Z.4\nG76X.6218Z-1.75K.0613D0150A60F.1\n",
                    "G20\n(THREAD 3/4-10 UNC-3A, NOSE .012, COATING .0004)\nG97 S700 M3\nG0X.9Z.4\nG76X.6205Z-1.75K.0613D0150A60F.1\n",
                ),
                // Without a nose: the root of the form, with a class that leaves no allowance.
                (
                    "; THREAD M24x2-4h, COATING 0.008\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                    "; THREAD M24x2-6g, COATING 0.008\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.25 Q27\n",
                ),
            ],
        );
    }

    #[test]
    fn without_a_nose_it_is_advice() {
        let text = "; THREAD M24x2-4h, COATING 0.008\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n";
        assert_eq!(findings(RULE, text)[0].severity, Severity::Advice);
    }

    #[test]
    fn from_the_configuration() {
        let text = "G21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.32\nG0 X90.\n";
        let found = |limits: &str| {
            let config = format!(
                "[[thread]]\ndesignation = \"M30x2-6g\"\ncoating_mm = [0.005, 0.008]\n{limits}\n\
                 [[tool]]\nnumber = 3\nnose_radius_mm = 0.2\n"
            );
            let facts = Config::parse(FILE_NAME, &config, &[])
                .unwrap()
                .facts("a.nc")
                .1;
            judged_with(RULE, text, &facts).len()
        };
        assert_eq!(found("coating_limits = \"after\""), 1);
        assert_eq!(found("coating_limits = \"before\""), 0);
        assert_eq!(found(""), 0);
    }

    #[test]
    fn silent_where_there_is_room_or_nothing_known() {
        assert_silent(
            RULE,
            &[
                // The allowance of 6g, 38 µm, takes up 4 x 8.
                "G21\n(THREAD M30X2-6G, NOSE 0.2, COATING 0.005-0.008)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.3\nG0 X90.\n",
                // The insert is coated, not the part.
                "G21\n(TIN COATED INSERT)\n(THREAD M30X2-6H, NOSE 0.2)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.3\nG0 X90.\n",
            ],
        );
        let text = "G21\n(PART IS NICKEL PLATED)\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.3\nG0 X90.\n";
        let reasons = judged(text, &Facts::default()).not_judged.concat();
        let why = reasons.iter().find(|(name, _)| *name == RULE).unwrap();
        assert!(why.1.contains("thickness is missing"), "{why:?}");
    }
}
