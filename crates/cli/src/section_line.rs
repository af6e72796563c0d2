//! The option `--setting-of` of several commands: the line of a section whose angle is given.

use bladeform::table::SettingOf;
use clap::ValueEnum;

/// A line of a section whose angle is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Line {
    /// The chord line.
    Chord,
    /// The straight line of the face.
    Face,
}

/// The line that was named; by default the chord line.
pub(crate) fn setting_of(line: Option<Line>) -> SettingOf {
    if line == Some(Line::Face) { SettingOf::Face } else { SettingOf::Chord }
}
