//! Conductivity and burner strength that make the wall engine say what was read.

use std::sync::Arc;

use super::{Fitted, HeatUp, Piece};
use crate::lining::{Burner, Fuel, Lining};
use crate::physics::chamber::{PROPANE_HEATING_VALUE_J_KG, propane_jet_kg_s};
use crate::physics::{Belief, Drive, Ensemble, Furnace, Grid, SolveError};
use crate::units::{Celsius, Seconds, Watts};

/// A reading of the outside is worth comparing once it is this much of its highest rise.
const WORTH_SHARE: f64 = 0.4;

/// The outside has to rise by this much to tell anything, K.
const LEAST_RISE_K: f64 = 8.0;

/// How well the outside is read from heat-up to heat-up, K: the same couple at the same place (estimate).
const SHELL_ERROR_K: f64 = 1.0;

/// The same, as a part of the rise: draught and contact differ from day to day (estimate).
const SHELL_ERROR_PART: f64 = 0.02;

/// How well the hot face is read from heat-up to heat-up, as a part of the rise: a couple drifts by about this within a few
/// heats (K drifts 3 to 5 K in an hour at 340 to 590 °C; memory).
const FACE_ERROR_PART: f64 = 0.01;

/// Steps of the search, and when it is near enough, K.
const STEPS: usize = 7;
const NEAR_K: f64 = 0.15;

/// The logarithm of a factor stays within this.
const FURTHEST: f64 = 2.5;

/// A lining whose layers all conduct `factor` times as well.
pub(super) fn scaled(lining: &Lining, factor: f64) -> Lining {
    let mut lining = lining.clone();
    for layer in lining.sections.iter_mut().flat_map(|section| &mut section.layers) {
        let mut material = (*layer.material).clone();
        if let Ok(curve) = material.conductivity_w_mk.map(|conductivity| conductivity * factor) {
            material.conductivity_w_mk = curve;
        }
        layer.material = Arc::new(material);
    }
    lining
}

/// Propane that the burner takes when on, kg/s.
pub(super) fn gas_kg_s(burner: &Burner) -> f64 {
    match burner.fuel {
        Fuel::Power(power) => power.0 / PROPANE_HEATING_VALUE_J_KG,
        Fuel::PropaneJet { diameter, gauge_pressure } => propane_jet_kg_s(diameter.0, gauge_pressure.0),
    }
}

/// Factor on the conductivity of all layers with which the outside gets as hot as it was read; `None` when too little was
/// read.
pub(super) fn conductivity(heat_up: &HeatUp, lining: &Lining) -> Result<Option<Fitted>, SolveError> {
    let ambient_c = lining.surroundings.temp.0;
    let rise_k = heat_up.pieces.iter().filter_map(|piece| piece.shell_c).fold(0.0, f64::max) - ambient_c;
    if rise_k < LEAST_RISE_K || heat_up.pieces.iter().all(|piece| piece.hot_c.is_none()) {
        return Ok(None);
    }
    let is_worth = |shell_c: f64| shell_c - ambient_c >= WORTH_SHARE * rise_k;
    let excess_k = |ln_factor: f64| {
        let walk = Walk { lining: &scaled(lining, ln_factor.exp()), heat_up, drives: Drives::ByFace };
        let off = walk.outside_c()?.into_iter().zip(&heat_up.pieces).filter_map(|(made_c, piece)| {
            let read_c = piece.shell_c.filter(|read_c| is_worth(*read_c))?;
            Some(made_c - read_c)
        });
        Ok(mean(off))
    };
    let error_k = SHELL_ERROR_K.hypot(SHELL_ERROR_PART * rise_k);
    root(excess_k).map(|found| found.map(|(factor, slope_k)| Fitted { factor, error: error_k / slope_k }))
}

