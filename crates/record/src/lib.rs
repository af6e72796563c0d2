//! The record: one self-contained page of a measured blade that a person reads and keeps.
