//! Ranges of what the weighted members say, as wide as what is known of them.

use crate::physics::Ensemble;

use super::verdict::Range;

/// Relative change of the pressure of boiling water with its temperature is this over T², K: heat of evaporation over the gas
/// constant of steam, 2.2 MJ/kg over 461.5 J/(kg K) (steam tables at 110 °C).
const BOILS_K: f64 = 4770.0;

/// Temperature at which water boils in the pores of a lining that dries, K: where the slope of its pressure is taken.
const BOILING_K: f64 = 390.0;

/// Deviates of a normal distribution at the middles of nine parts of equal weight (printed tables).
const POINTS: [f64; 9] = [-1.593, -0.967, -0.589, -0.282, 0.0, 0.282, 0.589, 0.967, 1.593];

/// 5th, 50th and 95th percentile of a value over the weighted members.
pub(super) fn range(ensemble: &Ensemble, value: impl Fn(usize) -> f64) -> Range {
    let values = (0..ensemble.members()).map(value).zip(ensemble.weights().iter().copied()).collect();
    percentiles(values)
}

/// The same of a pore pressure, Pa absolute, where the members stand for more than themselves.
///
/// All are driven by one temperature that is known to `drive_sd_k`, and where water boils that moves the pressure by 3 % a
/// kelvin. And few members stand for a whole distribution: each is spread by the bandwidth that a sample of their number needs
/// (Silverman, Density Estimation, 1986, 3.28: (4 / 3n)^(1/5) of their deviation; the regularised particle filter of Musso, Oudjane
/// and Le Gland, 2001, draws from the same).
pub(super) fn blurred(ensemble: &Ensemble, drive_sd_k: f64, pressure_pa: impl Fn(usize) -> f64) -> Range {
    let logs: Vec<f64> = (0..ensemble.members()).map(|member| pressure_pa(member).max(1.0).ln()).collect();
    let weights = ensemble.weights();
    let mean: f64 = logs.iter().zip(weights).map(|(log, weight)| log * weight).sum();
    let variance: f64 = logs.iter().zip(weights).map(|(log, weight)| weight * (log - mean).powi(2)).sum();
    let count = 1.0 / weights.iter().map(|weight| weight * weight).sum::<f64>();
    let bandwidth = (4.0 / (3.0 * count)).powf(0.2) * variance.sqrt();
    let sd = bandwidth.hypot(drive_sd_k * BOILS_K / (BOILING_K * BOILING_K));
    let points = logs
        .iter()
        .zip(weights)
        .flat_map(|(log, weight)| POINTS.map(|deviates| ((log + sd * deviates).exp(), weight / POINTS.len() as f64)));
    percentiles(points.collect())
}

/// To whole parts of `per_unit`.
pub(super) fn rounded(range: Range, per_unit: f64) -> Range {
    let round = |value: f64| (value * per_unit).round() / per_unit;
    Range { low: round(range.low), mid: round(range.mid), high: round(range.high) }
}

/// The smallest values that 5, 50 and 95 % of the weight do not exceed.
fn percentiles(mut values: Vec<(f64, f64)>) -> Range {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let at = |share: f64| {
        let mut sum = 0.0;
        let reached = values.iter().find(|(_, weight)| {
            sum += weight;
            sum >= share - 1e-12
        });
        reached.or(values.last()).map_or(f64::NAN, |(value, _)| *value)
    };
    Range { low: at(0.05), mid: at(0.5), high: at(0.95) }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::lining::material::Materials;
    use crate::lining::text::parse_lining;
    use crate::physics::{Belief, Furnace, Grid};

    fn ensemble(members: usize) -> Ensemble {
        let text = include_str!("../../schedules/thin-coat-forge.toml");
        let lining = parse_lining(text, Materials::built_in()).unwrap();
        Ensemble::new(&Furnace::of(&lining, Grid::Coarse), Belief { members, seed: 1 }).unwrap()
    }

    #[test]
    fn the_range_of_unequal_weights_follows_the_weight() {
        let mut ensemble = ensemble(3);
        ensemble.reweight(|member| [0.5, 0.46, 0.04][member]);
        let range = range(&ensemble, |member| [1.0, 2.0, 3.0][member]);
        assert_eq!([range.low, range.mid, range.high].map(|value| value.to_string()), ["1", "1", "2"]);
    }

    /// At 1 % of the temperature of boiling water known to 2 K: 12 % of the pressure up and down at two deviations.
    #[test]
    fn a_pressure_is_known_no_better_than_the_temperature_that_drives_it() {
        let ensemble = ensemble(1);
        let [sure, unsure] = [0.0, 2.0].map(|sd_k| blurred(&ensemble, sd_k, |_| 200e3));
        assert!((sure.high - sure.low).abs() < 1.0, "{sure:?}");
        assert!((0.17..0.24).contains(&((unsure.high - unsure.low) / 200e3)), "{unsure:?}");
    }

    #[test]
    fn few_members_stand_for_more_than_themselves() {
        let ensemble = ensemble(8);
        let of_member = |member: usize| 100e3 * (1.0 + 0.1 * member as f64);
        let (bare, spread) = (range(&ensemble, of_member), blurred(&ensemble, 0.0, of_member));
        assert!(spread.low < bare.low && spread.high > bare.high, "{bare:?} {spread:?}");
    }
}
