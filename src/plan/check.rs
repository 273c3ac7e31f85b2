//! A plan held against the limits, pulse by pulse, on whatever ensemble it is given.

use super::firing::Beat;
use super::{Limits, Plan};
use crate::physics::{Danger, Drive, Ensemble, SolveError};
use crate::units::{Celsius, KelvinPerHour, Kilograms, Seconds};

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
            let [ramp, allowed] = apart(self.ramp.0, limits.ramp.0);
            format!("the hot face rises {ramp} K/h, allowed {allowed} K/h")
        }
    }
}

/// What is over a limit and the limit, as whole numbers, or with as many decimals as it takes to tell them apart.
pub(super) fn apart(over: f64, limit: f64) -> [String; 2] {
    let to = |decimals: usize| [over, limit].map(|value| format!("{value:.decimals$}"));
    (0..4).map(to).find(|[over, limit]| over != limit).unwrap_or_else(|| to(4))
}

/// Simulates every pulse of `plan` on the members of `ensemble`, which is at the start of the heat-up. `share` of the
/// members stand for all.
///
/// # Errors
/// When the engine cannot solve the wall.
pub fn check(plan: &Plan, ensemble: Ensemble, share: f64) -> Result<Findings, SolveError> {
    check_watched(plan, ensemble, share, &mut |_| {})
}

/// A pulse that has just been simulated.
#[derive(Clone, Copy, Debug)]
pub(super) struct PulseEnd<'a> {
    /// Index of its round.
    pub round: usize,
    /// Pulse within the round, from 0.
    pub pulse: u32,
    /// Whether the round ends with it.
    pub is_last: bool,
    /// The members at its end.
    pub ensemble: &'a Ensemble,
    /// Mean ramp up to now over its limit, times the strictest limit; `None` when the heat-up is too young for one.
    pub ramp: Option<KelvinPerHour>,
}

