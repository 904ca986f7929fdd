//! `properties::a_message` on whatever the fuzzer finds.

#![no_main]

mod hook;
#[path = "../../shared/tests/mutations/properties.rs"]
#[expect(dead_code, reason = "each target uses one property")]
mod properties;

libfuzzer_sys::fuzz_target!(init: hook::let_panics_be_caught(), |data: &[u8]| properties::a_message(data));
