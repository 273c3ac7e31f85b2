//! Doubts about a value that is a number like any other: noise, shorted wires, a standing instrument, probes that contradict
//! each other.
//!
//! What is doubted is never changed: the reading goes to the log as it came, it is only not believed.

use std::collections::VecDeque;

use statrs::function::erf::erf;

use crate::reading::{Fault, Place};
use crate::thermocouple::{Thermocouple, lag};
use crate::units::{Celsius, Metres};

/// A reading this far from where the last ones lead to waits for the next one, K. Above the noise of a sound loop (a few
/// tenths to a few kelvins; common practice).
const ASTRAY_K: f64 = 12.0;

/// Readings further apart than this are not compared: a flame can have done anything meanwhile, s.
const COMPARED_WITHIN_S: f64 = 4.0;

/// So many strays within [`JUMPS_WITHIN_S`] are a fault.
const JUMPS: usize = 3;

/// Time in which strays are counted, s (a sensor fault shows within 10 s).
const JUMPS_WITHIN_S: f64 = 10.0;

/// A probe this much hotter than the air cannot have its temperature a moment later, K.
const HOT_K: f64 = 60.0;

/// Terminals are about as warm as the air, K.
const AIR_K: f64 = 15.0;

/// What a reading is, seen against those before it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Seen {
    /// Like the others.
    Good,
    /// Astray; the next one tells whether it was noise.
    Stray,
    /// One of many strays.
    Jumping,
    /// At once as warm as the air, and staying there.
    Shorted,
}

/// Tells single disturbed readings from a real rise. Nothing that goes on for two readings is held back.
#[derive(Clone, Debug, Default)]
pub(super) struct Gate {
    last: Option<(f64, f64)>,
    slope_k_s: f64,
    stray_c: Option<f64>,
    strays_s: VecDeque<f64>,
    is_shorted: bool,
}

impl Gate {
    /// Takes the next reading.
    pub fn take(&mut self, now_s: f64, temp_c: f64, ambient_c: f64) -> Seen {
        while self.strays_s.front().is_some_and(|at_s| now_s - at_s > JUMPS_WITHIN_S) {
            self.strays_s.pop_front();
        }
        let Some((last_s, last_c)) = self.last.filter(|(at_s, _)| now_s - at_s <= COMPARED_WITHIN_S) else {
            self.stray_c = None;
            self.slope_k_s = 0.0;
            return self.good(now_s, temp_c, ambient_c);
        };
        let span_s = now_s - last_s;
        let allowed_k = ASTRAY_K + 2.0 * self.slope_k_s.abs() * span_s;
        let is_near = (temp_c - last_c).abs() <= allowed_k;
        match self.stray_c.take() {
            Some(_) if is_near => self.strays_s.push_back(now_s),
            None if is_near => {}
            Some(stray_c) if goes_on(last_c, stray_c, temp_c) => {
                let air = ambient_c - AIR_K..=ambient_c + AIR_K;
                self.is_shorted |= last_c > ambient_c + HOT_K && air.contains(&stray_c) && air.contains(&temp_c);
            }
            stray_c => {
                if stray_c.is_some() {
                    self.strays_s.push_back(now_s);
                }
                self.stray_c = Some(temp_c);
                return if self.strays_s.len() >= JUMPS { Seen::Jumping } else { Seen::Stray };
            }
        }
        if span_s > 0.0 {
            self.slope_k_s = (temp_c - last_c) / span_s;
        }
        self.good(now_s, temp_c, ambient_c)
    }

    fn good(&mut self, now_s: f64, temp_c: f64, ambient_c: f64) -> Seen {
        self.last = Some((now_s, temp_c));
        self.is_shorted &= temp_c < ambient_c + 2.0 * AIR_K;
        if self.is_shorted {
            return Seen::Shorted;
        }
        if self.strays_s.len() >= JUMPS { Seen::Jumping } else { Seen::Good }
    }
}

