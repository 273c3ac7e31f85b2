//! The search for the shortest pulsed heat-up: round by round, the strongest pulses that every limit allows.
//!
//! Two simulations run side by side. On a coarse grid, with the mean over the pulses as the drive, the strongest heating of
//! the next stretch is found (`judge`); the pulses nearest below it become a round, which goes on for as long as little time
//! is lost by not changing it. Then that round is rehearsed pulse by pulse on the usual grid, from where the rounds before
//! it have left the walls. What passes a limit there is taken back and tried with more margin, so a plan that is found has
//! been simulated in the very pulses that it asks for.

mod rest;

pub use rest::search_rest;

use thiserror::Error;

use super::bound::stepless;
use super::check::{self, Findings, Rehearsal};
use super::firing::FALLING;
use super::judge::{Judge, SOAK_BAND_K, Shares, Stand, hottest, wet};
use super::pauses::{Pauses, cooling_steps};
use super::proof::{Proof, proof};
use super::pulses::{Pulse, Repertoire};
use super::{Expected, Limits, Plan, Round};
use crate::lining::{Control, Lining};
use crate::physics::ensemble::DRY_SHARE;
use crate::physics::{Belief, Drive, Ensemble, Furnace, Grid, SolveError};
use crate::units::{Celsius, KelvinPerHour, Seconds};

/// Share of the members that every promise is made for.
pub const PROMISED_SHARE: f64 = 0.95;

/// What the search needs beside the lining.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SearchOptions {
    /// Members and seed of the ensemble.
    pub belief: Belief,
}

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum PlanError {
    /// The engine could not solve the wall.
    #[error("the heat-up could not be simulated")]
    Solve(#[from] SolveError),
    /// Even the gentlest pulses pass a limit.
    #[error(
        "no safe heat-up found: {} into it, the burner nearly always off, {binds}; dry the lining longer before the \
         first flame, add polymer fibres or weep holes, or make it thinner", hours(*.elapsed)
    )]
    Infeasible {
        /// Time into the heat-up.
        elapsed: Seconds,
        /// Which limit, in words.
        binds: String,
    },
    /// Every plan that the members of the search keep is too dangerous for others.
    #[error(
        "no safe heat-up found: in every plan that the {members} members of the search keep, others come to danger \
         {danger:.2} of {ceiling:.2}; search with more members, or dry the lining longer before the first flame"
    )]
    Unproven {
        /// Members that it was searched with.
        members: usize,
        /// Danger number of the others in the last plan.
        danger: f64,
        /// Its ceiling.
        ceiling: f64,
    },
    /// The lining does not get hot or dry in any bearable time.
    #[error(
        "no heat-up found within {}: after that time {state}; {advice}", hours(*.elapsed)
    )]
    TooLong {
        /// Time after which the search gave up.
        elapsed: Seconds,
        /// How far it got.
        state: String,
        /// What would help.
        advice: String,
    },
}

fn hours(elapsed: Seconds) -> String {
    format!("{:.1} h", elapsed.hours())
}

/// Longest heat-up that is searched for.
pub(super) const LONGEST: Seconds = Seconds(7.0 * 24.0 * 3600.0);
/// Cycles are up to this long however short the rounds, so that gentle pulses exist, s.
const LONGEST_CYCLE_S: f64 = 1200.0;
/// No progress over this time means that there will be none.
const STANDSTILL: Seconds = Seconds(24.0 * 3600.0);
/// Searches with more margin before giving up.
const TRIES: usize = 3;
/// Shares of the limits that rehearsed pulses may use: other members than these, on a finer grid, come a little nearer.
const REHEARSED: Shares = Shares { ramp: 0.92, danger: 0.95 };
/// Share of the ceiling that coarse stretches may use at first.
const DRAFTED_DANGER: f64 = 0.97;
/// How a search goes about its rounds. None is the best on every lining: what a round may use changes all that come after.
#[derive(Clone, Copy, Debug)]
struct Manner {
    /// Share of the ramp limits that coarse stretches may use at first.
    ramp: f64,
    /// A ramp limit passed by more than this factor is put down to pulses that grew, and tried again with pulses as long as before.
    leap: f64,
}

