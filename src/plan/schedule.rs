//! Ramp-and-hold schedules: the makers' published ones, and a person's own.
//!
//! A schedule file begins with `format = "firstheat schedule 1"`, has a `title` and one `[[step]]` per ramp:
//!
//! ```toml
//! format = "firstheat schedule 1"
//! title = "slow start, then quick"
//! [[step]]
//! ramp = "25 C/h"
//! to = "120 C"
//! hold = "4 h"               # and / or:
//! hold-per-inch = "0.5 h"    # for each 25.4 mm of lining that was mixed with water
//! hold-most = "8 h"          # both together no longer than this
//! ```
//!
//! `schedules/published.toml` holds several of them under letters. They are temperatures of the chamber gas.

use std::sync::LazyLock;

use crate::lining::Lining;
use crate::lining::text::fields::{Asked, Fields};
use crate::lining::text::{self, LiningError, Refused};
use crate::units::quantity::{RAMP, TEMPERATURE, TIME};
use crate::units::{Celsius, Curve, KelvinPerHour, Metres, Seconds};

/// First line of a schedule file, without `format =`.
pub const SCHEDULE_FORMAT: &str = "firstheat schedule 1";
/// First line of a file of published schedules, without `format =`.
pub const PUBLISHED_FORMAT: &str = "firstheat published schedules 1";

/// A thickness of one inch, by which makers count holds.
const INCH: Metres = Metres(0.0254);

/// Ramps and holds of the chamber gas.
#[derive(Clone, Debug, PartialEq)]
pub struct Schedule {
    /// What it is for.
    pub title: String,
    /// In order; at least one.
    pub steps: Vec<Step>,
}

/// One ramp and the hold after it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// How fast.
    pub ramp: KelvinPerHour,
    /// Where to.
    pub to: Celsius,
    /// Held there, whatever the thickness.
    pub hold: Seconds,
    /// Held there for each inch of lining, besides.
    pub hold_per_inch: Seconds,
    /// Both holds together are no longer than this.
    pub hold_most: Seconds,
}

const RAMP_KEY: Asked =
    Asked { key: "ramp", measure: &RAMP, least: 0.1, most: 1e5, range: "a ramp from 0.1 to 100000 C/h" };
const TO: Asked =
    Asked { key: "to", measure: &TEMPERATURE, least: 0.0, most: 1800.0, range: "a temperature from 0 C to 1800 C" };
const HOLD: Asked = asked_time("hold");
const HOLD_PER_INCH: Asked = asked_time("hold-per-inch");
const HOLD_MOST: Asked = asked_time("hold-most");

const fn asked_time(key: &'static str) -> Asked {
    Asked { key, measure: &TIME, least: 0.0, most: 30.0 * 86_400.0, range: "a time from 0 s to 30 days" }
}

impl Schedule {
    /// Temperature (°C) of the gas against time (s) from `start` on, for `thickness` of lining.
    ///
    /// # Panics
    /// Never: times rise because every point is later than the one before.
    #[must_use]
    pub fn gas(&self, start: Celsius, thickness: Metres) -> Curve {
        let mut points = vec![(0.0, start.0)];
        let (mut time_s, mut temp_c) = (0.0, start.0);
        let mut go_to = |span_s: f64, temp_c: f64| {
            if span_s > 1e-3 {
                time_s += span_s;
                points.push((time_s, temp_c));
            }
        };
        for step in &self.steps {
            go_to((step.to.0 - temp_c).abs() / step.ramp.0 * 3600.0, step.to.0);
            go_to(step.hold_on(thickness).0, step.to.0);
            temp_c = step.to.0;
        }
        Curve::new(points).expect("every point is later than the one before")
    }
}

impl Step {
    /// How long the temperature is held on a lining of `thickness`.
    #[must_use]
    pub fn hold_on(&self, thickness: Metres) -> Seconds {
        Seconds((self.hold.0 + self.hold_per_inch.0 * thickness.0 / INCH.0).min(self.hold_most.0))
    }
}

