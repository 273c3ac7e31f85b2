//! What is watched: ramp, danger number, service limits, and whether the burner does what it was asked to.

use super::alarm::{Condition, Grade, Look, Topic};
use super::cue::{Going, Lateness, in_words};
use super::ramp::{Rise, dead_band_k, window_s};
use super::verdict::{Advice, Verdict, WarningCause};
use super::{Probe, Run, ToldBy};
use crate::plan::Flame;
use crate::reading::{Channel, Place};
use crate::units::quantity::UnitSystem;
use crate::units::{KelvinPerHour, Metres};

/// A person needs so long to reach the valve, s.
const REACTION_S: f64 = 10.0;

/// A ramp has to be too steep for so long before it is a warning without a forecast, s. A pulse that comes a little
/// early is within one window twice for just that long.
const RAMP_STAYS_S: f64 = 30.0;

/// The plan itself goes to the ceiling, so a warning needs a little more than that: a dead-band of 10 %, half above.
const DANGER_ABOVE: f64 = 1.05;
const DANGER_BELOW: f64 = 0.95;

/// Danger number at which a lining can spall.
const SPALLS: f64 = 1.0;

/// A light-up this late gets a notice, and this late a warning, s.
const UNLIT_NOTICE_S: f64 = 15.0;
const UNLIT_WARNING_S: f64 = 120.0;

/// A readings-against-word contradiction of this length is a flame that is out, s.
const FLAME_OUT_S: f64 = 10.0;

/// A face of a section as it is watched: by its probe, or by the ensemble where none can be believed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Face {
    section: usize,
    channel: Option<Channel>,
    /// Temperature now, °C.
    pub temp_c: f64,
    /// Rise over the last window.
    pub rise: Option<Rise>,
}

impl Run {
    /// All that is watched, looked at now.
    pub(super) fn look(&mut self) -> Vec<Look> {
        let mut looks = vec![self.look_at_pulse(), self.look_at_light_up(), self.look_at_flame()];
        let faces: Vec<Face> = (0..self.lining.sections.len()).filter_map(|section| self.face(section)).collect();
        for face in &faces {
            looks.extend(self.look_at_ramp(face));
            looks.extend(self.look_at_service(face));
        }
        looks.extend((0..self.lining.sections.len()).filter_map(|section| self.look_at_danger(section)));
        looks.extend((0..self.trails.len()).filter_map(|index| self.look_at_probe(index)));
        looks
    }

    /// A notice for a burner that is a little late.
    pub(super) fn late_notice(&mut self) -> Option<Verdict> {
        let text = match self.pacer.lateness(self.elapsed_s) {
            Lateness::None => {
                self.late_said = 0;
                return None;
            }
            Lateness::Unlit(late_s) if late_s >= UNLIT_NOTICE_S => {
                format!("the burner should have been lit {} ago: the plan waits", in_words(late_s))
            }
            Lateness::Burning { over_s, pulse_s } if over_s >= (0.05 * pulse_s).max(3.0) => {
                format!("the burner should have been shut {} ago", in_words(over_s))
            }
            Lateness::High { over_s, pulse_s } if over_s >= (0.05 * pulse_s).max(3.0) => {
                let set = self.pacer.wanted_set().words(UnitSystem::Metric);
                format!("the fire should have been turned down to {set} {} ago", in_words(over_s))
            }
            _ => return None,
        };
        if self.late_said > 0 {
            return None;
        }
        self.late_said = 1;
        Some(Verdict::Notice { elapsed_s: self.elapsed_s, text, about: None })
    }

    /// The hottest face now, on the mean over the pulses, °C.
    pub(super) fn hottest_face_c(&self) -> Option<f64> {
        let window_s = window_s(self.pacer.cycle_s());
        let means = (0..self.lining.sections.len()).filter_map(|section| self.face_mean_c(section, window_s));
        means.reduce(f64::max)
    }

    /// Mean of a section's hot face over the last window, °C.
    pub(super) fn face_mean_c(&self, section: usize, window_s: f64) -> Option<f64> {
        match self.face_channel(section) {
            Some(index) => self.trails.get(index)?.mean_c(window_s),
            None => self.face_trails.get(section)?.mean_c(window_s),
        }
    }

