//! One program: its threads with their times, findings and plans.

use lexer::program::{Program, Settings};
use lexer::section::{Kind, Section, Side, Syntax};
use lexer::source::decode;

use super::quantities::Quantity;
use crate::cut::money::Edge;
use crate::cut::passes::BOOK;
use crate::facts::Facts;
use crate::finding::{FixKind, Severity};
use crate::fingerprint::fingerprint;
use crate::identify::From;
use crate::judge::Judgement;
use crate::rewrite::Job;
use crate::rewrite::plan::{State, Wish, plan};
use crate::table::Seconds;

/// Most text that the plans of one program may read anew, in bytes: a plan reads the whole program.
const MOST_TEXT: usize = 64 << 20;
/// Most passes of a thread that is planned.
const MOST_PASSES: usize = 500;

/// A program that was read and judged.
#[derive(Clone, Copy)]
pub struct Source<'a> {
    /// Its path as shown, `/` between folders.
    pub path: &'a str,
    /// The text.
    pub bytes: &'a [u8],
    /// What it was read as.
    pub program: &'a Program,
    /// The settings it was read with.
    pub settings: &'a Settings,
    /// Facts of the shop.
    pub facts: &'a Facts,
    /// What it was judged.
    pub judgement: &'a Judgement,
}

/// What an audit knows of a program.
#[derive(Debug, Clone, PartialEq)]
pub struct ProgramAudit {
    /// Its path.
    pub path: String,
    /// The O numbers in it.
    pub numbers: Vec<i64>,
    /// Its threads in order.
    pub threads: Vec<ThreadAudit>,
    /// Its findings in order of their place.
    pub findings: Vec<Found>,
    /// What was not read, with its line.
    pub unread: Vec<(u32, &'static str)>,
    /// Quantities that the configuration states.
    pub quantity: Quantity,
}

/// A finding in short.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Rule name.
    pub rule: &'static str,
    /// How bad.
    pub severity: Severity,
    /// Line, from 1.
    pub line: u32,
    /// Index of the thread, where it is one's.
    pub thread: Option<usize>,
    /// What is wrong.
    pub message: String,
    /// Where the limit comes from.
    pub source: String,
    /// Whether a fix leaves the cut as it is, or changes it; none without a fix.
    pub fix: Option<FixKind>,
}

/// What an audit knows of a thread.
#[derive(Debug, Clone, PartialEq)]
pub struct ThreadAudit {
    /// First and last line.
    pub lines: (u32, u32),
    /// The name of the section that stays when lines move.
    pub fingerprint: String,
    /// What makes it.
    pub kind: Kind,
    /// Its way of writing.
    pub syntax: Syntax,
    /// Bolt or nut.
    pub side: Option<Side>,
    /// Advance per turn, mm.
    pub lead_mm: Option<f64>,
    /// Starts.
    pub starts: u32,
    /// The T word as written, without blanks, in capitals.
    pub tool: Option<String>,
    /// The thread with what names it.
    pub designation: Option<(String, From)>,
    /// Turns per minute, where constant and known.
    pub rpm: Option<f64>,
    /// Passes.
    pub passes: usize,
    /// Chip area of the heaviest pass, mm².
    pub peak_mm2: Option<f64>,
    /// Seconds of one part; or what is missing to know them.
    pub seconds: Result<Seconds, String>,
    /// What the seconds rest on.
    pub time_basis: String,
    /// Whether the machine's time was taken with a stop-watch.
    pub calibrated: bool,
    /// What a plan makes of it.
    pub planned: Planned,
    /// Rules that could not judge it, with the reason.
    pub not_judged: Vec<(&'static str, String)>,
    /// What its edges cost and last, where the configuration states it.
    pub edge: Option<Edge>,
}

/// What a plan makes of a thread.
#[derive(Debug, Clone, PartialEq)]
pub enum Planned {
    /// A better split, never slower.
    Better(Box<Split>),
    /// As good as the limits let it be, with what was assumed.
    Same(Vec<String>),
    /// Not planned, with the reason.
    Not(String),
}

/// A better split.
#[derive(Debug, Clone, PartialEq)]
pub struct Split {
    /// The thread as it is.
    pub before: State,
    /// The thread with the split.
    pub after: State,
    /// Its seconds.
    pub seconds: Option<Seconds>,
    /// Limits that bound it, with their sources.
    pub limits: Vec<String>,
    /// What was assumed.
    pub notes: Vec<String>,
    /// Findings that it brings.
    pub new_findings: Vec<String>,
    /// Whether its limits rest on a table that is printed from memory.
    pub by_book: bool,
}

impl ThreadAudit {
    /// Seconds of one part; none where they are not known.
    #[must_use]
    pub fn total(&self) -> Option<f64> {
        self.seconds.as_ref().ok().map(Seconds::total)
    }

    /// The better split, where there is one.
    #[must_use]
    pub fn better(&self) -> Option<&Split> {
        match &self.planned {
            Planned::Better(split) => Some(split),
            _ => None,
        }
    }

    /// Seconds of one part with the better split, or as it is.
    #[must_use]
    pub fn total_after(&self) -> Option<f64> {
        let after = self.better().and_then(|split| split.after.seconds);
        after.or(self.total())
    }

