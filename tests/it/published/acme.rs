//! Acme threads against ASME B1.5 as published.

use rules::standards::Side;
use rules::standards::designation::parse;

use super::table::{cells, compare_disputes, rows};

/// Non-standard pairs of a dimension page: as its rows say, it takes allowance and tolerance of the
/// standard size with that pitch. ASME B1.5 gives the allowance by ranges of diameters.
const PAGE: [&str; 16] = [
    "1-1/8-4 ACME-2G external minor_min: published 0.8219, ours 0.8230",
    "1-1/8-4 ACME-2G external pitch_max: published 0.9902, ours 0.9915",
    "1-1/8-4 ACME-2G external pitch_min: published 0.9679, ours 0.9701",
    "1-10 ACME-2G external pitch_min: published 0.9264, ours 0.9265",
    "1-6 ACME-2G external minor_min: published 0.7871, ours 0.7859",
    "1-6 ACME-2G external pitch_max: published 0.9098, ours 0.9087",
    "1-6 ACME-2G external pitch_min: published 0.8929, ours 0.8905",
    "3/4-8 ACME-2G external minor_min: published 0.5820, ours 0.5813",
    "3/4-8 ACME-2G external pitch_max: published 0.6812, ours 0.6806",
    "3/4-8 ACME-2G external pitch_min: published 0.6658, ours 0.6648",
    "5/8-10 ACME-2G external minor_min: published 0.4844, ours 0.4837",
    "5/8-10 ACME-2G external pitch_max: published 0.5693, ours 0.5687",
    "5/8-10 ACME-2G external pitch_min: published 0.5556, ours 0.5545",
    "7/8-5 ACME-2G external minor_min: published 0.6259, ours 0.6265",
    "7/8-5 ACME-2G external pitch_max: published 0.7670, ours 0.7675",
    "7/8-5 ACME-2G external pitch_min: published 0.7476, ours 0.7485",
];

/// Computed rows whose source takes the allowance of the diameter itself: ASME B1.5 takes that of
/// the middle of the range, 0.0040 for 3/16 to 5/16 in.
const RANGE: [&str; 21] = [
    "0.3125-14 ACME-2G external pitch_max: published 0.2723, ours 0.2728",
    "0.3125-14 ACME-2G external pitch_min: published 0.2609, ours 0.2614",
    "0.3125-14 ACME-4G external pitch_max: published 0.2745, ours 0.2748",
    "0.3125-14 ACME-4G external pitch_min: published 0.2708, ours 0.2710",
    "0.4375-12 ACME-2G external pitch_max: published 0.3905, ours 0.3909",
    "0.4375-12 ACME-2G external pitch_min: published 0.3779, ours 0.3783",
    "0.4375-12 ACME-3G external pitch_max: published 0.3919, ours 0.3921",
    "0.4375-12 ACME-3G external pitch_min: published 0.3860, ours 0.3862",
    "0.4375-12 ACME-4G external pitch_max: published 0.3932, ours 0.3934",
    "0.4375-12 ACME-4G external pitch_min: published 0.3890, ours 0.3892",
    "1.75-4 ACME-4G external pitch_max: published 1.6197, ours 1.6198",
    "1.75-4 ACME-4G external pitch_min: published 1.6121, ours 1.6122",
    "3-2 ACME-3G external pitch_max: published 2.7396, ours 2.7395",
    "3-2 ACME-3G external pitch_min: published 2.7249, ours 2.7248",
    "3-2 ACME-4G external pitch_max: published 2.7431, ours 2.7430",
    "5-2 ACME-2G external pitch_max: published 4.7321, ours 4.7319",
    "5-2 ACME-2G external pitch_min: published 4.6975, ours 4.6973",
    "5-2 ACME-3G external pitch_max: published 4.7366, ours 4.7364",
    "5-2 ACME-3G external pitch_min: published 4.7204, ours 4.7202",
    "5-2 ACME-4G external pitch_max: published 4.7411, ours 4.7409",
    "5-2 ACME-4G external pitch_min: published 4.7295, ours 4.7294",
];

