//! What the program turns around its threads: surfaces by the feed moves and box cycles of other
//! tools of the same part, with the block that cut each. A bar or a blank is never guessed: where
//! nothing was cut, nothing is known.

mod record;
#[cfg(test)]
mod tests;

pub(crate) use record::Recorder;

use std::sync::Arc;

use crate::moved::{Moved, Places, places};
use crate::program::Program;
use crate::section::{Section, Side};
use crate::source::{Mark, Span};
use crate::units::{Diameter, Length};

/// Lengths nearer than this are the same surface: programs round to a hundredth.
const SAME: Length = Length::from_pm(20_000_000);

/// One cut along a straight line or an arc, by a tool that was fed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// Line of its block, from 1.
    pub line: u32,
    /// The block.
    pub span: Span,
    /// Where it starts: diameter, which is never negative here, and Z.
    pub from: (Diameter, Length),
    /// Where it ends.
    pub to: (Diameter, Length),
    /// Centre of an arc (as a diameter and Z); none for a straight line.
    pub centre: Option<(Diameter, Length)>,
    /// An arc whose centre is not written.
    pub bent: bool,
    /// Outside or in a bore; none where neither the approach nor the retract tells.
    pub side: Option<Side>,
    /// Station of the tool.
    pub tool: Option<u32>,
    /// What a roughing cycle leaves on the diameter; zero behind its finishing cycle.
    pub stock: Length,
    /// Whether the block also asks for a chamfer or a rounding at its end.
    pub corner: bool,
}

impl Segment {
    /// Smaller and larger Z.
    #[must_use]
    pub fn z_range(&self) -> (Length, Length) {
        (self.from.1.min(self.to.1), self.from.1.max(self.to.1))
    }

    /// Smaller and larger diameter, what roughing leaves included.
    #[must_use]
    pub fn x_range(&self) -> (Diameter, Diameter) {
        let (low, high) = (self.from.0.min(self.to.0), self.from.0.max(self.to.0));
        (Diameter(low.0 + self.stock), Diameter(high.0 + self.stock))
    }

    /// Straight along the axis.
    #[must_use]
    pub fn is_cylinder(&self) -> bool {
        self.centre.is_none() && !self.bent && self.from.0 == self.to.0 && self.from.1 != self.to.1
    }

    /// Straight across the axis: a face, a wall, or the plunge of a grooving tool.
    #[must_use]
    pub fn is_wall(&self) -> bool {
        self.from.1 == self.to.1
    }

    /// Straight, and neither along nor across the axis.
    #[must_use]
    pub fn is_sloped(&self) -> bool {
        self.centre.is_none() && !self.bent && self.from.0 != self.to.0 && self.from.1 != self.to.1
    }

    /// Diameter at a Z within the segment; none outside, on a wall, or on an arc without a centre.
    #[must_use]
    pub fn at(&self, z: Length) -> Option<Diameter> {
        let (low, high) = self.z_range();
        if self.is_wall() || self.bent || z < low || z > high {
            return None;
        }
        let part = (z - self.from.1).mm() / (self.to.1 - self.from.1).mm();
        let chord = self.from.0.mm() + part * (self.to.0.mm() - self.from.0.mm());
        if self.is_cylinder() {
            return Some(Diameter(self.from.0.0 + self.stock));
        }
        let on_arc = self.centre.map_or(chord, |(cx, cz)| {
            let r = ((self.from.0.mm() - cx.mm()) / 2.0).hypot((self.from.1 - cz).mm());
            let rise = 2.0 * (r * r - (z - cz).mm().powi(2)).max(0.0).sqrt();
            let (out, inn) = (cx.mm() + rise, cx.mm() - rise);
            if (out - chord).abs() < (inn - chord).abs() {
                out
            } else {
                inn
            }
        });
        Some(Diameter(Length::from_mm(on_arc) + self.stock))
    }
}

/// A surface at a place, and what cut it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surface<'a> {
    /// Its diameter.
    pub x: Diameter,
    /// The last cut that made it.
    pub by: &'a Segment,
}

