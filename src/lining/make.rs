//! How a lining is made up: sizes as measured, how a part lies, its ports, how fibre is laid, and what is bought in what packs.
//!
//! The wall engine needs none of it; cutting, mixing and buying do ([`super::cuts`]). Everything here may be left out of a
//! lining file, and stands then at what is usual.

use serde::Serialize;

use super::Layer;
use super::material::{Kind, Material};
use super::outline::Outline;
use crate::units::{Degrees, Kilograms, Metres, Seconds};

/// How one section is made up.
#[derive(Clone, Debug, PartialEq)]
pub struct Make {
    /// Its sizes as measured.
    pub size: Size,
    /// How a round part lies.
    pub lie: Lie,
    /// Holes through all of its layers.
    pub ports: Vec<Port>,
    /// How each layer is laid, from the hot face outwards.
    pub layings: Vec<Laying>,
}

/// Sizes of a section as a builder measures them. Those of a round wall stand in [`super::Shape::Barrel`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Size {
    /// Only its area is known, so it cannot be cut to size.
    Area,
    /// A part that lies flat, or an arch.
    Outline(Outline),
    /// A round wall.
    Barrel,
    /// A floor cast to a level in a lying round bore.
    InBore {
        /// Diameter of the bore it is cast in.
        bore: Metres,
        /// Depth at its deepest: of its first layer, and of a coat on it.
        level: Metres,
        /// Along the bore.
        length: Metres,
    },
}

/// How a round wall lies, which decides where its joints go.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Lie {
    /// On its side: the floor covers the lowest line.
    Level,
    /// On its end.
    Upright,
}

/// A round hole through a section: burner port, probe hole, spy hole.
#[derive(Clone, Debug, PartialEq)]
pub struct Port {
    /// The builder's name.
    pub name: String,
    /// Across the hole in the lining.
    pub diameter: Metres,
    /// Its middle from the end that is nearest to the builder: the mouth of a lying barrel, the foot of an upright one.
    pub along: Metres,
    /// Where it is on the way round or across.
    pub place: PortPlace,
}

/// Where a port is on the way round or across.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PortPlace {
    /// Of a round wall. Lying: from the lowest line, clockwise as seen through the mouth. Upright: from the front,
    /// anticlockwise as seen from above. So the flat sheet, cold side up, reads from left to right either way.
    Around(Degrees),
    /// Of any other part: from its left side.
    Across(Metres),
}

/// How one layer is laid. Only fibre is cut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Laying {
    /// Blankets on top of one another.
    pub plies: u32,
    /// Length added at each joint, so that the ends press on each other.
    pub compression: Metres,
    /// Added to the width, to be trimmed off in place.
    pub trim: Metres,
    /// Rigidiser on each square metre of its face, as water, kg/m².
    pub rigidiser_kg_m2: Option<f64>,
}

/// How one class of material is bought and worked.
#[derive(Clone, Debug, PartialEq)]
pub struct Stock {
    /// Key of the class.
    pub material: String,
    /// Roll of blanket.
    pub roll: Roll,
    /// What one bag, bucket or tub holds, dry.
    pub bag: Kilograms,
    /// Most that is mixed at once, dry.
    pub batch: Kilograms,
    /// What is mixed on top for what sticks to bucket and trowel, fraction of what the lining takes.
    pub spare: f64,
    /// How long a batch can be placed.
    pub working_time: Seconds,
    /// Price of one roll or bag, in whatever money the builder pays.
    pub price: Option<f64>,
}

/// A roll of blanket.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Roll {
    /// Across.
    pub width: Metres,
    /// As long as it comes; `None` when that follows from its thickness ([`usual_roll_length`]).
    pub length: Option<Metres>,
}

/// Thickness of the usual blanket. Source: 1 in, which the trade calls 25 mm; common practice, no source.
pub const USUAL_PLY: Metres = Metres(0.025);

/// Length added at each joint. Source: at least 10 mm per joint; common practice, no source.
pub const USUAL_COMPRESSION: Metres = Metres(0.010);

/// Width added to be trimmed off. An assumption of this project (no source): what a knife takes off a ragged edge.
pub const USUAL_TRIM: Metres = Metres(0.005);

/// Width of the usual roll. Source: 24 in; common practice, no source.
pub const USUAL_ROLL_WIDTH: Metres = Metres(0.610);

/// Share mixed on top of what the lining takes. Common practice, no source: a tenth.
pub const USUAL_SPARE: f64 = 0.10;

/// How long a batch can be placed. Source: makers' general sheets, 15 to 20 min; the shorter one, to be safe.
pub const USUAL_WORKING_TIME: Seconds = Seconds(900.0);

/// Most that one person mixes and places within the working time, dry. Common practice, no source.
pub const USUAL_BATCH: Kilograms = Kilograms(5.0);

/// Length of the usual roll of blanket of `thickness`. From memory: 14.6 m of 13 mm, 7.3 m of 25 mm, 3.66 m of 50 mm, so
/// that rolls are about alike in bulk.
#[must_use]
pub fn usual_roll_length(thickness: Metres) -> Metres {
    match thickness.mm() {
        thin_mm if thin_mm < 19.0 => Metres(14.6),
        usual_mm if usual_mm < 38.0 => Metres(7.3),
        _ => Metres(3.66),
    }
}

/// Blankets of the usual thickness that make up `thickness`; at least one.
#[must_use]
pub fn usual_plies(thickness: Metres) -> u32 {
    (thickness.0 / USUAL_PLY.0).round().clamp(1.0, 100.0) as u32
}

impl Make {
    /// What stands when a section's sizes and layings are not said: enough for the wall engine, too little to cut.
    #[must_use]
    pub fn unsaid(layers: &[Layer]) -> Self {
        let laying = |layer: &Layer| Laying {
            plies: usual_plies(layer.thickness),
            compression: USUAL_COMPRESSION,
            trim: USUAL_TRIM,
            rigidiser_kg_m2: None,
        };
        Self { size: Size::Area, lie: Lie::Level, ports: Vec::new(), layings: layers.iter().map(laying).collect() }
    }
}

impl Stock {
    /// How `material` is usually bought. Bags: common practice, no source: castable and plastic 25 kg, mortar and coats 5 kg.
    /// Mortar stays soft for longer than castable: an hour in a covered bucket, from memory.
    #[must_use]
    pub fn usual(material: &Material) -> Self {
        let (bag_kg, working_time) = match material.kind {
            Kind::Mortar => (5.0, Seconds(3600.0)),
            _ => (25.0, USUAL_WORKING_TIME),
        };
        Self {
            material: material.key.clone(),
            roll: Roll { width: USUAL_ROLL_WIDTH, length: None },
            bag: Kilograms(bag_kg),
            batch: USUAL_BATCH,
            spare: USUAL_SPARE,
            working_time,
            price: None,
        }
    }
}
