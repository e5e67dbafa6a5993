//! Gathers feed moves between rapids and finds the helices among them.

use std::collections::VecDeque;

use super::arc::{self, Point, distance, sweep};
use crate::block::Block;
use crate::machine::Machine;
use crate::moved::places;
use crate::section::milling::{Approach, Compensation, Helix, Piece};
use crate::section::tapping::{Axis, Place};
use crate::source::{Mark, Span};
use crate::space::Space;
use crate::units::Length;

/// Moves kept in front of a first helical arc.
const BEFORE: usize = 2;
/// Most moves of one gathering: far more than a thread, far less than a surface.
const MOST: usize = 2_000;
/// Straight moves in a row that end a gathering: a contour goes on.
const STRAIGHT: usize = 4;

/// A feed move.
#[derive(Debug, Clone, PartialEq)]
struct Move {
    block: Mark<()>,
    axis: Axis,
    /// Counterclockwise or not, and the geometry, for an arc that could be read.
    arc: Option<(bool, arc::Arc)>,
    straight: bool,
    from: Place,
    to: Place,
    rise_word: Option<Span>,
    compensation: (Compensation, Option<Mark<()>>),
    feed: Option<Mark<Length>>,
    per_turn: Option<bool>,
    skip: Option<u8>,
}

/// A helix with what was in force on it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Run {
    pub(crate) axis: Axis,
    pub(crate) counterclockwise: bool,
    pub(crate) compensation: (Compensation, Option<Mark<()>>),
    pub(crate) helix: Helix,
    pub(crate) skip: Option<u8>,
    pub(crate) machine: Machine,
    /// Whether a full circle without advance follows at the same radius.
    pub(crate) flat_after: bool,
    /// Line of the last move that belongs to it.
    pub(crate) last_line: u32,
}

/// The moves since the last rapid.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Gather {
    moves: VecDeque<Move>,
    /// Whether a helical arc is among them.
    helical: bool,
    straight: usize,
    machine: Option<Box<Machine>>,
}

places!(Move {
    in block, rise_word, compensation, feed;
    other axis, arc, straight, from, to, per_turn, skip;
});
places!(Gather { in moves, machine; other helical, straight; });

impl Gather {
    /// How many moves are kept.
    pub(crate) fn len(&self) -> usize {
        self.moves.len()
    }

    /// Takes a feed move; the helices that end with it.
    pub(crate) fn add(
        &mut self,
        (machine, space, block): (&Machine, &Space, &Block),
        bytes: &[u8],
        code: i32,
        to: Place,
    ) -> Vec<Run> {
        let axis = space.normal();
        let rises = to[axis.index()] != space.at[axis.index()];
        let circular = matches!(code, 20 | 30);
        if !circular && !self.helical {
            // In most programs nothing but straight moves comes here.
            self.moves.clear();
        }
        let arc = if circular {
            let counterclockwise = code == 30;
            let read = arc::read(
                (machine, space, block),
                bytes,
                space.at,
                to,
                counterclockwise,
            );
            read.map(|arc| (counterclockwise, arc))
        } else {
            None
        };
        let letter = axis.letter();
        self.moves.push_back(Move {
            block: Mark {
                value: (),
                span: block.span,
                line: block.line,
            },
            axis,
            arc,
            straight: !circular,
            from: space.at,
            to,
            rise_word: block.word(letter).map(|word| word.span),
            compensation: match space.compensation {
                Some((side, word)) => (side, Some(word)),
                None => (Compensation::Off, None),
            },
            feed: machine.feed.filter(|_| circular).and_then(|feed| {
                let value = feed.value.number()?.real(machine.units)?;
                Some(Mark {
                    value,
                    span: feed.value.span,
                    line: feed.line,
                })
            }),
            per_turn: machine.per_minute.map(|mode| !mode.value),
            skip: block.skip,
        });
        if circular && rises && !self.helical {
            self.helical = true;
            self.machine = Some(Box::new(machine.clone()));
        }
        self.straight = if circular { 0 } else { self.straight + 1 };
        if !self.helical {
            while self.moves.len() > BEFORE {
                self.moves.pop_front();
            }
            return Vec::new();
        }
        if self.straight >= STRAIGHT || self.moves.len() >= MOST {
            return self.end();
        }
        Vec::new()
    }

    /// The helices among the moves so far; forgets the moves.
    pub(crate) fn end(&mut self) -> Vec<Run> {
        let moves = std::mem::take(&mut self.moves);
        self.straight = 0;
        if !std::mem::take(&mut self.helical) {
            return Vec::new();
        }
        let Some(machine) = self.machine.take() else {
            return Vec::new();
        };
        if moves.len() >= MOST {
            return Vec::new();
        }
        let moves: Vec<Move> = moves.into();
        helices(&moves, &machine)
    }
}

