//! Reads a lining file: place, burner, chamber, goal, sections.

use super::control::read_control;
use super::fields::{Asked, Fields, Placed};
use super::layers::{self, Built, Classes};
use super::make::{read_lie, read_ports, read_stock};
use super::refusal::{Fault, Refused};
use crate::lining::make::{Make, Size};
use crate::lining::material::Materials;
use crate::lining::outline::Outline;
use crate::lining::{Back, Burner, Chamber, ChamberDrying, Fuel, Goal, Lining, Section, Shape, Surroundings};
use crate::units::quantity::{AREA, LENGTH, POWER, PRESSURE, RAMP, SHARE, TEMPERATURE, TIME};
use crate::units::{Celsius, KelvinPerHour, Metres, Pascals, Seconds, SquareMetres, Watts};

/// Equivalence ratio of a burner when the file says nothing: slightly lean. Source: usual setting of aspirated propane
/// burners, 0.95 to 1.0; common practice, no source.
pub const USUAL_EQUIVALENCE_RATIO: f64 = 0.97;

/// Shortest time a person can keep a burner on. Source: trial on a hand valve, common practice, no source.
pub const USUAL_SHORTEST_ON: Seconds = Seconds(5.0);

/// Shortest time between two pulses that a person keeps up. Source: as above.
pub const USUAL_SHORTEST_OFF: Seconds = Seconds(20.0);

/// Ceiling on the danger number when the file says nothing: half the number at which spalling is a risk.
pub const USUAL_DANGER_CEILING: f64 = 0.5;

/// Smallest bore a burner fits.
const LEAST_BORE_M: f64 = 0.02;

const DAY_S: f64 = 86_400.0;

macro_rules! asked {
    ($($name:ident = $key:literal, $measure:expr, $least:expr, $most:expr, $range:literal;)*) => {
        $(const $name: Asked =
            Asked { key: $key, measure: &$measure, least: $least, most: $most, range: $range };)*
    };
}

asked! {
    PLACE_TEMP = "temperature", TEMPERATURE, 1.0, 60.0, "a place from 1 C to 60 C (a wet lining must not freeze: warm it first)";
    CHAMBER_AIR = "temperature", TEMPERATURE, 1.0, 90.0, "air in the chamber from 1 C to 90 C (water must not boil before the first flame)";
    CHAMBER_TIME = "time", TIME, 0.0, 60.0 * DAY_S, "a time from 0 to 60 days";
    HUMIDITY = "humidity", SHARE, 0.0, 1.0, "a relative humidity from 0 % to 100 %";
    BURNER_POWER = "power", POWER, 100.0, 2e6, "a burner from 100 W to 2000 kW";
    JET = "jet", LENGTH, 1e-4, 5e-3, "a jet from 0.1 mm to 5 mm";
    JET_PRESSURE = "pressure", PRESSURE, 1e3, 7e5, "a gauge pressure from 10 mbar to 7 bar (0.15 to 100 psi)";
    SHORTEST_ON = "shortest-on", TIME, 0.5, 3600.0, "a time from 0.5 s to 1 h";
    SHORTEST_OFF = "shortest-off", TIME, 0.5, 3600.0, "a time from 0.5 s to 1 h";
    OPENING_AREA = "area", AREA, 1e-5, 5.0, "an opening from 0.1 cm2 to 5 m2";
    OPENING_DIAMETER = "diameter", LENGTH, 3e-3, 2.5, "an opening from 3 mm to 2.5 m across";
    OPENING_WIDTH = "width", LENGTH, 1e-3, 5.0, "an opening from 1 mm to 5 m";
    OPENING_HEIGHT = "height", LENGTH, 1e-3, 5.0, "an opening from 1 mm to 5 m";
    SOAK_TEMP = "soak-temperature", TEMPERATURE, 105.0, 1800.0, "a soak from 105 C (water must boil) to 1800 C";
    SOAK_TIME = "soak-time", TIME, 0.0, 14.0 * DAY_S, "a time from 0 s to 2 weeks";
    GOAL_RAMP = "ramp", RAMP, 1.0, 5000.0, "a ramp from 1 to 5000 C/h";
    WIDTH = "width", LENGTH, 0.01, 20.0, "a size from 10 mm to 20 m";
    LENGTH_ALONG = "length", LENGTH, 0.01, 20.0, "a size from 10 mm to 20 m";
    FLAT_AREA = "area", AREA, 1e-4, 400.0, "an area from 1 cm2 to 400 m2";
    BORE = "bore", LENGTH, LEAST_BORE_M, 10.0, "a bore from 20 mm to 10 m";
    SHELL_INSIDE = "shell-inside-diameter", LENGTH, LEAST_BORE_M, 12.0, "a diameter from 20 mm to 12 m";
    DISC_DIAMETER = "diameter", LENGTH, 0.01, 12.0, "a diameter from 10 mm to 12 m";
    ARCH_SPAN = "span", LENGTH, 0.05, 10.0, "a span from 50 mm to 10 m";
    ARCH_RISE = "rise", LENGTH, 0.005, 5.0, "a rise from 5 mm to 5 m";
    CAST_IN_BORE = "cast-in-bore", LENGTH, LEAST_BORE_M, 10.0, "a bore from 20 mm to 10 m";
    STEEL = "steel", LENGTH, 2e-4, 0.03, "a sheet from 0.2 mm to 30 mm";
}

