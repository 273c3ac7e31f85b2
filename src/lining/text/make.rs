//! Reads how a lining is made up: ports, how fibre is laid, what is bought in what packs. All of it may be left out.

use super::fields::{Asked, Fields, unknown_word};
use super::layers::Classes;
use super::refusal::{Fault, Refused};
use crate::lining::make::{
    Laying, Lie, Port, PortPlace, Roll, Size, Stock, USUAL_COMPRESSION, USUAL_TRIM, usual_plies,
};
use crate::lining::material::{Kind, Material};
use crate::lining::outline::Outline;
use crate::lining::{Layer, Shape};
use crate::units::quantity::{ANGLE, LENGTH, MASS, SHARE, TIME};
use crate::units::{Degrees, Kilograms, Metres, Seconds};

macro_rules! asked {
    ($($name:ident = $key:literal, $measure:expr, $least:expr, $most:expr, $range:literal;)*) => {
        $(const $name: Asked =
            Asked { key: $key, measure: &$measure, least: $least, most: $most, range: $range };)*
    };
}

asked! {
    PORT_DIAMETER = "diameter", LENGTH, 1e-3, 1.0, "a hole from 1 mm to 1 m";
    ALONG = "along", LENGTH, 0.0, 20.0, "a place from 0 to 20 m along the part";
    ACROSS = "across", LENGTH, 0.0, 20.0, "a place from 0 to 20 m across the part";
    AROUND = "around", ANGLE, 0.0, 360.0, "a direction from 0 to 360 deg";
    COMPRESSION = "compression", LENGTH, 0.0, 0.1, "a compression from 0 to 100 mm at each joint";
    TRIM = "trim", LENGTH, 0.0, 0.2, "a trim from 0 to 200 mm";
    ROLL_WIDTH = "roll-width", LENGTH, 0.05, 3.0, "a roll from 50 mm to 3 m wide";
    ROLL_LENGTH = "roll-length", LENGTH, 0.1, 50.0, "a roll from 100 mm to 50 m long";
    BAG = "bag", MASS, 0.05, 2000.0, "a bag from 50 g to 2000 kg";
    BATCH = "batch", MASS, 0.05, 500.0, "a batch from 50 g to 500 kg";
    SPARE = "spare", SHARE, 0.0, 1.0, "a spare from 0 to 100 %";
    WORKING_TIME = "working-time", TIME, 60.0, 14_400.0, "a time from 1 min to 4 h";
}

const LIES: &[(&str, Lie)] = &[("level", Lie::Level), ("upright", Lie::Upright)];

/// How a round wall lies; [`Lie::Level`] when nothing is said.
pub(super) fn read_lie(fields: &Fields<'_>, size: Size) -> Result<Lie, Refused> {
    let lie = fields.word("lies", LIES)?;
    match lie {
        Some(lie) if size != Size::Barrel => {
            let what = "a part that is not round".to_owned();
            let fault = Fault::OutOfPlace { key: "lies", what, only_for: "shape = \"barrel\"", instead: "" };
            Err(fields.refuse_at(&lie, fault))
        }
        Some(lie) => Ok(lie.value),
        None => Ok(Lie::Level),
    }
}

/// Ports of a section of `shape` and `size`.
pub(super) fn read_ports(fields: &Fields<'_>, shape: Shape, size: Size) -> Result<Vec<Port>, Refused> {
    let tables = fields.tables("port")?;
    if size == Size::Area && !tables.is_empty() {
        let what = "a part of which only the area is known".to_owned();
        let only_for = "parts whose width and length are known";
        let instead = ", or give `width` and `length` instead of `area`";
        return Err(fields.refuse("port", Fault::OutOfPlace { key: "port", what, only_for, instead }));
    }
    let ports: Vec<_> = tables.iter().map(|fields| read_port(fields, shape, size)).collect();
    ports.into_iter().collect()
}

