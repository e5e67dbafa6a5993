use lexer::section::{Role, RoleWord, Scale, Section, Side, Syntax, Val};
use lexer::source::Span;
use lexer::units::{Length, Radial};

use super::constants::{Constant, constant};
use super::text::{length, length_of_mm, mm, number, quoted};
use super::words::{at_line, spell_length, text_of};
use super::{Context, Out, Rule, restate, rule, slip, stages, wrong_side};
use crate::finding::{Edit, Finding, Fix, FixKind, Severity};
use crate::gauge::{nose_for, pitch_diameter};
use crate::standards::form::{Flanks, ROUNDED_ROOT};
use crate::standards::limits::Limits;
use crate::standards::thread::Thread;

rule! {
    /// # What it checks
    ///
    /// The diameter at which the deepest pass ends against the form of the thread. With the nose
    /// radius of the tool in the note (`NOSE 0.3`) the pitch diameter that comes out is worked out
    /// and compared with its limits; without it, what no tool nose can make right is reported, and
    /// what only one kind of nose makes right is said.
    ///
    /// # Why it matters
    ///
    /// The same last diameter gives pitch diameters more than half a millimetre apart, depending on
    /// the nose. And several constants circulate for the depth: 0.5413 P is the height of the nut,
    /// 0.6134 P the depth to a rounded root, 0.6495 P a teaching rule, 0.7578 P the depth of a sharp
    /// tool, 0.8660 P a full sharp V that no thread has. Take the wrong one, or a diameter for a
    /// radius, and the gauge says so after the part is cut.
    ///
    /// # The sum
    ///
    /// 60°: depth / P = (nominal diameter - last diameter) / 2 / P. With a nose radius r: bolt
    /// d2 = X + H - 2r, nut D2 = X - H + 2r, where H = 0.8660 P; other equal flanks with
    /// r · (1/sin a - 1) for r. A sharp tool (r = 0) leaves the largest bolt and the smallest nut
    /// that a last diameter can give; if even that lies beyond the limit, the part is scrap. Towards
    /// more material a wear offset mends it: a warning, and advice where only the allowance of the
    /// class is missing.
    ///
    /// # What it needs
    ///
    /// The thread, its side and the last diameter; better the nose and the class. No wear offset is
    /// taken into account: the sum holds for a tool whose tip stands where the program puts it.
    ///
    /// # When it stays silent
    ///
    /// Depths of 0.54 to 0.65 P (plus what the class allows) on a 60° bolt, nuts from their nominal
    /// diameter to the depth of a sharp tool, roughing that another section takes deeper, oil
    /// grooves, burr chases, tapered threads.
    ///
    /// # Mend
    ///
    /// Where a wrong constant is named beyond doubt, writes the last diameter and the height of the
    /// rounded root, 0.6134 P. Otherwise the wear offset or the nose that would be right is shown.
    ///
    /// # Source
    ///
    /// ISO 68-1, ISO 965-1, ASME B1.1 and the standards named in the finding. The pitch diameter
    /// from the nose is geometry.
    "depth-vs-form", Warning,
    "the deepest pass does not fit the form of the thread",
    fixes: true, needs_designation: true, check
}

/// Part of a pitch within which two depths are the same.
const SAME: f64 = 0.01;

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    if section.chase || cx.is_groove() || stages::is_approach(cx) || stages::later(cx).is_some() {
        return;
    }
    let Some(thread) = cx.thread() else {
        return out.not_judged(rule, "no designation is stated or inferred");
    };
    let Some(side) = cx.side() else {
        let why = section.cut.side.why().unwrap_or("bolt or nut is not known");
        return out.not_judged(rule, why);
    };
    let Some(root) = cx.table.root.map(|root| root.mm()) else {
        return out.not_judged(rule, "the diameter of the deepest pass is not known");
    };
    if !matches!(section.cut.taper, Val::Exact(taper) if taper.is_zero())
        || thread.form().taper != 0.0
    {
        return out.not_judged(rule, "the thread is tapered or its taper is not known");
    }
    // A height that is off by a factor, and a start on the wrong side, have rules of their own.
    let drive_line = section.syntax == Syntax::DriveLine;
    if wrong_side::is_other_side(thread, side, root) || drive_line && slip::height(cx).is_some() {
        return;
    }
    let judged = Judged {
        rule,
        cx,
        thread,
        side,
        root,
        limits: thread.limits(side),
    };
    if let Some(finding) = judged.finding() {
        out.push(finding);
    } else if cx.stated() && cx.identified.nose_radius_mm.is_none() {
        out.not_judged(
            rule,
            "the nose radius of the tool is missing, so the pitch diameter is not worked out",
        );
    }
}

