//! What the commands that write threads may hold.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};
use lexer::evidence::Family;
use lexer::section::Syntax;

use super::rotating::Rotating;
use super::{Format, SideName, Source, UnitName};

#[derive(ClapArgs)]
pub(in crate::cli) struct Plan {
    /// A program with the line of the thread; - for standard input, -:LINE for a thread in it
    #[arg(value_name = "FILE[:LINE]")]
    pub(in crate::cli) path: PathBuf,
    #[command(flatten)]
    pub(in crate::cli) source: Source,
    /// Most depth of the first pass, on the radius in mm
    #[arg(long, value_name = "MM")]
    pub(in crate::cli) first: Option<f64>,
    /// Largest chip area of a pass, mm²
    #[arg(long, value_name = "MM2")]
    pub(in crate::cli) max_area: Option<f64>,
    /// Largest cutting force of a pass by the model, N; needs the constants of the material
    #[arg(long, value_name = "N")]
    pub(in crate::cli) max_force: Option<f64>,
    /// Passes of equal force instead of equal chips
    #[arg(long)]
    pub(in crate::cli) even_force: bool,
    /// Smallest step of a roughing pass, mm
    #[arg(long, value_name = "MM")]
    pub(in crate::cli) min_pass: Option<f64>,
    /// Last cut, mm; 0 for none
    #[arg(long, value_name = "MM")]
    pub(in crate::cli) finish: Option<f64>,
    /// Passes without new depth
    #[arg(long, value_name = "N")]
    pub(in crate::cli) springs: Option<u32>,
    /// So many passes, spring passes included, instead of the fewest
    #[arg(long, value_name = "N", conflicts_with = "steps")]
    pub(in crate::cli) passes: Option<usize>,
    /// A table of steps on the radius in mm, such as 0.4,0.3,0.2; stretched to the depth
    #[arg(long, value_name = "MM,…", value_delimiter = ',')]
    pub(in crate::cli) steps: Option<Vec<f64>>,
    /// Another speed of the spindle, 1/min
    #[arg(long, value_name = "RPM")]
    pub(in crate::cli) rpm: Option<f64>,
    /// Parts in a batch, to count the hours [default: parts_per_batch of the configuration]
    #[arg(long, value_name = "PARTS")]
    pub(in crate::cli) batch: Option<f64>,
    /// Also list time against load for every number of passes
    #[arg(long)]
    pub(in crate::cli) front: bool,
    /// Print the change as a difference; exit status 1 when there is one
    #[arg(long, conflicts_with = "apply")]
    pub(in crate::cli) diff: bool,
    /// Write the change into the program (standard input: the program on standard output)
    #[arg(long)]
    pub(in crate::cli) apply: bool,
    /// How the plan is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(in crate::cli) format: Format,
}

#[derive(ClapArgs)]
pub(in crate::cli) struct Convert {
    /// A program with the line of the thread; - for standard input, -:LINE for a thread in it
    #[arg(value_name = "FILE[:LINE]")]
    pub(in crate::cli) path: PathBuf,
    #[command(flatten)]
    pub(in crate::cli) source: Source,
    /// The syntax: strokes, box, two-block, one-block, drive-line, call, compound
    #[arg(long, value_name = "SYNTAX", value_parser = syntax)]
    pub(in crate::cli) to: Syntax,
    /// For another family of controls than the program's: the block is printed whole
    #[arg(long, value_enum, value_name = "SYSTEM")]
    pub(in crate::cli) system: Option<System>,
    /// Pull-out in tenths of a lead, where the thread leaves it to the control
    #[arg(long, value_name = "TENTHS")]
    pub(in crate::cli) pull_out: Option<u32>,
    /// Print the change as a difference; exit status 1 when there is one
    #[arg(long, conflicts_with = "apply")]
    pub(in crate::cli) diff: bool,
    /// Write the change into the program (standard input: the program on standard output)
    #[arg(long)]
    pub(in crate::cli) apply: bool,
    /// How the result is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(in crate::cli) format: Format,
}

