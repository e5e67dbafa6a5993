//! Sixty-odd single blocks that the interpreter took or refused.

use std::fs;
use std::path::PathBuf;

use lexer::evidence::Family;
use lexer::program::{Program, Settings};
use lexer::section::Syntax;

struct Recorded {
    setup: String,
    block: String,
    refused: bool,
    synchronised: usize,
    message: String,
}

fn recorded() -> Vec<Recorded> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("data/interpreter/single-blocks.txt");
    fs::read_to_string(path)
        .unwrap()
        .lines()
        .map(|line| {
            let (setup, rest) = line.split_once('|').unwrap();
            let (block, rest) = rest.split_once("rc=").unwrap();
            let (status, rest) = rest.split_once(" sync=").unwrap();
            let (count, message) = rest.split_once(' ').unwrap();
            Recorded {
                setup: setup.trim().to_owned(),
                block: block.trim().to_owned(),
                refused: status != "0",
                synchronised: count.parse().unwrap(),
                message: message.split('|').next().unwrap().trim().to_owned(),
            }
        })
        .collect()
}

fn read(case: &Recorded) -> Program {
    let text = format!("{}\nG0 X11 Z5\n{}\nM2\n", case.setup, case.block);
    let settings = Settings {
        family: Some(Family::Interpreter),
        ..Settings::default()
    };
    lexer::read(text.as_bytes(), &settings)
}

/// Calls of `START_SPEED_FEED_SYNC` that our passes stand for: one a pass, one more where an end
/// is tapered, because the lead along the path changes there.
fn synchronised(program: &Program) -> usize {
    program
        .sections
        .iter()
        .flat_map(|section| &section.passes)
        .map(|pass| match pass.legs.len() {
            0 | 1 => 1,
            2 | 3 => 2,
            _ => 3,
        })
        .sum()
}

/// A thread that looks sound: passes, and nothing said to be missing or unknown.
fn looks_sound(program: &Program) -> bool {
    program.sections.iter().any(|section| {
        !section.passes.is_empty() && section.missing.is_empty() && section.unknown.is_empty()
    })
}

#[test]
fn the_record_is_whole() {
    let all = recorded();
    assert_eq!(all.len(), 64);
    assert_eq!(all.iter().filter(|case| case.refused).count(), 31);
    assert!(
        all.iter()
            .all(|case| case.refused != case.message.is_empty())
    );
}

#[test]
fn what_it_refuses_never_looks_sound() {
    for case in recorded().iter().filter(|case| case.refused) {
        if case.message.contains("not turning") || case.message.contains("Spindle turning") {
            continue;
        }
        let program = read(case);
        assert!(
            !looks_sound(&program),
            "{} | {}: {}\n{:#?}",
            case.setup,
            case.block,
            case.message,
            program.sections
        );
    }
}

/// The spindle is state, not a word of the block: the passes are read and say that nothing turns.
#[test]
fn a_spindle_that_does_not_turn_is_seen() {
    let mut seen = 0;
    for case in recorded() {
        if case.message.contains("not turning") && !case.setup.contains("G17") {
            let program = read(&case);
            for pass in program.sections.iter().flat_map(|section| &section.passes) {
                assert_eq!(pass.spindle.turning, None, "{}", case.block);
                seen += 1;
            }
        }
    }
    assert!(seen >= 2, "only {seen} passes");
}

#[test]
fn what_it_takes_is_cut_in_as_many_passes() {
    for case in recorded().iter().filter(|case| !case.refused) {
        let program = read(case);
        // G84 taps without following the spindle.
        let floating = case.block.contains("G84");
        let expected = case.synchronised + usize::from(floating);
        assert_eq!(
            synchronised(&program),
            expected,
            "{} | {}\n{:#?}",
            case.setup,
            case.block,
            program.sections
        );
        if expected > 0 {
            let section = &program.sections[0];
            let cycle = case.block.contains("G76");
            assert_eq!(section.syntax == Syntax::DriveLine, cycle, "{}", case.block);
            let tap = floating || case.block.contains("G33.1");
            assert_eq!(section.syntax == Syntax::Tap, tap, "{}", case.block);
            let follows = section.tapping.as_ref().and_then(|t| t.synchronised.get());
            assert_eq!(follows, tap.then_some(!floating), "{}", case.block);
        }
    }
}

/// The mandatory words, each left out: the reader names it.
#[test]
fn a_left_out_word_is_named() {
    let whole = ["P1.5", "Z-20", "I-1", "J0.3", "K0.92"];
    for left_out in whole {
        let words: Vec<&str> = whole.iter().copied().filter(|w| *w != left_out).collect();
        let case = Recorded {
            setup: "G21 G18 G8 G97 S500 M3".to_owned(),
            block: format!("G76 {}", words.join(" ")),
            refused: true,
            synchronised: 0,
            message: String::new(),
        };
        let program = read(&case);
        // Without Z the block has no axis word; the others leave a section without passes.
        let section = &program.sections[0];
        assert!(section.passes.is_empty(), "{left_out}: {section:#?}");
        assert_eq!(
            section
                .missing
                .iter()
                .map(|missing| missing.letters)
                .collect::<Vec<_>>(),
            [&left_out[..1]],
        );
    }
}
