//! What makes a heat-up possible where none is: for each kind of change the least that does, searched by halving.

use rayon::prelude::*;
use serde::Serialize;

use super::change::Change;
use super::length_of;
use crate::lining::Lining;
use crate::lining::text::USUAL_DANGER_CEILING;
use crate::physics::{Belief, SolveError};
use crate::units::{Celsius, Seconds};

/// The least of one kind of change with which a heat-up is safe.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Remedy {
    /// What is changed, in words.
    pub change: String,
    /// What has to be known about it; may be empty.
    pub note: String,
    /// Whether it can be done to the lining as it stands.
    pub for_what_stands: bool,
    /// Length of the heat-up after it.
    pub length: Seconds,
}

/// Changes of one kind, the least first.
fn kinds(lining: &Lining) -> Vec<Vec<Change>> {
    let day_s = 86_400.0;
    let drying = |chamber: Option<Celsius>, days: &[f64]| {
        days.iter().map(|days| Change::Drying { chamber, time: Seconds(days * day_s) }).collect()
    };
    let burner = |factors: &[f64]| factors.iter().map(|&factor| Change::Burner { factor }).collect();
    let soak_c = lining.goal.soak_temp.0;
    vec![
        vec![Change::WeepHoles],
        drying(Some(Celsius(60.0)), &[1.0, 2.0, 4.0, 7.0, 14.0]),
        drying(None, &[3.0, 7.0, 14.0, 28.0]),
        vec![Change::ShorterPulses(Seconds(5.0))],
        burner(&[0.7, 0.5, 0.35, 0.25]),
        burner(&[1.25, 1.5, 2.0, 3.0]),
        [0.9, 0.8, 0.65, 0.5].map(|share| Change::SoakTemp(Celsius((share * soak_c).max(200.0)))).into(),
        ramps(lining),
        ceilings(lining),
        vec![Change::Fibres],
        [0.9, 0.75, 0.6, 0.5].map(|factor| Change::Thickness { factor, section: None }).into(),
        vec![Change::WarmCure],
    ]
}

/// Steeper ramps than the lining file allows itself, in even ratios up to the materials' own.
fn ramps(lining: &Lining) -> Vec<Change> {
    /// No lining needs to be heated more steeply, K/h.
    const STEEPEST_K_H: f64 = 5000.0;
    /// Parts into which the way to the materials' own limit is cut.
    const PARTS: i32 = 8;
    let own = lining.sections.iter().flat_map(|section| &section.layers).map(|layer| layer.material.ramp_limit.0);
    let own = own.fold(STEEPEST_K_H, f64::min);
    let Some(asked) = lining.goal.ramp.filter(|asked| asked.0 < own) else { return Vec::new() };
    let ratio = own / asked.0;
    let steeper = (1..PARTS).map(|part| Change::SteeperRamp(ratio.powf(f64::from(part) / f64::from(PARTS))));
    steeper.chain([Change::OwnRamp]).collect()
}

/// Ceilings above a builder's own that is lower than the usual one, up to that and never above.
fn ceilings(lining: &Lining) -> Vec<Change> {
    let own = lining.goal.danger_ceiling;
    let share = |part: f64| Change::Ceiling(own + part * (USUAL_DANGER_CEILING - own));
    if own < USUAL_DANGER_CEILING { vec![share(0.25), share(0.5), share(0.75), share(1.0)] } else { Vec::new() }
}

/// For each kind of change that can make a heat-up of `lining` safe the least that does, the most practical first: what can
/// be done to the lining as it stands before what the next one needs, then the shorter heat-up. `done` hears of each kind
/// that has been searched, and how many there are.
///
/// # Errors
/// When the engine cannot solve a wall.
pub fn remedies(lining: &Lining, belief: Belief, done: &(dyn Fn(usize) + Sync)) -> Result<Vec<Remedy>, SolveError> {
    let placed = |kind: Vec<Change>| -> Vec<(Change, Lining)> {
        kind.into_iter().filter_map(|change| change.on(lining).map(|changed| (change, changed))).collect()
    };
    let kinds: Vec<Vec<(Change, Lining)>> =
        kinds(lining).into_iter().map(placed).filter(|kind| !kind.is_empty()).collect();
    let count = kinds.len();
    let found: Vec<Option<Remedy>> = kinds
        .par_iter()
        .map(|kind| {
            let least = least_of(kind, belief)?;
            done(count);
            Ok(least.map(|(change, length)| Remedy {
                change: change.words(lining),
                note: change.note().to_owned(),
                for_what_stands: change.is_for_what_stands(),
                length,
            }))
        })
        .collect::<Result<_, SolveError>>()?;
    let mut remedies: Vec<Remedy> = found.into_iter().flatten().collect();
    remedies.sort_by(|a, b| b.for_what_stands.cmp(&a.for_what_stands).then(a.length.0.total_cmp(&b.length.0)));
    Ok(remedies)
}

/// The least change of a kind with which a heat-up is found, by halving; `None` when even the most does not do.
fn least_of(kind: &[(Change, Lining)], belief: Belief) -> Result<Option<(&Change, Seconds)>, SolveError> {
    let length = |at: usize| length_of(&kind[at].1, belief);
    let mut high = kind.len() - 1;
    let Some(mut best) = length(high)? else { return Ok(None) };
    let mut low = 0;
    while low < high {
        let middle = usize::midpoint(low, high);
        match length(middle)? {
            Some(found) => (high, best) = (middle, found),
            None => low = middle + 1,
        }
    }
    Ok(Some((&kind[high].0, best)))
}
