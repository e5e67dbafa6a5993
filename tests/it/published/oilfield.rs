//! Oilfield threads against API Spec 7-2 and 5B as published and as derived.

use rules::standards::designation::parse;
use rules::standards::form::Flank;
use rules::standards::planes::Datum;
use rules::standards::thread::Thread;
use rules::standards::{Family, Side};

use super::table::{Row, compare_disputes, rows};

/// `2-3/8 REG` is printed `2 3/8 REG`.
fn named(row: &Row) -> (String, Thread) {
    let name = row.text("connection").replacen('-', " ", 1);
    let thread = parse(&name, None).unwrap();
    assert_eq!(thread.designation(), name);
    (name, thread)
}

/// Cells where the source contradicts itself, and why we say so.
const DISPUTED: [(&str, &str); 0] = [];

/// API Spec 7-2 table B.1 (NC23 to NC61), the others from memory: diameters, lengths, the form, and the
/// large diameter of the pin, D_L = C + 0.625 T + 2 (H/2 - f), which checks the rest.
#[test]
fn rotary_shouldered() {
    let (mut compared, mut disputed) = (0, Vec::new());
    for row in rows("api_rotary_shouldered.csv") {
        let (name, thread) = named(&row);
        let planes = thread.gauge_planes(Side::External).unwrap();
        assert_eq!(planes.datum, Datum::LargeEnd);
        let (form, p) = (thread.form(), thread.pitch.mm());
        let basic = thread.basic();
        let shoulder = planes.at(0.0).major / 25.4;
        let sharp = 0.866_025_4 * p * (1.0 - (form.taper / 2.0).powi(2) / 3.0) / 25.4;
        let (height, crest) = (
            form.design_depth(Side::External, p) / 25.4,
            (sharp - (basic.major - basic.pitch) / 25.4) / 2.0,
        );
        let root = (sharp - (basic.pitch - basic.root) / 25.4) / 2.0;
        let pin = -planes.others[0].z_mm / 25.4;
        for (column, ours, digits) in [
            ("taper_on_dia", form.taper, 6),
            ("taper_in_per_ft", 12.0 * form.taper, 1),
            ("tpi", 25.4 / p, 6),
            ("C_pitch_dia_at_gauge_pt_in", basic.pitch / 25.4, 5),
            ("C_mm", basic.pitch, 4),
            ("L_PC", pin, 3),
            ("H_geom_in", sharp, 6),
            ("h_geom_in", height, 6),
            ("crest_trunc_in", crest, 6),
            ("root_trunc_in", root, 3),
            ("D_L_from_geometry", shoulder, 4),
        ] {
            let published = row.number(column).unwrap();
            let half = 0.5 / 10f64.powi(digits) + 2e-6;
            compared += 1;
            if (ours - published).abs() > half {
                disputed.push(format!(
                    "{name} {column}: published {published}, ours {ours:.6}"
                ));
            }
        }
        // Printed to 0.001 in, from mm rounded to 0.01.
        let published = row.number("D_L_pin_base_in").unwrap();
        assert!(
            (shoulder - published).abs() < 7e-4,
            "{name}: {shoulder} {published}"
        );
        if let Some(small) = row.number("D_S") {
            let ours = planes.others[0].at.major / 25.4;
            assert!((ours - small).abs() < 2e-3, "{name}: {ours} {small}");
            compared += 1;
        }
        if let Some(box_depth) = row.number("L_BT") {
            let internal = thread.gauge_planes(Side::Internal).unwrap();
            let ours = -internal.others[0].z_mm / 25.4;
            assert!(
                (ours - box_depth).abs() < 5e-4,
                "{name}: {ours} {box_depth}"
            );
            compared += 1;
        }
        assert!(
            planes
                .notes
                .iter()
                .any(|note| note.contains(row.text("form")))
        );
        // The name in GOST leads to the same connection; the table spells it with a Latin letter.
        let gost = row.text("GOST28487_size_from_memory").replace('Z', "З");
        let same = parse(&gost, None).unwrap();
        assert_eq!((same.name, same.basic()), (thread.name, basic), "{gost}");
        assert_eq!(same.designation(), gost);
        let from_memory = row.text("source").contains("memory") && !name.starts_with("NC");
        assert_eq!(planes.unverified, from_memory, "{name}");
        compared += 3;
    }
    compare_disputes(disputed, &DISPUTED);
    assert_eq!(compared, 23 * 14 + 11 * 2);
}

