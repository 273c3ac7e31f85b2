//! What the burner did, and what it should have done.

use serde::Serialize;

use super::account::Told;
use crate::lining::{Burner, Fuel};
use crate::physics::chamber::{PROPANE_HEATING_VALUE_J_KG, propane_jet_kg_s};
use crate::plan::firing::Setting;
use crate::plan::{Flame, Plan, Round};
use crate::run::{About, Event, Verdict, Word};
use crate::units::Celsius;

/// A pulse that began or ended this far from its cue is worth a line, s.
const WORTH_A_LINE_S: f64 = 10.0;

/// How the state of the burner is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ToldOfBurner {
    /// The operator said so.
    Operator,
    /// Nobody said anything; it is taken to have followed the cues.
    Cues,
}

/// One pulse as it was done.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Pulse {
    /// Lit, s since the heat-up began.
    pub lit_s: f64,
    /// Shut, s since the heat-up began.
    pub shut_s: f64,
    /// How long after its cue it was lit, s; `None` when no cue asked for it.
    pub late_s: Option<f64>,
    /// How long after its cue it was shut, s; negative when shut before it; `None` without a cue.
    pub over_s: Option<f64>,
}

impl Pulse {
    /// How long it burnt, s.
    #[must_use]
    pub fn length_s(&self) -> f64 {
        self.shut_s - self.lit_s
    }

    /// Whether it differs from what was asked by more than a person can help.
    #[must_use]
    pub fn differs(&self) -> bool {
        self.late_s.is_none_or(|late_s| late_s >= WORTH_A_LINE_S)
            || self.over_s.is_some_and(|over_s| over_s.abs() >= WORTH_A_LINE_S)
    }
}

/// A ramp from one time on.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Held {
    at_s: f64,
    from_c: f64,
    to_c: f64,
    k_per_s: f64,
}

impl Held {
    fn set_point_c(&self, at_s: f64) -> f64 {
        let (low_c, high_c) = (self.from_c.min(self.to_c), self.from_c.max(self.to_c));
        (self.from_c + self.k_per_s * (at_s - self.at_s).max(0.0)).clamp(low_c, high_c)
    }
}

/// Time burnt at one mark.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AtMark {
    /// Which.
    pub mark: String,
    /// Its share of the full fire.
    pub share: f64,
    /// How long, s.
    pub burnt_s: f64,
}

/// What the burner did over the whole heat-up.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BurnerAccount {
    /// How that is known.
    pub told_by: ToldOfBurner,
    /// Every pulse, in order.
    pub pulses: Vec<Pulse>,
    /// Pulses in the plan.
    pub planned_pulses: u32,
    /// Burner on, all pulses together, s.
    pub on_s: f64,
    /// The same as planned, s.
    pub planned_on_s: f64,
    /// Gas burnt at the fuel rate of the lining file, kg of propane; of a control that holds ramps what the middle one of the
    /// possible linings took to hold them.
    pub gas_kg: f64,
    /// How long it burnt at each mark, from the weakest up; empty of a burner that is only opened and shut.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub at_marks: Vec<AtMark>,
    /// Shares of the full fire, each from a time on, s.
    #[serde(skip)]
    fires: Vec<(f64, f64)>,
    /// Ramps that a control held, in order.
    #[serde(skip)]
    ramps: Vec<Held>,
    /// Where the plan's clock stood: elapsed and plan time at each cue to light, s.
    #[serde(skip)]
    clock: Vec<(f64, f64)>,
}

impl BurnerAccount {
    /// The time of the heat-up at which the plan's clock stood at `plan_s`; `None` before the first flame was asked for.
    #[must_use]
    pub fn elapsed_of_s(&self, plan_s: f64) -> Option<f64> {
        let after = self.clock.partition_point(|(_, known_s)| *known_s <= plan_s);
        let (from_s, from_plan_s) = *self.clock.get(after.checked_sub(1)?)?;
        let straight_s = from_s + plan_s - from_plan_s;
        // Never beyond the next cue: the clock stood before it.
        Some(self.clock.get(after).map_or(straight_s, |(next_s, _)| straight_s.min(*next_s)))
    }

