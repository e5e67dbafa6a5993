//! One file per rule. A rule's doc comment is its page: what it checks, why it matters, the sum,
//! a bad and a good example, and the source.

use lexer::program::{Program, Settings};
use lexer::section::Section;

use crate::facts::Facts;
use crate::finding::{Finding, Severity};
use crate::identify::Identified;
use crate::table::Table;

/// What a check may look at.
pub struct Context<'a> {
    /// The text.
    pub bytes: &'a [u8],
    /// The whole file.
    pub program: &'a Program,
    /// How it was read.
    pub settings: &'a Settings,
    /// The section at hand.
    pub section: &'a Section,
    /// Its index in the program.
    pub index: usize,
    /// Which thread it is.
    pub thread: &'a Identified,
    /// Its passes with depth, area and time.
    pub table: &'a Table,
    /// Facts that hold for the file.
    pub facts: &'a Facts,
}

/// A rule.
pub struct Rule {
    /// Name, kebab case.
    pub name: &'static str,
    /// One line for the index.
    pub summary: &'static str,
    /// Its page, from the doc comment of its file.
    pub page: &'static str,
    /// Severity of its findings where nothing lowers it.
    pub severity: Severity,
    /// Whether it can offer a fix.
    pub fixes: bool,
    /// Looks at one section.
    pub check: fn(&Context<'_>, &mut Vec<Finding>),
}
