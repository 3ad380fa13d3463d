//! See `plumbrail_fuzz::tables`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| plumbrail_fuzz::tables::check(bytes));
