//! Reads classes of material: those of a materials file, and those that a lining file derives from them.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use toml::Spanned;
use toml::de::DeValue;

use super::fields::{Asked, Fields, plain_number, unknown_word};
use super::refusal::{Fault, Refused};
use crate::lining::material::{Dehydration, Entry, Kind, Material, Materials, NO_RAMP_LIMIT, Response};
use crate::units::quantity::{
    AREA_DENSITY, CONDUCTIVITY, DECADES, DENSITY, EXPANSION, HEAT_CAPACITY, LENGTH, Measure, PERMEABILITY, RAMP, SHARE,
    SPECIFIC_HEAT, STIFFNESS, STRENGTH, TEMPERATURE, TIME,
};
use crate::units::{Celsius, Curve, KelvinPerHour, Metres};

macro_rules! asked {
    ($($name:ident = $key:literal, $measure:expr, $least:expr, $most:expr, $range:literal;)*) => {
        $(const $name: Asked =
            Asked { key: $key, measure: &$measure, least: $least, most: $most, range: $range };)*
    };
}

asked! {
    DRY_DENSITY = "density", DENSITY, 20.0, 8000.0, "a density from 20 to 8000 kg/m3";
    DRY_CONDUCTIVITY = "conductivity", CONDUCTIVITY, 0.01, 100.0, "a conductivity from 0.01 to 100 W/mK";
    WET_CONDUCTIVITY = "wet-conductivity", CONDUCTIVITY, 0.0, 5.0, "a conductivity from 0 to 5 W/mK";
    SOLID_HEAT_CAPACITY = "heat-capacity", HEAT_CAPACITY, 300.0, 3000.0, "a specific heat from 300 to 3000 J/kgK";
    POROSITY = "porosity", SHARE, 0.0, 0.99, "a porosity from 0 to 99 %";
    MIX_LEAST = "least", SHARE, 0.0, 12.0, "water from 0 to 1200 % of dry mass";
    MIX_USUAL = "usual", SHARE, 0.0, 12.0, "water from 0 to 1200 % of dry mass";
    MIX_MOST = "most", SHARE, 0.0, 12.0, "water from 0 to 1200 % of dry mass";
    MIX_WATER = "mix-water", SHARE, 0.0, 12.0, "water from 0 to 1200 % of dry mass";
    BOUND_WATER = "bound-water", SHARE, 0.0, 0.3, "bound water from 0 to 30 % of dry mass";
    GAS_PERMEABILITY = "permeability", PERMEABILITY, 1e-22, 1e-6, "a permeability from 1e-22 to 1e-6 m2";
    PERMEABILITY_SPREAD = "permeability-spread", DECADES, 0.0, 2.0, "a spread from 0 to 2 decades";
    RUPTURE = "rupture", STRENGTH, 0.0, 100.0, "a modulus of rupture from 0 to 100 MPa";
    STRENGTH_SPREAD = "strength-spread", SHARE, 0.0, 1.0, "a spread from 0 to 100 %";
    YOUNGS = "youngs-modulus", STIFFNESS, 0.0, 400.0, "a stiffness from 0 to 400 GPa";
    THERMAL_EXPANSION = "expansion", EXPANSION, 0.0, 5e-5, "an expansion from 0 to 5e-5 1/K";
    SERVICE_LIMIT = "service-limit", TEMPERATURE, 200.0, 2500.0, "a temperature from 200 to 2500 C";
    RAMP_LIMIT = "ramp-limit", RAMP, 1.0, 5000.0, "a ramp from 1 to 5000 C/h, or \"none\"";
    THIN_BELOW = "below", LENGTH, 0.0001, 0.05, "a thickness from 0.1 to 50 mm";
    WATER_PER_AREA = "water-per-area", AREA_DENSITY, 0.0, 20.0, "water from 0 to 20 L/m2";
    BINDER_HEAT = "heat", SPECIFIC_HEAT, 0.0, 5e6, "a heat from 0 to 5 MJ/kg";
    BINDER_TIME = "time", TIME, 1.0, 1e5, "a time from 1 s to 1 day";
}

