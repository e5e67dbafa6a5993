//! The motion, speed and tool stream of a text: what it does, whatever its spelling.
//!
//! Moves, passes and modal states are resolved, so that spaces, leading zeros, N numbers,
//! comments, a state set twice or a lead written out instead of inherited make no difference.
//! What is not understood is kept word by word: two texts that are equal here do the same, two that
//! differ may.

use std::collections::HashMap;

use crate::block::{Block, Blocks, FaultKind, Value, Word};
use crate::codes::{Meaning, meaning};
use crate::evidence::Family;
use crate::machine::{Action, Machine, Position};
use crate::number::{DecimalRule, Number};
use crate::program::Effect;
use crate::section::{Section, Syntax};

/// What the reader made of a threading block: the letters that its passes stand for.
pub(crate) type Consumed = &'static [u8];

/// Letters whose value is in the passes of a stroke.
pub(crate) const STROKE: Consumed = b"XUZWFK";
/// Letters whose value is in the path of a stroke with a changing lead.
pub(crate) const PATH: Consumed = b"XUZW";
/// No letter: a call has none.
pub(crate) const CALL: Consumed = b"";
/// Letters whose value is in the passes of the compound cycle.
pub(crate) const COMPOUND: Consumed = b"XZIBDUHF";
/// Letters whose value is in the passes of a box.
pub(crate) const BOX: Consumed = b"XUZWFRI";
/// Letters whose value is in the passes that follow a first block.
pub(crate) const SETUP: Consumed = b"PQR";
/// Letters whose value is in the passes of a second block.
pub(crate) const TWO_BLOCK: Consumed = b"XUZWRPQF";
/// Letters whose value is in the passes of the one-block cycle.
pub(crate) const ONE_BLOCK: Consumed = b"XUZWIKDAPF";
/// Letters whose value is in the passes of the interpreter's cycle.
pub(crate) const DRIVE_LINE: Consumed = b"ZWPIJKRQHEL";

/// Gathers effects block by block.
pub(crate) struct Recorder<'a> {
    bytes: &'a [u8],
    /// Effects with the line of their block.
    all: Vec<(u32, Effect)>,
    modes: HashMap<&'static str, i32>,
    speed: Option<u64>,
    clamp: Option<u64>,
    feed: Option<i64>,
    /// Ordinals of the blocks with an N number, and the ordinal of the present block.
    numbered: HashMap<i64, Vec<usize>>,
    ordinal: usize,
    /// Lines of the blocks that act, in order.
    lines: Vec<u32>,
    /// The blocks come in the order in which they are executed, not in that of the text.
    run: bool,
    /// What is executed is not known for certain: the text itself has to be compared.
    unsure: bool,
    /// Whether N numbers are the targets of jumps that are not resolved.
    jumps: bool,
}

impl<'a> Recorder<'a> {
    pub(crate) fn new(bytes: &'a [u8]) -> Self {
        let mut recorder = Recorder {
            bytes,
            all: Vec::new(),
            modes: HashMap::new(),
            speed: None,
            clamp: None,
            feed: None,
            numbered: HashMap::new(),
            ordinal: 0,
            lines: Vec::new(),
            run: false,
            unsure: false,
            jumps: false,
        };
        let mut blocks = Blocks::new(bytes);
        let mut block = Block::default();
        let mut ordinal = 0;
        while blocks.read(&mut block) {
            if !acts(&block) {
                continue;
            }
            if let Some(n) = block.number.and_then(|word| word.number()?.integer()) {
                recorder.numbered.entry(n).or_default().push(ordinal);
            }
            let text = block.statement.map(|span| plain(span.of(bytes)));
            recorder.jumps |=
                text.is_some_and(|text| memchr::memmem::find(&text, b"GOTO").is_some());
            recorder.lines.push(block.line);
            ordinal += 1;
        }
        recorder
    }

    /// The blocks come in the order in which they are executed.
    pub(crate) fn run(&mut self) {
        self.run = true;
    }

