//! The rest of a heat-up, searched from where the lining is now.

use super::{
    DRAFTED_DANGER, LONGEST, MANNERS, PROMISED_SHARE, PlanError, Searcher, Way, set_point_after, shortest, window_on,
};
use crate::physics::Ensemble;
use crate::plan::check::Rehearsal;
use crate::plan::judge::Stand;
use crate::plan::pauses::Pauses;
use crate::plan::{Expected, Limits, Round};
use crate::units::Seconds;

/// Searches the shortest pulsed rest of a heat-up from the state `now` of a weighted ensemble, after `soaked` of the soak.
/// What is expected counts from the rest's first pulse.
///
/// # Errors
/// When no rest keeps the limits, or the engine cannot solve the wall.
pub fn search_rest(now: &Ensemble, limits: &Limits, soaked: Seconds) -> Result<(Vec<Round>, Vec<Expected>), PlanError> {
    let rehearsal = Rehearsal::new(now.clone(), limits.ramp, PROMISED_SHARE);
    let mut stand = Stand::new(now.clone());
    stand.soaked = soaked;
    stand.set_point = set_point_after(now);
    let start = Way::new(stand, rehearsal);
    let Way { rounds, mut expected, .. } = shortest(now.furnace(), &mut |furnace| {
        let window = window_on(furnace, limits);
        let searcher = Searcher {
            furnace,
            limits,
            manner: MANNERS[0],
            danger_share: DRAFTED_DANGER,
            window,
            pauses: &Pauses::NONE,
            longest: LONGEST,
        };
        searcher.found(&start, &mut |_| {})
    })?;
    for point in &mut expected {
        point.elapsed = point.elapsed - now.elapsed();
    }
    Ok((rounds, expected))
}
