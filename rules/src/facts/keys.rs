//! Reads the keys of one TOML table. Every key that is asked for is a known key; what is left at
//! the end is unknown. Errors are gathered with their place, so that a shop mends its file in one
//! go.

use std::collections::BTreeMap;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::date::Date;
use crate::nearest::nearest;

/// An error and the bytes that it is about.
pub(super) type Slip = (Range<usize>, String);

/// A key of a table that has not been asked for yet.
type Entry<'a> = (Range<usize>, Spanned<DeValue<'a>>);

/// A table that is being read.
pub(super) struct Keys<'a, 'e> {
    /// How messages call it: `[[machine]]`.
    title: &'static str,
    left: BTreeMap<String, Entry<'a>>,
    asked: Vec<&'static str>,
    /// Where the values stand that were asked for.
    places: BTreeMap<&'static str, Range<usize>>,
    slips: &'e mut Vec<Slip>,
}

impl<'a, 'e> Keys<'a, 'e> {
    pub(super) fn new(title: &'static str, table: DeTable<'a>, slips: &'e mut Vec<Slip>) -> Self {
        let left = table
            .into_iter()
            .map(|(key, value)| {
                let place = key.span();
                (key.into_inner().into_owned(), (place, value))
            })
            .collect();
        Keys {
            title,
            left,
            asked: Vec::new(),
            places: BTreeMap::new(),
            slips,
        }
    }

    /// Where a value stands and the value, for a key that is there.
    pub(super) fn value(&mut self, key: &'static str) -> Option<Spanned<DeValue<'a>>> {
        self.asked.push(key);
        let (_, value) = self.left.remove(key)?;
        self.places.insert(key, value.span());
        Some(value)
    }

    /// Where the value of a key stands that was there.
    pub(super) fn place(&self, key: &str) -> Option<Range<usize>> {
        self.places.get(key).cloned()
    }

    /// Every key that was there and asked for, with the place of its value.
    pub(super) fn places(&self) -> Vec<(&'static str, Range<usize>)> {
        let places = self.places.iter();
        places.map(|(key, place)| (*key, place.clone())).collect()
    }

    /// Adds an error.
    pub(super) fn slip(&mut self, place: Range<usize>, message: String) {
        self.slips.push((place, message));
    }

    fn wrong_type(&mut self, key: &str, value: &Spanned<DeValue<'_>>, wanted: &str) {
        let found = match value.get_ref() {
            DeValue::String(_) => "a text",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a table",
        };
        self.slip(
            value.span(),
            format!("`{key}` must be {wanted}, here it is {found}"),
        );
    }

    pub(super) fn text(&mut self, key: &'static str) -> Option<Spanned<String>> {
        let value = self.value(key)?;
        match value.get_ref() {
            DeValue::String(text) => Some(Spanned::new(value.span(), text.to_string())),
            _ => {
                self.wrong_type(key, &value, "a text in quotes");
                None
            }
        }
    }

    pub(super) fn texts(&mut self, key: &'static str) -> Option<Vec<Spanned<String>>> {
        const WANTED: &str = "a list of texts, such as [\"lathe/*.nc\"]";
        let value = self.value(key)?;
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_type(key, &value, WANTED);
            return None;
        };
        let mut texts = Vec::new();
        for item in items.iter() {
            match item.get_ref() {
                DeValue::String(text) => texts.push(Spanned::new(item.span(), text.to_string())),
                _ => {
                    self.wrong_type(key, item, WANTED);
                    return None;
                }
            }
        }
        Some(texts)
    }

    /// A day, as a TOML date or as a text.
    pub(super) fn date(&mut self, key: &'static str) -> Option<Date> {
        let value = self.value(key)?;
        let written = match value.get_ref() {
            DeValue::Datetime(date) => date.to_string(),
            DeValue::String(text) => text.to_string(),
            _ => String::new(),
        };
        let date = Date::parse(&written);
        if date.is_none() {
            let message = format!("`{key}` must be a day, such as 2027-03-31");
            self.slip(value.span(), message);
        }
        date
    }

