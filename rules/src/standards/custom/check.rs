//! Whether the numbers of a thread of the shop's own can be those of a thread.

use std::fmt;

use super::{Custom, CustomSide};
use crate::measure::vee::Vee;
use crate::standards::Side;

/// What contradicts what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CustomError {
    /// The side that the guilty key belongs to; `None` for a key of the thread itself.
    pub side: Option<Side>,
    /// The key, as the configuration calls it.
    pub key: &'static str,
    /// What is wrong, as a sentence without its full stop.
    pub reason: String,
}

impl fmt::Display for CustomError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.side {
            Some(side) => write!(f, "{}: {}", side.name(), self.reason),
            None => f.write_str(&self.reason),
        }
    }
}

impl std::error::Error for CustomError {}

/// Largest pitch and diameter in mm that are believed.
const LARGEST: f64 = 10_000.0;
/// Part of a pitch by which widths along the axis may miss each other: drawings round.
const ROUNDED: f64 = 0.02;

impl Custom {
    /// Checks that the numbers can be those of a thread.
    ///
    /// # Errors
    /// Says which number contradicts the others.
    pub fn check(&self) -> Result<(), CustomError> {
        let wrong = |key, reason: &str| {
            Err(CustomError {
                side: None,
                key,
                reason: reason.to_owned(),
            })
        };
        let length = |v: f64| v.is_finite() && v > 0.0 && v <= LARGEST;
        if self.name.trim().is_empty() {
            return wrong("name", "a form needs a name");
        }
        if self.name.chars().count() > 60 || self.name.contains([',', '(', ')', ';']) {
            return wrong(
                "name",
                "a note (THREAD name, …) must be able to say the name: at most 60 characters, no \
                 comma, bracket or semicolon",
            );
        }
        if !length(self.major_mm) {
            return wrong("major_mm", "the major diameter must be a length in mm");
        }
        if !length(self.pitch_mm) || self.pitch_mm > self.major_mm {
            return wrong(
                "pitch_mm",
                "the pitch must be a length in mm, smaller than the major diameter",
            );
        }
        if !(1..=24).contains(&self.starts) {
            return wrong("starts", "there are between 1 and 24 starts");
        }
        if !(0.0..=1.0).contains(&self.taper) {
            return wrong(
                "taper",
                "the taper is a ratio on the diameter, 0.0625 for 1:16",
            );
        }
        if let Some(plane) = self.gauge_plane_mm {
            if !(0.0..=LARGEST).contains(&plane) {
                return wrong("gauge_plane_mm", "the gauge plane lies at a length in mm");
            }
            if self.taper == 0.0 {
                return wrong("gauge_plane_mm", "a parallel thread has no gauge plane");
            }
        }
        let angles = [self.leading_flank_deg, self.following_flank_deg];
        match angles {
            [Some(_), None] => return wrong("leading_flank_deg", "the following flank is missing"),
            [None, Some(_)] => return wrong("following_flank_deg", "the leading flank is missing"),
            [None, None] if self.load_flank.is_some() => {
                return wrong(
                    "load_flank",
                    "a form without flank angles has no load flank",
                );
            }
            _ => {}
        }
        // A flank may lean a little under, no more.
        let leans = |angle: Option<f64>| angle.is_some_and(|a| !(-10.0..80.0).contains(&a));
        for (key, angle) in ["leading_flank_deg", "following_flank_deg"]
            .into_iter()
            .zip(angles)
        {
            if leans(angle) {
                return wrong(
                    key,
                    "a flank angle is measured from the normal to the axis: -10 to 80",
                );
            }
        }
        if angles.iter().flatten().sum::<f64>() < 0.0 {
            return wrong("leading_flank_deg", "the flanks lean towards each other");
        }
        if self.external.is_none() && self.internal.is_none() {
            return wrong(
                "name",
                "neither the external nor the internal thread is given: add [form.external] or \
                 [form.internal] with its depth_mm",
            );
        }
        for side in [Side::External, Side::Internal] {
            if let Some(given) = self.side(side)
                && let Err((key, reason)) = given.check(self).and_then(|()| given.fits(self))
            {
                return Err(CustomError {
                    side: Some(side),
                    key,
                    reason,
                });
            }
        }
        Ok(())
    }
}

