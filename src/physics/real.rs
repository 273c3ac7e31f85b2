//! What the wall's formulas are written in: a real number, or several members' side by side.
//!
//! Every formula is written once, for a [`Real`]. With plain reals it serves one member; with a vector register of them
//! ([`Several`]) it serves as many as the machine's registers hold at the same price. [`Members`] says which members are meant,
//! reads them from [`Lanes`] and writes them back.
//!
//! [`exp`] and [`ln`] are our own because the standard library's differ between platforms and do not vectorise: the same
//! inputs must give the same verdicts bit for bit. Nothing is ever fused or reordered, so that wide vectors, narrow ones
//! and none give the same bits too.

use std::ops::{Add, Div, Mul, Neg, Sub};

use pulp::Simd;
use pulp::bytemuck;

use super::lanes::Lanes;

/// A real number, or several members' side by side.
pub trait Real:
    Copy
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
    + Add<f64, Output = Self>
    + Sub<f64, Output = Self>
    + Mul<f64, Output = Self>
{
    /// A truth for each member.
    type Truth: Copy;

    /// `value`, for as many members.
    fn like(self, value: f64) -> Self;
    /// Whether it is below `other`; never for what is not a number.
    fn below(self, other: Self) -> Self::Truth;
    /// Whether both hold.
    fn both(one: Self::Truth, other: Self::Truth) -> Self::Truth;
    /// Whether either holds.
    fn either(one: Self::Truth, other: Self::Truth) -> Self::Truth;
    /// `yes` where `truth` holds, else `no`.
    fn pick(truth: Self::Truth, yes: Self, no: Self) -> Self;
    /// Square root.
    fn sqrt(self) -> Self;
    /// Whether it is a number.
    fn is_number(self) -> Self::Truth;
    /// `f` of each member's number.
    fn map(self, f: impl Fn(f64) -> f64) -> Self;
    /// Whether `truth` holds for any.
    fn any(truth: Self::Truth) -> bool;
    /// The cubics of a table at each member's number, and their slopes.
    fn look_up<T: Cubics>(self, table: &T) -> [(Self, Self); 4];

    /// Whether it is above `other`; never for what is not a number.
    #[inline(always)]
    fn above(self, other: Self) -> Self::Truth {
        other.below(self)
    }

    /// One over it.
    #[inline(always)]
    fn over(self) -> Self {
        self.like(1.0) / self
    }

    /// What it lacks to one.
    #[inline(always)]
    fn rest(self) -> Self {
        self.like(1.0) - self
    }

    /// The value where `truth` holds, else zero.
    #[inline(always)]
    fn only(self, truth: Self::Truth) -> Self {
        Self::pick(truth, self, self.like(0.0))
    }

    /// The value, or `least` if it is not above it.
    #[inline(always)]
    fn at_least(self, least: Self) -> Self {
        Self::pick(self.above(least), self, least)
    }

    /// The value, or `most` if it is not below it.
    #[inline(always)]
    fn at_most(self, most: Self) -> Self {
        Self::pick(self.below(most), self, most)
    }

    /// The larger of two; not a number if either is.
    #[inline(always)]
    fn larger(self, other: Self) -> Self {
        let larger = Self::pick(self.above(other), self, other);
        Self::pick(self.is_number(), larger, self)
    }

    /// Kept between `low` and `high`.
    #[inline(always)]
    fn within(self, low: f64, high: f64) -> Self {
        self.at_least(self.like(low)).at_most(self.like(high))
    }

    /// Absolute value.
    #[inline(always)]
    fn abs(self) -> Self {
        Self::pick(self.below(self.like(0.0)), -self, self)
    }
}

/// Four functions tabulated as cubics over spans of the same width.
pub trait Cubics {
    /// One over the width of a span.
    const PER_WIDTH: f64;

    /// How many spans lie before reals, whole and part, from 0 to their number.
    fn spans_before<R: Real>(&self, reals: R) -> R;
    /// Number of the last span.
    fn last(&self) -> f64;
    /// Coefficients of the powers from 0 to 3, each of the four functions, over a span.
    fn span(&self, index: usize) -> &[[f64; 4]; 4];
}

