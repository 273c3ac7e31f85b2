//! The card of a plan: one page of text, 80 columns wide, to print and take to the furnace.

mod table;
mod unit_words;

use std::fmt::Write as _;

use super::Plan;
use super::check::Findings;
use crate::lining::{Fuel, Lining};
use crate::units::Kilograms;
use crate::units::quantity::{Shown, UnitSystem};
use table::{rows, write_table};
pub use unit_words::in_units;

/// Columns of a card.
pub const WIDTH: usize = 80;

/// What a card says beside the plan itself.
#[derive(Clone, Copy, Debug)]
pub struct CardOf<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// What a simulation of its pulses found.
    pub findings: &'a Findings,
    /// The lining it is for.
    pub lining: &'a Lining,
    /// What stands at the top right, such as a date; may be empty.
    pub label: &'a str,
}

/// The card as text, with quantities in `units`.
#[must_use]
pub fn card(of: &CardOf<'_>, units: UnitSystem) -> String {
    let mut page = headline(&format!("First heat of: {}", of.plan.lining), of.label);
    page += "\n";
    page += &summary(of, units);
    page += "\n";
    write_table(&mut page, &rows(of.plan), units);
    for (heading, sentences) in closing(units) {
        page += "\n";
        page += heading;
        page += "\n";
        for sentence in sentences {
            put(&mut page, "- ", &sentence);
        }
    }
    page
}

/// What is kept and what was found: the head of the card, and all that a check of a plan says.
#[must_use]
pub fn summary(of: &CardOf<'_>, units: UnitSystem) -> String {
    let (plan, found, limits) = (of.plan, of.findings, &of.plan.limits);
    let pulses: u32 = plan.rounds.iter().map(|round| round.count).sum();
    let mut text = String::new();
    let length = plan.length().shown(units);
    named(&mut text, "length", &format!("{length}, {} in {}", many(pulses, "pulse"), rounds_of(plan)));
    named(&mut text, "gas", &gas(of.lining, found.fuel, units));
    let (danger, ceiling) = (found.danger, limits.danger_ceiling);
    let place = in_units(&found.danger_place, units);
    named(
        &mut text,
        "danger",
        &format!("{danger:.2} of {ceiling:.2} for 95 of 100 possible linings (1 is spalling risk); {place}"),
    );
    let (ramp, allowed) = (whole(found.ramp.shown(units)), whole(limits.ramp.shown(units)));
    named(&mut text, "ramp", &format!("{ramp} of {allowed} while wet, as the mean over the pulses"));
    let (hottest, service) = (whole(found.hottest.shown(units)), whole(limits.service.shown(units)));
    let shell = whole(found.shell.shown(units));
    named(
        &mut text,
        "hottest",
        &format!("hot face {hottest} at the top of a pulse; the material's service limit is {service}; shell {shell}"),
    );
    let (soak, soak_temp) = (limits.soak.shown(units), whole(limits.soak_temp.shown(units)));
    named(&mut text, "soak", &format!("{soak} at {soak_temp}, at the end"));
    text
}

fn gas(lining: &Lining, fuel: Kilograms, units: UnitSystem) -> String {
    let burner = match lining.burner.fuel {
        Fuel::Power(power) => format!("burner of {}", power.shown(units)),
        Fuel::PropaneJet { diameter, gauge_pressure } => {
            format!("jet of {} at {}", diameter.shown(units), gauge_pressure.shown(units))
        }
    };
    format!("about {} of propane, {burner}", fuel.shown(units))
}

fn rounds_of(plan: &Plan) -> String {
    many(plan.rounds.len() as u32, "round")
}

fn many(count: u32, thing: &str) -> String {
    if count == 1 { format!("1 {thing}") } else { format!("{count} {thing}s") }
}

/// A shown quantity with its number rounded to a whole one.
fn whole(shown: String) -> String {
    match shown.split_once(' ').and_then(|(number, unit)| Some((number.parse::<f64>().ok()?, unit))) {
        Some((number, unit)) => format!("{number:.0} {unit}"),
        None => shown,
    }
}

/// What stands below the table: headings with their sentences.
fn closing(units: UnitSystem) -> [(&'static str, Vec<String>); 4] {
    let of = |sentences: &[&str]| sentences.iter().map(|sentence| in_units(sentence, units)).collect();
    [
        (
            "When to stop",
            of(&[
                "The heat-up is done when the last round is through, the deepest probe has left its plateau near \
                 100 °C (110 to 125 °C in dense linings), and a cold glass held to the opening no longer fogs. \
                 Otherwise repeat the last round.",
                "Then gas off, and let it cool with the opening covered, at most 56 K/h. Hairline cracks are meant to form.",
            ]),
        ),
        (
            "Signs of trouble",
            of(&[
                "A bang, flakes on the floor, a crack that opens while you watch, a jet of steam: burner off, stay out \
                 of line with the opening, let it cool, look before you go on.",
                "Thick steam: leave the burner off until it thins, then go on where you were.",
                "A flame that went out: gas off, wait, vent, then light anew. The pulse counts as not done.",
            ]),
        ),
        (
            "Before every pulse",
            of(&[
                "Every pulse is a light-up: door open, nobody in line with the opening, a flame at the burner mouth \
                 before the gas. Hot walls do not light it.",
                "Burns, scalding steam, flying chips: face shield, gloves, clothes that do not melt, nobody alone.",
                "Carbon monoxide has no smell: work in moving air, with a meter that reads. A smell of gas: shut the \
                 cylinder, light nothing, leave, air the place. Test joints with soapy water.",
                "Local codes and licensed practice come before this page.",
            ]),
        ),
        (
            "What it is worth",
            of(&["Published peak pressures of models such as this one miss measured ones by 57 to 87 % even after \
                 calibration. So margins are kept, and the probes decide, not this page."]),
        ),
    ]
}

fn headline(left: &str, right: &str) -> String {
    let gap = WIDTH.saturating_sub(left.chars().count() + right.chars().count());
    let mut lines = String::new();
    if gap == 0 {
        put(&mut lines, "", left);
        put(&mut lines, "", right);
    } else {
        let _ = writeln!(lines, "{}", format!("{left}{}{right}", " ".repeat(gap)).trim_end());
    }
    lines
}

fn named(text: &mut String, name: &str, words: &str) {
    put(text, &format!("{name:<9}"), words);
}

/// Appends `words` after `lead`, wrapped to the width of the card, with later lines set in as far as the first.
fn put(text: &mut String, lead: &str, words: &str) {
    let indent = " ".repeat(lead.chars().count());
    let options = textwrap::Options::new(WIDTH).initial_indent(lead).subsequent_indent(&indent);
    for line in textwrap::wrap(&held_together(words), options) {
        text.push_str(&line.replace(NO_BREAK, " "));
        text.push('\n');
    }
}

/// A blank at which no line is broken.
const NO_BREAK: char = '\u{a0}';

/// `words` with each number kept on the line of its unit.
fn held_together(words: &str) -> String {
    let mut held = String::with_capacity(words.len());
    let mut before = ' ';
    for (at, c) in words.char_indices() {
        let next = words[at + c.len_utf8()..].chars().next().unwrap_or(' ');
        held.push(if c == ' ' && before.is_ascii_digit() && !next.is_ascii_digit() { NO_BREAK } else { c });
        before = c;
    }
    held
}
