//! Starting points for a lining file: what is asked for each, what an answer means, and the file that comes of the answers.

use thiserror::Error;

use super::material::Materials;
use super::outline::Outline;
use super::text::{LayerDraft, LiningDraft, SectionDraft, ShapeDraft, write_lining};
use super::{Back, Burner, Control, Fuel, Goal, Mark, MarkAt, Surroundings};
use crate::units::quantity::{
    LENGTH, Measure, POWER, PRESSURE, QuantityError, SHARE, Shown, TEMPERATURE, TIME, UnitSystem, percent,
};
use crate::units::{Celsius, Metres, Pascals, Seconds, SquareMetres, Watts};

/// What a builder may begin with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// A pipe or drum on its side, lined with blanket, with a floor cast in its bore.
    BarrelForge,
    /// A drum on its end with a cast wall, floor and lid.
    Melter,
    /// A box with fibre walls and roof and a cast floor.
    BoxForge,
    /// A brick kiln with a new cast arch.
    KilnArch,
}

/// All starting points with the word for each and what it is.
pub const STARTS: &[(&str, Start, &str)] = &[
    ("barrel-forge", Start::BarrelForge, "a pipe or drum on its side, lined with blanket, a floor cast in its bore"),
    ("melter", Start::Melter, "an upright drum with a cast wall, floor and lid, for a crucible"),
    ("box-forge", Start::BoxForge, "a box with fibre walls and roof and a cast floor"),
    ("kiln-arch", Start::KilnArch, "a brick kiln whose arch is new and cast"),
];

/// Something that is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Question {
    /// Name, also that of the flag that answers it.
    pub key: &'static str,
    /// The question.
    pub words: &'static str,
    /// Why it matters, or how to find out.
    pub why: &'static str,
    /// Answer that stands when none is given.
    pub usual: &'static str,
    kind: Kind,
}

/// What an answer has to be.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    Text,
    Length { least_m: f64, most_m: f64 },
    Layers,
    Burner,
    Turndown,
    Opening,
    Temperature,
    Humidity,
    Drying,
}

/// Why an answer was refused.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum AnswerError {
    /// It is not the quantity asked for.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// Nothing was said.
    #[error("found nothing, expected some words; give a name")]
    Empty,
    /// No furnace of this kind is so large or small.
    #[error("found {found}, expected {least} to {most}; check the number and its unit")]
    OutOfRange {
        /// As understood.
        found: String,
        /// Least that would do.
        least: String,
        /// Most that would do.
        most: String,
    },
    /// A layer that is not a thickness and a material.
    #[error(
        "found \"{found}\" as a layer, expected a thickness and a material; write it like \"25 mm dense-castable\""
    )]
    Layer {
        /// As written.
        found: String,
    },
    /// A mark that is not a word and a fire.
    #[error("found \"{found}\" as a mark, expected `no`, `ramps`, or a word and its fire; write it like \"low 25 %\"")]
    Mark {
        /// As written.
        found: String,
    },
    /// A material that is not known.
    #[error("found the material \"{found}\", expected one of {known}; choose one of these{nearest}")]
    Material {
        /// As written.
        found: String,
        /// All that are known.
        known: String,
        /// The one most like it, as words to add.
        nearest: String,
    },
    /// A starting point that is not known.
    #[error("found \"{found}\", expected one of {known}; choose one of these by its word or number")]
    Start {
        /// As written.
        found: String,
        /// All that are known.
        known: String,
    },
}

macro_rules! question {
    ($key:literal, $words:literal, $why:literal, $usual:literal, $kind:expr) => {
        Question { key: $key, words: $words, why: $why, usual: $usual, kind: $kind }
    };
}

const fn size(least_m: f64, most_m: f64) -> Kind {
    Kind::Length { least_m, most_m }
}

const LAYERS_WHY: &str = "From the fire outwards, each as thickness and material, with commas between. The materials stand in the \
README of the project and in schedules/materials.toml; a wrong word lists them.";

const fn layers(key: &'static str, words: &'static str, usual: &'static str) -> Question {
    Question { key, words, why: LAYERS_WHY, usual, kind: Kind::Layers }
}

