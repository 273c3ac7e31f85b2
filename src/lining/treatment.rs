//! What mixing, curing, fibres and thickness do to a layer's own copy of its material.

use std::sync::Arc;

use super::material::{Entry, Kind, Material};
use super::{Cure, WATER_KG_M3};
use crate::units::{Curve, CurveError, Metres, Seconds};

/// Factor on the permeability after a cure below 15 °C. Source: engineering rule from memory ("apply k / 3"), in the
/// direction that published tests found: pressures rise as the cure gets colder (Taikabutsu 40(5), 1988, abstract).
pub const COLD_CURE_PERMEABILITY_FACTOR: f64 = 1.0 / 3.0;

/// Factor on the strength after a cure below 15 °C. Source: the same rule, from memory.
pub const COLD_CURE_STRENGTH_FACTOR: f64 = 0.7;

/// Shortest cure that the sheets ask for. Source: makers' general sheets, at least 24 h damp.
pub const SHEET_CURE: Seconds = Seconds(86_400.0);

/// Factor on the strength when the cure was shorter than the sheets ask. An assumption of this project (no source): as weak
/// as after a cold cure.
pub const SHORT_CURE_STRENGTH_FACTOR: f64 = 0.7;

/// How far beyond the sheet's most water a mix counts as over-watered. Source: makers' general sheets, trim at most 10 %.
pub const WATER_TRIM: f64 = 1.1;

/// Factor on the strength of an over-watered mix. An assumption of this project (no source); that strength falls with water
/// is common knowledge of the trade.
pub const OVER_WATERED_STRENGTH_FACTOR: f64 = 0.75;

/// Polymer fibres melt at 160 to 170 °C (common values for polypropylene, from memory): below the first figure they change
/// nothing, above the second the permeability is multiplied.
pub const FIBRES_MELT_C: [f64; 2] = [160.0, 170.0];

/// Least share of the dry mass at which polymer fibres make connected channels. Source: 0.05 to 0.1 % typical, from memory.
pub const LEAST_FIBRES: f64 = 0.0005;

/// What was done to a layer before the first flame, beside its water.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Treatment {
    /// How it was cured.
    pub cure: Cure,
    /// How long it was kept damp.
    pub cure_time: Seconds,
    /// How the mix was watered.
    pub mix: Mix,
    /// Polymer fibres in it.
    pub fibres: Fibres,
    /// Thickness of the layer.
    pub thickness: Metres,
}

/// Whether a mix got the water of its sheet or more.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mix {
    /// As the sheet says, or drier.
    AsSheet,
    /// More: the mix water as a fraction of dry mass.
    OverWatered {
        /// Water over dry mass.
        water: f64,
    },
}

/// Whether a mix holds enough polymer fibres to open channels when they melt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fibres {
    /// None, or too few to count.
    None,
    /// Enough.
    Enough,
}

/// The material of one layer after its treatment; shared with the class when nothing changes.
///
/// # Errors
/// When a changed curve is not finite, which takes a class with absurd figures.
pub fn treated(entry: &Entry, treatment: &Treatment) -> Result<Arc<Material>, CurveError> {
    let mut material = Material::clone(&entry.material);
    set_bound_water(&mut material, entry, treatment.cure);
    if material.kind == Kind::Castable && treatment.cure == Cure::Cold {
        let shift = COLD_CURE_PERMEABILITY_FACTOR.log10();
        material.permeability_log10_m2 = material.permeability_log10_m2.map(|log10_m2| log10_m2 + shift)?;
        material.rupture_mpa *= COLD_CURE_STRENGTH_FACTOR;
    } else if material.kind == Kind::Castable && treatment.cure != Cure::Fired && treatment.cure_time < SHEET_CURE {
        material.rupture_mpa *= SHORT_CURE_STRENGTH_FACTOR;
    }
    if let Mix::OverWatered { water } = treatment.mix {
        over_water(&mut material, water);
    }
    if treatment.fibres == Fibres::Enough && treatment.cure != Cure::Fired {
        let log10_factor = entry.response.fibre_factor.max(1.0).log10();
        material.permeability_log10_m2 = with_melted_fibres(&material.permeability_log10_m2, log10_factor)?;
    }
    if let Some((below, ramp)) = entry.response.thin_coat
        && treatment.thickness < below
    {
        material.ramp_limit = ramp;
    }
    Ok(if material == *entry.material { Arc::clone(&entry.material) } else { Arc::new(material) })
}

fn set_bound_water(material: &mut Material, entry: &Entry, cure: Cure) {
    let [cold, warm] = entry.response.bound_water_factor;
    material.bound_water *= match cure {
        Cure::Cold => cold,
        Cure::Mixed => 1.0,
        Cure::Warm => warm,
        Cure::Fired => 0.0,
    };
}

/// Water above the sheet's usual leaves pores as large as itself. That they also let more steam through is not counted, to
/// stay on the safe side (wetter concretes had lower peaks in RILEM tests of 2011, by cracking). The dry density is left alone.
fn over_water(material: &mut Material, water: f64) {
    let extra = (water - material.mix_water[1]).max(0.0);
    material.porosity = (material.porosity + extra * material.density_kg_m3 / WATER_KG_M3).min(0.95);
    material.rupture_mpa *= OVER_WATERED_STRENGTH_FACTOR;
}

/// `material` with polymer fibres in it that multiply its permeability by `factor` once they have melted; `None` when it seems
/// to hold some already.
#[must_use]
pub fn with_fibres(material: &Material, factor: f64) -> Option<Arc<Material>> {
    /// No class without fibres opens up by as much within the few degrees in which they melt, decades.
    const OPENED: f64 = 0.25;
    let log10_m2 = &material.permeability_log10_m2;
    let [begin_c, end_c] = FIBRES_MELT_C;
    if log10_m2.at(end_c) - log10_m2.at(begin_c) > OPENED {
        return None;
    }
    let permeability_log10_m2 = with_melted_fibres(log10_m2, factor.max(1.0).log10()).ok()?;
    Some(Arc::new(Material { permeability_log10_m2, ..material.clone() }))
}

/// `log10_m2` raised by `log10_factor` above the melting range of the fibres.
fn with_melted_fibres(log10_m2: &Curve, log10_factor: f64) -> Result<Curve, CurveError> {
    let [begin_c, end_c] = FIBRES_MELT_C;
    let below = log10_m2.points().iter().copied().filter(|point| point.0 < begin_c);
    let above = log10_m2.points().iter().copied().filter(|point| point.0 > end_c);
    let melting = [(begin_c, log10_m2.at(begin_c)), (end_c, log10_m2.at(end_c) + log10_factor)];
    Curve::new(below.chain(melting).chain(above.map(|(temp_c, y)| (temp_c, y + log10_factor))).collect())
}
