//! See `plumbrail_fuzz::stairs`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| plumbrail_fuzz::stairs::check(bytes));
