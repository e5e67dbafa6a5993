//! Facts whose absence kept rules from judging, each with the lines of `flankwise.toml` that state
//! it. A value that only the shop knows stands as `…`: the reader refuses it, so that nothing is
//! taken for a fact that nobody has given.

use lexer::machine::Machine;
use lexer::program::Program;
use lexer::section::Section;

use crate::identify::From;
use crate::judge::Judgement;

/// A fact that is missing in a program.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Missing {
    /// The lines to add to `flankwise.toml`.
    pub add: Vec<String>,
    /// What it is, in words.
    pub fact: &'static str,
    /// The rules that would judge with it, by name.
    pub rules: Vec<&'static str>,
}

/// Where a fact stands in the configuration.
#[derive(Clone, Copy)]
enum Table {
    /// `[[tool]]` of the section's tool, with these keys.
    Tool(&'static [&'static str]),
    /// `[[machine]]` of the program, with these keys.
    Machine(&'static [&'static str]),
    /// `[[thread]]` of the section's tool.
    Thread,
}

/// What a reason begins with, the fact behind it, where it is stated.
const FACTS: [(&str, &str, Table); 9] = [
    (
        "the nose of the tool is missing",
        "the nose of the tool",
        Table::Tool(&["nose_radius_mm"]),
    ),
    (
        "no [[tool]] is configured",
        "the tool",
        Table::Tool(&["nose_radius_mm"]),
    ),
    (
        "the pitch that the tool is made for is missing",
        "the pitch of the tool",
        Table::Tool(&["pitch_mm"]),
    ),
    (
        "the diameter of the cutter is missing",
        "the diameter of the cutter",
        Table::Tool(&["mill_diameter_mm"]),
    ),
    (
        "the control's own minimum cut or finishing allowance is missing",
        "what the control uses where the cycle does not write it",
        Table::Machine(&["min_cut_mm", "finish_allowance_mm"]),
    ),
    (
        "minimum cut or finishing allowance is missing",
        "what the control uses where the cycle does not write it",
        Table::Machine(&["min_cut_mm", "finish_allowance_mm"]),
    ),
    ("no designation is stated", "the thread", Table::Thread),
    (
        "the name of the thread is missing",
        "the thread",
        Table::Thread,
    ),
    (
        "the name of the tap is missing",
        "the thread",
        Table::Thread,
    ),
];

/// The missing facts of a program, each once, in the order of the sections that miss them.
#[must_use]
pub fn missing(program: &Program, judgement: &Judgement) -> Vec<Missing> {
    let mut all: Vec<Missing> = Vec::new();
    let sections = program.sections.iter().zip(&judgement.not_judged);
    for (index, (section, reasons)) in sections.enumerate() {
        for (rule, why) in reasons {
            let known = FACTS.iter().find(|(begins, ..)| why.starts_with(begins));
            let Some((_, fact, table)) = known else {
                continue;
            };
            let add = lines(*table, section, judgement, index);
            match all.iter_mut().find(|one| one.add == add) {
                Some(one) if one.rules.contains(rule) => {}
                Some(one) => one.rules.push(rule),
                None => all.push(Missing {
                    add,
                    fact,
                    rules: vec![rule],
                }),
            }
        }
    }
    for one in &mut all {
        one.rules.sort_unstable();
    }
    all
}

fn lines(table: Table, section: &Section, judgement: &Judgement, index: usize) -> Vec<String> {
    let station = section
        .tool
        .as_ref()
        .map(|tool| Machine::station(tool.value));
    let blank = |keys: &[&str]| {
        keys.iter()
            .map(|key| format!("{key} = …"))
            .collect::<Vec<_>>()
    };
    let mut lines = Vec::new();
    match table {
        Table::Tool(keys) => {
            lines.push("[[tool]]".to_owned());
            lines.push(match station {
                Some(number) => format!("number = {number}"),
                None => "comment = \"…\"".to_owned(),
            });
            lines.extend(blank(keys));
        }
        Table::Machine(keys) => {
            lines.push("[[machine]]".to_owned());
            lines.push("id = \"…\"".to_owned());
            lines.extend(blank(keys));
        }
        Table::Thread => {
            lines.push("[[thread]]".to_owned());
            lines.extend(station.map(|number| format!("tool = {number}")));
            // What the numbers speak for is offered, not taken: a person signs it by adding it.
            let thread = judgement
                .threads
                .get(index)
                .and_then(|one| one.thread.as_ref());
            lines.push(match thread {
                Some((thread, From::Numbers)) => {
                    format!("designation = \"{}\"", thread.designation())
                }
                _ => "designation = \"…\"".to_owned(),
            });
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::judged;
    use crate::facts::{Config, FILE_NAME, Facts};

    const TEXT: &str = "G21\nT0303\n(THREAD M30X2-6G)\nG97 S1000 M3\nG0 X34. Z8.\nG76 P021055 Q80 R0.05\nG76 X27.546 Z-36. P1227 Q350 F2.\nG0 X34. Z8.\nG76 X27.546 Z-36. P1227 Q350 F2.\n";

    fn of(text: &str, facts: &Facts) -> Vec<Missing> {
        let program = lexer::read(text.as_bytes(), &Default::default());
        missing(&program, &judged(text, facts))
    }

    /// Once a program, however many sections and rules miss it; and gone when it is added.
    #[test]
    fn a_fact_is_asked_for_once_and_its_lines_are_read() {
        let all = of(TEXT, &Facts::default());
        let nose = all.iter().filter(|one| one.fact == "the nose of the tool");
        let [nose] = nose.collect::<Vec<_>>()[..] else {
            panic!("{all:?}")
        };
        assert_eq!(nose.add, ["[[tool]]", "number = 3", "nose_radius_mm = …"]);
        assert!(nose.rules.contains(&"pitch-diameter-out"), "{nose:?}");
        let blank = nose.add.join("\n");
        assert!(Config::parse(FILE_NAME, &blank, &[]).is_err());
        let config = Config::parse(FILE_NAME, &blank.replace('…', "0.2"), &[]).unwrap();
        let left = of(TEXT, &config.facts("a.nc").1);
        assert!(left.iter().all(|one| one.add != nose.add), "{left:?}");
    }

    /// Every kind of line is one that the reader knows.
    #[test]
    fn every_line_is_a_key_of_the_configuration() {
        let program = lexer::read(TEXT.as_bytes(), &Default::default());
        let judgement = judged(TEXT, &Facts::default());
        for (_, fact, table) in FACTS {
            let text = lines(table, &program.sections[0], &judgement, 0).join("\n");
            let filled = text
                .replace("id = \"…\"", "id = \"lathe-1\"")
                .replace("designation = \"…\"", "designation = \"M30x2-6g\"")
                .replace('…', "0.2");
            assert!(
                Config::parse(FILE_NAME, &filled, &[]).is_ok(),
                "{fact}: {filled}"
            );
        }
    }
}
