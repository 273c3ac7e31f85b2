//! What a heat-up is followed with, from its three files or from a log's copy of them.

use std::path::Path;

use super::AppError;
use crate::files::{Read, read_lining, read_plan, read_text};
use crate::lining::Lining;
use crate::lining::text::digest;
use crate::physics::Belief;
use crate::plan::Plan;
use crate::probe::file;
use crate::probe::set::ProbeSet;
use crate::run::{Probe, Setup, TimeSource};

/// The three files of a heat-up.
#[derive(Clone, Debug)]
pub struct Documents {
    /// The lining.
    pub lining: Read<Lining>,
    /// The plan.
    pub plan: Read<Plan>,
    /// The probes.
    pub probes: Read<ProbeSet>,
}

impl Documents {
    /// Reads the three files and checks that they fit together.
    ///
    /// # Errors
    /// When one of them cannot be read, or a probe sits in a section that the lining does not have.
    pub fn read(lining: &Path, plan: &Path, probes: &Path) -> Result<Self, AppError> {
        let lining = read_lining(lining)?;
        let plan = read_plan(plan)?;
        let text = read_text(probes)?;
        let refused = |wrong| AppError::Probes { path: probes.to_owned(), source: Box::new(wrong) };
        let set = file::parse(&text).map_err(refused)?;
        let sections: Vec<&str> = lining.value.sections.iter().map(|section| section.name.as_str()).collect();
        set.check_sections(&sections).map_err(refused)?;
        Ok(Self { lining, plan, probes: Read { value: set, text } })
    }

    /// What following needs of them.
    #[must_use]
    pub fn setup(&self, belief: Belief, time_source: TimeSource) -> Setup {
        Setup {
            lining: self.lining.value.clone(),
            plan: self.plan.value.clone(),
            probes: probes_of(&self.probes.value),
            belief,
            time_source,
        }
    }

    /// What is odd about the plan on this lining, if anything.
    #[must_use]
    pub fn mismatch(&self) -> Option<String> {
        let (plan, lining) = (&self.plan.value, &self.lining.value);
        if plan.lining != lining.name {
            return Some(format!(
                "the plan was made for `{}`, and this lining is called `{}`: make a plan for this one",
                plan.lining, lining.name
            ));
        }
        let changed = !plan.lining_digest.is_empty() && plan.lining_digest != digest(&self.lining.text);
        changed.then(|| "the lining file has changed since the plan was made: make the plan anew".to_owned())
    }
}

/// Probes as following needs them.
#[must_use]
pub fn probes_of(set: &ProbeSet) -> Vec<Probe> {
    let probe = |spec: &crate::probe::set::ChannelSpec| Probe {
        channel: spec.channel.clone(),
        place: spec.place.clone(),
        limit: Some(spec.limit),
        couple: Some(spec.couple),
        sheath: spec.sheath,
    };
    set.channels().map(probe).collect()
}
