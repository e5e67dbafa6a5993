//! `check`: the findings of a run in every format, and what they mean for a gate.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use rules::checks::copy_drift::{Copy, copies};
use rules::facts::Facts;
use rules::finding::{FixKind, Severity};
use rules::missing::{Missing, missing};

use super::args::{Check, CheckFormat, Threshold};
use super::baseline::{Baselines, Gathered};
use super::compared::Compared;
use super::examine::{self, Examined, Job, Result as Work, each, examine_beside};
use super::gate::{self, Choice, Watch, whole};
use super::{Exit, Outcome, Stop, Streams};
use crate::show::entry::{self, FileEntry, uri};
use crate::show::missing::MissingFacts;
use crate::show::statistics::Statistics;
use crate::show::text::{Tally, plural};
use crate::show::{CAUTION, codequality, github, json, jsonl, junit, sarif, text, visible};

/// What one program adds to the output.
struct Report {
    shown: String,
    entry: Option<FileEntry>,
    tally: Tally,
    offers_motion: bool,
    not_judged: Vec<(&'static str, String)>,
    missing: Vec<Missing>,
    counted: Vec<(&'static str, Severity, bool)>,
    /// Rule and fingerprint of each finding, for a baseline that is written.
    prints: Vec<(&'static str, String)>,
    watch: Watch,
    copies: Vec<Copy>,
}

pub(super) fn run(args: &Check, streams: &mut Streams<'_>) -> Outcome {
    let usage = |streams: &mut Streams<'_>, lines: &[String]| -> Outcome {
        for line in lines {
            writeln!(streams.err, "error: {line}")?;
        }
        Ok(Exit::Usage)
    };
    if args.statistics && !matches!(args.format, CheckFormat::Text | CheckFormat::Json) {
        let line = "--statistics goes with --format text and json";
        return usage(streams, &[line.to_owned()]);
    }
    let choice = match Choice::read(&args.rules) {
        Ok(choice) => choice,
        Err(wrong) => return usage(streams, &wrong),
    };
    let mut batch = examine::jobs(&args.paths, &args.inputs, streams)?;
    for job in &mut batch.jobs {
        choice.apply(&mut job.facts.rules);
    }
    let configured = |job: &Job| job.facts.ci.baseline.clone();
    let baselines = if args.no_baseline || args.write_baseline.is_some() {
        Baselines::default()
    } else {
        let configured: Vec<String> = batch.jobs.iter().filter_map(configured).collect();
        let configured = configured.iter().map(String::as_str);
        match Baselines::read(args.baseline.as_deref(), configured) {
            Ok(baselines) => baselines,
            Err(why) => return usage(streams, &[why]),
        }
    };
    let known = |job: &Job| baselines.known(job.facts.ci.baseline.as_deref(), &job.input.path);
    let printer = Printer::of(args, streams.colour);
    let work_with = |job: &Job, compared| {
        examine_beside(job, known(job), compared, |one| {
            let mut report =
                printer.report(&job.input.path, one, Watch::of(&job.facts, &one.judgement));
            report.copies = copies(&one.bytes, &one.program);
            report
        })
    };
    let work = |job: &Job| work_with(job, Vec::new());
    let mut copies = Compared::of(&batch.jobs, &args.inputs)?;
    let threshold = |facts: &Facts| {
        let configured = || facts.ci.fail_on.map(Threshold::from);
        args.fail_on.or_else(configured).unwrap_or(Threshold::Error)
    };
    let mut sum = Sum::new(args);
    write!(streams.out, "{}", printer.head())?;
    each(&batch.jobs, &args.inputs, work, |job, result| {
        match result {
            Work::Skipped => {}
            Work::Unread(why) => {
                examine::say_unread(streams, job, &why)?;
                if args.format == CheckFormat::Jsonl {
                    write!(streams.out, "{}", jsonl::unread(&job.input.shown, &why))?;
                }
                sum.total.unread += 1;
                sum.unread
                    .push((job.input.shown.clone(), uri(&job.input.path), why));
            }
            Work::Done(mut report) => {
                let drifts = copies.drifts(job, &report.copies);
                if !drifts.is_empty()
                    && let Work::Done(again) = work_with(job, drifts)
                {
                    report = again;
                }
                sum.add(&job.input.path, report, threshold(&job.facts), streams)?;
            }
        }
        Ok(())
    })?;
    let today = batch.jobs.first().and_then(|job| job.facts.today);
    for configured in batch.resolver.with_waivers() {
        let whole = sum.total.unread == 0 && whole(&batch, &args.paths, &configured.folder);
        let mut facts = configured.facts.clone();
        choice.apply(&mut facts.rules);
        let findings = sum.watch.findings(&configured, &facts.rules, today, whole);
        if findings.is_empty() {
            continue;
        }
        let path = PathBuf::from(&configured.shown);
        let known = baselines.known(facts.ci.baseline.as_deref(), &path);
        let one = gate::examined(&configured, findings, known);
        let mut report = printer.report(&path, &one, Watch::default());
        report.tally.files = 0;
        sum.add(&path, report, threshold(&facts), streams)?;
    }
    if sum.total.files == 0 && sum.total.unread == 0 {
        examine::say_none(streams, &args.paths, batch.narrowed)?;
    }
    let exit = exit(&sum.total, sum.reached, batch.narrowed);
    if let Some(gathered) = &sum.gathered {
        if let Err(why) = gathered.write(false) {
            return usage(streams, &[why]);
        }
        let findings = plural(gathered.len(), "finding", "findings");
        let path = visible::path(args.write_baseline.as_deref().unwrap_or(Path::new("")));
        writeln!(
            streams.err,
            "{findings} written to {path}; from now on --baseline {path} lets only new ones count"
        )?;
        return Ok(match exit {
            Exit::Findings => Exit::Clean,
            other => other,
        });
    }
    printer.tail(&sum, exit, !baselines.is_empty(), streams)?;
    Ok(exit)
}

/// What a run has gathered.
struct Sum {
    total: Tally,
    /// Path as shown, as a URI, and why.
    unread: Vec<(String, String, String)>,
    files: Vec<FileEntry>,
    thresholds: Vec<Threshold>,
    caution: bool,
    not_judged: NotJudged,
    missing: MissingFacts,
    statistics: Statistics,
    watch: Watch,
    gathered: Option<Gathered>,
    /// Whether a finding reached the threshold of its program.
    reached: bool,
    /// Documents written so far.
    written: usize,
    format: CheckFormat,
}

impl Sum {
    fn new(args: &Check) -> Sum {
        Sum {
            total: Tally::default(),
            unread: Vec::new(),
            files: Vec::new(),
            thresholds: Vec::new(),
            caution: false,
            not_judged: NotJudged::default(),
            missing: MissingFacts::default(),
            statistics: Statistics::default(),
            watch: Watch::default(),
            gathered: args.write_baseline.as_deref().map(Gathered::new),
            reached: false,
            written: 0,
            format: args.format,
        }
    }

    fn add(
        &mut self,
        path: &Path,
        report: Report,
        threshold: Threshold,
        streams: &mut Streams<'_>,
    ) -> Result<(), Stop> {
        if let Some(gathered) = &mut self.gathered {
            for (rule, print) in &report.prints {
                gathered.add(path, rule, print);
            }
        } else {
            if self.format == CheckFormat::Json {
                let before = if self.written == 0 { "\n" } else { ",\n" };
                write!(streams.out, "{before}")?;
            }
            write!(streams.out, "{}", report.shown)?;
        }
        self.written += 1;
        self.reached |= threshold.reached(report.tally.worst());
        self.total.add(report.tally);
        self.caution |= report.offers_motion;
        self.not_judged.add(report.not_judged);
        self.missing.add(report.missing);
        self.statistics.add(&report.counted);
        self.watch.add(report.watch);
        if let Some(entry) = report.entry {
            self.files.push(entry);
            self.thresholds.push(threshold);
        }
        Ok(())
    }
}

/// How the findings are printed.
struct Printer {
    format: CheckFormat,
    statistics: bool,
    quiet: bool,
    writes_baseline: bool,
    colour: bool,
}

impl Printer {
    fn of(args: &Check, colour: bool) -> Printer {
        Printer {
            format: args.format,
            statistics: args.statistics,
            quiet: args.quiet,
            writes_baseline: args.write_baseline.is_some(),
            colour,
        }
    }

    /// What one program adds.
    fn report(&self, path: &Path, one: &Examined<'_>, watch: Watch) -> Report {
        let (text, program, judgement) = (one.text(), &one.program, &one.judgement);
        let verdict = &one.verdict;
        let shown = match self.format {
            _ if self.writes_baseline => String::new(),
            CheckFormat::Text if self.statistics => String::new(),
            CheckFormat::Text => findings(one, self.colour),
            CheckFormat::Json => {
                json::file(text, program, judgement, |_| true, Some(verdict), true)
            }
            CheckFormat::Jsonl => jsonl::file(text, program, judgement, verdict),
            _ => String::new(),
        };
        let entry = match self.format {
            CheckFormat::Text | CheckFormat::Json | CheckFormat::Jsonl => None,
            CheckFormat::Sarif
            | CheckFormat::Junit
            | CheckFormat::Github
            | CheckFormat::Codequality => {
                let entry = entry::file(path, text, program, judgement, verdict);
                // A report of tests lists sound programs too.
                let speaks = !entry.entries.is_empty() || !entry.not_judged.is_empty();
                (speaks || self.format == CheckFormat::Junit).then_some(entry)
            }
        };
        let prints = if self.writes_baseline {
            let rules = judgement.findings.iter().map(|finding| finding.rule);
            let prints = verdict.prints.iter().map(|print| print.hash.clone());
            rules.zip(prints).collect()
        } else {
            Vec::new()
        };
        Report {
            shown,
            entry,
            tally: tally(one),
            offers_motion: offers_motion(one),
            not_judged: judgement.not_judged.concat(),
            missing: match self.format {
                CheckFormat::Text => missing(program, judgement),
                _ => Vec::new(),
            },
            counted: Statistics::of(&judgement.findings),
            prints,
            watch,
            copies: Vec::new(),
        }
    }

    /// The output before the first program.
    fn head(&self) -> String {
        match self.format {
            CheckFormat::Json if !self.writes_baseline => json::head(),
            _ => String::new(),
        }
    }

    /// The output behind the last program.
    fn tail(
        &self,
        sum: &Sum,
        exit: Exit,
        baseline: bool,
        streams: &mut Streams<'_>,
    ) -> Result<(), Stop> {
        let unread = || {
            let unread = sum.unread.iter();
            let unread = unread.map(|(path, _, why)| (path.clone(), why.clone()));
            unread.collect::<Vec<_>>()
        };
        let out = &mut streams.out;
        match self.format {
            CheckFormat::Json => {
                let statistics = self.statistics.then_some(&sum.statistics);
                write!(out, "{}", json::tail(&sum.total, &unread(), statistics))?;
            }
            CheckFormat::Jsonl => write!(out, "{}", jsonl::tail(&sum.total))?,
            CheckFormat::Sarif => {
                let run = sarif::Run {
                    status: exit.status(),
                    baseline,
                };
                write!(out, "{}", sarif::document(&sum.files, &sum.unread, &run))?;
            }
            CheckFormat::Junit => {
                let fails = |index: usize, severity| {
                    let threshold = sum.thresholds.get(index);
                    threshold.is_some_and(|threshold| threshold.reached(Some(severity)))
                };
                let document = junit::document(&sum.files, &unread(), fails);
                write!(out, "{}", document.map_err(std::io::Error::other)?)?;
            }
            CheckFormat::Github => {
                write!(
                    out,
                    "{}",
                    github::document(&sum.files, &unread(), &sum.total)
                )?;
            }
            CheckFormat::Codequality => {
                write!(out, "{}", codequality::document(&sum.files, &unread()))?;
            }
            CheckFormat::Text => {
                if self.statistics {
                    write!(out, "{}", sum.statistics.text())?;
                } else if sum.caution {
                    writeln!(out, "{CAUTION}")?;
                }
                if !self.quiet {
                    let (not_judged, missing) = (sum.not_judged.told(), sum.missing.told());
                    write!(out, "{not_judged}{missing}{}", sum.total.summary())?;
                }
            }
        }
        Ok(())
    }
}

/// The exit status: an incomplete result is told before findings. No program at all is fine when
/// only some were asked for.
pub(super) fn exit(total: &Tally, reached: bool, narrowed: bool) -> Exit {
    if total.unread > 0 || total.files == 0 && !narrowed {
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
    tally.known = one.verdict.known.len();
    tally.waived = one.judgement.waived.len();
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
