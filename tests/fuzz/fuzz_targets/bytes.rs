//! Any bytes: packed, in any encoding, in any form.
#![no_main]

mod account;

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    account::read_all(bytes);
});
