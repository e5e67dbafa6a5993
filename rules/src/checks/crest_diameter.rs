//! The diameter that was turned or bored before a thread is cut into it.

use lexer::contour::Segment;
use lexer::section::Side;
use lexer::units::Length;

use super::text::{length, mm, quoted};
use super::{Context, Out, Rule, stages};
use crate::facts::ToolKind;
use crate::finding::{Finding, Severity};
use crate::standards::limits::Band;

/// How much may be left on the diameter for an insert that tops the crest, mm (common practice, no
/// source).
const TOPPING: f64 = 0.3;
/// Diameters nearer than this are the same, mm: programs round to a hundredth.
const SAME: f64 = 0.01;

/// What a rule about the crest compares.
struct Crest<'a> {
    cx: &'a Context<'a>,
    side: Side,
    /// The diameter that was cut, mm.
    cut: f64,
    by: &'a Segment,
    /// Its limits by the class.
    limits: Band,
    /// The same without deviations.
    basic: f64,
    class: String,
    class_assumed: bool,
    sources: String,
}

/// Compares what was cut on a side before the thread with the limits of its crest.
pub(super) fn judge(rule: &Rule, cx: &Context<'_>, side: Side, out: &mut Out) {
    let section = cx.section;
    if cx.side() != Some(side) || section.chase || cx.is_groove() || stages::is_approach(cx) {
        return;
    }
    // A second section of the same thread finds the crest as the first has left it.
    if stages::earlier(cx).is_some() || !cx.diameters_sure() {
        return;
    }
    let contour = cx.program.contour(cx.index);
    let Some((cut, by)) = surface(cx, side, &contour) else {
        return;
    };
    let Some(thread) = cx.thread() else {
        return out.not_judged(rule, "no designation is stated or inferred");
    };
    if thread.form().taper != 0.0 || section.cut.taper.get().is_none_or(|t| !t.is_zero()) {
        return out.not_judged(rule, "the thread is tapered or its taper is not known");
    }
    if !by.stock.is_zero() {
        return out.not_judged(
            rule,
            "the surface is only roughed, its finishing is not known",
        );
    }
    let (limits, basic) = (thread.limits(side), thread.basic());
    let (band, basic) = match side {
        Side::External => (limits.major, basic.major),
        Side::Internal => (limits.minor, basic.minor),
    };
    if band == Band::OPEN {
        return out.not_judged(
            rule,
            format!(
                "the limits of the crest of {} are not known",
                thread.designation()
            ),
        );
    }
    let crest = Crest {
        cx,
        side,
        cut,
        by,
        limits: band,
        basic,
        class: limits.class.clone(),
        class_assumed: limits.class_assumed,
        sources: limits.sources.join(", "),
    };
    out.findings.extend(crest.finding(rule));
}

/// The finished surface that the thread is cut into, where the program cut one: among those along
/// the stroke that stand out of its root, the one that stands out most.
fn surface<'a>(
    cx: &Context<'a>,
    side: Side,
    contour: &lexer::contour::Contour<'a>,
) -> Option<(f64, &'a Segment)> {
    let (start, end) = (cx.section.cut.start_z.get()?, cx.section.cut.end_z.get()?);
    let root = cx.table.root?.abs().mm();
    let out_of_root = |x: f64| match side {
        Side::External => x - root,
        Side::Internal => root - x,
    };
    let travel = end - start;
    (2..8)
        .filter_map(|eighth| contour.at(side, start + Length::from_pm(travel.pm() / 8 * eighth)))
        .map(|surface| (surface.x.abs().mm(), surface.by))
        .filter(|(x, by)| by.is_cylinder() && out_of_root(*x) > 0.02)
        .max_by(|a, b| out_of_root(a.0).total_cmp(&out_of_root(b.0)))
}

impl Crest<'_> {
    fn text(&self, mm: f64) -> String {
        length(Length::from_mm(mm), self.cx.section.units)
    }

    /// How far the crest has too much material, and how far too little; mm on the diameter.
    fn off(&self) -> (f64, f64) {
        let over = self.limits.max.map_or(0.0, |max| self.cut - max).max(0.0);
        let under = self.limits.min.map_or(0.0, |min| min - self.cut).max(0.0);
        match self.side {
            Side::External => (over, under),
            Side::Internal => (under, over),
        }
    }

    fn finding(&self, rule: &Rule) -> Option<Finding> {
        let (much, little) = self.off();
        if little > SAME {
            return Some(self.too_little(rule, little));
        }
        if much <= SAME {
            return None;
        }
        let kind = self.cx.identified.tool.as_ref().and_then(|tool| tool.kind);
        let past_basic = match self.side {
            Side::External => self.cut - self.basic,
            Side::Internal => self.basic - self.cut,
        };
        let tops = matches!(kind, Some(ToolKind::Full | ToolKind::Chaser));
        if tops && past_basic <= TOPPING {
            return None;
        }
        let (severity, why) = if past_basic <= SAME {
            (
                Severity::Advice,
                "the program is written to the basic size; the allowance of the class is left to the \
                 wear offset",
            )
        } else if kind.is_none() && past_basic <= TOPPING {
            (
                Severity::Advice,
                "right only for an insert with a full profile, which cuts the crest; no [[tool]] says \
                 what it is",
            )
        } else if tops {
            (
                Severity::Warning,
                "more than a full profile should have to cut from the crest",
            )
        } else {
            (
                Severity::Warning,
                "a partial profile leaves the crest as it was turned",
            )
        };
        let (what, meets) = match self.side {
            Side::External => ("above the largest major diameter", "the nut"),
            Side::Internal => ("below the smallest minor diameter", "the bolt"),
        };
        let finding = self
            .begin(
                rule,
                format!("{} {what} of class {}", self.text(much), self.class),
            )
            .severity(severity)
            .because(why);
        Some(finding.help(format!("turn it to {}, so that {meets} goes", self.range())))
    }

    fn too_little(&self, rule: &Rule, by: f64) -> Finding {
        let (what, shows) = match self.side {
            Side::External => ("below the smallest major diameter", "flat crests"),
            Side::Internal => ("above the largest minor diameter", "too little overlap"),
        };
        self.begin(
            rule,
            format!("{} {what} of class {}", self.text(by), self.class),
        )
        .because(format!(
            "the thread comes out with {shows}, whatever its depth"
        ))
        .help(format!("bring the surface to {}", self.range()))
    }

    fn range(&self) -> String {
        match (self.limits.min, self.limits.max) {
            (Some(min), Some(max)) => format!("{} to {}", self.text(min), self.text(max)),
            (Some(min), None) => format!("at least {}", self.text(min)),
            (None, Some(max)) => format!("at most {}", self.text(max)),
            (None, None) => String::new(),
        }
    }

    fn begin(&self, rule: &Rule, off: String) -> Finding {
        let cut = match self.side {
            Side::External => "turned",
            Side::Internal => "bored",
        };
        let mut finding = rule
            .found(
                (self.by.span, self.by.line),
                format!("{cut} to {} before the thread, {off}", self.text(self.cut)),
            )
            .because(format!(
                "{}: {cut} to {}",
                quoted(self.cx.bytes, self.by.span, self.by.line),
                self.text(self.cut)
            ))
            .because(format!(
                "{}: {} ({} mm without deviation)",
                self.cx.identified.why,
                self.range(),
                mm(self.basic)
            ))
            .source(self.sources.clone());
        if self.class_assumed {
            finding = finding.because(format!("no class is written, {} is assumed", self.class));
        }
        let thread = (self.cx.section.span, self.cx.section.first_line);
        finding.related(thread, "the thread is cut here")
    }
}
