//! Deviations and tolerances of ISO 2903 in µm.
//!
//! The tables are from memory. Every cell lies within one step of the R40 preferred numbers of the
//! standard's formulas, and all that two public tables of class 7e show agrees; those cells count
//! as confirmed. What the tables leave out is computed by the formulas and rounded to R40, which a
//! published `Tr320x5-7e` bears out.

use lexer::units::Lead;

use super::super::Side;
use super::super::limits::round_to;
use super::super::thread::Thread;

/// A value in µm and whether it was seen published.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in super::super) struct Value {
    pub(in super::super) um: f64,
    pub(in super::super) confirmed: bool,
}

/// What depends on the pitch alone.
struct PitchRow {
    pitch_um: i64,
    /// es for positions c and e.
    es: [i16; 2],
    /// Td of grade 4.
    major: i16,
    /// TD1 of grade 4.
    minor: i16,
    confirmed: bool,
}

const fn pitch(pitch_um: i64, es: [i16; 2], major: i16, minor: i16, confirmed: bool) -> PitchRow {
    PitchRow {
        pitch_um,
        es,
        major,
        minor,
        confirmed,
    }
}

/// ISO 2903 tables 1, 2 and 3; confirmed are es of e, and Td.
#[rustfmt::skip]
const BY_PITCH: [PitchRow; 22] = [
    pitch( 1_500, [-140,  -67],  150,  190, true),
    pitch( 2_000, [-150,  -71],  180,  236, true),
    pitch( 3_000, [-170,  -85],  236,  315, true),
    pitch( 4_000, [-190,  -95],  300,  375, true),
    pitch( 5_000, [-212, -106],  335,  450, true),
    pitch( 6_000, [-236, -118],  375,  500, false),
    pitch( 7_000, [-250, -125],  425,  560, false),
    pitch( 8_000, [-265, -132],  450,  630, false),
    pitch( 9_000, [-280, -140],  500,  670, false),
    pitch(10_000, [-300, -150],  530,  710, false),
    pitch(12_000, [-335, -160],  600,  800, false),
    pitch(14_000, [-355, -180],  670,  900, false),
    pitch(16_000, [-375, -190],  710, 1000, false),
    pitch(18_000, [-400, -200],  800, 1120, false),
    pitch(20_000, [-425, -212],  850, 1180, false),
    pitch(22_000, [-450, -224],  900, 1250, false),
    pitch(24_000, [-475, -236],  950, 1320, false),
    pitch(28_000, [-500, -250], 1060, 1500, false),
    pitch(32_000, [-530, -265], 1120, 1600, false),
    pitch(36_000, [-560, -280], 1250, 1800, false),
    pitch(40_000, [-600, -300], 1320, 1900, false),
    pitch(44_000, [-630, -315], 1400, 2000, false),
];

/// Upper ends of the diameter ranges in mm; a range excludes its lower and includes its upper end.
pub(super) const RANGES_MM: [f64; 7] = [5.6, 11.2, 22.4, 45.0, 90.0, 180.0, 355.0];

/// Pitch diameter tolerances for a range of diameters, which ends at `RANGES_MM[range + 1]`.
struct DiameterRow {
    range: usize,
    pitch_um: i64,
    /// Td2 for grades 6 to 9.
    external: [i16; 4],
    /// TD2 for grades 7 to 9.
    internal: [i16; 3],
    /// Whether Td2 of grade 7 was seen published.
    confirmed: bool,
}

const fn row(range: usize, pitch_um: i64, external: [i16; 4], internal: [i16; 3]) -> DiameterRow {
    DiameterRow {
        range,
        pitch_um,
        external,
        internal,
        confirmed: false,
    }
}

const fn seen(range: usize, pitch_um: i64, external: [i16; 4], internal: [i16; 3]) -> DiameterRow {
    DiameterRow {
        confirmed: true,
        ..row(range, pitch_um, external, internal)
    }
}

