//! What the builder made: sections of layers round one chamber, the burner that heats it, and where it stands.
//!
//! Everything here is checked when it is built from a file ([`text`]), so the physics may rely on it.

pub mod material;
pub mod text;

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::units::{Celsius, KelvinPerHour, Metres, Pascals, Seconds, SquareMetres, Watts};
use material::Material;

/// A lining ready to be simulated, planned for and followed.
#[derive(Clone, Debug, PartialEq)]
pub struct Lining {
    /// The builder's name for the furnace.
    pub name: String,
    /// Air around it.
    pub surroundings: Surroundings,
    /// What heats it.
    pub burner: Burner,
    /// The space the sections share.
    pub chamber: Chamber,
    /// Barrel wall, floor, roof, ends, door: at least one.
    pub sections: Vec<Section>,
    /// What the heat-up has to reach and may not pass.
    pub goal: Goal,
}

/// The air round the furnace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surroundings {
    /// Air and start temperature.
    pub temp: Celsius,
    /// Relative humidity, 0 to 1.
    pub humidity: f64,
}

/// A gas burner that a person opens and shuts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Burner {
    /// How much fuel it burns when on.
    pub fuel: Fuel,
    /// Fuel-air equivalence ratio: below 1 lean, above 1 rich.
    pub equivalence_ratio: f64,
    /// Shortest time a person can keep it on.
    pub shortest_on: Seconds,
    /// Shortest time between two pulses.
    pub shortest_off: Seconds,
}

/// How the fuel rate of a burner is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fuel {
    /// Heat of combustion per time (lower heating value) when on.
    Power(Watts),
    /// Propane through one round jet.
    PropaneJet {
        /// Jet diameter.
        diameter: Metres,
        /// Gauge pressure before the jet.
        gauge_pressure: Pascals,
    },
}

/// The space inside, taken as well stirred.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chamber {
    /// Open area through which the fire radiates and breathes: mouth, vent, door gap.
    pub opening: SquareMetres,
}

/// One part of the lining with its own layers.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// The builder's name: "wall", "floor", "lid".
    pub name: String,
    /// Flat or round, and how large.
    pub shape: Shape,
    /// From the hot face outwards; at least one.
    pub layers: Vec<Layer>,
    /// What stands behind the last layer.
    pub back: Back,
}

/// Form and size of a section's hot face.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// A flat (or nearly flat) part.
    Flat {
        /// Area of the hot face.
        area: SquareMetres,
    },
    /// A round wall seen from inside.
    Barrel {
        /// Diameter of the finished bore.
        bore: Metres,
        /// Length (or height) along the axis.
        length: Metres,
    },
}

/// What closes the cold side of a section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Back {
    /// A steel shell that lets no steam through.
    SealedSteel {
        /// Sheet thickness.
        thickness: Metres,
    },
    /// A steel shell drilled with weep holes, or with open joints: steam gets out.
    VentedSteel {
        /// Sheet thickness.
        thickness: Metres,
    },
    /// No shell: the last layer meets the air.
    Open,
}

/// One layer of one material.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// Generic class with its properties.
    pub material: Arc<Material>,
    /// Thickness as built.
    pub thickness: Metres,
    /// How wet it is and how it was treated before the first flame.
    pub water: Water,
}

/// The water a layer got and what was done to it before the first flame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Water {
    /// Mix or soak water, as a fraction of dry mass.
    pub mix_fraction: f64,
    /// How it was cured.
    pub cure: Cure,
    /// Open drying in air at the surroundings' state before the first flame.
    pub air_dried: Seconds,
}

/// Temperature band of the first day, which decides the hydrates formed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cure {
    /// Below 15 °C.
    Cold,
    /// 15 to 25 °C.
    Mixed,
    /// Above 25 °C.
    Warm,
    /// Fired before: no bound water left and no mix water but what the layer has soaked up since.
    Fired,
}

/// What the heat-up has to reach and the limits the builder sets.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Goal {
    /// Hot-face temperature at which the lining soaks at the end.
    pub soak_temp: Celsius,
    /// How long it stays there.
    pub soak: Seconds,
    /// Ceiling on the danger number for 95 % of the ensemble.
    pub danger_ceiling: f64,
    /// Ramp limit stricter than the materials' own, if the builder wants one.
    pub ramp: Option<KelvinPerHour>,
}