/// Thickness by which holds are counted: the most that any section has of layers that were mixed with water, or all of its
/// layers where none was.
#[must_use]
pub fn counted_thickness(lining: &Lining) -> Metres {
    let mixed = lining.sections.iter().map(|section| {
        section
            .layers
            .iter()
            .filter(|layer| layer.material.kind.is_mixed_with_water())
            .map(|layer| layer.thickness.0)
            .sum()
    });
    let thickest = mixed.fold(0.0, f64::max);
    if thickest > 0.0 {
        return Metres(thickest);
    }
    Metres(lining.sections.iter().map(|section| section.thickness().0).fold(0.0, f64::max))
}

/// Reads a schedule file.
///
/// # Errors
/// When the text is no schedule file, or holds anything that cannot be used.
pub fn parse_schedule(text: &str) -> Result<Schedule, LiningError> {
    text::read(text, SCHEDULE_FORMAT, |top| {
        let title = top
            .needed_text("title", "what it is for", "\"slow start, then quick\"")
            .map(|title| title.value.to_owned());
        let steps = read_steps(top);
        Ok(Schedule { title: title?, steps: steps? })
    })
}

/// Reads a file of published schedules: each with its letter.
///
/// # Errors
/// When the text is no such file, or holds anything that cannot be used.
pub fn parse_published(text: &str) -> Result<Vec<(String, Schedule)>, LiningError> {
    text::read(text, PUBLISHED_FORMAT, |top| {
        top.text("source", "\"makers' sheets\"")?;
        top.tables("schedule")?.iter().map(read_published).collect()
    })
}

/// The published schedules shipped with the program, by letter.
///
/// # Panics
/// Never: a test reads the same text.
#[must_use]
pub fn published() -> &'static [(String, Schedule)] {
    static SHIPPED: LazyLock<Vec<(String, Schedule)>> = LazyLock::new(|| {
        parse_published(include_str!("../../schedules/published.toml"))
            .expect("the shipped schedules are read by the tests")
    });
    &SHIPPED
}

fn read_published(fields: &Fields<'_>) -> Result<(String, Schedule), Refused> {
    let letter = fields.needed_text("letter", "its letter", "\"A\"").map(|letter| letter.value.to_owned());
    let title = fields.needed_text("title", "what it is for", "\"castable\"").map(|title| title.value.to_owned());
    let note = fields.text("note", "\"weak: second-hand\"");
    let steps = read_steps(fields);
    fields.finish();
    note?;
    Ok((letter?, Schedule { title: title?, steps: steps? }))
}

fn read_steps(fields: &Fields<'_>) -> Result<Vec<Step>, Refused> {
    let tables = fields.tables("step")?;
    if tables.is_empty() {
        return Err(fields.missing("step", "at least one [[step]]", "[[step]]"));
    }
    let steps: Vec<Result<Step, Refused>> = tables.iter().map(read_step).collect();
    steps.into_iter().collect()
}

fn read_step(fields: &Fields<'_>) -> Result<Step, Refused> {
    let (ramp, to) = (fields.needed(&RAMP_KEY), fields.needed(&TO));
    let hold = fields.quantity_or(&HOLD, 0.0);
    let per_inch = fields.quantity_or(&HOLD_PER_INCH, 0.0);
    let most = fields.quantity_or(&HOLD_MOST, f64::INFINITY);
    fields.finish();
    Ok(Step {
        ramp: KelvinPerHour(ramp?.value),
        to: Celsius(to?.value),
        hold: Seconds(hold?),
        hold_per_inch: Seconds(per_inch?),
        hold_most: Seconds(most?),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holds_grow_with_the_thickness_up_to_their_longest() {
        let (_, schedule) = &published()[0];
        let hold_h = |mm| schedule.steps[0].hold_on(Metres::from_mm(mm)).hours();
        assert!((hold_h(25.4) - 1.5).abs() < 1e-9 && (hold_h(254.0) - 8.0).abs() < 1e-9);
    }

    #[test]
    fn a_schedule_that_stays_where_it_is_has_one_point_less() {
        let text = "format = \"firstheat schedule 1\"\ntitle = \"warm\"\n[[step]]\nramp = \"10 C/h\"\nto = \"20 C\"\nhold = \"2 h\"\n";
        let gas = parse_schedule(text).expect("a schedule").gas(Celsius(20.0), Metres(0.05));
        assert_eq!(gas.points(), [(0.0, 20.0), (7200.0, 20.0)]);
    }
}
