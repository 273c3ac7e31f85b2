//! A probe in ice water or in boiling water: what it should read, and what its reading there says of it.

use thiserror::Error;

use super::set::ChannelSpec;
use crate::physics::steam::saturation_pressure_pa;
use crate::thermocouple::{Grade, Thermocouple, Tolerance};
use crate::units::{Celsius, KelvinDiff, Metres};

/// A bath whose temperature is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bath {
    /// Crushed ice in water, stirred.
    Ice,
    /// Water at a rolling boil, at this height above the sea.
    Boiling {
        /// Height.
        altitude: Metres,
    },
}

/// Readings that are needed for an answer.
pub const FEWEST_READINGS: usize = 5;

/// A probe that still moves by more than this has not settled.
const SETTLED: KelvinDiff = KelvinDiff(1.5);

/// An error larger than this is no offset: something is wrong that adding a number hides.
pub const LARGEST_OFFSET: KelvinDiff = KelvinDiff(10.0);

/// Terminals of a board in a shop, taken where a wrong type is looked for.
const SHOP: Celsius = Celsius(22.0);

impl Bath {
    /// Its temperature. Boiling: the air pressure of the standard atmosphere (ISO 2533) at that height, and the temperature
    /// at which steam has it (IAPWS); weather moves it by about 0.5 K.
    #[must_use]
    pub fn temp(self) -> Celsius {
        match self {
            Self::Ice => Celsius(0.0),
            Self::Boiling { altitude } => Celsius(boiling_c(air_pressure_pa(altitude.0))),
        }
    }

    /// In words, with its temperature.
    #[must_use]
    pub fn words(self) -> String {
        let temp_c = self.temp().0;
        match self {
            Self::Ice => format!("ice water ({temp_c:.1} °C)"),
            Self::Boiling { altitude } => format!("boiling water {:.0} m above the sea ({temp_c:.1} °C)", altitude.0),
        }
    }
}

/// Air pressure at a height, Pa: troposphere of the standard atmosphere (ISO 2533).
fn air_pressure_pa(altitude_m: f64) -> f64 {
    let (ground_k, lapse_k_m, exponent) = (288.15, 0.0065, 5.255_88);
    101_325.0 * (1.0 - lapse_k_m * altitude_m / ground_k).powf(exponent)
}

/// Temperature at which water boils under this pressure, °C.
fn boiling_c(pressure_pa: f64) -> f64 {
    let (mut low_k, mut high_k) = (300.0, 400.0);
    for _ in 0..60 {
        let middle_k = 0.5 * (low_k + high_k);
        if saturation_pressure_pa(middle_k) < pressure_pa {
            low_k = middle_k;
        } else {
            high_k = middle_k;
        }
    }
    Celsius::from_kelvin(low_k).0
}

/// What a bath says of a probe.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Mean of the readings, offset of the probe file included.
    pub mean: Celsius,
    /// How far probe and board are off without any offset.
    pub error: KelvinDiff,
    /// The offset that makes it right.
    pub offset: KelvinDiff,
    /// How far it has moved since the offset in the probe file was found; `None` without its date.
    pub moved: Option<KelvinDiff>,
    /// What a usual new probe of the type may be off, where the standard says so.
    pub tolerance: Option<Tolerance>,
    /// Another type that would explain the error: the board is probably set to the wrong one.
    pub suspect: Option<Thermocouple>,
}

/// Why a bath says nothing.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum BathError {
    /// Not enough readings.
    #[error("found {found} readings of {channel}, expected {FEWEST_READINGS} or more; see `firstheat probes watch`")]
    TooFew {
        /// The channel.
        channel: String,
        /// How many.
        found: usize,
    },
    /// It moves.
    #[error(
        "found {channel} moving by {:.1} K, expected {:.1} K or less; stir, keep the tip off the glass and wait until it \
         stands",
        spread.0, SETTLED.0
    )]
    Moving {
        /// The channel.
        channel: String,
        /// From the lowest to the highest reading.
        spread: KelvinDiff,
    },
}

/// Judges the readings of a probe in a bath.
///
/// # Errors
/// When they are too few or have not settled.
pub fn judge(spec: &ChannelSpec, bath: Bath, temps: &[Celsius]) -> Result<Finding, BathError> {
    let channel = || spec.channel.to_string();
    if temps.len() < FEWEST_READINGS {
        return Err(BathError::TooFew { channel: channel(), found: temps.len() });
    }
    let lowest_c = temps.iter().map(|temp| temp.0).fold(f64::INFINITY, f64::min);
    let highest_c = temps.iter().map(|temp| temp.0).fold(f64::NEG_INFINITY, f64::max);
    let spread = KelvinDiff(highest_c - lowest_c);
    if spread > SETTLED {
        return Err(BathError::Moving { channel: channel(), spread });
    }
    let mean = Celsius(temps.iter().map(|temp| temp.0).sum::<f64>() / temps.len() as f64);
    let error = KelvinDiff(mean.0 - spec.offset.0 - bath.temp().0);
    Ok(Finding {
        mean,
        error,
        offset: KelvinDiff(-error.0),
        moved: spec.offset_date.as_ref().map(|_| mean - bath.temp()),
        tolerance: spec.couple.tolerance(Grade::IecClass2, bath.temp()),
        suspect: suspect(spec.couple, Celsius(mean.0 - spec.offset.0), bath.temp()),
    })
}

