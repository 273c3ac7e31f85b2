//! Many furnaces at once, each with its own luck in permeability, water, conductivity, burner and strength.

use std::sync::Arc;

use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};

use super::balance::exchange;
use super::chamber::{Chamber, PROPANE_HEATING_VALUE_J_KG, available_heat};
use super::danger::{Worst, each_cell, worst};
use super::furnace::{Furnace, FurnaceSection};
use super::lanes::Lanes;
use super::matter::Luck;
use super::ramps::Ramps;
use super::solver::{self, Part, SolveError, Solver};
use super::wall::{Wall, WallLuck};
use crate::lining::material::Material;
use crate::units::{Celsius, KelvinPerHour, Kilograms, Metres, Pascals, Seconds};

/// Members solved side by side.
const LANES: usize = 8;

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
    /// The burner at shares of its full fire: at `high` for `on` of the time, at `low` for the rest of it.
    Fires {
        /// Share of the full fire, above 0 to 1.
        high: f64,
        /// The same between; 0 shut.
        low: f64,
        /// 0 to 1.
        on: f64,
    },
    /// A control takes the chamber gas steadily from one temperature to another over the span, wherever it was before. Where
    /// the walls keep it hotter, the burner is shut and the gas as hot as they keep it.
    Ramp {
        /// At the start of the span.
        from: Celsius,
        /// At its end.
        to: Celsius,
    },
    /// The chamber gas goes steadily to a temperature over the span.
    Gas {
        /// At the end of the span.
        temp: Celsius,
    },
    /// The hot face of a section goes steadily to what a probe says over the span; the gas follows from that.
    HotFace {
        /// Index of the section.
        section: usize,
        /// What the probe says.
        temp: Celsius,
    },
}

/// Standard deviations of what members differ in, beside the spreads of each material.
mod spread {
    /// Conductivity, relative (insulation differs 7 to 8 % between laboratories; NIST round robin, abstract).
    pub const CONDUCTIVITY: f64 = 0.10;
    /// Free water at the start, relative (estimate: mix water is trimmed by up to 10 % of the sheet).
    pub const WATER: f64 = 0.10;
    /// Sorption exponent, relative (published constants 22.3 to 24.0 differ by less; estimate).
    pub const SORPTION: f64 = 0.05;
    /// Burner power, relative (estimate: pressure gauge and jet wear).
    pub const POWER: f64 = 0.10;
    /// Convection in the chamber and at the shell, relative (estimate: published 20 to 60 for blown flames).
    pub const EXCHANGE: f64 = 0.20;
}

/// Convection at the faces with the burner on and off, W/(m²·K) (memory: 20 to 60 for a blown flame, 5 to 10 without).
const CHAMBER_CONVECTION_W_M2K: [f64; 2] = [35.0, 8.0];
/// Emissivity between hot gas and faces (memory: short beams of combustion gas 0.2 to 0.4).
const CHAMBER_EMISSIVITY: f64 = 0.35;
/// A section with less than this share of its water left counts as dry.
pub const DRY_SHARE: f64 = 0.05;

/// Members of the ensemble and their present state. Cheap enough to clone for a forecast.
#[derive(Clone, Debug)]
pub struct Ensemble {
    furnace: Arc<Furnace>,
    groups: Vec<Group>,
    weights: Vec<f64>,
    elapsed: Seconds,
    /// Where a prescribed gas or face temperature was last, K.
    prescribed_k: Option<f64>,
}

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
    /// The same before the first flame.
    pub water_start: Kilograms,
    /// Share left of the water that the layers which can spall held before the first flame, 0 to 1. Water driven into
    /// fibre does not count: it is harmless there.
    pub wet_share: f64,
    /// Free water in the layers that can spall, as a share of all the water they held before the first flame.
    pub free_share: f64,
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

/// One cell of a layer that can break, and how near it is to spalling.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CellState {
    /// Its temperature.
    pub temp: Celsius,
    /// How near it is, from what, and where it lies.
    pub danger: Danger,
}

/// Members solved together: one alone, or a full set of lanes. The code is the same; only the width differs.
#[derive(Clone, Debug)]
enum Group {
    One(Box<Lot<1>>),
    Many(Box<Lot<LANES>>),
}

