//! Strokes and boxes gathered into sections: one thread, one tool.
//!
//! Strokes belong together while they end at the same Z and go deeper. When the tool comes back
//! out and cuts to the same root again, a shifted start (along the axis or by angle) makes another
//! start of a multi-start thread, and the same start makes a chase (a burr is cut off).

use std::collections::HashMap;

use crate::law::Law;
use crate::section::{
    Cut, Infeed, Kind, LEAD_CHANGES, Missing, Move, Note, Pass, PullOut, Purpose, Role, Section,
    Side, Val,
};
use crate::source::Mark;
use crate::syntax::MIRRORED;
use crate::syntax::strokes::Stroke;
use crate::units::{Diameter, Lead, Length, Radial, Units};

/// What a section takes from its surroundings.
pub(crate) struct Around<'a> {
    pub(crate) units: Units,
    pub(crate) radius_mode: bool,
    pub(crate) notes: &'a [Note],
    pub(crate) moves: &'a [Move],
}

/// Most passes of a section that others are still joined to: each comparison looks at all.
const JOIN_LIMIT: usize = 20_000;

const SAME: Length = Length::from_pm(20_000_000);

/// Why a thread on a face has no side, root diameter or taper.
const FACING: &str = "the thread lies on a face: it feeds along X and goes deeper along Z, so it is neither bolt nor nut";

/// Sections of a run of strokes. `moves` of `around` count passes over the whole run.
pub(crate) fn group(strokes: &[Stroke], around: &Around<'_>) -> Vec<Section> {
    let chained = chain(strokes);
    let mut runs: Vec<Vec<Stroke>> = Vec::new();
    // Smallest and largest diameter of the last run.
    let mut reach: Option<(Length, Length)> = None;
    for stroke in chained {
        let own = stroke.x.map(Length::abs);
        match runs.last_mut() {
            Some(run) if continues(run, reach, &stroke) => run.push(stroke),
            _ => {
                runs.push(vec![stroke]);
                reach = None;
            }
        }
        if let Some(x) = own {
            let (low, high) = reach.unwrap_or((x, x));
            reach = Some((low.min(x), high.max(x)));
        }
    }
    let mut first_pass = 0;
    let mut sections: Vec<Section> = Vec::new();
    for run in runs {
        let count = run.len();
        let section = section(&run, around, first_pass..first_pass + count);
        first_pass += count;
        sections.push(section);
    }
    join(sections)
}

/// Joins sections that repeat one before: another start, or a chase.
pub(crate) fn join(sections: Vec<Section>) -> Vec<Section> {
    let mut joined: Vec<Section> = Vec::new();
    for mut section in sections {
        if let Some(last) = joined.last_mut()
            && joins(last, &section)
        {
            if shares_phase(last, &section) {
                section.chase = true;
            } else {
                merge(last, section);
                continue;
            }
        }
        joined.push(section);
    }
    joined
}

/// Whether [`join`] joins a section to the one before it.
pub(crate) fn joins(before: &Section, section: &Section) -> bool {
    before.passes.len() < JOIN_LIMIT && same_thread(before, section)
}

fn chain(strokes: &[Stroke]) -> Vec<Stroke> {
    let mut all: Vec<Stroke> = Vec::new();
    // Length along the axis of the longest piece of the last chain.
    let mut longest = Length::ZERO;
    for stroke in strokes {
        let own = match (stroke.from.z, stroke.z) {
            (Some(from), Some(to)) => (to - from).abs(),
            _ => Length::ZERO,
        };
        if stroke.chained
            && let Some(last) = all.last_mut()
        {
            last.legs.extend(stroke.legs.iter().copied());
            last.words.extend(stroke.words.iter().copied());
            // A loop may lead back.
            last.block.span = last.block.span.to(stroke.block.span);
            last.block.line = last.block.line.min(stroke.block.line);
            last.last_line = last.last_line.max(stroke.last_line);
            last.retract_x = stroke.retract_x;
            // The longest piece is the thread; the others lead in and out.
            if own > longest {
                longest = own;
                last.x = stroke.x;
                last.z = stroke.z;
                last.taper = stroke.taper.clone();
                last.lead = stroke.lead.clone();
                last.lead_change = stroke.lead_change;
            }
            continue;
        }
        longest = own;
        all.push(stroke.clone());
    }
    for stroke in &mut all {
        // A single straight stroke needs no pieces.
        if stroke.legs.len() == 1 {
            stroke.legs.clear();
        }
    }
    find_sides(&mut all);
    all
}

