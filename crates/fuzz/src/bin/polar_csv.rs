//! See `bladeform_fuzz::polar_csv`.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let _ = bladeform_fuzz::polar_csv(bytes);
});