fn read_port(fields: &Fields<'_>, shape: Shape, size: Size) -> Result<Port, Refused> {
    let name = fields.needed_text("name", "what the hole is for", "\"burner port\"");
    let diameter = fields.needed(&PORT_DIAMETER);
    let along = fields.needed(&ALONG);
    let place = read_place(fields, shape, size);
    fields.finish();
    let (diameter, along) = (diameter?, along?);
    let [_, length] = extent(shape, size);
    let radius_m = diameter.value / 2.0;
    if along.value < radius_m || along.value + radius_m > length.0 {
        let range = "a hole that lies wholly within the length of the part";
        let found = fields.written(&along);
        return Err(fields.refuse_at(&along, Fault::OutOfRange { found, range }));
    }
    let place = place?;
    if let PortPlace::Across(across) = place
        && (across.0 < radius_m || across.0 + radius_m > extent(shape, size)[0].0)
    {
        let range = "a hole that lies wholly within the width of the part";
        return Err(fields.refuse("across", Fault::OutOfRange { found: format!("{:.0} mm", across.mm()), range }));
    }
    Ok(Port { name: name?.value.to_owned(), diameter: Metres(diameter.value), along: Metres(along.value), place })
}

/// Where the port is on the way round (of a barrel) or across (of anything else).
fn read_place(fields: &Fields<'_>, shape: Shape, size: Size) -> Result<PortPlace, Refused> {
    let (across, around) = (fields.quantity(&ACROSS), fields.quantity(&AROUND));
    match (size, across?, around?) {
        (Size::Barrel, None, Some(around)) => Ok(PortPlace::Around(Degrees(around.value))),
        (Size::Barrel, None, None) => Err(fields.missing(
            "around",
            "its direction: from the lowest line, clockwise as seen through the mouth; upright: from the front, anticlockwise \
             as seen from above",
            "around = \"90 deg\"",
        )),
        (Size::Barrel, Some(across), _) => {
            let (what, only_for) = ("a round wall".to_owned(), "parts that are not round");
            let fault = Fault::OutOfPlace { key: "across", what, only_for, instead: ", and give `around`" };
            Err(fields.refuse_at(&across, fault))
        }
        (_, _, Some(around)) => {
            let (what, only_for) = ("a part that is not round".to_owned(), "shape = \"barrel\"");
            let fault = Fault::OutOfPlace { key: "around", what, only_for, instead: ", and give `across`" };
            Err(fields.refuse_at(&around, fault))
        }
        (_, Some(across), None) => Ok(PortPlace::Across(Metres(across.value))),
        (_, None, None) => Ok(PortPlace::Across(Metres(extent(shape, size)[0].0 / 2.0))),
    }
}

/// Width and length of the hot face of a part laid flat.
fn extent(shape: Shape, size: Size) -> [Metres; 2] {
    match (size, shape) {
        (Size::Outline(Outline::Sides { width, length }), _) => [width, length],
        (Size::Outline(Outline::Disc { diameter }), _) => [diameter, diameter],
        (Size::Outline(Outline::Arch { length, .. }) | Size::InBore { length, .. }, shape) => {
            [Metres(shape.hot_face_area().0 / length.0), length]
        }
        (_, Shape::Barrel { bore, length }) => [Metres(std::f64::consts::PI * bore.0), length],
        (Size::Area | Size::Barrel, Shape::Flat { .. }) => [Metres(0.0), Metres(0.0)],
    }
}

/// What a layer says of how it is laid, before its kind is known.
pub(super) struct GivenLaying {
    plies: Result<Option<f64>, Refused>,
    compression: Result<f64, Refused>,
    trim: Result<f64, Refused>,
}

pub(super) fn read_laying(fields: &Fields<'_>) -> GivenLaying {
    GivenLaying {
        plies: fields.figure("plies", [1.0, 40.0], "a whole number of blankets from 1 to 40"),
        compression: fields.quantity_or(&COMPRESSION, USUAL_COMPRESSION.0),
        trim: fields.quantity_or(&TRIM, USUAL_TRIM.0),
    }
}

