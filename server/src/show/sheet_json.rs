//! Threads as JSON, version 1. Keys are only ever added. Lengths are mm whatever the units of the
//! family, to 1e-6; diameters are diameters, depths are radial. A band is `[min, max]` with `null`
//! where the standard leaves it open; what is not known is `null`.

use rules::measure::coating::{Coated, CoatedThread};
use rules::measure::first_article::{Line, Wanted};
use rules::measure::gauge_names::Gauge;
use rules::measure::sheet::Sheet;
use rules::measure::tool::{Cut, Fit, Nose};
use rules::standards::limits::{Band, Basic};
use rules::standards::planes::{Datum, GaugePlanes, Plane};
use rules::standards::{Hand, Side};
use serde::Serialize;

use super::json::{VERSION, print, round};

type Pair = [Option<f64>; 2];

#[derive(Serialize)]
struct Document {
    version: u32,
    threads: Vec<Option<ThreadOut>>,
}

#[derive(Serialize)]
struct ThreadOut {
    asked: String,
    designation: String,
    family: &'static str,
    standards: &'static str,
    side: &'static str,
    hand: &'static str,
    class: Option<String>,
    class_assumed: bool,
    pitch_mm: f64,
    lead_mm: f64,
    starts: u32,
    start_angles_deg: Vec<f64>,
    start_shifts_mm: Vec<f64>,
    major_mm: Pair,
    pitch_diameter_mm: Pair,
    minor_mm: Pair,
    root_mm: Pair,
    basic_mm: BasicOut,
    depth_mm: Pair,
    cuts: Vec<CutOut>,
    largest_nose_radius_mm: Option<f64>,
    largest_nose_flat_mm: Option<f64>,
    lead_angle_deg: f64,
    lead_angle_at_smallest_deg: f64,
    flank_clearance_deg: f64,
    wires: Option<WiresOut>,
    wires_why_not: Option<String>,
    /// The size of `tap_drill`.
    tap_drill_mm: Option<f64>,
    tap_drill: Option<DrillOut>,
    taper: Option<TaperOut>,
    coating: Option<CoatingOut>,
    gauges: Vec<GaugeOut>,
    first_article: Vec<LineOut>,
    sources: Vec<&'static str>,
    notes: Vec<String>,
    unverified: bool,
}

#[derive(Serialize)]
struct BasicOut {
    major: f64,
    pitch_diameter: f64,
    minor: f64,
    root: f64,
}

#[derive(Serialize)]
struct CutOut {
    nose: &'static str,
    nose_mm: f64,
    label: &'static str,
    x_mm: f64,
    x_band_mm: Pair,
    from_x_mm: f64,
    depth_mm: f64,
    depth_band_mm: Pair,
    fit: &'static str,
    past_root_mm: Option<f64>,
    stop_at_x_mm: Option<f64>,
    widen_mm: Option<f64>,
}

#[derive(Serialize)]
struct WiresOut {
    kind: &'static str,
    best_mm: f64,
    usable_mm: Pair,
    wire_mm: f64,
    wire_fits: bool,
    over_mm: Pair,
    over_basic_mm: f64,
    lead_angle_term_mm: f64,
}

#[derive(Serialize)]
struct DrillOut {
    drill_mm: Option<f64>,
    name: Option<String>,
    hole_mm: Pair,
    class: String,
    percent_of_basic_height: Option<f64>,
    percent_of_three_quarters_h: Option<f64>,
    rule: &'static str,
    unverified: bool,
}

#[derive(Serialize)]
struct TaperOut {
    on_diameter_per_length: f64,
    one_in: f64,
    inches_per_foot: f64,
    half_angle_deg: f64,
    stroke_mm: Option<f64>,
    word_mm: Option<f64>,
    planes: Option<PlanesOut>,
}

#[derive(Serialize)]
struct PlanesOut {
    datum: &'static str,
    planes: Vec<PlaneOut>,
    travel_mm: Pair,
    useful_mm: Option<f64>,
    notes: Vec<String>,
    unverified: bool,
}

#[derive(Serialize)]
struct PlaneOut {
    name: &'static str,
    gauge: bool,
    place_mm: f64,
    at_mm: BasicOut,
}

#[derive(Serialize)]
struct CoatingOut {
    layer_mm: [f64; 2],
    pitch_diameter_factor: Option<f64>,
    major: CoatedOut,
    pitch_diameter: Option<CoatedOut>,
    minor: CoatedOut,
}

