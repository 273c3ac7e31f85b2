//! Generic material classes: how they conduct, hold water, let steam through, and break.

use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock};

use serde::{Deserialize, Serialize};

use super::{Cure, WATER_KG_M3, text};
use crate::units::{Celsius, Curve, KelvinPerHour, Metres};

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

/// Ramp limit of a material that has none. Finite, so that it can be written down and read back; faster than any burner.
pub const NO_RAMP_LIMIT: KelvinPerHour = KelvinPerHour(1.0e6);

impl Material {
    /// Most water that the open pores hold, kg per m³ of layer.
    #[must_use]
    pub fn pores_hold_kg_m3(&self) -> f64 {
        self.porosity * WATER_KG_M3
    }

    /// Whether the ramp of the hot face matters to it at all while it is wet.
    #[must_use]
    pub fn has_ramp_limit(&self) -> bool {
        self.ramp_limit < NO_RAMP_LIMIT
    }
}

impl Kind {
    /// Whether water is mixed into it and its binder takes a part (as against dry goods that may soak some up).
    #[must_use]
    pub fn is_mixed_with_water(self) -> bool {
        matches!(self, Self::Mortar | Self::Castable | Self::Plastic)
    }

    /// How the file and a person call it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Fibre => "fibre",
            Self::Mortar => "mortar",
            Self::Castable => "castable",
            Self::Plastic => "plastic",
            Self::Brick => "brick",
            Self::Board => "board",
        }
    }
}

impl Dehydration {
    /// Share of the bound water that is free at equilibrium against temperature (°C) after `cure`; `None` when it was
    /// fired before and nothing is bound.
    #[must_use]
    pub fn curve(&self, cure: Cure) -> Option<&Curve> {
        match cure {
            Cure::Cold => Some(&self.cold),
            Cure::Mixed => Some(&self.mixed),
            Cure::Warm => Some(&self.warm),
            Cure::Fired => None,
        }
    }
}

/// One class of the materials file: its properties, what treatment does to it, and where each figure is from.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Properties after a cure at 15 to 25 °C, mixed as the sheet says, without fibres.
    pub material: Arc<Material>,
    /// What builders' choices change.
    pub response: Response,
    /// Source of each figure by its key in the file.
    pub sources: BTreeMap<String, String>,
}

/// How a class answers to curing, thickness, fibres and rigidiser.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Response {
    /// Factor on the bound water after a cold and a warm cure.
    pub bound_water_factor: [f64; 2],
    /// Factor on the permeability once polymer fibres have melted.
    pub fibre_factor: f64,
    /// Ramp limit of a thin coat, and the thickness below which a layer is one.
    pub thin_coat: Option<(Metres, KelvinPerHour)>,
    /// Water that the usual treatment leaves on each square metre (rigidiser), kg/m².
    pub water_kg_m2: Option<f64>,
}

/// Classes of material by key.
#[derive(Clone, Debug, PartialEq)]
pub struct Materials {
    entries: Vec<Entry>,
}

impl Materials {
    /// The classes shipped with the program (`schedules/materials.toml`).
    ///
    /// # Panics
    /// Never: a test reads the same text.
    #[must_use]
    pub fn built_in() -> &'static Self {
        static SHIPPED: LazyLock<Materials> = LazyLock::new(|| {
            text::parse_materials(include_str!("../../schedules/materials.toml"))
                .expect("the shipped materials file is read by the tests")
        });
        &SHIPPED
    }

    /// Classes as read from a file, in its order.
    pub(super) fn new(entries: Vec<Entry>) -> Self {
        Self { entries }
    }

    /// The class called `key`.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.material.key == key)
    }

    /// All classes, in the order of the file.
    pub fn iter(&self) -> impl Iterator<Item = &Entry> {
        self.entries.iter()
    }

    /// All keys, in the order of the file.
    pub fn keys(&self) -> impl Iterator<Item = &str> {
        self.entries.iter().map(|entry| entry.material.key.as_str())
    }
}