/// The usual manner, and those tried where it comes less near the bound than [`NEAR_BOUND`].
const MANNERS: [Manner; 3] = [
    Manner { ramp: 0.96, leap: f64::INFINITY },
    Manner { ramp: 0.96, leap: 1.08 },
    Manner { ramp: 0.92, leap: f64::INFINITY },
];
/// Times the bound that no search tries to come below.
const NEAR_BOUND: f64 = 1.17;
/// Share of the time that rounds may cost by going on unchanged.
const GROUPING: f64 = 0.03;

/// Searches before giving up: with twice the members where others passed the ramp limit in the plan, with less of the ceiling
/// where they passed that.
const PROOFS: usize = 8;
/// Most members that a search takes of itself.
pub(super) const MOST_MEMBERS: usize = 64;
/// Part of what others would just keep that the next search may use.
const SPARED: f64 = 0.98;

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The lining.
    pub lining: &'a Lining,
    /// Digest of its file's text.
    pub digest: &'a str,
    /// Ensemble.
    pub options: SearchOptions,
    /// When nobody is there and the burner has to stay off.
    pub pauses: &'a Pauses,
}

impl<'a> Asked<'a> {
    /// A plan for `lining`, from a text that nobody keeps, with somebody there all the time.
    #[must_use]
    pub fn of(lining: &'a Lining, options: SearchOptions) -> Self {
        const NO_PAUSES: &Pauses = &Pauses::NONE;
        Self { lining, digest: "", options, pauses: NO_PAUSES }
    }
}

/// A plan with what simulations of its very pulses found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// The plan.
    pub plan: Plan,
    /// Simulated pulse by pulse on the ensemble it was searched with.
    pub findings: Findings,
    /// The same by others, which settle whether it holds.
    pub others: Proof,
    /// What an ideal stepless burner would need at least ([`super::bound`]) within the ceiling that others made the search keep to;
    /// `None` with pauses, which it knows nothing of.
    pub bound: Option<Seconds>,
}

impl Found {
    /// How many times as long as the bound the plan is.
    #[must_use]
    pub fn ratio(&self) -> Option<f64> {
        self.bound.map(|bound| self.plan.length().0 / bound.0)
    }
}

/// Searches the shortest pulsed heat-up that keeps the limits for the members it is searched with and for others of another
/// draw, and how short any could be. Pulses keep out of the pauses: before one the burner is shut, after it the search goes on from the
/// lining as it has cooled. `progress` hears of each round.
///
/// # Errors
/// When no plan keeps the limits, or the engine cannot solve the wall.
pub fn search(asked: &Asked<'_>, progress: &mut dyn FnMut(Seconds)) -> Result<Found, PlanError> {
    let (mut options, mut share, mut left) = (asked.options, 1.0, PROOFS);
    loop {
        let asked = Asked { options, ..*asked };
        let first = search_no_longer(&asked, share, LONGEST, MANNERS[0], progress)?;
        let others = proof(&asked, &first.plan, progress)?;
        if others.keep(&first.plan.limits) {
            return nearest_the_bound(&asked, share, (first, others), progress);
        }
        let used = others.used(&first.plan.limits);
        let members = &mut options.belief.members;
        left -= 1;
        if left == 0 {
            let (danger, ceiling) = (others.findings.danger, first.plan.limits.danger_ceiling);
            return Err(PlanError::Unproven { members: *members, danger, ceiling });
        }
        if used.ramp > 1.0 {
            *members = MOST_MEMBERS.min(2 * *members);
        } else {
            share *= SPARED / used.danger;
        }
    }
}

/// A plan in the usual manner that others keep, or where that comes not near the bound, the shortest of those in other manners that
/// they keep as well. There is no bound with pauses.
fn nearest_the_bound(
    asked: &Asked<'_>,
    share: f64,
    (mut best, mut others): (Simulated, Proof),
    progress: &mut dyn FnMut(Seconds),
) -> Result<Found, PlanError> {
    let bound = asked.pauses.is_empty().then(|| bound_within(asked.lining, asked.options, share)).transpose()?;
    let is_near = |best: &Simulated| bound.is_none_or(|bound| best.plan.length().0 <= NEAR_BOUND * bound.0);
    for manner in &MANNERS[1..] {
        let length = best.plan.length();
        if is_near(&best) {
            break;
        }
        // What is longer is given up, and what finds nothing is no news: there is a plan.
        let Ok(found) = search_no_longer(asked, share, length, *manner, progress) else { continue };
        if found.plan.length().0 < length.0 {
            let proof = proof(asked, &found.plan, progress)?;
            if proof.keep(&found.plan.limits) {
                (best, others) = (found, proof);
            }
        }
    }
    let Simulated { plan, findings } = best;
    Ok(Found { plan, findings, others, bound })
}