/// What the sums rest on.
struct Judged<'a, 'c> {
    rule: &'a Rule,
    cx: &'a Context<'c>,
    thread: &'a Thread,
    side: Side,
    root: f64,
    limits: Limits,
}

impl Judged<'_, '_> {
    fn finding(&self) -> Option<Finding> {
        let flanks = self.thread.form().flanks;
        let v = flanks.filter(|f| f.leading_deg == f.trailing_deg && f.leading_deg >= 25.0);
        if let Some(finding) = self.crests_collide() {
            return Some(finding);
        }
        let Some(v) = v else {
            return self.outside_band();
        };
        if let Some(nose) = self.cx.identified.nose_radius_mm {
            return self.pitch_diameter(v, nose);
        }
        self.no_nose_fits(v)
            .or_else(|| self.only_a_fine_nose(v))
            .or_else(|| self.nut_minor())
    }

    fn pitch(&self) -> f64 {
        self.thread.pitch.mm()
    }

    /// Radial depth below the nominal crest: of a bolt from its major diameter, of a nut from its
    /// basic bore.
    fn depth(&self) -> f64 {
        match self.side {
            Side::External => (self.thread.major.mm() - self.root) / 2.0,
            Side::Internal => (self.root - self.thread.basic().minor) / 2.0,
        }
    }

    fn constant(&self) -> Option<Constant> {
        constant(self.thread, self.side, self.depth() / self.pitch())
    }

    fn text(&self, value: f64) -> String {
        length_of_mm(value, self.cx.section.units)
    }

    /// The word that makes the last diameter.
    fn place(&self) -> (Span, u32) {
        self.guilty()
            .map_or_else(|| self.cx.place(), |word| (word.span, word.line))
    }

    fn guilty(&self) -> Option<&RoleWord> {
        let section = self.cx.section;
        if section.syntax == Syntax::DriveLine {
            return section.word(Role::Height);
        }
        let deepest = section.passes.iter().find(|pass| {
            pass.x
                .is_some_and(|x| (x.abs().mm() - self.root).abs() < 1e-6)
        });
        at_line(
            section,
            Role::EndX,
            deepest.map_or(section.last_line, |pass| pass.line),
        )
    }

    /// A finding with the sum that all share.
    fn begin(&self, message: String) -> Finding {
        let basic = self.thread.basic();
        let mut finding = self.rule.found(self.place(), message);
        if let Some(word) = self.guilty() {
            finding = finding.because(format!(
                "{}: the deepest pass ends at {}",
                quoted(self.cx.bytes, word.span, word.line),
                self.text(self.root)
            ));
        }
        let (from, what) = match self.side {
            Side::External => (self.thread.major.mm(), "nominal major diameter"),
            Side::Internal => (basic.minor, "basic minor diameter"),
        };
        let depth = format!(
            "{} ({}): {what} {}; depth {} = {} of the pitch {}",
            self.thread.designation(),
            self.cx.identified.why,
            self.text(from),
            self.text(self.depth()),
            number(self.depth() / self.pitch(), 4),
            self.text(self.pitch())
        );
        finding = finding.because(depth);
        if let Some(constant) = self.constant() {
            finding = finding.because(format!(
                "{} P is {}",
                number(constant.per_pitch, 4),
                constant.what
            ));
        }
        if let Some((span, line)) = self.cx.identified.place {
            finding = finding.related((span, line), "the thread is named here");
        }
        let mut sources = vec![self.thread.form().source];
        for source in &self.limits.sources {
            if !sources.contains(source) {
                sources.push(source);
            }
        }
        finding.source(sources.join(", "))
    }

    fn stated_severity(&self, finding: Finding) -> Finding {
        if self.cx.stated() {
            finding.severity(Severity::Error)
        } else {
            finding
        }
    }

    /// Named in the message, where a wrong constant is recognised.
    fn named(&self) -> String {
        self.constant()
            .map_or(String::new(), |constant| format!(" ({})", constant.what))
    }