#[derive(ClapArgs)]
pub(in crate::cli) struct Write {
    /// Name of the thread as on a drawing, such as M24x3-6g
    #[arg(value_name = "DESIGNATION")]
    pub(in crate::cli) designation: String,
    /// The syntax: strokes, box, two-block, one-block, drive-line, call, compound; tap or helix
    /// (thread milling)
    #[arg(long, value_name = "SYNTAX", value_parser = syntax)]
    pub(in crate::cli) syntax: Syntax,
    /// Length of the thread from Z0; of full thread where it is tapped
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) length: String,
    /// Turns per minute
    #[arg(
        long,
        value_name = "RPM",
        required_unless_present = "vc",
        conflicts_with = "vc"
    )]
    pub(in crate::cli) rpm: Option<f64>,
    /// Cutting speed in m/min, instead of turns
    #[arg(long, value_name = "M_PER_MIN")]
    pub(in crate::cli) vc: Option<f64>,
    /// The family of controls [default: A; interpreter for drive-line; call and compound for their
    /// own; mill for helix, and for tap with --at]
    #[arg(long, value_enum, value_name = "SYSTEM")]
    pub(in crate::cli) system: Option<System>,
    /// The side, where the designation does not tell it [default: external]
    #[arg(long, value_enum)]
    pub(in crate::cli) side: Option<SideName>,
    /// Units of the block, and of lengths below without their own [default: those of the thread]
    #[arg(long, value_enum)]
    pub(in crate::cli) unit: Option<UnitName>,
    /// The T word, such as T0303
    #[arg(long, value_name = "T", value_parser = tool_word)]
    pub(in crate::cli) tool: Option<String>,
    /// Nose radius of the tool
    #[arg(long, value_name = "RADIUS")]
    pub(in crate::cli) nose: Option<String>,
    /// Where the stroke starts in front of Z0 [default: as far as the axis needs; for a tap two
    /// leads, 3 mm at least, for a mill 5 mm]
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) start: Option<String>,
    /// Radial clearance of the start [default: the pitch, 1 mm at least]
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) clearance: Option<String>,
    /// Infeed angle in degrees [default: the usual one of the form]
    #[arg(long, value_name = "DEGREES")]
    pub(in crate::cli) infeed: Option<f64>,
    /// Most depth of the first pass, on the radius in mm
    #[arg(long, value_name = "MM")]
    pub(in crate::cli) first: Option<f64>,
    /// Largest chip area of a pass, mm²
    #[arg(long, value_name = "MM2")]
    pub(in crate::cli) max_area: Option<f64>,
    /// Smallest step of a roughing pass, mm
    #[arg(long, value_name = "MM")]
    pub(in crate::cli) min_pass: Option<f64>,
    /// Last cut, mm; 0 for none
    #[arg(long, value_name = "MM")]
    pub(in crate::cli) finish: Option<f64>,
    /// Passes without new depth [default: 1]
    #[arg(long, value_name = "N")]
    pub(in crate::cli) springs: Option<u32>,
    /// Pull-out in tenths of a lead, where the syntax has a word for it [default: 0]
    #[arg(long, value_name = "TENTHS")]
    pub(in crate::cli) pull_out: Option<u32>,
    /// Comments begin with a semicolon instead of standing in brackets
    #[arg(long)]
    pub(in crate::cli) semicolon: bool,
    #[command(flatten)]
    pub(in crate::cli) rotating: Rotating,
    /// Facts of the machine come from this configuration [default: the nearest flankwise.toml]
    #[arg(long, value_name = "FILE")]
    pub(in crate::cli) config: Option<PathBuf>,
    /// How the block is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(in crate::cli) format: Format,
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
pub(in crate::cli) enum System {
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
    /// Milling
    Mill,
    /// Named cycles called with arguments by their place
    Call,
    /// Turning with the compound cycle G71
    Compound,
    /// Turning with the box cycle G82
    #[value(name = "G82", alias = "g82")]
    G82,
}

impl From<System> for Family {
    fn from(system: System) -> Family {
        match system {
            System::A => Family::SystemA,
            System::B => Family::SystemB,
            System::C => Family::SystemC,
            System::Interpreter => Family::Interpreter,
            System::Mill => Family::Mill,
            System::Call => Family::Call,
            System::Compound => Family::Compound,
            System::G82 => Family::BoxG82,
        }
    }
}