    pub(super) fn truth(&mut self, key: &'static str) -> Option<bool> {
        let value = self.value(key)?;
        let truth = value.get_ref().as_bool();
        if truth.is_none() {
            self.wrong_type(key, &value, "true or false");
        }
        truth
    }

    /// A number from `least` (left out itself where `open`) to a billion.
    fn number_from(&mut self, key: &'static str, open: bool) -> Option<f64> {
        let value = self.value(key)?;
        let number = match number(value.get_ref()) {
            Some(number) => Some(number),
            None => {
                self.wrong_type(key, &value, "a number");
                return None;
            }
        };
        let fits = |number: &f64| (0.0..=1e9).contains(number) && !(open && *number == 0.0);
        let number = number.filter(fits);
        if number.is_none() {
            let least = if open { "above 0" } else { "not below 0" };
            self.slip(
                value.span(),
                format!("`{key}` must be a number {least} and at most 1000000000"),
            );
        }
        number
    }

    /// A number above 0.
    pub(super) fn positive(&mut self, key: &'static str) -> Option<f64> {
        self.number_from(key, true)
    }

    /// A number of 0 or more.
    pub(super) fn not_negative(&mut self, key: &'static str) -> Option<f64> {
        self.number_from(key, false)
    }

    /// A number between two bounds, both included.
    pub(super) fn between(&mut self, key: &'static str, least: f64, most: f64) -> Option<f64> {
        let value = self.value(key)?;
        let Some(number) = number(value.get_ref()) else {
            self.wrong_type(key, &value, "a number");
            return None;
        };
        if !(least..=most).contains(&number) {
            self.slip(
                value.span(),
                format!("`{key}` must be a number from {least} to {most}"),
            );
            return None;
        }
        Some(number)
    }

    /// A whole number between two bounds, both included.
    pub(super) fn whole(&mut self, key: &'static str, least: u32, most: u32) -> Option<u32> {
        let value = self.value(key)?;
        let number = match value.get_ref() {
            DeValue::Integer(digits) => u32::from_str_radix(digits.as_str(), digits.radix()).ok(),
            _ => None,
        };
        let number = number.filter(|number| (least..=most).contains(number));
        if number.is_none() {
            self.slip(
                value.span(),
                format!("`{key}` must be a whole number from {least} to {most}"),
            );
        }
        number
    }

