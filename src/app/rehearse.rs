//! `rehearse`: many heat-ups against simulated furnaces that differ from what is believed of them, with operators who err, and
//! what following made of them as one table.

mod heat_up;
mod operator;
mod standing;
mod table;
mod truth;

pub use heat_up::{HeatUp, Outcome as HeatUpOutcome};
pub use operator::Manner;
pub use table::{LeftTable, Table};
pub use truth::Truth;

use std::io::{self, IsTerminal as _};

use rayon::prelude::*;

use super::plan::searched;
use super::{AppError, Outcome, print};
use crate::cli::RehearseArgs;
use crate::files::{Read, read_lining, read_plan};
use crate::lining::Lining;
use crate::lining::material::Materials;
use crate::lining::text::parse_lining;
use crate::physics::Belief;
use crate::plan::Plan;
use crate::probe::file;
use crate::probe::set::ProbeSet;

/// The lining that is rehearsed when none is named.
const LINING: &str = include_str!("../../schedules/school-foundry-crucible.toml");

/// And the one that is left with its burner lit: thick enough to spall.
const THICK_LINING: &str = include_str!("../../schedules/cast-barrel-75.toml");

/// Runs the command.
///
/// # Errors
/// When a file cannot be used, no plan is found, or a wall cannot be solved.
pub fn run(args: &RehearseArgs) -> Result<Outcome, AppError> {
    let mut misses = Vec::new();
    if args.heat_ups > 0 {
        let each = rehearsed(args, Operators::EveryThirdErrs, args.heat_ups)?;
        let table = Table::of(&each);
        print(&table.text())?;
        misses.extend(table.misses());
    }
    let heedless = args.heedless.unwrap_or(args.heat_ups.div_ceil(5));
    if heedless > 0 {
        let each = rehearsed(args, Operators::Heedless, heedless)?;
        let table = LeftTable::of(&each);
        print(&table.text())?;
        misses.extend(table.misses());
    }
    Ok(if misses.is_empty() { Outcome::Done } else { Outcome::AnswerIsNo })
}

/// So many heat-ups with these operators.
fn rehearsed(args: &RehearseArgs, operators: Operators, heat_ups: u32) -> Result<Vec<HeatUpOutcome>, AppError> {
    let lining = match (&args.lining, operators) {
        (Some(path), _) => read_lining(path)?,
        (None, Operators::EveryThirdErrs) => built_in(LINING)?,
        (None, Operators::Heedless) => built_in(THICK_LINING)?,
    };
    let belief = Belief { members: usize::from(args.belief.members), seed: args.belief.seed };
    let plan = match &args.plan {
        Some(path) => read_plan(path)?.value,
        None => searched(&lining, belief)?.plan,
    };
    let probes = probes_for(&lining.value)?;
    let rehearsal = Rehearsal { lining: lining.value, plan, probes, belief, luck: args.luck, operators };
    let progress = progress_of(heat_ups);
    let each = (0..heat_ups).into_par_iter().map(|number| {
        let outcome = rehearsal.heat_up(number);
        progress.inc(1);
        outcome
    });
    let each: Vec<HeatUpOutcome> = each.collect::<Result<_, _>>()?;
    progress.finish_and_clear();
    if args.each {
        print(&table::lines(&each))?;
    }
    Ok(each)
}

/// Who is at the burner.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Operators {
    /// Every third errs, and heeds what is said afterwards.
    EveryThirdErrs,
    /// All go away with the burner lit, and linings are ten times as tight again: whether and how long before danger 1 there is a
    /// warning shows only where it is passed.
    Heedless,
}

/// What all heat-ups of a rehearsal have in common.
#[derive(Clone, Debug)]
pub struct Rehearsal {
    /// The lining as it is believed to be.
    pub lining: Lining,
    /// The plan that is followed.
    pub plan: Plan,
    /// The probes as their file has them.
    pub probes: ProbeSet,
    /// The ensemble.
    pub belief: Belief,
    /// Seed of everything else.
    pub luck: u64,
    /// Who is at the burner.
    pub operators: Operators,
}

impl Rehearsal {
    /// One heat-up from its first flame to its end.
    ///
    /// # Errors
    /// When a wall cannot be solved.
    pub fn heat_up(&self, number: u32) -> Result<HeatUpOutcome, AppError> {
        HeatUp::new(self, number)?.to_its_end()
    }
}

fn built_in(text: &str) -> Result<Read<Lining>, AppError> {
    let value = parse_lining(text, Materials::built_in()).map_err(AppError::Answers)?;
    Ok(Read { value, text: text.to_owned() })
}

/// Hot face, a tip at three tenths of the depth and shell of the first section, and the gas: four probes as a careful
/// builder places them.
///
/// # Errors
/// When the lining has a section that no probe file can name.
pub fn probes_for(lining: &Lining) -> Result<ProbeSet, AppError> {
    let section = toml::Value::from(lining.sections[0].name.as_str());
    let thickness_mm = lining.sections[0].thickness().mm();
    let depth_mm = (0.3 * thickness_mm).clamp(5.0, 40.0).round();
    let text = format!(
        "format = \"firstheat probes 1\"\n[[port]]\npath = \"/dev/null\"\n\
         [[port.channel]]\nname = \"hot\"\nplace = \"hot-face\"\nsection = {section}\ntype = \"K\"\nsheath = \"1.5 mm\"\n\
         [[port.channel]]\nname = \"gas\"\nplace = \"chamber-gas\"\ntype = \"K\"\nsheath = \"1.5 mm\"\n\
         [[port.channel]]\nname = \"deep\"\nplace = \"depth\"\ndepth = \"{depth_mm} mm\"\nsection = {section}\ntype = \"K\"\n\
         [[port.channel]]\nname = \"shell\"\nplace = \"shell\"\nsection = {section}\ntype = \"K\"\n"
    );
    file::parse(&text).map_err(|wrong| AppError::Probes { path: "rehearsal probes".into(), source: Box::new(wrong) })
}

fn progress_of(heat_ups: u32) -> indicatif::ProgressBar {
    if io::stderr().is_terminal() {
        indicatif::ProgressBar::new(u64::from(heat_ups))
    } else {
        indicatif::ProgressBar::hidden()
    }
}
