//! The rest of a heat-up, searched from where the lining is now.

use super::{Margin, PROMISED_SHARE, PlanError, Searcher, TRIES, window_of};
use crate::physics::Ensemble;
use crate::plan::{Expected, Limits, Plan, Round, check};
use crate::units::Seconds;

/// Searches the shortest pulsed rest of a heat-up from the state `now` of a weighted ensemble, after `soaked` of the soak.
/// What is expected counts from the rest's first pulse.
///
/// # Errors
/// When no rest keeps the limits, or the engine cannot solve the wall.
pub fn search_rest(now: &Ensemble, limits: &Limits, soaked: Seconds) -> Result<(Vec<Round>, Vec<Expected>), PlanError> {
    let left = Limits { soak: Seconds((limits.soak.0 - soaked.0).max(0.0)), ..limits.clone() };
    let mut margin = Margin { ramp: 0.93, danger: 0.95 };
    let mut last = None;
    for _ in 0..TRIES {
        let searcher = Searcher { furnace: now.furnace(), limits: &left, margin, window: window_of(&left) };
        let (rounds, mut expected) = searcher.rounds(now.clone(), &mut |_| {})?;
        for point in &mut expected {
            point.elapsed = point.elapsed - now.elapsed();
        }
        let plan = Plan {
            lining: now.furnace().lining().name.clone(),
            lining_digest: String::new(),
            limits: left.clone(),
            rounds,
            expected,
        };
        let findings = check::check(&plan, now.clone(), PROMISED_SHARE)?;
        if findings.keeps(&left) {
            return Ok((plan.rounds, plan.expected));
        }
        margin.tighten(&findings, &left);
        last = Some(findings);
    }
    let binds = last.map_or_else(String::new, |findings| findings.worst_in_words(&left));
    Err(PlanError::Infeasible { elapsed: now.elapsed(), binds })
}
