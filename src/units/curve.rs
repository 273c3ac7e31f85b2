//! A property tabulated against temperature or time.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// A piecewise-linear curve through points of rising abscissa; flat outside them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Vec<(f64, f64)>", into = "Vec<(f64, f64)>")]
pub struct Curve {
    points: Vec<(f64, f64)>,
}

/// Why a list of points is not a curve.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum CurveError {
    /// There is no point at all.
    #[error("found no point, expected at least one [x, y] pair")]
    Empty,
    /// An abscissa does not rise.
    #[error("found {next} after {before}, expected every first number to be larger than the one before it")]
    NotRising {
        /// The abscissa before.
        before: f64,
        /// The one that does not rise.
        next: f64,
    },
    /// A number is infinite or not a number.
    #[error("found a point ({x}, {y}), expected finite numbers")]
    NotFinite {
        /// Abscissa.
        x: f64,
        /// Ordinate.
        y: f64,
    },
}

impl Curve {
    /// A curve through `points`, which must have rising abscissae.
    ///
    /// # Errors
    /// When there is no point, an abscissa does not rise, or a number is not finite.
    pub fn new(points: Vec<(f64, f64)>) -> Result<Self, CurveError> {
        if points.is_empty() {
            return Err(CurveError::Empty);
        }
        if let Some(&(x, y)) = points.iter().find(|(x, y)| !(x.is_finite() && y.is_finite())) {
            return Err(CurveError::NotFinite { x, y });
        }
        for pair in points.windows(2) {
            if pair[1].0 <= pair[0].0 {
                return Err(CurveError::NotRising { before: pair[0].0, next: pair[1].0 });
            }
        }
        Ok(Self { points })
    }

    /// The same value everywhere.
    #[must_use]
    pub fn constant(value: f64) -> Self {
        Self { points: vec![(0.0, value)] }
    }

    /// The points the curve runs through, abscissae rising.
    #[must_use]
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// The value at `x`; the nearest end's value outside the points.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        let after = self.points.partition_point(|point| point.0 <= x);
        if after == 0 {
            return self.points[0].1;
        }
        let (x0, y0) = self.points[after - 1];
        match self.points.get(after) {
            Some(&(x1, y1)) => y0 + (y1 - y0) * (x - x0) / (x1 - x0),
            None => y0,
        }
    }

    /// The curve with every ordinate passed through `change`.
    ///
    /// # Errors
    /// When `change` makes an ordinate that is not finite.
    pub fn map(&self, change: impl Fn(f64) -> f64) -> Result<Self, CurveError> {
        Self::new(self.points.iter().map(|&(x, y)| (x, change(y))).collect())
    }
}

impl TryFrom<Vec<(f64, f64)>> for Curve {
    type Error = CurveError;

    fn try_from(points: Vec<(f64, f64)>) -> Result<Self, CurveError> {
        Self::new(points)
    }
}

impl From<Curve> for Vec<(f64, f64)> {
    fn from(curve: Curve) -> Self {
        curve.points
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_curve_is_linear_between_its_points_and_flat_outside() {
        let curve = Curve::new(vec![(100.0, 1.0), (300.0, 3.0)]).expect("rising points");
        for (x, y) in [(0.0, 1.0), (100.0, 1.0), (150.0, 1.5), (300.0, 3.0), (900.0, 3.0)] {
            assert!((curve.at(x) - y).abs() < 1e-12, "at {x}: {} instead of {y}", curve.at(x));
        }
    }

    #[test]
    fn points_that_do_not_rise_are_refused() {
        let refused = Curve::new(vec![(1.0, 0.0), (1.0, 2.0)]);
        assert_eq!(refused, Err(CurveError::NotRising { before: 1.0, next: 1.0 }));
    }
}
