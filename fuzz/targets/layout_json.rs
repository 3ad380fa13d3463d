//! See `plumbrail_fuzz::layout_json`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| plumbrail_fuzz::layout_json::check(bytes));
