//! What the command line may hold.

mod audit;
mod rewrite;
mod rotating;

use std::num::NonZeroUsize;
use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use rules::date::Date;
use rules::facts::FailOn;
use rules::finding::Severity;

pub(super) use audit::{Audit, AuditFormat, WORST};
pub(super) use rewrite::{Convert, Plan, Write};
pub(super) use rotating::Feed;

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
    Write(Box<Write>),
    /// Write the passes of a thread in another syntax
    Convert(Convert),
    /// Which of the shop's tools can cut a thread, and which way of making it takes how long
    Tools(Tools),
    /// Mend programs in place
    Fix(Fix),
    /// Show what a change does to each thread: passes, depth, lead, speed, seconds, findings
    Compare(Compare),
    /// Look at the programs of a folder, propose a flankwise.toml and write a baseline
    Init(Init),
    /// List the rules, or print the page of one; or go from what is seen at the machine to checks
    Explain(Explain),
    /// Print the JSON Schema of flankwise.toml, for editors
    Schema,
    /// Print a completion script for a shell
    Completions(Completions),
    /// Print the manual page
    Man,
    /// Run the language server on standard input and output
    Lsp(Lsp),
}

#[derive(ClapArgs)]
pub(super) struct Lsp {
    /// What many editors add to say how they talk; there is no other way
    #[arg(long, hide = true)]
    stdio: bool,
}

/// How a program is read; the same for every command that reads one.
#[derive(ClapArgs, Clone, Default)]
pub(super) struct Source {
    /// Use this configuration for every file instead of the nearest flankwise.toml
    #[arg(long, value_name = "FILE")]
    pub(super) config: Option<PathBuf>,
    /// Name of the program on standard input: decides its configuration and is shown in messages
    #[arg(long, value_name = "NAME")]
    pub(super) stdin_filename: Option<PathBuf>,
}

/// Where the programs of a gate come from.
#[derive(ClapArgs, Default)]
pub(super) struct Inputs {
    #[command(flatten)]
    pub(super) source: Source,
    /// Read the names of programs from this file, - for standard input: one a line, or with NUL
    /// between them; what is no program by its name and first lines is left out
    #[arg(long, value_name = "FILE")]
    pub(super) files_from: Option<PathBuf>,
    /// Only programs that git has as changed since this revision, new ones too; all of a folder
    /// whose flankwise.toml has changed
    #[arg(long, value_name = "REV")]
    pub(super) changed_since: Option<String>,
    /// The day that waivers are compared with [default: today, UTC]
    #[arg(long, value_name = "YEAR-MONTH-DAY", value_parser = day)]
    pub(super) today: Option<Date>,
    /// Number of files worked on at once [default: the number of processors]
    #[arg(long, value_name = "N")]
    pub(super) jobs: Option<NonZeroUsize>,
}

fn day(text: &str) -> Result<Date, String> {
    Date::parse(text).ok_or_else(|| "not a day, such as 2027-03-31".to_owned())
}

#[derive(ClapArgs)]
pub(super) struct Check {
    /// Programs, folders of programs, or - for standard input
    #[arg(required_unless_present = "files_from", value_name = "PATH")]
    pub(super) paths: Vec<PathBuf>,
    #[command(flatten)]
    pub(super) inputs: Inputs,
    /// How the findings are printed
    #[arg(long, value_enum, default_value_t = CheckFormat::Text)]
    pub(super) format: CheckFormat,
    /// Lowest severity that makes the exit status 1 [default: `fail_on` of the configuration, and
    /// error]
    #[arg(long, value_enum, value_name = "SEVERITY")]
    pub(super) fail_on: Option<Threshold>,
    #[command(flatten)]
    pub(super) rules: Rules,
    /// Count the findings by rule: instead of the findings as text, beside them as json
    #[arg(long)]
    pub(super) statistics: bool,
    /// Leave out the findings of this file: only new ones count [default: `baseline` of the
    /// configuration]
    #[arg(long, value_name = "FILE")]
    pub(super) baseline: Option<PathBuf>,
    /// Let every finding count, whatever the configuration says of a baseline
    #[arg(long, conflicts_with = "baseline")]
    pub(super) no_baseline: bool,
    /// Write all findings to this file, for --baseline of later runs
    #[arg(long, value_name = "FILE", conflicts_with = "baseline")]
    pub(super) write_baseline: Option<PathBuf>,
    /// Print the findings only, no summary
    #[arg(long, short)]
    pub(super) quiet: bool,
}

/// Which rules run.
#[derive(ClapArgs)]
pub(super) struct Rules {
    /// Run these rules only, whatever the configuration switches off
    #[arg(long, value_name = "RULES", value_delimiter = ',')]
    pub(super) select: Vec<String>,
    /// Do not run these rules
    #[arg(long, value_name = "RULES", value_delimiter = ',')]
    pub(super) ignore: Vec<String>,
}

