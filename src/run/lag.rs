//! What a sheathed probe stands in, behind its lag and its noise.
//!
//! A sheath of time constant tau that stands in T shows S with dS/dt = (T - S) / tau. Turned round, that multiplies noise by
//! tau over the time between two readings. A Kalman filter of three numbers (T, its slope, S) weighs the one against the other:
//! after the burner was lit or shut the slope may be anything that the last pulses had, later it hardly changes. How far
//! pulses go and how noisy readings are, it learns from the readings.
//!
//! A surface under a flame that was just lit rises as the square root of time (Carslaw and Jaeger, 2.9), by W in a pulse of
//! length t1: its slope is W / (2 sqrt(t1 t)), and that changes by W / (4 sqrt(t1) t^1.5) each second.

use crate::thermocouple::lag;
use crate::units::Metres;

/// Sheath of a probe of which the probe file does not say it: the one that shows pulses. Were it thicker, the surface is thought
/// cooler in a pulse than it is; were the wire bare, hotter.
const USUAL_SHEATH_MM: f64 = 1.5;

/// A time constant is known to this part where the sheath is, and to the other where it is not (bare wires to 6 mm).
const LAG_KNOWN_TO: f64 = 0.2;
const LAG_GUESSED_TO: f64 = 0.6;

/// Pulses move a surface by this until they have been seen, K, and by this at least.
const FIRST_SWING_K: f64 = 40.0;
const LEAST_SWING_K: f64 = 5.0;

/// Length of a pulse for which the slope after a change is reckoned, s.
const USUAL_PULSE_S: f64 = 15.0;

/// What a slope may change by where nothing was switched, (K/s)²/s: 0.05 K/s within two minutes.
const CALM_K2_S3: f64 = 2e-5;

/// So long after a change of the burner the noise of readings is learned, s.
const CALM_AFTER_S: f64 = 60.0;

/// A change of the burner is forgotten after this, s.
const LONG_AGO_S: f64 = 7200.0;

/// Least, first and most standard deviation of a reading, K.
const NOISE_K: [f64; 3] = [0.1, 1.0, 4.0];

/// Without a reading for so long it begins anew, s.
const FORGETS_S: f64 = 120.0;

/// A reading further off than this many standard deviations tells of a change that nobody told.
const SURPRISE_SD: f64 = 3.0;

/// What a probe stands in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Surroundings {
    /// Temperature, °C.
    pub temp_c: f64,
    /// Its standard deviation, K: noise, and what the time constant is not known to.
    pub sd_k: f64,
}

/// The filter of one probe.
#[derive(Clone, Debug)]
pub(super) struct Behind {
    lag_s: f64,
    known_to: f64,
    at_s: Option<f64>,
    /// Surroundings, °C; their slope, K/s; what is shown, °C.
    mean: [f64; 3],
    spread: [[f64; 3]; 3],
    noise_k2: f64,
    swing_k: f64,
    /// Temperature at the last change of the burner, °C.
    changed_c: Option<f64>,
}

impl Behind {
    /// Of a probe with this sheath.
    pub fn new(sheath: Option<Metres>) -> Self {
        let known_to = if sheath.is_some() { LAG_KNOWN_TO } else { LAG_GUESSED_TO };
        Self {
            lag_s: lag(sheath.unwrap_or(Metres::from_mm(USUAL_SHEATH_MM))).0,
            known_to,
            at_s: None,
            mean: [0.0; 3],
            spread: [[0.0; 3]; 3],
            noise_k2: NOISE_K[1] * NOISE_K[1],
            swing_k: FIRST_SWING_K,
            changed_c: None,
        }
    }

    /// Its time constant, s.
    pub fn lag_s(&self) -> f64 {
        self.lag_s
    }

    /// Whether its last reading was before `now_s`.
    pub fn is_before(&self, now_s: f64) -> bool {
        self.at_s.is_none_or(|at_s| at_s < now_s)
    }

    /// The burner was lit or shut: the slope may be anything that it was after changes before.
    pub fn burner_changed(&mut self) {
        if self.at_s.is_none() {
            return;
        }
        let now_c = self.mean[0];
        if let Some(before_c) = self.changed_c.replace(now_c) {
            self.swing_k = (0.8 * self.swing_k).max((now_c - before_c).abs()).max(LEAST_SWING_K);
        }
        self.spread[1][1] += self.jump_k_s().powi(2);
    }

