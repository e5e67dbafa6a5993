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
    /// Threads by tool station (none for any tool): designation and the place that states it.
    pub threads: Vec<(Option<u32>, String, String)>,
    /// Rule settings by rule name.
    pub rules: BTreeMap<String, Setting>,
}

impl Facts {
    /// The configured designation for a tool, and the place that states it.
    #[must_use]
    pub fn designation(&self, tool: Option<u32>) -> Option<(&str, &str)> {
        let station = tool.map(lexer::machine::Machine::station);
        self.threads
            .iter()
            .find(|(wanted, _, _)| wanted.is_none_or(|wanted| Some(wanted) == station))
            .map(|(_, designation, place)| (designation.as_str(), place.as_str()))
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
