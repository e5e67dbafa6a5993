//! A milled thread from its designation and facts: radius, turns and feed of the tool's centre.

use std::f64::consts::TAU;

use lexer::section::Kind;
use lexer::section::tapping;
use lexer::syntax::helix::{MillPlan, write};
use lexer::units::{Length, Units};

use super::block::{Block, Speed, geometry};
use super::note;
use super::rotating::{Around, MOST, Station, Wanted, prove};
use crate::checks::text::number;
use crate::facts::{Facts, ToolKind};
use crate::measure::mill::centre_feed;
use crate::standards::thread::Thread;
use crate::standards::{Hand, Side};

/// How the teeth of a thread mill stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rows {
    /// In one row: as many turns as the thread is long.
    One,
    /// In rows a pitch apart over this length in mm: one turn cuts all of them.
    Over(f64),
}

/// Feed of a thread mill.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MillFeed {
    /// mm for each tooth.
    Tooth(f64),
    /// mm/min at the edge.
    Edge(f64),
}

/// What to mill. Lengths in mm.
#[derive(Debug, Clone)]
pub struct MillOrder {
    /// The thread.
    pub thread: Thread,
    /// Bolt or hole.
    pub side: Side,
    /// Where, and with which tool.
    pub station: Station,
    /// Length of the thread from Z0.
    pub length: f64,
    /// Speed; a surface speed holds at the diameter of the mill.
    pub speed: Speed,
    /// Nose radius of the teeth.
    pub nose: Option<f64>,
    /// Diameter of the mill over its teeth.
    pub cutter: Option<f64>,
    /// Teeth around.
    pub teeth: Option<u32>,
    /// Rows of teeth.
    pub rows: Option<Rows>,
    /// Feed.
    pub feed: Option<MillFeed>,
    /// Whether the mill cuts against its feed instead of with it.
    pub conventional: bool,
    /// Distance of the way onto a bolt; none for a quarter of the mill's diameter, and 2 mm more than
    /// the depth at least.
    pub approach: Option<f64>,
}

