//! `explain`: the list of rules, or the page of one.

use rules::checks::{RULES, Rule};
use rules::nearest::nearest;

use super::args::{Explain, PageFormat};
use super::{Exit, Outcome, Streams, symptom};
use crate::show::{page, visible};

pub(super) fn run(args: &Explain, streams: &mut Streams<'_>) -> Outcome {
    if let Some(symptom) = &args.symptom {
        return symptom::run(symptom, args, streams);
    }
    let Some(name) = &args.rule else {
        match args.format {
            PageFormat::Text => write!(streams.out, "{}", page::list())?,
            PageFormat::Markdown => write!(streams.out, "{}", page::index())?,
        }
        return Ok(Exit::Clean);
    };
    if let Some(rule) = Rule::named(name) {
        match args.format {
            PageFormat::Text => write!(streams.out, "{}", page::text(rule))?,
            PageFormat::Markdown => write!(streams.out, "{}", page::markdown(rule, 1))?,
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
