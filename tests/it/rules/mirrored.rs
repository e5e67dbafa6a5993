//! A tool behind the centre line: every program of the corpus with its X turned around is judged as
//! it was, and threads off the beaten track raise no false alarm.

use std::path::{Path, PathBuf};

use ::lexer::block::{Block, blocks};
use ::lexer::evidence::Family;
use ::lexer::program::Settings;
use ::rules::facts::Facts;
use ::rules::judge::{Judgement, judge};

fn judged(text: &[u8]) -> Judgement {
    let settings = Settings::default();
    let program = lexer::read(text, &settings);
    judge(text, &program, &settings, &Facts::default())
}

/// Whether the word of a block is a diameter, or a radius difference along with one.
fn turns(block: &Block, letter: u8) -> bool {
    let any = |codes: &[i32]| block.g_codes().any(|(code, _)| codes.contains(&code));
    let rough = any(&[700, 710, 720, 730, 740, 750]);
    match letter {
        b'X' => true,
        b'U' => !rough || block.has(b'P'),
        b'I' => !any(&[20, 30]),
        b'R' => block.has_any(b"XU") && any(&[760, 780, 920, 210]),
        _ => false,
    }
}

/// The text with the sign of every X, U and taper turned around.
fn mirrored(text: &[u8]) -> Vec<u8> {
    let mut out = text.to_vec();
    let mut all: Vec<_> = blocks(text)
        .iter()
        .flat_map(|block| {
            let words = block.words.iter();
            words
                .filter(|word| turns(block, word.letter))
                .filter_map(|word| Some((word.value_span, word.number()?)))
                .collect::<Vec<_>>()
        })
        .collect();
    all.sort_by_key(|(span, _)| std::cmp::Reverse(span.start));
    for (span, number) in all {
        let (from, to) = (span.start as usize, span.end as usize);
        if number.digits < 0 {
            let minus = (from..to).find(|&at| out[at] == b'-').unwrap();
            out.remove(minus);
        } else if number.digits > 0 {
            out.insert(from, b'-');
        }
    }
    out
}

/// The programs under a folder.
fn programs(folder: &Path) -> Vec<PathBuf> {
    let mut all = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            all.extend(programs(&path));
        } else if path.extension().is_some_and(|extension| extension == "nc") {
            all.push(path);
        }
    }
    all.sort();
    all
}

#[test]
fn the_corpus_behind_the_centre_line() {
    let mut seen = 0;
    for path in programs(&super::root().join("corpus")) {
        let text = std::fs::read(&path).unwrap();
        let program = lexer::read(&text, &Settings::default());
        let turning = matches!(
            program.family,
            Family::SystemA | Family::SystemB | Family::SystemC
        );
        let plain = program.faults.is_empty()
            && blocks(&text)
                .iter()
                .all(|block| !block.has_g(20) && !block.has_g(30) && block.statement.is_none());
        if !turning || !plain || program.sections.is_empty() {
            continue;
        }
        let other = mirrored(&text);
        let found = |text: &[u8]| -> Vec<_> {
            let findings = judged(text).findings.into_iter();
            findings
                .map(|finding| (finding.rule, finding.severity, finding.line))
                .collect()
        };
        assert_eq!(
            found(&other),
            found(&text),
            "{}\n{}",
            path.display(),
            String::from_utf8_lossy(&other)
        );
        let sides = |text: &[u8]| -> Vec<_> {
            let program = lexer::read(text, &Settings::default());
            let sections = program.sections.iter();
            sections
                .map(|section| {
                    (
                        section.side(),
                        section.passes.len(),
                        section.cut.root_x.get(),
                    )
                })
                .collect()
        };
        assert_eq!(sides(&other), sides(&text), "{}", path.display());
        seen += 1;
    }
    assert!(seen >= 30, "{seen} programs");
}

