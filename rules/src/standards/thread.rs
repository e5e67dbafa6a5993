//! One thread as a designation states it.

use std::sync::Arc;

use lexer::units::{Diameter, Lead, Length, Units};

use super::custom::Custom;
use super::form::{Form, lead_angle_deg};
use super::limits::{Band, Basic, Limits};
use super::planes::GaugePlanes;
use super::{Family, Hand, Side, Size};

/// Length over which the thread is screwed together, as a designation may state it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Engagement {
    /// ISO 965-1 group S.
    Short,
    /// ISO 965-1 group N, the default.
    Normal,
    /// ISO 965-1 group L.
    Long,
    /// A stated length.
    Length(Length),
}

/// What a designation said in words, as against what follows from a standard's defaults.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Written {
    /// The pitch; otherwise it is the pitch of the size's coarse (or named) series.
    pub pitch: bool,
    /// The series, where the family writes one.
    pub series: bool,
    /// A tolerance class.
    pub class: bool,
    /// The class stands in a text of capitals only and could be meant for either side (`6G` for
    /// `6g`): both classes are then kept until the side is known.
    pub capitals: bool,
}

/// A thread as a designation states it.
///
/// Two threads are equal when they say the same, not only when they measure the same.
#[derive(Debug, Clone, PartialEq)]
pub struct Thread {
    /// The family.
    pub family: Family,
    /// The series, empty where the family has none in its name.
    pub series: &'static str,
    /// What the size is called where that is not its diameter.
    pub name: Option<&'static str>,
    /// Nominal major diameter.
    pub major: Diameter,
    /// Pitch: the distance from one thread to the next.
    pub pitch: Lead,
    /// Number of starts.
    pub starts: u32,
    /// Hand of the helix.
    pub hand: Hand,
    /// The side, where the designation or the caller tells it.
    pub side: Option<Side>,
    /// Tolerance class of the external thread as written, in its canonical letters.
    pub external: Option<String>,
    /// Tolerance class of the internal thread as written.
    pub internal: Option<String>,
    /// Length of engagement as written.
    pub engagement: Option<Engagement>,
    /// What was written.
    pub written: Written,
    /// The numbers of a thread of the shop's own; `None` for a thread of a standard.
    pub custom: Option<Arc<Custom>>,
}

impl Thread {
    /// A right-hand single-start thread of a size, nothing else stated.
    #[must_use]
    pub fn of_size(family: Family, size: &Size) -> Self {
        Thread {
            name: size.name,
            ..Thread::new(family, size.series, size.major, size.pitch)
        }
    }

    /// A right-hand single-start thread, nothing else stated.
    #[must_use]
    pub fn new(family: Family, series: &'static str, major: Diameter, pitch: Lead) -> Self {
        Thread {
            family,
            series,
            name: None,
            major,
            pitch,
            starts: 1,
            hand: Hand::Right,
            side: (family.standard().made_for)(series),
            external: None,
            internal: None,
            engagement: None,
            written: Written {
                pitch: true,
                ..Written::default()
            },
            custom: None,
        }
    }

    /// Advance per turn: starts times pitch. This is what a feed word carries.
    #[must_use]
    pub fn lead(&self) -> Lead {
        self.pitch.times(self.starts)
    }

    /// The canonical text. A class is printed when one was written; `M24` prints as `M24x3`.
    #[must_use]
    pub fn designation(&self) -> String {
        (self.family.standard().write)(self)
    }

    /// The canonical text for one side, with the class that holds there, written or assumed.
    #[must_use]
    pub fn designation_for(&self, side: Side) -> String {
        let mut one = self.on(side);
        let class = Some(one.class(side).to_owned()).filter(|class| !class.is_empty());
        (one.external, one.internal) = match side {
            Side::External => (class, None),
            Side::Internal => (None, class),
        };
        one.designation()
    }

    /// Whether a class in capitals was written that could be meant for either side.
    #[must_use]
    pub fn is_ambiguous(&self) -> bool {
        self.written.capitals
    }

