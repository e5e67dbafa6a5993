//! What the command line may hold.

use std::num::NonZeroUsize;
use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use lexer::evidence::Family;
use lexer::section::Syntax;
use rules::finding::Severity;

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
    /// Limits, depths, wires, drill, gauges of a thread by its designation, with sources
    Thread(Thread),
    /// Split the depth of a thread better: fewest passes inside every limit, never slower
    Plan(Plan),
    /// Write a whole threading block from a designation and facts
    Write(Write),
    /// Write the passes of a thread in another syntax
    Convert(Convert),
    /// Mend programs in place
    Fix(Fix),
    /// List the rules, or print the page of one
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
#[derive(ClapArgs)]
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
pub(super) struct Plan {
    /// A program with the line of the thread; - for standard input, -:LINE for a thread in it
    #[arg(value_name = "FILE[:LINE]")]
    pub(super) path: PathBuf,
    #[command(flatten)]
    pub(super) inputs: Inputs,
    /// Most depth of the first pass, on the radius in mm
    #[arg(long, value_name = "MM")]
    pub(super) first: Option<f64>,
    /// Largest chip area of a pass, mm²
    #[arg(long, value_name = "MM2")]
    pub(super) max_area: Option<f64>,
    /// Largest cutting force of a pass by the model, N; needs the constants of the material
    #[arg(long, value_name = "N")]
    pub(super) max_force: Option<f64>,
    /// Passes of equal force instead of equal chips
    #[arg(long)]
    pub(super) even_force: bool,
    /// Smallest step of a roughing pass, mm
    #[arg(long, value_name = "MM")]
    pub(super) min_pass: Option<f64>,
    /// Last cut, mm; 0 for none
    #[arg(long, value_name = "MM")]
    pub(super) finish: Option<f64>,
    /// Passes without new depth
    #[arg(long, value_name = "N")]
    pub(super) springs: Option<u32>,
    /// So many passes, spring passes included, instead of the fewest
    #[arg(long, value_name = "N", conflicts_with = "steps")]
    pub(super) passes: Option<usize>,
    /// A table of steps on the radius in mm, such as 0.4,0.3,0.2; stretched to the depth
    #[arg(long, value_name = "MM,…", value_delimiter = ',')]
    pub(super) steps: Option<Vec<f64>>,
    /// Another speed of the spindle, 1/min
    #[arg(long, value_name = "RPM")]
    pub(super) rpm: Option<f64>,
    /// Parts in a batch, to count the hours [default: parts_per_batch of the configuration]
    #[arg(long, value_name = "PARTS")]
    pub(super) batch: Option<f64>,
    /// Also list time against load for every number of passes
    #[arg(long)]
    pub(super) front: bool,
    /// Print the change as a difference; exit status 1 when there is one
    #[arg(long, conflicts_with = "apply")]
    pub(super) diff: bool,
    /// Write the change into the program (standard input: the program on standard output)
    #[arg(long)]
    pub(super) apply: bool,
    /// How the plan is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(super) format: Format,
}

#[derive(ClapArgs)]
pub(super) struct Convert {
    /// A program with the line of the thread; - for standard input, -:LINE for a thread in it
    #[arg(value_name = "FILE[:LINE]")]
    pub(super) path: PathBuf,
    #[command(flatten)]
    pub(super) inputs: Inputs,
    /// The syntax: strokes, box, two-block, one-block, drive-line
    #[arg(long, value_name = "SYNTAX", value_parser = syntax)]
    pub(super) to: Syntax,
    /// For another family of controls than the program's: the block is printed whole
    #[arg(long, value_enum, value_name = "SYSTEM")]
    pub(super) system: Option<System>,
    /// Pull-out in tenths of a lead, where the thread leaves it to the control
    #[arg(long, value_name = "TENTHS")]
    pub(super) pull_out: Option<u32>,
    /// Print the change as a difference; exit status 1 when there is one
    #[arg(long, conflicts_with = "apply")]
    pub(super) diff: bool,
    /// Write the change into the program (standard input: the program on standard output)
    #[arg(long)]
    pub(super) apply: bool,
    /// How the result is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(super) format: Format,
}

