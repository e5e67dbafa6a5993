//! Cuts to write, drawn at random from numbers a shop could write.

use lexer::evidence::Family;
use lexer::law::Law;
use lexer::section::{Cut, Infeed, Pass, PullOut, Purpose, Side, Syntax, Val};
use lexer::source::Span;
use lexer::syntax::{Numbering, Style, Whole};
use lexer::units::{Diameter, Lead, Length, Radial, Units};
use proptest::prelude::*;

/// A way of writing and a cut that it can write without rounding.
#[derive(Clone)]
pub(crate) struct Case {
    pub(crate) style: Style,
    pub(crate) cut: Cut,
    pub(crate) passes: Vec<Pass>,
    pub(crate) syntax: Syntax,
}

impl std::fmt::Debug for Case {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let x = |pass: &Pass| (pass.x.map(Diameter::mm), pass.z_start.map(Length::mm));
        let passes: Vec<_> = self.passes.iter().map(x).collect();
        write!(f, "{:?}\n{:?}\n{passes:?}", self.style, self.cut)
    }
}

/// `digits` last digits of the units: 0.001 mm or 0.0001 in.
fn length(units: Units, digits: i64) -> Length {
    units.least_increment() * digits
}

prop_compose! {
    /// A style with every habit.
    pub(crate) fn style(family: Family)(
        inch: bool,
        whole in prop::sample::select(vec![Whole::Bare, Whole::Point, Whole::OneZero, Whole::AllZeros]),
        leading_zero: bool,
        spaced: bool,
        lower: bool,
        two_digits: bool,
        numbered: bool,
        start in 1u32..900,
        step in 1u32..20,
        digits in 1u8..5,
        line_end in prop::sample::select(vec!["\n", "\r\n", "\r"]),
    ) -> Style {
        let mut style = Style::new(family, if inch { Units::Inch } else { Units::Millimetre });
        style.whole = whole;
        style.leading_zero = leading_zero;
        style.spaced = spaced;
        style.lower = lower;
        style.two_digits = two_digits;
        style.numbers = numbered.then_some(Numbering { start, step, digits });
        style.line_end = line_end;
        style
    }
}

prop_compose! {
    /// Geometry without a law.
    fn geometry(units: Units)(
        internal: bool,
        root in 4_000i64..60_000,
        height in 100i64..3_000,
        clear in 100i64..4_000,
        start_z in 500i64..9_000,
        run in 5_000i64..50_000,
        towards_plus: bool,
        lead in 100i64..6_000,
        taper in prop_oneof![Just(0i64), -1_500i64..1_500],
        angle in 0u32..60,
    ) -> Cut {
        let of = |digits| length(units, digits);
        let height = Radial(of(height));
        let root = Diameter(of(root * 2));
        let (side, crest, start) = if internal {
            let crest = root.in_by(height);
            (Side::Internal, crest, crest.in_by(Radial(of(clear))))
        } else {
            let crest = root.out_by(height);
            (Side::External, crest, crest.out_by(Radial(of(clear))))
        };
        let along = if towards_plus { 1 } else { -1 };
        Cut {
            side: Val::Exact(side),
            start_x: Val::Exact(start),
            start_z: Val::Exact(of(-start_z * along)),
            root_x: Val::Exact(root),
            end_z: Val::Exact(of(run * along)),
            crest_x: Val::Exact(crest),
            height: Val::Exact(height),
            taper: Val::Exact(of(taper)),
            lead: Val::Exact(Lead::per_turn(of(lead))),
            starts: 1,
            start_angle: None,
            law: Law::List,
            infeed: if angle == 0 { Infeed::Radial } else { Infeed::Flank(f64::from(angle) / 2.0) },
            pull_out: PullOut::None,
        }
    }
}

fn first_cut(cut: &Cut, units: Units, part: i64) -> Radial {
    let digits = cut.height.get().unwrap().0.pm() / units.least_increment().pm();
    Radial(length(units, (digits * part / 100).max(2)))
}

/// Splits the passes of one start into several, shifted along Z or turned by an angle.
fn starts(mut cut: Cut, passes: Vec<Pass>, count: u32, by_angle: bool) -> (Cut, Vec<Pass>) {
    if count == 1 {
        return (cut, passes);
    }
    let pitch = cut.lead.get().unwrap();
    cut.lead = Val::Exact(pitch.times(count));
    cut.starts = count;
    if by_angle {
        cut.start_angle = Some(0);
    }
    let back = -(cut.end_z.get().unwrap() - cut.start_z.get().unwrap()).signum();
    let all = (0..i64::from(count)).flat_map(|start| {
        let pitch = pitch.length();
        passes.iter().map(move |pass| {
            let mut pass = pass.clone();
            pass.lead = Some(Lead::per_turn(pitch).times(count));
            if by_angle {
                pass.start_angle = Some(start * 360_000 / i64::from(count));
            } else {
                pass.z_start = pass.z_start.map(|z| z + pitch * start * back);
            }
            pass
        })
    });
    let all = all.collect();
    (cut, all)
}

