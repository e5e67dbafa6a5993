//! `compare`: what a change does to each thread, between two files or trees, or since a revision.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use lexer::program::{Program, Settings};
use rules::compare::{Comparison, State, compare};
use rules::facts::Facts;
use rules::judge::{Judgement, judge};

use super::args::{Compare, CompareFormat, Threshold};
use super::discover::{From, Input, gather};
use super::git::Revision;
use super::{Exit, Outcome, Streams, sniff};
use crate::config::{Refused, Resolver};
use crate::show::compare::{self as show, Budget, Compared};
use crate::show::visible;

/// A program before and after.
struct Pair {
    old: Option<Input>,
    new: Option<Input>,
}

/// Why a comparison cannot be made at all.
type Wrong = String;

pub(super) fn run(args: &Compare, streams: &mut Streams<'_>) -> Outcome {
    let usage = |streams: &mut Streams<'_>, lines: &str| -> Outcome {
        for line in lines.lines() {
            writeln!(streams.err, "error: {line}")?;
        }
        Ok(Exit::Usage)
    };
    let pairs = match &args.since {
        Some(rev) => since(rev, &args.paths, streams),
        None => two(&args.paths, streams),
    };
    let pairs = match pairs {
        Ok(pairs) => pairs,
        Err(why) => return usage(streams, &why),
    };
    let resolver = match &args.config {
        None => Resolver::new(),
        Some(file) => match Resolver::with_file(file) {
            Ok(resolver) => resolver,
            Err(refused) => return usage(streams, &refused.to_string()),
        },
    };
    let resolver = resolver.on(args.today);
    let mut all = Vec::new();
    let mut unread = Vec::new();
    let mut reached = false;
    for pair in pairs {
        let path = match pair.new.as_ref().or(pair.old.as_ref()) {
            Some(input) => input.path.clone(),
            None => continue,
        };
        let (settings, facts) = match resolver.facts(&path) {
            Ok(found) => found,
            Err(refused) => return usage(streams, &Refused::clone(&refused).to_string()),
        };
        match one(args, &pair, &settings, &facts) {
            Ok(None) => {}
            Ok(Some(compared)) => {
                let configured = || facts.ci.fail_on.map(Threshold::from);
                let threshold = args.fail_on.or_else(configured).unwrap_or(Threshold::Error);
                let worst = compared
                    .comparison
                    .all_new()
                    .map(|finding| finding.severity)
                    .max();
                reached |= threshold.reached(worst) || compared.over_budget().is_some();
                all.push(compared);
            }
            Err((path, why)) => {
                writeln!(streams.err, "error: {path}: {}", visible::text(&why))?;
                unread.push((path, why));
            }
        }
    }
    let shown = match args.format {
        CompareFormat::Text => show::text(&all),
        CompareFormat::Markdown => show::markdown(&all),
        CompareFormat::Json => show::document(&all, &unread),
    };
    write!(streams.out, "{shown}")?;
    Ok(if !unread.is_empty() {
        Exit::Unread
    } else if reached {
        Exit::Findings
    } else {
        Exit::Clean
    })
}

/// Compares one program; none when neither state is one.
fn one(
    args: &Compare,
    pair: &Pair,
    settings: &Settings,
    facts: &Facts,
) -> Result<Option<Compared>, (String, String)> {
    let read = |input: &Option<Input>| match input {
        None => Ok(None),
        Some(input) => input.read().map_err(|why| (input.shown.clone(), why)),
    };
    let (old, new) = (read(&pair.old)?, read(&pair.new)?);
    if old.is_none() && new.is_none() {
        return Ok(None);
    }
    let judged = |bytes: &Option<Vec<u8>>| -> Option<(Program, Judgement)> {
        let bytes = bytes.as_ref()?;
        let program = lexer::read(bytes, settings);
        let judgement = judge(bytes, &program, settings, facts);
        Some((program, judgement))
    };
    let (before, after) = (judged(&old), judged(&new));
    let comparison: Comparison = compare(state(&old, &before), state(&new, &after));
    let shown = |input: &Option<Input>| input.as_ref().map(|input| input.shown.clone());
    let (old_path, new_path) = (shown(&pair.old), shown(&pair.new));
    let budget = match args.time_budget {
        Some(seconds) => Some(Budget {
            seconds,
            source: "--time-budget".to_owned(),
        }),
        None => facts.ci.time_budget_s.map(|seconds| Budget {
            seconds,
            source: format!("{} time_budget_s", facts.ci.source),
        }),
    };
    Ok(Some(Compared {
        path: new_path
            .clone()
            .or_else(|| old_path.clone())
            .unwrap_or_default(),
        old_path: old_path.filter(|old| new_path.is_some() && Some(old) != new_path.as_ref()),
        comparison,
        budget,
    }))
}

fn state<'a>(
    bytes: &'a Option<Vec<u8>>,
    judged: &'a Option<(Program, Judgement)>,
) -> Option<State<'a>> {
    let (program, judgement) = judged.as_ref()?;
    Some(State {
        bytes: bytes.as_deref().unwrap_or_default(),
        program,
        judgement,
    })
}