/// The span in which reals lie, its number in the low bits ([`index_of`]), and the share of it that is behind them.
#[inline(always)]
fn span_and_share<T: Cubics, R: Real>(table: &T, reals: R) -> (R, R) {
    let before = table.spans_before(reals);
    // Rounded to the nearest whole number, then down.
    let nearest = (before + TWO_TO_52) - TWO_TO_52;
    let whole = R::pick(nearest.above(before), nearest - 1.0, nearest).at_most(before.like(table.last()));
    (whole + TWO_TO_52, before - whole)
}

/// The whole number that 2^52 was added to.
#[inline(always)]
fn index_of(shifted: f64) -> usize {
    (shifted.to_bits() & 0xffff_ffff) as usize
}

/// Adding this puts a whole number into the low bits of the mantissa: 2^52.
const TWO_TO_52: f64 = 4_503_599_627_370_496.0;

impl Real for f64 {
    type Truth = bool;

    #[inline(always)]
    fn like(self, value: f64) -> Self {
        value
    }

    #[inline(always)]
    fn below(self, other: Self) -> bool {
        self < other
    }

    #[inline(always)]
    fn both(one: bool, other: bool) -> bool {
        one & other
    }

    #[inline(always)]
    fn either(one: bool, other: bool) -> bool {
        one | other
    }

    #[inline(always)]
    fn pick(truth: bool, yes: Self, no: Self) -> Self {
        if truth { yes } else { no }
    }

    #[inline(always)]
    fn sqrt(self) -> Self {
        f64::sqrt(self)
    }

    #[inline(always)]
    fn is_number(self) -> bool {
        !self.is_nan()
    }

    #[inline(always)]
    fn map(self, f: impl Fn(f64) -> f64) -> Self {
        f(self)
    }

    #[inline(always)]
    fn any(truth: bool) -> bool {
        truth
    }

    #[inline(always)]
    fn look_up<T: Cubics>(self, table: &T) -> [(Self, Self); 4] {
        let (shifted, x) = span_and_share(table, self);
        let [c0, c1, c2, c3] = table.span(index_of(shifted));
        let of = |column: usize| cubic([c0[column], c1[column], c2[column], c3[column]], x, T::PER_WIDTH);
        [of(0), of(1), of(2), of(3)]
    }
}

/// The numbers of as many members as a vector register holds.
#[derive(Clone, Copy)]
pub(super) struct Several<S: Simd> {
    simd: S,
    reals: S::f64s,
}

macro_rules! by_member {
    ($trait:ident, $method:ident, $vector:ident) => {
        impl<S: Simd> $trait for Several<S> {
            type Output = Self;

            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                Self { reals: self.simd.$vector(self.reals, other.reals), ..self }
            }
        }

        impl<S: Simd> $trait<f64> for Several<S> {
            type Output = Self;

            #[inline(always)]
            fn $method(self, other: f64) -> Self {
                self.$method(self.like(other))
            }
        }
    };
}

by_member!(Add, add, add_f64s);
by_member!(Sub, sub, sub_f64s);
by_member!(Mul, mul, mul_f64s);
by_member!(Div, div, div_f64s);

impl<S: Simd> Neg for Several<S> {
    type Output = Self;

    #[inline(always)]
    fn neg(self) -> Self {
        Self { reals: self.simd.neg_f64s(self.reals), ..self }
    }
}

/// Truths of as many members as a vector register holds.
#[derive(Clone, Copy)]
pub(super) struct Truths<S: Simd> {
    simd: S,
    truths: S::m64s,
}

impl<S: Simd> Real for Several<S> {
    type Truth = Truths<S>;

    #[inline(always)]
    fn like(self, value: f64) -> Self {
        Self { reals: self.simd.splat_f64s(value), ..self }
    }

    #[inline(always)]
    fn below(self, other: Self) -> Truths<S> {
        Truths { simd: self.simd, truths: self.simd.less_than_f64s(self.reals, other.reals) }
    }

    #[inline(always)]
    fn both(one: Truths<S>, other: Truths<S>) -> Truths<S> {
        Truths { truths: one.simd.and_m64s(one.truths, other.truths), ..one }
    }

    #[inline(always)]
    fn either(one: Truths<S>, other: Truths<S>) -> Truths<S> {
        Truths { truths: one.simd.or_m64s(one.truths, other.truths), ..one }
    }

    #[inline(always)]
    fn pick(truth: Truths<S>, yes: Self, no: Self) -> Self {
        Self { reals: yes.simd.select_f64s(truth.truths, yes.reals, no.reals), ..yes }
    }

