//! Which of the programs are looked at: those of a list, or those that have changed.

use std::collections::HashSet;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};

use rules::facts::FILE_NAME;

use super::discover::{Input, advice, plain};
use super::git::Revision;
use crate::show::visible;

/// The names in a list: with NUL between them where there is one, otherwise one a line.
///
/// # Errors
/// When the list cannot be read.
pub(super) fn list(from: &Path, stdin: &mut dyn Read) -> Result<Vec<PathBuf>, String> {
    let bytes = if from.as_os_str() == "-" {
        let mut bytes = Vec::new();
        stdin
            .read_to_end(&mut bytes)
            .map_err(|error| format!("standard input cannot be read: {}", plain(&error)))?;
        bytes
    } else {
        fs::read(from).map_err(|error| format!("{}: {}", visible::path(from), advice(&error)))?
    };
    let end = if bytes.contains(&0) { 0 } else { b'\n' };
    let names = bytes.split(|byte| *byte == end).map(|name| match name {
        [rest @ .., b'\r'] if end == b'\n' => rest,
        name => name,
    });
    Ok(names.filter(|name| !name.is_empty()).map(name).collect())
}

#[cfg(unix)]
fn name(bytes: &[u8]) -> PathBuf {
    use std::os::unix::ffi::OsStrExt as _;
    PathBuf::from(std::ffi::OsStr::from_bytes(bytes))
}

#[cfg(not(unix))]
fn name(bytes: &[u8]) -> PathBuf {
    PathBuf::from(String::from_utf8_lossy(bytes).into_owned())
}

/// Keeps the inputs that have changed since a revision, or whose configuration has.
///
/// # Errors
/// When git cannot tell.
pub(super) fn changed(rev: &str, inputs: &mut Vec<Input>) -> Result<(), String> {
    let mut known: Vec<(Revision, HashSet<PathBuf>, Vec<PathBuf>)> = Vec::new();
    let mut failed = None;
    inputs.retain(|input| {
        let folder = match input.path.parent() {
            Some(parent) if parent != Path::new("") => parent,
            _ => Path::new("."),
        };
        // A file that is not there keeps its message.
        let Ok(folder) = fs::canonicalize(folder) else {
            return true;
        };
        let whole = folder.join(input.path.file_name().unwrap_or_default());
        let in_repository = known
            .iter()
            .position(|(revision, ..)| whole.starts_with(&revision.top));
        let at = match in_repository {
            Some(at) => at,
            None => match look(&folder, rev) {
                Ok(looked) => {
                    known.push(looked);
                    known.len() - 1
                }
                Err(why) => {
                    failed.get_or_insert(why);
                    return false;
                }
            },
        };
        let (_, files, folders) = &known[at];
        files.contains(&whole) || folders.iter().any(|folder| whole.starts_with(folder))
    });
    failed.map_or(Ok(()), Err)
}

/// The changed files of a repository, and the folders whose configuration has changed.
fn look(folder: &Path, rev: &str) -> Result<(Revision, HashSet<PathBuf>, Vec<PathBuf>), String> {
    let revision = Revision::find(folder, rev)?;
    let mut files = HashSet::new();
    let mut folders = Vec::new();
    for change in revision.changes()? {
        for name in change.old.iter().chain(&change.new) {
            if name.file_name().is_some_and(|name| name == FILE_NAME) {
                let whole = revision.top.join(name);
                folders.extend(whole.parent().map(Path::to_owned));
            }
        }
        files.extend(change.new.map(|name| revision.top.join(name)));
    }
    Ok((revision, files, folders))
}
