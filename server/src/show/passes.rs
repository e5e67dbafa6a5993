//! The passes of a section as a table for a person.

use std::fmt::Write as _;

use lexer::section::{Purpose, Section, SpeedMode, Val};
use lexer::units::{Length, Units};
use rules::identify::Identified;
use rules::judge::Judgement;
use rules::table::Table;

use super::text::{Text, plural};
use super::{cut, thread, visible};

/// One section: a head, the table, the totals, what is not known; ends with an empty line.
/// Lengths are in the units of the section, areas in mm².
pub(crate) fn section(
    text: Text<'_>,
    section: &Section,
    judgement: &Judgement,
    index: usize,
) -> String {
    let identified = judgement.threads.get(index);
    let table = judgement.tables.get(index);
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = head(&mut out, text, section, identified, table);
    let _ = rows(&mut out, section, table);
    let _ = foot(&mut out, section, table);
    for line in table.map_or_else(Vec::new, |table| cut::lines(section, identified, table)) {
        let _ = writeln!(out, "  {}", visible::text(&line));
    }
    for (rule, why) in judgement.not_judged.get(index).into_iter().flatten() {
        let _ = writeln!(out, "  not judged: {rule}: {}", visible::text(why));
    }
    out.push('\n');
    out
}

type Done = std::fmt::Result;

fn head(
    out: &mut String,
    text: Text<'_>,
    section: &Section,
    identified: Option<&Identified>,
    table: Option<&Table>,
) -> Done {
    let units = section.units;
    let thread = thread::of(section, identified);
    let lines = if section.first_line == section.last_line {
        format!("{}", section.first_line)
    } else {
        format!("{}-{}", section.first_line, section.last_line)
    };
    let name = thread.designation.as_deref().unwrap_or("thread not named");
    writeln!(out, "{}:{lines}  {}", text.path, visible::text(name))?;
    let from = thread
        .from
        .map_or_else(String::new, |from| format!("{from}: "));
    if !thread.why.is_empty() {
        writeln!(out, "  from {from}{}", visible::text(&thread.why))?;
    }
    let side = section.side().map_or("side unknown", |side| side.name());
    let hand = thread
        .hand
        .map_or_else(|| "hand unknown".to_owned(), |hand| format!("{hand} hand"));
    let lead = section.cut.lead.get();
    let pitch = thread.pitch.map(|pitch| pitch.length());
    let starts = plural(thread.starts as usize, "start", "starts");
    writeln!(
        out,
        "  {} {}, {side}, {hand}, lead {}, pitch {}, {starts}",
        section.kind.name(),
        section.syntax.name(),
        exact(lead.map(|lead| lead.length()), units),
        exact(pitch, units),
    )?;
    let tool = thread::tool(text.bytes, section);
    writeln!(
        out,
        "  tool {}, {}",
        tool.as_deref().unwrap_or("unknown"),
        spindle(section)
    )?;
    let crest_from = table.map_or("", |table| table.crest_from.as_str());
    let crest_from = if crest_from.is_empty() {
        String::new()
    } else {
        format!(" ({})", visible::text(crest_from))
    };
    let root = thread::root(section, table).map(|root| root.0);
    let crest = thread::crest(section, table).map(|crest| crest.0);
    let start = section.cut.start_x.get().map(|start| start.0);
    writeln!(
        out,
        "  start X {}, crest X {}{crest_from}, root X {}, Z {} to {}",
        long(start, units),
        long(crest, units),
        long(root, units),
        long(thread::z_start(section, table), units),
        long(thread::z_end(section, table), units),
    )
}

fn spindle(section: &Section) -> String {
    let spindle = &section.spindle;
    let Some(speed) = spindle.speed else {
        return "speed unknown".to_owned();
    };
    let value = speed.value;
    match spindle.mode.map(|mode| mode.value) {
        Some(SpeedMode::SurfaceSpeed) => {
            let unit = match section.units {
                Units::Millimetre => "m/min",
                Units::Inch => "ft/min",
            };
            format!("surface speed {value} {unit}")
        }
        Some(SpeedMode::ConstantRpm) => format!("{value} 1/min"),
        None => format!("{value} 1/min (no word says that it is not a surface speed)"),
    }
}

