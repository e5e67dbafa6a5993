//! Writes threads: a section with a better split of its depth, a section in another syntax, a whole
//! new block. What is written is read again and compared before it is offered.

pub mod block;
pub mod convert;
mod lay;
pub mod milled;
pub mod note;
mod place;
pub mod plan;
pub mod rotating;
pub mod tapped;

use std::collections::BTreeMap;

use lexer::program::{Program, Settings};
use lexer::section::{Kind, Pass, Section, Syntax};
use lexer::units::{Diameter, Length};

use crate::facts::Facts;
use crate::finding::{Edit, Finding, Fix, FixKind, Severity};
use crate::fix::edited;
use crate::identify::Identified;
use crate::judge::{Judgement, judge};
use crate::table::Table;

/// A section of a judged program.
#[derive(Clone, Copy)]
pub struct Job<'a> {
    /// The text.
    pub bytes: &'a [u8],
    /// What it was read as.
    pub program: &'a Program,
    /// The settings it was read with.
    pub settings: &'a Settings,
    /// Facts of the shop.
    pub facts: &'a Facts,
    /// What it was judged.
    pub judgement: &'a Judgement,
    /// Index of the section.
    pub index: usize,
}

/// A program after a rewrite, read and judged again.
#[derive(Debug, Clone)]
pub struct Reread {
    /// The whole text.
    pub bytes: Vec<u8>,
    /// The section as it is read now.
    pub section: Section,
    /// Its passes.
    pub table: Table,
    /// Findings that were not there before, as `rule: message`.
    pub new_findings: Vec<String>,
}

impl<'a> Job<'a> {
    /// The section.
    ///
    /// # Errors
    /// When it is not one that is turned, or when what it does is not known for certain.
    fn section(&self) -> Result<&'a Section, String> {
        let section = self
            .program
            .sections
            .get(self.index)
            .ok_or("there is no such section")?;
        if section.kind != Kind::Turned {
            return Err(format!("the thread is {}, not turned", section.kind.name()));
        }
        if section.passes.is_empty() {
            return Err("no pass of the section is known".into());
        }
        if let Some(skipped) = section.passes.iter().find(|pass| pass.skip.is_some()) {
            let line = skipped.line;
            return Err(format!(
                "line {line} may be skipped (/), so what is cut is open"
            ));
        }
        Ok(section)
    }

    /// What is assumed of the passes; none where the words say them in full.
    ///
    /// # Errors
    /// When the control adds to them what is not known.
    fn assumed(&self, section: &Section) -> Result<Option<String>, String> {
        if section.passes_certain {
            return Ok(None);
        }
        let why = section.unknown.first().map_or("not known", String::as_str);
        match section.syntax {
            // Nothing in this cycle's words could say it.
            Syntax::OneBlock => Ok(Some(why.to_owned())),
            _ => Err(format!(
                "what the control makes of the passes is not certain: {why}"
            )),
        }
    }

    fn table(&self) -> Result<&'a Table, String> {
        let table = self.judgement.tables.get(self.index);
        table.ok_or_else(|| "the section was not judged".into())
    }

    fn identified(&self) -> Result<&'a Identified, String> {
        let thread = self.judgement.threads.get(self.index);
        thread.ok_or_else(|| "the section was not judged".into())
    }

    /// The text with edits, read and judged again: the section holds these passes, every other
    /// section is as it was, and no error is new. `limit` bounds the rounding of a diameter.
    fn reread(
        &self,
        edits: &[Edit],
        syntax: Syntax,
        wanted: &[Pass],
        limit: Length,
    ) -> Result<Reread, String> {
        let fix = Fix {
            title: String::new(),
            kind: FixKind::Motion,
            edits: edits.to_vec(),
        };
        let bytes = edited(self.bytes, &fix).ok_or("the edits do not fit the text")?;
        let program = lexer::read(&bytes, self.settings);
        if program.sections.len() != self.program.sections.len() {
            return Err("the new text would be read as another number of threads".into());
        }
        let others = self.program.sections.iter().zip(&program.sections);
        for (index, (old, new)) in others.enumerate() {
            if index != self.index && !same_passes(old, new) {
                let line = old.first_line;
                return Err(format!("the thread in line {line} would change too"));
            }
        }
        let section = program.sections[self.index].clone();
        if section.syntax != syntax {
            return Err(format!(
                "the new text would be read as {}",
                section.syntax.name()
            ));
        }
        agree(&section.passes, wanted, limit)?;
        let old = &self.program.sections[self.index];
        let tool = |section: &Section| section.tool.map(|tool| tool.value);
        if section.cut.start_x.get() != old.cut.start_x.get() || tool(&section) != tool(old) {
            return Err("start or tool of the thread would change".into());
        }
        let mut judgement = judge(&bytes, &program, self.settings, self.facts);
        if let Some(rule) = new_error(&self.judgement.findings, &judgement.findings) {
            return Err(format!("it would bring a new error: {rule}"));
        }
        let known = |finding: &Finding| {
            let mut findings = self.judgement.findings.iter();
            findings.any(|old| old.rule == finding.rule && old.section == finding.section)
        };
        let new_findings = judgement
            .findings
            .iter()
            .filter(|finding| !known(finding))
            .map(|finding| format!("{}: {}", finding.rule, finding.message))
            .collect();
        Ok(Reread {
            bytes,
            section,
            table: judgement.tables.swap_remove(self.index),
            new_findings,
        })
    }
}