    /// Ramp and limit of a channel, where they are known.
    pub(super) fn ramp_of(&self, index: usize) -> (Option<KelvinPerHour>, Option<KelvinPerHour>) {
        let rise = self.trails.get(index).and_then(|trail| trail.rise(window_s(self.pacer.cycle_s())));
        let limit = self.estimator.hot_face_of(index).and_then(|section| self.ramp_limit(section));
        (rise.map(|rise| rise.ramp), limit)
    }

    /// The steepest mean rise of a section's hot face while it is wet.
    pub(super) fn ramp_limit(&self, section: usize) -> Option<KelvinPerHour> {
        let own = self.estimator.ramp_limit(section)?;
        Some(KelvinPerHour(own.0.min(self.plan.limits.ramp.0)))
    }

    /// The channel whose hot-face reading of `section` can be believed now.
    fn face_channel(&self, section: usize) -> Option<usize> {
        let sees = |index: &usize| self.estimator.hot_face_of(*index) == Some(section);
        (0..self.trails.len()).filter(sees).find(|index| self.health.believed_c(*index).is_some())
    }

    /// The hot face of a section as it is watched.
    pub(super) fn face(&self, section: usize) -> Option<Face> {
        let window_s = window_s(self.pacer.cycle_s());
        let index = self.face_channel(section);
        let trail = index.map_or_else(|| self.face_trails.get(section), |index| self.trails.get(index))?;
        let channel = index.and_then(|index| self.health.channels().get(index));
        Some(Face {
            section,
            channel: channel.map(|channel| channel.probe.channel.clone()),
            temp_c: trail.last_c()?,
            rise: trail.rise(window_s),
        })
    }

    pub(super) fn trail_of(&self, face: &Face) -> Option<&super::Trail> {
        match self.face_channel(face.section) {
            Some(index) => self.trails.get(index),
            None => self.face_trails.get(face.section),
        }
    }

    fn section_name(&self, section: usize) -> Option<String> {
        self.lining.sections.get(section).map(|section| section.name.clone())
    }

    fn topic(&self, cause: WarningCause, section: Option<usize>, channel: Option<Channel>) -> Topic {
        Topic { cause, channel, section: section.and_then(|section| self.section_name(section)) }
    }

    /// Whether a limit that is reached in `lead_s` if the burner stays on needs a word: the plan does not shut it before,
    /// and whoever was just asked to shut it has had the time to.
    fn comes_before_the_change(&self, lead_s: f64) -> bool {
        match self.pacer.lateness(self.elapsed_s) {
            Lateness::High { over_s, .. } | Lateness::Burning { over_s, .. } => {
                over_s >= REACTION_S || lead_s <= REACTION_S
            }
            _ if self.pacer.burner() == Flame::Off || self.pacer.wanted() == Flame::Off => true,
            _ => self.pacer.changes_in_s().is_none_or(|change_s| lead_s < change_s),
        }
    }

    /// How far ahead the burner as it is has to be seen, s: to where the plan changes it, and without end where it does not or
    /// whoever was asked to does not.
    pub(super) fn must_see_s(&self) -> f64 {
        match self.pacer.lateness(self.elapsed_s) {
            Lateness::High { over_s, .. } | Lateness::Burning { over_s, .. } if over_s < REACTION_S => {
                REACTION_S - over_s
            }
            Lateness::High { .. } | Lateness::Burning { .. } => f64::INFINITY,
            _ if self.pacer.burner() == Flame::Off || self.pacer.wanted() == Flame::Off => f64::INFINITY,
            _ => self.pacer.changes_in_s().unwrap_or(f64::INFINITY),
        }
    }

    fn look_at_ramp(&mut self, face: &Face) -> Option<Look> {
        let topic = self.topic(WarningCause::Ramp, Some(face.section), face.channel.clone());
        let Some(limit) = self.ramp_limit(face.section) else { return Some(Look::Gone(topic)) };
        let rise = face.rise?;
        let over_k = rise.excess_k(limit);
        let now_s = self.elapsed_s;
        let over_since = self.ramp_over_since_s.get_mut(face.section)?;
        let too_steep = over_k > rise.dead_band_k();
        let since_s = if too_steep { Some(*over_since.get_or_insert(now_s)) } else { over_since.take() };
        let stays = too_steep && since_s.is_some_and(|since_s| now_s - since_s >= RAMP_STAYS_S);
        let lead_s = if too_steep { None } else { self.ramp_limit_in_s(face, limit, rise.window_s) };
        if !stays && lead_s.is_none() {
            return (over_k <= 0.0).then_some(Look::Gone(topic));
        }
        let grade = if stays { Grade::Passed } else { Grade::Act };
        let advice = self.ramp_advice(&rise, limit, lead_s);
        Some(Look::There(Condition { topic, grade, lead_s, advice }))
    }

