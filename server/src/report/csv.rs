//! The audit as CSV: one row a thread, in the order of the hours.
//!
//! What is not known is an empty cell. A text that a spreadsheet would take for a formula gets an
//! apostrophe in front.

use std::borrow::Cow;

use csv::{Terminator, WriterBuilder};
use lexer::section::Side;
use rules::audit::program::Planned;
use rules::finding::Severity;

use super::Report;
use crate::show::lengths::{plain, trimmed};
use crate::show::visible;

/// The columns.
pub(crate) const COLUMNS: [&str; 34] = [
    "rank",
    "program",
    "first_line",
    "last_line",
    "designation",
    "designation_from",
    "side",
    "kind",
    "syntax",
    "lead_mm",
    "starts",
    "tool",
    "rpm",
    "passes",
    "passes_after",
    "peak_mm2",
    "peak_after_mm2",
    "seconds",
    "cut_s",
    "air_s",
    "back_s",
    "seconds_after",
    "saved_s",
    "parts_per_batch",
    "parts_per_year",
    "hours_year",
    "saved_hours_year",
    "money_year",
    "currency",
    "errors",
    "warnings",
    "advice",
    "plan",
    "sha256",
];

/// The rows with their head.
///
/// # Errors
/// Never: it writes to memory.
pub(crate) fn document(report: &Report) -> Result<Vec<u8>, csv::Error> {
    let mut writer = WriterBuilder::new()
        .terminator(Terminator::CRLF)
        .from_writer(Vec::new());
    writer.write_record(COLUMNS)?;
    let summed = &report.audit.summed;
    let number = |value: Option<f64>, decimals: usize| {
        value.map_or_else(String::new, |value| trimmed(value, decimals))
    };
    for (rank, row) in summed.rows.iter().enumerate() {
        let thread = summed.thread(row);
        let program = &summed.programs[row.program];
        let quantity = &summed.quantities[row.program];
        let better = thread.better();
        let seconds = thread.seconds.as_ref().ok();
        let count = |severity: Severity| {
            let findings = program.findings.iter();
            let its = findings.filter(|f| f.thread == Some(row.thread) && f.severity == severity);
            its.count().to_string()
        };
        let (plan, why) = match &thread.planned {
            Planned::Better(_) => ("better", ""),
            Planned::Same(_) => ("same", ""),
            Planned::Not(why) => ("not planned: ", why.as_str()),
        };
        let (name, from) = match &thread.designation {
            Some((name, from)) => (name.as_str(), from.name()),
            None => ("", ""),
        };
        let money = row
            .money_year
            .map_or_else(String::new, |money| plain(money, 2));
        let currency = quantity
            .currency
            .as_deref()
            .filter(|_| row.money_year.is_some());
        let cells: [String; 34] = [
            (rank + 1).to_string(),
            safe(&program.path).into_owned(),
            thread.lines.0.to_string(),
            thread.lines.1.to_string(),
            safe(name).into_owned(),
            from.to_owned(),
            thread.side.map_or("", Side::name).to_owned(),
            thread.kind.name().to_owned(),
            thread.syntax.name().to_owned(),
            number(thread.lead_mm, 9),
            thread.starts.to_string(),
            safe(thread.tool.as_deref().unwrap_or_default()).into_owned(),
            number(thread.rpm, 3),
            thread.passes.to_string(),
            better.map_or_else(String::new, |split| split.after.passes.to_string()),
            number(thread.peak_mm2, 6),
            number(better.map(|split| split.after.peak_mm2), 6),
            number(thread.total(), 3),
            number(seconds.map(|seconds| seconds.cut), 3),
            number(seconds.map(|seconds| seconds.air), 3),
            number(seconds.map(|seconds| seconds.back), 3),
            number(better.and(thread.total_after()), 3),
            number(thread.saved(), 3),
            number(quantity.parts_per_batch, 3),
            number(quantity.parts_per_year, 3),
            number(row.hours_year, 4),
            number(row.saved_year, 4),
            money,
            safe(currency.unwrap_or_default()).into_owned(),
            count(Severity::Error),
            count(Severity::Warning),
            count(Severity::Advice),
            format!("{plan}{}", visible::text(why)),
            report.programs[row.program].1.clone(),
        ];
        writer.write_record(&cells)?;
    }
    Ok(writer.into_inner().map_err(|error| error.into_error())?)
}

/// A text that is no formula and drives no terminal.
fn safe(text: &str) -> Cow<'_, str> {
    let shown = visible::text(text);
    match shown.starts_with(['=', '+', '-', '@']) {
        true => Cow::Owned(format!("'{shown}")),
        false => shown,
    }
}

#[cfg(test)]
mod tests {
    use super::safe;

    #[test]
    fn no_cell_is_a_formula() {
        assert_eq!(safe("=1+1.nc"), "'=1+1.nc");
        assert_eq!(safe("@SUM(A1)"), "'@SUM(A1)");
        assert_eq!(safe("shop/a.nc"), "shop/a.nc");
        assert_eq!(safe("\u{1b}[2J"), "␛[2J");
    }
}
