//! Case records as text, in any encoding and dress, to the page of what they say.

#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| underfoot_fuzz::records::through(bytes));