    /// Whether a control held ramps.
    #[must_use]
    pub fn held_ramps(&self) -> bool {
        !self.ramps.is_empty()
    }

    /// How long it burnt at each mark: "low 1 h 5 min, full 40 min".
    #[must_use]
    pub fn fires_in_words(&self) -> String {
        let words = self.at_marks.iter().map(|at| format!("{} {}", at.mark, super::span(at.burnt_s)));
        words.collect::<Vec<_>>().join(", ")
    }

    /// Pulses that differ from what was asked.
    pub fn odd_pulses(&self) -> impl Iterator<Item = &Pulse> {
        self.pulses.iter().filter(|pulse| pulse.differs())
    }

    /// Where a control that holds ramps had the gas at `at_s`; `None` while the burner was shut, or of a burner that is set by
    /// hand.
    #[must_use]
    pub fn set_point(&self, at_s: f64) -> Option<Celsius> {
        let burns = self.pulses.iter().any(|pulse| (pulse.lit_s..=pulse.shut_s).contains(&at_s));
        let held = self.ramps.iter().rfind(|held| held.at_s <= at_s + 1e-6).filter(|_| burns)?;
        Some(Celsius(held.set_point_c(at_s)))
    }

    /// Mean share of the full fire from `from_s` to `to_s`, 0 to 1: of a burner that is only opened and shut the part of the
    /// time in which it burnt.
    #[must_use]
    pub fn on_share(&self, from_s: f64, to_s: f64) -> f64 {
        self.full_fire_s(from_s, to_s) / (to_s - from_s).max(1e-9)
    }

    /// Time at full fire that would have burnt as much between two times, s.
    fn full_fire_s(&self, from_s: f64, to_s: f64) -> f64 {
        let burnt_s = |from_s: f64, to_s: f64| -> f64 {
            self.pulses.iter().map(|pulse| (pulse.shut_s.min(to_s) - pulse.lit_s.max(from_s)).max(0.0)).sum()
        };
        if self.fires.is_empty() {
            return burnt_s(from_s, to_s);
        }
        let ends = self.fires.iter().skip(1).map(|(at_s, _)| *at_s).chain([f64::INFINITY]);
        let parts = self.fires.iter().zip(ends);
        parts.map(|(&(at_s, share), end_s)| share * burnt_s(at_s.max(from_s), end_s.min(to_s))).sum()
    }
}

/// Propane that the burner takes when on, kg/s.
pub fn gas_kg_s(burner: &Burner) -> f64 {
    match burner.fuel {
        Fuel::Power(power) => power.0 / PROPANE_HEATING_VALUE_J_KG,
        Fuel::PropaneJet { diameter, gauge_pressure } => propane_jet_kg_s(diameter.0, gauge_pressure.0),
    }
}

/// What the burner did.
pub(super) fn account(told: &Told<'_>, length_s: f64) -> BurnerAccount {
    let said = words(told);
    let cues = cues(told);
    let (told_by, changes) =
        if said.is_empty() { (ToldOfBurner::Cues, cues.clone()) } else { (ToldOfBurner::Operator, said) };
    let pulses = pulses(&changes, &cues, length_s);
    let on_s = pulses.iter().map(Pulse::length_s).sum();
    let plan = &told.setup.plan;
    let sets = sets(told, told_by);
    let mut account = BurnerAccount {
        told_by,
        clock: clock(told, &cues, &pulses),
        pulses,
        planned_pulses: pulse_begins(plan).len() as u32,
        on_s,
        planned_on_s: plan.rounds.iter().map(planned_on_s).sum(),
        gas_kg: 0.0,
        at_marks: Vec::new(),
        fires: sets.iter().map(|(at_s, set)| (*at_s, set.fire())).collect(),
        ramps: held(&sets, told.setup.lining.surroundings.temp.0),
    };
    account.at_marks = at_marks(&account, &sets, length_s);
    account.gas_kg = account.full_fire_s(0.0, length_s) * gas_kg_s(&told.setup.lining.burner);
    account
}

