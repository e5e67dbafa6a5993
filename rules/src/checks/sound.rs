//! Programs for every listed size of every family: sound ones on which the rules about the thread
//! stay silent, and the same with one fault, which they find.

use lexer::program::Settings;
use lexer::units::Units;

use crate::checks::Rule;
use crate::facts::Facts;
use crate::finding::Finding;
use crate::judge::judge;
use crate::standards::thread::Thread;
use crate::standards::{FAMILIES, Side};

/// Rules about which thread it is, how deep, from which side.
const ABOUT_THE_THREAD: [&str; 26] = [
    "code-damaged",
    "copy-drift",
    "cycle-word-missing",
    "depth-scale",
    "depth-vs-form",
    "designation-conflict",
    "feed-mode",
    "hand-mismatch",
    "infeed-angle-over-flank",
    "lead-left-as-feed",
    "lead-unusual",
    "lead-vs-designation",
    "load-spike",
    "multi-start-lead",
    "no-chamfer",
    "pass-goes-back",
    "radial-on-coarse",
    "retract-wrong-side",
    "return-in-material",
    "speed-not-settled",
    "stale-cycle-word",
    "start-in-material",
    "start-inside-crest",
    "thread-into-shoulder",
    "unit-mode-conflict",
    "wrong-side",
];

/// The words of a cycle in two blocks, in the units of the thread's family.
#[derive(Clone, Copy)]
struct Words {
    units: Units,
    start: f64,
    root: f64,
    height: f64,
    lead: f64,
    angle: u32,
    length: f64,
}

impl Words {
    /// By the standard's drawing; `None` for tapered threads and for the side that a series lacks.
    fn of(thread: &Thread, side: Side) -> Option<Words> {
        if thread.form().taper != 0.0 || !thread.exists_on(side) {
            return None;
        }
        let (d, p, basic) = (thread.major.mm(), thread.pitch.mm(), thread.basic());
        let depth = thread.form().design_depth(side, p);
        let (root, start) = match side {
            Side::External => (basic.root.min(d - 2.0 * depth), d + 4.0),
            Side::Internal => (
                d.max(basic.minor + 2.0 * depth),
                (basic.minor - 1.0).max(basic.minor / 2.0),
            ),
        };
        let flank = thread
            .form()
            .flanks
            .map_or(0.0, |flanks| flanks.leading_deg.min(flanks.trailing_deg));
        let angles = [80, 60, 55, 30, 29, 0];
        Some(Words {
            units: thread.units(),
            start,
            root,
            height: match side {
                Side::External => (d - root) / 2.0,
                Side::Internal => (root - basic.minor) / 2.0,
            },
            lead: thread.lead().mm(),
            angle: angles
                .into_iter()
                .find(|a| f64::from(*a) <= 2.0 * flank + 0.01)?,
            length: 10.0 * p,
        })
    }

    fn program(self, note: &str) -> String {
        let (units, digits) = match self.units {
            Units::Millimetre => ("G21", 3),
            Units::Inch => ("G20", 4),
        };
        let real = |mm: f64| format!("{:.digits$}", mm * 1e9 / self.units.pm() as f64);
        let increments = |mm: f64| {
            let count = mm * 1e9 / self.units.least_increment().pm() as f64;
            count.round().max(1.0) as i64
        };
        let height = self.height;
        format!(
            "{units}\n{note}\nG97 S300 M3\nG0 X{} Z{}\nG76 P0100{:02} Q{} R{}\nG76 X{} Z-{} P{} Q{} F{:.6}\n",
            real(self.start),
            real(self.length / 2.0),
            self.angle,
            increments((height / 8.0).min(0.05)),
            real((height / 10.0).min(0.02)),
            real(self.root),
            real(self.length),
            increments(height),
            increments(0.3 * height),
            self.lead * 1e9 / self.units.pm() as f64,
        )
    }
}

/// Every listed size on both sides, with the words that are right for it.
fn all() -> impl Iterator<Item = (Thread, Side, Words)> {
    FAMILIES.into_iter().flat_map(|family| {
        let sizes = family.sizes().iter();
        sizes.flat_map(move |size| {
            [Side::External, Side::Internal]
                .into_iter()
                .filter_map(move |side| {
                    let thread = Thread::of_size(family, size);
                    let words = Words::of(&thread, side)?;
                    Some((thread, side, words))
                })
        })
    })
}

fn findings(text: &str) -> Vec<Finding> {
    let settings = Settings::default();
    let program = lexer::read(text.as_bytes(), &settings);
    assert_eq!(program.sections.len(), 1, "{text}");
    let mut all = judge(text.as_bytes(), &program, &settings, &Facts::default()).findings;
    all.retain(|finding| ABOUT_THE_THREAD.contains(&finding.rule));
    all
}

fn note(thread: &Thread) -> String {
    format!("(THREAD {})", thread.designation().to_uppercase())
}

#[test]
fn sound_programs_of_every_size_are_silent() {
    for name in ABOUT_THE_THREAD {
        assert!(Rule::named(name).is_some(), "{name}");
    }
    let mut count = 0;
    for (thread, side, words) in all() {
        for note in [
            note(&thread),
            format!("({})", thread.designation_for(side)),
            String::new(),
        ] {
            let text = words.program(&note);
            assert!(findings(&text).is_empty(), "{text}{:?}", findings(&text));
            count += 1;
        }
    }
    assert!(count > 6000, "{count}");
}

#[test]
fn faults_are_found_at_every_size() {
    for (thread, side, words) in all().step_by(7) {
        let (d, note) = (thread.major.mm(), note(&thread));
        let faults = [
            (
                "lead-vs-designation",
                Words {
                    lead: 1.1 * words.lead,
                    ..words
                },
            ),
            (
                "depth-scale",
                Words {
                    height: words.height / 10.0,
                    ..words
                },
            ),
            (
                "start-inside-crest",
                Words {
                    start: (words.root
                        + match side {
                            Side::External => d,
                            Side::Internal => thread.basic().minor,
                        })
                        / 2.0,
                    ..words
                },
            ),
            (
                "depth-vs-form",
                Words {
                    root: (words.root
                        + match side {
                            Side::External => d,
                            Side::Internal => thread.basic().minor,
                        })
                        / 2.0,
                    ..words
                },
            ),
        ];
        for (rule, words) in faults {
            // Heights of a few least increments cannot slip by a digit.
            if rule == "depth-scale" && words.height < 0.02 {
                continue;
            }
            let text = words.program(&note);
            let found = findings(&text);
            assert!(
                found.iter().any(|f| f.rule == rule),
                "{rule}\n{text}{found:?}"
            );
        }
    }
}

/// Without G7 and G8 the interpreter's X may be a radius or a diameter: nothing rests on it.
#[test]
fn an_x_that_may_be_a_radius_is_not_judged() {
    for x in ["28", "14"] {
        let text = format!(
            "; THREAD M24x2-6g\nG21 G18 G90\nG97 S800 M3\nG0 X{x} Z8\nG76 P2 Z-30 I-2 J0.35 R2 K1.227 Q27\n"
        );
        assert!(findings(&text).is_empty(), "{text}{:?}", findings(&text));
    }
}