/// Whether `temp_c` is as far from `last_c` as the stray was, or at least half as far, on the same side.
fn goes_on(last_c: f64, stray_c: f64, temp_c: f64) -> bool {
    let (first_k, second_k) = (stray_c - last_c, temp_c - last_c);
    first_k * second_k > 0.0 && second_k.abs() >= 0.5 * first_k.abs()
}

/// Readings of one block, over which noise is measured.
const BLOCK: usize = 40;

/// Blocks that are remembered. The quietest of them counts, because a blower or an igniter makes a line restless only
/// while it runs.
const BLOCKS: usize = 4;

/// A chance this small of a sound instrument standing still is taken for a fault. At one reading a second it is met once
/// in thirty years.
const CHANCE: f64 = 1e-9;

/// Fewest readings in a row that are called standing still.
const FEWEST_SAME: u32 = 7;

/// Less noise than this, in digits, is not told apart from a slope in steps, which looks like up to 0.43 digits, and a sound
/// instrument may stand for minutes.
const LEAST_NOISE: f64 = 0.6;

/// Share of a block's bends that is looked at; the largest are flames and sparks.
const CALM_SHARE: f64 = 0.9;

/// Mean square of a normal number of which the tenth that is furthest out is left away (1 - 2 x phi(x) / 0.9 at x = 1.645).
const CALM_SQUARE: f64 = 0.623;

/// How restless the digits of a channel are.
#[derive(Clone, Debug, Default)]
pub(super) struct Texture {
    block_c: Vec<f64>,
    blocks: VecDeque<Noise>,
    last_c: Option<f64>,
    same: u32,
    longest: u32,
}

/// What a block of readings says of the noise.
#[derive(Clone, Copy, Debug)]
struct Noise {
    /// Variance, that of rounding with it, K².
    variance_k2: f64,
    /// Smallest step, K.
    digit_k: f64,
    /// Most readings in a row that were the same.
    longest: u32,
}

impl Texture {
    /// Takes the next raw reading.
    pub fn take(&mut self, temp_c: f64) {
        let Some(last_c) = self.last_c.replace(temp_c) else {
            self.block_c.push(temp_c);
            return;
        };
        if last_c.total_cmp(&temp_c).is_eq() {
            self.same = self.same.saturating_add(1);
            return;
        }
        // A stand that was taken for a fault says nothing of the noise.
        if !self.stands_still() {
            self.longest = self.longest.max(self.same);
            let again = usize::try_from(self.same).unwrap_or(BLOCK).min(BLOCK);
            self.block_c.extend(std::iter::repeat_n(last_c, again));
        }
        self.same = 0;
        self.block_c.push(temp_c);
        if self.block_c.len() >= BLOCK {
            self.blocks.extend(Noise::of(&self.block_c, self.longest));
            if self.blocks.len() > BLOCKS {
                self.blocks.pop_front();
            }
            self.block_c.clear();
            self.block_c.push(temp_c);
            self.longest = 0;
        }
    }

    /// Whether the value has stood for longer than the noise before lets a sound instrument stand.
    ///
    /// With noise of r digits no value has a larger chance than erf(1 / (r sqrt 8)): 38 % at one digit, so that 22 readings
    /// are needed, and 16 % at two and a half, where 11 are enough. A board that sends each conversion several times is known by its
    /// runs.
    pub fn stands_still(&self) -> bool {
        let longest = self.blocks.iter().map(|noise| noise.longest).max().unwrap_or(0).max(self.longest);
        if self.same < FEWEST_SAME || self.same < 2 * longest {
            return false;
        }
        let Some(digits) = self.noise_digits().filter(|digits| *digits >= LEAST_NOISE) else { return false };
        let chance = erf(0.5 / (digits * std::f64::consts::SQRT_2));
        f64::from(self.same) * chance.ln() < CHANCE.ln()
    }

