//! Fuel: stoichiometry by chemistry and by blend, injector flow.

/// Mole masses, g/mol (IUPAC abridged): H, C, N, O.
const MASSES: [f64; 4] = [1.008, 12.011, 14.007, 15.999];
/// kg of dry air that brings one kmol of oxygen (composition of the U.S. Standard Atmosphere 1976; reference values,
/// section 3).
const AIR_PER_OXYGEN: f64 = 138.270;

/// kmol of oxygen that a kmol of fuel takes, and what that kmol weighs.
fn burns([c, h, o, n]: [f64; 4]) -> (f64, f64) {
    let mass = MASSES[0] * h + MASSES[1] * c + MASSES[2] * n + MASSES[3] * o;
    (c + h / 4.0 - o / 2.0, mass)
}

/// Air by mass that one part of a fuel C_c H_h O_o N_n burns with nothing left over: `(c + h/4 - o/2)` kmol of oxygen a
/// kmol of fuel.
pub fn stoich_of_formula(c: f64, h: f64, o: f64, n: f64) -> Option<f64> {
    let (oxygen, mass) = burns([c, h, o, n]);
    (mass > 0.0 && oxygen > 0.0).then(|| oxygen * AIR_PER_OXYGEN / mass)
}

/// A liquid that fuels are mixed from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Liquid {
    /// Its name.
    pub name: &'static str,
    /// C, H, O, N.
    pub formula: [f64; 4],
    /// kg/m3 at 20 degC (reference values, section 3; 745 for gasoline is an assumption, it ranges from 720 to 780).
    pub density: f64,
}

impl Liquid {
    /// Air by mass that one part of it burns.
    pub fn stoich(self) -> f64 {
        let (oxygen, mass) = burns(self.formula);
        oxygen * AIR_PER_OXYGEN / mass
    }
}

const fn of(name: &'static str, formula: [f64; 4], density: f64) -> Liquid {
    Liquid {
        name,
        formula,
        density,
    }
}

/// Gasoline, as CH1.85.
pub const GASOLINE: Liquid = of("gasoline", [1.0, 1.85, 0.0, 0.0], 745.0);
/// Ethanol.
pub const ETHANOL: Liquid = of("ethanol", [2.0, 6.0, 1.0, 0.0], 789.0);
/// Methanol.
pub const METHANOL: Liquid = of("methanol", [1.0, 4.0, 1.0, 0.0], 791.0);

/// The liquids that are known by name. Toluene's density is from memory.
pub const LIQUIDS: [Liquid; 6] = [
    GASOLINE,
    ETHANOL,
    METHANOL,
    of("nitromethane", [1.0, 3.0, 2.0, 1.0], 1135.4),
    of("iso-octane", [8.0, 18.0, 0.0, 0.0], 692.2),
    of("toluene", [7.0, 8.0, 0.0, 0.0], 866.9),
];

/// A liquid by its name.
pub fn liquid(name: &str) -> Option<Liquid> {
    LIQUIDS.into_iter().find(|l| l.name == name)
}

/// A mixture: what it burns and what it weighs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mixture {
    /// Air by mass for one part by mass.
    pub stoich: f64,
    /// kg/m3 at 20 degC.
    pub density: f64,
}

/// A mixture of liquids by parts of volume: masses add up, `sum(v rho AFR) / sum(v rho)`. The shrinking on mixing is left
/// out: it is under half a percent.
pub fn mixture(parts: &[(Liquid, f64)]) -> Option<Mixture> {
    let (mut volume, mut mass, mut air) = (0.0, 0.0, 0.0);
    for (liquid, part) in parts {
        if *part < 0.0 {
            return None;
        }
        volume += part;
        mass += part * liquid.density;
        air += part * liquid.density * liquid.stoich();
    }
    (volume > 0.0).then(|| Mixture {
        stoich: air / mass,
        density: mass / volume,
    })
}

/// Gasoline with so many % of ethanol by volume; under 0 counts as none, over 100 as all.
pub fn ethanol_blend(percent: f64) -> Mixture {
    let share = (percent / 100.0).clamp(0.0, 1.0);
    let (alcohol, petrol) = (share * ETHANOL.density, (1.0 - share) * GASOLINE.density);
    Mixture {
        stoich: (alcohol * ETHANOL.stoich() + petrol * GASOLINE.stoich()) / (alcohol + petrol),
        density: alcohol + petrol,
    }
}

/// Flow of an injector rated at a differential pressure when the difference is another one: with its square root. Both
/// pressures in one unit.
pub fn flow_at(rated_flow: f64, rated_pressure: f64, pressure: f64) -> Option<f64> {
    (rated_pressure > 0.0 && pressure >= 0.0)
        .then(|| rated_flow * (pressure / rated_pressure).sqrt())
}

/// Grams of fuel in a cycle for so many grams of air at a lambda.
pub fn fuel_grams(air_grams: f64, lambda: f64, stoich: f64) -> Option<f64> {
    (lambda > 0.0 && stoich > 0.0).then(|| air_grams / (lambda * stoich))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::near;

    /// Reference values, section 3. DOE's table: ethanol 9, gasoline 14.7; a magazine's: methanol 6.45, nitromethane 1.7.
    #[test]
    fn chemistry() {
        for (name, afr) in [
            ("methanol", 6.473),
            ("ethanol", 9.004),
            ("iso-octane", 15.130),
            ("toluene", 13.506),
            ("gasoline", 14.574),
            ("nitromethane", 1.699),
        ] {
            let [c, h, o, n] = liquid(name).unwrap().formula;
            near(stoich_of_formula(c, h, o, n).unwrap(), afr, 6e-4);
        }
        near(
            stoich_of_formula(1.0, 1.87, 0.0, 0.0).unwrap(),
            14.602,
            6e-4,
        );
        assert_eq!(stoich_of_formula(1.0, 0.0, 2.0, 0.0), None);
    }

    /// Reference values, section 3: ethanol in gasoline by volume.
    #[test]
    fn blends() {
        for (percent, afr, density) in [
            (0.0, 14.574, 745.0),
            (10.0, 13.987, 749.4),
            (51.0, 11.653, 767.4),
            (70.0, 10.609, 775.8),
            (83.0, 9.907, 781.5),
            (85.0, 9.800, 782.4),
            (100.0, 9.004, 789.0),
        ] {
            let blend = ethanol_blend(percent);
            near(blend.stoich, afr, 6e-4);
            near(blend.density, density, 0.06);
        }
        // Field notes, section 5: E51 sold as E85 needs 14 % less volume.
        let per_litre = |percent| {
            let b = ethanol_blend(percent);
            b.stoich * b.density
        };
        near(per_litre(85.0) / per_litre(51.0), 0.856, 2e-3);
        let mixed = mixture(&[(GASOLINE, 15.0), (ETHANOL, 85.0)]).unwrap();
        near(mixed.stoich, ethanol_blend(85.0).stoich, 1e-12);
        assert_eq!(mixture(&[(GASOLINE, -1.0)]), None);
    }

    /// Reference values, sections 9 and 13.
    #[test]
    fn flow_and_fuel() {
        near(flow_at(550.0, 300.0, 400.0).unwrap(), 635.1, 0.05);
        near(flow_at(550.0, 300.0, 500.0).unwrap(), 710.0, 0.06);
        near(
            1000.0 * fuel_grams(0.496_58, 0.85, 14.57).unwrap(),
            40.10,
            0.005,
        );
    }
}
