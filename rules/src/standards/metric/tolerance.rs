//! The tolerance system of ISO 965-1: deviations and tolerances in µm.
//!
//! The tables are carried over as they are published (two public transcriptions, agreeing with a
//! US government standard where that has examples), because the printed formulas do not reproduce
//! them: of the pitch diameter cells 61 of 501 differ. What the tables leave out is computed by
//! the formulas with the actual diameter and without rounding to preferred numbers, as clause 13
//! says and FED-STD-H28/21 does; such a value is marked.

use super::super::Side;

/// A value in µm and whether it stands in a table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Value {
    pub(super) um: f64,
    pub(super) tabulated: bool,
}

const fn table(um: i16) -> Option<Value> {
    if um == 0 {
        return None;
    }
    Some(Value {
        um: um as f64,
        tabulated: true,
    })
}

fn formula(um: f64) -> Option<Value> {
    Some(Value {
        um,
        tabulated: false,
    })
}

/// What depends on the pitch alone. 0 stands for a cell that the standard leaves empty.
struct PitchRow {
    pitch_um: i64,
    /// es for positions e, f, g.
    es: [i16; 3],
    /// EI for position G.
    ei: i16,
    /// Td for grades 4, 6, 8.
    major: [i16; 3],
    /// TD1 for grades 4 to 8.
    minor: [i16; 5],
}

const fn pitch(pitch_um: i64, es: [i16; 3], ei: i16, major: [i16; 3], minor: [i16; 5]) -> PitchRow {
    PitchRow {
        pitch_um,
        es,
        ei,
        major,
        minor,
    }
}

/// ISO 965-1 tables 1, 3 and 4 (positions e and f from one transcription only).
#[rustfmt::skip]
const BY_PITCH: [PitchRow; 25] = [
    pitch(200, [0, 0, -17], 17, [36, 56, 0], [38, 0, 0, 0, 0]),
    pitch(250, [0, 0, -18], 18, [42, 67, 0], [45, 56, 0, 0, 0]),
    pitch(300, [0, 0, -18], 18, [48, 75, 0], [53, 67, 85, 0, 0]),
    pitch(350, [0, -34, -19], 19, [53, 85, 0], [63, 80, 100, 0, 0]),
    pitch(400, [0, -34, -19], 19, [60, 95, 0], [71, 90, 112, 0, 0]),
    pitch(450, [0, -35, -20], 20, [63, 100, 0], [80, 100, 125, 0, 0]),
    pitch(500, [-50, -36, -20], 20, [67, 106, 0], [90, 112, 140, 180, 0]),
    pitch(600, [-53, -36, -21], 21, [80, 125, 0], [100, 125, 160, 200, 0]),
    pitch(700, [-56, -38, -22], 22, [90, 140, 0], [112, 140, 180, 224, 0]),
    pitch(750, [-56, -38, -22], 22, [90, 140, 0], [118, 150, 190, 236, 0]),
    pitch(800, [-60, -38, -24], 24, [95, 150, 236], [125, 160, 200, 250, 315]),
    pitch(1000, [-60, -40, -26], 26, [112, 180, 280], [150, 190, 236, 300, 375]),
    pitch(1250, [-63, -42, -28], 28, [132, 212, 335], [170, 212, 265, 335, 425]),
    pitch(1500, [-67, -45, -32], 32, [150, 236, 375], [190, 236, 300, 375, 475]),
    pitch(1750, [-71, -48, -34], 34, [170, 265, 425], [212, 265, 335, 425, 530]),
    pitch(2000, [-71, -52, -38], 38, [180, 280, 450], [236, 300, 375, 475, 600]),
    pitch(2500, [-80, -58, -42], 42, [212, 335, 530], [280, 355, 450, 560, 710]),
    pitch(3000, [-85, -63, -48], 48, [236, 375, 600], [315, 400, 500, 630, 800]),
    pitch(3500, [-90, -70, -53], 53, [265, 425, 670], [355, 450, 560, 710, 900]),
    pitch(4000, [-95, -75, -60], 60, [300, 475, 750], [375, 475, 600, 750, 950]),
    pitch(4500, [-100, -80, -63], 63, [315, 500, 800], [425, 530, 670, 850, 1060]),
    pitch(5000, [-106, -85, -71], 71, [335, 530, 850], [450, 560, 710, 900, 1120]),
    pitch(5500, [-112, -90, -75], 75, [355, 560, 900], [475, 600, 750, 950, 1180]),
    pitch(6000, [-118, -95, -80], 80, [375, 600, 950], [500, 630, 800, 1000, 1250]),
    pitch(8000, [-140, -118, -100], 100, [450, 710, 1180], [630, 800, 1000, 1250, 1600]),
];

