//! Findings that are known: a file beside the programs, so that a gate can be switched on for
//! programs that were never judged and only new findings fail it.

use std::collections::{BTreeMap, HashMap};
use std::fs;
use std::io::Write as _;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::discover::{advice, plain};
use crate::show::verdict::Known;
use crate::show::{json, visible};

/// Version of the file.
const VERSION: u32 = 1;

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    path: String,
    rule: String,
    fingerprint: String,
    count: usize,
}

#[derive(Deserialize)]
struct File {
    version: u32,
    findings: Vec<Row>,
}

/// A baseline that was read.
#[derive(Debug, Default)]
pub(super) struct Baseline {
    folder: PathBuf,
    files: HashMap<String, Known>,
    /// Findings of programs that are no longer where they were: they may have moved.
    moved: Known,
}

impl Baseline {
    /// Reads a baseline.
    ///
    /// # Errors
    /// Why it cannot be used, and what to do.
    pub(super) fn read(path: &Path) -> Result<Baseline, String> {
        let shown = visible::path(path);
        let bytes = fs::read(path).map_err(|error| match error.kind() {
            std::io::ErrorKind::NotFound => {
                format!("the baseline {shown} is not there; write it with --write-baseline {shown}")
            }
            _ => format!("the baseline {shown}: {}", advice(&error)),
        })?;
        let file: File = serde_json::from_slice(&bytes).map_err(|error| {
            format!(
                "the baseline {shown} cannot be read ({error}); write it anew with --write-baseline"
            )
        })?;
        if file.version != VERSION {
            return Err(format!(
                "the baseline {shown} has version {}, this flankwise reads {VERSION}; write it anew \
                 with --write-baseline",
                file.version
            ));
        }
        let mut baseline = Baseline {
            folder: folder(path),
            ..Baseline::default()
        };
        let mut there: HashMap<String, bool> = HashMap::new();
        for row in file.findings {
            let key = (row.rule, row.fingerprint);
            let here = *there
                .entry(row.path.clone())
                .or_insert_with_key(|name| baseline.folder.join(name).exists());
            let known = if here {
                baseline.files.entry(row.path).or_default()
            } else {
                &mut baseline.moved
            };
            *known.entry(key).or_default() += row.count;
        }
        Ok(baseline)
    }

    /// What is known of a program.
    pub(super) fn known(&self, program: &Path) -> Known {
        let mut known = self.moved.clone();
        if let Some(own) = self.files.get(&relative(&self.folder, program)) {
            known.extend(own.clone());
        }
        known
    }
}

/// The baselines of a run: one that was given, or those of the configurations.
#[derive(Debug, Default)]
pub(super) struct Baselines {
    given: Option<Arc<Baseline>>,
    configured: HashMap<String, Arc<Baseline>>,
}

impl Baselines {
    /// Reads the baselines that will be asked for. `configured` are whole paths.
    ///
    /// # Errors
    /// Why one cannot be used.
    pub(super) fn read<'a>(
        given: Option<&Path>,
        configured: impl Iterator<Item = &'a str>,
    ) -> Result<Baselines, String> {
        let mut baselines = Baselines::default();
        if let Some(path) = given {
            baselines.given = Some(Arc::new(Baseline::read(path)?));
            return Ok(baselines);
        }
        for path in configured {
            if !baselines.configured.contains_key(path) {
                let read = Baseline::read(Path::new(path))?;
                baselines.configured.insert(path.to_owned(), Arc::new(read));
            }
        }
        Ok(baselines)
    }

    /// What is known of a program whose configuration names this baseline.
    pub(super) fn known(&self, configured: Option<&str>, program: &Path) -> Option<Known> {
        let baseline = self
            .given
            .as_ref()
            .or_else(|| configured.and_then(|path| self.configured.get(path)));
        baseline.map(|baseline| baseline.known(program))
    }

    pub(super) fn is_empty(&self) -> bool {
        self.given.is_none() && self.configured.is_empty()
    }
}

/// A baseline that is being gathered.
#[derive(Debug)]
pub(super) struct Gathered {
    path: PathBuf,
    folder: PathBuf,
    counts: BTreeMap<(String, String, String), usize>,
}