    /// A list of numbers of 0 or more.
    pub(super) fn numbers(&mut self, key: &'static str) -> Option<Vec<f64>> {
        const WANTED: &str = "a list of numbers of 0 or more, such as [0.2, 0.4]";
        let value = self.value(key)?;
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_type(key, &value, WANTED);
            return None;
        };
        let mut numbers = Vec::new();
        for item in items.iter() {
            match number(item.get_ref()).filter(|number| (0.0..=1e9).contains(number)) {
                Some(number) => numbers.push(number),
                None => {
                    self.slip(item.span(), format!("`{key}` must be {WANTED}"));
                    return None;
                }
            }
        }
        Some(numbers)
    }

    /// Two numbers of 0 or more, the smaller first.
    pub(super) fn pair(&mut self, key: &'static str) -> Option<[f64; 2]> {
        let numbers = self.numbers(key)?;
        match numbers[..] {
            [min, max] if min <= max => Some([min, max]),
            _ => {
                let place = self.place(key).unwrap_or_default();
                self.slip(
                    place,
                    format!("`{key}` must be two numbers, [smallest, largest]"),
                );
                None
            }
        }
    }

    /// The table of a key, with its place.
    pub(super) fn table(&mut self, key: &'static str) -> Option<(Range<usize>, DeTable<'a>)> {
        let value = self.value(key)?;
        let place = value.span();
        match value.into_inner() {
            DeValue::Table(table) => Some((place, table)),
            other => {
                self.wrong_type(key, &Spanned::new(place, other), "a table");
                None
            }
        }
    }

    /// One table, or several in the order written: `[key]` or `[[key]]`.
    pub(super) fn table_or_tables(
        &mut self,
        key: &'static str,
    ) -> Vec<(Range<usize>, DeTable<'a>)> {
        let one = self
            .left
            .get(key)
            .is_some_and(|(_, value)| matches!(value.get_ref(), DeValue::Table(_)));
        if one {
            self.table(key).into_iter().collect()
        } else {
            self.tables(key)
        }
    }

    /// A whole number from 0 to 99,999,999: a T word.
    pub(super) fn tool(&mut self, key: &'static str) -> Option<u32> {
        let value = self.value(key)?;
        let number = match value.get_ref() {
            DeValue::Integer(digits) => u32::from_str_radix(digits.as_str(), digits.radix())
                .ok()
                .filter(|number| *number < 100_000_000),
            _ => None,
        };
        if number.is_none() {
            self.slip(
                value.span(),
                format!("`{key}` must be a tool number without the T, such as 3"),
            );
        }
        number
    }

    /// One of the listed words.
    pub(super) fn choice<T: Copy>(
        &mut self,
        key: &'static str,
        choices: &[(&'static str, T)],
    ) -> Option<T> {
        let text = self.text(key)?;
        let found = choices
            .iter()
            .find(|(name, _)| *name == text.get_ref())
            .map(|(_, value)| *value);
        if found.is_none() {
            let names: Vec<&str> = choices.iter().map(|(name, _)| *name).collect();
            let message = format!("`{key}` cannot be \"{}\"", text.get_ref());
            let message = with_hint(message, text.get_ref(), &names);
            self.slip(text.span(), message);
        }
        found
    }

    /// The tables of an array of tables, with the place of each.
    pub(super) fn tables(&mut self, key: &'static str) -> Vec<(Range<usize>, DeTable<'a>)> {
        let Some(value) = self.value(key) else {
            return Vec::new();
        };
        let wanted = format!("written as [[{key}]]");
        let place = value.span();
        match value.into_inner() {
            DeValue::Array(items) => {
                let mut tables = Vec::new();
                for item in items {
                    let place = item.span();
                    match item.into_inner() {
                        DeValue::Table(table) => tables.push((place, table)),
                        other => {
                            self.wrong_type(key, &Spanned::new(place, other), &wanted);
                        }
                    }
                }
                tables
            }
            other => {
                self.wrong_type(key, &Spanned::new(place, other), &wanted);
                Vec::new()
            }
        }
    }

    /// Every key of a table whose keys are names of the caller's, with their places.
    pub(super) fn all_texts(mut self) -> Vec<(Spanned<String>, Spanned<String>)> {
        let mut all = Vec::new();
        for (key, (place, value)) in std::mem::take(&mut self.left) {
            match value.get_ref() {
                DeValue::String(text) => all.push((
                    Spanned::new(place, key),
                    Spanned::new(value.span(), text.to_string()),
                )),
                _ => self.wrong_type(&key, &value, "a text in quotes"),
            }
        }
        all
    }

    /// Reports the keys that nobody asked for.
    pub(super) fn finish(self) {
        for (key, (place, _)) in self.left {
            let message = format!("unknown key `{key}` in {}", self.title);
            self.slips
                .push((place, with_hint(message, &key, &self.asked)));
        }
    }
}

/// The number of a value; `nan` and `inf` come as they are.
fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(digits) => i64::from_str_radix(digits.as_str(), digits.radix())
            .ok()
            .map(|whole| whole as f64),
        DeValue::Float(digits) => digits.as_str().parse().ok(),
        _ => None,
    }
}

/// The message, with the nearest name or all of them.
pub(super) fn with_hint(message: String, typed: &str, names: &[&str]) -> String {
    match nearest(typed, names.iter().copied()) {
        Some(name) => format!("{message}: did you mean `{name}`?"),
        None => format!("{message}: known are {}", names.join(", ")),
    }
}