fn helices(moves: &[Move], machine: &Machine) -> Vec<Run> {
    let mut runs = Vec::new();
    let mut first = 0;
    while first < moves.len() {
        let mut end = first;
        while end < moves.len() && belongs(&moves[first], &moves[end]) {
            end += 1;
        }
        if end > first
            && let Some(run) = run(moves, first, end, machine)
        {
            runs.push(run);
        }
        first = end.max(first + 1);
    }
    runs
}

/// Whether a move goes on round the axis of the first.
fn belongs(first: &Move, next: &Move) -> bool {
    let (Some((ccw, a)), Some((next_ccw, b))) = (&first.arc, &next.arc) else {
        return false;
    };
    let near = 0.02 + 0.004 * a.start_radius;
    let rise = |m: &Move| m.to[m.axis.index()].zip(m.from[m.axis.index()]);
    rise(next).is_some()
        && first.axis == next.axis
        && ccw == next_ccw
        && distance(a.centre, b.centre) <= near
        && (a.start_radius - b.start_radius).abs() <= 0.25 * a.start_radius
        && first.compensation.0 == next.compensation.0
}

/// Advance of a move along the axis.
fn rise(m: &Move) -> Length {
    let i = m.axis.index();
    match (m.to[i], m.from[i]) {
        (Some(to), Some(from)) => to - from,
        _ => Length::ZERO,
    }
}

fn run(moves: &[Move], first: usize, end: usize, machine: &Machine) -> Option<Run> {
    let group = &moves[first..end];
    // Flat arcs in front and behind are no part of the helix; one in its middle is a fault of it.
    let from = group.iter().position(|m| !rise(m).is_zero())?;
    let to = group.iter().rposition(|m| !rise(m).is_zero())? + 1;
    let flat_after: f64 = group[to..].iter().map(degrees).sum();
    let body = &group[from..to];
    let signs = |sign: i64| body.iter().any(|m| rise(m).signum() == sign);
    if signs(1) && signs(-1) {
        return None;
    }
    let (counterclockwise, arc) = body[0].arc?;
    let axis = body[0].axis;
    let i = axis.index();
    let pieces: Vec<Piece> = body
        .iter()
        .map(|m| Piece {
            block: m.block,
            rise_word: m.rise_word,
            degrees: degrees(m),
            rise: rise(m),
        })
        .collect();
    let turns: f64 = pieces.iter().map(|piece| piece.degrees).sum::<f64>() / 360.0;
    let last_radius = body.last()?.arc?.1.end_radius;
    let cone = last_radius - arc.start_radius;
    let round = cone.abs() <= 0.004 + 0.002 * arc.start_radius;
    let centre = arc.centre;
    let before = (first + from).checked_sub(1).map(|at| &moves[at]);
    let behind = moves.get(first + to);
    let entry = before.and_then(|m| approach(m, centre, counterclockwise, true));
    let exit = behind.and_then(|m| approach(m, centre, counterclockwise, false));
    Some(Run {
        axis,
        counterclockwise,
        compensation: body[0].compensation,
        helix: Helix {
            centre: (Length::from_mm(centre.0), Length::from_mm(centre.1)),
            radius_mm: arc.start_radius,
            cone_mm: if round { 0.0 } else { cone / turns },
            start: body[0].from[i]?,
            end: body.last()?.to[i]?,
            pieces,
            entry,
            exit,
            feed: body[0].feed,
            per_turn: body[0].per_turn,
        },
        skip: body[0].skip,
        machine: machine.clone(),
        flat_after: flat_after > 340.0,
        last_line: exit.map_or(body.last()?.block.line, |exit| exit.block.line),
    })
}

fn degrees(m: &Move) -> f64 {
    m.arc.map_or(0.0, |(_, arc)| arc.degrees)
}

/// The move onto the helix (`onto`) or off it.
fn approach(m: &Move, centre: Point, counterclockwise: bool, onto: bool) -> Option<Approach> {
    let (from, to) = (arc::point(m.axis, m.from)?, arc::point(m.axis, m.to)?);
    if distance(from, to) < 1e-4 && m.straight {
        // Straight along the axis: no way onto it.
        return None;
    }
    let far = if onto { from } else { to };
    let radius_mm = distance(far, centre);
    let near = if onto { to } else { from };
    let on_circle = distance(near, centre);
    let own_degrees = degrees(m);
    let about = if radius_mm < 0.02 * on_circle {
        // From the axis itself an arc turns through half its own angle (tangent and chord).
        own_degrees / 2.0
    } else {
        let by = sweep(centre, from, to, counterclockwise);
        if by > 180.0 { by - 360.0 } else { by }
    };
    Some(Approach {
        block: m.block,
        arc: !m.straight,
        own_degrees,
        degrees: if m.straight && radius_mm < 0.02 * on_circle {
            0.0
        } else {
            about
        },
        rise: rise(m),
        radius_mm,
    })
}
