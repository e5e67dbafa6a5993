//! Diameters and pitches of ISO 2902.
//!
//! The plan is from memory; the 108 pairs that an open table lists are all in it. Beside it a few
//! sizes that screws are sold in without being in the plan.

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Length};

use super::super::Size;

/// A range of diameters in mm with the pitches of each in µm.
const PLAN: [(&[i64], &[i64]); 27] = [
    (&[9, 10], &[2_000, 1_500]),
    (&[11, 12], &[3_000, 2_000]),
    (&[14], &[3_000, 2_000]),
    (&[16, 18, 20], &[4_000, 2_000]),
    (&[22, 24, 26, 28], &[5_000, 3_000, 8_000]),
    (&[30, 32, 34, 36], &[6_000, 3_000, 10_000]),
    (&[38, 40, 42], &[7_000, 3_000, 10_000]),
    (&[44], &[7_000, 3_000, 12_000]),
    (&[46, 48, 50, 52], &[8_000, 3_000, 12_000]),
    (&[55, 60], &[9_000, 3_000, 14_000]),
    (&[65, 70, 75, 80], &[10_000, 4_000, 16_000]),
    (&[85, 90, 95], &[12_000, 4_000, 18_000]),
    (&[100, 105, 110], &[12_000, 4_000, 20_000]),
    (&[115], &[14_000, 6_000, 12_000, 22_000]),
    (&[120, 125, 130], &[14_000, 6_000, 22_000]),
    (&[135, 140, 145], &[14_000, 6_000, 24_000]),
    (&[150, 155], &[16_000, 6_000, 24_000]),
    (&[160, 165, 170], &[16_000, 6_000, 28_000]),
    (&[175], &[16_000, 8_000, 28_000]),
    (&[180], &[18_000, 8_000, 28_000]),
    (&[185, 190, 195, 200], &[18_000, 8_000, 32_000]),
    (&[210, 220, 230], &[20_000, 8_000, 36_000]),
    (&[240], &[22_000, 8_000, 36_000]),
    (&[250, 260], &[22_000, 12_000, 40_000]),
    (&[270, 280], &[24_000, 12_000, 40_000]),
    (&[290, 300], &[24_000, 12_000, 44_000]),
    (&[8], &[1_500]),
];

/// Sizes outside the plan, diameter in mm and pitch in µm, that public tables of screws list.
const BESIDE: [(i64, i64); 5] = [
    (8, 2_000),
    (10, 3_000),
    (14, 4_000),
    (25, 3_000),
    (25, 5_000),
];

/// A power screw cut at random is less likely than a fastening thread of the same diameter and
/// pitch: these ranks make numbers that fit both stay undecided, and leave a fastening thread that
/// fits exactly ahead.
const RANK: u8 = 4;

fn plan() -> impl Iterator<Item = Size> {
    PLAN.into_iter()
        .flat_map(|(diameters, pitches)| {
            let pairs = move |major: &i64| pitches.iter().map(|pitch| (*major, *pitch)).collect();
            diameters.iter().flat_map::<Vec<_>, _>(pairs)
        })
        .map(|(major, pitch)| size(major, pitch, RANK))
}

fn size(major: i64, pitch: i64, rank: u8) -> Size {
    Size {
        name: None,
        major: Diameter(Length::from_pm(major * 1_000_000_000)),
        pitch: Lead::per_turn(Length::from_pm(pitch * 1_000_000)),
        series: "",
        rank,
    }
}

pub(super) fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let beside = BESIDE.map(|(major, pitch)| size(major, pitch, RANK + 1));
        plan().chain(beside).collect()
    });
    &SIZES
}

/// The sizes of DIN 513: those of the plan from 10 mm and with a pitch of 2 mm at least (from memory).
pub(in super::super) fn buttress() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let large = |size: &Size| size.major.mm() >= 10.0 && size.pitch.mm() >= 2.0;
        let rarer = |size: Size| Size {
            rank: RANK + 1,
            ..size
        };
        plan().filter(large).map(rarer).collect()
    });
    &SIZES
}
