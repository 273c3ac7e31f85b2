//! `simulate`: any schedule on a lining, side by side, or a bare wall.

mod against;
mod bare;
mod published;

use std::fmt::Write as _;
use std::path::Path;

use serde_json::json;

use super::{AppError, Outcome, print};
use crate::cli::SimulateArgs;
use crate::files::{read_lining, read_plan, read_text};
use crate::lining::Lining;
use crate::lining::text::digest;
use crate::physics::danger::CAUTION;
use crate::physics::{Belief, Ensemble, Furnace, Grid};
use crate::plan::compare::answer;
use crate::plan::schedule::{self, Schedule, counted_thickness, parse_schedule};
use crate::plan::trial::{Course, Range, SectionTrial, Trial, try_out};
use crate::units::Seconds;

/// A heat-up to try, under the name it is asked for by.
struct Asked {
    name: String,
    title: String,
    course: Course,
    /// What is odd about it, if anything.
    remark: Option<String>,
}

/// Runs the command.
///
/// # Errors
/// When a file cannot be read or is wrong, a schedule is not known, the engine cannot solve a wall, or output is refused.
pub fn run(args: &SimulateArgs) -> Result<Outcome, AppError> {
    if let Some(path) = &args.wall {
        return bare::run(path, args.json);
    }
    if args.published {
        return if args.plans { against::run(args) } else { published::run(args) };
    }
    let Some(path) = &args.lining else { return Ok(Outcome::Done) };
    let lining = read_lining(path)?;
    let asked: Vec<Asked> =
        args.schedule.iter().map(|name| find(name, &lining.value, &lining.text)).collect::<Result<_, _>>()?;
    let belief = Belief { members: usize::from(args.belief.members), seed: args.belief.seed };
    let start = Ensemble::new(&Furnace::of(&lining.value, Grid::Usual), belief)?;
    let mut tried = Vec::new();
    for asked in asked {
        let trial = try_out(&asked.course, start.clone())?;
        tried.push((asked, trial));
    }
    print(&if args.json { as_json(&lining.value, &tried, belief) } else { as_tables(&lining.value, &tried, belief) })?;
    let is_safe = tried.iter().all(|(_, trial)| trial.is_safe());
    Ok(if is_safe { Outcome::Done } else { Outcome::AnswerIsNo })
}

/// The schedule `name`: a letter of a published one, or a file.
fn find(name: &str, lining: &Lining, lining_text: &str) -> Result<Asked, AppError> {
    let of_gas = |schedule: &Schedule| Asked {
        name: name.to_owned(),
        title: schedule.title.clone(),
        course: Course::Gas(schedule.gas(lining.surroundings.temp, counted_thickness(lining))),
        remark: None,
    };
    if let Some((_, schedule)) = schedule::published().iter().find(|(letter, _)| letter.eq_ignore_ascii_case(name)) {
        return Ok(of_gas(schedule));
    }
    let path = Path::new(name);
    if !path.exists() && path.extension().is_none() {
        let letters = schedule::published().iter().map(|(letter, _)| letter.as_str()).collect::<Vec<_>>().join(" ");
        return Err(AppError::NoSchedule { asked: name.to_owned(), letters });
    }
    let text = read_text(path)?;
    let format = text.lines().find(|line| line.trim_start().starts_with("format")).unwrap_or_default();
    if !format.contains("firstheat plan") {
        let schedule = parse_schedule(&text).map_err(|source| AppError::Described {
            path: path.to_owned(),
            what: "schedule",
            source,
        })?;
        return Ok(of_gas(&schedule));
    }
    let plan = read_plan(path)?.value;
    let is_other =
        plan.lining != lining.name || (!plan.lining_digest.is_empty() && plan.lining_digest != digest(lining_text));
    let remark = is_other.then(|| format!("{name} was made for another or an earlier lining (`{}`)", plan.lining));
    let title = "plan of burner pulses".to_owned();
    Ok(Asked { name: name.to_owned(), title, course: Course::Pulses(plan), remark })
}

fn as_json(lining: &Lining, tried: &[(Asked, Trial)], belief: Belief) -> String {
    let trials: Vec<_> = tried
        .iter()
        .map(|(asked, trial)| {
            json!({
                "schedule": asked.name, "title": asked.title, "drives": drives(&asked.course),
                "remark": asked.remark, "safe": trial.is_safe(), "past_its_peak": trial.is_past_its_peak(), "trial": trial,
            })
        })
        .collect();
    let all = json!({
        "lining": lining.name, "members": belief.members, "seed": belief.seed,
        "shares": [0.05, 0.5, 0.95], "answer": said(lining, tried), "caution": CAUTION, "schedules": trials,
    });
    format!("{all:#}\n")
}

/// Which of the schedules to take, where there are several.
fn said(lining: &Lining, tried: &[(Asked, Trial)]) -> Option<String> {
    let named: Vec<(&str, &Trial)> = tried.iter().map(|(asked, trial)| (asked.name.as_str(), trial)).collect();
    answer(&named, lining.goal.danger_ceiling)
}

const fn drives(course: &Course) -> &'static str {
    match course {
        Course::Gas(_) => "chamber gas",
        Course::Pulses(_) => "burner",
    }
}

