//! See `plumbrail_fuzz::scan`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| plumbrail_fuzz::scan::check(bytes));
