//! The depth of a tapered thread, judged in the plane in which its diameters are stated.

use lexer::section::{Role, Side};
use lexer::source::Span;

use crate::checks::text::{length_of_mm, mm, number, quoted};
use crate::checks::words::at_line;
use crate::checks::{Context, Rule};
use crate::finding::{Finding, Severity};
use crate::identify::Stated;
use crate::measure::tool::{Nose, pitch_diameter};
use crate::measure::vee::Vee;
use crate::standards::limits::Basic;
use crate::standards::planes::GaugePlanes;
use crate::standards::thread::Thread;

/// A part of the taper by which the cone of the passes may differ from the thread's.
const SAME_CONE: f64 = 0.05;
/// Leads by which the gauge plane may lie outside the stroke.
const OUTSIDE: f64 = 3.0;

/// The last pass in the gauge plane, mm.
struct Plane<'a, 'c> {
    cx: &'a Context<'c>,
    thread: &'a Thread,
    side: Side,
    planes: GaugePlanes,
    face: &'a Stated<f64>,
    /// Z of the plane in the program.
    z: f64,
    /// Diameter of the tool tip there.
    tip: f64,
    /// How far diameters may lie off because the gauge may stand off.
    play: Option<f64>,
}

/// A finding, none where the depth is right, or why it cannot be judged.
pub(super) fn judge(
    rule: &Rule,
    cx: &Context<'_>,
    thread: &Thread,
    side: Side,
) -> Result<Option<Finding>, String> {
    let plane = plane(cx, thread, side)?;
    let form = thread.form();
    let nose = cx.identified.nose.as_ref();
    if let (Some(nose), Some(vee), Some(play)) = (nose, Vee::of(&form), plane.play) {
        return Ok(plane.by_nose(rule, nose.value, vee, play));
    }
    Ok(plane.by_form(rule))
}

fn plane<'a, 'c>(
    cx: &'a Context<'c>,
    thread: &'a Thread,
    side: Side,
) -> Result<Plane<'a, 'c>, String> {
    let cut = &cx.section.cut;
    let form = thread.form();
    if form.taper == 0.0 {
        return Err("the passes lie on a cone, or their taper is not known".to_owned());
    }
    let Some(taper) = cut.taper.get().map(|taper| taper.mm()) else {
        return Err("the taper of the passes is not known".to_owned());
    };
    let Some(planes) = thread.gauge_planes(side) else {
        return Err(format!(
            "where along its cone the diameters of {} hold is not known",
            thread.designation()
        ));
    };
    let Some(face) = &cx.identified.face_z_mm else {
        return Err(
            "the Z of the face that the gauge plane counts from is missing: FACE 0 in the note"
                .to_owned(),
        );
    };
    let ends = (cut.start_z.get(), cut.end_z.get(), cut.root_x.get());
    let (Some(start), Some(end), Some(root)) = ends else {
        return Err("an end of the stroke is not known".to_owned());
    };
    let (start, end, root) = (start.mm(), end.mm(), root.abs().mm());
    let stroke = (start - end).abs();
    if stroke == 0.0 || (2.0 * taper.abs() / stroke - form.taper).abs() > SAME_CONE * form.taper {
        return Err("the passes do not lie on the cone of the thread".to_owned());
    }
    // Diameters grow from the start to the end where the radius at the start is the smaller.
    let grows = if taper < 0.0 {
        end - start
    } else {
        start - end
    }
    .signum();
    let z = face.value + grows * planes.gauge.z_mm;
    let room = OUTSIDE * thread.lead().mm();
    if z > start.max(end) + room || z < start.min(end) - room {
        return Err(format!(
            "the gauge plane, Z {}, lies outside the stroke",
            mm(z)
        ));
    }
    let play = planes.travel.min.zip(planes.travel.max).map(|(min, max)| {
        let gauge = planes.gauge.z_mm;
        form.taper * (gauge - min).abs().max((max - gauge).abs())
    });
    Ok(Plane {
        cx,
        thread,
        side,
        face,
        z,
        tip: root + 2.0 * taper * (z - end) / (start - end),
        play,
        planes,
    })
}

