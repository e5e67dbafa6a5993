//! `plan`: a better split of one thread's depth.

use rules::rewrite::plan::{Wish, plan};

use super::args::{Format, Plan};
use super::rewrite::{Asked, How};
use super::{Exit, Outcome, Streams};
use crate::show::plan as show;

pub(super) fn run(args: &Plan, streams: &mut Streams<'_>) -> Outcome {
    if let Some(why) = wrong(args) {
        writeln!(streams.err, "error: {why}")?;
        return Ok(Exit::Usage);
    }
    let asked = Asked::read(&args.path, &args.source, streams)?;
    let wish = Wish {
        first_mm: args.first,
        peak_mm2: args.max_area,
        force_n: args.max_force,
        even_force: args.even_force,
        least_mm: args.min_pass,
        finish_mm: args.finish,
        springs: args.springs,
        passes: args.passes,
        steps: args.steps.clone(),
        rpm: args.rpm,
        front: args.front,
    };
    let job = asked.job();
    let planned = match plan(&job, &wish) {
        Ok(planned) => planned,
        Err(why) => return asked.refuse(streams, "not planned", &why),
    };
    let mut production = asked.facts().production.clone();
    production.parts_per_batch = args.batch.or(production.parts_per_batch);
    let shown = show::Shown {
        path: asked.shown(),
        job: &job,
        plan: &planned,
        production: &production,
    };
    let report = match args.format {
        Format::Text => show::text(&shown),
        Format::Json => show::json(&shown),
    };
    let reread = planned.better.as_ref().map(|better| &better.reread);
    asked.carry_out(streams, reread, How::of(args.diff, args.apply), &report)
}

/// Options that are no quantities.
fn wrong(args: &Plan) -> Option<String> {
    let positive = [
        ("--first", args.first),
        ("--max-area", args.max_area),
        ("--max-force", args.max_force),
        ("--min-pass", args.min_pass),
        ("--rpm", args.rpm),
        ("--batch", args.batch),
    ];
    let bad = |value: f64| !(value > 0.0 && value < 1e9);
    let of = positive
        .into_iter()
        .find(|(_, value)| value.is_some_and(bad))
        .map(|(name, _)| format!("{name} needs a number above 0"));
    let finish = args.finish.is_some_and(|mm| !(0.0..10.0).contains(&mm));
    let finish = finish.then(|| "--finish needs a length from 0 up".to_owned());
    let steps = args.steps.iter().flatten().any(|step| bad(*step));
    of.or(finish)
        .or_else(|| steps.then(|| "--steps needs lengths above 0".to_owned()))
}
