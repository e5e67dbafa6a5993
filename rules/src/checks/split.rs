//! What the rules about passes and speeds share: the section before that cut the same thread.

use lexer::section::Section;
use lexer::source::Mark;
use lexer::units::Length;

use super::Context;

/// The section right before, where it cut the same thread and this one goes over it again: same
/// program, tool, side and lead, ends at the same place, and the roots lie within the depth of a
/// thread.
pub(super) fn earlier<'a>(cx: &Context<'a>) -> Option<&'a Section> {
    let (now, before) = (
        cx.section,
        cx.program.sections.get(cx.index.checked_sub(1)?)?,
    );
    let same_part = !cx
        .program
        .parts
        .iter()
        .any(|part| before.last_line < part.first_line && part.first_line <= now.first_line);
    let tool = |section: &Section| section.tool.map(|tool| tool.value);
    let lead = now.cut.lead.get()?;
    let near = |a: Length, b: Length, limit: f64| (a.mm() - b.mm()).abs() <= limit;
    let pitch = lead.mm().abs();
    (same_part
        && tool(now) == tool(before)
        && now.side().is_some()
        && now.side() == before.side()
        && before.cut.lead.get() == Some(lead)
        && near(now.cut.end_z.get()?, before.cut.end_z.get()?, 1.5 * pitch)
        && near(
            now.cut.root_x.get()?.0,
            before.cut.root_x.get()?.0,
            1.3 * pitch,
        ))
    .then_some(before)
}

/// Whether the section chases the one before with the same S word, so that what is wrong with the
/// speed was said there.
pub(super) fn repeats(cx: &Context<'_>, speed: Mark<f64>) -> bool {
    let before = cx
        .index
        .checked_sub(1)
        .and_then(|index| cx.program.sections.get(index));
    cx.section.chase
        && before.is_some_and(|before| {
            let mut passes = before.passes.iter();
            passes.any(|pass| pass.spindle.speed == Some(speed))
        })
}
