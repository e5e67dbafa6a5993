//! Words that are off by a factor: a slipped point, another unit, a diameter for a radius.

use lexer::law::Law;
use lexer::section::{Role, RoleWord, Scale, Section, Side};
use lexer::units::{Diameter, Length, Radial, Units};

use super::words::spell_length;
use super::{Context, stages};
use crate::identify::lead_tolerance;
use crate::standards::nearest::{Measured, nearest};

/// A factor that makes a word plausible.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Factor {
    /// What the word is to be multiplied by.
    pub value: f64,
    /// In words, as in "… would fit".
    pub what: &'static str,
}

impl Factor {
    /// Whether it is a change of units.
    pub(super) fn is_units(self) -> bool {
        [25.4, 1.0 / 25.4, 2.54, 1.0 / 2.54].contains(&self.value)
    }
}

const fn factor(value: f64, what: &'static str) -> Factor {
    Factor { value, what }
}

pub(super) const TENS: [Factor; 6] = [
    factor(10.0, "ten times as much"),
    factor(0.1, "a tenth of it"),
    factor(100.0, "a hundred times as much"),
    factor(0.01, "a hundredth of it"),
    factor(1000.0, "a thousand times as much"),
    factor(0.001, "a thousandth of it"),
];
/// What the number would be in the other units, where a word was copied from there.
fn other_units(scale: Scale) -> Option<Factor> {
    Some(match scale {
        Scale::Real(Units::Millimetre) => factor(25.4, "the number read in inches"),
        Scale::Real(Units::Inch) => factor(1.0 / 25.4, "the number read in millimetres"),
        Scale::Increments(Units::Millimetre) => {
            factor(2.54, "the number read in ten-thousandths of an inch")
        }
        Scale::Increments(Units::Inch) => {
            factor(1.0 / 2.54, "the number read in thousandths of a millimetre")
        }
        Scale::Plain => return None,
    })
}

/// A whole number whose point does not belong there: the digits count least increments.
fn without_point(word: &RoleWord) -> Option<Factor> {
    let Scale::Real(units) = word.scale else {
        return None;
    };
    let least = units.least_increment().pm() as f64 / units.pm() as f64;
    (word.number.point && word.number.integer().is_some())
        .then_some(factor(least, "the number without its point"))
}

const HALF: Factor = factor(0.5, "half of it");
const TWICE: Factor = factor(2.0, "twice as much");

/// The factor that brings a word's value into a range: a point too many, a power of ten, the other
/// units.
pub(super) fn into_range(word: &RoleWord, value: f64, min: f64, max: f64) -> Option<Factor> {
    let mut all = without_point(word)
        .into_iter()
        .chain(TENS)
        .chain(other_units(word.scale));
    all.find(|factor| (min..=max).contains(&(value * factor.value)))
}

/// Radial depths that a thread of this section can have, mm: the form's, or of a 55° or 60° thread
/// where no thread is known.
pub(super) fn plausible_depths(cx: &Context<'_>, pitch: f64) -> (f64, f64) {
    let band = cx
        .thread()
        .zip(cx.side())
        .map(|(thread, side)| thread.depth_band(side));
    match band.and_then(|band| band.min.zip(band.max)) {
        Some((min, max)) => (min - 0.05 * pitch, max + 0.1 * pitch),
        None => (0.5 * pitch, 0.75 * pitch),
    }
}

/// How a height is off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum How {
    /// By this factor.
    By(Factor),
    /// It is far from any thread, and no factor explains it.
    Unexplained,
}

/// A height word that does not go with the pitch.
#[derive(Debug, Clone, Copy)]
pub(super) struct HeightSlip<'a> {
    pub word: &'a RoleWord,
    pub height: Radial,
    pub pitch: f64,
    pub how: How,
    /// The depth from the nominal crest to the programmed root, where it is known and is not the
    /// height itself.
    pub real: Option<f64>,
}

