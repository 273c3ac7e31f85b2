//! `plan`: the shortest safe pulsed heat-up of a lining, as a card, a page, a file or JSON, and what would shorten it.

mod advice;
mod json;
mod progress;

use std::fmt::Write as _;
use std::io::{self, Write as _};
use std::path::Path;

pub use progress::{Progress, Searches};

use super::{AppError, Outcome, print};
use crate::cli::PlanArgs;
use crate::clock::date_label;
use crate::files::{self, Read, read_lining};
use crate::lining::Lining;
use crate::lining::text::digest;
use crate::physics::Belief;
use crate::plan::Plan;
use crate::plan::card::{CardOf, card, whole};
use crate::plan::pauses::{Pauses, Watch, parse_start};
use crate::plan::search::{Asked, Found, PlanError, SearchOptions, search};
use crate::report::card::page;
use crate::units::quantity::{Shown, UnitSystem};
use advice::Advice;

/// Runs the command.
///
/// # Errors
/// When the lining cannot be read, the engine cannot solve it, or the plan cannot be written.
pub fn run(args: &PlanArgs) -> Result<Outcome, AppError> {
    let lining = read_lining(&args.lining)?;
    let start = args.start.as_deref().map(parse_start).transpose()?;
    let pauses = match (&args.watch, start) {
        (Some(watch), Some(start)) => Pauses::of(&Watch::parse(watch)?, start)?,
        _ => Pauses::NONE,
    };
    for path in [&args.output, &args.page].into_iter().flatten().filter(|_| !args.force) {
        // Told before the search, which may take minutes.
        files::refuse_taken(path)?;
    }
    let found = match searched_between(&lining, belief(args), &pauses) {
        Ok(found) => found,
        Err(error @ PlanError::Solve(_)) => return Err(error.into()),
        Err(no) => return advice::no_plan(args, &lining.value, &no),
    };
    let advice = Advice::of(args, &lining.value, &found.plan)?;
    let label = format!("plan of {}", date_label());
    let of = CardOf { plan: &found.plan, findings: &found.findings, lining: &lining.value, label: &label, start };
    let written = write(args, &found.plan)?;
    let units = args.units.into();
    if let Some(path) = &args.page {
        write_page(path, args, &page(&of, units, &advice.sections(units)))?;
    }
    let text = || card(&of, units) + &advice.text(units) + &beside(&found, units);
    print(&if args.json { json::of(&found, start, &advice)? } else { text() })?;
    tell(&written)?;
    Ok(Outcome::Done)
}

fn belief(args: &PlanArgs) -> Belief {
    Belief { members: usize::from(args.belief.members), seed: args.belief.seed }
}

/// Searches a plan and its bound, with progress on standard error.
pub(super) fn searched(lining: &Read<Lining>, belief: Belief) -> Result<Found, PlanError> {
    searched_between(lining, belief, &Pauses::NONE)
}

/// The same with hours in which nobody is there.
fn searched_between(lining: &Read<Lining>, belief: Belief, pauses: &Pauses) -> Result<Found, PlanError> {
    let progress = Progress::start();
    let (digest, options) = (digest(&lining.text), SearchOptions { belief });
    let asked = Asked { lining: &lining.value, digest: &digest, options, pauses };
    let found = search(&asked, &mut |elapsed| progress.hear(elapsed));
    progress.finish();
    found
}

/// The card with today's date.
pub(super) fn card_of(found: &Found, lining: &Lining, units: UnitSystem) -> String {
    let label = format!("plan of {}", date_label());
    card(&CardOf { plan: &found.plan, findings: &found.findings, lining, label: &label, start: None }, units)
}

/// What others than the members of the search make of the plan, and how short any heat-up could be where that was worked out.
fn beside(found: &Found, units: UnitSystem) -> String {
    let others = &found.others.findings;
    let mut text = format!(
        "others   {} linings drawn anew: danger {:.2}, {:.2} at most; ramp {}\n",
        found.others.members,
        others.danger,
        others.danger_most,
        whole(others.ramp.shown(units))
    );
    if let (Some(bound), Some(ratio)) = (found.bound, found.ratio()) {
        let bound = bound.shown(units);
        // Writing to a string cannot fail.
        let _ = writeln!(text, "bound    {bound} by an ideal stepless burner; the plan is {ratio:.2} times that");
    }
    text
}

/// Writes the plan where it was asked for, and gives what to say of it.
fn write(args: &PlanArgs, plan: &Plan) -> Result<String, AppError> {
    let path = match &args.output {
        None if args.json => return Ok(String::new()),
        None => files::free_plan_name(&args.lining),
        Some(path) => path.clone(),
    };
    let written = if args.force { files::write_plan_over(&path, plan) } else { files::write_plan_new(&path, plan) };
    written?;
    let (plan, lining) = (path.display(), args.lining.display());
    let page = args.page.as_ref().map_or_else(String::new, |page| format!("page to print: {}\n", page.display()));
    Ok(format!("plan file: {plan}\n{page}follow it with: firstheat follow {lining} --plan {plan} --probes PROBES\n"))
}

fn write_page(path: &Path, args: &PlanArgs, page: &str) -> Result<(), AppError> {
    let written = if args.force { files::write_over(path, page) } else { files::write_new(path, page) };
    Ok(written?)
}

/// Says something beside the output proper.
fn tell(words: &str) -> Result<(), AppError> {
    io::stderr().write_all(words.as_bytes()).map_err(|source| AppError::System { doing: "standard error", source })
}