/// ISO 2903 tables for TD2 and Td2.
#[rustfmt::skip]
const BY_DIAMETER: [DiameterRow; 45] = [
    seen(0,  1_500, [132, 170, 212, 265], [224, 280, 355]),
    seen(0,  2_000, [150, 190, 236, 300], [250, 315, 400]),
    seen(0,  3_000, [170, 212, 265, 335], [280, 355, 450]),
    seen(1,  2_000, [160, 200, 250, 315], [265, 335, 425]),
    seen(1,  3_000, [180, 224, 280, 355], [300, 375, 475]),
    seen(1,  4_000, [212, 265, 335, 425], [355, 450, 560]),
    seen(1,  5_000, [224, 280, 355, 450], [375, 475, 600]),
    row( 1,  8_000, [280, 355, 450, 560], [475, 600, 750]),
    seen(2,  3_000, [200, 250, 315, 400], [335, 425, 530]),
    seen(2,  5_000, [236, 300, 375, 475], [400, 500, 630]),
    row( 2,  6_000, [265, 335, 425, 530], [450, 560, 710]),
    row( 2,  7_000, [280, 355, 450, 560], [475, 600, 750]),
    row( 2,  8_000, [300, 375, 475, 600], [500, 630, 800]),
    row( 2, 10_000, [315, 400, 500, 630], [530, 670, 850]),
    row( 2, 12_000, [335, 425, 530, 670], [560, 710, 900]),
    row( 3,  3_000, [212, 265, 335, 425], [355, 450, 560]),
    row( 3,  4_000, [236, 300, 375, 475], [400, 500, 630]),
    row( 3,  8_000, [315, 400, 500, 630], [530, 670, 850]),
    row( 3,  9_000, [335, 425, 530, 670], [560, 710, 900]),
    row( 3, 10_000, [335, 425, 530, 670], [560, 710, 900]),
    row( 3, 12_000, [375, 475, 600, 750], [630, 800, 1000]),
    row( 3, 14_000, [400, 500, 630, 800], [670, 850, 1060]),
    row( 3, 16_000, [425, 530, 670, 850], [710, 900, 1120]),
    row( 3, 18_000, [450, 560, 710, 900], [750, 950, 1180]),
    row( 4,  4_000, [250, 315, 400, 500], [425, 530, 670]),
    row( 4,  6_000, [300, 375, 475, 600], [500, 630, 800]),
    row( 4,  8_000, [335, 425, 530, 670], [560, 710, 900]),
    row( 4, 12_000, [400, 500, 630, 800], [670, 850, 1060]),
    row( 4, 14_000, [425, 530, 670, 850], [710, 900, 1120]),
    row( 4, 16_000, [450, 560, 710, 900], [750, 950, 1180]),
    row( 4, 18_000, [475, 600, 750, 950], [800, 1000, 1250]),
    row( 4, 20_000, [475, 600, 750, 950], [800, 1000, 1250]),
    row( 4, 22_000, [500, 630, 800, 1000], [850, 1060, 1320]),
    row( 4, 24_000, [530, 670, 850, 1060], [900, 1120, 1400]),
    row( 4, 28_000, [560, 710, 900, 1120], [950, 1180, 1500]),
    row( 5,  8_000, [355, 450, 560, 710], [600, 750, 950]),
    row( 5, 12_000, [425, 530, 670, 850], [710, 900, 1120]),
    row( 5, 18_000, [500, 630, 800, 1000], [850, 1060, 1320]),
    row( 5, 20_000, [530, 670, 850, 1060], [900, 1120, 1400]),
    row( 5, 22_000, [530, 670, 850, 1060], [900, 1120, 1400]),
    row( 5, 24_000, [560, 710, 900, 1120], [950, 1180, 1500]),
    row( 5, 32_000, [630, 800, 1000, 1250], [1060, 1320, 1700]),
    row( 5, 36_000, [670, 850, 1060, 1320], [1120, 1400, 1800]),
    row( 5, 40_000, [670, 850, 1060, 1320], [1120, 1400, 1800]),
    row( 5, 44_000, [710, 900, 1120, 1400], [1250, 1500, 1900]),
];

/// The R40 series of preferred numbers (ISO 3) over one decade.
#[rustfmt::skip]
const R40: [f64; 40] = [
    100., 106., 112., 118., 125., 132., 140., 150., 160., 170., 180., 190., 200., 212., 224., 236.,
    250., 265., 280., 300., 315., 335., 355., 375., 400., 425., 450., 475., 500., 530., 560., 600.,
    630., 670., 710., 750., 800., 850., 900., 950.,
];

/// The nearest preferred number of R40, near by ratio.
pub(super) fn preferred(value: f64) -> f64 {
    let steps = (40.0 * value.log10()).round();
    let decade = (steps / 40.0).floor();
    let index = (steps - 40.0 * decade) as usize;
    R40[index] * 10f64.powi(decade as i32 - 2)
}

fn whole_um(pitch: Lead) -> i64 {
    (pitch.length().pm() + 500_000).div_euclid(1_000_000)
}

