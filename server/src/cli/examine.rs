//! Reads and judges the inputs, several at once, and hands the results on in order.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use lexer::program::{Program, Settings};
use lexer::source::Lines;
use rayon::prelude::*;
use rules::facts::Facts;
use rules::finding::Finding;
use rules::judge::{Judgement, judge_beside};

use super::args::Inputs;
use super::discover::{Input, gather};
use super::{Exit, Stop, Streams, narrow};
use crate::beside::Beside;
use crate::config::Resolver;
use crate::show::text::Text;
use crate::show::verdict::{Known, Verdict, verdict};
use crate::show::visible;

/// Inputs that are worked on before their results are written.
const CHUNK: usize = 256;

/// An input with what is known before it is read.
pub(super) struct Job {
    pub(super) input: Input,
    pub(super) settings: Settings,
    pub(super) facts: Facts,
}

/// A program that was read and judged.
pub(super) struct Examined<'a> {
    pub(super) shown: &'a str,
    pub(super) bytes: Vec<u8>,
    pub(super) lines: Lines,
    pub(super) program: Program,
    /// What counts and what is waived.
    pub(super) judgement: Judgement,
    /// The names of both, and what the baseline knows.
    pub(super) verdict: Verdict,
}

impl Examined<'_> {
    pub(super) fn text(&self) -> Text<'_> {
        Text {
            path: self.shown,
            bytes: &self.bytes,
            lines: &self.lines,
        }
    }
}

/// What became of an input.
pub(super) enum Result<T> {
    /// A file of a folder that is no program.
    Skipped,
    /// Could not be read: why, and what to do.
    Unread(String),
    /// What the caller made of it.
    Done(T),
}

/// The inputs of a run.
pub(super) struct Batch {
    pub(super) jobs: Vec<Job>,
    /// Whether only some programs were asked for, so that none is fine.
    pub(super) narrowed: bool,
    pub(super) resolver: Resolver,
}

/// Finds the inputs and their configurations.
///
/// # Errors
/// When a configuration is wrong: everything wrong with all of them is said.
pub(super) fn jobs(
    paths: &[std::path::PathBuf],
    inputs: &Inputs,
    streams: &mut Streams<'_>,
) -> std::result::Result<Batch, Stop> {
    let standard = paths.iter().any(|path| path.as_os_str() == "-");
    if inputs.source.stdin_filename.is_some() && !standard {
        writeln!(
            streams.err,
            "error: --stdin-filename names the program on standard input; give the path - too"
        )?;
        return Err(Stop::Said(Exit::Usage));
    }
    let wrong = |streams: &mut Streams<'_>, why: String| -> std::result::Result<Batch, Stop> {
        writeln!(streams.err, "error: {why}")?;
        Err(Stop::Said(Exit::Usage))
    };
    let from = inputs.files_from.as_deref();
    if standard && from == Some(Path::new("-")) {
        let why = "standard input cannot hold both a program (-) and the list of --files-from -";
        return wrong(streams, why.to_owned());
    }
    let listed = match from
        .map(|from| narrow::list(from, streams.input))
        .transpose()
    {
        Ok(listed) => listed.unwrap_or_default(),
        Err(why) => return wrong(streams, why),
    };
    let resolver = match &inputs.source.config {
        None => Resolver::new(),
        Some(file) => match Resolver::with_file(file) {
            Ok(resolver) => resolver,
            Err(refused) => {
                writeln!(streams.err, "{}", prefixed(&refused.to_string()))?;
                return Err(Stop::Said(Exit::Usage));
            }
        },
    };
    let name = inputs.source.stdin_filename.as_deref();
    let mut found = gather(paths, &listed, name, streams.input, threads(inputs));
    if let Some(rev) = &inputs.changed_since
        && let Err(why) = narrow::changed(rev, &mut found)
    {
        return wrong(streams, why);
    }
    let resolver = resolver.on(inputs.today);
    let mut jobs = Vec::with_capacity(found.len());
    let mut refused = Vec::new();
    for input in found {
        match resolver.facts(&input.path) {
            Ok((settings, facts)) => jobs.push(Job {
                input,
                settings,
                facts,
            }),
            Err(errors) if refused.contains(&errors) => {}
            Err(errors) => refused.push(errors),
        }
    }
    if refused.is_empty() {
        return Ok(Batch {
            jobs,
            narrowed: from.is_some() || inputs.changed_since.is_some(),
            resolver,
        });
    }
    for errors in refused {
        writeln!(streams.err, "{}", prefixed(&errors.to_string()))?;
    }
    Err(Stop::Said(Exit::Usage))
}

