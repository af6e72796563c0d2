//! See `bladeform_fuzz::prediction_json`.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let _ = bladeform_fuzz::prediction_json(bytes);
});
