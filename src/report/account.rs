//! The account of a heat-up: everything that a report says, as plain data.

use serde::Serialize;

use super::burner::{self, BurnerAccount};
use super::channels::{self, ChannelAccount};
use super::dryness::{self, Dryness};
use super::engine::Engine;
use super::figures::Figures;
use super::happenings::{self, Interruption, WarningAccount};
use super::sections::{self, SectionAccount};
use crate::physics::SolveError;
use crate::plan::{Expected, Plan};
use crate::run::{Input, Setup, Verdict};
use crate::units::Seconds;
use crate::units::quantity::UnitSystem;

/// One recorded step: what happened and what was said to it.
#[derive(Clone, Copy, Debug)]
pub struct Moment<'a> {
    /// What happened.
    pub input: &'a Input,
    /// What was said, as far as it was recorded.
    pub verdicts: &'a [Verdict],
}

/// What an account is made from.
#[derive(Clone, Debug)]
pub struct Told<'a> {
    /// Name of the log.
    pub file: String,
    /// Date and time at which it was begun, as a label.
    pub begun: Option<String>,
    /// The program that wrote it.
    pub program: String,
    /// What the heat-up was followed with.
    pub setup: &'a Setup,
    /// What the builder noted of the circumstances: name and value.
    pub notes: Vec<(String, String)>,
    /// Every step, in order of time.
    pub moments: Vec<Moment<'a>>,
    /// What is wrong with the log or was while it was written, in words.
    pub troubles: Vec<String>,
    /// Units in which it is to be read.
    pub units: UnitSystem,
}

/// What happened in a heat-up.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Account {
    /// Name of the log.
    pub log: String,
    /// The builder's name of the furnace.
    pub lining: String,
    /// Date and time at which it was begun.
    pub begun: Option<String>,
    /// The program that wrote the log.
    pub program: String,
    /// Circumstances that the builder noted.
    pub notes: Vec<(String, String)>,
    /// Time from the first to the last step, s.
    pub length_s: f64,
    /// Length of the plan, s.
    pub planned_s: f64,
    /// Why it ended; `None` when the log stops without an end.
    pub ended: Option<String>,
    /// Plan against reality at moments of the plan.
    pub plan: Vec<PlanCheck>,
    /// What the plan expected of the hot face: time, s, low and high, °C.
    pub expected: Vec<(f64, f64, f64)>,
    /// What the burner did.
    pub burner: BurnerAccount,
    /// Each probe.
    pub channels: Vec<ChannelAccount>,
    /// Each section of the lining.
    pub sections: Vec<SectionAccount>,
    /// Ceiling on the danger number.
    pub danger_ceiling: f64,
    /// Highest pessimistic danger number that was recorded; `None` when none was.
    pub danger_peak: Option<f64>,
    /// Warnings with the answer to each.
    pub warnings: Vec<WarningAccount>,
    /// Pauses, silent ports, gaps.
    pub interruptions: Vec<Interruption>,
    /// What is wrong with the log.
    pub troubles: Vec<String>,
    /// Whether the lining is dry, and how that is known.
    pub dryness: Dryness,
    /// What to do next, in order.
    pub next: Vec<String>,
    /// Units in which page and text are to be read; the account is always in SI and °C.
    #[serde(skip)]
    pub units: UnitSystem,
}

/// What was expected of the hottest hot face at one moment of the plan, and what was read.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PlanCheck {
    /// Time of the heat-up, s: pauses and changes of the plan are in it.
    pub elapsed_s: f64,
    /// Time on the plan's clock, s.
    pub plan_s: f64,
    /// Low end of what was expected, °C.
    pub low_c: f64,
    /// High end of what was expected, °C.
    pub high_c: f64,
    /// What the hottest hot face read, on the mean over the pulses, °C; `None` when none could be believed.
    pub read_c: Option<f64>,
}

impl PlanCheck {
    /// How far the reading lies outside of what was expected, K; below it negative, inside 0.
    #[must_use]
    pub fn off_k(&self) -> Option<f64> {
        let read_c = self.read_c?;
        Some((read_c - self.high_c).max(0.0) + (read_c - self.low_c).min(0.0))
    }
}

