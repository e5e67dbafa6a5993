//! `[[waiver]]`: a rule that the shop allows for some files, with the reason.

use std::ops::Range;

use lexer::source::Span;
use toml::Spanned;
use toml::de::DeTable;

use super::files::Files;
use super::keys::{Keys, Slip, with_hint};
use crate::date::Date;

/// A waiver of the configuration.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Waiver {
    /// The rule that it waives.
    pub rule: String,
    /// Fingerprint of the one section that it is for; none for every section of its files.
    pub section: Option<String>,
    /// Why the shop allows it.
    pub reason: String,
    /// Who signed it.
    pub by: Option<String>,
    /// Its last day.
    pub until: Option<Date>,
    /// Most findings that it is for in one run.
    pub max_uses: Option<u32>,
    /// Which waiver of the file, from 0.
    pub index: usize,
    /// Its place in words, `flankwise.toml: waiver 2`.
    pub source: String,
    /// Its place in the text of the configuration.
    pub span: Span,
    /// Line of the place, from 1.
    pub line: u32,
}

impl Waiver {
    /// Whether its last day is over. Without a date of today nothing is.
    #[must_use]
    pub fn expired(&self, today: Option<Date>) -> bool {
        matches!((self.until, today), (Some(until), Some(today)) if until < today)
    }
}

/// A waiver with the files that it is for.
#[derive(Debug, Clone)]
pub(super) struct WaiverEntry {
    pub(super) files: Files,
    pub(super) waiver: Waiver,
}

pub(super) fn read(
    name: &str,
    index: usize,
    place: Range<usize>,
    table: DeTable<'_>,
    rules: &[&str],
    slips: &mut Vec<Slip>,
) -> WaiverEntry {
    let mut keys = Keys::new("[[waiver]]", table, slips);
    let files = Files::read(&mut keys);
    let rule = keys.text("rule");
    match &rule {
        None => keys.slip(
            place.clone(),
            "a waiver needs the name of its rule: add `rule = \"…\"`".to_owned(),
        ),
        Some(rule) if !rules.contains(&rule.get_ref().as_str()) => {
            let message = format!("unknown rule `{}`", rule.get_ref());
            keys.slip(rule.span(), with_hint(message, rule.get_ref(), rules));
        }
        Some(_) => {}
    }
    let reason = keys
        .text("reason")
        .map(Spanned::into_inner)
        .unwrap_or_default();
    if !reason.chars().any(char::is_alphanumeric) {
        keys.slip(
            place.clone(),
            "a waiver needs a reason: add `reason = \"…\"`".to_owned(),
        );
    }
    let section = keys.text("section");
    if let Some(text) = &section {
        let print = text.get_ref();
        if print.len() != 16
            || !print
                .bytes()
                .all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
        {
            keys.slip(
                text.span(),
                "`section` must be a fingerprint, the sixteen digits that `check --format json` \
                 prints for a section"
                    .to_owned(),
            );
        }
    }
    let waiver = Waiver {
        rule: rule.map(Spanned::into_inner).unwrap_or_default(),
        section: section.map(Spanned::into_inner),
        reason,
        by: keys.text("by").map(Spanned::into_inner),
        until: keys.date("until"),
        max_uses: keys.whole("max_uses", 1, 1_000_000),
        index,
        source: format!("{name}: waiver {}", index + 1),
        span: Span::new(place.start as u32, place.end as u32),
        line: 0,
    };
    keys.finish();
    WaiverEntry { files, waiver }
}