/// The shortest plan for the members alone, in the usual manner and without the bound; given up as soon as it is longer than
/// `longest`.
///
/// # Errors
/// As [`search`].
pub fn search_within(asked: &Asked<'_>, longest: Seconds) -> Result<(Plan, Findings), PlanError> {
    let Simulated { plan, findings } = search_no_longer(asked, 1.0, longest, MANNERS[0], &mut |_| {})?;
    Ok((plan, findings))
}

/// Shortest time of an ideal stepless burner on the members that a plan of `lining` is searched with.
///
/// # Errors
/// When the engine cannot solve the wall, or it does not get hot and dry in a week.
pub fn bound_of(lining: &Lining, options: SearchOptions) -> Result<Seconds, PlanError> {
    bound_within(lining, options, 1.0)
}

fn bound_within(lining: &Lining, options: SearchOptions, share: f64) -> Result<Seconds, PlanError> {
    let rough = Furnace::of(lining, Grid::Coarse);
    let limits = limits_of(lining, &rough).with_ceiling_of(share);
    let bound = stepless(Ensemble::new(&rough, options.belief)?, &limits, &mut |_| 1.0)?;
    if !matches!(rough.control(), Control::Marks(_)) {
        return Ok(bound);
    }
    // A burner with marks can be pulsed at full fire as well.
    let by_hand = stepless(Ensemble::new(&rough.by_hand(), options.belief)?, &limits, &mut |_| 1.0)?;
    Ok(Seconds(bound.0.min(by_hand.0)))
}

/// A plan with what a simulation of its very pulses found, on the ensemble it was searched with.
struct Simulated {
    plan: Plan,
    findings: Findings,
}

fn search_no_longer(
    asked: &Asked<'_>,
    share: f64,
    longest: Seconds,
    manner: Manner,
    progress: &mut dyn FnMut(Seconds),
) -> Result<Simulated, PlanError> {
    let Asked { lining, digest, options, pauses } = *asked;
    let furnace = Furnace::of(lining, Grid::Usual);
    let rough = Furnace::of(lining, Grid::Coarse);
    let limits = limits_of(lining, &furnace);
    let kept = limits.with_ceiling_of(share);
    let rehearsal = Rehearsal::new(Ensemble::new(&furnace, options.belief)?, limits.ramp, PROMISED_SHARE);
    let start = Way::new(Stand::new(Ensemble::new(&rough, options.belief)?), rehearsal);
    let way = shortest(&rough, &mut |furnace| {
        let window = window_on(furnace, &limits);
        Searcher { furnace, limits: &kept, manner, danger_share: DRAFTED_DANGER, window, pauses, longest }
            .found(&start, progress)
    })?;
    let plan = Plan {
        lining: lining.name.clone(),
        lining_digest: digest.to_owned(),
        limits: limits.clone(),
        rounds: way.rounds,
        expected: way.expected,
    };
    Ok(Simulated { plan, findings: way.rehearsal.findings() })
}

/// The shortest way that `find` finds: a burner with marks can also be opened and shut like any other, and is where that is quicker
/// by more than rounding. A low fire that is never shut lets the quick linings run further ahead of the slow ones, and costs some
/// of them up to a fortieth of the time for the gas it saves.
fn shortest(furnace: &Furnace, find: &mut dyn FnMut(&Furnace) -> Result<Way, PlanError>) -> Result<Way, PlanError> {
    /// Longer than by hand by this factor is no more than rounding.
    const ROUNDING: f64 = 1.005;
    let found = find(furnace);
    if !matches!(furnace.control(), Control::Marks(_)) {
        return found;
    }
    match (found, find(&furnace.by_hand())) {
        (Ok(marks), Ok(hand)) if marks.length_s() > ROUNDING * hand.length_s() => Ok(hand),
        (Err(_), Ok(hand)) => Ok(hand),
        (found, _) => found,
    }
}

