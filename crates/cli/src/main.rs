//! The bladeform command.
fn main() {}
