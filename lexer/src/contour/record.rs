//! Gathers the surfaces while the blocks are walked.

use std::sync::Arc;

use super::{Segment, Turning};
use crate::block::{Block, Value};
use crate::codes::{Meaning, meaning};
use crate::evidence::Family;
use crate::machine::{Machine, Position};
use crate::moved::places;
use crate::number::Number;
use crate::section::Side;
use crate::source::{Mark, Span};
use crate::units::{Diameter, Length};

/// Most segments kept for one part, and for one file.
const IN_PART: usize = 2048;
const IN_FILE: usize = 32_768;

const TOO_LONG: &str = "the program makes more cuts before the thread than are kept";
const NO_END: &str = "a feed move ends at a variable or at a place that is not known";
const NOT_READ: &str = "a turning cycle before the thread is not read";
const NO_BLOCKS: &str = "the contour blocks of a roughing or finishing cycle are not found";
const BY_ANGLE: &str = "a line before the thread is given by its angle, which is not worked out";
const CALLED: &str = "a subprogram or a named cycle is called before the thread";

/// A roughing cycle whose contour blocks follow.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Rough {
    first: i64,
    last: i64,
    stock: Length,
    start: Position,
    from: usize,
    mark: Mark<&'static str>,
}

/// A box cycle in force.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Boxed {
    along: bool,
    x: Option<Length>,
    z: Option<Length>,
    taper: Option<Length>,
}

/// See the module.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Recorder {
    turning: Turning,
    /// First segment of the part.
    part: usize,
    /// First segment of the run of feed moves whose side is open.
    run: usize,
    /// Whether the tool left the run along the axis.
    dragged: bool,
    rough: Option<Rough>,
    /// Contours that were roughed: block numbers and segments.
    roughed: Vec<(i64, i64, usize, usize)>,
    boxed: Option<Boxed>,
    /// Whether the part has a thread.
    threaded: bool,
    tool: Option<u32>,
    /// The work offset in force, once it was written.
    zero: Option<i32>,
}

places!(Rough { in mark; other first, last, stock, start, from; });
places!(Recorder {
    in turning, rough;
    other part, run, dragged, roughed, boxed, threaded, tool, zero;
});

impl Recorder {
    fn segments(&mut self) -> &mut Vec<Segment> {
        Arc::make_mut(&mut self.turning.segments)
    }

    /// Some of them; they are not touched where there are none.
    fn segments_mut(&mut self, from: usize, to: usize) -> &mut [Segment] {
        if from >= to {
            return &mut [];
        }
        self.segments().get_mut(from..to).unwrap_or_default()
    }

    /// How many segments are kept.
    pub(crate) fn len(&self) -> usize {
        self.turning.segments.len()
    }

    /// How many strokes and cycles of threading were seen.
    pub(crate) fn threads(&self) -> usize {
        self.turning.threads.len()
    }

    /// Whether the segments of both are kept in one place.
    pub(crate) fn is_shared_with(&self, other: &Recorder) -> bool {
        Arc::ptr_eq(&self.turning.segments, &other.turning.segments)
    }

    /// Another program of the file.
    pub(crate) fn part(&mut self) {
        self.close();
        if !self.threaded {
            if self.part < self.turning.segments.len() {
                let part = self.part;
                self.segments().truncate(part);
            }
            let part = self.part as u32;
            self.turning.doubts.retain(|(at, _)| *at < part);
        }
        self.fresh();
        self.threaded = false;
    }

    /// From here on nothing of what was cut before holds: another program, another clamping,
    /// another zero.
    fn fresh(&mut self) {
        self.close();
        self.part = self.turning.segments.len();
        self.turning.parts.push(self.part as u32);
        self.run = self.part;
        self.roughed.clear();
        self.rough = None;
        self.boxed = None;
    }

