//! Computations of the trade: sensors, battery and wire, fuel and air, the cycle, knock, coolant.
//!
//! Plain functions over numbers. Each says its units and where its figures come from, and its tests hold it against
//! published values. None of them judges and none of them panics: an input that makes no sense gives `None`.

pub mod air;
pub mod battery;
pub mod coolant;
pub mod cycle;
pub mod fuel;
pub mod knock;
pub mod thermistor;
pub mod thermocouple;
pub mod wire;

/// 0 degC in kelvin.
pub const KELVIN: f64 = 273.15;

#[cfg(test)]
fn near(a: f64, b: f64, by: f64) {
    assert!((a - b).abs() <= by, "{a} is not within {by} of {b}");
}
