//! See `plumbrail_fuzz::jsonl`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| plumbrail_fuzz::jsonl::check(bytes));
