//! See `bladeform_fuzz::stations_json`.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let _ = bladeform_fuzz::stations_json(bytes);
});
