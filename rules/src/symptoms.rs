//! From what a person sees at the machine to the checks that settle it, in the order that settles
//! it fastest: first what a program can show, then what has to be looked at on the machine.
//!
//! The table is common practice, no source.

use crate::checks::Rule;
use crate::finding::{Finding, Severity};
use crate::judge::Judgement;

/// One thing to check.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// A rule judges it from the program: its name, and why it matters here.
    Rule(&'static str, &'static str),
    /// The program cannot tell.
    Look(&'static str),
}

/// What a person sees.
#[derive(Debug, Clone, Copy)]
pub struct Symptom {
    /// Its name, kebab case.
    pub name: &'static str,
    /// What it looks like, in one line.
    pub seen: &'static str,
    /// What to check, in order.
    pub steps: &'static [Step],
}

use Step::{Look, Rule as Run};

/// Every symptom.
pub const SYMPTOMS: &[Symptom] = &[
    Symptom {
        name: "nose-breaks-on-first-pass",
        seen: "the tip of the insert breaks in the first pass",
        steps: &[
            Run("first-pass-heavy", "the bare tip takes too much at once"),
            Run(
                "start-inside-crest",
                "the tool starts in the material, or rubs on the way back",
            ),
            Run("wrong-side", "the tool comes from the wrong side"),
            Run(
                "depth-scale",
                "a depth off by a factor makes the first cut as much too deep",
            ),
            Run(
                "spindle-not-running",
                "the tool goes into work that stands still",
            ),
            Look("whether the blank is larger than the program takes it for"),
            Look("whether the end has its chamfer, down to the root of the thread"),
            Look("whether the tip stands at centre height and the insert sits in its seat"),
        ],
    },
    Symptom {
        name: "nose-breaks-late",
        seen: "the tip of the insert breaks in one of the last passes",
        steps: &[
            Run(
                "last-pass-heaviest",
                "the load rises to the end, where the edge is longest",
            ),
            Run(
                "equal-depth-passes",
                "equal steps make each chip larger than the one before",
            ),
            Run(
                "nose-too-big",
                "a nose larger than the root cuts where there should be room",
            ),
            Run(
                "profile-pitch-mismatch",
                "a full profile of another pitch tops the crest and tears",
            ),
            Run("depth-vs-form", "the last passes go deeper than the form"),
            Look(
                "whether the pull-out runs into a shoulder, and whether the relief is deep enough",
            ),
            Look("how much stock a full-profile insert has to top off the crest"),
        ],
    },
    Symptom {
        name: "chips-at-exit",
        seen: "the edge chips where the tool leaves the thread",
        steps: &[
            Run(
                "last-pass-heaviest",
                "the heaviest chip meets the exit last",
            ),
            Look("the pull-out length against the width of the relief"),
            Look("whether the tool leaves at full depth into a shoulder"),
        ],
    },
    Symptom {
        name: "torn-flank",
        seen: "one flank is torn or the trailing edge wears out of turn",
        steps: &[
            Run(
                "infeed-angle-over-flank",
                "an infeed at or beyond the flank lets the trailing edge rub",
            ),
            Run(
                "pass-under-minimum",
                "passes too light to cut rub both flanks",
            ),
            Run(
                "too-many-passes",
                "passes without new depth polish and tear",
            ),
            Look("the tilt of the insert against the lead angle: `flankwise tools` works it out"),
            Look("coolant at the edge, and a worn edge"),
        ],
    },
    Symptom {
        name: "built-up-edge",
        seen: "material welds to the edge and the thread comes out torn all over",
        steps: &[
            Run(
                "pass-under-minimum",
                "a step below the radius of the edge squeezes instead of cutting",
            ),
            Run("too-many-passes", "passes without new depth rub"),
            Look("the cutting speed: often too low after a change of material or diameter"),
            Look("coolant, and whether the insert suits the material"),
        ],
    },
    Symptom {
        name: "chatter",
        seen: "the tool sings, the flanks show waves",
        steps: &[
            Run(
                "too-many-passes",
                "many thin chips excite more than few thick ones",
            ),
            Run(
                "pass-under-minimum",
                "chips too thin to keep the tool loaded",
            ),
            Run("infeed-angle-over-flank", "one flank rubs"),
            Look(
                "straight infeed on a coarse pitch: `flankwise passes` shows the chip of each edge",
            ),
            Look("overhang of the bar, length over diameter of the part, tailstock or steady"),
        ],
    },
    Symptom {
        name: "first-threads-loose",
        seen: "the first threads are loose or their pitch is off",
        steps: &[
            Run(
                "run-in-short",
                "the axis is not yet in step where the thread begins",
            ),
            Run(
                "axis-feed-limit",
                "the axis cannot follow the lead at this speed",
            ),
            Run(
                "speed-above-clamp",
                "the spindle does not reach the speed that is written",
            ),
            Run(
                "rpm-changes-between-passes",
                "another speed lags by another length",
            ),
            Look("whether the spindle is at speed when the first pass begins"),
        ],
    },
    Symptom {
        name: "loose-at-one-end",
        seen: "the thread is tight at one end and loose at the other",
        steps: &[
            Run(
                "taper-word",
                "a taper that should not be there, or covers only part of the stroke",
            ),
            Run(
                "lead-vs-designation",
                "a lead that is off adds up along the thread",
            ),
            Run("lead-rounding", "a rounded lead adds up along the thread"),
            Look("whether the part gives way: tailstock, steady, overhang, a spring pass"),
            Look("whether the tailstock is in line"),
        ],
    },
    Symptom {
        name: "double-thread",
        seen: "two grooves beside each other, or a groove that gets wider from pass to pass",
        steps: &[
            Run(
                "rpm-changes-between-passes",
                "a changed speed moves the groove along the axis",
            ),
            Run(
                "surface-speed-in-thread",
                "the speed follows the diameter of each pass",
            ),
            Run(
                "speed-above-clamp",
                "the speed is cut off by the clamp in some passes",
            ),
            Run(
                "pitch-diameter-out",
                "passes that start at different places leave a wide groove",
            ),
            Run(
                "lead-vs-designation",
                "a pitch where the lead should stand, or the other way round",
            ),
            Look("whether the gear was changed, or the tool or its offset touched, between passes"),
        ],
    },
    Symptom {
        name: "go-stops-after-few-turns",
        seen: "the GO gauge starts and stops after a few turns",
        steps: &[
            Run(
                "lead-vs-designation",
                "a lead that is off stops the gauge after some turns",
            ),
            Run("lead-rounding", "a rounded lead adds up"),
            Run(
                "infeed-angle-over-flank",
                "a flank cut in steps makes the thread larger to the gauge",
            ),
            Run(
                "nose-too-big",
                "the round at the root fouls the crest of the gauge",
            ),
            Run("pitch-diameter-out", "the pitch diameter with this nose"),
            Look("the flank angle: tilt, insert, shim; the pitch diameter alone may be right"),
        ],
    },
    Symptom {
        name: "go-stops-at-once",
        seen: "the GO gauge does not start at all",
        steps: &[
            Run("pitch-diameter-out", "the pitch diameter with this nose"),
            Run("depth-vs-form", "a thread that is too shallow"),
            Run("wrong-side", "the other hand or the other side"),
            Run(
                "designation-conflict",
                "the program is for another thread than the gauge",
            ),
            Run(
                "coating-unaccounted",
                "a coating takes more than the class gives",
            ),
            Look("a burr or a first thread that is not deburred"),
            Look("the diameter of the blank or the bore"),
            Look("the wear offset in use"),
        ],
    },
    Symptom {
        name: "no-go-enters",
        seen: "the NO-GO gauge goes, the thread is loose",
        steps: &[
            Run("pitch-diameter-out", "the pitch diameter with this nose"),
            Run("depth-vs-form", "a thread that is deeper than its form"),
            Run(
                "rpm-changes-between-passes",
                "a changed speed widens the groove",
            ),
            Look("the wear offset in use, and whether it was set in radius or diameter"),
            Look("whether the tool gave way and sprang back in the spring passes"),
        ],
    },
    Symptom {
        name: "drifts-in-the-shift",
        seen: "the first parts are right, later ones are not",
        steps: &[
            Run("pitch-diameter-out", "how near to a limit the program aims"),
            Run("pass-under-minimum", "light passes wear the edge"),
            Run(
                "last-pass-heaviest",
                "the finishing pass loads the edge that makes the size",
            ),
            Look("parts per edge, and the step by which the wear offset follows"),
            Look("warm-up of spindle and screw"),
        ],
    },
    Symptom {
        name: "too-slow",
        seen: "the thread takes too long",
        steps: &[
            Run("too-many-passes", "passes that add nothing"),
            Run(
                "pass-under-minimum",
                "passes too light to be worth their return",
            ),
            Run(
                "equal-depth-passes",
                "a split by equal steps needs more passes for the same load",
            ),
            Look(
                "the distance before the thread and the retract: `flankwise passes` shows the seconds",
            ),
            Look("the speed against what material, insert and axis allow"),
        ],
    },
    Symptom {
        name: "edges-wear-fast",
        seen: "an edge lasts for few parts",
        steps: &[
            Run("first-pass-heavy", "the tip wears first"),
            Run("pass-under-minimum", "rubbing wears more than cutting"),
            Run("too-many-passes", "every pass is way under load"),
            Run("infeed-angle-over-flank", "one flank rubs"),
            Run("last-pass-heaviest", "the load rises to the end"),
            Look("the cutting speed against the material"),
            Look("coolant at the edge, tilt of the insert"),
        ],
    },
];