/// The type that the probe has if it shows `shown` on a board set to `set` while it is at `truth`.
fn suspect(set: Thermocouple, shown: Celsius, truth: Celsius) -> Option<Thermocouple> {
    let measured = set.loop_emf(shown, SHOP).ok()?;
    let off_k = |couple: Thermocouple| {
        couple.compensated(measured, SHOP).map_or(f64::INFINITY, |temp| (temp.0 - truth.0).abs())
    };
    let own_k = (shown.0 - truth.0).abs();
    if own_k <= LARGEST_OFFSET.0 {
        return None;
    }
    let others = Thermocouple::ALL.into_iter().filter(|couple| *couple != set && off_k(*couple) < 4.0);
    others.min_by(|one, other| off_k(*one).total_cmp(&off_k(*other)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::probe::file;

    fn spec(keys: &str) -> ChannelSpec {
        let text = format!(
            "format = \"firstheat probes 1\"\n[[port]]\npath = \"-\"\n[[port.channel]]\nname = \"hot\"\nplace = \
             \"chamber-gas\"\ntype = \"K\"\n{keys}\n"
        );
        file::parse(&text).expect("a good probe file").ports.remove(0).channels.remove(0)
    }

    fn readings(temp_c: f64) -> Vec<Celsius> {
        (0..10).map(|place| Celsius(temp_c + 0.1 * f64::from(place % 2))).collect()
    }

    /// 99.974 °C at the normal pressure (ITS-90); 95.0 °C at 1500 m and 90.0 °C at 3000 m (handbook tables, memory).
    #[test]
    fn water_boils_colder_on_a_mountain() {
        for (altitude_m, boils_c, within_k) in [(0.0, 99.974, 0.03), (1500.0, 95.0, 0.2), (3000.0, 90.0, 0.2)] {
            let found_c = Bath::Boiling { altitude: Metres(altitude_m) }.temp().0;
            assert!((found_c - boils_c).abs() < within_k, "{altitude_m} m: {found_c}");
        }
    }

    #[test]
    fn the_offset_undoes_the_error_whatever_offset_was_there() {
        let found = judge(&spec("offset = \"-0.5 K\""), Bath::Ice, &readings(1.0)).expect("settled");
        assert!((found.error.0 - 1.55).abs() < 1e-9 && (found.offset.0 + 1.55).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn a_probe_that_has_drifted_since_its_offset_was_found_is_told() {
        let found = judge(&spec("offset = \"-0.5 K\"\noffset-date = \"2026-03-14\""), Bath::Ice, &readings(3.0));
        assert!(found.expect("settled").moved.is_some_and(|moved| (moved.0 - 3.05).abs() < 1e-9));
    }

    #[test]
    fn a_probe_that_still_moves_is_not_judged() {
        let moving: Vec<Celsius> = (0..10).map(|place| Celsius(f64::from(place))).collect();
        assert!(matches!(judge(&spec(""), Bath::Ice, &moving), Err(BathError::Moving { .. })));
        assert!(matches!(judge(&spec(""), Bath::Ice, &moving[..4]), Err(BathError::TooFew { found: 4, .. })));
    }

    /// A type J probe in boiling water gives 5.268 mV - 1.120 mV (22 °C), which a board for type K takes for about 122 °C
    /// (from the tables of IEC 60584-1).
    #[test]
    fn a_probe_of_another_type_than_set_is_suspected_in_boiling_water() {
        let bath = Bath::Boiling { altitude: Metres(0.0) };
        let measured = Thermocouple::J.loop_emf(bath.temp(), Celsius(22.0)).expect("in range");
        let shown = Thermocouple::K.compensated(measured, Celsius(22.0)).expect("in range");
        let found = judge(&spec(""), bath, &readings(shown.0)).expect("settled");
        assert_eq!(found.suspect, Some(Thermocouple::J), "{shown:?}");
    }

    #[test]
    fn a_good_probe_is_not_suspected() {
        let found = judge(&spec(""), Bath::Boiling { altitude: Metres(0.0) }, &readings(101.5)).expect("settled");
        assert_eq!(found.suspect, None);
    }
}
