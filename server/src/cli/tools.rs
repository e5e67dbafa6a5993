//! `tools`: which of the shop's tools can cut a thread.

use std::path::Path;

use rules::choose::methods::{Job, methods};
use rules::choose::{Answer, Verdict, tools};
use rules::facts::{Facts, ToolFact, ToolKind};
use rules::standards::Side;
use rules::standards::thread::Thread;

use super::args::{Format, Tools};
use super::{Exit, Outcome, Streams};
use crate::config::Resolver;
use crate::show::tools as show;
use crate::show::visible;

pub(super) fn run(args: &Tools, streams: &mut Streams<'_>) -> Outcome {
    let resolver = match &args.config {
        None => Ok(Resolver::new()),
        Some(file) => Resolver::with_file(file),
    };
    let resolver = match resolver {
        Ok(resolver) => resolver,
        Err(refused) => {
            writeln!(streams.err, "error: {refused}")?;
            return Ok(Exit::Usage);
        }
    };
    let program = args.program.as_deref().unwrap_or(Path::new("program"));
    let facts = match resolver.facts(program) {
        Ok((_, facts)) => facts,
        Err(refused) => {
            writeln!(streams.err, "error: {refused}")?;
            return Ok(Exit::Usage);
        }
    };
    let (thread, side) = match named(args, &facts) {
        Ok(named) => named,
        Err(why) => {
            writeln!(streams.err, "error: {}", visible::text(&why))?;
            return Ok(Exit::Usage);
        }
    };
    let numbers = [
        args.length,
        args.rpm,
        args.tap_rpm,
        args.reversal,
        args.mill_feed,
    ];
    let usable = |number: &f64| number.is_finite() && (0.0..=1e6).contains(number);
    if !numbers.iter().flatten().all(usable)
        || [args.length, args.rpm, args.tap_rpm, args.mill_feed].contains(&Some(0.0))
    {
        let why = "lengths, speeds and feeds must be above 0 and at most 1000000";
        writeln!(streams.err, "error: {why}")?;
        return Ok(Exit::Usage);
    }
    let verdicts = tools(&thread, side, &facts);
    let ways = args.length.map(|length| {
        let job = job(args, length, &facts, &verdicts);
        (job, methods(&thread, side, &job, &facts.rapids()))
    });
    let name = thread.designation_for(side);
    let shown = match args.format {
        Format::Json => show::json(&name, side, &verdicts, ways.as_ref(), &facts),
        Format::Text => show::text(&name, side, &verdicts, ways.as_ref(), &facts),
    };
    write!(streams.out, "{shown}")?;
    if verdicts.is_empty() {
        writeln!(
            streams.err,
            "note: no [[tool]] of the configuration holds here; add some to flankwise.toml, or name a \
             program that they are for with --program"
        )?;
    }
    Ok(Exit::Clean)
}

/// The thread and the side that is asked for.
fn named(args: &Tools, facts: &Facts) -> Result<(Thread, Side), String> {
    let name = &args.designation;
    let asked = args.side.map(Side::from);
    let thread = facts.named(name, asked)?;
    if thread.is_ambiguous() {
        return Err(format!(
            "`{name}` could be meant for either side; add --side external or --side internal"
        ));
    }
    if let (Some(asked), Some(told)) = (asked, thread.side)
        && asked != told
    {
        return Err(format!(
            "`{name}` names an {} thread, not an {} one; leave out --side or the class",
            told.name(),
            asked.name()
        ));
    }
    let only = [Side::External, Side::Internal]
        .into_iter()
        .find(|side| thread.exists_on(*side));
    let side = asked.or(thread.side).or(only).unwrap_or(Side::External);
    if !thread.exists_on(side) {
        return Err(format!("there is no {} thread {name}", side.name()));
    }
    Ok((thread.on(side), side))
}

/// What the ways are compared for: the first tool of each kind that is not ruled out.
fn job(args: &Tools, length: f64, facts: &Facts, verdicts: &[Verdict<'_>]) -> Job {
    let first = |kinds: &[ToolKind]| -> Option<&ToolFact> {
        let mut fitting = verdicts.iter().filter(|v| v.answer != Answer::No);
        fitting
            .find(|v| v.tool.kind.is_some_and(|kind| kinds.contains(&kind)))
            .map(|v| v.tool)
    };
    let point = first(&[ToolKind::Partial, ToolKind::Full, ToolKind::Chaser]);
    let tap = first(&[ToolKind::Tap, ToolKind::RollTap]);
    let mill = first(&[ToolKind::Mill]);
    let life = |tool: Option<&ToolFact>| tool.and_then(|tool| tool.parts_per_edge);
    Job {
        length,
        parts: args
            .batch
            .map(f64::from)
            .or(facts.production.parts_per_batch)
            .unwrap_or(1.0),
        turning_rpm: args.rpm,
        tapping_rpm: args.tap_rpm,
        reversal_s: args.reversal,
        mill: mill.and_then(|tool| tool.mill_diameter_mm),
        mill_feed: args.mill_feed,
        mill_full_length: mill
            .and_then(|tool| tool.edge_length_mm)
            .is_some_and(|edge| edge >= length),
        parts_per_edge: [life(point), life(tap), life(mill)],
        ..Job::USUAL
    }
}