/// Computed rows whose source adds unrounded parts: the tables of ASME B1.5 print allowances,
/// tolerances and basic diameters to four decimals, 0.0062 for 0.05 P at 8 threads per inch.
const ROUNDED: [&str; 27] = [
    "0.25-16 ACME-4G external minor_min: published 0.1723, ours 0.1722",
    "0.375-12 ACME-2G internal pitch_max: published 0.3457, ours 0.3456",
    "0.375-12 ACME-3G external minor_min: published 0.2730, ours 0.2731",
    "0.375-12 ACME-3G external pitch_max: published 0.3297, ours 0.3296",
    "0.375-12 ACME-3G external pitch_min: published 0.3239, ours 0.3238",
    "0.4375-12 ACME-2G external minor_min: published 0.3252, ours 0.3253",
    "0.4375-12 ACME-2G internal pitch_max: published 0.4085, ours 0.4084",
    "0.4375-12 ACME-3G external minor_min: published 0.3353, ours 0.3354",
    "0.625-8 ACME-4G internal minor_max: published 0.5063, ours 0.5062",
    "0.75-6 ACME-2G external minor_min: published 0.5372, ours 0.5371",
    "0.75-6 ACME-2G external pitch_max: published 0.6597, ours 0.6598",
    "0.75-6 ACME-2G external pitch_min: published 0.6423, ours 0.6424",
    "0.75-6 ACME-2G internal minor_max: published 0.5917, ours 0.5916",
    "0.875-6 ACME-4G external pitch_max: published 0.7879, ours 0.7880",
    "0.875-6 ACME-4G internal minor_max: published 0.7167, ours 0.7166",
    "0.875-6 ACME-4G internal pitch_max: published 0.7976, ours 0.7977",
    "1.25-5 ACME-2G external pitch_min: published 1.1209, ours 1.1210",
    "1.5-4 ACME-3G external pitch_min: published 1.3572, ours 1.3573",
    "2-4 ACME-3G external pitch_min: published 1.8556, ours 1.8555",
    "2.25-3 ACME-2G internal minor_max: published 1.9333, ours 1.9334",
    "2.25-3 ACME-2G internal pitch_max: published 2.1097, ours 2.1096",
    "2.5-3 ACME-3G internal minor_max: published 2.1833, ours 2.1834",
    "2.75-3 ACME-3G internal minor_max: published 2.4333, ours 2.4334",
    "2.75-3 ACME-3G internal pitch_max: published 2.5961, ours 2.5960",
    "2.75-3 ACME-4G external minor_min: published 2.3830, ours 2.3831",
    "2.75-3 ACME-4G internal minor_max: published 2.4333, ours 2.4334",
    "3.5-2 ACME-3G external pitch_min: published 3.2236, ours 3.2237",
];

/// Limits of published and of computed rows, in inches to four decimals.
#[test]
fn limits_of_published_rows() {
    let (mut disputed, mut compared) = (Vec::new(), 0);
    for row in rows("acme_limits.csv") {
        let name = row.text("designation");
        let thread = parse(name, None).unwrap();
        let inches = thread.major.mm() / 25.4;
        assert!(
            (inches - row.number("d_in").unwrap()).abs() < 1e-9,
            "{name}"
        );
        let tpi = 25.4 / thread.pitch.mm();
        assert!((tpi - row.number("tpi").unwrap()).abs() < 1e-9, "{name}");
        let side = row.side();
        assert_eq!(thread.class(side), row.text("class"));
        let limits = thread.limits(side);
        assert!(!limits.class_assumed && !limits.sources.is_empty());
        for (column, ours) in cells(&limits) {
            let published = row.number(column).unwrap();
            compared += 1;
            let ours = ours.unwrap_or(f64::NAN) / 25.4;
            let agrees = (ours - published).abs() < 0.000_05;
            if !agrees {
                disputed.push(format!(
                    "{name} {} {column}: published {published:.4}, ours {ours:.4}",
                    side.name()
                ));
            }
        }
    }
    assert_eq!(compared, 612);
    let reasons = [
        (&PAGE[..], "the source takes another size's tolerance"),
        (&RANGE, "the source takes no range of diameters"),
        (&ROUNDED, "the source does not round the parts"),
    ];
    let known = reasons.map(|(cells, why)| cells.iter().map(move |cell| (*cell, why)));
    let known: Vec<_> = known.into_iter().flatten().collect();
    compare_disputes(disputed, &known);
}

