use lexer::machine::Machine;
use lexer::section::{Section, Side, Syntax};
use lexer::units::Length;

use super::depth_fit::Judged;
use super::text::{length, mm, number};
use super::{Context, Out, Rule, rule, slip, stages, wrong_side};
use crate::finding::{Finding, Severity};
use crate::gauge::section::{Left, left, nose};
use crate::identify::X_MODE;
use crate::measure::tool::{Nose, pitch_diameter};
use crate::measure::vee::Vee;

rule! {
    /// # What it checks
    ///
    /// The pitch diameter that the passes leave with the nose of the tool, against the limits of the
    /// class. All passes are laid into the work with the tool's profile, each at its own place along
    /// the axis, and the groove is measured.
    ///
    /// # Why it matters
    ///
    /// The pitch diameter decides whether the gauges go, and no word of the program states it. The
    /// same last diameter gives pitch diameters more than half a millimetre apart, depending on the
    /// nose; a pass that is shifted along the axis widens the groove too.
    ///
    /// # The sum
    ///
    /// Where the last pass covers those before, for a nose of radius r: bolt d2 = X + H - 2r, nut
    /// D2 = X - H + 2r at 60°, H = 0.8660 P; other flanks with the height of the sharp tip below
    /// the nose for r. A shift s of one pass along the axis takes 2 s / (tan a + tan b) more, 1.732 s
    /// at 60°. The wear offset that mends it is the difference to the middle of the limits, on the
    /// diameter.
    ///
    /// # What it needs
    ///
    /// The thread with its side and class, the last diameter, and the nose of the tool: `NOSE 0.4` in
    /// the note or the `[[tool]]`. Without the nose it does not judge; `flankwise passes` then shows
    /// which noses would be right. No wear offset is taken into account: the sum holds for a tool whose tip stands where
    /// the program puts it.
    ///
    /// # When it stays silent
    ///
    /// For roughing that another section takes deeper, a groove that another section widens along the
    /// axis, oil grooves, burr chases, tapered threads, and
    /// forms without straight flanks. A thread that is too large by no more than the allowance of its
    /// class is an advice only: many shops leave that to the wear offset.
    ///
    /// # Mend
    ///
    /// The wear offset, or the last diameter, that gives the middle of the limits; another nose. Too
    /// loose, the part cannot be mended.
    ///
    /// # Source
    ///
    /// The limits of the thread's standard, named in the finding. The pitch diameter from the nose is
    /// geometry.
    "pitch-diameter-out", Error,
    "with the tool's nose the pitch diameter comes out beyond its limits",
    fixes: false, needs_designation: true, check
}

const NO_NOSE: &str = "the nose of the tool is missing, so the pitch diameter is not worked out";

fn check(rule: &Rule, cx: &Context<'_>, out: &mut Out) {
    let section = cx.section;
    if section.chase || cx.is_groove() || stages::is_approach(cx) || stages::later(cx).is_some() {
        return;
    }
    if !cx.diameters_sure() {
        return out.not_judged(rule, X_MODE);
    }
    let (Some(thread), Some(side), Some(root)) = (cx.thread(), cx.side(), cx.table.root) else {
        // Said by the rule about depth and form.
        return;
    };
    let judged = Judged {
        rule,
        cx,
        thread,
        side,
        root: root.mm(),
        limits: thread.limits(side),
    };
    let drive_line = section.syntax == Syntax::DriveLine;
    if wrong_side::is_other_side(thread, side, root.mm())
        || drive_line && slip::height(cx).is_some()
        || judged.crests_apart()
    {
        return;
    }
    if nose(cx.identified).is_some() && widened(cx, thread.pitch.mm()) {
        return out.not_judged(
            rule,
            "another section cuts this thread from a start that lies beside, or with another offset, \
             so the two make the groove together",
        );
    }
    match left(section, cx.identified, cx.table) {
        Ok(left) => out.findings.extend(judged.pitch_diameter(&left)),
        Err(why) if nose(cx.identified).is_some() => out.not_judged(rule, why),
        Err(_) if cx.stated() => out.not_judged(rule, NO_NOSE),
        Err(_) => {}
    }
}

