//! Facts that the program text cannot tell: the machine, rule severities. Read from
//! `flankwise.toml`; [`Config::facts`] picks those that hold for one file.

use std::collections::BTreeMap;

use crate::finding::Severity;

/// A machine, as far as the shop has told us.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Machine {
    /// Its name in the shop.
    pub id: String,
    /// Highest spindle speed, 1/min.
    pub max_rpm: Option<f64>,
    /// Highest feed rate while threading, mm/min.
    pub max_thread_feed: Option<f64>,
    /// Acceleration while threading, m/s².
    pub acceleration: Option<f64>,
    /// Time constant of the axis drive, s.
    pub servo_time_constant: Option<f64>,
    /// Rapid along Z, m/min.
    pub rapid_z: Option<f64>,
    /// Rapid along X, m/min.
    pub rapid_x: Option<f64>,
}

/// What the configuration says of a rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Setting {
    /// Not run.
    Off,
    /// Run with this severity.
    Severity(Severity),
}

/// Facts that hold for one file.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Facts {
    /// The machine; none when no `[[machine]]` matches the file.
    pub machine: Option<Machine>,
    /// Where the machine's facts stand, `file: key` by field name.
    pub source: String,
    /// Rule settings by rule name.
    pub rules: BTreeMap<String, Setting>,
}
