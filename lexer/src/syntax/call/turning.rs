//! `CYCLE97(PIT,MPIT,SPL,FPL,DM1,DM2,APP,ROP,TDEP,FAL,IANG,NSP,NRC,NID,VARI,NUMT,VRT)` and
//! `CYCLE99(SPL,SPD,FPL,FPD,APP,ROP,TDEP,FAL,IANG,NSP,NRC,NID,PIT,VARI,NUMTH,SDIS,MID,GDEP,PIT1,…)`:
//! the same thread in two orders. See [`super`] for the source.

use super::arguments::{Argument, Arguments};
use super::{Order, coarse_pitch};
use crate::block::Block;
use crate::law::{Law, PASS_LIMIT};
use crate::machine::Machine;
use crate::number::Number;
use crate::section::{
    Cut, Infeed, Missing, Pass, PullOut, Role, RoleWord, Scale, Side, Syntax, Val,
};
use crate::syntax::{Draft, Origin, note_limit, note_unknown, passes_of};
use crate::units::{Diameter, Lead, Length, Radial, Units};

/// Most starts that are expanded.
const STARTS: u32 = 60;

/// The arguments by their meaning.
struct Given {
    pit: Argument,
    mpit: Argument,
    spl: Argument,
    fpl: Argument,
    dm1: Argument,
    dm2: Argument,
    rest: Rest,
    /// Places behind those that are read, with something in them.
    more: bool,
}

/// What thread and chain have in common.
pub(super) struct Rest {
    pub(super) app: Argument,
    pub(super) rop: Argument,
    pub(super) tdep: Argument,
    pub(super) fal: Argument,
    pub(super) iang: Argument,
    pub(super) nsp: Argument,
    pub(super) nrc: Argument,
    pub(super) nid: Argument,
    pub(super) vari: Argument,
    pub(super) numt: Argument,
    pub(super) vrt: Argument,
}

/// Side and law by VARI.
pub(super) struct Variant {
    pub(super) side: Val<Side>,
    /// Whether the passes take equal areas.
    pub(super) equal_areas: Val<bool>,
    /// Whether it says by itself that the infeed changes from flank to flank.
    pub(super) alternating: bool,
    /// Whether the number of passes is what the place says.
    pub(super) counts: bool,
}

impl Given {
    fn of(all: &Arguments, order: Order) -> Given {
        let at = |place, name| all.at(place, name);
        match order {
            Order::LeadFirst => Given {
                pit: at(0, "PIT"),
                mpit: at(1, "MPIT"),
                spl: at(2, "SPL"),
                fpl: at(3, "FPL"),
                dm1: at(4, "DM1"),
                dm2: at(5, "DM2"),
                rest: Rest {
                    app: at(6, "APP"),
                    rop: at(7, "ROP"),
                    tdep: at(8, "TDEP"),
                    fal: at(9, "FAL"),
                    iang: at(10, "IANG"),
                    nsp: at(11, "NSP"),
                    nrc: at(12, "NRC"),
                    nid: at(13, "NID"),
                    vari: at(14, "VARI"),
                    numt: at(15, "NUMT"),
                    vrt: at(16, "VRT"),
                },
                more: all.len() > 17,
            },
            Order::EndsFirst => Given {
                spl: at(0, "SPL"),
                dm1: at(1, "SPD"),
                fpl: at(2, "FPL"),
                dm2: at(3, "FPD"),
                rest: Rest {
                    app: at(4, "APP"),
                    rop: at(5, "ROP"),
                    tdep: at(6, "TDEP"),
                    fal: at(7, "FAL"),
                    iang: at(8, "IANG"),
                    nsp: at(9, "NSP"),
                    nrc: at(10, "NRC"),
                    nid: at(11, "NID"),
                    vari: at(13, "VARI"),
                    numt: at(14, "NUMTH"),
                    // The clearance of this call is not the distance of the other.
                    vrt: at(usize::MAX, "VRT"),
                },
                pit: at(12, "PIT"),
                mpit: at(usize::MAX, "MPIT"),
                more: (18..all.len()).any(|place| {
                    let argument = at(place, "PIT1");
                    argument.number().is_none_or(|number| number.digits != 0)
                        && !argument.is_empty()
                }),
            },
        }
    }

