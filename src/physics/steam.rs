//! Water and steam at saturation, tabulated once so that the solver reads them for the price of a cubic.

use std::sync::{Arc, LazyLock};

use super::real::{Cubics, Real};

/// Gas constant of water vapour, J/(kg·K).
pub const VAPOUR_GAS_CONSTANT_J_KGK: f64 = 461.5;

/// Critical temperature of water, K (IAPWS).
const CRITICAL_TEMP_K: f64 = 647.096;
/// Critical density of water, kg/m³ (IAPWS).
const CRITICAL_DENSITY_KG_M3: f64 = 322.0;
/// Above this the saturation line is continued as an exponential in 1/T (there is no liquid, only a reference state).
const CONTINUED_FROM_K: f64 = 640.0;

const TABLE_FROM_K: f64 = 200.0;
const TABLE_STEP_K: f64 = 2.0;
const TABLE_SPANS: usize = 1050;

/// Which equations the liquid's density and the heat of evaporation come from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LiquidDensity {
    /// IAPWS SR1-86 saturation equations, density within 0.03 %, heat of evaporation within 0.1 %.
    #[default]
    Iapws,
    /// 314.4 + 685.6 (1 - (t / 374.14)^(1/0.55))^0.55, t in °C, and 2.672e5 (647.3 - T)^0.38: the short fits concrete
    /// codes use, up to 0.8 % off in density and 2 % in heat at 200 °C. To compare with such codes.
    ConcreteFit,
}

/// Saturation properties on a fine grid of temperatures, 200 to 2300 K.
pub struct SteamTable {
    /// Span by span, coefficients of the powers from 0 to 3 of the share of the span that is behind, each of: saturation
    /// pressure, liquid density, heat of evaporation, liquid density over viscosity.
    spans: Vec<[[f64; 4]; 4]>,
}

impl std::fmt::Debug for SteamTable {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("SteamTable").finish_non_exhaustive()
    }
}

/// What the table holds at one temperature, each with its derivative by temperature.
#[derive(Clone, Copy, Debug)]
pub struct Saturation<R = f64> {
    /// Saturation pressure, Pa.
    pub pressure: R,
    /// Its slope, Pa/K.
    pub pressure_slope: R,
    /// Density of the liquid, kg/m³.
    pub liquid: R,
    /// Its slope, kg/(m³·K).
    pub liquid_slope: R,
    /// Heat of evaporation, J/kg.
    pub latent: R,
    /// Its slope, J/(kg·K).
    pub latent_slope: R,
    /// Density of the liquid over its viscosity, s/m².
    pub ease: R,
    /// Its slope, s/(m²·K).
    pub ease_slope: R,
}

impl SteamTable {
    /// The table with the given liquid density; made once and shared.
    #[must_use]
    pub fn shared(density: LiquidDensity) -> Arc<Self> {
        static IAPWS: LazyLock<Arc<SteamTable>> =
            LazyLock::new(|| Arc::new(SteamTable::tabulate(liquid_density_kg_m3, latent_heat_j_kg)));
        static FIT: LazyLock<Arc<SteamTable>> =
            LazyLock::new(|| Arc::new(SteamTable::tabulate(fitted_density_kg_m3, fitted_latent_j_kg)));
        match density {
            LiquidDensity::Iapws => Arc::clone(&IAPWS),
            LiquidDensity::ConcreteFit => Arc::clone(&FIT),
        }
    }