    #[inline(always)]
    fn sqrt(self) -> Self {
        Self { reals: self.simd.sqrt_f64s(self.reals), ..self }
    }

    #[inline(always)]
    fn is_number(self) -> Truths<S> {
        Truths { simd: self.simd, truths: self.simd.equal_f64s(self.reals, self.reals) }
    }

    #[inline(always)]
    fn map(self, f: impl Fn(f64) -> f64) -> Self {
        let mut out = self;
        for real in bytemuck::cast_slice_mut(std::slice::from_mut(&mut out.reals)) {
            *real = f(*real);
        }
        out
    }

    #[inline(always)]
    fn any(truth: Truths<S>) -> bool {
        let simd = truth.simd;
        let marks = simd.select_f64s(truth.truths, simd.splat_f64s(1.0), simd.splat_f64s(0.0));
        simd.reduce_sum_f64s(marks) > 0.0
    }

    #[inline(always)]
    fn look_up<T: Cubics>(self, table: &T) -> [(Self, Self); 4] {
        /// Where each member stands so that functions of different members, told apart ([`Simd::deinterleave_shfl_f64s`]),
        /// come in the members' order.
        const STANDS: [usize; MOST_ABREAST] = [0, 2, 1, 3, 4, 6, 5, 7];
        let (shifted, x) = span_and_share(table, self);
        let (shifted, x): (&[f64], &[f64]) = (
            bytemuck::cast_slice(std::slice::from_ref(&shifted.reals)),
            bytemuck::cast_slice(std::slice::from_ref(&x.reals)),
        );
        let mut powers = [[[0.0; 4]; MOST_ABREAST]; 4];
        let mut shares = [[0.0; 4]; MOST_ABREAST];
        for (member, (shifted, x)) in shifted.iter().zip(x).enumerate() {
            let at = if S::F64_LANES == MOST_ABREAST { STANDS[member] } else { member };
            for (power, coefficients) in powers.iter_mut().zip(table.span(index_of(*shifted))) {
                power[at] = *coefficients;
            }
            shares[at] = [*x; 4];
        }
        // Four registers hold the four functions of all members, one member after the other.
        let [mut values, mut slopes] = [[self.reals; 4]; 2];
        for (place, (value, slope)) in values.iter_mut().zip(&mut slopes).enumerate() {
            let [c0, c1, c2, c3] = &powers;
            let coefficients = [
                self.register(c0, place),
                self.register(c1, place),
                self.register(c2, place),
                self.register(c3, place),
            ];
            let (v, d) = cubic(coefficients, self.register(&shares, place), T::PER_WIDTH);
            (*value, *slope) = (v.reals, d.reals);
        }
        let (values, slopes) = (self.simd.deinterleave_shfl_f64s(values), self.simd.deinterleave_shfl_f64s(slopes));
        let mut columns = [(self, self); 4];
        for ((column, value), slope) in columns.iter_mut().zip(values).zip(slopes) {
            (column.0.reals, column.1.reals) = (value, slope);
        }
        columns
    }
}

impl<S: Simd> Several<S> {
    /// The register that holds the numbers at one of its places.
    #[inline(always)]
    fn register(self, rows: &[[f64; 4]; MOST_ABREAST], place: usize) -> Self {
        Self { reals: S::as_simd_f64s(rows.as_flattened()).0[place], ..self }
    }
}

/// Most members that a vector register holds.
const MOST_ABREAST: usize = 8;

/// Value and slope of a cubic at a share `x` of its span, which is one over `over` wide.
#[inline(always)]
fn cubic<R: Real>([c0, c1, c2, c3]: [R; 4], x: R, over: f64) -> (R, R) {
    (c0 + x * (c1 + x * (c2 + x * c3)), (c1 + x * (c2 * 2.0 + x * (c3 * 3.0))) * over)
}

/// Which members a pass over the wall is for.
pub(super) trait Members: Copy {
    /// Their numbers.
    type Real: Real;

    /// The same number for each.
    fn all(self, value: f64) -> Self::Real;
    /// Theirs among all members'.
    fn of<const L: usize>(self, lanes: &Lanes<L>) -> Self::Real;
    /// Puts theirs among all members'.
    fn put<const L: usize>(self, value: Self::Real, into: &mut Lanes<L>);
}

