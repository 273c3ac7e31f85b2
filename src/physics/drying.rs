//! Drying in air before the first flame, by the same engine: which layers stood open, for how long, in what weather.
//!
//! Layers are laid from the shell inwards and each dries from then on. A layer that has dried for longer than the one laid
//! over it stood bare for the difference. So a section dries in stages: at first only what was laid first, at last all of
//! it. What lies behind a layer is at least as old as that layer.
//!
//! Warm air in the chamber comes after that: on the hot faces of the finished wall, with its outside at the air of the place.
//!
//! It errs on the wet side. The engine leaves out the air in the pores and with it the suction that draws liquid to the face
//! below boiling, and its isotherm is that of cement paste, which keeps the pores half full at 50 % humidity. A bed of dense
//! castable loses some 15 g/m² in three days where the trade's 2 mm a day would be 800; thin coats and light castables come
//! nearer. No rule is put in its place: what was not shown to have left is taken to be there.

use std::sync::Arc;

use super::lanes::Lanes;
use super::mesh::Geometry;
use super::solver::{Accuracy, Drive, Part, SolveError, Solver};
use super::steam::saturation_pressure_pa;
use super::wall::{FaceVapour, Wall, WallLuck, WallSpec, WallState};
use crate::lining::{ChamberDrying, Section, Surroundings};

/// A while in which the same layers stood in the air.
#[derive(Clone, Debug)]
pub(super) struct Stage {
    /// What stood there.
    wall: Arc<Wall>,
    /// Index of its first layer in the whole wall.
    first_layer: usize,
    /// For how long, s.
    span_s: f64,
}

/// What a section went through before the first flame.
#[derive(Clone, Debug)]
pub(super) struct Drying {
    /// In the order of time.
    stages: Vec<Stage>,
    /// Temperature of the air it dried in, K.
    air_k: f64,
    /// Warm air in the chamber after that: its temperature, K, and for how long, s.
    chamber: Option<(f64, f64)>,
}

/// How long a wall that dried in air of another temperature then stands at that of the place, s: a night.
const NIGHT_S: f64 = 12.0 * 3600.0;

impl Drying {
    /// The stages of `section`, whose finished wall is `spec`, in the weather `air`.
    pub fn of(section: &Section, spec: &WallSpec, air: Surroundings) -> Self {
        let ages_s = ages_s(section);
        let mut spans: Vec<f64> = ages_s.iter().copied().filter(|&age_s| age_s > 0.0).collect();
        spans.sort_by(|a, b| b.total_cmp(a));
        spans.dedup_by(|a, b| (*a - *b).abs() < 1.0);
        let next_s = spans.iter().copied().skip(1).chain(std::iter::once(0.0));
        let stages = spans.iter().zip(next_s).map(|(&age_s, next_s)| {
            let first_layer = ages_s.iter().position(|&other_s| other_s >= age_s - 1.0).unwrap_or(0);
            let wall = Arc::new(Wall::of(standing(spec, first_layer, air)));
            Stage { wall, first_layer, span_s: age_s - next_s }
        });
        Self { stages: stages.collect(), air_k: air.temp.kelvin(), chamber: None }
    }

    /// The same, followed by warm air in the chamber.
    pub fn then_warm(mut self, chamber: Option<ChamberDrying>) -> Self {
        self.chamber = chamber.map(|warm| (warm.temp.kelvin(), warm.time.0)).filter(|warm| warm.1 > 0.0);
        self
    }