/// Reads the whole lining file from its top table.
pub(super) fn read_file(top: &Fields<'_>, materials: &Materials) -> Result<Lining, Refused> {
    let name = top.needed_text("name", "the name of the furnace", "\"school foundry melter\"");
    let surroundings = part(top, "place", read_place);
    let drying = if top.has("drying") { part(top, "drying", read_place).map(Some) } else { Ok(None) };
    let chamber_drying =
        if top.has("chamber-drying") { part(top, "chamber-drying", read_chamber_drying).map(Some) } else { Ok(None) };
    let burner = part(top, "burner", read_burner);
    let chamber = part(top, "chamber", read_chamber);
    let goal = part(top, "goal", read_goal);
    let classes = Classes::new(top, materials);
    let sections = read_sections(top, &classes);
    let (sections, goal, chamber) = (sections?, goal?, chamber?);
    check_names(&sections)?;
    check_soak(top, &sections, &goal)?;
    check_openings(top, &sections, chamber)?;
    let surroundings = surroundings?;
    let stock = read_stock(top, &classes);
    Ok(Lining {
        name: name?.value.to_owned(),
        surroundings,
        drying: drying?.unwrap_or(surroundings),
        chamber_drying: chamber_drying?,
        burner: burner?,
        chamber,
        sections: sections.into_iter().map(|placed| placed.section).collect(),
        goal,
        stock: stock?,
    })
}