impl Plane<'_, '_> {
    fn basic(&self) -> Basic {
        self.planes.gauge.at
    }

    fn text(&self, mm: f64) -> String {
        length_of_mm(mm, self.cx.section.units)
    }

    fn place(&self) -> (Span, u32) {
        let section = self.cx.section;
        at_line(section, Role::EndX, section.last_line)
            .map_or_else(|| self.cx.place(), |word| (word.span, word.line))
    }

    fn begin(&self, rule: &Rule, message: String) -> Finding {
        let (section, face) = (self.cx.section, self.face);
        let mut finding = rule
            .found(self.place(), message)
            .severity(Severity::Warning);
        if let Some(word) = at_line(section, Role::EndX, section.last_line) {
            finding = finding.because(format!(
                "{}: the deepest pass ends here",
                quoted(self.cx.bytes, word.span, word.line)
            ));
        }
        finding = finding.because(format!(
            "{}: face at Z {}; the {} lies {} from it, at Z {}: the tool tip runs there at {}",
            face.from,
            self.text(face.value),
            self.planes.gauge.name,
            self.text(self.planes.gauge.z_mm.abs()),
            self.text(self.z),
            self.text(self.tip)
        ));
        if let Some((span, line)) = self.cx.identified.place {
            finding = finding.related((span, line), "the thread is named here");
        }
        let mut sources = vec![self.thread.form().source];
        for source in &self.planes.sources {
            if !sources.contains(source) {
                sources.push(source);
            }
        }
        finding.source(format!("{}; plane geometry", sources.join(", ")))
    }

    /// The pitch diameter in the gauge plane, against how far the gauge may stand off.
    fn by_nose(&self, rule: &Rule, nose: Nose, vee: Vee, play: f64) -> Option<Finding> {
        let pitch = self.thread.pitch.mm();
        let got = pitch_diameter(vee, pitch, self.side, nose, self.tip);
        let wanted = self.basic().pitch;
        let off = got - wanted;
        if off.abs() <= play + 5e-4 {
            return None;
        }
        let turns = off.abs() / self.thread.form().taper / self.thread.lead().mm();
        let finding = self.begin(
            rule,
            format!(
                "in the gauge plane the pitch diameter comes to {}, {} has {}: the gauge stands {} \
                 turns off",
                self.text(got),
                self.thread.designation(),
                self.text(wanted),
                number(turns, 1)
            ),
        );
        Some(
            finding
                .because(format!(
                    "the gauge may stand {} mm off on the diameter, here it is {}",
                    mm(play),
                    mm(off.abs())
                ))
                .help(format!(
                    "a wear offset of {} on the diameter, or a last diameter changed by as much, \
                     brings it to the gauge plane",
                    self.text(-off)
                )),
        )
    }

    /// Without the nose: from the form's least depth to that of a sharp tool.
    fn by_form(&self, rule: &Rule) -> Option<Finding> {
        let (pitch, basic, form) = (self.thread.pitch.mm(), self.basic(), self.thread.form());
        let band = form.depth_band(self.side, pitch);
        let slack = 0.02 * pitch + 0.02 + self.play.unwrap_or(form.taper * pitch) / 2.0;
        let sharp = form.sharp_height_mm(pitch).unwrap_or(0.0);
        let (depth, deepest) = match self.side {
            Side::External => (
                (basic.major - self.tip) / 2.0,
                (basic.major - basic.pitch + sharp) / 2.0,
            ),
            Side::Internal => (
                (self.tip - basic.minor) / 2.0,
                (basic.pitch - basic.minor + sharp) / 2.0,
            ),
        };
        let (min, max) = (band.min?, band.max?.max(deepest));
        if (min - slack..=max + slack).contains(&depth) {
            return None;
        }
        let shallow = depth < min;
        let finding = self.begin(
            rule,
            format!(
                "in the gauge plane the thread is too {}: {}, {} has {} to {}",
                if shallow { "shallow" } else { "deep" },
                self.text(depth),
                self.thread.designation(),
                self.text(min),
                self.text(band.max?)
            ),
        );
        let from = match self.side {
            Side::External => ("major", basic.major),
            Side::Internal => ("minor", basic.minor),
        };
        Some(
            finding
                .because(format!(
                    "{} diameter in the gauge plane {}; depth |{} - {}| / 2 = {} mm",
                    from.0,
                    self.text(from.1),
                    mm(from.1),
                    mm(self.tip),
                    mm(depth)
                ))
                .help(format!(
                    "the deepest pass must reach {} in that plane with the form's own depth",
                    self.text(match self.side {
                        Side::External => basic.major - 2.0 * form.design_depth(self.side, pitch),
                        Side::Internal => basic.minor + 2.0 * form.design_depth(self.side, pitch),
                    })
                )),
        )
    }
}