/// Whether the height of a cycle is off by a factor.
pub(super) fn height<'a>(cx: &Context<'a>) -> Option<HeightSlip<'a>> {
    let section = cx.section;
    if matches!(section.cut.law, Law::List) || section.chase || cx.is_groove() {
        return None;
    }
    let word = section.word(Role::Height)?;
    let height = section.cut.height.get().filter(|h| h.0 > Length::ZERO)?;
    let pitch = cx.pitch_mm().filter(|pitch| *pitch > 0.0)?;
    let ratio = height.mm() / pitch;
    let real = real_depth(cx, pitch);
    let slip = |how| HeightSlip {
        word,
        height,
        pitch,
        how,
        real,
    };
    if !(0.3..=1.3).contains(&ratio) {
        if from_start(section) || ratio < 0.3 && stages::earlier(cx).is_some() {
            return None;
        }
        let (min, max) = plausible_depths(cx, pitch);
        if let Some(factor) = into_range(word, height.mm(), min, max) {
            return Some(slip(How::By(factor)));
        }
    }
    let two = match section.syntax {
        syntax if syntax.counts_from_crest() => crest_factor(cx, height, pitch),
        _ => real.and_then(|real| twice_or_half(height.mm() / real)),
    };
    if let Some(factor) = two.filter(|_| !from_start(section)) {
        return Some(slip(How::By(factor)));
    }
    (ratio < 0.3 && real.is_some_and(|real| real > 1.6 * height.mm()))
        .then(|| slip(How::Unexplained))
}

/// Whether the height was taken from the start diameter: half of start minus root, a habit that
/// only makes the first passes cut air.
pub(super) fn from_start(section: &Section) -> bool {
    let (Some(start), Some(crest)) = (section.cut.start_x.get(), section.cut.crest_x.get()) else {
        return false;
    };
    let near = Length::from_pm(60_000_000);
    !section.syntax.counts_from_crest() && start.abs().0.near(crest.abs().0, near)
}

/// Depth from the nominal crest to the programmed root, where it is the depth of a thread.
fn real_depth(cx: &Context<'_>, pitch: f64) -> Option<f64> {
    if cx.section.syntax.counts_from_crest() {
        return None;
    }
    let (thread, side) = (cx.thread()?, cx.side()?);
    let root = cx.section.cut.root_x.get()?.abs().mm();
    let depth = match side {
        Side::External => (thread.major.mm() - root) / 2.0,
        Side::Internal => (root - thread.basic().minor) / 2.0,
    };
    let (min, max) = plausible_depths(cx, pitch);
    (min..=max).contains(&depth).then_some(depth)
}

fn twice_or_half(ratio: f64) -> Option<Factor> {
    if (ratio - 2.0).abs() < 0.08 {
        Some(HALF)
    } else if (ratio - 0.5).abs() < 0.03 {
        Some(TWICE)
    } else {
        None
    }
}

/// Where the words give the crest the height makes the root, so that the form must tell: a known thread,
/// or crest and root that fit a listed thread only with the other reading.
fn crest_factor(cx: &Context<'_>, height: Radial, pitch: f64) -> Option<Factor> {
    let fits = |depth: f64| {
        let (min, max) = plausible_depths(cx, pitch);
        (min..=max).contains(&depth)
    };
    let h = height.mm();
    if fits(h) {
        return None;
    }
    let mut both = [TWICE, HALF].into_iter();
    if cx.stated() {
        return both.find(|factor| fits(h * factor.value));
    }
    let crest = cx.section.cut.crest_x.get()?.abs();
    let best = |height: f64| distance(cx, crest, Radial::from_mm(height));
    both.find(|factor| {
        let other = h * factor.value;
        fits(other) && best(other) <= 0.1 && best(h) > 0.3
    })
}

/// Distance of the nearest listed thread with this crest and height.
fn distance(cx: &Context<'_>, crest: Diameter, height: Radial) -> f64 {
    let (Some(side), Some(lead)) = (cx.side(), cx.section.cut.lead.get()) else {
        return f64::INFINITY;
    };
    let root = match side {
        Side::External => crest.in_by(height),
        Side::Internal => crest.out_by(height),
    };
    let found = nearest(&Measured {
        side,
        crest_mm: Some(crest.mm()),
        root_mm: Some(root.mm()),
        lead_mm: lead.mm().abs(),
        lead_tolerance_mm: lead_tolerance(cx.section),
        taper: Some(0.0),
    });
    found.first().map_or(f64::INFINITY, |best| best.distance)
}

/// The word's value times a factor, in the word's style. Where the factor is the least increment, a
/// point was written that does not belong there: the digits stay, the point goes.
pub(super) fn respell(word: &RoleWord, wanted: Length, factor: Factor) -> String {
    if let Scale::Real(units) = word.scale {
        let least = units.least_increment().pm() as f64 / units.pm() as f64;
        let is_least = (factor.value / least - 1.0).abs() < 1e-9;
        if word.number.point && is_least && word.number.integer().is_some() {
            let count = wanted.pm() as f64 / units.least_increment().pm() as f64;
            return format!("{}", count.round() as i64);
        }
    }
    spell_length(word, wanted)
}