/// Reads the needed table `name` with `read` and refuses what `read` did not ask for.
fn part<T>(top: &Fields<'_>, name: &'static str, read: fn(&Fields<'_>) -> Result<T, Refused>) -> Result<T, Refused> {
    let Some(fields) = top.table(name)? else {
        return Err(top.missing(name, &format!("the table [{name}]"), &format!("[{name}]")));
    };
    let value = read(&fields);
    fields.finish();
    value
}

fn read_place(fields: &Fields<'_>) -> Result<Surroundings, Refused> {
    let (temp, humidity) = (fields.needed(&PLACE_TEMP), fields.needed(&HUMIDITY));
    Ok(Surroundings { temp: Celsius(temp?.value), humidity: humidity?.value })
}

fn read_chamber_drying(fields: &Fields<'_>) -> Result<ChamberDrying, Refused> {
    let (temp, time) = (fields.needed(&CHAMBER_AIR), fields.needed(&CHAMBER_TIME));
    Ok(ChamberDrying { temp: Celsius(temp?.value), time: Seconds(time?.value) })
}

fn read_burner(fields: &Fields<'_>) -> Result<Burner, Refused> {
    let fuel = read_fuel(fields);
    let equivalence_ratio = read_equivalence_ratio(fields);
    let shortest_on = fields.quantity_or(&SHORTEST_ON, USUAL_SHORTEST_ON.0);
    let shortest_off = fields.quantity_or(&SHORTEST_OFF, USUAL_SHORTEST_OFF.0);
    let control = read_control(fields, fuel.as_ref().ok());
    Ok(Burner {
        fuel: fuel?,
        equivalence_ratio: equivalence_ratio?,
        shortest_on: Seconds(shortest_on?),
        shortest_off: Seconds(shortest_off?),
        control: control?,
    })
}

fn read_equivalence_ratio(fields: &Fields<'_>) -> Result<f64, Refused> {
    const LEAST: f64 = 0.5;
    let range = "an equivalence ratio from 0.5 (very lean) to 1.5 (very rich)";
    let Some(ratio) = fields.number("equivalence-ratio", 1.5, range)? else { return Ok(USUAL_EQUIVALENCE_RATIO) };
    if ratio.value < LEAST {
        let found = fields.written(&ratio);
        return Err(fields.refuse_at(&ratio, Fault::OutOfRange { found, range }));
    }
    Ok(ratio.value)
}

fn read_fuel(fields: &Fields<'_>) -> Result<Fuel, Refused> {
    let (power, jet, pressure) =
        (fields.quantity(&BURNER_POWER), fields.quantity(&JET), fields.quantity(&JET_PRESSURE));
    let (power, jet, pressure) = (power?, jet?, pressure?);
    match (power, jet, pressure) {
        (Some(power), None, None) => Ok(Fuel::Power(Watts(power.value))),
        (None, Some(jet), Some(pressure)) => {
            Ok(Fuel::PropaneJet { diameter: Metres(jet.value), gauge_pressure: Pascals(pressure.value) })
        }
        (None, Some(_), None) => {
            Err(fields.missing("pressure", "the gauge pressure before the jet", "pressure = \"0.7 bar\""))
        }
        (None, None, Some(_)) => Err(fields.missing("jet", "the diameter of the jet", "jet = \"0.9 mm\"")),
        (None, None, None) => {
            Err(fields.missing("power", "the heat of the burner, or `jet` and `pressure`", "power = \"20 kW\""))
        }
        (Some(_), Some(jet), _) => Err(fields.refuse_at(&jet, Fault::Both { first: "power", second: "jet" })),
        (Some(_), None, Some(pressure)) => {
            Err(fields.refuse_at(&pressure, Fault::Both { first: "power", second: "pressure" }))
        }
    }
}

fn read_chamber(fields: &Fields<'_>) -> Result<Chamber, Refused> {
    let openings = fields.tables("opening")?;
    if openings.is_empty() {
        let example = "[[chamber.opening]] with name, and area, diameter, or width and height";
        return Err(fields.missing("opening", "at least one opening: the fire must breathe", example));
    }
    let areas: Vec<_> = openings.iter().map(read_opening).collect();
    let areas: Result<Vec<f64>, Refused> = areas.into_iter().collect();
    Ok(Chamber { opening: SquareMetres(areas?.iter().sum()) })
}

/// Area of one opening, m².
fn read_opening(fields: &Fields<'_>) -> Result<f64, Refused> {
    let name = fields.text("name", "\"mouth\"");
    let area = fields.quantity(&OPENING_AREA);
    let diameter = fields.quantity(&OPENING_DIAMETER);
    let (width, height) = (fields.quantity(&OPENING_WIDTH), fields.quantity(&OPENING_HEIGHT));
    fields.finish();
    name?;
    match (area?, diameter?, width?, height?) {
        (Some(area), None, None, None) => Ok(area.value),
        (None, Some(diameter), None, None) => Ok(circle_m2(diameter.value)),
        (None, None, Some(width), Some(height)) => Ok(width.value * height.value),
        (None, None, Some(_), None) => Err(fields.missing("height", "the height of the opening", "height = \"80 mm\"")),
        (None, None, None, Some(_)) => Err(fields.missing("width", "the width of the opening", "width = \"80 mm\"")),
        (None, None, None, None) => {
            Err(fields.missing("area", "its area, or its diameter, or its width and height", "diameter = \"60 mm\""))
        }
        (Some(_), Some(_), ..) => Err(fields.refuse("diameter", Fault::Both { first: "area", second: "diameter" })),
        (Some(_), ..) => Err(fields.refuse("area", Fault::Both { first: "area", second: "width and height" })),
        (None, Some(_), ..) => {
            Err(fields.refuse("diameter", Fault::Both { first: "diameter", second: "width and height" }))
        }
    }
}

fn circle_m2(diameter_m: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * diameter_m * diameter_m
}

fn read_goal(fields: &Fields<'_>) -> Result<Goal, Refused> {
    let (soak_temp, soak) = (fields.needed(&SOAK_TEMP), fields.needed(&SOAK_TIME));
    let ramp = fields.quantity(&GOAL_RAMP);
    let danger_ceiling = read_ceiling(fields);
    Ok(Goal {
        soak_temp: Celsius(soak_temp?.value),
        soak: Seconds(soak?.value),
        danger_ceiling: danger_ceiling?,
        ramp: ramp?.map(|ramp| KelvinPerHour(ramp.value)),
    })
}

fn read_ceiling(fields: &Fields<'_>) -> Result<f64, Refused> {
    const LEAST: f64 = 0.05;
    let range = "a danger ceiling from 0.05 to 1 (1 is spalling risk)";
    let Some(ceiling) = fields.number("danger-ceiling", 1.0, range)? else { return Ok(USUAL_DANGER_CEILING) };
    if ceiling.value < LEAST {
        let found = fields.written(&ceiling);
        return Err(fields.refuse_at(&ceiling, Fault::OutOfRange { found, range }));
    }
    Ok(ceiling.value)
}

/// A section with the entry that names it.
struct PlacedSection<'t> {
    section: Section,
    fields: Fields<'t>,
}

