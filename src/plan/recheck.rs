//! Where a plan, perhaps changed by hand, passes a limit: which round, when, and what to change there.

use serde::Serialize;

use super::check::{self, Findings, PulseEnd};
use super::firing::{Firing, ramp_time};
use super::{Plan, Round};
use crate::physics::{Drive, Ensemble, SolveError};
use crate::units::{Celsius, KelvinPerHour, Seconds};

/// A limit that a round passes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Passed {
    /// Number of the round, from 1.
    pub round: usize,
    /// Pulse within it, from 1, at whose end it is passed.
    pub pulse: u32,
    /// When, since the first flame.
    pub elapsed: Seconds,
    /// Which limit and by how much, in words.
    pub what: String,
    /// What to change, in words: worked out on the same ensemble.
    pub change: String,
}

/// What a check found, and where limits are passed: the first place of each kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Rechecked {
    /// Over the whole plan.
    pub findings: Findings,
    /// Where limits are passed, in the order of time; none when they are kept.
    pub passed: Vec<Passed>,
}

/// A pulse at which a limit is passed first, and the members as they were when its round began.
struct Place {
    round: usize,
    pulse: u32,
    elapsed: Seconds,
    what: String,
    limit: Limit,
    before: Ensemble,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Limit {
    Ramp,
    Danger,
    Service,
}

/// How long the members are watched with the burner off after a changed round: steam rises on after the flame is out.
const LOOK_AHEAD: Seconds = Seconds(1800.0);

/// Simulates every pulse of `plan` on `ensemble`, which is at the start, and says where its limits are passed. `share` of the
/// members stand for all.
///
/// # Errors
/// When the engine cannot solve the wall.
pub fn recheck(plan: &Plan, ensemble: Ensemble, share: f64) -> Result<Rechecked, SolveError> {
    let mut begun = ensemble.clone();
    begun.forget_peaks();
    let mut places: Vec<Place> = Vec::new();
    let findings = check::check_watched(plan, ensemble, share, &mut |end| {
        for (limit, what) in passed_now(plan, end, share) {
            if places.iter().all(|place| place.limit != limit) {
                places.push(Place {
                    round: end.round,
                    pulse: end.pulse + 1,
                    elapsed: end.ensemble.elapsed(),
                    what,
                    limit,
                    before: begun.clone(),
                });
            }
        }
        if end.is_last {
            begun = end.ensemble.clone();
        }
    })?;
    let passed = places.iter().map(|place| passed_at(plan, place, share)).collect::<Result<_, _>>()?;
    Ok(Rechecked { findings, passed })
}

/// The limits that are passed at the end of a pulse.
fn passed_now(plan: &Plan, end: &PulseEnd<'_>, share: f64) -> Vec<(Limit, String)> {
    let (limits, mut passed) = (&plan.limits, Vec::new());
    if let Some(ramp) = end.ramp.filter(|ramp| ramp.0 > limits.ramp.0) {
        let [ramp, allowed] = check::apart(ramp.0, limits.ramp.0);
        passed.push((Limit::Ramp, format!("the hot face rises {ramp} K/h of {allowed} K/h allowed while wet")));
    }
    let number = danger_of(end.ensemble, share);
    if number > limits.danger_ceiling {
        let telling = telling(end.ensemble, number);
        let (section, peak) = check::worst_peak(end.ensemble, telling);
        let place = end.ensemble.furnace().describe(section, &peak);
        passed.push((Limit::Danger, format!("danger {number:.2} of {:.2}: {place}", limits.danger_ceiling)));
    }
    let mean_c = hottest_c(end.ensemble, share);
    if mean_c > limits.service.0 {
        passed.push((
            Limit::Service,
            format!("the hot face is at {mean_c:.0} °C of {:.0} °C it stands", limits.service.0),
        ));
    }
    passed
}

fn danger_of(ensemble: &Ensemble, share: f64) -> f64 {
    ensemble.percentile(share, |member| check::worst_peak(ensemble, member).1.number)
}

fn telling(ensemble: &Ensemble, number: f64) -> usize {
    let off = |member: &usize| (check::worst_peak(ensemble, *member).1.number - number).abs();
    (0..ensemble.members()).min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(0)
}

fn hottest_c(ensemble: &Ensemble, share: f64) -> f64 {
    let sections = 0..ensemble.furnace().section_names().len();
    ensemble.percentile(share, |member| {
        let faces = sections.clone().map(|section| ensemble.section(member, section).hot_face.0);
        faces.fold(f64::NEG_INFINITY, f64::max)
    })
}

fn passed_at(plan: &Plan, place: &Place, share: f64) -> Result<Passed, SolveError> {
    Ok(Passed {
        round: place.round + 1,
        pulse: place.pulse,
        elapsed: place.elapsed,
        what: place.what.clone(),
        change: change_at(plan, place, share)?,
    })
}

/// What would keep the limit: the longest on-time in the same cycle, found by halving on the members as they were when the
/// round began.
fn change_at(plan: &Plan, place: &Place, share: f64) -> Result<String, SolveError> {
    let round = &plan.rounds[place.round];
    if let Firing::Ramp { from, to, ramp } = round.firing {
        return slower_ramp(plan, place, (from, to, ramp), share);
    }
    let shortest_s = place.before.furnace().lining().burner.shortest_on.0;
    let step_s = if round.on.0 > 60.0 { 15.0 } else { 5.0 };
    let most = ((round.on.0 - shortest_s) / step_s).floor().max(0.0) as u32;
    let on_s = |steps_less: u32| round.on.0 - f64::from(steps_less) * step_s;
    let keeps = |steps_less| keeps_limits(plan, place, &with_on(round, on_s(steps_less)), share);
    if most == 0 || !keeps(most)? {
        return Ok(gentler_before(place, round, shortest_s));
    }
    // `low` steps less pass the limit, `high` keep it.
    let (mut low, mut high) = (0, most);
    while high - low > 1 {
        let middle = u32::midpoint(low, high);
        if keeps(middle)? { high = middle } else { low = middle }
    }
    let found = with_on(round, on_s(high));
    let number = place.round + 1;
    if let Firing::Marks { high, low } = &round.firing {
        let low = low.as_ref().map_or("shut", |low| low.mark.as_str());
        return Ok(format!(
            "in round {number} keep {} for {} instead of {}, with {low} for {}; then check again, for later rounds follow from it",
            high.mark,
            in_words(found.on),
            in_words(round.on),
            in_words(found.off)
        ));
    }
    Ok(format!(
        "in round {number} burn {} instead of {}, with {} off instead of {}; then check again, for later rounds follow from it",
        in_words(found.on),
        in_words(round.on),
        in_words(found.off),
        in_words(round.off)
    ))
}

/// The steepest slower ramp to the same set point that keeps the limit, found by halving.
fn slower_ramp(
    plan: &Plan,
    place: &Place,
    (from, to, ramp): (Celsius, Celsius, KelvinPerHour),
    share: f64,
) -> Result<String, SolveError> {
    let (round, number) = (&plan.rounds[place.round], place.round + 1);
    let earlier = format!("let the rounds before round {number} rise more slowly, or hold longer; then check again");
    if ramp.0 <= 0.0 {
        return Ok(earlier);
    }
    let slower = |ramp| Round {
        on: ramp_time(from, to, KelvinPerHour(ramp)),
        firing: Firing::Ramp { from, to, ramp: KelvinPerHour(ramp) },
        ..round.clone()
    };
    let (mut low, mut high) = (1.0, ramp.0.ceil());
    if !keeps_limits(plan, place, &slower(low), share)? {
        return Ok(earlier);
    }
    while high - low > 1.0 {
        let middle = (0.5 * (low + high)).floor();
        if keeps_limits(plan, place, &slower(middle), share)? { low = middle } else { high = middle }
    }
    Ok(format!(
        "in round {number} rise {low:.0} K/h instead of {:.0} K/h; then check again, for later rounds follow from it",
        ramp.0
    ))
}

fn gentler_before(place: &Place, round: &Round, shortest_s: f64) -> String {
    let number = place.round + 1;
    if place.limit == Limit::Danger && place.round > 0 {
        format!(
            "round {number} alone cannot keep it, for the steam comes from heat let in before: shorten the pulses of rounds {} to \
             {number}, or lengthen their pauses",
            place.round.saturating_sub(3).max(1)
        )
    } else {
        let off = in_words(Seconds(2.0 * round.off.0));
        format!("in round {number} burn no longer than {shortest_s:.0} s and pause for {off} or more; then check again")
    }
}

fn in_words(span: Seconds) -> String {
    use crate::units::quantity::{Shown as _, UnitSystem};
    span.shown(UnitSystem::Metric)
}

/// The round with another on-time in the same cycle.
fn with_on(round: &Round, on_s: f64) -> Round {
    Round { on: Seconds(on_s), off: Seconds(round.off.0 + round.on.0 - on_s), ..round.clone() }
}

/// Whether the round as changed keeps the limit, also for a while after it with the burner off.
fn keeps_limits(plan: &Plan, place: &Place, changed: &Round, share: f64) -> Result<bool, SolveError> {
    let mut ensemble = place.before.clone();
    let (from_s, from) = (ensemble.elapsed().0, faces(&ensemble));
    for beat in changed.beats() {
        ensemble.advance(beat.on.0, beat.on.1)?;
        ensemble.advance(beat.off.0, beat.off.1)?;
    }
    Ok(match place.limit {
        Limit::Ramp => ramp(&ensemble, &from, from_s, (share, plan.limits.ramp)) <= plan.limits.ramp.0,
        Limit::Service => hottest_c(&ensemble, share) <= plan.limits.service.0,
        Limit::Danger => {
            ensemble.advance(Drive::Burner { on: 0.0 }, LOOK_AHEAD)?;
            danger_of(&ensemble, share) <= plan.limits.danger_ceiling
        }
    })
}

fn faces(ensemble: &Ensemble) -> Vec<f64> {
    check::hot_faces(ensemble)
}

/// Mean ramp over the changed round.
fn ramp(ensemble: &Ensemble, from: &[f64], from_s: f64, (share, strictest): (f64, KelvinPerHour)) -> f64 {
    let span_h = (ensemble.elapsed().0 - from_s) / 3600.0;
    check::steepest(ensemble, from, &faces(ensemble), span_h, share, strictest)
}
