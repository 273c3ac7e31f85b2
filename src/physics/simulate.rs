//! One wall under a given gas temperature, watched: what the exact cases, the benches and an engineer's own checks run.

use std::sync::Arc;

use super::balance::Rates;
use super::solver::{Accuracy, Drive, Effort, Part, SolveError, Solver};
use super::wall::{Wall, WallLuck, WallSpec, WallState};
use crate::units::{Curve, ZERO_CELSIUS_K};

/// A wall's history under a gas-temperature curve.
#[derive(Clone, Debug)]
pub struct WallRun {
    /// The wall.
    pub wall: Arc<Wall>,
    /// States at the times asked for, in order.
    pub states: Vec<WallState<1>>,
    /// What had crossed and changed by then, per area of hot face: kg/m², J/m².
    pub ledgers: Vec<Rates<1>>,
    /// Highest pore pressure anywhere, at any time.
    pub peak: PressurePeak,
    /// When 95 % of free and bound water had left, s.
    pub dry_s: Option<f64>,
    /// What the stepping cost.
    pub effort: Effort,
    /// Heat and water at the start: free and bound water, kg/m²; sensible heat, J/m².
    pub start: [f64; 3],
}

/// Where and when pore pressure was highest.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PressurePeak {
    /// Absolute pressure, Pa.
    pub pressure_pa: f64,
    /// Depth from the hot face, m.
    pub depth_m: f64,
    /// Time, s.
    pub time_s: f64,
}

/// Runs the wall `spec` under gas of `gas_c` (°C against s) and keeps its state at each of `times_s`, which must rise;
/// the run ends with the last.
///
/// # Errors
/// When a step cannot be solved.
pub fn run_wall(spec: WallSpec, gas_c: &Curve, times_s: &[f64], accuracy: Accuracy) -> Result<WallRun, SolveError> {
    let wall = Arc::new(Wall::of(spec));
    let luck = Arc::new(WallLuck::<1>::none(wall.layers.len()));
    let part = Part::new(Arc::clone(&wall), luck, 1.0);
    let start = [
        part.state.free_water_kg_m2(&wall).0[0],
        part.state.bound_water_kg_m2(&wall).0[0],
        part.state.heat_j_m2(&wall).0[0],
    ];
    let mut solver = Solver::new(vec![part], None, accuracy);
    let mut watch = Watch::new(start[0] + start[1]);
    let (mut states, mut ledgers) = (Vec::new(), Vec::new());
    let mut from_s = 0.0;
    for stop_s in stops(gas_c, times_s) {
        let drive = Drive::Gas { from_k: gas_c.at(from_s) + ZERO_CELSIUS_K, to_k: gas_c.at(stop_s) + ZERO_CELSIUS_K };
        solver.advance(drive, stop_s - from_s, |solver, _| watch.see(solver))?;
        from_s = stop_s;
        if times_s.iter().any(|time_s| (time_s - stop_s).abs() < 1e-9) {
            states.push(solver.parts[0].state.clone());
            ledgers.push(solver.parts[0].ledger);
        }
    }
    Ok(WallRun { wall, states, ledgers, peak: watch.peak(), dry_s: watch.dry_s, effort: solver.effort, start })
}

/// The times asked for and the corners of the gas curve before the last of them, sorted.
fn stops(gas_c: &Curve, times_s: &[f64]) -> Vec<f64> {
    let end_s = times_s.last().copied().unwrap_or(0.0);
    let corners = gas_c.points().iter().map(|point| point.0).filter(|&time_s| time_s > 0.0 && time_s < end_s);
    let mut stops: Vec<f64> = corners.chain(times_s.iter().copied()).collect();
    stops.sort_by(f64::total_cmp);
    stops.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    stops
}

/// Keeps the pressure peak, refined between steps, and the moment of dryness.
struct Watch {
    water_start: f64,
    water_before: f64,
    time_before_s: f64,
    dry_s: Option<f64>,
    /// Highest pressure after each of the last three steps.
    recent: [PressurePeak; 3],
    best: PressurePeak,
}

impl Watch {
    fn new(water_start: f64) -> Self {
        let none = PressurePeak::default();
        Self { water_start, water_before: water_start, time_before_s: 0.0, dry_s: None, recent: [none; 3], best: none }
    }

    fn see(&mut self, solver: &Solver<1>) {
        let part = &solver.parts[0];
        let wall = &part.wall;
        let (index, pressure) = (0..wall.mesh.nodes.len())
            .map(|index| (index, part.state.pressure_pa[index].0[0]))
            .fold((0, 0.0), |best, next| if next.1 > best.1 { next } else { best });
        let depth_m = wall.mesh.nodes[index].depth_m;
        let now = PressurePeak { pressure_pa: pressure, depth_m, time_s: solver.elapsed_s };
        self.recent = [self.recent[1], self.recent[2], now];
        if now.pressure_pa > self.best.pressure_pa {
            self.best = now;
        }
        let top = vertex(self.recent);
        if top.pressure_pa > self.best.pressure_pa {
            self.best = top;
        }
        self.see_water(solver);
    }

    fn see_water(&mut self, solver: &Solver<1>) {
        let part = &solver.parts[0];
        let water = (part.state.free_water_kg_m2(&part.wall) + part.state.bound_water_kg_m2(&part.wall)).0[0];
        let dry = 0.05 * self.water_start;
        if self.dry_s.is_none() && water <= dry && self.water_before > dry {
            let share = (self.water_before - dry) / (self.water_before - water);
            self.dry_s = Some(self.time_before_s + share * (solver.elapsed_s - self.time_before_s));
        }
        self.water_before = water;
        self.time_before_s = solver.elapsed_s;
    }

    fn peak(&self) -> PressurePeak {
        self.best
    }
}

/// Top of the parabola through three moments, if the middle one is the highest; else the middle one.
fn vertex([a, b, c]: [PressurePeak; 3]) -> PressurePeak {
    let (left_s, right_s) = (b.time_s - a.time_s, c.time_s - b.time_s);
    if !(b.pressure_pa > a.pressure_pa && b.pressure_pa > c.pressure_pa && left_s > 0.0 && right_s > 0.0) {
        return b;
    }
    let rise = (b.pressure_pa - a.pressure_pa) / left_s;
    let fall = (c.pressure_pa - b.pressure_pa) / right_s;
    let curvature = (fall - rise) / (left_s + right_s);
    let slope = rise + curvature * left_s;
    let ahead_s = -slope / (2.0 * curvature);
    PressurePeak { pressure_pa: b.pressure_pa + 0.5 * slope * ahead_s, depth_m: b.depth_m, time_s: b.time_s + ahead_s }
}
