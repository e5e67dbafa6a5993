//! Every program of the corpus, cut off anywhere: it is read and judged without a panic, and
//! nothing is said of what is not there. The programs of `corpus/constructs` and `corpus/silent` are
//! read up to every byte; all are judged up to every line and every byte of their threading blocks.

use std::path::{Path, PathBuf};

use lexer::program::Settings;
use rules::facts::Facts;
use rules::judge::judge;

/// Most bytes of one program at which it is cut off inside its threading blocks.
const INSIDE: usize = 600;

fn programs(folder: &Path, all: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            programs(&path, all);
        } else if path
            .extension()
            .is_some_and(|extension| extension == "nc" || extension == "ngc")
        {
            all.push(path);
        }
    }
}

/// Cuts a program off; `anywhere` for every byte.
fn cut_off(path: &Path, bytes: &[u8], anywhere: bool) {
    let (settings, facts) = (Settings::default(), Facts::default());
    let program = lexer::read(bytes, &settings);
    let lines = bytes.iter().enumerate().filter(|(_, byte)| **byte == b'\n');
    let mut ends: Vec<usize> = lines.map(|(at, _)| at + 1).collect();
    let blocks = program.sections.iter().flat_map(|section| &section.blocks);
    let inside = blocks.flat_map(|block| block.span.start as usize..block.span.end as usize);
    ends.extend(inside.take(INSIDE));
    ends.sort_unstable();
    ends.dedup();
    for end in (0..bytes.len()).filter(|_| anywhere) {
        let program = lexer::read(&bytes[..end], &settings);
        assert_eq!(program.length as usize, end, "{}", path.display());
        let mut spans = program.sections.iter().map(|section| section.span);
        assert!(
            spans.all(|span| span.end as usize <= end),
            "{}",
            path.display()
        );
    }
    for end in ends {
        let text = &bytes[..end];
        let program = lexer::read(text, &settings);
        assert_eq!(program.length as usize, end, "{}", path.display());
        let judgement = judge(text, &program, &settings, &facts);
        assert_eq!(judgement.threads.len(), program.sections.len());
        for finding in judgement.findings {
            let edits = finding.fixes.iter().flat_map(|fix| &fix.edits);
            let spans = edits.map(|edit| edit.span);
            let places = finding.related.iter().map(|related| related.span);
            for span in spans.chain(places).chain([finding.span]) {
                assert!(
                    span.start <= span.end && span.end as usize <= end,
                    "{} at {end}: {finding:?}",
                    path.display()
                );
            }
        }
    }
}

#[test]
fn every_program_is_judged_wherever_it_ends() {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("../corpus");
    let mut count = 0;
    for (folder, anywhere) in [
        ("constructs", true),
        ("silent", true),
        ("rules", false),
        ("shop", false),
    ] {
        let mut all = Vec::new();
        programs(&corpus.join(folder), &mut all);
        all.sort();
        count += all.len();
        for path in all {
            cut_off(&path, &std::fs::read(&path).unwrap(), anywhere);
        }
    }
    assert!(count > 290, "{count} programs");
}