/// Bolt or nut of every stroke: the tool comes from the clear side and goes back to it. Where it
/// comes from one side and goes to the other (the first plunge from the centre, a slip in one
/// retract), the strokes next to it decide, and without such the way out.
fn find_sides(strokes: &mut [Stroke]) {
    let votes: Vec<_> = strokes.iter().map(votes).collect();
    let sure = |(from, to): (Option<Side>, Option<Side>)| match (from, to) {
        (Some(from), Some(to)) => (from == to).then_some(from),
        (one, other) => one.or(other),
    };
    // The next stroke that is sure, from the end on.
    let mut behind: Option<usize> = None;
    let mut next = vec![None; strokes.len()];
    for at in (0..strokes.len()).rev() {
        next[at] = behind;
        if sure(votes[at]).is_some() {
            behind = Some(at);
        }
    }
    let mut before: Option<usize> = None;
    for at in 0..strokes.len() {
        let own = sure(votes[at]);
        if own.is_some() {
            before = Some(at);
        }
        let neighbour = |other: Option<usize>| {
            let other = other.filter(|&other| same_pass(&strokes[at], &strokes[other]))?;
            sure(votes[other])
        };
        let side = own.or_else(|| {
            let (from, to) = votes[at];
            from.or(to)?;
            neighbour(next[at]).or_else(|| neighbour(before)).or(to)
        });
        strokes[at].side = side;
        if side.is_some() && votes[at].0 != side && votes[at].1 == side {
            strokes[at].clear_x = out_x(&strokes[at]);
        }
    }
}

/// Bolt or nut by where the tool comes from, and by where it goes to.
fn votes(stroke: &Stroke) -> (Option<Side>, Option<Side>) {
    let Some(x) = stroke.x.filter(|_| !is_facing(stroke)) else {
        return (None, None);
    };
    let by = |clear: Option<Length>| match clear?.abs().cmp(&x.abs()) {
        std::cmp::Ordering::Greater => Some(Side::External),
        std::cmp::Ordering::Less => Some(Side::Internal),
        std::cmp::Ordering::Equal => None,
    };
    (by(stroke.clear_x), by(out_x(stroke)))
}

/// The diameter to which the tool leaves the thread: by a synchronised pull-out, or the move
/// behind the stroke.
fn out_x(stroke: &Stroke) -> Option<Length> {
    let pulled = stroke.legs.last().map(|leg| leg.x.0);
    pulled
        .filter(|&x| stroke.legs.len() > 1 && Some(x) != stroke.x)
        .or(stroke.retract_x)
}

/// Whether a stroke feeds along X alone: a thread on a face.
fn is_facing(stroke: &Stroke) -> bool {
    let along_x = stroke.from.x.is_some() && stroke.x.is_some() && stroke.from.x != stroke.x;
    along_x && stroke.from.z.is_some() && stroke.from.z == stroke.z
}

/// Whether two strokes could be passes of one thread, sides apart.
fn same_pass(a: &Stroke, b: &Stroke) -> bool {
    a.syntax == b.syntax && same_tool(a, b) && agree(a, b) && near_end(a, b)
}

/// Whether two strokes feed the same way, as far as that is known.
fn agree(a: &Stroke, b: &Stroke) -> bool {
    let both = travel(a).zip(travel(b));
    both.is_none_or(|(one, other)| one == other)
}

