//! How far a new thermocouple may be off: the tolerances of IEC 60584-1 and ASTM E230.
//!
//! Types K, N, R and S of IEC class 1 and 2 and K of ASTM as in makers' general sheets; every other figure and all ranges
//! from memory of IEC 60584-1:2013 and ASTM E230/E230M-17.

use super::Thermocouple;
use crate::units::{Celsius, KelvinDiff};

/// Tolerance grade of a standard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grade {
    /// IEC 60584-1 class 1, the closest.
    IecClass1,
    /// IEC 60584-1 class 2, the usual one.
    IecClass2,
    /// IEC 60584-1 class 3, for low temperatures, and for type B.
    IecClass3,
    /// ASTM E230 special, the closest.
    AstmSpecial,
    /// ASTM E230 standard, the usual one.
    AstmStandard,
}

/// A tolerance and where it is from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance {
    /// A good one is off by this at most, either way.
    pub most: KelvinDiff,
    /// The standard and its grade.
    pub source: &'static str,
}

/// A tolerance: the larger of a fixed part and a share of the temperature in °C, between two temperatures.
#[derive(Clone, Copy)]
struct Rule {
    least_k: f64,
    share: f64,
    from_c: f64,
    to_c: f64,
}

const fn rule(least_k: f64, share: f64, from_c: f64, to_c: f64) -> Rule {
    Rule { least_k, share, from_c, to_c }
}

impl Grade {
    /// All grades.
    pub const ALL: [Self; 5] =
        [Self::IecClass1, Self::IecClass2, Self::IecClass3, Self::AstmSpecial, Self::AstmStandard];

    /// The standard and the grade, in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::IecClass1 => "IEC 60584-1 class 1",
            Self::IecClass2 => "IEC 60584-1 class 2",
            Self::IecClass3 => "IEC 60584-1 class 3",
            Self::AstmSpecial => "ASTM E230 special",
            Self::AstmStandard => "ASTM E230 standard",
        }
    }

    fn rule(self, couple: Thermocouple) -> Option<Rule> {
        use Thermocouple::{B, E, J, K, N, R, S, T};
        Some(match (self, couple) {
            (Self::IecClass1, T) => rule(0.5, 0.004, -40.0, 350.0),
            (Self::IecClass1, E) => rule(1.5, 0.004, -40.0, 800.0),
            (Self::IecClass1, J) => rule(1.5, 0.004, -40.0, 750.0),
            (Self::IecClass1, K | N) => rule(1.5, 0.004, -40.0, 1000.0),
            (Self::IecClass1, R | S) => rule(1.0, 0.0, 0.0, 1600.0),
            (Self::IecClass2, T) => rule(1.0, 0.0075, -40.0, 350.0),
            (Self::IecClass2, E) => rule(2.5, 0.0075, -40.0, 900.0),
            (Self::IecClass2, J) => rule(2.5, 0.0075, -40.0, 750.0),
            (Self::IecClass2, K | N) => rule(2.5, 0.0075, -40.0, 1200.0),
            (Self::IecClass2, R | S) => rule(1.5, 0.0025, 0.0, 1600.0),
            (Self::IecClass2, B) => rule(0.0, 0.0025, 600.0, 1700.0),
            (Self::IecClass3, T) => rule(1.0, 0.015, -200.0, 40.0),
            (Self::IecClass3, E | K | N) => rule(2.5, 0.015, -200.0, 40.0),
            (Self::IecClass3, B) => rule(4.0, 0.005, 600.0, 1700.0),
            (Self::IecClass1, B) | (Self::IecClass3, J | R | S) => return None,
            (Self::AstmSpecial, T) => rule(0.5, 0.004, 0.0, 370.0),
            (Self::AstmSpecial, J) => rule(1.1, 0.004, 0.0, 760.0),
            (Self::AstmSpecial, E) => rule(1.0, 0.004, 0.0, 870.0),
            (Self::AstmSpecial, K | N) => rule(1.1, 0.004, 0.0, 1260.0),
            (Self::AstmSpecial, R | S) => rule(0.6, 0.001, 0.0, 1480.0),
            (Self::AstmSpecial, B) => rule(0.0, 0.0025, 870.0, 1700.0),
            (Self::AstmStandard, T) => rule(1.0, 0.0075, 0.0, 370.0),
            (Self::AstmStandard, J) => rule(2.2, 0.0075, 0.0, 760.0),
            (Self::AstmStandard, E) => rule(1.7, 0.005, 0.0, 870.0),
            (Self::AstmStandard, K | N) => rule(2.2, 0.0075, 0.0, 1260.0),
            (Self::AstmStandard, R | S) => rule(1.5, 0.0025, 0.0, 1480.0),
            (Self::AstmStandard, B) => rule(0.0, 0.005, 870.0, 1700.0),
        })
    }
}

impl Thermocouple {
    /// How far a new one of this grade may be off at `temp`; `None` where the standard gives no tolerance.
    #[must_use]
    pub fn tolerance(self, grade: Grade, temp: Celsius) -> Option<Tolerance> {
        let rule = grade.rule(self).filter(|rule| (rule.from_c..=rule.to_c).contains(&temp.0))?;
        let mut most_k = rule.least_k.max(rule.share * temp.0.abs());
        if grade == Grade::IecClass1 && matches!(self, Self::R | Self::S) {
            // The class has a third part: 1 K, and 0.3 % of what is above 1100 °C.
            most_k += 0.003 * (temp.0 - 1100.0).max(0.0);
        }
        Some(Tolerance { most: KelvinDiff(most_k), source: grade.words() })
    }
}
