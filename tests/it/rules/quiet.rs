//! Legal programs on which the rules about what stands around a thread, and about the order of its
//! passes, have nothing to say: the labelled programs of `corpus/constructs` and `corpus/silent`,
//! and their first halves, which end anywhere.

use std::path::PathBuf;

use ::rules::checks::Rule;
use ::rules::facts::Facts;
use ::rules::judge::judge;
use lexer::program::Settings;

use super::root;

const RULES: [&str; 28] = [
    "callout-missing",
    "copy-drift",
    "feed-mode",
    "hand-mismatch",
    "lead-left-as-feed",
    "load-spike",
    "long-approach",
    "multi-start-lead",
    "no-chamfer",
    "pass-goes-back",
    "pull-out-vs-relief",
    "radial-on-coarse",
    "relief-after-thread",
    "relief-shallow",
    "retract-wrong-side",
    "return-in-material",
    "run-out-short",
    "skipped-pass",
    "speed-not-settled",
    "spindle-changes-in-thread",
    "stale-cycle-word",
    "start-in-material",
    "start-inconsistent",
    "taper-direction",
    "thread-into-shoulder",
    "thread-length",
    "unit-mode-conflict",
    "unknown-code-in-section",
];

fn programs() -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> = ["constructs", "silent"]
        .iter()
        .flat_map(|folder| std::fs::read_dir(root().join("corpus").join(folder)).unwrap())
        .map(|entry| entry.unwrap().path())
        .collect();
    all.sort();
    all
}

#[test]
fn legal_programs_are_silent() {
    for name in RULES {
        assert!(Rule::named(name).is_some(), "{name}");
    }
    let (settings, facts) = (Settings::default(), Facts::default());
    let programs = programs();
    assert!(programs.len() > 90, "{}", programs.len());
    for path in programs {
        let text = std::fs::read(&path).unwrap();
        let program = lexer::read(&text, &settings);
        for finding in judge(&text, &program, &settings, &facts).findings {
            assert!(
                !RULES.contains(&finding.rule),
                "{}:{} {}: {}",
                path.display(),
                finding.line,
                finding.rule,
                finding.message
            );
        }
    }
}

/// Cut off at any byte, a program is judged without a panic, and every finding lies inside it.
#[test]
fn programs_cut_off_anywhere_are_judged() {
    let (settings, facts) = (Settings::default(), Facts::default());
    let mut programs: Vec<PathBuf> = RULES
        .iter()
        .map(|rule| root().join("corpus/rules").join(rule).join("bad.nc"))
        .collect();
    programs.sort();
    for path in programs {
        let text = std::fs::read(&path).unwrap();
        for end in (0..text.len()).step_by(3) {
            let text = &text[..end];
            let program = lexer::read(text, &settings);
            for finding in judge(text, &program, &settings, &facts).findings {
                let places = finding.related.iter().map(|related| related.span);
                for span in places.chain([finding.span]) {
                    assert!(
                        span.start <= span.end && span.end as usize <= end,
                        "{finding:?}"
                    );
                }
            }
        }
    }
}
