//! Worked examples from standards, and values computed by hand from them.

use rules::standards::Side;
use rules::standards::designation::parse;
use rules::standards::limits::Limits;

/// Limits of a designation whose class tells the side, in mm or in inches.
fn limits(name: &str, unit_mm: f64) -> Limits {
    let thread = parse(name, None).unwrap();
    let mut limits = thread.limits(thread.side.unwrap());
    for band in [
        &mut limits.major,
        &mut limits.pitch,
        &mut limits.minor,
        &mut limits.root,
    ] {
        *band = band.map(|v| v / unit_mm);
    }
    limits
}

fn near(ours: Option<f64>, published: f64, within: f64) {
    let ours = ours.unwrap();
    assert!(
        (ours - published).abs() < within,
        "ours {ours}, published {published}"
    );
}

/// FED-STD-H28/21B (1984), worked examples of sections 5.1.3 and 5.2.3.
#[test]
fn metric_examples_of_the_us_government() {
    let m27 = limits("M27x1.5-4e6g", 1.0);
    near(m27.major.max, 26.968, 0.0005);
    near(m27.major.min, 26.732, 0.0005);
    near(m27.pitch.max, 25.959, 0.0005);
    near(m27.pitch.min, 25.864, 0.0005);
    let m27 = limits("M27x1.5-6H", 1.0);
    near(m27.pitch.min, 26.026, 0.0005);
    near(m27.pitch.max, 26.226, 0.0005);
    near(m27.minor.min, 25.376, 0.0005);
    near(m27.minor.max, 25.676, 0.0005);
    let m29 = limits("M29x1.25-4g6h", 1.0);
    near(
        m29.pitch.max.zip(m29.pitch.min).map(|(a, b)| a - b),
        0.08681,
        0.0006,
    );
    assert!(
        m29.notes.iter().any(|note| note.contains("formula")),
        "{:?}",
        m29.notes
    );
}

/// FED-STD-H28/21B (1984), the MJ examples of sections 5.1.3 and 5.2.3.
#[test]
fn metric_aerospace_examples_of_the_us_government() {
    let bolt = limits("MJ6.5x1-4h6h", 1.0);
    near(bolt.major.max, 6.500, 1e-9);
    near(bolt.major.min, 6.320, 1e-9);
    near(bolt.pitch.max, 5.850, 1e-9);
    near(bolt.pitch.min, 5.779, 1e-9);
    near(bolt.root.max, 5.345, 1e-9);
    near(bolt.root.min, 5.214, 1e-9);
    assert!(!bolt.unverified);
    let nut = limits("MJ6.5x1-4H5H", 1.0);
    near(nut.pitch.min, 5.850, 1e-9);
    near(nut.pitch.max, 5.945, 1e-9);
    near(nut.minor.min, 5.526, 1e-9);
    near(nut.minor.max, 5.716, 1e-9);
}

/// ASME B1.5, 1/2-10 ACME-2G: allowance 0.00566, tolerance 0.01373 in, as a screw maker publishes
/// the limits.
#[test]
fn half_inch_acme() {
    let thread = parse("1/2-10 ACME-2G", None).unwrap();
    let screw = thread.limits(Side::External);
    let inch = |mm: Option<f64>| mm.map(|mm| mm / 25.4);
    near(inch(screw.major.max), 0.5, 1e-9);
    near(inch(screw.major.min), 0.495, 1e-9);
    near(inch(screw.pitch.max), 0.4443, 1e-9);
    near(inch(screw.pitch.min), 0.4306, 1e-9);
    near(inch(screw.minor.max), 0.38, 1e-9);
    near(inch(screw.minor.min), 0.3594, 1e-9);
    assert!(!screw.unverified && thread.limits(Side::Internal).unverified);
}

/// UNJ has the flanks of UN and the roots of MJ: 1/4-28 UNJF-3A by hand. The diameters of UN are
/// published (ASME B1.1), the form is from memory.
#[test]
fn unified_aerospace_by_hand() {
    let j = limits("1/4-28 UNJF-3A", 25.4);
    let plain = limits("1/4-28 UNF-3A", 25.4);
    assert_eq!((j.major, j.pitch), (plain.major, plain.pitch));
    // 0.2268 - 0.505185 / 28 = 0.2088; 0.25 - 0.974279 / 28 = 0.2152.
    near(j.pitch.max, 0.2268, 1e-9);
    near(j.root.max, 0.2088, 1e-9);
    let nut = limits("1/4-28 UNJF-3B", 25.4);
    near(nut.minor.min, 0.2152, 1e-9);
    assert!(nut.minor.max.is_none() && nut.unverified);
}

/// Computed from the tables of ISO 965-1; the root of M24 by clause 11 (the smallest root agrees
/// with the open dataset threadlib).
#[test]
fn metric_examples_computed_by_hand() {
    let m24 = limits("M24x3-6g", 1.0);
    near(m24.major.max, 23.952, 1e-9);
    near(m24.major.min, 23.577, 1e-9);
    near(m24.pitch.max, 22.003, 1e-9);
    near(m24.pitch.min, 21.803, 1e-9);
    near(m24.root.max, 20.603, 1e-9);
    near(m24.root.min, 19.955, 1e-9);
    assert!(m24.notes.is_empty() && !m24.unverified);
    let m10 = limits("M10x1.5-6H", 1.0);
    near(m10.pitch.min, 9.026, 1e-9);
    near(m10.pitch.max, 9.206, 1e-9);
    near(m10.minor.min, 8.376, 1e-9);
    near(m10.minor.max, 8.676, 1e-9);
    assert_eq!(m10.major.max, None);
}

