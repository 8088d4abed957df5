//! Any text as a check: read, judged over a small run, and its own cases tried. Whatever it does comes back as a finding.
#![no_main]

mod any_script;

use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    any_script::judge(text);
});
