//! `explain`: the list of rules, or the page of one.

use rules::nearest::nearest;

use super::args::Explain;
use super::{Exit, Outcome, Streams};
use crate::show::visible;

pub(super) fn run(args: &Explain, streams: &mut Streams<'_>) -> Outcome {
    let all = crate::rules();
    let Some(name) = &args.rule else {
        let width = all.iter().map(|rule| rule.name.len()).max().unwrap_or(0);
        for rule in all {
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
    if let Some(rule) = all.iter().find(|rule| rule.name == name) {
        writeln!(streams.out, "{}", rule.page.trim_end())?;
        return Ok(Exit::Clean);
    }
    let hint = match nearest(name, all.iter().map(|rule| rule.name)) {
        Some(near) => format!("did you mean {near}?"),
        None => "`flankwise explain` lists all rules".to_owned(),
    };
    let name = visible::text(name);
    writeln!(streams.err, "error: there is no rule {name}: {hint}")?;
    Ok(Exit::Usage)
}
