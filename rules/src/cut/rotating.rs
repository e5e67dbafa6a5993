//! Seconds of a tapped hole and of a milled helix.
//!
//! Tap: the stroke in at lead × rpm, the stroke out at the speed out, the rapid to the next hole.
//! The time in which the spindle reverses is a fact of the machine and is not in it. Mill: the
//! length of the helix, √((2πR)² + lead²) a turn, over the feed (geometry).

use std::f64::consts::TAU;

use lexer::section::milling::Helix;
use lexer::section::tapping::Hole;
use lexer::section::{Kind, Section};

use crate::cut::time::{Between, Rapids};
use crate::table::Seconds;

/// Seconds of a pass by its index: a hole of a tapped section, a helix of a milled one.
#[must_use]
pub fn seconds(section: &Section, index: usize, rapids: &Rapids) -> Option<Seconds> {
    if let Some(tapping) = &section.tapping {
        let hole = tapping.holes.get(index)?;
        let rpm = tapping.rpm.filter(|rpm| *rpm > 0.0)?;
        let lead = section.cut.lead.get()?.mm();
        let (clear, bottom) = (hole.clear.get()?.mm(), hole.bottom.get()?.mm());
        let stroke = (clear - bottom).abs();
        if lead == 0.0 || stroke == 0.0 {
            return None;
        }
        let air = if clear > 0.0 && bottom < 0.0 {
            clear
        } else {
            0.0
        };
        let turns = |length: f64, rpm: f64| 60.0 * length / lead / rpm;
        let travel = tapping.holes.get(index + 1).map_or(0.0, |next| {
            apart(hole, next).map_or(0.0, |far| rapids.rapid(far, rapids.x))
        });
        return Some(Seconds {
            cut: turns(stroke - air, rpm),
            air: turns(air, rpm),
            back: turns(stroke, tapping.retract_rpm.unwrap_or(rpm)) + travel,
            between: Between::default(),
        });
    }
    let helix = section.milling.as_ref()?.helices.get(index)?;
    let feed = helix.feed?.value.mm();
    let rpm = section.spindle.rpm();
    let speed = match helix.per_turn {
        Some(true) => feed * rpm? / 60.0,
        _ => feed / 60.0,
    };
    (speed > 0.0).then(|| Seconds {
        cut: length(helix) / speed,
        air: 0.0,
        back: 0.0,
        between: Between::default(),
    })
}

/// What the seconds of a kind of section do not hold, to be added to what they rest on.
#[must_use]
pub const fn left_out(kind: Kind) -> &'static str {
    match kind {
        Kind::Turned => "",
        Kind::Tapped => "; without the time in which the spindle reverses",
        Kind::Milled => "; without the ways onto the helix and off it",
    }
}

fn apart(hole: &Hole, next: &Hole) -> Option<f64> {
    let by = |i: usize| Some((hole.at[i]? - next.at[i]?).mm());
    Some(by(0)?.hypot(by(1).unwrap_or(0.0)))
}

/// Length of the path of a helix, mm.
#[must_use]
pub fn length(helix: &Helix) -> f64 {
    (TAU * helix.radius_mm * helix.turns()).hypot(helix.rise().mm())
}

#[cfg(test)]
mod tests {
    use lexer::program::Settings;

    use super::*;

    fn of(text: &str) -> Seconds {
        let program = lexer::read(text.as_bytes(), &Settings::default());
        seconds(&program.sections[0], 0, &Rapids::DEFAULT).unwrap()
    }

    /// M8: 23 mm at 1.25 mm × 300 1/min = 6.25 mm/s is 3.68 s, 20 mm of it in the hole; as long
    /// back (arithmetic).
    #[test]
    fn a_tap_goes_in_and_out() {
        let one = of(
            "G21 G90 G94 G17\nT5 M6\nS300 M3\nG0 X0 Y0\nG43 H5 Z10.\nG84 X1. Y1. Z-20. R3. F375\nG80\nM30\n",
        );
        assert!((one.cut - 3.2).abs() < 1e-9, "{one:?}");
        assert!((one.air - 0.48).abs() < 1e-9 && (one.back - 3.68).abs() < 1e-9);
    }

    /// One turn at a radius of 4 mm with a lead of 3 mm is 25.3112 mm; at 66.67 mm/min 22.78 s
    /// (worked apart from this code).
    #[test]
    fn a_turn_of_a_mill() {
        let one = of(
            "G21 G90 G94 G17\nT5 M6 (THREAD MILL)\nS3000 M3\nG0 X0 Y0\nG43 H5 Z10.\nG1 Z-12. F500\nG1 X4. F66.6667\nG3 Z-9. I-4.\nG1 X0\nG0 Z10.\nM30\n",
        );
        assert!((one.cut - 22.780).abs() < 0.001, "{one:?}");
    }
}