/// A solver and what is kept about its members.
#[derive(Clone, Debug)]
struct Lot<const L: usize> {
    solver: Solver<L>,
    /// Worst cell of each section since the peaks were last forgotten.
    peaks: Vec<Worst<L>>,
    /// Water before the first flame, kg/m² of hot face: in all layers, and in those that can spall.
    start_water: Vec<[Lanes<L>; 2]>,
    on: f64,
}

/// A member's draw: factors on what is uncertain.
#[derive(Clone, Debug)]
struct Draw {
    /// Per material: permeability (decades), conductivity, water, sorption, strength as standard normal deviates.
    materials: Vec<[f64; 5]>,
    power: f64,
    exchange: f64,
}

/// Runs the same code on a group whatever its width.
macro_rules! of_group {
    ($group:expr, $lot:ident => $body:expr) => {
        match $group {
            Group::One($lot) => $body,
            Group::Many($lot) => $body,
        }
    };
}

impl Ensemble {
    /// Draws the members, as they are after curing and air-drying, before the first flame. The first member is the
    /// middle of every distribution.
    ///
    /// # Errors
    /// When the air-drying cannot be solved.
    pub fn new(furnace: &Furnace, belief: Belief) -> Result<Self, SolveError> {
        let draws = draw_members(furnace, belief);
        let groups: Result<Vec<Group>, SolveError> = if draws.len() <= 1 {
            Lot::<1>::new(furnace, &draws).map(|lot| vec![Group::One(Box::new(lot))])
        } else {
            draws
                .par_chunks(LANES)
                .map(|chunk| Lot::<LANES>::new(furnace, chunk).map(|lot| Group::Many(Box::new(lot))))
                .collect()
        };
        Ok(Self {
            furnace: Arc::new(furnace.clone()),
            groups: groups?,
            weights: vec![1.0 / draws.len() as f64; draws.len()],
            elapsed: Seconds(0.0),
            prescribed_k: None,
        })
    }

    /// How many members there are.
    #[must_use]
    pub fn members(&self) -> usize {
        self.weights.len()
    }

    /// The furnace they are members of.
    #[must_use]
    pub fn furnace(&self) -> &Furnace {
        &self.furnace
    }

    /// Time since the first flame.
    #[must_use]
    pub fn elapsed(&self) -> Seconds {
        self.elapsed
    }

    /// Weight of each member; they add up to 1.
    #[must_use]
    pub fn weights(&self) -> &[f64] {
        &self.weights
    }

    /// Multiplies each weight by that member's likelihood and makes them add up to 1 again. When no member is likely at
    /// all the weights stay as they are.
    pub fn reweight(&mut self, likelihood: impl Fn(usize) -> f64) {
        let products: Vec<f64> =
            self.weights.iter().enumerate().map(|(member, weight)| weight * likelihood(member)).collect();
        let sum: f64 = products.iter().sum();
        if sum.is_finite() && sum > 1e-300 {
            self.weights = products.into_iter().map(|product| product / sum).collect();
        }
    }

    /// Moves every member on by `span` under `drive`. Peaks of danger on the way are kept ([`Self::peak`]).
    ///
    /// # Errors
    /// When a step cannot be solved; members are then not all at the same time, and the ensemble should be dropped.
    pub fn advance(&mut self, drive: Drive, span: Seconds) -> Result<(), SolveError> {
        self.set_fires(drive);
        let drive = self.prescribe(drive);
        self.groups.par_iter_mut().try_for_each(|group| of_group!(group, lot => lot.advance(drive, span.0)))?;
        self.elapsed = self.elapsed + span;
        Ok(())
    }

    /// Sets every member's burner to the fires that `drive` switches between.
    fn set_fires(&mut self, drive: Drive) {
        let fires = match drive {
            Drive::Fires { high, low, .. } => [high, low],
            _ => [1.0, 0.0],
        };
        for group in &mut self.groups {
            of_group!(group, lot => if let Some(chamber) = &mut lot.solver.chamber { chamber.fires = fires });
        }
    }

