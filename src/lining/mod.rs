//! What the builder made: sections of layers round one chamber, the burner that heats it, and where it stands.
//!
//! Everything here is checked when it is built from a file ([`text`]), so the physics may rely on it.

pub mod cuts;
pub mod make;
pub mod material;
pub mod outline;
pub mod starts;
pub mod text;
pub mod treatment;
pub mod yardstick;

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::units::{Celsius, KelvinPerHour, Kilograms, Metres, Pascals, Seconds, SquareMetres, Watts};
use make::{Make, Port, Size, Stock};
use material::{Kind, Material};

/// A lining ready to be simulated, planned for and followed.
#[derive(Clone, Debug, PartialEq)]
pub struct Lining {
    /// The builder's name for the furnace.
    pub name: String,
    /// Air around it at the first flame.
    pub surroundings: Surroundings,
    /// Air around it while its layers dried before the first flame.
    pub drying: Surroundings,
    /// Warm air in its chamber after that, before the first flame.
    pub chamber_drying: Option<ChamberDrying>,
    /// What heats it.
    pub burner: Burner,
    /// The space the sections share.
    pub chamber: Chamber,
    /// Barrel wall, floor, roof, ends, door: at least one.
    pub sections: Vec<Section>,
    /// What the heat-up has to reach and may not pass.
    pub goal: Goal,
    /// How its materials are bought and worked, where that is not the usual.
    pub stock: Vec<Stock>,
}

/// The air round the furnace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surroundings {
    /// Air and start temperature.
    pub temp: Celsius,
    /// Relative humidity, 0 to 1.
    pub humidity: f64,
}

/// Warm air that a lamp or a heater kept in the chamber of the finished lining before the first flame, while the outside
/// stood in the air of the place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChamberDrying {
    /// Of the air in the chamber. It holds as much water as the air of the place.
    pub temp: Celsius,
    /// How long.
    pub time: Seconds,
}

/// A gas burner.
#[derive(Clone, Debug, PartialEq)]
pub struct Burner {
    /// How much fuel it burns when on.
    pub fuel: Fuel,
    /// Fuel-air equivalence ratio: below 1 lean, above 1 rich.
    pub equivalence_ratio: f64,
    /// Shortest time a person can keep it on.
    pub shortest_on: Seconds,
    /// Shortest time between two pulses.
    pub shortest_off: Seconds,
    /// What can be set.
    pub control: Control,
}

/// What a person can set a burner to.
#[derive(Clone, Debug, PartialEq)]
pub enum Control {
    /// It is opened and shut.
    OnOff,
    /// It can be turned down to marks on its valve or gauge, below the full fire; at least one.
    Marks(Vec<Mark>),
    /// The control of the kiln holds ramps of the chamber gas.
    Ramps,
}

/// A mark that a burner can be turned down to.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// The builder's word for it.
    pub name: String,
    /// How its fire is known.
    pub at: MarkAt,
}

/// How the fire at a mark is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MarkAt {
    /// Fuel as a share of the full fire, above 0 and below 1.
    Share(f64),
    /// Gauge pressure before the jet, below that of the full fire.
    Pressure(Pascals),
}

impl Control {
    /// The marks below the full fire, in no order; none but of a burner that has some.
    #[must_use]
    pub fn marks(&self) -> &[Mark] {
        match self {
            Self::Marks(marks) => marks,
            Self::OnOff | Self::Ramps => &[],
        }
    }
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
    /// How it is made up.
    pub make: Make,
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
    /// Open drying in air before the first flame ([`Lining::drying`]), from when the layer was laid.
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

/// Density of cold water, kg/m³, for what pores can hold. CRC Handbook: 998.2 at 20 °C.
pub const WATER_KG_M3: f64 = 998.2;

impl Shape {
    /// Area of the hot face.
    #[must_use]
    pub fn hot_face_area(&self) -> SquareMetres {
        self.area_at(Metres(0.0))
    }

    /// Area of the face at `depth` from the hot face. A barrel grows outwards.
    #[must_use]
    pub fn area_at(&self, depth: Metres) -> SquareMetres {
        match *self {
            Self::Flat { area } => area,
            Self::Barrel { bore, length } => SquareMetres(std::f64::consts::PI * (bore.0 + 2.0 * depth.0) * length.0),
        }
    }

    /// Volume between two depths from the hot face, m³. A barrel grows outwards.
    #[must_use]
    pub fn volume_m3(&self, from: Metres, to: Metres) -> f64 {
        match *self {
            Self::Flat { area } => area.0 * (to.0 - from.0),
            Self::Barrel { bore, length } => {
                std::f64::consts::PI * length.0 * (to.0 - from.0) * (bore.0 + to.0 + from.0)
            }
        }
    }
}

impl Section {
    /// Area of the hot face.
    #[must_use]
    pub fn hot_face_area(&self) -> SquareMetres {
        self.shape.hot_face_area()
    }

