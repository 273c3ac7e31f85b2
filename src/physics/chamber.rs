//! The space inside the furnace: what the burner puts in, what the openings take out, what each wall's face gets.
//!
//! The gas is taken as well stirred and without heat capacity: at every moment fuel power times available heat at the
//! gas temperature equals what the faces take plus what the openings lose. When a plan's mean over pulses is asked for,
//! two gases share the time: the one with the burner on and the one with it off, or turned down.
//!
//! A burner that is turned down burns a share of its fuel with the same share of air, and stirs the gas less.

use std::sync::LazyLock;

use super::balance::STEFAN_BOLTZMANN_W_M2K4;
use super::lanes::Lanes;
use super::ramps::Ramps;
use crate::units::Curve;

/// Lower heating value of propane, J/kg (equilibrium calculation with the package cantera 3.2, mechanism gri30).
pub const PROPANE_HEATING_VALUE_J_KG: f64 = 46.35e6;

/// A chamber and its burner, for `L` members.
#[derive(Clone, Debug)]
pub struct Chamber<const L: usize> {
    /// Open area, m².
    pub opening_m2: f64,
    /// Air outside, K.
    pub ambient_k: f64,
    /// Heat of combustion per time when on (lower heating value), W.
    pub power_w: Lanes<L>,
    /// Share of it that stays in the furnace, against gas temperature.
    pub available: Ramps,
    /// Convection at the faces with the burner on and off, W/(m²·K).
    pub convection_w_m2k: [Lanes<L>; 2],
    /// Emissivity between gas and faces.
    pub emissivity: f64,
    /// Share of the full fire that the burner burns at when on, and when turned down between: 1 and 0 for one that is only
    /// opened and shut.
    pub fires: [f64; 2],
    /// Gas temperature with the burner on and off, as last found, K.
    pub gas_k: [Lanes<L>; 2],
    /// Fuel energy burnt since the start, J.
    pub burnt_j: Lanes<L>,
}

/// One of the gases that share a stretch of time.
#[derive(Clone, Copy, Debug)]
pub(super) struct Gas<const L: usize> {
    /// Share of the time.
    pub weight: f64,
    /// Index into the chamber's pairs: 0 burner on, 1 off or turned down.
    pub mode: usize,
    /// Share of the full fire; 0 shut.
    pub fire: f64,
    /// Temperature, K.
    pub temp_k: Lanes<L>,
}

/// Heat from one gas to one face and its slopes by face and by gas temperature.
#[derive(Clone, Copy, Debug)]
pub(super) struct FaceGain<const L: usize> {
    /// W/m².
    pub value: Lanes<L>,
    /// W/(m²·K), negative.
    pub by_face: Lanes<L>,
    /// W/(m²·K), positive.
    pub by_gas: Lanes<L>,
}

/// The gas with the burner shut.
#[derive(Clone, Copy, Debug)]
pub(super) struct ShutGas<const L: usize> {
    /// In balance with the faces.
    pub gas: Gas<L>,
    /// What faces and openings take more from it per kelvin that it is hotter, W/K.
    stiffness: Lanes<L>,
}

/// Index of the burner-on entries.
const ON: usize = 0;
/// Index of the burner-off entries.
const OFF: usize = 1;

/// Gas temperatures are kept between these, K.
const GAS_RANGE_K: (f64, f64) = (200.0, 2600.0);

impl<const L: usize> Chamber<L> {
    /// The gases that share the time with the burner on for `on` of it.
    pub(super) fn gases(&self, on: f64) -> Vec<Gas<L>> {
        [(ON, on), (OFF, 1.0 - on)]
            .into_iter()
            .filter(|&(_, weight)| weight > 1e-9)
            .map(|(mode, weight)| Gas { weight, mode, fire: self.fires[mode], temp_k: self.gas_k[mode] })
            .collect()
    }

    /// Convection at the faces with the burner at `fire` of its full fire: forced convection grows with the 0.8th power of the
    /// flow (Dittus and Boelter's correlation of turbulent flow; from memory).
    fn convection(&self, fire: f64) -> Lanes<L> {
        let [on, off] = self.convection_w_m2k;
        if fire >= 1.0 {
            on
        } else if fire <= 0.0 {
            off
        } else {
            off + (on - off) * fire.powf(0.8)
        }
    }

    /// Heat from `gas` to a face at `face_k`.
    pub(super) fn gain(&self, gas: &Gas<L>, face_k: Lanes<L>) -> FaceGain<L> {
        let convection = self.convection(gas.fire);
        let radiation = self.emissivity * STEFAN_BOLTZMANN_W_M2K4;
        FaceGain {
            value: convection * (gas.temp_k - face_k) + (fourth(gas.temp_k) - fourth(face_k)) * radiation,
            by_face: -(convection + cube(face_k) * (4.0 * radiation)),
            by_gas: convection + cube(gas.temp_k) * (4.0 * radiation),
        }
    }

