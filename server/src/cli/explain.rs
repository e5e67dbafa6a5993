//! `explain`: the list of rules, or the page of one.

use rules::checks::{RULES, Rule};
use rules::nearest::nearest;

use super::args::Explain;
use super::{Exit, Outcome, Streams, symptom};
use crate::show::visible;

pub(super) fn run(args: &Explain, streams: &mut Streams<'_>) -> Outcome {
    if let Some(symptom) = &args.symptom {
        return symptom::run(symptom, args, streams);
    }
    let Some(name) = &args.rule else {
        let width = RULES.iter().map(|rule| rule.name.len()).max().unwrap_or(0);
        for rule in RULES {
            let fix = if rule.fixes { " (fix)" } else { "" };
            writeln!(
                streams.out,
                "{:width$}  {:7}  {}{fix}",
                rule.name,
                rule.severity.name(),
                rule.summary
            )?;
        }
        return Ok(Exit::Clean);
    };
    if let Some(rule) = Rule::named(name) {
        let fixes = if rule.fixes { ", offers a fix" } else { "" };
        let (name, severity) = (rule.name, rule.severity.name());
        writeln!(streams.out, "{name}: {}", rule.summary)?;
        writeln!(streams.out, "({severity}{fixes})\n")?;
        for line in rule.page.lines() {
            // A doc comment's lines begin with the blank behind its slashes.
            writeln!(
                streams.out,
                "{}",
                line.strip_prefix(' ').unwrap_or(line).trim_end()
            )?;
        }
        return Ok(Exit::Clean);
    }
    let hint = match nearest(name, RULES.iter().map(|rule| rule.name)) {
        Some(near) => format!("did you mean {near}?"),
        None => "`flankwise explain` lists all rules".to_owned(),
    };
    let name = visible::text(name);
    writeln!(streams.err, "error: there is no rule {name}: {hint}")?;
    Ok(Exit::Usage)
}
