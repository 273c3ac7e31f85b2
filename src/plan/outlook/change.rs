//! Alternatives to a lining: a reflecting coat, one more blanket, a hard face.

use std::sync::Arc;

use crate::lining::make::{Laying, Size, USUAL_COMPRESSION, USUAL_TRIM, usual_plies};
use crate::lining::material::{Entry, Kind, Materials};
use crate::lining::{Cure, Layer, Lining, Section, Shape, Water};
use crate::units::quantity::{Shown, UnitSystem};
use crate::units::{Metres, Seconds};

/// Class of an infrared-reflecting coat.
const COAT: &str = "infrared-coat";
/// Thickness of an infrared-reflecting coat. Common practice, no source: brushed on like paint, twice.
const COAT_THICKNESS: Metres = Metres(0.0005);
/// Class of the blanket that is added where the lining has none.
const BLANKET: &str = "fibre-blanket-128";
/// Least bore that a hard face may leave.
pub const LEAST_BORE: Metres = Metres(0.04);

/// A hard face by its class and thickness.
#[derive(Clone, Debug, PartialEq)]
pub struct HardFace {
    /// Key of the class.
    pub material: String,
    /// Thickness.
    pub thickness: Metres,
}

/// What is done to a lining to compare it with itself.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// An infrared-reflecting coat on every hot face.
    Coat,
    /// One more blanket behind the last layer of every section that has fibre. The bore stays and the shell grows.
    Blanket(Metres),
    /// A cast hard face where fibre or mortar meets the fire. The shell stays and the bore shrinks.
    HardFace(HardFace),
}

/// `lining` after `change`, named after it in `units`; `None` when the change has no place in it, or its material is not known.
#[must_use]
pub fn changed(lining: &Lining, change: &Change, units: UnitSystem) -> Option<Lining> {
    let mut other = lining.clone();
    let mut places = 0;
    for section in &mut other.sections {
        let done = match change {
            Change::Coat => line_inside(section, COAT, COAT_THICKNESS),
            Change::Blanket(thickness) => add_blanket(section, *thickness),
            Change::HardFace(face) => add_hard_face(section, face),
        };
        places += usize::from(done.is_some());
    }
    other.name = format!("{} + {}", lining.name, words(change, units));
    (places > 0).then_some(other)
}

fn words(change: &Change, units: UnitSystem) -> String {
    match change {
        Change::Coat => "reflecting coat".to_owned(),
        Change::Blanket(thickness) => format!("{} more blanket", thickness.shown(units)),
        Change::HardFace(face) => format!("{} {}", face.thickness.shown(units), face.material),
    }
}

fn add_blanket(section: &mut Section, thickness: Metres) -> Option<()> {
    section.layers.iter().any(|layer| layer.material.kind == Kind::Fibre).then_some(())?;
    let entry = Materials::built_in().get(BLANKET)?;
    section.layers.push(fresh(entry, thickness));
    section.make.layings.push(laying(thickness));
    Some(())
}

/// A mortar coat gives way to the hard face; on fibre it goes on top.
fn add_hard_face(section: &mut Section, face: &HardFace) -> Option<()> {
    let first = section.layers.first()?;
    let is_mortar = first.material.kind == Kind::Mortar;
    if !is_mortar && first.material.kind != Kind::Fibre {
        return None;
    }
    if is_mortar && section.layers.len() > 1 {
        let coat_m = first.thickness.0;
        widen(section, 2.0 * coat_m);
        section.layers.remove(0);
        section.make.layings.remove(0);
    }
    line_inside(section, &face.material, face.thickness)
}

/// One more layer towards the fire.
fn line_inside(section: &mut Section, key: &str, thickness: Metres) -> Option<()> {
    let entry = Materials::built_in().get(key)?;
    if let Shape::Barrel { bore, .. } = section.shape
        && bore.0 - 2.0 * thickness.0 < LEAST_BORE.0
    {
        return None;
    }
    widen(section, -2.0 * thickness.0);
    if let Size::InBore { level, .. } = &mut section.make.size {
        level.0 += thickness.0;
    }
    section.layers.insert(0, fresh(entry, thickness));
    section.make.layings.insert(0, laying(thickness));
    Some(())
}

/// Changes the bore of a round section; flat ones stay as they are.
fn widen(section: &mut Section, by_m: f64) {
    if let Shape::Barrel { bore, .. } = &mut section.shape {
        bore.0 += by_m;
    }
}

/// A layer as its class usually is: the water of its sheet, cured at 15 to 25 °C.
fn fresh(entry: &Entry, thickness: Metres) -> Layer {
    let material = Arc::clone(&entry.material);
    let is_mixed = material.kind.is_mixed_with_water();
    let water = Water {
        mix_fraction: if is_mixed { material.mix_water[1] } else { 0.0 },
        cure: if is_mixed { Cure::Mixed } else { Cure::Fired },
        air_dried: Seconds(0.0),
    };
    Layer { material, thickness, water }
}

fn laying(thickness: Metres) -> Laying {
    Laying { plies: usual_plies(thickness), compression: USUAL_COMPRESSION, trim: USUAL_TRIM, rigidiser_kg_m2: None }
}
