//! One wall: its mesh, what its layers are made of, what happens at its faces, and its members' state.

use super::lanes::Lanes;
use super::matter::{Luck, Matter, Prepared, State, WaterLaw};
use super::mesh::{Cut, Geometry, Mesh};

/// Everything about a wall that all members share.
#[derive(Clone, Debug)]
pub struct WallSpec {
    /// Flat or round.
    pub geometry: Geometry,
    /// From the hot face outwards; at least one.
    pub layers: Vec<LayerSpec>,
    /// Hot side.
    pub hot: Face,
    /// Cold side.
    pub cold: Face,
    /// Temperature at the start, K.
    pub start_k: f64,
    /// Temperature behind the cold face, K.
    pub ambient_k: f64,
    /// Coefficients of the water.
    pub water: WaterLaw,
}

/// One layer of a wall.
#[derive(Clone, Debug)]
pub struct LayerSpec {
    /// What it is made of.
    pub matter: Matter,
    /// How it is cut.
    pub cut: Cut,
    /// What it holds at the start.
    pub start: StartWater,
}

/// Free water at the start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StartWater {
    /// So much, kg/m³.
    Content(f64),
    /// What is in balance with this pore pressure, Pa.
    Pressure(f64),
}

/// What a face lets through to its surroundings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Face {
    /// How heat crosses it.
    pub heat: FaceHeat,
    /// How water crosses it.
    pub vapour: FaceVapour,
}

/// How heat crosses a face.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FaceHeat {
    /// Convection and radiation.
    Exchange {
        /// Convection coefficient, W/(m²·K).
        convection_w_m2k: f64,
        /// Emissivity between face and surroundings, 0 to 1.
        emissivity: f64,
    },
    /// The face has the temperature of its surroundings.
    Fixed,
    /// None does.
    Insulated,
}

/// How water crosses a face.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FaceVapour {
    /// Vapour leaves at a coefficient times the pressure above that of the surroundings; none comes in.
    Leaves {
        /// Coefficient, kg/(m²·s·Pa).
        coefficient_s_m: f64,
        /// Vapour pressure of the surroundings, Pa.
        surroundings_pa: f64,
    },
    /// The pore pressure at the face is fixed, Pa. Its heat balance is right only if its temperature is fixed too.
    Fixed(f64),
    /// None does.
    Sealed,
}

/// A wall ready to be solved.
#[derive(Clone, Debug)]
pub struct Wall {
    /// As it was described.
    pub spec: WallSpec,
    /// Cells and links.
    pub mesh: Mesh,
    /// Matter of each layer.
    pub layers: Vec<Prepared>,
}

impl Wall {
    /// Cuts the wall and makes its matter ready.
    #[must_use]
    pub fn of(spec: WallSpec) -> Self {
        let cuts: Vec<Cut> = spec.layers.iter().map(|layer| layer.cut).collect();
        let mesh = Mesh::cut(spec.geometry, &cuts);
        let layers = spec.layers.iter().map(|layer| Prepared::of(&layer.matter)).collect();
        Self { spec, mesh, layers }
    }

    /// The row at which vapour leaves the cold side: the outermost cell that lets water through. Impermeable sheet
    /// outside it is taken to be drilled.
    pub(super) fn vent(&self) -> Option<usize> {
        let permeable = |node: usize| {
            let node = &self.mesh.nodes[node];
            node.is_cell() && self.layers[node.layer_before].permeable
        };
        (0..self.mesh.rows.len()).rev().find(|&row| permeable(self.mesh.rows[row]))
    }
}

/// How the members' copies of a wall differ.
#[derive(Clone, Debug)]
pub struct WallLuck<const L: usize> {
    /// Per layer.
    pub layers: Vec<Luck<L>>,
    /// Factor on the free water at the start, per layer.
    pub water: Vec<Lanes<L>>,
    /// Factor on convection and radiation at the cold face.
    pub cold_exchange: Lanes<L>,
}

impl<const L: usize> WallLuck<L> {
    /// Every member in the middle.
    #[must_use]
    pub fn none(layers: usize) -> Self {
        Self { layers: vec![Luck::NONE; layers], water: vec![Lanes::ONE; layers], cold_exchange: Lanes::ONE }
    }
}

/// Where the members' copies of a wall are now. One entry per node.
///
/// Water and heat are carried along as conserved amounts beside pressure and temperature: what Newton's method leaves
/// unresolved in a step is made good in the next, and the balances close to rounding.
#[derive(Clone, Debug)]
pub struct WallState<const L: usize> {
    /// Temperature, K.
    pub temp_k: Vec<Lanes<L>>,
    /// Pore pressure, Pa.
    pub pressure_pa: Vec<Lanes<L>>,
    /// Free water, kg/m³ (cells).
    pub water_kg_m3: Vec<Lanes<L>>,
    /// Sensible heat, J/m³ (cells).
    pub heat_j_m3: Vec<Lanes<L>>,
    /// Fraction of bound water set free (cells).
    pub freed: Vec<Lanes<L>>,
}

