//! Every published schedule on one lining, or on the four yardsticks, as one table.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::app::{AppError, Outcome, print};
use crate::cli::SimulateArgs;
use crate::files::read_lining;
use crate::lining::Lining;
use crate::lining::yardstick::yardsticks;
use crate::physics::danger::CAUTION;
use crate::physics::{Belief, Ensemble, Furnace, Grid};
use crate::plan::schedule::{Schedule, counted_thickness, published};
use crate::plan::trial::{Course, Trial, try_out};

/// What has to be known to read the table.
const KEY: &str = "\
h: length. danger, MPa: danger number and peak pore pressure that 95 of 100 possible linings stay below.
+ over the lining's ceiling, ! spalling is a risk (1 and more), w water is left at the end,
s stops before the danger has passed: its figures say nothing of the heat that must follow.
The schedules are temperatures of the chamber gas, from makers' general sheets and trade practice. They contradict one
another, none is the standard, and most were written for one kind of lining, not for the others here. No ramp limit
is judged here, and a burner that is only on or off cannot follow them.";

/// Columns of one lining.
const CELL: usize = 19;

/// A lining made ready.
struct Bench {
    name: String,
    lining: Lining,
    start: Ensemble,
}

/// Runs the command; no answer is asked of it, so it is always done.
///
/// # Errors
/// When the lining file is wrong, the engine cannot solve a wall, or output is refused.
pub fn run(args: &SimulateArgs) -> Result<Outcome, AppError> {
    let belief = Belief { members: usize::from(args.belief.members), seed: args.belief.seed };
    let benches = benches(args, belief)?;
    let mut rows: Vec<Value> = Vec::new();
    if !args.json {
        print(&head(&benches, belief))?;
    }
    for (letter, schedule) in published() {
        let mut line = format!("{letter:<3}");
        let mut cells = Vec::new();
        for bench in &benches {
            let trial = tried(bench, schedule)?;
            line += &cell(&trial, bench.lining.goal.danger_ceiling);
            cells.push(json!({ "lining": bench.lining.name, "trial": trial }));
        }
        rows.push(json!({ "schedule": letter, "title": schedule.title, "trials": cells }));
        if !args.json {
            print(&format!("{}\n", line.trim_end()))?;
        }
    }
    print(&if args.json { as_json(&rows, belief) } else { foot() })?;
    Ok(Outcome::Done)
}

fn benches(args: &SimulateArgs, belief: Belief) -> Result<Vec<Bench>, AppError> {
    let linings: Vec<(String, Lining)> = match &args.lining {
        Some(path) => {
            let lining = read_lining(path)?.value;
            vec![(super::short(&path.to_string_lossy()), lining)]
        }
        None => yardsticks().iter().map(|(name, lining)| ((*name).to_owned(), lining.clone())).collect(),
    };
    let ready = |(name, lining): (String, Lining)| -> Result<Bench, AppError> {
        let start = Ensemble::new(&Furnace::of(&lining, Grid::Usual), belief)?;
        Ok(Bench { name, lining, start })
    };
    linings.into_iter().map(ready).collect()
}

fn tried(bench: &Bench, schedule: &Schedule) -> Result<Trial, AppError> {
    let gas = schedule.gas(bench.lining.surroundings.temp, counted_thickness(&bench.lining));
    Ok(try_out(&Course::Gas(gas), bench.start.clone())?)
}

fn head(benches: &[Bench], belief: Belief) -> String {
    let mut page = format!("The published schedules on {} possible linings of each kind\n\n   ", belief.members);
    for bench in benches {
        let _ = write!(page, "{:>CELL$}", bench.name);
    }
    page += "\n   ";
    for _ in benches {
        let _ = write!(page, "{:>6}{:>7}{:>5} ", "h", "danger", "MPa");
    }
    format!("{}\n", page.trim_end())
}

fn cell(trial: &Trial, ceiling: f64) -> String {
    let danger = trial.danger[2];
    let mark = match danger {
        risk if risk >= 1.0 => '!',
        over if over > ceiling => '+',
        _ if !trial.is_past_its_peak() => 's',
        _ if trial.dry[2].is_none() => 'w',
        _ => ' ',
    };
    format!("{:>6.1}{danger:>7.2}{:>5.2}{mark}", trial.length.hours(), trial.pressure_pa[2] / 1e6)
}

fn foot() -> String {
    let mut page = String::from("\n");
    for (letter, schedule) in published() {
        let _ = writeln!(page, "{letter}  {}", schedule.title);
    }
    let _ = writeln!(page, "\n{KEY}\n{CAUTION}");
    page
}

fn as_json(rows: &[Value], belief: Belief) -> String {
    let all = json!({ "members": belief.members, "seed": belief.seed, "shares": [0.05, 0.5, 0.95], "key": KEY, "caution": CAUTION, "schedules": rows });
    format!("{all:#}\n")
}
