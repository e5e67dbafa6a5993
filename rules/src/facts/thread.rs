//! `[[thread]]`: what the drawing says of a thread that a program cuts.

use std::ops::Range;
use std::sync::Arc;

use toml::Spanned;
use toml::de::DeTable;

use super::files::Files;
use super::keys::{Keys, Slip};
use super::names::named;
use crate::measure::coating::Coating;
use crate::standards::custom::Custom;

/// A thread that the configuration names for a file.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ThreadFact {
    /// The tool that cuts it; none for every tool of the file.
    pub tool: Option<u32>,
    /// What the drawing calls it, as written.
    pub designation: String,
    /// The layer that is put on it.
    pub coating: Option<Coating>,
    /// Whether its limits hold before or after coating.
    pub coating_limits: Option<CoatingLimits>,
    /// Length of full thread, mm.
    pub length_mm: Option<f64>,
    /// Z in the program of the face that the planes of a tapered thread count from, mm: the end
    /// face, or the shoulder of a shouldered connection.
    pub face_z_mm: Option<f64>,
    /// Width of the relief at its end, mm.
    pub relief_width_mm: Option<f64>,
    /// Diameter of the bottom of that relief, mm.
    pub relief_diameter_mm: Option<f64>,
    /// The gauge that decides, as the shop calls it.
    pub gauge: Option<String>,
    /// Whether the shop counts it among its critical features.
    pub critical: bool,
    /// Where it stands, `flankwise.toml: thread 2`; [`ThreadFact::cite`] adds the key.
    pub source: String,
}

/// When the limits of size of a coated thread hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoatingLimits {
    /// Before the layer is put on: the program cuts to the limits as they stand.
    Before,
    /// On the finished part: the program must leave room for the layer.
    After,
}

impl ThreadFact {
    /// Where one of its facts stands: `flankwise.toml: thread 2 designation`.
    #[must_use]
    pub fn cite(&self, key: &str) -> String {
        format!("{} {key}", self.source)
    }
}

/// A thread with its files.
#[derive(Debug, Clone)]
pub(super) struct ThreadEntry {
    pub(super) files: Files,
    pub(super) thread: ThreadFact,
}

const COATING_LIMITS: [(&str, CoatingLimits); 2] = [
    ("before", CoatingLimits::Before),
    ("after", CoatingLimits::After),
];

/// Thickest layer that is taken for one, mm.
pub const THICKEST_LAYER_MM: f64 = 0.5;

/// Reads one `[[thread]]`; `forms` are those that the configuration defines.
pub(super) fn thread(
    name: &str,
    number: usize,
    (place, table): (Range<usize>, DeTable<'_>),
    forms: &[Arc<Custom>],
    slips: &mut Vec<Slip>,
) -> ThreadEntry {
    let mut keys = Keys::new("[[thread]]", table, slips);
    let files = Files::read(&mut keys);
    let tool = keys.tool("tool");
    let designation = keys.text("designation");
    if let Some(text) = &designation
        && let Err(why) = named(forms, text.get_ref(), None)
    {
        keys.slip(text.span(), why);
    }
    let designation = designation.map(Spanned::into_inner);
    if designation
        .as_ref()
        .is_none_or(|text| text.trim().is_empty())
    {
        keys.slip(
            place,
            "a thread needs its name on the drawing: add `designation = \"M24x3-6g\"`".to_owned(),
        );
    }
    let coating = keys.pair("coating_mm");
    let coating_limits = keys.choice("coating_limits", &COATING_LIMITS);
    if coating.is_some_and(|[_, thickest]| thickest > THICKEST_LAYER_MM) {
        let place = keys.place("coating_mm").unwrap_or_default();
        let why = format!("a layer of more than {THICKEST_LAYER_MM} mm is no coating");
        keys.slip(place, why);
    }
    let thread = ThreadFact {
        tool,
        designation: designation.unwrap_or_default(),
        coating: coating.map(|[min, max]| Coating { min, max }),
        coating_limits,
        length_mm: keys.positive("length_mm"),
        face_z_mm: keys.between("face_z_mm", -1e6, 1e6),
        relief_width_mm: keys.positive("relief_width_mm"),
        relief_diameter_mm: keys.positive("relief_diameter_mm"),
        gauge: keys.text("gauge").map(Spanned::into_inner),
        critical: keys.truth("critical").unwrap_or(false),
        source: format!("{name}: thread {number}"),
    };
    keys.finish();
    ThreadEntry { files, thread }
}