impl Account {
    /// What happened, from what was recorded. Where the log holds readings but not what the engine made of them, the
    /// engine is driven by the readings once more, coarsely.
    ///
    /// # Errors
    /// When the wall cannot be solved through its air-drying.
    pub fn of(told: &Told<'_>) -> Result<Self, SolveError> {
        let Setup { lining, plan, .. } = told.setup;
        let length_s = told.moments.last().map_or(0.0, |moment| moment.input.elapsed.0);
        let mut burner = burner::account(told, length_s);
        let heard = channels::hear(told, length_s);
        let engine = Engine::follow(told.setup, &heard, &burner, length_s)?;
        if burner.held_ramps() {
            burner.gas_kg = engine.held_kg;
        }
        let sections = sections::account(told, &engine, length_s);
        let dryness = dryness::judge(told, &heard, &sections, &engine);
        let warnings = happenings::warnings(told);
        let danger_peak = sections.iter().filter_map(SectionAccount::danger_peak).reduce(f64::max);
        let verdicts = told.moments.iter().flat_map(|moment| moment.verdicts);
        let mut account = Self {
            log: told.file.clone(),
            lining: lining.name.clone(),
            begun: told.begun.clone(),
            program: told.program.clone(),
            notes: told.notes.clone(),
            length_s,
            planned_s: plan.length().0,
            ended: verdicts.filter_map(end_reason).next_back(),
            plan: plan_checks(told.setup, &heard, &burner, length_s),
            expected: plan_band(plan, &burner, length_s),
            channels: heard.accounts(told.setup, &engine, told.units),
            burner,
            sections,
            danger_ceiling: plan.limits.danger_ceiling,
            danger_peak,
            warnings,
            interruptions: happenings::interruptions(told),
            troubles: told.troubles.clone(),
            dryness,
            next: Vec::new(),
            units: told.units,
        };
        account.next = dryness::next_steps(&account);
        Ok(account)
    }

    /// Whether the danger number of 95 of 100 possible linings reached 1.
    #[must_use]
    pub fn was_danger_reached(&self) -> bool {
        self.danger_peak.is_some_and(|peak| peak >= 1.0)
    }

    /// Figures as the reader wants them.
    pub(super) fn figures(&self) -> Figures {
        Figures(self.units)
    }

    /// Length of the heat-up.
    #[must_use]
    pub fn length(&self) -> Seconds {
        Seconds(self.length_s)
    }
}

fn end_reason(verdict: &Verdict) -> Option<String> {
    match verdict {
        Verdict::End { reason, .. } => Some(reason.clone()),
        _ => None,
    }
}

/// What the plan expected at every eighth of its length, as far as it was come to.
fn plan_checks(setup: &Setup, heard: &channels::Heard, burner: &BurnerAccount, length_s: f64) -> Vec<PlanCheck> {
    let plan = &setup.plan;
    let eighths = (1..=8_u32).map(|eighth| plan.length().0 * f64::from(eighth) / 8.0);
    let check = |plan_s: f64| {
        let elapsed_s = burner.elapsed_of_s(plan_s)?;
        let [low_c, high_c] = expected_c(plan, plan_s)?;
        let read_c = heard.hottest_face_c(elapsed_s, channels::cycle_at_s(plan, plan_s));
        (elapsed_s <= length_s + 1.0).then_some(PlanCheck { elapsed_s, plan_s, low_c, high_c, read_c })
    };
    eighths.filter_map(check).collect()
}

/// Low and high of the hot face that a plan expects on the mean over a pulse, °C.
fn expected_c(plan: &Plan, plan_s: f64) -> Option<[f64; 2]> {
    let after = plan.expected.partition_point(|expected| expected.elapsed.0 < plan_s);
    let to = plan.expected.get(after).or(plan.expected.last())?;
    let from = after.checked_sub(1).and_then(|before| plan.expected.get(before)).unwrap_or(to);
    let span_s = to.elapsed.0 - from.elapsed.0;
    let part = if span_s > 0.0 { ((plan_s - from.elapsed.0) / span_s).clamp(0.0, 1.0) } else { 1.0 };
    let between =
        |at: usize| Some(from.hot_face.get(at)?.0 + part * (to.hot_face.get(at)?.0 - from.hot_face.get(at)?.0));
    Some([between(0)?, between(2)?])
}

/// The whole of what was expected of the hot face, on the clock of the heat-up, as far as it went.
fn plan_band(plan: &Plan, burner: &BurnerAccount, length_s: f64) -> Vec<(f64, f64, f64)> {
    let point = |expected: &Expected| {
        let elapsed_s = burner.elapsed_of_s(expected.elapsed.0)?;
        (elapsed_s <= length_s).then_some((elapsed_s, expected.hot_face[0].0, expected.hot_face[2].0))
    };
    plan.expected.iter().filter_map(point).collect()
}