/// Writes a block that mills.
///
/// # Errors
/// Which fact is missing, or why the thread cannot be milled so.
pub fn milled(order: &MillOrder, facts: &Facts) -> Result<Block, String> {
    let (thread, side, station) = (&order.thread, order.side, &order.station);
    let style = &station.style;
    let form = thread.form();
    refused(order)?;
    let mut notes = Vec::new();
    let (cutter, rows, feed) = mill(order, facts, &mut notes)?;
    let places = station.places()?;
    station.tool(&mut notes)?;
    let rpm = geometry::rpm(
        order.speed,
        cutter,
        geometry::speed_limits(facts, None),
        &mut notes,
    )?;
    let edge = match feed {
        Edge::Minute(feed) => feed,
        Edge::Turn { tooth, teeth } => {
            let edge = tooth * f64::from(teeth) * rpm;
            notes.push(format!(
                "feed at the edge {} mm x {teeth} teeth x {rpm} 1/min = {} mm/min",
                number(tooth, 4),
                number(edge, 1)
            ));
            edge
        }
    };
    if !(edge >= least_feed(style.units) && edge < 1e6) {
        return Err("the feed is not a number above 0".into());
    }
    let depth = geometry::depth(thread, side, order.nose, &mut notes)?;
    let (basic, pitch, lead) = (thread.basic(), thread.pitch.mm(), thread.lead().mm());
    let path = match side {
        Side::Internal => {
            if cutter >= basic.minor {
                return Err(format!(
                    "a mill of {} mm does not go into the hole of {} mm",
                    number(cutter, 3),
                    number(basic.minor, 3)
                ));
            }
            (basic.minor + 2.0 * depth - cutter) / 2.0
        }
        Side::External => (basic.major - 2.0 * depth + cutter) / 2.0,
    };
    let turns = turns(rows, order.length, pitch, lead)?;
    let (clear, retract) = station.heights(5.0, &mut notes)?;
    let centre = centre_feed(side, edge, thread.major.mm(), cutter);
    let least = least_feed(style.units);
    let centre = ((centre / least).round() * least).max(least);
    let sign = match side {
        Side::Internal => '-',
        Side::External => '+',
    };
    notes.push(format!(
        "feed of the centre {} x ({} {sign} {}) / {} = {} mm/min, at the major diameter",
        number(edge, 1),
        number(thread.major.mm(), 3),
        number(cutter, 3),
        number(thread.major.mm(), 3),
        number(centre, 1)
    ));
    notes.push(format!(
        "{turns} turns of the centre on a radius of {} mm, {} milling with the spindle turning \
         clockwise (M3), the tool's centre programmed (G40)",
        number(path, 3),
        if order.conventional {
            "conventional"
        } else {
            "climb"
        }
    ));
    let approach = approach(order, path, cutter, depth)?;
    let turned = match side {
        Side::Internal => 0.25,
        Side::External => (approach / (path + approach)).atan() / TAU,
    };
    let below = match side {
        Side::Internal => "a blind hole must be bored deeper than that",
        Side::External => "a shoulder must lie deeper than that",
    };
    notes.push(format!(
        "the tip goes down to Z-{} at most: {below}",
        number(order.length + lead * turned, 3)
    ));
    let mut plan = MillPlan {
        centre: (Length::ZERO, Length::ZERO),
        side,
        hand: match thread.hand {
            Hand::Right => tapping::Hand::Right,
            Hand::Left => tapping::Hand::Left,
        },
        climb: !order.conventional,
        radius: station.on_digit(path),
        lead: thread.lead(),
        bottom: station.on_digit(-order.length),
        turns,
        clear: retract,
        feed: Length::from_mm(centre),
        approach: station.on_digit(approach),
    };
    let mut cut = String::new();
    for place in &places {
        plan.centre = *place;
        cut.push_str(&write(&plan, style).map_err(|cannot| cannot.0)?);
    }
    let units = style.units;
    let parts = [
        note::length("CUTTER", cutter, units),
        note::length("FEED", edge, units),
        note::length("LENGTH", order.length, units),
    ];
    let name = note::naming(thread, side, &parts);
    if name.is_none() {
        notes
            .push("its designation cannot stand in a comment: name it in the configuration".into());
    }
    let teeth = match rows {
        Rows::One => "THREAD MILL, SINGLE ROW",
        Rows::Over(_) => "THREAD MILL, ROWS A PITCH APART",
    };
    let wanted = Wanted {
        thread,
        side,
        kind: Kind::Milled,
        count: places.len(),
        named: name.is_some(),
    };
    let text = station.framed(&Around {
        comments: name.into_iter().chain([teeth.to_owned()]).collect(),
        speed: Some(vec![
            style.code(970),
            style.plain('S', rpm),
            "M3".to_owned(),
        ]),
        first: places.first().copied().unwrap_or_default(),
        clear,
        retract,
        finds_place: true,
        cycle: false,
        cut: &cut,
        mode_after: None,
    });
    if form.flanks.is_none() {
        notes.push("the form has no straight flanks: the teeth must have its shape".into());
    }
    let mut block = Block {
        text,
        depths: Vec::new(),
        peak_mm2: None,
        seconds: None,
        rpm,
        notes,
        findings: Vec::new(),
    };
    prove(&mut block, &wanted, style, facts)?;
    Ok(block)
}

/// Feeds are written to a tenth of a mm a minute, or a hundredth of an inch.
const fn least_feed(units: Units) -> f64 {
    match units {
        Units::Millimetre => 0.1,
        Units::Inch => 0.254,
    }
}

/// Feed at the edge, with all that it needs.
enum Edge {
    Minute(f64),
    Turn { tooth: f64, teeth: u32 },
}

