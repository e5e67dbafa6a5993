//! Blocks for tools that turn, taps and thread mills: what stands before and behind the cut, and the
//! proof that the whole reads back as the thread that was asked for.

use lexer::evidence::Family;
use lexer::program::Settings;
use lexer::section::{Kind, tapping};
use lexer::syntax::Style;
use lexer::units::{Diameter, Length, Units};

use super::block::{Block, CAUTIONS};
use crate::facts::{Facts, ToolFact, ToolKind};
use crate::finding::Severity;
use crate::judge::judge;
use crate::standards::thread::Thread;
use crate::standards::{Hand, Side};

/// Farthest place and largest length that are written, mm.
pub(super) const MOST: f64 = 5000.0;

/// What a block of a turning tool stands among. Lengths in mm.
#[derive(Debug, Clone)]
pub struct Station {
    /// How the blocks look, and the family of controls they are for.
    pub style: Style,
    /// X and Y of the holes or bolts; none on the axis of a turning machine.
    pub places: Vec<(f64, f64)>,
    /// Height above Z0 at which the tool begins to feed; none for the usual one.
    pub start: Option<f64>,
    /// Height above Z0 to which it goes before, between and after; none for that of the start.
    pub retract: Option<f64>,
    /// The T word, such as `T5`.
    pub tool: Option<String>,
    /// Number of the tool length offset, written with G43.
    pub offset: Option<u32>,
    /// Whether comments begin with a semicolon instead of standing in brackets.
    pub semicolon: bool,
}

impl Station {
    /// Whether the work turns.
    pub(super) fn turns(&self) -> bool {
        self.style.family.turns() && self.style.family != Family::Interpreter
    }

