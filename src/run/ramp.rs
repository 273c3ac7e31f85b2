//! How fast a temperature rises on the mean over the pulses.
//!
//! A pulse makes the surface jump by tens of kelvin while the wet zone feels only the mean, so a slope taken over less
//! than a pulse says nothing. A line fitted over one whole cycle does not help either: a jump near one end of the window
//! tilts it (a 70 K jump that lasts a minute reads as 250 K/h over ten minutes). The mean over whole cycles does not see the ripple
//! at all, so the ramp is the rise of that mean from one window to the next, over the length of a window.

use std::collections::VecDeque;

use crate::units::KelvinPerHour;

/// Shortest window, s. The dead-band of 3 K is then 12 K/h, a fifth of the usual limit of 56 K/h (over 5 min it would be two
/// thirds), and the mean of the first pulse's ripple, some 5 K, does not read as a ramp. What is faster than this window is
/// told by the forecast.
const SHORTEST_WINDOW_S: f64 = 900.0;

/// Longest window, s. The slowest pulse programme known takes 65 min a cycle (common practice, no source).
const LONGEST_WINDOW_S: f64 = 4500.0;

/// Readings closer than this are not kept apart, s.
const FINEST_S: f64 = 0.5;

/// A channel that starts within this of the surroundings is taken to have rested there before, K.
const AT_REST_K: f64 = 15.0;

/// Length of the window that bridges whole cycles of `cycle_s`, s.
pub(crate) fn window_s(cycle_s: Option<f64>) -> f64 {
    match cycle_s {
        Some(cycle_s) if cycle_s >= 1.0 => {
            ((SHORTEST_WINDOW_S / cycle_s).ceil().max(1.0) * cycle_s).min(LONGEST_WINDOW_S)
        }
        _ => SHORTEST_WINDOW_S,
    }
}

/// A temperature over the last two windows, as its running integral.
#[derive(Clone, Debug)]
pub(crate) struct Trail {
    /// Time, s, temperature, °C, and its integral since the first, °C·s.
    points: VecDeque<(f64, f64, f64)>,
    ambient_c: f64,
    at_rest_before: bool,
}

/// A ramp against its limit over one window.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rise {
    /// Mean slope.
    pub ramp: KelvinPerHour,
    /// Rise of the mean from one window to the next, K.
    pub by_k: f64,
    /// Length of the window, s.
    pub window_s: f64,
    /// Mean temperature of the later window, °C.
    pub mean_c: f64,
}

impl Rise {
    /// By how much the rise is more than `limit` allows, K. Negative when it is less.
    pub fn excess_k(&self, limit: KelvinPerHour) -> f64 {
        self.by_k - limit.0 * self.window_s / 3600.0
    }

    /// Dead-band of a temperature: 3 K or 1 % of it, the larger (ISA-18.2 practice).
    pub fn dead_band_k(&self) -> f64 {
        dead_band_k(self.mean_c)
    }
}

/// Dead-band of a temperature of `temp_c`: 3 K or 1 % of it, the larger.
pub(super) fn dead_band_k(temp_c: f64) -> f64 {
    (0.01 * temp_c.abs()).max(3.0)
}

impl Trail {
    /// An empty trail in surroundings of `ambient_c`.
    pub fn new(ambient_c: f64) -> Self {
        Self { points: VecDeque::new(), ambient_c, at_rest_before: false }
    }

    /// Appends a temperature.
    pub fn push(&mut self, now_s: f64, temp_c: f64) {
        let Some(&(last_s, last_c, integral)) = self.points.back() else {
            self.at_rest_before = (temp_c - self.ambient_c).abs() <= AT_REST_K;
            self.points.push_back((now_s, temp_c, 0.0));
            return;
        };
        if now_s - last_s < FINEST_S {
            return;
        }
        self.points.push_back((now_s, temp_c, integral + 0.5 * (temp_c + last_c) * (now_s - last_s)));
        let oldest_s = now_s - 2.0 * LONGEST_WINDOW_S - 60.0;
        while self.points.len() > 2 && self.points.get(1).is_some_and(|(at_s, ..)| *at_s < oldest_s) {
            self.points.pop_front();
        }
    }

    /// The latest temperature, °C.
    pub fn last_c(&self) -> Option<f64> {
        self.points.back().map(|(_, temp_c, _)| *temp_c)
    }

    /// Mean over the last `window_s`, °C.
    pub fn mean_c(&self, window_s: f64) -> Option<f64> {
        let now_s = self.points.back()?.0;
        Some((self.integral(now_s)? - self.integral(now_s - window_s)?) / window_s)
    }

    /// The rise over a window that ends now; `None` when the channel has not been heard for long enough.
    pub fn rise(&self, window_s: f64) -> Option<Rise> {
        let now_s = self.points.back()?.0;
        self.rise_at(now_s, self.integral(now_s)?, window_s)
    }

