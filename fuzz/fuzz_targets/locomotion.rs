//! Locomotion scores as text, on either scale.

#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::input::cases::{LocomotionOptions, TableOptions, read_locomotion, read_table};
use underfoot::model::case_record::Scale;
use underfoot_fuzz::told;

fuzz_target!(|bytes: &[u8]| {
    match read_table("scores.csv", bytes, &TableOptions::default()) {
        Err(findings) => told(&findings),
        Ok(table) => {
            for (scale, skip_bad) in Scale::ALL.into_iter().zip([false, true]) {
                let options = LocomotionOptions { skip_bad, ..LocomotionOptions::default() };
                told(&read_locomotion(&table, scale, &options).1);
            }
        }
    }
});
