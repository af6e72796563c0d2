//! Scans of invented blades and propellers, measured: one program, so that its tests share the processor.

#![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]
#![allow(clippy::print_stdout, reason = "`--nocapture` shows the figures")]

mod blade_count;
mod blade_ends;
mod edges_not_scanned;
mod hand_and_ends;
mod simple_outlines;
mod square_edges;
mod unlike_blades;
