//! Values that others have published, each with its source beside it.

mod acme;
mod british;
mod cost;
mod families;
mod forms;
mod metric;
mod oilfield;
mod pipe;
mod process;
mod properties;
mod small;
mod sound;
mod table;
mod trapezoidal;
mod unified;
mod worked;