    /// Time to the ramp limit with the burner on, when that comes before the plan shuts it.
    fn ramp_limit_in_s(&self, face: &Face, limit: KelvinPerHour, window_s: f64) -> Option<f64> {
        let forecast = self.forecast.as_ref().filter(|_| self.pacer.burner() == Flame::On)?;
        let ahead = forecast.face_ahead(face.section, face.temp_c, self.elapsed_s);
        let lead_s = self.trail_of(face)?.limit_in_s(limit, window_s, &ahead)?;
        (self.comes_before_the_change(lead_s)).then_some(lead_s)
    }

    fn ramp_advice(&self, rise: &Rise, limit: KelvinPerHour, lead_s: Option<f64>) -> Advice {
        // Shut, the mean needs as long to come back as the excess takes at the limit.
        let wait_s = (rise.excess_k(limit).max(0.0) / limit.0.max(1.0) * 3600.0).max(60.0);
        let action = match self.pacer.burner() {
            Flame::On => format!("shut the burner for {}", in_words((wait_s / 10.0).round() * 10.0)),
            Flame::Off => "keep the burner shut until this is over".to_owned(),
        };
        let reason = match lead_s {
            Some(lead_s) => {
                format!("if it stays on, the ramp limit of {:.0} K/h is reached in {}", limit.0, in_words(lead_s))
            }
            None => format!(
                "the hot face rises {:.0} K/h on the mean over {}, the wet lining bears {:.0}",
                rise.ramp.0,
                in_words(rise.window_s),
                limit.0
            ),
        };
        Advice { action, reason }
    }

    fn look_at_danger(&self, section: usize) -> Option<Look> {
        let topic = self.topic(WarningCause::Danger, Some(section), None);
        let high = self.estimator.danger(section).high;
        let ceiling = self.plan.limits.danger_ceiling;
        let ahead = |limit: f64| {
            let lead_s = self.forecast.as_ref()?.danger_in_s(section, limit, self.elapsed_s)?;
            self.comes_before_the_change(lead_s).then_some(lead_s)
        };
        let burns = self.pacer.burner() == Flame::On;
        let (grade, lead_s) = if high >= SPALLS {
            (Grade::Leave, None)
        } else if let Some(lead_s) = ahead(SPALLS).filter(|lead_s| burns && *lead_s <= 120.0) {
            (Grade::Leave, Some(lead_s))
        } else if high > ceiling * DANGER_ABOVE {
            (Grade::Passed, ahead(SPALLS))
        } else if let Some(lead_s) = ahead(ceiling * DANGER_ABOVE).filter(|lead_s| burns || *lead_s <= 60.0) {
            (Grade::Act, Some(lead_s))
        } else {
            return (high < ceiling * DANGER_BELOW).then_some(Look::Gone(topic));
        };
        let advice = self.danger_advice(section, grade, lead_s);
        Some(Look::There(Condition { topic, grade, lead_s, advice }))
    }

    fn danger_advice(&self, section: usize, grade: Grade, lead_s: Option<f64>) -> Advice {
        let action = match (grade, self.pacer.burner()) {
            (Grade::Leave, _) => "shut the gas, step away from the opening and let it cool",
            (_, Flame::On) => "shut the burner until the danger number falls",
            (_, Flame::Off) => "keep the burner shut until the danger number falls",
        };
        let (high, ceiling) = (self.estimator.danger(section).high, self.plan.limits.danger_ceiling);
        let when = match (grade, lead_s) {
            (Grade::Leave, Some(lead_s)) => format!("the lining may spall in {}", in_words(lead_s)),
            (Grade::Leave, None) => "the lining may spall now".to_owned(),
            (Grade::Act, Some(lead_s)) => format!("danger number over {ceiling:.2} in {}", in_words(lead_s)),
            _ => format!("danger number {high:.2}, ceiling {ceiling:.2}"),
        };
        Advice { action: action.to_owned(), reason: format!("{when}; {}", self.worst_in_words(section)) }
    }

