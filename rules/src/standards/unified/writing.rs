//! Prints unified designations in the one way that [`read`](super::reading::read) takes back.

use lexer::units::Units;

use super::super::Hand;
use super::super::inch::{decimals, size, write_pitch};
use super::super::thread::{Engagement, Thread};

/// The canonical text.
pub(super) fn write(thread: &Thread) -> String {
    let mut text = size(thread);
    text += &write_pitch(thread);
    text += &format!(" {}", thread.series);
    let classes: Vec<&str> = [&thread.external, &thread.internal]
        .into_iter()
        .filter_map(|class| class.as_deref())
        .collect();
    if !classes.is_empty() {
        text += &format!("-{}", classes.join("/"));
    }
    if thread.hand == Hand::Left {
        text += "-LH";
    }
    if let Some(Engagement::Length(length)) = thread.engagement {
        text += &format!(" LE={}", decimals(Units::Inch.value_of(length), 8));
    }
    text
}
