//! A thread of the shop's own, told by numbers: for forms that no standard here has. It is plain data,
//! so that a configuration can hold it, and answers the same questions as a [`Thread`].
//!
//! All lengths are in mm, all angles in degrees from the normal to the axis.
//!
//! [`Thread`]: super::thread::Thread

use std::fmt;

use lexer::units::{Diameter, Lead, Length, Units};
use serde::Deserialize;

use super::form::{End, Flank, Flanks, Form, Measure, Profile, Spread};
use super::limits::{Band, Basic, Limits};
use super::{Hand, Side};

/// A thread of the shop's own.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Custom {
    /// What the shop calls it.
    pub name: String,
    /// Nominal major diameter; of a tapered thread in its gauge plane.
    pub major_mm: f64,
    /// Distance from one thread to the next.
    pub pitch_mm: f64,
    /// Number of starts, 1 where nothing is said.
    #[serde(default = "one")]
    pub starts: u32,
    /// Whether the thread is left-hand.
    #[serde(default)]
    pub left_hand: bool,
    /// Angle of the flank that faces the mating part before assembly; with the other one, or
    /// neither where the form is made of arcs.
    pub leading_flank_deg: Option<f64>,
    /// Angle of the other flank.
    pub following_flank_deg: Option<f64>,
    /// The flank that carries the load, where it is always the same.
    pub load_flank: Option<LoadFlank>,
    /// Taper on the diameter per length along the axis, 0.0625 for 1:16.
    #[serde(default)]
    pub taper: f64,
    /// The external thread.
    pub external: Option<CustomSide>,
    /// The internal thread.
    pub internal: Option<CustomSide>,
    /// Where the numbers come from, as the shop says it.
    #[serde(default)]
    pub source: String,
}

/// A flank by its place on assembly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LoadFlank {
    /// The flank that faces the mating part before assembly.
    Leading,
    /// The other one.
    Following,
}

/// One side of a thread of the shop's own.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CustomSide {
    /// Radial depth from crest to root.
    pub depth_mm: f64,
    /// Smallest and largest depth; the depth itself where nothing is said.
    pub depth_limits_mm: Option<[f64; 2]>,
    /// Width of the crest.
    pub crest_flat_mm: Option<f64>,
    /// Radius at the crest.
    pub crest_radius_mm: Option<f64>,
    /// Width of the root.
    pub root_flat_mm: Option<f64>,
    /// Smallest and largest radius at the root.
    pub root_radius_mm: Option<[f64; 2]>,
    /// Smallest and largest major diameter.
    pub major_limits_mm: Option<[f64; 2]>,
    /// Smallest and largest pitch diameter.
    pub pitch_limits_mm: Option<[f64; 2]>,
    /// Smallest and largest minor diameter.
    pub minor_limits_mm: Option<[f64; 2]>,
}

const fn one() -> u32 {
    1
}

/// What is wrong with the numbers of a thread, as a sentence without its full stop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CustomError(pub String);

impl fmt::Display for CustomError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for CustomError {}

/// Largest pitch and diameter in mm that are believed.
const LARGEST: f64 = 10_000.0;

