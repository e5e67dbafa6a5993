//! Asks git, by its program: which files have changed, and what they were before.

use std::collections::BTreeSet;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::show::visible;

/// A revision of the repository that a folder lies in.
pub(super) struct Revision {
    /// The top folder, without links.
    pub(super) top: PathBuf,
    /// The commit.
    pub(super) commit: String,
}

/// How a file has changed.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Change {
    /// Name before, from the top folder; none for a new file.
    pub(super) old: Option<PathBuf>,
    /// Name now, from the top folder; none for a removed file.
    pub(super) new: Option<PathBuf>,
}

impl Revision {
    /// Finds a revision.
    ///
    /// # Errors
    /// Why there is none, and what to do.
    pub(super) fn find(folder: &Path, rev: &str) -> Result<Revision, String> {
        let top = run(folder, &["rev-parse", "--show-toplevel"]).map_err(|why| match why {
            Failed::Said(_) => format!(
                "{} is in no git repository, so nothing tells what has changed",
                visible::path(folder)
            ),
            Failed::NotRun(why) => why,
        })?;
        let top = path(trimmed(&top));
        let name = format!("{rev}^{{commit}}");
        let commit = run(
            &top,
            &[
                "rev-parse",
                "--verify",
                "--quiet",
                "--end-of-options",
                &name,
            ],
        )
        .map_err(|why| match why {
            Failed::Said(_) => format!(
                "git knows no revision {}; name a branch, a tag or a commit (a shallow clone has \
                 only the last ones)",
                visible::text(rev)
            ),
            Failed::NotRun(why) => why,
        })?;
        Ok(Revision {
            top: std::fs::canonicalize(&top).unwrap_or(top),
            commit: String::from_utf8_lossy(trimmed(&commit)).into_owned(),
        })
    }

    /// What has changed since, in the working folder as it is, files that git does not know yet
    /// included.
    ///
    /// # Errors
    /// What git said.
    pub(super) fn changes(&self) -> Result<BTreeSet<Change>, String> {
        let told = |why: Failed| match why {
            Failed::Said(why) | Failed::NotRun(why) => why,
        };
        let listed = run(
            &self.top,
            &[
                "diff",
                "--name-status",
                "--find-renames",
                "-z",
                &self.commit,
                "--",
            ],
        )
        .map_err(told)?;
        let mut fields = listed
            .split(|byte| *byte == 0)
            .filter(|field| !field.is_empty());
        let mut changes = BTreeSet::new();
        while let Some(status) = fields.next() {
            let Some(first) = fields.next().map(path) else {
                break;
            };
            let change = match status.first() {
                Some(b'A') => Change {
                    old: None,
                    new: Some(first),
                },
                Some(b'D') => Change {
                    old: Some(first),
                    new: None,
                },
                Some(b'R') => Change {
                    old: Some(first),
                    new: fields.next().map(path),
                },
                Some(b'C') => Change {
                    old: None,
                    new: fields.next().map(path),
                },
                _ => Change {
                    old: Some(first.clone()),
                    new: Some(first),
                },
            };
            changes.insert(change);
        }
        let others = run(
            &self.top,
            &["ls-files", "--others", "--exclude-standard", "-z"],
        )
        .map_err(told)?;
        let others = others
            .split(|byte| *byte == 0)
            .filter(|field| !field.is_empty());
        changes.extend(others.map(|other| Change {
            old: None,
            new: Some(path(other)),
        }));
        Ok(changes)
    }

    /// The bytes of a file at the revision.
    ///
    /// # Errors
    /// What git said.
    pub(super) fn file(&self, name: &Path) -> Result<Vec<u8>, String> {
        let mut object = std::ffi::OsString::from(format!("{}:", self.commit));
        object.push(name);
        let args = ["cat-file".as_ref(), "blob".as_ref(), object.as_os_str()];
        run(&self.top, &args).map_err(|why| match why {
            Failed::Said(why) | Failed::NotRun(why) => why,
        })
    }
}

enum Failed {
    /// git is not there.
    NotRun(String),
    /// git has something against it.
    Said(String),
}

fn run<S: AsRef<std::ffi::OsStr>>(folder: &Path, args: &[S]) -> Result<Vec<u8>, Failed> {
    let output = Command::new("git")
        .arg("-C")
        .arg(folder)
        // Names as they are, whatever the user's settings.
        .args(["-c", "core.quotePath=false", "-c", "core.fsmonitor=false"])
        .args(args)
        .stdin(Stdio::null())
        .output()
        .map_err(|error| {
            Failed::NotRun(match error.kind() {
                ErrorKind::NotFound => {
                    "git is not installed or not on the path; it is asked what has changed"
                        .to_owned()
                }
                _ => format!("git cannot be run: {error}"),
            })
        })?;
    if output.status.success() {
        return Ok(output.stdout);
    }
    let said = String::from_utf8_lossy(&output.stderr);
    let first = said.lines().next().unwrap_or("it gave no reason");
    Err(Failed::Said(format!("git: {}", visible::text(first))))
}

fn trimmed(bytes: &[u8]) -> &[u8] {
    bytes.strip_suffix(b"\n").unwrap_or(bytes)
}

#[cfg(unix)]
fn path(bytes: &[u8]) -> PathBuf {
    use std::os::unix::ffi::OsStrExt as _;
    PathBuf::from(std::ffi::OsStr::from_bytes(bytes))
}

#[cfg(not(unix))]
fn path(bytes: &[u8]) -> PathBuf {
    PathBuf::from(String::from_utf8_lossy(bytes).into_owned())
}