    /// The lead by its value or by the nominal size.
    fn lead(&self, units: Units) -> Val<Lead> {
        let by_size = || {
            let size = self.mpit.count(0).get()?;
            let pitch = coarse_pitch(size)?;
            Some(Lead::per_turn(Length::from_pm(
                i64::from(pitch) * 10_000_000,
            )))
        };
        let zero = |argument: &Argument| argument.number().is_some_and(|n| n.digits == 0);
        let written = |argument: &Argument| !argument.is_empty() && !zero(argument);
        match (written(&self.pit), written(&self.mpit)) {
            (false, true) => Val::or_unknown(
                by_size(),
                "MPIT is no size with a coarse pitch between M3 and M60",
            ),
            (true, false) => self.pit.length(units).map(|pit| Lead::per_turn(pit.abs())),
            (false, false) => Val::Unknown("the lead PIT is not written".into()),
            (true, true) => {
                let pit = self.pit.length(units).map(|pit| Lead::per_turn(pit.abs()));
                if pit.get().is_some() && pit.get() == by_size() {
                    pit
                } else {
                    Val::Unknown("PIT and MPIT say different leads".into())
                }
            }
        }
    }

    /// Whether the numbers can be a thread in this order; none where variables leave it open.
    fn fits(&self, units: Units) -> Option<bool> {
        let rest = &self.rest;
        let needed = [
            &self.spl, &self.fpl, &self.dm1, &self.dm2, &rest.tdep, &rest.nrc, &rest.vari,
        ];
        if needed.iter().any(|argument| argument.is_empty()) {
            return Some(false);
        }
        let lead = self.lead(units).get();
        let number = |argument: &Argument| argument.number().map(Number::value);
        if number(&self.dm1).is_some_and(|dm1| dm1 <= 0.0)
            || number(&rest.nrc).is_some_and(|nrc| nrc < 0.0 || nrc.fract() != 0.0)
            || number(&rest.iang).is_some_and(|angle| angle.abs() > 60.0)
            || number(&rest.app).is_some_and(|app| app < 0.0)
            || number(&rest.rop).is_some_and(|rop| rop < 0.0)
            || rest.vari.number().is_some() && rest.variant().side.get().is_none()
        {
            return Some(false);
        }
        let (Some(lead), Some(depth), Some(d1), Some(d2)) = (
            lead,
            rest.tdep.length(units).get(),
            self.dm1.length(units).get(),
            self.dm2.length(units).get(),
        ) else {
            return None;
        };
        let (spl, fpl) = (self.spl.length(units).get()?, self.fpl.length(units).get()?);
        number(&rest.nrc)?;
        rest.variant().side.get()?;
        let depth = depth.abs();
        Some(
            lead.mm() > 0.0
                && lead.mm() < 200.0
                && depth > Length::ZERO
                && depth.mm() <= 2.0 * lead.mm()
                && depth.double() < d1.max(d2)
                && d2 > Length::ZERO
                && spl != fpl,
        )
    }
}

impl Rest {
    /// VARI: 1 and 3 bolts, 2 and 4 nuts; 1 and 2 equal depths, 3 and 4 equal areas. The longer
    /// numbers carry the same in their last digit; their hundreds say the infeed and their
    /// thousands whether passes are counted (from memory).
    pub(super) fn variant(&self) -> Variant {
        let number = self.vari.number().and_then(Number::integer);
        let unknown = || {
            if number.is_some() {
                "VARI is no kind of threading from 1 to 4".to_owned()
            } else {
                self.vari.why()
            }
        };
        let digit = number.filter(|&n| n > 0).map(|n| n % 10);
        let side = match digit {
            Some(1 | 3) => Some(Side::External),
            Some(2 | 4) => Some(Side::Internal),
            _ => None,
        };
        Variant {
            side: Val::or_unknown(side, unknown()),
            equal_areas: Val::or_unknown(
                digit.filter(|d| (1..=4).contains(d)).map(|d| d > 2),
                unknown(),
            ),
            alternating: number.is_some_and(|n| n / 100 % 10 == 2),
            counts: number.is_none_or(|n| n / 1000 % 10 <= 1),
        }
    }

