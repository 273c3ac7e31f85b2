//! What is mixed with water and what is soaked into fibre: volumes, weights, batches.

use serde::Serialize;

use super::{Part, stock_of};
use crate::lining::Lining;
use crate::lining::material::Kind;
use crate::units::{Kilograms, Seconds};

/// How far the water may be trimmed from what was decided on. Source: makers' general sheets, at most 10 %.
const TRIM: f64 = 0.10;

/// A coat of mortar laid on at once, at most. Source: 6 mm in two to three coats; common practice, no source.
const COAT_M: f64 = 0.003;

/// Parts of water to one part of rigidiser powder, by volume. Source: 1:4; common practice, no source.
const RIGIDISER_WATER_PARTS: f64 = 4.0;

/// Bulk density of rigidiser powder, kg/L. Computed from 0.6 kg of silica in 3.6 L of water at one part to four; practice.
const RIGIDISER_POWDER_KG_L: f64 = 0.67;

/// One layer of something mixed with water.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Mix {
    /// Section.
    pub section: String,
    /// Layer, counted from 1 at the hot face.
    pub layer: usize,
    /// Key of its class.
    pub material: String,
    /// Words for a person.
    pub title: String,
    /// What kind of thing it is.
    pub kind: Kind,
    /// What the lining takes, m³.
    pub volume_m3: f64,
    /// What the lining takes, dry.
    #[serde(rename = "dry_kg")]
    pub dry: Kilograms,
    /// What is mixed, with the spare, dry.
    #[serde(rename = "mixed_kg")]
    pub mixed: Kilograms,
    /// Water as a fraction of dry mass: least, decided, most.
    pub water: [f64; 3],
    /// How many batches.
    pub batches: u32,
    /// How many coats, when it is trowelled or brushed on; else 1.
    pub coats: u32,
    /// What one bag holds.
    #[serde(rename = "bag_kg")]
    pub bag: Kilograms,
    /// How long a batch can be placed.
    #[serde(rename = "working_time_s")]
    pub working_time: Seconds,
}

/// Rigidiser for one layer of fibre.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Soak {
    /// Section.
    pub section: String,
    /// Layer, counted from 1 at the hot face.
    pub layer: usize,
    /// Water, L (and kg).
    pub water_l: f64,
    /// Powder, L.
    pub powder_l: f64,
    /// Powder, by its bulk density.
    #[serde(rename = "powder_kg")]
    pub powder: Kilograms,
}

impl Mix {
    /// Dry mass of one batch.
    #[must_use]
    pub fn batch(&self) -> Kilograms {
        Kilograms(self.mixed.0 / f64::from(self.batches))
    }

    /// Water of one batch: least, decided, most.
    #[must_use]
    pub fn batch_water(&self) -> [Kilograms; 3] {
        self.water.map(|share| Kilograms(share * self.batch().0))
    }
}

pub(super) fn mix_of(lining: &Lining, part: &Part<'_>) -> Mix {
    let material = &part.layer.material;
    let stock = stock_of(lining, material);
    let volume_m3 = part.volume_m3();
    let dry_kg = material.density_kg_m3 * volume_m3;
    let mixed_kg = dry_kg * (1.0 + stock.spare);
    let decided = part.layer.water.mix_fraction;
    let [least, _, most] = material.mix_water;
    let coats =
        if material.kind == Kind::Mortar { (part.layer.thickness.0 / COAT_M - 1e-9).ceil().max(1.0) } else { 1.0 };
    Mix {
        section: part.section.name.clone(),
        layer: part.index + 1,
        material: material.key.clone(),
        title: material.title.clone(),
        kind: material.kind,
        volume_m3,
        dry: Kilograms(dry_kg),
        mixed: Kilograms(mixed_kg),
        water: [
            (decided * (1.0 - TRIM)).max(least).min(decided),
            decided,
            (decided * (1.0 + TRIM)).min(most).max(decided),
        ],
        batches: (mixed_kg / stock.batch.0 - 1e-9).ceil().max(1.0).max(coats).min(1e6) as u32,
        coats: coats as u32,
        bag: stock.bag,
        working_time: stock.working_time,
    }
}

pub(super) fn soak_of(part: &Part<'_>) -> Option<Soak> {
    let kg_m2 = part.section.make.layings[part.index].rigidiser_kg_m2?;
    let water_l = kg_m2 * part.section.shape.area_at(part.depth).0;
    let powder_l = water_l / RIGIDISER_WATER_PARTS;
    (water_l > 0.0).then(|| Soak {
        section: part.section.name.clone(),
        layer: part.index + 1,
        water_l,
        powder_l,
        powder: Kilograms(powder_l * RIGIDISER_POWDER_KG_L),
    })
}
