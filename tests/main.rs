//! The main job, tested as a user runs it.
