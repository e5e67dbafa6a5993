//! What the lexer reads, on whole little programs.

mod ambiguity;
mod coarse;
mod expansions;
mod helices;
mod spelling;
mod taps;
mod turned;
mod written_holes;

use ::lexer::program::{Program, Settings};
use ::lexer::section::{Pass, Section};

fn read(text: &str) -> Program {
    ::lexer::read(text.as_bytes(), &Settings::default())
}

/// The only section of a program.
fn section(text: &str) -> Section {
    let mut program = read(text);
    assert_eq!(program.sections.len(), 1, "{text}\n{:?}", program.sections);
    program.sections.remove(0)
}

/// Diameters of the passes to 0.001 mm.
fn diameters(section: &Section) -> Vec<f64> {
    numbers(section, |pass| pass.x.unwrap().mm())
}

/// Radial depths of the passes to 0.001 mm.
fn depths(section: &Section) -> Vec<f64> {
    numbers(section, |pass| pass.depth.unwrap().mm())
}

fn numbers(section: &Section, of: impl Fn(&Pass) -> f64) -> Vec<f64> {
    let rounded = |value: f64| (value * 1000.0).round() / 1000.0;
    section
        .passes
        .iter()
        .map(|pass| rounded(of(pass)))
        .collect()
}