    /// A block, before its motion is read.
    pub(crate) fn block(&mut self, block: &Block, machine: &Machine) {
        let tool = machine.tool.map(|tool| Machine::station(tool.value));
        if tool != self.tool {
            self.close();
            self.tool = tool;
        }
        let stops = block.m_codes().any(|(code, _)| code == 0);
        let mut other_zero = block
            .g_codes()
            .any(|(code, _)| matches!(code, 500 | 920) && block.has_any(b"XZ") && !block.has(b'F'));
        let zero = block
            .g_codes()
            .map(|(code, _)| code)
            .find(|code| (540..=599).contains(code));
        if let Some(zero) = zero {
            // G54 is in force until another is written.
            other_zero |= zero != self.zero.replace(zero).unwrap_or(540);
        }
        if stops || other_zero {
            self.fresh();
        }
        if let Some(rough) = self.rough
            && block_number(block) == Some(rough.first)
        {
            self.run = self.turning.segments.len();
        }
    }

    /// A block with a call by name and values: what it cuts is not known.
    pub(crate) fn named_call(&mut self, block: &Block, bytes: &[u8]) {
        let calls = block.names.iter().any(|name| {
            let text = name.span.of(bytes);
            name.arguments
                .is_some_and(|span| span.of(bytes).iter().any(u8::is_ascii_digit))
                && !text.eq_ignore_ascii_case(b"MSG")
        });
        if calls {
            self.called((block.span, block.line));
        }
    }

    /// A program that is not known is called here.
    pub(crate) fn called(&mut self, (span, line): (Span, u32)) {
        self.doubt(span, line, CALLED);
    }

    /// Behind a block.
    pub(crate) fn behind(&mut self, block: &Block) {
        if let Some(rough) = self.rough
            && block_number(block) == Some(rough.last)
        {
            self.rough = None;
            let to = self.turning.segments.len();
            let mut side = None;
            if let Some(start) = rough.start.x.map(Length::abs) {
                let segments = &self.turning.segments[rough.from.min(to)..to];
                let ends = segments.iter().flat_map(|s| [s.from.0.0, s.to.0.0]);
                let (low, high) = ends.fold(
                    (None, None),
                    |(low, high): (Option<Length>, Option<Length>), x| {
                        (
                            Some(low.map_or(x, |low| low.min(x))),
                            Some(high.map_or(x, |high| high.max(x))),
                        )
                    },
                );
                // The bore's contour may come out to the start, the shaft's may go out to it.
                side = match (low, high) {
                    (_, Some(high)) if high <= start => Some(Side::External),
                    (Some(low), _) if low >= start => Some(Side::Internal),
                    _ if rough.stock < Length::ZERO => Some(Side::Internal),
                    _ => Some(Side::External),
                };
            }
            for segment in self.segments_mut(rough.from, to) {
                segment.side = side;
                segment.stock = rough.stock;
            }
            self.roughed.push((rough.first, rough.last, rough.from, to));
            self.run = to;
        }
    }

    /// A rapid or feed move.
    pub(crate) fn moved(&mut self, block: &Block, code: i32, machine: &Machine, to: Position) {
        self.boxed = None;
        if block.has_any(b"YC") && block.number_of(b'C').is_none_or(|_| block.has(b'Y')) {
            return;
        }
        let from = machine.at;
        if code == 0 {
            return self.rapid(from, to);
        }
        if from == to {
            return;
        }
        // A straight line by its angle: the missing coordinate is not where the tool was.
        if block.has(b'A') && code == 10 {
            self.doubt(block.span, block.line, BY_ANGLE);
        }
        let ((Some(x0), Some(z0)), (Some(x1), Some(z1))) = ((from.x, from.z), (to.x, to.z)) else {
            let open = block
                .words
                .iter()
                .any(|word| b"XZUW".contains(&word.letter) && word.value == Value::Expression);
            // Feeding from a place that is not known cuts nothing that is known.
            if open || to.x.is_none() || to.z.is_none() {
                self.doubt(block.span, block.line, NO_END);
            }
            return;
        };
        let (x0, x1) = (x0.abs(), x1.abs());
        let drill = Length::from_pm(200_000_000);
        if x0 <= drill && x1 <= drill {
            return;
        }
        let centre =
            matches!(code, 20 | 30).then(|| arc_centre(block, machine, code, (x0, z0), (x1, z1)));
        let corner = block.has_any(b"CR") && code == 10;
        self.push(Segment {
            line: block.line,
            span: block.span,
            from: (Diameter(x0), z0),
            to: (Diameter(x1), z1),
            centre: centre.flatten(),
            bent: centre == Some(None),
            side: None,
            tool: self.tool,
            stock: Length::ZERO,
            corner,
        });
    }

