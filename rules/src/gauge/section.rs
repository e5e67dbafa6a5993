//! What the passes of a section leave behind.

use lexer::section::{Kind, Section, Val};

use super::finished::Blank;
use super::groove::{Groove, Placement};
use super::laid::laid;
use super::profile::Profile;
use super::verdict::{Verdict, verdict};
use crate::identify::Identified;
use crate::measure::tool::Nose;
use crate::table::Table;

/// The finished thread of a section.
#[derive(Debug, Clone, PartialEq)]
pub struct Left {
    /// The thread beside its limits; of several starts the one that lies farthest out.
    pub verdict: Verdict,
    /// The tip that it was worked out with.
    pub nose: Nose,
    /// What was taken for granted, in a sentence without a full stop.
    pub assumed: Option<&'static str>,
}

/// Said where the shift of each pass is the control's own.
const INSIDE: &str =
    "the infeed is taken to stay inside the flanks, so that the last pass shapes them";

/// What the passes leave.
///
/// # Errors
/// What is missing.
pub fn left(section: &Section, thread: &Identified, table: &Table) -> Result<Left, &'static str> {
    if section.kind != Kind::Turned {
        return Err("the thread is not cut with a single point");
    }
    let (named, _) = thread
        .thread
        .as_ref()
        .ok_or("no designation is stated or inferred")?;
    let side = section.side().ok_or("bolt or nut is not known")?;
    let form = named.form();
    let flanks = form.flanks.ok_or("the form has no straight flanks")?;
    let straight = matches!(section.cut.taper, Val::Exact(taper) if taper.is_zero());
    if !straight || form.taper != 0.0 {
        return Err("the thread is tapered or its taper is not known");
    }
    let nose = nose(thread).ok_or("the nose of the tool is missing")?;
    let crest = table.crest.ok_or("the crest is not known")?.mm();
    let root = table
        .root
        .ok_or("the diameter of the deepest pass is not known")?
        .mm();
    let blank = Blank {
        side,
        crest,
        pitch: named.pitch.mm(),
    };
    let inward = section.feed_direction() != Some(1);
    let profile = Profile::of(flanks, nose, inward);
    let limits = named.limits(side);
    let starts = table
        .rows
        .iter()
        .map(|row| row.start)
        .max()
        .map_or(0, |m| m + 1);
    let mut assumed = None;
    let mut worst: Option<Verdict> = None;
    for start in 0..starts {
        let placed = laid(section, &table.rows, start);
        let groove = match placed {
            Ok(placed) => Groove::cut(profile, placed.into_iter().map(|one| one.placement)),
            Err(_) => {
                assumed = Some(INSIDE);
                let depth = blank.depth(root);
                Groove::cut(profile, [Placement { u: 0.0, depth }])
            }
        };
        let Some(one) = verdict(&groove, blank, flanks, inward, &limits) else {
            return Err("the groove is nowhere half a pitch wide");
        };
        if worst.is_none_or(|worst| one.pitch_excess.abs() > worst.pitch_excess.abs()) {
            worst = Some(one);
        }
    }
    let verdict = worst.ok_or("the passes are not known")?;
    Ok(Left {
        verdict,
        nose,
        assumed,
    })
}

/// The tip of the tool, where the note or the tool's facts state it.
#[must_use]
pub fn nose(thread: &Identified) -> Option<Nose> {
    thread.nose.as_ref().map(|nose| nose.value)
}