impl Custom {
    /// Checks that the numbers can be those of a thread.
    ///
    /// # Errors
    /// Says which number contradicts the others.
    pub fn check(&self) -> Result<(), CustomError> {
        let wrong = |why: String| Err(CustomError(format!("thread {}: {why}", self.name)));
        let length = |v: f64| v.is_finite() && v > 0.0 && v <= LARGEST;
        if self.name.trim().is_empty() {
            return Err(CustomError("a thread needs a name".to_owned()));
        }
        if !length(self.major_mm) || !length(self.pitch_mm) || self.pitch_mm > self.major_mm {
            return wrong(
                "major and pitch must be lengths in mm, the pitch the smaller".to_owned(),
            );
        }
        if !(1..=24).contains(&self.starts) {
            return wrong(format!("{} starts are not between 1 and 24", self.starts));
        }
        if !(0.0..=1.0).contains(&self.taper) {
            return wrong("the taper is a ratio on the diameter, 0.0625 for 1:16".to_owned());
        }
        let angles = [self.leading_flank_deg, self.following_flank_deg];
        if angles[0].is_some() != angles[1].is_some() {
            return wrong("one flank angle is missing".to_owned());
        }
        // A flank may lean a little under, no more.
        let leans = |angle: &f64| !(-10.0..80.0).contains(angle);
        if angles.iter().flatten().any(leans) {
            return wrong("a flank angle is measured from the normal to the axis".to_owned());
        }
        if angles.iter().flatten().sum::<f64>() < 0.0 {
            return wrong("the flanks lean towards each other".to_owned());
        }
        if self.external.is_none() && self.internal.is_none() {
            return wrong("neither the external nor the internal thread is given".to_owned());
        }
        for side in [Side::External, Side::Internal] {
            if let Some(given) = self.side(side)
                && let Err(why) = given.check(self.major_mm)
            {
                return wrong(format!("{}: {why}", side.name()));
            }
        }
        Ok(())
    }

    /// One side, where it is given.
    #[must_use]
    pub fn side(&self, side: Side) -> Option<&CustomSide> {
        match side {
            Side::External => self.external.as_ref(),
            Side::Internal => self.internal.as_ref(),
        }
    }

    /// The major diameter.
    #[must_use]
    pub fn major(&self) -> Diameter {
        Diameter::from_mm(self.major_mm)
    }

    /// The pitch.
    #[must_use]
    pub fn pitch(&self) -> Lead {
        Lead::per_turn(Length::from_mm(self.pitch_mm))
    }

    /// Advance per turn.
    #[must_use]
    pub fn lead(&self) -> Lead {
        self.pitch().times(self.starts)
    }

    /// The hand.
    #[must_use]
    pub fn hand(&self) -> Hand {
        match self.left_hand {
            true => Hand::Left,
            false => Hand::Right,
        }
    }

    /// The form; a side that is not given has the depth of the other and nothing else.
    #[must_use]
    pub fn form(&self) -> Form {
        let flanks = self.leading_flank_deg.zip(self.following_flank_deg);
        let given = self.external.as_ref().or(self.internal.as_ref());
        let profile = |side: Option<&CustomSide>| match side {
            Some(side) => side.profile(),
            None => Profile {
                depth: given.map_or(Spread::default(), |other| other.profile().depth),
                ..Profile::default()
            },
        };
        Form {
            flanks: flanks.map(|(leading_deg, trailing_deg)| Flanks {
                leading_deg,
                trailing_deg,
                pressure: self.load_flank.map(|flank| match flank {
                    LoadFlank::Leading => Flank::Leading,
                    LoadFlank::Following => Flank::Following,
                }),
            }),
            external: profile(self.external.as_ref()),
            internal: profile(self.internal.as_ref()),
            taper: self.taper,
            source: "the configuration",
        }
    }

    /// Diameters without deviations: root and bore by the depths, and the pitch diameter where the
    /// limits of either side have it or, failing that, in the middle of the deeper side.
    #[must_use]
    pub fn basic(&self) -> Basic {
        let form = self.form();
        let depth = |side| form.design_depth(side, self.pitch_mm);
        let (root, bore) = (depth(Side::External), depth(Side::Internal));
        let limit = |side: Option<&CustomSide>, at: usize| side?.pitch_limits_mm.map(|l| l[at]);
        let stated = limit(self.external.as_ref(), 1).or(limit(self.internal.as_ref(), 0));
        Basic {
            major: self.major_mm,
            pitch: stated.unwrap_or(self.major_mm - root.max(bore)),
            minor: self.major_mm - 2.0 * bore,
            root: self.major_mm - 2.0 * root,
        }
    }

