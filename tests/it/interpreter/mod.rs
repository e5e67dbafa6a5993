//! Our passes against the recorded output of the open RS274/NGC interpreter (stand-alone, version
//! 2.9.0~pre1; `tests/data/interpreter/README.md`): the synchronised moves of every program, and
//! what it refuses, block by block. Rapids between passes are not compared, because they are not
//! modelled.

mod canon;
mod holes;
mod programs;
mod single_blocks;
