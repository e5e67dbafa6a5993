//! `init`: looks at the programs of a folder, proposes a configuration with a machine for each
//! folder of programs, and writes a baseline, so that a gate can be switched on at once. Nothing
//! that is there is overwritten.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs::OpenOptions;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use lexer::evidence::Family;
use rules::facts::FILE_NAME;

use super::args::{Init, Inputs};
use super::baseline::Gathered;
use super::discover::plain;
use super::examine::{self, Result as Work, each, examine};
use super::{Exit, Outcome, Streams};
use crate::show::text::plural;
use crate::show::visible;

/// Name of the baseline that is written.
const BASELINE: &str = "flankwise-baseline.json";

/// What the programs of one folder have in common.
#[derive(Default)]
struct Place {
    programs: usize,
    sections: usize,
    families: BTreeMap<&'static str, usize>,
    syntaxes: BTreeMap<&'static str, usize>,
}

pub(super) fn run(args: &Init, streams: &mut Streams<'_>) -> Outcome {
    let root = args.path.clone().unwrap_or_else(|| PathBuf::from("."));
    if !root.is_dir() {
        writeln!(
            streams.err,
            "error: {} is not a folder",
            visible::path(&root)
        )?;
        return Ok(Exit::Usage);
    }
    let (config, baseline) = (root.join(FILE_NAME), root.join(BASELINE));
    if !args.print {
        for file in [&config, &baseline] {
            if std::fs::symlink_metadata(file).is_ok() {
                writeln!(
                    streams.err,
                    "error: {} is there already and was left alone; --print shows what would be \
                     written",
                    visible::path(file)
                )?;
                return Ok(Exit::Usage);
            }
        }
    }
    let inputs = Inputs {
        jobs: args.jobs,
        ..Inputs::default()
    };
    let batch = examine::jobs(std::slice::from_ref(&root), &inputs, streams)?;
    let mut places: BTreeMap<String, Place> = BTreeMap::new();
    let mut gathered = Gathered::new(&baseline);
    let mut unread = 0usize;
    let work = |job: &examine::Job| {
        examine(job, |one| {
            let findings = one.judgement.findings.iter().map(|finding| finding.rule);
            let prints = one.verdict.prints.iter().map(|print| print.hash.clone());
            let syntaxes = one
                .program
                .sections
                .iter()
                .map(|section| section.syntax.name());
            (
                one.program.family,
                syntaxes.collect::<Vec<_>>(),
                findings.zip(prints).collect::<Vec<_>>(),
            )
        })
    };
    each(&batch.jobs, &inputs, work, |job, result| {
        match result {
            Work::Skipped => {}
            Work::Unread(why) => {
                examine::say_unread(streams, job, &why)?;
                unread += 1;
            }
            Work::Done((family, syntaxes, findings)) => {
                let place = places.entry(folder(&root, &job.input.path)).or_default();
                place.programs += 1;
                place.sections += syntaxes.len();
                if !syntaxes.is_empty() {
                    *place.families.entry(family.name()).or_default() += 1;
                }
                for syntax in syntaxes {
                    *place.syntaxes.entry(syntax).or_default() += 1;
                }
                for (rule, print) in findings {
                    gathered.add(&job.input.path, rule, &print);
                }
            }
        }
        Ok(())
    })?;
    let programs: usize = places.values().map(|place| place.programs).sum();
    if programs == 0 {
        examine::say_none(streams, std::slice::from_ref(&root), false)?;
        return Ok(Exit::Unread);
    }
    let text = proposal(&places);
    if args.print {
        write!(streams.out, "{text}")?;
    } else {
        let written = OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&config);
        let written = written.and_then(|mut file| file.write_all(text.as_bytes()));
        let failed = match written {
            Err(error) => Some(format!(
                "{} cannot be written: {}",
                visible::path(&config),
                plain(&error)
            )),
            Ok(()) => gathered.write(true).err(),
        };
        if let Some(why) = failed {
            writeln!(streams.err, "error: {why}")?;
            return Ok(Exit::Usage);
        }
        writeln!(
            streams.out,
            "{} written: {} in {}, machines to be completed with their facts\n{} written: {} known; \
             from now on `flankwise check` fails on new ones only",
            visible::path(&config),
            plural(programs, "program", "programs"),
            plural(places.len(), "folder", "folders"),
            visible::path(&baseline),
            plural(gathered.len(), "finding", "findings"),
        )?;
    }
    Ok(if unread > 0 {
        Exit::Unread
    } else {
        Exit::Clean
    })
}

