//! The command line. [`run`] takes its arguments and streams from the caller, so that tests call
//! it in process.

mod args;
mod audit;
mod baseline;
mod block;
mod check;
mod compare;
mod convert;
mod discover;
mod examine;
mod explain;
mod fix;
mod gate;
mod git;
mod init;
mod narrow;
mod passes;
mod plan;
mod rewrite;
mod rotating;
mod sniff;
mod symptom;
mod thread;
mod tools;
mod write;

use std::ffi::OsString;
use std::io::{ErrorKind, Read, Write};
use std::process::ExitCode;

use clap::{CommandFactory as _, Parser as _};

use args::{Args, Command};
pub(crate) use audit::audited;
pub(crate) use discover::programs_below;

/// Where a run reads and writes.
pub struct Streams<'a> {
    /// Standard input.
    pub input: &'a mut dyn Read,
    /// Standard output: results.
    pub out: &'a mut dyn Write,
    /// Standard error: everything else.
    pub err: &'a mut dyn Write,
    /// Whether results may be coloured.
    pub colour: bool,
    /// Whether messages may be coloured.
    pub colour_err: bool,
}

/// How a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Nothing at or above the threshold.
    Clean,
    /// Findings at or above the threshold, or a difference.
    Findings,
    /// Wrong usage or configuration.
    Usage,
    /// Some input could not be read, or there was no program. Stronger than findings, because
    /// the result is not whole.
    Unread,
}

impl Exit {
    /// The exit status.
    #[must_use]
    pub const fn status(self) -> u8 {
        match self {
            Exit::Clean => 0,
            Exit::Findings => 1,
            Exit::Usage => 2,
            Exit::Unread => 3,
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        ExitCode::from(exit.status())
    }
}

/// Why a run stops before its end.
enum Stop {
    /// Said in full; the run ends so.
    Said(Exit),
    /// An output stream failed.
    Output(std::io::Error),
}

impl From<std::io::Error> for Stop {
    fn from(error: std::io::Error) -> Self {
        Stop::Output(error)
    }
}

type Outcome = Result<Exit, Stop>;

/// Runs the command line `args`, the program's name first.
pub fn run<I>(args: I, mut streams: Streams<'_>) -> Exit
where
    I: IntoIterator,
    I::Item: Into<OsString> + Clone,
{
    let outcome = dispatch(args, &mut streams).and_then(|exit| {
        streams.out.flush()?;
        Ok(exit)
    });
    let exit = match outcome {
        Ok(exit) | Err(Stop::Said(exit)) => exit,
        // The reader has gone: nobody is left to tell, and the result is not whole.
        Err(Stop::Output(error)) if error.kind() == ErrorKind::BrokenPipe => Exit::Unread,
        Err(Stop::Output(error)) => {
            let _ = writeln!(streams.err, "error: the output cannot be written: {error}");
            Exit::Usage
        }
    };
    // Where messages cannot be written the status has to do.
    let _ = streams.out.flush();
    let _ = streams.err.flush();
    exit
}

fn dispatch<I>(args: I, streams: &mut Streams<'_>) -> Outcome
where
    I: IntoIterator,
    I::Item: Into<OsString> + Clone,
{
    let args = match Args::try_parse_from(args) {
        Ok(args) => args,
        Err(error) => return told(&error, streams),
    };
    match args.command {
        Command::Check(args) => check::run(&args, streams),
        Command::Passes(args) => passes::run(&args, streams),
        Command::Audit(args) => audit::run(&args, streams),
        Command::Plan(args) => plan::run(&args, streams),
        Command::Write(args) => block::run(&args, streams),
        Command::Convert(args) => convert::run(&args, streams),
        Command::Fix(args) => fix::run(&args, streams),
        Command::Thread(args) => thread::run(&args, streams),
        Command::Tools(args) => tools::run(&args, streams),
        Command::Explain(args) => explain::run(&args, streams),
        Command::Compare(args) => compare::run(&args, streams),
        Command::Init(args) => init::run(&args, streams),
        Command::Schema => {
            write!(streams.out, "{}", crate::show::schema::text())?;
            Ok(Exit::Clean)
        }
        Command::Completions(args) => {
            clap_complete::generate(
                args.shell,
                &mut Args::command(),
                "flankwise",
                &mut streams.out,
            );
            Ok(Exit::Clean)
        }
        Command::Man => man(streams),
        Command::Lsp(_) => lsp(streams),
    }
}

/// Help and versions go to standard output, wrong usage to standard error.
fn told(error: &clap::Error, streams: &mut Streams<'_>) -> Outcome {
    let (out, colour, exit) = if error.use_stderr() {
        (&mut *streams.err, streams.colour_err, Exit::Usage)
    } else {
        (&mut *streams.out, streams.colour, Exit::Clean)
    };
    let text = error.render();
    if colour {
        write!(out, "{}", text.ansi())?;
    } else {
        write!(out, "{text}")?;
    }
    Ok(exit)
}

/// The manual page: the whole command, then each command with its options.
fn man(streams: &mut Streams<'_>) -> Outcome {
    let mut command = Args::command();
    command.build();
    clap_mangen::Man::new(command.clone()).render(&mut streams.out)?;
    for sub in command
        .get_subcommands()
        .filter(|sub| sub.get_name() != "help")
    {
        let man = clap_mangen::Man::new(sub.clone());
        let name = sub.get_name().to_ascii_uppercase();
        writeln!(streams.out, ".SH \"FLANKWISE {name}\"")?;
        man.render_synopsis_section(&mut streams.out)?;
        man.render_description_section(&mut streams.out)?;
        man.render_options_section(&mut streams.out)?;
    }
    Ok(Exit::Clean)
}

/// The language server on standard input and output.
fn lsp(streams: &mut Streams<'_>) -> Outcome {
    streams.out.flush()?;
    let exit = crate::lsp::run(crate::analysis::Core::default());
    Ok(if exit == std::process::ExitCode::SUCCESS {
        Exit::Clean
    } else {
        Exit::Findings
    })
}
