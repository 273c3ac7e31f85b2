//! `plan`: the shortest safe pulsed heat-up of a lining, as a card, a file or JSON.

mod progress;

use std::io::{self, Write as _};

use serde::Serialize;

pub use progress::Progress;

use super::{AppError, Outcome, chain, print};
use crate::cli::PlanArgs;
use crate::clock::date_label;
use crate::files::{self, Read, read_lining};
use crate::lining::Lining;
use crate::lining::text::digest;
use crate::physics::Belief;
use crate::physics::danger::CAUTION;
use crate::plan::Plan;
use crate::plan::card::{CardOf, card};
use crate::plan::search::{Found, PlanError, SearchOptions, search};
use crate::units::quantity::{Shown, UnitSystem};

/// Runs the command.
///
/// # Errors
/// When the lining cannot be read, the engine cannot solve it, or the plan cannot be written.
pub fn run(args: &PlanArgs) -> Result<Outcome, AppError> {
    let lining = read_lining(&args.lining)?;
    if let (Some(path), false) = (&args.output, args.force) {
        // Told before the search, which may take minutes.
        files::refuse_taken(path)?;
    }
    let belief = Belief { members: usize::from(args.belief.members), seed: args.belief.seed };
    match searched(&lining, belief) {
        Ok(found) => {
            let written = write(args, &found.plan)?;
            let units = args.units.into();
            let card = || card_of(&found, &lining.value, units) + &bound_line(&found, units);
            print(&if args.json { json(&found)? } else { card() })?;
            tell(&written)?;
            Ok(Outcome::Done)
        }
        Err(error @ PlanError::Solve(_)) => Err(error.into()),
        Err(no) => {
            tell(&format!("firstheat: `{}`: {}\n", lining.value.name, chain(&no)))?;
            Ok(Outcome::AnswerIsNo)
        }
    }
}

/// Searches a plan, with progress on standard error.
pub(super) fn searched(lining: &Read<Lining>, belief: Belief) -> Result<Found, PlanError> {
    let progress = Progress::start();
    let options = SearchOptions { belief };
    let found = search(&lining.value, &digest(&lining.text), options, &mut |elapsed| progress.hear(elapsed));
    progress.finish();
    found
}

/// The card with today's date.
pub(super) fn card_of(found: &Found, lining: &Lining, units: UnitSystem) -> String {
    let label = format!("plan of {}", date_label());
    card(&CardOf { plan: &found.plan, findings: &found.findings, lining, label: &label }, units)
}

/// How short any heat-up could be, beside how long this one is; nothing when that was not asked for.
fn bound_line(found: &Found, units: UnitSystem) -> String {
    let (Some(bound), Some(ratio)) = (found.bound, found.ratio()) else { return String::new() };
    let bound = bound.shown(units);
    format!("bound    {bound} by an ideal stepless burner; the plan is {ratio:.2} times that\n")
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
    Ok(format!("plan file: {plan}\nfollow it with: firstheat follow {lining} --plan {plan} --probes PROBES\n"))
}

/// A plan with what was found, as `--json` gives it.
#[derive(Serialize)]
struct PlanJson<'a> {
    #[serde(flatten)]
    plan: &'a Plan,
    length_s: f64,
    /// Least time of an ideal stepless burner, and how many times as long this plan is.
    bound_s: Option<f64>,
    ratio: Option<f64>,
    findings: FindingsJson<'a>,
    caution: &'static str,
}

/// What the simulation of the pulses found.
#[derive(Serialize)]
struct FindingsJson<'a> {
    danger: f64,
    danger_most: f64,
    danger_place: &'a str,
    danger_steam: f64,
    danger_thermal: f64,
    ramp_k_per_h: f64,
    hottest_c: f64,
    shell_c: f64,
    fuel_kg: f64,
}

fn json(found: &Found) -> Result<String, AppError> {
    let of = &found.findings;
    let findings = FindingsJson {
        danger: of.danger,
        danger_most: of.danger_most,
        danger_place: &of.danger_place,
        danger_steam: of.danger_parts[0],
        danger_thermal: of.danger_parts[1],
        ramp_k_per_h: of.ramp.0,
        hottest_c: of.hottest.0,
        shell_c: of.shell.0,
        fuel_kg: of.fuel.0,
    };
    let plan = PlanJson {
        plan: &found.plan,
        length_s: found.plan.length().0,
        bound_s: found.bound.map(|bound| bound.0),
        ratio: found.ratio(),
        findings,
        caution: CAUTION,
    };
    let text = serde_json::to_string_pretty(&plan);
    let refused = |error| AppError::System { doing: "to write the plan as JSON", source: io::Error::other(error) };
    Ok(text.map_err(refused)? + "\n")
}

/// Says something beside the output proper.
fn tell(words: &str) -> Result<(), AppError> {
    io::stderr().write_all(words.as_bytes()).map_err(|source| AppError::System { doing: "standard error", source })
}