const BARREL: &[Question] = &[
    question!(
        "diameter",
        "Inside diameter of the shell?",
        "Measure it at three places, two ways each, and take the least. The bore follows from the layers.",
        "300 mm",
        size(0.08, 3.0)
    ),
    question!(
        "length",
        "Length of the lining?",
        "Along the barrel, from the mouth to the back end.",
        "400 mm",
        size(0.05, 5.0)
    ),
    layers("layers", "Layers of the wall?", "3 mm air-setting-mortar, 50 mm rigidised-fibre"),
    layers("floor", "Floor, cast to a level in the bore?", "25 mm bubble-alumina-castable"),
];

const MELTER: &[Question] = &[
    question!(
        "diameter",
        "Inside diameter of the shell?",
        "Measure it at three places, two ways each, and take the least. The bore follows from the layers.",
        "380 mm",
        size(0.1, 3.0)
    ),
    question!("length", "Height of the chamber?", "From the floor to the lid, when lined.", "320 mm", size(0.05, 3.0)),
    layers("layers", "Layers of the wall?", "25 mm dense-castable, 40 mm insulating-castable-p"),
    layers("floor", "Layers of the floor?", "40 mm dense-castable"),
    layers("roof", "Layers of the lid?", "50 mm dense-castable"),
];

const BOX: &[Question] = &[
    question!("width", "Inside width of the chamber?", "Between the finished walls.", "250 mm", size(0.05, 3.0)),
    question!("length", "Inside depth of the chamber?", "From the mouth to the back.", "350 mm", size(0.05, 5.0)),
    question!(
        "height",
        "Inside height of the chamber?",
        "From the finished floor to the roof.",
        "200 mm",
        size(0.05, 3.0)
    ),
    layers("layers", "Layers of walls, roof and back end?", "3 mm air-setting-mortar, 50 mm rigidised-fibre"),
    layers("floor", "Layers of the floor?", "19 mm bubble-alumina-castable, 25 mm fibre-blanket-128"),
];

const ARCH: &[Question] = &[
    question!(
        "span",
        "Span of the arch?",
        "Inside, from springing to springing: the width of the chamber.",
        "600 mm",
        size(0.1, 5.0)
    ),
    question!(
        "rise",
        "Rise of the arch?",
        "Inside, at the middle, above the springing; at most half the span.",
        "150 mm",
        size(0.01, 2.5)
    ),
    question!("length", "Inside depth of the chamber?", "From the door to the back.", "650 mm", size(0.1, 10.0)),
    question!("height", "Height of the walls?", "Inside, from the floor to the springing.", "500 mm", size(0.05, 5.0)),
    layers("layers", "Layers of the new arch?", "100 mm dense-castable, 50 mm fibre-blanket-96"),
    layers("walls", "Layers of the old walls?", "114 mm insulating-firebrick-26, 25 mm calcium-silicate-board"),
    layers("floor", "Layers of the old floor?", "64 mm dense-firebrick, 114 mm insulating-firebrick-23"),
];

const NAME: Question =
    question!("name", "What do you call it?", "The name stands on plans and logs.", "my furnace", Kind::Text);

const LAST: &[Question] = &[
    question!(
        "burner",
        "Which burner?",
        "Its heat, such as 12 kW or 40000 BTU/h, or its propane jet and gauge pressure, such as 0.9 mm at 0.7 bar.",
        "0.9 mm at 0.7 bar",
        Kind::Burner
    ),
    question!(
        "turndown",
        "Can its fire be turned down?",
        "No; or the marks that it burns steadily at, each a word with its gauge pressure or share of the full fire, such as \
         low 0.1 bar, half 50 %; or ramps, where the control of a kiln holds them.",
        "no",
        Kind::Turndown
    ),
    question!(
        "opening",
        "How large is the mouth or flue?",
        "Where the fire breathes and radiates out: across, such as 100 mm, or width x height, such as 5 in x 4 in.",
        "100 mm",
        Kind::Opening
    ),
    question!(
        "drying",
        "How long will the wet layers have dried in the air before the first flame?",
        "A thin coat wants a night to a week, castable about three days after its cure. Zero is the safe answer.",
        "3 days",
        Kind::Drying
    ),
    question!(
        "temperature",
        "How warm is it where it stands?",
        "It sets the cure, and how much water the air takes.",
        "18 C",
        Kind::Temperature
    ),
    question!(
        "humidity",
        "How humid is the air there?",
        "A damp shed keeps water in the lining.",
        "60 %",
        Kind::Humidity
    ),
];