    fn tabulate(liquid_kg_m3: fn(f64) -> f64, latent_j_kg: fn(f64) -> f64) -> Self {
        let properties: [&dyn Fn(f64) -> f64; 4] = [&saturation_pressure_pa, &liquid_kg_m3, &latent_j_kg, &|temp_k| {
            liquid_kg_m3(temp_k) / liquid_viscosity_pa_s(temp_k)
        }];
        let knot = |property: &dyn Fn(f64) -> f64, index: usize| {
            let (temp_k, half_k) = (TABLE_FROM_K + TABLE_STEP_K * index as f64, 1e-3);
            let slope = (property(temp_k + half_k) - property(temp_k - half_k)) / (2.0 * half_k);
            [property(temp_k), slope * TABLE_STEP_K]
        };
        let mut spans = vec![[[0.0; 4]; 4]; TABLE_SPANS];
        for (column, property) in properties.into_iter().enumerate() {
            let knots: Vec<[f64; 2]> = (0..=TABLE_SPANS).map(|index| knot(property, index)).collect();
            for (span, ends) in spans.iter_mut().zip(knots.windows(2)) {
                for (power, coefficient) in cubic_through(ends[0], ends[1]).into_iter().enumerate() {
                    span[power][column] = coefficient;
                }
            }
        }
        Self { spans }
    }

    /// Properties at `temp_k` by cubic Hermite interpolation; the nearest end of the table outside it.
    #[must_use]
    pub fn at(&self, temp_k: f64) -> Saturation {
        self.read(temp_k)
    }

    /// Properties at the members' temperatures.
    #[inline(always)]
    pub(super) fn read<R: Real>(&self, temp_k: R) -> Saturation<R> {
        let [(pressure, pressure_slope), (liquid, liquid_slope), (latent, latent_slope), (ease, ease_slope)] =
            temp_k.look_up(self);
        Saturation { pressure, pressure_slope, liquid, liquid_slope, latent, latent_slope, ease, ease_slope }
    }
}

impl Cubics for SteamTable {
    const PER_WIDTH: f64 = 1.0 / TABLE_STEP_K;

    #[inline(always)]
    fn spans_before<R: Real>(&self, temp_k: R) -> R {
        ((temp_k - TABLE_FROM_K) * Self::PER_WIDTH).within(0.0, TABLE_SPANS as f64)
    }

    #[inline(always)]
    fn last(&self) -> f64 {
        TABLE_SPANS as f64 - 1.0
    }

    #[inline(always)]
    fn span(&self, index: usize) -> &[[f64; 4]; 4] {
        &self.spans[index]
    }
}

/// Coefficients of the cubic with the given values and slopes at both ends of a span, in the share of it that is behind.
fn cubic_through([y0, d0]: [f64; 2], [y1, d1]: [f64; 2]) -> [f64; 4] {
    let rise = y1 - y0;
    [y0, d0, 3.0 * rise - 2.0 * d0 - d1, d0 + d1 - 2.0 * rise]
}

/// Saturation pressure at `temp_k`, Pa: IAPWS-IF97 region 4 up to 640 K, continued as an exponential in 1/T.
#[must_use]
pub fn saturation_pressure_pa(temp_k: f64) -> f64 {
    const N: [f64; 10] = [
        0.116_705_214_527_67e4,
        -0.724_213_167_032_06e6,
        -0.170_738_469_400_92e2,
        0.120_208_247_024_70e5,
        -0.323_255_503_223_33e7,
        0.149_151_086_135_30e2,
        -0.482_326_573_615_91e4,
        0.405_113_405_420_57e6,
        -0.238_555_575_678_49,
        0.650_175_348_447_98e3,
    ];
    if temp_k > CONTINUED_FROM_K {
        /// Slope of ln p against -1/T at 640 K, K.
        const STEEPNESS_K: f64 = 4898.3;
        return saturation_pressure_pa(CONTINUED_FROM_K)
            * (STEEPNESS_K * (1.0 / CONTINUED_FROM_K - 1.0 / temp_k)).exp();
    }
    let theta = temp_k + N[8] / (temp_k - N[9]);
    let a = theta * theta + N[0] * theta + N[1];
    let b = N[2] * theta * theta + N[3] * theta + N[4];
    let c = N[5] * theta * theta + N[6] * theta + N[7];
    let beta = 2.0 * c / (-b + (b * b - 4.0 * a * c).sqrt());
    beta.powi(4) * 1e6
}

