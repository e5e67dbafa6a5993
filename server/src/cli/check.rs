//! `check`: findings as text or JSON.

use std::collections::BTreeMap;

use rules::finding::FixKind;

use super::args::{Check, Format};
use super::examine::{self, Examined, Result as Work, each, examine};
use super::{Exit, Outcome, Streams};
use crate::show::text::{Tally, plural};
use crate::show::{CAUTION, json, text, visible};

/// What one program adds to the output.
struct Report {
    shown: String,
    tally: Tally,
    offers_motion: bool,
    not_judged: Vec<(&'static str, String)>,
}

pub(super) fn run(args: &Check, streams: &mut Streams<'_>) -> Outcome {
    let jobs = examine::jobs(&args.paths, &args.inputs, streams)?;
    let json_wanted = args.format == Format::Json;
    let colour = streams.colour;
    let work = |job: &examine::Job| {
        examine(job, |one| Report {
            shown: if json_wanted {
                json::file(one.text(), &one.program, &one.judgement, |_| true, true)
            } else {
                findings(one, colour)
            },
            tally: tally(one),
            offers_motion: offers_motion(one),
            not_judged: one.judgement.not_judged.concat(),
        })
    };
    let mut total = Tally::default();
    let mut unread = Vec::new();
    let mut caution = false;
    let mut not_judged = NotJudged::default();
    if json_wanted {
        write!(streams.out, "{}", json::head())?;
    }
    each(&jobs, &args.inputs, work, |job, result| {
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
                total.add(report.tally);
                caution |= report.offers_motion;
                not_judged.add(report.not_judged);
            }
        }
        Ok(())
    })?;
    if json_wanted {
        write!(streams.out, "{}", json::tail(&total, &unread))?;
    } else {
        if caution {
            writeln!(streams.out, "{CAUTION}")?;
        }
        if !args.quiet {
            write!(streams.out, "{}{}", not_judged.told(), total.summary())?;
        }
    }
    if total.files == 0 && total.unread == 0 {
        examine::say_none(streams, &args.paths)?;
    }
    Ok(exit(&total, args.fail_on.reached(total.worst())))
}

/// The exit status: an incomplete result is told before findings.
pub(super) fn exit(total: &Tally, reached: bool) -> Exit {
    if total.unread > 0 || total.files == 0 {
        Exit::Unread
    } else if reached {
        Exit::Findings
    } else {
        Exit::Clean
    }
}

/// How many sections each rule could not judge, and the first reason.
#[derive(Default)]
struct NotJudged(BTreeMap<&'static str, (usize, String)>);

impl NotJudged {
    fn add(&mut self, sections: Vec<(&'static str, String)>) {
        for (rule, why) in sections {
            self.0.entry(rule).or_insert((0, why)).0 += 1;
        }
    }

    fn told(&self) -> String {
        let mut told = String::new();
        for (rule, (count, why)) in &self.0 {
            let count = plural(*count, "section", "sections");
            let why = visible::text(why);
            told.push_str(&format!("not judged: {rule} in {count}: {why}\n"));
        }
        told
    }
}

fn tally(one: &Examined<'_>) -> Tally {
    let mut tally = Tally {
        files: 1,
        sections: one.program.sections.len(),
        ..Tally::default()
    };
    tally.count(&one.judgement.findings);
    tally
}

fn offers_motion(one: &Examined<'_>) -> bool {
    let mut fixes = one
        .judgement
        .findings
        .iter()
        .flat_map(|finding| &finding.fixes);
    fixes.any(|fix| fix.kind == FixKind::Motion)
}

fn findings(one: &Examined<'_>, colour: bool) -> String {
    let text = one.text();
    let mut shown = String::new();
    for finding in &one.judgement.findings {
        shown.push_str(&text::finding(text, finding, colour));
    }
    for mark in &one.program.unread {
        let line = format!(
            "note: {}:{}: not judged: {}\n\n",
            text.path, mark.line, mark.value
        );
        shown.push_str(&line);
    }
    shown
}
