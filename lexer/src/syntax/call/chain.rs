//! `CYCLE98(PO1,DM1,PO2,DM2,PO3,DM3,PO4,DM4,APP,ROP,TDEP,FAL,IANG,NSP,NRC,NID,PP1,PP2,PP3,VARI,
//! NUMT,VRT)`: three threads on end, each with its own lead, cut in one stroke. See [`super`] for
//! the source; the places behind FAL are from memory.

use super::arguments::{Argument, Arguments};
use super::turning::{Rest, note_law, shifted, starts_after_each_other};
use crate::block::Block;
use crate::law::depths;
use crate::machine::Machine;
use crate::section::{Cut, Infeed, Leg, Pass, PullOut, Role, Scale, Side, Syntax, Val};
use crate::syntax::strokes::{longer_axis, path, scale};
use crate::syntax::{Draft, note_limit, note_unknown};
use crate::units::{Diameter, Lead, Length, Radial};

/// A corner of the chain: where it lies and its crest.
type Corner = (Length, Diameter);

/// Reads a chain.
pub(super) fn read(
    machine: &Machine,
    block: &Block,
    all: &Arguments,
) -> Result<Draft, &'static str> {
    const VARIABLE: &str =
        "a chain of threads with variables in its corners or leads is not expanded";
    let units = machine.units;
    if all.len() > 22 {
        return Err("the call has more arguments than are known");
    }
    let at = |place, name| all.at(place, name);
    let leads = [at(16, "PP1"), at(17, "PP2"), at(18, "PP3")];
    let rest = Rest {
        app: at(8, "APP"),
        rop: at(9, "ROP"),
        tdep: at(10, "TDEP"),
        fal: at(11, "FAL"),
        iang: at(12, "IANG"),
        nsp: at(13, "NSP"),
        nrc: at(14, "NRC"),
        nid: at(15, "NID"),
        vari: at(19, "VARI"),
        numt: at(20, "NUMT"),
        vrt: at(21, "VRT"),
    };
    let length = |argument: Argument| argument.length(units).get().ok_or(VARIABLE);
    let corner = |place: usize| -> Result<Corner, &'static str> {
        Ok((
            length(at(place, "PO"))?,
            Diameter(length(at(place + 1, "DM"))?),
        ))
    };
    let mut corners = [corner(0)?, corner(2)?, corner(4)?, corner(6)?];
    let pitches = [length(leads[0])?, length(leads[1])?, length(leads[2])?];
    let (app, rop) = (
        rest.app.length_or_none(units).get().ok_or(VARIABLE)?.abs(),
        rest.rop.length_or_none(units).get().ok_or(VARIABLE)?.abs(),
    );
    let along = (corners[3].0 - corners[0].0).signum();
    let forward = corners
        .windows(2)
        .all(|pair| (pair[1].0 - pair[0].0).signum() == along);
    if along == 0 || !forward || pitches.iter().any(|pitch| *pitch <= Length::ZERO) {
        return Err("the corners or the leads of a chain of threads make no chain");
    }
    corners[0] = beyond(corners[1], corners[0], app * along);
    corners[3] = beyond(corners[2], corners[3], rop * along);
    let variant = rest.variant();
    let Some(side) = variant.side.get() else {
        return Err("VARI of a chain of threads is no kind of threading from 1 to 4");
    };
    let height = rest.tdep.length(units).map(|depth| Radial(depth.abs()));
    let law = rest.law(&variant, units);
    let starts = rest.starts().get().filter(|&starts| starts <= 60);
    let Some(starts) = starts else {
        return Err("the number of starts of a chain of threads is not read");
    };
    let angle = rest.start_angle();
    let infeed = rest.infeed(&variant);
    // The longest piece is the thread; the others lead in and out.
    let main = (0..3)
        .max_by_key(|&piece| {
            let way = corners[piece + 1].0 - corners[piece].0;
            (way.abs(), std::cmp::Reverse(piece))
        })
        .unwrap_or(0);
    let crest = Val::Exact(corners[main + 1].1);
    let known = Val::Exact(side);
    let out = shifted(
        &Val::Exact(corners[0].1),
        &rest.clearance(units).map(Radial),
        &known,
        false,
    );
    let cut = Cut {
        start_x: out,
        start_z: Val::Exact(corners[0].0),
        root_x: shifted(&crest, &height, &known, true),
        end_z: Val::Exact(corners[main + 1].0),
        crest_x: crest,
        taper: Val::Exact((corners[main].1.0 - corners[main + 1].1.0).half()),
        lead: Val::Exact(Lead::per_turn(pitches[main])),
        starts,
        start_angle: angle.get().filter(|&angle| angle != 0 || starts > 1),
        law,
        infeed,
        pull_out: PullOut::None,
        height,
        side: known,
    };
    let mut unknown = vec![format!(
        "three threads in one stroke, with leads of {}, {} and {} mm; the longest one is judged",
        pitches[0], pitches[1], pitches[2]
    )];
    let one = passes(machine, block, &cut, side, &corners, &pitches);
    let passes = starts_after_each_other(one, angle.get().unwrap_or(0), starts);
    note_limit(&passes, &mut unknown);
    note_unknown(&cut, &mut unknown);
    note_law(&cut.law, &mut unknown);
    unknown.extend(angle.why().map(str::to_owned));
    let mut words = rest.words(block, units);
    words.extend(leads[main].word(block, Role::Lead, Scale::Real(units)));
    words.sort_by_key(|word| word.span.start);
    Ok(Draft {
        syntax: Syntax::Call,
        passes_certain: angle.get().is_some() && !passes.is_empty(),
        cut,
        passes,
        words,
        unknown,
        missing: rest.missing(block),
        span: block.span,
        line: block.line,
    })
}