    /// Thickness of all layers together.
    #[must_use]
    pub fn thickness(&self) -> Metres {
        Metres(self.layers.iter().map(|layer| layer.thickness.0).sum())
    }

    /// Dry mass and water of each layer, from the hot face outwards. What lies behind a floor that is cast in a bore belongs
    /// to the round wall, and nothing of it is counted here.
    pub fn contents(&self) -> impl Iterator<Item = Contents> {
        let mut depth = Metres(0.0);
        self.layers.iter().map(move |layer| {
            let outer = Metres(depth.0 + layer.thickness.0);
            let volume_m3 = self.volume_m3(depth, outer);
            depth = outer;
            layer.contents(volume_m3)
        })
    }

    /// Volume between two depths from the hot face as it is built, ports taken off, m³. The engine reckons with the plainer
    /// [`Shape`].
    #[must_use]
    pub fn volume_m3(&self, from: Metres, to: Metres) -> f64 {
        let whole_m3 = match self.make.size {
            Size::InBore { bore, level, length } => {
                let below_m2 = |depth: Metres| outline::segment_m2(bore, Metres(level.0 - depth.0));
                (below_m2(from) - below_m2(to)) * length.0
            }
            Size::Outline(outline) => outline.volume_m3(from, to),
            Size::Area | Size::Barrel => self.shape.volume_m3(from, to),
        };
        let hole_m2 = |port: &Port| std::f64::consts::FRAC_PI_4 * port.diameter.0 * port.diameter.0;
        let holes_m3: f64 = self.make.ports.iter().map(|port| hole_m2(port) * (to.0 - from.0)).sum();
        (whole_m3 - holes_m3).max(0.0)
    }
}

/// What one layer weighs and holds before air-drying and the first flame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contents {
    /// Dry material.
    pub dry: Kilograms,
    /// Water put in when it was mixed or soaked, whether the pores can hold it or not.
    pub mixed: Kilograms,
    /// Water free in the pores after curing.
    pub free: Kilograms,
    /// Water bound by the binder.
    pub bound: Kilograms,
}

impl Layer {
    /// Free water at the start, after curing and before air-drying, kg per m³ of layer.
    #[must_use]
    pub fn free_water_kg_m3(&self) -> f64 {
        self.water.free_water_kg_m3(&self.material)
    }

    /// Water bound by the binder at the start, kg per m³ of layer.
    #[must_use]
    pub fn bound_water_kg_m3(&self) -> f64 {
        self.water.bound_water_kg_m3(&self.material)
    }

    /// Dry mass and water of `volume_m3` of this layer.
    #[must_use]
    pub fn contents(&self, volume_m3: f64) -> Contents {
        let dry_kg = self.material.density_kg_m3 * volume_m3;
        Contents {
            dry: Kilograms(dry_kg),
            mixed: Kilograms(self.water.mix_fraction * dry_kg),
            free: Kilograms(self.free_water_kg_m3() * volume_m3),
            bound: Kilograms(self.bound_water_kg_m3() * volume_m3),
        }
    }
}

impl Water {
    /// Free water in `material` at the start, after curing and before air-drying, kg per m³ of layer.
    ///
    /// What was mixed in less what the binder took, capped at what the pores hold. Materials that take up water without
    /// binding it (fibre, brick, board, anything fired) keep all that they soaked up.
    #[must_use]
    pub fn free_water_kg_m3(&self, material: &Material) -> f64 {
        let taken = if material.kind.is_mixed_with_water() { self.bound_fraction(material) } else { 0.0 };
        let free_kg_m3 = (self.mix_fraction - taken).max(0.0) * material.density_kg_m3;
        free_kg_m3.min(material.pores_hold_kg_m3())
    }

    /// Water bound by the binder of `material` at the start, kg per m³ of layer. None once fired.
    #[must_use]
    pub fn bound_water_kg_m3(&self, material: &Material) -> f64 {
        self.bound_fraction(material) * material.density_kg_m3
    }

    /// Bound water as a fraction of dry mass; no more than was mixed in.
    fn bound_fraction(&self, material: &Material) -> f64 {
        match self.cure {
            Cure::Fired => 0.0,
            _ if material.kind == Kind::Board => material.bound_water,
            _ => material.bound_water.min(self.mix_fraction),
        }
    }
}

impl Lining {
    /// All water in the lining before air-drying and the first flame, free and bound.
    #[must_use]
    pub fn water_kg(&self) -> Kilograms {
        let contents = self.sections.iter().flat_map(Section::contents);
        Kilograms(contents.map(|layer| layer.free.0 + layer.bound.0).sum())
    }

    /// Dry mass of all layers.
    #[must_use]
    pub fn dry_mass(&self) -> Kilograms {
        Kilograms(self.sections.iter().flat_map(Section::contents).map(|layer| layer.dry.0).sum())
    }

    /// Area of all hot faces.
    #[must_use]
    pub fn hot_face_area(&self) -> SquareMetres {
        SquareMetres(self.sections.iter().map(|section| section.hot_face_area().0).sum())
    }
}
