//! The wall engine driven by the readings of a log once more, coarsely, for what the log does not hold: pore pressure, and
//! when each section was dry.

use super::burner::BurnerAccount;
use super::channels::Heard;
use crate::physics::{Belief, Drive, Ensemble, Furnace, Grid, SolveError};
use crate::reading::Place;
use crate::run::{Range, Setup};
use crate::units::{Celsius, KelvinPerHour, Seconds};

/// Members that are driven: what the engine solves side by side at no extra cost.
const MEMBERS: usize = 8;

/// Shortest piece the wall is driven in, s. A pulse does not reach the wet zone, the mean does.
const SHORTEST_PIECE_S: f64 = 60.0;

/// What the engine makes of the readings.
#[derive(Clone, Debug)]
pub(super) struct Engine {
    /// Highest pore pressure of each section over time: time, s, and MPa.
    pub pressure: Vec<Vec<(f64, Range)>>,
    /// Water of each section over time, as a share of that before the first flame.
    pub water_start_kg: Vec<f64>,
    wet_until_s: Vec<Option<f64>>,
    ramp_limits: Vec<KelvinPerHour>,
    /// Up to when it could be solved, s.
    pub solved_to_s: f64,
    /// What a control that holds ramps took to hold the gas, kg of propane, by the middle member.
    pub held_kg: f64,
}

impl Engine {
    /// Drives the wall through the whole heat-up by the first hot face that was believed, else the gas, else the burner.
    pub fn follow(setup: &Setup, heard: &Heard, burner: &BurnerAccount, length_s: f64) -> Result<Self, SolveError> {
        let furnace = Furnace::of(&setup.lining, Grid::Usual);
        let belief = Belief { members: setup.belief.members.min(MEMBERS), seed: setup.belief.seed };
        let mut ensemble = Ensemble::new(&furnace, belief)?;
        let sections = furnace.section_names();
        let start = |section| range(&ensemble, |member| ensemble.section(member, section).water_start.0).mid;
        let mut engine = Self {
            pressure: vec![Vec::new(); sections.len()],
            water_start_kg: (0..sections.len()).map(start).collect(),
            wet_until_s: vec![Some(0.0); sections.len()],
            ramp_limits: (0..sections.len()).map(|section| furnace.ramp_limit(section)).collect(),
            solved_to_s: 0.0,
            held_kg: 0.0,
        };
        let piece_s = SHORTEST_PIECE_S.max(2.0 * heard.bucket_s());
        engine.note(&ensemble, 0.0);
        while engine.solved_to_s < length_s - 1.0 {
            let to_s = (engine.solved_to_s + piece_s).min(length_s);
            let drive = drive(heard, burner, sections, (engine.solved_to_s, to_s));
            if ensemble.advance(drive, Seconds(to_s - engine.solved_to_s)).is_err() {
                break;
            }
            if let Some(gas) = burner.set_point(to_s) {
                let kg_s = ensemble.fuel_rate_to_hold(0, gas);
                engine.held_kg += kg_s * (to_s - engine.solved_to_s);
            }
            engine.solved_to_s = to_s;
            engine.note(&ensemble, to_s);
        }
        for (section, wet_until_s) in engine.wet_until_s.iter_mut().enumerate() {
            let still_wet = (0..ensemble.members()).any(|member| ensemble.ramp_limit(member, section).is_some());
            if still_wet {
                *wet_until_s = None;
            }
        }
        Ok(engine)
    }

    fn note(&mut self, ensemble: &Ensemble, at_s: f64) {
        for (section, curve) in self.pressure.iter_mut().enumerate() {
            let mpa = range(ensemble, |member| ensemble.highest_pressure(member, section).0.0 / 1e6);
            curve.push((at_s, mpa));
            let is_wet = (0..ensemble.members()).any(|member| ensemble.ramp_limit(member, section).is_some());
            if let Some(wet_until_s) = self.wet_until_s.get_mut(section).filter(|_| is_wet) {
                *wet_until_s = Some(at_s);
            }
        }
    }

    /// Steepest rise that the wet layers of a section stand.
    pub fn ramp_limit(&self, section: usize) -> KelvinPerHour {
        self.ramp_limits.get(section).copied().unwrap_or(KelvinPerHour(f64::INFINITY))
    }

    /// When all possible linings were dry in a section, s; `None` when one was wet to the end.
    pub fn wet_until_s(&self, section: usize) -> Option<f64> {
        self.wet_until_s.get(section).copied().flatten()
    }
}

fn drive(heard: &Heard, burner: &BurnerAccount, sections: &[String], (from_s, to_s): (f64, f64)) -> Drive {
    let face = heard.first_mean_c(|place| matches!(place, Place::HotFace { .. }), from_s, to_s);
    if let Some((index, temp_c)) = face
        && let Some(Place::HotFace { section }) = heard.place(index)
        && let Some(section) = sections.iter().position(|name| name == section)
    {
        return Drive::HotFace { section, temp: Celsius(temp_c) };
    }
    match heard.first_mean_c(|place| *place == Place::ChamberGas, from_s, to_s) {
        Some((_, temp_c)) => Drive::Gas { temp: Celsius(temp_c) },
        None => match (burner.set_point(from_s), burner.set_point(to_s)) {
            (Some(from), Some(to)) => Drive::Ramp { from, to },
            _ => Drive::Burner { on: burner.on_share(from_s, to_s).clamp(0.0, 1.0) },
        },
    }
}

/// 5th, 50th and 95th percentile over the members.
fn range(ensemble: &Ensemble, value: impl Fn(usize) -> f64) -> Range {
    let [low, mid, high] = [0.05, 0.5, 0.95].map(|share| ensemble.percentile(share, &value));
    Range { low, mid, high }
}
