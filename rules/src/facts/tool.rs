//! `[[tool]]`: what the shop knows of a tool.

use std::ops::Range;

use globset::{GlobBuilder, GlobMatcher};
use lexer::machine::Machine;
use toml::Spanned;
use toml::de::DeTable;

use super::files::Files;
use super::keys::{Keys, Slip};
use crate::measure::tool::Nose;
use crate::standards::Hand;

/// What makes a thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ToolKind {
    /// A point that cuts the flanks and the root, for a range of pitches.
    Partial,
    /// A point for one pitch that cuts the crest too.
    Full,
    /// A tap that cuts.
    Tap,
    /// A tap that forms.
    RollTap,
    /// A thread mill.
    Mill,
    /// Several teeth in a row that cut a thread in one or a few passes.
    Chaser,
}

impl ToolKind {
    /// As a message calls it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            ToolKind::Partial => "partial-profile tool",
            ToolKind::Full => "full-profile tool",
            ToolKind::Tap => "tap",
            ToolKind::RollTap => "forming tap",
            ToolKind::Mill => "thread mill",
            ToolKind::Chaser => "chaser",
        }
    }
}

/// Which point of a tool the program moves along Z.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ZReference {
    /// The middle of the tip.
    Tip,
    /// The edge that leads.
    Edge,
}

/// A tool of the shop.
#[derive(Debug, Clone, Default)]
pub struct ToolFact {
    /// Its station: `T0303` and `T3` are both 3.
    pub number: Option<u32>,
    /// The comment that it is known by.
    comment: Option<GlobMatcher>,
    /// What it is.
    pub kind: Option<ToolKind>,
    /// Smallest and largest pitch it is made for, mm; both the same for one pitch.
    pub pitch_mm: Option<[f64; 2]>,
    /// Its tip.
    pub nose: Option<Nose>,
    /// Angle between its flanks, degrees.
    pub angle_deg: Option<f64>,
    /// The hand it is made for.
    pub hand: Option<Hand>,
    /// How far it is tilted into the lead angle, degrees.
    pub tilt_deg: Option<f64>,
    /// Relief at its tip, degrees.
    pub relief_deg: Option<f64>,
    /// Smallest bore it goes into, mm.
    pub min_bore_mm: Option<f64>,
    /// How far its body stands out ahead of the tip, mm.
    pub tip_to_face_mm: Option<f64>,
    /// Which of its points the program moves.
    pub z_reference: Option<ZReference>,
    /// The thread that a tap is made for, as written.
    pub designation: Option<String>,
    /// Length of a tap's chamfer in pitches.
    pub tap_chamfer_threads: Option<f64>,
    /// Diameter of a thread mill, mm.
    pub mill_diameter_mm: Option<f64>,
    /// Length of a thread mill over which its rows of teeth stand a pitch apart, mm.
    pub edge_length_mm: Option<f64>,
    /// Largest depth of a first pass that its insert is rated for, mm on the radius.
    pub first_pass_max_mm: Option<f64>,
    /// Largest chip area of a pass that its insert is rated for, mm².
    pub max_area_mm2: Option<f64>,
    /// Its teeth.
    pub teeth: Option<u32>,
    /// Edges of its insert.
    pub edges: Option<u32>,
    /// Price of one edge, in the currency of `[production]`.
    pub price_per_edge: Option<f64>,
    /// Time to change to the next edge, s.
    pub index_time_s: Option<f64>,
    /// Parts that an edge lasts for.
    pub parts_per_edge: Option<f64>,
    /// Where it stands, `flankwise.toml: tool 2`; [`ToolFact::cite`] adds the key.
    pub source: String,
}

impl PartialEq for ToolFact {
    /// Two entries are the same when they stand in the same place: all else follows from it.
    fn eq(&self, other: &Self) -> bool {
        self.source == other.source
    }
}

impl ToolFact {
    /// Where one of its facts stands: `flankwise.toml: tool 2 nose_radius_mm`.
    #[must_use]
    pub fn cite(&self, key: &str) -> String {
        format!("{} {key}", self.source)
    }

    /// The key that states the nose, for [`ToolFact::cite`].
    #[must_use]
    pub fn nose_key(&self) -> &'static str {
        match self.nose {
            Some(Nose::Flat(_)) => "nose_flat_mm",
            _ => "nose_radius_mm",
        }
    }

    /// Whether the entry is for a tool, by its T word and the comments beside it. All that the
    /// entry states must fit.
    #[must_use]
    pub fn is(&self, tool: Option<u32>, comments: &[String]) -> bool {
        let by_number = self
            .number
            .is_none_or(|number| tool.map(Machine::station) == Some(number));
        let by_comment = self
            .comment
            .as_ref()
            .is_none_or(|glob| comments.iter().any(|comment| glob.is_match(comment)));
        by_number && by_comment
    }
}

