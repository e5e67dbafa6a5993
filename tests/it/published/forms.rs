//! Thread forms against the published factors of the pitch, family by family.

use rules::standards::designation::parse;
use rules::standards::{FAMILIES, Side};

use super::table::rows;

/// A thread of each form that is known.
const SAMPLES: [(&str, &str); 17] = [
    ("M", "M24x3"),
    ("MJ", "MJ24x3"),
    ("UN", "1/2-13 UNC"),
    ("UNR", "1/2-13 UNRC"),
    ("UNJ", "1/2-13 UNJC"),
    ("BSW", "1/2 BSW"),
    ("BSB", "1/2 BSB"),
    ("BSC", "1/2-26 BSC"),
    ("G", "G 1/2"),
    ("R", "R 1/2"),
    ("Rc", "Rc 1/2"),
    ("Rp", "Rp 1/2"),
    ("NPT", "1/2-14 NPT"),
    ("NPSM", "1/2-14 NPSM"),
    ("ACME", "1-5 ACME-2G"),
    ("ACMEC", "1-5 ACME-2C"),
    ("STUBACME", "1-5 STUB ACME"),
];

#[test]
fn factors_of_the_pitch() {
    let mut compared = 0;
    for row in rows("families.csv") {
        let id = row.text("id");
        let Some((_, sample)) = SAMPLES.iter().find(|(known, _)| *known == id) else {
            continue;
        };
        let form = parse(sample, None).unwrap().form();
        let flanks = form.flanks.unwrap();
        for (column, ours) in [
            ("included_angle", flanks.included_deg()),
            ("flank_lead_deg", flanks.leading_deg),
            ("flank_trail_deg", flanks.trailing_deg),
            ("H_over_P", flanks.sharp_height()),
            (
                "ext_radial_depth_over_P",
                form.external.depth.design.per_pitch,
            ),
            (
                "int_radial_depth_over_P",
                form.internal.depth.design.per_pitch,
            ),
            ("taper_on_dia", form.taper),
        ] {
            let Some(published) = row.number(column) else {
                continue;
            };
            assert!(
                (ours - published).abs() < 1e-6,
                "{id} {column}: {ours} {published}"
            );
            compared += 1;
        }
    }
    // UNR and R have no internal, Rc and Rp no external thread.
    assert_eq!(compared, 7 * SAMPLES.len() - 4);
}

/// What one side leaves the other: crests of the mating thread clear the roots, and the accepted
/// depths hold the one of the drawing.
#[test]
fn depths_hold_together() {
    for family in FAMILIES {
        for size in family.sizes() {
            let thread = rules::standards::thread::Thread::of_size(family, size);
            let (form, pitch) = (thread.form(), thread.pitch.mm());
            for side in [Side::External, Side::Internal] {
                let design = form.design_depth(side, pitch);
                assert!(form.depth_band(side, pitch).holds(design));
                assert!(
                    thread.depth_band(side).holds(design),
                    "{}",
                    thread.designation()
                );
            }
            let basic = thread.basic();
            assert!(basic.root <= basic.minor && basic.minor < basic.pitch);
            // Tables of pipe threads round the height to 0.001 mm before they take it off twice.
            assert!((form.root_diameter(basic.major, pitch) - basic.root).abs() < 0.0021);
        }
    }
}
