//! The `flankwise` command.

fn main() {}