#[derive(Serialize)]
struct CoatedOut {
    change_mm: Pair,
    cut_to_mm: Pair,
    short_by_mm: Option<f64>,
    becomes_mm: Pair,
    past_basic_mm: Option<f64>,
}

#[derive(Serialize)]
struct GaugeOut {
    name: String,
    checks: &'static str,
    limit_mm: Option<f64>,
    passes: &'static str,
}

#[derive(Serialize)]
struct LineOut {
    what: String,
    with_mm: Option<f64>,
    wanted_mm: Option<Pair>,
    wanted: Option<String>,
    how: String,
}

/// The document for designations in the order asked; `None` for one that is no thread.
pub(crate) fn document(threads: &[(&str, Option<Sheet>)]) -> String {
    let threads = threads
        .iter()
        .map(|(asked, sheet)| sheet.as_ref().map(|sheet| thread(asked, sheet)))
        .collect();
    let mut text = print(&Document {
        version: VERSION,
        threads,
    });
    text.push('\n');
    text
}

fn mm(value: f64) -> f64 {
    round(value, 6)
}

fn pair(band: Band) -> Pair {
    [band.min.map(mm), band.max.map(mm)]
}

fn thread(asked: &str, sheet: &Sheet) -> ThreadOut {
    let (thread, limits, lead) = (&sheet.thread, &sheet.limits, sheet.lead_angles);
    let standard = thread.family.standard();
    ThreadOut {
        asked: asked.to_owned(),
        designation: thread.designation_for(sheet.side),
        family: standard.name,
        standards: standard.standards,
        side: sheet.side.name(),
        hand: match thread.hand {
            Hand::Right => "right",
            Hand::Left => "left",
        },
        class: Some(limits.class.clone()).filter(|class| !class.is_empty()),
        class_assumed: limits.class_assumed,
        pitch_mm: round(thread.pitch.mm(), 9),
        lead_mm: round(thread.lead().mm(), 9),
        starts: thread.starts,
        start_angles_deg: sheet.starts.iter().map(|s| round(s.angle_deg, 6)).collect(),
        start_shifts_mm: sheet.starts.iter().map(|s| mm(s.shift)).collect(),
        major_mm: pair(limits.major),
        pitch_diameter_mm: pair(limits.pitch),
        minor_mm: pair(limits.minor),
        root_mm: pair(limits.root),
        basic_mm: basic(&sheet.basic),
        depth_mm: pair(sheet.depth),
        cuts: sheet.cuts.iter().map(cut).collect(),
        largest_nose_radius_mm: sheet.largest_radius.map(mm),
        largest_nose_flat_mm: sheet.largest_flat.map(mm),
        lead_angle_deg: round(lead.at_pitch, 4),
        lead_angle_at_smallest_deg: round(lead.at_root, 4),
        flank_clearance_deg: round(lead.clearance, 4),
        wires: sheet.wires.as_ref().ok().map(|wires| WiresOut {
            kind: match sheet.side {
                Side::External => "three wires",
                Side::Internal => "two balls",
            },
            best_mm: mm(wires.best),
            usable_mm: pair(wires.usable),
            wire_mm: mm(wires.wire),
            wire_fits: wires.fits(),
            over_mm: pair(wires.over),
            over_basic_mm: mm(wires.over_basic),
            lead_angle_term_mm: mm(wires.lead_term),
        }),
        wires_why_not: sheet.wires.as_ref().err().cloned(),
        tap_drill_mm: sheet
            .hole
            .as_ref()
            .and_then(|hole| hole.drill.as_ref())
            .map(|drill| mm(drill.size)),
        tap_drill: sheet.hole.as_ref().map(|hole| DrillOut {
            drill_mm: hole.drill.as_ref().map(|drill| mm(drill.size)),
            name: hole
                .drill
                .as_ref()
                .map(|drill| drill.name.clone())
                .filter(|name| !name.is_empty()),
            hole_mm: pair(hole.band()),
            class: hole.limits.class.clone(),
            percent_of_basic_height: hole.percent_basic.map(|p| round(p, 2)),
            percent_of_three_quarters_h: hole.percent_three_quarters.map(|p| round(p, 2)),
            rule: hole.rule,
            unverified: hole.limits.unverified,
        }),
        taper: sheet.taper.map(|taper| TaperOut {
            on_diameter_per_length: taper.on_diameter,
            one_in: mm(taper.one_in()),
            inches_per_foot: mm(taper.inches_per_foot()),
            half_angle_deg: mm(taper.half_angle_deg()),
            stroke_mm: sheet.taper_word.map(|(stroke, _)| mm(stroke)),
            word_mm: sheet.taper_word.map(|(_, word)| mm(word)),
            planes: sheet.planes.as_ref().map(planes),
        }),
        coating: sheet.coated.as_ref().map(coating),
        gauges: sheet.gauges.iter().map(gauge).collect(),
        first_article: sheet.first_article.iter().map(line).collect(),
        sources: sheet.sources.clone(),
        notes: limits.notes.clone(),
        unverified: limits.unverified,
    }
}

