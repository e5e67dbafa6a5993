//! Runs the checks over a program.

use lexer::program::{Program, Settings};

use crate::checks::seen::{Looks, Seen};
use crate::checks::{Check, Context, Out, RULES, Whole};
use crate::facts::{Facts, Setting};
use crate::finding::{Edit, Finding, Severity};
use crate::identify::{From, Identified, identify};
use crate::table::{Table, table};
use crate::waive::{self, Waived};

mod again;
mod places;
pub use again::Before;
use again::Holds;

/// What is known and wrong about one program. `threads`, `tables` and `not_judged` have one entry
/// a section.
#[derive(Debug, Clone, Default)]
pub struct Judgement {
    /// Which thread each section cuts.
    pub threads: Vec<Identified>,
    /// The pass table of each section.
    pub tables: Vec<Table>,
    /// Rules that could not judge a section, with the reason.
    pub not_judged: Vec<Vec<(&'static str, String)>>,
    /// Findings by place, without those that are waived.
    pub findings: Vec<Finding>,
    /// Findings that a waiver covers, by place.
    pub waived: Vec<Waived>,
    /// What is kept of each section to judge it again.
    kept: Vec<Kept>,
}

/// What is kept of a section.
#[derive(Debug, Clone, Default)]
struct Kept {
    findings: Vec<Finding>,
    looks: Looks,
}

/// Judges a program that was read from `bytes` with `settings`.
#[must_use]
pub fn judge(bytes: &[u8], program: &Program, settings: &Settings, facts: &Facts) -> Judgement {
    let text = Text {
        bytes,
        program,
        settings,
        facts,
    };
    text.judge(None, &|| false).unwrap_or_default()
}

/// The same, for a text that may follow another by an edit: what still holds is not worked out
/// again. Settings and facts have to be those of the judgement before. `None` once `stopped` says
/// so, which is asked before each section.
#[must_use]
pub fn judge_unless(
    stopped: &dyn Fn() -> bool,
    (bytes, program): (&[u8], &Program),
    (settings, facts): (&Settings, &Facts),
    before: Option<&Before<'_>>,
) -> Option<Judgement> {
    let text = Text {
        bytes,
        program,
        settings,
        facts,
    };
    let before = before.and_then(|before| Some((before, Holds::new(before, bytes, program)?)));
    text.judge(before, stopped)
}

/// What is judged, and by what.
#[derive(Clone, Copy)]
struct Text<'a> {
    bytes: &'a [u8],
    program: &'a Program,
    settings: &'a Settings,
    facts: &'a Facts,
}

