//! Facts that the program text cannot tell: the machine, the tools, the thread on the drawing,
//! rule severities. One file a table. Read from `flankwise.toml` by [`Config::parse`]; [`Config::facts`] picks those that
//! hold for one file.

mod ci;
mod config;
mod files;
mod form;
mod keys;
mod limits;
mod machine;
mod names;
mod production;
#[cfg(test)]
mod tests;
mod thread;
mod tool;
mod waiver;

use std::collections::BTreeMap;
use std::sync::Arc;

pub use ci::{Ci, FailOn};
pub use config::{Config, ConfigError};
pub use limits::{CutLimits, Material, MaterialGroup, ShopLimits};
pub use machine::{Machine, SurfaceSpeed, Turret};
pub use production::Production;
pub use thread::{CoatingLimits, THICKEST_LAYER_MM, ThreadFact};
pub use tool::{ToolFact, ToolKind, ZReference};
pub use waiver::Waiver;

use crate::date::Date;
use crate::finding::Severity;
use crate::standards::Side;
use crate::standards::custom::Custom;
use crate::standards::thread::Thread;

/// Name of the configuration file.
pub const FILE_NAME: &str = "flankwise.toml";

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
    /// Where the machine's facts stand, `flankwise.toml: machine "lathe-2"`; empty without one.
    /// [`Facts::cite`] adds the key.
    pub source: String,
    /// Tools of the shop that the file may use, in the order written.
    pub tools: Vec<ToolFact>,
    /// Threads that the configuration names for the file, in the order written.
    pub threads: Vec<ThreadFact>,
    /// Forms of the shop's own.
    pub forms: Vec<Arc<Custom>>,
    /// The material of its parts.
    pub material: Option<Material>,
    /// The shop's own limits.
    pub limits: ShopLimits,
    /// What a second is worth.
    pub production: Production,
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

    /// The thread that the configuration names for a tool, the first entry that fits. `tool` is
    /// the T word as a number: `T0303`, `T303` and `T3` are all tool 3.
    #[must_use]
    pub fn thread(&self, tool: Option<u32>) -> Option<&ThreadFact> {
        let station = tool.map(lexer::machine::Machine::station);
        self.threads
            .iter()
            .find(|thread| thread.tool.is_none_or(|wanted| Some(wanted) == station))
    }

    /// The tool that a T word and the comments beside it stand for, the first entry that fits.
    #[must_use]
    pub fn tool(&self, tool: Option<u32>, comments: &[String]) -> Option<&ToolFact> {
        self.tools.iter().find(|fact| fact.is(tool, comments))
    }

    /// The thread of a name: a form of the shop's own, or a designation of a standard.
    ///
    /// # Errors
    /// Says why the text is neither, with the nearest names.
    pub fn named(&self, text: &str, side: Option<Side>) -> Result<Thread, String> {
        names::named(&self.forms, text, side)
    }

    /// A limit of a cut with the place that states it: the material's, or else the shop's.
    #[must_use]
    pub fn cut_limit<T>(
        &self,
        limit: impl Fn(&CutLimits) -> Option<T>,
        key: &str,
    ) -> Option<(T, String)> {
        let material = self.material.as_ref();
        let of_material = material.and_then(|m| Some((limit(&m.limits)?, &m.source)));
        let of_shop = || Some((limit(&self.limits.limits)?, &self.limits.source));
        let (value, source) = of_material.or_else(of_shop)?;
        Some((value, format!("{source} {key}")))
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
            set(&mut rapids.acceleration, machine.rapid_acceleration, 1000.0);
            set(&mut rapids.wait_turns, machine.wait_turns, 1.0);
            set(&mut rapids.factor, machine.time_factor, 1.0);
        }
        rapids
    }

    /// What the seconds rest on, for the reader.
    #[must_use]
    pub fn time_basis(&self) -> String {
        let machine = self.machine.as_ref();
        let rapids = match machine {
            Some(machine) if machine.rapid_x.is_some() && machine.rapid_z.is_some() => {
                format!("rapids of machine {}; estimate", machine.id)
            }
            _ => "estimate with default rapids (12 and 15 m/min, 3 m/s²)".into(),
        };
        let factor = machine.and_then(|machine| machine.time_factor);
        let factor = factor.map_or_else(String::new, |factor| {
            format!(", times {factor} by its stop-watch")
        });
        format!("{rapids}, Z0 taken as the end face{factor}")
    }
}
