//! Prints unified designations in the one way that [`read`](super::reading::read) takes back.

use lexer::units::{Diameter, Units};

use super::super::Hand;
use super::super::thread::{Engagement, Thread};
use super::series::{NUMBERS, named_by_number, numbered};
use super::threads_per_inch;

/// The canonical text.
pub(super) fn write(thread: &Thread) -> String {
    let tpi = threads_per_inch(thread.pitch).filter(|_| thread.starts == 1);
    let mut text = size(thread.major, tpi);
    match tpi {
        Some(tpi) => text += &format!("-{}", decimals(tpi as f64 / 10_000.0, 4)),
        None => {
            let pitch = thread.pitch.length();
            let lead = thread.lead().length();
            for (length, letter) in [(pitch, 'P'), (lead, 'L')] {
                let inches = Units::Inch.value_of(length);
                text += &format!("-{}{letter}", decimals(inches, 8).trim_start_matches('0'));
            }
        }
    }
    text += &format!(" {}", thread.series);
    let classes: Vec<&str> = [&thread.external, &thread.internal]
        .into_iter()
        .filter_map(|class| class.as_deref())
        .collect();
    if !classes.is_empty() {
        text += &format!("-{}", classes.join("/"));
    }
    if thread.hand == Hand::Left {
        text += "-LH";
    }
    if let Some(Engagement::Length(length)) = thread.engagement {
        text += &format!(" LE={}", decimals(Units::Inch.value_of(length), 8));
    }
    text
}

/// `10`, `1/2`, `1 1/4`, `.301`.
fn size(major: Diameter, tpi: Option<i64>) -> String {
    let pm = major.0.pm();
    if let Some(number) = NUMBERS.into_iter().find(|n| numbered(*n) == major) {
        let plain = tpi.is_some_and(|tpi| named_by_number(number, tpi));
        return format!("{}{number}", if plain { "" } else { "#" });
    }
    let unit = Units::Inch.pm() / 64;
    if pm % unit != 0 {
        return decimals(Units::Inch.value_of(major.0), 8)
            .trim_start_matches('0')
            .to_owned();
    }
    let (whole, mut top) = (pm / unit / 64, pm / unit % 64);
    let mut bottom = 64;
    while top > 0 && top % 2 == 0 {
        (top, bottom) = (top / 2, bottom / 2);
    }
    match (whole, top) {
        (0, _) => format!("{top}/{bottom}"),
        (_, 0) => {
            let number = u32::try_from(whole).unwrap_or(0);
            let confusing = tpi.is_some_and(|tpi| named_by_number(number, tpi));
            format!("{whole}{}", if confusing { ".000" } else { "" })
        }
        _ => format!("{whole} {top}/{bottom}"),
    }
}

/// A number with at most so many decimals and no trailing zeros.
fn decimals(value: f64, most: usize) -> String {
    let text = format!("{value:.most$}");
    if !text.contains('.') {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
