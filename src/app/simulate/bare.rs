//! A bare wall with every coefficient given.

use std::fmt::Write as _;
use std::path::Path;

use serde_json::{Value, json};

use crate::app::{AppError, Outcome, print};
use crate::files::read_text;
use crate::physics::danger::CAUTION;
use crate::physics::simulate::WallRun;
use crate::physics::wall_file::{Expected, WallCase, parse_wall};
use crate::units::ZERO_CELSIUS_K;

/// Runs the wall file at `path`; the answer is no when an expected value is not met.
///
/// # Errors
/// When the file cannot be read or is wrong, the engine cannot solve the wall, or output is refused.
pub fn run(path: &Path, is_json: bool) -> Result<Outcome, AppError> {
    let text = read_text(path)?;
    let case =
        parse_wall(&text).map_err(|source| AppError::Described { path: path.to_owned(), what: "wall", source })?;
    let run = case.run()?;
    print(&if is_json { as_json(&case, &run) } else { as_tables(&case, &run) })?;
    let all_met = case.expected.iter().all(|expected| is_met(&case, &run, expected));
    Ok(if all_met { Outcome::Done } else { Outcome::AnswerIsNo })
}

fn is_met(case: &WallCase, run: &WallRun, expected: &Expected) -> bool {
    case.found(run, expected).is_some_and(|found| (found - expected.value).abs() <= expected.within)
}

/// A wall's state at one of the output times.
struct Moment {
    time_s: f64,
    temps_c: Vec<f64>,
    pressures_mpa: Vec<f64>,
    free_kg_m2: f64,
    bound_kg_m2: f64,
    lost_kg_m2: f64,
}

fn moments(case: &WallCase, run: &WallRun) -> Vec<Moment> {
    let moment = |(index, time_s): (usize, &f64)| {
        let (state, ledger, wall) = (&run.states[index], &run.ledgers[index], &run.wall);
        Moment {
            time_s: *time_s,
            temps_c: case
                .depths_m
                .iter()
                .map(|&depth_m| state.temp_at_k(wall, depth_m).0[0] - ZERO_CELSIUS_K)
                .collect(),
            pressures_mpa: case
                .depths_m
                .iter()
                .map(|&depth_m| state.pressure_at_pa(wall, depth_m).0[0] / 1e6)
                .collect(),
            free_kg_m2: state.free_water_kg_m2(wall).0[0],
            bound_kg_m2: state.bound_water_kg_m2(wall).0[0],
            lost_kg_m2: (ledger.hot_water + ledger.cold_water).0[0],
        }
    };
    case.times_s.iter().enumerate().map(moment).collect()
}

fn as_json(case: &WallCase, run: &WallRun) -> String {
    let moments: Vec<Value> = moments(case, run)
        .iter()
        .map(|now| {
            json!({
                "time_s": now.time_s, "temperature_c": now.temps_c, "pressure_mpa": now.pressures_mpa,
                "free_water_kg_m2": now.free_kg_m2, "bound_water_kg_m2": now.bound_kg_m2,
                "water_lost_kg_m2": now.lost_kg_m2,
            })
        })
        .collect();
    let expected: Vec<Value> = case
        .expected
        .iter()
        .map(|expected| {
            json!({
                "expected": expected, "found": case.found(run, expected), "met": is_met(case, run, expected),
            })
        })
        .collect();
    let all = json!({
        "wall": case.name, "depths_m": case.depths_m, "moments": moments,
        "peak": {
            "pressure_mpa": run.peak.pressure_pa / 1e6, "depth_m": run.peak.depth_m, "time_s": run.peak.time_s,
        },
        "dry95_s": run.dry_s, "water_start_kg_m2": run.start[0] + run.start[1],
        "steps": run.effort.steps, "expected": expected, "caution": CAUTION,
    });
    format!("{all:#}\n")
}

fn as_tables(case: &WallCase, run: &WallRun) -> String {
    // Writing to a string cannot fail, here and below.
    let mut page = String::new();
    let start_kg_m2 = run.start[0] + run.start[1];
    let _ = writeln!(page, "{}: {start_kg_m2:.3} kg/m2 of water, free and bound, at the start\n", case.name);
    let now = moments(case, run);
    if !case.depths_m.is_empty() {
        profile(&mut page, "temperature, C", (case, &now), (|now| &now.temps_c, 2));
        profile(&mut page, "pore pressure, MPa", (case, &now), (|now| &now.pressures_mpa, 4));
    }
    let _ = writeln!(page, "{:>10} {:>12} {:>12} {:>12}  water, kg/m2", "s", "free", "bound", "lost");
    for now in &now {
        let (free, bound, lost) = (now.free_kg_m2, now.bound_kg_m2, now.lost_kg_m2);
        let _ = writeln!(page, "{:>10.0} {free:>12.4} {bound:>12.4} {lost:>12.4}", now.time_s);
    }
    let peak = run.peak;
    let (peak_mpa, peak_mm) = (peak.pressure_pa / 1e6, peak.depth_m * 1e3);
    let _ = writeln!(page, "\nhighest pressure {peak_mpa:.4} MPa, {peak_mm:.1} mm deep, at {:.0} s", peak.time_s);
    let _ = match run.dry_s {
        Some(dry_s) => writeln!(page, "95 % of all water gone at {dry_s:.0} s ({:.2} h)", dry_s / 3600.0),
        None => writeln!(page, "95 % of all water not gone within the run"),
    };
    held_against(&mut page, case, run);
    let _ = writeln!(page, "\n{CAUTION}");
    page
}

fn profile(
    page: &mut String,
    title: &str,
    (case, moments): (&WallCase, &[Moment]),
    (of, decimals): (fn(&Moment) -> &Vec<f64>, usize),
) {
    let _ = write!(page, "{:>10}", "s");
    for depth_m in &case.depths_m {
        let _ = write!(page, " {:>9}", format!("{:.1} mm", depth_m * 1e3));
    }
    let _ = writeln!(page, "  {title}");
    for now in moments {
        let _ = write!(page, "{:>10.0}", now.time_s);
        for value in of(now) {
            let _ = write!(page, " {value:>9.decimals$}");
        }
        page.push('\n');
    }
    page.push('\n');
}

fn held_against(page: &mut String, case: &WallCase, run: &WallRun) {
    if case.expected.is_empty() {
        return;
    }
    let _ =
        writeln!(page, "\n{:<22} {:>9} {:>7} {:>13} {:>13} {:>10}", "expected", "s", "mm", "value", "found", "within");
    for expected in &case.expected {
        let found = case.found(run, expected).map_or_else(|| "never".to_owned(), |found| format!("{found:.6}"));
        let verdict = if is_met(case, run, expected) { "" } else { "  NOT MET" };
        let _ = writeln!(
            page,
            "{:<22} {:>9.0} {:>7.1} {:>13.6} {found:>13} {:>10}{verdict}",
            expected.quantity.word(),
            expected.time_s,
            expected.depth_m * 1e3,
            expected.value,
            expected.within
        );
    }
}
