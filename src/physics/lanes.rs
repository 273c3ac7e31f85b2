//! Several members' numbers side by side, so that one pass over the wall serves them all.
//!
//! A [`Lanes<L>`] is an array of `L` reals with element-wise arithmetic. With `L = 1` it is a plain number, so one code
//! path serves one member and many. What is done for every cell is written for one real and looped over cells and members
//! at once (`cells.rs`).

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

use super::real::larger;

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

    /// `of` each lane's index.
    #[inline(always)]
    pub fn each(of: impl FnMut(usize) -> f64) -> Self {
        Self(std::array::from_fn(of))
    }

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