    /// Standard deviation of the noise in the quietest block, digits.
    fn noise_digits(&self) -> Option<f64> {
        let variance_k2 = self.blocks.iter().map(|noise| noise.variance_k2).reduce(f64::min)?;
        let digit_k = self.blocks.iter().map(|noise| noise.digit_k).reduce(f64::min)?;
        // Rounding alone has a twelfth of the digit's square.
        Some((variance_k2 - digit_k * digit_k / 12.0).max(0.0).sqrt() / digit_k)
    }
}

impl Noise {
    /// The noise of readings in a row; the slope is taken out by second differences.
    fn of(temps_c: &[f64], longest: u32) -> Option<Self> {
        let steps = temps_c.windows(2).map(|pair| (pair[1] - pair[0]).abs()).filter(|step_k| *step_k > 1e-9);
        let digit_k = steps.fold(f64::INFINITY, f64::min);
        let mut bends_k: Vec<f64> =
            temps_c.windows(3).map(|three| (three[0] - 2.0 * three[1] + three[2]).abs()).collect();
        bends_k.sort_by(f64::total_cmp);
        bends_k.truncate((CALM_SHARE * bends_k.len() as f64) as usize);
        if bends_k.is_empty() || !digit_k.is_finite() {
            return None;
        }
        let square = bends_k.iter().map(|bend_k| bend_k * bend_k).sum::<f64>() / bends_k.len() as f64;
        // A bend has 1 + 4 + 1 times the variance of a reading.
        Some(Self { variance_k2: square / (6.0 * CALM_SQUARE), digit_k, longest })
    }
}

/// Time over which a slope is taken, and for which what a probe said still counts, s.
const REACH_S: f64 = 5.0;

/// Fewest readings in that time that give a slope.
const REACH_READINGS: usize = 3;

/// Part and multiple of a sheath's time constant in still air that it may have in a furnace: a flame quickens it, and a tip
/// in a pocket of cement is slower.
const REACH_LAGS: [f64; 2] = [0.3, 2.0];

/// Longest time constant of a probe whose sheath is not known, s: 8 mm in still air.
const UNKNOWN_LAG_S: f64 = 130.0;

/// Where the truth can be behind what a lagging probe shows: a first-order sheath of time constant tau that shows T stands in
/// T + tau dT/dt.
#[derive(Clone, Debug)]
pub(super) struct Reach {
    lags_s: [f64; 2],
    recent: VecDeque<Reached>,
}

/// One reading, and the coldest and hottest that its surroundings can have been, °C.
#[derive(Clone, Copy, Debug)]
struct Reached {
    at_s: f64,
    temp_c: f64,
    low_c: f64,
    high_c: f64,
}

impl Reach {
    /// Of a probe with this sheath.
    pub fn new(sheath: Option<Metres>) -> Self {
        let lags_s = sheath.map_or([0.0, UNKNOWN_LAG_S], |sheath| REACH_LAGS.map(|times| times * lag(sheath).0));
        Self { lags_s, recent: VecDeque::new() }
    }

    /// Takes the next reading.
    pub fn take(&mut self, now_s: f64, temp_c: f64) {
        while self.recent.front().is_some_and(|reached| now_s - reached.at_s > REACH_S) {
            self.recent.pop_front();
        }
        self.recent.push_back(Reached { at_s: now_s, temp_c, low_c: temp_c, high_c: temp_c });
        let slope_k_s = self.slope_k_s();
        if let Some(reached) = self.recent.back_mut() {
            let ends_c = self.lags_s.map(|lag_s| temp_c + lag_s * slope_k_s);
            reached.low_c = ends_c[0].min(ends_c[1]);
            reached.high_c = ends_c[0].max(ends_c[1]);
        }
    }

    /// Slope of the least-squares line, K/s.
    fn slope_k_s(&self) -> f64 {
        let count = self.recent.len() as f64;
        let mean = |of: &dyn Fn(&Reached) -> f64| self.recent.iter().map(of).sum::<f64>() / count;
        let (mean_s, mean_c) = (mean(&|reached| reached.at_s), mean(&|reached| reached.temp_c));
        let spread = mean(&|reached| (reached.at_s - mean_s).powi(2));
        let shared = mean(&|reached| (reached.at_s - mean_s) * (reached.temp_c - mean_c));
        if spread > 1e-9 { shared / spread } else { 0.0 }
    }

