//! Many furnaces at once, each with its own luck in permeability, water, conductivity, burner and strength.

use thiserror::Error;

use crate::lining::Lining;
use crate::units::{Celsius, KelvinPerHour, Kilograms, Metres, Pascals, Seconds};

/// A lining cut into cells, ready to be solved.
#[derive(Clone, Debug)]
pub struct Furnace {}

/// How finely layers are cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grid {
    /// Within 1 % of converged peaks.
    Usual,
    /// Twice as fine.
    Fine,
}

/// What is not known for sure, and how many guesses stand for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Belief {
    /// Number of members.
    pub members: usize,
    /// Seed of their draw.
    pub seed: u64,
}

/// What drives the furnace for a while.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Drive {
    /// The burner, on for this fraction of the time: 1 on, 0 off, between for the mean over pulses.
    Burner {
        /// 0 to 1.
        on: f64,
    },
    /// The chamber gas is held at a temperature.
    Gas {
        /// Its temperature.
        temp: Celsius,
    },
    /// The hot face of a section is what a probe says it is; the gas follows from that.
    HotFace {
        /// Index of the section.
        section: usize,
        /// What the probe says.
        temp: Celsius,
    },
}

/// Members of the ensemble and their present state. Cheap enough to clone for a forecast.
#[derive(Clone, Debug)]
pub struct Ensemble {}

/// One member's section now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SectionState {
    /// Temperature of the hot face.
    pub hot_face: Celsius,
    /// Temperature where the lining meets the metal (or its open back).
    pub contact: Celsius,
    /// Temperature of the outside.
    pub shell: Celsius,
    /// Water in all layers, free and still bound.
    pub water_left: Kilograms,
    /// The worst cell now.
    pub danger: Danger,
}

/// How near a place is to spalling, and from what.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Danger {
    /// Danger number: 1 is spalling risk.
    pub number: f64,
    /// Part of it from steam pressure.
    pub steam: f64,
    /// Part of it from thermal tension.
    pub thermal: f64,
    /// Pore pressure there, absolute.
    pub pressure: Pascals,
    /// Tensile strength there.
    pub strength: Pascals,
    /// Index of the layer, from the hot face.
    pub layer: usize,
    /// Depth from the hot face.
    pub depth: Metres,
}

/// Why a step could not be solved.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum SolveError {
    /// The step would have had to be shorter than its floor.
    #[error("the wall could not be solved at {elapsed_s:.1} s: the time step fell below {floor_s} s")]
    StepTooSmall {
        /// Since the start.
        elapsed_s: f64,
        /// Smallest step allowed.
        floor_s: f64,
    },
}

impl Furnace {
    /// Cuts `lining` into cells.
    #[must_use]
    pub fn of(_lining: &Lining, _grid: Grid) -> Self {
        todo!("the wall engine")
    }

    /// Names of the sections, in the lining's order.
    #[must_use]
    pub fn section_names(&self) -> &[String] {
        todo!("the wall engine")
    }
}

impl Ensemble {
    /// Draws the members, as they are after curing and air-drying, before the first flame. The first member is the
    /// middle of every distribution.
    #[must_use]
    pub fn new(_furnace: &Furnace, _belief: Belief) -> Self {
        todo!("the wall engine")
    }

    /// How many members there are.
    #[must_use]
    pub fn members(&self) -> usize {
        todo!("the wall engine")
    }

    /// Weight of each member; they add up to 1.
    #[must_use]
    pub fn weights(&self) -> &[f64] {
        todo!("the wall engine")
    }

    /// Multiplies each weight by that member's likelihood and makes them add up to 1 again.
    pub fn reweight(&mut self, _likelihood: impl Fn(usize) -> f64) {
        todo!("the wall engine")
    }

    /// Moves every member on by `span` under `drive`. Peaks of danger on the way are kept ([`Self::peak`]).
    ///
    /// # Errors
    /// When a step cannot be solved.
    pub fn advance(&mut self, _drive: Drive, _span: Seconds) -> Result<(), SolveError> {
        todo!("the wall engine")
    }

    /// State of `section` of `member`.
    #[must_use]
    pub fn section(&self, _member: usize, _section: usize) -> SectionState {
        todo!("the wall engine")
    }

    /// Worst danger of `section` of `member` since the last call of [`Self::forget_peaks`].
    #[must_use]
    pub fn peak(&self, _member: usize, _section: usize) -> Danger {
        todo!("the wall engine")
    }

    /// Starts a new stretch for [`Self::peak`].
    pub fn forget_peaks(&mut self) {
        todo!("the wall engine")
    }

    /// Temperature of `section` of `member` at `depth` from the hot face.
    #[must_use]
    pub fn temp_at(&self, _member: usize, _section: usize, _depth: Metres) -> Celsius {
        todo!("the wall engine")
    }

    /// Temperature of the chamber gas of `member`.
    #[must_use]
    pub fn gas(&self, _member: usize) -> Celsius {
        todo!("the wall engine")
    }

    /// Steepest ramp that the wet layers of `section` of `member` stand now; `None` when they are dry.
    #[must_use]
    pub fn ramp_limit(&self, _member: usize, _section: usize) -> Option<KelvinPerHour> {
        todo!("the wall engine")
    }

    /// Fuel burnt by `member` since the start.
    #[must_use]
    pub fn fuel(&self, _member: usize) -> Kilograms {
        todo!("the wall engine")
    }
}
