//! What a pass costs: chip area and time.

pub mod area;
pub mod time;
