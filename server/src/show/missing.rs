//! Facts that would let more rules judge, with the lines of `flankwise.toml` that state them: once
//! for each, however many programs miss it.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use rules::missing::Missing;
use serde::Serialize;

use super::text::plural;
use super::visible;

/// Facts told by a run; the others are counted.
const TOLD: usize = 3;

/// A fact as data.
#[derive(Serialize)]
pub(crate) struct MissingOut {
    fact: &'static str,
    rules: Vec<&'static str>,
    add: Vec<String>,
}

impl MissingOut {
    pub(crate) fn of(one: Missing) -> MissingOut {
        MissingOut {
            fact: one.fact,
            rules: one.rules,
            add: one.add,
        }
    }
}

/// The missing facts of a run by the lines to add.
#[derive(Default)]
pub(crate) struct MissingFacts(BTreeMap<Vec<String>, Asked>);

struct Asked {
    fact: &'static str,
    rules: BTreeSet<&'static str>,
    programs: usize,
}

impl MissingFacts {
    /// Adds those of one program.
    pub(crate) fn add(&mut self, program: Vec<Missing>) {
        for one in program {
            let asked = self.0.entry(one.add).or_insert(Asked {
                fact: one.fact,
                rules: BTreeSet::new(),
                programs: 0,
            });
            asked.rules.extend(one.rules);
            asked.programs += 1;
        }
    }

    /// The advice, what most programs miss first.
    pub(crate) fn told(&self) -> String {
        let mut all: Vec<_> = self.0.iter().collect();
        all.sort_by_key(|(_, asked)| std::cmp::Reverse(asked.programs));
        let mut out = String::new();
        for (add, asked) in all.iter().take(TOLD) {
            let rules: Vec<_> = asked.rules.iter().copied().collect();
            // Writing to a string cannot fail.
            let _ = writeln!(
                out,
                "advice: {} is missing in {} for {}; add to flankwise.toml:",
                asked.fact,
                plural(asked.programs, "program", "programs"),
                rules.join(", ")
            );
            for line in *add {
                let _ = writeln!(out, "    {}", visible::text(line));
            }
        }
        if all.len() > TOLD {
            let _ = writeln!(
                out,
                "advice: {} missing beside these; --format json lists them by program",
                plural(all.len() - TOLD, "more fact is", "more facts are")
            );
        }
        out
    }
}
