//! Reads the layers of a section: which material, how thick, how wet, how cured and dried.

use std::iter;

use super::fields::{Asked, Fields, Placed, unknown_word};
use super::make::{GivenLaying, laying_of, read_laying};
use super::materials::read_derived;
use super::refusal::{Fault, Refused};
use crate::lining::make::Laying;
use crate::lining::material::{Entry, Kind, Materials};
use crate::lining::treatment::{Fibres, LEAST_FIBRES, Mix, SHEET_CURE, Treatment, WATER_TRIM, treated};
use crate::lining::{Cure, Layer, Shape, WATER_KG_M3, Water};
use crate::units::quantity::{AREA_DENSITY, LENGTH, SHARE, TEMPERATURE, TIME};
use crate::units::{Metres, Seconds};

/// Cure temperatures between which neither the cold nor the warm hydrates prevail, °C. Source: hydrates of aluminate cement,
/// from memory: CAH10 forms below about 21 °C, C3AH6 is the stable phase from 20 °C on; the bands are this project's choice.
const MIXED_CURE_C: [f64; 2] = [15.0, 25.0];

/// Water of an over-watered layer whose amount is not known, over the sheet's most. This project's choice: twice the trim
/// that the sheets allow.
const UNKNOWN_EXCESS: f64 = 1.2;

const DAY_S: f64 = 86_400.0;

const THICKNESS: Asked = Asked {
    key: "thickness",
    measure: &LENGTH,
    least: 5e-5,
    most: 0.5,
    range: "a thickness above 0.05 mm and up to 500 mm",
};
const MIX_WATER: Asked = Asked {
    key: "mix-water",
    measure: &SHARE,
    least: 0.0,
    most: 12.0,
    range: "water from 0 % to what the pores hold, as a share of dry mass",
};
const SOAKED_WATER: Asked = Asked { key: "soaked-water", ..MIX_WATER };
const RIGIDISER: Asked =
    Asked { key: "rigidiser", measure: &AREA_DENSITY, least: 0.0, most: 20.0, range: "rigidiser from 0 to 20 L/m2" };
const CURE_TEMPERATURE: Asked = Asked {
    key: "cure-temperature",
    measure: &TEMPERATURE,
    least: 1.0,
    most: 90.0,
    range: "a cure from 1 C (a wet lining that froze is spoilt) to 90 C",
};
const CURE_TIME: Asked =
    Asked { key: "cure-time", measure: &TIME, least: 0.0, most: 60.0 * DAY_S, range: "a time from 0 to 60 days" };
const AIR_DRIED: Asked =
    Asked { key: "air-dried", measure: &TIME, least: 0.0, most: 1000.0 * DAY_S, range: "a time from 0 to 1000 days" };
const POLYMER_FIBRES: Asked = Asked {
    key: "polymer-fibres",
    measure: &SHARE,
    least: 0.0,
    most: 0.01,
    range: "fibres from 0 % to 1 % of dry mass",
};

const CURES: &[(&str, Cure)] =
    &[("cold", Cure::Cold), ("mixed", Cure::Mixed), ("warm", Cure::Warm), ("fired", Cure::Fired)];

/// All classes of material that a lining file may use.
pub(super) struct Classes<'m> {
    derived: Result<Vec<Entry>, Refused>,
    names_here: Vec<String>,
    known: &'m Materials,
}

impl<'m> Classes<'m> {
    pub fn new(top: &Fields<'_>, known: &'m Materials) -> Self {
        let tables = top.table("material").ok().flatten();
        let names_here = tables.iter().flat_map(Fields::names).map(|(name, _)| name.to_owned()).collect();
        Self { derived: read_derived(top, known), names_here, known }
    }

    pub fn get(&self, key: &str) -> Result<Option<&Entry>, Refused> {
        if self.names_here.iter().any(|name| name == key) {
            let derived = self.derived.as_ref().map_err(|refused| *refused)?;
            return Ok(derived.iter().find(|entry| entry.material.key == key));
        }
        Ok(self.known.get(key))
    }

