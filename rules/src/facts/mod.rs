//! Facts that the program text cannot tell: the machine, the thread on the drawing, rule
//! severities. Read from `flankwise.toml` by [`Config::parse`]; [`Config::facts`] picks those that
//! hold for one file.

mod ci;
mod config;
mod keys;
#[cfg(test)]
mod tests;
mod waiver;

use std::collections::BTreeMap;

pub use ci::{Ci, FailOn};
pub use config::{Config, ConfigError};
pub use waiver::Waiver;

use crate::date::Date;
use crate::finding::Severity;

/// Name of the configuration file.
pub const FILE_NAME: &str = "flankwise.toml";

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

/// A thread that the configuration names for a file.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ThreadFact {
    /// The tool that cuts it; none for every tool of the file.
    pub tool: Option<u32>,
    /// What the drawing calls it, as written.
    pub designation: String,
    /// Where it stands, `flankwise.toml: thread 2 designation`.
    pub source: String,
}

/// Facts that hold for one file.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Facts {
    /// The machine; none when no `[[machine]]` matches the file.
    pub machine: Option<Machine>,
    /// Where the machine's facts stand, `flankwise.toml: machine "lathe-2"`; empty without one.
    /// [`Facts::cite`] adds the key.
    pub source: String,
    /// Threads that the configuration names for the file, in the order written.
    pub threads: Vec<ThreadFact>,
    /// Rule settings by rule name.
    pub rules: BTreeMap<String, Setting>,
    /// Waivers of the configuration for the file, in the order written.
    pub waivers: Vec<Waiver>,
    /// How a gate judges a run.
    pub ci: Ci,
    /// The day of today; none where nobody told it, and then no waiver runs out.
    pub today: Option<Date>,
}

impl Facts {
    /// Where a machine fact stands: `flankwise.toml: machine "lathe-2" max_rpm` for the
    /// configuration key `max_rpm`.
    #[must_use]
    pub fn cite(&self, key: &str) -> String {
        format!("{} {key}", self.source)
    }

    /// The thread that the configuration names for a tool, the first entry that fits, and the
    /// place that states it. `tool` is the T word as a number: `T0303`, `T303` and `T3` are all
    /// tool 3.
    #[must_use]
    pub fn designation(&self, tool: Option<u32>) -> Option<(&str, &str)> {
        let station = tool.map(lexer::machine::Machine::station);
        self.threads
            .iter()
            .find(|thread| thread.tool.is_none_or(|wanted| Some(wanted) == station))
            .map(|thread| (thread.designation.as_str(), thread.source.as_str()))
    }

    /// Rapid speeds and accelerations: the machine's where known, defaults elsewhere.
    #[must_use]
    pub fn rapids(&self) -> crate::cut::time::Rapids {
        let mut rapids = crate::cut::time::Rapids::DEFAULT;
        if let Some(machine) = &self.machine {
            let set = |field: &mut f64, fact: Option<f64>, factor: f64| {
                if let Some(fact) = fact {
                    *field = fact * factor;
                }
            };
            set(&mut rapids.x, machine.rapid_x, 1000.0 / 60.0);
            set(&mut rapids.z, machine.rapid_z, 1000.0 / 60.0);
            set(
                &mut rapids.thread_acceleration,
                machine.acceleration,
                1000.0,
            );
        }
        rapids
    }

    /// What the seconds rest on, for the reader.
    #[must_use]
    pub fn time_basis(&self) -> String {
        match &self.machine {
            Some(machine) if machine.rapid_x.is_some() && machine.rapid_z.is_some() => {
                format!(
                    "rapids of machine {}; estimate, Z0 taken as the end face",
                    machine.id
                )
            }
            _ => "estimate with default rapids (12 and 15 m/min, 3 m/s²), Z0 taken as the end \
                  face"
                .into(),
        }
    }
}
