//! What one change to lining, drying or burner would do to the length of the heat-up, each searched by the engine itself.
//!
//! Changed linings are only sketched (a small ensemble on the coarse grid, not pulse by pulse), and so is the lining they are
//! held against: the hours are differences of like with like.

mod change;
mod remedy;
mod words;

use rayon::prelude::*;
use serde::Serialize;

use super::Plan;
use super::bound::sketch;
use super::search::PlanError;
use crate::lining::{ChamberDrying, Lining};
use crate::physics::{Belief, Ensemble, Furnace, Grid, SolveError};
use crate::units::{Celsius, Kilograms, Seconds};

pub use change::{Change, one_changes};
pub use remedy::{Remedy, remedies};
pub use words::{SKETCHED, remedy_words};

/// Heat-ups longer than this are of no use to anybody who asks for a shorter one.
pub const LONGEST: Seconds = Seconds(96.0 * 3600.0);
/// A change that saves less than this saves nothing worth the trouble: two parts in a hundred, and six minutes.
const WORTH: (f64, f64) = (0.02, 360.0);

/// One change and what it does.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Effect {
    /// What is changed, in words.
    pub change: String,
    /// What has to be known about it, in words; may be empty.
    pub note: String,
    /// Length of the heat-up after it; `None` when none is safe.
    pub length: Option<Seconds>,
    /// By how much shorter that is; negative when it is longer.
    pub saves: Option<Seconds>,
}

/// What single changes do to one lining.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Effects {
    /// Length of its heat-up as it is, sketched in the same way.
    pub as_it_is: Seconds,
    /// The changes, the one that saves most first.
    pub effects: Vec<Effect>,
}

/// What drying before the first flame does.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Drying {
    /// How, in words: "in the air of the place".
    pub how: &'static str,
    /// Air in the chamber, when it is warmed.
    pub chamber: Option<Celsius>,
    /// For how long.
    pub time: Seconds,
    /// Water of the middle lining that is gone after it.
    pub water_gone: Kilograms,
    /// Length of the heat-up after it; `None` when none is safe.
    pub length: Option<Seconds>,
    /// By how much shorter that is.
    pub saves: Option<Seconds>,
}

/// What drying before the first flame would do to one lining.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dryings {
    /// Length of its heat-up as it is.
    pub as_it_is: Seconds,
    /// Water of the middle lining as it is, free and bound.
    pub water: Kilograms,
    /// Ways of drying, each for a day, three days and a week.
    pub ways: Vec<Drying>,
}

impl Effect {
    /// Whether it saves enough to be told.
    #[must_use]
    pub fn is_worth_it(&self, as_it_is: Seconds) -> bool {
        is_worth_it(self.saves, as_it_is)
    }
}

impl Drying {
    /// Whether it saves enough to be told.
    #[must_use]
    pub fn is_worth_it(&self, as_it_is: Seconds) -> bool {
        is_worth_it(self.saves, as_it_is)
    }
}

fn is_worth_it(saves: Option<Seconds>, as_it_is: Seconds) -> bool {
    saves.is_some_and(|saves| saves.0 >= (WORTH.0 * as_it_is.0).max(WORTH.1))
}

/// Length of a sketched heat-up; `None` when none is safe and bearable.
fn length_of(lining: &Lining, belief: Belief) -> Result<Option<Seconds>, SolveError> {
    match sketch(lining, belief, LONGEST) {
        Ok(length) => Ok(Some(length)),
        Err(PlanError::Solve(error)) => Err(error),
        Err(_) => Ok(None),
    }
}

/// What each single change that has a place in `lining` would do to its heat-up, of which `plan` was found. `done` hears of
/// each change that has been searched, and how many there are.
///
/// # Errors
/// When the engine cannot solve a wall, or the lining as it is has no heat-up.
pub fn effects(
    lining: &Lining,
    plan: &Plan,
    belief: Belief,
    done: &(dyn Fn(usize) + Sync),
) -> Result<Effects, PlanError> {
    let changes = one_changes(lining, plan);
    let count = changes.len() + 1;
    let as_it_is = sketch(lining, belief, LONGEST)?;
    done(count);
    let effect = |(change, changed): &(Change, Lining)| {
        let length = length_of(changed, belief)?;
        done(count);
        let saves = length.map(|length| as_it_is - length);
        Ok(Effect { change: change.words(lining), note: change.note().to_owned(), length, saves })
    };
    let effects: Result<Vec<Effect>, SolveError> = changes.par_iter().map(effect).collect();
    let mut effects = effects?;
    effects.sort_by(|a, b| order(b.saves).total_cmp(&order(a.saves)));
    Ok(Effects { as_it_is, effects })
}

fn order(saves: Option<Seconds>) -> f64 {
    saves.map_or(f64::NEG_INFINITY, |saves| saves.0)
}