    /// A section of `area_m2` built as `wall`, as it is when the first flame is lit.
    ///
    /// # Errors
    /// When a step cannot be solved.
    pub fn dried<const L: usize>(
        &self,
        wall: &Arc<Wall>,
        luck: WallLuck<L>,
        area_m2: f64,
    ) -> Result<Part<L>, SolveError> {
        let accuracy = Accuracy { longest_s: 6.0 * 3600.0, ..Accuracy::USUAL };
        let mut before: Option<WallState<L>> = None;
        for stage in &self.stages {
            let part = Part::new(Arc::clone(&stage.wall), Arc::new(behind(&luck, stage.first_layer)), area_m2);
            before = Some(stand(carried(part, before.as_ref()), self.air_k, (stage.span_s, accuracy))?);
        }
        let part = Part::new(Arc::clone(wall), Arc::new(luck), area_m2);
        let mut part = carried(part, before.as_ref());
        let place_k = wall.spec.ambient_k;
        if let Some((warm_k, span_s)) = self.chamber {
            part.state = stand(part.clone(), warm_k, (span_s, accuracy))?;
        }
        let other_k = self.chamber.map_or(self.air_k, |warm| warm.0);
        if (before.is_some() || self.chamber.is_some()) && (other_k - place_k).abs() > 0.01 {
            part.state = stand(part.clone(), place_k, (NIGHT_S, accuracy))?;
        }
        Ok(part)
    }
}

/// How long each layer has been in place, s.
fn ages_s(section: &Section) -> Vec<f64> {
    let own_s = section.layers.iter().map(|layer| layer.water.air_dried.0);
    let age_s = own_s.scan(0.0_f64, |oldest_s, own_s| {
        *oldest_s = oldest_s.max(own_s);
        Some(*oldest_s)
    });
    age_s.collect()
}

/// The wall `spec` without the layers before `first_layer`, in the weather `air`.
fn standing(spec: &WallSpec, first_layer: usize, air: Surroundings) -> WallSpec {
    let absent_m: f64 = spec.layers[..first_layer].iter().map(|layer| layer.cut.thickness_m).sum();
    let air_pa = air.humidity * saturation_pressure_pa(air.temp.kelvin());
    let weather = |vapour: FaceVapour| match vapour {
        FaceVapour::Leaves { coefficient_s_m, .. } => FaceVapour::Leaves { coefficient_s_m, surroundings_pa: air_pa },
        other => other,
    };
    let mut standing = WallSpec {
        geometry: match spec.geometry {
            Geometry::Planar => Geometry::Planar,
            Geometry::Radial { inner_radius_m } => Geometry::Radial { inner_radius_m: inner_radius_m + absent_m },
        },
        layers: spec.layers[first_layer..].to_vec(),
        ambient_k: air.temp.kelvin(),
        ..spec.clone()
    };
    standing.hot.vapour = weather(spec.hot.vapour);
    standing.cold.vapour = weather(spec.cold.vapour);
    standing
}

/// The luck of the layers from `first_layer` on.
fn behind<const L: usize>(luck: &WallLuck<L>, first_layer: usize) -> WallLuck<L> {
    WallLuck {
        layers: luck.layers[first_layer..].to_vec(),
        water: luck.water[first_layer..].to_vec(),
        cold_exchange: luck.cold_exchange,
    }
}

/// `part` with what stood there `before` as it was then; layers in front of that are as laid.
fn carried<const L: usize>(mut part: Part<L>, before: Option<&WallState<L>>) -> Part<L> {
    let Some(before) = before else { return part };
    let state = &mut part.state;
    let new_nodes = state.temp_k.len() - before.temp_k.len();
    // What was the open face is now the contact with a new layer, which keeps its own pressure.
    let from = usize::from(new_nodes > 0);
    let take = |into: &mut Vec<Lanes<L>>, out: &[Lanes<L>]| into[new_nodes + from..].copy_from_slice(&out[from..]);
    take(&mut state.temp_k, &before.temp_k);
    take(&mut state.pressure_pa, &before.pressure_pa);
    take(&mut state.water_kg_m3, &before.water_kg_m3);
    take(&mut state.heat_j_m3, &before.heat_j_m3);
    take(&mut state.freed, &before.freed);
    part
}

/// What `part` is like after it has stood in air at `air_k`.
fn stand<const L: usize>(
    part: Part<L>,
    air_k: f64,
    (span_s, accuracy): (f64, Accuracy),
) -> Result<WallState<L>, SolveError> {
    let mut solver = Solver::new(vec![part], None, accuracy);
    solver.advance(Drive::Gas { from_k: air_k, to_k: air_k }, span_s, |_, _| {})?;
    Ok(solver.parts.swap_remove(0).state)
}
