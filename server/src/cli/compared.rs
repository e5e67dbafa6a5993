//! Programs that stand in several of the files of a run.

use std::fs;

use rules::checks::copy_drift::{Copies, Copy, copies};
use rules::finding::Finding;

use super::Stop;
use super::args::Inputs;
use super::discover::From;
use super::examine::{Job, Result as Work, each, read_alone};

/// The numbered programs seen so far. Files come by path, so that the first copy of a program is
/// known before the others; where they are named in another order, all are read beforehand.
pub(super) struct Compared(Copies);

impl Compared {
    pub(super) fn of(jobs: &[Job], inputs: &Inputs) -> Result<Compared, Stop> {
        let mut seen = Compared(Copies::default());
        if !jobs.is_sorted_by(|a, b| a.input.path <= b.input.path) {
            let work = |job: &Job| {
                if !rereads(job) {
                    return Work::Skipped;
                }
                read_alone(job, copies)
            };
            each(jobs, inputs, work, |job, result| {
                if let Work::Done(copies) = result {
                    seen.enter(job, &copies);
                }
                Ok(())
            })?;
        }
        Ok(seen)
    }

    fn enter(&mut self, job: &Job, copies: &[Copy]) {
        self.0.enter(&job.input.path, &job.input.shown, copies);
    }

    /// What parts the programs of a file from their first copies.
    pub(super) fn drifts(&mut self, job: &Job, copies: &[Copy]) -> Vec<Finding> {
        if copies.is_empty() || !rereads(job) {
            return Vec::new();
        }
        self.enter(job, copies);
        self.0.drifts(&job.input.path, copies)
    }
}

/// Whether the input gives the same bytes a second time: a pipe does not.
fn rereads(job: &Job) -> bool {
    match job.input.from {
        From::Standard(_) => true,
        From::Nowhere(_) => false,
        From::File | From::PerhapsFile => {
            fs::metadata(&job.input.path).is_ok_and(|meta| meta.is_file())
        }
    }
}
