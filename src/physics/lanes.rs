//! Several members' numbers side by side, so that one pass over the wall serves them all.
//!
//! A [`Lanes<L>`] is an array of `L` reals with element-wise arithmetic; the compiler turns its loops into vector
//! instructions. With `L = 1` it is a plain number, so one code path serves one member and many. [`Lanes::exp`] and
//! [`Lanes::ln`] are our own because the standard library's differ between platforms and do not vectorise: the same
//! inputs must give the same verdicts bit for bit.

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// `L` reals, one per member.
#[derive(Clone, Copy, Debug, PartialEq)]
#[repr(transparent)]
#[must_use]
pub struct Lanes<const L: usize>(pub [f64; L]);

/// `L` truths, one per member.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mask<const L: usize>(pub [bool; L]);

impl<const L: usize> Lanes<L> {
    /// Zero in every lane.
    pub const ZERO: Self = Self([0.0; L]);
    /// One in every lane.
    pub const ONE: Self = Self([1.0; L]);

    /// The same number in every lane.
    #[inline(always)]
    pub fn all(value: f64) -> Self {
        Self([value; L])
    }

    /// `f` of each lane.
    #[inline(always)]
    pub fn map(self, f: impl Fn(f64) -> f64) -> Self {
        let mut out = self;
        for lane in &mut out.0 {
            *lane = f(*lane);
        }
        out
    }

    #[inline(always)]
    fn zip(self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self {
        let mut out = self;
        for (lane, right) in out.0.iter_mut().zip(other.0) {
            *lane = f(*lane, right);
        }
        out
    }

    /// The smaller of two, lane by lane.
    #[inline(always)]
    pub fn min(self, other: Self) -> Self {
        self.zip(other, |a, b| if a < b { a } else { b })
    }

    /// The larger of two, lane by lane.
    #[inline(always)]
    pub fn max(self, other: Self) -> Self {
        self.zip(other, |a, b| if a > b { a } else { b })
    }

    /// The larger of two, lane by lane; not a number if either is.
    #[inline(always)]
    pub fn max_or_nan(self, other: Self) -> Self {
        self.zip(other, larger)
    }

    /// Absolute value.
    #[inline(always)]
    pub fn abs(self) -> Self {
        self.map(f64::abs)
    }

    /// Kept between `low` and `high`.
    #[inline(always)]
    pub fn clamp(self, low: f64, high: f64) -> Self {
        self.max(Self::all(low)).min(Self::all(high))
    }

    /// Lane by lane, whether this is below `other`.
    #[inline(always)]
    #[must_use]
    pub fn below(self, other: Self) -> Mask<L> {
        let mut out = [false; L];
        for ((truth, left), right) in out.iter_mut().zip(self.0).zip(other.0) {
            *truth = left < right;
        }
        Mask(out)
    }

    /// The largest lane. A lane that is not a number makes the result not a number.
    #[inline(always)]
    pub fn largest(self) -> f64 {
        self.0.iter().copied().fold(f64::NEG_INFINITY, larger)
    }

    /// Whether every lane is finite.
    #[inline(always)]
    #[must_use]
    pub fn is_finite(self) -> bool {
        self.0.iter().all(|lane| lane.is_finite())
    }

    /// e to the power of each lane; relative error below 1e-15. Arguments beyond ±700 are taken as ±700.
    #[inline(always)]
    pub fn exp(self) -> Self {
        self.map(exp)
    }

    /// Natural logarithm of each lane, which must be positive and normal; relative error below 1e-15.
    #[inline(always)]
    pub fn ln(self) -> Self {
        self.map(ln)
    }
}

impl<const L: usize> Mask<L> {
    /// Lane by lane, `yes` where true, else `no`.
    #[inline(always)]
    pub fn pick(self, yes: Lanes<L>, no: Lanes<L>) -> Lanes<L> {
        let mut out = no;
        for ((lane, truth), value) in out.0.iter_mut().zip(self.0).zip(yes.0) {
            *lane = if truth { value } else { *lane };
        }
        out
    }

