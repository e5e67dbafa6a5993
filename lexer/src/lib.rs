//! What the program does: bytes to blocks, blocks to motions, motions to threading sections with
//! their passes, and passes back to blocks. Knows no thread standard, no rule and no editor, and
//! does no input or output.

pub mod block;
pub mod number;
pub mod source;
pub mod token;
pub mod units;
