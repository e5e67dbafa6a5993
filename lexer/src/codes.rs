//! What a G code means in each family of controls.
//!
//! Systems A, B and C as usually described for turning controls (from memory); the interpreter's
//! codes from the documentation of the open RS274/NGC interpreter.

use crate::evidence::Family;

/// Meaning of a G code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meaning {
    /// Rapid move.
    Rapid,
    /// Straight feed move.
    Feed,
    /// Circular feed move.
    Arc,
    /// One synchronised stroke.
    Stroke,
    /// One synchronised stroke with a changing lead.
    VariableLead,
    /// Box cycle of threading.
    BoxThread,
    /// Multi-pass threading cycle, or what else the code means by its words.
    MultiPass,
    /// A turning, facing, roughing or grooving cycle that returns to its start.
    TurningCycle,
    /// A drilling, boring or tapping cycle.
    HoleCycle,
    /// Ends a cycle.
    Cancel,
    /// Millimetres.
    Millimetre,
    /// Inches.
    Inch,
    /// X and Z are positions.
    Absolute,
    /// X and Z are distances.
    Incremental,
    /// Feed per minute.
    PerMinute,
    /// Feed per turn.
    PerTurn,
    /// Constant surface speed.
    SurfaceSpeed,
    /// Constant rpm.
    ConstantRpm,
    /// Speed clamp with S, otherwise a preset of coordinates.
    ClampOrPreset,
    /// X is a diameter.
    DiameterMode,
    /// X is a radius.
    RadiusMode,
    /// Goes to a reference point; words name the axes.
    Home,
    /// Its axis words are machine coordinates.
    MachineMove,
    /// Its axis words are not a motion: dwell, data, macro call.
    NoMotion,
    /// Something else.
    Other,
}

/// The meaning of a G code in tenths (`G33.1` is 331). `bare` says that the block has no axis
/// word: system A uses G90 and G94 for cycles, which need one.
#[must_use]
pub fn meaning(family: Family, tenths: i32, bare: bool) -> Meaning {
    use Family::{Interpreter, Mill, SystemA, SystemB, SystemC, Undecided};
    let own = match family {
        Family::Call => call(tenths),
        Family::Compound => compound(tenths),
        Family::BoxG82 => box_g82(tenths, bare),
        _ => None,
    };
    if let Some(own) = own {
        return own;
    }
    let a = matches!(family, SystemA | Undecided);
    match tenths {
        0 => Meaning::Rapid,
        10 => Meaning::Feed,
        20 | 30 => Meaning::Arc,
        40 | 100 | 650 | 660 => Meaning::NoMotion,
        70 if family == Interpreter => Meaning::DiameterMode,
        80 if family == Interpreter => Meaning::RadiusMode,
        200 if family == SystemC => Meaning::TurningCycle,
        210 if family == SystemC => {
            if bare {
                Meaning::Other
            } else {
                Meaning::BoxThread
            }
        }
        240 if family == SystemC => Meaning::TurningCycle,
        700 if family == SystemC => Meaning::Inch,
        710 if family == SystemC => Meaning::Millimetre,
        200 => Meaning::Inch,
        210 => Meaning::Millimetre,
        280 | 300 | 281 | 301 => Meaning::Home,
        320 if a => Meaning::Stroke,
        330 => Meaning::Stroke,
        331 => Meaning::HoleCycle,
        340 | 350 if family != Interpreter => Meaning::VariableLead,
        500 if a => Meaning::ClampOrPreset,
        530 => Meaning::MachineMove,
        760 if family == SystemC => Meaning::TurningCycle,
        780 if family == SystemC => Meaning::MultiPass,
        760 => Meaning::MultiPass,
        780 if family == SystemB => Meaning::BoxThread,
        770 | 790 if family == SystemB => Meaning::TurningCycle,
        700 | 710 | 720 | 730 | 740 | 750 if family.turns() && family != Interpreter => {
            Meaning::TurningCycle
        }
        800 => Meaning::Cancel,
        730 | 740 | 810..=890 => Meaning::HoleCycle,
        900 if a => {
            if bare {
                Meaning::Absolute
            } else {
                Meaning::TurningCycle
            }
        }
        920 if a => Meaning::BoxThread,
        920 => Meaning::ClampOrPreset,
        940 if a => {
            if bare {
                Meaning::PerMinute
            } else {
                Meaning::TurningCycle
            }
        }
        900 => Meaning::Absolute,
        910 => Meaning::Incremental,
        940 => Meaning::PerMinute,
        950 => Meaning::PerTurn,
        960 => Meaning::SurfaceSpeed,
        970 => Meaning::ConstantRpm,
        980 if a => Meaning::PerMinute,
        990 if a => Meaning::PerTurn,
        980 | 990 if family == Mill => Meaning::Other,
        _ => Meaning::Other,
    }
}

/// Codes of the controls with named cycles (from memory).
fn call(tenths: i32) -> Option<Meaning> {
    Some(match tenths {
        340 | 350 => Meaning::VariableLead,
        700 | 7000 => Meaning::Inch,
        710 | 7100 => Meaning::Millimetre,
        740 | 750 => Meaning::Home,
        // An upper limit of the speed.
        260 => Meaning::ClampOrPreset,
        1530 => Meaning::MachineMove,
        9610 | 9620 => Meaning::SurfaceSpeed,
        9710 | 9720 | 9730 => Meaning::ConstantRpm,
        200 | 210 | 280 | 281 | 300 | 301 | 320 | 720 | 730 | 760 | 770 | 780 | 790 | 980 | 990
        | 920 | 500 => Meaning::Other,
        _ => return None,
    })
}

/// Codes of the controls with the compound threading cycle (G31 and G33 as on a published manual
/// page, the others from memory).
fn compound(tenths: i32) -> Option<Meaning> {
    Some(match tenths {
        310 | 330 => Meaning::BoxThread,
        340 | 350 => Meaning::VariableLead,
        500 => Meaning::ClampOrPreset,
        710 | 720 => Meaning::MultiPass,
        760 => Meaning::Other,
        900 => Meaning::Absolute,
        910 => Meaning::Incremental,
        _ => return None,
    })
}

/// Codes of the controls with G82 as a box (G82 as on a published manual page, the others from
/// memory).
fn box_g82(tenths: i32, bare: bool) -> Option<Meaning> {
    Some(match tenths {
        320 => Meaning::Stroke,
        360 => Meaning::DiameterMode,
        370 => Meaning::RadiusMode,
        800 | 810 if !bare => Meaning::TurningCycle,
        820 => Meaning::BoxThread,
        900 => Meaning::Absolute,
        910 => Meaning::Incremental,
        _ => return None,
    })
}
