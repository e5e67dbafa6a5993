//! Which thread the numbers speak for, where a designation is stated.

use lexer::section::Side;

use super::Context;
use crate::standards::thread::Thread;

/// Distance up to which numbers fit a thread.
const FITS: f64 = 0.1;

/// The thread other than the stated one that lead and diameters fit together: the designation may
/// be what is wrong.
pub(super) fn other_thread(cx: &Context<'_>, thread: &Thread) -> Option<String> {
    let best = cx.identified.candidates.first()?;
    let same = best.thread.major == thread.major && best.thread.lead() == thread.lead();
    (best.distance <= FITS && !same && !root_fits(cx, thread)).then(|| best.thread.designation())
}

/// Whether the deepest pass fits the thread's form, generously; true where it is not known.
pub(super) fn root_fits(cx: &Context<'_>, thread: &Thread) -> bool {
    let (Some(root), Some(side), true) = (cx.table.root, cx.side(), cx.diameters_sure()) else {
        return true;
    };
    let (p, d) = (thread.pitch.mm(), thread.major.mm());
    match side {
        Side::External => {
            let depth = (d - root.mm()) / 2.0;
            let band = thread.depth_band(side);
            let (min, max) = (band.min.unwrap_or(0.0), band.max.unwrap_or(f64::INFINITY));
            depth >= min - 0.05 * p && depth <= max + 0.12 * p
        }
        Side::Internal => (root.mm() - d).abs() <= 0.25 * p,
    }
}

/// Whether the numbers of an inch program are those of the thread in millimetres, or the other way
/// round: the deepest diameter fits after a change of units.
pub(super) fn other_units(cx: &Context<'_>, thread: &Thread) -> bool {
    let Some(root) = cx.table.root.filter(|_| cx.diameters_sure()) else {
        return false;
    };
    let (p, d) = (thread.pitch.mm(), thread.major.mm());
    [root.mm() * 25.4, root.mm() / 25.4]
        .into_iter()
        .any(|root| (d - 2.0 * p..=d + 0.5 * p).contains(&root))
}