    fn rapid(&mut self, from: Position, to: Position) {
        if self.rough.is_some() || self.run >= self.turning.segments.len() {
            return;
        }
        match (from.x.map(Length::abs), to.x.map(Length::abs)) {
            (Some(a), Some(b)) if a == b => self.dragged = true,
            (Some(a), Some(b)) if !self.dragged => {
                let side = if b > a {
                    Side::External
                } else {
                    Side::Internal
                };
                self.decide(Some(side));
            }
            _ => self.close(),
        }
    }

    fn decide(&mut self, side: Option<Side>) {
        let to = self.turning.segments.len();
        for segment in self.segments_mut(self.run, to) {
            segment.side = segment.side.or(side);
        }
        self.run = to;
        self.dragged = false;
    }

    /// Ends a run whose retract does not tell its side: its own moves may.
    fn close(&mut self) {
        if self.rough.is_some() {
            return;
        }
        let run = self.turning.segments.get(self.run..).unwrap_or_default();
        let side = run.first().zip(run.last()).and_then(|(first, last)| {
            if run.iter().all(Segment::is_wall) {
                // From outside inwards, or from a bore outwards.
                return Some(match first.to.0 < first.from.0 {
                    true => Side::External,
                    false => Side::Internal,
                });
            }
            if last.is_wall() {
                return Some(match last.to.0 > last.from.0 {
                    true => Side::External,
                    false => Side::Internal,
                });
            }
            let rise = (last.to.0.0 - first.from.0.0).signum();
            let way = (last.to.1 - first.from.1).signum();
            match rise * way {
                -1 => Some(Side::External),
                1 => Some(Side::Internal),
                _ => None,
            }
        });
        self.decide(side);
    }

    fn push(&mut self, segment: Segment) {
        let count = self.turning.segments.len();
        if count >= IN_FILE || count - self.part >= IN_PART {
            // What is forgotten may be what matters.
            if self.turning.doubts.last().is_none_or(|(_, doubt)| {
                doubt.value != TOO_LONG || (doubt.line as usize) < self.part
            }) {
                self.turning.doubts.push((
                    count as u32,
                    Mark {
                        value: TOO_LONG,
                        span: segment.span,
                        line: segment.line,
                    },
                ));
            }
            return;
        }
        self.segments().push(segment);
    }

    fn doubt(&mut self, span: Span, line: u32, why: &'static str) {
        // One of a part says enough.
        let part = self.part as u32;
        if self
            .turning
            .doubts
            .last()
            .is_some_and(|(at, _)| *at >= part)
        {
            return;
        }
        self.turning.doubts.push((
            self.turning.segments.len() as u32,
            Mark {
                value: why,
                span,
                line,
            },
        ));
    }

    /// A stroke or cycle of threading.
    pub(crate) fn thread(&mut self, line: u32) {
        self.close();
        self.threaded = true;
        self.boxed = None;
        if let Some(rough) = self.rough
            && self
                .turning
                .doubts
                .last()
                .is_none_or(|(at, _)| (*at as usize) < self.part)
        {
            self.turning
                .doubts
                .push((self.turning.segments.len() as u32, rough.mark));
        }
        let now = (line, self.part as u32, self.turning.segments.len() as u32);
        let news =
            |known: &(u32, u32, u32)| known.1 != now.1 || known.2 != now.2 || known.0 != now.0;
        if self.turning.threads.last().is_none_or(news) {
            self.turning.threads.push(now);
        }
    }

