//! Tools and ways of making a thread, as text and JSON.

use std::fmt::Write as _;

use rules::choose::Verdict;
use rules::choose::methods::{Job, Method};
use rules::facts::{Facts, ToolFact, ToolKind};
use rules::standards::Side;
use serde::Serialize;

use super::json::{print, round};
use super::visible;

type Ways = (Job, [Method; 3]);

/// Said below every list.
const CAUTION: &str = "caution: this is arithmetic on what the configuration says of the tools. Look \
                       at the tool itself, prove it out, gauge the first part; the manuals, the rules \
                       of the shop and qualified staff decide.\n";

fn title(tool: &ToolFact) -> String {
    let kind = tool.kind.map_or("tool of unknown kind", ToolKind::name);
    let number = tool
        .number
        .map_or_else(String::new, |number| format!("T{number} "));
    format!("{number}{kind} ({})", tool.source)
}

/// For a person; lengths in mm.
pub(crate) fn text(
    name: &str,
    side: Side,
    verdicts: &[Verdict<'_>],
    ways: Option<&Ways>,
    facts: &Facts,
) -> String {
    let mut out = format!("{}, {}; lengths in mm\n", visible::text(name), side.name());
    for verdict in verdicts {
        // Writing to a string cannot fail.
        let title = title(verdict.tool);
        let _ = writeln!(
            out,
            "{:9}  {}",
            verdict.answer.name(),
            visible::text(&title)
        );
        for reason in &verdict.reasons {
            let text = visible::text(&reason.text);
            let _ = writeln!(out, "  {:9}  {text}", reason.answer.name());
        }
    }
    if let Some((job, methods)) = ways {
        let _ = writeln!(
            out,
            "\nways for {} mm of thread, {} parts ({})",
            job.length,
            job.parts,
            visible::text(&facts.time_basis())
        );
        for method in methods {
            let edges = method.edges.map_or_else(
                || "edges unknown, no parts per edge are stated".to_owned(),
                |edges| format!("{edges} edges or tools"),
            );
            let _ = match &method.seconds {
                Ok(seconds) => writeln!(
                    out,
                    "  {:12}  {seconds:8.1} s a part, {:.2} h in all, {edges}; {}",
                    method.name,
                    seconds * job.parts / 3600.0,
                    method.sum
                ),
                Err(why) => writeln!(out, "  {:12}  not known: {why}", method.name),
            };
        }
    }
    out.push_str(CAUTION);
    out
}

#[derive(Serialize)]
struct Document<'a> {
    version: u32,
    designation: &'a str,
    side: &'static str,
    tools: Vec<ToolOut<'a>>,
    methods: Option<Vec<MethodOut<'a>>>,
    time_basis: Option<String>,
}

#[derive(Serialize)]
struct ToolOut<'a> {
    number: Option<u32>,
    kind: Option<&'static str>,
    source: &'a str,
    answer: &'static str,
    reasons: Vec<ReasonOut<'a>>,
}

#[derive(Serialize)]
struct ReasonOut<'a> {
    answer: &'static str,
    text: &'a str,
}

#[derive(Serialize)]
struct MethodOut<'a> {
    method: &'static str,
    seconds: Option<f64>,
    edges: Option<f64>,
    not_known: Option<&'static str>,
    sum: &'a str,
}

/// The document, version 1.
pub(crate) fn json(
    name: &str,
    side: Side,
    verdicts: &[Verdict<'_>],
    ways: Option<&Ways>,
    facts: &Facts,
) -> String {
    let tools = verdicts.iter().map(|verdict| ToolOut {
        number: verdict.tool.number,
        kind: verdict.tool.kind.map(ToolKind::name),
        source: &verdict.tool.source,
        answer: verdict.answer.name(),
        reasons: verdict
            .reasons
            .iter()
            .map(|reason| ReasonOut {
                answer: reason.answer.name(),
                text: &reason.text,
            })
            .collect(),
    });
    let methods = ways.map(|(_, methods)| {
        methods
            .iter()
            .map(|method| MethodOut {
                method: method.name,
                seconds: method.seconds.ok().map(|seconds| round(seconds, 3)),
                edges: method.edges,
                not_known: method.seconds.err(),
                sum: &method.sum,
            })
            .collect()
    });
    let mut text = print(&Document {
        version: super::json::VERSION,
        designation: name,
        side: side.name(),
        tools: tools.collect(),
        time_basis: methods.is_some().then(|| facts.time_basis()),
        methods,
    });
    text.push('\n');
    text
}
