//! How near each cell is to spalling: steam pressure and thermal tension against tensile strength.
//!
//! Danger number `u = (b max(P - P_atm, 0) + restraint * thermal tension) / f_t`, spalling risk at 1. Effective-stress
//! coefficient b = 1: in tests apparent strength falls one for one with pressure. Thermal tension is
//! `E alpha (T_line - T) / (1 - nu)` within a layer, where `T_line` is the straight line that fits its profile best: a
//! steady slope of temperature bends the layer and opens the hairline cracks that are meant to form, and only what is
//! left over strains it against itself. Restraint 0.2 stands for cracks, creep and free edges until measured (an
//! engineering guess).

use super::lanes::Lanes;
use super::wall::{Wall, WallLuck, WallState};

/// Atmospheric pressure, Pa.
pub const ATMOSPHERE_PA: f64 = 101_325.0;
/// What every pressure that a person reads is shown with. Riitamaa et al., Int. J. Concrete Structures and Materials, 2026,
/// abstract: a one-dimensional model of this kind against tests.
pub const CAUTION: &str = "Pore pressures are estimates: published peaks from such models miss measured ones by 57 to 87 %, even \
                           after calibration. Keep margins, watch the probes.";
/// Share of the fully restrained thermal stress that is taken to act.
pub const RESTRAINT: f64 = 0.2;

/// A cell and how near it is to spalling; kept, the one with the largest danger number, for each of `L` members.
#[derive(Clone, Copy, Debug)]
pub struct Worst<const L: usize> {
    /// Danger number.
    pub number: Lanes<L>,
    /// Part of it from steam.
    pub steam: Lanes<L>,
    /// Part of it from thermal tension.
    pub thermal: Lanes<L>,
    /// Pore pressure there, Pa.
    pub pressure_pa: Lanes<L>,
    /// Tensile strength there, Pa.
    pub strength_pa: Lanes<L>,
    /// Its node.
    pub node: [usize; L],
}

impl<const L: usize> Worst<L> {
    /// Nothing can break.
    pub const NONE: Self = Self {
        number: Lanes::ZERO,
        steam: Lanes::ZERO,
        thermal: Lanes::ZERO,
        pressure_pa: Lanes::ZERO,
        strength_pa: Lanes([f64::INFINITY; L]),
        node: [0; L],
    };

    /// Takes over what is worse in `other`, lane by lane.
    pub fn absorb(&mut self, other: &Self) {
        for lane in 0..L {
            if other.number.0[lane] > self.number.0[lane] {
                self.take(lane, other, lane);
            }
        }
    }

    fn take(&mut self, lane: usize, from: &Self, source: usize) {
        self.number.0[lane] = from.number.0[source];
        self.steam.0[lane] = from.steam.0[source];
        self.thermal.0[lane] = from.thermal.0[source];
        self.pressure_pa.0[lane] = from.pressure_pa.0[source];
        self.strength_pa.0[lane] = from.strength_pa.0[source];
        self.node[lane] = from.node[source];
    }
}

/// The worst cell of a wall now.
#[must_use]
pub fn worst<const L: usize>(wall: &Wall, luck: &WallLuck<L>, state: &WallState<L>) -> Worst<L> {
    let mut worst = Worst::NONE;
    each_cell(wall, luck, state, |cell| worst.absorb(cell));
    worst
}

/// Shows `see` every cell of a layer that can break, from the hot face outwards.
#[inline(always)]
pub fn each_cell<const L: usize>(
    wall: &Wall,
    luck: &WallLuck<L>,
    state: &WallState<L>,
    mut see: impl FnMut(&Worst<L>),
) {
    for (layer, prepared) in wall.layers.iter().enumerate() {
        if prepared.matter.strength.is_none() {
            continue;
        }
        let line = Line::through(wall, state, layer);
        for (index, node) in wall.mesh.nodes.iter().enumerate() {
            if node.is_cell() && node.layer_before == layer {
                let pressure_pa = state.pressure_pa[index];
                let strength_pa = prepared.tensile_pa(state.temp_k[index]) * luck.layers[layer].strength;
                let steam = (pressure_pa - ATMOSPHERE_PA).max(Lanes::ZERO) / strength_pa;
                let tension_pa = thermal_tension_pa(wall, layer, line.at(node.depth_m), state.temp_k[index]);
                let thermal = tension_pa * RESTRAINT / strength_pa;
                let number = steam + thermal;
                see(&Worst { number, steam, thermal, pressure_pa, strength_pa, node: [index; L] });
            }
        }
    }
}

/// Tension where the strain of `free_k` is allowed and the temperature is `temp_k`, Pa; none in compression. With the
/// mean temperature of the layer as `free_k` it is that of a plate that can neither stretch nor bend.
#[inline(always)]
pub fn thermal_tension_pa<const L: usize>(wall: &Wall, layer: usize, free_k: Lanes<L>, temp_k: Lanes<L>) -> Lanes<L> {
    let Some(strength) = &wall.layers[layer].matter.strength else { return Lanes::ZERO };
    let stiffness = strength.youngs_pa * strength.expansion_per_k / (1.0 - strength.poisson);
    (free_k - temp_k).max(Lanes::ZERO) * stiffness
}

/// The straight line that fits a layer's temperature profile best, weighted by volume.
struct Line<const L: usize> {
    mean_k: Lanes<L>,
    slope_k_m: Lanes<L>,
    middle_m: f64,
}

impl<const L: usize> Line<L> {
    fn through(wall: &Wall, state: &WallState<L>, layer: usize) -> Self {
        let cells = || {
            let nodes = wall.mesh.nodes.iter().zip(&state.temp_k);
            nodes.filter(move |(node, _)| node.is_cell() && node.layer_before == layer)
        };
        let volume_m: f64 = cells().map(|(node, _)| node.volume_m).sum();
        let middle_m = cells().map(|(node, _)| node.volume_m * node.depth_m).sum::<f64>() / volume_m;
        let (mut mean_k, mut moment, mut spread) = (Lanes::ZERO, Lanes::ZERO, 0.0);
        for (node, temp_k) in cells() {
            let arm_m = node.depth_m - middle_m;
            mean_k += *temp_k * (node.volume_m / volume_m);
            moment += *temp_k * (node.volume_m * arm_m);
            spread += node.volume_m * arm_m * arm_m;
        }
        Self { mean_k, slope_k_m: moment * (1.0 / spread), middle_m }
    }

    #[inline(always)]
    fn at(&self, depth_m: f64) -> Lanes<L> {
        self.mean_k + self.slope_k_m * (depth_m - self.middle_m)
    }
}

/// Mean temperature of a layer by volume, K.
pub fn mean_temp_k<const L: usize>(wall: &Wall, state: &WallState<L>, layer: usize) -> Lanes<L> {
    let (mut sum, mut volume_m) = (Lanes::ZERO, 0.0);
    for (node, temp_k) in wall.mesh.nodes.iter().zip(&state.temp_k) {
        if node.is_cell() && node.layer_before == layer {
            sum += *temp_k * node.volume_m;
            volume_m += node.volume_m;
        }
    }
    sum * (1.0 / volume_m)
}
