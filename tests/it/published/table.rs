//! Tables in `tests/data/threads`: comma-separated, with a header line and a `source` column.

use std::collections::HashMap;
use std::path::Path;

use rules::standards::Side;
use rules::standards::limits::{Band, Limits};

/// One line of a table by its column names.
pub(super) struct Row(HashMap<String, String>);

/// Reads a table.
pub(super) fn rows(name: &str) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("data/threads")
        .join(name);
    let mut reader = csv::Reader::from_path(path).unwrap();
    let rows: Vec<Row> = reader.deserialize().map(|row| Row(row.unwrap())).collect();
    assert!(!rows.is_empty(), "{name} is empty");
    rows
}

/// A number or a fraction.
pub(super) fn fraction(text: &str) -> Option<f64> {
    match text.split_once('/') {
        Some((above, below)) => Some(above.parse::<f64>().ok()? / below.parse::<f64>().ok()?),
        None => text.parse().ok(),
    }
}

impl Row {
    pub(super) fn text(&self, column: &str) -> &str {
        self.0
            .get(column)
            .unwrap_or_else(|| panic!("no column {column}"))
    }

    /// The number in a cell, `1/16` counted out, `None` where it is empty.
    pub(super) fn number(&self, column: &str) -> Option<f64> {
        let text = self.text(column);
        if text.contains('/') {
            return Some(fraction(text).unwrap());
        }
        (!text.is_empty()).then(|| text.parse().unwrap())
    }

    pub(super) fn side(&self) -> Side {
        match self.text("side") {
            "external" => Side::External,
            "internal" => Side::Internal,
            other => panic!("no side {other}"),
        }
    }
}

/// The cells of a table of limits with what was computed for them.
pub(super) fn cells(limits: &Limits) -> Vec<(&'static str, Option<f64>)> {
    let of = |band: Band| (band.max, band.min);
    let (major, pitch) = (of(limits.major), of(limits.pitch));
    let minor = of(limits.minor);
    vec![
        ("major_max", major.0),
        ("major_min", major.1),
        ("pitch_max", pitch.0),
        ("pitch_min", pitch.1),
        ("minor_max", minor.0),
        ("minor_min", minor.1),
    ]
}

/// Fails with both lists when the disputed cells are not the ones that are known and explained.
pub(super) fn compare_disputes(mut found: Vec<String>, known: &[(&str, &str)]) {
    found.sort();
    let mut expected: Vec<String> = known.iter().map(|(cell, _)| (*cell).to_owned()).collect();
    expected.sort();
    assert!(known.iter().all(|(_, why)| !why.is_empty()));
    assert_eq!(found, expected, "the set of disputed cells has changed");
}