    /// Shortest and longest time constant that the sheath may have, s.
    pub fn lags_s(&self) -> [f64; 2] {
        self.lags_s
    }

    /// Coldest and hottest that its surroundings can have been lately, °C; `None` when it speaks too seldom to tell.
    pub fn hull_c(&self) -> Option<[f64; 2]> {
        let low_c = self.recent.iter().map(|reached| reached.low_c).fold(f64::INFINITY, f64::min);
        let high_c = self.recent.iter().map(|reached| reached.high_c).fold(f64::NEG_INFINITY, f64::max);
        (self.recent.len() >= REACH_READINGS).then_some([low_c, high_c])
    }
}

/// Time constant of each of three means in a row over which two probes at one place are compared, s. Pulses five minutes apart,
/// which a thick sheath shows later than a thin one, are left with less than a hundredth of their size.
const PAIR_SMOOTHED_S: f64 = 400.0;

/// A small contradiction that lasts this long is told, s. A thick sheath beside a thin one lags, now colder and now hotter,
/// with each pulse; what is wrong stays on one side.
const PAIR_PATIENCE_S: f64 = 600.0;

/// A contradiction that no lag explains is told after this, s; with [`REACH_S`] within 10 s.
const PAIR_AT_ONCE_S: f64 = 4.0;

/// The same where the readings move, s.
const PAIR_UNCALM_S: f64 = 6.0;

/// And it stands for this long after it was last seen, s, so that pulses do not make it come and go.
const PAIR_STANDS_S: f64 = 30.0;

/// A difference of two probes at one place is usual below this, K, or this share of their height above the air.
const PAIR_USUAL: (f64, f64) = (10.0, 0.03);

/// A larger one than this is no drift any more.
const PAIR_DRIFT: (f64, f64) = (40.0, 0.10);

/// A larger one than this beyond what lag explains is told at once. A flame that licks one of two probes makes less.
const PAIR_AT_ONCE: (f64, f64) = (50.0, 0.12);

/// Temperature of terminals, taken where another type is tried on a reading, °C.
const TERMINALS: Celsius = Celsius(25.0);

/// Two probes at one place.
#[derive(Clone, Debug)]
pub(super) struct Pair {
    /// Their numbers.
    pub channels: [usize; 2],
    means: [Mean; 2],
    heard_s: Option<f64>,
    slow: Option<(Fault, f64)>,
    apart_since_s: Option<f64>,
    at_once: Option<Found>,
}

/// A mean over many pulses: three first-order means in a row, °C.
#[derive(Clone, Copy, Debug, Default)]
struct Mean([f64; 3]);

impl Mean {
    /// Goes on by this share of the way to `temp_c`.
    fn take(&mut self, temp_c: f64, share: f64) {
        let mut before_c = temp_c;
        for mean_c in &mut self.0 {
            *mean_c += share * (before_c - *mean_c);
            before_c = *mean_c;
        }
    }

    fn temp_c(self) -> f64 {
        self.0[2]
    }

    /// How fast the mean moves, K/s.
    fn slope_k_s(self) -> f64 {
        (self.0[1] - self.0[2]) / PAIR_SMOOTHED_S
    }
}

/// A contradiction that no lag explains.
#[derive(Clone, Copy, Debug)]
struct Found {
    odd: usize,
    fault: Fault,
    seen_s: f64,
}

/// What one of a pair says.
#[derive(Clone, Copy, Debug)]
pub(super) struct Side {
    /// Its reading, °C.
    pub temp_c: f64,
    /// Where the truth can be, °C.
    pub hull_c: Option<[f64; 2]>,
    /// Shortest and longest time constant that its sheath may have, s.
    pub lags_s: [f64; 2],
    /// The type its board is set to.
    pub couple: Option<Thermocouple>,
}

