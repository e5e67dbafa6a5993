//! Is it right, and what would be better: thread standards, facts, checks and fixes. Knows no
//! editor, no terminal and no disk.

pub mod standards;
