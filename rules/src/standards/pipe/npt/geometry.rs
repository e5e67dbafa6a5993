//! Sizes of American taper pipe threads in inches: ASME B1.20.1 table 2 and its formulas, and how
//! much crests and roots are cut off.

use super::super::super::form::SHARP_V;
use super::super::super::limits::Band;

/// Taper on the diameter.
pub(super) const TAPER: f64 = 1.0 / 16.0;

/// Size, threads per inch, outside diameter of the pipe D and hand-tight engagement L1 in inches
/// (ASME B1.20.1-2013 table 2, a public transcription).
#[rustfmt::skip]
pub(in super::super) const ROWS: [(&str, f64, f64, f64); 24] = [
    ("1/16", 27.0, 0.3125, 0.16),
    ("1/8", 27.0, 0.405, 0.1615),
    ("1/4", 18.0, 0.54, 0.2278),
    ("3/8", 18.0, 0.675, 0.24),
    ("1/2", 14.0, 0.84, 0.32),
    ("3/4", 14.0, 1.05, 0.339),
    ("1", 11.5, 1.315, 0.4),
    ("1 1/4", 11.5, 1.66, 0.42),
    ("1 1/2", 11.5, 1.9, 0.42),
    ("2", 11.5, 2.375, 0.436),
    ("2 1/2", 8.0, 2.875, 0.682),
    ("3", 8.0, 3.5, 0.766),
    ("3 1/2", 8.0, 4.0, 0.821),
    ("4", 8.0, 4.5, 0.844),
    ("5", 8.0, 5.563, 0.937),
    ("6", 8.0, 6.625, 0.958),
    ("8", 8.0, 8.625, 1.063),
    ("10", 8.0, 10.75, 1.21),
    ("12", 8.0, 12.75, 1.36),
    ("14", 8.0, 14.0, 1.562),
    ("16", 8.0, 16.0, 1.812),
    ("18", 8.0, 18.0, 2.0),
    ("20", 8.0, 20.0, 2.125),
    ("24", 8.0, 24.0, 2.375),
];

/// One size: everything in inches, by the formulas of ASME B1.20.1.
pub(in super::super) struct Inches {
    pub(super) tpi: f64,
    /// Pitch.
    pub(super) p: f64,
    /// Outside diameter of the pipe.
    pub(super) pipe: f64,
    /// Length of hand-tight engagement.
    pub(super) l1: f64,
}

impl Inches {
    pub(in super::super) fn of(name: &str) -> Option<Self> {
        let (_, tpi, pipe, l1) = *ROWS.iter().find(|row| row.0 == name)?;
        Some(Inches {
            tpi,
            p: 1.0 / tpi,
            pipe,
            l1,
        })
    }

    /// Pitch diameter at the small end.
    fn e0(&self) -> f64 {
        self.pipe - (0.05 * self.pipe + 1.1) * self.p
    }

    /// Pitch diameter in the gauge plane.
    pub(in super::super) fn e1(&self) -> f64 {
        self.e0() + TAPER * self.l1
    }

    /// Length of effective thread.
    pub(super) fn l2(&self) -> f64 {
        (0.80 * self.pipe + 6.8) * self.p
    }

    /// Wrench make-up: three threads up to 2 in, two above.
    pub(super) fn l3(&self) -> f64 {
        if self.pipe < 2.5 {
            3.0 * self.p
        } else {
            2.0 * self.p
        }
    }

    /// Overall length with the washout.
    pub(super) fn l4(&self) -> f64 {
        self.l2() + 3.47 * self.p
    }

    /// Length of thread that is perfect at crest and root.
    pub(super) fn l5(&self) -> f64 {
        self.l2() - 2.0 * self.p
    }
}

/// How much crests and roots are cut off the sharp V, in inches.
pub(super) struct Truncation {
    pub(super) crest: Band,
    pub(super) root: Band,
}

/// NPT: 0.033 P at least, at most a tabulated length, the same for crests and roots. NPTF: crests
/// less than roots, so that they crush (from memory; the factors of the pitch agree with the lengths
/// of the same table to 0.0001 in).
pub(super) fn truncation(series: &str, size: &Inches) -> Truncation {
    let p = size.p;
    if series == "NPTF" {
        let (a, b, c) = match size.tpi {
            27.0 => (0.047, 0.094, 0.140),
            18.0 => (0.047, 0.078, 0.109),
            14.0 => (0.036, 0.060, 0.085),
            11.5 => (0.040, 0.060, 0.090),
            _ => (0.042, 0.055, 0.076),
        };
        return Truncation {
            crest: Band::between(a * p, b * p),
            root: Band::between(b * p, c * p),
        };
    }
    let most = match size.tpi {
        27.0 => 0.0036,
        18.0 => 0.0049,
        14.0 => 0.0056,
        11.5 => 0.0063,
        _ => 0.0078,
    };
    let band = Band::between(0.033 * p, most);
    Truncation {
        crest: band,
        root: band,
    }
}

/// Least and largest in inches; zeros where a band is open, which those of this file never are.
pub(super) fn ends(band: Band) -> (f64, f64) {
    (band.min.unwrap_or(0.0), band.max.unwrap_or(0.0))
}

/// Distance from the pitch cone to the nominal crest, as twice the height above it, in inches.
/// NPT: the height 0.8 P is the standard's own rounding of H - 0.066 P.
pub(super) fn crest_over_pitch(series: &str, size: &Inches) -> f64 {
    if series == "NPT" {
        return 0.8 * size.p;
    }
    let (least, _) = ends(truncation(series, size).crest);
    SHARP_V * size.p - 2.0 * least
}
