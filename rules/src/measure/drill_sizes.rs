//! Sizes in which twist drills are kept.
//!
//! Number and letter sizes of ASME B94.11M, from memory; they agree with the open dataset
//! `bd_warehouse`, which holds some of them to three decimals. The steps of metric drills are
//! common practice, without a source.

/// A drill.
#[derive(Debug, Clone, PartialEq)]
pub struct Drill {
    /// Diameter in mm.
    pub size: f64,
    /// What an inch drill is called: `#7`, `F`, `27/64`; empty for a metric drill.
    pub name: String,
}

/// Drills 1 to 60 in 0.0001 in.
#[rustfmt::skip]
const NUMBERS: [u16; 60] = [
    2280, 2210, 2130, 2090, 2055, 2040, 2010, 1990, 1960, 1935, 1910, 1890, 1850, 1820, 1800,
    1770, 1730, 1695, 1660, 1610, 1590, 1570, 1540, 1520, 1495, 1470, 1440, 1405, 1360, 1285,
    1200, 1160, 1130, 1110, 1100, 1065, 1040, 1015,  995,  980,  960,  935,  890,  860,  820,
     810,  785,  760,  730,  700,  670,  635,  595,  550,  520,  465,  430,  420,  410,  400,
];

/// Drills A to Z in 0.001 in.
#[rustfmt::skip]
const LETTERS: [u16; 26] = [
    234, 238, 242, 246, 250, 257, 261, 266, 272, 277, 281, 290, 295,
    302, 316, 323, 332, 339, 348, 358, 368, 377, 386, 397, 404, 413,
];

/// The diameter in mm of a number drill, 1 to 60.
pub(super) fn number_size(number: usize) -> Option<f64> {
    let size = NUMBERS.get(number.checked_sub(1)?)?;
    Some(f64::from(*size) / 1e4 * 25.4)
}

/// The diameter in mm of a letter drill.
pub(super) fn letter_size(letter: char) -> Option<f64> {
    let at = u32::from(letter).checked_sub(u32::from('A'))?;
    let size = LETTERS.get(usize::try_from(at).ok()?)?;
    Some(f64::from(*size) / 1e3 * 25.4)
}

/// The inch drill nearest to a diameter in mm that passes the test.
pub(super) fn nearest_inch(target: f64, fits: impl Fn(f64) -> bool) -> Option<Drill> {
    let mm = |inches: f64| inches * 25.4;
    let fractions = (2..=64 * 3_u32)
        // By 64ths to 1 3/4 in, by 32nds beyond.
        .filter(|n| *n <= 112 || n % 2 == 0)
        .map(|n| (mm(f64::from(n) / 64.0), fraction(n)));
    let letters = LETTERS.iter().zip(b'A'..).map(|(size, letter)| {
        let name = char::from(letter).to_string();
        (mm(f64::from(*size) / 1e3), name)
    });
    let numbers = NUMBERS.iter().zip(1..);
    let numbers = numbers.map(|(size, n)| (mm(f64::from(*size) / 1e4), format!("#{n}")));
    let all = fractions.chain(letters).chain(numbers);
    nearest(all.map(|(size, name)| Drill { size, name }), target, fits)
}

/// `27/64`, `1 1/8`, from a count of 64ths.
fn fraction(count: u32) -> String {
    let (whole, rest) = (count / 64, count % 64);
    let shift = rest.trailing_zeros().min(6);
    match (whole, rest) {
        (_, 0) => format!("{whole}"),
        (0, _) => format!("{}/{}", rest >> shift, 64 >> shift),
        _ => format!("{whole} {}/{}", rest >> shift, 64 >> shift),
    }
}

/// The metric drill nearest to a diameter in mm that passes the test; of two that are equally
/// near the one with the even last digit, as ISO 2306 has it (10.2 for 10.25, 6.8 for 6.75; from
/// memory).
pub(super) fn nearest_metric(target: f64, fits: impl Fn(f64) -> bool) -> Option<Drill> {
    let hundredths = |from: u32, to: u32, step: usize| (from..to).step_by(step);
    let sizes = hundredths(50, 320, 5)
        .chain(hundredths(320, 1400, 10))
        .chain(hundredths(1400, 3200, 25))
        .chain(hundredths(3200, 5000, 50))
        .chain(hundredths(5000, 8001, 100));
    let even_first = |size: &u32| (size / 10) % 2;
    let mut sizes: Vec<u32> = sizes.collect();
    sizes.sort_by_key(even_first);
    let drills = sizes.into_iter().map(|size| Drill {
        size: f64::from(size) / 100.0,
        name: String::new(),
    });
    nearest(drills, target, fits)
}

/// The first of those that are nearest.
fn nearest(
    drills: impl Iterator<Item = Drill>,
    target: f64,
    fits: impl Fn(f64) -> bool,
) -> Option<Drill> {
    let mut best: Option<Drill> = None;
    for drill in drills.filter(|drill| fits(drill.size)) {
        let far = |one: &Drill| (one.size - target).abs();
        if best.as_ref().is_none_or(|b| far(&drill) < far(b) - 1e-6) {
            best = Some(drill);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_halves() {
        let inch = |target: f64| nearest_inch(target * 25.4, |_| true).unwrap().name;
        assert_eq!(inch(0.42), "27/64");
        assert_eq!(inch(0.2011), "#7");
        assert_eq!(inch(0.2571), "F");
        assert_eq!(inch(0.5), "1/2");
        assert_eq!(inch(1.125), "1 1/8");
        assert_eq!(inch(2.0), "2");
        let metric = |target: f64| nearest_metric(target, |_| true).unwrap().size;
        assert_eq!(metric(10.25), 10.2);
        assert_eq!(metric(6.75), 6.8);
        assert_eq!(metric(2.05), 2.05);
        assert_eq!(metric(20.9), 21.0);
        assert_eq!(nearest_metric(20.0, |_| false), None);
    }

    #[test]
    fn sizes_fall() {
        assert!(NUMBERS.is_sorted_by(|a, b| a > b));
        assert!(LETTERS.is_sorted());
    }
}
