//! The JSON document, version 1. Keys are only ever added. Lines and columns count from 1,
//! columns in characters of the decoded line, ends exclusive; `bytes` are offsets; X values are
//! diameters, depths and steps are radial; what is not known is `null`.

use std::io;

use lexer::program::Program;
use lexer::section::{Section, SpeedMode};
use lexer::source::Span;
use lexer::units::{Diameter, Lead, Length, Radial};
use rules::finding::Finding;
use rules::fingerprint::{Print, fingerprint};
use rules::judge::Judgement;
use rules::waive::By;
use serde::{Serialize, Serializer};

use super::cut::{self, CutOut, LeftOut, SecondsOut};
use super::missing::MissingOut;
use super::statistics::Statistics;
use super::text::{Tally, Text};
use super::verdict::Verdict;
use super::{thread, visible};

/// Version of the document.
pub(crate) const VERSION: u32 = 1;

/// One program.
#[derive(Serialize)]
pub(crate) struct File<'a> {
    path: &'a str,
    syntax: Option<&'static str>,
    family: &'static str,
    sections: Vec<SectionOut>,
    findings: Vec<FindingOut>,
    known: Vec<FindingOut>,
    waived: Vec<FindingOut>,
    not_read: Vec<NotRead>,
    /// Facts that would let more rules judge.
    missing: Vec<MissingOut>,
}

#[derive(Serialize)]
struct SectionOut {
    fingerprint: String,
    kind: &'static str,
    syntax: &'static str,
    lines: [u32; 2],
    side: &'static str,
    hand: &'static str,
    lead_mm: Option<f64>,
    pitch_mm: Option<f64>,
    starts: u32,
    tool: Option<String>,
    #[serde(serialize_with = "whole")]
    rpm: Option<f64>,
    spindle: &'static str,
    designation: Designation,
    start_x_mm: Option<f64>,
    crest_x_mm: Option<f64>,
    root_x_mm: Option<f64>,
    z_start_mm: Option<f64>,
    z_end_mm: Option<f64>,
    passes: Vec<PassOut>,
    seconds: Option<SecondsOut>,
    time_basis: Option<String>,
    force_from: Option<String>,
    chips_not_known: Option<&'static str>,
    hints: Vec<String>,
    left: Option<LeftOut>,
    unknown: Vec<String>,
    not_judged: Vec<NotJudged>,
}

#[derive(Serialize)]
struct NotJudged {
    rule: &'static str,
    why: String,
}

#[derive(Serialize)]
struct Designation {
    text: Option<String>,
    from: Option<&'static str>,
    why: String,
}

#[derive(Serialize)]
struct PassOut {
    line: u32,
    purpose: &'static str,
    x_mm: Option<f64>,
    depth_mm: Option<f64>,
    step_mm: Option<f64>,
    area_mm2: Option<f64>,
    z_start_mm: Option<f64>,
    z_end_mm: Option<f64>,
    lead_mm: Option<f64>,
    seconds: Option<f64>,
    #[serde(flatten)]
    cut: CutOut,
}

/// A finding.
#[derive(Serialize)]
pub(crate) struct FindingOut {
    rule: &'static str,
    severity: &'static str,
    #[serde(flatten)]
    place: Place,
    section: Option<usize>,
    message: String,
    because: Vec<String>,
    source: String,
    help: String,
    related: Vec<RelatedOut>,
    fixes: Vec<FixOut>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fingerprint: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    waiver: Option<WaiverOut>,
}

#[derive(Serialize)]
struct WaiverOut {
    reason: String,
    until: Option<String>,
    /// The line of a note; none for a waiver of the configuration.
    line: Option<u32>,
    source: String,
}

#[derive(Serialize)]
struct Place {
    line: u32,
    column: u32,
    end_line: u32,
    end_column: u32,
    bytes: [u32; 2],
}

#[derive(Serialize)]
struct RelatedOut {
    #[serde(flatten)]
    place: Place,
    text: String,
}

#[derive(Serialize)]
struct FixOut {
    title: String,
    kind: &'static str,
    edits: Vec<EditOut>,
}

#[derive(Serialize)]
struct EditOut {
    bytes: [u32; 2],
    text: String,
}

#[derive(Serialize)]
struct NotRead {
    line: u32,
    what: String,
}