    /// The infeed: along one flank, or from flank to flank where the angle is negative.
    pub(super) fn infeed(&self, variant: &Variant) -> Infeed {
        match self.iang.or(0.0) {
            Val::Exact(0.0) => Infeed::Radial,
            Val::Exact(angle) if angle < 0.0 || variant.alternating => {
                Infeed::Alternating(angle.abs())
            }
            Val::Exact(angle) => Infeed::Flank(angle),
            other => Infeed::Unknown(other.why().unwrap_or_default().to_owned()),
        }
    }

    pub(super) fn law(&self, variant: &Variant, units: Units) -> Law {
        let rough = if self.nrc.is_empty() {
            Val::Unknown(self.nrc.why())
        } else {
            self.nrc.count(0)
        };
        let rough = match (&variant.equal_areas, variant.counts) {
            (Val::Unknown(why), _) => Val::Unknown(why.clone()),
            (_, false) => Val::Unknown("NRC is no number of passes in this kind of call".into()),
            _ => match self.fal.length_or_none(units) {
                Val::Unknown(why) => Val::Unknown(why),
                _ => rough,
            },
        };
        Law::Counted {
            rough,
            equal_areas: variant.equal_areas.get().unwrap_or(false),
            finish: self
                .fal
                .length_or_none(units)
                .map(|finish| Radial(finish.abs())),
            springs: self.nid.count(0),
        }
    }

    /// Start angle in thousandths of a degree; none where it is 0 or not written.
    pub(super) fn start_angle(&self) -> Val<i64> {
        self.nsp
            .or(0.0)
            .map(|degrees| (degrees * 1000.0).round() as i64)
    }

    /// Clearance outside the crest, radial.
    pub(super) fn clearance(&self, units: Units) -> Val<Length> {
        let written = self.vrt.number().is_some_and(|number| number.digits != 0);
        if written || self.vrt.number().is_none() && !self.vrt.is_empty() {
            return self.vrt.length(units).map(Length::abs);
        }
        // A millimetre outside the thread (a published manual page); whether of radius or diameter
        // it does not say.
        Val::Approx(Length::from_mm(0.75), Length::from_mm(0.25))
    }

