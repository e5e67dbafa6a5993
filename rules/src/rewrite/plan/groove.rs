//! The groove of a section: what a pass from one depth to another takes.

use lexer::law::Law;
use lexer::section::{Infeed, Section, Side};
use lexer::units::Radial;

use crate::cut::area::{flat_groove, groove};
use crate::cut::load::{Chips, Kienzle};
use crate::cut::pass_load::constants;
use crate::cut::plan::Split;
use crate::gauge::groove::Placement;
use crate::gauge::profile::Profile;
use crate::measure::tool::Nose;
use crate::rewrite::Job;
use crate::standards::form::Flanks;
use crate::table::Table;

/// The groove of a section. Depths count from the crest of the words.
pub(super) struct Groove {
    pub(super) height: f64,
    /// How far the crest of the words lies above that of the material; negative below it.
    pub(super) above: f64,
    flanks: Flanks,
    nose: Nose,
    profile: Profile,
    /// Tangent of the infeed angle; none where the tool changes from flank to flank.
    infeed: Option<f64>,
    material: Option<Kienzle>,
}

impl Groove {
    pub(super) fn of(job: &Job<'_>, section: &Section, table: &Table) -> Result<Groove, String> {
        let side = section.side().ok_or("bolt or nut is not known")?;
        let identified = job.identified()?;
        let missing = "which thread it is, is not known, so neither its crest nor its flanks are; a note \
                       such as (THREAD M24X3-6G) in front of it says so";
        let (thread, _) = identified.thread.as_ref().ok_or(missing)?;
        let flanks = thread.form().flanks;
        let flanks = flanks.ok_or("its form has no straight flanks, so its chips are not known")?;
        let crest = table.crest.ok_or("where its crest lies is not known")?;
        let cut = &section.cut;
        let (height, above) = match (&cut.law, cut.height.get(), cut.crest_x.get()) {
            (Law::List, _, _) => (table.height(side).map(Radial::mm), 0.0),
            (_, height, Some(words)) => {
                let above = match side {
                    Side::External => words.abs().above(crest).mm(),
                    Side::Internal => crest.above(words.abs()).mm(),
                };
                (height.map(Radial::mm), above)
            }
            (_, height, None) => (height.map(Radial::mm), 0.0),
        };
        let height = height.filter(|height| *height > above.max(0.0));
        let flat = match identified.nose.as_ref().map(|nose| nose.value) {
            Some(Nose::Flat(flat)) => Some(flat),
            Some(Nose::Radius(_)) => None,
            None => thread.form().tip_flat_mm(side, thread.pitch.mm()),
        };
        let nose = flat.map_or(Nose::Radius(table.nose_mm), Nose::Flat);
        Ok(Groove {
            height: height.ok_or("how deep the thread goes is not known")?,
            above,
            flanks,
            nose,
            profile: Profile::of(flanks, nose, section.feed_direction() != Some(1)),
            infeed: match cut.infeed {
                Infeed::Radial => Some(0.0),
                Infeed::Flank(angle) => Some(angle.to_radians().tan()),
                Infeed::Alternating(_) | Infeed::Unknown(_) => None,
            },
            material: constants(job.facts),
        })
    }

    fn area(&self, depth: f64) -> f64 {
        let depth = depth - self.above;
        match self.nose {
            Nose::Flat(flat) => flat_groove(self.flanks, flat, depth),
            Nose::Radius(radius) => groove(self.flanks, radius, depth),
        }
    }

    /// Chip area of a pass in mm².
    pub(super) fn chip(&self, before: f64, depth: f64) -> f64 {
        // Nothing is cut before the first pass, wherever the words count from.
        let before = if before <= 0.0 {
            0.0
        } else {
            self.area(before)
        };
        self.area(depth) - before
    }

    /// Force of a pass in N by the model; none without constants of the material, or where the infeed
    /// is not one line.
    pub(super) fn force(&self, before: f64, depth: f64) -> Option<f64> {
        let material = self.material.as_ref()?;
        let slope = self.infeed?;
        let at = |depth: f64| Placement {
            u: depth * slope,
            depth,
        };
        let mut chips = Chips::from_crest(self.profile, 0.0);
        if before > 0.0 {
            chips.cut(at(before - self.above));
        }
        Some(material.force(&chips.cut(at(depth - self.above))))
    }

    /// Chip area of the heaviest pass of a split, mm².
    pub(super) fn peak(&self, split: &Split) -> f64 {
        let mut before = self.above.max(0.0);
        let mut peak = 0.0f64;
        for (depth, _) in &split.depths {
            if depth.mm() > before {
                peak = peak.max(self.chip(before, depth.mm()));
                before = depth.mm();
            }
        }
        peak
    }
}
