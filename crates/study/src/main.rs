//! Accuracy study.
fn main() {}
