//! The operator of a rehearsal: does what is asked, errs once in one of three ways, or leaves with the burner lit.

use crate::plan::Flame;
use crate::run::Verdict;

/// Time a hand needs to the valve, s.
const REACTION_S: f64 = 2.0;

/// A warning is heeded after so long, s.
const HEEDS_AFTER_S: f64 = 15.0;

/// Whoever misses the cue to shut comes back after so long, s.
const AWAY_S: f64 = 900.0;

/// An hour, s.
const HOUR_S: f64 = 3600.0;

/// How an operator works.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Manner {
    /// Does what the cues and warnings say.
    Obedient,
    /// Lets one pulse burn three times too long, whatever the program says.
    LongPulse,
    /// Misses one cue to shut and does not hear the warnings for a quarter of an hour.
    MissedCue,
    /// Leaves the burner shut for an hour.
    SkippedHour,
    /// Goes away with the burner lit and does not come back.
    Heedless,
}

impl Manner {
    /// Every third operator errs, each in another way.
    #[must_use]
    pub fn of(number: u32) -> Self {
        match number % 9 {
            2 => Self::LongPulse,
            5 => Self::MissedCue,
            8 => Self::SkippedHour,
            _ => Self::Obedient,
        }
    }
}

/// An operator at work.
#[derive(Clone, Debug)]
pub struct Operator {
    manner: Manner,
    /// When the error is made, s.
    errs_at_s: f64,
    has_erred: bool,
    /// What is about to be done with the burner, and when, s.
    intent: Option<(Flame, f64)>,
    /// Whether the intent is to turn a burner that burns.
    turns: bool,
    lit_s: f64,
    /// Until when nothing is heard, s.
    deaf_until_s: f64,
    /// When the operator left for good, s.
    left_s: Option<f64>,
}

impl Operator {
    /// An operator who errs, if at all, at the first chance after `errs_at_s`.
    #[must_use]
    pub fn new(manner: Manner, errs_at_s: f64) -> Self {
        Self {
            manner,
            errs_at_s,
            has_erred: false,
            intent: None,
            turns: false,
            lit_s: 0.0,
            deaf_until_s: 0.0,
            left_s: None,
        }
    }

    /// Hears what the program says at `now_s`.
    pub fn hear(&mut self, now_s: f64, verdict: &Verdict) {
        if now_s < self.deaf_until_s {
            return;
        }
        match verdict {
            Verdict::Cue { burner: Flame::On, in_s, set, .. } if *in_s <= 0.0 => {
                self.turns = set.is_some();
                self.intend_to_light(now_s);
            }
            Verdict::Cue { burner: Flame::Off, in_s, .. } if *in_s <= 0.0 => self.intend_to_shut(now_s),
            // Who is about to light waits until the warning is over, and then lights.
            Verdict::Warning { .. } if self.intent.is_some_and(|(flame, _)| flame == Flame::On) => {}
            Verdict::Warning { cause, .. } if cause.wants_of_burner() == Some(Flame::On) => {
                self.intent = Some((Flame::On, now_s + HEEDS_AFTER_S));
            }
            Verdict::Warning { cause, .. } if cause.wants_of_burner() == Some(Flame::Off) => {
                let sooner_s = self.intent.filter(|(flame, _)| *flame == Flame::Off).map(|(_, at_s)| at_s);
                let at_s = sooner_s.unwrap_or(f64::INFINITY).min(now_s + HEEDS_AFTER_S);
                self.intent = Some((Flame::Off, at_s));
            }
            _ => {}
        }
    }

    fn intend_to_light(&mut self, now_s: f64) {
        let mut at_s = now_s + REACTION_S;
        if self.manner == Manner::SkippedHour && self.is_time_to_err(now_s) {
            at_s = now_s + HOUR_S;
            self.deaf_until_s = at_s;
        }
        self.intent = Some((Flame::On, at_s));
    }

    fn intend_to_shut(&mut self, now_s: f64) {
        let mut at_s = now_s + REACTION_S;
        let manner = self.manner;
        match manner {
            Manner::LongPulse if self.is_time_to_err(now_s) => {
                at_s = self.lit_s + 3.0 * (now_s - self.lit_s);
                self.deaf_until_s = at_s;
            }
            Manner::MissedCue if self.is_time_to_err(now_s) => {
                at_s = now_s + AWAY_S;
                self.deaf_until_s = at_s;
            }
            Manner::Heedless if self.is_time_to_err(now_s) => {
                at_s = f64::INFINITY;
                self.deaf_until_s = at_s;
                self.left_s = Some(now_s);
            }
            _ => {}
        }
        self.intent = Some((Flame::Off, at_s));
    }

    fn is_time_to_err(&mut self, now_s: f64) -> bool {
        let is_time = !self.has_erred && now_s >= self.errs_at_s;
        self.has_erred |= is_time;
        is_time
    }

    /// When the operator left for good, s; `None` while somebody is there.
    #[must_use]
    pub fn left_s(&self) -> Option<f64> {
        self.left_s
    }

    /// When the operator next does something, s.
    #[must_use]
    pub fn next_s(&self) -> Option<f64> {
        self.intent.map(|(_, at_s)| at_s)
    }

    /// What the operator does at `now_s`, with the burner as it is. Nobody lights against a warning that stands, and who comes back
    /// to a fire that should be out shuts it.
    pub fn act(&mut self, now_s: f64, burner: Flame, is_warned: impl FnOnce() -> bool) -> Option<Flame> {
        let (flame, _) = self.intent.take_if(|(_, at_s)| *at_s <= now_s)?;
        if flame == burner && !(flame == Flame::On && self.turns) {
            return None;
        }
        if flame == Flame::On && is_warned() {
            if burner == Flame::On {
                return Some(Flame::Off);
            }
            self.intent = Some((Flame::On, now_s + REACTION_S));
            return None;
        }
        if flame == Flame::On {
            self.lit_s = now_s;
        }
        Some(flame)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::firing::Setting;
    use crate::units::{Celsius, KelvinPerHour};

    /// Away for an hour while a control went through the last ramps.
    #[test]
    fn who_comes_back_to_a_fire_that_should_be_out_shuts_it() {
        let mut operator = Operator::new(Manner::SkippedHour, 0.0);
        let set = Setting::Ramp { to: Celsius(600.0), ramp: KelvinPerHour(50.0) };
        operator.hear(10.0, &Verdict::Cue { elapsed_s: 10.0, burner: Flame::On, in_s: 0.0, set: Some(set) });
        let back_s = operator.next_s().unwrap_or(f64::NAN);
        assert!((back_s - 10.0 - HOUR_S).abs() < 1e-9, "{back_s}");
        assert_eq!(operator.act(back_s, Flame::On, || true), Some(Flame::Off));
        assert_eq!(operator.next_s(), None);
    }
}
