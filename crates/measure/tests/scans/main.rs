//! Scans of invented blades and propellers, measured: one program, so that its tests share the processor.

#![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]
#![allow(clippy::print_stdout, reason = "`--nocapture` shows the figures")]

/// The part of the cases that is tried: all of them where the variable `BLADEFORM_EVERY_CASE` is set, which takes minutes, otherwise the first few.
fn tried<T>(cases: &[T], few: usize) -> &[T] {
    if std::env::var_os("BLADEFORM_EVERY_CASE").is_some() { cases } else { &cases[..few.min(cases.len())] }
}

mod balance;
mod blade_count;
mod blade_ends;
mod compared_blades;
mod cylinders;
mod edges_not_scanned;
mod hand_and_ends;
mod hub_size;
mod simple_outlines;
mod square_edges;
mod unlike_blades;