/// How `layer` is laid. Only fibre is cut, so only fibre may say so.
pub(super) fn laying_of(
    fields: &Fields<'_>,
    given: &GivenLaying,
    layer: &Layer,
    rigidiser_kg_m2: Option<f64>,
) -> Result<Laying, Refused> {
    if layer.material.kind != Kind::Fibre {
        for key in ["plies", "compression", "trim"] {
            if fields.has(key) {
                let what = layer.material.key.clone();
                let fault = Fault::OutOfPlace { key, what, only_for: "fibre", instead: "" };
                return Err(fields.refuse(key, fault));
            }
        }
    }
    let plies = given.plies?;
    if let Some(found) = plies.filter(|plies| plies.fract().abs() > 1e-9) {
        let range = "a whole number of blankets from 1 to 40";
        return Err(fields.refuse("plies", Fault::OutOfRange { found: found.to_string(), range }));
    }
    Ok(Laying {
        plies: plies.map_or_else(|| usual_plies(layer.thickness), |plies| plies as u32),
        compression: Metres(given.compression?),
        trim: Metres(given.trim?),
        rigidiser_kg_m2,
    })
}

/// What is said of how materials are bought: `[stock.MATERIAL]`, one table for each.
pub(super) fn read_stock(top: &Fields<'_>, classes: &Classes<'_>) -> Result<Vec<Stock>, Refused> {
    let Some(tables) = top.table("stock")? else { return Ok(Vec::new()) };
    let mut names: Vec<_> = tables.names().collect();
    names.sort_by_key(|(_, span)| span.start);
    let stocks: Vec<_> = names
        .into_iter()
        .map(|(name, _)| {
            let fields = tables.table_named(name)?;
            match classes.get(name)? {
                Some(entry) => read_one_stock(&fields, &entry.material),
                None => Err(tables.refuse(name, unknown_word(name, classes.keys()))),
            }
        })
        .collect();
    stocks.into_iter().collect()
}

fn read_one_stock(fields: &Fields<'_>, material: &Material) -> Result<Stock, Refused> {
    let usual = Stock::usual(material);
    let (roll_width, roll_length) = (fields.quantity(&ROLL_WIDTH), fields.quantity(&ROLL_LENGTH));
    let bag = fields.quantity_or(&BAG, usual.bag.0);
    let batch = fields.quantity_or(&BATCH, usual.batch.0);
    let spare = fields.quantity_or(&SPARE, usual.spare);
    let working_time = fields.quantity_or(&WORKING_TIME, usual.working_time.0);
    let price = fields.figure("price", [0.0, 1e7], "a price from 0 to ten million for one roll or bag");
    let places = check_stock_places(fields, material.kind, &material.key);
    fields.finish();
    places?;
    Ok(Stock {
        material: usual.material,
        roll: Roll {
            width: roll_width?.map_or(usual.roll.width, |width| Metres(width.value)),
            length: roll_length?.map(|length| Metres(length.value)),
        },
        bag: Kilograms(bag?),
        batch: Kilograms(batch?),
        spare: spare?,
        working_time: Seconds(working_time?),
        price: price?,
    })
}

/// Refuses rolls of what comes in bags and bags of what comes in rolls.
fn check_stock_places(fields: &Fields<'_>, kind: Kind, material: &str) -> Result<(), Refused> {
    let (mixed, fibre) = (kind.is_mixed_with_water(), kind == Kind::Fibre);
    let bags = "materials mixed with water (castable, mortar, plastic)";
    let rules = [
        ("roll-width", fibre, "fibre"),
        ("roll-length", fibre, "fibre"),
        ("bag", mixed, bags),
        ("batch", mixed, bags),
        ("spare", mixed, bags),
        ("working-time", mixed, bags),
        ("price", mixed || fibre, "what comes in rolls or bags"),
    ];
    let mut all_well = Ok(());
    for (key, allowed, only_for) in rules {
        if fields.has(key) && !allowed {
            let what = material.to_owned();
            all_well = Err(fields.refuse(key, Fault::OutOfPlace { key, what, only_for, instead: "" }));
        }
    }
    all_well
}