    pub fn keys(&self) -> impl Iterator<Item = &str> + Clone {
        let keys: Vec<&str> = self.names_here.iter().map(String::as_str).chain(self.known.keys()).collect();
        keys.into_iter()
    }
}

/// A layer, and the water on each square metre of its face (rigidiser) that has still to be spread through it, kg/m².
pub(super) struct Built {
    pub layer: Layer,
    pub laying: Laying,
    face_water_kg_m2: Option<f64>,
}

/// Spreads rigidiser through its layers, whose volume follows from the shape: a barrel grows outwards.
pub(super) fn wetted(built: Vec<Built>, shape: &Shape) -> Vec<Layer> {
    let mut depth = Metres(0.0);
    let wet = built.into_iter().map(|Built { mut layer, face_water_kg_m2, .. }| {
        let outer = Metres(depth.0 + layer.thickness.0);
        if let Some(water_kg_m2) = face_water_kg_m2 {
            let dry_kg = layer.material.density_kg_m3 * shape.volume_m3(depth, outer);
            layer.water.mix_fraction = water_kg_m2 * shape.area_at(depth).0 / dry_kg;
        }
        depth = outer;
        layer
    });
    wet.collect()
}

/// Layers of a section from the hot face outwards; at least one.
pub(super) fn read_layers(section: &Fields<'_>, classes: &Classes<'_>) -> Result<Vec<Built>, Refused> {
    let tables = section.tables("layer")?;
    if tables.is_empty() {
        return Err(section.missing("layer", "at least one layer, hot face first", "[[section.layer]]"));
    }
    let layers: Vec<_> = tables.iter().map(|fields| read_layer(fields, classes)).collect();
    layers.into_iter().collect()
}

fn read_layer(fields: &Fields<'_>, classes: &Classes<'_>) -> Result<Built, Refused> {
    let thickness = fields.needed(&THICKNESS);
    let entry = read_class(fields, classes);
    let given = Given {
        mix_water: fields.quantity(&MIX_WATER),
        soaked_water: fields.quantity(&SOAKED_WATER),
        rigidiser: fields.quantity(&RIGIDISER),
        cure: read_cure(fields),
        cure_time: fields.quantity(&CURE_TIME),
        air_dried: fields.quantity_or(&AIR_DRIED, 0.0),
        over_watered: fields.truth("over-watered"),
        fibres: read_fibres(fields),
    };
    let laying = read_laying(fields);
    fields.finish();
    build_layer(fields, (entry?, Metres(thickness?.value)), &given, &laying)
}

/// What a layer's table says beside material and thickness.
struct Given {
    mix_water: Result<Option<Placed<f64>>, Refused>,
    soaked_water: Result<Option<Placed<f64>>, Refused>,
    rigidiser: Result<Option<Placed<f64>>, Refused>,
    cure: Result<Option<Cure>, Refused>,
    cure_time: Result<Option<Placed<f64>>, Refused>,
    air_dried: Result<f64, Refused>,
    over_watered: Result<Option<bool>, Refused>,
    fibres: Result<Option<Fibres>, Refused>,
}

fn read_class<'c>(fields: &Fields<'_>, classes: &'c Classes<'_>) -> Result<&'c Entry, Refused> {
    let name = fields.needed_text("material", "a class of material", "\"dense-castable\"")?;
    match classes.get(name.value)? {
        Some(entry) => Ok(entry),
        None => Err(fields.refuse_at(&name, unknown_word(name.value, classes.keys()))),
    }
}

/// The cure in a word, or from its temperature.
fn read_cure(fields: &Fields<'_>) -> Result<Option<Cure>, Refused> {
    let (word, temp) = (fields.word("cure", CURES), fields.quantity(&CURE_TEMPERATURE));
    match (word?, temp?) {
        (Some(_), Some(temp)) => {
            Err(fields.refuse_at(&temp, Fault::Both { first: "cure", second: "cure-temperature" }))
        }
        (Some(word), None) => Ok(Some(word.value)),
        (None, Some(temp)) => Ok(Some(cure_at(temp.value))),
        (None, None) => Ok(None),
    }
}

