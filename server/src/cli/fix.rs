//! `fix`: mends programs in place, shows what it would change, or mends standard input.

use std::collections::HashSet;
use std::fs;

use rules::finding::FixKind;
use rules::fix::{Applied, Mended, Refused, fix};

use super::args::{Allow, Fix, Format};
use super::check::exit;
use super::discover::From;
use super::examine::{self, Job, Result as Work, each};
use super::gate::Choice;
use super::{Exit, Outcome, Stop, Streams, write};
use crate::show::mended as show;
use crate::show::text::{Tally, plural};
use crate::show::{CAUTION, diff, visible};

/// A program before and after. Where nothing differs the texts are let go, so that a large folder
/// does not stay in memory.
struct Report {
    old: Vec<u8>,
    mended: Mended,
    differs: bool,
}

pub(super) fn run(args: &Fix, streams: &mut Streams<'_>) -> Outcome {
    let json_wanted = args.format == Format::Json;
    let choice = match Choice::read(&args.rules) {
        Ok(choice) => choice,
        Err(wrong) => {
            for line in wrong {
                writeln!(streams.err, "error: {line}")?;
            }
            return Ok(Exit::Usage);
        }
    };
    if json_wanted && args.paths.iter().any(|path| path.as_os_str() == "-") {
        writeln!(
            streams.err,
            "error: a program on standard input comes out on standard output; --format json goes \
             with files"
        )?;
        return Ok(Exit::Usage);
    }
    let mut batch = examine::jobs(&args.paths, &args.inputs, streams)?;
    once(&mut batch.jobs);
    for job in &mut batch.jobs {
        choice.apply(&mut job.facts.rules);
    }
    let jobs = &batch.jobs;
    let motion = args.allow == Some(Allow::Motion);
    let work = |job: &Job| match job.input.read() {
        Ok(None) => Work::Skipped,
        Err(why) => Work::Unread(why),
        Ok(Some(old)) => {
            let mut mended = fix(&old, &job.settings, &job.facts, motion);
            let differs = mended.bytes != old;
            let kept = differs || matches!(job.input.from, From::Standard(_));
            if !kept {
                mended.bytes = Vec::new();
            }
            Work::Done(Report {
                old: if kept { old } else { Vec::new() },
                mended,
                differs,
            })
        }
    };
    let mut total = Tally::default();
    let (mut fixes, mut changed, mut caution) = (0, 0, false);
    let mut out = show::Document::default();
    each(jobs, &args.inputs, work, |job, result| {
        let report = match result {
            Work::Skipped => return Ok(()),
            Work::Unread(why) => {
                examine::say_unread(streams, job, &why)?;
                total.unread += 1;
                out.unread(&job.input.shown, &why);
                return Ok(());
            }
            Work::Done(report) => report,
        };
        total.files += 1;
        let mended = &report.mended;
        let differs = report.differs;
        let standard = matches!(job.input.from, From::Standard(_));
        if args.diff && json_wanted {
            // The report tells what would change.
        } else if args.diff {
            let shown = diff::unified(&job.input.shown, &report.old, &mended.bytes);
            write!(streams.out, "{shown}")?;
        } else if standard {
            streams.out.write_all(&mended.bytes)?;
        } else if differs
            && let Err(why) = write::replace(&job.input.path, &report.old, &mended.bytes)
        {
            examine::say_unread(streams, job, &why)?;
            total.unread += 1;
            out.unread(&job.input.shown, &why);
            return Ok(());
        }
        if json_wanted {
            out.file(&job.input.shown, mended, differs);
        }
        changed += usize::from(differs);
        fixes += mended.applied.len();
        total.count(&mended.left);
        caution |= mended.applied.iter().any(changes_the_cut);
        if json_wanted {
            return Ok(());
        }
        tell(args, streams, job, mended, standard)
    })?;
    if total.files == 0 && total.unread == 0 {
        examine::say_none(streams, &args.paths, batch.narrowed)?;
    }
    if json_wanted {
        write!(streams.out, "{}", out.text(!args.diff, &total))?;
    }
    if caution {
        writeln!(streams.err, "{CAUTION}")?;
    }
    if !args.quiet && !json_wanted {
        let unread = match total.unread {
            0 => String::new(),
            count => format!("; {} left alone", plural(count, "input", "inputs")),
        };
        let verb = if args.diff {
            "would be mended"
        } else {
            "mended"
        };
        writeln!(
            streams.err,
            "{verb}: {} in {} of {}; left: {}, {}, {} advice{unread}",
            plural(fixes, "finding", "findings"),
            plural(changed, "program", "programs"),
            total.files,
            plural(total.errors, "error", "errors"),
            plural(total.warnings, "warning", "warnings"),
            total.advice
        )?;
    }
    let reached = if args.diff {
        changed > 0
    } else {
        total.errors > 0
    };
    Ok(exit(&total, reached, batch.narrowed))
}

fn changes_the_cut(applied: &Applied) -> bool {
    applied.kind == FixKind::Motion
}

/// Leaves out files that two paths lead to, so that none is written twice at once.
fn once(jobs: &mut Vec<Job>) {
    let mut seen = HashSet::new();
    jobs.retain(|job| match job.input.from {
        From::File | From::PerhapsFile => {
            fs::canonicalize(&job.input.path).map_or(true, |real| seen.insert(real))
        }
        From::Standard(_) | From::Nowhere(_) => true,
    });
}

/// Lists what was done and what was not. Standard output holds only the program or the diff.
fn tell(
    args: &Fix,
    streams: &mut Streams<'_>,
    job: &Job,
    mended: &Mended,
    standard: bool,
) -> Result<(), Stop> {
    let path = &job.input.shown;
    let to_err = standard || args.diff;
    for Applied {
        rule,
        title,
        kind,
        line,
    } in &mended.applied
    {
        if args.quiet && *kind == FixKind::Text {
            continue;
        }
        let what = match kind {
            FixKind::Text => "",
            FixKind::Motion => " (changes the cut)",
        };
        let out = if to_err {
            &mut streams.err
        } else {
            &mut streams.out
        };
        let title = visible::text(title);
        writeln!(out, "{path}:{line}: {rule}{what}: {title}")?;
    }
    for Refused {
        rule,
        title,
        line,
        why,
    } in &mended.refused
    {
        let title = visible::text(title);
        writeln!(
            streams.err,
            "warning: {path}:{line}: {rule}: not applied, {why}: {title}"
        )?;
    }
    for Refused {
        rule,
        title,
        line,
        why,
    } in &mended.overtaken
    {
        if !args.quiet {
            let title = visible::text(title);
            writeln!(
                streams.err,
                "note: {path}:{line}: {rule}: not needed, {why}: {title}"
            )?;
        }
    }
    if !mended.fighting.is_empty() {
        writeln!(
            streams.err,
            "warning: {path}: the fixes of these rules undo each other and were not applied: {}",
            mended.fighting.join(", ")
        )?;
    }
    Ok(())
}
