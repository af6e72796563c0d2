//! Closed propeller surfaces at any setting, and their files, from a station table.
