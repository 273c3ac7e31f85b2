//! Whether a lining wears out: heat-ups compared on like terms.
//!
//! Time and gas depend on pressure, jet, weather and load before they depend on the lining. So the wall engine is run on what
//! each heat-up was given: the conductivity of the lining is that which makes its outside as hot as it was read
//! behind the hot face that was read, and the strength of the burner that which makes the hot face as hot as it was.
//!
//! A wet lining is no baseline: steam on its way out carries heat to the outside and holds it at 100 °C, and how much water
//! there was is known too badly to take that out. So a heat-up counts only once an earlier one has dried the lining.

mod fit;
mod judge;
mod notes;

pub use judge::{Trend, Verdict, judge};
pub use notes::{NAMES, Notes, NotesError};

use serde::Serialize;

use crate::lining::{Cure, Lining};
use crate::physics::SolveError;
use crate::units::Celsius;
use crate::units::quantity::{Shown as _, UnitSystem};

/// A start further above the surroundings than this is a warm start, K: the engine begins cold.
const WARM_START_K: f64 = 25.0;

/// The soak counts within so much of its temperature, K; as in following.
const SOAK_WITHIN_K: f64 = 15.0;

/// A lining that holds more water than this part of its dry mass is wet. An estimate of this project: what a dry lining takes
/// up from damp air stays below it.
const WET_SHARE: f64 = 0.005;

/// A mean over a piece of a heat-up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Length, s.
    pub span_s: f64,
    /// Part of it in which the burner burnt, 0 to 1.
    pub on: f64,
    /// Hot face, °C; `None` when it was not read.
    pub hot_c: Option<f64>,
    /// Outside of the same section, °C; `None` when it was not read.
    pub shell_c: Option<f64>,
}

/// A heat-up as it is compared.
#[derive(Clone, Debug, PartialEq)]
pub struct HeatUp {
    /// Name of its log.
    pub log: String,
    /// Date, as a label.
    pub begun: Option<String>,
    /// The lining as it was followed.
    pub lining: Lining,
    /// Index of the section whose hot face and outside were read.
    pub section: usize,
    /// What was noted of the circumstances.
    pub notes: Notes,
    /// What the hot face read before the first flame, °C.
    pub start_c: Option<f64>,
    /// Whether following ended it because the lining was dry and had soaked.
    pub dried: bool,
    /// From the first flame to the end, in pieces of about a minute.
    pub pieces: Vec<Piece>,
}

/// A value that was fitted.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Fitted {
    /// Factor on what the lining file says.
    pub factor: f64,
    /// Relative standard deviation.
    pub error: f64,
}

/// What one heat-up says, on terms that others can be compared with.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Compared {
    /// Name of its log.
    pub log: String,
    /// Date.
    pub begun: Option<String>,
    /// What was noted.
    pub notes: Notes,
    /// Temperature that time and gas are told for, °C.
    pub target_c: f64,
    /// Time from the first flame until the hot face was there, s.
    pub time_s: Option<f64>,
    /// Propane until then at the noted pressure, kg.
    pub gas_kg: Option<f64>,
    /// Hottest that the outside was above the surroundings, K.
    pub shell_rise_k: Option<f64>,
    /// Time constant of the hot face after the last flame, h; `None` when too little of it was recorded.
    pub cool_down_h: Option<f64>,
    /// Conductivity of the lining.
    pub conductivity: Option<Fitted>,
    /// Heat that the burner gave.
    pub burner: Option<Fitted>,
    /// What the hot face read before the first flame, °C.
    pub start_c: Option<f64>,
    /// Why it cannot be compared; empty when it can.
    pub unlike: Vec<Unlike>,
}

/// Why a heat-up cannot be compared with others.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "why", rename_all = "kebab-case")]
pub enum Unlike {
    /// The lining was still wet: what drives the water out is no measure of the wall.
    StillWet,
    /// Its hot face was not read.
    NoFace,
    /// It began warm; the engine begins cold.
    Warm {
        /// What the hot face read before the first flame, °C.
        start_c: f64,
    },
    /// The outside behind the hot face was not read.
    NoOutside,
    /// No conductivity makes the outside as hot as it was read.
    Unexplained,
}

impl Unlike {
    /// In words.
    #[must_use]
    pub fn words(self, units: UnitSystem) -> String {
        match self {
            Self::StillWet => {
                "the lining was still wet then, as far as its file and these logs tell, and what drives the \
                               water out is no measure of the wall (`--heated-before` when it had been dry)"
                    .to_owned()
            }
            Self::NoFace => "its hot face was not read".to_owned(),
            Self::Warm { start_c } => format!("it began warm, at {}", Celsius(start_c.round()).shown(units)),
            Self::NoOutside => "the outside behind the hot face was not read".to_owned(),
            Self::Unexplained => {
                "no conductivity explains its outside: it stayed cold, or water was still on its way through the lining"
                    .to_owned()
            }
        }
    }
}