fn same_tool(a: &Stroke, b: &Stroke) -> bool {
    a.tool.map(|tool| tool.value) == b.tool.map(|tool| tool.value)
}

/// Direction of the feed, along X only on a face.
fn travel(stroke: &Stroke) -> Option<(i64, i64)> {
    let along_x = if is_facing(stroke) {
        (stroke.x? - stroke.from.x?).signum()
    } else {
        0
    };
    Some((along_x, (stroke.z? - stroke.from.z?).signum()))
}

/// Whether a stroke belongs to a run whose diameters reach from the first to the second.
fn continues(run: &[Stroke], reach: Option<(Length, Length)>, stroke: &Stroke) -> bool {
    let (Some(first), Some(last)) = (run.first(), run.last()) else {
        return false;
    };
    if last.syntax != stroke.syntax || !same_pass(first, stroke) || !same_tool(last, stroke) {
        return false;
    }
    let (Some(known), Some(new)) = (last.side.or(first.side), stroke.side.or(last.side)) else {
        return true;
    };
    if known != new {
        return false;
    }
    match (reach, stroke.x.map(Length::abs), known) {
        (Some((low, _)), Some(x), Side::External) => x <= low + SAME,
        (Some((_, high)), Some(x), Side::Internal) => x + SAME >= high,
        _ => true,
    }
}

/// Whether two strokes end within a lead and a half of each other.
fn near_end(a: &Stroke, b: &Stroke) -> bool {
    let lead = a
        .lead
        .get()
        .or(b.lead.get())
        .map_or(Length::from_mm(1.0), Lead::length);
    match (a.z, b.z) {
        (Some(a), Some(b)) => (a - b).abs().double() <= lead.abs() * 3,
        (None, None) => true,
        _ => false,
    }
}

