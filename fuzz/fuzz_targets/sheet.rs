//! `properties::a_sheet` on whatever the fuzzer finds.

#![no_main]

#[path = "../../shared/tests/mutations/properties.rs"]
#[expect(dead_code, reason = "each target uses one property")]
mod properties;

libfuzzer_sys::fuzz_target!(|data: &[u8]| properties::a_sheet(data));
