//! `plan`: the shortest safe pulsed heat-up of a lining, as a card, a file or JSON.

use std::fmt::Write as _;

use super::{AppError, Outcome, print};
use crate::cli::PlanArgs;
use crate::files::{read_lining, write_plan_new};
use crate::lining::text::digest;
use crate::physics::Belief;
use crate::plan::search::{Found, PlanError, SearchOptions, search};

/// Runs the command.
///
/// # Errors
/// When the lining cannot be read, the engine cannot solve it, or the plan cannot be written.
pub fn run(args: &PlanArgs) -> Result<Outcome, AppError> {
    let lining = read_lining(&args.lining)?;
    let belief = Belief { members: usize::from(args.belief.members), seed: args.belief.seed };
    match search(&lining.value, &digest(&lining.text), SearchOptions { belief }, &mut |_| {}) {
        Ok(found) => {
            if let Some(path) = &args.output {
                write_plan_new(path, &found.plan)?;
            }
            print(&if args.json { json(&found) } else { card(&found) })?;
            Ok(Outcome::Done)
        }
        Err(error @ PlanError::Solve(_)) => Err(AppError::Plan(error)),
        Err(no) => {
            print(&format!("{no}\n"))?;
            Ok(Outcome::AnswerIsNo)
        }
    }
}

fn json(found: &Found) -> String {
    serde_json::to_string_pretty(&found.plan).map_or_else(|error| format!("{error}\n"), |text| text + "\n")
}

/// The rounds as a page of text.
fn card(found: &Found) -> String {
    let (plan, findings) = (&found.plan, &found.findings);
    let mut page = String::new();
    let _ = writeln!(
        page,
        "Heat-up of the {}: {:.1} h, about {:.1} kg of gas",
        plan.lining,
        plan.length().hours(),
        findings.fuel.0
    );
    let _ = writeln!(
        page,
        "Danger for 95 of 100 possible linings {:.2} of {:.2} ({})",
        findings.danger, plan.limits.danger_ceiling, findings.danger_place
    );
    let _ = writeln!(
        page,
        "Published peak pressures from such models miss measured ones by 57 to 87 %: watch the probes.\n"
    );
    let mut from_s = 0.0;
    for (number, round) in plan.rounds.iter().enumerate() {
        let minutes = (from_s / 60.0_f64).floor();
        let clock = format!("{:.0}:{:02.0}", (minutes / 60.0).floor(), minutes % 60.0);
        let _ = writeln!(
            page,
            "{:>3}  {clock:>6}  {} x  {:.0} s on, {:.0} s off   {}",
            number + 1,
            round.count,
            round.on.0,
            round.off.0,
            round.binds
        );
        from_s += f64::from(round.count) * (round.on.0 + round.off.0);
    }
    page.push_str(
        "\nEvery pulse is a light-up: flame at the burner mouth before gas, the opening free, nobody in line with it.\n\
         Air in: carbon monoxide has no smell; use a meter that reads. Hot steam and chips fly out of a wet lining.\n\
         On a bang, a smell of gas or a flame that goes out: shut the gas, step away from the opening, wait, vent.\n\
         Local codes and licensed practice come before this page.\n",
    );
    page
}
