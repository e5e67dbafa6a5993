//! What the command line may hold.

mod audit;
mod rewrite;

use std::num::NonZeroUsize;
use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use rules::finding::Severity;

pub(super) use audit::{Audit, AuditFormat, WORST};
pub(super) use rewrite::{Convert, Plan, Write};

/// Linter and language server for the threading sections of CNC part programs.
#[derive(Parser)]
#[command(name = "flankwise", version, after_help = EXITS)]
pub(super) struct Args {
    #[command(subcommand)]
    pub(super) command: Command,
}

const EXITS: &str = "\
Exit status: 0 nothing at or above the threshold, 1 findings (or a difference), 2 wrong usage or
configuration, 3 some input could not be read or there was no program.";

#[derive(Subcommand)]
pub(super) enum Command {
    /// Judge the threads of programs
    Check(Check),
    /// List the passes of every thread: diameter, depth, step, chip area, start, end, seconds
    Passes(Passes),
    /// Sum up a tree of programs: where the hours go, what is wrong, what plans would save
    Audit(Audit),
    /// Limits, depths, wires, drill, gauges of a thread by its designation, with sources
    Thread(Thread),
    /// Split the depth of a thread better: fewest passes inside every limit, never slower
    Plan(Plan),
    /// Write a whole threading block from a designation and facts
    Write(Write),
    /// Write the passes of a thread in another syntax
    Convert(Convert),
    /// Which of the shop's tools can cut a thread, and which way of making it takes how long
    Tools(Tools),
    /// Mend programs in place
    Fix(Fix),
    /// List the rules, or print the page of one; or go from what is seen at the machine to checks
    Explain(Explain),
    /// Run the language server on standard input and output
    Lsp(Lsp),
}

#[derive(ClapArgs)]
pub(super) struct Lsp {
    /// What many editors add to say how they talk; there is no other way
    #[arg(long, hide = true)]
    stdio: bool,
}

/// Where programs come from; the same for every command that reads them.
#[derive(ClapArgs, Default)]
pub(super) struct Inputs {
    /// Use this configuration for every file instead of the nearest flankwise.toml
    #[arg(long, value_name = "FILE")]
    pub(super) config: Option<PathBuf>,
    /// Name of the program on standard input: decides its configuration and is shown in messages
    #[arg(long, value_name = "NAME")]
    pub(super) stdin_filename: Option<PathBuf>,
    /// Number of files worked on at once [default: the number of processors]
    #[arg(long, value_name = "N")]
    pub(super) jobs: Option<NonZeroUsize>,
}

#[derive(ClapArgs)]
pub(super) struct Check {
    /// Programs, folders of programs, or - for standard input
    #[arg(required = true, value_name = "PATH")]
    pub(super) paths: Vec<PathBuf>,
    #[command(flatten)]
    pub(super) inputs: Inputs,
    /// How the findings are printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(super) format: Format,
    /// Lowest severity that makes the exit status 1
    #[arg(long, value_enum, default_value_t = Threshold::Error, value_name = "SEVERITY")]
    pub(super) fail_on: Threshold,
    /// Print the findings only, no summary
    #[arg(long, short)]
    pub(super) quiet: bool,
}

#[derive(ClapArgs)]
pub(super) struct Passes {
    /// Programs, folders of programs, or - for standard input; FILE:LINE for the thread there
    #[arg(required = true, value_name = "FILE[:LINE]")]
    pub(super) paths: Vec<PathBuf>,
    #[command(flatten)]
    pub(super) inputs: Inputs,
    /// How the tables are printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(super) format: Format,
}

#[derive(ClapArgs)]
pub(super) struct Fix {
    /// Programs, folders of programs, or - for standard input (mended on standard output)
    #[arg(required = true, value_name = "PATH")]
    pub(super) paths: Vec<PathBuf>,
    #[command(flatten)]
    pub(super) inputs: Inputs,
    /// Print what would change and write nothing; exit status 1 when something would
    #[arg(long)]
    pub(super) diff: bool,
    /// Also apply fixes of this kind
    #[arg(long, value_enum, value_name = "KIND")]
    pub(super) allow: Option<Allow>,
    /// Do not list the fixes
    #[arg(long, short)]
    pub(super) quiet: bool,
}