impl Text<'_> {
    fn judge(
        self,
        mut before: Option<(&Before<'_>, Holds<'_>)>,
        stopped: &dyn Fn() -> bool,
    ) -> Option<Judgement> {
        let mut judgement = Judgement::default();
        for index in 0..self.program.sections.len() {
            if stopped() {
                return None;
            }
            let known = before.as_mut().and_then(|(before, holds)| {
                let (old, kept, thread) = holds.of(index)?;
                let before = before.judgement;
                let not_judged = before.not_judged.get(old)?.clone();
                Some((thread, before.tables.get(old)?.clone(), not_judged, kept))
            });
            let (thread, table, not_judged, mut kept) =
                known.unwrap_or_else(|| self.section(index));
            for finding in &mut kept.findings {
                finding.section = Some(index);
            }
            judgement.findings.extend_from_slice(&kept.findings);
            judgement.threads.push(thread);
            judgement.tables.push(table);
            judgement.not_judged.push(not_judged);
            judgement.kept.push(kept);
        }
        self.whole(&mut judgement);
        Some(judgement)
    }

    /// Judges one section: its thread, its table, what could not be judged, and what was found.
    fn section(self, index: usize) -> (Identified, Table, Vec<(&'static str, String)>, Kept) {
        let Text {
            bytes,
            program,
            settings,
            facts,
        } = self;
        let section = &program.sections[index];
        let identified = identify(bytes, program, section, facts);
        let table = table(section, &identified, facts);
        let seen = Seen::default();
        let context = Context {
            bytes,
            program,
            settings,
            section,
            index,
            identified: &identified,
            table: &table,
            facts,
            seen: &seen,
        };
        let mut findings = Vec::new();
        let mut not_judged = Vec::new();
        for rule in RULES {
            let Check::Section(check) = rule.check else {
                continue;
            };
            let setting = facts.rules.get(rule.name).copied();
            if setting == Some(Setting::Off) || !rule.kinds.contains(&section.kind) {
                continue;
            }
            let mut out = Out::default();
            check(rule, &context, &mut out);
            not_judged.append(&mut out.not_judged);
            let inferred =
                rule.needs_designation && matches!(&identified.thread, Some((_, From::Numbers)));
            if let Some(mut finding) = one(out.findings) {
                finding
                    .fixes
                    .retain(|fix| !touches_shared(program, &fix.edits));
                if inferred {
                    finding.severity = finding.severity.min(Severity::Warning);
                }
                set(&mut finding, setting);
                findings.push(finding);
            }
        }
        let looks = seen.looks();
        (identified, table, not_judged, Kept { findings, looks })
    }

    /// Adds what the checks of the whole file find, and puts all in order.
    fn whole(self, judgement: &mut Judgement) {
        let facts = self.facts;
        let whole = Whole {
            bytes: self.bytes,
            program: self.program,
            settings: self.settings,
            threads: &judgement.threads,
            facts,
        };
        let mut of_file = Vec::new();
        for rule in RULES {
            let Check::Program(check) = rule.check else {
                continue;
            };
            let setting = facts.rules.get(rule.name).copied();
            if setting == Some(Setting::Off) {
                continue;
            }
            let mut out = Out::default();
            check(rule, &whole, &mut out);
            for mut finding in out.findings {
                set(&mut finding, setting);
                of_file.push(finding);
            }
        }
        judgement.findings.append(&mut of_file);
        by_place(&mut judgement.findings);
        waive::apply(self.bytes, self.program, facts, judgement);
        by_place(&mut judgement.findings);
    }
}

fn by_place(findings: &mut Vec<Finding>) {
    findings.sort_by(|a, b| {
        (a.span.start, a.span.end, a.rule).cmp(&(b.span.start, b.span.end, b.rule))
    });
    // A subprogram that is called several times cuts the same thing several times.
    findings.dedup_by(|b, a| (a.rule, a.span, &a.message) == (b.rule, b.span, &b.message));
}

/// Whether an edit changes a block that is run more than once, or a worked-out word: it would
/// change other passes than the one that it is meant for.
fn touches_shared(program: &Program, edits: &[Edit]) -> bool {
    edits.iter().any(|edit| {
        let behind = program
            .shared
            .partition_point(|span| span.end < edit.span.start);
        program
            .shared
            .get(behind)
            .is_some_and(|span| span.start <= edit.span.end)
    })
}

/// The severity that the configuration wants.
fn set(finding: &mut Finding, setting: Option<Setting>) {
    if let Some(Setting::Severity(severity)) = setting {
        finding.severity = severity;
    }
}

/// One finding a section and rule: the worst and first, with the number of the others.
fn one(mut findings: Vec<Finding>) -> Option<Finding> {
    let more = findings.len().saturating_sub(1);
    let worst = findings
        .iter()
        .enumerate()
        .max_by_key(|(at, finding)| (finding.severity, std::cmp::Reverse(*at)))
        .map(|(at, _)| at)?;
    let others: Vec<_> = findings
        .iter()
        .enumerate()
        .filter(|(at, _)| *at != worst)
        .map(|(_, finding)| (finding.span, finding.line, finding.message.clone()))
        .take(20)
        .collect();
    let mut finding = findings.swap_remove(worst);
    if more > 0 {
        finding.message = format!("{} (and {more} more in this section)", finding.message);
        for (span, line, message) in others {
            finding = finding.related((span, line), message);
        }
    }
    Some(finding)
}
