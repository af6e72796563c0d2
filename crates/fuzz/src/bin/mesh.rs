//! See `bladeform_fuzz::mesh`.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let _ = bladeform_fuzz::mesh(bytes);
});
