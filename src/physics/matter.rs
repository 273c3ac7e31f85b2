//! What one cubic metre of a layer does: how much heat and water it stores and how easily it lets them through, with
//! the exact derivatives that Newton's method needs.
//!
//! State variables are temperature `T` (K) and pore pressure `P` (Pa, water vapour alone). The relations are those of
//! Bažant and Thonguthai (J. Eng. Mech. ASCE 104, 1978) in the saturation form that refractory authors use.

use std::sync::Arc;

use super::lanes::{Lanes, Mask};
use super::steam::{LiquidDensity, SteamTable, VAPOUR_GAS_CONSTANT_J_KGK, vapour_viscosity};
use crate::units::{Curve, ZERO_CELSIUS_K};

/// Temperature from which sensible heat is counted, K. Any value gives the same physics.
const HEAT_FROM_K: f64 = 293.15;

/// Coefficients of a layer's material, one per lane where members differ ([`Luck`]).
#[derive(Clone, Debug)]
pub struct Matter {
    /// Dry density, kg/m³.
    pub density_kg_m3: f64,
    /// Specific heat of the solid, J/(kg·K), against °C.
    pub heat_capacity_j_kgk: Curve,
    /// Conductivity when dry, W/(m·K), against °C.
    pub conductivity_w_mk: Curve,
    /// Added conductivity when the pores are full, W/(m·K).
    pub wet_conductivity_w_mk: f64,
    /// Open porosity, 0 to 1. Zero holds no water.
    pub porosity: f64,
    /// Log10 of intrinsic permeability in m² against °C; `None` lets nothing through.
    pub permeability_log10_m2: Option<Curve>,
    /// How saturation follows relative pressure.
    pub sorption: Sorption,
    /// Water bound by the binder at the start, kg/m³.
    pub bound_water_kg_m3: f64,
    /// Fraction of it that is free at equilibrium, against °C; rises from 0 to 1.
    pub dehydration: Curve,
    /// Heat to free it, J/kg.
    pub dehydration_heat_j_kg: f64,
    /// Time constant of its release, s.
    pub dehydration_time_s: f64,
    /// What the layer stands, if it can break.
    pub strength: Option<Strength>,
}

/// Saturation at relative pressure h is h^(power/m) up to h = 0.96, with m falling as temperature rises.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sorption {
    /// The exponent m.
    pub exponent: SorptionExponent,
    /// Sharpens the curve for materials that hold little water below saturation: 1 for cement paste, 10 and more for
    /// fibre and brick.
    pub power: f64,
}

/// How m depends on temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SorptionExponent {
    /// 1.04 - t / (shape + t) with t = ((`T_C` + 10) / 35)²; shape 22.34 (Bažant), 22.3 or 24 elsewhere.
    Falling {
        /// The constant 22.34.
        shape: f64,
    },
    /// The same at all temperatures.
    Constant(f64),
}

impl Default for Sorption {
    fn default() -> Self {
        Self { exponent: SorptionExponent::Falling { shape: 22.34 }, power: 1.0 }
    }
}

/// Strength and stiffness of a layer that can spall.
#[derive(Clone, Debug)]
pub struct Strength {
    /// Tensile strength where the factor is 1, Pa.
    pub tensile_pa: f64,
    /// Factor on it against °C.
    pub factor: Curve,
    /// Young's modulus, Pa.
    pub youngs_pa: f64,
    /// Thermal expansion, 1/K.
    pub expansion_per_k: f64,
    /// Poisson's ratio.
    pub poisson: f64,
}

/// Coefficients of the water itself, the same in every layer.
#[derive(Clone, Debug)]
pub struct WaterLaw {
    /// Saturation properties.
    pub steam: Arc<SteamTable>,
    /// Specific heat of liquid water, J/(kg·K).
    pub heat_capacity_j_kgk: f64,
    /// Ratio of liquid to gas intrinsic permeability.
    pub liquid_ratio: f64,
    /// Power of the gas saturation in its relative permeability.
    pub gas_power: u32,
    /// Least gas saturation counted there.
    pub gas_floor: f64,
    /// Power of the liquid saturation in its relative permeability.
    pub liquid_power: u32,
    /// Constant heat of evaporation instead of the real one, J/kg.
    pub latent_j_kg: Option<f64>,
    /// Whether heat carried by moving water counts.
    pub carries_heat: Carriage,
}

