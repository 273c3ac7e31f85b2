//! How much each member is believed, by the readings away from the face that drives it.
//!
//! Two things keep the belief as wide as the readings leave it. An error of place or of a couple is the same all day, so readings
//! in a row are not so many proofs: what is held is worth [`FORGETS_AFTER_S`] over [`ERROR_LASTS_S`] of them. And temperatures
//! hardly see permeability: a member that happens to conduct heat as the wall does must not take its luck in permeability with
//! it, so the weights are flattened until at least [`LEAST_EFFECTIVE`] of the members count.

use crate::physics::{Drive, Ensemble, SectionState};

use super::lag::Behind;
use super::sight::Sight;

/// How long a probe's error and the model's error stay the same, s. A second of readings counts as this fraction of one.
const ERROR_LASTS_S: f64 = 3600.0;

/// After how long older readings count for less, s.
const FORGETS_AFTER_S: f64 = 14_400.0;

/// No reading counts as further off than so many standard deviations.
const FURTHEST_SD: f64 = 4.0;

/// A share of the weights that is always spread evenly, so that no member is ever gone for good.
const EVEN_SHARE: f64 = 0.05;

/// Least share of the members that count: one over the sum of the squares of their weights, over their number.
const LEAST_EFFECTIVE: f64 = 0.5;

/// Halvings in which the flattening is found.
const HALVINGS: usize = 24;

/// Beliefs in the members.
#[derive(Clone, Debug)]
pub(super) struct Weigher {
    log_weights: Vec<f64>,
    /// What each channel would show in each member, behind its lag, °C.
    shown_c: Vec<Vec<Option<f64>>>,
}

/// What is known over a piece of time.
#[derive(Clone, Copy, Debug)]
pub(super) struct Told<'a> {
    /// Length, s.
    pub span_s: f64,
    /// What drove the members.
    pub drive: Drive,
    /// What each channel read at its end, °C.
    pub temps_c: &'a [Option<f64>],
    /// Temperature of the air, °C.
    pub ambient_c: f64,
}

impl Weigher {
    /// Before anything was read.
    pub fn new(members: usize, channels: usize) -> Self {
        Self { log_weights: vec![0.0; members], shown_c: vec![vec![None; members]; channels] }
    }

    /// Shifts weight to the members that agree with what was told.
    pub fn weigh(
        &mut self,
        ensemble: &mut Ensemble,
        states: &[Vec<SectionState>],
        (sights, behind): (&[Sight], &[Behind]),
        told: &Told,
    ) {
        let keep = (-told.span_s / FORGETS_AFTER_S).exp();
        self.log_weights.iter_mut().for_each(|log_weight| *log_weight *= keep);
        for (channel, (sight, behind)) in sights.iter().zip(behind).enumerate() {
            let follow = 1.0 - (-told.span_s / behind.lag_s()).exp();
            let read_c = told.temps_c.get(channel).copied().flatten();
            let error_k = read_c.map(|read_c| sight.error_k((ensemble, states), read_c, told.ambient_c));
            let Some(shown_c) = self.shown_c.get_mut(channel) else { continue };
            for (member, (log_weight, shown_c)) in self.log_weights.iter_mut().zip(shown_c).enumerate() {
                let Some(there_c) = sight.expected_c((ensemble, states), member, told.drive) else {
                    *shown_c = None;
                    continue;
                };
                let would_show_c = shown_c.map_or(there_c, |shown_c| shown_c + follow * (there_c - shown_c));
                *shown_c = Some(would_show_c);
                if let (Some(read_c), Some(error_k)) = (read_c, error_k) {
                    let off = ((read_c - would_show_c) / error_k).clamp(-FURTHEST_SD, FURTHEST_SD);
                    *log_weight -= 0.5 * off * off * told.span_s / ERROR_LASTS_S;
                }
            }
        }
        set(ensemble, &flattened(&self.log_weights));
    }
}

/// Weights that add up to 1, flattened until enough members count.
fn flattened(log_weights: &[f64]) -> Vec<f64> {
    let members = log_weights.len() as f64;
    let most = log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights = |sharp: f64| {
        let raw: Vec<f64> = log_weights.iter().map(|log_weight| (sharp * (log_weight - most)).exp()).collect();
        let sum: f64 = raw.iter().sum();
        raw.into_iter().map(|weight| (1.0 - EVEN_SHARE) * weight / sum + EVEN_SHARE / members).collect::<Vec<f64>>()
    };
    let counts =
        |weights: &[f64]| 1.0 / weights.iter().map(|weight| weight * weight).sum::<f64>() >= LEAST_EFFECTIVE * members;
    let sharpest = weights(1.0);
    if counts(&sharpest) {
        return sharpest;
    }
    let (mut flat, mut sharp) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (flat + sharp);
        if counts(&weights(middle)) { flat = middle } else { sharp = middle }
    }
    weights(flat)
}

fn set(ensemble: &mut Ensemble, wanted: &[f64]) {
    let held = ensemble.weights().to_vec();
    ensemble.reweight(|member| match (wanted.get(member), held.get(member)) {
        (Some(wanted), Some(held)) if *held > 0.0 => wanted / held,
        _ => 1.0,
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    fn effective(weights: &[f64]) -> f64 {
        1.0 / weights.iter().map(|weight| weight * weight).sum::<f64>()
    }

    #[test]
    fn weights_that_leave_enough_members_stay_as_sharp_as_they_are() {
        let weights = flattened(&[0.0, -0.2, -0.4, -0.6]);
        let ratio = (weights[1] - EVEN_SHARE / 4.0) / (weights[0] - EVEN_SHARE / 4.0);
        assert!((ratio - (-0.2_f64).exp()).abs() < 1e-12, "{ratio}");
    }

    #[test]
    fn sharper_weights_are_flattened_until_half_of_the_members_count() {
        let log_weights: Vec<f64> = (0..16).map(|member| -3.0 * f64::from(member)).collect();
        let weights = flattened(&log_weights);
        assert!((effective(&weights) - 8.0).abs() < 0.01, "{}", effective(&weights));
        assert!(weights.is_sorted_by(|a, b| a >= b), "{weights:?}");
    }
}