/// ASME B1.1 values for 1/4-20 (two public transcriptions), with the limits of 1A that depend on
/// the allowance being that of 2A.
#[test]
fn quarter_twenty() {
    let a2 = limits("1/4-20 UNC-2A", 25.4);
    near(a2.major.max, 0.2489, 1e-9);
    near(a2.major.min, 0.2408, 1e-9);
    near(a2.pitch.max, 0.2164, 1e-9);
    near(a2.pitch.min, 0.2127, 1e-9);
    let b2 = limits("1/4-20 UNC-2B", 25.4);
    near(b2.pitch.min, 0.2175, 1e-9);
    near(b2.pitch.max, 0.2224, 1e-9);
    let a3 = limits("1/4-20 UNC-3A", 25.4);
    near(a3.pitch.max, 0.2175, 1e-9);
    near(a3.pitch.min, 0.2147, 1e-9);
    let a1 = limits("1/4-20 UNC-1A", 25.4);
    near(a1.pitch.max, 0.2164, 1e-9);
    near(a1.pitch.min, 0.2108, 1e-9);
}

/// FED-STD-H28/2B (1991), section 5.4: a special thread with a long engagement.
#[test]
fn special_thread_with_a_length_of_engagement() {
    let a = limits("2.500-28 UNS-2A LE=1.00", 25.4);
    near(a.major.max, 2.4986, 1e-9);
    near(a.major.min, 2.4921, 1e-9);
    near(a.pitch.max, 2.4754, 1e-9);
    near(a.pitch.min, 2.4698, 1e-9);
    let b = limits("2.500-28 UNS-2B LE=1.00", 25.4);
    near(b.pitch.min, 2.4768, 1e-9);
    near(b.pitch.max, 2.4841, 1e-9);
    near(b.minor.min, 2.461, 1e-9);
}

/// Lead angles derived from tan λ = lead / (π d2).
#[test]
fn lead_angles() {
    let angle = |name: &str| parse(name, None).unwrap().lead_angle_deg();
    near(Some(angle("M10x1.5")), 3.028, 0.0005);
    near(Some(angle("M24x3")), 2.4796, 0.0001);
    near(Some(angle("1/2-13 UNC")), 3.1142, 0.0001);
}

/// What a program's depth is compared with: 0.5413 P, 0.6134 P and 0.6495 P are all in use.
#[test]
fn depths_of_m24() {
    let m24 = parse("M24x3", None).unwrap();
    let band = m24.depth_band(Side::External);
    near(band.min, 1.6238, 0.0001);
    near(band.max, 1.9486, 0.0001);
    let form = m24.form();
    near(Some(form.root_diameter(24.0, 3.0)), 20.319, 0.0005);
    near(
        form.nose_radius(Side::External, 3.0).unwrap().max,
        0.433,
        0.0005,
    );
    // The bore of 6H may be 21.252 mm (ISO 965-1), so an internal thread may be that much flatter.
    near(
        m24.depth_band(Side::Internal).min,
        (24.0 - 21.252) / 2.0,
        1e-9,
    );
}

/// Tr 20x4-7e and 7H, computed by hand from the tables of ISO 2903 (from memory); a public table
/// of class 7e has the same numbers for the screw.
#[test]
fn a_power_screw() {
    let screw = limits("Tr 20x4-7e", 1.0);
    near(screw.major.max, 20.0, 1e-9);
    near(screw.major.min, 19.7, 1e-9);
    near(screw.pitch.max, 17.905, 1e-9);
    near(screw.pitch.min, 17.64, 1e-9);
    near(screw.root.max, 15.5, 1e-9);
    near(screw.root.min, 15.074, 1e-9);
    let nut = limits("Tr 20x4-7H", 1.0);
    near(nut.pitch.min, 18.0, 1e-9);
    near(nut.pitch.max, 18.355, 1e-9);
    near(nut.minor.min, 16.0, 1e-9);
    near(nut.minor.max, 16.375, 1e-9);
    near(nut.major.min, 20.5, 1e-9);
}

/// The feed word of a thread with two starts carries the lead; the depth comes from the pitch.
#[test]
fn two_starts() {
    let two = parse("Tr 40x14(P7)-7e", None).unwrap();
    near(Some(two.lead().mm()), 14.0, 1e-9);
    near(Some(two.lead_angle_deg()), 6.961, 0.0005);
    near(two.depth_band(Side::External).min, 3.5, 1e-9);
    near(
        Some(parse("Tr 40x7", None).unwrap().lead_angle_deg()),
        3.493,
        0.0005,
    );
    // 1.12 times the tolerance of one start (from memory).
    let width = |name: &str| {
        let pitch = limits(name, 1.0).pitch;
        pitch.max.unwrap() - pitch.min.unwrap()
    };
    near(Some(width("Tr 40x7-7e")), 0.355, 1e-9);
    near(Some(width("Tr 40x14(P7)-7e")), 0.398, 1e-9);
}
