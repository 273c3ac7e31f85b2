//! The search for the shortest pulsed heat-up: round by round, the strongest pulses that every limit allows.
//!
//! Each round tries rungs of the ladder of pulses on a copy of the ensemble, with the mean over the pulses as the drive
//! (the wet zone feels only that) and on a coarse grid, and looks ahead with the burner shut: pressure goes on rising after the flame is
//! out. The strongest rung that keeps ramp, danger and temperature limits for 95 % of the members is taken. The whole
//! plan is then simulated pulse by pulse on the usual grid; if it passes a limit there, the search is repeated with more margin.

mod rest;

pub use rest::search_rest;

use thiserror::Error;

use super::check::{self, Findings};
use super::pulses::{Pulse, ladder};
use super::{Expected, Limits, Plan, Round};
use crate::lining::Lining;
use crate::physics::ensemble::DRY_SHARE;
use crate::physics::{Belief, Danger, Drive, Ensemble, Furnace, Grid, SolveError};
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
const LONGEST: Seconds = Seconds(7.0 * 24.0 * 3600.0);
/// Cycles are up to this long however short the rounds, so that gentle pulses exist, s.
const LONGEST_CYCLE_S: f64 = 1200.0;
/// No progress over this time means that there will be none.
const STANDSTILL: Seconds = Seconds(24.0 * 3600.0);
/// The hot face may rise this far over the soak temperature, K: what a person at a valve holds.
const SOAK_BAND_K: f64 = 15.0;
/// Rounds of the search that repeat with more margin before giving up.
const TRIES: usize = 5;

/// A plan with what a simulation of its very pulses found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// The plan.
    pub plan: Plan,
    /// Simulated pulse by pulse on the ensemble it was searched with.
    pub findings: Findings,
}

/// Searches the shortest pulsed heat-up of `lining`, whose file text has `digest`. `progress` hears of each round.
///
/// # Errors
/// When no plan keeps the limits, or the engine cannot solve the wall.
pub fn search(
    lining: &Lining,
    digest: &str,
    options: SearchOptions,
    progress: &mut dyn FnMut(Seconds),
) -> Result<Found, PlanError> {
    let furnace = Furnace::of(lining, Grid::Usual);
    let start = Ensemble::new(&furnace, options.belief)?;
    let rough = Furnace::of(lining, Grid::Coarse);
    let rough_start = Ensemble::new(&rough, options.belief)?;
    let limits = limits_of(lining, &furnace);
    let mut margin = Margin { ramp: 0.93, danger: 0.95 };
    let mut last = None;
    for _ in 0..TRIES {
        let searcher = Searcher { furnace: &rough, limits: &limits, margin, window: window_of(&limits) };
        let (rounds, expected) = searcher.rounds(rough_start.clone(), progress)?;
        let plan = Plan {
            lining: lining.name.clone(),
            lining_digest: digest.to_owned(),
            limits: limits.clone(),
            rounds,
            expected,
        };
        let findings = check::check(&plan, start.clone(), PROMISED_SHARE)?;
        if findings.keeps(&limits) {
            return Ok(Found { plan, findings });
        }
        margin.tighten(&findings, &limits);
        last = Some(findings);
    }
    let binds = last.map_or_else(String::new, |findings| findings.worst_in_words(&limits));
    Err(PlanError::Infeasible { elapsed: Seconds(0.0), binds })
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
fn window_of(limits: &Limits) -> Seconds {
    Seconds((15.0 / limits.ramp.0 * 3600.0).clamp(120.0, 1200.0))
}

/// Shares of the limits that the search allows itself.
#[derive(Clone, Copy, Debug)]
struct Margin {
    ramp: f64,
    danger: f64,
}

impl Margin {
    /// Takes back what the simulated pulses overshot, and a little more.
    fn tighten(&mut self, findings: &Findings, limits: &Limits) {
        let over = |got: f64, limit: f64| (limit / got).min(1.0) * 0.97;
        if findings.ramp.0 > limits.ramp.0 {
            self.ramp *= over(findings.ramp.0, limits.ramp.0);
        }
        if findings.danger > limits.danger_ceiling {
            self.danger *= over(findings.danger, limits.danger_ceiling);
        }
    }
}

struct Searcher<'a> {
    furnace: &'a Furnace,
    limits: &'a Limits,
    margin: Margin,
    window: Seconds,
}

/// What a round of some pulses would do.
struct Trial {
    after: Ensemble,
    /// The limit it passes, in words.
    passes: Option<String>,
}

