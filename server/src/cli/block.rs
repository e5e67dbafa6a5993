//! `write`: a whole threading block from a designation and facts.

use std::path::Path;

use lexer::evidence::Family;
use lexer::section::Syntax;
use lexer::syntax::Style;
use lexer::units::Units;
use rules::facts::Facts;
use rules::rewrite::block::{Block, Order, Speed, block};
use rules::rewrite::milled::milled;
use rules::rewrite::tapped::tapped;
use rules::standards::Side;
use rules::standards::thread::Thread as RulesThread;

use super::args::{Format, Write};
use super::thread::length;
use super::{Exit, Outcome, Streams, rotating};
use crate::config::Resolver;
use crate::show::block::What;
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
    let (what, block) = match written {
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
        Format::Json => write!(streams.out, "{}", show::json(&what, &block))?,
    }
    writeln!(streams.err, "{CAUTION}")?;
    Ok(Exit::Clean)
}

fn written(args: &Write, facts: &Facts) -> Result<(What, Block), String> {
    let usual = match args.syntax {
        Syntax::Tap => Side::Internal,
        _ => Side::External,
    };
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
    let side = match (asked.or(thread.side), args.syntax) {
        (None, Syntax::Helix) => {
            return Err(
                "whether a hole or a bolt is milled is missing: --side, or a class in the \
                        designation"
                    .into(),
            );
        }
        (side, _) => side.unwrap_or(usual),
    };
    let thread = thread.on(side);
    let units = args.unit.map_or(thread.units(), Units::from);
    let family = args.system.map_or_else(|| usual_family(args), Family::from);
    let style = Style::new(family, units);
    let what = What {
        designation: thread.designation_for(side),
        side,
        syntax: args.syntax,
        family,
    };
    let speed = match (args.rpm, args.vc) {
        (Some(rpm), _) => Speed::Rpm(rpm),
        (None, Some(speed)) => Speed::Surface(speed),
        (None, None) => return Err("the speed is missing: --rpm or --vc".into()),
    };
    let block = match args.syntax {
        Syntax::Tap => tapped(&rotating::tap(args, thread, side, style, speed)?, facts),
        Syntax::Helix => milled(&rotating::mill(args, thread, side, style, speed)?, facts),
        _ => block(&turned(args, thread, side, style, speed)?, facts),
    };
    Ok((what, block?))
}

/// The family of controls where none is named.
fn usual_family(args: &Write) -> Family {
    match args.syntax {
        Syntax::DriveLine => Family::Interpreter,
        Syntax::Call => Family::Call,
        Syntax::Compound => Family::Compound,
        Syntax::Helix => Family::Mill,
        Syntax::Tap if !args.rotating.at.is_empty() => Family::Mill,
        _ => Family::SystemA,
    }
}

fn turned(
    args: &Write,
    thread: RulesThread,
    side: Side,
    style: Style,
    speed: Speed,
) -> Result<Order, String> {
    if let Some(option) = args.rotating.any() {
        return Err(format!(
            "{option} is for --syntax tap or helix, not for {}",
            args.syntax.name()
        ));
    }
    let units = style.units;
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
    Ok(Order {
        side,
        syntax: args.syntax,
        style,
        length: length("--length", &args.length, units, 5000.0)?,
        start: mm("--start", &args.start)?,
        clearance: mm("--clearance", &args.clearance)?,
        speed,
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
    })
}
