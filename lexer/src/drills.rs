//! Holes that were drilled, by their place: what a tap finds in front of it.

use std::collections::HashMap;
use std::sync::Arc;

use crate::moved::{Moved, Places, places};
use crate::section::Note;
use crate::section::tapping::{Drilled, Place};
use crate::source::Mark;
use crate::units::Length;

/// Most holes that are kept; a file that drills more taps those behind them unjudged.
const MOST: usize = 100_000;
/// Drillings kept at one place, the last ones.
const AT_ONE_PLACE: usize = 6;
/// Comments kept with a drilling, the nearest ones.
const NOTES: usize = 16;

/// A place: frame of coordinates, and X and Y to 0.01 mm.
type Key = ((i64, i64), [Option<i64>; 3]);

#[derive(Debug, Clone, PartialEq)]
struct Drill {
    block: Mark<()>,
    code: i32,
    bottom: Length,
    tool: Option<Mark<u32>>,
    /// Comments of the file that belong to its tool.
    notes: (usize, usize),
}

/// The drilled holes of a program.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Drills {
    /// Shared until one of the clones drills again.
    holes: Arc<HashMap<Key, Vec<Drill>>>,
    count: usize,
}

places!(Drill { in block, tool; other code, bottom, notes; });

impl Places for Drills {
    fn follow(&mut self, moved: &mut Moved) {
        if self.count > 0 {
            let holes = Arc::make_mut(&mut self.holes);
            holes.values_mut().for_each(|drills| drills.follow(moved));
        }
    }
}

fn key(frame: (i64, i64), at: Place, axis: usize) -> Key {
    let mut place = at.map(|value| value.map(|value| value.pm().div_euclid(10_000_000)));
    place[axis] = None;
    (frame, place)
}

impl Drills {
    /// The ranges of comments, by the line of the block that has them, become others; `false` where one cannot.
    pub(crate) fn renumber_notes(
        &mut self,
        by: &dyn Fn((usize, usize), u32) -> Option<(usize, usize)>,
    ) -> bool {
        if self.count == 0 {
            return true;
        }
        let holes = Arc::make_mut(&mut self.holes);
        holes.values_mut().flatten().all(|drill| {
            by(drill.notes, drill.block.line).is_some_and(|notes| {
                drill.notes = notes;
                true
            })
        })
    }

    /// How many drillings are kept.
    pub(crate) const fn len(&self) -> usize {
        self.count
    }

    /// Whether both are kept in one place.
    pub(crate) fn is_shared_with(&self, other: &Drills) -> bool {
        Arc::ptr_eq(&self.holes, &other.holes)
    }

    /// Remembers a hole along an axis.
    pub(crate) fn add(
        &mut self,
        frame: (i64, i64),
        (at, axis): (Place, usize),
        bottom: Length,
        (block, code): (Mark<()>, i32),
        tool: Option<Mark<u32>>,
        notes: (usize, usize),
    ) {
        if self.count >= MOST {
            return;
        }
        let drills = Arc::make_mut(&mut self.holes)
            .entry(key(frame, at, axis))
            .or_default();
        if drills.len() >= AT_ONE_PLACE {
            drills.remove(0);
        } else {
            self.count += 1;
        }
        drills.push(Drill {
            block,
            code,
            bottom,
            tool,
            notes,
        });
    }

    /// The drilling at a place that goes farthest in the direction of `down` (-1 or 1), by another
    /// tool than `tool`.
    pub(crate) fn at(
        &self,
        frame: (i64, i64),
        (at, axis): (Place, usize),
        down: i64,
        tool: Option<u32>,
        notes: &[Note],
    ) -> Option<Drilled> {
        let drills = self.holes.get(&key(frame, at, axis))?;
        let others = drills
            .iter()
            .filter(|drill| tool.is_none() || drill.tool.map(|tool| tool.value) != tool);
        let drill = others.max_by_key(|drill| (drill.bottom * down, drill.block.line))?;
        let (from, to) = drill.notes;
        let own = notes.get(from..to).unwrap_or_default();
        Some(Drilled {
            block: drill.block,
            code: drill.code,
            bottom: drill.bottom,
            tool: drill.tool,
            notes: own[own.len().saturating_sub(NOTES)..].to_vec(),
        })
    }
}
