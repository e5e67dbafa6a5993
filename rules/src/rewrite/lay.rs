//! Passes laid at given depths: along the infeed, start by start, as the syntax reads them.

use lexer::law::Law;
use lexer::section::{Cut, Infeed, Pass, Purpose, Side, Syntax, Val};
use lexer::units::{Diameter, Length, Radial};

/// One start of a thread, by its deepest pass.
#[derive(Debug, Clone)]
pub(super) struct Start {
    /// A pass of this start, for what all of them share.
    pub(super) like: Pass,
    /// Where its strokes start along the axis, before any infeed shift.
    pub(super) z: Option<Length>,
}

/// The passes of a cut in a syntax: by its law where it has one, otherwise at these depths below the
/// crest. Starts follow one another, or take turns where `interleaved`.
pub(super) fn passes(
    cut: &Cut,
    syntax: Syntax,
    depths: &[(Radial, Purpose)],
    starts: &[Start],
    interleaved: bool,
) -> Result<Vec<Pass>, String> {
    let mut by_start = Vec::new();
    for start in starts {
        by_start.push(match cut.law {
            Law::List => list(cut, depths, start)?,
            _ => cycle(cut, syntax, start),
        });
    }
    if !interleaved {
        return Ok(by_start.into_iter().flatten().collect());
    }
    let most = by_start.iter().map(Vec::len).max().unwrap_or_default();
    let mut all = Vec::new();
    for nth in 0..most {
        all.extend(
            by_start
                .iter()
                .filter_map(|passes| passes.get(nth))
                .cloned(),
        );
    }
    Ok(all)
}

/// The passes of a cycle, moved to a start.
fn cycle(cut: &Cut, syntax: Syntax, start: &Start) -> Vec<Pass> {
    let mut all = lexer::syntax::passes(cut, syntax);
    let moved = start.z.zip(cut.start_z.get()).map(|(z, home)| z - home);
    for pass in &mut all {
        pass.z_start = pass.z_start.zip(moved).map(|(z, moved)| z + moved);
        for leg in &mut pass.legs {
            // Only where the stroke starts is another place; it ends where it ends.
            if Some(leg.z) != pass.z_end {
                leg.z += moved.unwrap_or_default();
            }
        }
        take_over(pass, &start.like);
    }
    all
}

fn take_over(pass: &mut Pass, like: &Pass) {
    pass.line = like.line;
    pass.span = like.span;
    pass.spindle = like.spindle;
    pass.start_angle = like.start_angle;
}

fn list(cut: &Cut, depths: &[(Radial, Purpose)], start: &Start) -> Result<Vec<Pass>, String> {
    let (Some(side), Some(crest)) = (cut.side.get(), cut.crest_x.get()) else {
        return Err("side or crest of the thread is not known".into());
    };
    let slope = match &cut.infeed {
        Infeed::Radial => 0.0,
        Infeed::Flank(angle) => angle.to_radians().tan(),
        Infeed::Alternating(_) => {
            return Err("an infeed from flank to flank is not written pass by pass".into());
        }
        Infeed::Unknown(why) => return Err(format!("the infeed is not known: {why}")),
    };
    let like = &start.like;
    let along = match (start.z, like.z_end) {
        (Some(start), Some(end)) => (end - start).signum(),
        _ => return Err("where the passes start or end is not known".into()),
    };
    let taper = match (like.x_start, like.x) {
        (Some(from), Some(to)) => from.above(to),
        _ => Radial(cut.taper.get().unwrap_or_default()),
    };
    let mut before = Radial::default();
    let mut all = Vec::new();
    for (depth, purpose) in depths {
        let x = match side {
            Side::External => crest.in_by(*depth),
            Side::Internal => crest.out_by(*depth),
        };
        let moved = like.x.map_or(Length::ZERO, |old| x.0 - old.0);
        let mut pass = like.clone();
        pass.purpose = *purpose;
        pass.depth = None;
        pass.step = Some(Radial(depth.0 - before.0));
        pass.x = Some(x);
        pass.z_start = start
            .z
            .map(|z| z + Length::from_mm(depth.mm() * slope) * along);
        pass.x_start = Some(x.out_by(Radial::from_mm(taper.mm() * part(&pass, like))));
        for leg in &mut pass.legs {
            leg.x = Diameter(leg.x.0 + moved);
        }
        before = *depth;
        all.push(pass);
    }
    Ok(all)
}

