//! What one probe channel sees of the wall model, and how far off it may be.

use crate::physics::{Drive, Ensemble, SectionState};
use crate::reading::Place;
use crate::units::Metres;

use super::RunError;
use super::health::ChannelHealth;

/// A tip inside a lining sits beside its place by this, m, as a standard deviation: within 3 mm (common practice), evenly.
const BESIDE_M: f64 = 0.0017;

/// Half of the distance over which a slope of temperature is taken, m.
const SLOPE_OVER_M: f64 = 0.001;

/// What the wall model itself may be off by at a probe, K, and as a share of the rise: calibrated models of this kind miss
/// temperatures by up to 16 % (DEVELOPERS.md); members differ in the rest.
const MODEL: (f64, f64) = (2.0, 0.04);

/// What one probe channel sees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Sight {
    /// The chamber's gas.
    Gas,
    /// The hot face of a section.
    HotFace(usize),
    /// A depth of a section.
    Depth(usize, Metres),
    /// Where the lining of a section meets the metal.
    Contact(usize),
    /// The outside of a section.
    Shell(usize),
}

/// The ensemble, and the states of each section by member.
pub(super) type Walls<'a> = (&'a Ensemble, &'a [Vec<SectionState>]);

impl Sight {
    /// What a channel sees.
    pub fn of(channel: &ChannelHealth, sections: &[String]) -> Result<Self, RunError> {
        let find = |section: &str| {
            sections.iter().position(|name| name == section).ok_or_else(|| RunError::NoSuchSection {
                channel: channel.probe.channel.clone(),
                section: section.to_owned(),
                sections: sections.join(", "),
            })
        };
        Ok(match &channel.probe.place {
            Place::ChamberGas => Self::Gas,
            Place::HotFace { section } => Self::HotFace(find(section)?),
            Place::Depth { section, depth } => Self::Depth(find(section)?, *depth),
            Place::MetalContact { section } => Self::Contact(find(section)?),
            Place::Shell { section } => Self::Shell(find(section)?),
        })
    }

    /// Whether it sees the chamber: the gas or a hot face.
    pub fn is_of_chamber(self) -> bool {
        matches!(self, Self::Gas | Self::HotFace(_))
    }

    /// Section and depth of a tip inside the lining or behind it.
    pub fn inside(self, ensemble: &Ensemble) -> Option<(usize, Metres)> {
        match self {
            Self::Depth(section, depth) => Some((section, depth)),
            Self::Contact(section) => {
                let described = ensemble.furnace().lining().sections.get(section)?;
                Some((section, described.thickness()))
            }
            _ => None,
        }
    }

    /// What is there in `member`, °C; `None` when the channel drives the member or a couple in the gas is not told by the model,
    /// because flame and walls shine on it.
    pub fn expected_c(self, (ensemble, states): Walls, member: usize, drive: Drive) -> Option<f64> {
        match self {
            Self::Gas => None,
            Self::HotFace(section) => match drive {
                Drive::HotFace { section: driven, .. } if driven == section => None,
                _ => Some(states[section][member].hot_face.0),
            },
            Self::Depth(section, depth) => Some(ensemble.temp_at(member, section, depth).0),
            Self::Contact(section) => Some(states[section][member].contact.0),
            Self::Shell(section) => Some(states[section][member].shell.0),
        }
    }

    /// Standard deviation of a reading against the right member, K: tolerance and drift of the couple, half of 3 K or 1 % (class
    /// 2 of IEC 60584-1 with a few years' drift, taken as two deviations), the tip's place on the slope of the middle member,
    /// and what the model leaves out.
    pub fn error_k(self, (ensemble, _): Walls, read_c: f64, ambient_c: f64) -> f64 {
        let couple_k = tolerance_k(read_c);
        let model_k = MODEL.0 + MODEL.1 * (read_c - ambient_c).abs();
        let place_k = match self {
            Self::Depth(section, depth) => {
                let at = |depth_m: f64| ensemble.temp_at(0, section, Metres(depth_m.max(0.0))).0;
                let slope_k_m = (at(depth.0 + SLOPE_OVER_M) - at(depth.0 - SLOPE_OVER_M)) / (2.0 * SLOPE_OVER_M);
                BESIDE_M * slope_k_m.abs()
            }
            _ => 0.0,
        };
        couple_k.hypot(model_k).hypot(place_k)
    }
}

/// Standard deviation of a couple, K.
pub(super) fn tolerance_k(temp_c: f64) -> f64 {
    0.5 * super::ramp::dead_band_k(temp_c)
}
