//! What was turned around a thread, as the rules about shoulders, reliefs and starts need it.

use lexer::contour::{Contour, Relief, Segment};
use lexer::section::{PullOut, Section, Side};
use lexer::source::Span;
use lexer::units::{Diameter, Length};

use super::text::{length, quoted};
use super::{Context, Out, Rule};

/// What a rule says that finds nothing turned before the thread.
pub(super) const NOTHING: &str = "what was turned before the thread is missing";

/// Lengths nearer than this in mm are the same: programs round to a hundredth.
pub(super) const SAME: f64 = 0.02;

/// How far in mm behind the bottom of a relief its wall may begin, with a slope or a radius.
const WALL: f64 = 3.0;

/// A thread between surfaces that the program cut.
pub(super) struct Surroundings<'a> {
    /// What was cut before and behind it.
    pub contour: Contour<'a>,
    /// Bolt or nut.
    pub side: Side,
    /// -1 when the stroke feeds towards -Z, 1 towards +Z.
    pub direction: i64,
    /// Start of the stroke.
    pub start: Length,
    /// End of the stroke.
    pub end: Length,
    /// Diameter at which the tool returns, where known.
    pub clear: Option<Diameter>,
    /// Last diameter.
    pub root: Diameter,
}

impl<'a> Surroundings<'a> {
    /// Those of a section; none where a value is missing, which is told when the program turned
    /// something that could matter. Chases, oil grooves and tapered threads have none.
    pub(super) fn of(rule: &Rule, cx: &Context<'a>, out: &mut Out) -> Option<Surroundings<'a>> {
        let section: &'a Section = cx.section;
        let cut = &section.cut;
        let tapered = cut.taper.get().is_none_or(|taper| !taper.is_zero());
        if section.chase || cx.is_groove() || tapered {
            return None;
        }
        let side = section.side()?;
        let contour = cx.contour();
        if let Some(doubt) = contour.doubt {
            out.not_judged(rule, format!("{} (line {})", doubt.value, doubt.line));
            return None;
        }
        if contour.is_unknown(side) {
            return None;
        }
        let (Some(direction), Some(root)) = (section.feed_direction(), cx.table.root) else {
            out.not_judged(rule, "start, end or last diameter of the stroke is missing");
            return None;
        };
        Some(Surroundings {
            contour,
            side,
            direction,
            start: cut.start_z.get()?,
            end: cut.end_z.get()?,
            clear: cut.start_x.get().map(Diameter::abs),
            root: root.abs(),
        })
    }

    /// How far `z` lies ahead of `from` on the way of the stroke, mm.
    pub(super) fn ahead(&self, from: Length, z: Length) -> f64 {
        ((z - from) * self.direction).mm()
    }

    /// How far `x` stands out of `from` towards the tool, radial mm.
    pub(super) fn out_of(&self, x: Diameter, from: Diameter) -> f64 {
        match self.side {
            Side::External => x.above(from).mm(),
            Side::Internal => from.above(x).mm(),
        }
    }

    /// The surface that the thread is cut into: turned, at a quarter, the middle and three quarters
    /// of the stroke, the one that stands out most.
    pub(super) fn crest(&self) -> Option<(Diameter, &'a Segment)> {
        let travel = self.end - self.start;
        (1..4)
            .filter_map(|quarter| {
                let z = self.start + Length::from_pm(travel.pm() / 4 * quarter);
                self.contour.at(self.side, z)
            })
            .filter(|surface| self.out_of(surface.x, self.root) > SAME)
            .max_by(|a, b| {
                self.out_of(a.x, self.root)
                    .total_cmp(&self.out_of(b.x, self.root))
            })
            .map(|surface| (surface.x, surface.by))
    }

    /// Where the surface of the crest begins for the stroke, as far as the program cut it.
    pub(super) fn entry(&self, crest: Diameter) -> Option<Length> {
        self.contour
            .of(self.side)
            .filter(|s| s.is_cylinder() && self.out_of(s.x_range().0, crest).abs() <= SAME)
            .map(|s| {
                let (low, high) = s.z_range();
                if self.direction < 0 { high } else { low }
            })
            .min_by(|a, b| {
                self.ahead(self.end, *a)
                    .total_cmp(&self.ahead(self.end, *b))
            })
    }

    /// A Z moved forward to where the surface of the crest begins: a facing cut in front of it is
    /// no groove.
    pub(super) fn not_before(&self, crest: Diameter, z: Length) -> Length {
        let begins = self
            .entry(crest)
            .map(|entry| entry + Length::from_mm(0.1) * self.direction);
        match begins {
            Some(begins) if self.ahead(z, begins) > 0.0 => begins,
            _ => z,
        }
    }

    /// Whether a groove ends at a wall that is higher than the crest: the relief of a thread in front
    /// of a shoulder, not the seat of a ring or a lock.
    pub(super) fn is_undercut(&self, relief: &Relief<'_>, crest: Diameter) -> bool {
        let far = if self.direction > 0 {
            relief.z.1
        } else {
            relief.z.0
        };
        let near = if self.direction > 0 {
            relief.z.0
        } else {
            relief.z.1
        };
        self.contour
            .shoulder(self.side, near, self.direction, crest)
            .is_some_and(|wall| self.ahead(far, wall.z) <= WALL)
    }

    /// Length of a pull-out along the axis in mm: `None` where the control's setting decides.
    pub(super) fn pull_out(&self, cx: &Context<'_>) -> Option<f64> {
        match &cx.section.cut.pull_out {
            PullOut::None => Some(0.0),
            PullOut::TenthsOfLead(tenths) => {
                let lead = cx.section.cut.lead.get()?.mm().abs();
                Some(f64::from(*tenths) / 10.0 * lead)
            }
            PullOut::Axial(length) => Some(length.abs().mm()),
            PullOut::Setting => None,
        }
    }
}

/// The place of a segment.
pub(super) const fn place(segment: &Segment) -> (Span, u32) {
    (segment.span, segment.line)
}

/// `X29.9 Z-45. in line 12`.
pub(super) fn cut_by(cx: &Context<'_>, segment: &Segment) -> String {
    quoted(cx.bytes, segment.span, segment.line)
}

/// A Z for messages: `Z -45 mm`.
pub(super) fn at_z(z: Length, cx: &Context<'_>) -> String {
    format!("Z {}", length(z, cx.section.units))
}