/// Said below every list of checks.
pub const CAUTION: &str = "prove any change out before it cuts a part: graphics or dry run, reduced \
                           rapid, a hand near feed hold, the wear offset on the safe side, the first \
                           part gauged; the control's manual, local rules and qualified staff decide";

impl Symptom {
    /// The symptom of a name.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Symptom> {
        SYMPTOMS.iter().find(|symptom| symptom.name == name)
    }
}

/// What a step came to on a program.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome<'a> {
    /// The rule found something: its findings, worst first.
    Found(Vec<&'a Finding>),
    /// The rule could not judge some section: why, each reason once.
    NotJudged(Vec<&'a str>),
    /// The rule is content.
    Clear,
    /// To be looked at on the machine.
    AtTheMachine,
}

/// A step and what it came to.
#[derive(Debug, Clone, PartialEq)]
pub struct Answered<'a> {
    /// The step.
    pub step: Step,
    /// Its outcome.
    pub outcome: Outcome<'a>,
}

/// The steps of a symptom on a judged program: what was found first, the worst before the rest, then
/// what could not be judged, then what is to be looked at, then what is cleared; each in the order
/// of the table. A rule that the configuration switched off counts as not judged.
#[must_use]
pub fn answer<'a>(
    symptom: &Symptom,
    judgement: &'a Judgement,
    off: &impl Fn(&str) -> bool,
) -> Vec<Answered<'a>> {
    let mut all: Vec<Answered<'a>> = symptom
        .steps
        .iter()
        .map(|&step| Answered {
            step,
            outcome: match step {
                Look(_) => Outcome::AtTheMachine,
                Run(name, _) => outcome(name, judgement, off(name)),
            },
        })
        .collect();
    all.sort_by_key(|answered| match &answered.outcome {
        Outcome::Found(found) => match found.iter().map(|one| one.severity).max() {
            Some(Severity::Error) => 0,
            Some(Severity::Warning) => 1,
            _ => 2,
        },
        Outcome::NotJudged(_) => 3,
        Outcome::AtTheMachine => 4,
        Outcome::Clear => 5,
    });
    all
}

