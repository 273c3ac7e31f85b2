//! Thermocouples: EMF of temperature and back, the cold junction, and how far a good one may be off.
//!
//! # Examples
//! ```
//! use firstheat::thermocouple::{Millivolts, Thermocouple};
//! use firstheat::units::Celsius;
//!
//! // 19.644 mV measured with the terminals at 25 °C is a junction at 500 °C.
//! let temp = Thermocouple::K.compensated(Millivolts(19.6440), Celsius(25.0))?;
//! assert!((temp.0 - 500.0).abs() < 0.01);
//! # Ok::<(), firstheat::thermocouple::EmfError>(())
//! ```

mod its90;
mod sheath;
mod tolerance;

pub use sheath::{lag, shown_of_pulse};
pub use tolerance::{Grade, Tolerance};

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::units::Celsius;

/// An EMF, millivolts.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Millivolts(pub f64);

/// Thermocouple types by their letter (IEC 60584-1).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Thermocouple {
    /// Nickel-chromium against nickel-aluminium.
    K,
    /// Nickel-chromium-silicon against nickel-silicon.
    N,
    /// Platinum with 10 % rhodium against platinum.
    S,
    /// Platinum with 13 % rhodium against platinum.
    R,
    /// Platinum with 30 % rhodium against platinum with 6 %.
    B,
    /// Iron against copper-nickel.
    J,
    /// Nickel-chromium against copper-nickel.
    E,
    /// Copper against copper-nickel.
    T,
}

/// Why there is no EMF or temperature.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum EmfError {
    /// The reference function does not reach there.
    #[error(
        "found {} °C, expected {} to {} °C, the range of type {}; correct the figure or the type",
        found.0, couple.table_begin().0, couple.table_end().0, couple.letter()
    )]
    Temp {
        /// The type.
        couple: Thermocouple,
        /// As asked for.
        found: Celsius,
    },
    /// No temperature of the type gives this EMF.
    #[error(
        "found {:.3} mV, expected {:.3} to {:.3} mV, which type {} can give; correct the figure, the unit or the type",
        found.0, couple.least().0, couple.most().0, couple.letter()
    )]
    Emf {
        /// The type.
        couple: Thermocouple,
        /// As asked for, at a reference junction of 0 °C.
        found: Millivolts,
    },
}

/// Where the EMF of type B is least, °C; below it two temperatures share each EMF, and the function is not turned round.
const B_TURNS_C: f64 = 21.020_262;

/// Temperatures are found from EMF to within this, °C; the digits of the reference function end far above.
const CLOSE_C: f64 = 1e-7;

/// The tables are printed to three decimals, so a figure from their last line may pass the end by half a digit, mV.
const PRINTED_MV: f64 = 0.000_5;

/// Far more steps than halving the longest range needs.
const MOST_STEPS: usize = 80;

impl Thermocouple {
    /// All types.
    pub const ALL: [Self; 8] = [Self::K, Self::N, Self::S, Self::R, Self::B, Self::J, Self::E, Self::T];

