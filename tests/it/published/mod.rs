//! Values that others have published, each with its source beside it.

mod acme;
mod british;
mod forms;
mod metric;
mod pipe;
mod properties;
mod sound;
mod table;
mod unified;
mod worked;