/// The pairs of two files, or of the files of two folders: by their path, then those left by a
/// file name that each side has once.
fn two(paths: &[PathBuf], streams: &mut Streams<'_>) -> Result<Vec<Pair>, Wrong> {
    let [old, new] = paths else {
        return Err("compare needs two programs or two folders, or --since REV".to_owned());
    };
    match (old.is_dir(), new.is_dir()) {
        (false, false) => {
            let mut one = |path: &PathBuf| {
                gather(std::slice::from_ref(path), &[], None, streams.input, 0).pop()
            };
            Ok(vec![Pair {
                old: one(old),
                new: one(new),
            }])
        }
        (true, true) => {
            let mut tree = |root: &PathBuf| -> BTreeMap<PathBuf, Input> {
                let inputs = gather(std::slice::from_ref(root), &[], None, streams.input, 0);
                let inputs = inputs.into_iter();
                inputs
                    .map(|input| {
                        let relative = input.path.strip_prefix(root).unwrap_or(&input.path);
                        (relative.to_owned(), input)
                    })
                    .collect()
            };
            let (mut olds, news) = (tree(old), tree(new));
            let mut pairs = Vec::new();
            let mut fresh = Vec::new();
            for (path, input) in news {
                match olds.remove(&path) {
                    Some(before) => pairs.push(Pair {
                        old: Some(before),
                        new: Some(input),
                    }),
                    None => fresh.push((path, input)),
                }
            }
            let name = |path: &Path| path.file_name().map(std::ffi::OsStr::to_owned);
            let names: Vec<_> = fresh.iter().map(|(path, _)| name(path)).collect();
            for (path, input) in fresh {
                let own = name(&path);
                let twins = names.iter().filter(|other| **other == own).count();
                let mut moved = olds.keys().filter(|old| name(old) == own);
                let before = match (moved.next().cloned(), moved.next()) {
                    (Some(only), None) if twins == 1 => olds.remove(&only),
                    _ => None,
                };
                pairs.push(Pair {
                    old: before,
                    new: Some(input),
                });
            }
            pairs.extend(olds.into_values().map(|gone| Pair {
                old: Some(gone),
                new: None,
            }));
            Ok(pairs)
        }
        _ => Err("compare needs two programs or two folders, not one of each".to_owned()),
    }
}

/// The programs that have changed since a revision, below the paths.
fn since(rev: &str, paths: &[PathBuf], streams: &mut Streams<'_>) -> Result<Vec<Pair>, Wrong> {
    let here = [PathBuf::from(".")];
    let paths = if paths.is_empty() { &here } else { paths };
    let mut pairs = Vec::new();
    for path in paths {
        let real = std::fs::canonicalize(path).map_err(|error| {
            format!(
                "{}: {}",
                visible::path(path),
                super::discover::advice(&error)
            )
        })?;
        let folder = if real.is_dir() {
            real.as_path()
        } else {
            real.parent().unwrap_or(Path::new("."))
        };
        let revision = Revision::find(folder, rev)?;
        // Which of the files are programs, with the names that the user gave.
        let found = gather(std::slice::from_ref(path), &[], None, streams.input, 0);
        let mut named: BTreeMap<PathBuf, Input> = BTreeMap::new();
        for input in found {
            let whole = std::fs::canonicalize(&input.path).unwrap_or_else(|_| input.path.clone());
            named.insert(whole, input);
        }
        for change in revision.changes()? {
            let whole = |name: &PathBuf| revision.top.join(name);
            let new = change
                .new
                .as_ref()
                .and_then(|name| named.remove(&whole(name)));
            let below = |name: &&PathBuf| whole(name).starts_with(&real);
            let gone = change.new.is_none();
            let old = match change.old.as_ref() {
                Some(name) if new.is_some() || gone && below(&name) => Some(name),
                _ => None,
            };
            let old = match old {
                None => None,
                Some(name) => before(&revision, name, new.as_ref(), path, &real)?,
            };
            if old.is_some() || new.is_some() {
                pairs.push(Pair { old, new });
            }
        }
    }
    Ok(pairs)
}

/// A file as it was. A removed one is judged by its name and content, like a file of a folder.
fn before(
    revision: &Revision,
    name: &Path,
    new: Option<&Input>,
    given: &Path,
    real: &Path,
) -> Result<Option<Input>, Wrong> {
    if new.is_none() && sniff::name(name) == sniff::Name::Other {
        return Ok(None);
    }
    let bytes = revision.file(name)?;
    let head = &bytes[..bytes.len().min(sniff::HEAD)];
    if new.is_none() && sniff::name(name) == sniff::Name::Perhaps && !sniff::content(head) {
        return Ok(None);
    }
    let whole = revision.top.join(name);
    let path = match whole.strip_prefix(real) {
        Ok(rest) if rest != Path::new("") => given.join(rest),
        _ => given.to_owned(),
    };
    // The same name unless it was renamed.
    let renamed =
        new.is_some_and(|new| std::fs::canonicalize(&new.path).is_ok_and(|new| new != whole));
    let path = match new {
        Some(new) if !renamed => new.path.clone(),
        _ => path,
    };
    Ok(Some(Input {
        shown: visible::path(&path),
        path,
        from: From::Standard(bytes),
    }))
}