impl HeatUp {
    /// What it says, with time and gas to the temperature `target_c`.
    ///
    /// # Errors
    /// When the wall cannot be solved.
    pub fn compared(&self, target_c: f64, wetness: Wetness) -> Result<Compared, SolveError> {
        let lining = self.lining_then(wetness);
        let ambient_c = lining.surroundings.temp.0;
        let is_wet = lining.water_kg().0 > WET_SHARE * lining.dry_mass().0;
        let conductivity = if is_wet { None } else { fit::conductivity(self, &lining)? };
        let burner = match conductivity {
            Some(fitted) => fit::burner(self, &fit::scaled(&lining, fitted.factor))?,
            None => None,
        };
        let shell_c = self.pieces.iter().filter_map(|piece| piece.shell_c).reduce(f64::max);
        let reached = self.pieces.iter().position(|piece| piece.hot_c.is_some_and(|hot_c| hot_c >= target_c));
        let until = |last: usize| self.pieces.iter().take(last + 1);
        let gas_kg_s = fit::gas_kg_s(&lining.burner);
        Ok(Compared {
            log: self.log.clone(),
            begun: self.begun.clone(),
            notes: self.notes.clone(),
            target_c,
            time_s: reached.map(|last| until(last).map(|piece| piece.span_s).sum()),
            gas_kg: reached.map(|last| until(last).map(|piece| piece.span_s * piece.on * gas_kg_s).sum()),
            shell_rise_k: shell_c.map(|shell_c| shell_c - ambient_c),
            cool_down_h: self.cool_down_h(ambient_c),
            conductivity,
            burner,
            start_c: self.start_c,
            unlike: if is_wet { vec![Unlike::StillWet] } else { self.unlike(ambient_c, conductivity) },
        })
    }

    /// Hottest mean of the hot face, °C.
    #[must_use]
    pub fn hottest_c(&self) -> f64 {
        self.pieces.iter().filter_map(|piece| piece.hot_c).fold(f64::NEG_INFINITY, f64::max)
    }

    /// The lining as it stood then: in the noted air, at the noted pressure, dry when it was heated before.
    fn lining_then(&self, wetness: Wetness) -> Lining {
        let mut lining = self.lining.clone();
        if let Some(ambient) = self.notes.ambient {
            lining.surroundings.temp = ambient;
        }
        self.notes.apply_to(&mut lining.burner);
        if wetness == Wetness::HeatedBefore {
            for layer in lining.sections.iter_mut().flat_map(|section| &mut section.layers) {
                layer.water.cure = Cure::Fired;
                layer.water.mix_fraction = 0.0;
            }
        }
        lining
    }

    /// Whether it dried the lining: following said so, or the hot face was at the soak temperature for as long as it should.
    #[must_use]
    pub fn dries(&self) -> bool {
        let goal = &self.lining.goal;
        let is_soaking = |piece: &&Piece| piece.hot_c.is_some_and(|hot_c| hot_c >= goal.soak_temp.0 - SOAK_WITHIN_K);
        let soaked_s: f64 = self.pieces.iter().filter(is_soaking).map(|piece| piece.span_s).sum();
        self.dried || soaked_s >= goal.soak.0.max(1.0)
    }

    fn unlike(&self, ambient_c: f64, conductivity: Option<Fitted>) -> Vec<Unlike> {
        let mut unlike = Vec::new();
        match self.start_c {
            None => unlike.push(Unlike::NoFace),
            Some(start_c) if start_c > ambient_c + WARM_START_K => unlike.push(Unlike::Warm { start_c }),
            Some(_) => {}
        }
        if self.pieces.iter().all(|piece| piece.shell_c.is_none()) {
            unlike.push(Unlike::NoOutside);
        } else if conductivity.is_none() {
            unlike.push(Unlike::Unexplained);
        }
        unlike
    }

    /// Time constant of the hot face from a quarter of an hour after the last flame on, h.
    fn cool_down_h(&self, ambient_c: f64) -> Option<f64> {
        let last = self.pieces.iter().rposition(|piece| piece.on > 0.0)?;
        let mut at_s = 0.0;
        let mut points: Vec<(f64, f64)> = Vec::new();
        for piece in self.pieces.iter().skip(last + 1) {
            at_s += piece.span_s;
            let over_k = piece.hot_c.map(|hot_c| hot_c - ambient_c).filter(|over_k| *over_k > 20.0);
            points.extend(over_k.filter(|_| at_s > 900.0).map(|over_k| (at_s, over_k.ln())));
        }
        let (first, end) = (points.first()?, points.last()?);
        let slope = (end.1 - first.1) / (end.0 - first.0).max(1e-9);
        (end.0 - first.0 >= 1200.0 && slope < 0.0).then(|| -1.0 / slope / 3600.0)
    }
}

/// What heat-ups of one lining, the oldest first, say of it. `before` is how wet it was at the oldest; from the first that
/// dries it on it counts as dry. Time and gas are told for the soak temperature, or nine tenths of what the first one reached.
///
/// # Errors
/// When the wall cannot be solved.
pub fn compare(heat_ups: &[HeatUp], before: Wetness, units: UnitSystem) -> Result<Trend, SolveError> {
    let Some(first) = heat_ups.first() else { return Ok(judge(&[], units)) };
    let (soak_c, hottest_c) = (first.lining.goal.soak_temp.0, first.hottest_c());
    let target_c = if hottest_c >= soak_c { soak_c } else { (0.9 * hottest_c / 10.0).floor() * 10.0 };
    let mut wetness = before;
    let mut compared = Vec::with_capacity(heat_ups.len());
    for heat_up in heat_ups {
        compared.push(heat_up.compared(target_c, wetness)?);
        if heat_up.dries() {
            wetness = Wetness::HeatedBefore;
        }
    }
    Ok(judge(&compared, units))
}

/// Whether a lining had been hot before a heat-up, whatever its file says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wetness {
    /// As the lining file says.
    AsDescribed,
    /// Dry: an earlier heat-up dried it.
    HeatedBefore,
}
