//! The diameter of a drill as comments name it: `DRILL 6.8`, `6,8MM DRILL`, `#7 DRILL`,
//! `13/32 DRILL`, `LETTER F DRILL`.

use lexer::units::Units;

use super::drill_sizes::{letter_size, number_size};

/// A drill that a text names.
#[derive(Debug, Clone, PartialEq)]
pub struct Named {
    /// Diameter in mm.
    pub mm: f64,
    /// As written.
    pub text: String,
}

const DRILL: [&str; 7] = [
    "DRILL",
    "DRL",
    "BOHRER",
    "SPIRALBOHRER",
    "FORET",
    "BROCA",
    "СВЕРЛО",
];
/// Words beside which a drill makes no hole for a thread.
const OTHER: [&str; 9] = [
    "SPOT",
    "CENTER",
    "CENTRE",
    "CSINK",
    "COUNTERSINK",
    "CHAMFER",
    "CBORE",
    "COUNTERBORE",
    "NC",
];

/// The drill of a comment; none where it names none, more than one, or one that only starts holes.
/// A bare number is in the units of the program.
#[must_use]
pub fn drill_in_text(text: &str, units: Units) -> Option<Named> {
    let words = words(text);
    let drill = words
        .iter()
        .position(|word| DRILL.contains(&word.as_str()))?;
    if words.iter().any(|word| OTHER.contains(&word.as_str())) {
        return None;
    }
    // Beside the word, jumping over words that say nothing of size.
    let filler = |word: &str| {
        matches!(
            word,
            "DIA"
                | "DIAM"
                | "D"
                | "SIZE"
                | "NO"
                | "NR"
                | "LETTER"
                | "HSS"
                | "CARBIDE"
                | "TAP"
                | "Ø"
                | "SOLID"
                | "TWIST"
                | "OF"
                | "COBALT"
                | "STUB"
                | "JOBBER"
                | "LONG"
                | "IN"
                | "MM"
                | "INCH"
        )
    };
    let before = words[..drill].iter().rev().find(|word| !filler(word));
    let behind = words[drill + 1..].iter().find(|word| !filler(word));
    let unit = |word: &str| words.iter().any(|w| w == word);
    let read = |word: Option<&String>| {
        let word = word?;
        size(word, units, unit("MM"), unit("IN") || unit("INCH")).map(|mm| Named {
            mm,
            text: word.clone(),
        })
    };
    match (read(before), read(behind)) {
        (Some(one), None) | (None, Some(one)) => Some(one),
        (Some(a), Some(b)) if (a.mm - b.mm).abs() < 1e-6 => Some(a),
        _ => None,
    }
}

/// Words in capitals; signs that belong to sizes stay.
fn words(text: &str) -> Vec<String> {
    let upper = text.to_uppercase().replace('"', " IN ");
    upper
        .split(|c: char| !(c.is_alphanumeric() || matches!(c, '.' | ',' | '/' | '#' | 'Ø')))
        .map(|word| word.trim_end_matches(['.', ',']).to_owned())
        .filter(|word| !word.is_empty())
        .collect()
}

fn size(word: &str, units: Units, says_mm: bool, says_inch: bool) -> Option<f64> {
    if let Some(number) = word.strip_prefix('#') {
        return number_size(number.parse().ok()?);
    }
    if let Some((top, bottom)) = word.split_once('/') {
        let (top, bottom): (f64, f64) = (top.parse().ok()?, bottom.parse().ok()?);
        let inch = top / bottom;
        let sound = bottom > 1.0 && bottom <= 64.0 && top >= 1.0 && inch < 4.0;
        return sound.then_some(inch * 25.4);
    }
    let mut letters = word.chars();
    if let (Some(letter @ 'A'..='Z'), None) = (letters.next(), letters.next()) {
        return letter_size(letter);
    }
    let bare = word.trim_start_matches(['D', 'Ø']);
    let (bare, mm) = match bare.strip_suffix("MM") {
        Some(bare) => (bare, true),
        None => (bare, says_mm),
    };
    let value: f64 = bare.replace(',', ".").parse().ok()?;
    let inch = !mm && (says_inch || units == Units::Inch);
    let mm = if inch { value * 25.4 } else { value };
    // Angles of points, speeds and numbers of tools are no diameters of drills.
    (0.5..=80.0).contains(&mm).then_some(mm)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drills_by_their_names() {
        let mm = |text: &str| drill_in_text(text, Units::Millimetre).map(|d| d.mm);
        for (text, wanted) in [
            ("(DRILL 6.8)", 6.8),
            ("(6.8 DRILL)", 6.8),
            ("(T4 DRILL D6.8 HSS)", 6.8),
            ("(6,8MM DRILL)", 6.8),
            ("(Drill dia. 8.5)", 8.5),
            ("(TAP DRILL 10.2 MM)", 10.2),
            ("(BOHRER Ø5)", 5.0),
            ("(#7 DRILL)", 5.1054),
            ("(LETTER F DRILL)", 6.5278),
            ("(27/64 DRILL)", 10.715_625),
            ("(DRILL 1/4)", 6.35),
        ] {
            assert!(
                mm(text).is_some_and(|d| (d - wanted).abs() < 1e-6),
                "{text}: {:?}",
                mm(text)
            );
        }
        let inch = drill_in_text("(.201 DRILL)", Units::Inch).unwrap();
        assert!((inch.mm - 5.1054).abs() < 1e-6);
        let metric = drill_in_text("(6.8MM DRILL)", Units::Inch).unwrap();
        assert_eq!(metric.mm, 6.8);
    }

    #[test]
    fn what_names_no_drill() {
        for text in [
            "(SPOT DRILL 6)",
            "(CENTER DRILL 3)",
            "(DRILL)",
            "(M8 TAP)",
            "(DRILL 118)",
            "(5 DRILL 6.8)",
            "(DRILLING)",
            "(DRILL HOLES)",
        ] {
            assert_eq!(drill_in_text(text, Units::Millimetre), None, "{text}");
        }
    }
}
