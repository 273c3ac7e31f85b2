//! A plan held against other linings of the kind than those it was found with.
//!
//! Sixteen members, or 64, stand for all only so well: which of them are tight, weak, wet and hot at once is luck, and a search
//! leans on that luck. On a wall where danger binds all the way, a plan that its own members keep was over the ceiling for up to 10 %
//! of all; in a thin coat on fibre others rose a fifth quicker than the limit, because they came off the boil at another moment. So
//! every plan is simulated once more on members of another draw, on the coarse grid, which differs by less than the draws do but for the
//! ramp of thin faces, which rise up to a tenth quicker there. Where they pass the ramp limit, the search takes more members, and once it
//! has many, these are believed; where they come too near the ceiling, less of it.

use super::check::{Findings, PulseEnd, check_watched};
use super::judge::Shares;
use super::search::{Asked, MOST_MEMBERS, PROMISED_SHARE};
use super::{Limits, Plan};
use crate::physics::{Belief, Ensemble, Furnace, Grid, SolveError};
use crate::units::Seconds;

/// How many others are asked: few at first, and many where those come near the ceiling. One less than a multiple of 20: of so many, the
/// least value that 95 % do not exceed is just beyond the 95th percentile of all, and not short of it.
const OTHERS: [usize; 2] = [79, 199];

/// Up to this share of the ceiling few are enough: more differ from them by less than what is left.
const CLEAR: f64 = 0.9;

/// What others find has to be this far below a limit: two draws of some 200 differ by up to 4 %.
const PROVEN: f64 = 0.96;

/// Seeds of others are this much higher, and so never one that somebody would give next.
const APART: u64 = 0x5EED;

/// What others found in a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Proof {
    /// How many they are.
    pub members: usize,
    /// How many the plan was searched with.
    pub searched: usize,
    /// What they found.
    pub findings: Findings,
}

impl Proof {
    /// Whether the others keep the limits, with room for still others.
    pub(super) fn keep(&self, limits: &Limits) -> bool {
        let Shares { ramp, danger } = self.used(limits);
        ramp <= 1.0 && danger <= 1.0
    }

    /// What the others use of the limits, as shares of what they may here.
    pub(super) fn used(&self, limits: &Limits) -> Shares {
        let Findings { danger, danger_most, ramp, .. } = self.findings;
        let danger = (danger / (PROVEN * limits.danger_ceiling)).max(danger_most);
        // Many members of the search, on the usual grid, tell more of it.
        let ramp = if self.searched < MOST_MEMBERS { ramp.0 / (PROVEN * limits.ramp.0) } else { 0.0 };
        Shares { ramp, danger }
    }
}

/// What others find in `plan`. `progress` hears how far they are.
///
/// # Errors
/// When the engine cannot solve the wall.
pub fn proof(asked: &Asked<'_>, plan: &Plan, progress: &mut dyn FnMut(Seconds)) -> Result<Proof, SolveError> {
    let furnace = Furnace::of(asked.lining, Grid::Coarse);
    let mut held = |members| {
        let belief = Belief { members, seed: asked.options.belief.seed.wrapping_add(APART) };
        let others = Ensemble::new(&furnace, belief)?;
        let see = &mut |end: &PulseEnd<'_>| progress(end.ensemble.elapsed());
        Ok(Proof {
            members,
            searched: asked.options.belief.members,
            findings: check_watched(plan, others, PROMISED_SHARE, see)?,
        })
    };
    let [few, many] = OTHERS;
    let proof = held(few)?;
    if proof.used(&plan.limits).danger <= CLEAR { Ok(proof) } else { held(many) }
}