#[derive(ClapArgs)]
pub(super) struct Passes {
    /// Programs, folders of programs, or - for standard input; FILE:LINE for the thread there
    #[arg(required = true, value_name = "FILE[:LINE]")]
    pub(super) paths: Vec<PathBuf>,
    #[command(flatten)]
    pub(super) source: Source,
    /// Number of files worked on at once [default: the number of processors]
    #[arg(long, value_name = "N")]
    pub(super) jobs: Option<NonZeroUsize>,
    /// How the tables are printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(super) format: Format,
}

#[derive(ClapArgs)]
pub(super) struct Fix {
    /// Programs, folders of programs, or - for standard input (mended on standard output)
    #[arg(required_unless_present = "files_from", value_name = "PATH")]
    pub(super) paths: Vec<PathBuf>,
    #[command(flatten)]
    pub(super) inputs: Inputs,
    /// Print what would change and write nothing; exit status 1 when something would
    #[arg(long)]
    pub(super) diff: bool,
    /// Also apply fixes of this kind
    #[arg(long, value_enum, value_name = "KIND")]
    pub(super) allow: Option<Allow>,
    #[command(flatten)]
    pub(super) rules: Rules,
    /// How the report is printed; json goes with files only
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(super) format: Format,
    /// Do not list the fixes
    #[arg(long, short)]
    pub(super) quiet: bool,
}

#[derive(ClapArgs)]
pub(super) struct Compare {
    /// Two programs or two folders, the old one first; with --since the programs or folders to
    /// look at [default: .]
    #[arg(value_name = "PATH")]
    pub(super) paths: Vec<PathBuf>,
    /// Compare with what git has at this revision
    #[arg(long, value_name = "REV")]
    pub(super) since: Option<String>,
    /// Use this configuration for every file, before and after, instead of the nearest
    /// flankwise.toml
    #[arg(long, value_name = "FILE")]
    pub(super) config: Option<PathBuf>,
    /// The day that waivers are compared with [default: today, UTC]
    #[arg(long, value_name = "YEAR-MONTH-DAY", value_parser = day)]
    pub(super) today: Option<Date>,
    /// Lowest severity of a new finding that makes the exit status 1 [default: `fail_on` of the
    /// configuration, and error]
    #[arg(long, value_enum, value_name = "SEVERITY")]
    pub(super) fail_on: Option<Threshold>,
    /// Most seconds that the change may add to a part; more makes the exit status 1 [default:
    /// `time_budget_s` of the configuration]
    #[arg(long, value_name = "SECONDS", value_parser = budget)]
    pub(super) time_budget: Option<f64>,
    /// How the changes are printed
    #[arg(long, value_enum, default_value_t = CompareFormat::Text)]
    pub(super) format: CompareFormat,
}

fn budget(text: &str) -> Result<f64, String> {
    let seconds = text.parse::<f64>().ok();
    let seconds = seconds.filter(|seconds| (0.0..=1e9).contains(seconds));
    seconds.ok_or_else(|| "not a number of seconds, such as 2.5".to_owned())
}

/// How changes are printed.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum CompareFormat {
    /// For a person
    Text,
    /// For a review comment
    Markdown,
    /// One document, version 1
    Json,
}

#[derive(ClapArgs)]
pub(super) struct Init {
    /// The folder [default: .]
    #[arg(value_name = "FOLDER")]
    pub(super) path: Option<PathBuf>,
    /// Print the configuration and write nothing
    #[arg(long)]
    pub(super) print: bool,
    /// Number of files worked on at once [default: the number of processors]
    #[arg(long, value_name = "N")]
    pub(super) jobs: Option<NonZeroUsize>,
}

#[derive(ClapArgs)]
pub(super) struct Completions {
    /// The shell
    #[arg(value_enum)]
    pub(super) shell: clap_complete::Shell,
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
    /// Use this configuration for the programs instead of the nearest flankwise.toml
    #[arg(long, value_name = "FILE", requires = "programs")]
    pub(super) config: Option<PathBuf>,
    /// The day that waivers are compared with [default: today, UTC]
    #[arg(long, value_name = "YEAR-MONTH-DAY", value_parser = day, requires = "programs")]
    pub(super) today: Option<Date>,
    /// How the page is printed
    #[arg(long, value_enum, default_value_t = PageFormat::Text)]
    pub(super) format: PageFormat,
}

/// How pages are printed.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum PageFormat {
    /// For a terminal
    Text,
    /// For a repository; without a rule the index with all pages
    Markdown,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// For a person
    Text,
    /// One document, version 1
    Json,
}

/// How findings are printed.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum CheckFormat {
    /// For a person
    Text,
    /// One document, version 1
    Json,
    /// JSON lines: one object a line
    Jsonl,
    /// SARIF 2.1.0, for code scanning
    Sarif,
    /// JUnit XML, for test reports
    Junit,
    /// Workflow commands, for notes beside the code
    Github,
    /// Code quality JSON, for merge requests
    Codequality,
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

impl From<FailOn> for Threshold {
    fn from(fail_on: FailOn) -> Self {
        match fail_on {
            FailOn::Severity(Severity::Error) => Threshold::Error,
            FailOn::Severity(Severity::Warning) => Threshold::Warning,
            FailOn::Severity(Severity::Advice) => Threshold::Advice,
            FailOn::Never => Threshold::Never,
        }
    }
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