fn basic(basic: &Basic) -> BasicOut {
    BasicOut {
        major: mm(basic.major),
        pitch_diameter: mm(basic.pitch),
        minor: mm(basic.minor),
        root: mm(basic.root),
    }
}

fn planes(planes: &GaugePlanes) -> PlanesOut {
    let plane = |plane: &Plane, gauge: bool| PlaneOut {
        name: plane.name,
        gauge,
        place_mm: mm(plane.z_mm),
        at_mm: basic(&plane.at),
    };
    let others = planes.others.iter().map(|one| plane(one, false));
    let mut all: Vec<PlaneOut> = others.collect();
    all.push(plane(&planes.gauge, true));
    all.sort_by(|a, b| a.place_mm.total_cmp(&b.place_mm));
    PlanesOut {
        datum: match planes.datum {
            Datum::SmallEnd => "small end",
            Datum::LargeEnd => "large end",
        },
        planes: all,
        travel_mm: pair(planes.travel),
        useful_mm: planes.useful_mm.map(mm),
        notes: planes.notes.clone(),
        unverified: planes.unverified,
    }
}

fn cut(cut: &Cut) -> CutOut {
    let (nose, nose_mm) = match cut.nose {
        Nose::Radius(radius) => ("radius", radius),
        Nose::Flat(width) => ("flat", width),
    };
    let (fit, deep) = match cut.fit {
        Fit::Fits => ("fits", None),
        Fit::TooLarge => ("too large", None),
        Fit::TooDeep { by, stop_at, widen } => ("too deep", Some((by, stop_at, widen))),
    };
    CutOut {
        nose,
        nose_mm: mm(nose_mm),
        label: cut.label,
        x_mm: mm(cut.middle),
        x_band_mm: pair(cut.tip),
        from_x_mm: mm(cut.from),
        depth_mm: mm(cut.depth_middle),
        depth_band_mm: pair(cut.depth),
        fit,
        past_root_mm: deep.map(|(by, _, _)| mm(by)),
        stop_at_x_mm: deep.map(|(_, stop_at, _)| mm(stop_at)),
        widen_mm: deep.map(|(_, _, widen)| mm(widen)),
    }
}

fn coating(coated: &CoatedThread) -> CoatingOut {
    CoatingOut {
        layer_mm: [mm(coated.coating.min), mm(coated.coating.max)],
        pitch_diameter_factor: coated.factor.map(mm),
        major: one_coated(&coated.major),
        pitch_diameter: coated.pitch.as_ref().map(one_coated),
        minor: one_coated(&coated.minor),
    }
}

fn one_coated(coated: &Coated) -> CoatedOut {
    CoatedOut {
        change_mm: pair(coated.change),
        cut_to_mm: pair(coated.cut_to),
        short_by_mm: coated.short_by.map(mm),
        becomes_mm: pair(coated.becomes),
        past_basic_mm: coated.past_basic.map(mm),
    }
}

fn gauge(gauge: &Gauge) -> GaugeOut {
    GaugeOut {
        name: gauge.name.clone(),
        checks: gauge.checks,
        limit_mm: gauge.size.map(mm),
        passes: gauge.passes,
    }
}

fn line(line: &Line) -> LineOut {
    let (wanted_mm, wanted) = match &line.wanted {
        Wanted::Between(band) => (Some(pair(*band)), None),
        Wanted::Words(words) => (None, Some(words.clone())),
        Wanted::ByHand => (None, None),
    };
    LineOut {
        what: line.what.clone(),
        with_mm: line.with.map(mm),
        wanted_mm,
        wanted,
        how: line.how.clone(),
    }
}