/// The starts of a section's passes, in the order in which they are cut, and whether they take turns.
/// `start_of` gives the start of each pass.
pub(super) fn starts(
    cut: &Cut,
    passes: &[Pass],
    start_of: &[usize],
) -> Result<(Vec<Start>, bool), String> {
    let mut all: Vec<(usize, Start)> = Vec::new();
    let mut changes = 0;
    let mut before = None;
    for (pass, &start) in passes.iter().zip(start_of) {
        changes += usize::from(before.is_some_and(|before| before != start));
        before = Some(start);
        match all.iter_mut().find(|(known, _)| *known == start) {
            // The last pass of a start is its deepest.
            Some((_, known)) => known.like = pass.clone(),
            None => all.push((
                start,
                Start {
                    like: pass.clone(),
                    z: home(cut, passes, pass)?,
                },
            )),
        }
    }
    let same_pieces = |a: &Pass, b: &Pass| {
        let pieces = |pass: &Pass| -> Option<Vec<(Length, Length)>> {
            let x = pass.x?;
            Some(pass.legs.iter().map(|leg| (leg.x.0 - x.0, leg.z)).collect())
        };
        pieces(a) == pieces(b)
    };
    let listed = matches!(cut.law, Law::List);
    if listed
        && passes
            .windows(2)
            .any(|pair| !same_pieces(&pair[0], &pair[1]))
    {
        return Err("the pieces of the passes are not the same from pass to pass".into());
    }
    let interleaved = changes >= all.len();
    Ok((
        all.into_iter().map(|(_, start)| start).collect(),
        interleaved,
    ))
}

/// Where the strokes of a start begin before any infeed shift. A list shifts its passes itself; a
/// cycle by the law.
fn home(cut: &Cut, passes: &[Pass], first: &Pass) -> Result<Option<Length>, String> {
    if let Law::List = cut.law {
        let slope = match &cut.infeed {
            Infeed::Flank(angle) => angle.to_radians().tan(),
            _ => return Ok(first.z_start),
        };
        let (Some(z), Some(end), Some(x), Some(crest)) =
            (first.z_start, first.z_end, first.x, cut.crest_x.get())
        else {
            return Err("where the passes start is not known".into());
        };
        let depth = crest.above(x).mm().abs();
        return Ok(Some(
            z - Length::from_mm(depth * slope) * (end - z).signum(),
        ));
    }
    let moved = passes
        .first()
        .and_then(|pass| pass.z_start)
        .zip(first.z_start);
    Ok(cut
        .start_z
        .get()
        .zip(moved)
        .map(|(home, (of_first, z))| home + (z - of_first)))
}

/// The cut with crest and height as the thread has them, where its words do not say them.
pub(super) fn with_crest(cut: &Cut, crest: Option<Diameter>, height: Option<Radial>) -> Cut {
    let mut cut = cut.clone();
    if cut.crest_x.get().is_none()
        && let Some(crest) = crest
    {
        cut.crest_x = Val::Exact(crest);
    }
    if cut.height.get().is_none()
        && let Some(height) = height
    {
        cut.height = Val::Exact(height);
    }
    cut
}

/// The stroke of a pass as a part of another's: a cone keeps its slope where the infeed moves the
/// start.
fn part(pass: &Pass, like: &Pass) -> f64 {
    let stroke = |pass: &Pass| Some((pass.z_end? - pass.z_start?).mm());
    match (stroke(pass), stroke(like)) {
        (Some(own), Some(like)) if like != 0.0 => own / like,
        _ => 1.0,
    }
}