#[derive(ClapArgs)]
pub(super) struct Thread {
    /// Names of threads as on a drawing, such as M24x3-6g or "1/2-13 UNC-2A", or of forms in
    /// flankwise.toml
    #[arg(required = true, value_name = "DESIGNATION")]
    pub(super) designations: Vec<String>,
    /// Configuration that names forms of the shop's own [default: the nearest flankwise.toml above
    /// the working folder]
    #[arg(long, value_name = "FILE")]
    pub(super) config: Option<PathBuf>,
    /// The side, where the designation does not tell it [default: external]
    #[arg(long, value_enum)]
    pub(super) side: Option<SideName>,
    /// Units that come first, and those of lengths below without their own [default: those of the
    /// thread's family, and mm]
    #[arg(long, value_enum)]
    pub(super) unit: Option<UnitName>,
    /// Thinnest and thickest layer of a coating: 0.005..0.008 or 5..8um
    #[arg(long, value_name = "MIN..MAX")]
    pub(super) coating: Option<String>,
    /// Nose radius of the tool at hand
    #[arg(long, value_name = "RADIUS", conflicts_with = "flat")]
    pub(super) nose: Option<String>,
    /// Nose flat of the tool at hand
    #[arg(long, value_name = "WIDTH")]
    pub(super) flat: Option<String>,
    /// Diameter of the measuring wires or balls at hand
    #[arg(long, value_name = "DIAMETER")]
    pub(super) wire: Option<String>,
    /// Whole stroke of a cycle, run-in included: prints its taper word
    #[arg(long, value_name = "LENGTH")]
    pub(super) stroke: Option<String>,
    /// Also print the lines of a first-article sheet
    #[arg(long)]
    pub(super) first_article: bool,
    /// How the figures are printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(super) format: Format,
    /// Also draw the form to scale in this file
    #[arg(long, value_name = "FILE")]
    pub(super) svg: Option<PathBuf>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum SideName {
    External,
    Internal,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum UnitName {
    Mm,
    Inch,
}

#[derive(ClapArgs)]
pub(super) struct Tools {
    /// Name of the thread as on a drawing
    #[arg(value_name = "DESIGNATION")]
    pub(super) designation: String,
    /// The side, where the designation does not tell it [default: external]
    #[arg(long, value_enum)]
    pub(super) side: Option<SideName>,
    /// Use this configuration instead of the nearest flankwise.toml
    #[arg(long, value_name = "FILE")]
    pub(super) config: Option<PathBuf>,
    /// Take the tools, machine and material that hold for this program
    #[arg(long, value_name = "FILE")]
    pub(super) program: Option<PathBuf>,
    /// Threaded length in mm: compares single point, tap and mill
    #[arg(long, value_name = "MM")]
    pub(super) length: Option<f64>,
    /// Parts to compare for [default: those of a batch in the configuration, or 1]
    #[arg(long, value_name = "N", requires = "length")]
    pub(super) batch: Option<u32>,
    /// Spindle speed of a single point, 1/min
    #[arg(long, value_name = "RPM", requires = "length")]
    pub(super) rpm: Option<f64>,
    /// Spindle speed of a tap, 1/min
    #[arg(long, value_name = "RPM", requires = "length")]
    pub(super) tap_rpm: Option<f64>,
    /// Seconds for the spindle to turn round under a tap
    #[arg(long, value_name = "S", requires = "length")]
    pub(super) reversal: Option<f64>,
    /// Feed at the edge of a thread mill, mm/min
    #[arg(long, value_name = "MM/MIN", requires = "length")]
    pub(super) mill_feed: Option<f64>,
    /// How the answer is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(super) format: Format,
}

#[derive(ClapArgs)]
pub(super) struct Explain {
    /// Name of the rule
    #[arg(value_name = "RULE")]
    pub(super) rule: Option<String>,
    /// List what may be seen at the machine, or what to check for one of it
    #[arg(
        long,
        value_name = "NAME",
        num_args = 0..=1,
        default_missing_value = "",
        conflicts_with = "rule"
    )]
    pub(super) symptom: Option<String>,
    /// Run the checks of the symptom on these programs or folders
    #[arg(long = "in", value_name = "PATH", num_args = 1.., requires = "symptom")]
    pub(super) programs: Vec<PathBuf>,
    #[command(flatten)]
    pub(super) inputs: Inputs,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// For a person
    Text,
    /// One document, version 1
    Json,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Allow {
    /// Fixes that change the cut; prove the program out before it cuts a part
    Motion,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Threshold {
    Error,
    Warning,
    Advice,
    /// The exit status never tells of findings
    Never,
}

impl Threshold {
    /// Whether the worst finding reaches it.
    pub(super) fn reached(self, worst: Option<Severity>) -> bool {
        let least = match self {
            Threshold::Error => Severity::Error,
            Threshold::Warning => Severity::Warning,
            Threshold::Advice => Severity::Advice,
            Threshold::Never => return false,
        };
        worst.is_some_and(|worst| worst >= least)
    }
}
