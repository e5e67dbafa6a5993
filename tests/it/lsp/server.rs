//! A language server with the analysis of the tests, as a real process.

#[allow(dead_code)]
#[path = "fake.rs"]
mod fake;

fn main() -> std::process::ExitCode {
    server::lsp::run(fake::Fake::default())
}
