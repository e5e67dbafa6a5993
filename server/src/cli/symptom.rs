//! `explain --symptom`: from what is seen at the machine to the checks, run on programs where some
//! are named.

use std::fmt::Write as _;

use rules::facts::Setting;
use rules::nearest::nearest;
use rules::symptoms::{Answered, CAUTION, Outcome as Came, SYMPTOMS, Step, Symptom, answer};

use super::args::{Explain, Inputs, Source};
use super::examine::{self, Examined, Job, Result as Work, each, examine};
use super::{Exit, Outcome, Streams};
use crate::show::visible;

pub(super) fn run(name: &str, args: &Explain, streams: &mut Streams<'_>) -> Outcome {
    if name.is_empty() {
        return list(args, streams);
    }
    let Some(symptom) = Symptom::named(name) else {
        let hint = match nearest(name, SYMPTOMS.iter().map(|symptom| symptom.name)) {
            Some(near) => format!("did you mean {near}?"),
            None => "`flankwise explain --symptom` lists all of them".to_owned(),
        };
        let name = visible::text(name);
        writeln!(streams.err, "error: there is no symptom {name}: {hint}")?;
        return Ok(Exit::Usage);
    };
    if args.programs.is_empty() {
        write!(streams.out, "{}", page(symptom))?;
        return Ok(Exit::Clean);
    }
    on_programs(symptom, args, streams)
}

fn list(args: &Explain, streams: &mut Streams<'_>) -> Outcome {
    if !args.programs.is_empty() {
        let why = "name the symptom: `flankwise explain --symptom` lists all of them";
        writeln!(streams.err, "error: {why}")?;
        return Ok(Exit::Usage);
    }
    let names = SYMPTOMS.iter().map(|symptom| symptom.name.len());
    let width = names.max().unwrap_or(0);
    for symptom in SYMPTOMS {
        writeln!(streams.out, "{:width$}  {}", symptom.name, symptom.seen)?;
    }
    Ok(Exit::Clean)
}

/// What to check, without a program.
fn page(symptom: &Symptom) -> String {
    let mut page = format!("{}: {}\n", symptom.name, symptom.seen);
    page.push_str("checks in the order that settles it fastest (common practice, no source):\n");
    for (at, step) in symptom.steps.iter().enumerate() {
        // Writing to a string cannot fail.
        let _ = match step {
            Step::Rule(name, why) => writeln!(page, "{:3}. {name}: {why}", at + 1),
            Step::Look(what) => writeln!(page, "{:3}. at the machine: {what}", at + 1),
        };
    }
    let _ = writeln!(page, "caution: {CAUTION}");
    page
}

fn on_programs(symptom: &Symptom, args: &Explain, streams: &mut Streams<'_>) -> Outcome {
    let inputs = Inputs {
        source: Source {
            config: args.config.clone(),
            ..Source::default()
        },
        today: args.today,
        ..Inputs::default()
    };
    let batch = examine::jobs(&args.programs, &inputs, streams)?;
    let work = |job: &Job| examine(job, |one| answered(symptom, job, one));
    let (mut files, mut unread, mut found) = (0, 0, false);
    each(&batch.jobs, &inputs, work, |job, result| {
        match result {
            Work::Skipped => {}
            Work::Unread(why) => {
                examine::say_unread(streams, job, &why)?;
                unread += 1;
            }
            Work::Done((shown, any)) => {
                write!(streams.out, "{shown}")?;
                files += 1;
                found |= any;
            }
        }
        Ok(())
    })?;
    if files > 0 {
        writeln!(streams.out, "caution: {CAUTION}")?;
    } else if unread == 0 {
        examine::say_none(streams, &args.programs, batch.narrowed)?;
        return Ok(if batch.narrowed {
            Exit::Clean
        } else {
            Exit::Unread
        });
    }
    Ok(match (unread, found) {
        (0, false) => Exit::Clean,
        (0, true) => Exit::Findings,
        _ => Exit::Unread,
    })
}

/// The steps on one program, and whether any of them found something.
fn answered(symptom: &Symptom, job: &Job, one: &Examined<'_>) -> (String, bool) {
    let off = |name: &str| job.facts.rules.get(name) == Some(&Setting::Off);
    let all = answer(symptom, &one.judgement, &off);
    let mut shown = format!("{}: {}\n", one.shown, symptom.seen);
    if one.program.sections.is_empty() {
        shown.push_str("  no threading section was found in it\n");
    }
    for step in &all {
        shown.push_str(&line(step, one));
    }
    let found = all
        .iter()
        .any(|step| matches!(step.outcome, Came::Found(_)));
    (shown, found)
}

fn line(answered: &Answered<'_>, one: &Examined<'_>) -> String {
    let mut line = String::new();
    // Writing to a string cannot fail.
    let _ = match (answered.step, &answered.outcome) {
        (Step::Look(what), _) => writeln!(line, "  look     at the machine: {what}"),
        (Step::Rule(name, why), Came::Found(findings)) => {
            let _ = writeln!(line, "  FOUND    {name}: {why}");
            for finding in findings {
                let _ = writeln!(
                    line,
                    "           {}:{}: {}: {}",
                    one.shown,
                    finding.line,
                    finding.severity.name(),
                    visible::text(&finding.message)
                );
                if !finding.help.is_empty() {
                    let _ = writeln!(line, "           help: {}", visible::text(&finding.help));
                }
            }
            Ok(())
        }
        (Step::Rule(name, why), Came::NotJudged(reasons)) => {
            let _ = writeln!(line, "  unknown  {name}: {why}");
            for reason in reasons {
                let _ = writeln!(line, "           not judged: {}", visible::text(reason));
            }
            Ok(())
        }
        (Step::Rule(name, why), _) => writeln!(line, "  clear    {name}: {why}"),
    };
    line
}
