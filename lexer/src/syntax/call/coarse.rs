//! The pitch that a nominal size stands for in a call.

/// Nominal diameters and coarse pitches in hundredths of a millimetre: ISO 261 (from memory; the
/// tests compare them with the table of standard sizes).
const COARSE: [(u32, u32); 26] = [
    (3, 50),
    (4, 70),
    (5, 80),
    (6, 100),
    (7, 100),
    (8, 125),
    (9, 125),
    (10, 150),
    (11, 150),
    (12, 175),
    (14, 200),
    (16, 200),
    (18, 250),
    (20, 250),
    (22, 250),
    (24, 300),
    (27, 300),
    (30, 350),
    (33, 350),
    (36, 400),
    (39, 400),
    (42, 450),
    (45, 450),
    (48, 500),
    (56, 550),
    (60, 550),
];

/// Coarse pitch in hundredths of a millimetre of a metric thread from M3 to M60 whose size is a
/// whole number.
#[must_use]
pub fn coarse_pitch(size: u32) -> Option<u32> {
    // M52 has the pitch of M48.
    let size = if size == 52 { 48 } else { size };
    COARSE
        .iter()
        .find(|(known, _)| *known == size)
        .map(|(_, pitch)| *pitch)
}