    /// What is executed is not known for certain.
    pub(crate) fn unsure(&mut self) {
        self.unsure = true;
    }

    /// What was in force may no longer be.
    pub(crate) fn forget(&mut self, line: u32) {
        self.modes.clear();
        self.push(line, Effect::Feed(self.feed));
        // A value that no speed has: the next one is a change.
        self.speed = Some(u64::MAX);
        self.clamp = Some(u64::MAX);
        self.feed = None;
    }

    /// Records the arguments of a call as they are written.
    pub(crate) fn arguments(&mut self, block: &Block) {
        self.verbatim(block);
    }

    /// Records a block as it is written: spelling of numbers and blanks make no difference.
    fn verbatim(&mut self, block: &Block) {
        let line = block.line;
        if let Some(digit) = block.skip {
            self.push(line, Effect::Skip(digit));
        }
        for word in block
            .program
            .iter()
            .chain(&block.number)
            .chain(&block.words)
        {
            let effect = match word.number() {
                Some(number) if !number.clipped => Effect::Word(word.letter, written(word)),
                _ => Effect::Text(plain(word.span.of(self.bytes))),
            };
            self.push(line, effect);
        }
        self.rest(block);
    }

    /// Records one block. `before` is where the tool stood, `machine` the state behind the block,
    /// `consumed` what the reader made of a threading block.
    pub(crate) fn block(
        &mut self,
        machine: &Machine,
        block: &Block,
        before: Position,
        action: Action,
        consumed: Option<Consumed>,
    ) {
        if !acts(block) {
            return;
        }
        let line = block.line;
        if self.run {
            self.ordinal = self.lines.partition_point(|&known| known < line);
        }
        if let Some(digit) = block.skip {
            self.push(line, Effect::Skip(digit));
        }
        if let Some(word) = block.program {
            self.push(line, Effect::Word(b'O', written(&word)));
        }
        if self.jumps
            && let Some(word) = block.number
        {
            self.push(line, Effect::Word(b'N', written(&word)));
        }
        let other_code = self.codes(machine.family, block, consumed.is_some());
        self.state(machine, line);
        match action {
            Action::Move(code) => self.moved(machine, block, before, code),
            Action::None => {}
            _ => self.push(line, Effect::Feed(self.feed)),
        }
        let resolved: Consumed = match (action, consumed) {
            (Action::Move(_), _) => b"XUZWF",
            (Action::None, _) if other_code => b"",
            (_, Some(letters)) => letters,
            _ => b"F",
        };
        self.words(block, before, resolved);
        self.rest(block);
        if self.run && consumed.is_some() {
            // Here a piece of the passes is cut that follow behind all blocks.
            self.push(line, Effect::Text(b"CUT".to_vec()));
        }
        self.ordinal += 1;
    }

    fn push(&mut self, line: u32, effect: Effect) {
        self.all.push((line, effect));
    }

    /// G codes: those of a modal group where they change it, motions not at all, the others as
    /// they are. Whether there were others.
    fn codes(&mut self, family: Family, block: &Block, threads: bool) -> bool {
        let bare = !block.has_any(b"XZUW");
        let mut other = false;
        for (code, _) in block.g_codes() {
            let means = meaning(family, code, bare);
            let thread = threads && matches!(means, Meaning::Stroke | Meaning::BoxThread);
            let group = if thread {
                Some("thread")
            } else {
                group(family, code, bare)
            };
            if let Some(group) = group {
                if self.modes.insert(group, code) != Some(code) {
                    self.push(block.line, Effect::Mode(group, code));
                }
                continue;
            }
            if !matches!(means, Meaning::Rapid | Meaning::Feed | Meaning::Arc) {
                self.push(block.line, Effect::Word(b'G', i64::from(code)));
                other = true;
            }
        }
        other
    }