    /// The solver's drive, which goes on from where the last one ended.
    fn prescribe(&mut self, drive: Drive) -> solver::Drive {
        let mut from_k = |now_k: f64, to: Celsius| {
            let from_k = self.prescribed_k.unwrap_or(now_k);
            self.prescribed_k = Some(to.kelvin());
            (from_k, to.kelvin())
        };
        let start_k = self.furnace.lining.surroundings.temp.kelvin();
        match drive {
            Drive::Burner { on } | Drive::Fires { on, .. } => {
                self.prescribed_k = None;
                solver::Drive::Burner { on }
            }
            Drive::Ramp { from, to } => {
                self.prescribed_k = Some(to.kelvin());
                solver::Drive::Held { from_k: from.kelvin(), to_k: to.kelvin() }
            }
            Drive::Gas { temp } => {
                let (from_k, to_k) = from_k(start_k, temp);
                solver::Drive::Gas { from_k, to_k }
            }
            Drive::HotFace { section, temp } => {
                let now_k = of_group!(&self.groups[0], lot => lot.solver.parts[section].state.temp_k[0].0[0]);
                let (from_k, to_k) = from_k(now_k, temp);
                solver::Drive::HotFace { wall: section, from_k, to_k }
            }
        }
    }

    fn place(&self, member: usize) -> (&Group, usize) {
        let width = if matches!(self.groups[0], Group::One(_)) { 1 } else { LANES };
        (&self.groups[member / width], member % width)
    }

    /// State of `section` of `member`.
    #[must_use]
    pub fn section(&self, member: usize, section: usize) -> SectionState {
        let (group, lane) = self.place(member);
        of_group!(group, lot => lot.section(&self.furnace.sections[section], section, lane))
    }

    /// Temperature of the hot face of `section` of `member`, without the rest of its state, which takes longer.
    #[must_use]
    pub fn hot_face(&self, member: usize, section: usize) -> Celsius {
        let (group, lane) = self.place(member);
        of_group!(group, lot => Celsius::from_kelvin(lot.solver.parts[section].state.temp_k[0].0[lane]))
    }

    /// The wet and the free share of `section` of `member` ([`SectionState::wet_share`]), without the rest of its state.
    #[must_use]
    pub fn water_shares(&self, member: usize, section: usize) -> [f64; 2] {
        let (group, lane) = self.place(member);
        of_group!(group, lot => {
            let part = &lot.solver.parts[section];
            let bound = part.state.bound_water_where(&part.wall, |layer| can_spall(part, layer)).0[lane];
            let weak = part.state.water_kg_m2(&part.wall, |layer| can_spall(part, layer)).0[lane];
            let start_kg_m2 = lot.start_water[section][1].0[lane];
            [weak, weak - bound].map(|water_kg_m2| share_left(water_kg_m2, start_kg_m2))
        })
    }

    /// State of `section` of every member, in order. Cheaper than one after the other, because lanes are looked at together.
    #[must_use]
    pub fn states(&self, section: usize) -> Vec<SectionState> {
        let described = &self.furnace.sections[section];
        let mut states = Vec::with_capacity(self.members());
        for group in &self.groups {
            of_group!(group, lot => states.extend(lot.states(described, section)));
        }
        states.truncate(self.members());
        states
    }

    /// Worst danger of `section` of `member` since the last call of [`Self::forget_peaks`].
    #[must_use]
    pub fn peak(&self, member: usize, section: usize) -> Danger {
        let (group, lane) = self.place(member);
        of_group!(group, lot => danger_of(&lot.solver.parts[section].wall, &lot.peaks[section], lane))
    }

    /// Every cell of `section` of `member` that can break as it is now, from the hot face outwards: steam and thermal
    /// tension apart.
    #[must_use]
    pub fn cells(&self, member: usize, section: usize) -> Vec<CellState> {
        let (group, lane) = self.place(member);
        let mut cells = Vec::new();
        of_group!(group, lot => {
            let part = &lot.solver.parts[section];
            each_cell(&part.wall, &part.luck, &part.state, |cell| cells.push(CellState {
                temp: Celsius::from_kelvin(part.state.temp_k[cell.node[lane]].0[lane]),
                danger: danger_of(&part.wall, cell, lane),
            }));
        });
        cells
    }

    /// Starts a new stretch for [`Self::peak`].
    pub fn forget_peaks(&mut self) {
        for group in &mut self.groups {
            of_group!(group, lot => lot.peaks.fill(Worst::NONE));
        }
    }