/// Limits that a lining sets to its own heat-up.
#[must_use]
pub fn limits_of(lining: &Lining, furnace: &Furnace) -> Limits {
    let slowest = (0..lining.sections.len()).map(|section| furnace.ramp_limit(section).0).fold(f64::INFINITY, f64::min);
    let own = lining.goal.ramp.map_or(f64::INFINITY, |ramp| ramp.0);
    let service =
        lining.sections.iter().map(|section| section.layers[0].material.service_limit.0).fold(f64::INFINITY, f64::min);
    Limits {
        danger_ceiling: lining.goal.danger_ceiling,
        ramp: KelvinPerHour(slowest.min(own)),
        service: Celsius(service),
        soak_temp: lining.goal.soak_temp,
        soak: lining.goal.soak,
    }
}

/// Length of a round: the time in which the steepest allowed ramp makes 15 K, between 2 and 20 minutes.
pub(super) fn window_of(limits: &Limits) -> Seconds {
    Seconds((15.0 / limits.ramp.0 * 3600.0).clamp(120.0, 1200.0))
}

/// Length of a round at first: as [`window_of`]; of a control that holds ramps twice that, for a program of few ramps. Shorter
/// ones save up to a twentieth of the time, in two to five times as many.
fn window_on(furnace: &Furnace, limits: &Limits) -> Seconds {
    let window = window_of(limits);
    match furnace.control() {
        Control::OnOff | Control::Marks(_) => window,
        Control::Ramps => Seconds(2.0 * window.0),
    }
}

struct Searcher<'a> {
    furnace: &'a Furnace,
    limits: &'a Limits,
    manner: Manner,
    /// Share of the ceiling that coarse stretches may use at first.
    danger_share: f64,
    window: Seconds,
    /// When the burner has to stay off.
    pauses: &'a Pauses,
    /// A heat-up longer than this is given up.
    longest: Seconds,
}

/// A heat-up as far as it is found.
#[derive(Clone, Debug)]
struct Way {
    stand: Stand,
    rehearsal: Rehearsal,
    rounds: Vec<Round>,
    expected: Vec<Expected>,
    /// What coarse stretches may use of the limits: less for a while after a rehearsal that passed one.
    shares: Shares,
    /// Time lost so far by rounds that went on unchanged, s.
    lost_s: f64,
    /// Of the last round.
    pulse: Option<Pulse>,
    /// Longest on-time of the pulses, s: shorter for a while after a rehearsal whose ripple alone passed the ceiling.
    longest_on_s: f64,
}

/// Pulses that may become a round.
struct Draft {
    pulse: Pulse,
    count: u32,
    binds: String,
    /// Where the coarse members are after so many pulses, in order.
    stands: Vec<(u32, Stand)>,
    /// Shares of ramp limit and ceiling that coarse members are to use in it.
    predicted: Shares,
    lost_s: f64,
}

impl Way {
    fn new(stand: Stand, rehearsal: Rehearsal) -> Self {
        let expected = vec![expected_of(&stand.ensemble)];
        Self {
            stand,
            rehearsal,
            rounds: Vec::new(),
            expected,
            shares: Shares::FULL,
            lost_s: 0.0,
            pulse: None,
            longest_on_s: f64::INFINITY,
        }
    }

    /// Where to begin looking for the next duty.
    fn duty(&self) -> f64 {
        let first = match self.stand.ensemble.furnace().control() {
            Control::OnOff | Control::Marks(_) => 0.05,
            Control::Ramps => 1.2 * FALLING,
        };
        self.pulse.map_or(first, Pulse::duty)
    }

    fn elapsed(&self) -> Seconds {
        self.stand.ensemble.elapsed()
    }

    fn length_s(&self) -> f64 {
        self.rounds.iter().map(|round| f64::from(round.count) * (round.on.0 + round.off.0)).sum()
    }

    /// Whether both simulations are at the end.
    fn is_done(&self, limits: &Limits) -> bool {
        self.stand.is_done(limits) && wet(self.rehearsal.ensemble()) <= DRY_SHARE
    }
}