impl Gathered {
    pub(super) fn new(path: &Path) -> Gathered {
        Gathered {
            path: path.to_owned(),
            folder: folder(path),
            counts: BTreeMap::new(),
        }
    }

    /// Adds a finding.
    pub(super) fn add(&mut self, program: &Path, rule: &str, fingerprint: &str) {
        let key = (
            relative(&self.folder, program),
            rule.to_owned(),
            fingerprint.to_owned(),
        );
        *self.counts.entry(key).or_default() += 1;
    }

    /// Number of findings.
    pub(super) fn len(&self) -> usize {
        self.counts.values().sum()
    }

    /// The file, one finding a line, so that differences can be read.
    fn text(&self) -> String {
        let rows: Vec<_> = self
            .counts
            .iter()
            .map(|((path, rule, fingerprint), count)| {
                json::print(&Row {
                    path: path.clone(),
                    rule: rule.clone(),
                    fingerprint: fingerprint.clone(),
                    count: *count,
                })
            })
            .collect();
        let rows = rows.join(",\n");
        let line = if rows.is_empty() { "" } else { "\n" };
        format!("{{\"version\":{VERSION},\n\"findings\":[{line}{rows}{line}]}}\n")
    }

    /// Writes the file; only `anew` over nothing.
    ///
    /// # Errors
    /// Why it was not written.
    pub(super) fn write(&self, anew: bool) -> Result<(), String> {
        let failed = |error: &std::io::Error| {
            format!(
                "{} cannot be written: {}",
                visible::path(&self.path),
                plain(error)
            )
        };
        let mut fresh = fresh(&self.folder).map_err(|error| failed(&error))?;
        fresh
            .write_all(self.text().as_bytes())
            .map_err(|error| failed(&error))?;
        let persisted = if anew {
            fresh.persist_noclobber(&self.path)
        } else {
            fresh.persist(&self.path)
        };
        persisted.map(drop).map_err(|error| failed(&error.error))
    }
}

/// A temporary file whose rights the umask sets, as for any new file.
#[cfg(unix)]
fn fresh(folder: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    let rights = std::os::unix::fs::PermissionsExt::from_mode(0o666);
    tempfile::Builder::new()
        .prefix(".flankwise-")
        .permissions(rights)
        .tempfile_in(folder)
}

#[cfg(not(unix))]
fn fresh(folder: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    tempfile::Builder::new()
        .prefix(".flankwise-")
        .tempfile_in(folder)
}

/// The folder of a file, without links.
fn folder(path: &Path) -> PathBuf {
    let folder = match path.parent() {
        Some(parent) if parent != Path::new("") => parent,
        _ => Path::new("."),
    };
    fs::canonicalize(folder).unwrap_or_else(|_| folder.to_owned())
}

/// The name of a program from the folder of the baseline, `/` between folders; with `..` where it
/// lies elsewhere, so that the file says the same on every machine.
fn relative(from: &Path, program: &Path) -> String {
    let whole = folder(program).join(program.file_name().unwrap_or_default());
    let shared = from
        .components()
        .zip(whole.components())
        .take_while(|(one, other)| one == other)
        .count();
    let up = from.components().skip(shared).map(|_| Component::ParentDir);
    let parts = up.chain(whole.components().skip(shared));
    let parts: Vec<_> = parts
        .map(|part| part.as_os_str().to_string_lossy().into_owned())
        .collect();
    parts.join("/")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_count_from_the_folder_of_the_baseline() {
        let shop = tempfile::tempdir().unwrap();
        let root = fs::canonicalize(shop.path()).unwrap();
        fs::create_dir_all(root.join("lathe2/old")).unwrap();
        let name = |from: &str, program: &str| relative(&root.join(from), &root.join(program));
        assert_eq!(name("", "lathe2/old/O1"), "lathe2/old/O1");
        assert_eq!(name("lathe2", "lathe2/O1"), "O1");
        assert_eq!(name("lathe2/old", "lathe2/O1"), "../O1");
    }
}
