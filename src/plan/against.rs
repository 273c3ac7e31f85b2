//! Our plans beside the published schedules, each on a lining of the kind it was written for, to the same end and at no more
//! danger.

use serde::Serialize;

use super::Plan;
use super::schedule::{Schedule, counted_thickness, published};
use super::search::{Asked, PlanError, SearchOptions, search_within};
use super::trial::{Course, Trial, try_out};
use super::why::{longest, stretches};
use crate::lining::material::Materials;
use crate::lining::text::{USUAL_DANGER_CEILING, parse_lining};
use crate::lining::yardstick::yardsticks;
use crate::lining::{Cure, Lining};
use crate::physics::{Belief, Ensemble, Furnace, Grid, SolveError};
use crate::units::{Celsius, Metres, Seconds};

/// A published schedule and a lining of the kind it was written for.
#[derive(Clone, Debug)]
pub struct Pair {
    /// Letter of the schedule.
    pub letter: String,
    /// The schedule.
    pub schedule: Schedule,
    /// Short name of the lining.
    pub name: String,
    /// The lining.
    pub lining: Lining,
}

/// How one schedule and our plans compare.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Against {
    /// Letter of the schedule.
    pub letter: String,
    /// Short name of the lining.
    pub lining: String,
    /// Last temperature of the schedule, which is also that of our soak.
    pub end: Celsius,
    /// Length of the schedule.
    pub theirs: Seconds,
    /// Danger number that 95 of 100 possible linings stay below under it.
    pub danger: f64,
    /// Whether the schedule goes on until the danger has passed.
    pub is_past_its_peak: bool,
    /// Whether 95 % of the water is out when it ends.
    pub dries: bool,
    /// Our plan at no more danger than that.
    pub like: Ours,
    /// Our plan at the usual ceiling, where that is higher.
    pub usual: Option<Ours>,
}

/// One of our plans.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ours {
    /// Ceiling on the danger number that was asked for.
    pub ceiling: f64,
    /// Length and danger number found; `None` when there is no plan.
    pub found: Option<(Seconds, f64)>,
    /// What binds for longest, or why there is no plan.
    pub why: String,
}

impl Against {
    /// Whether ours at like danger is no longer than theirs.
    #[must_use]
    pub fn is_ours_shorter(&self) -> bool {
        self.like.found.is_some_and(|(length, _)| length <= self.theirs)
    }

    /// Why ours is longer, in words; empty when it is not.
    #[must_use]
    pub fn why_longer(&self) -> String {
        if self.is_ours_shorter() {
            return String::new();
        }
        if !self.is_past_its_peak {
            return format!(
                "theirs stops before the danger has passed; ours goes on until it is dry ({})",
                self.like.why
            );
        }
        let dry = if self.dries { "" } else { "theirs leaves water in it; " };
        format!("{dry}{}", self.like.why)
    }
}

/// Each published schedule with a lining of the kind that its title names: on `lining` all of them where one is given.
#[must_use]
pub fn pairs(lining: Option<&(String, Lining)>) -> Vec<Pair> {
    let pair = |(letter, schedule): &(String, Schedule)| {
        let (name, lining) = match lining {
            Some((name, lining)) => (name.clone(), lining.clone()),
            None => meant_for(letter)?,
        };
        Some(Pair { letter: letter.clone(), schedule: schedule.clone(), name, lining })
    };
    published().iter().filter_map(pair).collect()
}

/// A lining of the kind that the schedule's title names.
fn meant_for(letter: &str) -> Option<(String, Lining)> {
    let [_, insulating, conventional, low_cement] = yardsticks() else { return None };
    let own = |(name, lining): &(&str, Lining)| ((*name).to_owned(), lining.clone());
    match letter {
        "A" => Some(own(insulating)),
        "B" => Some(named("250 mm insulating", of_layer(&insulating.1, "insulating-castable-p", 0.25)?)),
        "L" => Some(named("50 mm very light", of_layer(&insulating.1, "insulating-castable-n", 0.05)?)),
        "D" | "N" => Some(own(low_cement)),
        "O" => Some(named("kiln arch, 100 mm", kiln_arch()?)),
        "J" | "K" | "Q" => Some(named("50 mm plastic", of_layer(&conventional.1, "phosphate-plastic", 0.05)?)),
        _ => Some(own(conventional)),
    }
}

fn named(name: &str, lining: Lining) -> (String, Lining) {
    (name.to_owned(), lining)
}