/// Whether the water's flow carries sensible heat.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Carriage {
    /// It does.
    #[default]
    Counted,
    /// It is left out, as the exact front solutions leave it out.
    LeftOut,
}

impl Default for WaterLaw {
    fn default() -> Self {
        Self {
            steam: SteamTable::shared(LiquidDensity::Iapws),
            heat_capacity_j_kgk: 4186.0,
            liquid_ratio: 0.01,
            gas_power: 2,
            gas_floor: 1e-3,
            liquid_power: 4,
            latent_j_kg: None,
            carries_heat: Carriage::Counted,
        }
    }
}

/// A curve made ready for lanes of kelvin: a start value and a sum of clamped slopes, free of branches.
#[derive(Clone, Debug)]
pub struct Ramps {
    start: f64,
    /// From (K), width (K), slope (1/K).
    pieces: Vec<[f64; 3]>,
}

impl Ramps {
    /// The curve of °C as one of kelvin.
    #[must_use]
    pub fn of(curve: &Curve) -> Self {
        let points = curve.points();
        let piece = |pair: &[(f64, f64)]| {
            let width = pair[1].0 - pair[0].0;
            [pair[0].0 + ZERO_CELSIUS_K, width, (pair[1].1 - pair[0].1) / width]
        };
        Self { start: points[0].1, pieces: points.windows(2).map(piece).collect() }
    }

    /// Value and slope at `temp_k`.
    #[inline(always)]
    pub(super) fn at<const L: usize>(&self, temp_k: Lanes<L>) -> (Lanes<L>, Lanes<L>) {
        let (mut value, mut slope) = (Lanes::all(self.start), Lanes::ZERO);
        for &[from_k, width_k, rise] in &self.pieces {
            let into = temp_k - from_k;
            value += into.clamp(0.0, width_k) * rise;
            slope += within(into, width_k).pick(Lanes::all(rise), Lanes::ZERO);
        }
        (value, slope)
    }

    /// Integral from `HEAT_FROM_K` to `temp_k`.
    #[inline(always)]
    fn integral<const L: usize>(&self, temp_k: Lanes<L>) -> Lanes<L> {
        let mut sum = (temp_k - HEAT_FROM_K) * self.start;
        for &[from_k, width_k, rise] in &self.pieces {
            let area = |into: Lanes<L>| {
                let inside = into.clamp(0.0, width_k);
                inside * inside * 0.5 + (into - width_k).max(Lanes::ZERO) * width_k
            };
            sum += (area(temp_k - from_k) - area(Lanes::all(HEAT_FROM_K - from_k))) * rise;
        }
        sum
    }
}

#[inline(always)]
fn within<const L: usize>(into: Lanes<L>, width: f64) -> Mask<L> {
    let mut out = [false; L];
    for (truth, lane) in out.iter_mut().zip(into.0) {
        *truth = (lane >= 0.0) && (lane < width);
    }
    Mask(out)
}

/// A layer's matter made ready for the solver.
#[derive(Clone, Debug)]
pub struct Prepared {
    /// Whether water can move in it.
    pub permeable: bool,
    heat_capacity: Ramps,
    conductivity: Ramps,
    /// Natural logarithm of permeability.
    permeability_ln: Ramps,
    dehydration: Ramps,
    strength_factor: Option<Ramps>,
    /// The coefficients it was made from.
    pub matter: Matter,
}

/// How each member's layer differs from the middle: factors, 1 where it does not.
#[derive(Clone, Copy, Debug)]
pub struct Luck<const L: usize> {
    /// Natural logarithm of the factor on permeability.
    pub permeability_ln: Lanes<L>,
    /// Factor on conductivity.
    pub conductivity: Lanes<L>,
    /// Factor on the sorption exponent m.
    pub sorption: Lanes<L>,
    /// Factor on strength.
    pub strength: Lanes<L>,
}

