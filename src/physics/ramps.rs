//! A curve of straight pieces made ready for loops over many temperatures: a start value and a sum of clamped slopes, free
//! of branches.

use super::lanes::Lanes;
use super::real::{at_least, pick, within};
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
    #[inline(always)]
    fn rise(&self, temp_k: f64) -> f64 {
        within(temp_k - self.from_k, 0.0, self.width_k) * self.slope
    }

    #[inline(always)]
    fn slope(&self, temp_k: f64) -> f64 {
        let into = temp_k - self.from_k;
        pick(into >= 0.0, pick(into < self.width_k, self.slope, 0.0), 0.0)
    }

    #[inline(always)]
    fn area(&self, temp_k: f64) -> f64 {
        let into = temp_k - self.from_k;
        let inside = within(into, 0.0, self.width_k);
        (inside * inside * 0.5 + at_least(into - self.width_k, 0.0) * self.width_k) * self.slope
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
        let integral_start = pieces.iter().map(|piece| piece.area(INTEGRAL_FROM_K)).sum();
        Self { start: points[0].1 * factor, pieces, integral_start }
    }

    /// Value and slope at `temp_k`.
    #[must_use]
    pub fn at(&self, temp_k: f64) -> (f64, f64) {
        let (mut value, mut slope) = ([0.0], [0.0]);
        self.fill(&[temp_k], &mut value, &mut slope);
        (value[0], slope[0])
    }

    /// Value and slope of each lane.
    pub(super) fn lanes_at<const L: usize>(&self, temp_k: Lanes<L>) -> (Lanes<L>, Lanes<L>) {
        let (mut value, mut slope) = (Lanes::ZERO, Lanes::ZERO);
        self.fill(&temp_k.0, &mut value.0, &mut slope.0);
        (value, slope)
    }

    /// Values and slopes at many temperatures.
    #[inline(always)]
    pub(super) fn fill(&self, temp_k: &[f64], value: &mut [f64], slope: &mut [f64]) {
        value.fill(self.start);
        slope.fill(0.0);
        for piece in &self.pieces {
            for ((temp_k, value), slope) in temp_k.iter().zip(value.iter_mut()).zip(slope.iter_mut()) {
                *value += piece.rise(*temp_k);
                *slope += piece.slope(*temp_k);
            }
        }
    }

    /// Integrals from [`INTEGRAL_FROM_K`] to many temperatures.
    #[inline(always)]
    pub(super) fn fill_integral(&self, temp_k: &[f64], integral: &mut [f64]) {
        for (temp_k, integral) in temp_k.iter().zip(integral.iter_mut()) {
            *integral = (*temp_k - INTEGRAL_FROM_K) * self.start - self.integral_start;
        }
        for piece in &self.pieces {
            for (temp_k, integral) in temp_k.iter().zip(integral.iter_mut()) {
                *integral += piece.area(*temp_k);
            }
        }
    }
}
