//! Written blocks read back and compared with what was asked for.

use super::Cannot;
use super::style::Style;
use super::text::Text;
use crate::evidence::Family;
use crate::program::Settings;
use crate::section::{Cut, Infeed, Pass, Syntax};
use crate::units::{Diameter, Lead, Length, Radial};

/// Reads the text back and compares it with what was asked for: the text with its deviation and
/// what has shifted.
pub(super) fn proved(
    text: String,
    cut: &Cut,
    wanted: &[Pass],
    syntax: Syntax,
    style: &Style,
) -> Result<(String, Length, Vec<String>), Cannot> {
    let settings = Settings {
        family: Some(match style.family {
            Family::Undecided => Family::SystemA,
            family => family,
        }),
        diameter_mode: Some(!style.radius_mode),
        units: Some(style.units),
        decimal: Some(style.decimal_rule()),
        ..Settings::default()
    };
    let mut approach = Text::new(style);
    let mut words = vec![style.code(0)];
    words.extend(cut.start_x.get().map(|x| style.x(x)));
    words.extend(cut.start_z.get().map(|z| style.position('Z', z)));
    approach.line(&words);
    let program = crate::read((approach.finish() + &text).as_bytes(), &settings);
    let got: Vec<&Pass> = program
        .sections
        .iter()
        .flat_map(|section| &section.passes)
        .collect();
    if program
        .sections
        .iter()
        .any(|section| section.syntax != syntax)
    {
        return Cannot::because("the blocks would be read in another way");
    }
    if got.len() != wanted.len() {
        return Cannot::because(format!(
            "the words of this syntax, rounded to its digits, give {} passes and not {}",
            got.len(),
            wanted.len()
        ));
    }
    let count = wanted.len() as f64;
    let limit =
        Length::from_pm((style.last_digit().pm() as f64 * (2.0 + 2.0 * count.sqrt())) as i64);
    let flank = match cut.infeed {
        Infeed::Flank(angle) | Infeed::Alternating(angle) => angle.to_radians().tan().abs(),
        _ => 0.0,
    };
    let height = cut.height.get().map_or(0.0, Radial::mm);
    let along_flank = Length::from_mm(height * flank) + limit;
    let mut deviation = Length::ZERO;
    let mut shifted = Vec::new();
    for (index, (got, wanted)) in got.iter().zip(wanted).enumerate() {
        let nth = index + 1;
        let off = |a: Option<Length>, b: Option<Length>| {
            a.zip(b).map_or(Length::ZERO, |(a, b)| (a - b).abs())
        };
        let unproved = wanted.x.is_some() && got.x.is_none()
            || wanted.z_end.is_some() && got.z_end.is_none()
            || wanted.lead.is_some() && got.lead.is_none();
        if unproved {
            return Cannot::because(format!(
                "what pass {nth} would cut is not known, because the start point is not"
            ));
        }
        let x = |x: Option<Diameter>| x.map(|x| x.0);
        let depth = |depth: Option<Radial>| depth.map(|depth| depth.0.double());
        let across = off(x(got.x), x(wanted.x))
            .max(off(x(got.x_start), x(wanted.x_start)))
            .max(off(depth(got.depth), depth(wanted.depth)));
        if across > limit {
            return Cannot::because(format!(
                "pass {nth} would be cut {across} mm off in diameter; this syntax has no word for \
                 its depth"
            ));
        }
        let mut along = off(got.z_start, wanted.z_start);
        if along > limit {
            return Cannot::because(format!(
                "pass {nth} would start {along} mm off along the axis"
            ));
        }
        let end = off(got.z_end, wanted.z_end);
        if end > along_flank {
            return Cannot::because(format!("pass {nth} would end {end} mm off along the axis"));
        }
        if end <= limit {
            along = along.max(end);
        } else if shifted.is_empty() {
            shifted.push(format!(
                "where each pass ends: up to {along_flank} mm off, because this cycle moves the \
                 whole stroke along the flank"
            ));
        }
        if got.start_angle.unwrap_or(0) != wanted.start_angle.unwrap_or(0) {
            return Cannot::because(format!(
                "this syntax has no word for the start angle of pass {nth}"
            ));
        }
        same_lead(nth, got, wanted, style)?;
        let pieces = same_pieces(nth, got, wanted, syntax, limit)?;
        deviation = deviation.max(pieces);
        deviation = deviation.max(across).max(along);
    }
    Ok((text, deviation, shifted))
}

/// Largest distance between the ends of the pieces of two passes.
fn same_pieces(
    nth: usize,
    got: &Pass,
    wanted: &Pass,
    syntax: Syntax,
    limit: Length,
) -> Result<Length, Cannot> {
    if !matches!(syntax, Syntax::Strokes | Syntax::DriveLine) {
        return Ok(Length::ZERO);
    }
    let off = got
        .legs
        .iter()
        .zip(&wanted.legs)
        .flat_map(|(a, b)| [(a.x.0 - b.x.0).abs(), (a.z - b.z).abs()])
        .max()
        .unwrap_or_default();
    if got.legs.len() != wanted.legs.len() || off > limit {
        return Cannot::because(format!("the pieces of pass {nth} would be others"));
    }
    Ok(off)
}

fn same_lead(nth: usize, got: &Pass, wanted: &Pass, style: &Style) -> Result<(), Cannot> {
    let (Some(got), Some(wanted)) = (got.lead, wanted.lead) else {
        return Ok(());
    };
    let digit = style.units.pm() / 10i64.pow(u32::from(style.lead_decimals));
    let off = (got.length() - wanted.length()).abs();
    if off > Length::from_pm(digit) {
        return Cannot::because(format!(
            "the lead of pass {nth} would be {} mm instead of {}",
            Lead::length(got),
            Lead::length(wanted)
        ));
    }
    Ok(())
}
