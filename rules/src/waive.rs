//! Waivers: a note `(ALLOW rule-name, reason, UNTIL 2027-03-31)` in the program, or a `[[waiver]]`
//! of the configuration. A waived finding is kept apart with its reason. A waiver that has run
//! out, is used by nothing or cannot be read is a finding itself.

mod note;

use lexer::program::Program;
use lexer::source::Span;

use crate::checks::{Rule, copy_drift, waivers};
use crate::date::Date;
use crate::facts::{Facts, Setting, Waiver};
use crate::finding::{Edit, Finding, Fix, FixKind};
use crate::fingerprint::fingerprint;
use crate::judge::Judgement;
use note::{Allow, Read};

/// A finding that a waiver covers.
#[derive(Debug, Clone, PartialEq)]
pub struct Waived {
    /// What was found.
    pub finding: Finding,
    /// Which waiver covers it.
    pub by: By,
    /// Why the shop allows it, as written.
    pub reason: String,
    /// Last day of the waiver.
    pub until: Option<Date>,
}

/// Where a waiver stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum By {
    /// In the program.
    Note {
        /// The comment.
        span: Span,
        /// Its line, from 1.
        line: u32,
    },
    /// In the configuration.
    Config {
        /// Which `[[waiver]]` of the file, from 0.
        index: usize,
        /// Its place in words, `flankwise.toml: waiver 2`.
        source: String,
    },
}

/// Takes the waived findings out of a judgement and adds what is wrong with the notes.
pub(crate) fn apply(bytes: &[u8], program: &Program, facts: &Facts, judgement: &mut Judgement) {
    let mut notes = Vec::new();
    let mut own = Vec::new();
    for read in note::all(bytes, program) {
        match read {
            Read::Allow(allow) => notes.push(Known {
                ends_before: facts.today.filter(|&today| allow.until.is_some_and(|until| until < today)),
                needed: false,
                allow,
            }),
            Read::Unreadable { why, help, at } => own.push(
                waivers::UNREADABLE
                    .found(at, format!("this ALLOW note waives nothing: {why}"))
                    .because("a note is (ALLOW rule-name, reason) or (ALLOW rule-name, reason, UNTIL 2027-03-31)")
                    .source("the notation of flankwise")
                    .help(help),
            ),
        }
    }
    let prints: Vec<String> = if facts.waivers.iter().any(|waiver| waiver.section.is_some()) {
        program
            .sections
            .iter()
            .map(|section| fingerprint(bytes, section))
            .collect()
    } else {
        Vec::new()
    };
    let mut kept = Vec::new();
    for finding in std::mem::take(&mut judgement.findings) {
        match waiver_of(&finding, &mut notes, facts, &prints) {
            Some((by, reason, until)) => judgement.waived.push(Waived {
                finding,
                by,
                reason,
                until,
            }),
            None => kept.push(finding),
        }
    }
    judgement.findings = kept;
    own.extend(
        notes
            .iter()
            .filter_map(|known| about(bytes, program, facts, judgement, known)),
    );
    for mut finding in own {
        let setting = facts.rules.get(finding.rule).copied();
        if setting == Some(Setting::Off) {
            continue;
        }
        if let Some(Setting::Severity(severity)) = setting {
            finding.severity = severity;
        }
        judgement.findings.push(finding);
    }
}

/// A note with what became of it.
struct Known {
    allow: Allow,
    /// Today, when the note has run out.
    ends_before: Option<Date>,
    /// Whether there is a finding that it covers.
    needed: bool,
}

/// The waiver that covers a finding: where it stands, its reason and its last day. A note comes
/// before the configuration.
fn waiver_of(
    finding: &Finding,
    notes: &mut [Known],
    facts: &Facts,
    prints: &[String],
) -> Option<(By, String, Option<Date>)> {
    let mut by_note = None;
    for known in notes.iter_mut().filter(|known| known.allow.covers(finding)) {
        known.needed = true;
        if known.ends_before.is_none() && by_note.is_none() {
            by_note = Some(&known.allow);
        }
    }
    if let Some(allow) = by_note {
        let by = By::Note {
            span: allow.at.0,
            line: allow.at.1,
        };
        return Some((by, allow.reason.clone(), allow.until));
    }
    let print = finding.section.and_then(|index| prints.get(index));
    let waiver = facts.waivers.iter().find(|waiver| {
        let section = waiver.section.as_ref();
        waiver.rule == finding.rule
            && !waiver.expired(facts.today)
            && section.is_none_or(|wanted| Some(wanted) == print)
    })?;
    let by = By::Config {
        index: waiver.index,
        source: waiver.source.clone(),
    };
    Some((by, waiver.reason.clone(), waiver.until))
}

