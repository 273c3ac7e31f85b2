//! A new plan for the rest of a heat-up, after something went otherwise than planned.
//!
//! The clock is shifted first and the shape of the plan kept; the search for a better rest takes as long as it takes, on a
//! thread of its own, and its outcome comes back as an input, so that a log replays without searching again.

use super::cue::in_words;
use super::snapshot::PlanPoint;
use super::verdict::Verdict;
use super::{Going, Run};
use crate::physics::Ensemble;
use crate::plan::search::search_rest;
use crate::plan::{Flame, Limits, Plan};
use crate::units::Seconds;

pub use crate::plan::search::PlanError as ReplanError;

/// A new plan is searched at most this often unless somebody asks, s.
const AGAIN_AFTER_S: f64 = 900.0;

/// What a search for the rest needs. It owns everything, so that it can go to another thread.
#[derive(Clone, Debug)]
pub struct Replan {
    lining: String,
    lining_digest: String,
    limits: Limits,
    soaked: Seconds,
    now: Ensemble,
}

impl Replan {
    /// Searches the shortest safe rest. Takes seconds to minutes.
    ///
    /// # Errors
    /// When no rest keeps the limits, or the engine cannot solve the wall.
    pub fn search(self) -> Result<Plan, ReplanError> {
        let (rounds, expected) = search_rest(&self.now, &self.limits, self.soaked)?;
        Ok(Plan { lining: self.lining, lining_digest: self.lining_digest, limits: self.limits, rounds, expected })
    }
}

/// How far a new plan has come.
#[derive(Clone, Debug, Default)]
pub(super) struct Replanning {
    /// Wanted, and not being searched yet.
    is_wanted: bool,
    is_searching: bool,
    asked_s: Option<f64>,
    /// Found; it takes over when the burner is shut.
    pending: Option<Plan>,
    /// What was expected up to the last change of plan.
    past: Vec<PlanPoint>,
    /// What the plan before would have done from there on.
    old: Vec<PlanPoint>,
}

impl Replanning {
    /// What was expected before the plan at hand took over.
    pub fn past(&self) -> &[PlanPoint] {
        &self.past
    }

    /// How the plan before would have gone on.
    pub fn old(&self) -> &[PlanPoint] {
        &self.old
    }
}

impl Run {
    /// What to search a new plan with, when one is wanted; to be searched away from the screen, and the outcome given back as
    /// [`Event::Replanned`](super::Event::Replanned) or [`Event::NotReplanned`](super::Event::NotReplanned). `None` as long
    /// as none is wanted or one is being searched.
    pub fn replan_wanted(&mut self) -> Option<Replan> {
        let can = self.ended.is_none() && !self.replanning.is_searching && self.pacer.going() == Going::Running;
        if !can || !std::mem::take(&mut self.replanning.is_wanted) {
            return None;
        }
        self.replanning.is_searching = true;
        Some(Replan {
            lining: self.plan.lining.clone(),
            lining_digest: self.plan.lining_digest.clone(),
            limits: self.plan.limits.clone(),
            soaked: Seconds(self.soaked_s),
            now: self.estimator.ensemble.clone(),
        })
    }

    /// Wants a new plan after a deviation, unless one was searched lately.
    pub(super) fn deviates(&mut self) {
        let lately = self.replanning.asked_s.is_some_and(|asked_s| self.elapsed_s - asked_s < AGAIN_AFTER_S);
        if !lately {
            self.replanning.is_wanted = true;
            self.replanning.asked_s = Some(self.elapsed_s);
        }
    }

    /// The operator wants a new plan.
    pub(super) fn wants_replan(&mut self) -> Verdict {
        let text = match self.pacer.going() {
            Going::Done => "the plan is over; there is no rest to plan",
            _ if self.replanning.is_searching => "a new plan is being searched already",
            Going::Waiting => "light the burner first: a plan for the whole is at hand",
            Going::Running | Going::Paused(_) => {
                self.replanning.is_wanted = true;
                self.replanning.asked_s = Some(self.elapsed_s);
                "a new plan for the rest is searched; until it is there the one at hand holds"
            }
        };
        Verdict::Notice { elapsed_s: self.elapsed_s, text: text.into(), about: None }
    }

    /// Takes in a plan for the rest; it takes over when the burner is next shut.
    pub(super) fn replanned(&mut self, plan: &Plan) {
        self.replanning.is_searching = false;
        if self.pacer.going() != Going::Done && plan.rounds.iter().any(|round| round.count > 0 && round.on.0 > 0.0) {
            self.replanning.pending = Some(plan.clone());
        }
    }

    /// Takes in that there is no plan for the rest.
    pub(super) fn not_replanned(&mut self, why: &str) -> Verdict {
        self.replanning.is_searching = false;
        let text =
            format!("no better plan for the rest was found ({why}); the one at hand goes on, with warnings as before");
        Verdict::Notice { elapsed_s: self.elapsed_s, text, about: None }
    }

    /// Lets a plan that was found take over, once the burner is shut.
    pub(super) fn change_plan(&mut self) -> Option<Verdict> {
        // A fire that is turned down, or a control, may never be shut: the new plan then begins with a turn.
        let is_pulsed = self.plan.rounds.iter().all(|round| round.firing.is_on_off());
        if self.pacer.burner() == Flame::On && is_pulsed {
            return None;
        }
        let plan = self.replanning.pending.take()?;
        let now_s = self.elapsed_s;
        let before_s = self.pacer.remaining_s();
        let (past, old) = self.plan_curve().into_iter().partition(|point| point.elapsed.0 <= now_s);
        (self.replanning.past, self.replanning.old) = (past, old);
        self.pacer.replace(&plan, now_s);
        self.plan = plan;
        self.repeats = false;
        let after_s = self.pacer.remaining_s();
        let text = format!(
            "a new plan for the rest takes over: {} to go, {} by the one before",
            in_words(after_s),
            in_words(before_s)
        );
        Some(Verdict::Notice { elapsed_s: now_s, text, about: None })
    }
}