/// An input that could not be read.
#[derive(Serialize)]
pub(crate) struct Unread<'a> {
    /// The path as shown.
    pub(crate) path: &'a str,
    /// Why, and what to do.
    pub(crate) why: &'a str,
}

/// What a run has seen.
#[derive(Serialize)]
pub(crate) struct Summary {
    files: usize,
    sections: usize,
    error: usize,
    warning: usize,
    advice: usize,
    unread: usize,
    known: usize,
    waived: usize,
}

impl Summary {
    pub(crate) fn of(tally: &Tally) -> Summary {
        Summary {
            files: tally.files,
            sections: tally.sections,
            error: tally.errors,
            warning: tally.warnings,
            advice: tally.advice,
            unread: tally.unread,
            known: tally.known,
            waived: tally.waived,
        }
    }
}

/// The document up to its first file.
pub(crate) fn head() -> String {
    format!("{{\"version\":{VERSION},\n\"files\":[")
}

/// The document behind its last file.
pub(crate) fn tail(
    tally: &Tally,
    unread: &[(String, String)],
    statistics: Option<&Statistics>,
) -> String {
    let unread: Vec<_> = unread
        .iter()
        .map(|(path, why)| Unread { path, why })
        .collect();
    let statistics = statistics.map_or_else(String::new, |statistics| {
        format!("\"statistics\":{},\n", print(&statistics.rows()))
    });
    format!(
        "],\n\"unread\":{},\n{statistics}\"summary\":{}}}\n",
        print(&unread),
        print(&Summary::of(tally))
    )
}

/// One program as it stands between [`head`] and [`tail`]. `shown` tells which sections are in.
pub(crate) fn file(
    text: Text<'_>,
    program: &Program,
    judgement: &Judgement,
    shown: impl Fn(&Section) -> bool,
    verdict: Option<&Verdict>,
    with_findings: bool,
) -> String {
    let sections = program
        .sections
        .iter()
        .enumerate()
        .filter(|(_, section)| shown(section))
        .map(|(index, one)| section(text.bytes, one, judgement, index))
        .collect();
    let out = if with_findings {
        sorted(text, judgement, verdict)
    } else {
        Sorted::default()
    };
    print(&File {
        path: text.path,
        syntax: common_syntax(program),
        family: program.family.name(),
        sections,
        findings: out.findings,
        known: out.known,
        waived: out.waived,
        missing: if with_findings {
            let missing = rules::missing::missing(program, judgement);
            missing.into_iter().map(MissingOut::of).collect()
        } else {
            Vec::new()
        },
        not_read: program
            .unread
            .iter()
            .map(|mark| NotRead {
                line: mark.line,
                what: mark.value.to_owned(),
            })
            .collect(),
    })
}

/// Findings by what they mean for a gate.
#[derive(Default)]
pub(crate) struct Sorted {
    pub(crate) findings: Vec<FindingOut>,
    pub(crate) known: Vec<FindingOut>,
    pub(crate) waived: Vec<FindingOut>,
}

/// The findings of a program; with their names where a verdict is at hand.
pub(crate) fn sorted(text: Text<'_>, judgement: &Judgement, verdict: Option<&Verdict>) -> Sorted {
    let print = |print: Option<&Print>| print.map(|print| print.hash.clone());
    let findings = judgement
        .findings
        .iter()
        .enumerate()
        .map(|(at, one)| FindingOut {
            fingerprint: print(verdict.and_then(|verdict| verdict.prints.get(at))),
            ..finding(text, one)
        });
    let known = verdict.into_iter().flat_map(|verdict| &verdict.known);
    let known = known.map(|(one, name)| FindingOut {
        fingerprint: print(Some(name)),
        ..finding(text, one)
    });
    let waived = judgement
        .waived
        .iter()
        .enumerate()
        .map(|(at, one)| FindingOut {
            fingerprint: print(verdict.and_then(|verdict| verdict.waived.get(at))),
            waiver: Some(WaiverOut {
                reason: one.reason.clone(),
                until: one.until.map(|date| date.to_string()),
                line: match one.by {
                    By::Note { line, .. } => Some(line),
                    By::Config { .. } => None,
                },
                source: match &one.by {
                    By::Note { line, .. } => format!("note in line {line}"),
                    By::Config { source, .. } => source.clone(),
                },
            }),
            ..finding(text, &one.finding)
        });
    Sorted {
        findings: findings.collect(),
        known: known.collect(),
        waived: waived.collect(),
    }
}