    /// The probe showed `shown_c` at `now_s`, `since_s` after the burner last changed.
    pub fn take(&mut self, now_s: f64, shown_c: f64, since_s: f64) {
        match self.at_s {
            Some(at_s) if now_s - at_s <= FORGETS_S => self.pass(now_s - at_s, since_s),
            _ => self.begin(shown_c),
        }
        self.at_s = Some(now_s);
        let off_k = shown_c - self.mean[2];
        let own_k2 = self.spread[2][2];
        if off_k.abs() > SURPRISE_SD * (own_k2 + self.noise_k2).sqrt() {
            self.spread[1][1] += self.jump_k_s().powi(2);
        } else if since_s > CALM_AFTER_S {
            let [least_k, _, most_k] = NOISE_K;
            let seen_k2 = (off_k * off_k - own_k2).max(0.0);
            self.noise_k2 =
                (self.noise_k2 + 0.02 * (seen_k2 - self.noise_k2)).clamp(least_k * least_k, most_k * most_k);
        }
        let sum_k2 = own_k2 + self.noise_k2;
        let gain: [f64; 3] = std::array::from_fn(|row| self.spread[row][2] / sum_k2);
        let shown = self.spread[2];
        for (row, gain) in gain.into_iter().enumerate() {
            self.mean[row] += gain * off_k;
            for (column, shown) in shown.into_iter().enumerate() {
                self.spread[row][column] -= gain * shown;
            }
        }
    }

    /// What it stands in at `now_s`, shortly after its last reading; `None` without a reading.
    pub fn at(&self, now_s: f64) -> Option<Surroundings> {
        let ahead_s = (now_s - self.at_s?).clamp(0.0, FORGETS_S);
        let temp_c = self.mean[0] + self.mean[1] * ahead_s.min(10.0);
        let lag_k = self.known_to * (self.mean[0] - self.mean[2]);
        Some(Surroundings { temp_c, sd_k: self.spread[0][0].max(0.0).sqrt().hypot(lag_k) })
    }

    fn begin(&mut self, shown_c: f64) {
        self.mean = [shown_c, 0.0, shown_c];
        let noise_k2 = self.noise_k2;
        self.spread = [[4.0 * noise_k2, 0.0, 0.0], [0.0, 0.01, 0.0], [0.0, 0.0, noise_k2]];
    }

    /// Time passes; within it what is shown follows the mean of the surroundings.
    fn pass(&mut self, span_s: f64, since_s: f64) {
        let keep = (-span_s / self.lag_s).exp();
        let follow = 1.0 - keep;
        let moves = [[1.0, span_s, 0.0], [0.0, 1.0, 0.0], [follow, 0.5 * follow * span_s, keep]];
        self.mean = moves.map(|row| row.iter().zip(self.mean).map(|(a, b)| a * b).sum());
        let half = moves.map(|row| product(row, self.spread));
        for (row, half) in half.iter().enumerate() {
            for (column, moved) in moves.iter().enumerate() {
                self.spread[row][column] = half.iter().zip(moved).map(|(a, b)| a * b).sum();
            }
        }
        // A burner that never changed did so an endless time ago.
        let since_s = since_s.min(LONG_AGO_S);
        let bends_k2_s3 = CALM_K2_S3 + self.bends_k_s2(since_s + 2.0).powi(2) * (since_s + 2.0);
        self.spread[0][0] += bends_k2_s3 * span_s.powi(3) / 3.0;
        self.spread[0][1] += bends_k2_s3 * span_s.powi(2) / 2.0;
        self.spread[1][0] += bends_k2_s3 * span_s.powi(2) / 2.0;
        self.spread[1][1] += bends_k2_s3 * span_s;
    }

    /// Slope a second after a change, K/s.
    fn jump_k_s(&self) -> f64 {
        self.swing_k / (2.0 * USUAL_PULSE_S.sqrt())
    }

    /// How fast the slope changes `after_s` after a change, K/s².
    fn bends_k_s2(&self, after_s: f64) -> f64 {
        self.swing_k / (4.0 * USUAL_PULSE_S.sqrt() * after_s.powf(1.5))
    }
}