/// The starting point that `answer` names by its word or number.
///
/// # Errors
/// When it names none.
pub fn start_of(answer: &str) -> Result<Start, AnswerError> {
    let answer = answer.trim();
    let by_number = answer.parse::<usize>().ok().and_then(|number| STARTS.get(number.checked_sub(1)?));
    let found = STARTS.iter().find(|(word, ..)| word.eq_ignore_ascii_case(answer)).or(by_number);
    found.map(|(_, start, _)| *start).ok_or_else(|| {
        let known: Vec<&str> = STARTS.iter().map(|(word, ..)| *word).collect();
        AnswerError::Start { found: answer.chars().take(60).collect(), known: known.join(", ") }
    })
}

/// What is asked for `start`, in order.
#[must_use]
pub fn questions(start: Start) -> Vec<Question> {
    let own = match start {
        Start::BarrelForge => BARREL,
        Start::Melter => MELTER,
        Start::BoxForge => BOX,
        Start::KilnArch => ARCH,
    };
    std::iter::once(NAME).chain(own.iter().copied()).chain(LAST.iter().copied()).collect()
}

impl Question {
    /// What `answer` means, for the person to see: lengths in both units.
    ///
    /// # Errors
    /// When it is no answer to this question.
    pub fn understood(&self, answer: &str) -> Result<String, AnswerError> {
        match self.kind {
            Kind::Text if answer.trim().is_empty() => Err(AnswerError::Empty),
            Kind::Text => Ok(answer.trim().to_owned()),
            Kind::Length { least_m, most_m } => length(answer, [least_m, most_m]).map(both),
            Kind::Layers => {
                let layers = layers_of(answer, Seconds(0.0))?;
                let words = layers.iter().map(|layer| format!("{} {}", both(layer.thickness), layer.material));
                Ok(words.collect::<Vec<_>>().join(", then "))
            }
            Kind::Burner => fuel_of(answer).map(fuel_words),
            Kind::Turndown => control_of(answer).map(|control| control_words(&control)),
            Kind::Opening => opening_of(answer).map(|area| area.shown(UnitSystem::Metric)),
            Kind::Temperature => {
                let temp =
                    Celsius(within(&TEMPERATURE, answer, [1.0, 60.0], |c| Celsius(c).shown(UnitSystem::Metric))?);
                Ok(format!("{} ({})", temp.shown(UnitSystem::Metric), temp.shown(UnitSystem::Us)))
            }
            Kind::Humidity => within(&SHARE, answer, [0.0, 1.0], percent).map(percent),
            Kind::Drying => drying_of(answer).map(|span| span.shown(UnitSystem::Metric)),
        }
    }
}

/// A length in millimetres and inches.
fn both(length: Metres) -> String {
    format!("{} ({})", length.shown(UnitSystem::Metric), length.shown(UnitSystem::Us))
}

fn fuel_words(fuel: Fuel) -> String {
    match fuel {
        Fuel::Power(power) => format!("{} ({})", power.shown(UnitSystem::Metric), power.shown(UnitSystem::Us)),
        Fuel::PropaneJet { diameter, gauge_pressure } => format!(
            "propane jet of {} at {} ({})",
            both(diameter),
            gauge_pressure.shown(UnitSystem::Metric),
            gauge_pressure.shown(UnitSystem::Us)
        ),
    }
}