    /// The words that thread and chain have in common.
    pub(super) fn words(&self, block: &Block, units: Units) -> Vec<RoleWord> {
        let real = Scale::Real(units);
        [
            self.tdep.word(block, Role::Height, real),
            self.fal.word(block, Role::FinishAllowance, real),
            self.iang.word(block, Role::InfeedAngle, Scale::Plain),
            self.nsp.word(block, Role::StartAngle, Scale::Plain),
            self.nrc.word(block, Role::RoughPasses, Scale::Plain),
            self.nid.word(block, Role::SpringPasses, Scale::Plain),
            self.vari.word(block, Role::Method, Scale::Plain),
            self.numt.word(block, Role::Starts, Scale::Plain),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    /// The starts; 0 and none written are one.
    pub(super) fn starts(&self) -> Val<u32> {
        self.numt.count(1).map(|starts| starts.max(1))
    }

    pub(super) fn missing(&self, block: &Block) -> Vec<Missing> {
        let one = |argument: &Argument, role, letters| {
            argument.is_empty().then_some(Missing {
                role,
                letters,
                block: block.span,
                line: block.line,
                in_force: None,
            })
        };
        one(&self.tdep, Role::Height, "TDEP").into_iter().collect()
    }
}

/// Reads a thread-turning call.
pub(super) fn read(
    machine: &Machine,
    block: &Block,
    all: &Arguments,
    order: Order,
) -> Result<Draft, &'static str> {
    let units = machine.units;
    let given = Given::of(all, order);
    let other = Given::of(all, order.other());
    match (given.fits(units), other.fits(units)) {
        (Some(true), Some(true)) => {
            return Err("the arguments fit both known orders of a thread-turning call");
        }
        (Some(false), Some(true)) => {
            return Err(
                "the arguments stand in the order of the other thread-turning call, with the lead \
                 and the diameters in other places",
            );
        }
        _ => {}
    }
    if given.more {
        return Err("the call has more arguments than are known");
    }
    draft(machine, block, &given)
}

fn draft(machine: &Machine, block: &Block, given: &Given) -> Result<Draft, &'static str> {
    let units = machine.units;
    let rest = &given.rest;
    let variant = rest.variant();
    let ends = [given.spl.length(units), given.fpl.length(units)];
    let crests = [given.dm1.length(units), given.dm2.length(units)];
    let (app, rop) = (
        rest.app.length_or_none(units).map(Length::abs),
        rest.rop.length_or_none(units).map(Length::abs),
    );
    let cone = Cone::of(&ends, &crests, &app, &rop)?;
    let height = rest.tdep.length(units).map(|depth| Radial(depth.abs()));
    let clearance = rest.clearance(units).map(Radial);
    let lead = given.lead(units);
    let starts = rest.starts();
    let start_angle = rest.start_angle();
    let mut unknown = Vec::new();
    let count = match starts.get() {
        Some(count @ ..=STARTS) => count,
        _ => return Err("the number of starts of a thread-turning call is not read"),
    };
    if count > 1 {
        unknown.push(
            "PIT is read as the lead of a thread with several starts, and one start is taken as \
             cut after the other; both from memory"
                .to_owned(),
        );
    }
    if cone.extended {
        unknown.push(
            "run-in and run-out are taken to follow the cone, which is from memory".to_owned(),
        );
    }
    unknown.extend(start_angle.why().map(str::to_owned));
    let widest = outermost(&cone.crest_start, &cone.crest_end, &variant.side);
    let angle = start_angle.get().unwrap_or(0);
    let cut = Cut {
        start_x: shifted(&widest, &clearance, &variant.side, false),
        start_z: cone.start_z,
        root_x: shifted(&cone.crest_end, &height, &variant.side, true),
        end_z: cone.end_z,
        crest_x: cone.crest_end,
        height,
        taper: cone.taper,
        lead,
        starts: count,
        start_angle: (angle != 0 || count > 1).then_some(angle),
        law: rest.law(&variant, units),
        infeed: rest.infeed(&variant),
        pull_out: PullOut::None,
        side: variant.side,
    };
    let one = passes_of(&cut, &Origin::of(machine, block));
    let passes = starts_after_each_other(one, angle, count);
    note_limit(&passes, &mut unknown);
    note_unknown(&cut, &mut unknown);
    note_law(&cut.law, &mut unknown);
    let mut words = rest.words(block, units);
    words.extend(given.pit.word(block, Role::Lead, Scale::Real(units)));
    if let (Some(mut word), Some(end)) = (
        given.fpl.word(block, Role::EndZ, Scale::Real(units)),
        cut.end_z.get(),
    ) {
        word.base = end - word.length().unwrap_or(end);
        words.push(word);
    }
    words.sort_by_key(|word| word.span.start);
    let mut missing = rest.missing(block);
    if given.pit.is_empty() && given.mpit.is_empty() {
        missing.push(Missing {
            role: Role::Lead,
            letters: "PIT",
            block: block.span,
            line: block.line,
            in_force: None,
        });
    }
    Ok(Draft {
        syntax: Syntax::Call,
        passes_certain: start_angle.get().is_some() && !passes.is_empty(),
        cut,
        passes,
        words,
        unknown,
        missing,
        span: block.span,
        line: block.line,
    })
}

/// Adds why the law gives no passes.
pub(super) fn note_law(law: &Law, unknown: &mut Vec<String>) {
    if let Law::Counted { rough, springs, .. } = law {
        let why = [rough.why(), springs.why()];
        unknown.extend(why.into_iter().flatten().map(str::to_owned));
    }
}

/// The passes of every start in turn.
pub(super) fn starts_after_each_other(one: Vec<Pass>, angle: i64, count: u32) -> Vec<Pass> {
    if count <= 1 {
        return one;
    }
    let mut all = Vec::new();
    for start in 0..i64::from(count) {
        let turned = (angle + start * 360_000 / i64::from(count)) % 360_000;
        all.extend(one.iter().map(|pass| Pass {
            start_angle: Some(turned),
            ..pass.clone()
        }));
        if all.len() >= PASS_LIMIT {
            break;
        }
    }
    all.truncate(PASS_LIMIT);
    all
}

/// Where the crest of a thread starts and ends, run-in and run-out included.
struct Cone {
    start_z: Val<Length>,
    end_z: Val<Length>,
    crest_start: Val<Diameter>,
    crest_end: Val<Diameter>,
    taper: Val<Length>,
    /// Whether a cone is extended by run-in or run-out.
    extended: bool,
}

