//! What is stated about a section: the `(THREAD …)` note, the configuration, and comments that speak
//! of a coating.

use lexer::section::{Note, Section};
use lexer::source::{Span, decode};

use super::{From, Identified, Layer, MOST_NOTES, Stated, settle};
use crate::facts::{CoatingLimits, Facts, THICKEST_LAYER_MM};
use crate::measure::coating::Coating;
use crate::measure::tool::Nose;
use crate::standards::designation::parse;

/// Reads the note, then what the configuration adds to it, then the thread that the configuration
/// names where the note names none.
pub(super) fn stated(identified: &mut Identified, bytes: &[u8], section: &Section, facts: &Facts) {
    if let Some(note) = thread_note(bytes, section, facts) {
        read_note(identified, section, facts, note);
    }
    facts_of_config(identified, bytes, section, facts);
    if identified.thread.is_none()
        && let Some(fact) = facts.thread(section.tool.map(|tool| tool.value))
        && let Ok(thread) = facts.named(&fact.designation, section.side())
    {
        identified.why = format!("{}: {}", fact.cite("designation"), fact.designation);
        identified.thread = Some((settle(thread, section.side()), From::Config));
    }
}

/// A `THREAD` note: its words, and its place.
struct NoteText {
    text: String,
    place: (Span, u32),
}

/// The last `(THREAD …)` note of the section's comments.
fn thread_note(bytes: &[u8], section: &Section, facts: &Facts) -> Option<NoteText> {
    section.notes.iter().rev().find_map(|note| {
        let text = inner(bytes, note);
        let keyword = text.get(..6)?;
        if !keyword.eq_ignore_ascii_case("THREAD") {
            return None;
        }
        let rest = &text[6..];
        // `THREAD TOOL`, `THREADING`: words, not a callout.
        let callout = rest.trim_start();
        let name = callout.split(',').next().unwrap_or_default();
        if rest.len() != callout.len() && facts.forms.iter().any(|form| form.is_named(name)) {
            return Some(NoteText {
                text: callout.to_owned(),
                place: (note.span, note.line),
            });
        }
        if rest.len() == callout.len() || !callout.contains(|c: char| c.is_ascii_digit()) {
            return None;
        }
        let names_size = parse(callout.split(',').next()?.trim(), section.side()).is_ok()
            || callout.starts_with(|c: char| c.is_ascii_digit() || "#.MmGgRrTt".contains(c))
                && callout
                    .chars()
                    .nth(1)
                    .is_some_and(|c| c.is_ascii_digit() || c == ' ' || c == '/');
        names_size.then(|| NoteText {
            text: callout.to_owned(),
            place: (note.span, note.line),
        })
    })
}

/// A comment's text without its brackets or semicolon. Small letters stay: 6g is a bolt's class.
fn inner(bytes: &[u8], note: &Note) -> String {
    let text = decode(note.span.of(bytes));
    text.trim_start_matches(['(', ';', '/'])
        .trim_end_matches(')')
        .trim()
        .to_owned()
}

fn read_note(identified: &mut Identified, section: &Section, facts: &Facts, note: NoteText) {
    let mut parts = note.text.split(',').map(str::trim);
    let designation = parts.next().unwrap_or_default();
    match facts.named(designation, section.side()) {
        Ok(thread) => {
            identified.thread = Some((settle(thread, section.side()), From::Annotation));
            identified.why = format!("note in line {}: {designation}", note.place.1);
            identified.place = Some(note.place);
        }
        Err(error) => identified.unreadable = Some((error, note.place)),
    }
    let mut limits = None;
    let mut coating = None;
    for part in parts {
        let mut words = part.split_whitespace();
        let (Some(word), Some(value)) = (words.next(), words.next()) else {
            continue;
        };
        let mm = |text: &str| {
            let value = text.parse::<f64>().ok()?;
            value.is_finite().then(|| section.units.length(value).mm())
        };
        match word.to_uppercase().as_str() {
            "NOSE" => identified.nose = nose(mm(value)).map(|r| note.states(Nose::Radius(r))),
            "FLAT" => identified.nose = nose(mm(value)).map(|f| note.states(Nose::Flat(f))),
            "LENGTH" => identified.length_mm = mm(value),
            "FACE" => {
                let value = value.trim_start_matches(['Z', 'z']);
                identified.face_z_mm = mm(value).map(|z| note.states(z));
            }
            "COATING" => coating = layer(value, mm),
            "LIMITS" => {
                limits = match value.to_uppercase().as_str() {
                    "BEFORE" => Some(CoatingLimits::Before),
                    "AFTER" => Some(CoatingLimits::After),
                    _ => None,
                };
            }
            _ => {}
        }
    }
    identified.layer = coating.map(|coating| note.states(Layer { coating, limits }));
}

