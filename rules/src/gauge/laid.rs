//! Where the passes of a section place the tool.

use lexer::law::Law;
use lexer::section::{Infeed, Section};

use super::groove::Placement;
use crate::table::Row;

/// One pass of a section, placed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Laid {
    /// Index of the pass in the section.
    pub pass: usize,
    /// Where it places the tool; u counts from the first pass of the same start.
    pub placement: Placement,
}

/// Why the placements of a section are not known.
pub const OWN_SHIFT: &str =
    "where each pass starts along the axis is the control's own in this method";

/// The placements of one start of a section.
///
/// # Errors
/// What is missing.
pub fn laid(section: &Section, rows: &[Row], start: usize) -> Result<Vec<Laid>, &'static str> {
    if matches!(section.cut.infeed, Infeed::Alternating(_)) && section.cut.law != Law::List {
        return Err(OWN_SHIFT);
    }
    let lead = section.cut.lead.get().map(|lead| lead.mm().abs());
    let lead = lead
        .filter(|lead| *lead > 0.0)
        .ok_or("the lead is missing")?;
    let ahead = section
        .feed_direction()
        .ok_or("the direction of the stroke is not known")? as f64;
    let mut first: Option<(f64, Option<i64>)> = None;
    let mut all = Vec::new();
    for row in rows.iter().filter(|row| row.start == start) {
        let pass = section.passes.get(row.pass).ok_or("a pass is missing")?;
        let depth = row.depth.ok_or("the crest is not known")?.mm();
        let z = pass
            .z_start
            .ok_or("the start along the axis is not known")?
            .mm();
        let (from, angle) = *first.get_or_insert((z, pass.start_angle));
        if angle != pass.start_angle {
            return Err("the start angle differs between passes of one start");
        }
        // Whole leads farther along is the same groove.
        let along = (z - from) * ahead;
        let u = along - lead * (along / lead).round();
        all.push(Laid {
            pass: row.pass,
            placement: Placement { u, depth },
        });
    }
    Ok(all)
}

/// Where along the axis the infeed of a section leaves the crest, relative to its first pass at
/// `depth` mm: a flank infeed starts so much behind.
#[must_use]
pub fn line_at_crest(section: &Section, placements: &[Laid]) -> f64 {
    let Some(first) = placements.iter().find(|laid| laid.placement.depth > 0.0) else {
        return 0.0;
    };
    let Placement { u, depth } = first.placement;
    match section.cut.infeed {
        Infeed::Flank(degrees) => u - depth * degrees.to_radians().tan(),
        _ => u,
    }
}
