//! `write`: a whole threading block from a designation and facts.

use std::path::Path;

use lexer::evidence::Family;
use lexer::section::Syntax;
use lexer::syntax::Style;
use lexer::units::Units;
use rules::facts::Facts;
use rules::rewrite::block::{Block, Order, Speed, block};
use rules::standards::Side;

use super::args::{Format, Write};
use super::thread::length;
use super::{Exit, Outcome, Streams};
use crate::config::Resolver;
use crate::show::{CAUTION, block as show, visible};

pub(super) fn run(args: &Write, streams: &mut Streams<'_>) -> Outcome {
    let resolver = match &args.config {
        None => Ok(Resolver::new()),
        Some(file) => Resolver::with_file(file),
    };
    let facts = match resolver {
        Ok(resolver) => resolver
            .facts(Path::new("thread"))
            .map_err(|why| why.to_string()),
        Err(refused) => Err(refused.to_string()),
    };
    let written = facts.and_then(|(_, facts)| written(args, &facts));
    let (order, block) = match written {
        Ok(written) => written,
        Err(why) => {
            for line in why.lines() {
                writeln!(streams.err, "error: {}", visible::text(line))?;
            }
            return Ok(Exit::Usage);
        }
    };
    match args.format {
        Format::Text => {
            write!(streams.out, "{}", block.text)?;
            write!(streams.err, "{}", show::notes(&block))?;
        }
        Format::Json => write!(streams.out, "{}", show::json(&order, &block))?,
    }
    writeln!(streams.err, "{CAUTION}")?;
    Ok(Exit::Clean)
}

fn written(args: &Write, facts: &Facts) -> Result<(Order, Block), String> {
    let asked = args.side.map(Side::from);
    let thread = facts.named(&args.designation, asked)?;
    if let (Some(asked), Some(told)) = (asked, thread.side)
        && asked != told
    {
        return Err(format!(
            "`{}` names an {} thread, not an {} one; leave out --side or the class",
            args.designation,
            told.name(),
            asked.name()
        ));
    }
    let side = thread.side.unwrap_or(Side::External);
    let thread = thread.on(side);
    let units = args.unit.map_or(thread.units(), Units::from);
    let family = args.system.map_or(
        if args.syntax == Syntax::DriveLine {
            Family::Interpreter
        } else {
            Family::SystemA
        },
        Family::from,
    );
    let mm = |option: &str, text: &Option<String>| match text {
        None => Ok(None),
        Some(text) => length(option, text, units, 5000.0).map(Some),
    };
    let numbers = [
        ("--first", args.first),
        ("--max-area", args.max_area),
        ("--min-pass", args.min_pass),
    ];
    let bad = |value: f64| !(value > 0.0 && value < 1e6);
    if let Some((name, _)) = numbers.iter().find(|(_, value)| value.is_some_and(bad)) {
        return Err(format!("{name} needs a number above 0"));
    }
    let order = Order {
        side,
        syntax: args.syntax,
        style: Style::new(family, units),
        length: length("--length", &args.length, units, 5000.0)?,
        start: mm("--start", &args.start)?,
        clearance: mm("--clearance", &args.clearance)?,
        speed: match (args.rpm, args.vc) {
            (Some(rpm), _) => Speed::Rpm(rpm),
            (None, Some(speed)) => Speed::Surface(speed),
            (None, None) => return Err("the speed is missing: --rpm or --vc".into()),
        },
        nose: mm("--nose", &args.nose)?,
        tool: args.tool.clone(),
        infeed: args.infeed,
        first: args.first,
        peak: args.max_area,
        least: args.min_pass,
        finish: args.finish,
        springs: args.springs,
        pull_out: args.pull_out,
        semicolon: args.semicolon,
        thread,
    };
    let block = block(&order, facts)?;
    Ok((order, block))
}
