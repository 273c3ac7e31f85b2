//! A plan held against the limits, pulse by pulse, on whatever ensemble it is given.

use super::{Limits, Plan, Round};
use crate::physics::{Danger, Drive, Ensemble, SolveError};
use crate::units::{Celsius, KelvinPerHour, Kilograms};

/// What a simulation of a plan's very pulses found.
#[derive(Clone, Debug, PartialEq)]
pub struct Findings {
    /// Danger number that the promised share of the members stayed under.
    pub danger: f64,
    /// Danger number of the worst member.
    pub danger_most: f64,
    /// Where the promised share's danger was, in words.
    pub danger_place: String,
    /// Parts of it from steam pressure and from thermal tension.
    pub danger_parts: [f64; 2],
    /// Steepest mean ramp of a wet section's hot face for the promised share of the members, over its own limit,
    /// multiplied by the strictest limit.
    pub ramp: KelvinPerHour,
    /// Highest hot-face temperature of the promised share, with the ripple of the pulses.
    pub hottest: Celsius,
    /// Hottest shell of the promised share.
    pub shell: Celsius,
    /// Fuel of the middle member.
    pub fuel: Kilograms,
}

impl Findings {
    /// Whether every limit is kept.
    #[must_use]
    pub fn keeps(&self, limits: &Limits) -> bool {
        self.danger <= limits.danger_ceiling && self.ramp <= limits.ramp
    }

    /// The limit that is passed most, in words.
    #[must_use]
    pub fn worst_in_words(&self, limits: &Limits) -> String {
        if self.danger / limits.danger_ceiling >= self.ramp.0 / limits.ramp.0 {
            format!("danger {:.2} of {:.2}: {}", self.danger, limits.danger_ceiling, self.danger_place)
        } else {
            format!("the hot face rises {:.0} K/h, allowed {:.0} K/h", self.ramp.0, limits.ramp.0)
        }
    }
}

/// Simulates every pulse of `plan` on the members of `ensemble`, which is at the start of the heat-up. `share` of the
/// members stand for all.
///
/// # Errors
/// When the engine cannot solve the wall.
pub fn check(plan: &Plan, mut ensemble: Ensemble, share: f64) -> Result<Findings, SolveError> {
    let mut watch = Watch::new(&ensemble, plan.limits.ramp, share);
    ensemble.forget_peaks();
    for round in &plan.rounds {
        for _ in 0..round.count {
            run_pulse(&mut ensemble, round, &mut watch)?;
        }
    }
    Ok(watch.findings(&ensemble))
}

fn run_pulse(ensemble: &mut Ensemble, round: &Round, watch: &mut Watch) -> Result<(), SolveError> {
    ensemble.advance(Drive::Burner { on: 1.0 }, round.on)?;
    watch.see_top(ensemble);
    ensemble.advance(Drive::Burner { on: 0.0 }, round.off)?;
    watch.see_cycle(ensemble);
    Ok(())
}

/// Hot faces at the ends of past cycles, from which mean ramps come.
struct Watch {
    share: f64,
    strictest: KelvinPerHour,
    /// Time and hot faces (member by section) at the ends of cycles, oldest first.
    ends: std::collections::VecDeque<(f64, Vec<f64>)>,
    ramp: f64,
    hottest: f64,
    shell: f64,
}

impl Watch {
    fn new(ensemble: &Ensemble, strictest: KelvinPerHour, share: f64) -> Self {
        let ends = std::collections::VecDeque::from([(ensemble.elapsed().0, hot_faces(ensemble))]);
        let never = f64::NEG_INFINITY;
        Self { share, strictest, ends, ramp: never, hottest: never, shell: never }
    }

    fn see_top(&mut self, ensemble: &Ensemble) {
        let faces = hot_faces(ensemble);
        let sections = ensemble.furnace().section_names().len();
        let top = ensemble.percentile(self.share, |member| {
            faces[member * sections..(member + 1) * sections].iter().copied().fold(f64::NEG_INFINITY, f64::max)
        });
        self.hottest = self.hottest.max(top);
    }