    /// Radiation out of the openings, W, and its slope by gas temperature.
    pub(super) fn shine(&self, gas_k: Lanes<L>) -> (Lanes<L>, Lanes<L>) {
        let radiation = self.opening_m2 * STEFAN_BOLTZMANN_W_M2K4;
        ((fourth(gas_k) - self.ambient_k.powi(4)) * radiation, cube(gas_k) * (4.0 * radiation))
    }

    /// What `gas` has to give to the faces, W, and its slope by gas temperature.
    pub(super) fn supply(&self, gas: &Gas<L>) -> (Lanes<L>, Lanes<L>) {
        let t = gas.temp_k;
        let (shine, shine_slope) = self.shine(t);
        if gas.fire > 0.0 {
            let (share, slope) = self.available.lanes_at(t);
            let power_w = self.power_w * gas.fire;
            (power_w * share - shine, power_w * slope - shine_slope)
        } else {
            let (draught, draught_slope) = self.draught(t);
            (-draught - shine, -draught_slope - shine_slope)
        }
    }

    /// Heat that air drawn through the opening takes out with the burner off, W: buoyant flow through half the opening,
    /// height taken as the square root of the area, discharge coefficient 0.6 (common practice for sharp openings).
    fn draught(&self, temp_k: Lanes<L>) -> (Lanes<L>, Lanes<L>) {
        /// Density of air times absolute temperature at 1 atm, kg·K/m³.
        const AIR_DENSITY_TEMP: f64 = 353.0;
        /// Specific heat of air, J/(kg·K).
        const AIR_HEAT: f64 = 1100.0;
        let height_m = self.opening_m2.sqrt();
        let factor = 0.6 * 0.5 * self.opening_m2 * AIR_DENSITY_TEMP * AIR_HEAT * (2.0 * 9.81 * height_m).sqrt();
        let excess = (temp_k - self.ambient_k).max(Lanes::all(1e-3));
        let value = (excess * excess.map(f64::sqrt)) / (temp_k * temp_k.map(f64::sqrt)) * factor;
        (value, value * 1.5 * (Lanes::ONE / excess - Lanes::ONE / temp_k))
    }

    /// Brings `gas` into balance with faces of given area (m²) and temperature (K), which stay as they are.
    pub(super) fn settle(&self, gas: &mut Gas<L>, faces: &[(f64, Lanes<L>)]) {
        for _ in 0..20 {
            let (mut left, mut slope) = self.supply(gas);
            for &(area_m2, face_k) in faces {
                let gain = self.gain(gas, face_k);
                left -= gain.value * area_m2;
                slope -= gain.by_gas * area_m2;
            }
            let change = -(left / slope);
            gas.temp_k = within_range(gas.temp_k + self.held_back(gas, change.clamp(-300.0, 300.0)));
            if change.abs().largest() < 0.1 {
                break;
            }
        }
    }

    /// The gas with the burner shut, in balance with faces of given area (m²) and temperature (K).
    pub(super) fn shut(&self, faces: &[(f64, Lanes<L>)]) -> ShutGas<L> {
        let mut gas = Gas { weight: 1.0, mode: OFF, fire: 0.0, temp_k: self.gas_k[OFF] };
        self.settle(&mut gas, faces);
        let stiffness = faces
            .iter()
            .fold(-self.supply(&gas).1, |sum, &(area_m2, face_k)| sum + self.gain(&gas, face_k).by_gas * area_m2);
        ShutGas { gas, stiffness }
    }

    /// Heat from a gas with the burner shut to one face of given area (m²) and temperature (K), and its slope by face temperature
    /// with the gas following that face alone.
    pub(super) fn gain_of_shut(&self, shut: &ShutGas<L>, (area_m2, face_k): (f64, Lanes<L>)) -> (Lanes<L>, Lanes<L>) {
        let FaceGain { value, by_face, by_gas } = self.gain(&shut.gas, face_k);
        let gas_by_face = -(by_face * area_m2 / shut.stiffness);
        (value, by_face + by_gas * gas_by_face)
    }

    /// A step of Newton's method for `gas`, K, held back where it would overshoot: with the burner off the draught is steep
    /// near the temperature of the air outside and flat far above it and below, so that full steps could swing between the
    /// two for ever.
    pub(super) fn held_back(&self, gas: &Gas<L>, change_k: Lanes<L>) -> Lanes<L> {
        /// Share of the way to the air outside that is gone at once.
        const AT_ONCE: f64 = 0.9;
        if gas.fire > 0.0 {
            return change_k;
        }
        let excess_k = gas.temp_k - self.ambient_k;
        excess_k.below(Lanes::ONE).pick(change_k, change_k.max(-(excess_k * AT_ONCE)))
    }

