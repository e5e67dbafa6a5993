//! `write` for a tap or a thread mill: its options as an order.

use lexer::section::tapping::Way;
use lexer::syntax::Style;
use lexer::units::Units;
use rules::rewrite::block::Speed;
use rules::rewrite::milled::{MillFeed, MillOrder, Rows};
use rules::rewrite::rotating::Station;
use rules::rewrite::tapped::TapOrder;
use rules::standards::Side;
use rules::standards::thread::Thread;

use super::args::{Feed, Write};
use super::thread::length;

/// Longest length that is taken, mm.
const MOST: f64 = 5000.0;

pub(super) fn tap(
    args: &Write,
    thread: Thread,
    side: Side,
    style: Style,
    speed: Speed,
) -> Result<TapOrder, String> {
    if side == Side::External {
        return Err("a tap cuts internal threads only".into());
    }
    foreign(args, args.rotating.only_mill(), "tap")?;
    if args.nose.is_some() {
        return Err("--nose is not for tap: the tap has its own form".into());
    }
    let units = style.units;
    let of = &args.rotating;
    Ok(TapOrder {
        thread,
        length: length("--length", &args.length, units, MOST)?,
        chamfer: of.chamfer,
        speed,
        way: of.way.map(Way::from),
        floating: of.floating,
        per_minute: of.feed.map(|feed| feed == Feed::Minute),
        peck: above_zero("--peck", of.peck.as_ref(), units)?,
        station: station(args, style)?,
    })
}

pub(super) fn mill(
    args: &Write,
    thread: Thread,
    side: Side,
    style: Style,
    speed: Speed,
) -> Result<MillOrder, String> {
    foreign(args, args.rotating.only_tap(), "helix")?;
    let units = style.units;
    let of = &args.rotating;
    let tooth = above_zero("--tooth-feed", of.tooth_feed.as_ref(), units)?.map(MillFeed::Tooth);
    let edge = match &of.edge_feed {
        None => None,
        // A feed is a length per minute, and longer than any part.
        Some(text) => Some(MillFeed::Edge(length("--edge-feed", text, units, 1e5)?)),
    };
    let rows = match (of.single_row, &of.edge_length) {
        (true, _) => Some(Rows::One),
        (false, Some(_)) => {
            above_zero("--edge-length", of.edge_length.as_ref(), units)?.map(Rows::Over)
        }
        (false, None) => None,
    };
    Ok(MillOrder {
        thread,
        side,
        length: length("--length", &args.length, units, MOST)?,
        speed,
        nose: mm("--nose", args.nose.as_ref(), units)?,
        cutter: above_zero("--cutter", of.cutter.as_ref(), units)?,
        teeth: of.teeth.filter(|teeth| *teeth > 0),
        rows,
        feed: tooth.or(edge),
        conventional: of.conventional,
        approach: above_zero("--approach", of.approach.as_ref(), units)?,
        station: station(args, style)?,
    })
}

/// Options that have no meaning here: none is dropped without a word.
fn foreign(args: &Write, other: Option<&str>, syntax: &str) -> Result<(), String> {
    let turned = [
        (args.clearance.is_some(), "--clearance"),
        (args.infeed.is_some(), "--infeed"),
        (args.first.is_some(), "--first"),
        (args.max_area.is_some(), "--max-area"),
        (args.min_pass.is_some(), "--min-pass"),
        (args.finish.is_some(), "--finish"),
        (args.springs.is_some(), "--springs"),
        (args.pull_out.is_some(), "--pull-out"),
    ];
    let turned = turned
        .into_iter()
        .find_map(|(given, name)| given.then_some(name));
    match turned.or(other) {
        Some(option) => Err(format!("{option} is not for --syntax {syntax}")),
        None => Ok(()),
    }
}

fn station(args: &Write, style: Style) -> Result<Station, String> {
    let units = style.units;
    let place = |text: &String| place(text, units);
    Ok(Station {
        places: args
            .rotating
            .at
            .iter()
            .map(place)
            .collect::<Result<_, _>>()?,
        start: above_zero("--start", args.start.as_ref(), units)?,
        retract: above_zero("--retract", args.rotating.retract.as_ref(), units)?,
        tool: args.tool.clone(),
        offset: args.rotating.offset,
        semicolon: args.semicolon,
        style,
    })
}

fn mm(option: &str, text: Option<&String>, units: Units) -> Result<Option<f64>, String> {
    text.map(|text| length(option, text, units, MOST))
        .transpose()
}

fn above_zero(option: &str, text: Option<&String>, units: Units) -> Result<Option<f64>, String> {
    let value = mm(option, text, units)?;
    if value == Some(0.0) {
        return Err(format!("{option} needs a length above 0"));
    }
    Ok(value)
}

/// `X,Y`, each with its sign.
fn place(text: &str, units: Units) -> Result<(f64, f64), String> {
    let (x, y) = text
        .split_once(',')
        .ok_or_else(|| format!("--at {text}: write X and Y with a comma, such as 20,-15"))?;
    let one = |text: &str| {
        let text = text.trim();
        match text.strip_prefix('-') {
            Some(rest) => length("--at", rest, units, MOST).map(|mm| -mm),
            None => length("--at", text, units, MOST),
        }
    };
    Ok((one(x)?, one(y)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places() {
        assert_eq!(place("20,-15.5", Units::Millimetre), Ok((20.0, -15.5)));
        assert_eq!(place("-1in, 0", Units::Millimetre), Ok((-25.4, 0.0)));
        for bad in ["", "20", "20,", ",5", "--1,2", "1,2,3", "nan,0"] {
            assert!(place(bad, Units::Millimetre).is_err(), "{bad}");
        }
    }
}