fn cure_at(temp_c: f64) -> Cure {
    match temp_c {
        cold if cold < MIXED_CURE_C[0] => Cure::Cold,
        warm if warm > MIXED_CURE_C[1] => Cure::Warm,
        _ => Cure::Mixed,
    }
}

/// Polymer fibres as a share of dry mass, or just whether there are any.
fn read_fibres(fields: &Fields<'_>) -> Result<Option<Fibres>, Refused> {
    let Some(value) = fields.raw(POLYMER_FIBRES.key) else { return Ok(None) };
    if value.get_ref().is_bool() {
        let there = fields.truth(POLYMER_FIBRES.key)?;
        return Ok(there.map(|there| if there { Fibres::Enough } else { Fibres::None }));
    }
    let share = fields.quantity_in(value, fields.key_of(POLYMER_FIBRES.key), &POLYMER_FIBRES)?;
    Ok(Some(if share.value >= LEAST_FIBRES { Fibres::Enough } else { Fibres::None }))
}

fn build_layer(
    fields: &Fields<'_>,
    (entry, thickness): (&Entry, Metres),
    given: &Given,
    laying: &GivenLaying,
) -> Result<Built, Refused> {
    check_places(fields, entry, given)?;
    let usual_cure = if matches!(entry.material.kind, Kind::Fibre | Kind::Brick) { Cure::Fired } else { Cure::Mixed };
    let cure = given.cure?.unwrap_or(usual_cure);
    let mix = read_mix(fields, (entry, thickness), given, cure)?;
    let cure_time = given.cure_time.as_ref().map_err(|refused| *refused)?;
    let treatment = Treatment {
        cure,
        cure_time: cure_time.as_ref().map_or(SHEET_CURE, |time| Seconds(time.value)),
        mix: mix.mix,
        fibres: given.fibres?.unwrap_or(Fibres::None),
        thickness,
    };
    let material = treated(entry, &treatment).map_err(|error| fields.refuse("material", error.into()))?;
    let water = Water { mix_fraction: mix.fraction, cure, air_dried: Seconds(given.air_dried?) };
    let layer = Layer { material, thickness, water };
    let laying = laying_of(fields, laying, &layer, mix.face_water_kg_m2)?;
    Ok(Built { layer, laying, face_water_kg_m2: mix.face_water_kg_m2 })
}

/// Refuses entries that mean nothing for this material.
fn check_places(fields: &Fields<'_>, entry: &Entry, given: &Given) -> Result<(), Refused> {
    let material = &entry.material;
    let (mixed, fired) = (material.kind.is_mixed_with_water(), given.cure == Ok(Some(Cure::Fired)));
    let only_soaking = "materials that soak water up (brick, board, fibre, anything fired before)";
    let only_mixed = "materials mixed with water (castable, mortar, plastic), not yet fired";
    let curable = mixed || fired;
    let rules = [
        ("mix-water", mixed && !fired, only_mixed, ", or give `soaked-water`"),
        ("over-watered", mixed && !fired, only_mixed, ", or give `soaked-water`"),
        ("soaked-water", !mixed || fired, only_soaking, ", or give `mix-water`"),
        ("rigidiser", material.kind == Kind::Fibre, "fibre", ""),
        ("polymer-fibres", material.kind == Kind::Castable && !fired, "castables, not yet fired", ""),
        ("cure", curable, only_mixed, ""),
        ("cure-temperature", mixed, only_mixed, ""),
        ("cure-time", mixed && !fired, only_mixed, ""),
    ];
    let mut all_well = Ok(());
    for (key, allowed, only_for, instead) in rules {
        if fields.has(key) && !allowed {
            let what = if fired { format!("fired {}", material.key) } else { material.key.clone() };
            all_well = Err(fields.refuse(key, Fault::OutOfPlace { key, what, only_for, instead }));
        }
    }
    all_well
}