/// A probe that shows its surroundings within this part is calm.
const CALM: f64 = 0.03;

impl Side {
    /// Whether it shows about what it stands in.
    fn is_calm(&self) -> bool {
        self.hull_c.is_some_and(|[low_c, high_c]| high_c - low_c <= f64::max(10.0, CALM * self.temp_c.abs()))
    }
}

impl Pair {
    /// All pairs of `places` that are one.
    pub fn all(places: &[Place]) -> Vec<Self> {
        let mut pairs = Vec::new();
        for (one, place) in places.iter().enumerate() {
            let others = places.iter().enumerate().skip(one + 1).filter(|(_, other)| *other == place);
            pairs.extend(others.map(|(other, _)| Self {
                channels: [one, other],
                means: [Mean::default(); 2],
                heard_s: None,
                slow: None,
                apart_since_s: None,
                at_once: None,
            }));
        }
        pairs
    }

    /// Takes what both say and gives the fault of the colder one: of two that contradict each other, the hotter is
    /// believed, which is the safe side.
    pub fn take(&mut self, now_s: f64, sides: [Side; 2], ambient_c: f64) -> Option<(usize, Fault)> {
        let slow = self.take_slowly(now_s, sides, ambient_c);
        let at_once = self.take_at_once(now_s, sides, ambient_c);
        // Means name a wrong type better than a moment does.
        slow.filter(|(_, fault)| *fault == Fault::WrongType).or(at_once).or(slow)
    }

    /// What no lag of a sheath explains.
    fn take_at_once(&mut self, now_s: f64, sides: [Side; 2], ambient_c: f64) -> Option<(usize, Fault)> {
        let temps_c = sides.map(|side| side.temp_c);
        let hot_c = temps_c[0].max(temps_c[1]);
        let apart_k = match sides.map(|side| side.hull_c) {
            [Some([low, high]), Some([other_low, other_high])] => (low - other_high).max(other_low - high),
            _ => 0.0,
        };
        if apart_k > limit_k(PAIR_AT_ONCE, hot_c - ambient_c) {
            let since_s = *self.apart_since_s.get_or_insert(now_s);
            let is_calm = sides.iter().all(Side::is_calm);
            // While something moves, a type cannot be told from a lag: a little patience gives the better name.
            if now_s - since_s >= if is_calm { PAIR_AT_ONCE_S } else { PAIR_UNCALM_S } {
                let odd = usize::from(temps_c[1] < temps_c[0]);
                let is_wrong_type = is_calm && is_of_other_type(temps_c, sides);
                let fault = if is_wrong_type { Fault::WrongType } else { Fault::Implausible };
                self.at_once = Some(Found { odd, fault, seen_s: now_s });
            }
        } else {
            self.apart_since_s = None;
        }
        self.at_once = self.at_once.filter(|found| now_s - found.seen_s < PAIR_STANDS_S);
        self.at_once.map(|found| (self.channels[found.odd], found.fault))
    }

    /// What is told by means over many pulses.
    fn take_slowly(&mut self, now_s: f64, sides: [Side; 2], ambient_c: f64) -> Option<(usize, Fault)> {
        let span_s = self.heard_s.replace(now_s).map_or(f64::INFINITY, |heard_s| now_s - heard_s);
        let share = 1.0 - (-span_s / PAIR_SMOOTHED_S).exp();
        for (mean, side) in self.means.iter_mut().zip(sides) {
            mean.take(side.temp_c, share);
        }
        let means_c = self.means.map(Mean::temp_c);
        let (cold, hot) = if means_c[0] < means_c[1] { (0, 1) } else { (1, 0) };
        let ends_c = |at: usize| sides[at].lags_s.map(|lag_s| means_c[at] + lag_s * self.means[at].slope_k_s());
        let (colds_c, hots_c) = (ends_c(cold), ends_c(hot));
        // A whole furnace that heats or cools leaves a thick sheath behind for as long as that lasts.
        let apart_k = hots_c[0].min(hots_c[1]) - colds_c[0].max(colds_c[1]);
        let above_k = means_c[hot] - ambient_c;
        let usual_k = limit_k(PAIR_USUAL, above_k);
        let fault = if apart_k <= usual_k {
            None
        } else if is_of_other_type(means_c, sides) {
            Some(Fault::WrongType)
        } else if apart_k <= limit_k(PAIR_DRIFT, above_k) {
            Some(Fault::Drifting)
        } else {
            Some(Fault::Implausible)
        };
        self.slow = fault.map(|fault| match self.slow {
            Some((known, since_s)) if known == fault => (fault, since_s),
            _ => (fault, now_s),
        });
        let (fault, since_s) = self.slow?;
        (now_s - since_s >= PAIR_PATIENCE_S).then_some((self.channels[cold], fault))
    }
}