    /// Spindle speed and clamp where they change.
    fn state(&mut self, machine: &Machine, line: u32) {
        let bits = |mark: Option<crate::source::Mark<f64>>| mark.map(|mark| mark.value.to_bits());
        let (speed, clamp) = (bits(machine.spindle.speed), bits(machine.spindle.clamp));
        if std::mem::replace(&mut self.speed, speed) != speed {
            self.push(line, Effect::Speed(speed));
        }
        if std::mem::replace(&mut self.clamp, clamp) != clamp {
            self.push(line, Effect::Clamp(clamp));
        }
        // As written: units and feed mode are states of their own.
        self.feed = machine.feed.and_then(|feed| {
            let number = feed.value.number()?;
            let value = (number.value() * 1e8).round() as i64;
            let counts = machine.decimal == DecimalRule::LeastIncrement && !number.point;
            Some(value.saturating_mul(2).saturating_add(i64::from(counts)))
        });
    }

    /// The words whose value is not in the resolved motion or passes.
    fn words(&mut self, block: &Block, before: Position, resolved: Consumed) {
        for word in &block.words {
            let state = word.letter == b'S' && word.number().is_some()
                || word.letter == b'G' && word.code().is_some();
            if state || resolved.contains(&word.letter) && is_resolved(word, before) {
                continue;
            }
            let effect = match word.number() {
                Some(number) if !number.clipped => {
                    Effect::Word(word.letter, self.other_word(block, word, number))
                }
                _ => Effect::Text(plain(word.span.of(self.bytes))),
            };
            self.push(block.line, effect);
        }
    }

    /// A move; only where the tool goes elsewhere, or where more than X and Z decides that.
    fn moved(&mut self, machine: &Machine, block: &Block, before: Position, code: i32) {
        let (x, z) = (machine.at.x, machine.at.z);
        let more = block.has_any(b"YABCVIJKR") || matches!(code, 20 | 30);
        if before == machine.at && x.is_some() && z.is_some() && !more {
            return;
        }
        let feed = self.feed.filter(|_| code != 0);
        self.push(block.line, Effect::Move { code, x, z, feed });
    }

    /// A word that is kept: codes and tools by their number, targets of cycles by their distance
    /// in blocks, others with their point, which decides on some controls what they mean.
    fn other_word(&self, block: &Block, word: &Word, number: Number) -> i64 {
        let target = match word.letter {
            b'P' | b'Q' => block
                .g_codes()
                .any(|(code, _)| matches!(code, 700 | 710 | 720 | 730)),
            _ => false,
        } || word.letter == b'P' && block.m_codes().any(|(code, _)| code == 990);
        if target
            && let Some(places) = number.integer().and_then(|n| self.numbered.get(&n))
            && let Some(place) = places
                .iter()
                .find(|&&place| place >= self.ordinal)
                .or(places.last())
        {
            return *place as i64 - self.ordinal as i64;
        }
        written(word)
    }

    /// Names, statements and characters that are no words.
    fn rest(&mut self, block: &Block) {
        let line = block.line;
        if let Some(statement) = block.statement {
            self.push(line, Effect::Text(plain(statement.of(self.bytes))));
        }
        for name in &block.names {
            let whole = name.arguments.map_or(name.span, |span| name.span.to(span));
            self.push(line, Effect::Text(plain(whole.of(self.bytes))));
            match name.assigned {
                Some(number) => {
                    let value = (number.value() * 1e9).round() as i64;
                    self.push(line, Effect::Word(b'=', value));
                }
                None if let Some(value) = name.value_span => {
                    let whole = name.span.to(value);
                    self.push(line, Effect::Text(plain(whole.of(self.bytes))));
                }
                // Its text is not kept by itself: the whole block stands for it.
                None if name.arguments.is_none() && block.statement.is_none() => {
                    self.push(line, Effect::Text(plain(block.span.of(self.bytes))));
                }
                None => {}
            }
        }
        for span in &block.assignments {
            if block.names.iter().all(|name| name.span.start != span.start) {
                self.push(line, Effect::Text(plain(span.of(self.bytes))));
            }
        }
        for fault in block
            .faults
            .iter()
            .filter(|fault| fault.kind == FaultKind::Junk)
        {
            self.push(line, Effect::Text(plain(fault.span.of(self.bytes))));
        }
    }