#[derive(ClapArgs)]
pub(super) struct Write {
    /// Name of the thread as on a drawing, such as M24x3-6g
    #[arg(value_name = "DESIGNATION")]
    pub(super) designation: String,
    /// The syntax: strokes, box, two-block, one-block, drive-line
    #[arg(long, value_name = "SYNTAX", value_parser = syntax)]
    pub(super) syntax: Syntax,
    /// Length of the thread from Z0
    #[arg(long, value_name = "LENGTH")]
    pub(super) length: String,
    /// Turns per minute
    #[arg(long, value_name = "RPM", required_unless_present = "vc", conflicts_with = "vc")]
    pub(super) rpm: Option<f64>,
    /// Cutting speed in m/min, instead of turns
    #[arg(long, value_name = "M_PER_MIN")]
    pub(super) vc: Option<f64>,
    /// The family of controls [default: A; interpreter for drive-line]
    #[arg(long, value_enum, value_name = "SYSTEM")]
    pub(super) system: Option<System>,
    /// The side, where the designation does not tell it [default: external]
    #[arg(long, value_enum)]
    pub(super) side: Option<SideName>,
    /// Units of the block, and of lengths below without their own [default: those of the thread]
    #[arg(long, value_enum)]
    pub(super) unit: Option<UnitName>,
    /// The T word, such as T0303
    #[arg(long, value_name = "T", value_parser = tool_word)]
    pub(super) tool: Option<String>,
    /// Nose radius of the tool
    #[arg(long, value_name = "RADIUS")]
    pub(super) nose: Option<String>,
    /// Where the stroke starts in front of Z0 [default: as far as the axis needs]
    #[arg(long, value_name = "LENGTH")]
    pub(super) start: Option<String>,
    /// Radial clearance of the start [default: the pitch, 1 mm at least]
    #[arg(long, value_name = "LENGTH")]
    pub(super) clearance: Option<String>,
    /// Infeed angle in degrees [default: the usual one of the form]
    #[arg(long, value_name = "DEGREES")]
    pub(super) infeed: Option<f64>,
    /// Most depth of the first pass, on the radius in mm
    #[arg(long, value_name = "MM")]
    pub(super) first: Option<f64>,
    /// Largest chip area of a pass, mm²
    #[arg(long, value_name = "MM2")]
    pub(super) max_area: Option<f64>,
    /// Smallest step of a roughing pass, mm
    #[arg(long, value_name = "MM")]
    pub(super) min_pass: Option<f64>,
    /// Last cut, mm; 0 for none
    #[arg(long, value_name = "MM")]
    pub(super) finish: Option<f64>,
    /// Passes without new depth [default: 1]
    #[arg(long, value_name = "N")]
    pub(super) springs: Option<u32>,
    /// Pull-out in tenths of a lead, where the syntax has a word for it [default: 0]
    #[arg(long, value_name = "TENTHS")]
    pub(super) pull_out: Option<u32>,
    /// Comments begin with a semicolon instead of standing in brackets
    #[arg(long)]
    pub(super) semicolon: bool,
    /// Facts of the machine come from this configuration [default: the nearest flankwise.toml]
    #[arg(long, value_name = "FILE")]
    pub(super) config: Option<PathBuf>,
    /// How the block is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(super) format: Format,
}

/// A syntax by its name.
fn syntax(name: &str) -> Result<Syntax, String> {
    let known = Syntax::ALL.into_iter().find(|syntax| syntax.name() == name);
    known.ok_or_else(|| {
        let names: Vec<_> = Syntax::ALL.iter().map(|syntax| syntax.name()).collect();
        format!("the syntaxes are {}", names.join(", "))
    })
}

/// A T word: the letter and digits, nothing else goes into a program.
fn tool_word(text: &str) -> Result<String, String> {
    let digits = text.strip_prefix(['T', 't']).unwrap_or_default();
    if (1..=8).contains(&digits.len()) && digits.bytes().all(|byte| byte.is_ascii_digit()) {
        return Ok(format!("T{digits}"));
    }
    Err("write T and digits, such as T0303".to_owned())
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum System {
    /// Turning, G-code system A
    #[value(name = "A", alias = "a")]
    A,
    /// Turning, G-code system B
    #[value(name = "B", alias = "b")]
    B,
    /// Turning, G-code system C
    #[value(name = "C", alias = "c")]
    C,
    /// The open RS274/NGC interpreter
    Interpreter,
}

impl From<System> for Family {
    fn from(system: System) -> Family {
        match system {
            System::A => Family::SystemA,
            System::B => Family::SystemB,
            System::C => Family::SystemC,
            System::Interpreter => Family::Interpreter,
        }
    }
}

#[derive(ClapArgs)]
pub(super) struct Explain {
    /// Name of the rule
    #[arg(value_name = "RULE")]
    pub(super) rule: Option<String>,
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
