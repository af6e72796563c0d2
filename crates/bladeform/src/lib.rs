//! From a scan of a propeller blade to numbers: the library