/// Upper ends of the diameter ranges in µm; a range excludes its lower and includes its upper end.
const RANGES_UM: [i64; 10] = [
    990, 1_400, 2_800, 5_600, 11_200, 22_400, 45_000, 90_000, 180_000, 355_000,
];

/// Pitch diameter tolerances for a range of diameters and a pitch.
struct DiameterRow {
    range: usize,
    pitch_um: i64,
    /// Td2 for grades 3 to 9.
    external: [i16; 7],
    /// TD2 for grades 4 to 8.
    internal: [i16; 5],
}

const fn row(range: usize, pitch_um: i64, external: [i16; 7], internal: [i16; 5]) -> DiameterRow {
    DiameterRow {
        range,
        pitch_um,
        external,
        internal,
    }
}

/// ISO 965-1 tables for Td2 and TD2 (three misprints settled between two transcriptions; TD2 of
/// grade 8, 22.4 to 45 mm, pitch 2 is inferred from its neighbours).
#[rustfmt::skip]
const BY_DIAMETER: [DiameterRow; 47] = [
    row(0, 200, [24, 30, 38, 48, 0, 0, 0], [40, 0, 0, 0, 0]),
    row(0, 250, [26, 34, 42, 53, 0, 0, 0], [45, 56, 0, 0, 0]),
    row(0, 300, [28, 36, 45, 56, 0, 0, 0], [48, 60, 75, 0, 0]),
    row(1, 200, [25, 32, 40, 50, 0, 0, 0], [42, 0, 0, 0, 0]),
    row(1, 250, [28, 36, 45, 56, 0, 0, 0], [48, 60, 0, 0, 0]),
    row(1, 350, [32, 40, 50, 63, 80, 0, 0], [53, 67, 85, 0, 0]),
    row(1, 400, [34, 42, 53, 67, 85, 0, 0], [56, 71, 90, 0, 0]),
    row(1, 450, [36, 45, 56, 71, 90, 0, 0], [60, 75, 95, 0, 0]),
    row(2, 350, [34, 42, 53, 67, 85, 0, 0], [56, 71, 90, 0, 0]),
    row(2, 500, [38, 48, 60, 75, 95, 0, 0], [63, 80, 100, 125, 0]),
    row(2, 600, [42, 53, 67, 85, 106, 0, 0], [71, 90, 112, 140, 0]),
    row(2, 700, [45, 56, 71, 90, 112, 0, 0], [75, 95, 118, 150, 0]),
    row(2, 750, [45, 56, 71, 90, 112, 0, 0], [75, 95, 118, 150, 0]),
    row(2, 800, [48, 60, 75, 95, 118, 150, 190], [80, 100, 125, 160, 200]),
    row(3, 750, [50, 63, 80, 100, 125, 0, 0], [85, 106, 132, 170, 0]),
    row(3, 1000, [56, 71, 90, 112, 140, 180, 224], [95, 118, 150, 190, 236]),
    row(3, 1250, [60, 75, 95, 118, 150, 190, 236], [100, 125, 160, 200, 250]),
    row(3, 1500, [67, 85, 106, 132, 170, 212, 265], [112, 140, 180, 224, 280]),
    row(4, 1000, [60, 75, 95, 118, 150, 190, 236], [100, 125, 160, 200, 250]),
    row(4, 1250, [67, 85, 106, 132, 170, 212, 265], [112, 140, 180, 224, 280]),
    row(4, 1500, [71, 90, 112, 140, 180, 224, 280], [118, 150, 190, 236, 300]),
    row(4, 1750, [75, 95, 118, 150, 190, 236, 300], [125, 160, 200, 250, 315]),
    row(4, 2000, [80, 100, 125, 160, 200, 250, 315], [132, 170, 212, 265, 335]),
    row(4, 2500, [85, 106, 132, 170, 212, 265, 335], [140, 180, 224, 280, 355]),
    row(5, 1000, [63, 80, 100, 125, 160, 200, 250], [106, 132, 170, 212, 0]),
    row(5, 1500, [75, 95, 118, 150, 190, 236, 300], [125, 160, 200, 250, 315]),
    row(5, 2000, [85, 106, 132, 170, 212, 265, 335], [140, 180, 224, 280, 355]),
    row(5, 3000, [100, 125, 160, 200, 250, 315, 400], [170, 212, 265, 335, 425]),
    row(5, 3500, [106, 132, 170, 212, 265, 335, 425], [180, 224, 280, 355, 450]),
    row(5, 4000, [112, 140, 180, 224, 280, 355, 450], [190, 236, 300, 375, 475]),
    row(5, 4500, [118, 150, 190, 236, 300, 375, 475], [200, 250, 315, 400, 500]),
    row(6, 1500, [80, 100, 125, 160, 200, 250, 315], [132, 170, 212, 265, 335]),
    row(6, 2000, [90, 112, 140, 180, 224, 280, 355], [150, 190, 236, 300, 375]),
    row(6, 3000, [106, 132, 170, 212, 265, 335, 425], [180, 224, 280, 355, 450]),
    row(6, 4000, [118, 150, 190, 236, 300, 375, 475], [200, 250, 315, 400, 500]),
    row(6, 5000, [125, 160, 200, 250, 315, 400, 500], [212, 265, 335, 425, 530]),
    row(6, 5500, [132, 170, 212, 265, 335, 425, 530], [224, 280, 355, 450, 560]),
    row(6, 6000, [140, 180, 224, 280, 355, 450, 560], [236, 300, 375, 475, 600]),
    row(7, 2000, [95, 118, 150, 190, 236, 300, 375], [160, 200, 250, 315, 400]),
    row(7, 3000, [112, 140, 180, 224, 280, 355, 450], [190, 236, 300, 375, 475]),
    row(7, 4000, [125, 160, 200, 250, 315, 400, 500], [212, 265, 335, 425, 530]),
    row(7, 6000, [150, 190, 236, 300, 375, 475, 600], [250, 315, 400, 500, 630]),
    row(7, 8000, [170, 212, 265, 335, 425, 530, 670], [280, 355, 450, 560, 710]),
    row(8, 3000, [125, 160, 200, 250, 315, 400, 500], [212, 265, 335, 425, 530]),
    row(8, 4000, [140, 180, 224, 280, 355, 450, 560], [236, 300, 375, 475, 600]),
    row(8, 6000, [160, 200, 250, 315, 400, 500, 630], [265, 335, 425, 530, 670]),
    row(8, 8000, [180, 224, 280, 355, 450, 560, 710], [300, 375, 475, 600, 750]),
];

