//! What a pass costs: chip area and time; how the axis gets in step; how books split the depth, and
//! the fewest passes that keep every limit.

pub mod area;
pub mod drive;
pub mod passes;
pub mod plan;
pub mod time;