    /// Its letter.
    #[must_use]
    pub fn letter(self) -> &'static str {
        match self {
            Self::K => "K",
            Self::N => "N",
            Self::S => "S",
            Self::R => "R",
            Self::B => "B",
            Self::J => "J",
            Self::E => "E",
            Self::T => "T",
        }
    }

    /// The type with this letter, small or large.
    #[must_use]
    pub fn named(letter: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|couple| couple.letter().eq_ignore_ascii_case(letter))
    }

    /// Lower end of the reference function (IEC 60584-1).
    #[must_use]
    pub fn table_begin(self) -> Celsius {
        Celsius(its90::pieces(self).first().map_or(0.0, |piece| piece.from_c))
    }

    /// Upper end of the reference function (IEC 60584-1): no board can mean a higher value.
    #[must_use]
    pub fn table_end(self) -> Celsius {
        Celsius(its90::pieces(self).last().map_or(0.0, |piece| piece.to_c))
    }

    /// Hottest it bears in long use without regard to the sheath. K and N: sheet; S and R 1480, B 1700, J 760, E 870,
    /// T 370 as recommended for protected heavy wire in ASTM E230 (memory).
    #[must_use]
    pub fn service_limit(self) -> Celsius {
        Celsius(match self {
            Self::K => 1260.0,
            Self::N => 1300.0,
            Self::S | Self::R => 1480.0,
            Self::B => 1700.0,
            Self::J => 760.0,
            Self::E => 870.0,
            Self::T => 370.0,
        })
    }

    /// EMF with the reference junction at 0 °C.
    ///
    /// # Errors
    /// When `temp` is outside the range of the type.
    pub fn emf(self, temp: Celsius) -> Result<Millivolts, EmfError> {
        self.emf_and_slope(temp.0)
            .map(|(emf_mv, _)| Millivolts(emf_mv))
            .ok_or(EmfError::Temp { couple: self, found: temp })
    }

    /// Temperature of an EMF at a reference junction of 0 °C. Of type B it is the higher of two below 42 °C.
    ///
    /// # Errors
    /// When no temperature of the type gives it.
    pub fn temp(self, emf: Millivolts) -> Result<Celsius, EmfError> {
        let (least_mv, most_mv) = (self.least().0, self.most().0);
        if !(least_mv - PRINTED_MV..=most_mv + PRINTED_MV).contains(&emf.0) {
            return Err(EmfError::Emf { couple: self, found: emf });
        }
        let emf = Millivolts(emf.0.clamp(least_mv, most_mv));
        let (mut cold_c, mut hot_c) = (self.turns_c(), self.table_end().0);
        let mut temp_c = 0.5 * (cold_c + hot_c);
        for _ in 0..MOST_STEPS {
            let Some((emf_mv, slope_mv_k)) = self.emf_and_slope(temp_c) else { break };
            if emf_mv > emf.0 {
                hot_c = temp_c;
            } else {
                cold_c = temp_c;
            }
            let newton_c = temp_c - (emf_mv - emf.0) / slope_mv_k;
            let next_c = if (cold_c..=hot_c).contains(&newton_c) { newton_c } else { 0.5 * (cold_c + hot_c) };
            let step_c = (next_c - temp_c).abs();
            temp_c = next_c;
            if step_c < CLOSE_C {
                break;
            }
        }
        Ok(Celsius(temp_c))
    }

    /// Temperature of a junction whose loop gives `measured` with its terminals at `junction`. The EMFs are added, never
    /// the degrees.
    ///
    /// # Errors
    /// When `junction` or the sum is outside the range of the type.
    pub fn compensated(self, measured: Millivolts, junction: Celsius) -> Result<Celsius, EmfError> {
        self.temp(Millivolts(measured.0 + self.emf(junction)?.0))
    }

    /// EMF that a loop gives with its tip at `temp` and its terminals at `junction`.
    ///
    /// # Errors
    /// When one of them is outside the range of the type.
    pub fn loop_emf(self, temp: Celsius, junction: Celsius) -> Result<Millivolts, EmfError> {
        Ok(Millivolts(self.emf(temp)?.0 - self.emf(junction)?.0))
    }

    /// Least EMF it gives, at a reference junction of 0 °C.
    #[must_use]
    pub fn least(self) -> Millivolts {
        Millivolts(self.emf_and_slope(self.turns_c()).map_or(f64::NAN, |(emf_mv, _)| emf_mv))
    }

    /// Largest EMF it gives, at a reference junction of 0 °C.
    #[must_use]
    pub fn most(self) -> Millivolts {
        Millivolts(self.emf_and_slope(self.table_end().0).map_or(f64::NAN, |(emf_mv, _)| emf_mv))
    }

    /// From where on the EMF rises, °C.
    fn turns_c(self) -> f64 {
        if self == Self::B { B_TURNS_C } else { self.table_begin().0 }
    }

    /// EMF, mV, and how it rises, mV/K; `None` outside the range.
    fn emf_and_slope(self, temp_c: f64) -> Option<(f64, f64)> {
        let pieces = its90::pieces(self);
        let inside = |piece: &&its90::Piece| (piece.from_c..=piece.to_c).contains(&temp_c);
        pieces.iter().find(inside).map(|piece| piece.emf_and_slope(temp_c))
    }
}

impl its90::Piece {
    /// EMF, mV, and how it rises, mV/K.
    fn emf_and_slope(&self, temp_c: f64) -> (f64, f64) {
        let horner = |(emf_mv, slope_mv_k): (f64, f64), power: &f64| {
            (emf_mv.mul_add(temp_c, *power), slope_mv_k.mul_add(temp_c, emf_mv))
        };
        let (mut emf_mv, mut slope_mv_k) = self.powers.iter().rev().fold((0.0, 0.0), horner);
        if let Some([height_mv, exponent, centre_c]) = self.bell {
            let off_k = temp_c - centre_c;
            let bell_mv = height_mv * (exponent * off_k * off_k).exp();
            emf_mv += bell_mv;
            slope_mv_k += 2.0 * exponent * off_k * bell_mv;
        }
        (emf_mv, slope_mv_k)
    }
}

impl std::fmt::Display for Thermocouple {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.letter())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_emf_no_temperature_gives_is_refused_with_the_range() {
        let refused = Thermocouple::K.temp(Millivolts(60.0)).expect_err("above the table").to_string();
        assert_eq!(
            refused,
            "found 60.000 mV, expected -6.458 to 54.886 mV, which type K can give; correct the figure, the unit or the type"
        );
    }

    #[test]
    fn what_is_not_a_number_has_neither_emf_nor_temperature() {
        for couple in Thermocouple::ALL {
            assert!(couple.emf(Celsius(f64::NAN)).is_err() && couple.temp(Millivolts(f64::NAN)).is_err(), "{couple}");
        }
    }

    #[test]
    fn the_emf_of_type_b_is_least_where_it_is_said_to_turn() {
        let [before, at, after] =
            [-0.01, 0.0, 0.01].map(|off_c| Thermocouple::B.emf(Celsius(B_TURNS_C + off_c)).expect("inside"));
        let slope = Thermocouple::B.emf_and_slope(B_TURNS_C).expect("inside").1;
        assert!(at < before && at < after && slope.abs() < 1e-10, "{before:?} {at:?} {after:?} {slope}");
    }
}
