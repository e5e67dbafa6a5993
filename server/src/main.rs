//! The `flankwise` command.

use std::io::{BufWriter, Write as _, stderr, stdin, stdout};
use std::process::ExitCode;

use anstream::{AutoStream, ColorChoice};
use server::cli::{Streams, run};

fn main() -> ExitCode {
    let colour = |choice: ColorChoice| choice != ColorChoice::Never;
    // Not locked: the language server writes from other threads.
    let mut out = BufWriter::with_capacity(1 << 16, stdout());
    let mut err = BufWriter::new(stderr());
    let streams = Streams {
        input: &mut stdin(),
        out: &mut out,
        err: &mut err,
        colour: colour(AutoStream::choice(&stdout())),
        colour_err: colour(AutoStream::choice(&stderr())),
    };
    let exit = run(std::env::args_os(), streams);
    // `run` has flushed and reported; what is left cannot be told to anyone.
    let _ = err.flush();
    exit.into()
}
