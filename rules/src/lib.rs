//! Is it right, and what would be better: thread standards, facts, checks and fixes. Knows no
//! editor, no terminal and no disk.

pub mod audit;
pub mod checks;
pub mod choose;
pub mod compare;
pub mod cut;
pub mod date;
pub mod facts;
pub mod finding;
pub mod fingerprint;
pub mod fix;
pub mod gauge;
pub mod identify;
pub mod judge;
pub mod measure;
pub mod missing;
pub mod nearest;
pub mod rewrite;
pub mod standards;
pub mod symptoms;
pub mod table;
pub mod waive;
