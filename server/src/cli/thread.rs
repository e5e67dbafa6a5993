//! `thread`: what is known of a thread by its designation.

use std::path::Path;
use std::sync::Arc;

use lexer::units::Units;
use rules::facts::Facts;
use rules::measure::coating::Coating;
use rules::measure::sheet::{Sheet, Wish};
use rules::measure::tool::Nose;
use rules::standards::Side;
use rules::standards::designation::parse;

use super::args::{Format, SideName, Thread, UnitName};
use super::discover::plain;
use super::{Exit, Outcome, Streams};
use crate::config::{Refused, Resolver};
use crate::show::{form_svg, sheet, sheet_json, visible};

pub(super) fn run(args: &Thread, streams: &mut Streams<'_>) -> Outcome {
    let wish = match wish(args) {
        Ok(wish) => wish,
        Err(why) => {
            writeln!(streams.err, "error: {}", visible::text(&why))?;
            return Ok(Exit::Usage);
        }
    };
    if args.svg.is_some() && args.designations.len() > 1 {
        let why = "--svg draws one thread; name one, and run again for the next";
        writeln!(streams.err, "error: {why}")?;
        return Ok(Exit::Usage);
    }
    let facts = match facts(args) {
        Ok(facts) => facts,
        Err(why) => {
            writeln!(streams.err, "error: {why}")?;
            return Ok(Exit::Usage);
        }
    };
    let mut threads: Vec<(&str, Option<Sheet>)> = Vec::new();
    for name in &args.designations {
        match one(name, args.side, &wish, &facts) {
            Ok(sheet) => threads.push((name, Some(sheet))),
            Err(why) => {
                writeln!(streams.err, "error: {}", visible::text(&why))?;
                threads.push((name, None));
            }
        }
    }
    let known = threads.iter().filter_map(|(_, sheet)| sheet.as_ref());
    match args.format {
        Format::Json => write!(streams.out, "{}", sheet_json::document(&threads))?,
        Format::Text => {
            let look = sheet::Look {
                units: args.unit.map(Units::from),
                first_article: args.first_article,
            };
            for one in known.clone() {
                write!(streams.out, "{}", sheet::sheet(one, look))?;
            }
            if known.clone().next().is_some() {
                write!(streams.out, "{}", sheet::CAUTION)?;
            }
        }
    }
    let mut exit = Exit::Clean;
    if let (Some(path), Some(drawn)) = (&args.svg, known.clone().next())
        && let Err(why) = draw(path, drawn, args.unit.map(Units::from))
    {
        writeln!(streams.err, "error: {}: {why}", visible::path(path))?;
        exit = Exit::Usage;
    }
    if known.count() < threads.len() {
        exit = Exit::Usage;
    }
    Ok(exit)
}

/// The configuration, where one is given or a name asks for it: a form of the shop's own.
fn facts(args: &Thread) -> Result<Facts, Arc<Refused>> {
    let resolver = match &args.config {
        Some(file) => Resolver::with_file(file)?,
        None if args
            .designations
            .iter()
            .all(|name| parse(name, None).is_ok()) =>
        {
            return Ok(Facts::default());
        }
        None => Resolver::new(),
    };
    resolver.facts(Path::new("thread")).map(|(_, facts)| facts)
}

/// One designation, or why it is none.
fn one(name: &str, side: Option<SideName>, wish: &Wish, facts: &Facts) -> Result<Sheet, String> {
    let asked = side.map(Side::from);
    let thread = facts.named(name, asked)?;
    if thread.is_ambiguous() {
        return Err(format!(
            "`{name}` could be meant for either side; add --side external for {}, --side internal \
             for {}",
            thread.designation_for(Side::External),
            thread.designation_for(Side::Internal)
        ));
    }
    let told = thread.side;
    if let (Some(asked), Some(told)) = (asked, told)
        && asked != told
    {
        return Err(format!(
            "`{name}` names an {} thread, not an {} one; leave out --side or the class",
            told.name(),
            asked.name()
        ));
    }
    let given = |side: &Side| thread.exists_on(*side);
    let only = [Side::External, Side::Internal].into_iter().find(given);
    let side = told.or(only).unwrap_or(Side::External);
    if !thread.exists_on(side) {
        return Err(format!(
            "`{name}` has no {} thread in the configuration",
            side.name()
        ));
    }
    let mut sheet = Sheet::of(&thread, side, wish);
    if told.is_none() && thread.exists_on(side.other()) {
        let note = "the designation does not tell the side: this is the external thread, --side \
                    internal shows the other";
        sheet.limits.notes.push(note.to_owned());
    }
    Ok(sheet)
}

