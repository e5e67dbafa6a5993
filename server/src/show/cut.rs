//! What a pass takes and what the passes leave, as text and JSON.

use lexer::section::Section;
use lexer::units::{Length, Units};
use rules::cut::load::ESTIMATE;
use rules::cut::pass_load::PassCut;
use rules::gauge::section::{Left, Noses, left, nose, noses};
use rules::gauge::verdict::Gauge;
use rules::identify::Identified;
use rules::measure::tool::Nose;
use rules::standards::limits::Band;
use rules::table::{Seconds, Table};
use serde::Serialize;

use super::json::round;

/// Chip, force and ratio of a pass.
#[derive(Serialize)]
pub(crate) struct CutOut {
    /// Area over that of the pass before.
    area_ratio: Option<f64>,
    chip_mm: Option<ChipOut>,
    /// Forces are an estimate for comparison, see `force_from` of the section.
    force_n: Option<f64>,
    torque_nm: Option<f64>,
    power_kw: Option<f64>,
}

/// Thickness of the chip at right angles to each edge.
#[derive(Serialize)]
struct ChipOut {
    leading: f64,
    trailing: f64,
    nose: f64,
}

impl CutOut {
    pub(crate) fn of(cut: &PassCut) -> CutOut {
        CutOut {
            area_ratio: cut.ratio.map(|ratio| round(ratio, 3)),
            chip_mm: cut.chip.map(|chip| ChipOut {
                leading: round(chip.leading, 4),
                trailing: round(chip.trailing, 4),
                nose: round(chip.nose, 4),
            }),
            force_n: cut.load.map(|load| round(load.force_n, 0)),
            torque_nm: cut.load.map(|load| round(load.torque_nm, 2)),
            power_kw: cut
                .load
                .and_then(|load| load.power_kw)
                .map(|power| round(power, 3)),
        }
    }
}

/// Seconds of a section; `return` is all between the strokes, the last four are what it is made of.
#[derive(Serialize)]
pub(crate) struct SecondsOut {
    cut: f64,
    air: f64,
    r#return: f64,
    total: f64,
    retract: f64,
    rapid_return: f64,
    infeed: f64,
    synchronisation: f64,
}

impl SecondsOut {
    pub(crate) fn of(seconds: Seconds) -> SecondsOut {
        SecondsOut {
            cut: round(seconds.cut, 3),
            air: round(seconds.air, 3),
            r#return: round(seconds.back, 3),
            total: round(seconds.total(), 3),
            retract: round(seconds.between.retract, 3),
            rapid_return: round(seconds.between.back, 3),
            infeed: round(seconds.between.infeed, 3),
            synchronisation: round(seconds.between.wait, 3),
        }
    }
}

/// The finished thread beside its limits.
#[derive(Serialize)]
pub(crate) struct LeftOut {
    pitch_diameter_mm: f64,
    pitch_diameter_min_mm: Option<f64>,
    pitch_diameter_max_mm: Option<f64>,
    functional_pitch_diameter_mm: Option<f64>,
    crest_x_mm: f64,
    root_x_mm: f64,
    crest_flat_mm: f64,
    root_flat_mm: f64,
    root_radius_mm: f64,
    leading_flank_error_deg: f64,
    trailing_flank_error_deg: f64,
    go: &'static str,
    no_go: &'static str,
    wear_offset_mm: Option<f64>,
    assumed: Option<&'static str>,
}

/// What the passes leave, as JSON; none where the nose or another fact is missing.
pub(crate) fn left_json(
    section: &Section,
    identified: Option<&Identified>,
    table: Option<&Table>,
) -> Option<LeftOut> {
    let identified = identified?;
    let left = left(section, identified, table?).ok()?;
    let (verdict, finished) = (&left.verdict, &left.verdict.finished);
    let band = limits(section, identified);
    let mm = |value: f64| round(value, 6);
    Some(LeftOut {
        pitch_diameter_mm: mm(finished.pitch),
        pitch_diameter_min_mm: band.min.map(mm),
        pitch_diameter_max_mm: band.max.map(mm),
        functional_pitch_diameter_mm: verdict.functional.map(|fits| mm(fits.pitch)),
        crest_x_mm: mm(finished.crest),
        root_x_mm: mm(finished.root),
        crest_flat_mm: mm(finished.crest_flat),
        root_flat_mm: mm(finished.root_flat),
        root_radius_mm: mm(finished.root_radius),
        leading_flank_error_deg: round(finished.flank_error_deg[0], 3),
        trailing_flank_error_deg: round(finished.flank_error_deg[1], 3),
        go: gauge(verdict.go),
        no_go: gauge(verdict.no_go),
        wear_offset_mm: verdict.offset.map(mm),
        assumed: left.assumed,
    })
}

