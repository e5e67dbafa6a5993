//! Values that others have published, each with its source beside it.

mod forms;
mod metric;
mod process;
mod table;
mod unified;
mod worked;
