//! What comes: the ensemble run ahead of time, with the burner as it is or on another way.

use crate::physics::{Drive, Ensemble, SectionState, SolveError};
use crate::plan::Flame;
use crate::units::{Celsius, Seconds};

use super::cue::Fired;
use super::estimate::danger_of;
use super::ramp::crossing_s;
use super::snapshot::PlanPoint;
use super::spread::range;

/// Times ahead at which the forecast is read, s: close where a hand can still act, then ten minutes out.
const STEPS_S: [f64; 8] = [10.0, 30.0, 60.0, 120.0, 180.0, 300.0, 420.0, 600.0];

/// As far ahead as a warning may need, s: while the burner burns, for longer than the time after which a forecast is made anew,
/// since a lit chamber is dear to solve; and while it is shut, since whatever rises then has no more than its lag left.
const WARNS_LIT_S: f64 = 300.0;
const WARNS_SHUT_S: f64 = 120.0;

/// A forecast looks further than what has to be seen by so much, s, so that it does not have to be made anew at once.
const SPARE_S: f64 = 10.0;

/// A forecast is made anew after each change of the burner, and after so long, s: while the burner burns, where a section is
/// near its danger ceiling, and where none is; and while it is shut. Where none is near, what still may come is a ramp or a
/// service limit, and those go by the reading of each second and by how the face rose in the forecast, which ages slowly.
const AGES_AFTER_LIT_S: [f64; 2] = [30.0, 60.0];
const AGES_AFTER_SHUT_S: f64 = 120.0;

/// What the burner does from now on.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Way {
    /// What it does now.
    pub fired: Fired,
    /// When it is lit or shut in turns, s from now, in order. Lit again it burns as it does now, or else in full.
    pub changes_s: Vec<f64>,
}

impl Way {
    /// The burner stays as it is.
    pub fn stays(fired: Fired) -> Self {
        Self { fired, changes_s: Vec::new() }
    }

    /// The burner is shut.
    pub fn shut() -> Self {
        Self::stays(Fired::SHUT)
    }

    /// Pieces of one state between two times from now, s.
    fn between(&self, from_s: f64, to_s: f64) -> impl Iterator<Item = (Drive, f64)> {
        let inside = self.changes_s.iter().copied().filter(move |at_s| *at_s > from_s && *at_s < to_s);
        let ends: Vec<f64> = inside.chain([to_s]).collect();
        let mut before_s = from_s;
        let lit = if self.fired.flame == Flame::On { self.fired } else { Fired::FULL };
        ends.into_iter().map(move |end_s| {
            let is_turned = self.changes_s.iter().filter(|at_s| **at_s <= before_s).count() % 2 == 1;
            let burns = (self.fired.flame == Flame::On) != is_turned;
            let drive = drive_ahead(if burns { lit } else { Fired::SHUT }, before_s, end_s);
            let span_s = end_s - before_s;
            before_s = end_s;
            (drive, span_s)
        })
    }
}

/// Whether some section's danger number is more than half of its ceiling.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Nearness {
    /// It is.
    Near,
    /// None is.
    Far,
}

