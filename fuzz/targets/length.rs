//! See `plumbrail_fuzz::length`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| plumbrail_fuzz::length::check(bytes));