/// Whether another section cuts the same thread, to nearly the same root, from a start that is
/// shifted by no whole number of pitches, or with another offset of the same tool, whose place the
/// program does not tell: together they make a wider groove. A whole pitch is the same groove or
/// another start.
fn widened(cx: &Context<'_>, pitch: f64) -> bool {
    let own = cx.section;
    let word = |section: &Section| section.tool.map(|tool| tool.value);
    let station = |section: &Section| word(section).map(Machine::station);
    let places = |section: &Section| {
        let cut = &section.cut;
        let mm = |z: Option<Length>| z.map(Length::mm);
        Some((
            mm(section.passes.last()?.z_start)?,
            mm(cut.end_z.get())?,
            cut.root_x.get()?.abs().mm(),
        ))
    };
    let Some((start, end, root)) = places(own) else {
        return false;
    };
    cx.seen.sections();
    let mut others = cx.program.sections.iter().enumerate();
    others.any(|(index, other)| {
        let Some((z, other_end, other_root)) = places(other) else {
            return false;
        };
        let beside = ((z - start) / pitch).fract().abs();
        let beside = beside.min(1.0 - beside) * pitch;
        index != cx.index
            && station(other) == station(own)
            && other.side() == own.side()
            && other.cut.lead.get() == own.cut.lead.get()
            && (other_end - end).abs() <= 1.5 * pitch
            && (other_root - root).abs() <= 0.3 * pitch
            && (beside > 2e-3 || word(other) != word(own))
    })
}

impl Judged<'_, '_> {
    /// Whether the root does not even reach the mating crest: said by the rule about depth and form.
    fn crests_apart(&self) -> bool {
        let slack = 0.01 * self.pitch();
        match self.side {
            Side::External => self.root > self.thread.basic().minor + slack,
            Side::Internal => self.root < self.thread.major.mm() - 2.0 * slack,
        }
    }

    fn pitch_diameter(&self, left: &Left) -> Option<Finding> {
        let verdict = &left.verdict;
        let band = self.limits.pitch;
        let (min, max) = (band.min?, band.max?);
        let (predicted, excess) = (verdict.finished.pitch, verdict.pitch_excess);
        if excess == 0.0 {
            return None;
        }
        let class = &self.limits.class;
        let effect = match (self.side, excess > 0.0) {
            (Side::External, true) => "the go gauge does not go on",
            (Side::External, false) | (Side::Internal, true) => {
                "the no-go gauge goes, the thread is loose and cannot be mended"
            }
            (Side::Internal, false) => "the go gauge does not go in",
        };
        let offset = f64::midpoint(min, max) - predicted;
        let (shape, size) = match left.nose {
            Nose::Radius(radius) => ("radius", radius),
            Nose::Flat(flat) => ("flat", flat),
        };
        let mut finding = self.begin(format!(
            "with a nose {shape} of {} the pitch diameter comes to {}, {} outside {} to {} of class \
             {class}: {effect}",
            length(Length::from_mm(size), self.cx.section.units),
            self.text(predicted),
            self.text(excess.abs()),
            self.text(min),
            self.text(max)
        ));
        finding = self.sum(finding, left)?;
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
        if !self.cx.stated() {
            finding = finding.severity(Severity::Advice);
        }
        let sign = if offset < 0.0 { "-" } else { "+" };
        Some(finding.help(format!(
            "a wear offset of {sign}{} on the diameter, or a last diameter of {}, gives the middle of \
             the limits; prove it out with the offset on the safe side and gauge the first part",
            self.text(offset.abs()),
            self.text(self.root + offset)
        )))
    }

    /// The sum of the closed form, and what the simulation adds to it.
    fn sum(&self, finding: Finding, left: &Left) -> Option<Finding> {
        let vee = Vee::of(&self.thread.form())?;
        let closed = pitch_diameter(vee, self.pitch(), self.side, left.nose, self.root);
        let (plus, minus) = match self.side {
            Side::External => ("+", "-"),
            Side::Internal => ("-", "+"),
        };
        let mut finding = finding.because(format!(
            "pitch diameter = {} {plus} {} {minus} 2 x {} = {} mm (last diameter, height of the sharp \
             V, tip above the sharp apex)",
            mm(self.root),
            number(vee.sharp_height(self.pitch()), 4),
            number(left.nose.short_of_apex(vee), 4),
            mm(closed)
        ));
        let got = left.verdict.finished.pitch;
        if (got - closed).abs() > 5e-4 {
            finding = finding.because(format!(
                "the passes do not lie one in the other along the axis: together they leave {} mm",
                mm(got)
            ));
        }
        if let Some(assumed) = left.assumed {
            finding = finding.because(assumed);
        }
        Some(finding)
    }
}

#[cfg(test)]
mod tests;