impl Searcher<'_> {
    /// The way from `start` to the end of the soak, searched again with more margin if there is none at first.
    fn found(mut self, start: &Way, progress: &mut dyn FnMut(Seconds)) -> Result<Way, PlanError> {
        let mut refused = None;
        for _ in 0..TRIES {
            let way = Way { shares: self.drafted(), ..start.clone() };
            match self.rounds(way, progress) {
                Err(error @ PlanError::Infeasible { .. }) => refused = refused.or(Some(error)),
                done => return done,
            }
            self.danger_share *= 0.85;
        }
        Err(refused.unwrap_or(PlanError::Infeasible { elapsed: Seconds(0.0), binds: String::new() }))
    }

    /// Rounds up to the end of the soak.
    fn rounds(&self, mut way: Way, progress: &mut dyn FnMut(Seconds)) -> Result<Way, PlanError> {
        let longest = Seconds(self.window.0.max(LONGEST_CYCLE_S));
        let pulses = Repertoire::of(self.furnace, self.limits, (longest, self.window));
        while !way.is_done(self.limits) {
            way = match self.pauses.before(way.elapsed(), self.window) {
                Some(until) => self.rest(way, until)?,
                None => self.round(way, &pulses)?,
            };
            progress(way.elapsed());
            if way.elapsed().0 > self.longest.0 || (self.pauses.is_empty() && stands_still(&way.expected)) {
                let binds = way.rounds.last().map_or("", |round| round.binds.as_str());
                return Err(too_long(&way.stand, self.limits, binds));
            }
        }
        Ok(way)
    }

    /// The way with the burner shut until a pause is over.
    fn rest(&self, mut way: Way, until: Seconds) -> Result<Way, PlanError> {
        if way.rounds.is_empty() {
            let binds = "the first watch ends before a round of pulses is through".to_owned();
            return Err(PlanError::Infeasible { elapsed: way.elapsed(), binds });
        }
        let rest = until - way.elapsed();
        self.pauses.rest(&mut way.rounds, rest);
        for step in cooling_steps(rest) {
            way.stand.ensemble.advance(Drive::Burner { on: 0.0 }, step)?;
            way.expected.push(expected_of(&way.stand.ensemble));
        }
        way.rehearsal.wait(rest)?;
        way.stand.set_point = set_point_after(way.rehearsal.ensemble());
        way.pulse = None;
        Ok(way)
    }

    /// The way with one round more.
    fn round(&self, mut way: Way, pulses: &Repertoire) -> Result<Way, PlanError> {
        /// Rehearsals of one round with ever more margin; the later ones may use the limits in full.
        const REHEARSALS: [Shares; 4] = [REHEARSED, REHEARSED, REHEARSED, Shares::FULL];
        /// Where the mean over the pulses makes less than this part of their danger, the rest is their ripple.
        const RIPPLE: f64 = 0.6;
        /// Where as little danger more takes the fire back by this factor, it is on its way whatever the burner does, and the
        /// margin below the ceiling is there for it.
        const COLLAPSE: f64 = 0.6;
        let mut longest_on_s = way.longest_on_s;
        let mut draft = self.draft(&way, pulses, longest_on_s)?;
        for allowed in REHEARSALS.into_iter().flat_map(|allowed| [allowed; 4]) {
            let (limit, by) = match self.rehearse(&way, &draft, allowed)? {
                Rehearsed::Kept { rehearsal, pulses } => return Ok(self.taken(way, draft, (*rehearsal, pulses))),
                Rehearsed::Passed { limit, by } => (limit, by),
            };
            let less = (1.0 / by).clamp(0.7, 0.985);
            let is_ripple = draft.predicted.danger < RIPPLE * by * allowed.danger;
            let grown_from = way.pulse.filter(|before| before.on.0 < draft.pulse.on.0.min(longest_on_s));
            match (limit, grown_from) {
                // A larger portion of heat at once shows in the mean over one pulse; the same as before may do.
                (Passed::Ramp, Some(before)) if by > self.manner.leap => longest_on_s = before.on.0,
                (Passed::Ramp, _) => way.shares.ramp = less * way.shares.ramp.min(draft.predicted.ramp),
                // The strain is that of the single pulse: shorter ones on the same mean do.
                (Passed::Danger, _) if is_ripple && draft.pulse.on.0 > self.furnace.burner().shortest_on.0 => {
                    longest_on_s = 0.8 * draft.pulse.on.0;
                    way.longest_on_s = longest_on_s;
                }
                (Passed::Danger, _) => way.shares.danger = less * way.shares.danger.min(draft.predicted.danger),
            }
            let next = self.draft(&way, pulses, longest_on_s)?;
            if matches!(limit, Passed::Danger) && next.pulse.duty() < COLLAPSE * draft.pulse.duty() {
                let to_the_ceiling = Shares { danger: 1.0, ..allowed };
                if let Rehearsed::Kept { rehearsal, pulses } = self.rehearse(&way, &draft, to_the_ceiling)? {
                    return Ok(self.taken(way, draft, (*rehearsal, pulses)));
                }
            }
            draft = next;
        }
        Err(PlanError::Infeasible { elapsed: way.elapsed(), binds: draft.binds })
    }

    /// Pulses for the next round by the coarse members, on for `longest_on_s` at most.
    fn draft(&self, way: &Way, pulses: &Repertoire, longest_on_s: f64) -> Result<Draft, PlanError> {
        let judge = Judge { furnace: self.furnace, limits: self.limits, shares: way.shares };
        let (least, most) = (self.gentlest(way, pulses), pulses.duties().1);
        let best = judge.strongest(&way.stand, way.duty(), self.window, (least, most))?;
        let at_full = Judge { shares: Shares::FULL, ..judge };
        if !best.stretch.keeps() && !at_full.stretch(&way.stand, best.duty, self.window)?.keeps() {
            return Err(PlanError::Infeasible { elapsed: way.elapsed(), binds: best.binds });
        }
        let mut duty = best.duty;
        loop {
            let pulse = pulses.below(duty, way.pulse, longest_on_s);
            let (count, span) = self.window_in(pulse);
            let stretch = judge.stretch(&way.stand, pulse.duty(), span)?;
            if stretch.keeps() || pulse.duty() <= 1.001 * least {
                let [ramp, danger] = stretch.ramp_and_danger();
                let draft = Draft {
                    pulse,
                    count,
                    binds: best.binds,
                    predicted: Shares { ramp, danger: danger / self.limits.danger_ceiling },
                    stands: vec![(count, stretch.stand)],
                    lost_s: 0.0,
                };
                return Ok(self.finished(way, self.gone_on(&judge, way, draft)?));
            }
            duty = (0.997 * pulse.duty()).max(least);
        }
    }

    /// Strength of the gentlest pulses of the next round. No set point falls below the air round the furnace.
    fn gentlest(&self, way: &Way, pulses: &Repertoire) -> f64 {
        let is_above = |pulse: &Pulse| self.set_point_after(way.stand.set_point, *pulse).0 >= self.coldest().0 - 1e-6;
        pulses.gentlest(is_above).map_or(pulses.duties().1, Pulse::duty)
    }

    /// Where a window of pulses takes a control's set point.
    fn set_point_after(&self, set_point: Celsius, pulse: Pulse) -> Celsius {
        pulse.round(self.window_in(pulse).0, self.furnace, set_point).end(set_point)
    }

    /// The air round the furnace.
    fn coldest(&self) -> Celsius {
        self.furnace.lining().surroundings.temp
    }

    /// A whole number of pulses in a window, and their time.
    fn window_in(&self, pulse: Pulse) -> (u32, Seconds) {
        let count = (self.window.0 / pulse.cycle().0).round().max(1.0);
        (count as u32, Seconds(count * pulse.cycle().0))
    }

    /// The draft with as many more windows of the same pulses as limits and loss of time allow.
    fn gone_on(&self, judge: &Judge<'_>, way: &Way, mut draft: Draft) -> Result<Draft, PlanError> {
        /// Share of what may still be lost that one window more may cost.
        const PRICE: f64 = 0.25;
        /// How far a window is used whose pulses were chosen for it: margins, and the steps that times go in.
        const USUAL_USE: f64 = 0.93;
        if draft.pulse.falls() {
            // Each fall is judged anew: going on with one goes ever further down.
            return Ok(draft);
        }
        let (more, span) = self.window_in(draft.pulse);
        let heating_s = (self.limits.soak_temp.0 - self.coldest().0) / self.limits.ramp.0 * 3600.0;
        loop {
            let (_, stand) = &draft.stands[draft.stands.len() - 1];
            if stand.is_done(self.limits) {
                return Ok(draft);
            }
            if self.pauses.before(stand.ensemble.elapsed(), span).is_some() {
                return Ok(draft);
            }
            let Ok(next) = judge.stretch(stand, draft.pulse.duty(), span) else { return Ok(draft) };
            let lost_s = (USUAL_USE - next.use_of_time(judge.limits)).max(0.0) * span.0;
            let may_lose_s = GROUPING * (next.stand.ensemble.elapsed().0 + 0.15 * heating_s);
            if !next.keeps() || lost_s > PRICE * (may_lose_s - way.lost_s - draft.lost_s) {
                return Ok(draft);
            }
            draft.count += more;
            draft.lost_s += lost_s;
            draft.stands.push((draft.count, next.stand));
        }
    }

    /// The draft without pulses after the end of the heat-up.
    fn finished(&self, way: &Way, mut draft: Draft) -> Draft {
        let [.., (count, last)] = &draft.stands[..] else { return draft };
        if !last.is_done(self.limits) || way.stand.is_done(self.limits) {
            return draft;
        }
        let (from, before) = match &draft.stands[..] {
            [.., (from, before), _] => (*from, before),
            _ => (0, &way.stand),
        };
        let end = super::bound::end_between(before, last, self.limits);
        let pulses = ((end.0 - before.ensemble.elapsed().0) / draft.pulse.cycle().0 - 1e-6).ceil().max(1.0) as u32;
        let needed = (from + pulses).min(*count);
        draft.count = needed;
        let at = draft.stands.len() - 1;
        draft.stands[at].0 = needed;
        draft
    }

    /// Does the pulses of a draft one by one, within `allowed` shares of the limits. What passes a limit in a later window
    /// only makes the round shorter.
    fn rehearse(&self, way: &Way, draft: &Draft, allowed: Shares) -> Result<Rehearsed, PlanError> {
        let mut rehearsal = way.rehearsal.clone();
        let before = rehearsal.danger();
        let mut kept = None;
        for pulse in 1..=draft.count {
            let done = draft.pulse.round(pulse - 1, self.furnace, way.stand.set_point).end(way.stand.set_point);
            for beat in draft.pulse.round(1, self.furnace, done).beats() {
                rehearsal.pulse(&beat)?;
            }
            let ramp = rehearsal.ramp_now().map_or(0.0, |ramp| ramp.0 / self.limits.ramp.0);
            // What was behind the members before is not this round's doing.
            let danger = Some(rehearsal.danger()).filter(|danger| *danger > before).unwrap_or(0.0);
            let danger = danger / self.limits.danger_ceiling;
            if ramp > allowed.ramp {
                return Ok(kept.unwrap_or(Rehearsed::Passed { limit: Passed::Ramp, by: ramp / allowed.ramp }));
            }
            if danger > allowed.danger {
                return Ok(kept.unwrap_or(Rehearsed::Passed { limit: Passed::Danger, by: danger / allowed.danger }));
            }
            if draft.stands.iter().any(|(count, _)| *count == pulse) {
                kept = Some(Rehearsed::Kept { rehearsal: Box::new(rehearsal.clone()), pulses: pulse });
            }
        }
        Ok(kept.unwrap_or(Rehearsed::Kept { rehearsal: Box::new(rehearsal), pulses: draft.count }))
    }

    /// The way with the first `pulses` of a draft, which end where its `rehearsal` does.
    fn taken(&self, mut way: Way, mut draft: Draft, (rehearsal, pulses): (Rehearsal, u32)) -> Way {
        draft.shorten(pulses);
        way.shares = self.recovered(way.shares);
        way.longest_on_s *= 1.1;
        way.rehearsal = rehearsal;
        self.take(&mut way, draft);
        way
    }

    /// Appends a draft that was rehearsed.
    fn take(&self, way: &mut Way, draft: Draft) {
        let set_point = way.stand.set_point;
        let round = Round { binds: draft.binds, ..draft.pulse.round(draft.count, self.furnace, set_point) };
        way.pulse = Some(draft.pulse);
        way.lost_s += draft.lost_s;
        for (_, stand) in &draft.stands {
            way.expected.push(expected_of(&stand.ensemble));
        }
        if let Some((_, stand)) = draft.stands.into_iter().last() {
            way.stand = stand;
            way.stand.set_point = round.end(set_point);
        }
        push_round(&mut way.rounds, round);
    }

    /// Shares after a round that was kept: half way back to the most there may be.
    fn recovered(&self, shares: Shares) -> Shares {
        let most = self.drafted();
        Shares { ramp: 0.5 * (shares.ramp + most.ramp), danger: 0.5 * (shares.danger + most.danger) }
    }

    /// What coarse stretches may use at most.
    fn drafted(&self) -> Shares {
        Shares { ramp: self.manner.ramp, danger: self.danger_share }
    }
}

