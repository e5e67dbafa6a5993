//! Finds the `flankwise.toml` of a file: the nearest one in its folder or above it.

use std::collections::{BTreeMap, HashMap};
use std::fmt;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use lexer::program::Settings;
use rules::checks::RULES;
use rules::date::Date;
use rules::facts::{Config, ConfigError, FILE_NAME, Facts, Waiver};

use crate::clock;
use crate::show::visible;

/// A configuration that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// The file as messages show it.
    pub file: String,
    /// What is wrong with it.
    pub errors: Vec<ConfigError>,
}

impl fmt::Display for Refused {
    /// One line an error: `file:line:column: message`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, error) in self.errors.iter().enumerate() {
            let end = if at == 0 { "" } else { "\n" };
            let error = visible::text(&error.to_string()).into_owned();
            write!(f, "{end}{}:{error}", self.file)?;
        }
        Ok(())
    }
}

/// A configuration with the folder that its file patterns count from.
#[derive(Debug)]
struct Found {
    folder: PathBuf,
    /// The file as messages show it, and its text.
    shown: String,
    text: String,
    /// SHA-256 of its bytes.
    hash: String,
    config: Config,
}

impl Found {
    /// What holds for a file named from the folder of the configuration.
    fn facts(&self, relative: &str) -> (Settings, Facts) {
        let (settings, mut facts) = self.config.facts(relative);
        // From the folder of the configuration, wherever the run is.
        let baseline = facts.ci.baseline.map(|name| self.folder.join(name));
        facts.ci.baseline = baseline.map(|path| path.to_string_lossy().into_owned());
        (settings, facts)
    }
}

/// A configuration with its waivers.
#[derive(Debug, Clone)]
pub struct Configured {
    /// The file as messages show it.
    pub shown: String,
    /// Its folder, without links.
    pub folder: PathBuf,
    /// Its text.
    pub text: String,
    /// Its waivers, in the order written.
    pub waivers: Vec<Waiver>,
    /// What it says of rules and of the gate.
    pub facts: Facts,
}

type Answer = Result<Option<Arc<Found>>, Arc<Refused>>;

/// Finds and remembers configurations. Made anew when one has changed on disk.
#[derive(Debug, Default)]
pub struct Resolver {
    given: Option<Arc<Found>>,
    folders: Mutex<HashMap<PathBuf, Answer>>,
    today: Option<Date>,
}

impl Resolver {
    /// Every file has its nearest configuration.
    #[must_use]
    pub fn new() -> Self {
        Resolver::default()
    }

    /// Every file has this configuration.
    ///
    /// # Errors
    /// When it cannot be read or something is wrong with it.
    pub fn with_file(file: &Path) -> Result<Self, Refused> {
        let folder = match file.parent() {
            Some(parent) if parent != Path::new("") => parent,
            _ => Path::new("."),
        };
        let folder = real(folder);
        let found = load(&folder, file)?;
        Ok(Resolver {
            given: Some(Arc::new(found)),
            folders: Mutex::default(),
            today: None,
        })
    }

    /// What holds for a file, which need not exist.
    ///
    /// # Errors
    /// When its configuration cannot be read or something is wrong with it.
    pub fn facts(&self, file: &Path) -> Result<(Settings, Facts), Arc<Refused>> {
        let folder = match file.parent() {
            Some(parent) if parent != Path::new("") => real(parent),
            _ => real(Path::new(".")),
        };
        let found = match &self.given {
            Some(given) => Some(Arc::clone(given)),
            None => self.nearest(&folder)?,
        };
        let today = self.today.or_else(clock::today);
        let Some(found) = found else {
            let facts = Facts {
                today,
                ..Facts::default()
            };
            return Ok((Settings::default(), facts));
        };
        let whole = folder.join(file.file_name().unwrap_or_default());
        let relative = whole.strip_prefix(&found.folder).unwrap_or(&whole);
        let parts: Vec<_> = relative
            .components()
            .map(|part| part.as_os_str().to_string_lossy())
            .collect();
        let (settings, mut facts) = found.facts(&parts.join("/"));
        facts.today = today;
        Ok((settings, facts))
    }

    /// Waivers are compared with this day instead of today's.
    #[must_use]
    pub fn on(self, today: Option<Date>) -> Self {
        Resolver { today, ..self }
    }

