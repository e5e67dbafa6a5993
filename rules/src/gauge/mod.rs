//! What the passes leave behind: the tool's profile is laid into the work at every pass, and the
//! groove that is left is measured as a gauge would.
//!
//! Plane geometry in the plane of the axis (derived; where a closed form exists the tests hold the
//! two together). It takes the tool to be measured at its tip, all offsets to be zero, the lead to
//! be true, and tool and work not to give way.

mod edge;
pub mod envelope;
pub mod finished;
pub mod groove;
pub mod laid;
pub mod profile;
pub mod section;
pub mod verdict;