fn draw(path: &Path, sheet: &Sheet, units: Option<Units>) -> Result<(), String> {
    let drawing = form_svg::drawing(sheet, units)
        .ok_or("the form has no straight flanks to draw; no file was written")?;
    std::fs::write(path, drawing)
        .map_err(|error| format!("it cannot be written: {}", plain(&error)))
}

/// The options that carry lengths, in mm.
fn wish(args: &Thread) -> Result<Wish, String> {
    let unit = args.unit.map_or(Units::Millimetre, Units::from);
    let at_most = |option: &str, text: &Option<String>, most: f64| match text {
        None => Ok(None),
        Some(text) => length(option, text, unit, most).map(Some),
    };
    let radius = at_most("--nose", &args.nose, 50.0)?.map(Nose::Radius);
    let flat = at_most("--flat", &args.flat, 50.0)?.map(Nose::Flat);
    Ok(Wish {
        coating: match &args.coating {
            None => None,
            Some(text) => Some(coating(text, unit)?),
        },
        nose: radius.or(flat),
        wire: at_most("--wire", &args.wire, 50.0)?,
        stroke: at_most("--stroke", &args.stroke, 5000.0)?,
    })
}

/// Thickest layer that is taken for one, mm.
const THICKEST: f64 = 0.5;

fn coating(text: &str, unit: Units) -> Result<Coating, String> {
    let Some((min, max)) = text.split_once("..") else {
        return Err(format!(
            "--coating {text}: write the thinnest and the thickest layer, such as 0.005..0.008 or \
             5..8um"
        ));
    };
    // A unit behind the second number holds for both.
    let min = if min.ends_with(|c: char| c.is_ascii_digit() || c == '.') {
        format!("{min}{}", unit_of(max))
    } else {
        min.to_owned()
    };
    let thin = length("--coating", &min, unit, THICKEST)?;
    let thick = length("--coating", max, unit, THICKEST)?;
    if thin > thick {
        return Err(format!(
            "--coating {text}: the thinnest layer comes first, the thickest second"
        ));
    }
    Ok(Coating {
        min: thin,
        max: thick,
    })
}

/// What stands behind a number.
fn unit_of(text: &str) -> &str {
    text.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.')
}

/// A length with or without its unit, in mm.
pub(super) fn length(option: &str, text: &str, unit: Units, most: f64) -> Result<f64, String> {
    let behind = unit_of(text);
    let number = &text[..text.len() - behind.len()];
    let mm_each = match behind.trim() {
        "" if unit == Units::Inch => 25.4,
        "" | "mm" => 1.0,
        "in" | "\"" => 25.4,
        "um" | "µm" | "μm" => 0.001,
        _ => f64::NAN,
    };
    let value = number.parse::<f64>().unwrap_or(f64::NAN) * mm_each;
    if (0.0..=most).contains(&value) {
        return Ok(value);
    }
    Err(format!(
        "{option} {text}: write a length of at most {most} mm: a number in the units of --unit \
         (mm where that is left out), or one with its own mm, in or um"
    ))
}

impl From<SideName> for Side {
    fn from(name: SideName) -> Side {
        match name {
            SideName::External => Side::External,
            SideName::Internal => Side::Internal,
        }
    }
}

impl From<UnitName> for Units {
    fn from(name: UnitName) -> Units {
        match name {
            UnitName::Mm => Units::Millimetre,
            UnitName::Inch => Units::Inch,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_with_and_without_units() {
        let mm = |text: &str, unit| length("--nose", text, unit, 50.0).ok();
        let near = |got: Option<f64>, want: f64| (got.unwrap() - want).abs() < 1e-12;
        assert!(near(mm("0.4", Units::Millimetre), 0.4));
        assert!(near(mm("0.4", Units::Inch), 10.16));
        assert!(near(mm(".0156in", Units::Millimetre), 0.39624));
        assert!(near(mm("400um", Units::Inch), 0.4));
        for bad in [
            "", "mm", "-1", "1e3", "nan", "inf", "0.4 m", "1.2.3", "51", "0,4",
        ] {
            assert_eq!(mm(bad, Units::Millimetre), None, "{bad}");
        }
    }

    #[test]
    fn coatings() {
        let layer = |text: &str| {
            let layer = coating(text, Units::Millimetre).ok()?;
            Some((layer.min, layer.max))
        };
        assert_eq!(layer("0.005..0.008"), Some((0.005, 0.008)));
        assert_eq!(layer("5..8um"), Some((0.005, 0.008)));
        assert_eq!(layer("0um..0.008mm"), Some((0.0, 0.008)));
        for bad in ["0.008", "8..5um", "5..8", "..", "a..b", "5..8kg"] {
            assert_eq!(layer(bad), None, "{bad}");
        }
    }
}
