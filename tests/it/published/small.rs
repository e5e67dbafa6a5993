//! BA, Pg, Edison and round threads: sizes from memory, each with its source in the table.

use rules::standards::Side;
use rules::standards::designation::parse;

use super::table::{Row, rows};

/// The number before a unit: `6.0 mm`, `20 tpi`.
fn leading(text: &str) -> f64 {
    text.split_whitespace().next().unwrap().parse().unwrap()
}

/// A value with its digits in a cell like `d2=5.400 d1=4.800`.
fn named(row: &Row, name: &str) -> Option<(f64, f64)> {
    let words = row.text("derived").split_whitespace();
    let text = words
        .filter_map(|word| word.split_once('='))
        .find(|(key, _)| *key == name)?
        .1;
    let decimals = text.split_once('.').map_or(0, |(_, digits)| digits.len());
    let half = 0.5 / 10f64.powi(i32::try_from(decimals).unwrap());
    Some((text.parse().unwrap(), half + 1e-9))
}

#[test]
fn sizes_to_the_last_digit() {
    let mut compared = 0;
    for row in rows("sizes_ba_pg_e_rd.csv") {
        let name = row.text("designation");
        // `Rd 8..12` is a range; both its ends are tried.
        let ends = name
            .strip_prefix("Rd ")
            .and_then(|range| range.split_once(".."));
        if let Some((from, to)) = ends {
            for d in [from, to] {
                let count = leading(row.text("pitch"));
                let thread = parse(&format!("Rd {d}x1/{count}"), None).unwrap();
                assert!(thread.is_standard_size(), "{name}");
                let (pitch, half) = named(&row, "P").unwrap();
                assert!((thread.pitch.mm() - pitch).abs() <= half, "{name}");
                compared += 2;
            }
            continue;
        }
        let thread = parse(name, None).unwrap();
        assert!(thread.is_standard_size(), "{name}");
        let (basic, p) = (thread.basic(), thread.pitch.mm());
        assert_eq!(thread.major.mm(), leading(row.text("nominal")), "{name}");
        let pitch = leading(row.text("pitch"));
        let per_inch = row.text("pitch").ends_with("tpi");
        let pitch = if per_inch { 25.4 / pitch } else { pitch };
        assert!((p - pitch).abs() < 1e-9, "{name}");
        compared += 2;
        let depth = thread.form().design_depth(Side::External, p);
        for (column, ours) in [
            ("d2", basic.pitch),
            ("d1", basic.minor),
            ("P", p),
            ("h", depth),
        ] {
            if let Some((published, half)) = named(&row, column) {
                assert!(
                    (ours - published).abs() <= half,
                    "{name} {column}: {ours} {published}"
                );
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 10 * 5 + 11 * 4 + 4 * 2 + 4 * 4);
}
