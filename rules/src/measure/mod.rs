//! What a thread comes to in the shop: over which wires it is measured, how deep a tool of a given
//! nose must go, what a coating adds, which hole is drilled first, which gauges decide.
//!
//! All lengths are millimetres, diameters are diameters, depths are radial. Every function takes
//! the form and the limits of a [`Thread`](crate::standards::thread::Thread) and knows no family
//! by name; [`sheet`] gathers everything for one thread.

pub mod coating;
pub mod drill;
pub mod drill_name;
mod drill_sizes;
pub mod first_article;
pub mod gauge_names;
pub mod mill;
pub mod outline;
pub mod sheet;
pub mod starts;
pub mod taper;
pub mod tool;
pub mod vee;
pub mod wires;