/// A row times a matrix.
fn product(row: [f64; 3], matrix: [[f64; 3]; 3]) -> [f64; 3] {
    std::array::from_fn(|column| row.iter().zip(&matrix).map(|(a, from)| a * from[column]).sum())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A surface that is flat, rises as the square root of time by 60 K in a pulse of 15 s, and falls as a slab cools when a pulse
    /// is taken back (Carslaw and Jaeger, 2.9: the difference of two square roots).
    fn surface_c(at_s: f64) -> f64 {
        let root = |since_s: f64| since_s.max(0.0).sqrt();
        120.0 + 60.0 / 15.0_f64.sqrt() * (root(at_s) - root(at_s - 15.0))
    }

    /// Noise of `sd_k`, the same each time: twelve even numbers.
    fn noise_k(luck: &mut u64, sd_k: f64) -> f64 {
        let sum: f64 = (0..12)
            .map(|_| {
                *luck = luck.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (*luck >> 40) as f64 / f64::from(1 << 24)
            })
            .sum();
        sd_k * (sum - 6.0)
    }

    /// Root mean square of what is shown and of what is found behind it against the truth over a pulse and its pause, K; and
    /// the part of the time that the truth was within two deviations.
    fn errors(sheath_mm: f64, sd_k: f64) -> [f64; 3] {
        let mut behind = Behind::new(Some(Metres::from_mm(sheath_mm)));
        let lag_s = lag(Metres::from_mm(sheath_mm)).0;
        let (mut luck, mut lagging_c) = (7, surface_c(-300.0));
        let (mut of_shown, mut of_found, mut inside, mut count) = (0.0, 0.0, 0.0, 0.0);
        for pulse in 0..6 {
            for second in -300..300 {
                let now_s = f64::from(second);
                if second == 0 || second == 15 {
                    behind.burner_changed();
                }
                lagging_c += (1.0 - (-1.0 / lag_s).exp()) * (surface_c(now_s - 0.5) - lagging_c);
                let shown_c = lagging_c + noise_k(&mut luck, sd_k);
                let since_s = match second {
                    ..0 => now_s + 585.0,
                    0..15 => now_s,
                    _ => now_s - 15.0,
                };
                let clock_s = f64::from(pulse) * 600.0 + now_s + 300.0;
                behind.take(clock_s, shown_c, since_s);
                let Some(found) = behind.at(clock_s) else { continue };
                if pulse > 0 && second >= 0 {
                    let truth_c = surface_c(now_s);
                    of_shown += (shown_c - truth_c).powi(2);
                    of_found += (found.temp_c - truth_c).powi(2);
                    inside += f64::from(u8::from((found.temp_c - truth_c).abs() <= 2.0 * found.sd_k));
                    count += 1.0;
                }
            }
        }
        [(of_shown / count).sqrt(), (of_found / count).sqrt(), inside / count]
    }

    #[test]
    fn a_pulse_is_seen_through_the_lag_of_a_thin_sheath() {
        let [shown_k, found_k, inside] = errors(1.5, 0.3);
        assert!(found_k < 0.5 * shown_k, "shown {shown_k}, found {found_k}");
        assert!(inside > 0.85, "{inside}");
    }

    #[test]
    fn noise_is_not_blown_up() {
        let [shown_k, found_k, inside] = errors(1.5, 1.5);
        assert!(found_k < 0.8 * shown_k, "shown {shown_k}, found {found_k}");
        assert!(inside > 0.85, "{inside}");
    }

    #[test]
    fn a_steady_temperature_is_found_to_a_fraction_of_the_noise() {
        let mut behind = Behind::new(Some(Metres::from_mm(3.0)));
        let mut luck = 3;
        (0..900).for_each(|now| behind.take(f64::from(now), 400.0 + noise_k(&mut luck, 1.5), 600.0));
        let found = behind.at(900.0).map_or(f64::NAN, |found| found.temp_c);
        assert!((found - 400.0).abs() < 1.5, "{found}");
    }

    #[test]
    fn a_burner_that_was_never_lit_leaves_numbers() {
        let mut behind = Behind::new(None);
        (0..100).for_each(|now| behind.take(f64::from(now), 20.0 + 0.1 * f64::from(now), f64::INFINITY));
        let found = behind.at(99.0).map_or(f64::NAN, |found| found.temp_c);
        assert!((29.0..33.0).contains(&found), "{found}");
    }

    #[test]
    fn after_a_silence_it_begins_anew_at_what_is_shown() {
        let mut behind = Behind::new(Some(Metres::from_mm(1.5)));
        (0..60).for_each(|now| behind.take(f64::from(now), 100.0 + f64::from(now), 60.0));
        behind.take(2000.0, 50.0, 900.0);
        assert_eq!(behind.at(2000.0).map(|found| found.temp_c.round()), Some(50.0));
    }
}
