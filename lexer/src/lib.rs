//! What the program does: bytes to blocks, blocks to motions, motions to threading sections with
//! their passes, and passes back to blocks. Knows no thread standard, no rule and no editor, and
//! does no input or output.

pub mod block;
pub mod codes;
pub mod contour;
mod drills;
mod effects;
pub mod evidence;
mod expression;
mod group;
pub mod hand;
pub mod law;
pub mod machine;
pub mod moved;
pub mod number;
pub mod program;
mod rotating;
mod run;
pub mod section;
pub mod source;
mod space;
pub mod syntax;
pub mod token;
mod trace;
pub mod units;

pub use run::{Alone, Callee, Library};
pub use trace::{Again, Reading, effects, read, read_with};