impl<const L: usize> Luck<L> {
    /// The middle of every distribution.
    pub const NONE: Self =
        Self { permeability_ln: Lanes::ZERO, conductivity: Lanes::ONE, sorption: Lanes::ONE, strength: Lanes::ONE };
}

/// A value with its derivatives by temperature and by pressure.
#[derive(Clone, Copy, Debug)]
pub struct Grad<const L: usize> {
    /// The value.
    pub v: Lanes<L>,
    /// Derivative by temperature, per kelvin.
    pub dt: Lanes<L>,
    /// Derivative by pressure, per pascal.
    pub dp: Lanes<L>,
}

impl<const L: usize> Grad<L> {
    /// Zero, everywhere.
    pub const ZERO: Self = Self { v: Lanes::ZERO, dt: Lanes::ZERO, dp: Lanes::ZERO };

    /// The value after a small change of state, to first order.
    #[inline(always)]
    pub fn after(&self, change_k: Lanes<L>, change_pa: Lanes<L>) -> Lanes<L> {
        self.v + self.dt * change_k + self.dp * change_pa
    }
}

/// What a place lets through.
#[derive(Clone, Copy, Debug)]
pub struct Transport<const L: usize> {
    /// Mobility of vapour, s: flux per pressure gradient.
    pub vapour: Grad<L>,
    /// Mobility of liquid, s.
    pub liquid: Grad<L>,
    /// Conductivity, W/(m·K).
    pub conductivity: Grad<L>,
}

/// What the mobilities of a place are made of.
#[derive(Clone, Copy, Debug)]
pub struct Ways<const L: usize> {
    /// Mobility of vapour per pressure were there no liquid in its way, s/Pa, and its slope by temperature.
    pub steam: (Lanes<L>, Lanes<L>),
    /// Share of it that the liquid leaves, `krg`.
    pub gas: Grad<L>,
    /// Mobility of liquid were the pores full, s, and its slope by temperature.
    pub full: (Lanes<L>, Lanes<L>),
    /// Share of it that there is, `krl`.
    pub liquid: Grad<L>,
}

impl<const L: usize> Ways<L> {
    /// Nothing gets through.
    pub const NONE: Self = Self {
        steam: (Lanes::ZERO, Lanes::ZERO),
        gas: Grad::ZERO,
        full: (Lanes::ZERO, Lanes::ZERO),
        liquid: Grad::ZERO,
    };

    /// Mobility of vapour, s.
    #[inline(always)]
    pub(super) fn vapour(&self, pressure_pa: Lanes<L>) -> Grad<L> {
        let (ease, slope) = self.steam;
        Grad {
            v: ease * pressure_pa * self.gas.v,
            dt: pressure_pa * (slope * self.gas.v + ease * self.gas.dt),
            dp: ease * (self.gas.v + pressure_pa * self.gas.dp),
        }
    }

    /// Mobility of liquid, s.
    #[inline(always)]
    pub(super) fn liquid(&self) -> Grad<L> {
        let (ease, slope) = self.full;
        Grad { v: ease * self.liquid.v, dt: slope * self.liquid.v + ease * self.liquid.dt, dp: ease * self.liquid.dp }
    }
}

/// What a place holds, and the bound water it is setting free.
#[derive(Clone, Copy, Debug)]
pub struct Storage<const L: usize> {
    /// Free water, kg/m³.
    pub water: Grad<L>,
    /// Sensible heat, J/m³.
    pub heat: Grad<L>,
    /// Fraction of bound water that would be free at equilibrium, and its slope by temperature.
    pub freed_at_rest: (Lanes<L>, Lanes<L>),
    /// Heat of evaporation, J/kg, and its slope by temperature.
    pub latent: (Lanes<L>, Lanes<L>),
    /// How full the pores are, what Newton's method steps in.
    pub fullness: Grad<L>,
}

/// Saturation, and what it takes along from the steam table.
struct Filling<const L: usize> {
    /// s: above 1 when the liquid is compressed.
    raw: Grad<L>,
    /// min(s, 1).
    capped: Grad<L>,
}

