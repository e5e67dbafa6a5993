//! Lines of written blocks.

use super::style::{Style, Whole};
use crate::section::{Role, Syntax};
use crate::units::Length;

/// Gathers words into lines in a style.
pub(crate) struct Text<'a> {
    style: &'a Style,
    out: String,
    next: u32,
    /// Block skip of the lines to come.
    pub(crate) skip: Option<u8>,
}

impl<'a> Text<'a> {
    pub(crate) fn new(style: &'a Style) -> Self {
        Text {
            style,
            out: String::new(),
            next: style.numbers.map_or(0, |numbers| numbers.start),
            skip: None,
        }
    }

    /// Writes one block.
    pub(crate) fn line(&mut self, words: &[String]) {
        let mut parts: Vec<String> = Vec::new();
        match self.skip {
            Some(digit @ 2..) => parts.push(format!("/{digit}")),
            Some(_) => parts.push("/".to_owned()),
            None => {}
        }
        if let Some(numbers) = self.style.numbers {
            let width = usize::from(numbers.digits);
            parts.push(format!("N{:0width$}", self.next));
            self.next = self.next.saturating_add(numbers.step);
        }
        let separator = if self.style.spaced { " " } else { "" };
        let skip_and_number = parts.concat();
        if !skip_and_number.is_empty() {
            self.out.push_str(&skip_and_number);
            self.out.push_str(separator);
        }
        self.out.push_str(&words.join(separator));
        self.out.push_str(self.style.line_end);
    }

    /// A rapid to a Z.
    pub(crate) fn rapid_z(&mut self, z: Length) {
        let words = [self.style.code(0), self.style.position('Z', z)];
        self.line(&words);
    }

    pub(crate) fn finish(self) -> String {
        if self.style.lower {
            self.out.to_ascii_lowercase()
        } else {
            self.out
        }
    }
}

/// The words of a block by their roles: written in the shop's order, the others behind.
pub(crate) struct Words<'a> {
    style: &'a Style,
    syntax: Syntax,
    words: Vec<(Role, String)>,
}

impl<'a> Words<'a> {
    pub(crate) fn new(style: &'a Style, syntax: Syntax) -> Self {
        Words {
            style,
            syntax,
            words: Vec::new(),
        }
    }

    /// Adds a word.
    pub(crate) fn add(&mut self, role: Role, word: String) {
        self.words.push((role, word));
    }

    /// Adds a word unless its value is the default one and the shop leaves it out then.
    pub(crate) fn add_unless(&mut self, default: bool, role: Role, word: String) {
        let written = self
            .style
            .habits_of(self.syntax)
            .is_some_and(|habits| habits.roles.contains(&role));
        if !default || written {
            self.words.push((role, word));
        }
    }

    /// Whether the shop writes this depth word without a point; `default` where it is not known.
    pub(crate) fn in_increments(&self, role: Role, default: bool) -> bool {
        match self.style.habits_of(self.syntax) {
            Some(habits) if habits.roles.contains(&role) => habits.increments.contains(&role),
            _ => default || self.style.whole == Whole::Increments,
        }
    }

    /// The block's words behind its code.
    pub(crate) fn line(mut self, code: String) -> Vec<String> {
        if let Some(habits) = self.style.habits_of(self.syntax) {
            let place = |role: Role| {
                let place = habits.roles.iter().position(|&known| known == role);
                place.unwrap_or(usize::MAX)
            };
            self.words.sort_by_key(|(role, _)| place(*role));
        }
        let words = self.words.into_iter().map(|(_, word)| word);
        std::iter::once(code).chain(words).collect()
    }
}