fn rows(out: &mut String, section: &Section, table: Option<&Table>) -> Done {
    let units = section.units;
    let known = table.map(|table| table.rows.as_slice()).unwrap_or_default();
    let (chips, forces) = (
        known.iter().any(|row| row.cut.chip.is_some()),
        known.iter().any(|row| row.cut.load.is_some()),
    );
    let mut cells: Vec<Vec<String>> = Vec::new();
    let mm = units.name();
    let mut titles = vec![
        "pass".to_owned(),
        "purpose".to_owned(),
        format!("X {mm}"),
        format!("depth {mm}"),
        format!("step {mm}"),
        "area mm²".to_owned(),
        format!("Z start {mm}"),
        format!("Z end {mm}"),
        "seconds".to_owned(),
    ];
    // How thick the chip is on the edge ahead and the edge behind.
    titles.extend(chips.then(|| "chip mm".to_owned()));
    titles.extend(forces.then(|| "force N".to_owned()));
    cells.push(titles);
    for (index, pass) in section.passes.iter().enumerate() {
        let row = known.get(index);
        let depth = row.and_then(|row| row.depth).or(pass.depth);
        let step = row.and_then(|row| row.step).or(pass.step);
        let mut line = vec![
            (index + 1).to_string(),
            pass.purpose.name().to_owned(),
            short(pass.x.map(|x| x.0), units),
            short(depth.map(|depth| depth.0), units),
            short(step.map(|step| step.0), units),
            number(row.and_then(|row| row.area_mm2), 4),
            short(pass.z_start, units),
            short(pass.z_end, units),
            number(row.and_then(|row| row.seconds), 2),
        ];
        if chips {
            let chip = row.and_then(|row| row.cut.chip);
            line.push(chip.map_or_else(
                || "?".to_owned(),
                |chip| format!("{:.3}/{:.3}", chip.leading, chip.trailing),
            ));
        }
        if forces {
            let load = row.and_then(|row| row.cut.load);
            line.push(number(load.map(|load| load.force_n), 0));
        }
        cells.push(line);
    }
    let mut widths = vec![0; cells[0].len()];
    for line in &cells {
        for (width, cell) in widths.iter_mut().zip(line) {
            *width = (*width).max(cell.chars().count());
        }
    }
    for line in &cells {
        for (at, (cell, &width)) in line.iter().zip(&widths).enumerate() {
            if at == 1 {
                write!(out, "  {cell:<width$}")?;
            } else {
                write!(out, "  {cell:>width$}")?;
            }
        }
        out.push('\n');
    }
    Ok(())
}

fn foot(out: &mut String, section: &Section, table: Option<&Table>) -> Done {
    let springs = section
        .passes
        .iter()
        .filter(|pass| pass.purpose == Purpose::Spring)
        .count();
    write!(
        out,
        "  {}, {springs} of them without new depth",
        plural(section.passes.len(), "pass", "passes")
    )?;
    match table.and_then(|table| table.seconds) {
        Some(seconds) => writeln!(
            out,
            "; {:.1} s: {:.1} in the thread, {:.1} in the air, {:.1} back ({:.1} out and in, {:.1} \
             along, {:.1} waiting)",
            seconds.total(),
            seconds.cut,
            seconds.air,
            seconds.back,
            seconds.between.retract + seconds.between.infeed,
            seconds.between.back,
            seconds.between.wait
        )?,
        None => writeln!(out, "; time unknown")?,
    }
    if let Some(basis) = table.map(|table| table.time_basis.as_str())
        && !basis.is_empty()
    {
        writeln!(out, "  time: {}", visible::text(basis))?;
    }
    let Val::Unknown(side) = &section.cut.side else {
        return unknown(out, section, None);
    };
    unknown(out, section, Some(side))
}

fn unknown(out: &mut String, section: &Section, side: Option<&str>) -> Done {
    for what in side
        .into_iter()
        .chain(section.unknown.iter().map(String::as_str))
    {
        writeln!(out, "  not known: {}", visible::text(what))?;
    }
    Ok(())
}

/// A length with its unit and all its digits: a lead is judged by them.
fn exact(length: Option<Length>, units: Units) -> String {
    trimmed(length, units, 9)
}

/// A position with its unit: four decimals of a millimetre, five of an inch.
fn long(length: Option<Length>, units: Units) -> String {
    let decimals = match units {
        Units::Millimetre => 4,
        Units::Inch => 5,
    };
    trimmed(length, units, decimals)
}

fn trimmed(length: Option<Length>, units: Units, decimals: usize) -> String {
    let Some(length) = length else {
        return "unknown".to_owned();
    };
    let text = format!("{:.decimals$}", units.value_of(length));
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text} {}", units.name())
}

/// A length for a column: three decimals of a millimetre, four of an inch.
fn short(length: Option<Length>, units: Units) -> String {
    let decimals = match units {
        Units::Millimetre => 3,
        Units::Inch => 4,
    };
    number(length.map(|length| units.value_of(length)), decimals)
}

fn number(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| "?".to_owned(), |value| format!("{value:.decimals$}"))
}