fn prefixed(lines: &str) -> String {
    let lines: Vec<_> = lines.lines().map(|line| format!("error: {line}")).collect();
    lines.join("\n")
}

fn threads(inputs: &Inputs) -> usize {
    inputs.jobs.map_or(0, std::num::NonZeroUsize::get)
}

/// Lets `work` loose on every job, several at once, and calls `sink` with the results in order.
pub(super) fn each<T: Send>(
    jobs: &[Job],
    inputs: &Inputs,
    work: impl Fn(&Job) -> Result<T> + Sync,
    mut sink: impl FnMut(&Job, Result<T>) -> std::result::Result<(), Stop>,
) -> std::result::Result<(), Stop> {
    let guarded = |job: &Job| {
        catch_unwind(AssertUnwindSafe(|| work(job))).unwrap_or_else(|_| {
            Result::Unread(
                "flankwise failed on this program; please report it with the program".to_owned(),
            )
        })
    };
    // Starting threads takes longer than one program.
    let pool = match jobs.len() {
        0 | 1 => None,
        _ => rayon::ThreadPoolBuilder::new()
            .num_threads(threads(inputs))
            .build()
            .ok(),
    };
    for chunk in jobs.chunks(CHUNK) {
        let results: Vec<_> = match &pool {
            Some(pool) => pool.install(|| chunk.par_iter().map(guarded).collect()),
            None => chunk.iter().map(guarded).collect(),
        };
        for (job, result) in chunk.iter().zip(results) {
            sink(job, result)?;
        }
    }
    Ok(())
}

/// Reads and judges one input and shows it.
pub(super) fn examine<T>(job: &Job, show: impl FnOnce(&Examined<'_>) -> T) -> Result<T> {
    examine_beside(job, None, Vec::new(), show)
}

/// The same beside the findings that are known already, and with those that come from comparing
/// the program with others.
pub(super) fn examine_beside<T>(
    job: &Job,
    known: Option<Known>,
    compared: Vec<Finding>,
    show: impl FnOnce(&Examined<'_>) -> T,
) -> Result<T> {
    let bytes = match job.input.read() {
        Ok(Some(bytes)) => bytes,
        Ok(None) => return Result::Skipped,
        Err(why) => return Result::Unread(why),
    };
    let beside = Beside::of(Some(&job.input.path));
    let program = lexer::read_with(&bytes, &job.settings, &beside);
    let mut judgement = judge_beside(&bytes, &program, &job.settings, &job.facts, compared);
    let verdict = verdict(&bytes, &program, &mut judgement, known);
    Result::Done(show(&Examined {
        shown: &job.input.shown,
        lines: program.lines.clone(),
        bytes,
        program,
        judgement,
        verdict,
    }))
}

/// Reads one input without judging it.
pub(super) fn read_alone<T>(job: &Job, show: impl FnOnce(&[u8], &Program) -> T) -> Result<T> {
    match job.input.read() {
        Ok(Some(bytes)) => {
            let beside = Beside::of(Some(&job.input.path));
            let program = lexer::read_with(&bytes, &job.settings, &beside);
            Result::Done(show(&bytes, &program))
        }
        Ok(None) => Result::Skipped,
        Err(why) => Result::Unread(why),
    }
}

/// Says that an input could not be read.
pub(super) fn say_unread(
    streams: &mut Streams<'_>,
    job: &Job,
    why: &str,
) -> std::result::Result<(), Stop> {
    let why = visible::text(why);
    writeln!(streams.err, "error: {}: {why}", job.input.shown)?;
    Ok(())
}

/// Says that there was no program.
pub(super) fn say_none(
    streams: &mut Streams<'_>,
    paths: &[std::path::PathBuf],
    narrowed: bool,
) -> std::result::Result<(), Stop> {
    if narrowed {
        writeln!(
            streams.err,
            "no program to look at: none is listed or has changed"
        )?;
        return Ok(());
    }
    let paths: Vec<_> = paths.iter().map(|path| shown(path)).collect();
    writeln!(
        streams.err,
        "error: no program found in {}; name a file to read it whatever it is called",
        paths.join(", ")
    )?;
    Ok(())
}

fn shown(path: &Path) -> String {
    visible::path(path)
}