/// The first folder of a path below the root; empty for a program in the root itself.
fn folder(root: &Path, path: &Path) -> String {
    let below = path.strip_prefix(root).unwrap_or(path);
    let mut parts = below.components();
    match (parts.next(), parts.next()) {
        (Some(first), Some(_)) => first.as_os_str().to_string_lossy().into_owned(),
        _ => String::new(),
    }
}

/// Facts that only the shop knows, as lines to be completed.
const FACTS: &str = "\
# max_rpm = 3000                  # highest spindle speed, 1/min
# max_thread_feed_mm_min = 6000   # highest feed while threading
# acceleration_m_s2 = 1.0         # of the axis while threading
# servo_time_constant_s = 0.033   # lag of the axis drive
# rapid_x_m_min = 12
# rapid_z_m_min = 15
# min_cut_mm = 0.05               # what the control uses when a cycle does not write it
";

fn proposal(places: &BTreeMap<String, Place>) -> String {
    let mut text = format!(
        "# Facts of the shop that a program cannot tell. Lines with # are proposals: complete them with\n\
         # what the machine's papers say and take the # away. `flankwise schema` describes every key.\n\n\
         [ci]\nbaseline = {}    # findings that were there at the start\n# fail_on = \"error\"             # error, warning, advice or never\n\
         # time_budget_s = 5             # most seconds that a change may add to a part (flankwise compare)\n",
        quoted(BASELINE)
    );
    // A pattern for a folder is more than one for everything, and the first that matches wins.
    let folders = places.iter().filter(|(name, _)| !name.is_empty());
    let root = places.iter().filter(|(name, _)| name.is_empty());
    for (name, place) in folders.chain(root) {
        let _ = write!(
            text,
            "\n# {}, {}{}\n[[machine]]\nid = {}\nfiles = [{}]\n{}{FACTS}",
            plural(place.programs, "program", "programs"),
            plural(place.sections, "threading section", "threading sections"),
            counted(&place.syntaxes),
            quoted(if name.is_empty() { "machine-1" } else { name }),
            quoted(&if name.is_empty() {
                "**".to_owned()
            } else {
                format!("{}/**", literal(name))
            }),
            system(place),
        );
    }
    text
}

fn counted(counts: &BTreeMap<&'static str, usize>) -> String {
    let told: Vec<_> = counts
        .iter()
        .map(|(name, count)| format!("{count} {name}"))
        .collect();
    if told.is_empty() {
        String::new()
    } else {
        format!(": {}", told.join(", "))
    }
}

/// The system line: set when every program with a thread speaks for the same one.
fn system(place: &Place) -> String {
    let known = place.families.keys().copied().filter(|name| {
        [
            Family::SystemA,
            Family::SystemB,
            Family::SystemC,
            Family::Interpreter,
            Family::Mill,
        ]
        .iter()
        .any(|family| family.name() == *name)
    });
    let known: Vec<&str> = known.collect();
    match (known.as_slice(), place.families.len()) {
        ([only], 1) => format!("system = {}\n", quoted(only)),
        ([], _) => "# system = \"A\"                  # A, B, C, interpreter or mill: the programs do not tell\n".to_owned(),
        (several, _) => format!(
            "# system = {}                  # the programs speak for: {}\n",
            quoted(several[0]),
            several.join(", ")
        ),
    }
}

/// A TOML text.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A name in a file pattern, where some characters would be patterns.
fn literal(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars() {
        if "*?[]{}!\\".contains(c) {
            let _ = write!(out, "[{c}]");
        } else {
            out.push(c);
        }
    }
    out
}
