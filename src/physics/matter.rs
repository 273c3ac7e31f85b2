//! What one cubic metre of a layer does: how much heat and water it stores and how easily it lets them through, with
//! the exact derivatives that Newton's method needs.
//!
//! State variables are temperature `T` (K) and pore pressure `P` (Pa, water vapour alone). The relations are those of
//! Bažant and Thonguthai (J. Eng. Mech. ASCE 104, 1978) in the saturation form that refractory authors use.

use std::sync::Arc;

use super::lanes::Lanes;
use super::ramps::{INTEGRAL_FROM_K, Ramps};
use super::real::{Members, One, Real, exp, ln, power};
use super::steam::{LiquidDensity, Saturation, SteamTable, VAPOUR_GAS_CONSTANT_J_KGK, vapour_viscosity};
use crate::units::{Curve, ZERO_CELSIUS_K};

/// Coefficients of a layer's material; members differ from it by their [`Luck`].
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
    /// Its numbers.
    pub(super) figures: Figures,
    /// The coefficients it was made from.
    pub matter: Matter,
}

/// Numbers of a layer's matter that do not depend on its state, together so that loops can keep a copy.
#[derive(Clone, Copy, Debug)]
pub(super) struct Figures {
    density_kg_m3: f64,
    porosity: f64,
    wet_conductivity_w_mk: f64,
    /// How saturation follows relative pressure.
    pub sorption: SorptionLaw,
    /// [`Matter::bound_water_kg_m3`].
    pub bound_water_kg_m3: f64,
    /// [`Matter::dehydration_heat_j_kg`].
    pub dehydration_heat_j_kg: f64,
    /// [`Matter::dehydration_time_s`].
    pub dehydration_time_s: f64,
}

/// Numbers of the water, likewise.
#[derive(Clone, Copy, Debug)]
pub(super) struct WaterFigures {
    /// [`WaterLaw::heat_capacity_j_kgk`].
    pub heat_capacity_j_kgk: f64,
    /// [`WaterLaw::carries_heat`].
    pub carries_heat: Carriage,
    liquid_ratio: f64,
    gas_power: u32,
    gas_floor: f64,
    liquid_power: u32,
    latent_j_kg: Option<f64>,
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

    /// One member's own luck.
    #[must_use]
    pub fn lane(&self, lane: usize) -> OwnLuck {
        self.of(One(lane))
    }

    /// Some members' own.
    #[inline(always)]
    pub(super) fn of<M: Members>(&self, members: M) -> OwnLuck<M::Real> {
        OwnLuck {
            permeability_ln: members.of(&self.permeability_ln),
            conductivity: members.of(&self.conductivity),
            sorption: members.of(&self.sorption),
        }
    }
}

/// What of one member's luck heat and water feel.
#[derive(Clone, Copy, Debug)]
pub struct OwnLuck<R = f64> {
    /// Natural logarithm of the factor on permeability.
    pub permeability_ln: R,
    /// Factor on conductivity.
    pub conductivity: R,
    /// Factor on the sorption exponent m.
    pub sorption: R,
}

impl OwnLuck {
    /// The middle of every distribution.
    pub const NONE: Self = Self { permeability_ln: 0.0, conductivity: 1.0, sorption: 1.0 };
}

/// A value with its derivatives by temperature and by pressure.
#[derive(Clone, Copy, Debug)]
pub struct Grad<R = f64> {
    /// The value.
    pub v: R,
    /// Derivative by temperature, per kelvin.
    pub dt: R,
    /// Derivative by pressure, per pascal.
    pub dp: R,
}

impl<R: Real> Grad<R> {
    /// Zero, everywhere.
    #[inline(always)]
    pub(super) fn none(like: R) -> Self {
        let zero = like.like(0.0);
        Self { v: zero, dt: zero, dp: zero }
    }

    /// The value after a small change of state, to first order.
    #[inline(always)]
    pub(super) fn after(&self, change_k: R, change_pa: R) -> R {
        self.v + self.dt * change_k + self.dp * change_pa
    }

    /// `factor` times as much.
    #[inline(always)]
    pub(super) fn times(&self, factor: f64) -> Self {
        Self { v: self.v * factor, dt: self.dt * factor, dp: self.dp * factor }
    }

