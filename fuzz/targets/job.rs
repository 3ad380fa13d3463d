//! See `plumbrail_fuzz::job`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| plumbrail_fuzz::job::check(bytes));
