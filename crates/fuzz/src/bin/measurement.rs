//! See `bladeform_fuzz::measurement`.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let _ = bladeform_fuzz::measurement(bytes);
});