fn section(run: &[Stroke], around: &Around<'_>, passes: std::ops::Range<usize>) -> Section {
    let first = &run[0];
    let last = &run[run.len() - 1];
    let side = run.iter().find_map(|stroke| stroke.side);
    let facing = run.iter().all(is_facing);
    let varies = run.iter().any(|stroke| stroke.lead_change.is_some());
    // A tool behind the centre line programs negative diameters: they are read as positive.
    let mut known = run.iter().filter_map(|stroke| stroke.x).peekable();
    let mirrored = known.peek().is_some() && known.all(|x| x < Length::ZERO);
    let flip = |x: Length| if mirrored { -x } else { x };
    let taper = |stroke: &Stroke| stroke.taper.clone().map(flip);
    let starts = starts_of_strokes(run);
    let mut deepest: Vec<(u32, Length)> = Vec::new();
    let mut all = Vec::new();
    let mut unknown: Vec<String> = Vec::new();
    for stroke in run {
        let x = stroke.x.map(flip);
        // Each start of a multi-start thread goes deeper on its own.
        let start = start_index(stroke, starts);
        let before = deepest.iter_mut().find(|(known, _)| *known == start);
        let step = match (&before, x, side) {
            (Some((_, before)), Some(x), Some(Side::External)) => Some((*before - x).half()),
            (Some((_, before)), Some(x), Some(Side::Internal)) => Some((x - *before).half()),
            _ => None,
        };
        let spring = step.is_some_and(|step| step <= Length::ZERO);
        match (before, x, side) {
            (None, Some(x), _) => deepest.push((start, x)),
            (Some((_, known)), Some(x), Some(Side::External)) => *known = x.min(*known),
            (Some((_, known)), Some(x), Some(Side::Internal)) => *known = x.max(*known),
            _ => {}
        }
        let z_start = stroke.from.z;
        all.push(Pass {
            line: stroke.block.line,
            span: stroke.block.span,
            purpose: if spring {
                Purpose::Spring
            } else {
                Purpose::Rough
            },
            x_start: match stroke.legs.as_slice() {
                [] => x
                    .zip(taper(stroke).get())
                    .map(|(x, taper)| Diameter(x + taper.double())),
                _ => stroke.from.x.map(flip).map(Diameter),
            },
            x: x.map(Diameter),
            depth: None,
            step: step.map(|step| Radial(step.max(Length::ZERO))),
            z_start,
            z_end: stroke.z,
            lead: stroke.lead.get(),
            lead_change: stroke.lead_change.flatten(),
            start_angle: stroke.start_angle,
            spindle: stroke.spindle,
            skip: stroke.skip,
            legs: stroke
                .legs
                .iter()
                .map(|leg| crate::section::Leg {
                    x: Diameter(flip(leg.x.0)),
                    ..*leg
                })
                .collect(),
        });
        for why in &stroke.why {
            if !unknown.contains(why) {
                unknown.push(why.clone());
            }
        }
    }
    if mirrored {
        unknown.push(MIRRORED.into());
    }
    if varies {
        unknown.push(LEAD_CHANGES.into());
    }
    if let Some(why) = run.iter().find_map(|stroke| stroke.lead.why()) {
        unknown.push(why.to_owned());
    }
    let reached = deepest.iter().map(|(_, x)| *x);
    let root = match side {
        Some(Side::Internal) => reached.max(),
        _ => reached.min(),
    };
    let start_x = if facing { first.from.x } else { first.clear_x };
    let start_x = Val::or_unknown(
        start_x.map(flip).map(Diameter),
        "the diameter where the tool starts is not written in this program",
    );
    let start_z = if facing {
        Val::Unknown(FACING.into())
    } else {
        Val::or_unknown(
            first.from.z,
            "the Z where the tool starts is not written in this program",
        )
    };
    for why in [start_x.why(), start_z.why()].into_iter().flatten() {
        if why != FACING && !unknown.iter().any(|known| known == why) {
            unknown.push(why.to_owned());
        }
    }
    let missing = run
        .iter()
        .filter(|stroke| {
            stroke.lead.get().is_none() && !stroke.words.iter().any(|w| w.role == Role::Lead)
        })
        .filter(|stroke| {
            stroke
                .lead
                .why()
                .is_some_and(|why| why.ends_with("not written"))
        })
        .map(|stroke| Missing {
            role: Role::Lead,
            letters: match stroke.lead.why() {
                Some(why) if why.contains(" K ") => "K",
                _ => "F",
            },
            block: stroke.block.span,
            line: stroke.block.line,
            in_force: None,
        })
        .take(1)
        .collect();
    let cut = Cut {
        side: Val::or_unknown(
            side,
            if facing {
                FACING
            } else {
                "the tool does not come from inside or outside, so bolt or nut cannot be told"
            },
        ),
        start_x,
        start_z,
        root_x: if facing {
            Val::Unknown(FACING.into())
        } else {
            Val::or_unknown(root.map(Diameter), "no diameter of the strokes is known")
        },
        end_z: Val::or_unknown(last.z, "the end of the stroke is not known"),
        crest_x: Val::Unknown("a list of strokes does not say where the crest is".into()),
        height: Val::Unknown("a list of strokes does not say the thread height".into()),
        taper: if facing {
            Val::Unknown(FACING.into())
        } else {
            taper(last)
        },
        lead: if varies {
            Val::Unknown(LEAD_CHANGES.into())
        } else {
            last.lead.clone()
        },
        starts,
        start_angle: first.start_angle,
        law: Law::List,
        infeed: infeed_of(&all),
        pull_out: if first.syntax == crate::section::Syntax::Box {
            PullOut::Setting
        } else {
            PullOut::None
        },
    };
    // The moves are in order of the passes.
    let from = around
        .moves
        .partition_point(|mv| mv.after_pass < passes.start);
    let to = around
        .moves
        .partition_point(|mv| mv.after_pass <= passes.end);
    let moves: Vec<Move> = around.moves[from..to]
        .iter()
        .map(|mv| Move {
            after_pass: mv.after_pass - passes.start,
            ..if mirrored { mv.mirrored() } else { *mv }
        })
        .collect();
    let passes_certain =
        run.iter().all(|stroke| stroke.why.is_empty()) && all.iter().all(|pass| pass.x.is_some());
    Section {
        syntax: first.syntax,
        kind: Kind::Turned,
        span: run
            .iter()
            .fold(first.block.span, |all, stroke| all.to(stroke.block.span)),
        first_line: run
            .iter()
            .fold(first.block.line, |line, stroke| line.min(stroke.block.line)),
        last_line: run
            .iter()
            .fold(last.last_line, |line, stroke| line.max(stroke.last_line)),
        blocks: run.iter().map(|stroke| stroke.block).collect(),
        cut,
        passes: all,
        passes_certain,
        words: run
            .iter()
            .flat_map(|stroke| stroke.words.iter().copied())
            .collect(),
        units: around.units,
        radius_mode: around.radius_mode,
        spindle: first.spindle,
        tool: first.tool,
        notes: around.notes.to_vec(),
        unknown,
        chase: false,
        missing,
        moves,
        tapping: None,
        milling: None,
    }
}