impl Prepared {
    /// Makes `matter` ready.
    #[must_use]
    pub fn of(matter: &Matter) -> Self {
        let permeability = matter.permeability_log10_m2.clone().unwrap_or_else(|| Curve::constant(-30.0));
        let mut permeability_ln = Ramps::of(&permeability);
        permeability_ln.start *= std::f64::consts::LN_10;
        for piece in &mut permeability_ln.pieces {
            piece[2] *= std::f64::consts::LN_10;
        }
        Self {
            permeable: matter.permeability_log10_m2.is_some() && matter.porosity > 0.0,
            heat_capacity: Ramps::of(&matter.heat_capacity_j_kgk),
            conductivity: Ramps::of(&matter.conductivity_w_mk),
            permeability_ln,
            dehydration: Ramps::of(&matter.dehydration),
            strength_factor: matter.strength.as_ref().map(|strength| Ramps::of(&strength.factor)),
            matter: matter.clone(),
        }
    }

    /// Tensile strength at `temp_k`, Pa; infinite for what does not break.
    #[inline(always)]
    pub fn tensile_pa<const L: usize>(&self, temp_k: Lanes<L>) -> Lanes<L> {
        match (&self.strength_factor, &self.matter.strength) {
            (Some(factor), Some(strength)) => factor.at(temp_k).0 * strength.tensile_pa,
            _ => Lanes::all(f64::INFINITY),
        }
    }

    /// What this matter holds and lets through at a state.
    #[inline(always)]
    #[must_use]
    pub fn at<const L: usize>(
        &self,
        law: &WaterLaw,
        luck: &Luck<L>,
        temp_k: Lanes<L>,
        pressure_pa: Lanes<L>,
    ) -> (Storage<L>, Transport<L>) {
        if !self.permeable {
            return (self.dry_storage(temp_k), self.dry_transport(luck, temp_k));
        }
        let saturation = law.steam.at(temp_k);
        let filling = self.filling(luck, temp_k, pressure_pa, &saturation);
        let vapour_density = vapour_density(temp_k, pressure_pa);
        let porosity = self.matter.porosity;
        let empty = (Lanes::ONE - filling.raw.v).max(Lanes::ZERO);
        let is_empty = Lanes::ZERO.below(empty);
        let raw_where_empty = (is_empty.pick(filling.raw.dt, Lanes::ZERO), is_empty.pick(filling.raw.dp, Lanes::ZERO));
        let water = Grad {
            v: (saturation.liquid * filling.raw.v + empty * vapour_density.v) * porosity,
            dt: (saturation.liquid * filling.raw.dt + saturation.liquid_slope * filling.raw.v
                - raw_where_empty.0 * vapour_density.v
                + empty * vapour_density.dt)
                * porosity,
            dp: (saturation.liquid * filling.raw.dp - raw_where_empty.1 * vapour_density.v + empty * vapour_density.dp)
                * porosity,
        };
        let mut storage = self.dry_storage(temp_k);
        storage.water = water;
        let held = law.held(temp_k);
        storage.heat.v += water.v * held;
        storage.heat.dt += water.dt * held + water.v * law.heat_capacity_j_kgk;
        storage.heat.dp += water.dp * held;
        storage.fullness = super::fullness::of(&filling.raw, pressure_pa, &saturation);
        storage.latent = match law.latent_j_kg {
            Some(latent_j_kg) => (Lanes::all(latent_j_kg), Lanes::ZERO),
            None => (saturation.latent, saturation.latent_slope),
        };
        let ways = self.ways(law, luck, (temp_k, pressure_pa), &filling.capped, &saturation);
        (storage, self.transport(luck, (temp_k, pressure_pa), &filling.capped, &ways))
    }

    #[inline(always)]
    fn dry_storage<const L: usize>(&self, temp_k: Lanes<L>) -> Storage<L> {
        let density = self.matter.density_kg_m3;
        let heat = Grad {
            v: self.heat_capacity.integral(temp_k) * density,
            dt: self.heat_capacity.at(temp_k).0 * density,
            dp: Lanes::ZERO,
        };
        Storage {
            water: Grad::ZERO,
            heat,
            freed_at_rest: self.dehydration.at(temp_k),
            latent: (Lanes::ZERO, Lanes::ZERO),
            fullness: Grad::ZERO,
        }
    }