    /// Temperature of `section` of `member` at `depth` from the hot face.
    #[must_use]
    pub fn temp_at(&self, member: usize, section: usize, depth: Metres) -> Celsius {
        let (group, lane) = self.place(member);
        of_group!(group, lot => {
            let part = &lot.solver.parts[section];
            Celsius::from_kelvin(part.state.temp_at_k(&part.wall, depth.0).0[lane])
        })
    }

    /// Pore pressure of `section` of `member` at `depth` from the hot face, absolute.
    #[must_use]
    pub fn pressure_at(&self, member: usize, section: usize, depth: Metres) -> Pascals {
        let (group, lane) = self.place(member);
        of_group!(group, lot => {
            let part = &lot.solver.parts[section];
            Pascals(part.state.pressure_at_pa(&part.wall, depth.0).0[lane])
        })
    }

    /// Water, free and bound, in the cell of `section` of `member` nearest to `depth` from the hot face, kg/m³.
    #[must_use]
    pub fn water_at(&self, member: usize, section: usize, depth: Metres) -> f64 {
        let (group, lane) = self.place(member);
        of_group!(group, lot => {
            let part = &lot.solver.parts[section];
            let cells = part.wall.mesh.nodes.iter().enumerate().filter(|(_, node)| node.is_cell());
            let nearest = cells.min_by(|(_, a), (_, b)| {
                (a.depth_m - depth.0).abs().total_cmp(&(b.depth_m - depth.0).abs())
            });
            nearest.map_or(0.0, |(index, node)| {
                let bound_kg_m3 = part.wall.layers[node.layer_before].matter.bound_water_kg_m3;
                part.state.water_kg_m3[index].0[lane] + (1.0 - part.state.freed[index].0[lane]) * bound_kg_m3
            })
        })
    }

    /// Highest pore pressure in `section` of `member` now, absolute, and its depth from the hot face.
    #[must_use]
    pub fn highest_pressure(&self, member: usize, section: usize) -> (Pascals, Metres) {
        let (group, lane) = self.place(member);
        of_group!(group, lot => {
            let part = &lot.solver.parts[section];
            let pressures = part.state.pressure_pa.iter().map(|pressure| pressure.0[lane]);
            let highest = pressures.zip(&part.wall.mesh.nodes).max_by(|a, b| a.0.total_cmp(&b.0));
            highest.map_or((Pascals(0.0), Metres(0.0)), |(pressure, node)| (Pascals(pressure), Metres(node.depth_m)))
        })
    }

    /// Temperature of the chamber gas of `member`, mean over pulses.
    #[must_use]
    pub fn gas(&self, member: usize) -> Celsius {
        let (group, lane) = self.place(member);
        of_group!(group, lot => {
            let held_k = lot.solver.held_gas_k.map(|gas_k| gas_k.0[lane]);
            let mean_k = lot.solver.chamber.as_ref().map(|chamber| chamber.mean_gas_k(lot.on).0[lane]);
            let face_k = lot.solver.parts[0].state.temp_k[0].0[lane];
            Celsius::from_kelvin(held_k.or(self.prescribed_k).or(mean_k).unwrap_or(face_k))
        })
    }

    /// Steepest ramp that the wet layers of `section` of `member` stand now; `None` when they are dry.
    #[must_use]
    pub fn ramp_limit(&self, member: usize, section: usize) -> Option<KelvinPerHour> {
        let is_wet = self.water_shares(member, section)[0] > DRY_SHARE;
        is_wet.then_some(self.furnace.sections[section].ramp_limit)
    }

    /// Fuel burnt by `member` since the start.
    #[must_use]
    pub fn fuel(&self, member: usize) -> Kilograms {
        let (group, lane) = self.place(member);
        of_group!(group, lot => {
            let burnt_j = lot.solver.chamber.as_ref().map_or(0.0, |chamber| chamber.burnt_j.0[lane]);
            Kilograms(burnt_j / PROPANE_HEATING_VALUE_J_KG)
        })
    }

