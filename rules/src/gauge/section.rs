//! What the passes of a section leave behind.

use lexer::section::{Kind, Section, Val};

use super::finished::Blank;
use super::groove::{Groove, Placement};
use super::laid::laid;
use super::profile::Profile;
use super::verdict::{Verdict, verdict};
use crate::identify::{From, Identified};
use crate::measure::tool::{Nose, largest_radius, pitch_diameter, radius_for};
use crate::measure::vee::Vee;
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

/// What noses would leave, where the nose is not known; lengths in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noses {
    /// The largest root radius of the thread.
    pub largest: f64,
    /// The smallest and the largest pitch diameter, from a sharp tip to the largest root radius.
    pub pitch: [f64; 2],
    /// The nose radii that bring the pitch diameter to its two limits, the smaller first; none where
    /// the limits are not known, or where even a sharp tip cuts too deep.
    pub right: Option<[f64; 2]>,
}

/// The noses for a thread whose designation is stated; `None` where the nose is known, or a fact
/// besides it is missing. It takes the infeed to stay inside the flanks.
#[must_use]
pub fn noses(section: &Section, thread: &Identified, table: &Table) -> Option<Noses> {
    let (named, from) = thread.thread.as_ref()?;
    let straight = matches!(section.cut.taper, Val::Exact(taper) if taper.is_zero());
    let form = named.form();
    if *from == From::Numbers
        || section.kind != Kind::Turned
        || nose(thread).is_some()
        || !straight
        || form.taper != 0.0
    {
        return None;
    }
    let (side, vee) = (section.side()?, Vee::of(&form)?);
    let (pitch, root) = (named.pitch.mm(), table.root?.mm());
    let largest = largest_radius(named, side)?;
    let at = |radius: f64| pitch_diameter(vee, pitch, side, Nose::Radius(radius), root);
    let (sharp, round) = (at(0.0), at(largest));
    let band = named.limits(side).pitch;
    let right = band.min.zip(band.max).map(|(min, max)| {
        let radius = |wanted: f64| radius_for(vee, pitch, side, root, wanted);
        let (a, b) = (radius(min), radius(max));
        [a.min(b).max(0.0), a.max(b)]
    });
    Some(Noses {
        largest,
        pitch: [sharp.min(round), sharp.max(round)],
        right: right.filter(|[_, most]| *most > 0.0),
    })
}

/// The tip of the tool, where the note or the tool's facts state it.
#[must_use]
pub fn nose(thread: &Identified) -> Option<Nose> {
    thread.nose.as_ref().map(|nose| nose.value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::judged;
    use crate::facts::Facts;

    /// M24x3-6g cut to 20.319: d2 = X + 2.598 - 2r, limits 21.803 and 22.003, so r is 0.457 to 0.557;
    /// root radius at most H/6 = 0.433.
    #[test]
    fn noses_that_would_be_right() {
        let of = |note: &str| {
            let text = format!(
                "G21\n{note}\nG97 S700 M3\nG0 X36. Z9.\nG76 P020055 Q60 R0.03\n\
                 G76 X20.319 Z-32. P1841 Q400 F3.\n"
            );
            let program = lexer::read(text.as_bytes(), &lexer::program::Settings::default());
            let judgement = judged(&text, &Facts::default());
            noses(
                &program.sections[0],
                &judgement.threads[0],
                &judgement.tables[0],
            )
        };
        let noses = of("(THREAD M24X3-6G)").unwrap();
        let right = noses.right.unwrap();
        for (got, want) in [
            (noses.largest, 0.433),
            (noses.pitch[0], 22.051),
            (noses.pitch[1], 22.917),
            (right[0], 0.457),
            (right[1], 0.557),
        ] {
            assert!((got - want).abs() < 1e-3, "{noses:?}");
        }
        assert_eq!(of("(THREAD M24X3-6G, NOSE 0.4)"), None);
        assert_eq!(of("(NO NOTE)"), None);
    }
}
