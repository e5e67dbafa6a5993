//! The passes of a section as cuts: area, chip, force, and what they hint at.

use lexer::section::{Infeed, Purpose, Section};

use super::load::{Chip, Chips, Kienzle, Load, load};
use super::material::{MATERIALS, Material};
use crate::facts::Facts;
use crate::gauge::envelope::Outline;
use crate::gauge::groove::Groove;
use crate::gauge::laid::{Laid, laid, line_at_crest};
use crate::gauge::profile::Profile;
use crate::measure::tool::Nose;
use crate::standards::form::Flanks;
use crate::table::Row;

/// What a pass takes.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PassCut {
    /// Area in mm² of the work that goes: what the groove grows by.
    pub area_mm2: Option<f64>,
    /// Its area over that of the pass before (of the same start), where both cut.
    pub ratio: Option<f64>,
    /// The chip on each edge.
    pub chip: Option<Chip>,
    /// Force, torque and power, where constants of the material are known: an estimate for
    /// comparison.
    pub load: Option<Load>,
}

/// The cuts of a section.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Cuts {
    /// One entry a pass, in order.
    pub passes: Vec<PassCut>,
    /// Why chips are not known.
    pub not_known: Option<&'static str>,
    /// What the forces rest on; none where constants of the material are missing.
    pub force_from: Option<String>,
    /// Which constants are missing, where the configuration names a material.
    pub force_missing: Option<String>,
}

/// The constants of the material that the configuration names: its own, or those of the table by
/// its name. A group alone is too wide for a number.
#[must_use]
pub fn constants(facts: &Facts) -> Option<Kienzle> {
    let material = facts.material.as_ref()?;
    if let (Some(kc11), Some(mc)) = (material.kc11_n_mm2, material.mc) {
        return Some(Kienzle {
            kc11,
            mc,
            source: format!("{} kc11_n_mm2 and mc", material.source),
        });
    }
    Material::named(material.name.as_deref()?).map(Material::constants)
}

/// Why there are no constants, where a material is named at all.
#[must_use]
pub fn missing(facts: &Facts) -> Option<String> {
    let material = facts.material.as_ref()?;
    if constants(facts).is_some() {
        return None;
    }
    let names: Vec<&str> = MATERIALS.iter().map(|material| material.name).collect();
    Some(format!(
        "kc11_n_mm2 and mc of {} are missing; by name the table knows {}",
        material.source,
        names.join(", ")
    ))
}

/// The cuts of a section whose rows have their depths, with a tool of these flanks and this nose.
#[must_use]
pub fn cuts(
    section: &Section,
    rows: &[Row],
    flanks: Flanks,
    nose: Nose,
    material: Option<&Kienzle>,
) -> Cuts {
    let mut cuts = Cuts {
        passes: vec![PassCut::default(); rows.len()],
        not_known: None,
        force_from: material.map(|material| material.source.clone()),
        force_missing: None,
    };
    let inward = section.feed_direction() != Some(1);
    let profile = Profile::of(flanks, nose, inward);
    let starts = rows
        .iter()
        .map(|row| row.start)
        .max()
        .map_or(0, |most| most + 1);
    for start in 0..starts {
        let placed = match laid(section, rows, start) {
            Ok(placed) => placed,
            Err(why) => {
                cuts.not_known = Some(why);
                continue;
            }
        };
        one_start(&mut cuts, section, &placed, profile, material);
    }
    cuts
}

fn one_start(
    cuts: &mut Cuts,
    section: &Section,
    placed: &[Laid],
    profile: Profile,
    material: Option<&Kienzle>,
) {
    let mut groove = Groove::new(profile);
    let mut outline = Outline::default();
    let mut chips = Chips::from_crest(profile, line_at_crest(section, placed));
    let mut before = Some(0.0);
    let mut last: Option<f64> = None;
    for one in placed {
        groove.add(one.placement);
        let now = groove.area_along(&mut outline);
        // What grows by less than rounding did not grow.
        let area = now.zip(before).map(|(now, before)| (now - before).max(0.0));
        before = now;
        let chip = chips.cut(one.placement);
        let ratio = area
            .filter(|area| *area > 1e-9)
            .zip(last)
            .map(|(area, last)| area / last);
        if let Some(area) = area.filter(|area| *area > 1e-9) {
            last = Some(area);
        }
        let pass = &section.passes[one.pass];
        let load = material.zip(pass.x).map(|(material, x)| {
            let rpm = pass.spindle.rpm().filter(|rpm| *rpm > 0.0);
            load(material.force(&chip), x.abs().mm(), rpm)
        });
        cuts.passes[one.pass] = PassCut {
            area_mm2: area,
            ratio,
            chip: Some(chip),
            load,
        };
    }
}

/// Part of the step below which an edge rubs rather than cuts (our own choice: an infeed 2.5° inside
/// the flank, which many programs have, leaves 5 %, one of 1.5° leaves 3 %).
const RUBS: f64 = 0.04;
/// Pitch in mm from which two wide thin chips at once invite chatter (common practice, 1.5 to 2).
const COARSE: f64 = 2.0;
/// Growth of the chip from one pass to the next that loads the tool by a jerk (our own choice).
const JERK: f64 = 2.0;

/// What the chips hint at, in whole sentences: which edge rubs, what invites chatter, where the load
/// jumps. Hints rest on common practice, not on a source; what cuts well may stay.
#[must_use]
pub fn hints(section: &Section, cuts: &Cuts, pitch: f64) -> Vec<String> {
    let mut hints = Vec::new();
    let deep: Vec<(usize, &PassCut, Chip)> = cuts
        .passes
        .iter()
        .enumerate()
        .filter_map(|(index, cut)| Some((index, cut, cut.chip?)))
        .filter(|(_, _, chip)| chip.nose > 1e-4)
        .collect();
    let rubbing = |edge: fn(&Chip) -> f64| {
        let rubs = |chip: &Chip| edge(chip) < RUBS * chip.nose;
        // The first pass begins in full work and tells nothing of the infeed.
        deep.len() > 1 && deep.iter().skip(1).all(|(_, _, chip)| rubs(chip))
    };
    for (name, rubs) in [
        ("trailing", rubbing(|chip| chip.trailing)),
        ("leading", rubbing(|chip| chip.leading)),
    ] {
        if rubs {
            hints.push(format!(
                "the {name} edge takes less than {:.0} % of the step: it rubs; an infeed 3 to 5 \
                 degrees inside the flank lets it cut",
                RUBS * 100.0
            ));
        }
    }
    if section.cut.infeed == Infeed::Radial && pitch >= COARSE && deep.len() > 1 {
        hints.push(format!(
            "straight infeed at a pitch of {pitch:.2} mm cuts both flanks at once: thin wide \
             chips that invite chatter and cost more force than one thick chip"
        ));
    }
    let jump = deep
        .iter()
        .filter(|(index, ..)| section.passes[*index].purpose != Purpose::Spring)
        .filter_map(|(index, cut, _)| Some((*index, cut.ratio?)))
        .filter(|(_, ratio)| *ratio > JERK)
        .max_by(|a, b| a.1.total_cmp(&b.1));
    if let Some((index, ratio)) = jump {
        hints.push(format!(
            "pass {} takes {ratio:.1} times the chip of the pass before",
            index + 1
        ));
    }
    hints
}

#[cfg(test)]
mod tests;