    /// Propane that a stepless burner without excess air burns to hold the chamber of `member` at `gas`, kg/s: what the faces
    /// take and the openings lose, over what the flue leaves. None where the walls are hotter.
    #[must_use]
    pub fn fuel_rate_to_hold(&self, member: usize, gas: Celsius) -> f64 {
        let (group, lane) = self.place(member);
        let taken_w = of_group!(group, lot => {
            lot.solver.chamber.as_ref().map_or(0.0, |chamber| {
                let opening_w = chamber.shine(Lanes::all(gas.kelvin())).0.0[lane];
                let faces_w = lot.solver.parts.iter().map(|part| {
                    let face_k = Lanes([part.state.temp_k[0].0[lane]]);
                    part.area_m2 * exchange(&part.wall.spec.hot, Lanes([gas.kelvin()]), face_k).0.0[0]
                });
                opening_w + faces_w.sum::<f64>()
            })
        });
        let share = available_heat(self.furnace.lining.burner.equivalence_ratio).at(gas.0);
        (taken_w / share.max(0.05)).max(0.0) / PROPANE_HEATING_VALUE_J_KG
    }

    /// The smallest value that members with at least `share` of the weight do not exceed.
    #[must_use]
    pub fn percentile(&self, share: f64, value: impl Fn(usize) -> f64) -> f64 {
        let mut values: Vec<(f64, f64)> =
            self.weights.iter().enumerate().map(|(member, &weight)| (value(member), weight)).collect();
        values.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut sum = 0.0;
        for &(value, weight) in &values {
            sum += weight;
            if sum >= share - 1e-12 {
                return value;
            }
        }
        values.last().map_or(f64::NAN, |last| last.0)
    }
}

impl<const L: usize> Lot<L> {
    fn new(furnace: &Furnace, draws: &[Draw]) -> Result<Self, SolveError> {
        // Lanes beyond the last member repeat it, unweighted.
        let drawn = |lane: usize| &draws[lane.min(draws.len() - 1)];
        let lanes = |value: &dyn Fn(&Draw) -> f64| {
            let mut out = Lanes::ZERO;
            for (lane, slot) in out.0.iter_mut().enumerate() {
                *slot = value(drawn(lane));
            }
            out
        };
        let parts: Vec<Part<L>> = furnace
            .sections
            .iter()
            .map(|section| {
                let luck = WallLuck {
                    layers: section.material.iter().map(|&material| layer_luck(furnace, material, &lanes)).collect(),
                    water: section.material.iter().map(|&material| water_luck(material, &lanes)).collect(),
                    cold_exchange: lanes(&|draw| draw.exchange),
                };
                section.drying.dried(&section.wall, luck, section.area_m2)
            })
            .collect::<Result<_, _>>()?;
        let start_water = parts.iter().map(both_waters).collect();
        let peaks = vec![Worst::NONE; parts.len()];
        let chamber = chamber_of(furnace, lanes(&|draw| draw.power), lanes(&|draw| draw.exchange));
        Ok(Self { solver: Solver::new(parts, Some(chamber), furnace.grid.accuracy()), peaks, start_water, on: 0.0 })
    }

    fn advance(&mut self, drive: solver::Drive, span_s: f64) -> Result<(), SolveError> {
        let peaks = &mut self.peaks;
        self.solver.advance(drive, span_s, |solver, _| {
            for (peak, part) in peaks.iter_mut().zip(&solver.parts) {
                peak.absorb(&worst(&part.wall, &part.luck, &part.state));
            }
        })?;
        self.on = if let solver::Drive::Burner { on } = drive { on } else { 0.0 };
        Ok(())
    }

    fn section(&self, described: &FurnaceSection, section: usize, lane: usize) -> SectionState {
        let part = &self.solver.parts[section];
        self.state(described, section, (lane, &worst(&part.wall, &part.luck, &part.state), both_waters(part)))
    }

    fn states(&self, described: &FurnaceSection, section: usize) -> impl Iterator<Item = SectionState> {
        let part = &self.solver.parts[section];
        let (worst, waters) = (worst(&part.wall, &part.luck, &part.state), both_waters(part));
        (0..L).map(move |lane| self.state(described, section, (lane, &worst, waters)))
    }

