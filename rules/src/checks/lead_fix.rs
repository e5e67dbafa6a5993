//! Writes another lead into the words of a section.

use lexer::section::{Role, RoleWord, Val};
use lexer::units::Lead;

use super::text::lead as lead_text;
use super::words::{append, is_own, spell_lead};
use super::{Context, restate};
use crate::finding::{Edit, Fix, FixKind};

/// Edits of every lead word of the section with this value; an insertion where the word in force
/// stands before the section. None where the words of the section differ.
pub(super) fn edits(cx: &Context<'_>, word: &RoleWord, text: &str, line: u32) -> Option<Vec<Edit>> {
    if !is_own(cx.section, word) {
        let mut blocks = cx.section.blocks.iter();
        let block = blocks.find(|block| block.line == line)?;
        let new = format!("{}{text}", word.address());
        return Some(vec![append(cx.bytes, block.span, &[new])?]);
    }
    let mut edits: Vec<Edit> = Vec::new();
    for other in cx.section.words.iter().filter(|w| w.role == Role::Lead) {
        if other.length() != word.length() || other.number.value() != word.number.value() {
            return None;
        }
        if is_own(cx.section, other) && !edits.iter().any(|edit| edit.span == other.value_span) {
            let wanted = cx.thread()?.lead();
            edits.push(Edit {
                span: other.value_span,
                text: spell_lead(other, wanted),
            });
        }
    }
    edits.sort_by_key(|edit| edit.span.start);
    Some(edits)
}

/// Writes `new` for `old` in all of the edits.
pub(super) fn fix(
    cx: &Context<'_>,
    new: &str,
    old: &str,
    lead: Lead,
    wanted: Lead,
    edits: Vec<Edit>,
) -> Fix {
    let units = cx.section.units;
    let mut after = restate::changed(cx.section, |cut| cut.lead = Val::Exact(wanted));
    for pass in &mut after.passes {
        pass.lead = Some(wanted);
    }
    Fix {
        title: format!(
            "write {new} for {old}: lead {} -> {}; {}",
            lead_text(lead, units),
            lead_text(wanted, units),
            restate::before_after(cx, &after)
        ),
        kind: FixKind::Motion,
        edits,
    }
}
