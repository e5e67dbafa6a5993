//! Thread standards: one file per family.

/// A thread (placeholder until the standards land).
#[derive(Debug, Clone)]
pub struct Thread;
