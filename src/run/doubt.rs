//! Doubts about a value that is a number like any other: noise, shorted wires, a standing instrument, probes that contradict
//! each other.
//!
//! What is doubted is never changed: the reading goes to the log as it came, it is only not believed.

use std::collections::VecDeque;

use crate::reading::{Fault, Place};
use crate::thermocouple::Thermocouple;
use crate::units::Celsius;

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

/// Readings whose texture is remembered.
const REMEMBERED: usize = 60;

/// Fewest of them that say what is usual.
const FEWEST: usize = 40;

/// A chance this small of a sound instrument standing still is taken for a fault. At one reading a second it is met once
/// in thirty years.
const CHANCE: f64 = 1e-9;

/// How restless the digits of a channel are.
#[derive(Clone, Debug, Default)]
pub(super) struct Texture {
    values_c: VecDeque<f64>,
    same: u32,
}

impl Texture {
    /// Takes the next raw reading.
    pub fn take(&mut self, temp_c: f64) {
        if self.values_c.back().is_some_and(|last_c| last_c.total_cmp(&temp_c).is_eq()) {
            self.same += 1;
            return;
        }
        self.values_c.extend((0..self.same.min(3)).filter_map(|_| self.values_c.back().copied()).collect::<Vec<_>>());
        self.same = 0;
        self.values_c.push_back(temp_c);
        while self.values_c.len() > REMEMBERED {
            self.values_c.pop_front();
        }
    }

    /// Whether the value has stood for longer than noise like that before lets it.
    ///
    /// Of noise with a standard deviation of r digits no value has a larger chance than 0.4 / r.
    pub fn stands_still(&self) -> bool {
        if self.values_c.len() < FEWEST || self.same < 7 {
            return false;
        }
        let Some(restless_digits) = self.noise_digits().filter(|digits| *digits >= 0.8) else { return false };
        let chance = 0.4 / restless_digits;
        f64::from(self.same) * chance.ln() < CHANCE.ln()
    }

    /// Standard deviation of the noise, digits; the slope is taken out by second differences.
    fn noise_digits(&self) -> Option<f64> {
        let values_c: Vec<f64> = self.values_c.iter().copied().collect();
        let steps = values_c.windows(2).map(|pair| (pair[1] - pair[0]).abs()).filter(|step_k| *step_k > 1e-9);
        let digit_k = steps.fold(f64::INFINITY, f64::min);
        let mut bends_k: Vec<f64> =
            values_c.windows(3).map(|three| (three[0] - 2.0 * three[1] + three[2]).abs()).collect();
        bends_k.sort_by(f64::total_cmp);
        // The median, so that a pulse does not count as noise: 0.6745 standard deviations, times the root of 1 + 4 + 1.
        let median_k = bends_k.get(bends_k.len() / 2)?;
        digit_k.is_finite().then(|| median_k / (0.6745 * 6.0_f64.sqrt()) / digit_k)
    }
}

/// Time constant of the comparison of two probes at one place, s: longer than pulses, which reach a thick sheath later.
const PAIR_SMOOTHED_S: f64 = 300.0;

/// A contradiction that lasts this long is told, s. A thick sheath beside a thin one lags, now colder and now hotter, with
/// each pulse; what is wrong stays on one side.
const PAIR_PATIENCE_S: f64 = 600.0;

/// A difference of two probes at one place is usual below this, K, or this share of their height above the air.
const PAIR_USUAL: (f64, f64) = (10.0, 0.03);

/// A larger one than this is no drift any more.
const PAIR_DRIFT: (f64, f64) = (40.0, 0.10);

/// Temperature of terminals, taken where another type is tried on a reading, °C.
const TERMINALS: Celsius = Celsius(25.0);

/// Two probes at one place.
#[derive(Clone, Debug)]
pub(super) struct Pair {
    /// Their numbers.
    pub channels: [usize; 2],
    means_c: [f64; 2],
    heard_s: Option<f64>,
    since_s: Option<(Fault, f64)>,
}

impl Pair {
    /// All pairs of `places` that are one.
    pub fn all(places: &[Place]) -> Vec<Self> {
        let mut pairs = Vec::new();
        for (one, place) in places.iter().enumerate() {
            let others = places.iter().enumerate().skip(one + 1).filter(|(_, other)| *other == place);
            pairs.extend(others.map(|(other, _)| Self {
                channels: [one, other],
                means_c: [0.0; 2],
                heard_s: None,
                since_s: None,
            }));
        }
        pairs
    }

    /// Takes what both read and gives the fault of the colder one: of two that contradict each other, the hotter is
    /// believed, which is the safe side.
    pub fn take(
        &mut self,
        now_s: f64,
        temps_c: [f64; 2],
        couples: [Option<Thermocouple>; 2],
        ambient_c: f64,
    ) -> Option<(usize, Fault)> {
        let span_s = self.heard_s.replace(now_s).map_or(f64::INFINITY, |heard_s| now_s - heard_s);
        let share = 1.0 - (-span_s / PAIR_SMOOTHED_S).exp();
        for (mean_c, temp_c) in self.means_c.iter_mut().zip(temps_c) {
            *mean_c += share * (temp_c - *mean_c);
        }
        let [one_c, other_c] = self.means_c;
        let (cold, hot) = if one_c < other_c { (0, 1) } else { (1, 0) };
        let (cold_c, hot_c) = (self.means_c[cold], self.means_c[hot]);
        let above_k = (hot_c - ambient_c).max(0.0);
        let limit_k = |(least_k, share): (f64, f64)| f64::max(least_k, share * above_k);
        let apart_k = hot_c - cold_c;
        let fault = if apart_k <= limit_k(PAIR_USUAL) {
            None
        } else if [(cold, hot), (hot, cold)].iter().any(|&(odd, other)| {
            couples[odd].is_some_and(|couple| is_other_type(couple, self.means_c[odd], self.means_c[other]))
        }) {
            Some(Fault::WrongType)
        } else if apart_k <= limit_k(PAIR_DRIFT) {
            Some(Fault::Drifting)
        } else {
            Some(Fault::Implausible)
        };
        let fault = fault.filter(|_| temps_c[hot] - temps_c[cold] > 0.5 * limit_k(PAIR_USUAL));
        self.since_s = fault.map(|fault| match self.since_s {
            Some((known, since_s)) if known == fault => (fault, since_s),
            _ => (fault, now_s),
        });
        let (fault, since_s) = self.since_s?;
        (now_s - since_s >= PAIR_PATIENCE_S).then_some((self.channels[cold], fault))
    }
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
        temp.is_ok_and(|temp| (temp.0 - other_c).abs() <= f64::max(4.0, 0.01 * other_c))
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
        let couples = [Some(Thermocouple::K), Some(Thermocouple::K)];
        (0..900).filter_map(|now| pair.take(f64::from(now), temps_c, couples, 20.0)).last()
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
