//! Arguments of `audit`.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};
use rules::date::Date;

use super::{Inputs, day};

/// Threads that a page shows at length.
pub(in crate::cli) const WORST: usize = 12;

#[derive(ClapArgs)]
pub(in crate::cli) struct Audit {
    /// Programs, folders of programs, or - for standard input
    #[arg(required_unless_present = "files_from", value_name = "PATH")]
    pub(in crate::cli) paths: Vec<PathBuf>,
    #[command(flatten)]
    pub(in crate::cli) inputs: Inputs,
    /// CSV with the parts of each program: columns program, and of parts_per_batch,
    /// batches_per_year, parts_per_year, rate_per_hour, bottleneck, currency those that are known
    #[arg(long, value_name = "FILE")]
    pub(in crate::cli) quantities: Option<PathBuf>,
    /// How the audit is printed
    #[arg(long, value_enum, default_value_t = AuditFormat::Text)]
    pub(in crate::cli) format: AuditFormat,
    /// Write to this file, whole or not at all
    #[arg(long, short, value_name = "FILE")]
    pub(in crate::cli) output: Option<PathBuf>,
    /// Threads that the HTML page shows at length, with drawings and charts
    #[arg(long, value_name = "N", default_value_t = WORST)]
    pub(in crate::cli) worst: usize,
    /// Day that stands on the report, such as 2027-03-31 [default: none, so that the same input gives
    /// the same bytes]
    #[arg(long, value_name = "YEAR-MONTH-DAY", value_parser = day)]
    pub(in crate::cli) date: Option<Date>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum AuditFormat {
    /// A summary for a person
    Text,
    /// One row a thread
    Csv,
    /// One document, version 1
    Json,
    /// Tables for a code host or a note
    Markdown,
    /// One page that needs nothing else
    Html,
}
