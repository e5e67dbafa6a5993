//! The demo shop: planted faults are found with their sums, sound programs stay silent.

use std::path::Path;

use super::{Exit, flankwise};

const SHOP: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../corpus/shop");

/// Programs without a fault; the wear ring has peck drilling, a turning cycle and an oil groove,
/// the flange a preset and fine boring.
const SOUND: [&str; 7] = [
    "flange-bolt-circle.nc",
    "gland-nut.nc",
    "impeller-nut.ngc",
    "lifting-screw.nc",
    "pump-shaft.nc",
    "seat-ring.nc",
    "wear-ring.nc",
];

/// What was planted, by program.
const PLANTED: [(&str, &[&str]); 5] = [
    ("bonnet-nut.nc", &["depth-scale"]),
    ("coupling-spacer.nc", &["designation-conflict"]),
    (
        "gland-stud.nc",
        &["equal-depth-passes", "rpm-changes-between-passes"],
    ),
    ("packing-sleeve.nc", &["depth-vs-form", "run-in-short"]),
    (
        "valve-spindle.nc",
        &["depth-vs-form", "surface-speed-in-thread"],
    ),
];

#[test]
fn the_shop_as_text() {
    let ran = flankwise(["check", SHOP], b"");
    assert_eq!(ran.exit, Exit::Findings);
    insta::assert_snapshot!(ran.out().replace(&format!("{SHOP}/"), ""));
}

#[test]
fn every_planted_fault_and_nothing_else() {
    let mut names: Vec<_> = SOUND.iter().map(|name| (*name, &[][..])).collect();
    names.extend(PLANTED);
    names.sort_unstable();
    let ran = flankwise(["check", "--format", "json", SHOP], b"");
    let json = ran.json();
    let files = json["files"].as_array().unwrap();
    assert_eq!(files.len(), names.len());
    for (file, (name, rules)) in files.iter().zip(names) {
        let path = Path::new(file["path"].as_str().unwrap());
        assert_eq!(path.file_name().unwrap(), name);
        let mut found: Vec<_> = file["findings"]
            .as_array()
            .unwrap()
            .iter()
            .map(|finding| finding["rule"].as_str().unwrap())
            .collect();
        found.sort_unstable();
        assert_eq!(found, rules, "{name}");
    }
}

#[test]
fn every_pass_of_a_two_block_cycle() {
    let ran = flankwise(["passes", &format!("{SHOP}/pump-shaft.nc")], b"");
    assert_eq!(ran.exit, Exit::Clean);
    insta::assert_snapshot!(ran.out().replace(&format!("{SHOP}/"), ""));
}
