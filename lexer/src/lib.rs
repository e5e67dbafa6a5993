//! What the program does: bytes to blocks, blocks to motions, motions to threading sections with
//! their passes, and passes back to blocks. Knows no thread standard, no rule and no editor, and
//! does no input or output.

pub mod block;
pub mod codes;
pub mod contour;
mod effects;
pub mod evidence;
mod flow;
mod group;
pub mod law;
pub mod machine;
pub mod number;
pub mod program;
pub mod section;
pub mod source;
pub mod syntax;
pub mod token;
mod trace;
pub mod units;

pub use trace::{effects, read};