/// Largest nose that is taken for one, mm.
const LARGEST_NOSE: f64 = 50.0;

fn nose(mm: Option<f64>) -> Option<f64> {
    mm.filter(|mm| (0.0..=LARGEST_NOSE).contains(mm))
}

/// A layer as `0.008` or, thinnest and thickest, `0.005-0.008`.
fn layer(text: &str, mm: impl Fn(&str) -> Option<f64>) -> Option<Coating> {
    let (min, max) = text.split_once('-').unwrap_or((text, text));
    let (min, max) = (mm(min)?, mm(max)?);
    let layer = 0.0..=THICKEST_LAYER_MM;
    (layer.contains(&min) && layer.contains(&max) && min <= max).then_some(Coating { min, max })
}

impl NoteText {
    fn states<T>(&self, value: T) -> Stated<T> {
        Stated {
            value,
            from: format!("note in line {}", self.place.1),
            place: Some(self.place),
        }
    }
}

/// What the configuration, and comments on coatings, add to the note.
fn facts_of_config(identified: &mut Identified, bytes: &[u8], section: &Section, facts: &Facts) {
    let word = section.tool.map(|tool| tool.value);
    let comments: Vec<String> = match facts.tools.is_empty() {
        true => Vec::new(),
        false => {
            let notes = section.notes.iter().rev().take(MOST_NOTES);
            notes.map(|note| inner(bytes, note)).collect()
        }
    };
    identified.tool = facts.tool(word, &comments).cloned();
    if let (None, Some(tool)) = (&identified.nose, &identified.tool) {
        identified.nose = tool.nose.map(|nose| Stated {
            value: nose,
            from: tool.cite(tool.nose_key()),
            place: None,
        });
    }
    if let Some(Nose::Radius(radius)) = identified.nose.as_ref().map(|nose| nose.value) {
        identified.nose_radius_mm = Some(radius);
    }
    if let Some(fact) = facts.thread(word) {
        identified.length_mm = identified.length_mm.or(fact.length_mm);
        let stated = |key: &str| fact.cite(key);
        if let (None, Some(coating)) = (&identified.layer, fact.coating) {
            identified.layer = Some(Stated {
                value: Layer {
                    coating,
                    limits: fact.coating_limits,
                },
                from: stated("coating_mm"),
                place: None,
            });
        }
        if let (None, Some(z)) = (&identified.face_z_mm, fact.face_z_mm) {
            identified.face_z_mm = Some(Stated {
                value: z,
                from: stated("face_z_mm"),
                place: None,
            });
        }
    }
    if identified.layer.is_none() {
        comment_on_coating(identified, bytes, section);
    }
}

/// Beginnings of words that say that a part is coated, look-alikes left as they are.
const COATED: [&str; 10] = [
    "PLATED",
    "PLATING",
    "GALVANI",
    "GALVANIS",
    "VERZINK",
    "VERCHROM",
    "VERNICKEL",
    "ЦИНК",
    "ХРОМИР",
    "ПОКРЫТ",
];
/// Units of a layer in a comment.
const MICRONS: [&str; 6] = ["UM", "µM", "ΜM", "MICRON", "MICRONS", "МКМ"];