    /// Time until the excess over `limit` passes its dead-band if the temperature goes on along `ahead` (time from
    /// now, s, and temperature, °C, in order); `None` when it does not within that.
    pub fn limit_in_s(&self, limit: KelvinPerHour, window_s: f64, ahead: &[(f64, f64)]) -> Option<f64> {
        let &(now_s, mut last_c, mut integral) = self.points.back()?;
        let mut last_s = 0.0;
        let mut last_over_k = f64::NEG_INFINITY;
        for &(at_s, temp_c) in ahead {
            integral += 0.5 * (temp_c + last_c) * (at_s - last_s);
            let rise = self.rise_at(now_s + at_s, integral, window_s)?;
            let over_k = rise.excess_k(limit) - rise.dead_band_k();
            if over_k >= 0.0 {
                return Some(crossing_s((last_s, last_over_k), (at_s, over_k)));
            }
            (last_s, last_c, last_over_k) = (at_s, temp_c, over_k);
        }
        None
    }

    fn rise_at(&self, now_s: f64, integral: f64, window_s: f64) -> Option<Rise> {
        let middle = self.integral(now_s - window_s)?;
        let early = self.integral(now_s - 2.0 * window_s)?;
        let (later_c, earlier_c) = ((integral - middle) / window_s, (middle - early) / window_s);
        let by_k = later_c - earlier_c;
        Some(Rise { ramp: KelvinPerHour(by_k / window_s * 3600.0), by_k, window_s, mean_c: later_c })
    }

    /// Integral from the first point to `at_s`, °C·s; before the first point the channel rested, if it began cold.
    fn integral(&self, at_s: f64) -> Option<f64> {
        let (first_s, first_c, first) = *self.points.front()?;
        if at_s < first_s {
            return self.at_rest_before.then_some(first - first_c * (first_s - at_s));
        }
        let after = self.points.partition_point(|(point_s, ..)| *point_s <= at_s);
        let (from_s, from_c, integral) = *self.points.get(after.checked_sub(1)?)?;
        let Some((to_s, to_c, _)) = self.points.get(after) else {
            return Some(integral + from_c * (at_s - from_s));
        };
        let part_s = at_s - from_s;
        let at_c = from_c + (to_c - from_c) * part_s / (to_s - from_s);
        Some(integral + 0.5 * (from_c + at_c) * part_s)
    }
}

/// Where a straight line between two points (time, s, and value) passes zero, s.
pub(super) fn crossing_s(before: (f64, f64), after: (f64, f64)) -> f64 {
    if !before.1.is_finite() || after.1 <= before.1 {
        return after.0;
    }
    before.0 + (after.0 - before.0) * (-before.1 / (after.1 - before.1)).clamp(0.0, 1.0)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// A trail of one reading a second that follows `temp_c`.
    fn trail(length_s: u32, temp_c: impl Fn(f64) -> f64) -> Trail {
        let mut trail = Trail::new(20.0);
        for second in 0..=length_s {
            trail.push(f64::from(second), temp_c(f64::from(second)));
        }
        trail
    }

    /// A pulse each 600 s that jumps by 70 K and dies away with a time constant of a minute, on a ramp of 40 K/h.
    fn pulsed(at_s: f64) -> f64 {
        20.0 + 40.0 * at_s / 3600.0 + 70.0 * (-(at_s % 600.0) / 60.0).exp()
    }

    fn close(found: f64, expected: f64, within: f64) {
        assert!((found - expected).abs() <= within, "found {found}, expected {expected} within {within}");
    }

    #[test]
    fn a_straight_ramp_is_read_as_it_is() {
        let trail = trail(2000, |at_s| 20.0 + 50.0 * at_s / 3600.0);
        close(trail.rise(600.0).unwrap().ramp.0, 50.0, 0.01);
    }

    #[test]
    fn the_ripple_of_pulses_does_not_show_at_any_phase_of_the_pulse() {
        for phase in (0..600).step_by(37) {
            let trail = trail(3600 + phase, pulsed);
            close(trail.rise(600.0).unwrap().ramp.0, 40.0, 0.5);
        }
    }

    #[test]
    fn a_window_bridges_whole_cycles_and_at_least_a_quarter_of_an_hour() {
        assert_eq!(
            [Some(630.0), Some(90.0), Some(9000.0), None].map(|cycle_s| window_s(cycle_s) as u32),
            [1260, 900, 4500, 900]
        );
    }

    #[test]
    fn a_lining_that_began_cold_has_a_ramp_from_the_start() {
        let trail = trail(300, |at_s| 20.0 + at_s / 60.0);
        close(trail.rise(300.0).unwrap().by_k, 2.5, 0.01);
    }

    #[test]
    fn a_lining_met_hot_has_no_ramp_before_two_windows() {
        let trail = trail(500, |_| 400.0);
        assert_eq!(trail.rise(300.0), None);
    }

    #[test]
    fn a_burner_that_stays_on_reaches_the_limit_at_the_time_that_the_readings_then_show() {
        let heat = |at_s: f64| 20.0 + (at_s - 1000.0).max(0.0) * 0.5;
        let ahead: Vec<(f64, f64)> =
            (1..60).map(|step| (f64::from(step) * 10.0, heat(1000.0 + f64::from(step) * 10.0))).collect();
        let forecast_s = trail(1000, heat).limit_in_s(KelvinPerHour(56.0), 600.0, &ahead).unwrap();
        let seen = (1000..1600).find(|now| {
            let rise = trail(*now, heat).rise(600.0).unwrap();
            rise.excess_k(KelvinPerHour(56.0)) >= rise.dead_band_k()
        });
        close(forecast_s, f64::from(seen.unwrap() - 1000), 5.0);
    }
}
