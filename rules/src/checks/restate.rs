//! A section as it would be with other words, for the titles of fixes.

use lexer::law::Law;
use lexer::section::{Cut, Pass, Section, Side, Syntax, Val};
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

/// Another thread height. Where the words give the crest it stays and the root moves, elsewhere the
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
    if syntax.counts_from_crest() {
        cut.root_x = moved(cut.crest_x.get(), !external);
    } else {
        cut.crest_x = moved(cut.root_x.get(), external);
    }
}

/// The passes of the cut's law, with the places and the spindle of the section.
fn passes(section: &Section) -> Vec<Pass> {
    let block = section.blocks.last();
    let mut all = lexer::syntax::passes(&section.cut, section.syntax);
    for pass in &mut all {
        pass.line = block.map_or(section.last_line, |block| block.line);
        pass.span = block.map_or(section.span, |block| block.span);
        pass.spindle = section.spindle;
    }
    all
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