/// A comment near the thread that speaks of a coating, with its thickness where it tells it:
/// `ZINC PLATED 5-8 UM`.
fn comment_on_coating(identified: &mut Identified, bytes: &[u8], section: &Section) {
    for note in section.notes.iter().rev().take(MOST_NOTES) {
        let text = inner(bytes, note).to_uppercase();
        let words: Vec<&str> = text
            .split(|c: char| !(c.is_alphanumeric() || matches!(c, '.' | '-')))
            .filter(|word| !word.is_empty())
            .collect();
        let coated = |word: &&str| COATED.iter().any(|stem| word.starts_with(stem));
        if !words.iter().any(coated) {
            continue;
        }
        let place = (note.span, note.line);
        let thick = words.iter().enumerate().find_map(|(at, word)| {
            let unit = MICRONS.iter().find(|unit| word.ends_with(**unit))?;
            let number = word.strip_suffix(unit)?;
            let number = if number.is_empty() {
                words.get(at.checked_sub(1)?)?
            } else {
                number
            };
            layer(number, |text| Some(text.parse::<f64>().ok()? / 1000.0))
        });
        match thick {
            Some(coating) => {
                identified.layer = Some(Stated {
                    value: Layer {
                        coating,
                        limits: None,
                    },
                    from: format!("comment in line {}", note.line),
                    place: Some(place),
                });
            }
            None => identified.layer_unknown = Some(place),
        }
        return;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use lexer::program::Settings;

    fn identified(note: &str) -> Identified {
        let text = format!(
            "G21\n({note})\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.546\nG0 X90.\n"
        );
        let program = lexer::read(text.as_bytes(), &Settings::default());
        let mut identified = Identified::default();
        stated(
            &mut identified,
            text.as_bytes(),
            &program.sections[0],
            &Facts::default(),
        );
        identified
    }

    #[test]
    fn every_word_of_a_note() {
        let all = identified(
            "THREAD M30X2-6G, NOSE 0.2, LENGTH 30, FACE Z-1.5, COATING 0.005-0.008, LIMITS AFTER",
        );
        assert_eq!(all.thread.unwrap().0.designation(), "M30x2-6g");
        let nose = all.nose.unwrap();
        assert_eq!(
            (nose.value, nose.from.as_str()),
            (Nose::Radius(0.2), "note in line 2")
        );
        assert_eq!((all.nose_radius_mm, all.length_mm), (Some(0.2), Some(30.0)));
        assert_eq!(all.face_z_mm.unwrap().value, -1.5);
        let layer = all.layer.unwrap().value;
        assert_eq!((layer.coating.min, layer.coating.max), (0.005, 0.008));
        assert_eq!(layer.limits, Some(CoatingLimits::After));
        let flat = identified("THREAD TR 40X7, FLAT 2.2");
        assert_eq!(flat.nose.unwrap().value, Nose::Flat(2.2));
        assert_eq!(flat.nose_radius_mm, None);
    }

    #[test]
    fn what_is_no_size_states_nothing() {
        for words in [
            "NOSE -0.2",
            "NOSE 99",
            "NOSE inf",
            "NOSE",
            "NOSE X",
            "COATING 8-5",
            "COATING 5",
            "LIMITS SOON",
            "FACE Z",
            ", ,",
        ] {
            let none = identified(&format!("THREAD M30X2-6G, {words}"));
            assert!(none.thread.is_some(), "{words}");
            assert!(none.nose.is_none() && none.layer.is_none(), "{words}");
            assert!(none.face_z_mm.is_none(), "{words}");
        }
    }

    /// Thicknesses in micrometres, by their unit alone or joined to the number.
    #[test]
    fn comments_on_coatings() {
        let layer = |text: &str| {
            let found = identified(text);
            let layer = found.layer.map(|layer| layer.value.coating);
            (layer.map(|l| (l.min, l.max)), found.layer_unknown.is_some())
        };
        assert_eq!(layer("ZINC PLATED 5-8 UM"), (Some((0.005, 0.008)), false));
        assert_eq!(layer("verzinkt 8µm"), (Some((0.008, 0.008)), false));
        assert_eq!(layer("ЦИНК 6-9 МКМ"), (Some((0.006, 0.009)), false));
        assert_eq!(layer("NICKEL PLATING, SEE SHEET 4"), (None, true));
        assert_eq!(layer("CONTINUUM 8"), (None, false));
    }
}