/// A wall behind which the material is nearer to the tool than the thread's crest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shoulder<'a> {
    /// Where it stands.
    pub z: Length,
    /// How far the material reaches there: the larger diameter of a collar, the smaller one of a
    /// bore's bottom.
    pub x: Diameter,
    /// What cut it.
    pub by: &'a Segment,
}

/// A groove at the end of a thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Relief<'a> {
    /// Diameter of its bottom.
    pub x: Diameter,
    /// Ends of its bottom, smaller Z first; equal where only one plunge is written.
    pub z: (Length, Length),
    /// Whether a plunge made it, so that it is wider than [`Relief::z`] by the tool, which the
    /// program does not tell.
    pub plunged: bool,
    /// What cut its bottom.
    pub by: &'a Segment,
}

/// What stands in the file: all segments of all parts in the order of cutting.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Turning {
    /// Segments in order; shared until one of the clones changes.
    segments: Arc<Vec<Segment>>,
    /// What makes a contour unknown, with the number of segments before it.
    doubts: Vec<(u32, Mark<&'static str>)>,
    /// Where strokes and cycles of threading stand: line, and the numbers of the first segment of
    /// their part and of the first segment behind them.
    threads: Vec<(u32, u32, u32)>,
    /// Numbers of the first segments of all parts but the first.
    parts: Vec<u32>,
}

/// What was turned around one section.
#[derive(Debug, Clone, Default)]
pub struct Contour<'a> {
    /// Cut before the thread by other tools.
    pub before: Vec<&'a Segment>,
    /// Cut behind the thread by other tools, until the part ends.
    pub after: Vec<&'a Segment>,
    /// Why the contour is not known, where that is so.
    pub doubt: Option<Mark<&'static str>>,
}

places!(Segment {
    at (span, line);
    other from, to, centre, bent, side, tool, stock, corner;
});

impl Places for Turning {
    fn follow(&mut self, moved: &mut Moved) {
        let Turning {
            segments,
            doubts,
            threads,
            parts: _,
        } = self;
        if segments
            .iter()
            .any(|segment| !moved.is_behind(segment.span))
        {
            Arc::make_mut(segments).follow(moved);
        }
        doubts.iter_mut().for_each(|(_, doubt)| doubt.follow(moved));
        threads.iter_mut().for_each(|(line, ..)| moved.line(line));
    }
}

impl Program {
    /// What was turned before and behind a section; nothing for a section that is not there.
    #[must_use]
    pub fn contour(&self, section: usize) -> Contour<'_> {
        let Some(section) = self.sections.get(section) else {
            return Contour::default();
        };
        self.turning.around(section)
    }
}

impl Turning {
    fn around(&self, section: &Section) -> Contour<'_> {
        let Some((first, here)) = self.place(section.first_line, section.last_line) else {
            return Contour::default();
        };
        let doubt = self
            .doubts
            .get(self.doubts.partition_point(|(at, _)| *at < first))
            .filter(|(at, _)| *at <= here)
            .map(|(_, why)| *why);
        // What was cut is of no use then.
        if doubt.is_some() {
            return Contour {
                doubt,
                ..Contour::default()
            };
        }
        let next = self.parts.partition_point(|&start| start <= first);
        let count = self.segments.len() as u32;
        let end = self.parts.get(next).copied().unwrap_or(count);
        let own = section
            .tool
            .map(|tool| crate::machine::Machine::station(tool.value));
        let other = |segment: &&Segment| match own {
            Some(own) => segment.tool != Some(own),
            // Without T words: what the tool does at the thread's start leads it in.
            None => !(segment.is_wall() && Some(segment.from.1) == section.cut.start_z.get()),
        };
        let pick = |from: u32, to: u32| -> Vec<&Segment> {
            let range = self.segments.get(from as usize..to as usize);
            range.unwrap_or_default().iter().filter(other).collect()
        };
        Contour {
            before: pick(first, here),
            after: pick(here, end.max(here)),
            doubt: None,
        }
    }

    /// The first segment of the part of the strokes in these lines, and the first behind them.
    fn place(&self, first_line: u32, last_line: u32) -> Option<(u32, u32)> {
        let own = |line: u32| (first_line..=last_line).contains(&line);
        let at = self.threads.partition_point(|thread| thread.0 < first_line);
        // Where a program is read out of order, the list is not sorted.
        let found = self.threads.get(at).filter(|thread| own(thread.0));
        let found = found.or_else(|| self.threads.iter().find(|thread| own(thread.0)));
        found.map(|thread| (thread.1, thread.2))
    }
}

