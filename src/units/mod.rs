//! Quantities with their units in the type, and the curves that tabulate one against another.
//!
//! Across a module border a quantity is one of these types. Inside a formula it is an `f64` in SI with the unit at the
//! end of its name (`temp_k`, `flux_w_m2`). Conversion happens once, here.

mod curve;
pub mod quantity;

pub use curve::{Curve, CurveError};

use serde::{Deserialize, Serialize};

/// Kelvin at 0 °C (ITS-90).
pub const ZERO_CELSIUS_K: f64 = 273.15;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);
    };
}

quantity! {
    /// A temperature, degrees Celsius.
    Celsius
}
quantity! {
    /// A difference of two temperatures, kelvin. Never a temperature.
    KelvinDiff
}
quantity! {
    /// A rate of temperature change, kelvin per hour.
    KelvinPerHour
}
quantity! {
    /// A length, metres.
    Metres
}
quantity! {
    /// An area, square metres.
    SquareMetres
}
quantity! {
    /// An angle, degrees.
    Degrees
}
quantity! {
    /// A time span or a time since the start of the heat-up, seconds.
    Seconds
}
quantity! {
    /// A mass, kilograms.
    Kilograms
}
quantity! {
    /// A heat flow, watts.
    Watts
}
quantity! {
    /// A pressure, pascals. Absolute unless the name says gauge.
    Pascals
}

impl Celsius {
    /// The same temperature in kelvin.
    #[must_use]
    pub fn kelvin(self) -> f64 {
        self.0 + ZERO_CELSIUS_K
    }

    /// A temperature given in kelvin.
    #[must_use]
    pub fn from_kelvin(temp_k: f64) -> Self {
        Self(temp_k - ZERO_CELSIUS_K)
    }
}

impl std::ops::Sub for Celsius {
    type Output = KelvinDiff;

    fn sub(self, other: Self) -> KelvinDiff {
        KelvinDiff(self.0 - other.0)
    }
}

impl std::ops::Add<KelvinDiff> for Celsius {
    type Output = Self;

    fn add(self, diff: KelvinDiff) -> Self {
        Self(self.0 + diff.0)
    }
}

impl Metres {
    /// A length given in millimetres.
    #[must_use]
    pub fn from_mm(length_mm: f64) -> Self {
        Self(length_mm / 1000.0)
    }

    /// The same length in millimetres.
    #[must_use]
    pub fn mm(self) -> f64 {
        self.0 * 1000.0
    }
}

impl Seconds {
    /// A time span given in hours.
    #[must_use]
    pub fn from_hours(span_h: f64) -> Self {
        Self(span_h * 3600.0)
    }

    /// The same span in hours.
    #[must_use]
    pub fn hours(self) -> f64 {
        self.0 / 3600.0
    }
}

impl std::ops::Add for Seconds {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl std::ops::Sub for Seconds {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}