    fn state(
        &self,
        described: &FurnaceSection,
        section: usize,
        (lane, worst, [all, weak]): (usize, &Worst<L>, [Lanes<L>; 2]),
    ) -> SectionState {
        let part = &self.solver.parts[section];
        let nodes = &part.wall.mesh.nodes;
        let has_shell = described.material.last() == Some(&None);
        let last_lining_layer = described.material.len() - 1 - usize::from(has_shell);
        let contact = nodes
            .iter()
            .rposition(|node| !node.is_cell() && node.layer_before == last_lining_layer)
            .unwrap_or(nodes.len() - 1);
        let temp = |node: usize| Celsius::from_kelvin(part.state.temp_k[node].0[lane]);
        let water = |water_kg_m2: Lanes<L>| Kilograms(water_kg_m2.0[lane] * part.area_m2);
        let bound = part.state.bound_water_where(&part.wall, |layer| can_spall(part, layer));
        let free = weak - bound;
        let [all_start, weak_start] = self.start_water[section];
        let start_kg_m2 = weak_start.0[lane];
        SectionState {
            hot_face: temp(0),
            contact: temp(contact),
            shell: temp(nodes.len() - 1),
            water_left: water(all),
            water_start: water(all_start),
            wet_share: share_left(weak.0[lane], start_kg_m2),
            free_share: share_left(free.0[lane], start_kg_m2),
            danger: danger_of(&part.wall, worst, lane),
        }
    }
}

/// A section that starts with no more water than this in its layers that can spall was dry before, kg/m²: the vapour in
/// the pores of fired brick, and a film on them.
const DRY_KG_M2: f64 = 0.02;

/// Share of what was there at the start, 0 to 1; none where that was nothing worth the name.
fn share_left(water_kg_m2: f64, start_kg_m2: f64) -> f64 {
    if start_kg_m2 > DRY_KG_M2 { water_kg_m2 / start_kg_m2 } else { 0.0 }
}

/// Free and bound water of a part, kg/m²: in all layers, and in those that can spall.
fn both_waters<const L: usize>(part: &Part<L>) -> [Lanes<L>; 2] {
    [part.state.water_kg_m2(&part.wall, |_| true), part.state.water_kg_m2(&part.wall, |layer| can_spall(part, layer))]
}

fn can_spall<const L: usize>(part: &Part<L>, layer: usize) -> bool {
    part.wall.layers[layer].matter.strength.is_some()
}

fn danger_of<const L: usize>(wall: &Wall, worst: &Worst<L>, lane: usize) -> Danger {
    let node = &wall.mesh.nodes[worst.node[lane]];
    Danger {
        number: worst.number.0[lane],
        steam: worst.steam.0[lane],
        thermal: worst.thermal.0[lane],
        pressure: Pascals(worst.pressure_pa.0[lane]),
        strength: Pascals(worst.strength_pa.0[lane]),
        layer: node.layer_before,
        depth: Metres(node.depth_m),
    }
}

fn layer_luck<const L: usize>(
    furnace: &Furnace,
    material: Option<usize>,
    lanes: &impl Fn(&dyn Fn(&Draw) -> f64) -> Lanes<L>,
) -> Luck<L> {
    let Some(index) = material else { return Luck::NONE };
    let material = &furnace.materials[index];
    Luck {
        permeability_ln: lanes(&|draw| {
            draw.materials[index][0] * material.permeability_spread * std::f64::consts::LN_10
        }),
        conductivity: lanes(&|draw| (draw.materials[index][1] * spread::CONDUCTIVITY).exp()),
        sorption: lanes(&|draw| (draw.materials[index][3] * spread::SORPTION).exp()),
        strength: lanes(&|draw| (draw.materials[index][4] * material.strength_spread).exp()),
    }
}

fn water_luck<const L: usize>(material: Option<usize>, lanes: &impl Fn(&dyn Fn(&Draw) -> f64) -> Lanes<L>) -> Lanes<L> {
    let Some(index) = material else { return Lanes::ONE };
    lanes(&|draw| (draw.materials[index][2] * spread::WATER).exp())
}