fn by_pitch(pitch: Lead) -> Option<&'static PitchRow> {
    let pitch_um = whole_um(pitch);
    BY_PITCH.iter().find(|row| row.pitch_um == pitch_um)
}

/// Fundamental deviation of the pitch diameter. Position g of GOST 9562 is not known.
pub(in super::super) fn deviation(position: char, pitch: Lead) -> Option<Value> {
    let row = by_pitch(pitch);
    match position {
        'c' => row.map(|row| Value {
            um: f64::from(row.es[0]),
            confirmed: false,
        }),
        'e' => row.map(|row| Value {
            um: f64::from(row.es[1]),
            confirmed: row.confirmed,
        }),
        'h' | 'H' => Some(Value {
            um: 0.0,
            confirmed: true,
        }),
        _ => None,
    }
}

/// Tolerance of the crest diameter, always of grade 4: of d outside, of D1 inside. Off the table
/// by the formulas of ISO 965-1 for that grade.
pub(in super::super) fn crest(side: Side, pitch: Lead) -> Value {
    let (row, p) = (by_pitch(pitch), pitch.mm());
    let formula = |um| Value {
        um: preferred(0.63 * um),
        confirmed: false,
    };
    match (side, row) {
        (Side::External, Some(row)) => Value {
            um: f64::from(row.major),
            confirmed: row.confirmed,
        },
        (Side::Internal, Some(row)) => Value {
            um: f64::from(row.minor),
            confirmed: false,
        },
        (Side::External, None) => formula(180.0 * p.powf(2.0 / 3.0) - 3.15 / p.sqrt()),
        (Side::Internal, None) => formula(230.0 * p.powf(0.7)),
    }
}

/// What the pitch diameter tolerance is multiplied by for several starts (GOST 24739, ISO 2903
/// clause 10; from memory).
fn starts_factor(starts: u32) -> f64 {
    match starts {
        0 | 1 => 1.0,
        2 => 1.12,
        3 => 1.25,
        4 => 1.4,
        _ => 1.6,
    }
}

/// Tolerance of the pitch diameter. Off the table by its formula, 90 P^0.4 d^0.1 for grade 6 with
/// d the geometric mean of the range, rounded to R40.
pub(in super::super) fn pitch_diameter(thread: &Thread, side: Side, grade: u8) -> Option<Value> {
    let (d, pitch_um) = (thread.major.mm(), whole_um(thread.pitch));
    let upper = RANGES_MM.iter().position(|upto| d <= *upto);
    let range = upper.and_then(|upper| upper.checked_sub(1));
    let mut rows = BY_DIAMETER.iter();
    let row = rows.find(|row| Some(row.range) == range && row.pitch_um == pitch_um);
    let single = match (side, row) {
        (Side::External, Some(row)) => Value {
            um: f64::from(*row.external.get(usize::from(grade.checked_sub(6)?))?),
            confirmed: row.confirmed && grade == 7,
        },
        (Side::Internal, Some(row)) if grade >= 7 => Value {
            um: f64::from(*row.internal.get(usize::from(grade - 7))?),
            confirmed: false,
        },
        _ => {
            let mean = range.map_or(d, |range| (RANGES_MM[range] * RANGES_MM[range + 1]).sqrt());
            let factor = match (side, grade) {
                (Side::External, 6) => 1.0,
                (Side::External, 7) => 1.25,
                (Side::External, 8) => 1.6,
                (Side::External, 9) => 2.0,
                (Side::Internal, 6) => 1.32,
                (Side::Internal, 7) => 1.7,
                (Side::Internal, 8) => 2.12,
                (Side::Internal, 9) => 2.65,
                _ => return None,
            };
            let six = preferred(90.0 * thread.pitch.mm().powf(0.4) * mean.powf(0.1));
            Value {
                um: preferred(factor * six),
                confirmed: false,
            }
        }
    };
    Some(Value {
        um: round_to(single.um * starts_factor(thread.starts), 1.0),
        confirmed: single.confirmed && thread.starts <= 1,
    })
}

/// Tolerance of the root diameter of the external thread without the deviation that is added to it:
/// Td3 = 1.25 Td2 + |es|. The published values round the first term to whole µm, halves to even.
pub(super) fn root(thread: &Thread, grade: u8) -> Option<Value> {
    let width = pitch_diameter(thread, Side::External, grade)?;
    Some(Value {
        um: round_to(1.25 * width.um, 1.0),
        ..width
    })
}
