mod cone;

use lexer::section::{Side, Val};
use lexer::units::Length;

use super::depth_fit::{Judged, SAME};
use super::text::{length, mm, number};
use super::{Context, Out, Rule, rule, slip, stages, wrong_side};
use crate::finding::{Finding, Severity};
use crate::identify::X_MODE;
use crate::measure::tool::{Nose, pitch_diameter, radius_for};
use crate::measure::vee::Vee;
use crate::standards::form::Flanks;

rule! {
    /// # What it checks
    ///
    /// The diameter at which the deepest pass ends against the form of the thread: what no tool nose
    /// can make right is reported, and what only one kind of nose makes right is said. Where the
    /// nose is known, `pitch-diameter-out` judges the pitch diameter that it leaves.
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
    /// that a last diameter can give; if even that lies beyond the limit, the part is scrap.
    ///
    /// # What it needs
    ///
    /// The thread, its side and the last diameter; better the class too. No wear offset is
    /// taken into account: the sum holds for a tool whose tip stands where the program puts it. A
    /// tapered thread is judged in its gauge plane, and for that the Z of the face that the plane
    /// counts from must be told: `FACE 0` in the note, or `face_z_mm` of the `[[thread]]`.
    ///
    /// # When it stays silent
    ///
    /// Depths of 0.54 to 0.65 P (plus what the class allows) on a 60° bolt, the flat root that UN is
    /// drawn with, nuts from their nominal diameter to the depth of a sharp tool, roughing that another section takes deeper, oil
    /// grooves, burr chases, tapered threads without their face.
    ///
    /// # Mend
    ///
    /// Where a wrong constant is named beyond doubt, writes the last diameter and the height of the
    /// rounded root, 0.6134 P. Otherwise the nose that would be right is shown.
    ///
    /// # Source
    ///
    /// ISO 68-1, ISO 965-1, ASME B1.1 and the standards named in the finding. The pitch diameter
    /// from the nose is geometry.
    "depth-vs-form", Error,
    "the deepest pass does not fit the form of the thread",
    fixes: true, needs_designation: true, check
}

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    if section.chase || cx.is_groove() || stages::is_approach(cx) || stages::later(cx).is_some() {
        return;
    }
    if !cx.diameters_sure() {
        return out.not_judged(rule, X_MODE);
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
    let straight = matches!(section.cut.taper, Val::Exact(taper) if taper.is_zero());
    if !straight || thread.form().taper != 0.0 {
        return match cone::judge(rule, cx, thread, side) {
            Ok(finding) => out.findings.extend(finding),
            Err(why) => out.not_judged(rule, why),
        };
    }
    // A height that is off by a factor, and a start on the wrong side, have rules of their own.
    let from_crest = section.syntax.counts_from_crest();
    if wrong_side::is_other_side(thread, side, root) || from_crest && slip::height(cx).is_some() {
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
    if let Some(mut finding) = judged.finding() {
        if !cx.stated() {
            // The last diameter is what named the thread: outside its form another may be meant.
            finding.severity = Severity::Advice;
        }
        out.push(finding);
    }
}

impl Judged<'_, '_> {
    fn finding(&self) -> Option<Finding> {
        let flanks = self.thread.form().flanks;
        let v = flanks.filter(|f| f.leading_deg == f.trailing_deg && f.leading_deg >= 25.0);
        if let Some(finding) = self.crests_collide() {
            return Some(finding);
        }
        let Some(v) = v else {
            return self.outside_band().filter(|_| self.cx.stated());
        };
        // With the nose known the pitch diameter itself is judged, by a rule of its own.
        if self.cx.identified.nose.is_some() {
            return None;
        }
        self.no_nose_fits(v)
            .or_else(|| self.only_a_fine_nose(v))
            .or_else(|| self.nut_minor())
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

    /// Deeper than a sharp tool may go: no nose makes the pitch diameter right.
    fn no_nose_fits(&self, flanks: Flanks) -> Option<Finding> {
        let band = self.limits.pitch;
        let limit = match self.side {
            Side::External => band.min,
            Side::Internal => band.max,
        };
        let limit = limit.unwrap_or(self.thread.basic().pitch);
        let vee = Vee::between(flanks)?;
        let sharp = pitch_diameter(vee, self.pitch(), self.side, Nose::Radius(0.0), self.root);
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
        // A class that is only assumed may be a wider one.
        let width = band.min.zip(band.max).map_or(0.0, |(min, max)| max - min);
        let finding = if self.limits.class_assumed && beyond < width {
            finding
        } else {
            self.stated_severity(finding)
        };
        let finding = finding.because(format!(
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
        let vee = Vee::between(flanks)?;
        let nose = |wanted: f64| radius_for(vee, p, self.side, self.root, wanted);
        let most = nose(band.min.unwrap_or(basic));
        let least = nose(band.max.unwrap_or(basic)).max(0.0);
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
        // A form that is drawn with a flat root ends there by its own drawing.
        let drawn = self.thread.form().design_depth(self.side, p);
        let flat = 2.0 * drawn <= self.thread.major.mm() - basic.minor + SAME * p;
        if self.side == Side::Internal || flat || (self.root - basic.minor).abs() > SAME * p {
            return None;
        }
        // Whitworth forms have one root for both: there it is right.
        let right = self.rounded_root()?;
        if (self.root - right).abs() <= SAME * p {
            return None;
        }
        let below = |diameter: f64| number((basic.major - diameter) / p, 4);
        let finding = self
            .begin(format!(
                "the bolt ends at {}, the minor diameter of its nut ({} P below the nominal \
                 diameter): shallow unless the tool has a flat of a quarter of the pitch",
                self.text(self.root),
                below(basic.minor)
            ))
            .severity(Severity::Advice)
            .because(format!(
                "a rounded root lies {} P below the nominal diameter, at {}",
                below(right),
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
}

#[cfg(test)]
mod tests;