/// Density of saturated liquid at `temp_k`, kg/m³: IAPWS SR1-86 up to 640 K, from there straight to the critical point.
#[must_use]
pub fn liquid_density_kg_m3(temp_k: f64) -> f64 {
    const TERMS: [(f64, f64); 6] = [
        (1.992_740_64, 1.0 / 3.0),
        (1.099_653_42, 2.0 / 3.0),
        (-0.510_839_303, 5.0 / 3.0),
        (-1.754_934_79, 16.0 / 3.0),
        (-45.517_035_2, 43.0 / 3.0),
        (-6.746_944_50e5, 110.0 / 3.0),
    ];
    to_critical(temp_k, CRITICAL_DENSITY_KG_M3, |temp_k| {
        // Below the melting point the equation's last term runs away; supercooled water is as dense as at 0 °C.
        let tau = 1.0 - temp_k.max(273.15) / CRITICAL_TEMP_K;
        CRITICAL_DENSITY_KG_M3 * (1.0 + TERMS.iter().map(|(b, power)| b * tau.powf(*power)).sum::<f64>())
    })
}

fn vapour_density_kg_m3(temp_k: f64) -> f64 {
    const TERMS: [(f64, f64); 6] = [
        (-2.031_502_40, 2.0 / 6.0),
        (-2.683_029_40, 4.0 / 6.0),
        (-5.386_264_92, 8.0 / 6.0),
        (-17.299_160_5, 18.0 / 6.0),
        (-44.758_658_1, 37.0 / 6.0),
        (-63.920_106_3, 71.0 / 6.0),
    ];
    let tau = 1.0 - temp_k / CRITICAL_TEMP_K;
    CRITICAL_DENSITY_KG_M3 * TERMS.iter().map(|(c, power)| c * tau.powf(*power)).sum::<f64>().exp()
}

/// Heat of evaporation at `temp_k`, J/kg: Clapeyron's equation with the pressures and densities above, within 0.1 % from
/// 5 to 340 °C; zero above the critical point.
#[must_use]
pub fn latent_heat_j_kg(temp_k: f64) -> f64 {
    to_critical(temp_k, 0.0, |temp_k| {
        let half_k = 0.01;
        let slope_pa_k =
            (saturation_pressure_pa(temp_k + half_k) - saturation_pressure_pa(temp_k - half_k)) / (2.0 * half_k);
        temp_k * (1.0 / vapour_density_kg_m3(temp_k) - 1.0 / liquid_density_kg_m3(temp_k)) * slope_pa_k
    })
}

/// `law` up to 639 K, then a straight line to `critical` at the critical point, then `critical`.
fn to_critical(temp_k: f64, critical: f64, law: impl Fn(f64) -> f64) -> f64 {
    let last_k = CONTINUED_FROM_K - 1.0;
    if temp_k <= last_k {
        law(temp_k)
    } else {
        let share = ((temp_k - last_k) / (CRITICAL_TEMP_K - last_k)).min(1.0);
        law(last_k) + (critical - law(last_k)) * share
    }
}

fn fitted_density_kg_m3(temp_k: f64) -> f64 {
    let share = ((temp_k - 273.15) / 374.14).clamp(0.0, 1.0);
    314.4 + 685.6 * (1.0 - share.powf(1.0 / 0.55)).powf(0.55)
}

fn fitted_latent_j_kg(temp_k: f64) -> f64 {
    2.672e5 * (647.3 - temp_k).max(0.0).powf(0.38)
}

/// Viscosity of liquid water at `temp_k`, Pa·s: 0.6612 (T - 229)^-1.562, the fit concrete codes use.
#[must_use]
pub fn liquid_viscosity_pa_s(temp_k: f64) -> f64 {
    0.6612 * (temp_k.max(245.0) - 229.0).powf(-1.562)
}

/// Viscosity of water vapour, Pa·s: 8.85e-6 + 3.53e-8 t, t in °C. Value and slope.
#[inline(always)]
pub(super) fn vapour_viscosity<R: Real>(temp_k: R) -> (R, f64) {
    const SLOPE: f64 = 3.53e-8;
    (temp_k * SLOPE + (8.85e-6 - SLOPE * 273.15), SLOPE)
}