/// Diameter, rows and feed of the mill, as ordered or as the configuration has them for the tool;
/// or all that is missing, a line each.
fn mill(
    order: &MillOrder,
    facts: &Facts,
    notes: &mut Vec<String>,
) -> Result<(f64, Rows, Edge), String> {
    let fact = order.station.fact(facts, &[ToolKind::Mill]);
    let mut known = |value: Option<f64>, key: &str| {
        let (value, tool) = (value?, fact?);
        notes.push(format!("{} from {}", number(value, 3), tool.cite(key)));
        Some(value)
    };
    let diameter = fact.and_then(|tool| tool.mill_diameter_mm);
    let cutter = order.cutter;
    let cutter = cutter.or_else(|| known(diameter, "mill_diameter_mm"));
    let length = fact.and_then(|tool| tool.edge_length_mm);
    let rows = order.rows;
    let rows = rows.or_else(|| known(length, "edge_length_mm").map(Rows::Over));
    let teeth = fact.and_then(|tool| tool.teeth).map(f64::from);
    let by_tooth = matches!(order.feed, Some(MillFeed::Tooth(_)));
    let teeth = teeth.filter(|_| by_tooth);
    // Whole, as it was read.
    let teeth = order
        .teeth
        .or_else(|| known(teeth, "teeth").map(|teeth| teeth as u32));
    let feed = match (order.feed, teeth) {
        (Some(MillFeed::Edge(feed)), _) => Ok(Edge::Minute(feed)),
        (Some(MillFeed::Tooth(tooth)), Some(teeth)) => Ok(Edge::Turn { tooth, teeth }),
        (Some(MillFeed::Tooth(_)), None) => {
            Err("with --tooth-feed the number of teeth is missing: --teeth")
        }
        (None, _) => Err("the feed is missing: --edge-feed, or --tooth-feed with --teeth"),
    };
    let places = order.station.places.is_empty();
    match (cutter.filter(|mm| *mm > 0.0 && *mm < MOST), rows, feed) {
        (Some(cutter), Some(rows), Ok(feed)) => Ok((cutter, rows, feed)),
        (cutter, rows, feed) => {
            let no_cutter = "the diameter of the mill over its teeth is missing: --cutter";
            let no_rows = "how the teeth stand is missing: --single-row, or --edge-length for rows a \
                           pitch apart";
            let no_place = "where it stands is missing: --at X,Y, as often as there are threads";
            let missing = [
                cutter.is_none().then_some(no_cutter),
                rows.is_none().then_some(no_rows),
                feed.err(),
                places.then_some(no_place),
            ];
            Err(missing.into_iter().flatten().collect::<Vec<_>>().join("\n"))
        }
    }
}

/// What is not milled here.
fn refused(order: &MillOrder) -> Result<(), String> {
    let thread = &order.thread;
    let name = thread.designation();
    if !thread.exists_on(order.side) {
        return Err(format!("{name} is no {} thread", order.side.name()));
    }
    if thread.form().taper != 0.0 {
        return Err(format!(
            "{name} is tapered: the path of its mill would have to widen with the cone, which is not \
             written"
        ));
    }
    if thread.starts > 1 {
        return Err(format!(
            "{name} has {} starts: a helix for each of them is not written",
            thread.starts
        ));
    }
    if order.station.turns() {
        return Err(
            "a helix is written for a milling machine: --system mill or interpreter".into(),
        );
    }
    if !(order.length > 0.0 && order.length < MOST) {
        return Err("the length of the thread is not a length above 0".into());
    }
    if order.approach.is_some() && order.side == Side::Internal {
        return Err("--approach is for a bolt; in a hole the way begins at its middle".into());
    }
    Ok(())
}

/// Air in mm between the mill and the crest where it goes down beside a bolt (our own choice).
const AIR: f64 = 1.0;

/// Distance of the way onto a bolt from the helix, so that the mill goes down beside the blank.
fn approach(order: &MillOrder, path: f64, cutter: f64, depth: f64) -> Result<f64, String> {
    if order.side == Side::Internal {
        return Ok(0.0);
    }
    let usual = (cutter / 4.0).max(depth + 2.0 * AIR);
    let approach = order.approach.unwrap_or(usual);
    let crest = order.thread.basic().major / 2.0;
    let air = (path + approach).hypot(approach) - cutter / 2.0 - crest;
    let sound = air >= AIR && approach < MOST;
    if !sound {
        return Err(format!(
            "with --approach {} the mill goes down {} mm beside the crest of the thread: {} at least",
            number(approach, 3),
            number(air, 3),
            number(depth + AIR, 3)
        ));
    }
    Ok(approach)
}

/// Turns of the helix. One row needs a turn for every lead and one more, so that the last groove is
/// closed all the way round; rows over the whole length need one turn.
fn turns(rows: Rows, length: f64, pitch: f64, lead: f64) -> Result<u32, String> {
    match rows {
        Rows::Over(edge) if edge + 1e-9 >= length => Ok(1),
        Rows::Over(edge) => Err(format!(
            "teeth over {} mm do not cover {} mm of thread in one turn; more levels are not written: \
             take longer teeth, or one row (--single-row)",
            number(edge, 3),
            number(length, 3)
        )),
        Rows::One => {
            let turns = (length / lead - 1e-9).ceil() + 1.0;
            if pitch > 0.0 && turns <= 999.0 {
                // Above 0 and below 1000.
                Ok(turns as u32)
            } else {
                Err("more than 999 turns are not written".into())
            }
        }
    }
}

#[cfg(test)]
mod tests;