    #[inline(always)]
    fn dry_transport<const L: usize>(&self, luck: &Luck<L>, temp_k: Lanes<L>) -> Transport<L> {
        let (v, dt) = self.dry_conductivity(luck, temp_k);
        let conductivity = Grad { v, dt, dp: Lanes::ZERO };
        Transport { vapour: Grad::ZERO, liquid: Grad::ZERO, conductivity }
    }

    #[inline(always)]
    fn filling<const L: usize>(
        &self,
        luck: &Luck<L>,
        temp_k: Lanes<L>,
        pressure_pa: Lanes<L>,
        saturation: &super::steam::Saturation<L>,
    ) -> Filling<L> {
        let raw = self.matter.sorption.saturation(luck.sorption, temp_k, pressure_pa, saturation);
        let full = Lanes::ONE.below(raw.v);
        let capped =
            Grad { v: raw.v.min(Lanes::ONE), dt: full.pick(Lanes::ZERO, raw.dt), dp: full.pick(Lanes::ZERO, raw.dp) };
        Filling { raw, capped }
    }

    #[inline(always)]
    fn transport<const L: usize>(
        &self,
        luck: &Luck<L>,
        (temp_k, pressure_pa): (Lanes<L>, Lanes<L>),
        filling: &Grad<L>,
        ways: &Ways<L>,
    ) -> Transport<L> {
        let mut transport = self.dry_transport(luck, temp_k);
        transport.vapour = ways.vapour(pressure_pa);
        transport.liquid = ways.liquid();
        if self.matter.wet_conductivity_w_mk > 0.0 {
            let wet = luck.conductivity * self.matter.wet_conductivity_w_mk;
            transport.conductivity.v += wet * filling.v;
            transport.conductivity.dt += wet * filling.dt;
            transport.conductivity.dp += wet * filling.dp;
        }
        transport
    }

    /// What the mobilities at a state are made of.
    pub(super) fn ways_at<const L: usize>(
        &self,
        law: &WaterLaw,
        luck: &Luck<L>,
        temp_k: Lanes<L>,
        pressure_pa: Lanes<L>,
    ) -> Ways<L> {
        if !self.permeable {
            return Ways::NONE;
        }
        let saturation = law.steam.at(temp_k);
        let filling = self.filling(luck, temp_k, pressure_pa, &saturation);
        self.ways(law, luck, (temp_k, pressure_pa), &filling.capped, &saturation)
    }

    #[inline(always)]
    fn ways<const L: usize>(
        &self,
        law: &WaterLaw,
        luck: &Luck<L>,
        (temp_k, pressure_pa): (Lanes<L>, Lanes<L>),
        filling: &Grad<L>,
        saturation: &super::steam::Saturation<L>,
    ) -> Ways<L> {
        let (log_k, log_k_slope) = self.permeability_ln.at(temp_k);
        let k = (log_k + luck.permeability_ln).exp();
        let empty = Lanes::ONE - filling.v;
        let floored = empty.below(Lanes::all(law.gas_floor));
        let gas = empty.max(Lanes::all(law.gas_floor));
        // d(gas^n) = -n gas^(n-1) dS, nothing where floored.
        let gas_less = power(gas, law.gas_power.saturating_sub(1));
        let gas_slope = floored.pick(Lanes::ZERO, gas_less * -f64::from(law.gas_power));
        let (viscosity, viscosity_slope) = vapour_viscosity(temp_k);
        let steam = k / (temp_k * viscosity * VAPOUR_GAS_CONSTANT_J_KGK);
        let dln = log_k_slope - Lanes::ONE / temp_k - Lanes::all(viscosity_slope) / viscosity;
        let liquid_slope = power(filling.v, law.liquid_power.saturating_sub(1)) * f64::from(law.liquid_power);
        let full = k * saturation.ease * law.liquid_ratio;
        let gas = Grad { v: power(gas, law.gas_power), dt: gas_slope * filling.dt, dp: gas_slope * filling.dp };
        let liquid = Grad {
            v: power(filling.v, law.liquid_power),
            dt: liquid_slope * filling.dt,
            dp: liquid_slope * filling.dp,
        };
        Ways {
            steam: (steam, steam * dln),
            gas: burst(gas, pressure_pa),
            full: (full, full * log_k_slope + k * saturation.ease_slope * law.liquid_ratio),
            liquid: burst(liquid, pressure_pa),
        }
    }