impl Draft {
    /// Cuts it to its first `pulses`, which end with a window.
    fn shorten(&mut self, pulses: u32) {
        self.stands.retain(|(count, _)| *count <= pulses);
        self.count = pulses;
    }
}

/// What came of a rehearsal.
enum Rehearsed {
    /// So many pulses kept all limits.
    Kept { rehearsal: Box<Rehearsal>, pulses: u32 },
    /// The first window passed a limit, by this factor.
    Passed { limit: Passed, by: f64 },
}

/// A limit that rehearsed pulses passed.
#[derive(Clone, Copy, Debug)]
enum Passed {
    Ramp,
    Danger,
}

impl Limits {
    /// With a ceiling that is this share of its own.
    fn with_ceiling_of(&self, share: f64) -> Self {
        Self { danger_ceiling: share * self.danger_ceiling, ..self.clone() }
    }

    /// A ramp limit that the builder set stricter than the materials' own; else none.
    pub(super) fn ramp_of_goal(&self, furnace: &Furnace) -> f64 {
        furnace.lining().goal.ramp.map_or(f64::INFINITY, |ramp| ramp.0.min(self.ramp.0.max(ramp.0)))
    }
}

/// Where a control takes up a ramp after a pause: at the gas as it then is for the middle member, in steps of 5 K.
fn set_point_after(cooled: &Ensemble) -> Celsius {
    let gas_c = cooled.gas(0).0.max(cooled.furnace().lining().surroundings.temp.0);
    Celsius((gas_c / 5.0).floor() * 5.0)
}

