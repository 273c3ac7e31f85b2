//! What comes if the burner stays as it is: the ensemble run ahead of time.

use crate::physics::{Drive, Ensemble, SectionState, SolveError};
use crate::plan::Flame;
use crate::units::{Celsius, Seconds};

use super::cue::Fired;
use super::estimate::{danger_of, range};
use super::ramp::crossing_s;
use super::snapshot::PlanPoint;

/// Times ahead at which the forecast is read, s: close where a hand can still act, then ten minutes out.
const STEPS_S: [f64; 12] = [10.0, 20.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0, 240.0, 300.0, 420.0, 600.0];

/// While the burner burns nobody needs to know more than this ahead, s: a forecast is made anew long before, and a lit chamber
/// is dear to solve.
const HORIZON_LIT_S: f64 = 300.0;

/// A forecast is made anew after so long while the burner burns, s, and after each change of the burner.
pub(super) const AGES_AFTER_S: f64 = 30.0;

/// While the burner is shut things change slowly, s.
pub(super) const AGES_WHILE_SHUT_S: f64 = 120.0;

/// The ensemble run ahead with the burner as it was.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Forecast {
    /// When it was made, s.
    pub made_s: f64,
    /// With the burner in this state.
    pub burner: Flame,
    /// At this share of its full fire.
    pub fire: f64,
    /// Per section, in order of time.
    pub sections: Vec<SectionAhead>,
    /// The hottest face.
    pub hottest: Vec<PlanPoint>,
}

/// What is ahead of one section: time from now, s, and a value.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct SectionAhead {
    /// Pessimistic danger number.
    pub danger: Vec<(f64, f64)>,
    /// Rise of the median hot face from now on, K.
    pub rise_k: Vec<(f64, f64)>,
}

impl Forecast {
    /// Runs a copy of `ensemble` ahead from `now_s`.
    pub fn of(ensemble: &Ensemble, sections: usize, fired: Fired, now_s: f64) -> Result<Self, SolveError> {
        let mut ahead = ensemble.clone();
        let burner = fired.flame;
        let start_c: Vec<f64> = (0..sections).map(|section| hot_face_c(&ahead, &ahead.states(section))).collect();
        let mut forecast = Self {
            made_s: now_s,
            burner,
            fire: fired.fire,
            sections: vec![SectionAhead::default(); sections],
            hottest: Vec::new(),
        };
        forecast.see(&ahead, 0.0, &start_c);
        let mut at_s = 0.0;
        let horizon_s = if burner == Flame::On { HORIZON_LIT_S } else { f64::INFINITY };
        for step_s in STEPS_S.into_iter().take_while(|step_s| *step_s <= horizon_s) {
            ahead.advance(drive_ahead(fired, at_s, step_s), Seconds(step_s - at_s))?;
            at_s = step_s;
            forecast.see(&ahead, at_s, &start_c);
        }
        Ok(forecast)
    }

    fn see(&mut self, ahead: &Ensemble, at_s: f64, start_c: &[f64]) {
        let states: Vec<Vec<SectionState>> = (0..self.sections.len()).map(|section| ahead.states(section)).collect();
        for (section, (seen, states)) in self.sections.iter_mut().zip(&states).enumerate() {
            seen.danger.push((at_s, danger_of(ahead, states).high));
            seen.rise_k.push((at_s, hot_face_c(ahead, states) - start_c.get(section).copied().unwrap_or(0.0)));
        }
        let hottest = range(ahead, |member| {
            states.iter().map(|states| states[member].hot_face.0).fold(f64::NEG_INFINITY, f64::max)
        });
        let [low, mid, high] = [hottest.low, hottest.mid, hottest.high].map(Celsius);
        self.hottest.push(PlanPoint { elapsed: Seconds(self.made_s + at_s), low, mid, high });
    }

    /// Whether it no longer tells what comes.
    pub fn is_old(&self, now_s: f64, fired: Fired) -> bool {
        let burner = fired.flame;
        let turned = (self.fire - fired.fire).abs() > 1e-9;
        let after_s = if burner == Flame::On { AGES_AFTER_S } else { AGES_WHILE_SHUT_S };
        self.burner != burner || turned || now_s - self.made_s >= after_s - 1e-9
    }

