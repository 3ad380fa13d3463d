//! See `plumbrail_fuzz::settings`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| plumbrail_fuzz::settings::check(bytes));
