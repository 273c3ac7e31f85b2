//! What the burner did, and what it should have done.

use serde::Serialize;

use super::account::Told;
use crate::lining::{Burner, Fuel};
use crate::physics::chamber::{PROPANE_HEATING_VALUE_J_KG, propane_jet_kg_s};
use crate::plan::{Flame, Plan};
use crate::run::{About, Event, Verdict, Word};

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
    /// Gas burnt at the fuel rate of the lining file, kg of propane.
    pub gas_kg: f64,
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

    /// Pulses that differ from what was asked.
    pub fn odd_pulses(&self) -> impl Iterator<Item = &Pulse> {
        self.pulses.iter().filter(|pulse| pulse.differs())
    }

    /// Part of the time from `from_s` to `to_s` in which the burner burnt, 0 to 1.
    #[must_use]
    pub fn on_share(&self, from_s: f64, to_s: f64) -> f64 {
        let on_s: f64 =
            self.pulses.iter().map(|pulse| (pulse.shut_s.min(to_s) - pulse.lit_s.max(from_s)).max(0.0)).sum();
        on_s / (to_s - from_s).max(1e-9)
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
    BurnerAccount {
        told_by,
        clock: clock(told, &cues, &pulses),
        pulses,
        planned_pulses: plan.rounds.iter().map(|round| round.count).sum(),
        on_s,
        planned_on_s: plan.rounds.iter().map(|round| f64::from(round.count) * round.on.0).sum(),
        gas_kg: on_s * gas_kg_s(&told.setup.lining.burner),
    }
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
        Verdict::Cue { elapsed_s, burner, in_s } if *in_s <= 0.0 => Some((*elapsed_s, *burner)),
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
    let begins = pulse_begins_s(&told.setup.plan);
    let backs = steps_back(told, &begins);
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

/// When each pulse of the plan begins on the plan's clock, s.
fn pulse_begins_s(plan: &Plan) -> Vec<f64> {
    let mut at_s = 0.0;
    let mut begins = Vec::new();
    for round in &plan.rounds {
        for _ in 0..round.count {
            begins.push(at_s);
            at_s += round.on.0 + round.off.0;
        }
    }
    begins
}

/// When following went back in the plan, s, and to which pulse: it says so in a notice.
fn steps_back(told: &Told<'_>, begins: &[f64]) -> Vec<(f64, usize)> {
    let counts = told.setup.plan.rounds.iter().map(|round| round.count as usize);
    let firsts: Vec<usize> = counts.scan(0, |sum, count| Some(std::mem::replace(sum, *sum + count))).collect();
    let verdicts = told.moments.iter().flat_map(|moment| moment.verdicts);
    let back = |verdict: &Verdict| match verdict {
        Verdict::Notice { elapsed_s, about: Some(About::BackToRound { round }), .. } => {
            Some((*elapsed_s, *firsts.get((*round as usize).checked_sub(1)?)?))
        }
        _ => None,
    };
    verdicts.filter_map(back).filter(|(_, first)| *first < begins.len()).collect()
}
