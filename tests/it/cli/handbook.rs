//! Six designations and what a handbook prints for them.

use serde_json::Value;

use super::*;

const SIX: [&str; 6] = [
    "M24x3-6g",
    "1/2-13 UNC-2A",
    "Tr 40x14(P7)",
    "G 1/2 A",
    "NPT 1/2",
    "NC50",
];

/// The JSON of the six.
fn six() -> Vec<Value> {
    let ran = flankwise(["thread", "--format", "json"].iter().chain(&SIX), b"");
    assert_eq!((ran.exit, ran.err.as_str()), (Exit::Clean, ""));
    let threads = ran.json()["threads"].as_array().unwrap().clone();
    assert_eq!(threads.len(), SIX.len());
    threads
}

/// A number or a band of the document to the last printed digit, in the units given.
fn is(value: &Value, wanted: &[Option<f64>], unit_mm: f64, digit: f64) {
    let got: Vec<Option<f64>> = match value {
        Value::Array(items) => items.iter().map(Value::as_f64).collect(),
        value => vec![value.as_f64()],
    };
    assert_eq!(got.len(), wanted.len(), "{value}");
    for (got, wanted) in got.into_iter().zip(wanted) {
        let near = match (got, *wanted) {
            (Some(got), Some(wanted)) => (got / unit_mm - wanted).abs() <= 0.51 * digit,
            (None, None) => true,
            _ => false,
        };
        assert!(near, "{value} is not {wanted:?}");
    }
}

#[test]
fn all_six_print() {
    let ran = flankwise(["thread"].iter().chain(&SIX), b"");
    assert_eq!((ran.exit, ran.err.as_str()), (Exit::Clean, ""));
    let out = ran.out();
    for heading in [
        "M24x3-6g  ",
        "1/2-13 UNC-2A  ",
        "Tr 40x14(P7)-7e  ",
        "G 1/2 A  ",
        "1/2-14 NPT  ",
        "NC50  ",
    ] {
        let mut lines = out.lines();
        assert!(
            lines.any(|line| line.starts_with(heading)),
            "{heading}\n{out}"
        );
    }
    assert!(out.contains("Prove the program out"), "{out}");
}

/// ISO 965-1 (es -48, Td 375, Td2 200 µm) on the basic diameters of ISO 724: 22.051 and 20.752;
/// the root by ISO 965-1 section 11.
#[test]
fn metric() {
    let m24 = &six()[0];
    is(&m24["major_mm"], &[Some(23.577), Some(23.952)], 1.0, 0.001);
    is(
        &m24["pitch_diameter_mm"],
        &[Some(21.803), Some(22.003)],
        1.0,
        0.001,
    );
    is(&m24["minor_mm"], &[Some(19.955), Some(20.704)], 1.0, 0.001);
    is(&m24["pitch_mm"], &[Some(3.0)], 1.0, 1e-9);
    // tan = 3 / (π · 22.051); best wires 3 / (2 cos 30°).
    is(&m24["lead_angle_deg"], &[Some(2.480)], 1.0, 0.001);
    is(&m24["wires"]["best_mm"], &[Some(1.732)], 1.0, 0.001);
    assert_eq!(m24["unverified"], false);
}

/// ASME B1.1 by hand: T2A = 0.0015 (∛0.5 + √0.5 + 10 (1/13)^⅔) = 0.004964 in; allowance 0.0015,
/// major tolerance 0.0109, 0.75 H = 0.0500.
#[test]
fn unified() {
    let half = &six()[1];
    is(
        &half["major_mm"],
        &[Some(0.4876), Some(0.4985)],
        25.4,
        0.0001,
    );
    is(
        &half["pitch_diameter_mm"],
        &[Some(0.4435), Some(0.4485)],
        25.4,
        0.0001,
    );
    is(&half["lead_mm"], &[Some(1.0 / 13.0)], 25.4, 1e-7);
}

/// ISO 2904: d2 = 36.5, d3 = 32, D1 = 33; two starts of 7. The lead angle is worked in
/// `threads.md` 3: 6.961° (derived).
#[test]
fn trapezoidal() {
    let tr = &six()[2];
    is(&tr["major_mm"], &[Some(39.575), Some(40.0)], 1.0, 0.001);
    assert_eq!((&tr["starts"], &tr["lead_mm"]), (&2.into(), &14.0.into()));
    is(&tr["pitch_mm"], &[Some(7.0)], 1.0, 1e-9);
    is(&tr["minor_mm"][1], &[Some(32.0)], 1.0, 0.001);
    is(&tr["lead_angle_deg"], &[Some(6.961)], 1.0, 0.001);
}

/// ISO 228-1 table 1.
#[test]
fn parallel_pipe() {
    let g = &six()[3];
    is(&g["major_mm"], &[Some(20.671), Some(20.955)], 1.0, 0.001);
    is(
        &g["pitch_diameter_mm"],
        &[Some(19.651), Some(19.793)],
        1.0,
        0.001,
    );
    is(&g["pitch_mm"], &[Some(1.814)], 1.0, 0.001);
}

/// ASME B1.20.1 table 2, whose last digit comes of rounded lengths: E0 .75843, L1 .3200 with E1 .77843, L2 .5337 with E2 .79178 in.
#[test]
fn taper_pipe() {
    let npt = &six()[4]["taper"];
    assert_eq!(npt["one_in"], 16.0);
    let planes = npt["planes"]["planes"].as_array().unwrap();
    for (place, pitch_diameter) in [(0.0, 0.75843), (0.3200, 0.77843), (0.5337, 0.79178)] {
        let plane = planes
            .iter()
            .find(|plane| (plane["place_mm"].as_f64().unwrap() / 25.4 - place).abs() < 6e-5)
            .unwrap_or_else(|| panic!("no plane at {place} in {planes:?}"));
        is(
            &plane["at_mm"]["pitch_diameter"],
            &[Some(pitch_diameter)],
            25.4,
            0.000012,
        );
    }
}

/// API Spec 7-2 table B.1: 4 threads an inch, 2 in a foot, C 5.04170 in at the gauge point 0.625 in
/// from the shoulder, pin base 5.250 in.
#[test]
fn rotary() {
    let nc = &six()[5];
    is(&nc["pitch_mm"], &[Some(0.25)], 25.4, 1e-7);
    assert_eq!(nc["taper"]["one_in"], 6.0);
    let planes = nc["taper"]["planes"]["planes"].as_array().unwrap();
    let gauge = planes.iter().find(|plane| plane["gauge"] == true).unwrap();
    is(
        &gauge["at_mm"]["pitch_diameter"],
        &[Some(5.04170)],
        25.4,
        0.00001,
    );
    let shoulder = planes
        .iter()
        .find(|plane| plane["place_mm"] == 0.0)
        .unwrap();
    is(&shoulder["at_mm"]["major"], &[Some(5.250)], 25.4, 0.0015);
}

/// Every key that a program reading the answer may rely on; ISO 2306 gives 21 mm for M24.
#[test]
fn promised_keys() {
    for thread in six() {
        let keys = [
            "designation",
            "family",
            "major_mm",
            "pitch_diameter_mm",
            "minor_mm",
            "pitch_mm",
            "lead_mm",
            "starts",
            "hand",
            "side",
            "depth_mm",
            "lead_angle_deg",
            "wires",
            "tap_drill_mm",
            "taper",
            "sources",
            "unverified",
        ];
        for key in keys {
            assert!(thread.get(key).is_some(), "{key} in {thread}");
        }
    }
    assert_eq!(six()[0]["tap_drill_mm"], 21.0);
}