    /// Seconds that the better split saves, 0 where there is none; none where they are not known.
    #[must_use]
    pub fn saved(&self) -> Option<f64> {
        Some((self.total()? - self.total_after()?).max(0.0))
    }
}

/// Looks at a program: its threads, what is wrong, and the plans of those that may be planned.
#[must_use]
pub fn audit(source: Source<'_>) -> ProgramAudit {
    let judgement = source.judgement;
    let findings = judgement.findings.iter().map(|finding| Found {
        rule: finding.rule,
        severity: finding.severity,
        line: finding.line,
        thread: finding.section,
        message: finding.message.clone(),
        source: finding.source.clone(),
        fix: finding.fixes.first().map(|fix| fix.kind),
    });
    let findings: Vec<Found> = findings.collect();
    let mut threads: Vec<ThreadAudit> = (0..source.program.sections.len())
        .map(|index| thread(source, index))
        .collect();
    // The longest first, as far as the budget goes.
    let mut order: Vec<usize> = (0..threads.len()).collect();
    let key = |at: &usize| threads[*at].total().unwrap_or(0.0);
    order.sort_by(|a, b| key(b).total_cmp(&key(a)));
    let most = (MOST_TEXT / source.bytes.len().max(1)).max(1);
    for (nth, index) in order.into_iter().enumerate() {
        threads[index].planned = if nth < most {
            planned(source, index, &findings)
        } else {
            Planned::Not(format!(
                "the program is too long to plan more than {most} of its threads in an audit; \
                 `flankwise plan FILE:LINE` plans one"
            ))
        };
    }
    ProgramAudit {
        path: source.path.to_owned(),
        numbers: source
            .program
            .parts
            .iter()
            .filter_map(|p| p.number)
            .collect(),
        threads,
        findings,
        unread: source
            .program
            .unread
            .iter()
            .map(|m| (m.line, m.value))
            .collect(),
        quantity: Quantity::of(&source.facts.production),
    }
}

fn thread(source: Source<'_>, index: usize) -> ThreadAudit {
    let section = &source.program.sections[index];
    let identified = source.judgement.threads.get(index);
    let table = source.judgement.tables.get(index);
    let known = identified.and_then(|one| one.thread.as_ref());
    let areas = table.into_iter().flat_map(|table| &table.rows);
    let areas = areas.filter_map(|row| row.area_mm2);
    let seconds = table.and_then(|table| table.seconds);
    let machine = source.facts.machine.as_ref();
    let not_judged = source.judgement.not_judged.get(index);
    ThreadAudit {
        lines: (section.first_line, section.last_line),
        fingerprint: fingerprint(source.bytes, section),
        kind: section.kind,
        syntax: section.syntax,
        side: section.side(),
        lead_mm: section.cut.lead.get().map(|lead| lead.mm().abs()),
        starts: known
            .map_or(section.cut.starts, |(thread, _)| thread.starts)
            .max(1),
        tool: section.tool.map(|tool| t_word(tool.span.of(source.bytes))),
        designation: known.map(|(thread, from)| (thread.designation(), *from)),
        rpm: section.spindle.rpm(),
        passes: section.passes.len(),
        peak_mm2: areas.max_by(f64::total_cmp),
        seconds: seconds.ok_or_else(|| no_time(section)),
        time_basis: table.map_or_else(String::new, |table| table.time_basis.clone()),
        calibrated: machine.is_some_and(|machine| machine.time_factor.is_some()),
        planned: Planned::Not("not planned".into()),
        not_judged: not_judged.cloned().unwrap_or_default(),
        edge: identified
            .and_then(|one| one.tool.as_ref())
            .and_then(Edge::of),
    }
}

fn t_word(written: &[u8]) -> String {
    let text = decode(written);
    let squeezed = text.chars().filter(|c| !c.is_whitespace());
    squeezed.collect::<String>().to_ascii_uppercase()
}

/// Why the seconds of a section are not known.
fn no_time(section: &Section) -> String {
    let turning = |pass: &lexer::section::Pass| pass.spindle.rpm().is_some_and(|rpm| rpm > 0.0);
    if section.passes.is_empty() {
        return match section.unknown.first() {
            Some(why) => format!("no pass of the thread is known: {why}"),
            None => "no pass of the thread is known".to_owned(),
        };
    }
    if !section.passes.iter().all(turning) {
        return "a constant spindle speed is missing".to_owned();
    }
    if section.passes.iter().any(|pass| pass.lead.is_none()) {
        return "the lead is missing".to_owned();
    }
    "where the tool starts or ends is missing".to_owned()
}

fn planned(source: Source<'_>, index: usize, findings: &[Found]) -> Planned {
    let section = &source.program.sections[index];
    // A better split of a wrong thread is no saving.
    let wrong = |found: &&Found| found.thread == Some(index) && found.severity == Severity::Error;
    if let Some(found) = findings.iter().find(wrong) {
        return Planned::Not(format!(
            "it has an error ({}) to be mended first",
            found.rule
        ));
    }
    if section.passes.len() > MOST_PASSES {
        return Planned::Not(format!("it has more than {MOST_PASSES} passes"));
    }
    let job = Job {
        bytes: source.bytes,
        program: source.program,
        settings: source.settings,
        facts: source.facts,
        judgement: source.judgement,
        index,
    };
    let plan = match plan(&job, &Wish::default()) {
        Ok(plan) => plan,
        Err(why) => return Planned::Not(why),
    };
    let limits: Vec<String> = plan.limits.iter().map(|limit| limit.text()).collect();
    let by_book = plan.limits.iter().any(|limit| limit.from.contains(BOOK));
    match plan.better {
        None => Planned::Same(plan.notes),
        Some(better) => Planned::Better(Box::new(Split {
            before: plan.before,
            after: better.after,
            seconds: better.reread.table.seconds,
            limits,
            notes: plan.notes,
            new_findings: better.reread.new_findings,
            by_book,
        })),
    }
}