const KINDS: &[(&str, Kind)] = &[
    ("fibre", Kind::Fibre),
    ("mortar", Kind::Mortar),
    ("castable", Kind::Castable),
    ("plastic", Kind::Plastic),
    ("brick", Kind::Brick),
    ("board", Kind::Board),
];

const POINTS_EXAMPLE: &str = "[[20, 1.0], [400, 1.1]] with the temperature in C first";
const FIGURE_EXAMPLE: &str = "value = \"...\"";

/// Whether every figure must say where it is from.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Sourcing {
    /// In a materials file.
    Needed,
    /// In a lining file, where the builder is the source.
    Builder,
}

/// Source given to figures that a lining file changes.
const BUILDER: &str = "the builder's lining file";

/// How many materials may start from one another in a row.
const MOST_STEPS: usize = 10;

/// A binder: how it holds water and lets it go.
struct Binder {
    dehydration: Dehydration,
    bound_water_factor: [f64; 2],
    source: String,
}

/// Reads the whole materials file from its top table.
pub(super) fn read_file(top: &Fields<'_>) -> Result<Materials, Refused> {
    let binders = read_binders(top);
    let derived = top.table("material")?;
    let Some(tables) = derived else {
        return Err(top.missing("material", "at least one material", "[material.my-mix]"));
    };
    let binders = binders?;
    let book = Book::new(&tables, None, &binders, Sourcing::Needed);
    let entries = book.entries();
    entries.map(Materials::new)
}

/// Reads the materials that a lining file derives from `known`.
pub(super) fn read_derived(top: &Fields<'_>, known: &Materials) -> Result<Vec<Entry>, Refused> {
    let Some(tables) = top.table("material")? else { return Ok(Vec::new()) };
    let binders = BTreeMap::new();
    let book = Book::new(&tables, Some(known), &binders, Sourcing::Builder);
    book.entries()
}

/// Keys of a table in the order of the file.
fn in_order<'t>(fields: &Fields<'t>) -> Vec<&'t str> {
    let mut names: Vec<(&str, Range<usize>)> = fields.names().collect();
    names.sort_by_key(|(_, span)| span.start);
    names.into_iter().map(|(name, _)| name).collect()
}

fn read_binders(top: &Fields<'_>) -> Result<BTreeMap<String, Binder>, Refused> {
    let mut binders = BTreeMap::new();
    let Some(tables) = top.table("binder")? else { return Ok(binders) };
    let mut all_well = Ok(());
    for name in in_order(&tables) {
        match tables.table_named(name).and_then(|fields| read_binder(&fields)) {
            Ok(binder) => {
                binders.insert(name.to_owned(), binder);
            }
            Err(refused) => all_well = Err(refused),
        }
    }
    all_well.map(|()| binders)
}

fn read_binder(fields: &Fields<'_>) -> Result<Binder, Refused> {
    let curve = |name| needed_points(fields, name, &|y| (0.0..=1.0).contains(&y).then_some(y), "shares from 0 to 1");
    let (cold, mixed, warm) = (curve("cold"), curve("mixed"), curve("warm"));
    let heat_j_kg = fields.needed(&BINDER_HEAT);
    let time_s = fields.needed(&BINDER_TIME);
    let factor = |name| fields.number(name, 5.0, "a factor from 0 to 5").map(|number| number.map_or(1.0, |n| n.value));
    let (cold_factor, warm_factor) = (factor("bound-water-cold"), factor("bound-water-warm"));
    let source = fields.needed_text("source", "where the figures are from", "\"memory\"");
    fields.finish();
    Ok(Binder {
        dehydration: Dehydration {
            cold: cold?,
            mixed: mixed?,
            warm: warm?,
            heat_j_kg: heat_j_kg?.value,
            time_s: time_s?.value,
        },
        bound_water_factor: [cold_factor?, warm_factor?],
        source: source?.value.to_owned(),
    })
}

