//! From the arguments to the programs: files as they are, folders searched, standard input.

use std::collections::HashSet;
use std::fs;
use std::io::{self, ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use ignore::{DirEntry, WalkBuilder, WalkState};

use super::sniff::{self, Name};
use crate::show::visible;

/// Files of this size and more are refused: offsets are 32 bits wide.
const SIZE_LIMIT: u64 = u32::MAX as u64;

/// Something that may be a program.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Input {
    /// The path, or the name given for standard input.
    pub(super) path: PathBuf,
    /// How messages call it.
    pub(super) shown: String,
    /// Where its bytes are.
    pub(super) from: From,
}

/// Where the bytes of an input are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum From {
    /// A file that was named.
    File,
    /// A file of a folder whose content decides whether it is a program.
    PerhapsFile,
    /// Standard input, read already.
    Standard(Vec<u8>),
    /// Nowhere: why, and what to do.
    Nowhere(String),
}

/// Name of standard input where none is given.
pub(super) const STDIN: &str = "stdin";

impl Input {
    fn new(path: PathBuf, from: From) -> Self {
        let shown = visible::path(&path);
        Input { path, shown, from }
    }

    /// The bytes; none for a file that is no program.
    pub(super) fn read(&self) -> Result<Option<Vec<u8>>, String> {
        let bytes = match &self.from {
            From::Nowhere(why) => return Err(why.clone()),
            From::Standard(bytes) => bytes.clone(),
            From::File => read_file(&self.path, |_| true)
                .map_err(|error| advice(&error))?
                .unwrap_or_default(),
            From::PerhapsFile => {
                match read_file(&self.path, sniff::content).map_err(|error| advice(&error))? {
                    Some(bytes) => bytes,
                    None => return Ok(None),
                }
            }
        };
        if bytes.len() as u64 >= SIZE_LIMIT {
            return Err("it has 4 GiB or more; split it".to_owned());
        }
        if bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff") {
            return Err(
                "it is UTF-16 text, which no control reads; save it as UTF-8 or in a \
                        code page of one byte a character"
                    .to_owned(),
            );
        }
        Ok(Some(bytes))
    }
}

/// Reads a file whose first bytes are wanted; none where they are not.
fn read_file(path: &Path, wanted: impl Fn(&[u8]) -> bool) -> io::Result<Option<Vec<u8>>> {
    let mut file = fs::File::open(path)?;
    let meta = file.metadata()?;
    if meta.is_dir() {
        return Err(io::Error::from(ErrorKind::IsADirectory));
    }
    let size = meta.len();
    let mut bytes = Vec::with_capacity(usize::try_from(size.min(SIZE_LIMIT)).unwrap_or(0) + 1);
    file.by_ref()
        .take(sniff::HEAD as u64)
        .read_to_end(&mut bytes)?;
    if !wanted(&bytes) {
        return Ok(None);
    }
    if size >= SIZE_LIMIT {
        return Err(io::Error::from(ErrorKind::FileTooLarge));
    }
    file.take(SIZE_LIMIT).read_to_end(&mut bytes)?;
    Ok(Some(bytes))
}

/// What is wrong with a path, and what to do.
pub(super) fn advice(error: &io::Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => "there is no such file; check the path".to_owned(),
        ErrorKind::PermissionDenied => "no permission to read it; check its rights".to_owned(),
        ErrorKind::FileTooLarge => "it has 4 GiB or more; split it".to_owned(),
        _ => format!("it cannot be read: {}", plain(error)),
    }
}

/// The system's words without its error number.
pub(super) fn plain(error: &io::Error) -> String {
    let text = error.to_string();
    let end = text.find(" (os error ").unwrap_or(text.len());
    text[..end].to_owned()
}

const BROKEN_LINK: &str = "the link points to nothing; mend or remove it";

/// Finds the inputs: arguments in the order given, the files of a folder by path, those `listed`
/// that may be programs, none twice.
pub(super) fn gather(
    paths: &[PathBuf],
    listed: &[PathBuf],
    stdin_name: Option<&Path>,
    stdin: &mut dyn Read,
    jobs: usize,
) -> Vec<Input> {
    let mut inputs = Vec::new();
    for path in paths {
        if path.as_os_str() == "-" {
            inputs.push(standard(stdin_name, stdin));
            continue;
        }
        match fs::metadata(path) {
            Ok(meta) if meta.is_dir() => inputs.extend(folder(path, jobs)),
            Ok(meta) if meta.is_file() || is_pipe(&meta) => {
                inputs.push(Input::new(path.clone(), From::File));
            }
            Ok(_) => inputs.push(Input::new(
                path.clone(),
                From::Nowhere("it is neither a file nor a folder".to_owned()),
            )),
            Err(error) => {
                let link = error.kind() == ErrorKind::NotFound && path.is_symlink();
                let why = if link {
                    BROKEN_LINK.to_owned()
                } else {
                    advice(&error)
                };
                inputs.push(Input::new(path.clone(), From::Nowhere(why)));
            }
        }
    }
    for path in listed {
        let from = match sniff::name(path) {
            Name::Program => From::File,
            Name::Perhaps => From::PerhapsFile,
            Name::Other => continue,
        };
        match fs::metadata(path) {
            Ok(meta) if meta.is_file() => inputs.push(Input::new(path.clone(), from)),
            Ok(_) => {}
            Err(error) => inputs.push(Input::new(path.clone(), From::Nowhere(advice(&error)))),
        }
    }
    let mut seen = HashSet::new();
    inputs.retain(|input| seen.insert(input.shown.clone()));
    inputs
}