    /// Mean ramp from the same moment of an earlier cycle: at least as far back as 15 K take at the strictest limit.
    fn see_cycle(&mut self, ensemble: &Ensemble) {
        self.shell = self.shell.max(ensemble.percentile(self.share, |member| hottest_shell(ensemble, member)));
        let now_s = ensemble.elapsed().0;
        let window_s = (15.0 / self.strictest.0 * 3600.0).clamp(300.0, 1200.0);
        let faces = hot_faces(ensemble);
        while self.ends.get(1).is_some_and(|(then_s, _)| now_s - then_s >= window_s) {
            self.ends.pop_front();
        }
        if let Some((then_s, then)) = self.ends.front()
            && now_s - then_s >= window_s
        {
            let ramp = steepest(ensemble, then, &faces, (now_s - then_s) / 3600.0, self.share, self.strictest);
            self.ramp = self.ramp.max(ramp);
        }
        self.ends.push_back((now_s, faces));
    }

    fn findings(&self, ensemble: &Ensemble) -> Findings {
        let number = |member: usize| worst_peak(ensemble, member).1.number;
        let danger = ensemble.percentile(self.share, number);
        let telling = (0..ensemble.members())
            .min_by(|&a, &b| (number(a) - danger).abs().total_cmp(&(number(b) - danger).abs()))
            .unwrap_or(0);
        let (section, peak) = worst_peak(ensemble, telling);
        Findings {
            danger,
            danger_most: ensemble.percentile(1.0, number),
            danger_place: ensemble.furnace().describe(section, &peak),
            danger_parts: [peak.steam, peak.thermal],
            ramp: KelvinPerHour(self.ramp),
            hottest: Celsius(self.hottest),
            shell: Celsius(self.shell),
            fuel: ensemble.fuel(0),
        }
    }
}

/// Hottest shell of a member now, °C.
pub(super) fn hottest_shell(ensemble: &Ensemble, member: usize) -> f64 {
    let sections = 0..ensemble.furnace().section_names().len();
    sections.map(|section| ensemble.section(member, section).shell.0).fold(f64::NEG_INFINITY, f64::max)
}

fn hot_faces(ensemble: &Ensemble) -> Vec<f64> {
    let sections = ensemble.furnace().section_names().len();
    (0..ensemble.members())
        .flat_map(|member| (0..sections).map(move |section| (member, section)))
        .map(|(member, section)| ensemble.section(member, section).hot_face.0)
        .collect()
}

/// Steepest mean ramp of the wet sections over their limits, times the strictest limit.
fn steepest(ensemble: &Ensemble, then: &[f64], now: &[f64], span_h: f64, share: f64, strictest: KelvinPerHour) -> f64 {
    let sections = ensemble.furnace().section_names().len();
    let of_section = |section: usize| {
        ensemble.percentile(share, |member| {
            let limit = ensemble.ramp_limit(member, section);
            let index = member * sections + section;
            limit.map_or(f64::NEG_INFINITY, |limit| {
                (now[index] - then[index]) / span_h * strictest.0 / limit.0.min(goal_ramp(ensemble))
            })
        })
    };
    (0..sections).map(of_section).fold(f64::NEG_INFINITY, f64::max)
}

fn goal_ramp(ensemble: &Ensemble) -> f64 {
    ensemble.furnace().lining().goal.ramp.map_or(f64::INFINITY, |ramp| ramp.0)
}

/// The section and danger of a member's worst peak since the peaks were last forgotten.
pub(super) fn worst_peak(ensemble: &Ensemble, member: usize) -> (usize, Danger) {
    let sections = ensemble.furnace().section_names().len();
    (0..sections)
        .map(|section| (section, ensemble.peak(member, section)))
        .reduce(|worst, next| if next.1.number > worst.1.number { next } else { worst })
        .unwrap_or_else(|| (0, ensemble.peak(member, 0)))
}

/// The largest danger number of a member now.
pub(super) fn worst_now(ensemble: &Ensemble, member: usize) -> f64 {
    let sections = 0..ensemble.furnace().section_names().len();
    sections.map(|section| ensemble.section(member, section).danger.number).fold(0.0, f64::max)
}
