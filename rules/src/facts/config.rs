//! `flankwise.toml` as text: what may stand in it, and which of it holds for a file.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use lexer::program::Settings;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::files::Files;
use super::form::form;
use super::keys::{Keys, Slip, with_hint};
use super::limits::{Material, ShopLimits, limits, material};
use super::machine::{MachineEntry, machine};
use super::production::{Production, production};
use super::thread::{ThreadEntry, thread};
use super::tool::{ToolEntry, tool};
use super::waiver::{self, WaiverEntry};
use super::{Ci, Facts, Setting, Waiver, ci};
use crate::finding::Severity;
use crate::standards::custom::Custom;

/// A configuration that has been read.
#[derive(Debug, Clone, Default)]
pub struct Config {
    machines: Vec<MachineEntry>,
    tools: Vec<ToolEntry>,
    threads: Vec<ThreadEntry>,
    forms: Vec<Arc<Custom>>,
    materials: Vec<(Files, Material)>,
    limits: ShopLimits,
    production: Production,
    rules: BTreeMap<String, Setting>,
    /// Settings for some files, over those for all; of two the later one wins.
    rules_for: Vec<(Files, BTreeMap<String, Setting>)>,
    waivers: Vec<WaiverEntry>,
    ci: Ci,
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
        let threads = self.threads.iter();
        let tools = self.tools.iter();
        let material = self
            .materials
            .iter()
            .find(|(files, _)| files.contains(relative));
        let facts = Facts {
            machine: machine.map(|entry| entry.machine.clone()),
            source: machine.map_or_else(String::new, |entry| entry.source.clone()),
            tools: tools
                .filter(|entry| entry.files.contains(relative))
                .map(|entry| entry.tool.clone())
                .collect(),
            threads: threads
                .filter(|entry| entry.files.contains(relative))
                .map(|entry| entry.thread.clone())
                .collect(),
            forms: self.forms.clone(),
            material: material.map(|(_, material)| material.clone()),
            limits: self.limits.clone(),
            production: self.production.clone(),
            rules: self.rules(relative),
            waivers: self.waivers(Some(relative)),
            ci: self.ci.clone(),
            today: None,
        };
        let settings = machine.map_or_else(Settings::default, |entry| entry.settings.clone());
        (settings, facts)
    }

    fn rules(&self, relative: &str) -> BTreeMap<String, Setting> {
        let own = self.rules_for.iter();
        let own = own.filter(|(files, _)| files.contains(relative));
        let mut all = self.rules.clone();
        all.extend(own.flat_map(|(_, rules)| rules.clone()));
        all
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

fn read(name: &str, table: DeTable<'_>, rules: &[&str], slips: &mut Vec<Slip>) -> Config {
    let mut config = Config::default();
    let mut keys = Keys::new("this file", table, slips);
    let machines = keys.tables("machine");
    let tools = keys.tables("tool");
    let threads = keys.tables("thread");
    let forms = keys.tables("form");
    let materials = keys.table_or_tables("material");
    let limit_table = keys.table("limits");
    let production_table = keys.table("production");
    let settings = keys.value("rules");
    let settings_for = keys.tables("rules_for");
    let waivers = keys.tables("waiver");
    let gate = keys.value("ci");
    keys.finish();
    for (place, table) in forms {
        let Some(form) = form(place.clone(), table, slips) else {
            continue;
        };
        if config.forms.iter().any(|other| other.is_named(&form.name)) {
            slips.push((place, format!("two forms are called \"{}\"", form.name)));
        }
        config.forms.push(form);
    }
    for (place, table) in machines {
        let entry = machine(name, place.clone(), table, slips);
        let id = &entry.machine.id;
        let twice = |other: &MachineEntry| !id.is_empty() && other.machine.id == *id;
        if config.machines.iter().any(twice) {
            slips.push((place, format!("two machines are called \"{id}\"")));
        }
        config.machines.push(entry);
    }
    for (at, (place, table)) in tools.into_iter().enumerate() {
        config.tools.push(tool(name, at + 1, place, table, slips));
    }
    for (at, placed) in threads.into_iter().enumerate() {
        let entry = thread(name, at + 1, placed, &config.forms, slips);
        config.threads.push(entry);
    }
    for (at, (_, table)) in materials.into_iter().enumerate() {
        config.materials.push(material(name, at + 1, table, slips));
    }
    if let Some(table) = limit_table {
        config.limits = limits(name, table, slips);
    }
    if let Some(table) = production_table {
        config.production = production(name, table, slips);
    }
    if let Some(settings) = settings {
        config.rules = rule_settings(settings, rules, slips);
    }
    for (place, table) in settings_for {
        let mut keys = Keys::new("[[rules_for]]", table, slips);
        let files = Files::read(&mut keys);
        let (named, own) = (keys.place("files").is_some(), keys.value("rules"));
        keys.finish();
        if !named || own.is_none() {
            let message = "[[rules_for]] needs `files` and `rules`; for all files write [rules]";
            slips.push((place, message.to_owned()));
        }
        if let Some(own) = own {
            let own = rule_settings(own, rules, slips);
            config.rules_for.push((files, own));
        }
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
