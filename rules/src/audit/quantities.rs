//! How many parts of each program are made: a CSV keyed by program.
//!
//! Columns by name, in any order: `program`, and of `parts_per_batch`, `batches_per_year`,
//! `parts_per_year`, `rate_per_hour`, `bottleneck`, `currency` those that are known; an empty cell is not known.
//! The separator is the comma, the semicolon or the tab, whichever the first line has most of.

mod names;

use lexer::source::decode;

pub use self::names::Named;
use self::names::{Index, file_name};

use crate::facts::Production;
use crate::nearest::nearest;

/// The columns that are read.
pub const COLUMNS: [&str; 7] = [
    "program",
    "parts_per_batch",
    "batches_per_year",
    "parts_per_year",
    "rate_per_hour",
    "bottleneck",
    "currency",
];

/// Largest quantity and rate; anything above is a slip.
const MOST: f64 = 1e9;

/// What is known of the parts of one program.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Quantity {
    /// Parts in a batch.
    pub parts_per_batch: Option<f64>,
    /// Batches in a year.
    pub batches_per_year: Option<f64>,
    /// Parts in a year.
    pub parts_per_year: Option<f64>,
    /// Price of a machine hour.
    pub rate_per_hour: Option<f64>,
    /// Whether the machine is what holds the shop up.
    pub bottleneck: Option<bool>,
    /// Currency of the price.
    pub currency: Option<String>,
    /// What states it: `parts.csv:3`, `flankwise.toml: production`; empty where nothing does.
    pub from: String,
}

impl Quantity {
    /// What the configuration states.
    #[must_use]
    pub fn of(production: &Production) -> Quantity {
        let batches = production.batches_per_year;
        Quantity {
            parts_per_batch: production.parts_per_batch,
            batches_per_year: batches,
            parts_per_year: production.parts_per_batch.zip(batches).map(|(a, b)| a * b),
            rate_per_hour: production.rate_per_hour,
            bottleneck: production.bottleneck,
            currency: production.currency.clone(),
            from: production.source.clone(),
        }
    }

    /// What a row states, the rest from what the configuration does. Parts a year that the row
    /// states hold before batches that it does not.
    #[must_use]
    pub fn over(&self, below: &Quantity) -> Quantity {
        let batch = self.parts_per_batch.or(below.parts_per_batch);
        let (batches, year) = match (self.batches_per_year, self.parts_per_year) {
            (None, Some(year)) => {
                let batches = batch.filter(|batch| *batch > 0.0).map(|batch| year / batch);
                (batches, Some(year))
            }
            (stated, year) => {
                let batches = stated.or(below.batches_per_year);
                (batches, year.or(batch.zip(batches).map(|(a, b)| a * b)))
            }
        };
        Quantity {
            parts_per_batch: batch,
            batches_per_year: batches,
            parts_per_year: year,
            rate_per_hour: self.rate_per_hour.or(below.rate_per_hour),
            bottleneck: self.bottleneck.or(below.bottleneck),
            currency: self.currency.clone().or_else(|| below.currency.clone()),
            from: self.from.clone(),
        }
    }

    /// In the shape that [`crate::cut::money`] reckons with. Parts a year without a size of a batch
    /// are one batch; its hours are then left out by the caller.
    #[must_use]
    pub fn production(&self) -> Production {
        let (parts, batches) = match (self.parts_per_batch, self.parts_per_year) {
            (None, Some(year)) => (Some(year), Some(1.0)),
            (batch, _) => (batch, self.batches_per_year),
        };
        Production {
            parts_per_batch: parts,
            batches_per_year: batches,
            currency: self.currency.clone(),
            rate_per_hour: self.rate_per_hour,
            bottleneck: self.bottleneck,
            utilisation: None,
            source: self.from.clone(),
        }
    }
}

/// A row.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Line in the file, from 1.
    pub line: u64,
    /// The program as written.
    pub program: String,
    /// What the row states.
    pub quantity: Quantity,
}

/// A file of quantities.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Quantities {
    /// As messages call it.
    pub name: String,
    /// The rows in order.
    pub rows: Vec<Row>,
    /// Columns that are not read.
    pub unused: Vec<String>,
}

impl Quantities {
    /// Reads a file; `name` is how messages call it.
    ///
    /// # Errors
    /// Everything that is wrong, each as `name:line: what`.
    pub fn read(name: &str, bytes: &[u8]) -> Result<Quantities, Vec<String>> {
        let text = decode(bytes);
        let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
        let separator = separator(text);
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(separator)
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let head = reader.headers().cloned().map_err(|_| {
            vec![format!(
                "{name}:1: the first line cannot be read as a list of columns"
            )]
        })?;
        let head: Vec<String> = head.iter().map(str::to_ascii_lowercase).collect();
        let unused = columns(name, &head)?;
        let mut all = Quantities {
            name: name.to_owned(),
            unused,
            ..Quantities::default()
        };
        let mut wrong = Vec::new();
        for record in reader.records() {
            let record = match record {
                Ok(record) => record,
                Err(error) => {
                    let line = error.position().map_or(0, csv::Position::line);
                    wrong.push(format!("{name}:{line}: the row cannot be read"));
                    continue;
                }
            };
            let line = record.position().map_or(0, csv::Position::line);
            if record.iter().all(str::is_empty) {
                continue;
            }
            if record.len() != head.len() {
                wrong.push(format!(
                    "{name}:{line}: the row has {} cells, the first line {}",
                    record.len(),
                    head.len()
                ));
                continue;
            }
            let cell = |column: &str| {
                let at = head.iter().position(|name| name == column)?;
                record.get(at).filter(|cell| !cell.is_empty())
            };
            match row(name, line, cell) {
                Ok(row) => all.rows.push(row),
                Err(why) => {
                    wrong.extend(why.into_iter().map(|why| format!("{name}:{line}: {why}")))
                }
            }
        }
        if wrong.is_empty() {
            Ok(all)
        } else {
            Err(wrong)
        }
    }

