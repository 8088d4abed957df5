//! Engines of other kinds than the demo car's.
//!
//! The model is kept to the extent of 2.5 litres: whatever grows with the size of an engine (flows,
//! torques, masses, heat, currents) grows alike, so no channel of a log shows the size. What does
//! differ is written here: cylinders and their order, cycle, fuel, cells of the battery, charging,
//! boost, and how the fuel gets in. A set of more cells is the same circuit with every volt in proportion.

/// An engine with its car.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Engine {
    /// Name on the command line.
    pub name: &'static str,
    /// Firing order, as indices from 0.
    pub order: &'static [usize],
    /// Cylinders of the second bank or half, from 0; empty with one bank.
    pub second_bank: &'static [usize],
    /// Turns of the crank to one cycle: 2 or 1.
    pub turns: f64,
    /// Stoichiometric air to fuel by mass.
    pub afr: f64,
    /// Lower heating value, J/g.
    pub heat: f64,
    /// Density of the fuel, g/mL.
    pub density: f64,
    /// Rating of one injector of the 2.5 litre extent, cm3/min.
    pub injector_cc: f64,
    /// Cells of the battery.
    pub cells: f64,
    /// An alternator is fitted.
    pub charging: bool,
    /// Carburettors and an engine-driven pump in place of injection.
    pub carburettor: bool,
    /// Boost target, kPa absolute; 0 without a compressor.
    pub boost: f64,
    /// Lambda is held by a closed loop at part load.
    pub closed_loop: bool,
    /// A second set of injectors before the compressor.
    pub staged: bool,
    /// The throttle is moved by wire and has two sensors.
    pub by_wire: bool,
    /// Oil under pressure; a two-stroke has none.
    pub oil: bool,
    /// Its build sheet (TOML).
    pub sheet: &'static str,
}

impl Engine {
    /// Number of cylinders.
    pub fn cylinders(&self) -> usize {
        self.order.len()
    }

    /// Bank of a cylinder, 0 or 1.
    pub fn bank(&self, cylinder: usize) -> usize {
        usize::from(self.second_bank.contains(&cylinder))
    }

    /// Fuel by mass that this engine wants against the demo car.
    pub fn fuel_scale(&self) -> f64 {
        9.8 / self.afr
            * if self.boost > 0.0 {
                self.boost / 97.0
            } else {
                1.0
            }
    }

    /// The engine of that name.
    pub fn named(name: &str) -> Option<&'static Self> {
        ALL.iter().copied().find(|e| e.name == name)
    }
}

/// The demo car's straight six on E85.
pub static HILL_SPECIAL: Engine = Engine {
    name: "hill-special",
    order: &[0, 4, 2, 5, 1, 3],
    second_bank: &[3, 4, 5],
    turns: 2.0,
    afr: super::physics::AFR_E85,
    heat: super::physics::HEAT_E85,
    density: super::physics::DENSITY_E85,
    injector_cc: 850.0,
    cells: 6.0,
    charging: true,
    carburettor: false,
    boost: 0.0,
    closed_loop: false,
    staged: false,
    by_wire: false,
    oil: true,
    sheet: include_str!("hill-special.toml"),
};

/// 500 cm3 single on petrol.
pub static SINGLE: Engine = Engine {
    name: "single",
    order: &[0],
    second_bank: &[],
    afr: 14.6,
    heat: 43_000.0,
    density: 0.745,
    injector_cc: 3600.0,
    sheet: include_str!("engines/single.toml"),
    ..HILL_SPECIAL
};

/// Parallel twin on petrol, closed loop.
pub static TWIN: Engine = Engine {
    name: "twin",
    order: &[0, 1],
    closed_loop: true,
    injector_cc: 1800.0,
    sheet: include_str!("engines/twin.toml"),
    ..SINGLE
};

/// Turbocharged four on methanol, with a second set of injectors before the compressor, a
/// throttle moved by wire, and a battery of eight cells.
pub static TURBO_FOUR: Engine = Engine {
    name: "turbo-four",
    order: &[0, 2, 3, 1],
    second_bank: &[],
    afr: 6.473,
    heat: 19_900.0,
    density: 0.792,
    injector_cc: 2500.0,
    cells: 8.0,
    boost: 190.0,
    staged: true,
    by_wire: true,
    sheet: include_str!("engines/turbo-four.toml"),
    ..HILL_SPECIAL
};

/// V8 on petrol with two banks and a closed loop.
pub static V8: Engine = Engine {
    name: "v8",
    order: &[0, 7, 3, 2, 5, 4, 6, 1],
    second_bank: &[1, 3, 5, 7],
    closed_loop: true,
    injector_cc: 450.0,
    sheet: include_str!("engines/v8.toml"),
    ..SINGLE
};

/// Flat four with carburettors and an engine-driven fuel pump; nothing charges its battery.
pub static FLAT_FOUR: Engine = Engine {
    name: "flat-four",
    order: &[0, 3, 2, 1],
    second_bank: &[2, 3],
    carburettor: true,
    charging: false,
    sheet: include_str!("engines/flat-four.toml"),
    ..SINGLE
};

/// Two-stroke triple on petrol: every turn is a cycle.
pub static TRIPLE: Engine = Engine {
    name: "triple",
    order: &[0, 1, 2],
    turns: 1.0,
    oil: false,
    injector_cc: 1200.0,
    sheet: include_str!("engines/triple.toml"),
    ..SINGLE
};

/// V12 on petrol with a supply of 24 V.
pub static V12: Engine = Engine {
    name: "v12",
    order: &[0, 11, 4, 7, 2, 9, 5, 6, 1, 10, 3, 8],
    second_bank: &[6, 7, 8, 9, 10, 11],
    cells: 12.0,
    injector_cc: 300.0,
    sheet: include_str!("engines/v12.toml"),
    ..SINGLE
};

/// Every engine.
pub static ALL: [&Engine; 8] = [
    &HILL_SPECIAL,
    &SINGLE,
    &TWIN,
    &TURBO_FOUR,
    &V8,
    &FLAT_FOUR,
    &TRIPLE,
    &V12,
];