/// Derived forms: API Spec 7-2 by geometry, in inches.
#[test]
fn rotary_forms() {
    for row in rows("api_rotary_forms.csv") {
        let per_foot = row.number("taper_in_per_ft").unwrap();
        let wanted = row.text("form");
        let mut sizes = Family::RotaryShouldered.sizes().iter();
        let thread = sizes
            .by_ref()
            .map(|size| Thread::of_size(Family::RotaryShouldered, size))
            .find(|thread| {
                let planes = thread.gauge_planes(Side::External).unwrap();
                let form = planes.notes.iter().any(|note| note.contains(wanted));
                form && (12.0 * thread.form().taper - per_foot).abs() < 1e-9
            })
            .unwrap();
        let (form, p) = (thread.form(), thread.pitch.mm());
        let profile = form.external;
        for (column, ours) in [
            ("tpi", 25.4 / p),
            ("pitch_in", p / 25.4),
            ("h_in", profile.depth.design.at(p) / 25.4),
            ("crest_flat_in", profile.crest.flat.unwrap().at(p) / 25.4),
            (
                "root_radius_in",
                profile.root.radius.unwrap().design.at(p) / 25.4,
            ),
        ] {
            let published = row.number(column).unwrap();
            assert!(
                (ours - published).abs() < 1.1e-6,
                "{wanted} {column}: {ours} {published}"
            );
        }
    }
}

/// API Spec 5B: heights, truncations, angles and tapers of casing and tubing.
#[test]
fn casing_and_tubing_forms() {
    let samples = ["7 LTC", "2 7/8 NUE", "9 5/8 BTC", "16 BTC"];
    let rows = rows("api5b_forms.csv");
    assert_eq!(rows.len(), samples.len());
    for (row, sample) in rows.iter().zip(samples) {
        let thread = parse(sample, None).unwrap();
        let (form, p) = (thread.form(), thread.pitch.mm());
        let flanks = form.flanks.unwrap();
        let load = match flanks.pressure {
            Some(Flank::Following) => (flanks.trailing_deg, flanks.leading_deg),
            _ => (flanks.leading_deg, flanks.trailing_deg),
        };
        let arc = |end: rules::standards::form::End| end.radius.map(|r| r.design.at(p) / 25.4);
        for (column, ours) in [
            ("tpi", Some(25.4 / p)),
            ("pitch_in", Some(p / 25.4)),
            ("taper_on_dia", Some(form.taper)),
            ("H_in", form.sharp_height_mm(p).map(|h| h / 25.4)),
            ("h_in", Some(form.design_depth(Side::External, p) / 25.4)),
            ("root_trunc_or_radius_in", arc(form.external.root)),
            ("crest_trunc_or_radius_in", arc(form.external.crest)),
            ("flank_load_deg", Some(load.0)),
            ("flank_stab_deg", Some(load.1)),
        ] {
            let Some(published) = row.number(column) else {
                continue;
            };
            let ours = ours.unwrap();
            assert!(
                (ours - published).abs() < 5.1e-6,
                "{sample} {column}: {ours} {published}"
            );
        }
    }
    // Heights of 1.810 and 1.412 mm, and 1.575 mm, on a public gauge page.
    let height = |name: &str| {
        let thread = parse(name, None).unwrap();
        thread
            .form()
            .design_depth(Side::External, thread.pitch.mm())
    };
    for (name, mm) in [("7 LTC", 1.810), ("2 7/8 NUE", 1.412), ("7 BTC", 1.575)] {
        assert!((height(name) - mm).abs() < 6e-4, "{name}");
    }
}
