//! Where the burner leads on each of its ways: as it is, as the plan says, shut now.
//!
//! Only a screen wants to know all of that, and it costs more than a step may, so whoever has a screen works it out beside the
//! steps ([`Run::look_ahead`]) and hands it back for the snapshot ([`Run::show_ahead`]). Verdicts never hang on it. The wall is
//! run ahead again after each piece of the estimate; between two of them what is left to a limit is counted anew from each reading.

use super::forecast::{Forecast, Way, first_above_s};
use super::ramp::window_s;
use super::snapshot::{Course, CourseNow, LimitAhead};
use super::verdict::WarningCause;
use super::{Going, Run};
use crate::physics::{Ensemble, SolveError};
use crate::plan::Flame;
use crate::units::Seconds;

/// How far ahead it is looked, s.
const LOOKS_S: f64 = 600.0;

/// The wall is run ahead again after so long while the burner burns, s, and while it is shut.
const AGES_AFTER_S: [f64; 2] = [10.0, 60.0];

/// All that looking ahead needs. It owns everything, so that it can go to another thread.
#[derive(Clone, Debug)]
pub struct LookAhead {
    made_s: f64,
    sections: usize,
    ensemble: Ensemble,
    ways: Vec<(Course, Way)>,
}

/// What was seen ahead.
#[derive(Clone, Debug, PartialEq)]
pub struct Ahead {
    courses: Vec<(Course, Forecast)>,
}

impl LookAhead {
    /// Runs the wall ahead on each way. Takes tenths of a second.
    ///
    /// # Errors
    /// When the wall cannot be solved on one of them.
    pub fn look(self) -> Result<Ahead, SolveError> {
        let mut courses: Vec<(Course, Forecast)> = Vec::new();
        let mut seen: Vec<(&Way, usize)> = Vec::new();
        for (course, way) in &self.ways {
            let forecast = match seen.iter().find(|(known, _)| *known == way) {
                Some((_, index)) => courses[*index].1.clone(),
                None => Forecast::of((&self.ensemble, self.sections), way, self.made_s, LOOKS_S)?,
            };
            seen.push((way, courses.len()));
            courses.push((*course, forecast));
        }
        Ok(Ahead { courses })
    }
}

impl Run {
    /// What to look ahead with, when what was last seen ahead is old; `None` when it is not, or nothing burns yet or any more.
    #[must_use]
    pub fn look_ahead(&self) -> Option<LookAhead> {
        let burner = self.pacer.burner();
        let nothing_yet = self.pacer.going() == Going::Waiting && burner == Flame::Off;
        if nothing_yet || self.ended.is_some() || !self.is_ahead_old(burner) {
            return None;
        }
        let fired = self.pacer.fired();
        let planned = Way { fired, changes_s: self.pacer.changes_within_s(LOOKS_S) };
        let ways =
            vec![(Course::AsIs, Way::stays(fired)), (Course::AsPlanned, planned), (Course::ShutNow, Way::shut())];
        let (sections, ensemble) = (self.estimator.sections().len(), self.estimator.ensemble.clone());
        Some(LookAhead { made_s: self.elapsed_s, sections, ensemble, ways })
    }

    /// Lets the snapshot show what was seen ahead. Nothing else changes by it.
    pub fn show_ahead(&mut self, ahead: Ahead) {
        self.ahead = Some(ahead);
    }

    fn is_ahead_old(&self, burner: Flame) -> bool {
        let age_s = AGES_AFTER_S[usize::from(burner == Flame::Off)];
        let made = self.ahead.as_ref().and_then(|ahead| ahead.courses.first());
        made.is_none_or(|(_, forecast)| {
            forecast.burner != burner || self.elapsed_s - forecast.made_s >= age_s || self.elapsed_s < forecast.made_s
        })
    }

    /// The forecast with the burner as it is: the far one where there is one for this state of the burner.
    pub(super) fn stays(&self) -> Option<&Forecast> {
        let far = self.ahead.as_ref().and_then(|ahead| ahead.courses.first()).map(|(_, forecast)| forecast);
        far.filter(|far| far.burner == self.pacer.burner()).or(self.forecast.as_ref())
    }

    /// Each way with the limits on it, counted from now.
    pub(super) fn courses(&self) -> Vec<CourseNow> {
        let Some(ahead) = self.ahead.as_ref() else { return Vec::new() };
        let course_now = |(course, forecast): &(Course, Forecast)| CourseNow {
            course: *course,
            looks: Seconds((forecast.made_s + forecast.looks_s() - self.elapsed_s).max(0.0)),
            limits: self.limits_on(forecast),
        };
        let is_of_now = ahead.courses.first().is_some_and(|(_, forecast)| forecast.burner == self.pacer.burner());
        if is_of_now && self.ended.is_none() { ahead.courses.iter().map(course_now).collect() } else { Vec::new() }
    }

    /// The limits that come on a way, the nearest first.
    fn limits_on(&self, forecast: &Forecast) -> Vec<LimitAhead> {
        let mut limits = Vec::new();
        for (section, described) in self.lining.sections.iter().enumerate() {
            let mut add = |cause, lead_s: Option<f64>| {
                let ahead = |lead_s| LimitAhead { cause, section: described.name.clone(), lead: Seconds(lead_s) };
                limits.extend(lead_s.map(ahead));
            };
            add(WarningCause::Danger, self.danger_on_s(forecast, section));
            add(WarningCause::Ramp, self.ramp_on_s(forecast, section));
            add(WarningCause::Service, self.service_on_s(forecast, section));
        }
        limits.sort_by(|a, b| a.lead.0.total_cmp(&b.lead.0));
        limits
    }

    fn danger_on_s(&self, forecast: &Forecast, section: usize) -> Option<f64> {
        let ceiling = self.plan.limits.danger_ceiling;
        if self.estimator.danger(section).high > ceiling {
            return Some(0.0);
        }
        forecast.danger_in_s(section, ceiling, self.elapsed_s)
    }

    fn ramp_on_s(&self, forecast: &Forecast, section: usize) -> Option<f64> {
        let (face, limit) = (self.face(section)?, self.ramp_limit(section)?);
        if face.rise.is_some_and(|rise| rise.excess_k(limit) >= rise.dead_band_k()) {
            return Some(0.0);
        }
        let ahead = forecast.face_ahead(section, face.temp_c, self.elapsed_s);
        self.trail_of(&face)?.limit_in_s(limit, window_s(self.pacer.cycle_s()), &ahead)
    }

    fn service_on_s(&self, forecast: &Forecast, section: usize) -> Option<f64> {
        let (face, limit_c) = (self.face(section)?, self.service_limit_c(section)?);
        let mut ahead = vec![(0.0, face.temp_c)];
        ahead.extend(forecast.face_ahead(section, face.temp_c, self.elapsed_s));
        if face.temp_c >= limit_c { Some(0.0) } else { first_above_s(&ahead, limit_c) }
    }
}