    /// Both together.
    #[inline(always)]
    pub(super) fn plus(&self, other: &Self) -> Self {
        Self { v: self.v + other.v, dt: self.dt + other.dt, dp: self.dp + other.dp }
    }
}

/// What a layer's curves say at one temperature, each with its slope per kelvin.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reading<R> {
    /// Heat of the solid, J/kg, and its specific heat, J/(kg·K).
    heat: (R, R),
    /// Conductivity when dry, W/(m·K).
    conductivity: (R, R),
    /// Fraction of bound water that is free at equilibrium.
    freed: (R, R),
}

/// What they say of water, where some moves.
#[derive(Clone, Copy, Debug)]
struct WaterReading<R> {
    /// Natural logarithm of permeability.
    permeability_ln: (R, R),
    /// Water at saturation.
    steam: Saturation<R>,
}

/// What a place lets through.
#[derive(Clone, Copy, Debug)]
pub struct Transport<R = f64> {
    /// Mobility of vapour, s: flux per pressure gradient.
    pub vapour: Grad<R>,
    /// Mobility of liquid, s.
    pub liquid: Grad<R>,
    /// Conductivity, W/(m·K).
    pub conductivity: Grad<R>,
}

/// What the mobilities of a place are made of.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ways<R> {
    /// Mobility of vapour per pressure were there no liquid in its way, s/Pa, and its slope by temperature.
    pub steam: (R, R),
    /// Share of it that the liquid leaves, `krg`.
    pub gas: Grad<R>,
    /// Mobility of liquid were the pores full, s, and its slope by temperature.
    pub full: (R, R),
    /// Share of it that there is, `krl`.
    pub liquid: Grad<R>,
}

impl<R: Real> Ways<R> {
    /// Nothing gets through.
    #[inline(always)]
    fn none(like: R) -> Self {
        let zero = like.like(0.0);
        Self { steam: (zero, zero), gas: Grad::none(zero), full: (zero, zero), liquid: Grad::none(zero) }
    }

    /// Mobility of vapour, s.
    #[inline(always)]
    pub(super) fn vapour(&self, pressure_pa: R) -> Grad<R> {
        let (ease, slope) = self.steam;
        Grad {
            v: ease * pressure_pa * self.gas.v,
            dt: pressure_pa * (slope * self.gas.v + ease * self.gas.dt),
            dp: ease * (self.gas.v + pressure_pa * self.gas.dp),
        }
    }

    /// Mobility of liquid, s.
    #[inline(always)]
    pub(super) fn liquid(&self) -> Grad<R> {
        let (ease, slope) = self.full;
        Grad { v: ease * self.liquid.v, dt: slope * self.liquid.v + ease * self.liquid.dt, dp: ease * self.liquid.dp }
    }
}

/// What a place holds, and the bound water it is setting free.
#[derive(Clone, Copy, Debug)]
pub struct Storage<R = f64> {
    /// Free water, kg/m³.
    pub water: Grad<R>,
    /// Sensible heat, J/m³.
    pub heat: Grad<R>,
    /// Fraction of bound water that would be free at equilibrium, and its slope by temperature.
    pub freed_at_rest: (R, R),
    /// Heat of evaporation, J/kg, and its slope by temperature.
    pub latent: (R, R),
    /// How full the pores are, what Newton's method steps in.
    pub fullness: Grad<R>,
}

/// What a place holds, what it lets through, and what its mobilities are made of.
#[derive(Clone, Copy, Debug)]
pub(super) struct Place<R> {
    /// What it holds.
    pub storage: Storage<R>,
    /// What it lets through.
    pub transport: Transport<R>,
    /// What its mobilities are made of.
    pub ways: Ways<R>,
}

/// Where something is: what both its own and its surroundings' numbers depend on.
#[derive(Clone, Copy, Debug)]
pub struct State<R = f64> {
    /// Temperature, K.
    pub temp_k: R,
    /// Pore pressure, Pa.
    pub pressure_pa: R,
}