/// The member of one lane.
#[derive(Clone, Copy)]
pub(super) struct One(pub usize);

impl Members for One {
    type Real = f64;

    #[inline(always)]
    fn all(self, value: f64) -> f64 {
        value
    }

    #[inline(always)]
    fn of<const L: usize>(self, lanes: &Lanes<L>) -> f64 {
        lanes.0[self.0]
    }

    #[inline(always)]
    fn put<const L: usize>(self, value: f64, into: &mut Lanes<L>) {
        into.0[self.0] = value;
    }
}

/// The members of as many lanes as a vector register holds, from a lane on.
#[derive(Clone, Copy)]
pub(super) struct Abreast<S: Simd> {
    simd: S,
    lane: usize,
}

impl<S: Simd> Members for Abreast<S> {
    type Real = Several<S>;

    #[inline(always)]
    fn all(self, value: f64) -> Several<S> {
        Several { simd: self.simd, reals: self.simd.splat_f64s(value) }
    }

    #[inline(always)]
    fn of<const L: usize>(self, lanes: &Lanes<L>) -> Several<S> {
        let (reals, _) = S::as_simd_f64s(&lanes.0[self.lane..]);
        Several { simd: self.simd, reals: reals[0] }
    }

    #[inline(always)]
    fn put<const L: usize>(self, value: Several<S>, into: &mut Lanes<L>) {
        let (reals, _) = S::as_mut_simd_f64s(&mut into.0[self.lane..]);
        reals[0] = value.reals;
    }
}

/// A pass over the wall that is the same for all members.
pub(super) trait Pass {
    /// Does it for some of them.
    fn pass<M: Members>(&mut self, members: M);
}

/// A [`Pass`] over `L` members, as many at once as the machine's vectors hold.
pub(super) struct Over<'p, P, const L: usize>(pub &'p mut P);

impl<P: Pass, const L: usize> pulp::WithSimd for Over<'_, P, L> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let together = if S::F64_LANES > 1 { L / S::F64_LANES * S::F64_LANES } else { 0 };
        for lane in (0..together).step_by(S::F64_LANES) {
            self.0.pass(Abreast { simd, lane });
        }
        for lane in together..L {
            self.0.pass(One(lane));
        }
    }
}

/// Does `pass` for all `L` members, with the widest vectors that they fill.
pub(super) fn for_all<const L: usize>(pass: &mut impl Pass) {
    let over = Over::<_, L>(pass);
    #[cfg(any(target_arch = "x86", target_arch = "x86_64"))]
    if let (1..8, Some(four_wide)) = (L, pulp::x86::V3::try_new()) {
        return pulp::Simd::vectorize(four_wide, over);
    }
    pulp::Arch::new().dispatch(over);
}

/// The larger of two; not a number if either is.
#[inline(always)]
pub(super) fn larger(a: f64, b: f64) -> f64 {
    if a > b || a.is_nan() { a } else { b }
}

/// Adding this puts the nearest integer of a small real into the low bits of the mantissa: 1.5 * 2^52.
const ROUNDER: f64 = 6_755_399_441_055_744.0;

/// e to the power of `x`; relative error below 1e-15. Arguments beyond ±700 are taken as ±700.
#[inline(always)]
pub(super) fn exp<R: Real>(x: R) -> R {
    // ln 2 in two parts, so that subtracting a multiple of it keeps all digits (Cody and Waite).
    const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    let (low, high) = (x.like(-700.0), x.like(700.0));
    let x = R::pick(x.below(low), low, x);
    let x = R::pick(x.above(high), high, x);
    let shifted = x * std::f64::consts::LOG2_E + ROUNDER;
    let n = shifted - ROUNDER;
    let r = (x - n * LN2_HIGH) - n * LN2_LOW;
    // Taylor to the 12th power: below 2e-16 for |r| <= ln 2 / 2. Pairs first, for shorter dependency chains.
    let r2 = r * r;
    let r4 = r2 * r2;
    let p01 = r + 1.0;
    let p23 = r * (1.0 / 6.0) + 1.0 / 2.0;
    let p45 = r * (1.0 / 120.0) + 1.0 / 24.0;
    let p67 = r * (1.0 / 5_040.0) + 1.0 / 720.0;
    let p89 = r * (1.0 / 362_880.0) + 1.0 / 40_320.0;
    let pab = r * (1.0 / 39_916_800.0) + 1.0 / 3_628_800.0;
    let high = p89 + r2 * (pab + r2 * (1.0 / 479_001_600.0));
    let sum = (p01 + r2 * p23) + r4 * ((p45 + r2 * p67) + r4 * high);
    sum * shifted.map(|shifted| f64::from_bits(shifted.to_bits().wrapping_add(1023) << 52))
}

