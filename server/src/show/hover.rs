//! A section as Markdown, for the editor's hover.

use std::fmt::Write as _;

use lexer::section::{Section, SpeedMode};
use lexer::units::Units;
use rules::identify::Identified;
use rules::table::Table;

use super::{cut, thread};

/// Most rows of passes that a hover shows.
const ROWS: usize = 40;

/// Designation, lead, depth, speed and axis feed, seconds, the passes as a table, and what is not
/// known. Lengths in the section's units.
pub(crate) fn section(
    section: &Section,
    identified: &Identified,
    table: &Table,
    not_judged: &[(&'static str, String)],
) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = head(&mut out, section, identified, table);
    let _ = passes(&mut out, section, table);
    let _ = foot(&mut out, section, table, not_judged);
    out
}

fn head(
    out: &mut String,
    section: &Section,
    identified: &Identified,
    table: &Table,
) -> std::fmt::Result {
    let shown = thread::of(section, Some(identified));
    let units = section.units;
    let name = shown.designation.as_deref().unwrap_or("thread not named");
    writeln!(out, "**{}** — {}\n", escaped(name), section.syntax.name())?;
    writeln!(out, "{}\n", escaped(&shown.why))?;
    let side = section.side().map_or("side unknown", |side| side.name());
    let hand = shown
        .hand
        .map_or_else(|| "hand unknown".into(), |hand| format!("{hand} hand"));
    writeln!(out, "- {side}, {hand}, {} start(s)", shown.starts)?;
    let lead = section.cut.lead.get().map(|lead| lead.length());
    let pitch = shown.pitch.map(|pitch| pitch.length());
    writeln!(
        out,
        "- lead {}, pitch {}",
        length(lead, units),
        length(pitch, units)
    )?;
    let height = section
        .side()
        .and_then(|side| table.height(side))
        .map(|height| height.0);
    writeln!(
        out,
        "- crest X {}, root X {}, depth {}",
        length(table.crest.map(|x| x.0), units),
        length(table.root.map(|x| x.0), units),
        length(height, units)
    )?;
    let spindle = &section.spindle;
    match (spindle.speed, spindle.mode.map(|mode| mode.value)) {
        (None, _) => writeln!(out, "- speed unknown")?,
        (Some(speed), Some(SpeedMode::SurfaceSpeed)) => {
            writeln!(out, "- **surface speed {} in force**", speed.value)?;
        }
        (Some(speed), _) => {
            write!(out, "- {} 1/min", speed.value)?;
            if let Some(lead) = section.cut.lead.get() {
                write!(
                    out,
                    ", axis feed {:.2} m/min",
                    lead.mm().abs() * speed.value / 1000.0
                )?;
            }
            if let Some(crest) = table.crest {
                let metres = std::f64::consts::PI * crest.mm() * speed.value / 1000.0;
                write!(out, ", {metres:.0} m/min at the crest")?;
            }
            writeln!(out)?;
        }
    }
    if let Some(seconds) = table.seconds {
        writeln!(
            out,
            "- {:.1} s: {:.1} in the thread, {:.1} in the air, {:.1} back ({})",
            seconds.total(),
            seconds.cut,
            seconds.air,
            seconds.back,
            escaped(&table.time_basis)
        )?;
    } else {
        writeln!(out, "- time unknown")?;
    }
    for line in cut::lines(section, Some(identified), table) {
        writeln!(out, "- {}", escaped(&line))?;
    }
    Ok(())
}

fn passes(out: &mut String, section: &Section, table: &Table) -> std::fmt::Result {
    if section.passes.is_empty() {
        return Ok(());
    }
    let unit = section.units.name();
    writeln!(out, "\n| pass | | X {unit} | depth | step | area mm² |")?;
    writeln!(out, "| ---: | --- | ---: | ---: | ---: | ---: |")?;
    let number = |value: Option<f64>, decimals: usize| {
        value.map_or_else(|| "?".to_owned(), |value| format!("{value:.decimals$}"))
    };
    let decimals = if section.units == Units::Inch { 4 } else { 3 };
    let in_units = |length: Option<lexer::units::Length>| {
        number(
            length.map(|length| section.units.value_of(length)),
            decimals,
        )
    };
    for (index, (pass, row)) in section
        .passes
        .iter()
        .zip(&table.rows)
        .take(ROWS)
        .enumerate()
    {
        writeln!(
            out,
            "| {} | {} | {} | {} | {} | {} |",
            index + 1,
            pass.purpose.name(),
            in_units(pass.x.map(|x| x.0)),
            in_units(row.depth.map(|depth| depth.0)),
            in_units(row.step.map(|step| step.0)),
            number(row.area_mm2, 4)
        )?;
    }
    if section.passes.len() > ROWS {
        writeln!(out, "\n… and {} more", section.passes.len() - ROWS)?;
    }
    Ok(())
}

fn foot(
    out: &mut String,
    section: &Section,
    table: &Table,
    not_judged: &[(&'static str, String)],
) -> std::fmt::Result {
    writeln!(out, "\ndepths from: {}", escaped(&table.crest_from))?;
    if !section.unknown.is_empty() || !not_judged.is_empty() {
        writeln!(out)?;
    }
    for why in &section.unknown {
        writeln!(out, "- not known: {}", escaped(why))?;
    }
    for (rule, why) in not_judged {
        writeln!(out, "- not judged: {rule}: {}", escaped(why))?;
    }
    Ok(())
}

fn length(length: Option<lexer::units::Length>, units: Units) -> String {
    match length {
        None => "unknown".into(),
        Some(length) => {
            let decimals = if units == Units::Inch { 5 } else { 3 };
            let text = format!("{:.decimals$}", units.value_of(length));
            format!(
                "{} {}",
                text.trim_end_matches('0').trim_end_matches('.'),
                units.name()
            )
        }
    }
}

/// Text that may come from a program, with everything that Markdown or HTML would act on made
/// harmless and control characters dropped.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | '`' | '*' | '_' | '[' | ']' | '|' | '#' | '!' | '~' | '$' => {
                out.push('\\');
                out.push(c);
            }
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::escaped;

    #[test]
    fn nothing_from_a_program_acts_as_markup() {
        assert_eq!(
            escaped("[a](http://x) <img src=x> `b` |c\u{1b}[31m"),
            "\\[a\\](http://x) &lt;img src=x&gt; \\`b\\` \\|c \\[31m"
        );
    }
}