/// The corner `way` behind `to`, on the line that comes from `from`.
fn beyond(from: Corner, to: Corner, way: Length) -> Corner {
    let along = to.0 - from.0;
    let away = if along.signum() == way.signum() {
        way
    } else {
        -way
    };
    let rise = i128::from((to.1.0 - from.1.0).pm()) * i128::from(away.pm());
    let rise = rise / i128::from(along.pm().max(1).max(-along.pm())) * i128::from(along.signum());
    let rise = Length::from_pm(i64::try_from(rise).unwrap_or(0));
    (to.0 + away, Diameter(to.1.0 + rise))
}

fn passes(
    machine: &Machine,
    block: &Block,
    cut: &Cut,
    side: Side,
    corners: &[Corner; 4],
    pitches: &[Length; 3],
) -> Vec<Pass> {
    let Some(height) = cut.height.get() else {
        return Vec::new();
    };
    let into = |x: Diameter, depth: Radial| match side {
        Side::External => x.in_by(depth),
        Side::Internal => x.out_by(depth),
    };
    let along = (corners[3].0 - corners[0].0).signum();
    let mut before = Radial::default();
    depths(&cut.law, height)
        .into_iter()
        .map(|(depth, purpose)| {
            let shift = match &cut.infeed {
                Infeed::Flank(angle) => depth.mm() * angle.to_radians().tan(),
                _ => 0.0,
            };
            let legs: Vec<Leg> = (0..3)
                .map(|piece| {
                    let (from, to) = (corners[piece], corners[piece + 1]);
                    let (dx, dz) = ((to.1.0 - from.1.0).half(), to.0 - from.0);
                    let lead = Lead::per_turn(pitches[piece]);
                    Leg {
                        x: into(to.1, depth),
                        z: to.0,
                        lead: if dx.is_zero() {
                            lead
                        } else {
                            scale(lead, path(dx, dz) / longer_axis(dx, dz))
                        },
                    }
                })
                .collect();
            let step = Radial(depth.0 - before.0);
            before = depth;
            Pass {
                line: block.line,
                span: block.span,
                purpose,
                x_start: Some(into(corners[0].1, depth)),
                x: cut.crest_x.get().map(|crest| into(crest, depth)),
                depth: Some(depth),
                step: Some(step),
                z_start: Some(corners[0].0 + Length::from_mm(shift) * along),
                z_end: cut.end_z.get(),
                lead: cut.lead.get(),
                lead_change: None,
                start_angle: cut.start_angle,
                spindle: machine.spindle,
                skip: block.skip,
                legs,
            }
        })
        .collect()
}
