//! A few members that stand for all: those that decide about limits, and the middle one for the rest.
//!
//! A promise for 95 of 100 members depends on the few at the top of the order alone. A pilot heat-up of all members, on a
//! coarse grid with the mean over pulses as the drive, shows who they are: the most endangered, the ones that rise
//! quickest, dry last or get hottest. The middle member carries the weight of everyone else, so every percentile from the
//! middle upwards is that of all.

use super::Limits;
use super::check::worst_peak;
use super::judge::{Judge, Shares, Stand, hottest};
use super::search::{PROMISED_SHARE, PlanError, window_of};
use crate::physics::{Belief, Drive, Ensemble, Furnace, Grid};
use crate::units::Seconds;

/// Members up to which all of them sit: two sets of lanes.
const ALL_SIT: usize = 16;

/// Members by their number in the draw, with their weights.
pub(super) type Seats = Vec<(usize, f64)>;

/// The members of `belief` that a plan for `furnace` is searched with.
pub(super) fn seats(furnace: &Furnace, limits: &Limits, belief: Belief) -> Result<Seats, PlanError> {
    let members = belief.members.max(1);
    let even = 1.0 / members as f64;
    if members <= ALL_SIT {
        return Ok((0..members).map(|member| (member, even)).collect());
    }
    let rough = Furnace::of(furnace.lining(), Grid::Coarse);
    let pilot = Ensemble::of_members(&rough, belief, &(0..8).map(|member| (member, 1.0)).collect::<Vec<_>>())?;
    let drives = pilot_drives(&rough, limits, pilot)?;
    let all = Ensemble::new(&rough, belief)?;
    let chosen = told_apart(all, &drives, members)?;
    let others = members - chosen.len();
    let weight = |member: usize| if member == 0 { even * (others + 1) as f64 } else { even };
    Ok(chosen.into_iter().map(|member| (member, weight(member))).collect())
}

/// Duties and spans of a stepless heat-up of a few members.
fn pilot_drives(furnace: &Furnace, limits: &Limits, start: Ensemble) -> Result<Vec<(f64, Seconds)>, PlanError> {
    /// Longest pilot, in windows: by then it is known who is who.
    const WINDOWS: usize = 60;
    let judge = Judge { furnace, limits, shares: Shares { ramp: 0.9, danger: 0.8 } };
    let span = Seconds(1.5 * window_of(limits).0);
    let mut now = Stand::new(start);
    let mut drives = Vec::new();
    let mut duty = 0.05;
    while !now.is_done(limits) && drives.len() < WINDOWS {
        let best = judge.strongest(&now, duty, span, (0.0, 1.0))?;
        duty = best.duty.max(1e-3);
        drives.push((best.duty, span));
        now = best.stretch.stand;
    }
    Ok(drives)
}

/// Members that stand at the top of one of the orders that matter under `drives`, and the middle one; two sets of lanes.
fn told_apart(mut all: Ensemble, drives: &[(f64, Seconds)], members: usize) -> Result<Vec<usize>, PlanError> {
    let mut rise = vec![0.0; members];
    for (done, &(duty, span)) in drives.iter().enumerate() {
        all.advance(Drive::Burner { on: duty }, span)?;
        if done == drives.len() / 3 {
            for (member, rise) in rise.iter_mut().enumerate() {
                *rise = hottest(&all, member).0;
            }
        }
    }
    let sections = all.furnace().section_names().len();
    let free = |member: usize| (0..sections).map(|section| all.water_shares(member, section)[1]).fold(0.0, f64::max);
    let orders: [Vec<f64>; 4] = [
        (0..members).map(|member| worst_peak(&all, member).1.number).collect(),
        rise,
        (0..members).map(free).collect(),
        (0..members).map(|member| hottest(&all, member).0).collect(),
    ];
    let spare = members - (PROMISED_SHARE * members as f64 - 1e-9).ceil() as usize;
    let mut chosen = vec![0];
    // Those that may exceed a limit, the one that stands for the rest, and some below it in case the pilot errs.
    for (values, below) in orders.iter().zip([3, 2, 1, 0]) {
        for member in ranked(values).into_iter().take(spare + below) {
            if !chosen.contains(&member) {
                chosen.push(member);
            }
        }
    }
    // Lanes are solved in eights, so the last ones are free.
    let seats = chosen.len().next_multiple_of(8).min(members);
    for member in ranked(&orders[0]) {
        if chosen.len() < seats && !chosen.contains(&member) {
            chosen.push(member);
        }
    }
    chosen.sort_unstable();
    Ok(chosen)
}

/// Members by falling value.
fn ranked(values: &[f64]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&a, &b| values[b].total_cmp(&values[a]).then(a.cmp(&b)));
    order
}
