//! Writes a cut as a call, with its lead first: one call a start.

use crate::law::Law;
use crate::section::{Cut, Infeed, Side};
use crate::syntax::write::{Cannot, Run, Style, Text, need};
use crate::units::{Diameter, Length};

use super::Order;

pub(in crate::syntax) fn write(
    cut: &Cut,
    law: &Law,
    runs: &[Run],
    style: &Style,
) -> Result<String, Cannot> {
    let Law::Counted {
        rough,
        equal_areas,
        finish,
        springs,
    } = law
    else {
        return Cannot::because("the depths follow no law of this cycle");
    };
    let side = need(&cut.side, "bolt or nut")?;
    let crest = need(&cut.crest_x, "the crest diameter")?;
    let taper = need(&cut.taper, "the taper")?;
    let start_x = need(&cut.start_x, "the start diameter")?;
    let start_z = need(&cut.start_z, "the start along the axis")?;
    let end_z = need(&cut.end_z, "the end")?;
    let height = need(&cut.height, "the thread height")?;
    let lead = need(&cut.lead, "the lead")?;
    let rough = need(rough, "the number of roughing passes")?;
    let finish = need(finish, "the finishing allowance")?;
    let springs = need(springs, "the number of passes without new depth")?;
    let angle = match &cut.infeed {
        Infeed::Radial => 0.0,
        Infeed::Flank(angle) if *angle > 0.0 => *angle,
        Infeed::Alternating(angle) => -angle,
        Infeed::Flank(_) => {
            return Cannot::because("this cycle goes in along the leading flank only");
        }
        Infeed::Unknown(why) => return Cannot::because(format!("the infeed: {why}")),
    };
    let crest_start = Diameter(crest.0 + taper.double());
    let widest = match side {
        Side::External => crest.max(crest_start),
        Side::Internal => crest.min(crest_start),
    };
    let clearance = start_x.above(widest).0.abs();
    let variant = match (side, equal_areas) {
        (Side::External, false) => 1,
        (Side::Internal, false) => 2,
        (Side::External, true) => 3,
        (Side::Internal, true) => 4,
    };
    let ends_first = style.call_order() == Order::EndsFirst;
    let mut text = Text::new(style);
    for run in runs {
        text.skip = run.skip;
        let from = run.z.unwrap_or(start_z);
        // A parallel thread that begins in front of the face counts from the face.
        let over_zero = from.signum() * end_z.signum() < 0 && taper.is_zero();
        let (spl, app) = if over_zero {
            (Length::ZERO, from.abs())
        } else {
            (from, Length::ZERO)
        };
        let start = run.angle.unwrap_or(0) as f64 / 1000.0;
        let mut places = vec![
            style.argument(app),
            style.argument(Length::ZERO),
            style.argument(height.0),
            style.argument(finish.0),
            style.degrees("", angle),
            style.degrees("", start),
            rough.to_string(),
            springs.to_string(),
        ];
        let ends = if ends_first {
            [spl, crest_start.0, end_z, crest.0]
        } else {
            [spl, end_z, crest_start.0, crest.0]
        };
        places.splice(0..0, ends.map(|end| style.argument(end)));
        let lead = style.lead_argument(lead);
        if ends_first {
            places.extend([lead, variant.to_string(), "1".into()]);
        } else {
            places.splice(0..0, [lead, String::new()]);
            places.extend([variant.to_string(), "1".into(), style.argument(clearance)]);
        }
        let name = style.call_order().name();
        text.line(&[format!("{name}({})", places.join(","))]);
    }
    Ok(text.finish())
}
