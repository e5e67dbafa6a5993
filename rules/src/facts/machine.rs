//! `[[machine]]`: what the machine can do and how its control reads.

use std::ops::Range;

use lexer::evidence::Family;
use lexer::number::DecimalRule;
use lexer::program::Settings;
use lexer::section::Turning;
use lexer::units::{Radial, Units};
use toml::Spanned;
use toml::de::DeTable;

use super::files::Files;
use super::keys::{Keys, Slip};

/// A machine, as far as the shop has told us.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Machine {
    /// Its name in the shop.
    pub id: String,
    /// Highest spindle speed, 1/min.
    pub max_rpm: Option<f64>,
    /// Highest spindle speed of each gear, 1/min; empty where nothing is said.
    pub max_rpm_by_gear: Vec<f64>,
    /// Highest spindle speed for tapping, 1/min.
    pub max_tapping_rpm: Option<f64>,
    /// Highest feed rate while threading, mm/min.
    pub max_thread_feed: Option<f64>,
    /// Acceleration while threading, m/s².
    pub acceleration: Option<f64>,
    /// Acceleration in rapid, m/s².
    pub rapid_acceleration: Option<f64>,
    /// Time constant of the axis drive, s.
    pub servo_time_constant: Option<f64>,
    /// Rapid along Z, m/min.
    pub rapid_z: Option<f64>,
    /// Rapid along X, m/min.
    pub rapid_x: Option<f64>,
    /// Turns waited for the one-turn mark on average.
    pub wait_turns: Option<f64>,
    /// Measured over computed time.
    pub time_factor: Option<f64>,
    /// Whether the control waits for the spindle to be at speed before a thread.
    pub waits_for_speed: Option<bool>,
    /// Which way the spindle turns with M3, seen along +Z from the headstock.
    pub m3: Option<Turning>,
    /// On which side of the axis the tools stand.
    pub turret: Option<Turret>,
    /// What the control makes of a constant surface speed in a thread.
    pub surface_speed_in_thread: Option<SurfaceSpeed>,
    /// Whether feed and speed overrides do nothing during a thread.
    pub overrides_locked: Option<bool>,
    /// Length of the chamfered pull-out that the control's setting makes, in leads.
    pub pull_out_leads: Option<f64>,
    /// Angle of the pull-out from the axis, degrees.
    pub pull_out_angle_deg: Option<f64>,
    /// Radial retract between passes that the control's setting makes, mm.
    pub retract_mm: Option<f64>,
    /// Largest diameter of the tailstock's nose, mm.
    pub tailstock_diameter_mm: Option<f64>,
    /// Where the tailstock's nose ends in the program's Z, mm.
    pub tailstock_z_mm: Option<f64>,
}

/// On which side of the axis the tools of a turning machine stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turret {
    /// Between the axis and the operator.
    Front,
    /// Behind the axis.
    Rear,
}

/// What a control makes of a constant surface speed in a thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SurfaceSpeed {
    /// It stops with an alarm.
    Alarm,
    /// It holds the speed of the first pass.
    Held,
    /// The speed follows the diameter.
    Active,
}

/// A machine with its files and the settings for the reader.
#[derive(Debug, Clone)]
pub(super) struct MachineEntry {
    pub(super) files: Files,
    pub(super) machine: Machine,
    pub(super) settings: Settings,
    pub(super) source: String,
}

const SYSTEMS: [(&str, Family); 8] = [
    (Family::SystemA.name(), Family::SystemA),
    (Family::SystemB.name(), Family::SystemB),
    (Family::SystemC.name(), Family::SystemC),
    (Family::Interpreter.name(), Family::Interpreter),
    (Family::Mill.name(), Family::Mill),
    (Family::Call.name(), Family::Call),
    (Family::Compound.name(), Family::Compound),
    (Family::BoxG82.name(), Family::BoxG82),
];
const UNITS: [(&str, Units); 2] = [("mm", Units::Millimetre), ("inch", Units::Inch)];
const DECIMALS: [(&str, DecimalRule); 2] = [
    ("whole", DecimalRule::Whole),
    ("least-increment", DecimalRule::LeastIncrement),
];
const TURNING: [(&str, Turning); 2] = [
    ("clockwise", Turning::Clockwise),
    ("counterclockwise", Turning::Counterclockwise),
];
const TURRETS: [(&str, Turret); 2] = [("front", Turret::Front), ("rear", Turret::Rear)];
const SURFACE_SPEEDS: [(&str, SurfaceSpeed); 3] = [
    ("alarm", SurfaceSpeed::Alarm),
    ("held", SurfaceSpeed::Held),
    ("active", SurfaceSpeed::Active),
];

/// Reads one `[[machine]]`.
pub(super) fn machine(
    name: &str,
    place: Range<usize>,
    table: DeTable<'_>,
    slips: &mut Vec<Slip>,
) -> MachineEntry {
    let mut keys = Keys::new("[[machine]]", table, slips);
    let id = keys.text("id").map(Spanned::into_inner);
    if id.as_ref().is_none_or(String::is_empty) {
        keys.slip(place, "a machine needs a name: add `id = \"…\"`".to_owned());
    }
    let id = id.unwrap_or_default();
    let entry = MachineEntry {
        files: Files::read(&mut keys),
        settings: Settings {
            family: keys.choice("system", &SYSTEMS),
            diameter_mode: keys.truth("diameter_mode"),
            units: keys.choice("units", &UNITS),
            decimal: keys.choice("decimal", &DECIMALS),
            min_cut: keys.not_negative("min_cut_mm").map(Radial::from_mm),
            finish_allowance: keys
                .not_negative("finish_allowance_mm")
                .map(Radial::from_mm),
        },
        source: format!("{name}: machine \"{id}\""),
        machine: Machine {
            id,
            max_rpm: keys.positive("max_rpm"),
            max_rpm_by_gear: keys.numbers("max_rpm_by_gear").unwrap_or_default(),
            max_tapping_rpm: keys.positive("max_tapping_rpm"),
            max_thread_feed: keys.positive("max_thread_feed_mm_min"),
            acceleration: keys.positive("acceleration_m_s2"),
            rapid_acceleration: keys.positive("rapid_acceleration_m_s2"),
            servo_time_constant: keys.positive("servo_time_constant_s"),
            rapid_x: keys.positive("rapid_x_m_min"),
            rapid_z: keys.positive("rapid_z_m_min"),
            wait_turns: keys.not_negative("wait_turns"),
            time_factor: keys.positive("time_factor"),
            waits_for_speed: keys.truth("waits_for_speed"),
            m3: keys.choice("m3", &TURNING),
            turret: keys.choice("turret", &TURRETS),
            surface_speed_in_thread: keys.choice("surface_speed_in_thread", &SURFACE_SPEEDS),
            overrides_locked: keys.truth("overrides_locked"),
            pull_out_leads: keys.not_negative("pull_out_leads"),
            pull_out_angle_deg: keys.between("pull_out_angle_deg", 0.0, 90.0),
            retract_mm: keys.positive("retract_mm"),
            tailstock_diameter_mm: keys.positive("tailstock_diameter_mm"),
            tailstock_z_mm: keys.between("tailstock_z_mm", -1e6, 1e6),
        },
    };
    keys.finish();
    entry
}
