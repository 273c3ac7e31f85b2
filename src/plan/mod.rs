//! A heat-up as rounds of burner pulses, and the search that finds the shortest safe one.

pub mod advice;
pub mod against;
pub mod bound;
pub mod card;
pub mod check;
pub mod compare;
pub mod firing;
mod judge;
pub mod outlook;
pub mod pauses;
pub mod proof;
pub mod pulses;
pub mod recheck;
pub mod schedule;
pub mod search;
pub mod text;
pub mod trial;
pub mod why;

use serde::{Deserialize, Serialize};

use firing::Firing;

use crate::units::{Celsius, KelvinPerHour, Seconds};

/// A heat-up a person can follow: rounds of equal pulses, with what they are expected to do.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// Name of the lining it was made for.
    pub lining: String,
    /// Digest of that lining's file text, so that a changed lining is noticed.
    pub lining_digest: String,
    /// What it keeps to.
    pub limits: Limits,
    /// The pulses, in order.
    pub rounds: Vec<Round>,
    /// What the hot face should do, in order of time.
    pub expected: Vec<Expected>,
}

/// A number of equal pulses.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Round {
    /// How many pulses.
    pub count: u32,
    /// Burner on in each.
    pub on: Seconds,
    /// Burner off, or turned down, after it.
    pub off: Seconds,
    /// How the burner is used in them.
    #[serde(default, skip_serializing_if = "Firing::is_on_off")]
    pub firing: Firing,
    /// Which limit keeps the round from being stronger, in plain words.
    pub binds: String,
}

/// Limits a heat-up keeps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// Ceiling on the danger number for 95 % of the ensemble.
    pub danger_ceiling: f64,
    /// Steepest mean ramp of a wet section's hot face.
    pub ramp: KelvinPerHour,
    /// Highest hot-face temperature.
    pub service: Celsius,
    /// Soak temperature of the hot face at the end.
    pub soak_temp: Celsius,
    /// Soak time.
    pub soak: Seconds,
}

/// State of the lining that the plan expects at one moment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Expected {
    /// Time since the first pulse.
    pub elapsed: Seconds,
    /// Hot face of the hottest section, mean over the pulse: low, mid, high over the ensemble.
    pub hot_face: [Celsius; 3],
    /// Danger number of the worst section: low, mid, high.
    pub danger: [f64; 3],
    /// Water left in the lining, kg: low, mid, high.
    pub water_left_kg: [f64; 3],
}

/// What the burner should be doing at one moment of a plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cue {
    /// Burner on now?
    pub burner: Flame,
    /// Time until it changes; `None` after the last pulse.
    pub changes_in: Option<Seconds>,
    /// Index of the round.
    pub round: usize,
    /// Pulse within the round, from 0.
    pub pulse: u32,
}

/// Whether the burner burns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Flame {
    /// Burning.
    On,
    /// Shut.
    Off,
}

impl Plan {
    /// Time from the first pulse to the end of the last round.
    #[must_use]
    pub fn length(&self) -> Seconds {
        Seconds(self.rounds.iter().map(Round::length_s).sum())
    }

    /// What the burner should be doing `elapsed` after the first pulse began.
    #[must_use]
    pub fn cue_at(&self, elapsed: Seconds) -> Cue {
        let mut left_s = elapsed.0.max(0.0);
        for (round, pulses) in self.rounds.iter().enumerate() {
            if left_s < pulses.length_s() {
                return pulses.cue_at(round, left_s);
            }
            left_s -= pulses.length_s();
        }
        Cue { burner: Flame::Off, changes_in: None, round: self.rounds.len(), pulse: 0 }
    }
}

impl Round {
    /// Whether the burner burns all the time.
    #[must_use]
    pub fn is_steady(&self) -> bool {
        self.off.0 <= 0.0
    }

    fn cycle_s(&self) -> f64 {
        self.on.0 + self.off.0
    }

    fn length_s(&self) -> f64 {
        f64::from(self.count) * self.cycle_s()
    }

    fn cue_at(&self, round: usize, into_s: f64) -> Cue {
        let pulse = (into_s / self.cycle_s()).floor();
        let into_pulse_s = into_s - pulse * self.cycle_s();
        let (burner, changes_in_s) = if into_pulse_s < self.on.0 {
            (Flame::On, self.on.0 - into_pulse_s)
        } else {
            (Flame::Off, self.cycle_s() - into_pulse_s)
        };
        Cue { burner, changes_in: Some(Seconds(changes_in_s)), round, pulse: pulse as u32 }
    }
}