/// Saturation of the pores.
struct Filling<R> {
    /// s: above 1 when the liquid is compressed.
    raw: Grad<R>,
    /// min(s, 1).
    capped: Grad<R>,
}

impl Prepared {
    /// Makes `matter` ready.
    #[must_use]
    pub fn of(matter: &Matter) -> Self {
        let permeability = matter.permeability_log10_m2.clone().unwrap_or_else(|| Curve::constant(-30.0));
        Self {
            permeable: matter.permeability_log10_m2.is_some() && matter.porosity > 0.0,
            heat_capacity: Ramps::of(&matter.heat_capacity_j_kgk),
            conductivity: Ramps::of(&matter.conductivity_w_mk),
            permeability_ln: Ramps::scaled(&permeability, std::f64::consts::LN_10),
            dehydration: Ramps::of(&matter.dehydration),
            strength_factor: matter.strength.as_ref().map(|strength| Ramps::of(&strength.factor)),
            figures: Figures {
                density_kg_m3: matter.density_kg_m3,
                porosity: matter.porosity,
                wet_conductivity_w_mk: matter.wet_conductivity_w_mk,
                sorption: SorptionLaw::of(matter.sorption),
                bound_water_kg_m3: matter.bound_water_kg_m3,
                dehydration_heat_j_kg: matter.dehydration_heat_j_kg,
                dehydration_time_s: matter.dehydration_time_s,
            },
            matter: matter.clone(),
        }
    }

    /// Tensile strength at `temp_k`, Pa; infinite for what does not break.
    pub fn tensile_pa<const L: usize>(&self, temp_k: Lanes<L>) -> Lanes<L> {
        match (&self.strength_factor, &self.matter.strength) {
            (Some(factor), Some(strength)) => factor.lanes_at(temp_k).0 * strength.tensile_pa,
            _ => Lanes::all(f64::INFINITY),
        }
    }

    /// What this matter holds and lets through at a state.
    #[must_use]
    pub fn at(&self, law: &WaterLaw, luck: &OwnLuck, state: State) -> (Storage, Transport) {
        let place = self.place(&law.steam, &law.figures(), luck, state);
        (place.storage, place.transport)
    }

    /// What this matter holds and lets through at the members' states.
    #[inline(always)]
    pub(super) fn place<R: Real>(
        &self,
        steam: &SteamTable,
        law: &WaterFigures,
        luck: &OwnLuck<R>,
        state: State<R>,
    ) -> Place<R> {
        let temp_k = state.temp_k;
        let reading = Reading {
            heat: (self.heat_capacity.integral(temp_k), self.heat_capacity.at(temp_k).0),
            conductivity: self.conductivity.at(temp_k),
            freed: if self.figures.bound_water_kg_m3 > 0.0 {
                self.dehydration.at(temp_k)
            } else {
                (temp_k.like(0.0), temp_k.like(0.0))
            },
        };
        if !self.permeable {
            let (storage, transport) = self.figures.dry(luck, &reading);
            return Place { storage, transport, ways: Ways::none(temp_k) };
        }
        let water = WaterReading { permeability_ln: self.permeability_ln.at(temp_k), steam: steam.read(temp_k) };
        self.figures.wet(law, luck, state, (&reading, &water))
    }

    /// Conductivity when dry, W/(m·K), and its slope by temperature.
    #[inline(always)]
    pub(super) fn dry_conductivity<R: Real>(&self, luck: &OwnLuck<R>, temp_k: R) -> (R, R) {
        let (value, slope) = self.conductivity.at(temp_k);
        (value * luck.conductivity, slope * luck.conductivity)
    }

