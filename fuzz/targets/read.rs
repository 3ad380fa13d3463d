//! See `plumbrail_fuzz::read`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| plumbrail_fuzz::read::check(bytes));
