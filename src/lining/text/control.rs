//! Reads what a burner can be set to: marks below the full fire, or ramps that its control holds.

use super::fields::{Asked, Fields, Placed};
use super::refusal::{Fault, Refused};
use crate::lining::{Control, Fuel, Mark, MarkAt};
use crate::units::Pascals;
use crate::units::quantity::{POWER, PRESSURE, SHARE};

/// Most marks: more than a person tells apart on a valve (choice).
const MOST_MARKS: usize = 6;
/// Longest name of a mark, so that it can be read from afar.
const LONGEST_NAME: usize = 12;
/// Words that mean something else.
const TAKEN: [&str; 4] = ["full", "shut", "on", "off"];

const MARK_SHARE: Asked = Asked {
    key: "share",
    measure: &SHARE,
    least: 0.02,
    most: 0.98,
    range: "a share of the full fire from 2 % to 98 % (the full fire is always there)",
};
const MARK_POWER: Asked =
    Asked { key: "power", measure: &POWER, least: 20.0, most: 2e6, range: "a fire from 20 W to 2000 kW" };
const MARK_PRESSURE: Asked = Asked {
    key: "pressure",
    measure: &PRESSURE,
    least: 100.0,
    most: 7e5,
    range: "a gauge pressure from 1 mbar to 7 bar (0.015 to 100 psi)",
};

/// Reads `mark` and `holds-ramps` of the burner's table. `fuel` is that of the full fire, where it could be read.
pub(super) fn read_control(fields: &Fields<'_>, fuel: Option<&Fuel>) -> Result<Control, Refused> {
    let (holds_ramps, tables) = (fields.truth("holds-ramps"), fields.tables("mark"));
    let (holds_ramps, tables) = (holds_ramps? == Some(true), tables?);
    if holds_ramps && !tables.is_empty() {
        return Err(fields.refuse("mark", Fault::Both { first: "holds-ramps", second: "mark" }));
    }
    if holds_ramps {
        return Ok(Control::Ramps);
    }
    let marks: Vec<_> = tables.iter().map(|table| read_mark(table, fuel)).collect();
    let marks: Vec<Mark> = marks.into_iter().collect::<Result<_, _>>()?;
    check_marks(fields, &tables, &marks)?;
    Ok(if marks.is_empty() { Control::OnOff } else { Control::Marks(marks) })
}

fn read_mark(fields: &Fields<'_>, fuel: Option<&Fuel>) -> Result<Mark, Refused> {
    let name = fields.needed_text("name", "the word for the mark", "\"low\"");
    let (share, power, pressure) =
        (fields.quantity(&MARK_SHARE), fields.quantity(&MARK_POWER), fields.quantity(&MARK_PRESSURE));
    fields.finish();
    let (share, power, pressure) = (share?, power?, pressure?);
    let at = match (share, power, pressure) {
        (Some(share), None, None) => MarkAt::Share(share.value),
        (None, Some(power), None) => mark_power(fields, &power, fuel)?,
        (None, None, Some(pressure)) => mark_pressure(fields, &pressure, fuel)?,
        (None, None, None) => {
            let expected = "its share of the full fire, or its `power`, or the gauge `pressure` before the jet";
            return Err(fields.missing("share", expected, "share = \"25 %\""));
        }
        (Some(_), Some(power), _) => return Err(fields.refuse_at(&power, both("share", "power"))),
        (Some(_), None, Some(pressure)) => return Err(fields.refuse_at(&pressure, both("share", "pressure"))),
        (None, Some(_), Some(pressure)) => return Err(fields.refuse_at(&pressure, both("power", "pressure"))),
    };
    let name = name?;
    check_name(fields, &name)?;
    Ok(Mark { name: name.value.to_owned(), at })
}

fn both(first: &'static str, second: &'static str) -> Fault {
    Fault::Both { first, second }
}

fn mark_power(fields: &Fields<'_>, power: &Placed<f64>, fuel: Option<&Fuel>) -> Result<MarkAt, Refused> {
    match fuel {
        Some(Fuel::Power(whole)) if power.value >= whole.0 => {
            let found = fields.written(power);
            let range = "less than the `power` of the burner, which is its full fire";
            Err(fields.refuse_at(power, Fault::OutOfRange { found, range }))
        }
        Some(Fuel::Power(whole)) => Ok(MarkAt::Share(power.value / whole.0)),
        Some(Fuel::PropaneJet { .. }) => Err(fields.refuse_at(power, out_of_place("power", "a burner with a jet"))),
        // The burner's own fuel was refused already.
        None => Ok(MarkAt::Share(0.5)),
    }
}

fn mark_pressure(fields: &Fields<'_>, pressure: &Placed<f64>, fuel: Option<&Fuel>) -> Result<MarkAt, Refused> {
    match fuel {
        Some(Fuel::PropaneJet { gauge_pressure, .. }) if pressure.value >= gauge_pressure.0 => {
            let found = fields.written(pressure);
            let range = "less than the `pressure` of the burner, which is its full fire";
            Err(fields.refuse_at(pressure, Fault::OutOfRange { found, range }))
        }
        Some(Fuel::Power(_)) => Err(fields.refuse_at(pressure, out_of_place("pressure", "a burner without a jet"))),
        _ => Ok(MarkAt::Pressure(Pascals(pressure.value))),
    }
}

fn out_of_place(key: &'static str, what: &str) -> Fault {
    let only_for = if key == "power" { "a burner that is known by its power" } else { "a burner with a jet" };
    Fault::OutOfPlace { key, what: what.to_owned(), only_for, instead: ", and give its share of the full fire" }
}

fn check_name(fields: &Fields<'_>, name: &Placed<&str>) -> Result<(), Refused> {
    let refuse = |range| {
        let found = format!("\"{}\"", name.value.chars().take(40).collect::<String>());
        Err(fields.refuse_at(name, Fault::OutOfRange { found, range }))
    };
    if TAKEN.contains(&name.value) {
        return refuse("another word: full, shut, on and off are taken");
    }
    if name.value.chars().count() > LONGEST_NAME || name.value.contains(char::is_control) {
        return refuse("a word of at most 12 letters, to be read from afar");
    }
    Ok(())
}

fn check_marks(fields: &Fields<'_>, tables: &[Fields<'_>], marks: &[Mark]) -> Result<(), Refused> {
    if marks.len() > MOST_MARKS {
        let found = format!("{} marks", marks.len());
        return Err(fields.refuse("mark", Fault::OutOfRange { found, range: "at most 6 marks" }));
    }
    for (index, (mark, table)) in marks.iter().zip(tables).enumerate() {
        let earlier = &marks[..index];
        if earlier.iter().any(|other| other.name == mark.name) {
            return Err(table.refuse("name", Fault::SameMark { name: mark.name.clone() }));
        }
        if let Some(same) = earlier.iter().find(|other| other.at == mark.at) {
            return Err(table.refuse("name", Fault::MarksAlike { first: same.name.clone(), second: mark.name.clone() }));
        }
    }
    Ok(())
}