/// Where in the turn a stroke starts, as a fraction: its start along the axis counted in leads,
/// moved by its start angle.
fn turn_fraction(lead: Option<Lead>, z_start: Option<Length>, angle: Option<i64>) -> Option<f64> {
    let lead = lead?.mm().abs();
    if lead == 0.0 {
        return None;
    }
    let angle = angle.unwrap_or(0) as f64 / 360_000.0;
    Some((z_start?.mm() / lead + angle).rem_euclid(1.0))
}

fn phase(pass: &Pass) -> Option<f64> {
    turn_fraction(pass.lead, pass.z_start, pass.start_angle)
}

fn phase_of_stroke(stroke: &Stroke) -> Option<f64> {
    let along = if is_facing(stroke) {
        stroke.from.x.map(Length::half)
    } else {
        stroke.from.z
    };
    turn_fraction(stroke.lead.get(), along, stroke.start_angle)
}

fn starts_of_strokes(run: &[Stroke]) -> u32 {
    let depth = |stroke: &Stroke| {
        if is_facing(stroke) {
            stroke.z
        } else {
            stroke.x
        }
    };
    starts_by(run, depth, phase_of_stroke)
}

/// Which of the starts a stroke belongs to.
fn start_index(stroke: &Stroke, starts: u32) -> u32 {
    let fraction = phase_of_stroke(stroke).unwrap_or(0.0);
    (fraction * f64::from(starts)).round() as u32 % starts
}

/// Whether two phases (fractions of a turn) are the same within a fiftieth of a turn.
fn same_phase(a: f64, b: f64) -> bool {
    let apart = (a - b).abs();
    apart.min(1.0 - apart) < 0.02
}

/// Distinct, evenly spaced phases among passes at the same diameter.
fn starts_of(passes: &[Pass]) -> u32 {
    starts_by(passes, |pass| pass.x.map(|x| x.0), phase)
}

fn starts_by<T>(
    passes: &[T],
    x: impl Fn(&T) -> Option<Length>,
    phase: impl Fn(&T) -> Option<f64>,
) -> u32 {
    let mut at_x: HashMap<Option<Length>, Vec<f64>> = HashMap::new();
    for pass in passes {
        let Some(phase) = phase(pass) else {
            continue;
        };
        let phases = at_x.entry(x(pass)).or_default();
        if phases.len() < 64 && !phases.iter().any(|&known| same_phase(known, phase)) {
            phases.push(phase);
        }
    }
    at_x.values_mut()
        .filter_map(|phases| evenly_spaced(phases).then_some(phases.len() as u32))
        .max()
        .unwrap_or(1)
}

/// Whether the phases divide the turn into equal parts.
fn evenly_spaced(phases: &mut [f64]) -> bool {
    phases.sort_by(f64::total_cmp);
    let part = 1.0 / phases.len() as f64;
    phases
        .windows(2)
        .all(|pair| (pair[1] - pair[0] - part).abs() < 0.03)
}