    /// Remembers where `gas` ended.
    pub(super) fn keep(&mut self, gas: &Gas<L>) {
        self.gas_k[gas.mode] = gas.temp_k;
    }

    /// Mean temperature of the gas with the burner on for `on` of the time, K.
    pub fn mean_gas_k(&self, on: f64) -> Lanes<L> {
        self.gas_k[ON] * on + self.gas_k[OFF] * (1.0 - on)
    }
}

/// `temp_k` kept where a gas can be.
pub(super) fn within_range<const L: usize>(temp_k: Lanes<L>) -> Lanes<L> {
    temp_k.clamp(GAS_RANGE_K.0, GAS_RANGE_K.1)
}

fn cube<const L: usize>(t: Lanes<L>) -> Lanes<L> {
    t * t * t
}

fn fourth<const L: usize>(t: Lanes<L>) -> Lanes<L> {
    (t * t) * (t * t)
}

/// Share of propane's lower heating value left in the furnace against flue temperature (°C), for a fuel-air equivalence
/// ratio between 0.8 and 1.1; the nearest end outside. From `schedules/propane_available_heat.csv`.
///
/// # Panics
/// Never with the table that is built in; a table edited so that temperatures fall would.
#[must_use]
pub fn available_heat(equivalence_ratio: f64) -> Curve {
    static TABLES: LazyLock<Vec<(f64, Curve)>> = LazyLock::new(read_available_heat);
    let tables = &*TABLES;
    let last = tables.len() - 1;
    let ratio = equivalence_ratio.clamp(tables[0].0, tables[last].0);
    let after = tables.partition_point(|(at, _)| *at <= ratio).clamp(1, last);
    let (lean, rich) = (&tables[after - 1], &tables[after]);
    let share = (ratio - lean.0) / (rich.0 - lean.0);
    let points = lean.1.points().iter().map(|&(t, y)| (t, y + (rich.1.at(t) - y) * share)).collect();
    Curve::new(points).expect("a mixture of two checked curves with the same abscissae is a curve")
}

fn read_available_heat() -> Vec<(f64, Curve)> {
    let text = include_str!("../../schedules/propane_available_heat.csv");
    // All of the heat is available at the 25 °C from which the heating value counts.
    let mut tables: Vec<(f64, Vec<(f64, f64)>)> = Vec::new();
    for line in text.lines().filter(|line| line.starts_with(|c: char| c.is_ascii_digit())) {
        let numbers: Vec<f64> = line.split(',').filter_map(|cell| cell.trim().parse().ok()).collect();
        let [ratio, temp_c, share] = numbers[..] else { continue };
        match tables.last_mut() {
            Some((last, points)) if (*last - ratio).abs() < 1e-9 => points.push((temp_c, share)),
            _ => tables.push((ratio, vec![(25.0, 1.0), (temp_c, share)])),
        }
    }
    let curve = |points| Curve::new(points).expect("the shipped table rises in temperature");
    tables.into_iter().map(|(ratio, points)| (ratio, curve(points))).collect()
}

/// Propane through one round jet, kg/s: isentropic flow with a discharge coefficient of 0.85 (memory; at 10 psi it gives
/// the jet table of the trade within 3 %), choked above 10.7 psi.
#[must_use]
pub fn propane_jet_kg_s(diameter_m: f64, gauge_pa: f64) -> f64 {
    /// Ratio of specific heats of propane near 20 °C.
    const KAPPA: f64 = 1.13;
    /// Molar mass, kg/mol.
    const MOLAR: f64 = 0.044_097;
    const GAS_CONSTANT: f64 = 8.314_462;
    const TEMP_K: f64 = 293.15;
    const ATMOSPHERE_PA: f64 = 101_325.0;
    const DISCHARGE: f64 = 0.85;
    let upstream_pa = ATMOSPHERE_PA + gauge_pa.max(0.0);
    let critical = (2.0 / (KAPPA + 1.0)).powf(KAPPA / (KAPPA - 1.0));
    let ratio = (ATMOSPHERE_PA / upstream_pa).max(critical);
    let flow = (2.0 * KAPPA / (KAPPA - 1.0) * (ratio.powf(2.0 / KAPPA) - ratio.powf((KAPPA + 1.0) / KAPPA))).sqrt();
    let area_m2 = std::f64::consts::PI / 4.0 * diameter_m * diameter_m;
    DISCHARGE * area_m2 * upstream_pa * (MOLAR / (GAS_CONSTANT * TEMP_K)).sqrt() * flow
}