fn chamber_of<const L: usize>(furnace: &Furnace, power: Lanes<L>, exchange: Lanes<L>) -> Chamber<L> {
    let lining = &furnace.lining;
    Chamber {
        opening_m2: lining.chamber.opening.0,
        ambient_k: lining.surroundings.temp.kelvin(),
        power_w: power * furnace.power_w,
        available: Ramps::of(&available_heat(lining.burner.equivalence_ratio)),
        convection_w_m2k: CHAMBER_CONVECTION_W_M2K.map(|convection| exchange * convection),
        emissivity: CHAMBER_EMISSIVITY,
        fires: [1.0, 0.0],
        gas_k: [Lanes::all(1200.0), Lanes::all(lining.surroundings.temp.kelvin())],
        burnt_j: Lanes::ZERO,
    }
}

/// Draws the members by Latin hypercube: each uncertainty is cut into as many equal slices as there are members and
/// every slice is used once, so that few members cover the range. Permeability and strength are cut along the direction in which
/// they make a lining more dangerous, and across it: otherwise it would be luck how many members are tight and weak at once,
/// and with it what 95 % of them stand. The first is the middle; the others follow in order of how easily their first material
/// lets water through, so that members solved together need steps of like length.
fn draw_members(furnace: &Furnace, belief: Belief) -> Vec<Draw> {
    let mut rng = ChaCha8Rng::seed_from_u64(belief.seed);
    let normal = Normal::standard();
    let drawn = belief.members.max(1) - 1;
    let mut deviates = || {
        let mut slices: Vec<f64> =
            (0..drawn).map(|slice| normal.inverse_cdf((slice as f64 + 0.5) / drawn as f64)).collect();
        slices.shuffle(&mut rng);
        slices
    };
    let materials: Vec<[Vec<f64>; 5]> = furnace.materials.iter().map(|_| std::array::from_fn(|_| deviates())).collect();
    let (power, exchange) = (deviates(), deviates());
    let middle = Draw { materials: vec![[0.0; 5]; furnace.materials.len()], power: 1.0, exchange: 1.0 };
    let of_material = |(kinds, material): (&[Vec<f64>; 5], &Arc<Material>), index: usize| {
        let (tight, weak) = towards_danger(material);
        let [along, conductivity, water, sorption, across] = std::array::from_fn(|kind| kinds[kind][index]);
        let permeability = weak * across - tight * along;
        let strength = -(weak * along + tight * across);
        [permeability, conductivity, water, sorption, strength]
    };
    let member = |index: usize| Draw {
        materials: materials.iter().zip(&furnace.materials).map(|material| of_material(material, index)).collect(),
        power: (power[index] * spread::POWER).exp(),
        exchange: (exchange[index] * spread::EXCHANGE).exp(),
    };
    let mut members: Vec<Draw> = (0..drawn).map(member).collect();
    members.sort_by(|one, other| one.materials[0][0].total_cmp(&other.materials[0][0]));
    std::iter::once(middle).chain(members).collect()
}

/// Unit vector of the direction in which a danger number grows quickest: by how much less permeability, and how much less
/// strength, in standard deviations. Pore pressure goes about as one over the root of permeability (`tests/physics_known`: a
/// tenth of it makes 3.3 times the pressure), the danger number as one over strength.
fn towards_danger(material: &Material) -> (f64, f64) {
    let tight = 0.5 * std::f64::consts::LN_10 * material.permeability_spread;
    let weak = material.strength_spread;
    let length = tight.hypot(weak);
    if length > 0.0 { (tight / length, weak / length) } else { (1.0, 0.0) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lining::material::Materials;
    use crate::lining::text::parse_lining;
    use crate::physics::Grid;

    /// Of 79 the 76th stands beyond the 95th percentile of a normal distribution, 1.645 (any table), whatever the seed.
    #[test]
    fn how_many_are_tight_and_weak_at_once_is_no_luck() {
        let text = include_str!("../../schedules/yardstick-low-cement-100.toml");
        let furnace = Furnace::of(&parse_lining(text, Materials::built_in()).expect("a shipped lining"), Grid::Coarse);
        let (tight, weak) = towards_danger(&furnace.materials[0]);
        for seed in 0..20 {
            let draws = draw_members(&furnace, Belief { members: 79, seed });
            let along = |draw: &Draw| -tight * draw.materials[0][0] - weak * draw.materials[0][4];
            let mut dangers: Vec<f64> = draws.iter().map(along).collect();
            dangers.sort_by(f64::total_cmp);
            assert!((1.645..1.75).contains(&dangers[75]), "seed {seed}: {}", dangers[75]);
        }
    }
}