impl Searcher<'_> {
    /// Rounds up to the end of the soak, and what they are expected to do.
    fn rounds(
        &self,
        mut now: Ensemble,
        progress: &mut dyn FnMut(Seconds),
    ) -> Result<(Vec<Round>, Vec<Expected>), PlanError> {
        let rungs = ladder(&self.furnace.lining().burner, Seconds(self.window.0.max(LONGEST_CYCLE_S)), self.window);
        let mut rounds: Vec<Round> = Vec::new();
        let mut expected = vec![expected_of(&now)];
        let mut soaked = 0.0;
        let mut rung = 0;
        while soaked < self.limits.soak.0 || !is_dry(&now) {
            let (chosen, trial, binds) = self.strongest(&now, &rungs, rung)?;
            let count = self.count(rungs[chosen]);
            now = trial.after;
            if middle_hot_face(&now).0 >= self.limits.soak_temp.0 - SOAK_BAND_K {
                soaked += f64::from(count) * rungs[chosen].cycle().0;
            }
            push_round(&mut rounds, rungs[chosen], count, binds);
            expected.push(expected_of(&now));
            progress(now.elapsed());
            rung = chosen;
            if now.elapsed().0 > LONGEST.0 || stands_still(&expected) {
                return Err(too_long(&now, self.limits));
            }
        }
        Ok((rounds, expected))
    }

    /// The strongest rung that passes no limit, what it does, and the limit that the next rung would pass.
    fn strongest(&self, now: &Ensemble, rungs: &[Pulse], from: usize) -> Result<(usize, Trial, String), PlanError> {
        let mut trial = self.trial(now, rungs[from])?;
        let mut rung = from;
        let mut binds = String::from("the burner at its strongest pulses");
        if trial.passes.is_none() {
            // Gallop up, then close in.
            let (mut low, mut stride, mut high) = (from, 1, rungs.len());
            while low + 1 < high {
                let next = (low + stride).min(high - 1);
                let tried = self.trial(now, rungs[next])?;
                if let Some(passed) = &tried.passes {
                    binds.clone_from(passed);
                    high = next;
                    stride = (stride / 2).max(1);
                } else {
                    (low, trial, rung) = (next, tried, next);
                    stride *= 2;
                }
                stride = stride.min((high - low).saturating_sub(1).max(1));
            }
            return Ok((rung, trial, binds));
        }
        let mut stride = 1;
        let mut high = from;
        while let Some(passed) = trial.passes.take() {
            binds = passed;
            if rung == 0 {
                return Err(PlanError::Infeasible { elapsed: now.elapsed(), binds });
            }
            high = rung;
            rung = rung.saturating_sub(stride);
            stride *= 2;
            trial = self.trial(now, rungs[rung])?;
        }
        while rung + 1 < high {
            let next = usize::midpoint(rung, high);
            let tried = self.trial(now, rungs[next])?;
            if let Some(passed) = &tried.passes {
                binds.clone_from(passed);
                high = next;
            } else {
                (rung, trial) = (next, tried);
            }
        }
        Ok((rung, trial, binds))
    }

    fn count(&self, pulse: Pulse) -> u32 {
        (self.window.0 / pulse.cycle().0).floor().max(1.0) as u32
    }

    /// Runs a round of `pulse` on a copy, then looks ahead with the burner shut.
    fn trial(&self, now: &Ensemble, pulse: Pulse) -> Result<Trial, SolveError> {
        let span = Seconds(f64::from(self.count(pulse)) * pulse.cycle().0);
        let mut after = now.clone();
        after.forget_peaks();
        after.advance(Drive::Burner { on: pulse.duty() }, span)?;
        let mut passes = self.passed_ramp(now, &after, span).or_else(|| self.passed_temp(&after));
        if passes.is_none() {
            let mut ahead = after.clone();
            ahead.advance(Drive::Burner { on: 0.0 }, self.look_ahead())?;
            passes = self.passed_danger(&ahead);
        }
        Ok(Trial { after, passes })
    }

    /// How long the peak may lag behind the flame: a quarter of the diffusion time of the thickest section, at most half
    /// an hour.
    fn look_ahead(&self) -> Seconds {
        /// Diffusivity of a dense castable, m²/s.
        const DIFFUSIVITY_M2_S: f64 = 5e-7;
        let thickest_m = self.furnace.lining().sections.iter().map(|section| section.thickness().0).fold(0.0, f64::max);
        Seconds((0.25 * thickest_m * thickest_m / DIFFUSIVITY_M2_S).clamp(120.0, 1800.0))
    }

    fn passed_ramp(&self, before: &Ensemble, after: &Ensemble, span: Seconds) -> Option<String> {
        for (section, name) in self.furnace.section_names().iter().enumerate() {
            let limit = self.furnace.ramp_limit(section).0.min(self.limits.ramp_of_goal(self.furnace));
            let ramp = after.percentile(PROMISED_SHARE, |member| {
                if before.ramp_limit(member, section).is_none() {
                    return f64::NEG_INFINITY;
                }
                let rise = after.section(member, section).hot_face - before.section(member, section).hot_face;
                rise.0 / span.hours()
            });
            if ramp > limit * self.margin.ramp {
                return Some(format!("the hot face of the {name} may rise {limit:.0} K/h while it is wet"));
            }
        }
        None
    }

    fn passed_temp(&self, after: &Ensemble) -> Option<String> {
        let middle = middle_hot_face(after);
        if middle.0 > self.limits.soak_temp.0 + SOAK_BAND_K / 3.0 {
            return Some(format!("the soak is at {:.0} °C", self.limits.soak_temp.0));
        }
        let high = after.percentile(PROMISED_SHARE, |member| hottest(after, member).0);
        (high > self.limits.service.0).then(|| format!("the hot face stands {:.0} °C", self.limits.service.0))
    }

    fn passed_danger(&self, after: &Ensemble) -> Option<String> {
        let number = after.percentile(PROMISED_SHARE, |member| check::worst_peak(after, member).1.number);
        if number <= self.limits.danger_ceiling * self.margin.danger {
            return None;
        }
        let (section, danger) = telling_peak(after);
        Some(format!("danger {number:.2}: {}", self.furnace.describe(section, &danger)))
    }
}

