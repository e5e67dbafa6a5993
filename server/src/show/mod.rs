//! How findings and pass tables look: text, the formats for machines, differences.

pub(crate) mod block;
pub(crate) mod codequality;
pub(crate) mod compare;
pub(crate) mod convert;
mod cut;
pub(crate) mod diff;
pub(crate) mod entry;
pub(crate) mod form_svg;
pub(crate) mod github;
pub(crate) mod hover;
pub(crate) mod json;
pub(crate) mod jsonl;
pub(crate) mod junit;
pub(crate) mod lengths;
pub(crate) mod mended;
pub(crate) mod missing;
pub mod page;
pub(crate) mod passes;
pub(crate) mod passes_svg;
pub(crate) mod plan;
pub(crate) mod sarif;
pub(crate) mod schema;
pub(crate) mod sheet;
pub(crate) mod sheet_json;
pub(crate) mod statistics;
pub(crate) mod summary;
pub(crate) mod text;
mod thread;
pub(crate) mod tools;
pub(crate) mod verdict;
pub mod visible;

/// The usual cautions for a changed cut.
pub(crate) const CAUTION: &str = "\
caution: a fix that changes the cut is arithmetic on the program text. It does not know offsets,
  set-up or the state of the machine. Prove the changed program out before it cuts a part: graphics
  or dry run, without a part or with the tool clear of it, single block where the control allows it
  in a thread, a hand near feed hold. Feed hold and the overrides may not act inside a pass. Cut the
  first part with the offset on the safe side and gauge it before the batch. The manuals of control
  and machine, the rules of the shop and qualified staff decide.
";

/// The same in one sentence, for an editor's confirmation.
pub(crate) const CAUTION_SHORT: &str = "This changes the cut. It is arithmetic on the text: prove \
it out clear of the part, dry run, a hand near feed hold, first part gauged; the control's manual, \
the rules of the shop and qualified staff decide.";
