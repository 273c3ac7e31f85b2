//! Figures of a report in the units that its reader wants. The account itself is in SI and °C.

use crate::units::quantity::UnitSystem;

const FAHRENHEIT_PER_KELVIN: f64 = 1.8;
/// Pound per square inch in a megapascal (NIST SP 811: 6894.757 Pa).
const PSI_PER_MPA: f64 = 1e6 / 6894.757;
/// Avoirdupois pound (NIST SP 811).
const POUND_KG: f64 = 0.453_592_37;

/// Turns figures into what the reader wants.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Figures(pub UnitSystem);

impl Figures {
    fn choose<T>(self, metric: T, us: T) -> T {
        match self.0 {
            UnitSystem::Metric => metric,
            UnitSystem::Us => us,
        }
    }

    /// A temperature as a number.
    pub fn temp(self, temp_c: f64) -> f64 {
        self.choose(temp_c, temp_c * FAHRENHEIT_PER_KELVIN + 32.0)
    }

    /// Unit of temperatures.
    pub fn temp_unit(self) -> &'static str {
        self.choose("°C", "°F")
    }

    /// A temperature in words, without decimals.
    pub fn temp_words(self, temp_c: f64) -> String {
        format!("{:.0} {}", self.temp(temp_c), self.temp_unit())
    }

    /// A difference of temperatures in words, without decimals.
    pub fn diff_words(self, diff_k: f64) -> String {
        format!("{:.0} {}", diff_k * self.choose(1.0, FAHRENHEIT_PER_KELVIN), self.choose("K", "°F"))
    }

    /// A rise as a number.
    pub fn ramp(self, ramp_k_h: f64) -> f64 {
        ramp_k_h * self.choose(1.0, FAHRENHEIT_PER_KELVIN)
    }

    /// Unit of rises.
    pub fn ramp_unit(self) -> &'static str {
        self.choose("K/h", "°F/h")
    }

    /// A pore pressure as a number.
    pub fn pressure(self, mpa: f64) -> f64 {
        mpa * self.choose(1.0, PSI_PER_MPA)
    }

    /// Unit of pore pressures.
    pub fn pressure_unit(self) -> &'static str {
        self.choose("MPa", "psi")
    }

    /// A range of pore pressures in words.
    pub fn pressure_words(self, [low_mpa, high_mpa]: [f64; 2]) -> String {
        let decimals = self.choose(2, 0);
        let (low, high) = (self.pressure(low_mpa), self.pressure(high_mpa));
        format!("{low:.decimals$} to {high:.decimals$} {}", self.pressure_unit())
    }

    /// Water in a section as a number.
    pub fn water(self, water_kg: f64) -> f64 {
        water_kg / self.choose(1.0, POUND_KG)
    }

    /// Unit of the water in a section.
    pub fn water_unit(self) -> &'static str {
        self.choose("kg", "lb")
    }

    /// A small mass as a number: grams or ounces.
    pub fn small_mass(self, mass_kg: f64) -> String {
        self.choose(format!("{:.0}", mass_kg * 1e3), format!("{:.1}", mass_kg / POUND_KG * 16.0))
    }

    /// Unit of small masses.
    pub fn small_mass_unit(self) -> &'static str {
        self.choose("g", "oz")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST SP 811, appendix B: 1000 °F is 537.78 °C, 100 °F/h is 55.56 K/h, 1 MPa is 145.04 psi, 1 lb is 453.59 g.
    #[test]
    fn us_figures_are_those_of_the_conversion_tables() {
        let us = Figures(UnitSystem::Us);
        assert_eq!(us.temp_words(537.78), "1000 °F");
        assert_eq!(format!("{:.0} {}", us.ramp(55.56), us.ramp_unit()), "100 °F/h");
        assert_eq!(us.pressure_words([1.0, 2.0]), "145 to 290 psi");
        assert_eq!((us.small_mass(0.453_59), us.small_mass_unit()), ("16.0".to_owned(), "oz"));
    }
}
