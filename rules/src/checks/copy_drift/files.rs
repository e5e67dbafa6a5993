//! Copies of a program in several files.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::{Copy, drift};
use crate::finding::Finding;

/// The numbered programs of the files of a run. Of the copies of a program, that of the first file
/// by path is the one that the others are compared with, in whatever order the files come.
#[derive(Debug, Default)]
pub struct Copies {
    firsts: BTreeMap<(i64, Name), First>,
}

/// What tells that programs with one number are copies.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Name {
    /// The file's name without its end, in small letters.
    File(String),
    /// The comment behind the number.
    Title(String),
    /// No comment behind the number.
    Untitled,
    /// The number alone.
    Any,
}

#[derive(Debug)]
struct First {
    path: PathBuf,
    shown: String,
    copy: Copy,
}

impl Copies {
    /// Takes the programs of a file, which messages call `shown`.
    pub fn enter(&mut self, path: &Path, shown: &str, copies: &[Copy]) {
        for copy in copies {
            for name in names(path, copy) {
                let first = self.firsts.get(&(copy.number, name.clone()));
                if first.is_none_or(|first| path < first.path.as_path()) {
                    let first = First {
                        path: path.to_owned(),
                        shown: shown.to_owned(),
                        copy: copy.clone(),
                    };
                    self.firsts.insert((copy.number, name), first);
                }
            }
        }
    }

    /// What parts the programs of a file from their first copies in other files.
    #[must_use]
    pub fn drifts(&self, path: &Path, copies: &[Copy]) -> Vec<Finding> {
        let drift_of = |copy: &Copy| {
            let first = self.first(path, copy)?;
            let place = format!("{}:{}", first.shown, first.copy.first_line);
            drift(copy, &first.copy, &place)
        };
        copies.iter().filter_map(drift_of).collect()
    }

    /// The copy in another file that this one is compared with.
    fn first(&self, path: &Path, copy: &Copy) -> Option<&First> {
        let get = |name: Name| {
            let first = self.firsts.get(&(copy.number, name))?;
            (first.path.as_path() < path).then_some(first)
        };
        let file = || {
            let (a, first) = (&copy.title, get(Name::File(stem(path, copy)?))?);
            let b = &first.copy.title;
            // A missing title is a start of every other.
            (a.starts_with(b.as_str()) || b.starts_with(a.as_str())).then_some(first)
        };
        let title = || get(Name::Title(copy.title.clone()));
        let alike = || {
            let others = if copy.title.is_empty() {
                Name::Any
            } else {
                Name::Untitled
            };
            get(others).filter(|first| alike(copy, &first.copy))
        };
        file().or_else(title).or_else(alike)
    }
}

fn names(path: &Path, copy: &Copy) -> impl Iterator<Item = Name> {
    let title = if copy.title.is_empty() {
        Name::Untitled
    } else {
        Name::Title(copy.title.clone())
    };
    let file = stem(path, copy).map(Name::File);
    file.into_iter().chain([title, Name::Any])
}

/// The name of a file where it says more than the number of the program.
fn stem(path: &Path, copy: &Copy) -> Option<String> {
    let stem = path.file_stem()?.to_string_lossy().to_lowercase();
    let number = stem.trim_start_matches('o').parse::<i64>();
    (number != Ok(copy.number)).then_some(stem)
}

/// Whether no thread differs in more than one value.
fn alike(copy: &Copy, first: &Copy) -> bool {
    let mut pairs = copy.threads.iter().zip(&first.threads);
    pairs.all(|(own, other)| own.differs(other).len() <= 1)
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::super::copies;
    use super::Copies;
    use crate::finding::Finding;

    const SHAFT: &str = "O77 (PUMP SHAFT)\nG21\nT0303\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-30. F2.\nX27.546\nG0 X100.\nM30\n";

    /// The files that have findings with them, in whatever order the files are entered.
    fn found(files: &[(&str, &str)]) -> Vec<(String, Finding)> {
        let all: Vec<_> = files
            .iter()
            .map(|(path, text)| {
                let program = lexer::read(text.as_bytes(), &Default::default());
                (*path, copies(text.as_bytes(), &program))
            })
            .collect();
        let run = |order: &mut dyn Iterator<Item = usize>| {
            let mut entered = Copies::default();
            for at in order {
                entered.enter(Path::new(all[at].0), all[at].0, &all[at].1);
            }
            let mut found = Vec::new();
            for (path, copies) in &all {
                let drifts = entered.drifts(Path::new(path), copies);
                found.extend(drifts.into_iter().map(|one| ((*path).to_owned(), one)));
            }
            found
        };
        let forward = run(&mut (0..all.len()));
        assert_eq!(forward, run(&mut (0..all.len()).rev()));
        forward
    }

    #[test]
    fn copies_with_one_title_are_compared() {
        let other = SHAFT.replace("F2.", "F2.5").replace("Z-30.", "Z-31.");
        let same = format!("%\n{}", SHAFT.replace("O77", "O0077"));
        let all = found(&[
            ("shaft.nc", SHAFT),
            ("copy.nc", &same),
            ("old/pump.nc", &other),
        ]);
        assert_eq!(all.len(), 1, "{all:?}");
        let (path, finding) = &all[0];
        assert_eq!((path.as_str(), finding.line), ("old/pump.nc", 7));
        assert_eq!(
            finding.message,
            "O77 stands here and in copy.nc:2, and thread 1 differs: lead 2.5 mm against 2 mm, end Z -31 mm against -30 mm"
        );
    }

    #[test]
    fn what_shares_no_more_than_a_number_is_silent() {
        let other = SHAFT
            .replace("PUMP SHAFT", "GLAND NUT")
            .replace("F2.", "F2.5");
        assert!(found(&[("a.nc", SHAFT), ("b.nc", &other)]).is_empty());
        // A file called after the number says nothing more.
        assert!(found(&[("a/O0077.nc", SHAFT), ("b/O0077.nc", &other)]).is_empty());
        // Without a title, more than one value that differs makes another part.
        let bare = SHAFT.replace(" (PUMP SHAFT)", "");
        let part = bare.replace("F2.", "F1.5").replace("27.546", "28.16");
        assert!(found(&[("a.nc", &bare), ("b.nc", &part)]).is_empty());
        let longer = SHAFT.replace(
            "M30",
            "T0505\nG0 X40. Z8.\nG92 X35. Z-10. F1.\nG0 X90.\nM30",
        );
        assert!(found(&[("a.nc", SHAFT), ("b.nc", &longer)]).is_empty());
    }

    #[test]
    fn a_name_or_all_other_values_tell_a_copy() {
        let bare = SHAFT.replace(" (PUMP SHAFT)", "").replace("27.546", "27.5");
        for (a, b) in [(SHAFT, bare.as_str()), (&bare, SHAFT)] {
            assert_eq!(found(&[("a.nc", a), ("b.nc", b)]).len(), 1, "{a}{b}");
        }
        let part = bare.replace("F2.", "F1.5");
        assert_eq!(found(&[("a.nc", SHAFT), ("b.nc", &part)]).len(), 0);
        assert_eq!(found(&[("new/x.nc", SHAFT), ("old/X.NC", &part)]).len(), 1);
    }
}