/// `answer` in the base unit of `measure`, from the first of `bounds` to the second.
fn within(
    measure: &'static Measure,
    answer: &str,
    bounds: [f64; 2],
    shown: impl Fn(f64) -> String,
) -> Result<f64, AnswerError> {
    let value = measure.parse(answer)?;
    if (bounds[0]..=bounds[1]).contains(&value) {
        return Ok(value);
    }
    Err(AnswerError::OutOfRange { found: shown(value), least: shown(bounds[0]), most: shown(bounds[1]) })
}

fn length(answer: &str, bounds: [f64; 2]) -> Result<Metres, AnswerError> {
    within(&LENGTH, answer, bounds, |m| both(Metres(m))).map(Metres)
}

fn drying_of(answer: &str) -> Result<Seconds, AnswerError> {
    within(&TIME, answer, [0.0, 1000.0 * 86_400.0], |s| Seconds(s).shown(UnitSystem::Metric)).map(Seconds)
}

/// "12 kW", or "0.9 mm at 0.7 bar".
fn fuel_of(answer: &str) -> Result<Fuel, AnswerError> {
    let Some((jet, pressure)) = answer.split_once(" at ") else {
        let power = within(&POWER, answer, [100.0, 2e6], |w| Watts(w).shown(UnitSystem::Metric))?;
        return Ok(Fuel::Power(Watts(power)));
    };
    let pressure = within(&PRESSURE, pressure, [1e3, 7e5], |pa| Pascals(pa).shown(UnitSystem::Metric))?;
    Ok(Fuel::PropaneJet { diameter: length(jet, [1e-4, 5e-3])?, gauge_pressure: Pascals(pressure) })
}

/// "no", "ramps", or "low 0.1 bar, half 50 %".
fn control_of(answer: &str) -> Result<Control, AnswerError> {
    match answer.trim().to_lowercase().as_str() {
        "no" | "" => return Ok(Control::OnOff),
        "ramps" => return Ok(Control::Ramps),
        _ => {}
    }
    answer.split(',').map(mark_of).collect::<Result<_, _>>().map(Control::Marks)
}

fn mark_of(text: &str) -> Result<Mark, AnswerError> {
    let wrong = || AnswerError::Mark { found: text.trim().chars().take(60).collect() };
    let (name, fire) = text.trim().split_once(char::is_whitespace).ok_or_else(wrong)?;
    let at = if let Ok(share) = SHARE.parse(fire) {
        within(&SHARE, fire, [0.02, 0.98], percent)?;
        MarkAt::Share(share)
    } else if let Ok(pressure) = PRESSURE.parse(fire) {
        MarkAt::Pressure(Pascals(pressure))
    } else {
        return Err(wrong());
    };
    Ok(Mark { name: name.to_owned(), at })
}

fn control_words(control: &Control) -> String {
    let mark = |mark: &Mark| match mark.at {
        MarkAt::Share(share) => format!("{} {}", mark.name, percent(share)),
        MarkAt::Pressure(pressure) => format!("{} {}", mark.name, pressure.shown(UnitSystem::Metric)),
    };
    match control {
        Control::OnOff => "no, it is opened and shut".to_owned(),
        Control::Ramps => "the control holds ramps".to_owned(),
        Control::Marks(marks) => marks.iter().map(mark).collect::<Vec<_>>().join(", "),
    }
}

/// "100 mm" across, or "5 in x 4 in".
fn opening_of(answer: &str) -> Result<SquareMetres, AnswerError> {
    let bounds = [3e-3, 2.5];
    if let Some((width, height)) = answer.to_lowercase().split_once('x') {
        return Ok(SquareMetres(length(width, bounds)?.0 * length(height, bounds)?.0));
    }
    let diameter = length(answer, bounds)?;
    Ok(SquareMetres(std::f64::consts::FRAC_PI_4 * diameter.0 * diameter.0))
}

