//! Our plans beside the published schedules, as one table.

use serde_json::json;

use crate::app::plan::Searches;
use crate::app::{AppError, Outcome, print};
use crate::cli::SimulateArgs;
use crate::files::read_lining;
use crate::physics::Belief;
use crate::physics::danger::CAUTION;
use crate::plan::against::{Against, Ours, against, pairs};
use crate::plan::card::in_units;
use crate::units::quantity::UnitSystem;

/// What has to be known to read the table.
const KEY: &str = "\
theirs: hours of the schedule to its end, and the danger number that 95 of 100 possible linings stay below; w water is left
then, s it stops before the danger has passed, so that its hours and danger say nothing of the heat that must follow.
ours: the plan in pulses by hand to the same temperature, dry at the end; first at no more danger than theirs, then at the usual
ceiling. A schedule is a course of the chamber gas that no burner by hand can follow; ours is a course of on and off, so it
carries the ripple of the pulses in its danger, and it keeps the materials' ramp limits while wet, which the schedules may not.
Each schedule is tried on one lining of the kind its title names, a day after it was laid; its maker may have meant another.";

/// Runs the command; no answer is asked of it, so it is always done.
///
/// # Errors
/// When the lining file is wrong, the engine cannot solve a wall, or output is refused.
pub fn run(args: &SimulateArgs) -> Result<Outcome, AppError> {
    let belief = Belief { members: usize::from(args.belief.members), seed: args.belief.seed };
    let given = args.lining.as_ref().map(|path| {
        let lining = read_lining(path)?.value;
        Ok::<_, AppError>((super::short(&path.to_string_lossy()), lining))
    });
    let pairs = pairs(given.transpose()?.as_ref());
    if !args.json {
        print(&head(belief))?;
    }
    let searches = Searches::start("plans beside the published schedules");
    let mut found = Vec::new();
    for pair in &pairs {
        let one = against(pair, belief)?;
        searches.hear(pairs.len());
        if !args.json {
            print(&line(&one))?;
        }
        found.push(one);
    }
    searches.finish();
    print(&if args.json { as_json(&found, belief) } else { format!("\n{KEY}\n{CAUTION}\n") })?;
    Ok(Outcome::Done)
}

fn head(belief: Belief) -> String {
    format!(
        "Published schedules and our plans to the same end, on {} possible linings of each kind\n\n\
         {:>4} {:<20}{:>6}{:>14}{:>16}{:>16}  why ours is longer\n\
         {:>4} {:<20}{:>6}{:>8}{:>6}{:>9}{:>7}{:>9}{:>7}\n",
        belief.members,
        "",
        "lining",
        "to C",
        "theirs",
        "ours, like",
        "ours, usual",
        "",
        "",
        "",
        "h",
        "u",
        "h",
        "u",
        "h",
        "u"
    )
}

fn line(one: &Against) -> String {
    let mark = match (one.is_past_its_peak, one.dries) {
        (false, _) => 's',
        (true, false) => 'w',
        (true, true) => ' ',
    };
    let figures = |ours: Option<&Ours>| match ours.map(|ours| ours.found) {
        Some(Some((length, danger))) => format!("{:>9.1}{danger:>7.2}", length.hours()),
        Some(None) => format!("{:>9}{:>7}", "none", ""),
        None => format!("{:>9}{:>7}", "", ""),
    };
    let (letter, lining, end_c) = (&one.letter, &one.lining, one.end.0);
    let head = format!(
        "{letter:>4} {lining:<20}{end_c:>6.0}{:>7.1}{mark}{:>6.2}{}{}",
        one.theirs.hours(),
        one.danger,
        figures(Some(&one.like)),
        figures(one.usual.as_ref())
    );
    let why = in_units(&one.why_longer(), UnitSystem::Metric);
    format!("{}\n", format!("{head}  {why}").trim_end())
}

fn as_json(found: &[Against], belief: Belief) -> String {
    let all =
        json!({ "members": belief.members, "seed": belief.seed, "key": KEY, "caution": CAUTION, "schedules": found });
    format!("{all:#}\n")
}