fn by_pitch(pitch_um: i64) -> Option<&'static PitchRow> {
    BY_PITCH.iter().find(|row| row.pitch_um == pitch_um)
}

/// The fundamental deviation: es of an external position (`e`, `f`, `g`, `h`), EI of an internal
/// one (`G`, `H`). `None` for a position that the standard does not give for this pitch.
pub(super) fn deviation(position: char, pitch_um: i64) -> Option<Value> {
    let p = pitch_um as f64 / 1000.0;
    let index = match position {
        'h' | 'H' => {
            return Some(Value {
                um: 0.0,
                tabulated: true,
            });
        }
        'e' => 0,
        'f' => 1,
        'g' => 2,
        'G' => 3,
        _ => return None,
    };
    let Some(row) = by_pitch(pitch_um) else {
        let magnitude = [50.0, 30.0, 15.0, 15.0][index] + 11.0 * p;
        return formula(if index == 3 { magnitude } else { -magnitude });
    };
    match index {
        3 => table(row.ei),
        _ => table(row.es[index]),
    }
}

/// Tolerance of the crest: Td of an external, TD1 of an internal thread.
pub(super) fn crest(side: Side, grade: u8, pitch_um: i64) -> Option<Value> {
    let p = pitch_um as f64 / 1000.0;
    let row = by_pitch(pitch_um);
    match side {
        Side::External => {
            let index = [4, 6, 8].iter().position(|g| *g == grade)?;
            if let Some(row) = row {
                return table(row.major[index]);
            }
            formula(external_factor(grade)? * (180.0 * p.powf(2.0 / 3.0) - 3.15 / p.sqrt()))
        }
        Side::Internal => {
            let index = usize::from(grade.checked_sub(4)?);
            if let Some(row) = row {
                return table(*row.minor.get(index)?);
            }
            let sixth = if p < 1.0 {
                433.0 * p - 190.0 * p.powf(1.22)
            } else {
                230.0 * p.powf(0.7)
            };
            // TD1 goes by the same factors as Td, for grades 4 to 8.
            (grade <= 8).then_some(())?;
            formula(external_factor(grade)? * sixth)
        }
    }
}