    /// The root of a bolt inside which the crests of its nut do not go, or the other way round.
    fn crests_collide(&self) -> Option<Finding> {
        let p = self.pitch();
        let (collides, limit, what) = match self.side {
            Side::External => {
                let bore = self.thread.basic().minor;
                (self.root > bore + SAME * p, bore, "the bore of its nut")
            }
            Side::Internal => {
                let major = self.thread.major.mm();
                (
                    self.root < major - 2.0 * SAME * p,
                    major,
                    "the crest of its bolt",
                )
            }
        };
        collides.then(|| {
            let finding = self.begin(format!(
                "the thread is too shallow: it ends at {}, {what} is {}{}",
                self.text(self.root),
                self.text(limit),
                self.named()
            ));
            let finding = self.stated_severity(finding).because(format!(
                "the two overlap by {}: they cannot be screwed together",
                self.text((self.root - limit).abs())
            ));
            self.help(finding)
        })
    }

    /// With the nose known: the pitch diameter against its limits.
    fn pitch_diameter(&self, flanks: Flanks, nose: f64) -> Option<Finding> {
        let predicted = pitch_diameter(flanks, self.pitch(), self.side, self.root, nose)?;
        let band = self.limits.pitch;
        let (min, max) = (band.min?, band.max?);
        let excess = band.excess(predicted);
        if excess.abs() < 5e-4 {
            return None;
        }
        let units = self.cx.section.units;
        let class = &self.limits.class;
        let effect = match (self.side, excess > 0.0) {
            (Side::External, true) => "the go gauge does not go on",
            (Side::External, false) => "the thread is loose and cannot be mended",
            (Side::Internal, true) => "the thread is loose and cannot be mended",
            (Side::Internal, false) => "the go gauge does not go in",
        };
        let target = f64::midpoint(min, max);
        let offset = target - predicted;
        let mut finding = self.begin(format!(
            "with a nose radius of {} the pitch diameter comes to {}, {} outside {} to {} of class \
             {class}: {effect}",
            length(Length::from_mm(nose), units),
            self.text(predicted),
            self.text(excess.abs()),
            self.text(min),
            self.text(max)
        ));
        let beyond = 1.0 / flanks.leading_deg.to_radians().sin() - 1.0;
        let height = flanks.sharp_height() * self.pitch();
        let (plus, minus) = match self.side {
            Side::External => ("+", "-"),
            Side::Internal => ("-", "+"),
        };
        finding = finding.because(format!(
            "pitch diameter = {} {plus} {} {minus} 2 x {} x {} = {} mm (last diameter, height of the \
             sharp V, nose)",
            mm(self.root),
            number(height, 4),
            number(beyond, 3),
            mm(nose),
            mm(predicted)
        ));
        if self.limits.class_assumed {
            finding = finding.because(format!("no class is written, {class} is assumed"));
        }
        // Towards more material a wear offset mends it; up to the basic size only the allowance of
        // the class is not in the program.
        let basic = self.thread.basic().pitch;
        let (loose, by_allowance) = match self.side {
            Side::External => (excess < 0.0, predicted <= basic + 5e-4),
            Side::Internal => (excess > 0.0, predicted >= basic - 5e-4),
        };
        finding = match (loose, by_allowance) {
            (true, _) if self.cx.stated() && !self.limits.class_assumed => {
                finding.severity(Severity::Error)
            }
            (false, true) => finding.severity(Severity::Advice).because(format!(
                "the program is written to the basic profile (pitch diameter {}); the allowance of \
                 {class} is left to the wear offset",
                self.text(basic)
            )),
            _ => finding,
        };
        Some(finding.help(format!(
            "a wear offset of {} on the diameter, or a last diameter of {}, gives the middle of the \
             limits",
            signed(self, offset),
            self.text(self.root + offset)
        )))
    }