    /// Whether any lane is true.
    #[inline(always)]
    #[must_use]
    pub fn any(self) -> bool {
        self.0.iter().any(|&truth| truth)
    }
}

/// The larger of two; not a number if either is.
#[inline(always)]
pub(super) fn larger(a: f64, b: f64) -> f64 {
    if a > b || a.is_nan() { a } else { b }
}

/// Adding this puts the nearest integer of a small real into the low bits of the mantissa: 1.5 * 2^52.
const ROUNDER: f64 = 6_755_399_441_055_744.0;

#[inline(always)]
fn exp(x: f64) -> f64 {
    // ln 2 in two parts, so that subtracting a multiple of it keeps all digits (Cody and Waite).
    const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    let x = if x < -700.0 { -700.0 } else { x };
    let x = if x > 700.0 { 700.0 } else { x };
    let shifted = x * std::f64::consts::LOG2_E + ROUNDER;
    let n = shifted - ROUNDER;
    let r = (x - n * LN2_HIGH) - n * LN2_LOW;
    // Taylor to the 12th power: below 2e-16 for |r| <= ln 2 / 2. Pairs first, for shorter dependency chains.
    let r2 = r * r;
    let r4 = r2 * r2;
    let p01 = 1.0 + r;
    let p23 = 1.0 / 2.0 + r * (1.0 / 6.0);
    let p45 = 1.0 / 24.0 + r * (1.0 / 120.0);
    let p67 = 1.0 / 720.0 + r * (1.0 / 5_040.0);
    let p89 = 1.0 / 40_320.0 + r * (1.0 / 362_880.0);
    let pab = 1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0);
    let high = p89 + r2 * (pab + r2 * (1.0 / 479_001_600.0));
    let sum = (p01 + r2 * p23) + r4 * ((p45 + r2 * p67) + r4 * high);
    let scale = f64::from_bits(shifted.to_bits().wrapping_add(1023) << 52);
    sum * scale
}

#[inline(always)]
fn ln(x: f64) -> f64 {
    const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    /// Bits of 1 less bits of the square root of a half: moves the split of the exponent there.
    const SPLIT: u64 = 0x3ff0_0000_0000_0000 - 0x3fe6_a09e_667f_3bcd;
    const TWO_TO_52: f64 = 4_503_599_627_370_496.0;
    let bits = x.to_bits();
    let biased = bits.wrapping_add(SPLIT) >> 52;
    let m = f64::from_bits(bits.wrapping_sub(biased.wrapping_sub(1023) << 52));
    let exponent = f64::from_bits(0x4330_0000_0000_0000 | biased) - (TWO_TO_52 + 1023.0);
    // ln m = 2 artanh f, with f below 0.172: odd powers up to the 21st.
    let f = (m - 1.0) / (m + 1.0);
    let s = f * f;
    let s2 = s * s;
    let s4 = s2 * s2;
    let low = (1.0 / 3.0 + s * (1.0 / 5.0)) + s2 * (1.0 / 7.0 + s * (1.0 / 9.0));
    let mid = (1.0 / 11.0 + s * (1.0 / 13.0)) + s2 * (1.0 / 15.0 + s * (1.0 / 17.0));
    let tail = low + s4 * (mid + s4 * (1.0 / 19.0 + s * (1.0 / 21.0)));
    let twice = f + f;
    exponent * LN2_HIGH + (twice + (twice * (s * tail) + exponent * LN2_LOW))
}

macro_rules! elementwise {
    ($trait:ident, $method:ident, $op:tt) => {
        impl<const L: usize> $trait for Lanes<L> {
            type Output = Self;

            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                self.zip(other, |a, b| a $op b)
            }
        }

        impl<const L: usize> $trait<f64> for Lanes<L> {
            type Output = Self;

            #[inline(always)]
            fn $method(self, other: f64) -> Self {
                self.map(|a| a $op other)
            }
        }
    };
}

elementwise!(Add, add, +);
elementwise!(Sub, sub, -);
elementwise!(Mul, mul, *);
elementwise!(Div, div, /);

impl<const L: usize> Neg for Lanes<L> {
    type Output = Self;

    #[inline(always)]
    fn neg(self) -> Self {
        self.map(|a| -a)
    }
}

impl<const L: usize> AddAssign for Lanes<L> {
    #[inline(always)]
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl<const L: usize> SubAssign for Lanes<L> {
    #[inline(always)]
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exp_agrees_with_the_standard_library() {
        for step in -7000..7000 {
            let x = f64::from(step) * 0.0997;
            let error = exp(x) / x.exp() - 1.0;
            assert!(error.abs() < 2e-15, "exp({x}) is off by {error}");
        }
    }

    #[test]
    fn ln_agrees_with_the_standard_library() {
        for step in -6000..6000 {
            let x = (f64::from(step) * 0.1171).exp();
            let error = ln(x) - x.ln();
            assert!(error.abs() < 2e-15 * (1.0 + x.ln().abs()), "ln({x}) is off by {error}");
        }
    }
}