/// The ensemble run ahead on a way.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Forecast {
    /// When it was made, s.
    pub made_s: f64,
    /// With the burner in this state, at first.
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
    /// With the burner as it is, for `must_see_s` and a little more, and no further than warnings reach.
    pub fn for_warnings(
        wall: (&Ensemble, usize),
        fired: Fired,
        now_s: f64,
        must_see_s: f64,
    ) -> Result<Self, SolveError> {
        let most_s = warns_s(fired.flame);
        let enough = |step_s: &f64| *step_s >= (must_see_s + SPARE_S).min(most_s);
        let horizon_s = STEPS_S.into_iter().find(enough).unwrap_or(most_s);
        Self::of(wall, &Way::stays(fired), now_s, horizon_s)
    }

    /// Runs a copy of `ensemble` ahead from `now_s` for `horizon_s` at most.
    pub fn of(
        (ensemble, sections): (&Ensemble, usize),
        way: &Way,
        now_s: f64,
        horizon_s: f64,
    ) -> Result<Self, SolveError> {
        let mut ahead = ensemble.clone();
        let start_c: Vec<f64> = (0..sections).map(|section| hot_face_c(&ahead, section)).collect();
        let mut forecast = Self {
            made_s: now_s,
            burner: way.fired.flame,
            fire: way.fired.fire,
            sections: vec![SectionAhead::default(); sections],
            hottest: Vec::new(),
        };
        forecast.see(&ahead, 0.0, &start_c);
        let mut at_s = 0.0;
        for step_s in STEPS_S.into_iter().take_while(|step_s| *step_s <= horizon_s) {
            for (drive, span_s) in way.between(at_s, step_s) {
                ahead.advance(drive, Seconds(span_s))?;
            }
            at_s = step_s;
            forecast.see(&ahead, at_s, &start_c);
        }
        Ok(forecast)
    }

    /// How far it looks, s.
    pub fn looks_s(&self) -> f64 {
        self.sections.first().and_then(|section| section.danger.last()).map_or(0.0, |(at_s, _)| *at_s)
    }

    fn see(&mut self, ahead: &Ensemble, at_s: f64, start_c: &[f64]) {
        let states: Vec<Vec<SectionState>> = (0..self.sections.len()).map(|section| ahead.states(section)).collect();
        for (section, (seen, states)) in self.sections.iter_mut().zip(&states).enumerate() {
            seen.danger.push((at_s, danger_of(ahead, states).high));
            seen.rise_k.push((at_s, hot_face_c(ahead, section) - start_c.get(section).copied().unwrap_or(0.0)));
        }
        let hottest = range(ahead, |member| {
            states.iter().map(|states| states[member].hot_face.0).fold(f64::NEG_INFINITY, f64::max)
        });
        let [low, mid, high] = [hottest.low, hottest.mid, hottest.high].map(Celsius);
        self.hottest.push(PlanPoint { elapsed: Seconds(self.made_s + at_s), low, mid, high });
    }

    /// Whether it no longer tells what comes within `must_see_s`.
    pub fn is_old(&self, now_s: f64, fired: Fired, nearness: Nearness, must_see_s: f64) -> bool {
        let after_s = match fired.flame {
            Flame::On => AGES_AFTER_LIT_S[usize::from(nearness == Nearness::Far)],
            Flame::Off => AGES_AFTER_SHUT_S,
        };
        let age_s = now_s - self.made_s;
        let turned = self.burner != fired.flame || (self.fire - fired.fire).abs() > 1e-9;
        let ends_early = self.looks_s() < warns_s(fired.flame) && self.looks_s() - age_s < must_see_s;
        turned || age_s >= after_s - 1e-9 || ends_early
    }

    /// Time from `now_s` until the pessimistic danger number of a section passes `limit`, s; `None` when it does not as far as
    /// the forecast looks, or that is past.
    pub fn danger_in_s(&self, section: usize, limit: f64, now_s: f64) -> Option<f64> {
        let danger = &self.sections.get(section)?.danger;
        if now_s - self.made_s > self.looks_s() {
            return None;
        }
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

/// As far ahead as a warning may need, s.
fn warns_s(flame: Flame) -> f64 {
    if flame == Flame::On { WARNS_LIT_S } else { WARNS_SHUT_S }
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

fn hot_face_c(ensemble: &Ensemble, section: usize) -> f64 {
    ensemble.percentile(0.5, |member| ensemble.hot_face(member, section).0)
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
        let leads = [100.0, 105.0, 150.0, 200.0].map(|now_s| forecast().danger_in_s(0, 0.5, now_s));
        assert_eq!(leads, [Some(30.0), Some(25.0), Some(0.0), None]);
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
    fn a_way_changes_the_burner_where_it_says() {
        let way = Way { fired: Fired::FULL, changes_s: vec![12.0, 40.0] };
        let on = |drive: Drive| if drive == (Drive::Burner { on: 1.0 }) { "on" } else { "off" };
        let pieces: Vec<(&str, f64)> = [(0.0, 10.0), (10.0, 60.0)]
            .into_iter()
            .flat_map(|(from_s, to_s)| {
                way.between(from_s, to_s).map(|(drive, span_s)| (on(drive), span_s)).collect::<Vec<_>>()
            })
            .collect();
        assert_eq!(pieces, [("on", 10.0), ("on", 2.0), ("off", 28.0), ("on", 20.0)]);
    }

    #[test]
    fn a_change_of_the_burner_makes_a_forecast_old() {
        let is_old = |flame| forecast().is_old(101.0, Fired::of(flame), Nearness::Far, 30.0);
        assert!(is_old(Flame::Off) && !is_old(Flame::On));
    }

    #[test]
    fn a_forecast_that_ends_before_what_has_to_be_seen_is_old() {
        let is_old = |must_see_s| forecast().is_old(101.0, Fired::FULL, Nearness::Far, must_see_s);
        assert!(is_old(60.0) && !is_old(59.0));
    }
}