/// Ways of drying that are looked at: in words, and the air in the chamber. A lamp keeps a small closed chamber at about
/// 40 °C; a fan heater or a hot plate at 60 °C (estimates; what matters is the temperature that is reached).
const WAYS: [(&str, Option<Celsius>); 3] = [
    ("in the air of the place", None),
    ("a lamp in the closed chamber, its air at 40 °C", Some(Celsius(40.0))),
    ("warm air through the chamber, at 60 °C", Some(Celsius(60.0))),
];

/// Times of drying that are looked at.
const DAYS: [f64; 3] = [1.0, 3.0, 7.0];

/// `lining` after `days` more of drying with the chamber at `chamber`, or in the air of the place.
#[must_use]
pub fn dried(lining: &Lining, chamber: Option<Celsius>, time: Seconds) -> Lining {
    let mut dried = lining.clone();
    match chamber {
        Some(temp) => dried.chamber_drying = Some(ChamberDrying { temp, time }),
        None => {
            for layer in dried.sections.iter_mut().flat_map(|section| &mut section.layers) {
                layer.water.air_dried = layer.water.air_dried + time;
            }
        }
    }
    dried
}

/// What drying before the first flame would save. `done` hears of each way that has been searched, and how many there are.
///
/// # Errors
/// When the engine cannot solve a wall, or the lining as it is has no heat-up.
pub fn dryings(lining: &Lining, belief: Belief, done: &(dyn Fn(usize) + Sync)) -> Result<Dryings, PlanError> {
    let all: Vec<(&str, Option<Celsius>, Seconds)> = WAYS
        .into_iter()
        .flat_map(|(how, chamber)| DAYS.map(|days| (how, chamber, Seconds::from_hours(24.0 * days))))
        .collect();
    let count = all.len() + 1;
    let searched = |lining: &Lining| -> Result<(Option<Seconds>, Kilograms), SolveError> {
        let found = (length_of(lining, belief)?, water_of(lining)?);
        done(count);
        Ok(found)
    };
    let as_it_is = sketch(lining, belief, LONGEST)?;
    done(count);
    let water = water_of(lining)?;
    let way = |&(how, chamber, time): &(&'static str, Option<Celsius>, Seconds)| {
        let (length, left) = searched(&dried(lining, chamber, time))?;
        let saves = length.map(|length| as_it_is - length);
        Ok(Drying { how, chamber, time, water_gone: Kilograms((water.0 - left.0).max(0.0)), length, saves })
    };
    let ways: Result<Vec<Drying>, SolveError> = all.par_iter().map(way).collect();
    Ok(Dryings { as_it_is, water, ways: ways? })
}

/// Water of the middle lining before the first flame, free and bound.
fn water_of(lining: &Lining) -> Result<Kilograms, SolveError> {
    let start = Ensemble::new(&Furnace::of(lining, Grid::Coarse), Belief { members: 1, seed: 1 })?;
    let sections = 0..start.furnace().section_names().len();
    Ok(Kilograms(sections.map(|section| start.section(0, section).water_left.0).sum()))
}

impl Dryings {
    /// The best use of the time before the first flame, in words: the drying that saves most, and the least that saves
    /// nearly as much.
    #[must_use]
    pub fn proposal(&self) -> String {
        /// "Nearly as much".
        const NEARLY: f64 = 0.8;
        let worth = || self.ways.iter().filter(|way| way.is_worth_it(self.as_it_is));
        let Some(best) = worth().max_by(|a, b| order(a.saves).total_cmp(&order(b.saves))) else {
            return "None of these is worth the wait for the hours it saves: light it when it is cured. A week in dry air still \
                    does no harm, and the engine errs on the wet side."
                .to_owned();
        };
        let enough = worth().filter(|way| order(way.saves) >= NEARLY * order(best.saves));
        let quickest = enough.min_by(|a, b| a.time.0.total_cmp(&b.time.0)).unwrap_or(best);
        format!(
            "Best use of the time before the first flame: {}, for {}; it takes {:.1} h off the heat-up. {}",
            quickest.how,
            days(quickest.time),
            order(quickest.saves) / 3600.0,
            said_in_file(quickest)
        )
    }
}

/// "3 days".
#[must_use]
pub fn days(time: Seconds) -> String {
    let days = time.hours() / 24.0;
    if (days - 1.0).abs() < 0.01 { "1 day".to_owned() } else { format!("{days:.0} days") }
}

/// How the lining file says that it has been done.
fn said_in_file(way: &Drying) -> String {
    match way.chamber {
        Some(temp) => format!(
            "Once it is done, say so in the lining file and plan again: [chamber-drying] temperature = \"{:.0} C\", time = \"{}\".",
            temp.0,
            days(way.time)
        ),
        None => {
            format!("Once it is done, add {} to each `air-dried` in the lining file and plan again.", days(way.time))
        }
    }
}