/// Appends a round, joined to the last one when they are the same.
fn push_round(rounds: &mut Vec<Round>, round: Round) {
    match rounds.last_mut() {
        Some(last) if last.goes_on_as(&round) => last.join(round),
        _ => rounds.push(round),
    }
}

fn expected_of(ensemble: &Ensemble) -> Expected {
    let range = |value: &dyn Fn(usize) -> f64| [0.05, 0.5, 0.95].map(|share| ensemble.percentile(share, value));
    let sections = ensemble.furnace().section_names().len();
    let total = |member: usize| (0..sections).map(|section| ensemble.section(member, section).water_left.0).sum();
    Expected {
        elapsed: ensemble.elapsed(),
        hot_face: range(&|member| hottest(ensemble, member).0).map(Celsius),
        danger: range(&|member| check::worst_now(ensemble, member)),
        water_left_kg: range(&total),
    }
}

/// Whether a day has brought neither heat nor dryness worth the name.
fn stands_still(expected: &[Expected]) -> bool {
    let Some(now) = expected.last() else { return false };
    let earlier = expected.iter().rfind(|then| now.elapsed.0 - then.elapsed.0 >= STANDSTILL.0);
    earlier.is_some_and(|then| {
        let warmer_k = now.hot_face[1].0 - then.hot_face[1].0;
        warmer_k < 5.0 && now.water_left_kg[2] > 0.99 * then.water_left_kg[2]
    })
}

pub(super) fn too_long(now: &Stand, limits: &Limits, binds: &str) -> PlanError {
    let middle = now.middle();
    let is_burner = binds.is_empty() || binds.starts_with("the burner");
    let (state, advice) = if !is_burner && middle.0 < limits.soak_temp.0 - SOAK_BAND_K {
        (
            format!("the hot face is at {:.0} °C, the soak at {:.0} °C, and {binds}", middle.0, limits.soak_temp.0),
            "weep holes, polymer fibres, a thinner lining or drying before the first flame would do",
        )
    } else if middle.0 < limits.soak_temp.0 - SOAK_BAND_K {
        (
            format!("the hot face is at {:.0} °C, the soak at {:.0} °C", middle.0, limits.soak_temp.0),
            "a stronger burner, a smaller opening or a lower soak temperature would do",
        )
    } else {
        (
            format!("{:.0} % of the water is still free in it", 100.0 * now.wet()),
            "weep holes or an open back let it out, or a higher soak temperature",
        )
    };
    PlanError::TooLong { elapsed: now.ensemble.elapsed(), state, advice: advice.to_owned() }
}
