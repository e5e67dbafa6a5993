//! The passes of a section as a table: depth, step, chip area and time of each.

use lexer::section::{Kind, Pass, Section, Side};
use lexer::units::{Diameter, Length, Radial};

use crate::cut::area::{flat_groove, groove};
use crate::cut::pass_load::{self, Cuts, PassCut};
use crate::cut::rotating;
use crate::cut::time::{Between, Rapids};
use crate::facts::Facts;
use crate::identify::Identified;
use crate::measure::tool::Nose;

/// One pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Index of the pass in the section.
    pub pass: usize,
    /// Which start of a multi-start thread it cuts, from 0.
    pub start: usize,
    /// Depth below the crest; none where the crest is unknown. Negative in the air.
    pub depth: Option<Radial>,
    /// Depth beyond the deepest pass before (of the same start); for a first pass the depth below
    /// the crest. 0 where the tool cuts nothing.
    pub step: Option<Radial>,
    /// Chip area in mm²; none where the depth or the flank angles are unknown.
    pub area_mm2: Option<f64>,
    /// Seconds of the pass with its return; none where rpm, lead or the stroke are unknown.
    pub seconds: Option<f64>,
    /// Chip, force and ratio to the pass before.
    pub cut: PassCut,
}

/// Seconds of a section.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Seconds {
    /// In the thread.
    pub cut: f64,
    /// Synchronised but before the thread's end face and behind its end: run-in.
    pub air: f64,
    /// Retract, return and infeed at rapid, and waiting for the one-turn mark.
    pub back: f64,
    /// What `back` is made of.
    pub between: Between,
}

impl Seconds {
    /// All of it.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.cut + self.air + self.back
    }
}

/// The table.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Table {
    /// Crest diameter used for the depths.
    pub crest: Option<Diameter>,
    /// Where the crest comes from, in words.
    pub crest_from: String,
    /// Crest diameter that the program implies or that the depths count from, before the material
    /// limits it: a cycle may count from the start diameter and cut air first.
    pub counted_from: Option<Diameter>,
    /// Root diameter: the deepest pass.
    pub root: Option<Diameter>,
    /// Nose radius used for the areas, mm; 0 for a sharp V.
    pub nose_mm: f64,
    /// One row a pass, in order.
    pub rows: Vec<Row>,
    /// Why chips are not known, and what forces rest on; its passes are those of `rows`.
    pub cuts: Cuts,
    /// What the chips hint at.
    pub hints: Vec<String>,
    /// Time; none where rpm, lead or the stroke are unknown.
    pub seconds: Option<Seconds>,
    /// What the time rests on: rapid and acceleration, or that they are defaults.
    pub time_basis: String,
    /// Start of the deepest pass along the axis.
    pub z_start: Option<Length>,
    /// Its end.
    pub z_end: Option<Length>,
}

impl Table {
    /// Total depth below the crest.
    #[must_use]
    pub fn height(&self, side: Side) -> Option<Radial> {
        let (crest, root) = (self.crest?, self.root?);
        Some(match side {
            Side::External => crest.above(root),
            Side::Internal => root.above(crest),
        })
    }
}

/// Makes the table of a section.
#[must_use]
pub fn table(section: &Section, thread: &Identified, facts: &Facts) -> Table {
    let side = section.side();
    let counted_from = section.cut.crest_x.get().map(Diameter::abs);
    let (crest, crest_from) = crest(section, thread, side);
    let named = thread.thread.as_ref().map(|(thread, _)| thread);
    let flanks = named.and_then(|thread| thread.form().flanks);
    let flat = match thread.nose.as_ref().map(|nose| nose.value) {
        Some(Nose::Flat(flat)) => Some(flat),
        Some(Nose::Radius(_)) => None,
        None => named
            .zip(side)
            .and_then(|(thread, side)| thread.form().tip_flat_mm(side, thread.pitch.mm())),
    };
    let nose_mm = thread.nose_radius_mm.unwrap_or(0.0);
    let root = deepest(section, side);
    let rapids = facts.rapids();
    let mut deepest_by_start: Vec<(usize, Radial)> = Vec::new();
    let mut seconds = Some(Seconds::default());
    let mut rows = section
        .passes
        .iter()
        .enumerate()
        .map(|(index, pass)| {
            let depth = match (side, crest, pass.x) {
                (Some(Side::External), Some(crest), Some(x)) => Some(crest.above(x.abs())),
                (Some(Side::Internal), Some(crest), Some(x)) => Some(x.abs().above(crest)),
                _ => None,
            };
            let start = start_of(pass, section);
            let before = deepest_by_start
                .iter()
                .find(|(known, _)| *known == start)
                .map_or(Radial::default(), |(_, depth)| *depth);
            let step = depth.map(|depth| Radial((depth.0 - before.0).max(Length::ZERO)));
            if let Some(depth) = depth {
                let now = Radial(depth.0.max(before.0));
                match deepest_by_start
                    .iter_mut()
                    .find(|(known, _)| *known == start)
                {
                    Some((_, known)) => *known = now,
                    None => deepest_by_start.push((start, now)),
                }
            }
            let area = depth.zip(flanks).map(|(depth, flanks)| {
                let groove = |depth: f64| match flat {
                    Some(flat) => flat_groove(flanks, flat, depth),
                    None => groove(flanks, nose_mm, depth),
                };
                groove(depth.mm().max(before.mm())) - groove(before.mm())
            });
            let parts = match section.kind {
                Kind::Turned => pass_seconds(section, pass, &rapids),
                Kind::Tapped | Kind::Milled => rotating::seconds(section, index, &rapids),
            };
            seconds = seconds.zip(parts).map(|(sum, one)| Seconds {
                cut: sum.cut + one.cut,
                air: sum.air + one.air,
                back: sum.back + one.back,
                between: sum.between.plus(one.between),
            });
            Row {
                pass: index,
                start,
                depth,
                step: step.or(pass.step),
                area_mm2: area,
                seconds: parts.map(|parts| parts.total()),
                cut: PassCut::default(),
            }
        })
        .collect::<Vec<_>>();
    // Taps and mills cut with many edges at once.
    let single_point = flanks.filter(|_| section.kind == Kind::Turned);
    let cuts = single_point.map_or_else(Cuts::default, |flanks| {
        let nose = flat.map_or(Nose::Radius(nose_mm), Nose::Flat);
        let material = pass_load::constants(facts);
        Cuts {
            force_missing: pass_load::missing(facts),
            ..pass_load::cuts(section, &rows, flanks, nose, material.as_ref())
        }
    });
    for (row, cut) in rows.iter_mut().zip(&cuts.passes) {
        row.cut = *cut;
        row.area_mm2 = cut.area_mm2.or(row.area_mm2);
    }
    let hints = named.map_or_else(Vec::new, |thread| {
        pass_load::hints(section, &cuts, thread.pitch.mm())
    });
    if rows.is_empty() {
        seconds = None;
    }
    let last = section.passes.last();
    Table {
        crest,
        crest_from,
        counted_from,
        root,
        nose_mm,
        rows,
        cuts,
        hints,
        seconds,
        time_basis: facts.time_basis() + rotating::left_out(section.kind),
        z_start: last.and_then(|pass| pass.z_start),
        z_end: last.and_then(|pass| pass.z_end),
    }
}