/// The peak of the member that stands at the promised share.
fn telling_peak(after: &Ensemble) -> (usize, Danger) {
    let number = after.percentile(PROMISED_SHARE, |member| check::worst_peak(after, member).1.number);
    (0..after.members())
        .map(|member| check::worst_peak(after, member))
        .min_by(|a, b| (a.1.number - number).abs().total_cmp(&(b.1.number - number).abs()))
        .unwrap_or_else(|| check::worst_peak(after, 0))
}

impl Limits {
    /// A ramp limit that the builder set stricter than the materials' own; else none.
    fn ramp_of_goal(&self, furnace: &Furnace) -> f64 {
        furnace.lining().goal.ramp.map_or(f64::INFINITY, |ramp| ramp.0.min(self.ramp.0.max(ramp.0)))
    }
}

/// Appends pulses, joined to the last round when they are the same.
fn push_round(rounds: &mut Vec<Round>, pulse: Pulse, count: u32, binds: String) {
    match rounds.last_mut() {
        Some(last) if last.on == pulse.on && last.off == pulse.off => last.count += count,
        _ => rounds.push(Round { count, on: pulse.on, off: pulse.off, binds }),
    }
}

fn hottest(ensemble: &Ensemble, member: usize) -> Celsius {
    let sections = 0..ensemble.furnace().section_names().len();
    Celsius(sections.map(|section| ensemble.section(member, section).hot_face.0).fold(f64::NEG_INFINITY, f64::max))
}

fn middle_hot_face(ensemble: &Ensemble) -> Celsius {
    Celsius(ensemble.percentile(0.5, |member| hottest(ensemble, member).0))
}

/// Whether nearly all members have lost the free water of the layers that can spall. What is still bound behind a cool
/// back is let go by a hotter heat, and counted then.
fn is_dry(ensemble: &Ensemble) -> bool {
    ensemble.percentile(PROMISED_SHARE, |member| wettest_share(ensemble, member)) <= DRY_SHARE
}

fn wettest_share(ensemble: &Ensemble, member: usize) -> f64 {
    let sections = 0..ensemble.furnace().section_names().len();
    sections.map(|section| ensemble.section(member, section).free_share).fold(0.0, f64::max)
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

fn too_long(now: &Ensemble, limits: &Limits) -> PlanError {
    let middle = middle_hot_face(now);
    let (state, advice) = if middle.0 < limits.soak_temp.0 - SOAK_BAND_K {
        (
            format!("the hot face is at {:.0} °C, the soak at {:.0} °C", middle.0, limits.soak_temp.0),
            "a stronger burner, a smaller opening or a lower soak temperature would do",
        )
    } else {
        let left = now.percentile(PROMISED_SHARE, |member| wettest_share(now, member));
        (
            format!("{:.0} % of the water is still free in it", 100.0 * left),
            "weep holes or an open back let it out, or a higher soak temperature",
        )
    };
    PlanError::TooLong { elapsed: now.elapsed(), state, advice: advice.to_owned() }
}
