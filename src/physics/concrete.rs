//! How concrete lets water through, as codes for concrete have it: for comparison with them, and as a source of the jump near
//! 100 °C that the materials' own permeability curves describe.
//!
//! Bažant and Thonguthai (J. Eng. Mech. ASCE 104, 1978) give one permeability to all water, K in m/s, which rises by two
//! orders of magnitude between 95 and 105 °C when the necks of the pores open. The engine keeps gas and liquid apart
//! instead, so this is no option of it: its intrinsic permeability is nearest to K mu / (rho g) of the dry material.

/// Above this the pores' necks are open, °C.
const OPEN_FROM_C: f64 = 95.0;
/// Activation temperature Q/R, K.
const ACTIVATION_K: f64 = 2700.0;
/// Relative humidity at which transport falls off.
const FALL_OFF: f64 = 0.75;
/// Temperature at which the reference holds, K.
const REFERENCE_K: f64 = 298.15;

/// Permeability of concrete to water, m/s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ConcretePermeability {
    /// Of saturated concrete at 25 °C, m/s (1e-13 to 1e-12).
    pub reference_m_s: f64,
    /// Sharpness of the fall below the relative humidity of 0.75 (4 to 16).
    pub sharpness: f64,
}

impl ConcretePermeability {
    /// At a temperature (°C) and relative humidity (0 to 1; above 1 saturated), m/s.
    #[must_use]
    pub fn at(&self, temp_c: f64, humidity: f64) -> f64 {
        let below_c = temp_c.min(OPEN_FROM_C);
        let by_heat = (ACTIVATION_K * (1.0 / REFERENCE_K - 1.0 / (below_c + crate::units::ZERO_CELSIUS_K))).exp();
        let above_k = (temp_c - OPEN_FROM_C).max(0.0);
        let by_opening = (above_k / (0.881 + 0.214 * above_k)).exp();
        self.reference_m_s * self.by_humidity(temp_c, humidity) * by_heat * by_opening
    }

    /// Share of the saturated permeability that is left at a humidity; all of it from 95 °C on.
    fn by_humidity(&self, temp_c: f64, humidity: f64) -> f64 {
        if temp_c > OPEN_FROM_C || humidity >= 1.0 {
            return 1.0;
        }
        let dry = (0.05 + 0.95 * (temp_c - 25.0) / 70.0).clamp(0.05, 1.0);
        let fall = ((1.0 - humidity) / (1.0 - FALL_OFF)).powf(self.sharpness);
        dry + (1.0 - dry) / (1.0 + fall)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The regression list of an open finite-element code for concrete: 3.0e-10 m/s at 25 °C, sharpness 16, bone dry.
    #[test]
    fn the_jump_near_100_degrees_is_that_of_the_published_list() {
        let concrete = ConcretePermeability { reference_m_s: 3.0e-10, sharpness: 16.0 };
        let list = [
            (28.0, 2.978e-11),
            (58.0, 3.683e-10),
            (78.0, 9.053e-10),
            (93.0, 1.5688e-9),
            (98.0, 1.203_36e-8),
            (103.0, 3.671_31e-8),
            (108.0, 5.837_62e-8),
            (123.0, 9.867_35e-8),
            (153.0, 1.317_76e-7),
            (203.0, 1.512_93e-7),
            (303.0, 1.640_40e-7),
            (503.0, 1.714_21e-7),
        ];
        for (temp_c, expected) in list {
            let found = concrete.at(temp_c, 0.0);
            // The list is printed with four digits below 95 °C: half of the last one is 1.7e-4.
            let within = if temp_c < OPEN_FROM_C { 2e-4 } else { 1e-4 };
            assert!((found / expected - 1.0).abs() < within, "{temp_c} °C: {found:e} instead of {expected:e} m/s");
        }
    }

    #[test]
    fn saturated_concrete_at_25_degrees_has_its_reference() {
        let concrete = ConcretePermeability { reference_m_s: 1e-13, sharpness: 6.0 };
        assert!((concrete.at(25.0, 1.0) / 1e-13 - 1.0).abs() < 1e-12);
    }
}
