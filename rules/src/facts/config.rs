//! `flankwise.toml` as text: what may stand in it, and which of it holds for a file.

use std::collections::BTreeMap;
use std::fmt;
use std::ops::Range;

use globset::{GlobBuilder, GlobSet, GlobSetBuilder};
use lexer::evidence::Family;
use lexer::number::DecimalRule;
use lexer::program::Settings;
use lexer::units::{Radial, Units};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::keys::{Keys, Slip, with_hint};
use super::waiver::{self, WaiverEntry};
use super::{Ci, Facts, Machine, Setting, ThreadFact, Waiver, ci};
use crate::finding::Severity;
use crate::standards::designation::parse;

/// A configuration that has been read.
#[derive(Debug, Clone, Default)]
pub struct Config {
    machines: Vec<MachineEntry>,
    threads: Vec<ThreadEntry>,
    rules: BTreeMap<String, Setting>,
    waivers: Vec<WaiverEntry>,
    ci: Ci,
}

#[derive(Debug, Clone)]
struct MachineEntry {
    files: Files,
    machine: Machine,
    settings: Settings,
    source: String,
}

#[derive(Debug, Clone)]
struct ThreadEntry {
    files: Files,
    thread: ThreadFact,
}

/// Which files an entry is for.
#[derive(Debug, Clone)]
pub(super) enum Files {
    All,
    Matching(GlobSet),
}

/// What is wrong with a configuration, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ConfigError {
    /// Line, from 1.
    pub line: u32,
    /// Column in characters, from 1.
    pub column: u32,
    /// What is wrong and what would be right.
    pub message: String,
}

impl fmt::Display for ConfigError {
    /// `line:column: message`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}: {}", self.line, self.column, self.message)
    }
}

const SYSTEMS: [(&str, Family); 5] = [
    (Family::SystemA.name(), Family::SystemA),
    (Family::SystemB.name(), Family::SystemB),
    (Family::SystemC.name(), Family::SystemC),
    (Family::Interpreter.name(), Family::Interpreter),
    (Family::Mill.name(), Family::Mill),
];
const UNITS: [(&str, Units); 2] = [("mm", Units::Millimetre), ("inch", Units::Inch)];
const DECIMALS: [(&str, DecimalRule); 2] = [
    ("whole", DecimalRule::Whole),
    ("least-increment", DecimalRule::LeastIncrement),
];
const SETTINGS: [(&str, Setting); 4] = [
    ("off", Setting::Off),
    ("advice", Setting::Severity(Severity::Advice)),
    ("warning", Setting::Severity(Severity::Warning)),
    ("error", Setting::Severity(Severity::Error)),
];

impl Config {
    /// Reads a configuration. `name` is what findings cite as its file; `rules` are the names
    /// that `[rules]` may hold.
    ///
    /// # Errors
    /// Everything that is wrong, by place.
    pub fn parse(name: &str, text: &str, rules: &[&str]) -> Result<Config, Vec<ConfigError>> {
        let mut slips = Vec::new();
        let (table, errors) = DeTable::parse_recoverable(text);
        for error in errors {
            slips.push((
                error.span().unwrap_or(0..0),
                error.message().replace('\n', "; "),
            ));
        }
        let mut config = Config::default();
        if slips.is_empty() {
            config = read(name, table.into_inner(), rules, &mut slips);
        }
        if slips.is_empty() {
            for entry in &mut config.waivers {
                let start = entry.waiver.span.start as usize;
                entry.waiver.line = text[..start].matches('\n').count() as u32 + 1;
            }
            return Ok(config);
        }
        slips.sort_by_key(|(place, _)| place.start);
        Err(slips.into_iter().map(|slip| placed(text, slip)).collect())
    }

    /// What holds for a file, named relative to the folder of the configuration with `/` between
    /// folders. Of several machines that match, the first in the file wins; of several threads,
    /// [`Facts::designation`] picks the first that also fits the tool.
    #[must_use]
    pub fn facts(&self, relative: &str) -> (Settings, Facts) {
        let machine = self
            .machines
            .iter()
            .find(|entry| entry.files.contains(relative));
        let threads = self
            .threads
            .iter()
            .filter(|entry| entry.files.contains(relative))
            .map(|entry| entry.thread.clone())
            .collect();
        let facts = Facts {
            machine: machine.map(|entry| entry.machine.clone()),
            source: machine.map_or_else(String::new, |entry| entry.source.clone()),
            threads,
            rules: self.rules.clone(),
            waivers: self.waivers(Some(relative)),
            ci: self.ci.clone(),
            today: None,
        };
        let settings = machine.map_or_else(Settings::default, |entry| entry.settings.clone());
        (settings, facts)
    }

    /// The waivers for a file named as in [`Config::facts`]; without a name all of them.
    #[must_use]
    pub fn waivers(&self, relative: Option<&str>) -> Vec<Waiver> {
        self.waivers
            .iter()
            .filter(|entry| relative.is_none_or(|relative| entry.files.contains(relative)))
            .map(|entry| entry.waiver.clone())
            .collect()
    }
}

impl Files {
    pub(super) fn contains(&self, relative: &str) -> bool {
        match self {
            Files::All => true,
            Files::Matching(globs) => globs.is_match(relative),
        }
    }

