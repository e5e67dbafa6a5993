//! Names of threads, those of the shop's own forms included.

use std::sync::Arc;

use crate::nearest::nearest;
use crate::standards::Side;
use crate::standards::custom::Custom;
use crate::standards::designation::parse;
use crate::standards::thread::Thread;

/// The thread of a name: a form of the shop's own, or a designation of a standard.
///
/// # Errors
/// Says why the text is neither, with the nearest names.
pub(super) fn named(
    forms: &[Arc<Custom>],
    text: &str,
    side: Option<Side>,
) -> Result<Thread, String> {
    if let Some(form) = forms.iter().find(|form| form.is_named(text)) {
        let thread = form.thread();
        return Ok(match side {
            Some(side) => thread.on(side),
            None => thread,
        });
    }
    parse(text, side).map_err(|error| {
        let own = nearest(text, forms.iter().map(|form| form.name.as_str()));
        match own {
            Some(own) => format!(
                "`{}` is not a thread: did you mean the form {own}?",
                error.text
            ),
            None => error.to_string(),
        }
    })
}
