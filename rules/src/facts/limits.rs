//! `[material]` and `[limits]`: what a cut may be. The material's value holds before the shop's.

use std::ops::Range;

use toml::Spanned;
use toml::de::DeTable;

use super::files::Files;
use super::keys::{Keys, Slip};

/// Limits of a cut; `None` where nothing is said.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct CutLimits {
    /// Smallest depth of a pass, mm on the radius.
    pub min_pass_mm: Option<f64>,
    /// Largest chip area of a pass, mm².
    pub max_area_mm2: Option<f64>,
    /// Largest cutting force of a pass by the model, N.
    pub max_force_n: Option<f64>,
    /// Largest depth of the first pass, mm on the radius.
    pub first_pass_max_mm: Option<f64>,
    /// Most passes without new depth.
    pub spring_passes_max: Option<u32>,
    /// Slowest and fastest cutting speed, m/min.
    pub speed_m_min: Option<[f64; 2]>,
}

/// Workpiece material groups of ISO 513.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MaterialGroup {
    /// Steel.
    P,
    /// Stainless steel.
    M,
    /// Cast iron.
    K,
    /// Non-ferrous metals.
    N,
    /// Heat-resistant alloys and titanium.
    S,
    /// Hardened materials.
    H,
}

/// The material of the parts of a file.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Material {
    /// What the shop calls it.
    pub name: Option<String>,
    /// Its group.
    pub group: Option<MaterialGroup>,
    /// Brinell hardness.
    pub hardness_hb: Option<f64>,
    /// Cutting force for a chip of 1 mm × 1 mm, N/mm².
    pub kc11_n_mm2: Option<f64>,
    /// Exponent by which the force grows for thinner chips.
    pub mc: Option<f64>,
    /// Limits of a cut in it.
    pub limits: CutLimits,
    /// Where it stands, `flankwise.toml: material 1`.
    pub source: String,
}

/// The shop's own limits.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ShopLimits {
    /// Limits of a cut where the material says nothing.
    pub limits: CutLimits,
    /// Least run-in, mm.
    pub start_min_mm: Option<f64>,
    /// Least run-in, in leads.
    pub start_min_leads: Option<f64>,
    /// Farthest retract between passes, mm on the radius.
    pub retract_max_mm: Option<f64>,
    /// Largest error of the lead where the thread begins, per cent.
    pub lead_error_percent: Option<f64>,
    /// Largest part of the pitch diameter tolerance that a rounded lead may use up, per cent.
    pub lead_drift_percent: Option<f64>,
    /// Where they stand, `flankwise.toml: limits`; empty where there are none.
    pub source: String,
}

const GROUPS: [(&str, MaterialGroup); 6] = [
    ("P", MaterialGroup::P),
    ("M", MaterialGroup::M),
    ("K", MaterialGroup::K),
    ("N", MaterialGroup::N),
    ("S", MaterialGroup::S),
    ("H", MaterialGroup::H),
];

fn cut_limits(keys: &mut Keys<'_, '_>) -> CutLimits {
    CutLimits {
        min_pass_mm: keys.positive("min_pass_mm"),
        max_area_mm2: keys.positive("max_area_mm2"),
        max_force_n: keys.positive("max_force_n"),
        first_pass_max_mm: keys.positive("first_pass_max_mm"),
        spring_passes_max: keys.whole("spring_passes_max", 0, 1000),
        speed_m_min: keys.pair("speed_m_min"),
    }
}

/// Reads one `[material]`.
pub(super) fn material(
    name: &str,
    number: usize,
    table: DeTable<'_>,
    slips: &mut Vec<Slip>,
) -> (Files, Material) {
    let mut keys = Keys::new("[material]", table, slips);
    let files = Files::read(&mut keys);
    let material = Material {
        name: keys.text("name").map(Spanned::into_inner),
        group: keys.choice("group", &GROUPS),
        hardness_hb: keys.positive("hardness_hb"),
        kc11_n_mm2: keys.positive("kc11_n_mm2"),
        mc: keys.between("mc", 0.0, 1.0),
        limits: cut_limits(&mut keys),
        source: format!("{name}: material {number}"),
    };
    keys.finish();
    (files, material)
}

/// Reads `[limits]`.
pub(super) fn limits(
    name: &str,
    (_, table): (Range<usize>, DeTable<'_>),
    slips: &mut Vec<Slip>,
) -> ShopLimits {
    let mut keys = Keys::new("[limits]", table, slips);
    let limits = ShopLimits {
        limits: cut_limits(&mut keys),
        start_min_mm: keys.positive("start_min_mm"),
        start_min_leads: keys.positive("start_min_leads"),
        retract_max_mm: keys.positive("retract_max_mm"),
        lead_error_percent: keys.between("lead_error_percent", 0.01, 50.0),
        lead_drift_percent: keys.between("lead_drift_percent", 0.1, 100.0),
        source: format!("{name}: limits"),
    };
    keys.finish();
    limits
}
