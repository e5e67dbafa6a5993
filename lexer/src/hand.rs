//! Right or left hand, from the turning of the spindle and the direction of the feed.

use crate::section::{Section, Turning, Val};

/// Hand of a helix.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Hand {
    /// Turned clockwise, it goes away from the observer.
    Right,
    /// Turned counterclockwise, it goes away from the observer.
    Left,
}

impl Hand {
    /// `right` or `left`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Hand::Right => "right",
            Hand::Left => "left",
        }
    }

    const fn other(self) -> Hand {
        match self {
            Hand::Right => Hand::Left,
            Hand::Left => Hand::Right,
        }
    }
}

/// What the program does not say about the machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Sense {
    /// Which way M3 turns the work, seen from the chuck towards its free end; clockwise as it is
    /// usually defined.
    pub m3: Option<Turning>,
    /// Whether the work is held on the side of +Z, as in a second spindle.
    pub chuck_at_plus_z: Option<bool>,
}

/// The hand of a turned thread, or why it is not known.
///
/// With a spindle that turns clockwise on M3, M3 and a feed towards the chuck cut a right-hand
/// thread; M4, or a feed away from the chuck, turns the hand around, both together do not. The side
/// of the tool (in front of the axis or behind it, inside or outside) makes no difference. Derived:
/// seen from the work, the tool goes round against the spindle while it goes along the axis.
#[must_use]
pub fn hand(section: &Section, sense: Sense) -> Val<Hand> {
    let unknown = |why: &str| Val::Unknown(why.to_owned());
    if section.is_facing() {
        return unknown("the hand of a thread on a face is not judged");
    }
    let turning = |spindle: &crate::section::Spindle| spindle.turning.map(|mark| mark.value);
    let own = turning(&section.spindle);
    if section
        .passes
        .iter()
        .any(|pass| turning(&pass.spindle) != own)
    {
        return unknown("the spindle changes its direction between the passes");
    }
    let by_m3 = match own {
        Some(Turning::Clockwise) => Hand::Right,
        Some(Turning::Counterclockwise) => Hand::Left,
        Some(Turning::Stopped) => return unknown("the spindle stands still"),
        None => return unknown("neither M3 nor M4 is written before the thread"),
    };
    let forward = match sense.m3 {
        Some(Turning::Clockwise) => true,
        Some(Turning::Counterclockwise) => false,
        Some(Turning::Stopped) | None => {
            return unknown("which way the spindle turns on M3 is not configured");
        }
    };
    let Some(direction) = section.feed_direction() else {
        return unknown("the direction of the feed is not known");
    };
    let towards_chuck = match (direction < 0, sense.chuck_at_plus_z) {
        (true, None) => true,
        (true, Some(plus)) => !plus,
        (false, Some(plus)) => plus,
        (false, None) => {
            return unknown(
                "the tool feeds towards +Z: away from the chuck, or towards the chuck of a second \
                 spindle",
            );
        }
    };
    let turned = usize::from(!forward) + usize::from(!towards_chuck);
    Val::Exact(if turned == 1 { by_m3.other() } else { by_m3 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::program::Settings;

    fn section(turning: &str, from: &str, to: &str) -> Section {
        let text = format!(
            "G21\nT0303\nG97 S500 {turning}\nG0 X34. Z{from}\nG92 X29. Z{to} F2.\nX28.\nG0 X50.\n"
        );
        let mut program = crate::read(text.as_bytes(), &Settings::default());
        assert_eq!(program.sections.len(), 1, "{text}");
        program.sections.remove(0)
    }

    /// From memory: M3 is clockwise as seen from the headstock. The rest is derived.
    #[test]
    fn spindle_and_feed_make_the_hand() {
        let forward = Sense {
            m3: Some(Turning::Clockwise),
            chuck_at_plus_z: None,
        };
        let main = Sense {
            chuck_at_plus_z: Some(false),
            ..forward
        };
        let second = Sense {
            chuck_at_plus_z: Some(true),
            ..forward
        };
        let backward = Sense {
            m3: Some(Turning::Counterclockwise),
            ..forward
        };
        for (turning, from, to, sense, want) in [
            ("M3", "8.", "-36.", forward, Some(Hand::Right)),
            ("M4", "8.", "-36.", forward, Some(Hand::Left)),
            ("M3", "8.", "-36.", backward, Some(Hand::Left)),
            ("M4", "8.", "-36.", backward, Some(Hand::Right)),
            ("M3", "-36.", "8.", main, Some(Hand::Left)),
            ("M4", "-36.", "8.", main, Some(Hand::Right)),
            ("M3", "-8.", "36.", second, Some(Hand::Right)),
            ("M3", "-36.", "8.", forward, None),
            ("M5", "8.", "-36.", forward, None),
            ("", "8.", "-36.", forward, None),
            ("M3", "8.", "-36.", Sense::default(), None),
        ] {
            let got = hand(&section(turning, from, to), sense);
            assert_eq!(got.get(), want, "{turning} {from} {to} {got:?}");
            assert_eq!(got.why().is_none(), want.is_some());
        }
    }
}
