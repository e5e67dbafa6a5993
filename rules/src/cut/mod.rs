//! What a pass costs: chip area and time; how the axis gets in step; how books split the depth.

pub mod area;
pub mod drive;
pub mod passes;
pub mod rotating;
pub mod time;
