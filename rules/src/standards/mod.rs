//! Thread standards: one file per family.