    /// The configurations that were asked for so far and have waivers, by name.
    #[must_use]
    pub fn with_waivers(&self) -> Vec<Configured> {
        let folders = self.folders.lock().unwrap_or_else(PoisonError::into_inner);
        let found = folders
            .values()
            .filter_map(|answer| answer.clone().ok().flatten());
        let mut all: Vec<Configured> = found
            .chain(self.given.clone())
            .filter_map(|found| {
                let waivers = found.config.waivers(None);
                (!waivers.is_empty()).then(|| Configured {
                    shown: found.shown.clone(),
                    folder: found.folder.clone(),
                    text: found.text.clone(),
                    waivers,
                    facts: found.facts("").1,
                })
            })
            .collect();
        all.sort_by(|one, other| one.shown.cmp(&other.shown));
        all.dedup_by(|one, other| one.shown == other.shown);
        all
    }

    /// The configurations that were used so far as messages call them, each with its SHA-256.
    pub(crate) fn files(&self) -> Vec<(String, String)> {
        let folders = self.folders.lock().unwrap_or_else(PoisonError::into_inner);
        let nearest = folders
            .values()
            .filter_map(|answer| answer.as_ref().ok()?.as_ref());
        let files = self.given.iter().chain(nearest);
        let files: BTreeMap<_, _> = files
            .map(|found| (found.shown.clone(), found.hash.clone()))
            .collect();
        files.into_iter().collect()
    }

    fn nearest(&self, folder: &Path) -> Answer {
        let mut folders = self.folders.lock().unwrap_or_else(PoisonError::into_inner);
        let mut fresh = Vec::new();
        let mut answer = Ok(None);
        for above in folder.ancestors() {
            if let Some(known) = folders.get(above) {
                answer = known.clone();
                break;
            }
            fresh.push(above.to_owned());
            let file = above.join(FILE_NAME);
            if fs::symlink_metadata(&file).is_ok() {
                answer = load(above, &file)
                    .map(|found| Some(Arc::new(found)))
                    .map_err(Arc::new);
                break;
            }
        }
        for folder in fresh {
            folders.insert(folder, answer.clone());
        }
        answer
    }
}

fn load(folder: &Path, file: &Path) -> Result<Found, Refused> {
    let shown = shown(file);
    let refused = |message: String| Refused {
        file: shown.clone(),
        errors: vec![ConfigError {
            line: 1,
            column: 1,
            message,
        }],
    };
    let bytes = fs::read(file).map_err(|error| {
        refused(match error.kind() {
            ErrorKind::NotFound => "there is no such configuration file".to_owned(),
            _ => format!("the configuration cannot be read: {error}"),
        })
    })?;
    let hash = crate::hash::hash(&bytes);
    let text = String::from_utf8(bytes)
        .map_err(|_| refused("the configuration is not UTF-8 text; save it as UTF-8".to_owned()))?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
    match Config::parse(&shown, text, &rule_names()) {
        Ok(config) => Ok(Found {
            folder: folder.to_owned(),
            text: text.to_owned(),
            shown,
            hash,
            config,
        }),
        Err(errors) => Err(Refused {
            file: shown,
            errors,
        }),
    }
}

fn rule_names() -> Vec<&'static str> {
    RULES.iter().map(|rule| rule.name).collect()
}

/// The folder without links and `..`, so that walking upward is sound. A folder that does not
/// exist is taken as it is written.
fn real(folder: &Path) -> PathBuf {
    fs::canonicalize(folder)
        .or_else(|_| std::path::absolute(folder))
        .unwrap_or_else(|_| folder.to_owned())
}

/// The path from the working folder where the file is in it or above it.
fn shown(file: &Path) -> String {
    let whole = match (file.parent(), file.file_name()) {
        (Some(parent), Some(name)) if parent != Path::new("") => real(parent).join(name),
        _ => return visible::path(file),
    };
    let here = real(Path::new("."));
    if let Ok(below) = whole.strip_prefix(&here) {
        return visible::path(below);
    }
    if let Some(parent) = whole.parent()
        && let Ok(down) = here.strip_prefix(parent)
    {
        let mut up: PathBuf = down.components().map(|_| "..").collect();
        up.push(file.file_name().unwrap_or_default());
        return visible::path(&up);
    }
    visible::path(&whole)
}