/// A number in 1e-4 in.
fn tenths(mm: f64) -> i64 {
    (mm / 25.4 * 10_000.0).round() as i64
}

/// ASME B1.5 table 10: the allowance of the pitch diameter at the middle and the upper end of every
/// range of diameters.
#[test]
fn allowances_by_range() {
    let mut compared = 0;
    for row in rows("acme_allowances.csv") {
        let (from, to) = (row.number("from_in").unwrap(), row.number("to_in").unwrap());
        for inches in [(from + to) / 2.0, to] {
            for (column, digit) in [("class_2", 2), ("class_3", 3), ("class_4", 4)] {
                for letter in ['G', 'C'] {
                    let name = format!("{inches:.5}-40 ACME-{digit}{letter}");
                    let thread = parse(&name, None).unwrap();
                    let screw = thread.limits(Side::External).pitch.max.unwrap();
                    let nut = thread.limits(Side::Internal).pitch.min.unwrap();
                    let published = (row.number(column).unwrap() * 10_000.0).round() as i64;
                    assert_eq!(tenths(nut - screw), published, "{name}");
                    compared += 1;
                }
            }
        }
    }
    assert_eq!(compared, 20 * 12);
}

/// ASME B1.5 table 12: what centralizing threads have otherwise.
#[test]
fn centralizing() {
    let mut compared = 0;
    for row in rows("acme_centralizing.csv") {
        let limits = |class: &str, side| {
            let name = format!("{}-{} ACME-{class}", row.text("size"), row.text("tpi"));
            parse(&name, None).unwrap().limits(side)
        };
        let thread = parse(&format!("{} ACME", row.text("size")), None).unwrap();
        let basic = thread.basic();
        let mut check = |column: &str, ours: f64| {
            let published = row.number(column).unwrap() * 10_000.0;
            assert_eq!(tenths(ours), published.round() as i64, "{column}");
            compared += 1;
        };
        let width = |band: rules::standards::limits::Band| band.max.unwrap() - band.min.unwrap();
        let screw = |class| limits(class, Side::External);
        let nut = |class| limits(class, Side::Internal);
        check(
            "minor_allowance_ext",
            basic.minor - screw("2C").minor.max.unwrap(),
        );
        check(
            "major_allowance_int",
            nut("2C").major.min.unwrap() - basic.major,
        );
        check("minor_plus_int", nut("3C").minor.min.unwrap() - basic.minor);
        check("minor_tol_int", width(nut("4C").minor));
        check("tol_2c", width(screw("2C").major));
        check("tol_2c", width(nut("2C").major));
        check("tol_3c_ext", width(screw("3C").major));
        check("tol_3c_int", width(nut("3C").major));
        check("tol_4c_ext", width(screw("4C").major));
        check("tol_4c_int", width(nut("4C").major));
    }
    assert_eq!(compared, 7 * 10);
}

/// ASME B1.8, Machinery's Handbook 27 table 13: total height and flats of stub Acme at 10 threads
/// per inch; B1.5 table 1 the same of Acme.
#[test]
fn forms_of_ten_threads_per_inch() {
    for (name, height, crest, root) in [
        ("1/2-10 ACME", 0.0600, 0.0371, 0.0319),
        ("1/2-10 STUB ACME", 0.0400, 0.0422, 0.0370),
        ("1/2-16 ACME", 0.0362, 0.0232, 0.0206),
        ("1/2-16 STUB ACME", 0.0238, 0.0264, 0.0238),
        ("3-2 ACME", 0.2600, 0.1853, 0.1802),
    ] {
        let thread = parse(name, None).unwrap();
        let (form, pitch) = (thread.form(), thread.pitch.mm());
        let near = |mm: f64, inch: f64| (mm / 25.4 - inch).abs() < 0.000_11;
        assert!(
            near(form.design_depth(Side::External, pitch), height),
            "{name}"
        );
        assert!(
            near(form.external.crest.flat.unwrap().at(pitch), crest),
            "{name}"
        );
        assert!(
            near(form.internal.root.flat.unwrap().at(pitch), root),
            "{name}"
        );
    }
}