    /// Pore pressure at which this matter holds `water_kg_m3` of free water at `temp_k`, Pa; by bisection. At least
    /// 0.001 Pa, so that a dry place has a pressure too.
    #[must_use]
    pub fn pressure_holding(&self, law: &WaterLaw, luck: &OwnLuck, temp_k: f64, water_kg_m3: f64) -> f64 {
        /// Pressure of a place that holds nothing.
        const DRY_PA: f64 = 1e-3;
        let holds = |ln_p: f64| self.at(law, luck, State { temp_k, pressure_pa: ln_p.exp() }).0.water.v;
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

impl Figures {
    /// What matter through which water can move holds and lets through, its curves having been read.
    #[inline(always)]
    fn wet<R: Real>(
        &self,
        law: &WaterFigures,
        luck: &OwnLuck<R>,
        state: State<R>,
        (reading, water): (&Reading<R>, &WaterReading<R>),
    ) -> Place<R> {
        let State { temp_k, pressure_pa } = state;
        let saturation = &water.steam;
        let filling = self.filling(luck, state, saturation);
        let vapour_density = vapour_density(state);
        let porosity = self.porosity;
        let empty = filling.raw.v.rest().at_least(temp_k.like(0.0));
        let is_empty = empty.above(temp_k.like(0.0));
        let raw_where_empty = (filling.raw.dt.only(is_empty), filling.raw.dp.only(is_empty));
        let free = Grad {
            v: (saturation.liquid * filling.raw.v + empty * vapour_density.v) * porosity,
            dt: (saturation.liquid * filling.raw.dt + saturation.liquid_slope * filling.raw.v
                - raw_where_empty.0 * vapour_density.v
                + empty * vapour_density.dt)
                * porosity,
            dp: (saturation.liquid * filling.raw.dp - raw_where_empty.1 * vapour_density.v + empty * vapour_density.dp)
                * porosity,
        };
        let (mut storage, mut transport) = self.dry(luck, reading);
        storage.water = free;
        let held = law.held(temp_k);
        storage.heat = Grad {
            v: storage.heat.v + free.v * held,
            dt: storage.heat.dt + (free.dt * held + free.v * law.heat_capacity_j_kgk),
            dp: storage.heat.dp + free.dp * held,
        };
        storage.fullness = super::fullness::of(&filling.raw, pressure_pa, saturation);
        storage.latent = law.latent(saturation);
        let ways = ways(law, luck, state, (&filling.capped, water));
        transport.vapour = ways.vapour(pressure_pa);
        transport.liquid = ways.liquid();
        let (dry, wet) = (transport.conductivity, luck.conductivity * self.wet_conductivity_w_mk);
        transport.conductivity = Grad {
            v: dry.v + wet * filling.capped.v,
            dt: dry.dt + wet * filling.capped.dt,
            dp: dry.dp + wet * filling.capped.dp,
        };
        Place { storage, transport, ways }
    }

    /// What matter through which no water moves holds and lets through, its curves having been read.
    #[inline(always)]
    fn dry<R: Real>(&self, luck: &OwnLuck<R>, reading: &Reading<R>) -> (Storage<R>, Transport<R>) {
        let (density, zero) = (self.density_kg_m3, luck.conductivity.like(0.0));
        let none = Grad::none(zero);
        let storage = Storage {
            water: none,
            heat: Grad { v: reading.heat.0 * density, dt: reading.heat.1 * density, dp: zero },
            freed_at_rest: reading.freed,
            latent: (zero, zero),
            fullness: none,
        };
        let (v, dt) = (reading.conductivity.0 * luck.conductivity, reading.conductivity.1 * luck.conductivity);
        (storage, Transport { vapour: none, liquid: none, conductivity: Grad { v, dt, dp: zero } })
    }

    #[inline(always)]
    fn filling<R: Real>(&self, luck: &OwnLuck<R>, state: State<R>, saturation: &Saturation<R>) -> Filling<R> {
        let raw = self.sorption.saturation(luck.sorption, state.temp_k, state.pressure_pa, saturation);
        let (zero, one) = (raw.v.like(0.0), raw.v.like(1.0));
        let full = raw.v.above(one);
        let capped = Grad { v: raw.v.at_most(one), dt: R::pick(full, zero, raw.dt), dp: R::pick(full, zero, raw.dp) };
        Filling { raw, capped }
    }
}

/// Mobilities from the permeability, how full the pores are, and the water at saturation.
#[inline(always)]
fn ways<R: Real>(
    law: &WaterFigures,
    luck: &OwnLuck<R>,
    State { temp_k, pressure_pa }: State<R>,
    (filling, reading): (&Grad<R>, &WaterReading<R>),
) -> Ways<R> {
    let ((log_k, log_k_slope), saturation) = (reading.permeability_ln, &reading.steam);
    let k = exp(log_k + luck.permeability_ln);
    let empty = filling.v.rest();
    let floor = empty.like(law.gas_floor);
    let (gas_share, gas_steep) = power(empty.at_least(floor), law.gas_power);
    // Falls as the pores fill, and not at all where floored.
    let gas_slope = R::pick(empty.below(floor), empty.like(0.0), -gas_steep);
    let (viscosity, viscosity_slope) = vapour_viscosity(temp_k);
    // 1 / (T mu), so that one division serves 1/T and 1/mu too.
    let over = (temp_k * viscosity).over();
    let steam = k * over * (1.0 / VAPOUR_GAS_CONSTANT_J_KGK);
    let dln = log_k_slope - over * viscosity - over * temp_k * viscosity_slope;
    let (liquid_share, liquid_slope) = power(filling.v, law.liquid_power);
    let full = k * saturation.ease * law.liquid_ratio;
    let gas = Grad { v: gas_share, dt: gas_slope * filling.dt, dp: gas_slope * filling.dp };
    let liquid = Grad { v: liquid_share, dt: liquid_slope * filling.dt, dp: liquid_slope * filling.dp };
    Ways {
        steam: (steam, steam * dln),
        gas: burst(gas, pressure_pa),
        full: (full, full * log_k_slope + k * saturation.ease_slope * law.liquid_ratio),
        liquid: burst(liquid, pressure_pa),
    }
}

/// [`Sorption`] made ready: m = top - weight t / (shape + t).
#[derive(Clone, Copy, Debug)]
pub struct SorptionLaw {
    top: f64,
    weight: f64,
    shape: f64,
    power: f64,
}

impl SorptionLaw {
    fn of(sorption: Sorption) -> Self {
        let (top, weight, shape) = match sorption.exponent {
            SorptionExponent::Falling { shape } => (1.04, 1.0, shape),
            SorptionExponent::Constant(m) => (m, 0.0, 1.0),
        };
        Self { top, weight, shape, power: sorption.power }
    }

    /// m and its slope by temperature.
    #[inline(always)]
    fn exponent<R: Real>(&self, temp_k: R) -> (R, R) {
        let from_freezing = ((temp_k - (ZERO_CELSIUS_K - 10.0)) * (1.0 / 35.0)).at_least(temp_k.like(0.0));
        let t = from_freezing * from_freezing;
        let over = (t + self.shape).over();
        let below = over * self.weight;
        let slope = from_freezing * below * over;
        (temp_k.like(self.top) - t * below, -slope * (2.0 * self.shape / 35.0))
    }

    /// s and its derivatives; the exponent has this `factor`.
    #[inline(always)]
    pub(super) fn saturation<R: Real>(&self, factor: R, temp_k: R, pressure_pa: R, steam: &Saturation<R>) -> Grad<R> {
        /// Up to here the power law, and from the mirror point above 1 the compressed liquid.
        const LAW_TO: f64 = 0.96;
        const LN_LAW_TO: f64 = -0.040_821_994_520_255_166;
        const FULL_FROM: f64 = 1.04;
        /// Growth of s with h when full.
        const COMPRESSED: f64 = 0.12;
        const WIDTH: f64 = FULL_FROM - LAW_TO;
        let (m, m_slope) = self.exponent(temp_k);
        let over = (m * factor).over();
        let n = over * self.power;
        let n_slope = -(n * m_slope * (over * factor));
        let h_dp = steam.pressure.over();
        let h = pressure_pa * h_dp;
        let h_dt = -(h * steam.pressure_slope * h_dp);
        let low = h.at_most(h.like(LAW_TO));
        let (in_law, ln_full) = (h.below(h.like(LAW_TO)), h.like(LN_LAW_TO));
        let ln_h = if R::any(in_law) { R::pick(in_law, ln(low), ln_full) } else { ln_full };
        let s_law = exp(ln_h * n);
        let slope_law = s_law * n / low;
        // ds/dT at constant h comes from m alone.
        let t_law = s_law * ln_h * n_slope;
        let law = Grad { v: s_law, dt: slope_law * h_dt + t_law, dp: slope_law * h_dp };
        let beyond = h.above(h.like(LAW_TO));
        if !R::any(beyond) {
            return law;
        }
        // The bridge: cubic from (s, slope) at 0.96 to (1, 0.12) at 1.04. With h held at 0.96, s_law is its start.
        let x = ((h - LAW_TO) * (1.0 / WIDTH)).within(0.0, 1.0);
        let (d0, d1) = (slope_law * WIDTH, COMPRESSED * WIDTH);
        let rise = s_law.rest();
        let c2 = rise * 3.0 - d0 * 2.0 - d1;
        let c3 = d0 + d1 - rise * 2.0;
        let bridge = s_law + x * (d0 + x * (c2 + x * c3));
        let bridge_h = (d0 + x * (c2 * 2.0 + x * (c3 * 3.0))) * (1.0 / WIDTH);
        // By T at constant h: start value and start slope change with m.
        let d0_dt = (t_law * n + s_law * n_slope) * (WIDTH / LAW_TO);
        let bridge_t = t_law + x * (d0_dt + x * ((-(t_law * 3.0) - d0_dt * 2.0) + x * (d0_dt + t_law * 2.0)));
        let full = h.above(h.like(FULL_FROM));
        let s = R::pick(full, (h - FULL_FROM) * COMPRESSED + 1.0, bridge);
        let s_h = R::pick(full, h.like(COMPRESSED), bridge_h);
        let s_t = R::pick(full, h.like(0.0), bridge_t);
        Grad {
            v: R::pick(beyond, s, law.v),
            dt: R::pick(beyond, s_h * h_dt + s_t, law.dt),
            dp: R::pick(beyond, s_h * h_dp, law.dp),
        }
    }
}

/// No lining holds pressures near the critical one of water, 22 MPa, ten times its strength: there it has long burst.
/// Beyond 15 MPa cracks open it ever wider, so that numbers stay within what water can be.
#[inline(always)]
fn burst<R: Real>(share: Grad<R>, pressure_pa: R) -> Grad<R> {
    const HOLDS_PA: f64 = 15e6;
    /// Pressure beyond it that opens the pores twice as wide.
    const OPENS_PA: f64 = 1e6;
    let beyond = ((pressure_pa - HOLDS_PA) * (1.0 / OPENS_PA)).at_least(pressure_pa.like(0.0));
    let open = beyond * beyond + 1.0;
    Grad { v: share.v * open, dt: share.dt * open, dp: share.dp * open + share.v * beyond * (2.0 / OPENS_PA) }
}

#[inline(always)]
fn vapour_density<R: Real>(State { temp_k, pressure_pa }: State<R>) -> Grad<R> {
    let per_pressure = (temp_k * VAPOUR_GAS_CONSTANT_J_KGK).over();
    let density = pressure_pa * per_pressure;
    Grad { v: density, dt: -(density * per_pressure * VAPOUR_GAS_CONSTANT_J_KGK), dp: per_pressure }
}

impl WaterLaw {
    /// Its numbers.
    pub(super) fn figures(&self) -> WaterFigures {
        WaterFigures {
            heat_capacity_j_kgk: self.heat_capacity_j_kgk,
            carries_heat: self.carries_heat,
            liquid_ratio: self.liquid_ratio,
            gas_power: self.gas_power,
            gas_floor: self.gas_floor,
            liquid_power: self.liquid_power,
            latent_j_kg: self.latent_j_kg,
        }
    }
}

impl WaterFigures {
    /// Heat that a kilogram of water at `temp_k` holds, J/kg.
    #[inline(always)]
    pub(super) fn held<R: Real>(&self, temp_k: R) -> R {
        (temp_k - INTEGRAL_FROM_K) * self.heat_capacity_j_kgk
    }

    /// Heat of evaporation, J/kg, and its slope by temperature.
    #[inline(always)]
    fn latent<R: Real>(&self, saturation: &Saturation<R>) -> (R, R) {
        match self.latent_j_kg {
            Some(constant) => (saturation.latent.like(constant), saturation.latent.like(0.0)),
            None => (saturation.latent, saturation.latent_slope),
        }
    }
}
