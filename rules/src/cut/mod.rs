//! What a pass costs: chip, force, time and money; how the axis gets in step; how books split the
//! depth, and the fewest passes that keep every limit.

pub mod area;
pub mod drive;
pub mod load;
pub mod material;
pub mod money;
pub mod pass_load;
pub mod passes;
pub mod plan;
pub mod rotating;
pub mod time;
