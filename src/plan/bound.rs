//! How short the heat-up could be with an ideal burner: one whose fire is any share of full, changed at no cost.
//!
//! The same members, the same limits at their full value and the same end as for a plan: the soak, and all but a twentieth
//! of the free water gone. In steps of a few kelvins the burner gives the most from which shutting it would still save the
//! lining.
//!
//! That this is the shortest rests on two things. More heat now never makes the rest take longer: temperatures and the
//! water driven out by then only rise with the heat given. And a burner that is shut is the gentlest there is, so a
//! moment from which even that passes a limit is lost. Both hold where one limit binds at a time; neither is proven for
//! every wall, and `tests/bound.rs` tries to beat the bound with burners that hold back at times.

use super::Limits;
use super::judge::{Judge, Shares, Stand, Strongest};
use super::search::{LONGEST, PlanError, limits_of, too_long, window_of};
use crate::lining::Lining;
use crate::physics::ensemble::DRY_SHARE;
use crate::physics::{Belief, Ensemble, Furnace, Grid};
use crate::units::Seconds;

/// Stretches of a window of the plan that the stepless burner may change in.
const FINER: f64 = 2.0;

/// Shortest time in which an ideal stepless burner could heat the members of `start` within `limits`. `hold_back` is asked
/// at each stretch, and shown the members then, for the share of the possible fire that is used: 1 for the bound itself.
///
/// # Errors
/// When the engine cannot solve the wall, or the members do not get hot and dry in a week.
pub fn stepless(
    start: Ensemble,
    limits: &Limits,
    hold_back: &mut dyn FnMut(&Ensemble) -> f64,
) -> Result<Seconds, PlanError> {
    let furnace: Furnace = start.furnace().clone();
    let judge = Judge { furnace: &furnace, limits, shares: Shares::FULL };
    let step = Seconds(window_of(limits).0 / FINER);
    heat(start, judge, (step, LONGEST), &mut |now, best, duty| {
        let share = hold_back(&now.ensemble);
        Ok(if share < 1.0 { judge.stretch(now, share * duty, step)?.stand } else { best.stretch.stand })
    })
}

/// About how long a heat-up of `lining` takes at least, with the margins of a plan: by a stepless burner on the coarse grid.
/// To compare linings with one another, never to follow. Gives up after `longest`.
///
/// # Errors
/// When there is no safe heat-up within `longest`, or the engine cannot solve the wall.
pub fn sketch(lining: &Lining, belief: Belief, longest: Seconds) -> Result<Seconds, PlanError> {
    let furnace = Furnace::of(lining, Grid::Coarse);
    let limits = &limits_of(lining, &furnace);
    let judge = Judge { furnace: &furnace, limits, shares: Shares { ramp: 0.98, danger: 0.95 } };
    let at_full = Judge { shares: Shares::FULL, ..judge };
    let step = window_of(limits);
    heat(Ensemble::new(&furnace, belief)?, judge, (step, longest), &mut |now, best, _| {
        if best.stretch.keeps() || at_full.stretch(now, best.duty, step)?.keeps() {
            return Ok(best.stretch.stand);
        }
        Err(PlanError::Infeasible { elapsed: now.ensemble.elapsed(), binds: best.binds })
    })
}

/// Heats the members of `start` in steps, each the strongest that `judge` lets pass, as `go_on` takes it; gives when they are
/// done. `go_on` is shown where they are, that step, and the duty to begin the next search with.
fn heat(
    start: Ensemble,
    judge: Judge<'_>,
    (step, longest): (Seconds, Seconds),
    go_on: &mut dyn FnMut(&Stand, Strongest, f64) -> Result<Stand, PlanError>,
) -> Result<Seconds, PlanError> {
    let mut now = Stand::new(start);
    let mut duty = 0.05;
    loop {
        let best = judge.strongest(&now, duty, step, (0.0, 1.0))?;
        let binds = best.binds.clone();
        duty = best.duty.max(1e-3);
        let next = go_on(&now, best, duty)?;
        if next.is_done(judge.limits) {
            return Ok(end_between(&now, &next, judge.limits));
        }
        if next.ensemble.elapsed().0 > longest.0 {
            return Err(too_long(&next, judge.limits, &binds));
        }
        now = next;
    }
}

/// When, between two moments, both soak and dryness were reached, on straight lines.
pub(super) fn end_between(before: &Stand, after: &Stand, limits: &Limits) -> Seconds {
    let (from_s, to_s) = (before.ensemble.elapsed().0, after.ensemble.elapsed().0);
    let reach = |from: f64, to: f64, at: f64| {
        if from >= at { 0.0 } else { ((at - from) / (to - from).max(1e-12)).clamp(0.0, 1.0) }
    };
    // Time soaked counts from within the stretch; its last part is soaked at full rate.
    let soaked = 1.0 - ((after.soaked.0 - limits.soak.0) / (to_s - from_s)).clamp(0.0, 1.0);
    let soaked = if before.soaked.0 >= limits.soak.0 { 0.0 } else { soaked };
    let dry = reach(-before.wet(), -after.wet(), -DRY_SHARE);
    Seconds(from_s + soaked.max(dry) * (to_s - from_s))
}