fn as_tables(lining: &Lining, tried: &[(Asked, Trial)], belief: Belief) -> String {
    // Writing to a string cannot fail, here and below.
    let mut page = String::new();
    let _ =
        writeln!(page, "{} on {} possible linings; low, mid, high: 5, 50, 95 of 100\n", lining.name, belief.members);
    side_by_side(&mut page, tried);
    if let Some(said) = said(lining, tried) {
        let _ = writeln!(page, "{}\n", textwrap::fill(&said, 100));
    }
    for (asked, trial) in tried {
        details(&mut page, asked, trial);
    }
    let _ = writeln!(page, "{CAUTION}");
    page
}

fn side_by_side(page: &mut String, tried: &[(Asked, Trial)]) {
    let columns: Vec<String> = tried.iter().map(|(asked, _)| short(&asked.name)).collect();
    let width = columns.iter().map(|name| name.chars().count()).max().unwrap_or(0).max(18) + 2;
    let mut line = |head: &str, cell: &dyn Fn(&Asked, &Trial) -> String| {
        let _ = write!(page, "{head:<22}");
        for (asked, trial) in tried {
            let _ = write!(page, "{:>width$}", cell(asked, trial));
        }
        page.push('\n');
    };
    line("", &|asked, _| short(&asked.name));
    line("drives", &|asked, _| drives(&asked.course).to_owned());
    line("length, h", &|_, trial| format!("{:.1}", trial.length.hours()));
    line("danger number", &|_, trial| three(trial.danger, 2));
    line("  of the high, steam", &|_, trial| {
        worst_section(trial).map_or_else(String::new, |at| format!("{:.2}", at.steam))
    });
    line("  and thermal tension", &|_, trial| {
        worst_section(trial).map_or_else(String::new, |at| format!("{:.2}", at.thermal))
    });
    line("peak pressure, MPa", &|_, trial| three(trial.pressure_pa.map(|pa| pa / 1e6), 2));
    line("  of the high, at mm", &|_, trial| format!("{:.0}", trial.pressure_place.depth.mm()));
    line("  of the high, after h", &|_, trial| format!("{:.1}", trial.pressure_place.elapsed.hours()));
    line("95 % of water out, h", &|_, trial| trial.dry.map(when).join(" "));
    line("water at start, kg", &|_, trial| three(trial.water_start_kg, 2));
    line("  out at the end, kg", &|_, trial| {
        trial.rows.last().map_or_else(String::new, |row| three(row.water_out_kg, 2))
    });
    line("hottest shell, C", &|_, trial| three(trial.shell_c, 0));
    line("propane burnt, kg", &|asked, trial| match asked.course {
        Course::Gas(_) => format!("at least {:.2}", trial.fuel.0),
        Course::Pulses(_) => format!("{:.2}", trial.fuel.0),
    });
    page.push('\n');
}

/// The section whose danger was highest.
fn worst_section(trial: &Trial) -> Option<&SectionTrial> {
    trial.sections.iter().max_by(|a, b| a.danger[2].total_cmp(&b.danger[2]))
}

fn details(page: &mut String, asked: &Asked, trial: &Trial) {
    let _ = writeln!(page, "{}: {}, drives the {}", asked.name, asked.title, drives(&asked.course));
    if let Some(remark) = &asked.remark {
        let _ = writeln!(page, "  caution: {remark}");
    }
    let verdict = if trial.is_safe() { "stays below 1" } else { "REACHES 1: SPALLING RISK" };
    let _ = writeln!(page, "  danger for 95 of 100 {verdict}: {:.2}, {}", trial.danger[2], trial.danger_place);
    if !trial.is_past_its_peak() {
        let (left_kg, start_kg) = trial.water_left_kg();
        let _ = writeln!(
            page,
            "  caution: it stops before the danger has passed, with {left_kg:.2} of {start_kg:.2} kg of water in it; its \
             figures say nothing of the heat that must follow"
        );
    }
    for section in &trial.sections {
        let (name, danger, steam, thermal) = (&section.section, section.danger[2], section.steam, section.thermal);
        let _ = writeln!(
            page,
            "    {name}: {danger:.2}, of it steam {steam:.2} and thermal tension {thermal:.2}; {}",
            section.place
        );
    }
    let place = &trial.pressure_place;
    let (section, depth_mm, at_h) = (&place.section, place.depth.mm(), place.elapsed.hours());
    let peak_mpa = trial.pressure_pa[2] / 1e6;
    let _ = writeln!(
        page,
        "  highest pressure {peak_mpa:.2} MPa in the {section}, {depth_mm:.0} mm deep, after {at_h:.1} h"
    );
    let _ = writeln!(
        page,
        "\n  {:>6} {:>6} {:>15} {:>15} {:>18} {:>15} {:>18}",
        "h", "gas C", "hot face C", "shell C", "water out kg", "danger", "pressure MPa"
    );
    for row in &trial.rows {
        let _ = writeln!(
            page,
            "  {:>6.1} {:>6.0} {:>15} {:>15} {:>18} {:>15} {:>18}",
            row.elapsed.hours(),
            row.gas.0,
            three(row.hot_face_c, 0),
            three(row.shell_c, 0),
            three(row.water_out_kg, 2),
            three(row.danger, 2),
            three(row.pressure_pa.map(|pa| pa / 1e6), 2)
        );
    }
    page.push('\n');
}

/// The last part of a path.
fn short(name: &str) -> String {
    Path::new(name).file_name().map_or_else(|| name.to_owned(), |name| name.to_string_lossy().into_owned())
}

fn three(range: Range, decimals: usize) -> String {
    range.map(|value| format!("{value:.decimals$}")).join(" ")
}

fn when(time: Option<Seconds>) -> String {
    time.map_or_else(|| "-".to_owned(), |time| format!("{:.1}", time.hours()))
}