    /// Deeper than a sharp tool may go: no nose makes the pitch diameter right.
    fn no_nose_fits(&self, flanks: Flanks) -> Option<Finding> {
        let band = self.limits.pitch;
        let limit = match self.side {
            Side::External => band.min,
            Side::Internal => band.max,
        };
        let limit = limit.unwrap_or(self.thread.basic().pitch);
        let sharp = pitch_diameter(flanks, self.pitch(), self.side, self.root, 0.0)?;
        let beyond = match self.side {
            Side::External => limit - sharp,
            Side::Internal => sharp - limit,
        };
        if beyond <= 5e-4 {
            return None;
        }
        let (which, what) = match self.side {
            Side::External => ("smallest", "below"),
            Side::Internal => ("largest", "above"),
        };
        let finding = self.begin(format!(
            "the thread is too deep: even a sharp tool leaves a pitch diameter of {}, {} {what} the \
             {which} of class {}{}",
            self.text(sharp),
            self.text(beyond),
            self.limits.class,
            self.named()
        ));
        let height = flanks.sharp_height() * self.pitch();
        let sign = if self.side == Side::External {
            "+"
        } else {
            "-"
        };
        let finding = self.stated_severity(finding).because(format!(
            "pitch diameter of a sharp tool = {} {sign} {} = {} mm; the limit is {} mm",
            mm(self.root),
            number(height, 4),
            mm(sharp),
            mm(limit)
        ));
        Some(self.help(finding))
    }

    /// Deeper than the form, but right with a fine nose.
    fn only_a_fine_nose(&self, flanks: Flanks) -> Option<Finding> {
        if self.side == Side::Internal {
            // A nut is deep enough from its nominal diameter on; beyond it only the tip goes.
            return None;
        }
        let p = self.pitch();
        let deepest = self.thread.depth_band(self.side).max?;
        let band = self.limits.pitch;
        let basic = self.thread.basic().pitch;
        let play = band.min.map_or(0.0, |min| (basic - min) / 2.0);
        if self.depth() <= deepest + play + SAME * p {
            return None;
        }
        let nose = |wanted: f64| nose_for(flanks, p, self.side, self.root, wanted);
        let most = nose(band.min.unwrap_or(basic))?;
        let least = nose(band.max.unwrap_or(basic))?.max(0.0);
        let units = self.cx.section.units;
        let finding = self
            .begin(format!(
                "the thread is deeper than its form, {} of the pitch: right only with a tool nose of \
                 {} to {}{}",
                number(self.depth() / p, 3),
                length(Length::from_mm(least), units),
                length(Length::from_mm(most), units),
                self.named()
            ))
            .severity(Severity::Advice)
            .because(format!(
                "the form goes to {} of the pitch, {} with the tolerance of class {}",
                number(deepest / p, 4),
                number((deepest + play) / p, 4),
                self.limits.class
            ));
        Some(finding.help(
            "write the nose radius of the tool into the note, (THREAD …, NOSE r), to have the pitch \
             diameter worked out",
        ))
    }

    /// A bolt that ends at the minor diameter of its nut.
    fn nut_minor(&self) -> Option<Finding> {
        let (p, basic) = (self.pitch(), self.thread.basic());
        if self.side == Side::Internal || (self.root - basic.minor).abs() > SAME * p {
            return None;
        }
        let right = self.rounded_root()?;
        let finding = self
            .begin(format!(
                "the bolt ends at {}, the minor diameter of its nut (1.0825 P below the nominal \
                 diameter): shallow unless the tool has a flat of a quarter of the pitch",
                self.text(self.root)
            ))
            .severity(Severity::Advice)
            .because(format!(
                "a rounded root lies 1.2269 P below the nominal diameter, at {}",
                self.text(right)
            ));
        Some(finding.help(format!(
            "check the pitch diameter and the wear offset in use; for a tool with a rounded nose the \
             last diameter is {}",
            self.text(right)
        )))
    }

    /// A form with flat roots, against the depths of its standard.
    fn outside_band(&self) -> Option<Finding> {
        let p = self.pitch();
        let band = self.thread.depth_band(self.side);
        let play = match (self.side, self.limits.minor.min) {
            (Side::External, Some(min)) => ((self.thread.basic().root - min) / 2.0).max(0.0),
            _ => 0.0,
        };
        let slack = 0.02 * p + 0.02;
        let (min, max) = (band.min? - slack, band.max? + play + slack);
        let depth = self.depth();
        if (min..=max).contains(&depth) {
            return None;
        }
        let finding = self.begin(format!(
            "the thread is too {}: {} of the pitch, the form has {} to {}{}",
            if depth < min { "shallow" } else { "deep" },
            number(depth / p, 3),
            number(band.min? / p, 3),
            number(band.max? / p, 3),
            self.named()
        ));
        Some(self.help(finding))
    }

