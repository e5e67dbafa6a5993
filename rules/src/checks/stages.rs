//! How a section is led up to: from its start point, and by other sections that cut the same thread,
//! roughed by one list or cycle and finished by the next.

use lexer::law::Law;
use lexer::section::{Section, Side, Syntax};
use lexer::source::Span;
use lexer::units::Diameter;

use super::Context;
use super::lines::words_between;

/// The section before that began this thread and left it shallower.
pub(super) fn earlier<'a>(cx: &Context<'a>) -> Option<&'a Section> {
    let before = cx.program.sections.get(cx.index.checked_sub(1)?)?;
    (goes_on(cx, before, cx.section) || slipped(cx, before, cx.section)).then_some(before)
}

/// The section behind that takes this thread deeper.
pub(super) fn later<'a>(cx: &Context<'a>) -> Option<&'a Section> {
    let behind = cx.program.sections.get(cx.index + 1)?;
    (goes_on(cx, cx.section, behind) || slipped(cx, cx.section, behind)).then_some(behind)
}

/// The move that takes the tool to its start diameter, or the section.
pub(super) fn start_place(cx: &Context<'_>) -> (Span, u32) {
    let start = cx.section.cut.start_x.get();
    let mut moves = cx.section.moves.iter();
    moves
        .rfind(|m| m.after_pass == 0 && start.is_some() && m.to.0 == start && m.from.0 != m.to.0)
        .map_or_else(|| cx.place(), |m| (m.span, m.line))
}

/// Whether `b` is the rest of a list of strokes that was parted by a pass that goes back.
fn slipped(cx: &Context<'_>, a: &Section, b: &Section) -> bool {
    let deepest = |section: &Section| section.cut.root_x.get().map(Diameter::abs);
    let deeper = match (a.side(), deepest(a), deepest(b)) {
        (Some(Side::External), Some(a), Some(b)) => b < a,
        (Some(Side::Internal), Some(a), Some(b)) => b > a,
        _ => false,
    };
    deeper && same_list(cx, a, b)
}

/// Whether one run of strokes follows another without a break: same tool, side, lead, start and
/// end.
pub(super) fn same_list(cx: &Context<'_>, a: &Section, b: &Section) -> bool {
    /// Blocks between two strokes: out, back, in, and a few words more.
    const BETWEEN: usize = 6;

    let listed = |section: &Section| {
        section.syntax == Syntax::Strokes && matches!(section.cut.law, Law::List)
    };
    listed(a)
        && listed(b)
        && a.side().is_some()
        && a.side() == b.side()
        && a.tool.map(|tool| tool.span) == b.tool.map(|tool| tool.span)
        && a.cut.lead.get() == b.cut.lead.get()
        && a.cut.start_z.get() == b.cut.start_z.get()
        && a.cut.end_z.get() == b.cut.end_z.get()
        && a.cut.start_x.get() == b.cut.start_x.get()
        && words_between(cx, a.last_line, b.first_line, BETWEEN) < BETWEEN
}

/// Whether `b` goes on where `a` left off: same side, lead and end, nearly the same diameters, and
/// its first pass lies nearer to the root of `a` than to its first pass.
fn goes_on(cx: &Context<'_>, a: &Section, b: &Section) -> bool {
    let apart = |from: u32, to: u32| {
        let parts = &cx.program.parts;
        parts
            .iter()
            .any(|p| p.first_line > from && p.first_line <= to)
    };
    let (Some(lead), Some(other)) = (a.cut.lead.get(), b.cut.lead.get()) else {
        return false;
    };
    let (Some(end), Some(other_end)) = (a.cut.end_z.get(), b.cut.end_z.get()) else {
        return false;
    };
    let near_end = (end - other_end).abs().mm() <= 1.5 * lead.mm().abs();
    if lead != other || a.side().is_none() || a.side() != b.side() || !near_end {
        return false;
    }
    let inward = if a.side() == Some(Side::External) {
        1.0
    } else {
        -1.0
    };
    let depth = |x: Option<Diameter>| x.map(|x| -inward * x.abs().mm());
    let first = |section: &Section| depth(section.passes.first().and_then(|pass| pass.x));
    let (Some(a_first), Some(b_first)) = (first(a), first(b)) else {
        return false;
    };
    let (Some(a_root), Some(b_root)) = (depth(a.cut.root_x.get()), depth(b.cut.root_x.get()))
    else {
        return false;
    };
    b_root > a_root + 0.001
        && b_root - a_root < 2.0 * lead.mm().abs()
        && 2.0 * (b_first - a_first) > a_root - a_first - 0.001
        && !apart(a.last_line, b.first_line)
}

/// Whether the section is but the first plunge of hand-written strokes that came from the other
/// side of the blank: one pass, with the rest of the strokes behind it.
pub(super) fn is_approach(cx: &Context<'_>) -> bool {
    let (one, Some(next)) = (cx.section, cx.program.sections.get(cx.index + 1)) else {
        return false;
    };
    let tool = |section: &Section| section.tool.map(|tool| tool.value);
    one.syntax == Syntax::Strokes
        && next.syntax == Syntax::Strokes
        && one.passes.len() == 1
        && one.side() != next.side()
        && tool(one) == tool(next)
        && one.cut.lead.get() == next.cut.lead.get()
        && one.cut.end_z.get() == next.cut.end_z.get()
}
