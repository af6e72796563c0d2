//! The main task, tested as a user runs it, and measurements of invented blades with known true values.

#![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]

mod bench;
mod command;
mod compare;
mod compare_blades;
mod dented;
mod dents;
mod distances;
mod feedback;
mod goldstein;
mod hostile_text;
mod instructions;
mod invariance;
mod kept_records;
mod measure_files;
mod measured;
#[cfg(target_os = "linux")]
mod outputs;
mod predict;
mod predict_options;
mod program_files;
mod published;
mod readings;
mod readme;
mod record_page;
mod repeats;
mod solid;
mod tidy;
mod told;
mod tool;
mod units;
mod usage;