/// "3 mm air-setting-mortar, 50 mm rigidised-fibre"; what is wet has dried in the air for `drying`.
fn layers_of(answer: &str, drying: Seconds) -> Result<Vec<LayerDraft>, AnswerError> {
    let layers = answer.split(',').map(|layer| {
        let layer = layer.trim();
        let cut = layer.rsplit_once(char::is_whitespace);
        let (thickness, key) = cut.ok_or_else(|| AnswerError::Layer { found: layer.chars().take(60).collect() })?;
        let entry = Materials::built_in().get(key).ok_or_else(|| unknown_material(key))?;
        let is_wet = entry.material.kind.is_mixed_with_water() || entry.response.water_kg_m2.is_some();
        Ok(LayerDraft {
            material: key.to_owned(),
            thickness: length(thickness, [5e-5, 0.5])?,
            air_dried: (is_wet && drying.0 > 0.0).then_some(drying),
            ..LayerDraft::default()
        })
    });
    layers.collect()
}

/// "12 mm forge-castable" as a class and a thickness.
///
/// # Errors
/// When it is not one layer of a known class.
pub fn hard_face_of(answer: &str) -> Result<(String, Metres), AnswerError> {
    let mut layers = layers_of(answer, Seconds(0.0))?.into_iter();
    match (layers.next(), layers.next()) {
        (Some(layer), None) => Ok((layer.material, layer.thickness)),
        _ => Err(AnswerError::Layer { found: answer.chars().take(60).collect() }),
    }
}

fn unknown_material(found: &str) -> AnswerError {
    let keys: Vec<&str> = Materials::built_in().keys().collect();
    let score = |key: &&&str| strsim::jaro_winkler(found, key);
    let nearest = keys.iter().max_by(|a, b| score(a).total_cmp(&score(b))).filter(|key| score(key) > 0.75);
    AnswerError::Material {
        found: found.chars().take(60).collect(),
        known: keys.join(", "),
        nearest: nearest.map_or_else(String::new, |key| format!(" (did you mean `{key}`?)")),
    }
}

/// The text of a lining file for `start`. `answer` gives the answer to a question by its key; what it leaves open stands at
/// the usual. The text has still to be read ([`super::text::parse_lining`]), which finds what does not fit together.
///
/// # Errors
/// When an answer is none.
pub fn lining_text(start: Start, answer: impl Fn(&str) -> Option<String>) -> Result<String, AnswerError> {
    let questions = questions(start);
    let given = |key: &str| {
        let usual = questions.iter().find(|question| question.key == key).map_or("", |question| question.usual);
        answer(key).unwrap_or_else(|| usual.to_owned())
    };
    for question in &questions {
        question.understood(&given(question.key))?;
    }
    let draft = LiningDraft {
        name: given("name").trim().to_owned(),
        place: Surroundings {
            temp: Celsius(TEMPERATURE.parse(&given("temperature"))?),
            humidity: SHARE.parse(&given("humidity"))?,
        },
        burner: Burner {
            fuel: fuel_of(&given("burner"))?,
            equivalence_ratio: super::text::USUAL_EQUIVALENCE_RATIO,
            shortest_on: super::text::USUAL_SHORTEST_ON,
            shortest_off: super::text::USUAL_SHORTEST_OFF,
            control: control_of(&given("turndown"))?,
        },
        openings: vec![("mouth or flue".to_owned(), opening_of(&given("opening"))?)],
        goal: goal_of(start),
        sections: sections_of(start, &given)?,
    };
    Ok(format!("{}{}", write_lining(&draft), AFTERWORD))
}

/// Where a heat-up of `start` ends. Source: bound water is out by 600 to 650 °C; common practice, no source.
fn goal_of(start: Start) -> Goal {
    let (soak_c, soak_h) = match start {
        Start::BarrelForge | Start::BoxForge => (700.0, 0.5),
        Start::Melter => (650.0, 1.0),
        Start::KilnArch => (600.0, 2.0),
    };
    Goal {
        soak_temp: Celsius(soak_c),
        soak: Seconds::from_hours(soak_h),
        danger_ceiling: super::text::USUAL_DANGER_CEILING,
        ramp: None,
    }
}