    /// Root diameter of a bolt with the rounded root that the finding advises.
    fn rounded_root(&self) -> Option<f64> {
        let form = self.thread.form();
        let sixty = form.flanks? == Flanks::symmetric(30.0);
        let p = self.pitch();
        let design = form.design_depth(Side::External, p);
        let depth = if sixty && design < ROUNDED_ROOT * p && !self.rounded_by_name() {
            ROUNDED_ROOT * p
        } else {
            design
        };
        Some(self.thread.major.mm() - 2.0 * depth)
    }

    /// Forms whose own drawing has a rounded root, less deep than that of M.
    fn rounded_by_name(&self) -> bool {
        let root = self.thread.form().external.root;
        root.flat.is_none() && root.radius.is_some()
    }

    /// What to do, and a fix where a wrong constant is recognised.
    fn help(&self, finding: Finding) -> Finding {
        if self.side == Side::Internal {
            return finding.help(format!(
                "a nut ends at its nominal diameter, {}, or a little beyond with a fine nose",
                self.text(self.thread.major.mm())
            ));
        }
        let Some(right) = self.rounded_root() else {
            return finding.help("correct the last diameter and the height");
        };
        let finding = finding.help(format!(
            "the root of {} lies at {}",
            self.thread.designation(),
            self.text(right)
        ));
        match self.fix(right) {
            Some(fix) if self.cx.stated() && self.constant().is_some() => finding.fix(fix),
            _ => finding,
        }
    }

    /// Writes the right root: the last diameter with the height that keeps the crest, or in the
    /// drive-line cycle the height alone.
    fn fix(&self, right: f64) -> Option<Fix> {
        let section = self.cx.section;
        let change = Length::from_mm((right - self.root) / 2.0);
        let height = section.word(Role::Height)?;
        let mut wanted = Radial(section.cut.height.get()?.0 - change);
        if let Scale::Increments(units) = height.scale {
            // Rounded up: the crest must not come to lie inside the nominal one.
            let least = units.least_increment().pm();
            let count = (wanted.0.pm() as f64 / least as f64 - 0.05).ceil();
            wanted = Radial(Length::from_pm(count as i64 * least));
        }
        if wanted.0 <= Length::ZERO {
            return None;
        }
        let mut edits = Vec::new();
        let mut titles = Vec::new();
        let mut replace = |word: &RoleWord, value: Length| {
            let text = spell_length(word, value);
            titles.push(format!(
                "{}{text} for {}",
                word.letter as char,
                text_of(self.cx.bytes, word.span)
            ));
            edits.push(Edit {
                span: word.value_span,
                text,
            });
        };
        match section.syntax {
            Syntax::TwoBlock | Syntax::OneBlock => {
                let mirrored = section.word(Role::EndX)?.length()? < Length::ZERO;
                let end = Length::from_mm(if mirrored { -right } else { right });
                replace(section.word(Role::EndX)?, end);
                replace(height, wanted.0);
            }
            Syntax::DriveLine => replace(height, wanted.0),
            _ => return None,
        }
        edits.sort_by_key(|edit| edit.span.start);
        let after = self.after(right, wanted);
        Some(Fix {
            title: format!(
                "write {}: root {} -> {}; {}",
                titles.join(" and "),
                self.text(self.root),
                self.text(right),
                restate::before_after(self.cx, &after)
            ),
            kind: FixKind::Motion,
            edits,
        })
    }

    fn after(&self, right: f64, height: Radial) -> Section {
        let syntax = self.cx.section.syntax;
        restate::changed(self.cx.section, |cut| {
            if syntax != Syntax::DriveLine {
                cut.root_x = Val::Exact(lexer::units::Diameter::from_mm(right));
            }
            restate::set_height(cut, height, syntax);
        })
    }
}