/// Where the material's crest is: the designation where there is one, the words otherwise. A blank
/// smaller than the designation is not known to the program.
fn crest(section: &Section, thread: &Identified, side: Option<Side>) -> (Option<Diameter>, String) {
    // A cone has no one crest: there the words of the cycle count.
    let parallel = thread
        .thread
        .as_ref()
        .filter(|(thread, _)| thread.form().taper == 0.0);
    if let (Some((thread, from)), Some(side)) = (parallel, side) {
        let (mm, what) = match side {
            Side::External => (thread.major.mm(), "nominal major diameter"),
            Side::Internal => (thread.basic().minor, "basic minor diameter"),
        };
        let text = format!("{what} of {} (from {})", thread.designation(), from.name());
        return (Some(Diameter::from_mm(mm)), text);
    }
    match section.cut.crest_x.get() {
        Some(crest) => (
            Some(crest.abs()),
            "end diameter and height of the cycle".into(),
        ),
        None => (
            None,
            "not known: neither a designation nor a height is written".into(),
        ),
    }
}

fn deepest(section: &Section, side: Option<Side>) -> Option<Diameter> {
    let all = section
        .passes
        .iter()
        .filter_map(|pass| pass.x)
        .map(Diameter::abs);
    match side {
        Some(Side::External) => all.min(),
        Some(Side::Internal) => all.max(),
        None => None,
    }
    .or_else(|| section.cut.root_x.get().map(Diameter::abs))
}

/// Which start of a multi-start thread a pass belongs to, counted from that of the first pass, so
/// that an infeed along the axis does not carry it over to the next.
fn start_of(pass: &Pass, section: &Section) -> usize {
    let starts = section.cut.starts;
    let turns = |pass: &Pass| {
        let lead = section.cut.lead.get()?.mm().abs();
        let angle = pass.start_angle.unwrap_or(0) as f64 / 360_000.0;
        Some(pass.z_start?.mm() / lead + angle)
    };
    let first = section.passes.first().and_then(turns);
    match (turns(pass), first) {
        (Some(now), Some(first)) if starts > 1 => {
            let part = (now - first).rem_euclid(1.0) * f64::from(starts);
            part.round() as usize % starts as usize
        }
        _ => 0,
    }
}

fn pass_seconds(section: &Section, pass: &Pass, rapids: &Rapids) -> Option<Seconds> {
    let rpm = pass.spindle.rpm().filter(|&rpm| rpm > 0.0)?;
    let lead = pass.lead?.mm().abs();
    // The turns of a changing lead are those of the mean of its ends.
    let lead = match pass.lead_change {
        Some(change) => f64::midpoint(lead, change.end?.mm().abs()),
        None => lead,
    };
    let (start, end) = (pass.z_start?.mm(), pass.z_end?.mm());
    let stroke = (start - end).abs();
    let speed = lead * rpm / 60.0;
    if speed == 0.0 || stroke == 0.0 {
        return None;
    }
    let clearance = match (section.cut.start_x.get(), pass.x) {
        (Some(start), Some(x)) => (start.abs().mm() - x.abs().mm()).abs() / 2.0,
        _ => 0.0,
    };
    // Before Z0 the tool is taken to be in the air when it feeds towards -Z from a positive Z.
    let air = if start > 0.0 && end < 0.0 { start } else { 0.0 };
    let between = rapids.between(clearance, stroke, rpm).times(rapids.factor);
    Some(Seconds {
        cut: (stroke - air) / speed * rapids.factor,
        air: (air / speed + rapids.run_up(speed)) * rapids.factor,
        back: between.total(),
        between,
    })
}