    /// Limits of one side as they are given; `None` where the side is not.
    #[must_use]
    pub fn limits(&self, side: Side) -> Option<Limits> {
        let given = self.side(side)?;
        let band =
            |limits: Option<[f64; 2]>| limits.map_or(Band::OPEN, |[a, b]| Band::between(a, b));
        let mut limits = Limits::open(side, "", Units::Millimetre);
        limits.major = band(given.major_limits_mm);
        limits.pitch = band(given.pitch_limits_mm);
        limits.minor = band(given.minor_limits_mm);
        limits.root = match side {
            Side::External => limits.minor,
            Side::Internal => limits.major,
        };
        limits.sources = vec!["the configuration"];
        if !self.source.is_empty() {
            limits.notes.push(format!("source: {}", self.source));
        }
        for (what, given) in [
            ("major", given.major_limits_mm),
            ("pitch", given.pitch_limits_mm),
            ("minor", given.minor_limits_mm),
        ] {
            if given.is_none() {
                limits
                    .notes
                    .push(format!("no limits of the {what} diameter are given"));
            }
        }
        Some(limits)
    }

    /// The radial depths in mm that are accepted for a side.
    #[must_use]
    pub fn depth_band(&self, side: Side) -> Band {
        self.form().depth_band(side, self.pitch_mm)
    }
}

fn fixed(plus_mm: f64) -> Measure {
    Measure {
        per_pitch: 0.0,
        plus_mm,
    }
}

fn spread([min, max]: [f64; 2], design: f64) -> Spread {
    Spread {
        min: fixed(min),
        design: fixed(design),
        max: fixed(max),
    }
}

impl CustomSide {
    /// A side of which only the depth is known.
    #[must_use]
    pub fn of_depth(depth: f64) -> Self {
        CustomSide {
            depth_mm: depth,
            depth_limits_mm: None,
            crest_flat_mm: None,
            crest_radius_mm: None,
            root_flat_mm: None,
            root_radius_mm: None,
            major_limits_mm: None,
            pitch_limits_mm: None,
            minor_limits_mm: None,
        }
    }

    fn check(&self, major: f64) -> Result<(), String> {
        if !(self.depth_mm.is_finite() && self.depth_mm > 0.0 && 2.0 * self.depth_mm < major) {
            return Err("the depth is radial, and leaves a core".to_owned());
        }
        let ordered =
            |[min, max]: [f64; 2]| (0.0..=LARGEST).contains(&min) && min <= max && max <= LARGEST;
        for (what, limits) in [
            ("depth", self.depth_limits_mm),
            ("root radius", self.root_radius_mm),
            ("major diameter", self.major_limits_mm),
            ("pitch diameter", self.pitch_limits_mm),
            ("minor diameter", self.minor_limits_mm),
        ] {
            if limits.is_some_and(|limits| !ordered(limits)) {
                return Err(format!("the limits of the {what} are [smallest, largest]"));
            }
        }
        if self
            .depth_limits_mm
            .is_some_and(|[min, max]| !(min..=max).contains(&self.depth_mm))
        {
            return Err("the depth lies outside its limits".to_owned());
        }
        let single = [self.crest_flat_mm, self.crest_radius_mm, self.root_flat_mm];
        if single
            .iter()
            .flatten()
            .any(|v| !(0.0..=LARGEST).contains(v))
        {
            return Err("a flat or a radius is no length in mm".to_owned());
        }
        Ok(())
    }

    fn profile(&self) -> Profile {
        let depth = self.depth_limits_mm.unwrap_or([self.depth_mm; 2]);
        Profile {
            depth: spread(depth, self.depth_mm),
            crest: End {
                flat: self.crest_flat_mm.map(fixed),
                radius: self.crest_radius_mm.map(|r| spread([r, r], r)),
            },
            root: End {
                flat: self.root_flat_mm.map(fixed),
                radius: self.root_radius_mm.map(|limits| spread(limits, limits[1])),
            },
        }
    }
}

#[cfg(test)]
mod tests;