fn signed(judged: &Judged<'_, '_>, value: f64) -> String {
    let sign = if value < 0.0 { "-" } else { "+" };
    format!("{sign}{}", judged.text(value.abs()))
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{assert_pairs, assert_silent, findings, judged};
    use crate::facts::Facts;
    use crate::finding::Severity;

    const RULE: &str = "depth-vs-form";

    fn two_block(note: &str, x: &str, p: &str) -> String {
        format!(
            "G21\n{note}\nG97 S700 M3\nG0 X36. Z9.\nG76 P020055 Q60 R0.03\nG76 X{x} Z-32. P{p} Q400 F3.\n"
        )
    }

    #[test]
    fn found_and_mended_in_every_syntax() {
        assert_pairs(
            RULE,
            &[
                // A full sharp V.
                (
                    "G20\n(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.5768Z-1.75K.0866D0150A60F.1\n",
                    "G20\n(THREAD 3/4-10 UNC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6273Z-1.75K.0613D0150A60F.1\n",
                ),
                // The depth on the diameter, taken as a radius, height and all.
                (
                    "G21\n(THREAD M30X2-6G)\nG97 S700 M3\nG0 X34. Z9.\nG76 P020055 Q60 R0.03\nG76 X25.092 Z-32. P2454 Q400 F2.\n",
                    "G21\n(THREAD M30X2-6G)\nG97 S700 M3\nG0 X34. Z9.\nG76 P020055 Q60 R0.03\nG76 X27.546 Z-32. P1227 Q400 F2.\n",
                ),
                // Half the depth.
                (
                    "G21\n(THREAD M30X2-6G)\nG97 S700 M3\nG0 X34. Z9.\nG76 P020055 Q60 R0.03\nG76 X28.773 Z-32. P614 Q400 F2.\n",
                    "G21\n(THREAD M30X2-6G)\nG97 S700 M3\nG0 X34. Z9.\nG76 P020055 Q60 R0.03\nG76 X27.546 Z-32. P1228 Q400 F2.\n",
                ),
                // Boxes: nothing is written, too many diameters would change.
                (
                    "G21 G90 G95\n(THREAD M42X1.5-6G)\nG97 S600 M3\nG0 X46. Z6.\nG78 X41. Z-20. F1.5\nX39.402\nG0 X90.\n",
                    "G21 G90 G95\n(THREAD M42X1.5-6G)\nG97 S600 M3\nG0 X46. Z6.\nG78 X41. Z-20. F1.5\nX40.16\nG0 X90.\n",
                ),
                (
                    "G71\nG90 G95\nT0606\n(THREAD M60X2-6G)\nG97 S600 M3\nG0 X64. Z8.\nG21 X59.3 Z-18. F2.\nX58.5\nG0 X90.\n",
                    "G71\nG90 G95\nT0606\n(THREAD M60X2-6G)\nG97 S600 M3\nG0 X64. Z8.\nG21 X59.3 Z-18. F2.\nX57.546\nG0 X90.\n",
                ),
                // Strokes, a nut that ends at its bore.
                (
                    "G21\n(THREAD M36X3-6H)\nG97 S600 M3\nG0 X31. Z10.\nX32.9\nG32 Z-27. F3.\nG0 X31.\nZ10.\nX33.\nG32 Z-27. F3.\nG0 X31.\n",
                    "G21\n(THREAD M36X3-6H)\nG97 S600 M3\nG0 X31. Z10.\nX32.9\nG32 Z-27. F3.\nG0 X31.\nZ10.\nX36.\nG32 Z-27. F3.\nG0 X31.\n",
                ),
                // The drive line: the height alone makes the root.
                (
                    "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.732 Q27\n",
                    "; THREAD M24x2-6g\nG21 G18 G8 G90\nG97 S800 M3\nG0 X14 Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n",
                ),
                // The minor diameter of the nut.
                (
                    "G21\n(THREAD M20X1.5-6G)\nG97 S700 M3\nG0 X24. Z9.\nG76 P020055 Q60 R0.03\nG76 X18.376 Z-32. P812 Q300 F1.5\n",
                    "G21\n(THREAD M20X1.5-6G)\nG97 S700 M3\nG0 X24. Z9.\nG76 P020055 Q60 R0.03\nG76 X18.16 Z-32. P920 Q300 F1.5\n",
                ),
            ],
        );
    }

    /// The pitch diameters of M24x3 cut to 20.319 mm: d2 = X + 2.598 - 2r; limits of 6g are
    /// 21.803 and 22.003 (ISO 965-1, worked in the tests of the standard).
    #[test]
    fn with_a_nose_the_pitch_diameter_counts() {
        let one = |nose: &str, x: &str| {
            let note = format!("(THREAD M24X3-6G, NOSE {nose})");
            let found = findings(RULE, &two_block(&note, x, "1841"));
            found.first().map(|finding| {
                (
                    finding.severity,
                    finding.message.clone(),
                    finding.help.clone(),
                )
            })
        };
        // r = 0.3: 22.317, far too big, mended by a wear offset of -0.414.
        let (severity, message, help) = one("0.3", "20.319").unwrap();
        assert_eq!(severity, Severity::Warning);
        assert!(message.contains("22.317 mm, 0.314 mm outside"), "{message}");
        assert!(help.contains("-0.414 mm"), "{help}");
        // r = 0.433: the basic size; only the allowance is missing.
        assert_eq!(one("0.433", "20.319").unwrap().0, Severity::Advice);
        assert_eq!(one("0.433", "20.171"), None);
        // r = 0.6: 21.717, loose.
        assert_eq!(one("0.6", "20.319").unwrap().0, Severity::Error);
        // The minor diameter of the nut with a nose that makes it right: no advice.
        assert_eq!(one("0.70", "20.752"), None);
    }

    #[test]
    fn an_inferred_thread_makes_no_error() {
        let text = "G20\nG97 S700 M3\nG0X.9Z.4\nG76X.5768Z-1.75K.0866D0150A60F.1\n";
        let named = text.replace("G20", "G20(3/4-10 UNC)");
        assert_eq!(findings(RULE, &named)[0].severity, Severity::Error);
        let found = findings(RULE, text);
        assert!(
            found
                .iter()
                .all(|finding| finding.severity < Severity::Error)
        );
    }

    #[test]
    fn a_fine_nose_may_go_deeper() {
        // 0.72 P: right for a nose of about 0.1 mm, if anybody says so.
        let found = findings(RULE, &two_block("(THREAD M24X3-6G)", "19.68", "2160"));
        assert_eq!(found[0].severity, Severity::Advice, "{found:?}");
        assert!(
            found[0]
                .message
                .contains("tool nose of 0.138 mm to 0.238 mm"),
            "{found:?}"
        );
        let found = findings(
            RULE,
            &two_block("(THREAD M24X3-6G, NOSE 0.2)", "19.68", "2160"),
        );
        assert!(found.is_empty(), "{found:?}");
    }

    #[test]
    fn a_missing_nose_is_said() {
        let judgement = judged(
            &two_block("(THREAD M24X3-6G)", "20.319", "1841"),
            &Facts::default(),
        );
        let reasons = judgement.not_judged.concat();
        assert!(
            reasons
                .iter()
                .any(|(name, why)| *name == RULE && why.contains("nose radius")),
            "{reasons:?}"
        );
    }

    #[test]
    fn silent_on_accepted_depths() {
        // 5/8 H is the nut's; from a little more to 3/4 H, and what 6g allows beyond.
        for x in ["20.70", "20.5", "20.319", "20.103", "19.955"] {
            let text = two_block("(THREAD M24X3-6G)", x, "1841");
            assert!(findings(RULE, &text).is_empty(), "{x}");
        }
        // Nuts from the nominal diameter to the depth of a sharp tool.
        for x in ["36.", "36.1", "36.325", "36.6"] {
            let text = format!(
                "G21\n(THREAD M36X3-6H)\nG97 S600 M3\nG0 X31. Z10.\nG92 X34. Z-27. F3.\nX{x}\nG0 Z50.\n"
            );
            assert!(findings(RULE, &text).is_empty(), "{x}");
        }
        assert_silent(
            RULE,
            &[
                // Roughed by one cycle, finished by the next.
                "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG76 P020055 Q80 R0.05\nG76 X28.146 Z-36. P927 Q350 F2.\nG76 P010055 Q50 R0.02\nG76 X27.546 Z-36. P1227 Q900 F2.\n",
                // Oil groove, tapered thread, nothing known.
                "G21\nG97 S60 M3\nG0 X84. Z2.\nX85.8\nG32 Z-14. F32.\nG0 X84.\nZ2.\nX86.4\nG32 Z-14. F32.\nG0 X84.\n",
                "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. R-1.4 F2.\nX26.\nG0 X90.\n",
                "G21\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.2\nX26.\nG0 X90.\n",
                // UNR is drawn with 0.595 P.
                "G20\n(THREAD 3/4-10 UNRC-2A)\nG97 S700 M3\nG0X.9Z.4\nG76X.6309Z-1.75K.0595D0150A60F.1\n",
            ],
        );
    }
}