    /// The row of each program, and what is wrong with rows, each as `name:line: what`. A row names
    /// a program by its path or the end of it, by its file name without the extension, or by an
    /// O number.
    #[must_use]
    pub fn assign(&self, programs: &[Named<'_>]) -> (Vec<Option<usize>>, Vec<String>) {
        let index = Index::of(programs);
        let mut rows: Vec<Option<usize>> = vec![None; programs.len()];
        let mut wrong = Vec::new();
        for (at, row) in self.rows.iter().enumerate() {
            let place = format!("{}:{}", self.name, row.line);
            match index.find(&row.program)[..] {
                [] => {
                    let names = programs.iter().map(|one| file_name(one.path));
                    let near = nearest(file_name(&row.program), names);
                    let near = near.map_or_else(String::new, |n| format!("; did you mean `{n}`?"));
                    wrong.push(format!(
                        "{place}: no program `{}` is among those audited{near}",
                        row.program
                    ));
                }
                [one] => match rows[one] {
                    None => rows[one] = Some(at),
                    Some(first) => wrong.push(format!(
                        "{place}: `{}` is {}, which line {} has already",
                        row.program, programs[one].path, self.rows[first].line
                    )),
                },
                ref several => {
                    let paths: Vec<_> = several.iter().take(4).map(|i| programs[*i].path).collect();
                    wrong.push(format!(
                        "{place}: `{}` names {} programs ({}{}); write more of the path",
                        row.program,
                        several.len(),
                        paths.join(", "),
                        if several.len() > 4 { ", …" } else { "" }
                    ));
                }
            }
        }
        (rows, wrong)
    }
}

/// The columns that are not read.
fn columns(name: &str, head: &[String]) -> Result<Vec<String>, Vec<String>> {
    let mut wrong = Vec::new();
    let mut unused = Vec::new();
    for (at, column) in head.iter().enumerate() {
        if head[..at].contains(column) {
            wrong.push(format!(
                "{name}:1: the column `{column}` stands there twice"
            ));
        } else if !COLUMNS.contains(&column.as_str()) {
            // A slip would lose quantities; a stranger's column is left alone.
            match nearest(column, COLUMNS) {
                Some(near) if !head.iter().any(|one| one == near) => wrong.push(format!(
                    "{name}:1: unknown column `{column}`; did you mean `{near}`?"
                )),
                _ => unused.push(column.clone()),
            }
        }
    }
    if !head.iter().any(|column| column == "program") {
        wrong.push(format!(
            "{name}:1: no column `program`; the first line names the columns: {}",
            COLUMNS.join(", ")
        ));
    } else if !head.iter().any(|one| COLUMNS[1..].contains(&one.as_str())) && wrong.is_empty() {
        wrong.push(format!(
            "{name}:1: no column with a quantity; there are {}",
            COLUMNS[1..].join(", ")
        ));
    }
    if wrong.is_empty() {
        Ok(unused)
    } else {
        Err(wrong)
    }
}

fn row<'a>(
    name: &str,
    line: u64,
    cell: impl Fn(&str) -> Option<&'a str>,
) -> Result<Row, Vec<String>> {
    let mut wrong = Vec::new();
    let program = cell("program").unwrap_or_default().to_owned();
    if program.is_empty() {
        wrong.push("the program is missing".to_owned());
    }
    let mut number = |column: &str| {
        let text = cell(column)?;
        match text.parse::<f64>() {
            Ok(value) if (0.0..=MOST).contains(&value) => Some(value),
            _ => {
                wrong.push(format!(
                    "{column} `{text}` is no number from 0 up; write it as 1200 or 62.5, without \
                     spaces or units"
                ));
                None
            }
        }
    };
    let mut quantity = Quantity {
        parts_per_batch: number("parts_per_batch"),
        batches_per_year: number("batches_per_year"),
        parts_per_year: number("parts_per_year"),
        rate_per_hour: number("rate_per_hour"),
        currency: cell("currency").map(str::to_owned),
        from: format!("{name}:{line}"),
        ..Quantity::default()
    };
    quantity.bottleneck = match cell("bottleneck").map(str::to_ascii_lowercase).as_deref() {
        None => None,
        Some("true" | "yes" | "1") => Some(true),
        Some("false" | "no" | "0") => Some(false),
        Some(other) => {
            wrong.push(format!("bottleneck `{other}` is neither true nor false"));
            None
        }
    };
    if let (Some(batch), Some(batches), Some(year)) = (
        quantity.parts_per_batch,
        quantity.batches_per_year,
        quantity.parts_per_year,
    ) && (batch * batches - year).abs() > 0.005 * year.max(1.0)
    {
        wrong.push(format!(
            "{batch} parts a batch and {batches} batches a year are {}, not {year} parts a year",
            batch * batches
        ));
    }
    if wrong.is_empty() {
        Ok(Row {
            line,
            program,
            quantity,
        })
    } else {
        Err(wrong)
    }
}

/// What separates the cells: the sign that the first line has most of.
fn separator(text: &str) -> u8 {
    let head = text.lines().next().unwrap_or_default();
    let count = |sign: u8| head.bytes().filter(|byte| *byte == sign).count();
    [b',', b';', b'\t']
        .into_iter()
        .rev()
        .max_by_key(|sign| count(*sign))
        .unwrap_or(b',')
}
