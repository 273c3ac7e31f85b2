//! What a person sets the burner to, and what that does to the chamber: full or shut, marks of a burner that can be turned
//! down, or ramps of a kiln whose control holds them.

use serde::{Deserialize, Serialize};

use super::{Flame, Plan, Round};
use crate::lining::Control;
use crate::physics::{Drive, Furnace};
use crate::units::quantity::{Shown as _, UnitSystem};
use crate::units::{Celsius, KelvinPerHour, Seconds};

/// A fire that a person can set by a mark.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fire {
    /// The builder's word for the mark; "full" for the full fire.
    pub mark: String,
    /// Share of the full fire, above 0 to 1.
    pub share: f64,
}

/// How the burner is used in the pulses of a round.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Firing {
    /// Full fire while on, shut while off.
    #[default]
    OnOff,
    /// At one mark while on, at a lower one or shut while off.
    Marks {
        /// While on.
        high: Fire,
        /// While off; `None` shut.
        low: Option<Fire>,
    },
    /// The control takes the chamber gas from one temperature to another while on; shut while off.
    Ramp {
        /// Set point at the beginning.
        from: Celsius,
        /// Set point at the end.
        to: Celsius,
        /// How fast, negative downwards; 0 for a hold.
        ramp: KelvinPerHour,
    },
}

/// What the burner or its control is set to at one moment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Setting {
    /// Shut.
    Shut,
    /// Full fire of a burner that is only opened and shut.
    Full,
    /// A mark of a burner that can be turned down.
    Mark(Fire),
    /// A ramp of the control.
    Ramp {
        /// Set point at its end.
        to: Celsius,
        /// How fast, negative downwards; 0 for a hold.
        ramp: KelvinPerHour,
    },
}

/// A part of a round that is simulated by itself: a pulse with its pause, or a part of a long fire or ramp.
#[derive(Clone, Copy, Debug)]
pub(super) struct Beat {
    /// Pulse within the round, from 0.
    pub pulse: u32,
    /// While on.
    pub on: (Drive, Seconds),
    /// While off.
    pub off: (Drive, Seconds),
}

/// A fire or ramp without a pause is simulated in parts of this length, to see every peak.
const LONGEST_BEAT_S: f64 = 300.0;

/// Range of ramps of the gas that is searched, in units of the ramp limit of the hot face: a cold wall lags far behind its gas, and
/// goes on rising behind one that stands still.
const STEEPEST: f64 = 20.0;
/// Share of that range that falls below a hold.
pub(super) const FALLING: f64 = 0.25;

impl Fire {
    /// The fire of `furnace` whose share of the full fire is `share`.
    pub(super) fn of(furnace: &Furnace, share: f64) -> Self {
        let mark = furnace.marks().iter().find(|(_, at)| (at - share).abs() < 1e-9);
        mark.map_or_else(
            || Self { mark: FULL.to_owned(), share: 1.0 },
            |(mark, share)| Self { mark: mark.clone(), share: *share },
        )
    }
}

/// The word for the full fire.
pub const FULL: &str = "full";

impl Firing {
    /// Whether it is full fire or nothing.
    #[must_use]
    pub fn is_on_off(&self) -> bool {
        *self == Self::OnOff
    }

    /// What is set in the on-time and in the off-time.
    #[must_use]
    pub fn settings(&self) -> [Setting; 2] {
        match self {
            Self::OnOff => [Setting::Full, Setting::Shut],
            Self::Marks { high, low } => {
                [Setting::Mark(high.clone()), low.clone().map_or(Setting::Shut, Setting::Mark)]
            }
            Self::Ramp { to, ramp, .. } => [Setting::Ramp { to: *to, ramp: *ramp }, Setting::Shut],
        }
    }

    /// The same with the burner shut in the off-time.
    #[must_use]
    pub fn then_shut(&self) -> Self {
        match self {
            Self::Marks { high, .. } => Self::Marks { high: high.clone(), low: None },
            other => other.clone(),
        }
    }
}

impl Setting {
    /// Whether the burner burns.
    #[must_use]
    pub fn flame(&self) -> Flame {
        if *self == Self::Shut { Flame::Off } else { Flame::On }
    }

    /// Share of the full fire; of a ramp, which the control decides, 1.
    #[must_use]
    pub fn fire(&self) -> f64 {
        match self {
            Self::Shut => 0.0,
            Self::Mark(fire) => fire.share,
            Self::Full | Self::Ramp { .. } => 1.0,
        }
    }

    /// Set point `left` before the end; `None` but for a ramp.
    #[must_use]
    pub fn set_point(&self, left: Seconds) -> Option<Celsius> {
        match self {
            Self::Ramp { to, ramp } => Some(Celsius(to.0 - ramp.0 * left.hours())),
            _ => None,
        }
    }

    /// What it does to the furnace over `span`, which ends `left` before the end of the stretch.
    #[must_use]
    pub fn drive(&self, span: Seconds, left: Seconds) -> Drive {
        match self {
            Self::Shut => Drive::Burner { on: 0.0 },
            Self::Full => Drive::Burner { on: 1.0 },
            Self::Mark(fire) => Drive::Fires { high: fire.share, low: 0.0, on: 1.0 },
            Self::Ramp { to, ramp } => {
                let at = |left: Seconds| Celsius(to.0 - ramp.0 * left.hours());
                Drive::Ramp { from: at(left + span), to: at(left) }
            }
        }
    }

