//! The few laws the model stands on, each checked against a printed figure.

/// Gas constant of dry air, J/(kg K).
pub const R_AIR: f64 = 287.052_87;
/// Stoichiometric air to fuel of E85 by mass.
pub const AFR_E85: f64 = 9.8;
/// Lower heating value of E85, J/g.
pub const HEAT_E85: f64 = 29_200.0;
/// Density of E85, g/mL.
pub const DENSITY_E85: f64 = 0.7824;
/// Swept volume that the model stands for, m3.
pub const SWEPT: f64 = 2.5e-3;
/// Most cylinders of any engine here.
pub const MOST: usize = 12;

/// Air pressure in kPa at a geopotential height in m (U.S. Standard Atmosphere 1976).
pub fn air_pressure(height_m: f64) -> f64 {
    101.325 * (1.0 - 0.0065 * height_m / 288.15).powf(5.255_876)
}

/// Air drawn in by one cylinder in one cycle, g; pressure in kPa, volume in litres.
pub fn air_per_cycle(ve: f64, kpa: f64, litres: f64, degc: f64) -> f64 {
    1000.0 * ve * kpa * litres / (R_AIR * (degc + 273.15))
}

/// Four-stroke cycles per second.
pub fn cycles_per_s(rpm: f64) -> f64 {
    rpm / 120.0
}

/// Injector duty in percent, one injection a cycle.
pub fn duty(pulse_ms: f64, rpm: f64) -> f64 {
    100.0 * pulse_ms * rpm / 120_000.0
}

/// Rad/s of a shaft as rpm.
pub fn to_rpm(omega: f64) -> f64 {
    omega * 60.0 / std::f64::consts::TAU
}

/// One step of a first-order lag, exact for any step length.
pub fn lag(now: f64, goal: f64, dt: f64, tau: f64) -> f64 {
    goal + (now - goal) * (-dt / tau.max(1e-9)).exp()
}

/// Mass flow through a restriction, kg/s: `area` in m2, pressures in kPa, upstream degC.
/// Above 97 % of the upstream pressure the square root is replaced by a straight line.
pub fn orifice(area: f64, up: f64, down: f64, degc: f64) -> f64 {
    const G: f64 = 1.4;
    const LINEAR: f64 = 0.97;
    let scale = 0.8 * area * up * 1000.0 / (R_AIR * (degc + 273.15)).sqrt();
    let psi = |pr: f64| {
        let pr = pr.max(0.528);
        (2.0 * G / (G - 1.0) * (pr.powf(2.0 / G) - pr.powf((G + 1.0) / G))).sqrt()
    };
    let pr = down / up;
    if pr >= 1.0 {
        0.0
    } else if pr > LINEAR {
        scale * psi(LINEAR) * (1.0 - pr) / (1.0 - LINEAR)
    } else {
        scale * psi(pr)
    }
}

/// Rest voltage of a flooded six-cell battery by charge 0..1.
pub fn rest_volts(charge: f64) -> f64 {
    const TABLE: [f64; 5] = [11.89, 12.06, 12.24, 12.45, 12.65];
    let x = charge.clamp(0.0, 1.0) * 4.0;
    let i = (x as usize).min(3);
    TABLE[i] + (TABLE[i + 1] - TABLE[i]) * (x - i as f64)
}

/// Kinematic viscosity of a 10W-40 class oil, cSt (Walther's form through 95 cSt at 40 degC and
/// 14.4 cSt at 100 degC, typical data-sheet figures).
pub fn oil_viscosity(degc: f64) -> f64 {
    const B: f64 = 2.960_16;
    let kelvin = degc.clamp(-30.0, 180.0) + 273.15;
    let w = walther(14.4) - B * (kelvin / 373.15).log10();
    10.0_f64.powf(10.0_f64.powf(w)) - 0.7
}

fn walther(cst: f64) -> f64 {
    (cst + 0.7).log10().log10()
}

/// Smooth 0..1 ramp of `x` between `from` and `to`.
pub fn ramp(x: f64, from: f64, to: f64) -> f64 {
    let t = ((x - from) / (to - from)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, want: f64, within: f64) {
        assert!((got - want).abs() <= within, "got {got}, want {want}");
    }

    /// U.S. Standard Atmosphere 1976, table by geopotential height.
    #[test]
    fn pressure_by_height() {
        for (h, kpa) in [
            (0.0, 101.325),
            (250.0, 98.358),
            (500.0, 95.461),
            (1000.0, 89.875),
            (2000.0, 79.495),
            (3000.0, 70.109),
        ] {
            near(air_pressure(h), kpa, 0.002);
        }
    }

    /// Worked from m = VE p V / (R T) with the ICAO Doc 7488 gas constant.
    #[test]
    fn air_mass() {
        near(air_per_cycle(0.85, 100.0, 0.5, 25.0), 0.49658, 1e-4);
        near(air_per_cycle(0.95, 200.0, 0.5, 50.0), 1.02414, 1e-4);
        near(air_per_cycle(0.80, 40.0, 0.5, 40.0), 0.17799, 1e-4);
    }

    /// Definition of the four-stroke cycle: two turns.
    #[test]
    fn cycle_arithmetic() {
        near(cycles_per_s(4500.0) * 12.0, 450.0, 1e-9);
        near(duty(12.0, 8000.0), 80.0, 1e-9);
        near(duty(2.0, 900.0), 1.5, 1e-9);
        near(to_rpm(std::f64::consts::TAU), 60.0, 1e-9);
    }

    /// First-order step: 63.21 %, 86.47 %, 95.02 % after one, two and three time constants.
    #[test]
    fn first_order_lag() {
        for (n, part) in [(1, 0.6321), (2, 0.8647), (3, 0.9502)] {
            let mut x = 0.0;
            for _ in 0..n * 150 {
                x = lag(x, 1.0, 0.02, 3.0);
            }
            near(x, part, 1e-4);
        }
    }

    /// State-of-charge table credited to BCI: 12.65, 12.45, 12.24, 12.06, 11.89 V.
    #[test]
    fn rest_voltage() {
        near(rest_volts(1.0), 12.65, 1e-9);
        near(rest_volts(0.5), 12.24, 1e-9);
        near(rest_volts(0.9375), 12.60, 1e-3);
        near(rest_volts(0.1618), 12.00, 1e-3);
    }

    /// Choked flow of air: 0.0404 kg/s per m2 Pa at sqrt(K) (any gas dynamics textbook).
    #[test]
    fn choked_flow() {
        let want = 0.8 * 1e-4 * 0.040_42 * 100_000.0 / 293.15_f64.sqrt();
        near(orifice(1e-4, 100.0, 40.0, 20.0), want, want * 0.002);
        near(orifice(1e-4, 100.0, 100.0, 20.0), 0.0, 1e-12);
    }

    /// The two data-sheet points the curve was laid through.
    #[test]
    fn viscosity_points() {
        near(oil_viscosity(100.0), 14.4, 0.05);
        near(oil_viscosity(40.0), 95.0, 2.5);
    }
}
