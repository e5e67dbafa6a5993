//! Thread forms against the published factors of the pitch, family by family.

use rules::standards::designation::parse;
use rules::standards::{FAMILIES, Side};

use super::table::rows;

/// A thread of each form that is known.
const SAMPLES: [(&str, &str); 3] = [("M", "M24x3"), ("UN", "1/2-13 UNC"), ("UNR", "1/2-13 UNRC")];

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
                form.design_depth(Side::External, 1.0),
            ),
            (
                "int_radial_depth_over_P",
                form.design_depth(Side::Internal, 1.0),
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
    // UNR has no internal thread.
    assert_eq!(compared, 7 * SAMPLES.len() - 1);
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
            assert!((form.root_diameter(basic.major, pitch) - basic.root).abs() < 1e-9);
        }
    }
}