#[cfg(test)]
mod tests {
    use crate::checks::testing::{findings, judged, judged_with};
    use crate::facts::{Config, FILE_NAME, Facts};

    const RULE: &str = "depth-vs-form";

    /// R 1/2 of ISO 7-1: 20.955, 19.793 and 18.631 mm in the gauge plane, 8.2 mm from the small end;
    /// 11.8 mm farther in, at the end of the stroke, 0.7375 mm more.
    fn r_half(note: &str, x: f64) -> String {
        format!(
            "G21\n(THREAD R 1/2{note})\nG97 S600 M3\nG0 X26. Z6.\nG76 P020055 Q60 R0.03\n\
             G76 X{x:.3} Z-20. R-0.813 P1162 Q300 F1.814\n"
        )
    }

    #[test]
    fn judged_in_the_gauge_plane() {
        let end = 18.631 + 11.8 / 16.0;
        for (off, count) in [(0.0, 0), (-0.3, 0), (0.8, 1), (-1.6, 1)] {
            let found = findings(RULE, &r_half(", FACE 0", end + off));
            assert_eq!(found.len(), count, "{off} {found:?}");
        }
        let deep = findings(RULE, &r_half(", FACE Z0", end - 1.6));
        assert!(deep[0].message.contains("too deep"), "{deep:?}");
        assert!(deep[0].because[1].contains("Z -8.2 mm"), "{deep:?}");
    }

    /// With the nose of the form's own root, 0.137329 P = 0.249 mm (BS 84), the pitch diameter is
    /// right; the gauge may stand one turn off, 1.814 / 16 mm on the diameter (ISO 7-1).
    #[test]
    fn with_a_nose_the_gauge_counts() {
        let end = 18.631 + 11.8 / 16.0;
        for (off, count) in [(0.0, 0), (0.1, 0), (0.2, 1), (-0.2, 1)] {
            let found = findings(RULE, &r_half(", NOSE 0.249, FACE 0", end + off));
            assert_eq!(found.len(), count, "{off} {found:?}");
        }
        let found = findings(RULE, &r_half(", NOSE 0.249, FACE 0", end + 0.2268));
        assert!(found[0].message.contains("2 turns off"), "{found:?}");
    }

    #[test]
    fn the_face_from_the_configuration() {
        let config = "[[thread]]\ndesignation = \"R 1/2\"\nface_z_mm = 0\n";
        let facts = Config::parse(FILE_NAME, config, &[])
            .unwrap()
            .facts("a.nc")
            .1;
        let text = r_half("", 18.631 + 11.8 / 16.0 + 0.8).replace("(THREAD R 1/2)\n", "");
        let found = judged_with(RULE, &text, &facts);
        assert!(found[0].because[1].starts_with("flankwise.toml: thread 1 face_z_mm"));
    }

    #[test]
    fn what_is_missing_is_said() {
        let why = |text: &str| {
            let judgement = judged(text, &Facts::default());
            assert!(judgement.findings.iter().all(|f| f.rule != RULE), "{text}");
            let reasons = judgement.not_judged.concat();
            let of_rule = reasons.into_iter().find(|(name, _)| *name == RULE);
            of_rule.map(|(_, why)| why).unwrap_or_default()
        };
        assert!(why(&r_half("", 19.4)).contains("FACE 0"));
        assert!(why(&r_half(", FACE 0", 19.4).replace("R-0.813", "R-0.5")).contains("do not lie"));
        assert!(why(&r_half(", FACE 90", 19.4)).contains("outside the stroke"));
    }
}