/// Tolerance of the pitch diameter: Td2 of an external, TD2 of an internal thread.
pub(super) fn pitch_diameter(side: Side, grade: u8, major_um: i64, pitch_um: i64) -> Option<Value> {
    let range = RANGES_UM
        .windows(2)
        .position(|r| r[0] < major_um && major_um <= r[1]);
    let row = range.and_then(|range| {
        let mut rows = BY_DIAMETER.iter();
        rows.find(|row| row.range == range && row.pitch_um == pitch_um)
    });
    let first = if side == Side::External { 3 } else { 4 };
    let index = usize::from(grade.checked_sub(first)?);
    if let Some(row) = row {
        return table(match side {
            Side::External => *row.external.get(index)?,
            Side::Internal => *row.internal.get(index)?,
        });
    }
    let (d, p) = (major_um as f64 / 1000.0, pitch_um as f64 / 1000.0);
    let factor = match side {
        Side::External => external_factor(grade)?,
        Side::Internal => *[0.85, 1.06, 1.32, 1.7, 2.12].get(index)?,
    };
    formula(factor * 90.0 * p.powf(0.4) * d.powf(0.1))
}

/// Factor of an external grade on grade 6.
fn external_factor(grade: u8) -> Option<f64> {
    let index = usize::from(grade.checked_sub(3)?);
    [0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.0].get(index).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_where_table_and_formula_differ() {
        // Cells of ISO 965-1 that its own formulas miss.
        let um = |v: Option<Value>| v.unwrap().um;
        assert_eq!(um(deviation('g', 750)), -22.0);
        assert_eq!(um(deviation('e', 500)), -50.0);
        assert_eq!(um(deviation('g', 2000)), -38.0);
        assert_eq!(um(deviation('g', 4000)), -60.0);
        assert_eq!(um(crest(Side::Internal, 6, 1000)), 236.0);
        assert_eq!(um(crest(Side::External, 6, 4000)), 475.0);
        assert_eq!(um(pitch_diameter(Side::External, 6, 3000, 500)), 75.0);
    }

    #[test]
    fn off_the_table_the_actual_diameter_counts() {
        // FED-STD-H28/21, M29x1.25-4g6h: Td2(4) = 0.08681 mm.
        let value = pitch_diameter(Side::External, 4, 29_000, 1250).unwrap();
        assert!(!value.tabulated && (value.um - 86.81).abs() < 0.005);
    }

    #[test]
    fn grades_that_do_not_exist() {
        assert_eq!(crest(Side::External, 5, 1000), None);
        assert_eq!(crest(Side::Internal, 9, 1120), None);
        assert_eq!(crest(Side::Internal, 3, 1000), None);
        assert_eq!(pitch_diameter(Side::Internal, 3, 10_000, 1500), None);
        assert_eq!(pitch_diameter(Side::External, 9, 10_000, 750), None);
        assert_eq!(deviation('e', 400), None);
    }
}