/// A hand-made flank infeed: each pass starts farther along by its step times a constant.
fn infeed_of(passes: &[Pass]) -> Infeed {
    let mut slopes = Vec::new();
    for pair in passes.windows(2) {
        let (Some(a), Some(b), Some(step)) = (pair[0].z_start, pair[1].z_start, pair[1].step)
        else {
            continue;
        };
        if step.0 > SAME {
            slopes.push((b - a).mm() / step.mm());
        }
    }
    let Some(&first) = slopes.first() else {
        return Infeed::Radial;
    };
    if slopes.iter().all(|slope| slope.abs() < 1e-6) {
        return Infeed::Radial;
    }
    let forward = match (passes[0].z_start, passes[0].z_end) {
        (Some(start), Some(end)) => (end - start).signum() as f64,
        _ => return Infeed::Unknown("the stroke's direction is not known".into()),
    };
    if slopes
        .iter()
        .all(|slope| (slope - first).abs() < 0.15 * first.abs() + 0.02)
    {
        let mean = slopes.iter().sum::<f64>() / slopes.len() as f64;
        return Infeed::Flank((mean * forward).atan().to_degrees());
    }
    Infeed::Unknown("the start moves from pass to pass in no constant way".into())
}

fn same_thread(a: &Section, b: &Section) -> bool {
    let tool = |section: &Section| section.tool.map(|tool| tool.value);
    let near = |a: Option<Length>, b: Option<Length>, limit: Length| {
        a.zip(b).is_some_and(|(a, b)| a.near(b, limit))
    };
    let lead = match (a.cut.lead.get(), b.cut.lead.get()) {
        (Some(a), Some(b)) if a == b => a.length().abs(),
        _ => return false,
    };
    a.syntax == b.syntax
        && tool(a) == tool(b)
        && a.side().is_some()
        && a.side() == b.side()
        && near(
            a.cut.root_x.get().map(|x| x.0),
            b.cut.root_x.get().map(|x| x.0),
            Length::from_pm(100_000_000),
        )
        && near(
            a.cut.end_z.get(),
            b.cut.end_z.get(),
            Length::from_pm(lead.pm() * 3 / 2),
        )
}

fn shares_phase(a: &Section, b: &Section) -> bool {
    let (Some(own), false) = (b.passes.last().and_then(phase), a.passes.is_empty()) else {
        return true;
    };
    a.passes
        .iter()
        .filter(|pass| pass.x == a.passes.last().and_then(|last| last.x))
        .filter_map(phase)
        .any(|other| same_phase(own, other))
}

fn merge(into: &mut Section, other: Section) {
    let count = into.passes.len();
    into.span = into.span.to(other.span);
    into.first_line = into.first_line.min(other.first_line);
    into.last_line = into.last_line.max(other.last_line);
    into.blocks.extend(other.blocks);
    into.passes.extend(other.passes);
    into.cut.starts = starts_of(&into.passes);
    if into.cut.starts == 1 {
        let why = "passes start at different places of the turn, not evenly spaced".to_owned();
        if !into.unknown.contains(&why) {
            into.unknown.push(why);
        }
    }
    into.words.extend(other.words);
    into.passes_certain &= other.passes_certain;
    into.missing.extend(other.missing);
    into.moves.retain(|mv| mv.after_pass < count);
    into.moves.extend(other.moves.into_iter().map(|mv| Move {
        after_pass: mv.after_pass + count,
        ..mv
    }));
    for why in other.unknown {
        if !into.unknown.contains(&why) {
            into.unknown.push(why);
        }
    }
    for note in other.notes {
        if !into.notes.contains(&note) {
            into.notes.push(note);
        }
    }
}

/// A mark without a value.
pub(crate) fn place(span: crate::source::Span, line: u32) -> Mark<()> {
    Mark {
        value: (),
        span,
        line,
    }
}
