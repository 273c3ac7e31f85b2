//! A curve of straight pieces made ready for many members at once: a start value and a sum of clamped slopes, free of
//! branches.

use super::lanes::Lanes;
use super::real::Real;
use crate::units::{Curve, ZERO_CELSIUS_K};

/// A curve against kelvin.
#[derive(Clone, Debug)]
pub struct Ramps {
    start: f64,
    pieces: Vec<Piece>,
    /// Value of the pieces' part of the integral at the temperature it is counted from.
    integral_start: f64,
}

/// A straight piece of a curve.
#[derive(Clone, Copy, Debug)]
struct Piece {
    from_k: f64,
    width_k: f64,
    slope: f64,
}

/// Temperature from which integrals are counted, K. Any value gives the same physics.
pub(super) const INTEGRAL_FROM_K: f64 = 293.15;

impl Piece {
    /// What it adds to the value, and its slope there.
    #[inline(always)]
    fn rise<R: Real>(&self, into_k: R) -> (R, R) {
        let (none, end) = (into_k.like(0.0), into_k.like(self.width_k));
        let before_end = into_k.like(self.slope).only(into_k.below(end));
        (into_k.within(0.0, self.width_k) * self.slope, R::pick(into_k.below(none), none, before_end))
    }

    /// What it adds to the integral.
    #[inline(always)]
    fn area<R: Real>(&self, into_k: R) -> R {
        let inside = into_k.within(0.0, self.width_k);
        let beyond = (into_k - self.width_k).at_least(into_k.like(0.0));
        (inside * inside * 0.5 + beyond * self.width_k) * self.slope
    }
}

impl Ramps {
    /// The curve of °C as one of kelvin.
    #[must_use]
    pub fn of(curve: &Curve) -> Self {
        Self::scaled(curve, 1.0)
    }

    /// The curve of °C times `factor` as one of kelvin.
    #[must_use]
    pub fn scaled(curve: &Curve, factor: f64) -> Self {
        let points = curve.points();
        let piece = |pair: &[(f64, f64)]| {
            let width_k = pair[1].0 - pair[0].0;
            Piece { from_k: pair[0].0 + ZERO_CELSIUS_K, width_k, slope: (pair[1].1 - pair[0].1) * factor / width_k }
        };
        let pieces: Vec<Piece> = points.windows(2).map(piece).collect();
        let integral_start = pieces.iter().map(|piece| piece.area(INTEGRAL_FROM_K - piece.from_k)).sum();
        Self { start: points[0].1 * factor, pieces, integral_start }
    }

    /// Value and slope at `temp_k`.
    #[inline(always)]
    pub(super) fn at<R: Real>(&self, temp_k: R) -> (R, R) {
        let (mut value, mut slope) = (temp_k.like(self.start), temp_k.like(0.0));
        for piece in &self.pieces {
            let (rise, steep) = piece.rise(temp_k - piece.from_k);
            (value, slope) = (value + rise, slope + steep);
        }
        (value, slope)
    }

    /// Integral from [`INTEGRAL_FROM_K`] to `temp_k`.
    #[inline(always)]
    pub(super) fn integral<R: Real>(&self, temp_k: R) -> R {
        let mut integral = (temp_k - INTEGRAL_FROM_K) * self.start - self.integral_start;
        for piece in &self.pieces {
            integral = integral + piece.area(temp_k - piece.from_k);
        }
        integral
    }

    /// Value and slope of each lane.
    pub(super) fn lanes_at<const L: usize>(&self, temp_k: Lanes<L>) -> (Lanes<L>, Lanes<L>) {
        let pairs = temp_k.0.map(|temp_k| self.at(temp_k));
        (Lanes(pairs.map(|pair| pair.0)), Lanes(pairs.map(|pair| pair.1)))
    }
}