    /// Where a section is nearest to spalling and what acts there.
    pub(super) fn worst_in_words(&self, section: usize) -> String {
        self.estimator.ensemble.furnace().describe(section, &self.estimator.worst(section))
    }

    fn look_at_service(&self, face: &Face) -> Option<Look> {
        let limit_c = self.service_limit_c(face.section)?;
        let topic = self.topic(WarningCause::Service, Some(face.section), face.channel.clone());
        let ahead_s = self.service_in_s(face, limit_c);
        let what = format!("the hot face is at {:.0} °C and may be {limit_c:.0}", face.temp_c);
        look_at_limit(topic, &Against { temp_c: face.temp_c, limit_c, lead_s: ahead_s }, &what)
            .or_else(|| self.look_behind(face.section))
    }

    /// Hottest that the face of a section may get, °C.
    pub(super) fn service_limit_c(&self, section: usize) -> Option<f64> {
        let own = self.lining.sections.get(section)?.layers.first()?.material.service_limit;
        Some(own.0.min(self.plan.limits.service.0))
    }

    fn service_in_s(&self, face: &Face, limit_c: f64) -> Option<f64> {
        let forecast = self.forecast.as_ref().filter(|_| self.pacer.burner() == Flame::On)?;
        let mut ahead = vec![(0.0, face.temp_c)];
        ahead.extend(forecast.face_ahead(face.section, face.temp_c, self.elapsed_s));
        let lead_s = super::forecast::first_above_s(&ahead, limit_c)?;
        self.comes_before_the_change(lead_s).then_some(lead_s)
    }

    /// A layer behind the first that gets hotter than it may.
    fn look_behind(&self, section: usize) -> Option<Look> {
        let mut depth_m = 0.0;
        let layers = &self.lining.sections.get(section)?.layers;
        for (layer, next) in layers.iter().zip(layers.iter().skip(1)) {
            depth_m += layer.thickness.0;
            let (temp_c, limit_c) = (self.estimator.high_at_c(section, Metres(depth_m)), next.material.service_limit.0);
            if temp_c > limit_c {
                let what = format!("{} is at {temp_c:.0} °C and may be {limit_c:.0}", next.material.key);
                let topic = self.topic(WarningCause::Service, Some(section), None);
                return look_at_limit(topic, &Against { temp_c, limit_c, lead_s: None }, &what);
            }
        }
        None
    }

    fn look_at_probe(&self, index: usize) -> Option<Look> {
        let Probe { channel, limit, .. } = &self.health.channels().get(index)?.probe;
        let (limit, temp_c) = ((*limit)?, self.health.believed_c(index)?);
        let topic = self.topic(WarningCause::Service, None, Some(channel.clone()));
        let what = format!("probe {channel} is at {temp_c:.0} °C and bears {:.0}", limit.0);
        look_at_limit(topic, &Against { temp_c, limit_c: limit.0, lead_s: None }, &what)
    }

    fn look_at_pulse(&self) -> Look {
        let topic = self.topic(WarningCause::Pulse, None, None);
        let now_s = self.elapsed_s;
        let (over_s, pulse_s, turned_down) = match self.pacer.lateness(now_s) {
            Lateness::Burning { over_s, pulse_s } => (over_s, pulse_s, None),
            Lateness::High { over_s, pulse_s } => {
                (over_s, pulse_s, Some(self.pacer.wanted_set().words(UnitSystem::Metric)))
            }
            Lateness::None | Lateness::Unlit(_) => return Look::Gone(topic),
        };
        if over_s < (0.15 * pulse_s).max(REACTION_S) {
            return Look::Gone(topic);
        }
        let (lead_s, limit) = self.nearest_limit();
        let then = lead_s.map_or_else(String::new, |lead_s| format!("; {limit} in {}", in_words(lead_s)));
        let over = in_words(over_s);
        let advice = match turned_down {
            None => Advice {
                action: "shut the burner".into(),
                reason: format!("it should have been shut {over} ago{then}"),
            },
            Some(set) => Advice {
                action: format!("turn the fire down to {set}"),
                reason: format!("it should have been turned down {over} ago{then}"),
            },
        };
        Look::There(Condition { topic, grade: Grade::Act, lead_s, advice })
    }