fn outcome<'a>(name: &str, judgement: &'a Judgement, off: bool) -> Outcome<'a> {
    if off {
        return Outcome::NotJudged(vec!["the rule is switched off in the configuration"]);
    }
    if Rule::named(name).is_none() {
        return Outcome::NotJudged(vec!["there is no such rule"]);
    }
    let mut found: Vec<&Finding> = judgement
        .findings
        .iter()
        .filter(|finding| finding.rule == name)
        .collect();
    found.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    if !found.is_empty() {
        return Outcome::Found(found);
    }
    let mut why: Vec<&str> = judgement
        .not_judged
        .iter()
        .flatten()
        .filter(|(rule, _)| *rule == name)
        .map(|(_, why)| why.as_str())
        .collect();
    why.sort_unstable();
    why.dedup();
    if why.is_empty() {
        Outcome::Clear
    } else {
        Outcome::NotJudged(why)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::judged;
    use crate::facts::Facts;

    /// Names are unique, every rule exists and stands once, and each list ends with what only the
    /// machine can tell.
    #[test]
    fn the_table_is_sound() {
        let mut names: Vec<&str> = SYMPTOMS.iter().map(|symptom| symptom.name).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), SYMPTOMS.len());
        for symptom in SYMPTOMS {
            let mut seen = Vec::new();
            for step in symptom.steps {
                if let Run(name, _) = step {
                    assert!(Rule::named(name).is_some(), "{}: {name}", symptom.name);
                    assert!(!seen.contains(name), "{}: {name}", symptom.name);
                    seen.push(name);
                }
            }
            assert!(!seen.is_empty(), "{}", symptom.name);
            assert!(
                matches!(symptom.steps.last(), Some(Look(_))),
                "{}",
                symptom.name
            );
        }
    }

    /// A run-in of 1 mm at 1500 1/min and a lead of 3: found first, though the table has others
    /// before; a rule that is off is not called content.
    #[test]
    fn what_was_found_comes_first() {
        let text = "G21\n(THREAD M24X3-6G)\nG97 S1500 M3\nG0 X28. Z1.\nG92 X23.2 Z-30. F3.\nX22.6\n\
                    X22.\nX21.4\nX20.9\nX20.319\nG0 X90.\n";
        let judgement = judged(text, &Facts::default());
        let symptom = Symptom::named("first-threads-loose").unwrap();
        let all = answer(symptom, &judgement, &|_| false);
        assert_eq!(all.len(), symptom.steps.len());
        assert!(
            matches!(&all[0], Answered { step: Run("run-in-short", _), outcome: Outcome::Found(found) } if !found.is_empty()),
            "{all:?}"
        );
        let off = answer(symptom, &judgement, &|name| name == "run-in-short");
        assert!(
            off.iter()
                .all(|one| !matches!(one.outcome, Outcome::Found(_)))
        );
        assert!(off.iter().any(
            |one| matches!(&one.outcome, Outcome::NotJudged(why) if why[0].contains("switched off"))
        ));
        let rank = |one: &Answered<'_>| match one.outcome {
            Outcome::Found(_) => 0,
            Outcome::NotJudged(_) => 1,
            Outcome::AtTheMachine => 2,
            Outcome::Clear => 3,
        };
        assert!(all.windows(2).all(|pair| rank(&pair[0]) <= rank(&pair[1])));
    }
}