type Checked = Result<(), (&'static str, String)>;

impl CustomSide {
    fn bands(&self) -> [(&'static str, &'static str, Option<[f64; 2]>); 5] {
        [
            ("depth_limits_mm", "depth", self.depth_limits_mm),
            ("root_radius_mm", "root radius", self.root_radius_mm),
            ("major_limits_mm", "major diameter", self.major_limits_mm),
            ("pitch_limits_mm", "pitch diameter", self.pitch_limits_mm),
            ("minor_limits_mm", "minor diameter", self.minor_limits_mm),
        ]
    }

    /// Each number by itself, and the diameters against each other.
    fn check(&self, form: &Custom) -> Checked {
        let wrong = |key, reason: String| Err((key, reason));
        let major = form.major_mm;
        if !(self.depth_mm.is_finite() && self.depth_mm > 0.0 && 2.0 * self.depth_mm < major) {
            return wrong(
                "depth_mm",
                "the depth is radial, and leaves a core".to_owned(),
            );
        }
        let ordered =
            |[min, max]: [f64; 2]| (0.0..=LARGEST).contains(&min) && min <= max && max <= LARGEST;
        for (key, what, limits) in self.bands() {
            if limits.is_some_and(|limits| !ordered(limits)) {
                return wrong(
                    key,
                    format!("the limits of the {what} are [smallest, largest]"),
                );
            }
        }
        if self
            .depth_limits_mm
            .is_some_and(|[min, max]| !(min..=max).contains(&self.depth_mm))
        {
            return wrong(
                "depth_limits_mm",
                "the depth lies outside its limits".to_owned(),
            );
        }
        for (key, value) in [
            ("crest_flat_mm", self.crest_flat_mm),
            ("crest_radius_mm", self.crest_radius_mm),
            ("root_flat_mm", self.root_flat_mm),
        ] {
            if value.is_some_and(|v| !(0.0..=LARGEST).contains(&v)) {
                return wrong(key, "a flat or a radius is a length in mm".to_owned());
            }
        }
        let near = |limits: Option<[f64; 2]>, nominal: f64| {
            limits.is_none_or(|[min, max]| {
                (min - form.pitch_mm..=max + form.pitch_mm).contains(&nominal)
            })
        };
        let minor = major - 2.0 * self.depth_mm;
        for (key, limits, nominal, what) in [
            ("major_limits_mm", self.major_limits_mm, major, "major_mm"),
            (
                "pitch_limits_mm",
                self.pitch_limits_mm,
                f64::midpoint(major, minor),
                "the middle of the depth",
            ),
            (
                "minor_limits_mm",
                self.minor_limits_mm,
                minor,
                "major_mm less twice the depth",
            ),
        ] {
            if !near(limits, nominal) {
                return wrong(
                    key,
                    format!("the limits lie more than a pitch away from {what}, {nominal:.3} mm"),
                );
            }
        }
        let above =
            |a: Option<[f64; 2]>, b: Option<[f64; 2]>| a.zip(b).is_none_or(|(a, b)| a[0] > b[1]);
        if !above(self.major_limits_mm, self.pitch_limits_mm) {
            return wrong(
                "pitch_limits_mm",
                "the pitch diameter must stay below the major diameter".to_owned(),
            );
        }
        if !above(self.pitch_limits_mm, self.minor_limits_mm)
            || !above(self.major_limits_mm, self.minor_limits_mm)
        {
            return wrong(
                "minor_limits_mm",
                "the minor diameter must stay below the others".to_owned(),
            );
        }
        Ok(())
    }

    /// The widths along the axis: crest, flanks and root make one pitch.
    fn fits(&self, form: &Custom) -> Checked {
        let Some(vee) = form.form().flanks.and_then(Vee::between) else {
            return Ok(());
        };
        let pitch = form.pitch_mm;
        let crest = self.crest_flat_mm.unwrap_or(0.0);
        let flanks = self.depth_mm * vee.opening();
        let left = pitch - crest - flanks;
        if left < -ROUNDED * pitch {
            return Err((
                "depth_mm",
                format!(
                    "the flanks meet before this depth: crest {crest:.3} + flanks {flanks:.3} are \
                     more than the pitch {pitch:.3} mm"
                ),
            ));
        }
        if let Some(flat) = self.root_flat_mm {
            let both = self.crest_flat_mm.is_some() && self.root_radius_mm.is_none();
            let off = crest + flanks + flat - pitch;
            if off > ROUNDED * pitch || both && off < -ROUNDED * pitch {
                return Err((
                    "root_flat_mm",
                    format!(
                        "crest {crest:.3} + flanks {flanks:.3} + root {flat:.3} make {:.3} mm, the \
                         pitch is {pitch:.3}",
                        crest + flanks + flat
                    ),
                ));
            }
        } else if let Some([least, _]) = self.root_radius_mm {
            let wanted = least * (vee.seat() - 1.0) * vee.opening();
            if wanted > left + ROUNDED * pitch {
                return Err((
                    "root_radius_mm",
                    format!(
                        "the smallest radius asks for {wanted:.3} mm between the flanks at the \
                         root, there are {:.3}",
                        left.max(0.0)
                    ),
                ));
            }
        }
        Ok(())
    }
}