/// What is wrong with a note that could be read.
fn about(
    bytes: &[u8],
    program: &Program,
    facts: &Facts,
    judgement: &Judgement,
    known: &Known,
) -> Option<Finding> {
    let allow = &known.allow;
    let name = allow.rule.name;
    if let (Some(today), Some(until)) = (known.ends_before, allow.until) {
        let finding = waivers::EXPIRED
            .found(allow.at, format!("the waiver of {name} ran out on {until}"))
            .because(format!("today is {today}"))
            .because(format!("reason given: {}", allow.reason))
            .source("the note itself");
        return Some(if known.needed {
            finding.help(format!(
                "mend what {name} reports, or let who signed the waiver set a new date"
            ))
        } else {
            finding
                .because(format!("{name} reports nothing that the note covers"))
                .help("remove the note")
                .fix(removal(bytes, program, allow))
        });
    }
    // A rule that did not run or could not judge tells nothing about its waiver.
    let off = facts.rules.get(name) == Some(&Setting::Off);
    let blind = allow
        .section
        .and_then(|index| judgement.not_judged.get(index));
    let blind = blind.is_some_and(|rules| rules.iter().any(|(rule, _)| *rule == name));
    // The copies that a program is compared with may lie in files that this run does not see.
    let elsewhere = name == copy_drift::RULE.name;
    if known.needed || off || blind || elsewhere {
        return None;
    }
    let of = match allow.section.and_then(|index| program.sections.get(index)) {
        Some(section) => format!(
            "the thread of lines {} to {} has no finding of {name}",
            section.first_line, section.last_line
        ),
        None => "no thread follows the note".to_owned(),
    };
    Some(
        waivers::UNUSED
            .found(allow.at, format!("the waiver of {name} covers nothing"))
            .because(of)
            .because(format!("reason given: {}", allow.reason))
            .source("the note itself")
            .help("remove the note, so that a fault that comes back is seen")
            .fix(removal(bytes, program, allow)),
    )
}

/// Takes the note out; its line too when nothing else stands there.
fn removal(bytes: &[u8], program: &Program, allow: &Allow) -> Fix {
    let span = allow.at.0;
    let line = program.lines.span(allow.at.1);
    let blank = |span: Span| span.of(bytes).iter().all(u8::is_ascii_whitespace);
    let (before, behind) = (
        Span::new(line.start, span.start),
        Span::new(span.end, line.end),
    );
    let gone = match (blank(before), blank(behind)) {
        (true, true) => line,
        (_, true) => {
            let text = before.of(bytes);
            let kept = text.trim_ascii_end().len() as u32;
            Span::new(before.start + kept, span.end)
        }
        _ => span,
    };
    Fix {
        title: "remove the ALLOW note".to_owned(),
        kind: FixKind::Text,
        edits: vec![Edit {
            span: gone,
            text: String::new(),
        }],
    }
}

/// What is wrong with a waiver of the configuration, seen over a whole run: how many findings it
/// covered (`used`), and whether every file that it is for was looked at (`complete`). The places of the
/// finding are those of the configuration's text.
#[must_use]
pub fn of_config(
    waiver: &Waiver,
    today: Option<Date>,
    used: usize,
    complete: bool,
) -> Option<Finding> {
    let found = |rule: &Rule, message: String| {
        let finding = rule
            .found((waiver.span, waiver.line), message)
            .because(format!("reason given: {}", waiver.reason))
            .source(waiver.source.clone());
        match &waiver.by {
            Some(by) => finding.because(format!("signed by: {by}")),
            None => finding,
        }
    };
    let name = &waiver.rule;
    if let (Some(today), Some(until)) = (today, waiver.until)
        && until < today
    {
        return Some(
            found(&waivers::EXPIRED, format!("the waiver of {name} ran out on {until}"))
                .because(format!("today is {today}"))
                .help("mend what the rule reports and remove the waiver, or let who signed it set a new date"),
        );
    }
    if let Some(most) = waiver.max_uses
        && used > most as usize
    {
        return Some(
            found(
                &waivers::EXPIRED,
                format!("the waiver of {name} covers {used} findings, it was signed for {most}"),
            )
            .because(format!("max_uses = {most}"))
            .help(
                "mend the findings that came on top, or let who signed the waiver set a new number",
            ),
        );
    }
    (complete && used == 0).then(|| {
        found(
            &waivers::UNUSED,
            format!("the waiver of {name} covers nothing"),
        )
        .because("every program that it is for was judged")
        .help("remove the waiver, so that a fault that comes back is seen")
    })
}

#[cfg(test)]
mod tests;