/// Natural logarithm of `x`, which must be positive and normal; relative error below 1e-15.
#[inline(always)]
pub(super) fn ln<R: Real>(x: R) -> R {
    const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    /// Bits of 1 less bits of the square root of a half: moves the split of the exponent there.
    const SPLIT: u64 = 0x3ff0_0000_0000_0000 - 0x3fe6_a09e_667f_3bcd;
    let biased = |x: f64| x.to_bits().wrapping_add(SPLIT) >> 52;
    let m = x.map(|x| f64::from_bits(x.to_bits().wrapping_sub(biased(x).wrapping_sub(1023) << 52)));
    let exponent = x.map(|x| f64::from_bits(0x4330_0000_0000_0000 | biased(x))) - (TWO_TO_52 + 1023.0);
    // ln m = 2 artanh f, with f below 0.172: odd powers up to the 21st.
    let f = (m - 1.0) / (m + 1.0);
    let s = f * f;
    let s2 = s * s;
    let s4 = s2 * s2;
    let low = (s * (1.0 / 5.0) + 1.0 / 3.0) + s2 * (s * (1.0 / 9.0) + 1.0 / 7.0);
    let mid = (s * (1.0 / 13.0) + 1.0 / 11.0) + s2 * (s * (1.0 / 17.0) + 1.0 / 15.0);
    let tail = low + s4 * (mid + s4 * (s * (1.0 / 21.0) + 1.0 / 19.0));
    let twice = f + f;
    exponent * LN2_HIGH + (twice + (twice * (s * tail) + exponent * LN2_LOW))
}

/// `base` to a whole power from 0 to 31, as a product of its square's squares, and its slope by `base`.
#[inline(always)]
pub(super) fn power<R: Real>(base: R, times: u32) -> (R, R) {
    let (mut square, mut product) = (base, base.like(1.0));
    let mut less = times.saturating_sub(1);
    while less > 0 {
        if less & 1 == 1 {
            product = product * square;
        }
        square = square * square;
        less >>= 1;
    }
    (if times == 0 { base.like(1.0) } else { product * base }, product * f64::from(times))
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

    /// A lane's place in a table, whatever is read beside it.
    struct LookUp<'t, const L: usize> {
        at: Lanes<L>,
        table: &'t crate::physics::steam::SteamTable,
        found: [[Lanes<L>; 2]; 4],
    }

    impl<const L: usize> Pass for LookUp<'_, L> {
        #[inline(always)]
        fn pass<M: Members>(&mut self, members: M) {
            for (found, (value, slope)) in self.found.iter_mut().zip(members.of(&self.at).look_up(self.table)) {
                members.put(value, &mut found[0]);
                members.put(slope, &mut found[1]);
            }
        }
    }

    fn each_lane_reads_its_own<const L: usize>() {
        let table = crate::physics::steam::SteamTable::shared(crate::physics::steam::LiquidDensity::Iapws);
        let at = Lanes::<L>::each(|lane| [293.15, 2400.0, 373.1, f64::NAN, 100.0, 500.0, 639.9, 202.0, 1e4][lane]);
        let mut pass = LookUp { at, table: &table, found: [[Lanes::ZERO; 2]; 4] };
        for_all::<L>(&mut pass);
        for lane in 0..L {
            let alone = at.0[lane].look_up(&*table);
            let bits = |(value, slope): (f64, f64)| [value.to_bits(), slope.to_bits()];
            let together = pass.found.map(|found| bits((found[0].0[lane], found[1].0[lane])));
            assert_eq!(together, alone.map(bits), "lane {lane} of {L}");
        }
    }

    #[test]
    fn every_lane_reads_its_own_place_of_a_table() {
        each_lane_reads_its_own::<1>();
        each_lane_reads_its_own::<2>();
        each_lane_reads_its_own::<4>();
        each_lane_reads_its_own::<8>();
        each_lane_reads_its_own::<9>();
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