/// A tool with its files.
#[derive(Debug, Clone)]
pub(super) struct ToolEntry {
    pub(super) files: Files,
    pub(super) tool: ToolFact,
}

const KINDS: [(&str, ToolKind); 6] = [
    ("partial", ToolKind::Partial),
    ("full", ToolKind::Full),
    ("tap", ToolKind::Tap),
    ("rolltap", ToolKind::RollTap),
    ("mill", ToolKind::Mill),
    ("chaser", ToolKind::Chaser),
];
const HANDS: [(&str, Hand); 2] = [("right", Hand::Right), ("left", Hand::Left)];
const REFERENCES: [(&str, ZReference); 2] = [("tip", ZReference::Tip), ("edge", ZReference::Edge)];

/// Reads one `[[tool]]`.
pub(super) fn tool(
    name: &str,
    number: usize,
    place: Range<usize>,
    table: DeTable<'_>,
    slips: &mut Vec<Slip>,
) -> ToolEntry {
    let mut keys = Keys::new("[[tool]]", table, slips);
    let files = Files::read(&mut keys);
    let station = keys.tool("number").map(Machine::station);
    let comment = keys
        .text("comment")
        .and_then(|text| comment(&mut keys, text));
    if keys.place("number").is_none() && keys.place("comment").is_none() {
        keys.slip(
            place,
            "a tool needs its `number`, or a `comment` that stands beside it".to_owned(),
        );
    }
    let pitch_mm = pitch(&mut keys);
    let nose = nose(&mut keys);
    let tool = ToolFact {
        number: station,
        comment,
        kind: keys.choice("kind", &KINDS),
        pitch_mm,
        nose,
        angle_deg: keys.between("angle_deg", 0.0, 160.0),
        hand: keys.choice("hand", &HANDS),
        tilt_deg: keys.between("tilt_deg", -45.0, 45.0),
        relief_deg: keys.between("relief_deg", 0.0, 45.0),
        min_bore_mm: keys.positive("min_bore_mm"),
        tip_to_face_mm: keys.not_negative("tip_to_face_mm"),
        z_reference: keys.choice("z_reference", &REFERENCES),
        designation: keys.text("designation").map(Spanned::into_inner),
        tap_chamfer_threads: keys.not_negative("tap_chamfer_threads"),
        mill_diameter_mm: keys.positive("mill_diameter_mm"),
        edge_length_mm: keys.positive("edge_length_mm"),
        first_pass_max_mm: keys.positive("first_pass_max_mm"),
        max_area_mm2: keys.positive("max_area_mm2"),
        teeth: keys.whole("teeth", 1, 1000),
        edges: keys.whole("edges", 1, 100),
        price_per_edge: keys.not_negative("price_per_edge"),
        index_time_s: keys.not_negative("index_time_s"),
        parts_per_edge: keys.positive("parts_per_edge"),
        source: format!("{name}: tool {number}"),
    };
    keys.finish();
    ToolEntry { files, tool }
}

/// A pattern for the text of a comment, without its brackets; capitals do not matter.
fn comment(keys: &mut Keys<'_, '_>, pattern: Spanned<String>) -> Option<GlobMatcher> {
    let built = GlobBuilder::new(pattern.get_ref())
        .case_insensitive(true)
        .build();
    match built {
        Ok(glob) => Some(glob.compile_matcher()),
        Err(error) => {
            let why = format!("`{}` is no pattern: {}", pattern.get_ref(), error.kind());
            keys.slip(pattern.span(), why);
            None
        }
    }
}

/// The pitches it is made for, said in one of three ways.
fn pitch(keys: &mut Keys<'_, '_>) -> Option<[f64; 2]> {
    let one = keys.positive("pitch_mm").map(|pitch| [pitch; 2]);
    let range = keys.pair("pitch_range_mm");
    let per_inch = keys.positive("threads_per_inch").map(|n| [25.4 / n; 2]);
    alone(keys, ["pitch_mm", "pitch_range_mm", "threads_per_inch"]);
    one.or(range).or(per_inch)
}

fn nose(keys: &mut Keys<'_, '_>) -> Option<Nose> {
    let radius = keys.not_negative("nose_radius_mm").map(Nose::Radius);
    let flat = keys.not_negative("nose_flat_mm").map(Nose::Flat);
    alone(keys, ["nose_radius_mm", "nose_flat_mm"]);
    radius.or(flat)
}

/// Complains where more than one of the keys is there.
fn alone<const N: usize>(keys: &mut Keys<'_, '_>, names: [&'static str; N]) {
    let mut there = names.into_iter().filter(|name| keys.place(name).is_some());
    if let (Some(first), Some(second)) = (there.next(), there.next()) {
        let place = keys.place(second).unwrap_or_default();
        keys.slip(
            place,
            format!("`{second}` says again what `{first}` says: leave one"),
        );
    }
}