impl Cone {
    fn of(
        ends: &[Val<Length>; 2],
        crests: &[Val<Length>; 2],
        app: &Val<Length>,
        rop: &Val<Length>,
    ) -> Result<Cone, &'static str> {
        const FACE: &str = "a thread on a face by a thread-turning call is not expanded";
        let unknown = |values: &[&Val<Length>]| {
            let why = values.iter().find_map(|value| value.why());
            why.unwrap_or("not known").to_owned()
        };
        let [from, to] = ends;
        let (Some(a), Some(b), Some(run_in), Some(run_out)) =
            (from.get(), to.get(), app.get(), rop.get())
        else {
            let why = unknown(&[from, to, app, rop]);
            return Ok(Cone {
                start_z: Val::Unknown(why.clone()),
                end_z: Val::Unknown(why.clone()),
                crest_start: crests[0].clone().map(Diameter),
                crest_end: crests[1].clone().map(Diameter),
                taper: match (crests[0].get(), crests[1].get()) {
                    (Some(d1), Some(d2)) if d1 == d2 => Val::Exact(Length::ZERO),
                    _ => Val::Unknown(why),
                },
                extended: false,
            });
        };
        let along = (b - a).signum();
        if along == 0 {
            return Err(FACE);
        }
        let (start_z, end_z) = (
            Val::Exact(a - run_in * along),
            Val::Exact(b + run_out * along),
        );
        let (Some(d1), Some(d2)) = (crests[0].get(), crests[1].get()) else {
            let why = unknown(&[&crests[0], &crests[1]]);
            return Ok(Cone {
                start_z,
                end_z,
                crest_start: Val::Unknown(why.clone()),
                crest_end: Val::Unknown(why.clone()),
                taper: Val::Unknown(why),
                extended: false,
            });
        };
        let length = (b - a).abs();
        if (d2 - d1).abs().half() > length {
            return Err(FACE);
        }
        let beyond = |from: Length, rise: Length, way: Length| {
            let part = i128::from(rise.pm()) * i128::from(way.pm()) / i128::from(length.pm());
            Diameter(from + Length::from_pm(i64::try_from(part).unwrap_or(0)))
        };
        let start = beyond(d1, d1 - d2, run_in);
        let end = beyond(d2, d2 - d1, run_out);
        let taper = (start.0 - end.0).half();
        let extended = d1 != d2 && !(run_in.is_zero() && run_out.is_zero());
        let rounding = Length::from_pm(2);
        Ok(Cone {
            start_z,
            end_z,
            crest_start: if extended {
                Val::Approx(start, Diameter(rounding))
            } else {
                Val::Exact(start)
            },
            crest_end: if extended {
                Val::Approx(end, Diameter(rounding))
            } else {
                Val::Exact(end)
            },
            taper: if extended {
                Val::Approx(taper, rounding)
            } else {
                Val::Exact(taper)
            },
            extended,
        })
    }
}

/// The end of a cone at which the tool has to clear most.
fn outermost(a: &Val<Diameter>, b: &Val<Diameter>, side: &Val<Side>) -> Val<Diameter> {
    match (a.get(), b.get(), side.get()) {
        (Some(x), Some(y), Some(Side::External)) if x < y => b.clone(),
        (Some(x), Some(y), Some(Side::Internal)) if x > y => b.clone(),
        _ => a.clone(),
    }
}

/// A diameter moved into the material or out of it.
pub(super) fn shifted(
    x: &Val<Diameter>,
    by: &Val<Radial>,
    side: &Val<Side>,
    into: bool,
) -> Val<Diameter> {
    let (Some(from), Some(way), Some(known)) = (x.get(), by.get(), side.get()) else {
        let why = x.why().or(by.why()).or(side.why());
        return Val::Unknown(why.unwrap_or("not known").to_owned());
    };
    let moved = if (known == Side::External) == into {
        from.in_by(way)
    } else {
        from.out_by(way)
    };
    let error = |x: &Val<Diameter>| match x {
        Val::Approx(_, error) => error.0,
        _ => Length::ZERO,
    };
    let of_way = match by {
        Val::Approx(_, error) => error.0.double(),
        _ => Length::ZERO,
    };
    let sum = error(x) + of_way;
    if sum.is_zero() {
        Val::Exact(moved)
    } else {
        Val::Approx(moved, Diameter(sum))
    }
}
