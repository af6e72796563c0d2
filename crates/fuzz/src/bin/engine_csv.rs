//! See `bladeform_fuzz::engine_csv`.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let _ = bladeform_fuzz::engine_csv(bytes);
});
