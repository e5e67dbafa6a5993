//! Programs that a program calls and that lie in the same folder.

use std::cell::OnceCell;
use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use lexer::{Callee, Library};

/// Largest file that is read as a subprogram.
const LARGEST: u64 = 4 << 20;

/// Files of a folder that are looked at.
const FILES: usize = 20_000;

/// Endings of programs, those of subprograms first; none at all comes last.
const ENDINGS: [&str; 12] = [
    "spf", "sub", "nc", "ngc", "cnc", "tap", "txt", "min", "eia", "iso", "mpf", "",
];

/// The folder of a program. It is looked at when something is called, and not before.
pub(crate) struct Beside<'a> {
    program: Option<&'a Path>,
    files: OnceCell<HashMap<String, Vec<PathBuf>>>,
}

impl<'a> Beside<'a> {
    /// The folder of a file; nothing lies beside a text without a place.
    pub(crate) fn of(program: Option<&'a Path>) -> Self {
        Beside {
            program,
            files: OnceCell::new(),
        }
    }

    /// The files of the folder by their name without ending, in small letters.
    fn files(&self) -> &HashMap<String, Vec<PathBuf>> {
        self.files.get_or_init(|| {
            let mut files: HashMap<String, Vec<PathBuf>> = HashMap::new();
            // A text from elsewhere has a name at most.
            let program = self.program.filter(|program| program.is_file());
            let folder = match program.and_then(Path::parent) {
                Some(folder) if folder.as_os_str().is_empty() => Path::new("."),
                Some(folder) => folder,
                None => return files,
            };
            let own = self.program.and_then(Path::file_name);
            for entry in fs::read_dir(folder).into_iter().flatten().take(FILES) {
                let Ok(entry) = entry else { continue };
                let path = entry.path();
                if path.file_name() == own {
                    continue;
                }
                if let Some(stem) = path.file_stem().and_then(|stem| stem.to_str()) {
                    let stem = stem.to_lowercase();
                    files.entry(stem).or_default().push(path);
                }
            }
            files
        })
    }

    /// The one file with this name and a known ending. Of several the ending of the program itself
    /// counts first; none is taken where that does not tell.
    fn named(&self, stem: &str) -> Option<&Path> {
        let paths = self.files().get(&stem.to_lowercase())?;
        let ending = |path: &Path| {
            path.extension().map_or(String::new(), |ending| {
                ending.to_string_lossy().to_lowercase()
            })
        };
        let known: Vec<&Path> = paths
            .iter()
            .map(PathBuf::as_path)
            .filter(|path| ENDINGS.contains(&ending(path).as_str()))
            .collect();
        let own = self.program.map(ending);
        match known.as_slice() {
            [only] => Some(only),
            several => {
                let mut like = several.iter().filter(|path| Some(ending(path)) == own);
                let first = like.next()?;
                like.next().is_none().then_some(first)
            }
        }
    }
}

impl Library for Beside<'_> {
    fn find(&self, callee: Callee<'_>) -> Option<(String, Arc<[u8]>)> {
        let stems = match callee {
            Callee::Number(number) => vec![
                format!("O{number:04}"),
                format!("O{number}"),
                format!("O{number:05}"),
                format!("{number:04}"),
                number.to_string(),
                format!("L{number}"),
            ],
            Callee::Name(name) => vec![name.to_owned(), format!("{name}_SPF")],
        };
        let path = stems.iter().find_map(|stem| self.named(stem))?;
        let metadata = fs::metadata(path).ok()?;
        if !metadata.is_file() || metadata.len() > LARGEST {
            return None;
        }
        let bytes = fs::read(path).ok()?;
        let name = path.file_name()?.to_string_lossy();
        let name = name.chars().filter(|c| !c.is_control()).collect();
        Some((name, bytes.into()))
    }
}