/// How long the burner is to burn in a round, s.
fn planned_on_s(round: &Round) -> f64 {
    let between_s = if round.firing.settings()[1].flame() == Flame::On { round.off.0 } else { 0.0 };
    f64::from(round.count) * (round.on.0 + between_s)
}

/// What the burner was set to from which time on, s: when the operator said so, else when it was asked for.
fn sets(told: &Told<'_>, told_by: ToldOfBurner) -> Vec<(f64, Setting)> {
    let mut sets: Vec<(f64, Setting)> = Vec::new();
    let mut asked: Option<Setting> = None;
    for moment in &told.moments {
        let is_word = moment.input.event == Event::Operator(Word::On);
        if let (true, Some(set)) = (is_word, asked.clone()) {
            sets.push((moment.input.elapsed.0, set));
        }
        for verdict in moment.verdicts {
            let Verdict::Cue { elapsed_s, in_s, set: Some(set), .. } = verdict else { continue };
            asked = Some(set.clone());
            let by_itself = told_by == ToldOfBurner::Cues || matches!(set, Setting::Ramp { .. });
            if *in_s <= 0.0 && by_itself {
                sets.push((*elapsed_s, set.clone()));
            }
        }
    }
    sets
}

/// The ramps with where each began: where the one before had got to, the first from the air of the place.
fn held(sets: &[(f64, Setting)], ambient_c: f64) -> Vec<Held> {
    let mut ramps: Vec<Held> = Vec::new();
    for (at_s, set) in sets {
        let Setting::Ramp { to, ramp } = set else { continue };
        let hold = ramp.0.abs() < 1e-9;
        let reached_c = ramps.last().map_or(ambient_c, |last| last.set_point_c(*at_s));
        let from_c = if hold { to.0 } else { reached_c };
        ramps.push(Held { at_s: *at_s, from_c, to_c: to.0, k_per_s: ramp.0 / 3600.0 });
    }
    ramps
}

fn at_marks(account: &BurnerAccount, sets: &[(f64, Setting)], length_s: f64) -> Vec<AtMark> {
    let mut marks: Vec<AtMark> = Vec::new();
    let ends = sets.iter().skip(1).map(|(at_s, _)| *at_s).chain([length_s]);
    for ((at_s, set), end_s) in sets.iter().zip(ends) {
        let Setting::Mark(fire) = set else { continue };
        let burnt_s = account.full_fire_s(*at_s, end_s) / fire.share.max(1e-9);
        match marks.iter_mut().find(|known| known.mark == fire.mark) {
            Some(known) => known.burnt_s += burnt_s,
            None => marks.push(AtMark { mark: fire.mark.clone(), share: fire.share, burnt_s }),
        }
    }
    marks.sort_by(|a, b| a.share.total_cmp(&b.share));
    marks
}

/// What the operator said of the burner: time, s, and state.
fn words(told: &Told<'_>) -> Vec<(f64, Flame)> {
    let word = |event: &Event| match event {
        Event::Operator(Word::On) => Some(Flame::On),
        Event::Operator(Word::Off) => Some(Flame::Off),
        _ => None,
    };
    let moments = told.moments.iter();
    moments.filter_map(|moment| Some((moment.input.elapsed.0, word(&moment.input.event)?))).collect()
}

/// What the plan asked for: time, s, and state.
fn cues(told: &Told<'_>) -> Vec<(f64, Flame)> {
    let verdicts = told.moments.iter().flat_map(|moment| moment.verdicts);
    let due = verdicts.filter_map(|verdict| match verdict {
        Verdict::Cue { elapsed_s, burner, in_s, .. } if *in_s <= 0.0 => Some((*elapsed_s, *burner)),
        _ => None,
    });
    let mut cues: Vec<(f64, Flame)> = Vec::new();
    for cue in due {
        if cues.last().is_none_or(|last| last.1 != cue.1) {
            cues.push(cue);
        }
    }
    cues
}

