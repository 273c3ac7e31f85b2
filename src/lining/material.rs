//! Generic material classes: how they conduct, hold water, let steam through, and break.

use serde::{Deserialize, Serialize};

use crate::units::{Celsius, Curve, KelvinPerHour};

/// Properties of one class of material. SI; temperatures of the curves in °C.
///
/// Every figure comes from `schedules/materials.toml`, where its source stands beside it.
#[derive(Clone, Debug, PartialEq)]
pub struct Material {
    /// Key in the materials file, such as `dense-castable`.
    pub key: String,
    /// Words for a person: "conventional dense castable, 50-60 % alumina".
    pub title: String,
    /// What kind of thing it is, which decides what is asked and cautioned.
    pub kind: Kind,
    /// Dry density, kg/m³.
    pub density_kg_m3: f64,
    /// Conductivity of the dry material against temperature, W/(m·K).
    pub conductivity_w_mk: Curve,
    /// What a full pore space adds to the conductivity, W/(m·K).
    pub wet_conductivity_w_mk: f64,
    /// Specific heat of the solid against temperature, J/(kg·K).
    pub heat_capacity_j_kgk: Curve,
    /// Open porosity, 0 to 1.
    pub porosity: f64,
    /// Mix water as the sheet gives it, fraction of dry mass: least, usual, most.
    pub mix_water: [f64; 3],
    /// Water bound by the binder, fraction of dry mass.
    pub bound_water: f64,
    /// Fraction of the bound water that is free at equilibrium against temperature, per cure.
    pub dehydration: Dehydration,
    /// Intrinsic gas permeability against temperature, log10 of m².
    pub permeability_log10_m2: Curve,
    /// Standard deviation of that logarithm, decades.
    pub permeability_spread: f64,
    /// Modulus of rupture after drying at 110 °C, MPa. Zero for what does not break (fibre).
    pub rupture_mpa: f64,
    /// Modulus of rupture at temperature as a fraction of that.
    pub rupture_factor: Curve,
    /// Relative standard deviation of the strength.
    pub strength_spread: f64,
    /// Young's modulus, GPa.
    pub youngs_gpa: f64,
    /// Thermal expansion, 1/K.
    pub expansion_per_k: f64,
    /// Total emissivity of the surface.
    pub emissivity: f64,
    /// Highest temperature in continuous service.
    pub service_limit: Celsius,
    /// Steepest mean ramp of the hot face while water is left.
    pub ramp_limit: KelvinPerHour,
}

/// Kinds of material a builder tells apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Ceramic fibre blanket or module.
    Fibre,
    /// Air-setting mortar or thin coat.
    Mortar,
    /// Anything cast with hydraulic cement.
    Castable,
    /// Rammed phosphate-bonded plastic.
    Plastic,
    /// Fired brick, dense or insulating.
    Brick,
    /// Insulating board.
    Board,
}

/// Release of bound water against temperature (°C, fraction), for each cure.
#[derive(Clone, Debug, PartialEq)]
pub struct Dehydration {
    /// After a cold cure.
    pub cold: Curve,
    /// After a cure at 15 to 25 °C.
    pub mixed: Curve,
    /// After a warm cure.
    pub warm: Curve,
    /// Heat to free it, J/kg of water.
    pub heat_j_kg: f64,
    /// Time constant of the release, s.
    pub time_s: f64,
}