/// Factor on the heat of the burner with which the hot face gets as hot as it was read.
pub(super) fn burner(heat_up: &HeatUp, lining: &Lining) -> Result<Option<Fitted>, SolveError> {
    let power_w = gas_kg_s(&lining.burner) * PROPANE_HEATING_VALUE_J_KG;
    let rise_k = heat_up.hottest_c() - lining.surroundings.temp.0;
    if heat_up.pieces.iter().all(|piece| piece.on <= 0.0) || rise_k < 50.0 {
        return Ok(None);
    }
    let excess_k = |ln_factor: f64| {
        let mut lining = lining.clone();
        lining.burner.fuel = Fuel::Power(Watts(power_w * ln_factor.exp()));
        let walk = Walk { lining: &lining, heat_up, drives: Drives::ByBurner };
        let off = walk.face_c()?.into_iter().zip(&heat_up.pieces);
        Ok(mean(off.filter_map(|(made_c, piece)| Some(made_c - piece.hot_c?))))
    };
    let error_k = FACE_ERROR_PART * rise_k;
    root(excess_k).map(|found| found.map(|(factor, slope_k)| Fitted { factor, error: error_k / slope_k }))
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Drives {
    ByFace,
    ByBurner,
}

/// One run of the engine through a heat-up.
struct Walk<'a> {
    lining: &'a Lining,
    heat_up: &'a HeatUp,
    drives: Drives,
}

impl Walk<'_> {
    fn outside_c(&self) -> Result<Vec<f64>, SolveError> {
        self.walk(|ensemble, section| ensemble.section(0, section).shell.0)
    }

    fn face_c(&self) -> Result<Vec<f64>, SolveError> {
        self.walk(|ensemble, section| ensemble.section(0, section).hot_face.0)
    }

    /// What `seen` makes of the wall, as the mean of the beginning and the end of each piece.
    fn walk(&self, seen: impl Fn(&Ensemble, usize) -> f64) -> Result<Vec<f64>, SolveError> {
        let furnace = Furnace::of(self.lining, Grid::Usual);
        let mut ensemble = Ensemble::new(&furnace, Belief { members: 1, seed: 1 })?;
        let section = self.heat_up.section;
        let mut before_c = seen(&ensemble, section);
        let mut all = Vec::with_capacity(self.heat_up.pieces.len());
        for (index, piece) in self.heat_up.pieces.iter().enumerate() {
            ensemble.advance(self.drive(index, piece), Seconds(piece.span_s))?;
            let after_c = seen(&ensemble, section);
            all.push(0.5 * (before_c + after_c));
            before_c = after_c;
        }
        Ok(all)
    }

    /// The drive of a piece. The engine goes in a straight line to where the piece ends: between its mean and the next.
    fn drive(&self, index: usize, piece: &Piece) -> Drive {
        let next_c = self.heat_up.pieces.get(index + 1).and_then(|next| next.hot_c);
        match (self.drives, piece.hot_c) {
            (Drives::ByFace, Some(hot_c)) => {
                let end_c = next_c.map_or(hot_c, |next_c| 0.5 * (hot_c + next_c));
                Drive::HotFace { section: self.heat_up.section, temp: Celsius(end_c) }
            }
            _ => Drive::Burner { on: piece.on.clamp(0.0, 1.0) },
        }
    }
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0_u32), |(sum, count), value| (sum + value, count + 1));
    sum / f64::from(count.max(1))
}

/// The factor at which a rising function of its logarithm passes zero, and the slope there, by secants.
fn root(excess_k: impl Fn(f64) -> Result<f64, SolveError>) -> Result<Option<(f64, f64)>, SolveError> {
    let (mut last, mut at) = (0.0, 0.15);
    let mut last_k = excess_k(last)?;
    at = if last_k > 0.0 { -at } else { at };
    for _ in 0..STEPS {
        let now_k = excess_k(at)?;
        let slope_k = (now_k - last_k) / (at - last);
        if !slope_k.is_finite() || slope_k <= 0.0 {
            return Ok(None);
        }
        if now_k.abs() < NEAR_K {
            return Ok(Some((at.exp(), slope_k)));
        }
        let next = (at - now_k / slope_k).clamp(at - 0.7, at + 0.7);
        if next.abs() > FURTHEST {
            return Ok(None);
        }
        (last, last_k, at) = (at, now_k, next);
        if (at - last).abs() < 1e-6 {
            return Ok(Some((at.exp(), slope_k)));
        }
    }
    Ok(None)
}