fn needed_points(
    fields: &Fields<'_>,
    name: &'static str,
    convert: &dyn Fn(f64) -> Option<f64>,
    range: &'static str,
) -> Result<Curve, Refused> {
    let Some(value) = fields.raw(name) else { return Err(fields.missing(name, "a list of points", POINTS_EXAMPLE)) };
    read_points(fields, name, value, (convert, range))
}

/// A curve from pairs of temperature in °C and a number that `rule` converts, or refuses in the words beside it.
fn read_points(
    fields: &Fields<'_>,
    name: &'static str,
    value: &Spanned<DeValue<'_>>,
    rule: (&dyn Fn(f64) -> Option<f64>, &'static str),
) -> Result<Curve, Refused> {
    let wrong = |found: String| {
        let (expected, example) = ("a list of pairs of numbers".to_owned(), POINTS_EXAMPLE.to_owned());
        fields.refuse(name, Fault::WrongType { found, expected, example })
    };
    let DeValue::Array(items) = value.get_ref() else { return Err(wrong("something else".to_owned())) };
    let mut points = Vec::new();
    for (index, item) in items.iter().enumerate() {
        let pair = match item.get_ref() {
            DeValue::Array(pair) if pair.len() == 2 => {
                (plain_number(pair[0].get_ref()), plain_number(pair[1].get_ref()))
            }
            _ => (None, None),
        };
        let (Some(temp_c), Some(number)) = pair else {
            return Err(wrong(format!("something else as point {}", index + 1)));
        };
        let converted = rule.0(number).filter(|y| y.is_finite());
        let Some(y) = converted.filter(|_| (-50.0..=3000.0).contains(&temp_c)) else {
            let found = format!("[{temp_c}, {number}] as point {}", index + 1);
            return Err(fields.refuse(name, Fault::OutOfRange { found, range: rule.1 }));
        };
        points.push((temp_c, y));
    }
    Curve::new(points).map_err(|error| fields.refuse(name, error.into()))
}

/// Materials of one file, resolved in any order because one may start from another.
struct Book<'b, 't> {
    tables: &'b Fields<'t>,
    known: Option<&'b Materials>,
    binders: &'b BTreeMap<String, Binder>,
    sourcing: Sourcing,
    resolved: RefCell<BTreeMap<String, Result<Entry, Refused>>>,
}

impl<'b, 't> Book<'b, 't> {
    fn new(
        tables: &'b Fields<'t>,
        known: Option<&'b Materials>,
        binders: &'b BTreeMap<String, Binder>,
        sourcing: Sourcing,
    ) -> Self {
        Self { tables, known, binders, sourcing, resolved: RefCell::new(BTreeMap::new()) }
    }

    /// All materials in the order of the file.
    fn entries(&self) -> Result<Vec<Entry>, Refused> {
        let resolved: Vec<_> = in_order(self.tables).into_iter().map(|name| self.resolve(name, &[])).collect();
        resolved.into_iter().collect()
    }

    /// The material `name`, on the way from those `above` that start from it.
    fn resolve(&self, name: &str, above: &[&str]) -> Result<Entry, Refused> {
        if let Some(done) = self.resolved.borrow().get(name) {
            return done.clone();
        }
        let entry = self.read(name, above);
        self.resolved.borrow_mut().insert(name.to_owned(), entry.clone());
        entry
    }

    fn read(&self, name: &str, above: &[&str]) -> Result<Entry, Refused> {
        let fields = self.tables.table_named(name)?;
        let base = self.base(name, &fields, above)?;
        let figures =
            Figures { fields: &fields, base: base.as_ref(), sourcing: self.sourcing, sources: RefCell::default() };
        let entry = figures.entry(name, self.binders);
        fields.finish();
        entry
    }

    /// What the material `name` starts from.
    fn base(&self, name: &str, fields: &Fields<'_>, above: &[&str]) -> Result<Option<Entry>, Refused> {
        let Some(like) = fields.text("like", "\"dense-castable\"")? else {
            if self.sourcing == Sourcing::Builder {
                return Err(fields.missing(
                    "like",
                    "the class of material it starts from",
                    "like = \"dense-castable\"",
                ));
            }
            return Ok(None);
        };
        let shipped = self.known.and_then(|known| known.get(like.value));
        let here: Vec<&str> = self.tables.names().map(|(name, _)| name).filter(|other| *other != name).collect();
        if above.len() >= MOST_STEPS {
            return Err(fields.refuse_at(&like, Fault::TooManySteps { most: MOST_STEPS }));
        }
        if above.contains(&like.value) || (like.value == name && shipped.is_none()) {
            return Err(fields.refuse_at(&like, Fault::Circle { like: like.value.to_owned() }));
        }
        if here.contains(&like.value) {
            return self.resolve(like.value, &[above, &[name]].concat()).map(Some);
        }
        if let Some(entry) = shipped {
            return Ok(Some(entry.clone()));
        }
        let known = self.known.into_iter().flat_map(Materials::keys).chain(here);
        let fault = unknown_word(like.value, known.collect::<Vec<_>>().into_iter());
        Err(fields.refuse_at(&like, fault))
    }
}

/// The figures of one material, taken from its table or else from what it starts from.
struct Figures<'f, 't> {
    fields: &'f Fields<'t>,
    base: Option<&'f Entry>,
    sourcing: Sourcing,
    sources: RefCell<BTreeMap<String, String>>,
}

impl<'t> Figures<'_, 't> {
    fn entry(&self, key: &str, binders: &BTreeMap<String, Binder>) -> Result<Entry, Refused> {
        let binder = self.binder(binders);
        let material = self.material(key, binder);
        let response = self.response(binder);
        let mut sources = self.base.map_or_else(BTreeMap::new, |base| base.sources.clone());
        sources.append(&mut self.sources.borrow_mut());
        Ok(Entry { material: Arc::new(material?), response: response?, sources })
    }

    fn material(&self, key: &str, binder: Result<Option<&Binder>, Refused>) -> Result<Material, Refused> {
        let of = |figure: fn(&Material) -> f64| self.base.map(|base| figure(&base.material));
        let curve_of = |curve: fn(&Material) -> &Curve| self.base.map(|base| curve(&base.material).clone());
        let (title, kind) = (self.title(key), self.kind());
        let density = self.value(&DRY_DENSITY, of(|m| m.density_kg_m3));
        let conductivity = self.curve(&DRY_CONDUCTIVITY, curve_of(|m| &m.conductivity_w_mk));
        let wet_conductivity = self.value(&WET_CONDUCTIVITY, of(|m| m.wet_conductivity_w_mk));
        let heat_capacity = self.curve(&SOLID_HEAT_CAPACITY, curve_of(|m| &m.heat_capacity_j_kgk));
        let porosity = self.value(&POROSITY, of(|m| m.porosity));
        let mix_water = self.mix_water();
        let bound_water = self.value(&BOUND_WATER, of(|m| m.bound_water));
        let dehydration = binder.and_then(|binder| self.dehydration(binder));
        let permeability = self.permeability();
        let permeability_spread = self.value(&PERMEABILITY_SPREAD, of(|m| m.permeability_spread));
        let rupture = self.value(&RUPTURE, of(|m| m.rupture_mpa));
        let rupture_factor = self.factors("rupture-factor", curve_of(|m| &m.rupture_factor));
        let strength_spread = self.value(&STRENGTH_SPREAD, of(|m| m.strength_spread));
        let youngs = self.value(&YOUNGS, of(|m| m.youngs_gpa));
        let expansion = self.value(&THERMAL_EXPANSION, of(|m| m.expansion_per_k));
        let emissivity = self.number("emissivity", (1.0, "an emissivity from 0 to 1"), of(|m| m.emissivity));
        let service_limit = self.value(&SERVICE_LIMIT, of(|m| m.service_limit.0));
        let ramp_limit = self.ramp_limit();
        Ok(Material {
            key: key.to_owned(),
            title: title?,
            kind: kind?,
            density_kg_m3: density?,
            conductivity_w_mk: conductivity?,
            wet_conductivity_w_mk: wet_conductivity?,
            heat_capacity_j_kgk: heat_capacity?,
            porosity: porosity?,
            mix_water: mix_water?,
            bound_water: bound_water?,
            dehydration: dehydration?,
            permeability_log10_m2: permeability?,
            permeability_spread: permeability_spread?,
            rupture_mpa: rupture?,
            rupture_factor: rupture_factor?,
            strength_spread: strength_spread?,
            youngs_gpa: youngs?,
            expansion_per_k: expansion?,
            emissivity: emissivity?,
            service_limit: Celsius(service_limit?),
            ramp_limit: ramp_limit?,
        })
    }

    fn response(&self, binder: Result<Option<&Binder>, Refused>) -> Result<Response, Refused> {
        let base = self.base.map(|base| base.response);
        let fibre_factor = self.number(
            "fibre-factor",
            (1000.0, "a factor from 0 to 1000"),
            Some(base.map_or(1.0, |base| base.fibre_factor)),
        );
        let thin_coat = self.thin_coat(base.and_then(|base| base.thin_coat));
        let water = if self.fields.has(WATER_PER_AREA.key) {
            self.value(&WATER_PER_AREA, None).map(Some)
        } else {
            Ok(base.and_then(|base| base.water_kg_m2))
        };
        let bound_water_factor = binder?
            .map(|binder| binder.bound_water_factor)
            .or(base.map(|base| base.bound_water_factor))
            .unwrap_or([1.0; 2]);
        Ok(Response { bound_water_factor, fibre_factor: fibre_factor?, thin_coat: thin_coat?, water_kg_m2: water? })
    }

    /// Remembers where the figure `name` is from, as its table says.
    fn source(&self, name: &str, table: &Fields<'_>) -> Result<(), Refused> {
        let text = table.text("source", "\"memory\"")?.map(|placed| placed.value.to_owned());
        let source = match (text, self.sourcing) {
            (Some(text), _) => text,
            (None, Sourcing::Builder) => BUILDER.to_owned(),
            (None, Sourcing::Needed) => {
                return Err(self.fields.refuse(name, Fault::NoSource { value: FIGURE_EXAMPLE }));
            }
        };
        self.sources.borrow_mut().insert(name.to_owned(), source);
        Ok(())
    }

    /// A figure that stands there without a table of its own has the builder as its source, or none.
    fn bare_source(&self, name: &str) -> Result<(), Refused> {
        if self.sourcing == Sourcing::Needed {
            return Err(self.fields.refuse(name, Fault::NoSource { value: FIGURE_EXAMPLE }));
        }
        self.sources.borrow_mut().insert(name.to_owned(), BUILDER.to_owned());
        Ok(())
    }

    fn absent<T>(&self, name: &str, base: Option<T>, expected: &str, example: &str) -> Result<T, Refused> {
        base.ok_or_else(|| self.fields.missing(name, expected, &format!("{name} = {example}")))
    }

    /// The entry `name`, and its table when it has one.
    fn figure(&self, name: &'static str) -> Result<Option<Given<'t>>, Refused> {
        let Some(value) = self.fields.raw(name) else { return Ok(None) };
        if !matches!(value.get_ref(), DeValue::Table(_)) {
            return self.bare_source(name).map(|()| Some(Given::Bare(value)));
        }
        let table = self.fields.table_named(name)?;
        self.source(name, &table)?;
        Ok(Some(Given::Table(table)))
    }

    fn value(&self, asked: &Asked, base: Option<f64>) -> Result<f64, Refused> {
        match self.figure(asked.key)? {
            None => self.absent(asked.key, base, asked.measure.name, &format!("\"{}\"", asked.measure.example)),
            Some(Given::Bare(value)) => {
                self.fields.quantity_in(value, self.fields.key_of(asked.key), asked).map(|placed| placed.value)
            }
            Some(Given::Table(table)) => {
                let value = table.needed(&Asked { key: "value", ..*asked });
                table.finish();
                value.map(|placed| placed.value)
            }
        }
    }

    fn number(&self, name: &'static str, most: (f64, &'static str), base: Option<f64>) -> Result<f64, Refused> {
        match self.figure(name)? {
            None => self.absent(name, base, "a number", "{ value = 1.0, source = \"memory\" }"),
            Some(Given::Bare(_)) => match self.fields.number(name, most.0, most.1)? {
                Some(placed) => Ok(placed.value),
                None => self.absent(name, base, "a number", "1.0"),
            },
            Some(Given::Table(table)) => {
                let number = table.number("value", most.0, most.1);
                table.finish();
                number?.map(|placed| placed.value).ok_or_else(|| table.missing("value", "a number", "value = 1.0"))
            }
        }
    }

    fn curve(&self, asked: &Asked, base: Option<Curve>) -> Result<Curve, Refused> {
        match self.figure(asked.key)? {
            None => self.absent(asked.key, base, "a list of points", "{ points = [[20, 1.0]], unit = \"...\" }"),
            Some(Given::Bare(value)) => self
                .fields
                .quantity_in(value, self.fields.key_of(asked.key), asked)
                .map(|placed| Curve::constant(placed.value)),
            Some(Given::Table(table)) => {
                let curve = curve_in(&table, asked);
                table.finish();
                curve
            }
        }
    }

    /// A curve of plain factors from 0 to 5.
    fn factors(&self, name: &'static str, base: Option<Curve>) -> Result<Curve, Refused> {
        let convert = |y: f64| (0.0..=5.0).contains(&y).then_some(y);
        let range = "temperatures from -50 to 3000 C and factors from 0 to 5";
        match self.figure(name)? {
            None => {
                self.absent(name, base, "a list of points", "{ points = [[20, 0.4], [110, 1.0]], source = \"memory\" }")
            }
            Some(Given::Bare(value)) => read_points(self.fields, name, value, (&convert, range)),
            Some(Given::Table(table)) => {
                let curve = needed_points(&table, "points", &convert, range);
                table.finish();
                curve
            }
        }
    }

    fn permeability(&self) -> Result<Curve, Refused> {
        let base_m2 = self.base.map(|base| base.material.permeability_log10_m2.map(|y| 10_f64.powf(y)));
        let base_m2 = base_m2.transpose().map_err(|error| self.fields.refuse(GAS_PERMEABILITY.key, error.into()))?;
        if !self.fields.has(GAS_PERMEABILITY.key)
            && let Some(base) = self.base
        {
            return Ok(base.material.permeability_log10_m2.clone());
        }
        let curve_m2 = self.curve(&GAS_PERMEABILITY, base_m2)?;
        curve_m2.map(f64::log10).map_err(|error| self.fields.refuse(GAS_PERMEABILITY.key, error.into()))
    }

    fn title(&self, key: &str) -> Result<String, Refused> {
        match (self.fields.text("title", "\"our mix\"")?, self.base) {
            (Some(title), _) => Ok(title.value.to_owned()),
            (None, Some(_)) => Ok(key.to_owned()),
            (None, None) => Err(self.fields.missing("title", "its name for a person", "title = \"our mix\"")),
        }
    }

    fn kind(&self) -> Result<Kind, Refused> {
        match (self.fields.word("kind", KINDS)?, self.base) {
            (Some(kind), _) => Ok(kind.value),
            (None, Some(base)) => Ok(base.material.kind),
            (None, None) => Err(self.fields.missing("kind", "what kind of material it is", "kind = \"castable\"")),
        }
    }

    /// Least, usual and most mix water, fractions of dry mass. One bare figure stands for all three.
    fn mix_water(&self) -> Result<[f64; 3], Refused> {
        match self.figure(MIX_WATER.key)? {
            None => {
                let base = self.base.map(|base| base.material.mix_water);
                self.absent(
                    MIX_WATER.key,
                    base,
                    "least, usual and most water",
                    "{ least = \"10 %\", usual = \"11 %\", most = \"12 %\" }",
                )
            }
            Some(Given::Bare(value)) => {
                let usual = self.fields.quantity_in(value, self.fields.key_of(MIX_WATER.key), &MIX_WATER)?.value;
                Ok([usual; 3])
            }
            Some(Given::Table(table)) => {
                let (least, usual, most) =
                    (table.needed(&MIX_LEAST), table.needed(&MIX_USUAL), table.needed(&MIX_MOST));
                table.finish();
                let (least, usual, most) = (least?, usual?, most?);
                if least.value > usual.value || usual.value > most.value {
                    let found =
                        format!("{}, {}, {}", table.written(&least), table.written(&usual), table.written(&most));
                    return Err(self.fields.refuse(MIX_WATER.key, Fault::NotInOrder { found }));
                }
                Ok([least.value, usual.value, most.value])
            }
        }
    }

    /// The binder named in a materials file; a lining file cannot change it.
    fn binder<'n>(&self, binders: &'n BTreeMap<String, Binder>) -> Result<Option<&'n Binder>, Refused> {
        if self.sourcing == Sourcing::Builder {
            return Ok(None);
        }
        let Some(name) = self.fields.text("binder", "\"aluminate-cement\"")? else { return Ok(None) };
        let binder = binders.get(name.value);
        binder.map(Some).ok_or_else(|| {
            let fault = unknown_word(name.value, binders.keys().map(String::as_str));
            self.fields.refuse_at(&name, fault)
        })
    }

    fn dehydration(&self, binder: Option<&Binder>) -> Result<Dehydration, Refused> {
        if let Some(binder) = binder {
            self.sources.borrow_mut().insert("binder".to_owned(), binder.source.clone());
            return Ok(binder.dehydration.clone());
        }
        let base = self.base.map(|base| base.material.dehydration.clone());
        self.absent("binder", base, "what holds it together", "\"aluminate-cement\"")
    }

    fn ramp_limit(&self) -> Result<KelvinPerHour, Refused> {
        let is_none = |value: Option<&Spanned<DeValue<'_>>>| {
            value.is_some_and(|value| value.get_ref().as_str().is_some_and(|word| word.trim() == "none"))
        };
        let base = self.base.map(|base| base.material.ramp_limit);
        match self.figure(RAMP_LIMIT.key)? {
            Some(Given::Bare(value)) if is_none(Some(value)) => Ok(NO_RAMP_LIMIT),
            Some(Given::Table(table)) if is_none(table.raw("value")) => {
                table.finish();
                Ok(NO_RAMP_LIMIT)
            }
            Some(_) => self.value(&RAMP_LIMIT, None).map(KelvinPerHour),
            None => self.absent(RAMP_LIMIT.key, base, "a ramp", "\"56 C/h\""),
        }
    }

    fn thin_coat(&self, base: Option<(Metres, KelvinPerHour)>) -> Result<Option<(Metres, KelvinPerHour)>, Refused> {
        let Some(table) = self.fields.table("thin-coat")? else { return Ok(base) };
        self.source("thin-coat", &table)?;
        let (below, ramp) = (table.needed(&THIN_BELOW), table.needed(&RAMP_LIMIT));
        table.finish();
        Ok(Some((Metres(below?.value), KelvinPerHour(ramp?.value))))
    }
}

/// A figure as it was given: by itself, or in a table with its source.
enum Given<'t> {
    Bare(&'t Spanned<DeValue<'t>>),
    Table(Fields<'t>),
}

/// The curve in `points` and `unit` of the table of a figure.
fn curve_in(table: &Fields<'_>, asked: &Asked) -> Result<Curve, Refused> {
    if table.has("value") {
        return table.needed(&Asked { key: "value", ..*asked }).map(|placed| Curve::constant(placed.value));
    }
    table.has("points");
    let measure: &'static Measure = asked.measure;
    let unit = table.needed_text("unit", "the unit of the second numbers", "\"W/mK\"")?;
    measure.check_unit(unit.value).map_err(|error| table.refuse_at(&unit, error.into()))?;
    let convert = |y: f64| measure.convert(y, unit.value).filter(|y| (asked.least..=asked.most).contains(y));
    needed_points(table, "points", &convert, asked.range)
}