#[cfg(unix)]
fn is_pipe(meta: &fs::Metadata) -> bool {
    use std::os::unix::fs::FileTypeExt as _;
    meta.file_type().is_fifo()
}

#[cfg(not(unix))]
fn is_pipe(_: &fs::Metadata) -> bool {
    false
}

fn standard(name: Option<&Path>, stdin: &mut dyn Read) -> Input {
    let path = name.unwrap_or(Path::new(STDIN)).to_owned();
    let mut bytes = Vec::new();
    match stdin.take(SIZE_LIMIT).read_to_end(&mut bytes) {
        Ok(_) => Input::new(path, From::Standard(bytes)),
        Err(error) => Input::new(
            path,
            From::Nowhere(format!("standard input cannot be read: {}", plain(&error))),
        ),
    }
}

/// The programs of a folder, one after the other, until `stop` says so. What cannot be looked at is
/// left out: nobody named it.
pub(crate) fn programs_below(folder: &Path, stop: &dyn Fn() -> bool) -> Vec<PathBuf> {
    let walk = WalkBuilder::new(folder).require_git(false).build();
    walk.take_while(|_| !stop())
        .filter_map(|entry| entry_input(entry.ok()?))
        .filter(|input| match input.from {
            From::File => true,
            From::PerhapsFile => {
                let head = read_file(&input.path, |_| true).unwrap_or_default();
                head.is_some_and(|bytes| sniff::content(&bytes[..bytes.len().min(sniff::HEAD)]))
            }
            _ => false,
        })
        .map(|input| input.path)
        .collect()
}

/// The files of a folder that are or may be programs. Hidden files and what `.gitignore` names
/// are left out; links to files are followed, links to folders are not.
fn folder(folder: &Path, jobs: usize) -> Vec<Input> {
    let found = Mutex::new(Vec::new());
    WalkBuilder::new(folder)
        .require_git(false)
        .threads(jobs)
        .build_parallel()
        .run(|| {
            Box::new(|entry| {
                let input = match entry {
                    Ok(entry) => entry_input(entry),
                    Err(error) => Some(walk_error(folder, &error)),
                };
                if let Some(input) = input {
                    found
                        .lock()
                        .unwrap_or_else(PoisonError::into_inner)
                        .push(input);
                }
                WalkState::Continue
            })
        });
    let mut found = found.into_inner().unwrap_or_else(PoisonError::into_inner);
    found.sort_by(|one, other| one.path.cmp(&other.path));
    found
}

fn entry_input(entry: DirEntry) -> Option<Input> {
    let name = sniff::name(entry.path());
    let kind = entry.file_type()?;
    if kind.is_dir() || name == Name::Other {
        return None;
    }
    let from = match name {
        Name::Program => From::File,
        _ => From::PerhapsFile,
    };
    if kind.is_file() {
        return Some(Input::new(entry.into_path(), from));
    }
    if !kind.is_symlink() {
        return None;
    }
    match fs::metadata(entry.path()) {
        Ok(meta) if meta.is_file() => Some(Input::new(entry.into_path(), from)),
        Ok(_) => None,
        // A broken link without a program's name may stand for anything.
        Err(_) if name == Name::Perhaps => None,
        Err(error) if error.kind() == ErrorKind::NotFound => Some(Input::new(
            entry.into_path(),
            From::Nowhere(BROKEN_LINK.to_owned()),
        )),
        Err(error) => Some(Input::new(entry.into_path(), From::Nowhere(advice(&error)))),
    }
}

fn walk_error(folder: &Path, error: &ignore::Error) -> Input {
    let mut inner = error;
    let mut path = folder.to_owned();
    loop {
        match inner {
            ignore::Error::WithPath { path: at, err } => {
                path = at.clone();
                inner = err;
            }
            ignore::Error::WithDepth { err, .. } | ignore::Error::WithLineNumber { err, .. } => {
                inner = err;
            }
            _ => break,
        }
    }
    let why = match inner {
        ignore::Error::Io(error) => advice(error),
        other => format!("it cannot be searched: {other}"),
    };
    Input::new(path, From::Nowhere(why))
}