/// The syntax of most sections; of equals the one that comes first.
fn common_syntax(program: &Program) -> Option<&'static str> {
    let mut counts: Vec<(&'static str, usize)> = Vec::new();
    for section in &program.sections {
        let name = section.syntax.name();
        match counts.iter_mut().find(|(known, _)| *known == name) {
            Some((_, count)) => *count += 1,
            None => counts.push((name, 1)),
        }
    }
    let most = counts.iter().map(|(_, count)| *count).max()?;
    let first = counts.into_iter().find(|(_, count)| *count == most);
    first.map(|(name, _)| name)
}

fn section(bytes: &[u8], section: &Section, judgement: &Judgement, index: usize) -> SectionOut {
    let identified = judgement.threads.get(index);
    let table = judgement.tables.get(index);
    let words = &section.cut;
    let thread = thread::of(section, identified);
    let rows = table.map(|table| table.rows.as_slice()).unwrap_or_default();
    let passes = section
        .passes
        .iter()
        .enumerate()
        .map(|(index, pass)| {
            let row = rows.get(index);
            PassOut {
                line: pass.line,
                purpose: pass.purpose.name(),
                x_mm: pass.x.map(diameter),
                depth_mm: row.and_then(|row| row.depth).or(pass.depth).map(radial),
                step_mm: row.and_then(|row| row.step).or(pass.step).map(radial),
                area_mm2: row.and_then(|row| row.area_mm2).map(|area| round(area, 6)),
                z_start_mm: pass.z_start.map(Length::mm),
                z_end_mm: pass.z_end.map(Length::mm),
                lead_mm: pass.lead.map(lead),
                seconds: row.and_then(|row| row.seconds).map(|s| round(s, 3)),
                cut: CutOut::of(&row.map(|row| row.cut).unwrap_or_default()),
            }
        })
        .collect();
    SectionOut {
        fingerprint: fingerprint(bytes, section),
        kind: section.kind.name(),
        syntax: section.syntax.name(),
        lines: [section.first_line, section.last_line],
        side: section.side().map_or("unknown", |side| side.name()),
        hand: thread.hand.unwrap_or("unknown"),
        lead_mm: words.lead.get().map(lead),
        pitch_mm: thread.pitch.map(lead),
        starts: thread.starts,
        tool: thread::tool(bytes, section),
        rpm: section.spindle.rpm(),
        spindle: match section.spindle.mode.map(|mode| mode.value) {
            Some(SpeedMode::ConstantRpm) => "constant-rpm",
            Some(SpeedMode::SurfaceSpeed) => "constant-surface-speed",
            None => "unknown",
        },
        designation: Designation {
            text: thread.designation,
            from: thread.from,
            why: thread.why,
        },
        start_x_mm: words.start_x.get().map(diameter),
        crest_x_mm: thread::crest(section, table).map(diameter),
        root_x_mm: thread::root(section, table).map(diameter),
        z_start_mm: thread::z_start(section, table).map(Length::mm),
        z_end_mm: thread::z_end(section, table).map(Length::mm),
        passes,
        seconds: table.and_then(|table| table.seconds).map(SecondsOut::of),
        time_basis: table.map(|table| table.time_basis.clone()),
        force_from: table.and_then(|table| table.cuts.force_from.clone()),
        chips_not_known: table.and_then(|table| table.cuts.not_known),
        hints: table.map_or_else(Vec::new, |table| table.hints.clone()),
        left: cut::left_json(section, identified, table),
        unknown: section.unknown.clone(),
        not_judged: judgement
            .not_judged
            .get(index)
            .into_iter()
            .flatten()
            .map(|(rule, why)| NotJudged {
                rule,
                why: why.clone(),
            })
            .collect(),
    }
}