    /// Conductivity when dry, W/(m·K), and its slope by temperature.
    #[inline(always)]
    pub(super) fn dry_conductivity<const L: usize>(&self, luck: &Luck<L>, temp_k: Lanes<L>) -> (Lanes<L>, Lanes<L>) {
        let (value, slope) = self.conductivity.at(temp_k);
        (value * luck.conductivity, slope * luck.conductivity)
    }

    /// Pore pressure at which this matter holds `water_kg_m3` of free water at `temp_k`, Pa; by bisection. At least
    /// 0.001 Pa, so that a dry place has a pressure too.
    #[must_use]
    pub fn pressure_holding(&self, law: &WaterLaw, luck: &Luck<1>, temp_k: f64, water_kg_m3: f64) -> f64 {
        /// Pressure of a place that holds nothing.
        const DRY_PA: f64 = 1e-3;
        let holds = |ln_p: f64| self.at(law, luck, Lanes([temp_k]), Lanes([ln_p.exp()])).0.water.v.0[0];
        let (mut low, mut high) = (DRY_PA.ln(), (50.0 * super::steam::saturation_pressure_pa(temp_k)).ln());
        if !self.permeable || holds(low) >= water_kg_m3 {
            return DRY_PA;
        }
        for _ in 0..80 {
            let mid = 0.5 * (low + high);
            if holds(mid) < water_kg_m3 { low = mid } else { high = mid }
        }
        (0.5 * (low + high)).exp()
    }
}

impl Sorption {
    /// s and its derivatives.
    #[inline(always)]
    pub(super) fn saturation<const L: usize>(
        self,
        factor: Lanes<L>,
        temp_k: Lanes<L>,
        pressure_pa: Lanes<L>,
        steam: &super::steam::Saturation<L>,
    ) -> Grad<L> {
        /// Up to here the power law, and from the mirror point above 1 the compressed liquid.
        const LAW_TO: f64 = 0.96;
        const FULL_FROM: f64 = 1.04;
        /// Growth of s with h when full.
        const COMPRESSED: f64 = 0.12;
        let (m, m_slope) = self.exponent.at(temp_k);
        let n = Lanes::all(self.power) / (m * factor);
        let n_slope = -(n * m_slope / m);
        let h = pressure_pa / steam.pressure;
        let h_dt = -(h * steam.pressure_slope / steam.pressure);
        let h_dp = Lanes::ONE / steam.pressure;
        let in_law = h.below(Lanes::all(LAW_TO));
        let ln_h = h.min(Lanes::all(LAW_TO)).ln();
        let s_law = (ln_h * n).exp();
        let slope_law = s_law * n / h.min(Lanes::all(LAW_TO));
        // ds/dT at constant h comes from m alone.
        let (mut s, mut s_h, mut s_t) = (s_law, slope_law, s_law * ln_h * n_slope);
        if h.0.iter().any(|&h| h >= LAW_TO) {
            const WIDTH: f64 = FULL_FROM - LAW_TO;
            let x = ((h - LAW_TO) * (1.0 / WIDTH)).clamp(0.0, 1.0);
            // The bridge: cubic from (s, slope) at 0.96 to (1, 0.12) at 1.04. With h held at 0.96, s_law is its start.
            let d0 = slope_law * WIDTH;
            let d1 = Lanes::all(COMPRESSED * WIDTH);
            let rise = Lanes::ONE - s_law;
            let c2 = rise * 3.0 - d0 * 2.0 - d1;
            let c3 = d0 + d1 - rise * 2.0;
            let bridge = s_law + x * (d0 + x * (c2 + x * c3));
            let bridge_h = (d0 + x * (c2 * 2.0 + x * c3 * 3.0)) * (1.0 / WIDTH);
            // By T at constant h: start value and start slope change with m.
            let start_dt = s_t;
            let d0_dt = (s_t * n + s_law * n_slope) * (WIDTH / LAW_TO);
            let bridge_t =
                start_dt + x * (d0_dt + x * ((-(start_dt * 3.0) - d0_dt * 2.0) + x * (d0_dt + start_dt * 2.0)));
            let full = Lanes::all(FULL_FROM).below(h);
            s = in_law.pick(s, full.pick((h - FULL_FROM) * COMPRESSED + 1.0, bridge));
            s_h = in_law.pick(s_h, full.pick(Lanes::all(COMPRESSED), bridge_h));
            s_t = in_law.pick(s_t, full.pick(Lanes::ZERO, bridge_t));
        }
        Grad { v: s, dt: s_h * h_dt + s_t, dp: s_h * h_dp }
    }
}