fn case(style: Style, cut: Cut, syntax: Syntax, count: u32, by_angle: bool) -> Case {
    let passes = lexer::syntax::passes(&cut, syntax);
    let (cut, passes) = starts(cut, passes, count, by_angle);
    Case {
        style,
        cut,
        passes,
        syntax,
    }
}

/// The two-block cycle.
pub(crate) fn two_block(family: Family) -> impl Strategy<Value = Case> {
    style(family)
        .prop_flat_map(|style| (geometry(style.units), Just(style)))
        .prop_flat_map(|(cut, style)| {
            (
                Just((cut, style)),
                (15i64..90, 0i64..20, 0i64..15),
                (0u32..4, 0u32..30),
                (1u32..4, any::<bool>()),
            )
        })
        .prop_map(
            |((mut cut, style), (first, min, finish), (repeats, rr), (count, radius))| {
                let mut style = style;
                style.radius_mode = radius;
                let units = style.units;
                cut.law = Law::SquareRoot {
                    first: Val::Exact(first_cut(&cut, units, first)),
                    min: Val::Exact(Radial(length(units, min * 3))),
                    finish: Val::Exact(Radial(length(units, finish))),
                    repeats: Val::Exact(repeats),
                };
                if rr > 0 {
                    cut.pull_out = PullOut::TenthsOfLead(rr);
                }
                case(style, cut, Syntax::TwoBlock, count, false)
            },
        )
}

/// The one-block cycle.
pub(crate) fn one_block() -> impl Strategy<Value = Case> {
    style(Family::SystemA)
        .prop_flat_map(|style| (geometry(style.units), Just(style)))
        .prop_flat_map(|(cut, style)| {
            (
                Just((cut, style)),
                15i64..90,
                1u8..5,
                1u32..4,
                any::<bool>(),
            )
        })
        .prop_map(|((mut cut, style), first, method, count, by_angle)| {
            cut.law = Law::Method {
                first: Val::Exact(first_cut(&cut, style.units, first)),
                method,
            };
            cut.pull_out = PullOut::Setting;
            if let (2 | 4, Infeed::Flank(angle)) = (method, &cut.infeed) {
                cut.infeed = Infeed::Alternating(*angle);
            }
            case(style, cut, Syntax::OneBlock, count, by_angle)
        })
}

/// The interpreter's cycle.
pub(crate) fn drive_line() -> impl Strategy<Value = Case> {
    style(Family::Interpreter)
        .prop_flat_map(|style| (geometry(style.units), Just(style)))
        .prop_flat_map(|(cut, style)| {
            (
                Just((cut, style)),
                15i64..90,
                prop::sample::select(vec![1.0, 1.5, 2.0, 2.25]),
                0i64..4,
                prop_oneof![Just(0i64), 200i64..1_500],
                (1u32..4, any::<bool>()),
            )
        })
        .prop_map(
            |((mut cut, mut style), first, degression, springs, exit, (count, radius))| {
                style.radius_mode = radius;
                cut.taper = Val::Exact(Length::ZERO);
                cut.law = Law::Power {
                    first: Val::Exact(first_cut(&cut, style.units, first)),
                    degression,
                    springs,
                };
                if exit > 0 {
                    cut.pull_out = PullOut::Axial(length(style.units, exit));
                }
                case(style, cut, Syntax::DriveLine, count, false)
            },
        )
}

/// Passes written out: strokes or boxes. Every pass has its own depth, spring passes included;
/// with `flank` each starts farther along.
pub(crate) fn list(family: Family, syntax: Syntax) -> impl Strategy<Value = Case> {
    style(family)
        .prop_flat_map(|style| (geometry(style.units), Just(style)))
        .prop_flat_map(move |(cut, style)| {
            (
                Just((cut, style)),
                prop::collection::vec(1i64..30, 1..9),
                0usize..3,
                any::<bool>(),
                (1u32..4, any::<bool>()),
            )
        })
        .prop_map(
            move |((mut cut, mut style), parts, springs, flank, (count, second))| {
                let interpreter = family == Family::Interpreter;
                style.radius_mode = interpreter && second;
                let by_angle = second
                    && !matches!(
                        family,
                        Family::Interpreter | Family::Compound | Family::BoxG82
                    );
                let units = style.units;
                let unit = units.least_increment().pm();
                let height = cut.height.get().unwrap().0.pm() / unit;
                let total: i64 = parts.iter().sum();
                let mut taken = 0;
                let mut depths: Vec<i64> = Vec::new();
                for part in &parts {
                    taken += part;
                    let depth = height * taken / total;
                    if depths.last() != Some(&depth) && depth > 0 {
                        depths.push(depth);
                    }
                }
                depths.extend(std::iter::repeat_n(height, springs));
                let along = (cut.end_z.get().unwrap() - cut.start_z.get().unwrap()).signum();
                let mut before = 0;
                let passes: Vec<Pass> = depths
                    .iter()
                    .map(|&depth| {
                        let radial = Radial(length(units, depth));
                        let crest = cut.crest_x.get().unwrap();
                        let x = match cut.side.get().unwrap() {
                            Side::External => crest.in_by(radial),
                            Side::Internal => crest.out_by(radial),
                        };
                        let shift = if flank { depth / 2 * along } else { 0 };
                        let step = depth - before;
                        before = depth;
                        Pass {
                            line: 0,
                            span: Span::default(),
                            purpose: if step == 0 {
                                Purpose::Spring
                            } else {
                                Purpose::Rough
                            },
                            x_start: Some(Diameter(x.0 + cut.taper.get().unwrap().double())),
                            x: Some(x),
                            depth: None,
                            step: None,
                            z_start: Some(cut.start_z.get().unwrap() + length(units, shift)),
                            z_end: cut.end_z.get(),
                            lead: cut.lead.get(),
                            lead_change: None,
                            start_angle: None,
                            spindle: Default::default(),
                            skip: None,
                            legs: Vec::new(),
                        }
                    })
                    .collect();
                cut.pull_out = PullOut::None;
                let (cut, passes) = starts(cut, passes, count, by_angle);
                Case {
                    style,
                    cut,
                    passes,
                    syntax,
                }
            },
        )
}

