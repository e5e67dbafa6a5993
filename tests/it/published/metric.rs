//! ISO metric threads against ISO 965-1 as published.

use lexer::units::{Diameter, Lead, Length};
use rules::standards::designation::parse;
use rules::standards::thread::Thread;
use rules::standards::{Family, Side};

use super::table::{Row, cells, compare_disputes, rows};

/// Cells where the source is wrong or rounds otherwise, and why we say so.
const DISPUTED: [(&str, &str); 1] = [(
    "M12x1.75-6g pitch_min: published 10.674, ours 10.679",
    "the table of ISO 965-1 gives Td2 = 0.150 (10.829 - 0.150); no tolerance gives 0.155",
)];

/// How far a cell may lie off: datasets that hold four figures or inches converted to mm cannot be
/// nearer than this; everything else must be equal to 0.001 mm.
fn rounding(row: &Row) -> f64 {
    match row.text("status") {
        status if status.starts_with("open dataset, agrees") => 0.0015,
        "package data" => 0.0015,
        _ => 0.0005,
    }
}

#[test]
fn limits_of_published_rows() {
    let (mut disputed, mut aerospace, mut compared) = (Vec::new(), 0, 0);
    for row in rows("metric_limits.csv") {
        let class = row.text("class");
        let name = format!("{}-{class}", row.text("designation"));
        let thread = parse(&name, None).unwrap();
        assert_eq!(Some(thread.major.mm()), row.number("d_mm"), "{name}");
        assert_eq!(Some(thread.pitch.mm()), row.number("pitch_mm"), "{name}");
        assert_eq!(thread.side, Some(row.side()), "{name}");
        let limits = thread.limits(row.side());
        assert!(
            !limits.class_assumed && !limits.sources.is_empty(),
            "{name}"
        );
        for (column, mut ours) in cells(&limits) {
            // ISO 965-1 sets no upper bound; the dataset gives the largest root instead.
            if column == "major_max" && row.side() == Side::Internal && row.text("form") == "M" {
                assert_eq!(ours, None);
                ours = limits.root.max;
            }
            let Some(published) = row.number(column) else {
                continue;
            };
            compared += 1;
            aerospace += usize::from(row.text("form") == "MJ");
            let ours = ours.unwrap_or(f64::NAN);
            let agrees = (ours - published).abs() <= rounding(&row);
            if !agrees {
                disputed.push(format!(
                    "{name} {column}: published {published:.3}, ours {ours:.3}"
                ));
            }
        }
    }
    assert_eq!((compared, aerospace), (1649, 11));
    compare_disputes(disputed, &DISPUTED);
}

/// Every pair of the series reads, is listed, and prints back.
#[test]
fn series() {
    for row in rows("metric_series.csv") {
        let name = format!("M{}x{}", row.text("d_mm"), row.text("pitch_mm"));
        let thread = parse(&name, None).unwrap();
        let listed = thread
            .listed()
            .unwrap_or_else(|| panic!("{name} is not listed"));
        assert!(row.text("series").starts_with(listed.series), "{name}");
        assert_eq!(parse(&thread.designation(), None).unwrap(), thread);
        if listed.series == "coarse" {
            let bare = parse(&format!("M{}", row.text("d_mm")), None).unwrap();
            assert_eq!(bare.pitch, thread.pitch, "{name}");
        }
    }
}

fn sized(major: &str, pitch_mm: f64, side: Side, class: String) -> Thread {
    let major = Diameter::from_mm(major.parse().unwrap());
    let pitch = Lead::per_turn(Length::from_mm(pitch_mm));
    let mut thread = Thread::new(Family::Metric, "", major, pitch);
    match side {
        Side::External => thread.external = Some(class),
        Side::Internal => thread.internal = Some(class),
    }
    thread
}

/// Every cell of the tolerance tables of ISO 965-1, seen through the limits of a thread at the
/// upper end of its range of diameters; empty cells give no limit.
#[test]
fn pitch_diameter_tolerances() {
    let mut compared = 0;
    for row in rows("iso965_1_Td2_TD2.csv") {
        let pitch = row.number("pitch_mm").unwrap();
        let grades = (3..=9).map(|grade| (Side::External, "Td2", 'h', grade));
        let grades = grades.chain((4..=8).map(|grade| (Side::Internal, "TD2", 'H', grade)));
        for (side, what, letter, grade) in grades {
            let class = format!("{grade}{letter}6{letter}");
            let thread = sized(
                row.text("upto_mm"),
                pitch,
                side,
                class.replace("6h6h", "6h"),
            );
            let limits = thread.limits(side);
            let width = limits
                .pitch
                .max
                .zip(limits.pitch.min)
                .map(|(max, min)| max - min);
            let published = row.number(&format!("{what}_{grade}")).map(|um| um / 1000.0);
            let close = match (width, published) {
                // Both ends are rounded to 0.001 mm.
                (Some(width), Some(published)) => (width - published).abs() < 0.0011,
                (None, None) => true,
                _ => false,
            };
            assert!(
                close,
                "{} {class}: {width:?} {published:?}",
                thread.designation()
            );
            compared += usize::from(published.is_some());
        }
    }
    assert_eq!(compared, 501);
}

/// The same for what depends on the pitch alone: deviations, Td and TD1.
#[test]
fn deviations_and_crest_tolerances() {
    let mut compared = 0;
    for row in rows("iso965_1_by_pitch.csv") {
        let pitch = row.number("pitch_mm").unwrap();
        // A diameter whose own digits do not disturb the comparison.
        let major = "50";
        let mut check = |column: &str, ours: Option<f64>| {
            let published = row.number(column).map(|um| um / 1000.0);
            let close = match (ours, published) {
                (Some(ours), Some(published)) => (ours - published).abs() < 0.0011,
                (None, None) => true,
                _ => false,
            };
            assert!(close, "pitch {pitch} {column}: {ours:?} {published:?}");
            compared += usize::from(published.is_some());
        };
        for letter in ['e', 'f', 'g'] {
            let thread = sized(major, pitch, Side::External, format!("6{letter}"));
            let major_max = thread.limits(Side::External).major.max;
            check(&format!("es_{letter}_um"), major_max.map(|d| d - 50.0));
        }
        let thread = sized(major, pitch, Side::Internal, "6G".to_owned());
        let major_min = thread.limits(Side::Internal).major.min;
        check("EI_G_um", major_min.map(|d| d - 50.0));
        for grade in [4, 6, 8] {
            let class = format!("6h{grade}h").replace("6h6h", "6h");
            let major = sized(major, pitch, Side::External, class)
                .limits(Side::External)
                .major;
            check(&format!("Td{grade}"), major.min.map(|d| 50.0 - d));
        }
        for grade in 4..=8 {
            let class = format!("6H{grade}H").replace("6H6H", "6H");
            let minor = sized(major, pitch, Side::Internal, class)
                .limits(Side::Internal)
                .minor;
            let width = minor.max.zip(minor.min).map(|(max, min)| max - min);
            check(&format!("TD1_{grade}"), width);
        }
    }
    assert_eq!(compared, 262);
}