/// Parts of the lining for `start`.
fn sections_of(start: Start, given: &impl Fn(&str) -> String) -> Result<Vec<SectionDraft>, AnswerError> {
    let metres = |key: &str| LENGTH.parse(&given(key)).map(Metres);
    let drying = drying_of(&given("drying"))?;
    let of = |key: &str| layers_of(&given(key), drying);
    let thick = |layers: &[LayerDraft]| layers.iter().map(|layer| layer.thickness.0).sum::<f64>();
    let part = |name: &str, shape, back, layers| SectionDraft { name: name.to_owned(), shape, back, layers };
    let shell = Back::SealedSteel { thickness: Metres(0.003) };
    let drilled = Back::VentedSteel { thickness: Metres(0.0015) };
    let length = metres("length")?;
    Ok(match start {
        Start::BarrelForge => {
            let (inside, layers) = (metres("diameter")?, of("layers")?);
            let bore = Metres((inside.0 - 2.0 * thick(&layers)).max(0.0));
            // Behind the floor lies what lines the barrel.
            let floor = [of("floor")?, layers.clone()].concat();
            vec![
                part("barrel", ShapeDraft::Shell { inside, length }, shell, layers.clone()),
                part("floor", ShapeDraft::InBore { bore, length }, shell, floor),
                part("back end", disc(bore), shell, layers),
            ]
        }
        Start::Melter => {
            let (inside, layers) = (metres("diameter")?, of("layers")?);
            let diameter = Metres((inside.0 - 2.0 * thick(&layers)).max(0.0));
            vec![
                part("wall", ShapeDraft::UprightShell { inside, length }, drilled, layers),
                part("floor", disc(diameter), drilled, of("floor")?),
                part("lid", disc(diameter), Back::Open, of("roof")?),
            ]
        }
        Start::BoxForge => {
            let (width, height, layers) = (metres("width")?, metres("height")?, of("layers")?);
            let over = Metres(2.0 * height.0 + width.0);
            vec![
                part("walls and roof", sides(length, over), drilled, layers.clone()),
                part("back end", sides(width, height), drilled, layers),
                part("floor", sides(width, length), drilled, of("floor")?),
            ]
        }
        Start::KilnArch => {
            let (span, rise, height) = (metres("span")?, metres("rise")?, metres("height")?);
            let round = Metres(2.0 * length.0 + span.0);
            vec![
                part("arch", ShapeDraft::Outline(Outline::Arch { span, rise, length }), Back::Open, of("layers")?),
                part("walls", sides(height, round), Back::Open, of("walls")?),
                part("floor", sides(span, length), Back::Open, of("floor")?),
            ]
        }
    })
}

fn sides(width: Metres, length: Metres) -> ShapeDraft {
    ShapeDraft::Outline(Outline::Sides { width, length })
}

fn disc(diameter: Metres) -> ShapeDraft {
    ShapeDraft::Outline(Outline::Disc { diameter })
}

/// What may be added by hand.
const AFTERWORD: &str = r#"
# More that may be said; take away the # and put in your own.
#
# In a section, for `firstheat cuts`: holes through it. `around` counts from the lowest line, clockwise as seen through the
# mouth; in an upright barrel from the front, anticlockwise as seen from above. Other parts have `across` instead.
# [[section.port]]
# name = "burner port"
# diameter = "50 mm"
# along = "200 mm"         # from the mouth or the foot
# around = "250 deg"
#
# A burner that can be turned down, one table for each mark that it burns steadily at: its `share` of the full fire, its `power`, or
# the gauge `pressure` before its jet. A kiln whose control holds ramps has holds-ramps = true in [burner] instead.
# [[burner.mark]]
# name = "low"
# share = "25 %"
#
# In a layer: mix-water = "11.5 %", cure-temperature = "20 C", cure-time = "24 h", polymer-fibres = true;
# of fibre: rigidiser = "3.6 L/m2", plies = 2, compression = "10 mm", trim = "5 mm".
#
# How a material is bought, one table each, named as in the layers:
# [stock.fibre-blanket-128]
# roll-width = "610 mm"
# roll-length = "7.3 m"
# price = 60
# [stock.dense-castable]
# bag = "25 kg"
# batch = "5 kg"
# price = 38
"#;
