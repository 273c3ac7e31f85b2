//! `wall`: what one or several linings will do in service, side by side.

use std::fmt::Write as _;

use serde_json::json;

use super::{AppError, Outcome, print};
use crate::cli::WallArgs;
use crate::files::read_lining;
use crate::lining::Lining;
use crate::lining::starts::hard_face_of;
use crate::physics::Belief;
use crate::plan::outlook::{Asked, Change, HardFace, LEAST_BORE, Outlook, changed, outlook};
use crate::units::quantity::{QuantityError, Shown, UnitSystem, length_within, temperature_within};
use crate::units::{Celsius, Kilograms, Metres, Seconds};

/// Believable chamber and face temperatures.
const HEATS: [Celsius; 2] = [Celsius(150.0), Celsius(1800.0)];
/// Believable blankets.
const BLANKETS: [Metres; 2] = [Metres(0.003), Metres(0.3)];
/// Width of the heads of the rows, characters.
const HEADS: usize = 30;
/// Width of a column, characters.
const COLUMN: usize = 16;

/// Runs the command.
///
/// # Errors
/// When a lining or a flag cannot be used, or the engine cannot solve a wall.
pub fn run(args: &WallArgs) -> Result<Outcome, AppError> {
    let belief = Belief { members: usize::from(args.belief.members), seed: args.belief.seed };
    let asked = Asked { at: heat(&args.at)?, heat: heat(&args.heat)?, belief };
    let changes = changes(args)?;
    let units = args.units.into();
    let (mut linings, mut notes) = (Vec::new(), Vec::new());
    for path in &args.linings {
        let lining = read_lining(path)?.value;
        notes.extend(too_hot(&lining, asked.at, units));
        linings.push(lining.clone());
        for change in &changes {
            match changed(&lining, change, units) {
                Some(other) => linings.push(other),
                None => notes.push(no_place(&lining, change, units)),
            }
        }
    }
    let outlooks: Vec<Outlook> = linings.iter().map(|lining| outlook(lining, &asked)).collect::<Result<_, _>>()?;
    let page = if args.json { as_json(&outlooks, &asked) } else { as_page(&outlooks, &asked, &notes, units) };
    print(&page)?;
    Ok(Outcome::Done)
}

fn heat(text: &str) -> Result<Celsius, QuantityError> {
    temperature_within(text, HEATS)
}

/// The alternatives that flags ask for.
fn changes(args: &WallArgs) -> Result<Vec<Change>, AppError> {
    let mut changes = Vec::new();
    if args.coat {
        changes.push(Change::Coat);
    }
    if let Some(text) = &args.blanket {
        changes.push(Change::Blanket(length_within(text, BLANKETS)?));
    }
    if let Some(text) = &args.hard_face {
        let refused = |source| AppError::Answer { flag: "hard-face".to_owned(), source };
        let (material, thickness) = hard_face_of(text).map_err(refused)?;
        changes.push(Change::HardFace(HardFace { material, thickness }));
    }
    Ok(changes)
}

fn no_place(lining: &Lining, change: &Change, units: UnitSystem) -> String {
    let (what, needs) = match change {
        Change::Coat => ("a reflecting coat", format!("a bore of at least {}", LEAST_BORE.shown(units))),
        Change::Blanket(_) => ("one more blanket", "a section with fibre".to_owned()),
        Change::HardFace(_) => ("a hard face", "a section whose hot face is fibre or mortar".to_owned()),
    };
    format!("`{}` has no place for {what}: it takes {needs}", lining.name)
}

/// Hot faces that do not stand the chamber's temperature.
fn too_hot(lining: &Lining, at: Celsius, units: UnitSystem) -> Vec<String> {
    let faces = lining.sections.iter().filter_map(|section| Some((section, section.layers.first()?)));
    let weak = faces.filter(|(_, face)| face.material.service_limit < at);
    weak.map(|(section, face)| {
        format!(
            "{} of `{}`: {} is above the {} that {} stands in service",
            section.name,
            lining.name,
            at.shown(units),
            face.material.service_limit.shown(units),
            face.material.key
        )
    })
    .collect()
}

fn as_json(outlooks: &[Outlook], asked: &Asked) -> String {
    let all = json!({
        "chamber_c": asked.at.0, "heat_c": asked.heat.0, "members": asked.belief.members, "seed": asked.belief.seed,
        "shares": [0.05, 0.5, 0.95], "linings": outlooks,
    });
    format!("{all:#}\n")
}

/// One line of the table: its head, and its cell for each lining.
fn row(page: &mut String, head: &str, outlooks: &[Outlook], cell: impl Fn(&Outlook) -> String) {
    // Writing to a string cannot fail, here and below.
    let _ = write!(page, "{head:<HEADS$}");
    for outlook in outlooks {
        let _ = write!(page, "{:>COLUMN$}", cell(outlook));
    }
    page.push('\n');
}

fn as_page(outlooks: &[Outlook], asked: &Asked, notes: &[String], units: UnitSystem) -> String {
    let mut page = String::new();
    for (index, outlook) in outlooks.iter().enumerate() {
        let _ = writeln!(page, "{}  {}", letter(index), outlook.name);
    }
    let _ = writeln!(
        page,
        "\nThe chamber at {}, the wall dry; ranges are what 90 of 100 possible linings of the kind lie between\n",
        asked.at.shown(units)
    );
    let _ = write!(page, "{:<HEADS$}", "");
    for index in 0..outlooks.len() {
        let _ = write!(page, "{:>COLUMN$}", letter(index));
    }
    page.push('\n');
    write_shells(&mut page, outlooks, units);
    write_heat(&mut page, outlooks, asked, units);
    write_water(&mut page, outlooks, units);
    for note in notes {
        let _ = writeln!(page, "\n{}", textwrap::fill(&format!("note: {note}"), 100));
    }
    let _ = writeln!(page, "\n{}", textwrap::fill(&limits(units), 100));
    page
}