fn finding(text: Text<'_>, finding: &Finding) -> FindingOut {
    FindingOut {
        rule: finding.rule,
        severity: finding.severity.name(),
        place: place(text, finding.span),
        section: finding.section,
        message: finding.message.clone(),
        because: finding.because.clone(),
        source: finding.source.clone(),
        help: finding.help.clone(),
        related: finding
            .related
            .iter()
            .map(|related| RelatedOut {
                place: place(text, related.span),
                text: related.text.clone(),
            })
            .collect(),
        fixes: finding
            .fixes
            .iter()
            .map(|fix| FixOut {
                title: fix.title.clone(),
                kind: fix.kind.name(),
                edits: fix
                    .edits
                    .iter()
                    .map(|edit| EditOut {
                        bytes: [edit.span.start, edit.span.end],
                        text: edit.text.clone(),
                    })
                    .collect(),
            })
            .collect(),
        fingerprint: None,
        waiver: None,
    }
}

fn place(text: Text<'_>, span: Span) -> Place {
    let (line, column) = text.place(span.start);
    let (end_line, end_column) = text.place(span.end);
    Place {
        line,
        column,
        end_line,
        end_column,
        bytes: [span.start, span.end],
    }
}

fn diameter(diameter: Diameter) -> f64 {
    diameter.mm()
}

fn radial(radial: Radial) -> f64 {
    radial.mm()
}

/// To 1e-9 mm, as lengths are held.
fn lead(lead: Lead) -> f64 {
    lead.length().mm()
}

pub(crate) fn round(value: f64, digits: i32) -> f64 {
    let scale = 10f64.powi(digits);
    (value * scale).round() / scale
}

/// A whole number without `.0`.
fn whole<S: Serializer>(value: &Option<f64>, serializer: S) -> Result<S::Ok, S::Error> {
    match value {
        Some(value) if value.fract() == 0.0 && value.abs() < 9e15 => {
            serializer.serialize_i64(*value as i64)
        }
        Some(value) => serializer.serialize_f64(*value),
        None => serializer.serialize_none(),
    }
}

/// A value as JSON on one line, nothing in it that could drive a terminal.
pub(crate) fn print(value: &impl Serialize) -> String {
    let mut text = Vec::new();
    let mut serializer = serde_json::Serializer::with_formatter(&mut text, Escaping);
    match value.serialize(&mut serializer) {
        // The document has string keys only and the formatter writes UTF-8.
        Ok(()) => String::from_utf8(text).unwrap_or_default(),
        Err(_) => String::new(),
    }
}

/// Writes characters that drive a terminal or reverse the reading direction as `\u` escapes.
struct Escaping;

impl serde_json::ser::Formatter for Escaping {
    fn write_string_fragment<W>(&mut self, writer: &mut W, fragment: &str) -> io::Result<()>
    where
        W: ?Sized + io::Write,
    {
        let mut plain = 0;
        for (at, c) in fragment.char_indices() {
            if c == '\u{7f}' || visible::hidden(c) {
                writer.write_all(&fragment.as_bytes()[plain..at])?;
                for unit in c.encode_utf16(&mut [0; 2]) {
                    write!(writer, "\\u{unit:04x}")?;
                }
                plain = at + c.len_utf8();
            }
        }
        writer.write_all(&fragment.as_bytes()[plain..])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strings_survive_and_cannot_drive_a_terminal() {
        let hostile = "a\u{1b}[31m\u{9b}\u{202e}\u{7f}\u{e0041}</script>\"\\ä\u{2028}";
        let text = print(&hostile);
        assert!(
            text.chars().all(|c| !c.is_control() && !visible::hidden(c)),
            "{text:?}"
        );
        let back: String = serde_json::from_str(&text).unwrap();
        assert_eq!(back, hostile);
    }

    #[test]
    fn numbers_have_the_digits_they_need() {
        #[derive(Serialize)]
        struct Numbers {
            length: f64,
            lead: f64,
            #[serde(serialize_with = "whole")]
            rpm: Option<f64>,
            area: f64,
        }
        let text = print(&Numbers {
            length: (Length::from_mm(0.1) + Length::from_mm(0.2)).mm(),
            lead: lead(Lead::per_inch(130_000).unwrap()),
            rpm: Some(800.0),
            area: round(0.1 + 0.2, 6),
        });
        assert_eq!(
            text,
            r#"{"length":0.3,"lead":1.953846154,"rpm":800,"area":0.3}"#
        );
    }
}