fn pulses(changes: &[(f64, Flame)], cues: &[(f64, Flame)], length_s: f64) -> Vec<Pulse> {
    let mut pulses: Vec<Pulse> = Vec::new();
    let mut lit_s: Option<f64> = None;
    for &(at_s, flame) in changes.iter().chain(&[(length_s, Flame::Off)]) {
        match (flame, lit_s) {
            (Flame::On, None) => lit_s = Some(at_s),
            (Flame::Off, Some(begun_s)) => {
                let since_s = pulses.last().map_or(f64::NEG_INFINITY, |pulse| pulse.shut_s);
                pulses.push(pulse(begun_s, at_s, cues, since_s));
                lit_s = None;
            }
            _ => {}
        }
    }
    pulses
}

/// A pulse with the cues that asked for it: the cue to light since the last pulse was shut, the cue to shut nearest to the end.
fn pulse(lit_s: f64, shut_s: f64, cues: &[(f64, Flame)], since_s: f64) -> Pulse {
    let asked = cues.iter().rfind(|(at_s, flame)| *flame == Flame::On && *at_s >= since_s && *at_s <= lit_s);
    let ends = cues.iter().filter(|(at_s, flame)| *flame == Flame::Off && *at_s > lit_s);
    let near = ends.map(|(at_s, _)| *at_s).next().filter(|at_s| *at_s <= shut_s + 600.0);
    Pulse { lit_s, shut_s, late_s: asked.map(|(at_s, _)| lit_s - at_s), over_s: near.map(|at_s| shut_s - at_s) }
}

/// Where the plan's clock stood when each of its pulses was lit: elapsed and plan time, s.
fn clock(told: &Told<'_>, cues: &[(f64, Flame)], pulses: &[Pulse]) -> Vec<(f64, f64)> {
    let begins = pulse_begins(&told.setup.plan);
    let backs = steps_back(told, &begins);
    let begins: Vec<f64> = begins.into_iter().map(|(_, at_s)| at_s).collect();
    let mut clock: Vec<(f64, f64)> = Vec::new();
    let mut index = 0;
    for (at_s, _) in cues.iter().filter(|(_, flame)| *flame == Flame::On) {
        if let Some((_, back)) =
            backs.iter().find(|(back_s, _)| *back_s <= *at_s && clock.last().is_none_or(|(last_s, _)| back_s > last_s))
        {
            index = index.min(*back);
        }
        let Some(plan_s) = begins.get(index) else { break };
        let lit_s = pulses.iter().map(|pulse| pulse.lit_s).find(|lit_s| lit_s >= at_s).unwrap_or(*at_s);
        clock.retain(|(_, known_s)| known_s < plan_s);
        clock.push((lit_s, *plan_s));
        index += 1;
    }
    clock
}

/// Round, from 0, and time on the plan's clock, s, at which each pulse of the plan begins: where the burner is lit, for one
/// that is turned down between.
fn pulse_begins(plan: &Plan) -> Vec<(usize, f64)> {
    let (mut at_s, mut burns) = (0.0, false);
    let mut begins = Vec::new();
    for (index, round) in plan.rounds.iter().enumerate() {
        let [_, off] = round.firing.settings();
        for _ in 0..round.count {
            if !burns {
                begins.push((index, at_s));
            }
            at_s += round.on.0 + round.off.0;
            burns = !round.firing.is_on_off() && (round.is_steady() || off.flame() == Flame::On);
        }
    }
    begins
}

/// When following went back in the plan, s, and to which pulse: it says so in a notice.
fn steps_back(told: &Told<'_>, begins: &[(usize, f64)]) -> Vec<(f64, usize)> {
    let first = |round: usize| begins.iter().position(|(of, _)| *of >= round);
    let verdicts = told.moments.iter().flat_map(|moment| moment.verdicts);
    let back = |verdict: &Verdict| match verdict {
        Verdict::Notice { elapsed_s, about: Some(About::BackToRound { round }), .. } => {
            Some((*elapsed_s, first((*round as usize).checked_sub(1)?)?))
        }
        _ => None,
    };
    verdicts.filter_map(back).filter(|(_, first)| *first < begins.len()).collect()
}