    /// What the configuration knows of the tool that is called, where it is of one of these kinds.
    pub(super) fn fact<'a>(&self, facts: &'a Facts, kinds: &[ToolKind]) -> Option<&'a ToolFact> {
        let number = self.tool.as_deref()?.strip_prefix('T')?.parse().ok()?;
        let mut tools = facts.tools.iter().filter(|tool| tool.number.is_some());
        tools.find(|tool| {
            tool.kind.is_some_and(|kind| kinds.contains(&kind)) && tool.is(Some(number), &[])
        })
    }

    /// Places to the last digit.
    pub(super) fn places(&self) -> Result<Vec<(Length, Length)>, String> {
        if self.turns() {
            return if self.places.is_empty() {
                Ok(vec![(Length::ZERO, Length::ZERO)])
            } else {
                Err("on a turning machine the hole lies on the axis: leave --at out".into())
            };
        }
        if self.places.is_empty() {
            return Err(
                "where it stands is missing: --at X,Y, as often as there are threads".into(),
            );
        }
        let within = |mm: f64| mm.abs() <= MOST;
        if !self.places.iter().all(|&(x, y)| within(x) && within(y)) {
            return Err(format!("a place of --at lies beyond {MOST} mm"));
        }
        let place = |&(x, y): &(f64, f64)| (self.on_digit(x), self.on_digit(y));
        Ok(self.places.iter().map(place).collect())
    }

    /// A length in mm to the last digit that is written.
    pub(super) fn on_digit(&self, mm: f64) -> Length {
        let digit = self.style.units.least_increment().mm();
        Length::from_mm((mm / digit).round() * digit)
    }

    /// Heights of start and retract, with what was chosen said.
    pub(super) fn heights(
        &self,
        usual: f64,
        notes: &mut Vec<String>,
    ) -> Result<(Length, Length), String> {
        let start = self.start.unwrap_or_else(|| {
            let (grid, name) = match self.style.units {
                Units::Millimetre => (1.0, "mm"),
                Units::Inch => (2.54, "tenths of an inch"),
            };
            let up = (usual / grid - 1e-9).ceil() * grid;
            notes.push(format!(
                "feeds from {up:.2} mm above Z0, in whole {name} (our own choice); --start for another"
            ));
            up
        });
        let retract = self.retract.unwrap_or(start);
        let sound = start > 0.0 && retract >= start && retract <= MOST;
        if !sound {
            return Err("--start lies above Z0 and --retract not below it".into());
        }
        if self.retract.is_none() {
            notes.push(format!(
                "goes to its place at {start:.2} mm above Z0: where a clamp or a shoulder is higher, \
                 state --retract"
            ));
        }
        Ok((self.on_digit(start), self.on_digit(retract)))
    }

    /// What keeps the tool from being called safely.
    pub(super) fn tool(&self, notes: &mut Vec<String>) -> Result<(), String> {
        if self.turns() {
            return if self.offset.is_some() {
                Err("--offset belongs to a milling machine; here the T word holds it".into())
            } else {
                Ok(())
            };
        }
        match (&self.tool, self.offset) {
            (Some(_), None) => Err(
                "with --tool the number of its length offset is missing: --offset \
                                    (the tool would go down without it)"
                    .into(),
            ),
            (_, None) => {
                notes.push(
                    "the tool and its length offset must be in force before this block".into(),
                );
                Ok(())
            }
            _ => Ok(()),
        }
    }

    /// The whole block around a cut.
    pub(super) fn framed(&self, around: &Around<'_>) -> String {
        let style = &self.style;
        let mut out = String::new();
        for text in around.comments.iter().map(String::as_str).chain(CAUTIONS) {
            out.push_str(&if self.semicolon {
                format!("; {text}")
            } else {
                format!("({text})")
            });
            out.push_str(style.line_end);
        }
        let line = |words: &[String]| {
            let text = words.join(if style.spaced { " " } else { "" });
            let text = if style.lower {
                text.to_ascii_lowercase()
            } else {
                text
            };
            text + style.line_end
        };
        let height = style.position('Z', around.retract);
        if self.turns() {
            out.push_str(&line(&super::block::state(style)));
            if let Some(tool) = &self.tool {
                out.push_str(&line(std::slice::from_ref(tool)));
            }
            // The cut goes to its start itself.
            if around.retract != around.clear {
                let x = style.x(Diameter(Length::ZERO));
                out.push_str(&line(&[style.code(0), x, height.clone()]));
            }
        } else {
            let units = match style.units {
                Units::Inch => 200,
                Units::Millimetre => 210,
            };
            let state = [units, 170, 400, 800, 900];
            // A cycle says itself how its feed is meant.
            let last = if around.cycle { 980 } else { 940 };
            let words: Vec<String> = state
                .into_iter()
                .chain([last])
                .map(|code| style.code(code))
                .collect();
            out.push_str(&line(&words));
            if let Some(tool) = &self.tool {
                out.push_str(&line(&[tool.clone(), "M6".to_owned()]));
            }
            if let Some(speed) = &around.speed {
                out.push_str(&line(speed));
            }
            let with_offset = self
                .offset
                .map(|offset| line(&[style.code(430), format!("H{offset}"), height.clone()]));
            let down = line(&[style.code(0), height.clone()]);
            if around.finds_place {
                let cut = match with_offset {
                    Some(with_offset) => around.cut.replacen(&down, &with_offset, 1),
                    None => around.cut.to_owned(),
                };
                return out + &cut;
            }
            let [x, y] = xy(style, around.first);
            out.push_str(&line(&[style.code(0), x, y]));
            out.push_str(&with_offset.unwrap_or(down));
        }
        out.push_str(around.cut);
        out.push_str(&line(&[style.code(0), height]));
        if let Some(mode) = around.mode_after {
            out.push_str(&line(&[style.code(mode)]));
        }
        out
    }
}

/// X and Y of a place, whether X is read as a diameter or not.
fn xy(style: &Style, at: (Length, Length)) -> [String; 2] {
    let x = if style.radius_mode {
        at.0.double()
    } else {
        at.0
    };
    [style.x(Diameter(x)), style.position('Y', at.1)]
}

