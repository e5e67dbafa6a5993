//! A tree of programs: where the hours go, which threads are the same, what is wrong, what plans
//! would save, and what could not be judged.
//!
//! Each program is looked at alone ([`program::audit`]), which may happen on several threads; then
//! all of them are summed up ([`sum::sum`]). Seconds and plans are those of [`crate::table`] and
//! [`crate::rewrite::plan`], so that they agree with what `passes` and `plan` print.

pub mod cluster;
pub mod detail;
pub mod group;
pub mod missing;
pub mod program;
pub mod quantities;
pub mod sum;
#[cfg(test)]
mod tests;