/// Most that the depths of a section may be off by the rounding of its words: the digits of height
/// and first cut, the latter carried on by the law of the cycle.
fn rounding(section: &Section, passes: usize) -> Length {
    let digit = section.units.least_increment();
    Length::from_pm((digit.pm() as f64 * (2.0 + 2.0 * (passes as f64).sqrt())) as i64)
}

/// Whether passes are those wanted, within a limit for diameters and for places along the axis.
fn agree(got: &[Pass], wanted: &[Pass], limit: Length) -> Result<(), String> {
    if got.len() != wanted.len() {
        return Err(format!(
            "the new text would give {} passes and not {}",
            got.len(),
            wanted.len()
        ));
    }
    for (at, (got, wanted)) in got.iter().zip(wanted).enumerate() {
        let x = |x: Option<Diameter>| x.map(|x| x.0);
        let pairs = [
            (x(got.x), x(wanted.x)),
            (x(got.x_start), x(wanted.x_start)),
            (got.z_start, wanted.z_start),
            (got.z_end, wanted.z_end),
        ];
        let near = |(got, wanted): (Option<Length>, Option<Length>)| match (got, wanted) {
            (Some(got), Some(wanted)) => got.near(wanted, limit),
            (None, None) => true,
            _ => false,
        };
        if !pairs.into_iter().all(near) || got.start_angle != wanted.start_angle {
            return Err(format!("pass {} would be cut in another place", at + 1));
        }
    }
    Ok(())
}

fn same_passes(a: &Section, b: &Section) -> bool {
    let path = |pass: &Pass| {
        (
            (pass.x_start, pass.x, pass.z_start, pass.z_end),
            (pass.lead, pass.start_angle, pass.spindle.rpm()),
        )
    };
    a.syntax == b.syntax
        && a.passes.len() == b.passes.len()
        && a.passes
            .iter()
            .zip(&b.passes)
            .all(|(a, b)| path(a) == path(b))
}

/// A rule that has more errors than before.
fn new_error(before: &[Finding], after: &[Finding]) -> Option<&'static str> {
    let count = |findings: &[Finding]| {
        let mut counts: BTreeMap<&'static str, usize> = BTreeMap::new();
        let errors = findings.iter().filter(|f| f.severity == Severity::Error);
        for finding in errors {
            *counts.entry(finding.rule).or_default() += 1;
        }
        counts
    };
    let had = count(before);
    count(after)
        .into_iter()
        .find(|(rule, number)| *number > had.get(rule).copied().unwrap_or_default())
        .map(|(rule, _)| rule)
}

#[cfg(test)]
mod tests;