/// `lining` with its hot layer of another class and thickness, watered as its sheet says.
fn of_layer(lining: &Lining, key: &str, thickness_m: f64) -> Option<Lining> {
    let entry = Materials::built_in().get(key)?;
    let mut other = lining.clone();
    let layer = other.sections.first_mut()?.layers.first_mut()?;
    layer.material = std::sync::Arc::clone(&entry.material);
    layer.thickness = Metres(thickness_m);
    layer.water.mix_fraction = entry.material.mix_water[1];
    layer.water.cure = Cure::Mixed;
    Some(other)
}

fn kiln_arch() -> Option<Lining> {
    parse_lining(include_str!("../../schedules/kiln-arch.toml"), Materials::built_in()).ok()
}

/// Compares a schedule with our plans on its lining.
///
/// # Errors
/// When the engine cannot solve a wall.
pub fn against(pair: &Pair, belief: Belief) -> Result<Against, SolveError> {
    let trial = tried(pair, belief)?;
    let end = end_of(pair);
    let danger = trial.danger[2];
    let is_usual_higher = danger < USUAL_DANGER_CEILING;
    let (like, usual) = rayon::join(
        || ours(pair, danger, trial.length, belief),
        || is_usual_higher.then(|| ours(pair, USUAL_DANGER_CEILING, trial.length, belief)).transpose(),
    );
    let (like, usual) = (like?, usual?);
    Ok(Against {
        letter: pair.letter.clone(),
        lining: pair.name.clone(),
        end,
        theirs: trial.length,
        danger,
        is_past_its_peak: trial.is_past_its_peak(),
        dries: trial.dry[2].is_some(),
        like,
        usual,
    })
}

fn tried(pair: &Pair, belief: Belief) -> Result<Trial, SolveError> {
    let gas = pair.schedule.gas(pair.lining.surroundings.temp, counted_thickness(&pair.lining));
    try_out(&Course::Gas(gas), Ensemble::new(&Furnace::of(&pair.lining, Grid::Usual), belief)?)
}

/// Temperature at which the schedule ends, and so our soak; no hotter than the lining stands.
fn end_of(pair: &Pair) -> Celsius {
    let last = pair.schedule.steps.last().map_or(pair.lining.goal.soak_temp, |step| step.to);
    let stands = pair.lining.sections.iter().flat_map(|section| &section.layers);
    let stands_c = stands.map(|layer| layer.material.service_limit.0).fold(f64::INFINITY, f64::min);
    Celsius(last.0.min(stands_c - 50.0))
}

/// How much longer than a schedule our plan may be before the search for it is given up: twice as long, and two days more.
fn bearable(theirs: Seconds) -> Seconds {
    Seconds((2.0 * theirs.0).min(theirs.0 + 48.0 * 3600.0).max(24.0 * 3600.0))
}

/// Our plan to the end of the schedule, which takes `theirs`, without a soak, with a danger number of at most `ceiling`.
fn ours(pair: &Pair, ceiling: f64, theirs: Seconds, belief: Belief) -> Result<Ours, SolveError> {
    let mut lining = pair.lining.clone();
    lining.goal.soak_temp = end_of(pair);
    lining.goal.soak = Seconds(60.0);
    lining.goal.danger_ceiling = ceiling;
    match search_within(&Asked::of(&lining, SearchOptions { belief }), bearable(theirs)) {
        Ok((plan, findings)) => Ok(Ours { ceiling, found: Some((plan.length(), findings.danger)), why: binds(&plan) }),
        Err(PlanError::Solve(error)) => Err(error),
        Err(no) => Ok(Ours { ceiling, found: None, why: short(&no) }),
    }
}

/// What binds for longest.
fn binds(plan: &Plan) -> String {
    longest(&stretches(plan)).map_or_else(String::new, |stretch| stretch.binds.clone())
}

/// Why there is no plan, without advice.
fn short(no: &PlanError) -> String {
    match no {
        PlanError::Infeasible { binds, .. } => format!("no plan by hand at so little danger: {binds}"),
        PlanError::TooLong { elapsed, state, .. } => format!("no plan within {:.0} h: {state}", elapsed.hours()),
        PlanError::Unproven { .. } | PlanError::Solve(_) => no.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_published_schedule_has_a_lining_it_was_meant_for() {
        let pairs = pairs(None);
        let letters: String = pairs.iter().map(|pair| pair.letter.as_str()).collect();
        assert_eq!(letters, "ABCDEFGHIJKLMNOPQ");
        let thick = |letter: &str| {
            let pair = pairs.iter().find(|pair| pair.letter == letter).expect("a letter");
            counted_thickness(&pair.lining).mm()
        };
        assert!((thick("B") - 250.0).abs() < 1e-6, "it is for more than 230 mm");
        assert!(thick("A") <= 230.0 && thick("C") <= 230.0 && thick("D") <= 230.0);
    }
}
