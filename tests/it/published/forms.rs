//! Thread forms against the published factors of the pitch, family by family.

use rules::standards::designation::parse;
use rules::standards::form::{End, Flank, Flanks};
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

/// Flats and radii at crests and roots of the triangular and the Acme forms, where the row gives
/// them as factors of the pitch.
#[test]
fn crests_and_roots_of_triangles_and_acme() {
    let mut compared = 0;
    for row in rows("families.csv") {
        let id = row.text("id");
        // The first samples, up to stub Acme.
        let Some((_, sample)) = SAMPLES[..17].iter().find(|(known, _)| *known == id) else {
            continue;
        };
        let form = parse(sample, None).unwrap().form();
        let ends: [(&str, End); 4] = [
            ("ext_crest", form.external.crest),
            ("ext_root", form.external.root),
            ("int_crest", form.internal.crest),
            ("int_root", form.internal.root),
        ];
        for (column, end) in ends {
            let text = row.text(column);
            let name = format!("{} {column}: {text}, ours {end:?}", id);
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

/// NPTF: the row has the height of NPT, from memory. Ours, from memory too, takes the truncations of
/// ASME B1.20.3 off the sharp V, which cut more off than those of NPT.
#[test]
fn height_of_dryseal_threads() {
    let rows = rows("families.csv");
    let row = rows.iter().find(|row| row.text("id") == "NPTF").unwrap();
    assert!(row.text("source").contains("memory"));
    let thread = parse("1/2-14 NPTF", None).unwrap();
    for (side, column) in [
        (Side::External, "ext_radial_depth_over_P"),
        (Side::Internal, "int_radial_depth_over_P"),
    ] {
        let ours = thread.form().design_depth(side, thread.pitch.mm()) / thread.pitch.mm();
        assert!((ours - (0.866_025 - 0.036 - 0.060)).abs() < 1e-6);
        assert_eq!(row.number(column), Some(0.8));
    }
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