    /// In words: "shut", "full", "low", "50 °C/h to 120 °C", "hold 120 °C".
    #[must_use]
    pub fn words(&self, units: UnitSystem) -> String {
        match self {
            Self::Shut => "shut".to_owned(),
            Self::Full => FULL.to_owned(),
            Self::Mark(fire) => fire.mark.clone(),
            Self::Ramp { to, ramp } if ramp.0.abs() < 1e-9 => format!("hold {}", whole(&to.shown(units))),
            Self::Ramp { to, ramp } => format!("{} to {}", whole(&ramp.shown(units)), whole(&to.shown(units))),
        }
    }
}

/// A shown quantity with its number rounded to a whole one.
pub(super) fn whole(shown: &str) -> String {
    match shown.split_once(' ').and_then(|(number, unit)| Some((number.parse::<f64>().ok()?, unit))) {
        Some((number, unit)) => format!("{number:.0} {unit}"),
        None => shown.to_owned(),
    }
}

impl Round {
    /// The round in parts to be simulated one after the other, each as a person does it.
    pub(super) fn beats(&self) -> impl Iterator<Item = Beat> + '_ {
        let [on, off] = self.firing.settings();
        let parts = if self.off.0 > 0.0 && !matches!(self.firing, Firing::Ramp { .. }) {
            1
        } else {
            (self.on.0 / LONGEST_BEAT_S).ceil().max(1.0) as u32
        };
        let beat_s = self.on.0 / f64::from(parts);
        let shut = off.drive(self.off, Seconds(0.0));
        (0..self.count).flat_map(move |pulse| {
            let on = on.clone();
            (0..parts).map(move |part| {
                let left = Seconds(beat_s * f64::from(parts - 1 - part));
                let rest = if part + 1 == parts { self.off } else { Seconds(0.0) };
                Beat { pulse, on: (on.drive(Seconds(beat_s), left), Seconds(beat_s)), off: (shut, rest) }
            })
        })
    }
}

impl Round {
    /// Set point at its end; `before` where it sets none.
    pub(super) fn end(&self, before: Celsius) -> Celsius {
        match self.firing {
            Firing::Ramp { to, .. } => to,
            Firing::OnOff | Firing::Marks { .. } => before,
        }
    }

    /// Whether `next` only goes on with what this round does.
    pub(super) fn goes_on_as(&self, next: &Self) -> bool {
        match (&self.firing, &next.firing) {
            (Firing::Ramp { ramp, .. }, Firing::Ramp { ramp: same, .. }) => {
                (ramp.0 - same.0).abs() < 1e-9 && self.is_steady()
            }
            _ => self.on == next.on && self.off == next.off && self.firing == next.firing,
        }
    }

    /// This round and then `next`, which goes on with the same.
    pub(super) fn join(&mut self, next: Self) {
        match (&mut self.firing, next.firing) {
            (Firing::Ramp { to, .. }, Firing::Ramp { to: end, .. }) => {
                *to = end;
                self.on = self.on + next.on;
                self.off = next.off;
            }
            _ => self.count += next.count,
        }
    }
}

impl Plan {
    /// The fires that its rounds name, each once, from the lowest up.
    #[must_use]
    pub fn fires(&self) -> Vec<Fire> {
        let settings = self.rounds.iter().flat_map(|round| round.firing.settings());
        let mut fires: Vec<Fire> = Vec::new();
        for setting in settings {
            if let Setting::Mark(fire) = setting
                && !fires.contains(&fire)
            {
                fires.push(fire);
            }
        }
        fires.sort_by(|a, b| a.share.total_cmp(&b.share));
        fires
    }
}

/// Time that a ramp takes, to the microsecond, which hides the rounding of its numbers; a hold has none of its own.
#[must_use]
pub fn ramp_time(from: Celsius, to: Celsius, ramp: KelvinPerHour) -> Seconds {
    Seconds(((to.0 - from.0) / ramp.0 * 3.6e9).round() / 1e6)
}

/// What a burner does at the mean `strength` over its pulses: share of the full fire, switched between the two marks next to it.
/// Of a control that holds ramps, 0 to 1 stands for ramps of the gas ([`ramp_at`]) from `set_point` on over `span`.
pub(super) fn drive_at(
    furnace: &Furnace,
    strength: f64,
    (set_point, span): (Celsius, Seconds),
    limit: KelvinPerHour,
) -> Drive {
    match furnace.control() {
        Control::OnOff => Drive::Burner { on: strength },
        Control::Marks(_) => {
            let marks = furnace.marks();
            let above = marks.partition_point(|(_, share)| *share < strength);
            let high = marks.get(above).map_or(1.0, |(_, share)| *share);
            let low = above.checked_sub(1).map_or(0.0, |below| marks[below].1);
            Drive::Fires { high, low, on: ((strength - low) / (high - low)).clamp(0.0, 1.0) }
        }
        Control::Ramps => {
            let to = Celsius(set_point.0 + ramp_at(strength, limit).0 * span.hours());
            Drive::Ramp { from: set_point, to }
        }
    }
}

/// The ramp of the gas that stands for `strength` in a search within the ramp `limit` of the hot face.
pub(super) fn ramp_at(strength: f64, limit: KelvinPerHour) -> KelvinPerHour {
    KelvinPerHour((strength - FALLING) * STEEPEST * limit.0)
}

/// The strength of a ramp of the gas.
pub(super) fn strength_of(ramp: KelvinPerHour, limit: KelvinPerHour) -> f64 {
    ramp.0 / (STEEPEST * limit.0) + FALLING
}