/// The larger of a number of kelvins and a share of the height above the air, K.
fn limit_k((least_k, share): (f64, f64), above_k: f64) -> f64 {
    f64::max(least_k, share * above_k.max(0.0))
}

/// Whether one of two probes would agree with the other if it were of another type than its board is set to.
fn is_of_other_type(temps_c: [f64; 2], sides: [Side; 2]) -> bool {
    [(0, 1), (1, 0)]
        .iter()
        .any(|&(odd, other)| sides[odd].couple.is_some_and(|set| is_other_type(set, temps_c[odd], temps_c[other])))
}

/// Whether a probe that shows `shown_c` on a board set to `set` would show `other_c` if it were of another type. Only for
/// differences that are no drift and readings that are well above the air.
fn is_other_type(set: Thermocouple, shown_c: f64, other_c: f64) -> bool {
    if (shown_c - other_c).abs() < 0.05 * other_c || other_c < 120.0 {
        return false;
    }
    let Ok(measured) = set.loop_emf(Celsius(shown_c), TERMINALS) else { return false };
    let fits = |couple: Thermocouple| {
        let temp = couple.compensated(measured, TERMINALS);
        temp.is_ok_and(|temp| (temp.0 - other_c).abs() <= f64::max(6.0, 0.015 * other_c))
    };
    Thermocouple::ALL.into_iter().any(|couple| couple != set && fits(couple))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(temps_c: &[f64]) -> Vec<Seen> {
        let mut gate = Gate::default();
        temps_c.iter().enumerate().map(|(at, temp_c)| gate.take(at as f64, *temp_c, 20.0)).collect()
    }

    #[test]
    fn a_single_spark_is_not_believed_and_no_fault() {
        use Seen::{Good, Stray};
        assert_eq!(seen(&[100.0, 101.0, 480.0, 102.0, 103.0]), [Good, Good, Stray, Good, Good]);
    }

    #[test]
    fn three_sparks_within_ten_seconds_are_a_fault() {
        let found = seen(&[100.0, 101.0, 480.0, 102.0, 480.0, 103.0, 20.0, 103.0, 104.0]);
        assert_eq!(found[7], Seen::Jumping);
    }

    /// The steepest that a bare junction of 1.5 mm sees: a flame of 1900 °C at a time constant of 11.5 s is 163 K/s.
    #[test]
    fn no_ramp_is_held_back_for_more_than_one_reading() {
        for slope_k_s in [0.1, 1.0, 5.0, 11.9, 12.1, 20.0, 50.0, 163.0, 400.0] {
            for sign in [1.0, -1.0] {
                let temp_c = |at: u32| 500.0 + sign * slope_k_s * f64::from(at.saturating_sub(3));
                let found = seen(&(0..8).map(temp_c).collect::<Vec<_>>());
                let held = found.iter().filter(|seen| **seen != Seen::Good).count();
                assert!(held <= 1, "{slope_k_s} K/s: {found:?}");
            }
        }
    }

    #[test]
    fn a_step_that_stays_is_believed_from_its_second_reading_on() {
        use Seen::{Good, Stray};
        assert_eq!(seen(&[100.0, 100.0, 400.0, 401.0, 400.0]), [Good, Good, Stray, Good, Good]);
    }

    #[test]
    fn a_hot_probe_that_is_at_once_as_warm_as_the_air_is_shorted_until_it_is_not() {
        let mut temps_c = vec![600.0, 601.0];
        temps_c.extend([24.0; 8]);
        temps_c.extend([605.0; 4]);
        let found = seen(&temps_c);
        assert!(found[3..10].iter().all(|seen| *seen == Seen::Shorted), "{found:?}");
        assert_eq!(found.last(), Some(&Seen::Good));
    }

    #[test]
    fn a_furnace_that_cools_to_the_air_is_not_shorted() {
        let temps_c: Vec<f64> = (0..4000).map(|at| 20.0 + 600.0 * (-f64::from(at) / 300.0).exp()).collect();
        assert!(seen(&temps_c).iter().all(|seen| *seen == Seen::Good));
    }

    /// Readings with digits of 0.1 °C and noise of five of them, the same each time the test is run.
    fn restless() -> Vec<f64> {
        let mut luck = 1_u64;
        let mut noise = || {
            let uniform = (0..12).map(|_| {
                luck = luck.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (luck >> 40) as f64 / f64::from(1 << 24)
            });
            0.5 * (uniform.sum::<f64>() - 6.0)
        };
        (0..100).map(|at| ((100.0 + 0.05 * f64::from(at) + noise()) * 10.0).round() / 10.0).collect()
    }

    #[test]
    fn restless_digits_that_stand_still_are_noticed_within_ten_readings() {
        let mut texture = Texture::default();
        let readings = restless();
        for temp_c in &readings {
            texture.take(*temp_c);
        }
        let frozen_c = readings[99];
        let needed = (1..30).find(|_| {
            texture.take(frozen_c);
            texture.stands_still()
        });
        assert!(needed.is_some_and(|needed| needed <= 10), "{needed:?}");
    }

    #[test]
    fn a_coarse_instrument_that_stands_still_is_left_alone() {
        let mut texture = Texture::default();
        (0..600).for_each(|at| texture.take((20.0 + f64::from(at) / 30.0).round()));
        for _ in 0..600 {
            texture.take(40.0);
            assert!(!texture.stands_still());
        }
    }

    fn pair() -> Pair {
        Pair::all(&[Place::ChamberGas, Place::ChamberGas]).remove(0)
    }

    fn told(temps_c: [f64; 2]) -> Option<(usize, Fault)> {
        let mut pair = pair();
        let sides = temps_c.map(|temp_c| Side {
            temp_c,
            hull_c: None,
            lags_s: [0.0, UNKNOWN_LAG_S],
            couple: Some(Thermocouple::K),
        });
        (0..900).filter_map(|now| pair.take(f64::from(now), sides, 20.0)).last()
    }

    #[test]
    fn two_probes_at_one_place_that_agree_are_left_alone() {
        assert_eq!(told([800.0, 812.0]), None);
    }

    #[test]
    fn the_colder_of_two_that_slowly_part_drifts() {
        assert_eq!(told([800.0, 840.0]), Some((0, Fault::Drifting)));
    }

    #[test]
    fn the_colder_of_two_that_contradict_each_other_is_implausible() {
        assert_eq!(told([800.0, 350.0]), Some((1, Fault::Implausible)));
    }

    /// A type N probe at 800 °C gives 28.455 mV (printed table), 0.659 mV of it at the
    /// terminals; a board for type K makes 28.796 mV of the rest, 692 °C.
    #[test]
    fn a_type_n_probe_on_a_board_for_type_k_is_told_as_the_wrong_type() {
        let measured = Thermocouple::N.loop_emf(Celsius(800.0), TERMINALS).expect("in range");
        let shown = Thermocouple::K.compensated(measured, TERMINALS).expect("in range");
        assert!((shown.0 - 692.0).abs() < 1.0, "{shown:?}");
        assert_eq!(told([shown.0, 800.0]), Some((0, Fault::WrongType)));
    }
}