/// What the figures leave out. Practice figures for shells: common practice, no source.
fn limits(units: UnitSystem) -> String {
    let met = match units {
        UnitSystem::Metric => "about 218 °C behind 50 mm of fibre, 260 to 315 °C behind 25 mm",
        UnitSystem::Us => "about 425 °F behind 2 in of fibre, 500 to 600 °F behind 1 in",
    };
    format!(
        "Still air at the shell; ends, ports and corners are not in it, and a shell near a port or an open mouth is hotter. \
         Shells met in practice: {met}, give or take a fifth. Gas is what a stepless burner without excess air would burn. \
         What a reflecting coat saves is disputed; only the emissivity of the face is in the engine."
    )
}

fn letter(index: usize) -> String {
    let letter = u8::try_from(index).ok().filter(|index| *index < 26).map(|index| char::from(b'A' + index));
    letter.map_or_else(|| (index + 1).to_string(), String::from)
}

/// Names of all sections, each once, in the order in which they come.
fn section_names(outlooks: &[Outlook]) -> Vec<&str> {
    let mut names = Vec::new();
    for section in outlooks.iter().flat_map(|outlook| &outlook.sections) {
        if !names.contains(&section.name.as_str()) {
            names.push(section.name.as_str());
        }
    }
    names
}

/// A range, or one figure where both ends are written alike.
fn from_to(low: &str, high: &str) -> String {
    if low == high { low.to_owned() } else { format!("{low} to {high}") }
}

fn write_shells(page: &mut String, outlooks: &[Outlook], units: UnitSystem) {
    let shown = |temp_c: f64| {
        let text = Celsius(temp_c.round()).shown(units);
        text.split_once(' ').map_or(text.clone(), |(number, _)| format!("{:.0}", number.parse().unwrap_or(temp_c)))
    };
    let unit = if units == UnitSystem::Us { "°F" } else { "°C" };
    let range = |range: [f64; 3]| from_to(&shown(range[0]), &shown(range[2]));
    for (when, pick) in [("after an hour", 0), ("when steady", 1)] {
        let _ = writeln!(page, "shell {when}, {unit}");
        for name in section_names(outlooks) {
            row(page, &format!("  {name}"), outlooks, |outlook| {
                let section = outlook.sections.iter().find(|section| section.name == name);
                section.map_or_else(String::new, |section| range([section.shell_hour_c, section.shell_steady_c][pick]))
            });
        }
    }
}

fn write_heat(page: &mut String, outlooks: &[Outlook], asked: &Asked, units: UnitSystem) {
    let energy = |joules: f64| match units {
        UnitSystem::Metric => format!("{:.2} MJ", joules / 1e6),
        UnitSystem::Us => format!("{:.0} BTU", joules / crate::units::quantity::BTU_J),
    };
    row(page, "heat lost through walls", outlooks, |outlook| outlook.lost_w.shown(units));
    row(page, "heat stored after an hour", outlooks, |outlook| energy(outlook.stored_hour_j));
    row(page, "heat stored when steady", outlooks, |outlook| energy(outlook.stored_steady_j));
    for (when, pick) in [("after an hour", 0), ("when steady", 1)] {
        row(page, &format!("gas an hour, {when}"), outlooks, |outlook| outlook.gas_per_hour[pick].shown(units));
    }
    let head = format!("cold to a face of {}", asked.heat.shown(units));
    row(page, &head, outlooks, |outlook| match outlook.heating {
        [Some(quick), _, Some(slow)] => {
            let minutes = |span: Seconds| format!("{:.0}", span.0 / 60.0);
            format!("{} min", from_to(&minutes(quick), &minutes(slow)))
        }
        [Some(quick), ..] => format!("{:.0} min or never", quick.0 / 60.0),
        _ => "never".to_owned(),
    });
    row(page, "gas for that", outlooks, |outlook| {
        outlook.heating_gas.map_or_else(|| "-".to_owned(), |gas| gas.shown(units))
    });
}

fn write_water(page: &mut String, outlooks: &[Outlook], units: UnitSystem) {
    row(page, "weight, dry", outlooks, |outlook| outlook.dry.shown(units));
    row(page, "water before it dries", outlooks, |outlook| outlook.water.shown(units));
    if outlooks.iter().any(|outlook| outlook.cost.is_some()) {
        row(page, "rolls and bags cost", outlooks, |outlook| {
            outlook.cost.map_or_else(|| "?".to_owned(), |cost| format!("{cost:.2}"))
        });
    }
    let _ = writeln!(page, "\nwater before it dries, layer by layer from the fire");
    for (index, outlook) in outlooks.iter().enumerate() {
        for section in &outlook.sections {
            let shown = |water: &Kilograms| if water.0 < 5e-4 { "none".to_owned() } else { water.shown(units) };
            let layers = section.layers.iter().map(|(key, water)| format!("{key} {}", shown(water)));
            let _ = writeln!(page, "  {} {}: {}", letter(index), section.name, layers.collect::<Vec<_>>().join(", "));
        }
    }
}
