//! The standard series of unified threads (ASME B1.1 table 1).
//!
//! UNC and UNF up to 1 1/2 in are carried over from an open dataset (threadlib,
//! `design/UIS_thread.csv`, BSD-3-Clause; its 4 threads per inch at 2 and 2 1/4 in corrected to
//! 4 1/2). UNEF, the larger UNC and the diameters of the constant-pitch series are from memory.

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead};

use super::super::Size;
use super::super::inch::ten_thousandths_inch;

/// A diameter in 1e-4 in with its threads per inch, tenfold.
type Pair = (i64, i64);

const UNC: [Pair; 33] = [
    (730, 640),
    (860, 560),
    (990, 480),
    (1120, 400),
    (1250, 400),
    (1380, 320),
    (1640, 320),
    (1900, 240),
    (2160, 240),
    (2500, 200),
    (3125, 180),
    (3750, 160),
    (4375, 140),
    (5000, 130),
    (5625, 120),
    (6250, 110),
    (7500, 100),
    (8750, 90),
    (10000, 80),
    (11250, 70),
    (12500, 70),
    (13750, 60),
    (15000, 60),
    (17500, 50),
    (20000, 45),
    (22500, 45),
    (25000, 40),
    (27500, 40),
    (30000, 40),
    (32500, 40),
    (35000, 40),
    (37500, 40),
    (40000, 40),
];

const UNF: [Pair; 24] = [
    (600, 800),
    (730, 720),
    (860, 640),
    (990, 560),
    (1120, 480),
    (1250, 440),
    (1380, 400),
    (1640, 360),
    (1900, 320),
    (2160, 280),
    (2500, 280),
    (3125, 240),
    (3750, 240),
    (4375, 200),
    (5000, 200),
    (5625, 180),
    (6250, 180),
    (7500, 160),
    (8750, 140),
    (10000, 120),
    (11250, 120),
    (12500, 120),
    (13750, 120),
    (15000, 120),
];

const UNEF: [Pair; 25] = [
    (2160, 320),
    (2500, 320),
    (3125, 320),
    (3750, 320),
    (4375, 280),
    (5000, 280),
    (5625, 240),
    (6250, 240),
    (6875, 240),
    (7500, 200),
    (8125, 200),
    (8750, 200),
    (9375, 200),
    (10000, 200),
    (10625, 180),
    (11250, 180),
    (11875, 180),
    (12500, 180),
    (13125, 180),
    (13750, 180),
    (14375, 180),
    (15000, 180),
    (15625, 180),
    (16250, 180),
    (16875, 180),
];

/// Constant-pitch series: threads per inch, first and last diameter in sixteenths of an inch.
const CONSTANT_PITCH: [(i64, i64, i64); 8] = [
    (4, 40, 96),
    (6, 22, 96),
    (8, 16, 96),
    (12, 9, 96),
    (16, 6, 96),
    (20, 4, 48),
    (28, 4, 24),
    (32, 4, 16),
];

/// All sizes, the coarse series first. A pair that UNC, UNF or UNEF lists is not repeated as UN.
pub(super) fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let mut all: Vec<Size> = Vec::new();
        let lists: [(&[Pair], &'static str, u8); 3] =
            [(&UNC, "UNC", 0), (&UNF, "UNF", 1), (&UNEF, "UNEF", 2)];
        for (pairs, series, rank) in lists {
            all.extend(
                pairs
                    .iter()
                    .filter_map(|(d, tpi)| size(*d, tpi * 1000, series, rank)),
            );
        }
        for (tpi, from, to) in CONSTANT_PITCH {
            // Sixteenths up to 3 in, eighths above.
            for sixteenths in (from..=to).filter(|n| *n <= 48 || n % 2 == 0) {
                let Some(new) = size(sixteenths * 625, tpi * 10_000, "UN", 3) else {
                    continue;
                };
                if !all
                    .iter()
                    .any(|s| s.major == new.major && s.pitch == new.pitch)
                {
                    all.push(new);
                }
            }
        }
        all
    });
    &SIZES
}

fn size(diameter: i64, tpi: i64, series: &'static str, rank: u8) -> Option<Size> {
    Some(Size {
        name: None,
        major: Diameter(ten_thousandths_inch(diameter)),
        pitch: Lead::per_inch(tpi)?,
        series,
        rank,
    })
}