    /// Time to the nearest limit with the burner on, and its name.
    fn nearest_limit(&self) -> (Option<f64>, &'static str) {
        let mut nearest: (Option<f64>, &'static str) = (None, "");
        let mut take = |lead_s: Option<f64>, name| {
            if let Some(lead_s) = lead_s
                && nearest.0.is_none_or(|known_s| lead_s < known_s)
            {
                nearest = (Some(lead_s), name);
            }
        };
        for section in 0..self.lining.sections.len() {
            if let (Some(face), Some(limit)) = (self.face(section), self.ramp_limit(section)) {
                let window_s = window_s(self.pacer.cycle_s());
                take(self.ramp_limit_in_s(&face, limit, window_s), "ramp limit");
            }
            let ceiling = self.plan.limits.danger_ceiling;
            let forecast = self.forecast.as_ref();
            take(forecast.and_then(|ahead| ahead.danger_in_s(section, ceiling, self.elapsed_s)), "danger ceiling");
        }
        nearest
    }

    fn look_at_light_up(&self) -> Look {
        let topic = self.topic(WarningCause::LightUp, None, None);
        match self.pacer.lateness(self.elapsed_s) {
            Lateness::Unlit(late_s) if late_s >= UNLIT_WARNING_S && self.pacer.going() == Going::Running => {
                let advice = Advice {
                    action: "light the burner, or pause the plan".into(),
                    reason: format!("it should have been lit {} ago, and the lining cools", in_words(late_s)),
                };
                Look::There(Condition { topic, grade: Grade::Act, lead_s: None, advice })
            }
            _ => Look::Gone(topic),
        }
    }

    /// A burner said to burn while the readings fall.
    fn look_at_flame(&self) -> Look {
        let topic = self.topic(WarningCause::FlameOut, None, None);
        let out = self.told_by == ToldBy::Operator
            && self.pacer.burner() == Flame::On
            && self.contradicted_since_s.is_some_and(|since_s| self.elapsed_s - since_s >= FLAME_OUT_S);
        if !out {
            return Look::Gone(topic);
        }
        let advice = Advice {
            action: "shut the gas, wait until it has cleared, then light again and say so".into(),
            reason: "the burner is said to burn, but the readings fall as if the flame were out".into(),
        };
        Look::There(Condition { topic, grade: Grade::Passed, lead_s: None, advice })
    }
}

/// A temperature against a limit it may not pass.
struct Against {
    temp_c: f64,
    limit_c: f64,
    /// Forecast time to it.
    lead_s: Option<f64>,
}

/// What is to be said of a temperature near its limit; `what` names both.
fn look_at_limit(topic: Topic, against: &Against, what: &str) -> Option<Look> {
    let Against { temp_c, limit_c, lead_s } = *against;
    let (grade, lead_s) = match lead_s {
        _ if temp_c >= limit_c => (Grade::Passed, None),
        Some(lead_s) if lead_s <= 60.0 + REACTION_S => (Grade::Act, Some(lead_s)),
        _ => return (temp_c < limit_c - dead_band_k(limit_c)).then_some(Look::Gone(topic)),
    };
    let then = lead_s.map_or_else(String::new, |lead_s| format!("; there in {}", in_words(lead_s)));
    let advice = Advice { action: "shut the burner".into(), reason: format!("{what}{then}") };
    Some(Look::There(Condition { topic, grade, lead_s, advice }))
}

/// Where a probe's tip sits, in words: "floor, 30 mm deep".
pub(super) fn place_in_words(place: &Place) -> String {
    match place {
        Place::ChamberGas => "gas".into(),
        Place::HotFace { section } => format!("{section}, hot face"),
        Place::Depth { section, depth } => format!("{section}, {:.0} mm deep", depth.mm()),
        Place::MetalContact { section } => format!("{section}, metal contact"),
        Place::Shell { section } => format!("{section}, shell"),
    }
}
