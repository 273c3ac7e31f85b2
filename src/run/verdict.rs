//! What following has to say. The JSON lines of `follow --headless` are these, serialised.

use serde::ser::SerializeMap;
use serde::{Deserialize, Serialize, Serializer};

use crate::plan::Flame;
use crate::plan::firing::Setting;
use crate::reading::{Channel, Fault};
use crate::units::Celsius;

/// Low, middle and high of what the ensemble believes: 5th, 50th and 95th percentile.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Range {
    /// 5th percentile.
    pub low: f64,
    /// Median.
    pub mid: f64,
    /// 95th percentile.
    pub high: f64,
}

/// One statement of the followed heat-up. `kind` and `elapsed_s` are part of the headless contract.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Verdict {
    /// Following has begun.
    Ready {
        /// Since the heat-up began.
        elapsed_s: f64,
        /// Lining name.
        lining: String,
        /// Planned length.
        planned_s: f64,
        /// Whether elapsed time comes from the probe line instead of the clock.
        time_from_probe: bool,
    },
    /// The burner should change.
    Cue {
        /// Since the heat-up began.
        elapsed_s: f64,
        /// To which state.
        burner: Flame,
        /// In how many seconds; 0 is now.
        in_s: f64,
        /// To which mark, or its control to which ramp; `None` for a burner that is only opened and shut.
        #[serde(skip_serializing_if = "Option::is_none")]
        set: Option<Setting>,
    },
    /// One probe line was taken in; everything it gave rise to stands before this.
    Reading {
        /// Since the heat-up began.
        elapsed_s: f64,
        /// Temperature of each channel that gave one, °C. An object in JSON, as is `faults`.
        #[serde(serialize_with = "as_object")]
        values: Vec<(Channel, Celsius)>,
        /// Fault of each channel that has one.
        #[serde(serialize_with = "as_object")]
        faults: Vec<(Channel, Fault)>,
    },
    /// What the ensemble believes of each section.
    Estimate {
        /// Since the heat-up began.
        elapsed_s: f64,
        /// One entry per section.
        sections: Vec<SectionEstimate>,
    },
    /// A limit is ahead or passed; something should be done.
    Warning {
        /// Since the heat-up began.
        elapsed_s: f64,
        /// Which limit.
        cause: WarningCause,
        /// The channel it was seen on, if on one.
        channel: Option<Channel>,
        /// The section it concerns, if one.
        section: Option<String>,
        /// Forecast time to the limit; `None` when it is passed already.
        lead_s: Option<f64>,
        /// What to do and why.
        advice: Advice,
    },
    /// Worth knowing; nothing needs doing.
    Notice {
        /// Since the heat-up began.
        elapsed_s: f64,
        /// In words.
        text: String,
        /// What it is about, where a reader of the record has to know without going by the words.
        #[serde(flatten)]
        about: Option<About>,
    },
    /// A channel, port or the log is not well.
    Fault {
        /// Since the heat-up began.
        elapsed_s: f64,
        /// The channel, if one.
        channel: Option<Channel>,
        /// What it is, in words.
        text: String,
        /// Whether it has just ended.
        over: bool,
    },
    /// Following is over.
    End {
        /// Since the heat-up began.
        elapsed_s: f64,
        /// Why.
        reason: String,
        /// How the heat-up ended; `None` in what older versions recorded, as far as their words do not say it.
        #[serde(skip_serializing_if = "Option::is_none")]
        ending: Option<Ending>,
    },
}

/// How a heat-up ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Ending {
    /// The plan is done, the lining is dry and has soaked.
    DryAndSoaked,
    /// The plan took twice its length and the lining still holds water.
    Wet,
    /// The plan took twice its length and the soak was not long enough.
    NotSoaked,
    /// The operator ended it before the plan was done.
    Stopped,
}

/// What a notice is about.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "about", rename_all = "kebab-case")]
pub enum About {
    /// A warning is over.
    Over {
        /// Which limit it was about.
        cause: WarningCause,
        /// The channel it was seen on, if on one.
        channel: Option<Channel>,
        /// The section it concerned, if one.
        section: Option<String>,
    },
    /// Following went back in the plan.
    BackToRound {
        /// To this round, counted from 1.
        round: u32,
    },
    /// The burner was lit late, and the plan moves.
    LitLate,
    /// The burner was lit before it was due.
    LitEarly,
}

/// What is believed of one section now.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SectionEstimate {
    /// Section name.
    pub section: String,
    /// Danger number.
    pub danger: Range,
    /// Water left, kg.
    pub water_left_kg: Range,
}

/// Which limit a warning is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WarningCause {
    /// The hot face heats (or cools) faster than the lining may.
    Ramp,
    /// Steam pressure and thermal stress near what the lining can bear.
    Danger,
    /// A material or probe is hotter than it may be.
    Service,
    /// The burner burns though the plan has it shut: a pulse ran too long, or was never due.
    Pulse,
    /// The burner should have been lit long since.
    LightUp,
    /// The burner is said to burn, and the readings say that it does not: gas may be flowing unburnt.
    FlameOut,
}

impl WarningCause {
    /// What is wrong, in a few words.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Self::Ramp => "ramp too steep",
            Self::Danger => "danger number too high",
            Self::Service => "service limit",
            Self::Pulse => "burner on when it should be shut",
            Self::LightUp => "burner not lit",
            Self::FlameOut => "flame out",
        }
    }

    /// What the burner should be while such a warning stands.
    #[must_use]
    pub fn wants_of_burner(self) -> Option<Flame> {
        match self {
            Self::LightUp => Some(Flame::On),
            _ => Some(Flame::Off),
        }
    }
}

/// Pairs of channel and value as one JSON object, in the order they came.
fn as_object<S: Serializer, V: Serialize>(pairs: &[(Channel, V)], serializer: S) -> Result<S::Ok, S::Error> {
    let mut object = serializer.serialize_map(Some(pairs.len()))?;
    for (channel, value) in pairs {
        object.serialize_entry(channel, value)?;
    }
    object.end()
}

/// One clear action, with its reason.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(into = "String")]
pub struct Advice {
    /// What to do: "shut the burner for 2 min".
    pub action: String,
    /// Why: "hot face rises 96 K/h, the coat stands 56".
    pub reason: String,
}

impl From<Advice> for String {
    fn from(advice: Advice) -> Self {
        format!("{}: {}", advice.action, advice.reason)
    }
}

impl Verdict {
    /// Time since the heat-up began at which it was given, s.
    #[must_use]
    pub fn elapsed_s(&self) -> f64 {
        match self {
            Self::Ready { elapsed_s, .. }
            | Self::Cue { elapsed_s, .. }
            | Self::Reading { elapsed_s, .. }
            | Self::Estimate { elapsed_s, .. }
            | Self::Warning { elapsed_s, .. }
            | Self::Notice { elapsed_s, .. }
            | Self::Fault { elapsed_s, .. }
            | Self::End { elapsed_s, .. } => *elapsed_s,
        }
    }
}
