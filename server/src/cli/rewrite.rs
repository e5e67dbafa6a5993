//! One thread of one program, and what becomes of its text: what `plan` and `convert` share.

use std::path::{Path, PathBuf};

use lexer::program::Program;
use rules::judge::{Judgement, judge};
use rules::rewrite::{Job, Reread};

use super::args::{Inputs, Source as Options};
use super::discover::From;
use super::examine::{self, Job as Source};
use super::{Exit, Stop, Streams, passes, write};
use crate::show::{CAUTION, diff, visible};

/// A thread that was asked for.
pub(super) struct Asked {
    source: Source,
    bytes: Vec<u8>,
    program: Program,
    judgement: Judgement,
    index: usize,
}

impl Asked {
    /// Reads the program and finds the thread: by its line, or the only one.
    pub(super) fn read(
        path: &Path,
        source: &Options,
        streams: &mut Streams<'_>,
    ) -> Result<Asked, Stop> {
        let (file, line) = passes::split(path);
        let inputs = Inputs {
            source: source.clone(),
            ..Inputs::default()
        };
        let mut sources = examine::jobs(&[file], &inputs, streams)?.jobs;
        let wrong = |streams: &mut Streams<'_>, why: &str, exit: Exit| match writeln!(
            streams.err,
            "error: {why}"
        ) {
            Ok(()) => Stop::Said(exit),
            Err(error) => Stop::Output(error),
        };
        let source = match (sources.pop(), sources.is_empty()) {
            (Some(source), true) => source,
            _ => {
                let why = "name one program, with the line of its thread: FILE:LINE";
                return Err(wrong(streams, why, Exit::Usage));
            }
        };
        let shown = source.input.shown.clone();
        let bytes = match source.input.read() {
            Ok(Some(bytes)) => bytes,
            Ok(None) => {
                return Err(wrong(
                    streams,
                    &format!("{shown} is no program"),
                    Exit::Usage,
                ));
            }
            Err(why) => {
                examine::say_unread(streams, &source, &why)?;
                return Err(Stop::Said(Exit::Unread));
            }
        };
        let program = lexer::read(&bytes, &source.settings);
        let lines: Vec<(u32, u32)> = program
            .sections
            .iter()
            .map(|section| (section.first_line, section.last_line))
            .collect();
        let index = match line {
            None if lines.len() == 1 => Some(0),
            None => None,
            Some(line) => lines
                .iter()
                .position(|(first, last)| (*first..=*last).contains(&line)),
        };
        let Some(index) = index else {
            let places = match line {
                None if !lines.is_empty() => {
                    let all = passes::places(&lines);
                    format!("it has several threads: name a line of one, {all}")
                }
                _ => passes::told(&lines),
            };
            return Err(wrong(streams, &format!("{shown}: {places}"), Exit::Usage));
        };
        let judgement = judge(&bytes, &program, &source.settings, &source.facts);
        Ok(Asked {
            source,
            bytes,
            program,
            judgement,
            index,
        })
    }

    /// The thread for the rules.
    pub(super) fn job(&self) -> Job<'_> {
        Job {
            bytes: &self.bytes,
            program: &self.program,
            settings: &self.source.settings,
            facts: &self.source.facts,
            judgement: &self.judgement,
            index: self.index,
        }
    }

    /// How messages call the program.
    pub(super) fn shown(&self) -> &str {
        &self.source.input.shown
    }

    /// Facts of its shop.
    pub(super) fn facts(&self) -> &rules::facts::Facts {
        &self.source.facts
    }

    /// Says why nothing was written.
    pub(super) fn refuse(
        &self,
        streams: &mut Streams<'_>,
        what: &str,
        why: &str,
    ) -> Result<Exit, Stop> {
        let section = &self.program.sections[self.index];
        writeln!(
            streams.err,
            "error: {}:{}: {what}: {}",
            self.shown(),
            section.first_line,
            visible::text(why)
        )?;
        Ok(Exit::Usage)
    }

    /// Prints the difference, writes the program, or prints `report`, with the caution on standard
    /// error where the cut or its text changes.
    pub(super) fn carry_out(
        &self,
        streams: &mut Streams<'_>,
        reread: Option<&Reread>,
        how: How,
        report: &str,
    ) -> Result<Exit, Stop> {
        let Some(reread) = reread else {
            write!(streams.out, "{report}")?;
            return Ok(Exit::Clean);
        };
        let mut exit = Exit::Clean;
        match how {
            How::Report => write!(streams.out, "{report}")?,
            How::Diff => {
                let shown = diff::unified(self.shown(), &self.bytes, &reread.bytes);
                write!(streams.out, "{shown}")?;
                exit = Exit::Findings;
            }
            How::Apply => {
                if let From::Standard(_) = self.source.input.from {
                    streams.out.write_all(&reread.bytes)?;
                    write!(streams.err, "{report}")?;
                } else {
                    let path: &PathBuf = &self.source.input.path;
                    if let Err(why) = write::replace(path, &self.bytes, &reread.bytes) {
                        examine::say_unread(streams, &self.source, &why)?;
                        return Ok(Exit::Unread);
                    }
                    write!(streams.out, "{report}")?;
                }
            }
        }
        writeln!(streams.err, "{CAUTION}")?;
        Ok(exit)
    }
}

/// What is wanted of a change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum How {
    /// To be told of it.
    Report,
    /// As a difference.
    Diff,
    /// In the program.
    Apply,
}

impl How {
    pub(super) fn of(diff: bool, apply: bool) -> How {
        match (diff, apply) {
            (true, _) => How::Diff,
            (_, true) => How::Apply,
            _ => How::Report,
        }
    }
}
