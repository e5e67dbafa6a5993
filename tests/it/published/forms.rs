//! Thread forms against the published factors of the pitch, family by family.

use rules::standards::designation::parse;
use rules::standards::form::{Flank, Flanks};
use rules::standards::{FAMILIES, Side};

use super::table::{Row, fraction, rows};

/// A thread of each form that is known.
const SAMPLES: [(&str, &str); 31] = [
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
    ("TR", "Tr 40x7"),
    ("SAW", "S 40x7"),
    ("BUTT", "2 1/2-8 BUTT"),
    ("RD", "Rd 40x1/6"),
    ("BA", "2 BA"),
    ("PG", "Pg 16"),
    ("SQ", "Sq 40x6"),
    ("APIRD", "7 LTC"),
    ("APIBUT", "9 5/8 BTC"),
    ("RSC38", "NC50"),
    ("RSC40", "3 1/2 REG"),
    ("RSC50", "6 5/8 REG"),
    ("KM", "MK 20x1.5"),
    ("E", "E27"),
];

/// The numbers of a cell: one, or for a taper all that the family has, as in `1/6 or 1/4`.
fn published(row: &Row, column: &str) -> Vec<f64> {
    if column != "taper_on_dia" {
        return match row.text(column) {
            "n/a" => Vec::new(),
            _ => row.number(column).into_iter().collect(),
        };
    }
    let words = row.text(column).split_whitespace();
    let numbers = words.filter(|word| word.starts_with(|c: char| c.is_ascii_digit()));
    numbers.map(|word| fraction(word).unwrap()).collect()
}

/// The angle of the flank that carries the load; the tables call it the leading one.
fn load_flank(flanks: Flanks) -> (f64, f64) {
    match flanks.pressure {
        Some(Flank::Following) => (flanks.trailing_deg, flanks.leading_deg),
        _ => (flanks.leading_deg, flanks.trailing_deg),
    }
}

#[test]
fn factors_of_the_pitch() {
    let mut compared = 0;
    for row in rows("families.csv") {
        let id = row.text("id");
        let Some((_, sample)) = SAMPLES.iter().find(|(known, _)| *known == id) else {
            continue;
        };
        let form = parse(sample, None).unwrap().form();
        let angles = form.flanks.map(load_flank);
        let sharp = form.sharp_height_mm(1.0);
        for (column, ours) in [
            ("included_angle", form.flanks.map(Flanks::included_deg)),
            ("flank_lead_deg", angles.map(|(load, _)| load)),
            ("flank_trail_deg", angles.map(|(_, clear)| clear)),
            ("H_over_P", sharp),
            (
                "ext_radial_depth_over_P",
                Some(form.external.depth.design.per_pitch),
            ),
            (
                "int_radial_depth_over_P",
                Some(form.internal.depth.design.per_pitch),
            ),
            ("taper_on_dia", Some(form.taper)),
        ] {
            let published = published(&row, column);
            if published.is_empty() {
                continue;
            }
            let ours = ours.unwrap();
            assert!(
                published.iter().any(|one| (ours - one).abs() < 1e-6),
                "{id} {column}: {ours} {published:?}"
            );
            compared += 1;
        }
    }
    // UNR and R have no internal, Rc and Rp no external thread; square has no sharp V, Edison
    // nothing but its taper of 0, the fixed heights of casing and of three shouldered forms stand
    // in tables of their own.
    assert_eq!(compared, 7 * SAMPLES.len() - 4 - 1 - 6 - 2 - 3 * 2);
}

/// Flats and radii at crest and root where the table has a plain factor for them.
#[test]
fn crests_and_roots() {
    let mut compared = 0;
    for row in rows("families.csv") {
        let id = row.text("id");
        if !["TR", "SAW", "BUTT", "RD", "BA", "PG", "SQ"].contains(&id) {
            continue;
        }
        let (_, sample) = SAMPLES.iter().find(|(known, _)| *known == id).unwrap();
        let form = parse(sample, None).unwrap().form();
        for (column, end) in [
            ("ext_crest", form.external.crest),
            ("ext_root", form.external.root),
            ("int_crest", form.internal.crest),
            ("int_root", form.internal.root),
        ] {
            let text = row.text(column);
            let factor = text.split(|c: char| !c.is_ascii_digit() && c != '.');
            let factor = factor
                .filter_map(|number| number.parse::<f64>().ok())
                .next();
            let ours = match text.split_whitespace().next() {
                Some("flat") => end.flat.map(|flat| flat.per_pitch),
                Some("radius" | "R") => end.radius.map(|radius| radius.design.per_pitch),
                _ => None,
            };
            let factor = if text.contains("P/2") {
                Some(0.5)
            } else {
                factor
            };
            let (Some(ours), Some(factor)) = (ours, factor) else {
                assert!(
                    text.is_empty() || text == "same" || text.contains("R1/R2"),
                    "{id} {text}"
                );
                continue;
            };
            assert!((ours - factor).abs() < 1e-6, "{id} {column}: {ours} {text}");
            compared += 1;
        }
    }
    assert_eq!(compared, 19);
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
