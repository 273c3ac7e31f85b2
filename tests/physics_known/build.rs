//! Tiny builders for the walls of the known cases.

use firstheat::physics::matter::{Matter, Sorption, SorptionExponent, WaterLaw};
use firstheat::physics::mesh::{Cut, Geometry};
use firstheat::physics::wall::{Face, FaceHeat, FaceVapour, LayerSpec, StartWater, WallSpec};
use firstheat::units::Curve;

pub const ZERO_C: f64 = 273.15;

pub fn curve(points: &[(f64, f64)]) -> Curve {
    Curve::new(points.to_vec()).unwrap()
}

/// A material that only conducts.
pub fn solid(conductivity: f64, density: f64, heat_capacity: f64) -> Matter {
    Matter {
        density_kg_m3: density,
        heat_capacity_j_kgk: Curve::constant(heat_capacity),
        conductivity_w_mk: Curve::constant(conductivity),
        wet_conductivity_w_mk: 0.0,
        porosity: 0.0,
        permeability_log10_m2: None,
        sorption: Sorption::default(),
        bound_water_kg_m3: 0.0,
        dehydration: Curve::constant(0.0),
        dehydration_heat_j_kg: 0.0,
        dehydration_time_s: 600.0,
        strength: None,
    }
}

/// A porous material without bound water.
pub fn porous(conductivity: f64, heat_per_volume: f64, log10_k: f64) -> Matter {
    Matter {
        porosity: 0.2,
        permeability_log10_m2: Some(Curve::constant(log10_k)),
        ..solid(conductivity, 2200.0, heat_per_volume / 2200.0)
    }
}

/// The sharp limit: nearly all water is held up to saturation, then let go.
pub fn sharp(matter: Matter) -> Matter {
    Matter { sorption: Sorption { exponent: SorptionExponent::Constant(0.05), power: 1.0 }, ..matter }
}

/// The material of the computed reference wall R.
pub fn reference_matter() -> Matter {
    Matter {
        permeability_log10_m2: Some(curve(&[(100.0, -16.0), (400.0, -15.0), (800.0, -14.0)])),
        bound_water_kg_m3: 100.0,
        dehydration: curve(&[(100.0, 0.0), (200.0, 0.30), (230.0, 0.35), (330.0, 0.90), (600.0, 1.0)]),
        dehydration_heat_j_kg: 1.5e6,
        ..porous(1.2, 2.2e6, -16.0)
    }
}

pub fn layer(matter: Matter, thickness_m: f64) -> LayerSpec {
    LayerSpec { matter, cut: Cut::usual(thickness_m, 1), start: StartWater::Content(0.0) }
}

pub fn wet(matter: Matter, thickness_m: f64, water_kg_m3: f64) -> LayerSpec {
    LayerSpec { start: StartWater::Content(water_kg_m3), ..layer(matter, thickness_m) }
}

pub const fn exchange(convection_w_m2k: f64, emissivity: f64) -> FaceHeat {
    FaceHeat::Exchange { convection_w_m2k, emissivity }
}

pub const fn leaves(coefficient_s_m: f64, surroundings_pa: f64) -> FaceVapour {
    FaceVapour::Leaves { coefficient_s_m, surroundings_pa }
}

/// A wall at 20 °C before 20 °C surroundings, with a fixed hot face and an insulated back.
pub fn wall(layers: Vec<LayerSpec>) -> WallSpec {
    WallSpec {
        geometry: Geometry::Planar,
        layers,
        hot: Face { heat: FaceHeat::Fixed, vapour: FaceVapour::Sealed },
        cold: Face { heat: FaceHeat::Insulated, vapour: FaceVapour::Sealed },
        start_k: 20.0 + ZERO_C,
        ambient_k: 20.0 + ZERO_C,
        water: WaterLaw::default(),
    }
}

/// The computed reference wall R with another thickness.
pub fn reference_wall(thickness_m: f64) -> WallSpec {
    WallSpec {
        hot: Face { heat: exchange(20.0, 0.8), vapour: leaves(1e-7, 1500.0) },
        cold: Face { heat: exchange(10.0, 0.0), vapour: FaceVapour::Sealed },
        ..wall(vec![wet(reference_matter(), thickness_m, 130.0)])
    }
}

/// Gas from 20 °C at a ramp (K/h) up to `to_c`, then held.
pub fn ramp(rate_k_h: f64, to_c: f64) -> Curve {
    curve(&[(0.0, 20.0), ((to_c - 20.0) / rate_k_h * 3600.0, to_c)])
}

/// Asserts nearness and says both values.
pub fn near(what: &str, got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{what}: {got:.6} instead of {expected:.6}, off by {:.3e}, allowed {tolerance:.3e}",
        got - expected
    );
}
