//! `audit`: a tree of programs, summed up.

use std::fs;
use std::path::{Path, PathBuf};

use rules::audit::program::{ProgramAudit, Source, audit};
use rules::audit::quantities::Quantities;
use rules::audit::sum::{Audit as Summed, sum};

use super::args::{Audit, AuditFormat, Inputs, WORST};
use super::discover::advice;
use super::examine::{self, Examined, Job, Result as Work, each, examine};
use super::{Exit, Outcome, Streams, write};
use crate::hash::hash;
use crate::report::{Detail, Report, csv, html, json, markdown, text};
use crate::show::visible;

/// A program with the hash of its text.
struct One {
    program: ProgramAudit,
    hash: String,
}

pub(super) fn run(args: &Audit, streams: &mut Streams<'_>) -> Outcome {
    let quantities = match &args.quantities {
        None => None,
        Some(path) => match read(path) {
            Ok(read) => Some(read),
            Err(wrong) => {
                for wrong in wrong {
                    writeln!(streams.err, "error: {}", visible::text(&wrong))?;
                }
                return Ok(Exit::Usage);
            }
        },
    };
    let batch = examine::jobs(&args.paths, &args.inputs, streams)?;
    let jobs = &batch.jobs;
    let mut report = Report {
        audit: Summed::default(),
        details: Vec::new(),
        programs: Vec::new(),
        facts: batch.resolver.files(),
        unread: Vec::new(),
        unused_columns: Vec::new(),
        date: args.date.map(|date| date.to_string()),
    };
    let mut programs = Vec::new();
    let mut job_of = Vec::new();
    let mut at = 0;
    each(
        jobs,
        &args.inputs,
        |job| examine(job, |one| looked_at(job, one)),
        |job, result| {
            match result {
                Work::Skipped => {}
                Work::Unread(why) => {
                    examine::say_unread(streams, job, &why)?;
                    report.unread.push((job.input.shown.clone(), why));
                }
                Work::Done(One { program, hash }) => {
                    report.programs.push((program.path.clone(), hash));
                    programs.push(program);
                    job_of.push(at);
                }
            }
            at += 1;
            Ok(())
        },
    )?;
    if programs.is_empty() && report.unread.is_empty() {
        examine::say_none(streams, &args.paths, batch.narrowed)?;
    }
    report.audit = sum(programs, quantities.as_ref().map(|(file, _)| file));
    for stray in &report.audit.stray_quantities {
        writeln!(streams.err, "error: {}", visible::text(stray))?;
    }
    if let Some((file, hash)) = quantities {
        report.unused_columns = file.unused;
        report.facts.push((file.name, hash));
    }
    if args.format == AuditFormat::Html {
        detailed(&mut report, args, jobs, &job_of);
    }
    let whole = report.unread.is_empty()
        && report.audit.stray_quantities.is_empty()
        && (!report.programs.is_empty() || batch.narrowed);
    let document = match args.format {
        AuditFormat::Text => text::summary(&report).into_bytes(),
        AuditFormat::Csv => csv::document(&report).unwrap_or_default(),
        AuditFormat::Json => json::document(&report).into_bytes(),
        AuditFormat::Markdown => markdown::document(&report).into_bytes(),
        AuditFormat::Html => html::document(&report).into_bytes(),
    };
    match &args.output {
        None => streams.out.write_all(&document)?,
        Some(path) => {
            if let Err(why) = write::create(path, &document) {
                writeln!(streams.err, "error: {}: {why}", visible::path(path))?;
                return Ok(Exit::Usage);
            }
        }
    }
    Ok(if whole { Exit::Clean } else { Exit::Unread })
}

/// What `audit` writes about paths, and what it says beside it; none where there is nothing to
/// look at.
pub(crate) fn audited(
    paths: &[PathBuf],
    quantities: Option<&Path>,
    page: bool,
) -> Option<(String, String)> {
    if paths.is_empty() {
        return None;
    }
    let args = Audit {
        paths: paths.to_vec(),
        inputs: Inputs::default(),
        quantities: quantities.map(Path::to_owned),
        format: if page {
            AuditFormat::Html
        } else {
            AuditFormat::Markdown
        },
        output: None,
        worst: WORST,
        date: None,
    };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut streams = Streams {
        input: &mut &b""[..],
        out: &mut out,
        err: &mut err,
        colour: false,
        colour_err: false,
    };
    // What stops it stands in the messages.
    let _ = run(&args, &mut streams);
    let text = |bytes: Vec<u8>| String::from_utf8_lossy(&bytes).into_owned();
    Some((text(out), text(err)))
}

fn source<'a>(job: &'a Job, one: &'a Examined<'_>) -> Source<'a> {
    Source {
        path: one.shown,
        bytes: &one.bytes,
        program: &one.program,
        settings: &job.settings,
        facts: &job.facts,
        judgement: &one.judgement,
    }
}

fn looked_at(job: &Job, one: &Examined<'_>) -> One {
    One {
        program: audit(source(job, one)),
        hash: hash(&one.bytes),
    }
}

/// Looks at the first threads of the ranking again, for their drawings and charts.
fn detailed(report: &mut Report, args: &Audit, jobs: &[Job], job_of: &[usize]) {
    let summed = &report.audit.summed;
    let timed = |row: &usize| summed.thread(&summed.rows[*row]).total().is_some();
    let wanted: Vec<usize> = (0..summed.rows.len())
        .filter(timed)
        .take(args.worst)
        .collect();
    let mut details = Vec::new();
    let mut changed = Vec::new();
    for (nth, row) in wanted.into_iter().enumerate() {
        let program = summed.rows[row].program;
        let job = &jobs[job_of[program]];
        let looked = examine(job, |one| {
            let same = hash(&one.bytes) == report.programs[program].1;
            same.then(|| Detail::of(source(job, one), &report.audit, row, nth))
        });
        match looked {
            Work::Done(Some(Some(detail))) => details.push(detail),
            Work::Done(Some(None)) => {}
            _ => changed.push((
                job.input.shown.clone(),
                "it has changed while the audit ran, so its threads are not shown at length".into(),
            )),
        }
    }
    report.details = details;
    report.unread.extend(changed);
}

/// The quantities with the hash of their file.
fn read(path: &Path) -> Result<(Quantities, String), Vec<String>> {
    let shown = visible::path(path);
    let bytes = fs::read(path).map_err(|error| vec![format!("{shown}: {}", advice(&error))])?;
    Quantities::read(&shown, &bytes).map(|read| (read, hash(&bytes)))
}