impl<'a> Contour<'a> {
    /// Whether nothing was turned on this side, or what was turned is not known.
    #[must_use]
    pub fn is_unknown(&self, side: Side) -> bool {
        self.doubt.is_some() || self.of(side).next().is_none()
    }

    /// Segments of a side that were cut before the thread.
    pub fn of(&self, side: Side) -> impl Iterator<Item = &'a Segment> {
        let all = self.before.iter().copied();
        all.filter(move |segment| segment.side == Some(side))
    }

    /// The outside that stands at a Z before the thread; none where nothing was cut.
    #[must_use]
    pub fn outer_at(&self, z: Length) -> Option<Surface<'a>> {
        self.at(Side::External, z)
    }

    /// The bore that stands at a Z before the thread; none where nothing was cut.
    #[must_use]
    pub fn inner_at(&self, z: Length) -> Option<Surface<'a>> {
        self.at(Side::Internal, z)
    }

    /// The surface of a side at a Z: what is left when every cut has passed.
    #[must_use]
    pub fn at(&self, side: Side, z: Length) -> Option<Surface<'a>> {
        if self.doubt.is_some() {
            return None;
        }
        let cuts = self
            .of(side)
            .filter_map(|by| by.at(z).map(|x| Surface { x, by }));
        // Of equals the last, which made the surface.
        cuts.reduce(|best, new| {
            if deeper(side, best.x, new.x) || best.x == new.x {
                new
            } else {
                best
            }
        })
    }

    /// The first wall from `from` in the direction of the feed (`-1` or `1`) where the material
    /// comes nearer to the tool than `crest`. Only walls and larger surfaces that the program cuts:
    /// where it cuts nothing, nothing is known.
    #[must_use]
    pub fn shoulder(
        &self,
        side: Side,
        from: Length,
        direction: i64,
        crest: Diameter,
    ) -> Option<Shoulder<'a>> {
        if self.doubt.is_some() {
            return None;
        }
        let ahead = |z: Length| (z - from) * direction;
        let least = Length::from_pm(100_000_000);
        let past = |x: Diameter| match side {
            Side::External => x.0 - crest.0,
            Side::Internal => crest.0 - x.0,
        };
        let mut best: Option<Shoulder<'a>> = None;
        for by in self.of(side) {
            let (low, high) = by.x_range();
            let x = match side {
                Side::External => high,
                Side::Internal => low,
            };
            if past(x) <= least {
                continue;
            }
            // Where on the way of the thread it comes nearer than the crest.
            let (near, far) = if ahead(by.from.1) <= ahead(by.to.1) {
                (by.from, by.to)
            } else {
                (by.to, by.from)
            };
            let z = if by.is_wall() || past(Diameter(near.0.0 + by.stock)) > least {
                near.1
            } else if by.is_sloped() {
                let part = -past(Diameter(near.0.0 + by.stock)).mm()
                    / (past(Diameter(far.0.0 + by.stock)) - past(Diameter(near.0.0 + by.stock)))
                        .mm();
                near.1 + Length::from_mm(part * (far.1 - near.1).mm())
            } else {
                far.1
            };
            if ahead(z) < Length::ZERO || best.is_some_and(|best| ahead(best.z) <= ahead(z)) {
                continue;
            }
            // Cut away again farther down, or the wall of a groove?
            let behind = Length::from_pm(z.pm() + direction * 5 * SAME.pm());
            match self.at(side, behind) {
                Some(surface) if past(surface.x) <= least => continue,
                None if !by.is_wall() => continue,
                // The end of a facing cut in front of the part is no wall behind it.
                None if self.leads_in(by, side, from, direction) => continue,
                _ => {}
            }
            best = Some(Shoulder { z, x, by });
        }
        best
    }

    /// Whether a wall is not joined to a surface in front of it: a facing cut, a plunge.
    fn leads_in(&self, wall: &Segment, side: Side, _from: Length, direction: i64) -> bool {
        let before = Length::from_pm(wall.from.1.pm() - direction * 5 * SAME.pm());
        self.at(side, before).is_none()
    }

    /// The groove around the end of a thread: cut deeper than `crest` by more than a tenth of a
    /// millimetre on the diameter, along the axis or by plunges, between two Z.
    #[must_use]
    pub fn relief(
        &self,
        side: Side,
        range: (Length, Length),
        crest: Diameter,
    ) -> Option<Relief<'a>> {
        if self.doubt.is_some() {
            return None;
        }
        let (low, high) = (range.0.min(range.1), range.0.max(range.1));
        let least = Length::from_pm(100_000_000);
        let depth = |x: Diameter| match side {
            Side::External => crest.0 - x.0,
            Side::Internal => x.0 - crest.0,
        };
        let mut relief: Option<Relief<'a>> = None;
        for by in self.of(side) {
            let (z_low, z_high) = by.z_range();
            let (x_low, x_high) = by.x_range();
            let x = match side {
                Side::External => x_low,
                Side::Internal => x_high,
            };
            let bottom = by.is_cylinder() || by.is_wall() && !self.is_side_of_step(by, side);
            if !bottom || depth(x) <= least || z_high < low || z_low > high {
                continue;
            }
            let own = Relief {
                x,
                z: (z_low, z_high),
                plunged: by.is_wall(),
                by,
            };
            relief = Some(match relief {
                None => own,
                Some(known) => Relief {
                    x: if deeper(side, known.x, x) { x } else { known.x },
                    z: (known.z.0.min(z_low), known.z.1.max(z_high)),
                    plunged: known.plunged || own.plunged,
                    by: if deeper(side, known.x, x) {
                        by
                    } else {
                        known.by
                    },
                },
            });
        }
        relief
    }

    /// Whether a wall joins two surfaces: the side of a step or of a groove that was turned, not a
    /// plunge.
    fn is_side_of_step(&self, wall: &Segment, side: Side) -> bool {
        let near = |a: (Diameter, Length), b: (Diameter, Length)| {
            (a.0.0 - b.0.0).abs() <= SAME && (a.1 - b.1).abs() <= SAME
        };
        self.of(side).any(|other| {
            !other.is_wall()
                && [other.from, other.to]
                    .into_iter()
                    .any(|end| near(end, wall.from) || near(end, wall.to))
        })
    }

    /// The chamfer at the start of a thread of diameter `crest`: the slope, arc or corner word that
    /// leads from the face to the surface, and the diameter where it begins. `from` is where the
    /// thread's material begins as far as known, `direction` that of the feed.
    #[must_use]
    pub fn chamfer(
        &self,
        side: Side,
        crest: Diameter,
        direction: i64,
        end: Length,
    ) -> Option<Surface<'a>> {
        let along = |z: Length| z * direction;
        let lies = |x: Diameter| match side {
            Side::External => x.0 <= crest.0 + SAME,
            Side::Internal => x.0 + SAME >= crest.0,
        };
        let mut best: Option<Surface<'a>> = None;
        for by in self.of(side) {
            let (near, far) = if along(by.from.1) <= along(by.to.1) {
                (by.from, by.to)
            } else {
                (by.to, by.from)
            };
            let rises = match side {
                Side::External => near.0 < far.0,
                Side::Internal => near.0 > far.0,
            };
            let slope = !by.is_wall() && rises && lies(near.0);
            let corner = by.corner && by.is_wall() && lies(near.0);
            if !(slope || corner) || along(near.1) > along(end) {
                continue;
            }
            if best.is_none_or(|best| deeper(side, best.x, near.0)) {
                best = Some(Surface { x: near.0, by });
            }
        }
        best
    }
}

/// Whether `new` cuts deeper than `old`.
fn deeper(side: Side, old: Diameter, new: Diameter) -> bool {
    match side {
        Side::External => new < old,
        Side::Internal => new > old,
    }
}
