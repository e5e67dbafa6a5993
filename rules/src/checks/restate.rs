//! A section as it would be with other words, for the titles of fixes.

use lexer::law::{Law, depths};
use lexer::section::{Cut, Infeed, Pass, Section, Side, Syntax, Val};
use lexer::units::{Diameter, Length, Radial};

use super::Context;
use super::text::{length, number};
use crate::table::table;

/// The section with its cut changed. The passes of a cycle are split anew by its law; a list keeps
/// its passes.
pub(super) fn changed(section: &Section, change: impl FnOnce(&mut Cut)) -> Section {
    let mut after = section.clone();
    change(&mut after.cut);
    if !matches!(after.cut.law, Law::List) {
        after.passes = passes(&after);
    }
    after
}

/// Another thread height. In the drive-line cycle the crest stays and the root moves, elsewhere the
/// root is written and the crest follows.
pub(super) fn set_height(cut: &mut Cut, height: Radial, syntax: Syntax) {
    cut.height = Val::Exact(height);
    let moved = |from: Option<Diameter>, outward: bool| {
        Val::or_unknown(
            from.map(|x| {
                if outward {
                    x.out_by(height)
                } else {
                    x.in_by(height)
                }
            }),
            "not known",
        )
    };
    let external = cut.side.get() == Some(Side::External);
    if syntax == Syntax::DriveLine {
        cut.root_x = moved(cut.crest_x.get(), !external);
    } else {
        cut.crest_x = moved(cut.root_x.get(), external);
    }
}

fn passes(section: &Section) -> Vec<Pass> {
    let cut = &section.cut;
    let Some(height) = cut.height.get() else {
        return Vec::new();
    };
    let block = section.blocks.last();
    let travel = match (cut.start_z.get(), cut.end_z.get()) {
        (Some(start), Some(end)) => (end - start).signum(),
        _ => 0,
    };
    let mut before = Radial(Length::ZERO);
    depths(&cut.law, height)
        .into_iter()
        .map(|(depth, purpose)| {
            let x = match (cut.side.get(), cut.crest_x.get()) {
                (Some(Side::External), Some(crest)) => Some(crest.in_by(depth)),
                (Some(Side::Internal), Some(crest)) => Some(crest.out_by(depth)),
                _ => None,
            };
            let shift = match cut.infeed {
                Infeed::Flank(angle) => depth.mm() * angle.to_radians().tan(),
                _ => 0.0,
            };
            let step = Radial(depth.0 - before.0);
            before = depth;
            Pass {
                line: block.map_or(section.last_line, |block| block.line),
                span: block.map_or(section.span, |block| block.span),
                purpose,
                x_start: x,
                x,
                depth: Some(depth),
                step: Some(step),
                z_start: cut
                    .start_z
                    .get()
                    .map(|z| z + Length::from_mm(shift) * travel),
                z_end: cut.end_z.get(),
                lead: cut.lead.get(),
                start_angle: cut.start_angle,
                spindle: section.spindle,
                skip: None,
                legs: Vec::new(),
            }
        })
        .collect()
}

/// `0.92 mm deep in 9 passes, 12.3 s`; the height by the words where there is one, otherwise the
/// depth below the crest.
pub(super) fn summary(cx: &Context<'_>, section: &Section) -> String {
    let table = table(section, cx.identified, cx.facts);
    let depth = section
        .cut
        .height
        .get()
        .or_else(|| table.height(section.side()?))
        .filter(|depth| depth.0 > Length::ZERO);
    let depth = depth.map(|depth| format!("{} deep in ", length(depth.0, section.units)));
    let count = section.passes.len();
    let seconds = table
        .seconds
        .map(|seconds| format!(", {} s", number(seconds.total(), 1)));
    format!(
        "{}{count} {}{}",
        depth.unwrap_or_default(),
        if count == 1 { "pass" } else { "passes" },
        seconds.unwrap_or_default()
    )
}

/// `before -> after` of two sections.
pub(super) fn before_after(cx: &Context<'_>, after: &Section) -> String {
    format!("{} -> {}", summary(cx, cx.section), summary(cx, after))
}