/// The call with its arguments by place.
pub(crate) fn call() -> impl Strategy<Value = Case> {
    style(Family::Call)
        .prop_flat_map(|style| (geometry(style.units), Just(style)))
        .prop_flat_map(|(cut, style)| {
            (
                Just((cut, style)),
                (0u32..12, any::<bool>()),
                (0i64..15, 0u32..4),
                (1u32..4, any::<bool>(), any::<bool>()),
            )
        })
        .prop_map(
            |(
                (mut cut, mut style),
                (rough, equal_areas),
                (finish, springs),
                (count, by_angle, both),
            )| {
                if style.whole == Whole::AllZeros {
                    style.whole = Whole::Bare;
                }
                cut.law = Law::Counted {
                    rough: Val::Exact(rough),
                    equal_areas,
                    finish: Val::Exact(Radial(length(style.units, finish))),
                    springs: Val::Exact(springs),
                };
                if let (true, Infeed::Flank(angle)) = (both, &cut.infeed) {
                    cut.infeed = Infeed::Alternating(*angle);
                }
                // What is no longer a cone along the axis, or deeper than a thread, is not read.
                let (from, to) = (cut.start_z.get().unwrap(), cut.end_z.get().unwrap());
                let steep = cut.taper.get().unwrap().abs() > (to - from).abs();
                if steep {
                    cut.taper = Val::Exact(Length::ZERO);
                }
                // The clearance counts from the end of the cone that stands out most.
                let (crest, taper) = (cut.crest_x.get().unwrap(), cut.taper.get().unwrap());
                let other = Diameter(crest.0 + taper.double());
                let clear = Radial(length(style.units, 1_000));
                cut.start_x = Val::Exact(match cut.side.get() {
                    Some(Side::External) => crest.max(other).out_by(clear),
                    _ => crest.min(other).in_by(clear),
                });
                case(style, cut, Syntax::Call, count, by_angle)
            },
        )
}

/// The compound cycle, equal areas.
pub(crate) fn compound() -> impl Strategy<Value = Case> {
    style(Family::Compound)
        .prop_flat_map(|style| (geometry(style.units), Just(style)))
        .prop_flat_map(|(cut, style)| {
            (
                Just((cut, style)),
                (15i64..90, 0i64..15),
                (0u32..4, 200i64..1_500),
                (1u32..4, 0u8..3),
            )
        })
        .prop_map(
            |((mut cut, style), (first, finish), (exit, length_of_exit), (count, flank))| {
                let units = style.units;
                let first = Val::Exact(first_cut(&cut, units, first));
                let finish = Radial(length(units, finish));
                cut.law = if finish == Radial::default() {
                    Law::Method { first, method: 1 }
                } else {
                    Law::SquareRoot {
                        first,
                        min: Val::Exact(Radial::default()),
                        finish: Val::Exact(finish),
                        repeats: Val::Exact(1),
                    }
                };
                if let Infeed::Flank(angle) = cut.infeed {
                    cut.infeed = match flank {
                        0 => Infeed::Flank(angle),
                        1 => Infeed::Flank(-angle),
                        _ => Infeed::Alternating(angle),
                    };
                } else {
                    // A tool angle of 0 goes straight in.
                    cut.infeed = Infeed::Radial;
                }
                cut.pull_out = match exit {
                    0 => PullOut::None,
                    1 => PullOut::TenthsOfLead(10),
                    2 => PullOut::Setting,
                    _ => PullOut::Axial(length(units, length_of_exit)),
                };
                case(style, cut, Syntax::Compound, count, false)
            },
        )
}