    /// The thread with the side settled: an ambiguous class in capitals becomes that side's class.
    /// A side that the designation itself tells is kept.
    #[must_use]
    pub fn on(&self, side: Side) -> Thread {
        let mut thread = self.clone();
        if thread.is_ambiguous() {
            thread.written.capitals = false;
            match side {
                Side::External => thread.internal = None,
                Side::Internal => thread.external = None,
            }
        }
        thread.side.get_or_insert(side);
        thread
    }

    /// The class written for a side.
    #[must_use]
    pub fn written_class(&self, side: Side) -> Option<&str> {
        match side {
            Side::External => self.external.as_deref(),
            Side::Internal => self.internal.as_deref(),
        }
    }

    /// The class that holds for a side: written, or the standard's default; empty where the
    /// family has no classes.
    #[must_use]
    pub fn class(&self, side: Side) -> &str {
        self.written_class(side)
            .unwrap_or_else(|| (self.family.standard().default_class)(self, side))
    }

    /// The form.
    #[must_use]
    pub fn form(&self) -> Form {
        (self.family.standard().form)(self)
    }

    /// Diameters without deviations.
    #[must_use]
    pub fn basic(&self) -> Basic {
        (self.family.standard().basic)(self)
    }

    /// The planes along one side of a tapered thread; `None` where the thread is parallel.
    #[must_use]
    pub fn gauge_planes(&self, side: Side) -> Option<GaugePlanes> {
        (self.family.standard().gauge)(self, side)
    }

    /// Whether the thread exists on a side: there is no external `Rc`.
    #[must_use]
    pub fn exists_on(&self, side: Side) -> bool {
        if let Some(custom) = &self.custom {
            return custom.side(side).is_some();
        }
        let made_for = (self.family.standard().made_for)(self.series);
        made_for.is_none_or(|only| only == side)
    }

    /// Limits of size of one side for its class, written or assumed.
    #[must_use]
    pub fn limits(&self, side: Side) -> Limits {
        let mut limits = (self.family.standard().limits)(self, side, self.class(side));
        if self.written_class(side).is_none() && !limits.class.is_empty() {
            limits.class_assumed = true;
            let class = &limits.class;
            let note = format!("no {} class is written, {class} is assumed", side.name());
            limits.notes.push(note);
        }
        limits
    }

    /// The radial depths in mm that are accepted from the nominal crest of a side. The depth of an
    /// internal thread counts from its bore, which may be as large as its class allows.
    #[must_use]
    pub fn depth_band(&self, side: Side) -> Band {
        let mut band = self.form().depth_band(side, self.pitch.mm());
        if side == Side::Internal
            && let Some(bore) = self.limits(side).minor.max
        {
            let least = (self.major.mm() - bore) / 2.0;
            band.min = band.min.map(|min| min.min(least));
        }
        band
    }

    /// Lead angle in degrees at the basic pitch diameter.
    #[must_use]
    pub fn lead_angle_deg(&self) -> f64 {
        lead_angle_deg(self.lead().mm(), self.basic().pitch)
    }

    /// Whether a series of the family, or the configuration, lists this diameter with this pitch.
    #[must_use]
    pub fn is_standard_size(&self) -> bool {
        self.custom.is_some() || self.listed().is_some()
    }

    /// The entry of the family's series for this diameter and pitch, the most common one first.
    #[must_use]
    pub fn listed(&self) -> Option<&'static Size> {
        let matches = |s: &&Size| s.major == self.major && s.pitch == self.pitch;
        let listed = self.family.sizes().iter().filter(matches);
        listed.min_by_key(|s| s.rank)
    }

    /// Whether a listed size within a quarter of the diameter has this pitch: a special `M37x1.5`
    /// has one, `M8x20` does not.
    #[must_use]
    pub fn has_usual_pitch(&self) -> bool {
        if self.custom.is_some() {
            return true;
        }
        let d = self.major.mm();
        let near = |s: &&Size| (s.major.mm() - d).abs() <= d / 4.0;
        let mut sizes = self.family.sizes().iter().filter(near);
        sizes.any(|size| size.pitch == self.pitch)
    }

    /// Units in which the family states its sizes.
    #[must_use]
    pub fn units(&self) -> Units {
        self.family.standard().units
    }
}