    /// Time from `now_s` until the pessimistic danger number of a section passes `limit`, s.
    pub fn danger_in_s(&self, section: usize, limit: f64, now_s: f64) -> Option<f64> {
        let danger = &self.sections.get(section)?.danger;
        Some((self.made_s + first_above_s(danger, limit)? - now_s).max(0.0))
    }

    /// Temperatures ahead of `now_s` (time from now, s; °C) of a face of a section that is at `temp_c` now.
    pub fn face_ahead(&self, section: usize, temp_c: f64, now_s: f64) -> Vec<(f64, f64)> {
        let Some(seen) = self.sections.get(section) else { return Vec::new() };
        let age_s = now_s - self.made_s;
        let risen_k = at(&seen.rise_k, age_s);
        let ahead = seen.rise_k.iter().filter(|(at_s, _)| *at_s > age_s);
        ahead.map(|(at_s, rise_k)| (at_s - age_s, temp_c + rise_k - risen_k)).collect()
    }
}

/// What drives the furnace from one time ahead to another, s, if all goes on as it is.
fn drive_ahead(fired: Fired, from_s: f64, to_s: f64) -> Drive {
    if let (Flame::On, Some((at, ramp))) = (fired.flame, fired.gas) {
        let gas = |ahead_s: f64| Celsius(at.0 + ramp.0 * ahead_s / 3600.0);
        return Drive::Ramp { from: gas(from_s), to: gas(to_s) };
    }
    if fired.fire > 0.0 && fired.fire < 1.0 {
        return Drive::Fires { high: fired.fire, low: 0.0, on: 1.0 };
    }
    Drive::Burner { on: if fired.flame == Flame::On { 1.0 } else { 0.0 } }
}

/// First time at which a value rises above `limit`; `None` when it begins above or never does.
pub(super) fn first_above_s(values: &[(f64, f64)], limit: f64) -> Option<f64> {
    let over = values.iter().position(|(_, value)| *value > limit)?;
    let after = *values.get(over)?;
    let before = values.get(over.checked_sub(1)?)?;
    Some(crossing_s((before.0, before.1 - limit), (after.0, after.1 - limit)))
}

/// The value of a curve at a time, along straight lines, flat beyond its ends.
fn at(values: &[(f64, f64)], at_s: f64) -> f64 {
    let after = values.partition_point(|(point_s, _)| *point_s <= at_s);
    match (after.checked_sub(1).and_then(|before| values.get(before)), values.get(after)) {
        (Some(before), Some(after)) => before.1 + (after.1 - before.1) * (at_s - before.0) / (after.0 - before.0),
        (Some(only), None) | (None, Some(only)) => only.1,
        (None, None) => 0.0,
    }
}

fn hot_face_c(ensemble: &Ensemble, states: &[SectionState]) -> f64 {
    ensemble.percentile(0.5, |member| states[member].hot_face.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn forecast() -> Forecast {
        let section = SectionAhead {
            danger: vec![(0.0, 0.2), (10.0, 0.3), (60.0, 0.8)],
            rise_k: vec![(0.0, 0.0), (10.0, 20.0), (60.0, 60.0)],
        };
        Forecast { made_s: 100.0, burner: Flame::On, fire: 1.0, sections: vec![section], hottest: Vec::new() }
    }

    #[test]
    fn the_lead_shrinks_as_time_passes() {
        let leads = [100.0, 105.0, 200.0].map(|now_s| forecast().danger_in_s(0, 0.5, now_s));
        assert_eq!(leads, [Some(30.0), Some(25.0), Some(0.0)]);
    }

    #[test]
    fn a_limit_out_of_reach_has_no_lead() {
        assert_eq!(forecast().danger_in_s(0, 1.0, 100.0), None);
    }

    #[test]
    fn the_face_goes_on_from_what_the_probe_says() {
        assert_eq!(forecast().face_ahead(0, 300.0, 105.0), [(5.0, 310.0), (55.0, 350.0)]);
    }

    #[test]
    fn a_change_of_the_burner_makes_a_forecast_old() {
        assert!(forecast().is_old(101.0, Fired::of(Flame::Off)) && !forecast().is_old(101.0, Fired::of(Flame::On)));
    }
}