/// The water of a layer as a fraction of dry mass, and whether that is more than the sheet says.
struct MixWater {
    fraction: f64,
    mix: Mix,
    /// Of that, what came as so much on each square metre.
    face_water_kg_m2: Option<f64>,
}

fn read_mix(fields: &Fields<'_>, layer: (&Entry, Metres), given: &Given, cure: Cure) -> Result<MixWater, Refused> {
    let (entry, thickness) = layer;
    let material = &entry.material;
    let mix_water = given.mix_water.as_ref().map_err(|refused| *refused)?.as_ref();
    let soaked = given.soaked_water.as_ref().map_err(|refused| *refused)?.as_ref();
    if !material.kind.is_mixed_with_water() || cure == Cure::Fired {
        return read_soaked(
            fields,
            entry,
            (soaked, given.rigidiser.as_ref().map_err(|refused| *refused)?.as_ref()),
            thickness,
        );
    }
    let over_watered = given.over_watered?.unwrap_or(false);
    let [_, usual, most] = material.mix_water;
    let fraction = match mix_water {
        Some(water) => check_wetness(fields, entry, water)?,
        None if over_watered => most * UNKNOWN_EXCESS,
        None => usual,
    };
    let over = over_watered || fraction > most * WATER_TRIM;
    let mix = if over { Mix::OverWatered { water: fraction } } else { Mix::AsSheet };
    Ok(MixWater { fraction, mix, face_water_kg_m2: None })
}

/// Water that a dry material took up: given as such, as rigidiser on its face, or as its class usually gets.
fn read_soaked(
    fields: &Fields<'_>,
    entry: &Entry,
    given: (Option<&Placed<f64>>, Option<&Placed<f64>>),
    thickness: Metres,
) -> Result<MixWater, Refused> {
    let dry_kg_m2 = entry.material.density_kg_m3 * thickness.0;
    let (fraction, face_water_kg_m2) = match given {
        (Some(_), Some(rigidiser)) => {
            return Err(fields.refuse_at(rigidiser, Fault::Both { first: "soaked-water", second: "rigidiser" }));
        }
        (Some(soaked), None) => (check_wetness(fields, entry, soaked)?, None),
        (None, Some(rigidiser)) => {
            let water = Placed { value: rigidiser.value / dry_kg_m2, ..rigidiser.clone() };
            (check_wetness(fields, entry, &water)?, Some(rigidiser.value))
        }
        (None, None) => match entry.response.water_kg_m2 {
            Some(water_kg_m2) => (water_kg_m2 / dry_kg_m2, Some(water_kg_m2)),
            None => (0.0, None),
        },
    };
    Ok(MixWater { fraction, mix: Mix::AsSheet, face_water_kg_m2 })
}

/// The most water an entry may claim, as a fraction of dry mass: pores full and the binder served, or a quarter above the sheet.
fn most_water(entry: &Entry) -> f64 {
    let material = &entry.material;
    let pores = material.porosity * WATER_KG_M3 / material.density_kg_m3;
    let bound = if material.kind.is_mixed_with_water() { material.bound_water } else { 0.0 };
    let sheet = material.mix_water[2] * 1.25;
    iter::once(pores + bound).chain(material.kind.is_mixed_with_water().then_some(sheet)).fold(0.0, f64::max)
}

fn check_wetness(fields: &Fields<'_>, entry: &Entry, water: &Placed<f64>) -> Result<f64, Refused> {
    let material = &entry.material;
    let most = most_water(entry);
    if water.value <= most {
        return Ok(water.value);
    }
    let [least, usual, sheet_most] = material.mix_water;
    let fault = Fault::TooWet {
        found: fields.written(water),
        most_percent: most * 100.0,
        material: material.key.clone(),
        sheet: format!("{:.1} to {:.1} %", least * 100.0, sheet_most * 100.0),
        usual_percent: usual * 100.0,
    };
    Err(fields.refuse_at(water, fault))
}
