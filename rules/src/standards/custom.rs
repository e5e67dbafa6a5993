//! A thread of the shop's own, told by numbers: for forms that no standard here has. It is plain
//! data, so that a configuration can hold it; [`Custom::thread`] makes a [`Thread`] of it that
//! answers like one of a standard.
//!
//! All lengths are in mm, all angles in degrees from the normal to the axis.

mod check;
mod family;

use std::sync::Arc;

use lexer::units::{Diameter, Lead, Length, Units};

pub use check::CustomError;
pub(super) use family::STANDARD;

use super::form::{End, Flank, Flanks, Form, Measure, Profile, Spread};
use super::limits::{Band, Basic, Limits};
use super::text::{Text, capitals};
use super::thread::{Thread, Written};
use super::{Family, Hand, Side};

/// A thread of the shop's own.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Custom {
    /// What the shop calls it.
    pub name: String,
    /// Nominal major diameter; of a tapered thread in its gauge plane.
    pub major_mm: f64,
    /// Distance from one thread to the next.
    pub pitch_mm: f64,
    /// Number of starts.
    pub starts: u32,
    /// Whether the thread is left-hand.
    pub left_hand: bool,
    /// Angle of the flank that faces the mating part before assembly; with the other one, or
    /// neither where the form is made of arcs.
    pub leading_flank_deg: Option<f64>,
    /// Angle of the other flank.
    pub following_flank_deg: Option<f64>,
    /// The flank that carries the load, where it is always the same.
    pub load_flank: Option<LoadFlank>,
    /// Taper on the diameter per length along the axis, 0.0625 for 1:16.
    pub taper: f64,
    /// Distance of the gauge plane of a tapered thread from the end face, where it is known: from
    /// the small end of the external thread, from the large end of the internal one.
    pub gauge_plane_mm: Option<f64>,
    /// The external thread.
    pub external: Option<CustomSide>,
    /// The internal thread.
    pub internal: Option<CustomSide>,
    /// Where the numbers come from, as the shop says it.
    pub source: String,
}

/// A flank by its place on assembly.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LoadFlank {
    /// The flank that faces the mating part before assembly.
    Leading,
    /// The other one.
    Following,
}

/// One side of a thread of the shop's own.
#[derive(Debug, Clone, PartialEq, Default)]
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

impl Custom {
    /// The thread, nothing else stated. Two forms of one name are told apart by their numbers.
    #[must_use]
    pub fn thread(self: &Arc<Self>) -> Thread {
        let new = Thread::new(Family::Custom, "", self.major(), self.pitch());
        Thread {
            starts: self.starts.max(1),
            hand: self.hand(),
            custom: Some(Arc::clone(self)),
            written: Written {
                pitch: false,
                ..new.written
            },
            ..new
        }
    }

    /// Whether a text is the name: case, blanks and Cyrillic look-alikes do not count, so that a
    /// note in capitals can say it.
    #[must_use]
    pub fn is_named(&self, text: &str) -> bool {
        let plain = |text: &str| -> String {
            let text = Text::new(text);
            (0..text.len())
                .map(|at| text.at(at))
                .filter(|c| *c != ' ')
                .flat_map(capitals)
                .collect()
        };
        !text.trim().is_empty() && plain(text) == plain(&self.name)
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
        self.pitch().times(self.starts.max(1))
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
            ..CustomSide::default()
        }
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