    /// A turning cycle, or a further block of one that stays in force.
    pub(crate) fn cycle(&mut self, block: &Block, machine: &Machine) {
        let family = machine.family;
        let written = block
            .g_codes()
            .map(|(code, _)| code)
            .find(|&code| meaning(family, code, false) == Meaning::TurningCycle);
        match written {
            None => {
                if self.boxed.is_some() {
                    self.boxed(block, machine);
                }
            }
            Some(code @ (900 | 770 | 200 | 940 | 790 | 240)) => {
                self.close();
                self.boxed = Some(Boxed {
                    along: matches!(code, 900 | 770 | 200),
                    x: None,
                    z: None,
                    taper: None,
                });
                self.boxed(block, machine);
            }
            Some(code) => self.compound(code, block, machine),
        }
    }

    /// Roughing and finishing along blocks of the program, grooving.
    fn compound(&mut self, code: i32, block: &Block, machine: &Machine) {
        self.close();
        self.boxed = None;
        let integer = |letter| block.number_of(letter).and_then(Number::integer);
        let blocks = integer(b'P').zip(integer(b'Q'));
        match (code, blocks) {
            (700, Some((first, last))) => {
                let known = self
                    .roughed
                    .iter()
                    .rev()
                    .find(|r| r.0 == first && r.1 == last);
                match known {
                    Some(&(_, _, from, to)) => {
                        let count = self.turning.segments.len();
                        let tool = self.tool;
                        for segment in self.segments_mut(from, to.min(count)) {
                            segment.stock = Length::ZERO;
                            segment.tool = tool;
                        }
                    }
                    None => self.doubt(block.span, block.line, NO_BLOCKS),
                }
            }
            (710 | 720 | 730, Some((first, last))) => {
                let stock = block
                    .number_of(b'U')
                    .and_then(|number| machine.length(number))
                    .unwrap_or(Length::ZERO);
                self.rough = Some(Rough {
                    first,
                    last,
                    stock: if machine.radius_mode {
                        stock.double()
                    } else {
                        stock
                    },
                    start: machine.at,
                    from: self.turning.segments.len(),
                    mark: Mark {
                        value: NO_BLOCKS,
                        span: block.span,
                        line: block.line,
                    },
                });
            }
            // The first of two blocks, which sets the cuts.
            (710 | 720 | 730, None) if !block.has_any(b"XZ") && !block.has(b'P') => {}
            (740 | 750 | 760, _) if !block.has(b'X') => {}
            (750, _) => self.groove(block, machine),
            // Grooving or drilling into a face leaves the outside and the bore as they are.
            (740, _) => {}
            _ if family_units(machine.family, code, block) => {}
            _ => self.doubt(block.span, block.line, NOT_READ),
        }
    }

    /// Plunges from the side, at the start and at Z, and the bottom between them.
    fn groove(&mut self, block: &Block, machine: &Machine) {
        let to = machine.target(block);
        let (Some(x0), Some(z0), Some(x1), Some(z1)) = (machine.at.x, machine.at.z, to.x, to.z)
        else {
            return self.doubt(block.span, block.line, NO_END);
        };
        let (x0, x1) = (x0.abs(), x1.abs());
        let side = Some(if x1 < x0 {
            Side::External
        } else {
            Side::Internal
        });
        self.surface(block, side, (x0, z0), (x1, z0));
        if z0 != z1 {
            self.surface(block, side, (x1, z0), (x1, z1));
            self.surface(block, side, (x0, z1), (x1, z1));
        }
        self.run = self.turning.segments.len();
    }

