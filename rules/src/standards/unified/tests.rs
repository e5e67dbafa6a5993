use lexer::units::Units;

use crate::standards::Side;
use crate::standards::designation::parse;
use crate::standards::thread::Engagement;

#[test]
fn a_longer_engagement_widens_the_pitch_diameter_only() {
    let table = parse("1/2-13 UNC-2A", None).unwrap();
    let mut long = table.clone();
    long.engagement = Some(Engagement::Length(Units::Inch.length(1.5)));
    let (table, long) = (table.limits(Side::External), long.limits(Side::External));
    assert_eq!(long.pitch.max, table.pitch.max);
    assert!(long.pitch.min < table.pitch.min);
    assert_eq!(long.major, table.major);
    assert!(!long.unverified && long.sources.len() == 2);
}

#[test]
fn lengths_outside_the_sourced_range_say_so() {
    for inches in [0.2, 4.0] {
        let mut thread = parse("1/2-13 UNC-2A", None).unwrap();
        thread.engagement = Some(Engagement::Length(Units::Inch.length(inches)));
        let limits = thread.limits(Side::External);
        assert!(limits.unverified && limits.notes.iter().any(|n| n.contains("memory")));
    }
}

/// The allowance of 1A is that of 2A: 0.3 of the 2A tolerance, not of its own.
#[test]
fn one_allowance_for_two_classes() {
    let top = |class: &str| {
        let thread = parse(&format!("1/4-20 UNC-{class}"), None).unwrap();
        thread.limits(Side::External).major.max
    };
    assert_eq!(top("1A"), top("2A"));
    assert!(top("3A") > top("2A"));
}

#[test]
fn rounded_roots_are_deeper() {
    let flat = parse("1/2-13 UNC-2A", None).unwrap();
    let round = parse("1/2-13 UNRC-2A", None).unwrap();
    assert!(round.basic().root < flat.basic().root);
    let (flat, round) = (flat.limits(Side::External), round.limits(Side::External));
    assert!(round.minor.max < flat.minor.max);
    assert_eq!(round.minor, flat.root);
    assert_eq!(round.pitch, flat.pitch);
}
