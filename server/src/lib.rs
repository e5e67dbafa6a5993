//! What people see: the command line and the language server.

pub mod lsp;
