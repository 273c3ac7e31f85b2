//! Functions of one real without branches or calls, so that a loop over many becomes vector instructions.
//!
//! [`exp`] and [`ln`] are our own because the standard library's differ between platforms and do not vectorise: the same
//! inputs must give the same verdicts bit for bit. Nothing here or in the loops is ever fused or reordered, so that wide
//! vectors, narrow ones and none give the same bits too.

/// `yes` if `truth`, else `no`.
#[inline(always)]
pub(super) fn pick(truth: bool, yes: f64, no: f64) -> f64 {
    if truth { yes } else { no }
}

/// The value, or `least` if it is below.
#[inline(always)]
pub(super) fn at_least(value: f64, least: f64) -> f64 {
    if value > least { value } else { least }
}

/// The value, or `most` if it is above.
#[inline(always)]
pub(super) fn at_most(value: f64, most: f64) -> f64 {
    if value < most { value } else { most }
}

/// Kept between `low` and `high`.
#[inline(always)]
pub(super) fn within(value: f64, low: f64, high: f64) -> f64 {
    at_most(at_least(value, low), high)
}

/// The larger of two; not a number if either is.
#[inline(always)]
pub(super) fn larger(a: f64, b: f64) -> f64 {
    if a > b || a.is_nan() { a } else { b }
}

/// Adding this puts the nearest integer of a small real into the low bits of the mantissa: 1.5 * 2^52.
pub(super) const ROUNDER: f64 = 6_755_399_441_055_744.0;

/// e to the power of `x`; relative error below 1e-15. Arguments beyond ±700 are taken as ±700.
#[inline(always)]
pub(super) fn exp(x: f64) -> f64 {
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

/// Natural logarithm of `x`, which must be positive and normal; relative error below 1e-15.
#[inline(always)]
pub(super) fn ln(x: f64) -> f64 {
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

/// `base` to a whole power from 0 to 31, as a product of its square's squares, and its slope by `base`.
#[inline(always)]
pub(super) fn power(base: f64, times: u32) -> (f64, f64) {
    let less = times.saturating_sub(1);
    let mut square = base;
    let mut product = 1.0;
    for bit in [1, 2, 4, 8, 16] {
        product *= pick(less & bit != 0, square, 1.0);
        square *= square;
    }
    (pick(times == 0, 1.0, product * base), product * f64::from(times))
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
    fn powers_and_their_slopes_agree_with_the_standard_library() {
        for times in 0..=31_i32 {
            let (base, near) = (0.83_f64, 1e-14);
            let (value, slope) = power(base, times.unsigned_abs());
            let (expected, steep) = (base.powi(times), f64::from(times) * base.powi(times - 1));
            assert!((value / expected - 1.0).abs() < near && (slope - steep).abs() < near * (1.0 + steep), "{times}");
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