    /// All effects in the order of the blocks, the sections' passes among them.
    pub(crate) fn finish(mut self, sections: &[Section]) -> Vec<Effect> {
        if self.unsure {
            self.all.clear();
            let mut blocks = Blocks::new(self.bytes);
            let mut block = Block::default();
            while blocks.read(&mut block) {
                if acts(&block) {
                    self.verbatim(&block);
                }
            }
            return self.all.into_iter().map(|(_, effect)| effect).collect();
        }
        for section in sections {
            // Lists of strokes are their passes; a cycle also says its exit and what it lacks.
            if !matches!(section.syntax, Syntax::Strokes | Syntax::Box) {
                let line = section
                    .passes
                    .first()
                    .map_or(section.last_line, |pass| pass.line);
                self.push(line, Effect::Cut(Box::new(section.cut.clone())));
            }
            for pass in &section.passes {
                let effect = Effect::Pass {
                    path: [
                        pass.x_start.map(|x| x.0),
                        pass.x.map(|x| x.0),
                        pass.depth.map(|depth| depth.0),
                        pass.z_start,
                        pass.z_end,
                    ],
                    lead: pass.lead,
                    angle: pass.start_angle,
                    legs: pass.legs.clone(),
                };
                self.push(pass.line, effect);
            }
        }
        if !self.run {
            self.all.sort_by_key(|(line, _)| *line);
        }
        self.all.into_iter().map(|(_, effect)| effect).collect()
    }
}

/// Whether the word's value is in the resolved motion or passes: not where it could not be read,
/// nor where it counts from a place that is not known.
fn is_resolved(word: &Word, before: Position) -> bool {
    word.number().is_some_and(|number| !number.clipped)
        && match word.letter {
            b'U' => before.x.is_some(),
            b'W' => before.z.is_some(),
            _ => true,
        }
}

/// Whether a block has anything but comments and an N number.
fn acts(block: &Block) -> bool {
    !block.words.is_empty()
        || block.program.is_some()
        || block.statement.is_some()
        || !block.names.is_empty()
        || !block.assignments.is_empty()
        || block
            .faults
            .iter()
            .any(|fault| fault.kind == FaultKind::Junk)
}

/// A word's literal as one number: the value to 1e-8, apart for numbers with a point, except in
/// letters that only name something.
fn written(word: &Word) -> i64 {
    let Value::Number(number) = word.value else {
        return i64::MIN;
    };
    let value = (number.value() * 1e8).round() as i64;
    let point = number.point && !b"GMTNOS".contains(&word.letter);
    value.saturating_mul(2).saturating_add(i64::from(point))
}

/// Text without blanks and in capitals.
fn plain(text: &[u8]) -> Vec<u8> {
    text.iter()
        .filter(|byte| !byte.is_ascii_whitespace())
        .map(u8::to_ascii_uppercase)
        .collect()
}

/// The modal group of a code that sets a state and does nothing else.
fn group(family: Family, code: i32, bare: bool) -> Option<&'static str> {
    match meaning(family, code, bare) {
        Meaning::Millimetre | Meaning::Inch => return Some("units"),
        Meaning::Absolute | Meaning::Incremental => return Some("distance"),
        Meaning::PerMinute | Meaning::PerTurn => return Some("feed"),
        Meaning::SurfaceSpeed | Meaning::ConstantRpm => return Some("speed"),
        Meaning::DiameterMode | Meaning::RadiusMode => return Some("diameter"),
        Meaning::Other => {}
        _ => return None,
    }
    match code {
        170 | 180 | 190 => Some("plane"),
        400 | 410 | 420 => Some("compensation"),
        540 | 550 | 560 | 570 | 580 | 590 => Some("offset"),
        610 | 640 => Some("path"),
        980 | 990 => Some("return"),
        _ => None,
    }
}