/// Sound programs: scrolls on a face, feed screws, nuts and bolts behind the centre line, calls,
/// the compound cycle, boxes by G82.
#[test]
fn sound_threads_off_the_beaten_track_are_silent() {
    for text in [
        "G21 G99\nT0404\nG97 S100 M3\nG0 X120. Z2.\nZ-0.5\nG32 X60. F6.\nG0 Z2.\nX120.\nZ-1.\nG32 X60. F6.\nG0 Z2.\nX120.\n\
         Z-1.4\nG32 X60. F6.\nG0 Z2.\nX120.\nG0 Z50.\nM30\n",
        "G21 G99\nT0505\nG97 S120 M3\nG0 X64. Z40.\nX58.\nG34 Z-90. F12. K.4\nG0 X64.\nZ40.\nX57.\nG34 Z-90. F12. K.4\n\
         G0 X64.\nZ40.\nG0 X200.\nM30\n",
        "%_N_GLAND_STUD_MPF\n; M24X3-6G\nG90 G95 DIAMON\nT=\"THREAD 60\" D1\nG97 S600 M3\nG0 X34 Z14\n\
         CYCLE97(3,,0,-30,24,24,12,3,1.84,0.05,29,0,9,1,3,1,2)\nG0 X100 Z100\nM30\n",
        "G90 G95 DIAMON\nT7 D1 ; M30X2-6H\nG97 S600 M3\nG0 X24 Z10\n\
         CYCLE97(2,,0,-20,27.835,27.835,8,3,1.083,0.05,29,0,8,1,4,1,2)\nG0 Z100\nM30\n",
        "T0303 (M24X3-6G)\nG97 S600 M3\nG0 X34. Z12.\nM23\nG71 X20.319 Z-30. B58 D1. U0.1 H3.681 L1.5 F3. M32 M75\n\
         G0 X100. Z100.\nM2\n",
        "G21\nT0303 (M24X3-6G)\nG97 S600 M3\nG0 X34. Z12.\nG82 X23. Z-33. F3.\nX22.4\nX21.94\nX21.56\nX21.22\nX20.92\nX20.64\n\
         X20.42\nX20.319\nX20.319\nG0 X100. Z100.\nM30\n",
        "G90 G95 DIAMON\nT7 D1 ; M30X2-6G\nG97 S600 M3\nG0 X40 Z10\nX29.1\nG33 Z-30 K2\nG0 X40\nZ10\nX28.5\nG33 Z-30 K2\n\
         G0 X40\nZ10\nX28.1\nG33 Z-30 K2\nG0 X40\nZ10\nX27.8\nG33 Z-30 K2\nG0 X40\nZ10\nX27.6\nG33 Z-30 K2\nG0 X40\nZ10\n\
         X27.546\nG33 Z-30 K2\nG0 X40\nZ10\nG0 X100 Z100\nM30\n",
    ] {
        let program = lexer::read(text.as_bytes(), &Settings::default());
        assert_eq!(program.sections.len(), 1, "{text}");
        let findings = judged(text.as_bytes()).findings;
        assert!(findings.is_empty(), "{text}\n{findings:#?}");
    }
}

/// The same slips in a call are found.
#[test]
fn slips_in_a_call_are_found() {
    let call = |arguments: &str| {
        format!(
            "G90 G95 DIAMON\nT7 D1 ; THREAD M24X3-6G\nG97 S600 M3\nG0 X34 Z14\nCYCLE97({arguments})\nG0 X100 Z100\nM30\n"
        )
    };
    for (arguments, rule) in [
        // The lead of another thread.
        (
            "2,,0,-30,24,24,12,3,1.84,0.05,29,0,9,1,3,1,2",
            "lead-vs-designation",
        ),
        (
            "2.9,,0,-30,24,24,12,3,1.84,0.05,29,0,9,1,3,1,2",
            "lead-vs-designation",
        ),
        // The height in diameter.
        (
            "3,,0,-30,24,24,12,3,3.68,0.05,29,0,18,1,3,1,2",
            "depth-scale",
        ),
        // Equal depths.
        (
            "3,,0,-30,24,24,12,3,1.84,0.05,29,0,8,1,1,1,2",
            "equal-depth-passes",
        ),
        // Half of the cut comes last.
        (
            "3,,0,-30,24,24,12,3,1.84,0.6,29,0,8,1,3,1,2",
            "last-pass-heaviest",
        ),
        // Too steep for the flank.
        (
            "3,,0,-30,24,24,12,3,1.84,0.05,35,0,9,1,3,1,2",
            "infeed-angle-over-flank",
        ),
        // No run-in.
        (
            "3,,0,-30,24,24,0,3,1.84,0.05,29,0,9,1,3,1,2",
            "run-in-short",
        ),
        // No lead at all.
        (
            ",,0,-30,24,24,12,3,1.84,0.05,29,0,9,1,3,1,2",
            "cycle-word-missing",
        ),
    ] {
        let text = call(arguments);
        let findings = judged(text.as_bytes()).findings;
        let rules: Vec<_> = findings.iter().map(|finding| finding.rule).collect();
        assert!(rules.contains(&rule), "{text}\n{rules:?}");
    }
}
