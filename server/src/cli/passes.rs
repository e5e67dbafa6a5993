//! `passes`: every threading section as a table.

use std::path::{Path, PathBuf};

use lexer::section::Section;

use super::args::{Format, Inputs, Passes};
use super::check::exit;
use super::discover::{From, Input};
use super::examine::{self, Examined, Result as Work, each, examine};
use super::{Exit, Outcome, Streams};
use crate::show::text::Tally;
use crate::show::{json, passes};

/// What one program adds to the output.
struct Report {
    shown: String,
    sections: usize,
    /// The lines of all sections, where the line asked for is in none.
    elsewhere: Option<Vec<(u32, u32)>>,
}

pub(super) fn run(args: &Passes, streams: &mut Streams<'_>) -> Outcome {
    let (paths, lines): (Vec<_>, Vec<_>) = args.paths.iter().map(|path| split(path)).unzip();
    let wanted = |input: &Input| {
        let standard = matches!(input.from, From::Standard(_));
        let named = |path: &Path| match path.to_str() {
            Some("-") => standard,
            _ => !standard && path == input.path,
        };
        let asked = paths.iter().zip(&lines);
        let asked = asked.filter(|(path, _)| named(path));
        asked.map(|(_, line)| *line).collect::<Vec<_>>()
    };
    let inputs = Inputs {
        source: args.source.clone(),
        jobs: args.jobs,
        ..Inputs::default()
    };
    let batch = examine::jobs(&paths, &inputs, streams)?;
    let jobs = &batch.jobs;
    let json_wanted = args.format == Format::Json;
    let work = |job: &examine::Job| {
        let lines = wanted(&job.input);
        examine(job, |one| report(one, &lines, json_wanted))
    };
    let mut total = Tally::default();
    let mut unread = Vec::new();
    let mut nowhere = false;
    if json_wanted {
        write!(streams.out, "{}", json::head())?;
    }
    each(jobs, &inputs, work, |job, result| {
        match result {
            Work::Skipped => {}
            Work::Unread(why) => {
                examine::say_unread(streams, job, &why)?;
                total.unread += 1;
                unread.push((job.input.shown.clone(), why));
            }
            Work::Done(report) => {
                if json_wanted {
                    let before = if total.files == 0 { "\n" } else { ",\n" };
                    write!(streams.out, "{before}")?;
                }
                write!(streams.out, "{}", report.shown)?;
                total.files += 1;
                total.sections += report.sections;
                if let Some(sections) = report.elsewhere {
                    nowhere = true;
                    let all = told(&sections);
                    writeln!(streams.err, "error: {}: {all}", job.input.shown)?;
                }
            }
        }
        Ok(())
    })?;
    if json_wanted {
        write!(streams.out, "{}", json::tail(&total, &unread, None))?;
    }
    if total.files == 0 && total.unread == 0 {
        examine::say_none(streams, &paths, batch.narrowed)?;
    }
    match exit(&total, false, batch.narrowed) {
        Exit::Clean if nowhere => Ok(Exit::Usage),
        exit => Ok(exit),
    }
}

/// Splits `FILE:LINE`, unless a file has that very name.
pub(super) fn split(path: &Path) -> (PathBuf, Option<u32>) {
    if path.exists() {
        return (path.to_owned(), None);
    }
    let parts = path.to_str().and_then(|text| text.rsplit_once(':'));
    match parts.and_then(|(file, line)| Some((file, line.parse().ok()?))) {
        Some((file, line)) => (PathBuf::from(file), Some(line)),
        None => (path.to_owned(), None),
    }
}

fn report(one: &Examined<'_>, lines: &[Option<u32>], json_wanted: bool) -> Report {
    let asked = |section: &Section| {
        lines.is_empty()
            || lines.iter().any(|line| {
                line.is_none_or(|line| (section.first_line..=section.last_line).contains(&line))
            })
    };
    let all = &one.program.sections;
    let sections = all.iter().filter(|section| asked(section)).count();
    let shown = if json_wanted {
        json::file(one.text(), &one.program, &one.judgement, asked, None, false)
    } else {
        let mut shown = String::new();
        for (index, section) in all.iter().enumerate() {
            if asked(section) {
                shown.push_str(&passes::section(one.text(), section, &one.judgement, index));
            }
        }
        if all.is_empty() {
            shown = format!("{}: no threading section\n\n", one.shown);
        }
        shown
    };
    let places = || {
        let lines = |section: &Section| (section.first_line, section.last_line);
        all.iter().map(lines).collect()
    };
    let line_asked = lines.iter().any(Option::is_some);
    Report {
        shown,
        sections,
        elsewhere: (sections == 0 && line_asked).then(places),
    }
}

/// Says that a line lies in none of these sections.
pub(super) fn told(sections: &[(u32, u32)]) -> String {
    if sections.is_empty() {
        return "no threading section at all".to_owned();
    }
    format!(
        "no threading section at this line; there are sections at {}",
        places(sections)
    )
}

/// `lines 12-13, 20-21 and more`.
pub(super) fn places(sections: &[(u32, u32)]) -> String {
    let places: Vec<_> = sections
        .iter()
        .take(12)
        .map(|(first, last)| format!("{first}-{last}"))
        .collect();
    let more = if sections.len() > 12 { " and more" } else { "" };
    format!("lines {}{more}", places.join(", "))
}
