//! What people see: the command line and the language server.

pub mod cli;
pub mod config;
pub mod show;
