//! See `bladeform_fuzz::stations_csv`.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let _ = bladeform_fuzz::stations_csv(bytes);
});