impl<const L: usize> WallState<L> {
    /// The members before anything happens.
    #[must_use]
    pub fn start(wall: &Wall, luck: &WallLuck<L>) -> Self {
        let nodes = wall.mesh.nodes.len();
        let start_k = Lanes::all(wall.spec.start_k);
        let mut state = Self {
            temp_k: vec![start_k; nodes],
            pressure_pa: vec![Lanes::ONE; nodes],
            water_kg_m3: vec![Lanes::ZERO; nodes],
            heat_j_m3: vec![Lanes::ZERO; nodes],
            freed: vec![Lanes::ZERO; nodes],
        };
        let pressures: Vec<Lanes<L>> = (0..wall.layers.len()).map(|layer| start_pressure(wall, luck, layer)).collect();
        for (index, node) in wall.mesh.nodes.iter().enumerate() {
            let permeable = wall.layers[node.layer_before].permeable;
            let layer = if permeable { node.layer_before } else { node.layer_after };
            state.pressure_pa[index] = pressures[layer];
            for lane in 0..L {
                let place = State { temp_k: wall.spec.start_k, pressure_pa: pressures[layer].0[lane] };
                let own = luck.layers[layer].lane(lane);
                let (storage, _) = wall.layers[layer].at(&wall.spec.water, &own, place);
                state.water_kg_m3[index].0[lane] = storage.water.v;
                state.heat_j_m3[index].0[lane] = storage.heat.v;
            }
        }
        state
    }

    /// Free water per area of hot face, kg/m².
    pub fn free_water_kg_m2(&self, wall: &Wall) -> Lanes<L> {
        sum_over(wall, |index, _| self.water_kg_m3[index])
    }

    /// Water still bound per area of hot face, kg/m².
    pub fn bound_water_kg_m2(&self, wall: &Wall) -> Lanes<L> {
        sum_over(wall, |index, layer| (Lanes::ONE - self.freed[index]) * wall.layers[layer].matter.bound_water_kg_m3)
    }

    /// Bound water per area of hot face in the layers that `counts` picks, kg/m².
    pub fn bound_water_where(&self, wall: &Wall, counts: impl Fn(usize) -> bool) -> Lanes<L> {
        sum_over(wall, |index, layer| {
            if counts(layer) {
                (Lanes::ONE - self.freed[index]) * wall.layers[layer].matter.bound_water_kg_m3
            } else {
                Lanes::ZERO
            }
        })
    }

    /// Free and bound water per area of hot face in the layers that `counts` picks, kg/m².
    pub fn water_kg_m2(&self, wall: &Wall, counts: impl Fn(usize) -> bool) -> Lanes<L> {
        sum_over(wall, |index, layer| {
            if counts(layer) {
                let bound = (Lanes::ONE - self.freed[index]) * wall.layers[layer].matter.bound_water_kg_m3;
                self.water_kg_m3[index] + bound
            } else {
                Lanes::ZERO
            }
        })
    }

    /// Sensible heat per area of hot face, J/m².
    pub fn heat_j_m2(&self, wall: &Wall) -> Lanes<L> {
        sum_over(wall, |index, _| self.heat_j_m3[index])
    }

    /// Temperature at a depth, K, linear between nodes.
    pub fn temp_at_k(&self, wall: &Wall, depth_m: f64) -> Lanes<L> {
        at_depth(wall, &self.temp_k, depth_m)
    }

    /// Pore pressure at a depth, Pa, linear between nodes.
    pub fn pressure_at_pa(&self, wall: &Wall, depth_m: f64) -> Lanes<L> {
        at_depth(wall, &self.pressure_pa, depth_m)
    }
}

/// Integral over the wall of a density given by node and layer.
fn sum_over<const L: usize>(wall: &Wall, density: impl Fn(usize, usize) -> Lanes<L>) -> Lanes<L> {
    let mut sum = Lanes::ZERO;
    for (index, node) in wall.mesh.nodes.iter().enumerate() {
        sum += density(index, node.layer_before) * node.volume_m;
    }
    sum
}

fn at_depth<const L: usize>(wall: &Wall, values: &[Lanes<L>], depth_m: f64) -> Lanes<L> {
    let nodes = &wall.mesh.nodes;
    let after = nodes.partition_point(|node| node.depth_m <= depth_m).clamp(1, nodes.len() - 1);
    let (from_m, to_m) = (nodes[after - 1].depth_m, nodes[after].depth_m);
    let share = ((depth_m - from_m) / (to_m - from_m)).clamp(0.0, 1.0);
    values[after - 1] * (1.0 - share) + values[after] * share
}

fn start_pressure<const L: usize>(wall: &Wall, luck: &WallLuck<L>, layer: usize) -> Lanes<L> {
    let mut pressures = Lanes::ONE;
    for lane in 0..L {
        let one = luck.layers[layer].lane(lane);
        pressures.0[lane] = match wall.spec.layers[layer].start {
            StartWater::Pressure(pressure_pa) => pressure_pa,
            StartWater::Content(water_kg_m3) => wall.layers[layer].pressure_holding(
                &wall.spec.water,
                &one,
                wall.spec.start_k,
                water_kg_m3 * luck.water[layer].0[lane],
            ),
        };
    }
    pressures
}