    /// Reads the key `files`. A pattern without `/` is for the file's name in any folder, one
    /// that ends with `/` for all of a folder; `*` stays within a folder, `**` does not; capitals
    /// do not matter.
    pub(super) fn read(keys: &mut Keys<'_, '_>) -> Files {
        let Some(patterns) = keys.texts("files") else {
            return Files::All;
        };
        let mut set = GlobSetBuilder::new();
        for pattern in patterns {
            let written = pattern.get_ref();
            let mut glob = written.strip_prefix('/').unwrap_or(written).to_owned();
            if !written.contains('/') {
                glob = format!("**/{glob}");
            } else if written.ends_with('/') {
                glob.push_str("**");
            }
            let built = GlobBuilder::new(&glob)
                .literal_separator(true)
                .case_insensitive(true)
                .build();
            match built {
                Ok(glob) => {
                    set.add(glob);
                }
                Err(error) => keys.slip(
                    pattern.span(),
                    format!("`{written}` is no file pattern: {}", error.kind()),
                ),
            }
        }
        // Only patterns that were built are in the set, so that it builds too.
        set.build().map_or(Files::All, Files::Matching)
    }
}

fn read(name: &str, table: DeTable<'_>, rules: &[&str], slips: &mut Vec<Slip>) -> Config {
    let mut config = Config::default();
    let mut keys = Keys::new("this file", table, slips);
    let machines = keys.tables("machine");
    let threads = keys.tables("thread");
    let settings = keys.value("rules");
    let waivers = keys.tables("waiver");
    let gate = keys.value("ci");
    keys.finish();
    for (place, table) in machines {
        let entry = machine(name, place.clone(), table, slips);
        let id = &entry.machine.id;
        let twice = |other: &MachineEntry| !id.is_empty() && other.machine.id == *id;
        if config.machines.iter().any(twice) {
            slips.push((place, format!("two machines are called \"{id}\"")));
        }
        config.machines.push(entry);
    }
    for (at, (place, table)) in threads.into_iter().enumerate() {
        config
            .threads
            .push(thread(name, at + 1, place, table, slips));
    }
    if let Some(settings) = settings {
        config.rules = rule_settings(settings, rules, slips);
    }
    for (index, (place, table)) in waivers.into_iter().enumerate() {
        let entry = waiver::read(name, index, place, table, rules, slips);
        config.waivers.push(entry);
    }
    if let Some(gate) = gate {
        config.ci = ci::read(name, gate, slips);
    }
    config
}

fn machine(
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
            max_thread_feed: keys.positive("max_thread_feed_mm_min"),
            acceleration: keys.positive("acceleration_m_s2"),
            servo_time_constant: keys.positive("servo_time_constant_s"),
            rapid_x: keys.positive("rapid_x_m_min"),
            rapid_z: keys.positive("rapid_z_m_min"),
        },
    };
    keys.finish();
    entry
}

fn thread(
    name: &str,
    number: usize,
    place: Range<usize>,
    table: DeTable<'_>,
    slips: &mut Vec<Slip>,
) -> ThreadEntry {
    let mut keys = Keys::new("[[thread]]", table, slips);
    let files = Files::read(&mut keys);
    let tool = keys.tool("tool");
    let designation = keys.text("designation");
    if let Some(text) = &designation
        && let Err(error) = parse(text.get_ref(), None)
    {
        keys.slip(text.span(), error.to_string());
    }
    let designation = designation.map(Spanned::into_inner);
    if designation
        .as_ref()
        .is_none_or(|text| text.trim().is_empty())
    {
        keys.slip(
            place,
            "a thread needs its name on the drawing: add `designation = \"M24x3-6g\"`".to_owned(),
        );
    }
    keys.finish();
    ThreadEntry {
        files,
        thread: ThreadFact {
            tool,
            designation: designation.unwrap_or_default(),
            source: format!("{name}: thread {number} designation"),
        },
    }
}

fn rule_settings(
    value: Spanned<DeValue<'_>>,
    rules: &[&str],
    slips: &mut Vec<Slip>,
) -> BTreeMap<String, Setting> {
    let place = value.span();
    let DeValue::Table(table) = value.into_inner() else {
        slips.push((
            place,
            "rules must be a table, written as [rules]".to_owned(),
        ));
        return BTreeMap::new();
    };
    let mut settings = BTreeMap::new();
    for (rule, value) in Keys::new("[rules]", table, slips).all_texts() {
        let known = rules.contains(&rule.get_ref().as_str());
        if !known {
            let message = format!("unknown rule `{}`", rule.get_ref());
            slips.push((rule.span(), with_hint(message, rule.get_ref(), rules)));
        }
        let setting = SETTINGS.iter().find(|(name, _)| *name == value.get_ref());
        match setting {
            Some((_, setting)) if known => {
                settings.insert(rule.into_inner(), *setting);
            }
            Some(_) => {}
            None => {
                let names = SETTINGS.map(|(name, _)| name);
                let message = format!("a rule cannot be \"{}\"", value.get_ref());
                slips.push((value.span(), with_hint(message, value.get_ref(), &names)));
            }
        }
    }
    settings
}

fn placed(text: &str, (place, message): Slip) -> ConfigError {
    let mut at = place.start.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    let before = &text[..at];
    let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
    ConfigError {
        line: before.matches('\n').count() as u32 + 1,
        column: before[line_start..].chars().count() as u32 + 1,
        message,
    }
}