/// What a cut needs around it.
pub(super) struct Around<'a> {
    /// Texts without brackets.
    pub(super) comments: Vec<String>,
    /// Words of the speed, where the cut does not write it.
    pub(super) speed: Option<Vec<String>>,
    /// The first place.
    pub(super) first: (Length, Length),
    /// Where the feed begins.
    pub(super) clear: Length,
    pub(super) retract: Length,
    /// Whether the cut begins with rapids over its place and down to the retract height, and ends
    /// there.
    pub(super) finds_place: bool,
    /// Whether the cut is a cycle, which is to go back to where it began between its places (G98).
    pub(super) cycle: bool,
    pub(super) cut: &'a str,
    /// Code in tenths that brings back the kind of feed that usually holds.
    pub(super) mode_after: Option<i32>,
}

/// What the block must read back as.
pub(super) struct Wanted<'a> {
    pub(super) thread: &'a Thread,
    pub(super) side: Side,
    pub(super) kind: Kind,
    /// How many holes or helices.
    pub(super) count: usize,
    /// Whether the name stands in a comment.
    pub(super) named: bool,
}

/// The block read again: one section of this kind with this thread, side, hand, lead and number of
/// places, and no error.
pub(super) fn prove(
    block: &mut Block,
    wanted: &Wanted<'_>,
    style: &Style,
    facts: &Facts,
) -> Result<(), String> {
    let bytes = block.text.as_bytes();
    let settings = Settings {
        family: Some(style.family),
        diameter_mode: Some(!style.radius_mode),
        ..Settings::default()
    };
    let program = lexer::read(bytes, &settings);
    let [section] = program.sections.as_slice() else {
        let count = program.sections.len();
        return Err(format!(
            "the block is read back as {count} threads, not as one"
        ));
    };
    let hand = match wanted.thread.hand {
        Hand::Right => tapping::Hand::Right,
        Hand::Left => tapping::Hand::Left,
    };
    let (read, count) = match (&section.tapping, &section.milling) {
        (Some(tapping), _) => (tapping.hand.get(), tapping.holes.len()),
        (_, Some(milling)) => (milling.hand.get(), milling.helices.len()),
        _ => (None, 0),
    };
    // A lead is written to so many digits; a helix is as true as its rise.
    let lead = section.cut.lead.get().map(|lead| lead.mm());
    let near = 2.0 * style.units.least_increment().mm();
    let same_lead = lead.is_some_and(|lead| (lead - wanted.thread.lead().mm()).abs() <= near);
    if section.kind != wanted.kind
        || read != Some(hand)
        || count != wanted.count
        || section.side() != Some(wanted.side)
        || !same_lead
    {
        return Err(format!(
            "the block is read back as another thread: {} of them, {:?}, lead {lead:?}",
            count,
            section.side().map(Side::name),
        ));
    }
    let judgement = judge(bytes, &program, &settings, facts);
    let key = |thread: &Thread| (thread.family, thread.major, thread.pitch, thread.hand);
    let found = judgement
        .threads
        .first()
        .and_then(|one| one.thread.as_ref());
    if wanted.named && found.map(|(thread, _)| key(thread)) != Some(key(wanted.thread)) {
        return Err("the name in its comment is read back as another thread".into());
    }
    block.seconds = judgement
        .tables
        .first()
        .and_then(|table| table.seconds)
        .map(|seconds| seconds.total());
    let errors: Vec<&str> = judgement
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::Error)
        .map(|error| error.message.as_str())
        .collect();
    if !errors.is_empty() {
        return Err(format!("the block would be wrong: {}", errors.join("; ")));
    }
    let said = |finding: &crate::finding::Finding| format!("{}: {}", finding.rule, finding.message);
    block.findings = judgement.findings.iter().map(said).collect();
    Ok(())
}