const fn gauge(gauge: Gauge) -> &'static str {
    match gauge {
        Gauge::Enters => "enters",
        Gauge::Stops => "stops",
        Gauge::Unknown => "unknown",
    }
}

fn limits(section: &Section, identified: &Identified) -> Band {
    let thread = identified.thread.as_ref().zip(section.side());
    thread.map_or(Band::OPEN, |((thread, _), side)| thread.limits(side).pitch)
}

/// Lines about what the passes leave, about forces, and hints; without a line end.
pub(crate) fn lines(
    section: &Section,
    identified: Option<&Identified>,
    table: &Table,
) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(from) = &table.cuts.force_from {
        lines.push(format!("force: {ESTIMATE}; constants of {from}"));
    }
    if let Some(missing) = &table.cuts.force_missing {
        lines.push(format!("force: not worked out: {missing}"));
    }
    if let Some(identified) = identified {
        match left(section, identified, table) {
            Ok(left) => lines.extend(left_lines(section, identified, &left)),
            Err(why) if nose(identified).is_some() => {
                lines.push(format!("leaves: not worked out: {why}"));
            }
            Err(_) => lines.extend(
                noses(section, identified, table)
                    .map(|noses| noses_line(section, identified, noses)),
            ),
        }
    }
    lines.extend(table.hints.iter().map(|hint| format!("hint: {hint}")));
    lines
}

/// What noses would leave, where the nose is not known.
fn noses_line(section: &Section, identified: &Identified, noses: Noses) -> String {
    let text = |mm: f64| shown(section.units, mm);
    let band = limits(section, identified);
    let right = match (band.min, band.max, noses.right) {
        (Some(min), Some(max), Some([from, to])) => format!(
            "; the limits {} to {} ask for a nose of {} to {}",
            text(min),
            text(max),
            text(from),
            text(to)
        ),
        (Some(min), Some(max), None) => format!(
            "; the limits {} to {} ask for more than a sharp tip leaves",
            text(min),
            text(max)
        ),
        _ => String::new(),
    };
    format!(
        "leaves, the nose not being known: pitch diameter {} to {} {} with a nose of 0 to {}{right}",
        text(noses.pitch[0]),
        text(noses.pitch[1]),
        section.units.name(),
        text(noses.largest)
    )
}

fn shown(units: Units, mm: f64) -> String {
    let value = units.value_of(Length::from_mm(mm));
    let decimals = if units == Units::Inch { 4 } else { 3 };
    format!("{value:.decimals$}")
}

fn left_lines(section: &Section, identified: &Identified, left: &Left) -> Vec<String> {
    let units = section.units;
    let finished = &left.verdict.finished;
    let text = |mm: f64| shown(units, mm);
    let (shape, size) = match left.nose {
        Nose::Radius(radius) => ("radius", radius),
        Nose::Flat(flat) => ("flat", flat),
    };
    let band = limits(section, identified);
    let between = match (band.min, band.max) {
        (Some(min), Some(max)) => format!(" (limits {} to {})", text(min), text(max)),
        _ => String::new(),
    };
    let functional = left
        .verdict
        .functional
        .filter(|fits| (fits.pitch - finished.pitch).abs() > 5e-4);
    let functional = functional.map_or_else(String::new, |fits| {
        format!(", {} to a gauge", text(fits.pitch))
    });
    let mut lines = vec![format!(
        "leaves, with a nose {shape} of {} {}: pitch diameter {}{between}{functional}, crest {} with a \
         flat of {}, root {}; GO {}, NO-GO {}",
        text(size),
        units.name(),
        text(finished.pitch),
        text(finished.crest),
        text(finished.crest_flat),
        text(finished.root),
        gauge(left.verdict.go),
        gauge(left.verdict.no_go)
    )];
    let [leading, trailing] = finished.flank_error_deg;
    if leading.abs() > 0.05 || trailing.abs() > 0.05 {
        lines.push(format!(
            "flanks: {leading:+.2} degrees on the edge ahead, {trailing:+.2} on the edge behind"
        ));
    }
    if let Some(offset) = left
        .verdict
        .offset
        .filter(|_| left.verdict.pitch_excess != 0.0)
    {
        let sign = if offset < 0.0 { "-" } else { "+" };
        lines.push(format!(
            "wear offset to the middle of the limits: {sign}{} on the diameter",
            text(offset.abs())
        ));
    }
    lines.extend(left.assumed.map(str::to_owned));
    lines
}