/// The same as [`check`]; `see` is shown the end of every pulse.
pub(super) fn check_watched(
    plan: &Plan,
    ensemble: Ensemble,
    share: f64,
    see: &mut dyn FnMut(&PulseEnd<'_>),
) -> Result<Findings, SolveError> {
    let mut rehearsal = Rehearsal::new(ensemble, plan.limits.ramp, share);
    for (index, round) in plan.rounds.iter().enumerate() {
        let mut beats = round.beats().peekable();
        while let Some(beat) = beats.next() {
            rehearsal.pulse(&beat)?;
            see(&PulseEnd {
                round: index,
                pulse: beat.pulse,
                is_last: beats.peek().is_none(),
                ensemble: rehearsal.ensemble(),
                ramp: rehearsal.ramp_now(),
            });
        }
    }
    Ok(rehearsal.findings())
}

/// Pulses simulated one after the other, as a person will do them. Can be cloned, to try what comes next.
#[derive(Clone, Debug)]
pub(super) struct Rehearsal {
    ensemble: Ensemble,
    watch: Watch,
    /// Propane that holding ramps took, kg.
    held_kg: f64,
}

impl Rehearsal {
    /// Before the first pulse; ramps are held against `strictest`, for `share` of the members.
    pub fn new(mut ensemble: Ensemble, strictest: KelvinPerHour, share: f64) -> Self {
        let watch = Watch::new(&ensemble, strictest, share);
        ensemble.forget_peaks();
        Self { ensemble, watch, held_kg: 0.0 }
    }

    /// One pulse and the pause after it, or a part of a long fire or ramp.
    pub fn pulse(&mut self, beat: &Beat) -> Result<(), SolveError> {
        /// Shares of the pause at which hot faces are looked at: they fall quickest at first.
        const LOOKS: [f64; 5] = [0.04, 0.12, 0.3, 0.6, 1.0];
        let mut mean = CycleMean::new(&self.ensemble);
        let ((fire, on), (rest, off)) = (beat.on, beat.off);
        self.ensemble.advance(fire, on)?;
        if let Drive::Ramp { to, .. } = fire {
            self.held_kg += self.ensemble.fuel_rate_to_hold(0, to) * on.0;
        }
        self.watch.see_top(&self.ensemble);
        mean.see(&self.ensemble);
        let mut waited = 0.0;
        for share in LOOKS.into_iter().filter(|_| off.0 > 0.0) {
            self.ensemble.advance(rest, Seconds((share - waited) * off.0))?;
            waited = share;
            mean.see(&self.ensemble);
        }
        self.watch.see_cycle(&self.ensemble, mean.of_cycle());
        Ok(())
    }

    /// The burner shut for a pause, after which ramps are counted anew.
    pub fn wait(&mut self, span: Seconds) -> Result<(), SolveError> {
        self.ensemble.advance(Drive::Burner { on: 0.0 }, span)?;
        self.watch.begin_anew(&self.ensemble);
        Ok(())
    }

    /// The members now.
    pub fn ensemble(&self) -> &Ensemble {
        &self.ensemble
    }

    /// Mean ramp at the end of the last pulse, as [`Findings::ramp`] counts it; `None` before there is one.
    pub fn ramp_now(&self) -> Option<KelvinPerHour> {
        self.watch.ramp_now.map(KelvinPerHour)
    }

    /// Danger number that the promised share stayed under so far.
    pub fn danger(&self) -> f64 {
        self.ensemble.percentile(self.watch.share, |member| worst_peak(&self.ensemble, member).1.number)
    }

    /// What was found so far.
    pub fn findings(&self) -> Findings {
        let mut findings = self.watch.findings(&self.ensemble);
        findings.fuel = Kilograms(findings.fuel.0 + self.held_kg);
        findings
    }
}

/// Mean hot faces over a pulse and the pause after it: what a ramp is counted by, whatever the ripple.
struct CycleMean {
    begin_s: f64,
    last_s: f64,
    last: Vec<f64>,
    /// Integral over time, K s.
    sum: Vec<f64>,
}

impl CycleMean {
    fn new(ensemble: &Ensemble) -> Self {
        let (now_s, faces) = (ensemble.elapsed().0, hot_faces(ensemble));
        Self { begin_s: now_s, last_s: now_s, sum: vec![0.0; faces.len()], last: faces }
    }

    fn see(&mut self, ensemble: &Ensemble) {
        let (now_s, faces) = (ensemble.elapsed().0, hot_faces(ensemble));
        for ((sum, before), now) in self.sum.iter_mut().zip(&self.last).zip(&faces) {
            *sum += 0.5 * (before + now) * (now_s - self.last_s);
        }
        (self.last_s, self.last) = (now_s, faces);
    }

    /// Middle of the cycle and the means.
    fn of_cycle(self) -> (f64, Vec<f64>) {
        let span_s = self.last_s - self.begin_s;
        (0.5 * (self.begin_s + self.last_s), self.sum.iter().map(|sum| sum / span_s).collect())
    }
}

/// Mean hot faces of past cycles, from which ramps come.
#[derive(Clone, Debug)]
struct Watch {
    share: f64,
    strictest: KelvinPerHour,
    /// Middles of cycles and mean hot faces in them (member by section), oldest first.
    cycles: std::collections::VecDeque<(f64, Vec<f64>)>,
    ramp: f64,
    ramp_now: Option<f64>,
    hottest: f64,
    shell: f64,
}

impl Watch {
    fn new(ensemble: &Ensemble, strictest: KelvinPerHour, share: f64) -> Self {
        let cycles = std::collections::VecDeque::from([(ensemble.elapsed().0, hot_faces(ensemble))]);
        let never = f64::NEG_INFINITY;
        Self { share, strictest, cycles, ramp: never, ramp_now: None, hottest: never, shell: never }
    }

    /// Counts ramps from here on.
    fn begin_anew(&mut self, ensemble: &Ensemble) {
        self.cycles.clear();
        self.cycles.push_back((ensemble.elapsed().0, hot_faces(ensemble)));
    }

    fn see_top(&mut self, ensemble: &Ensemble) {
        let faces = hot_faces(ensemble);
        let sections = ensemble.furnace().section_names().len();
        let top = ensemble.percentile(self.share, |member| {
            faces[member * sections..(member + 1) * sections].iter().copied().fold(f64::NEG_INFINITY, f64::max)
        });
        self.hottest = self.hottest.max(top);
    }

    /// Mean ramp from an earlier cycle: at least as far back as 15 K take at the strictest limit.
    fn see_cycle(&mut self, ensemble: &Ensemble, (now_s, faces): (f64, Vec<f64>)) {
        self.shell = self.shell.max(ensemble.percentile(self.share, |member| hottest_shell(ensemble, member)));
        let window_s = (15.0 / self.strictest.0 * 3600.0).clamp(300.0, 1200.0);
        while self.cycles.get(1).is_some_and(|(then_s, _)| now_s - then_s >= window_s) {
            self.cycles.pop_front();
        }
        if let Some((then_s, then)) = self.cycles.front()
            && now_s - then_s >= window_s
        {
            let ramp = steepest(ensemble, then, &faces, (now_s - then_s) / 3600.0, self.share, self.strictest);
            self.ramp = self.ramp.max(ramp);
            self.ramp_now = Some(ramp);
        }
        self.cycles.push_back((now_s, faces));
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

/// Hot face of every section of every member now, °C: members in order, sections within.
pub(super) fn hot_faces(ensemble: &Ensemble) -> Vec<f64> {
    let sections = ensemble.furnace().section_names().len();
    (0..ensemble.members())
        .flat_map(|member| (0..sections).map(move |section| (member, section)))
        .map(|(member, section)| ensemble.hot_face(member, section).0)
        .collect()
}

/// Steepest mean ramp of the wet sections over their limits, times the strictest limit.
pub(super) fn steepest(
    ensemble: &Ensemble,
    then: &[f64],
    now: &[f64],
    span_h: f64,
    share: f64,
    strictest: KelvinPerHour,
) -> f64 {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_just_over_a_limit_is_told_apart_from_it() {
        assert_eq!(apart(604.2, 600.0), ["604", "600"]);
        assert_eq!(apart(56.04, 56.0), ["56.04", "56.00"]);
    }
}
