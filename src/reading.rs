//! What a probe said: a temperature, or a fault that is data like any other.

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::units::{Celsius, Metres};

/// The operator's own name of a probe channel, as it stands in the probe file. Cheap to clone.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Channel(pub Arc<str>);

impl Channel {
    /// The channel called `name`.
    #[must_use]
    pub fn new(name: &str) -> Self {
        Self(name.into())
    }
}

impl fmt::Display for Channel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Where a probe's tip sits. Sections go by the name the lining file gives them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "at", rename_all = "kebab-case")]
pub enum Place {
    /// In the chamber, about 25 mm past the face: the gas, with radiation from flame and walls.
    ChamberGas,
    /// At the hot face of a section.
    HotFace {
        /// Section name.
        section: String,
    },
    /// Embedded in a section.
    Depth {
        /// Section name.
        section: String,
        /// Distance of the tip from the hot face.
        depth: Metres,
    },
    /// Where the lining meets the metal.
    MetalContact {
        /// Section name.
        section: String,
    },
    /// On the outside of the shell.
    Shell {
        /// Section name.
        section: String,
    },
}

/// Why a channel has no temperature to give.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fault {
    /// The loop is broken: a wire is off, or the junction has burnt through.
    Open,
    /// The wires touch each other, the sheath or a supply.
    Short,
    /// The wires are swapped: the value falls while the furnace heats.
    Reversed,
    /// The value has not moved by a digit for too long.
    Frozen,
    /// Nothing has come from this channel for too long.
    Stale,
    /// The value is outside what the probe or the type can give.
    OutOfRange,
    /// The line was there but made no sense.
    Garbled,
    /// The value jumps about from reading to reading: igniter noise, a loose screw, a grounded junction.
    Jumping,
    /// Another probe says what cannot be true together with this one.
    Implausible,
    /// The board is set to another type of thermocouple than the probe is.
    WrongType,
    /// It has slowly moved away from another probe at the same place.
    Drifting,
    /// The board reports a fault without saying which.
    Unnamed,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Open => "open circuit",
            Self::Short => "short circuit",
            Self::Reversed => "wires swapped",
            Self::Frozen => "frozen",
            Self::Stale => "silent",
            Self::OutOfRange => "out of range",
            Self::Garbled => "garbled line",
            Self::Jumping => "jumping",
            Self::Implausible => "implausible",
            Self::WrongType => "wrong type set",
            Self::Drifting => "drifting",
            Self::Unnamed => "fault reported by the board",
        })
    }
}

/// One channel's word at one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Which channel spoke.
    pub channel: Channel,
    /// Its temperature, or why there is none.
    pub value: Result<Celsius, Fault>,
}