impl SorptionExponent {
    #[inline(always)]
    fn at<const L: usize>(self, temp_k: Lanes<L>) -> (Lanes<L>, Lanes<L>) {
        match self {
            Self::Constant(m) => (Lanes::all(m), Lanes::ZERO),
            Self::Falling { shape } => {
                let from_freezing = ((temp_k - (ZERO_CELSIUS_K - 10.0)) * (1.0 / 35.0)).max(Lanes::ZERO);
                let t = from_freezing * from_freezing;
                let below = Lanes::ONE / (t + shape);
                (Lanes::all(1.04) - t * below, -(from_freezing * below * below) * (2.0 * shape / 35.0))
            }
        }
    }
}

/// No lining holds pressures near the critical one of water, 22 MPa, ten times its strength: there it has long burst.
/// Beyond 15 MPa cracks open it ever wider, so that numbers stay within what water can be.
#[inline(always)]
fn burst<const L: usize>(share: Grad<L>, pressure_pa: Lanes<L>) -> Grad<L> {
    const HOLDS_PA: f64 = 15e6;
    /// Pressure beyond it that opens the pores twice as wide.
    const OPENS_PA: f64 = 1e6;
    let beyond = ((pressure_pa - HOLDS_PA) * (1.0 / OPENS_PA)).max(Lanes::ZERO);
    let open = beyond * beyond + 1.0;
    Grad { v: share.v * open, dt: share.dt * open, dp: share.dp * open + share.v * beyond * (2.0 / OPENS_PA) }
}

#[inline(always)]
fn vapour_density<const L: usize>(temp_k: Lanes<L>, pressure_pa: Lanes<L>) -> Grad<L> {
    let per_pressure = Lanes::ONE / (temp_k * VAPOUR_GAS_CONSTANT_J_KGK);
    let density = pressure_pa * per_pressure;
    Grad { v: density, dt: -(density / temp_k), dp: per_pressure }
}

#[inline(always)]
fn power<const L: usize>(base: Lanes<L>, times: u32) -> Lanes<L> {
    let mut out = Lanes::ONE;
    for _ in 0..times {
        out = out * base;
    }
    out
}

impl WaterLaw {
    /// Heat that a kilogram of water at `temp_k` holds, J/kg.
    #[inline(always)]
    pub(super) fn held<const L: usize>(&self, temp_k: Lanes<L>) -> Lanes<L> {
        (temp_k - HEAT_FROM_K) * self.heat_capacity_j_kgk
    }
}

impl<const L: usize> Luck<L> {
    /// One member's own luck.
    #[must_use]
    pub fn lane(&self, lane: usize) -> Luck<1> {
        Luck {
            permeability_ln: Lanes([self.permeability_ln.0[lane]]),
            conductivity: Lanes([self.conductivity.0[lane]]),
            sorption: Lanes([self.sorption.0[lane]]),
            strength: Lanes([self.strength.0[lane]]),
        }
    }
}
