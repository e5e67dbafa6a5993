//! Thread forms against the published factors of the pitch, family by family.

use rules::standards::designation::parse;
use rules::standards::form::{End, Form};
use rules::standards::{FAMILIES, Side};

use super::table::{Row, compare_disputes, rows};

/// A thread of each form that is known.
const SAMPLES: [(&str, &str); 18] = [
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
    ("NPTF", "1/2-14 NPTF"),
    ("NPSM", "1/2-14 NPSM"),
    ("ACME", "1-5 ACME-2G"),
    ("ACMEC", "1-5 ACME-2C"),
    ("STUBACME", "1-5 STUB ACME"),
];

const DRYSEAL: &str = "both are from memory: ours takes the truncations of ASME B1.20.3 off the \
                       sharp V, the row has the height of NPT";

const DISPUTED: [(&str, &str); 2] = [
    (
        "NPTF ext_radial_depth_over_P: published 0.800000, ours 0.770025",
        DRYSEAL,
    ),
    (
        "NPTF int_radial_depth_over_P: published 0.800000, ours 0.770025",
        DRYSEAL,
    ),
];

/// The rows whose form is known, with the form and the pitch of the sample.
fn samples() -> impl Iterator<Item = (Row, Form, f64)> {
    rows("families.csv").into_iter().filter_map(|row| {
        let id = row.text("id");
        let (_, sample) = SAMPLES.iter().find(|(known, _)| *known == id)?;
        let thread = parse(sample, None).unwrap();
        Some((row, thread.form(), thread.pitch.mm()))
    })
}

#[test]
fn factors_of_the_pitch() {
    let (mut compared, mut disputed) = (0, Vec::new());
    for (row, form, pitch) in samples() {
        let id = row.text("id");
        let flanks = form.flanks.unwrap();
        // A clearance beside the factor has a column of its own.
        let depth = |side| match row.text("ext_depth_const").starts_with('+') {
            true => form.side(side).depth.design.per_pitch,
            false => form.design_depth(side, pitch) / pitch,
        };
        for (column, ours) in [
            ("included_angle", flanks.included_deg()),
            ("flank_lead_deg", flanks.leading_deg),
            ("flank_trail_deg", flanks.trailing_deg),
            ("H_over_P", flanks.sharp_height()),
            ("ext_radial_depth_over_P", depth(Side::External)),
            ("int_radial_depth_over_P", depth(Side::Internal)),
            ("taper_on_dia", form.taper),
        ] {
            let Some(published) = row.number(column) else {
                continue;
            };
            compared += 1;
            let agrees = (ours - published).abs() < 1e-6;
            if !agrees {
                disputed.push(format!(
                    "{id} {column}: published {published:.6}, ours {ours:.6}"
                ));
            }
        }
    }
    // UNR and R have no internal, Rc and Rp no external thread.
    assert_eq!(compared, 7 * SAMPLES.len() - 4);
    compare_disputes(disputed, &DISPUTED);
}

/// The numbers of a cell such as `flat 5P/16`, `flat 0.370691P - 0.259*...`, `radius 0.137329P` or
/// `radius 0.15011P..0.18042P`, as factors of the pitch.
fn factors(text: &str) -> Vec<f64> {
    let first = text.split(' ').next().unwrap_or_default();
    let parts = first.split("..").map(|part| match part.split_once('P') {
        Some(("", below)) => 1.0 / below.trim_start_matches('/').parse::<f64>().unwrap(),
        Some((above, "")) => above.parse().unwrap(),
        Some((above, below)) => {
            let below: f64 = below.trim_start_matches('/').parse().unwrap();
            above.parse::<f64>().unwrap() / below
        }
        None => panic!("{text} is no factor of P"),
    });
    parts.collect()
}

/// Flats and radii at crests and roots, where the row gives them as factors of the pitch.
#[test]
fn crests_and_roots() {
    let mut compared = 0;
    for (row, form, _) in samples() {
        let ends: [(&str, End); 4] = [
            ("ext_crest", form.external.crest),
            ("ext_root", form.external.root),
            ("int_crest", form.internal.crest),
            ("int_root", form.internal.root),
        ];
        for (column, end) in ends {
            let text = row.text(column);
            let name = format!("{} {column}: {text}, ours {end:?}", row.text("id"));
            if let Some(flat) = text.strip_prefix("flat ").filter(|rest| rest.contains('P')) {
                if flat.starts_with('(') {
                    continue;
                }
                let ours = end.flat.unwrap().per_pitch;
                assert!((ours - factors(flat)[0]).abs() < 1e-6, "{name}");
                compared += 1;
            } else if let Some(radius) = text.strip_prefix("radius ") {
                let published = factors(radius);
                let ours = end.radius.unwrap();
                let near = |ours: f64, published: f64| (ours - published).abs() < 1e-5;
                match published[..] {
                    [least, most] => assert!(
                        near(ours.min.per_pitch, least) && near(ours.max.per_pitch, most),
                        "{name}"
                    ),
                    // `0.125P min` and `0.108253P min` are bounds, the others the drawing.
                    [only] if text.contains("min") => {
                        assert!(near(ours.min.per_pitch, only), "{name}");
                    }
                    [only] => assert!(near(ours.design.per_pitch, only), "{name}"),
                    _ => panic!("{name}"),
                }
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 39);
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