    fn boxed(&mut self, block: &Block, machine: &Machine) {
        let to = machine.target(block);
        let Some(mut boxed) = self.boxed else { return };
        if block.has_any(b"XU") {
            boxed.x = to.x;
        }
        if block.has_any(b"ZW") {
            boxed.z = to.z;
        }
        if let Some(word) = block.word(b'R').or(block.word(b'I')).or(block.word(b'K')) {
            boxed.taper = word.number().and_then(|number| machine.length(number));
        }
        self.boxed = Some(boxed);
        let (Some(x0), Some(z0), Some(x1), Some(z1)) =
            (machine.at.x, machine.at.z, boxed.x, boxed.z)
        else {
            return self.doubt(block.span, block.line, NO_END);
        };
        let (x0, x1) = (x0.abs(), x1.abs());
        let side = Some(if x1 < x0 {
            Side::External
        } else {
            Side::Internal
        });
        let taper = boxed.taper.unwrap_or(Length::ZERO);
        if boxed.along {
            self.surface(block, side, (x1 + taper.double(), z0), (x1, z1));
            self.surface(block, side, (x1, z1), (x0, z1));
        } else {
            self.surface(block, side, (x0, z1 + taper), (x1, z1));
            self.surface(block, side, (x1, z1), (x1, z0));
        }
        self.run = self.turning.segments.len();
    }

    fn surface(
        &mut self,
        block: &Block,
        side: Option<Side>,
        from: (Length, Length),
        to: (Length, Length),
    ) {
        if from == to {
            return;
        }
        self.push(Segment {
            line: block.line,
            span: block.span,
            from: (Diameter(from.0), from.1),
            to: (Diameter(to.0), to.1),
            centre: None,
            bent: false,
            side,
            tool: self.tool,
            stock: Length::ZERO,
            corner: false,
        });
    }

    /// What was gathered; nothing where no thread is turned.
    pub(crate) fn finish(mut self) -> Turning {
        self.close();
        if self.turning.threads.is_empty() {
            return Turning::default();
        }
        self.turning
    }
}

/// Where the code sets the units in its family and carries no cut.
fn family_units(family: Family, code: i32, block: &Block) -> bool {
    family == Family::SystemC && matches!(code, 700 | 710) && !block.has_any(b"XZPQ")
}

fn block_number(block: &Block) -> Option<i64> {
    block.number?.number()?.integer()
}

/// Centre of an arc by I and K (radial, from its start) or by R (the shorter arc), as a diameter
/// and Z.
fn arc_centre(
    block: &Block,
    machine: &Machine,
    code: i32,
    from: (Length, Length),
    to: (Length, Length),
) -> Option<(Diameter, Length)> {
    let length = |letter: u8| match block.word(letter) {
        Some(word) => machine.length(word.number()?).map(Some),
        None => Some(None),
    };
    let (i, k, r) = (length(b'I')?, length(b'K')?, length(b'R')?);
    if let Some(r) = r {
        let (dx, dz) = ((to.0 - from.0).mm() / 2.0, (to.1 - from.1).mm());
        let chord = dx.hypot(dz);
        let r = r.mm();
        if chord <= 0.0 || r < chord / 2.0 - 1e-3 {
            return None;
        }
        let h = (r * r - chord * chord / 4.0).max(0.0).sqrt();
        // Seen with Z to the right and X up: G2 turns clockwise, its centre lies to the right of
        // the way.
        let turn = if code == 20 { -1.0 } else { 1.0 };
        let (mx, mz) = ((from.0 + to.0).mm() / 4.0, (from.1 + to.1).mm() / 2.0);
        let (cx, cz) = (mx + turn * h * dz / chord, mz - turn * h * dx / chord);
        return Some((Diameter::from_mm(2.0 * cx), Length::from_mm(cz)));
    }
    if i.is_none() && k.is_none() {
        return None;
    }
    let (i, k) = (i.unwrap_or(Length::ZERO), k.unwrap_or(Length::ZERO));
    Some((Diameter(from.0 + i.double()), from.1 + k))
}