fn read_sections<'t>(top: &Fields<'t>, classes: &Classes<'_>) -> Result<Vec<PlacedSection<'t>>, Refused> {
    let tables = top.tables("section")?;
    if tables.is_empty() {
        return Err(top.missing("section", "at least one part of the lining", "[[section]]"));
    }
    let sections: Vec<_> = tables.into_iter().map(|fields| read_section(fields, classes)).collect();
    sections.into_iter().collect()
}

fn read_section<'t>(fields: Fields<'t>, classes: &Classes<'_>) -> Result<PlacedSection<'t>, Refused> {
    let name = fields.needed_text("name", "the name of this part", "\"wall\"");
    let layers = layers::read_layers(&fields, classes);
    let shape = read_shape(&fields, layers.as_deref());
    let back = read_back(&fields);
    let (lie, ports) = match shape {
        Ok((shape, size)) => (read_lie(&fields, size), read_ports(&fields, shape, size)),
        Err(refused) => {
            fields.accept(&["lies", "port"]);
            (Err(refused), Err(refused))
        }
    };
    fields.finish();
    let (name, (shape, size), layers, back) = (name?.value.to_owned(), shape?, layers?, back?);
    let make = Make { size, lie: lie?, ports: ports?, layings: layers.iter().map(|built| built.laying).collect() };
    let section = Section { name, shape, layers: layers::wetted(layers, &shape), back, make };
    Ok(PlacedSection { section, fields })
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Form {
    Flat,
    Disc,
    Arch,
    Barrel,
}

const FORMS: &[(&str, Form)] =
    &[("flat", Form::Flat), ("disc", Form::Disc), ("arch", Form::Arch), ("barrel", Form::Barrel)];

/// Keys that give a size, and the forms they are for.
const SIZES: &[(&str, &[Form], &str)] = &[
    ("area", &[Form::Flat], "shape = \"flat\""),
    ("cast-in-bore", &[Form::Flat], "shape = \"flat\""),
    ("width", &[Form::Flat], "shape = \"flat\""),
    ("length", &[Form::Flat, Form::Arch, Form::Barrel], "flat, arch and barrel"),
    ("bore", &[Form::Barrel], "shape = \"barrel\""),
    ("shell-inside-diameter", &[Form::Barrel], "shape = \"barrel\""),
    ("diameter", &[Form::Disc], "shape = \"disc\""),
    ("span", &[Form::Arch], "shape = \"arch\""),
    ("rise", &[Form::Arch], "shape = \"arch\""),
];

fn read_shape(fields: &Fields<'_>, layers: Result<&[Built], &Refused>) -> Result<(Shape, Size), Refused> {
    let form = fields.word("shape", FORMS);
    let Ok(Some(form)) = form else {
        fields.accept(&SIZES.iter().map(|(key, ..)| *key).collect::<Vec<_>>());
        return Err(match form {
            Err(refused) => refused,
            Ok(_) => fields.missing("shape", "flat, disc, arch or barrel", "shape = \"barrel\""),
        });
    };
    let sizes = check_sizes(fields, form.value);
    let shape = match form.value {
        Form::Flat if fields.has(CAST_IN_BORE.key) => read_in_bore(fields, layers),
        Form::Flat => read_flat(fields),
        Form::Disc => {
            let diameter = fields.needed(&DISC_DIAMETER);
            diameter.map(|diameter| laid_flat(Outline::Disc { diameter: Metres(diameter.value) }))
        }
        Form::Arch => read_arch(fields),
        Form::Barrel => read_barrel(fields, layers).map(|shape| (shape, Size::Barrel)),
    };
    sizes.and(shape)
}

/// Refuses sizes that belong to another form.
fn check_sizes(fields: &Fields<'_>, form: Form) -> Result<(), Refused> {
    let mut all_well = Ok(());
    for &(key, forms, only_for) in SIZES {
        if fields.has(key) && !forms.contains(&form) {
            let word = FORMS.iter().find(|(_, other)| *other == form).map_or("this", |(word, _)| word);
            let what = format!("a {word} section");
            all_well =
                Err(fields.refuse(key, Fault::OutOfPlace { key, what, only_for, instead: ", or change the shape" }));
        }
    }
    all_well
}

fn read_flat(fields: &Fields<'_>) -> Result<(Shape, Size), Refused> {
    let (area, width, length) = (fields.quantity(&FLAT_AREA), fields.quantity(&WIDTH), fields.quantity(&LENGTH_ALONG));
    match (area?, width?, length?) {
        (Some(area), None, None) => Ok((Shape::Flat { area: SquareMetres(area.value) }, Size::Area)),
        (None, Some(width), Some(length)) => {
            Ok(laid_flat(Outline::Sides { width: Metres(width.value), length: Metres(length.value) }))
        }
        (None, Some(_), None) => Err(fields.missing("length", "the length of the part", "length = \"400 mm\"")),
        (None, None, Some(_)) => Err(fields.missing("width", "the width of the part", "width = \"300 mm\"")),
        (None, None, None) => Err(fields.missing("area", "its area, or its width and length", "area = \"0.3 m2\"")),
        (Some(_), Some(_), _) => Err(fields.refuse("width", Fault::Both { first: "area", second: "width" })),
        (Some(_), None, Some(_)) => Err(fields.refuse("length", Fault::Both { first: "area", second: "length" })),
    }
}

/// A part by its outline, which the engine takes as flat.
fn laid_flat(outline: Outline) -> (Shape, Size) {
    (Shape::Flat { area: outline.area() }, Size::Outline(outline))
}

/// A floor cast to a level in a lying round bore: the thickness of its first layer is the depth at the middle, and its width
/// the chord at that level. The wall is reckoned as thick as at its deepest everywhere, which dries slowest.
fn read_in_bore(fields: &Fields<'_>, layers: Result<&[Built], &Refused>) -> Result<(Shape, Size), Refused> {
    let (bore, length) = (fields.needed(&CAST_IN_BORE), fields.needed(&LENGTH_ALONG));
    for key in ["area", "width"] {
        if fields.has(key) {
            return Err(fields.refuse(key, Fault::Both { first: "cast-in-bore", second: key }));
        }
    }
    let (bore, length) = (bore?, length?);
    let Some(first) = layers.map_err(|refused| *refused)?.first() else { return Err(Refused) };
    let level_m = first.layer.thickness.0;
    if level_m > bore.value / 2.0 {
        let found = fields.written(&bore);
        let range = "a bore at least twice as wide as its floor (the first layer) is deep";
        return Err(fields.refuse_at(&bore, Fault::OutOfRange { found, range }));
    }
    let chord_m = 2.0 * (level_m * (bore.value - level_m)).sqrt();
    let size = Size::InBore { bore: Metres(bore.value), level: Metres(level_m), length: Metres(length.value) };
    Ok((Shape::Flat { area: SquareMetres(chord_m * length.value) }, size))
}

/// A segment of a circle of given span and rise, taken as flat with its developed length: its layers are thin against its
/// radius.
fn read_arch(fields: &Fields<'_>) -> Result<(Shape, Size), Refused> {
    let (span, rise, length) = (fields.needed(&ARCH_SPAN), fields.needed(&ARCH_RISE), fields.needed(&LENGTH_ALONG));
    let (span, rise, length) = (span?, rise?, length?);
    if rise.value > span.value / 2.0 {
        let found = fields.written(&rise);
        let range = "a rise of at most half the span (a half circle)";
        return Err(fields.refuse_at(&rise, Fault::OutOfRange { found, range }));
    }
    let (span, rise, length) = (Metres(span.value), Metres(rise.value), Metres(length.value));
    Ok(laid_flat(Outline::Arch { span, rise, length }))
}

fn read_barrel(fields: &Fields<'_>, layers: Result<&[Built], &Refused>) -> Result<Shape, Refused> {
    let (bore, shell, length) = (fields.quantity(&BORE), fields.quantity(&SHELL_INSIDE), fields.needed(&LENGTH_ALONG));
    let bore_m = match (bore?, shell?) {
        (Some(bore), None) => bore.value,
        (None, Some(shell)) => bore_in(fields, &shell, layers.map_err(|refused| *refused)?)?,
        (Some(_), Some(shell)) => {
            return Err(fields.refuse_at(&shell, Fault::Both { first: "bore", second: "shell-inside-diameter" }));
        }
        (None, None) => {
            let expected = "the finished inside diameter, or `shell-inside-diameter`";
            return Err(fields.missing("bore", expected, "bore = \"200 mm\""));
        }
    };
    Ok(Shape::Barrel { bore: Metres(bore_m), length: Metres(length?.value) })
}

/// What the layers leave of the inside of a shell, m.
fn bore_in(fields: &Fields<'_>, shell: &Placed<f64>, layers: &[Built]) -> Result<f64, Refused> {
    let layers_m: f64 = layers.iter().map(|built| built.layer.thickness.0).sum();
    let bore_m = shell.value - 2.0 * layers_m;
    if bore_m < LEAST_BORE_M {
        return Err(fields.refuse_at(
            shell,
            Fault::NoBore { layers_mm: layers_m * 1e3, shell_mm: shell.value * 1e3, bore_mm: bore_m * 1e3 },
        ));
    }
    Ok(bore_m)
}

#[derive(Clone, Copy)]
enum Closing {
    Sealed,
    Vented,
    Open,
}

const BACKS: &[(&str, Closing)] =
    &[("sealed steel", Closing::Sealed), ("steel with weep holes", Closing::Vented), ("open", Closing::Open)];

fn read_back(fields: &Fields<'_>) -> Result<Back, Refused> {
    let (closing, steel) = (fields.word("back", BACKS), fields.quantity(&STEEL));
    let Some(closing) = closing? else {
        let expected = "what stands behind the last layer: \"sealed steel\", \"steel with weep holes\" or \"open\"";
        return Err(fields.missing("back", expected, "back = \"sealed steel\""));
    };
    let thickness = match (closing.value, steel?) {
        (Closing::Open, None) => return Ok(Back::Open),
        (Closing::Open, Some(steel)) => {
            let only_for = "a back of \"sealed steel\" or \"steel with weep holes\"";
            let what = "an open back".to_owned();
            return Err(fields.refuse_at(&steel, Fault::OutOfPlace { key: "steel", what, only_for, instead: "" }));
        }
        (_, None) => return Err(fields.missing("steel", "the thickness of the shell", "steel = \"2 mm\"")),
        (_, Some(steel)) => Metres(steel.value),
    };
    Ok(match closing.value {
        Closing::Vented => Back::VentedSteel { thickness },
        Closing::Sealed | Closing::Open => Back::SealedSteel { thickness },
    })
}

fn check_names(sections: &[PlacedSection<'_>]) -> Result<(), Refused> {
    for (index, later) in sections.iter().enumerate() {
        if sections[..index].iter().any(|earlier| earlier.section.name == later.section.name) {
            let name = later.section.name.clone();
            return Err(later.fields.refuse("name", Fault::SameName { name }));
        }
    }
    Ok(())
}

fn check_soak(top: &Fields<'_>, sections: &[PlacedSection<'_>], goal: &Goal) -> Result<(), Refused> {
    for placed in sections {
        let Some(face) = placed.section.layers.first() else { continue };
        if goal.soak_temp > face.material.service_limit {
            let fault = Fault::AboveService {
                soak_c: goal.soak_temp.0,
                limit_c: face.material.service_limit.0,
                material: face.material.key.clone(),
                section: placed.section.name.clone(),
            };
            return Err(top.table_named("goal")?.refuse("soak-temperature", fault));
        }
    }
    Ok(())
}

fn check_openings(top: &Fields<'_>, sections: &[PlacedSection<'_>], chamber: Chamber) -> Result<(), Refused> {
    let lining_m2: f64 = sections.iter().map(|placed| placed.section.hot_face_area().0).sum();
    if chamber.opening.0 >= lining_m2 {
        let fault = Fault::AllOpening { openings_cm2: chamber.opening.0 * 1e4, lining_cm2: lining_m2 * 1e4 };
        return Err(top.table_named("chamber")?.refuse("opening", fault));
    }
    Ok(())
}
