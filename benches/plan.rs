//! Speed of the search for a plan, by members and by length of the heat-up, with what it finds.
//!
//!     cargo bench --bench plan                                    a table by members and hours
//!     cargo bench --bench plan -- fresh 256 schedules/x.toml ...  plans held against fresh members on a finer grid

#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::time::Instant;

use firstheat::lining::Lining;
use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::physics::{Belief, Ensemble, Furnace, Grid};
use firstheat::plan::check::check;
use firstheat::plan::search::{Found, PROMISED_SHARE, PlanError, SearchOptions, bound_of, search_plan};

/// Linings whose plans take from an hour to two days.
const LININGS: [&str; 3] =
    ["schedules/thin-coat-forge.toml", "schedules/yardstick-insulating-12.toml", "schedules/cast-barrel-75.toml"];

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|arg| !arg.starts_with("--")).collect();
    if let [word, members, paths @ ..] = &args[..]
        && word == "fresh"
    {
        return paths.iter().for_each(|path| held(path, members.parse().unwrap()));
    }
    println!("{:<40} {:>7} {:>7} {:>9} {:>8}", "lining", "members", "plan h", "search s", "bound s");
    for path in LININGS {
        for members in [8, 16, 64] {
            timed(path, members);
        }
    }
}

fn lining(path: &str) -> Lining {
    parse_lining(&std::fs::read_to_string(path).unwrap(), Materials::built_in()).unwrap()
}

fn planned(lining: &Lining, members: usize) -> (Result<Found, PlanError>, f64) {
    let begin = Instant::now();
    let found = search_plan(lining, "", options(members), &mut |_| {});
    (found, begin.elapsed().as_secs_f64())
}

fn options(members: usize) -> SearchOptions {
    SearchOptions { belief: Belief { members, seed: 1 } }
}

fn timed(path: &str, members: usize) {
    let lining = lining(path);
    let (found, search_s) = planned(&lining, members);
    let begin = Instant::now();
    bound_of(&lining, options(members)).unwrap();
    let bound_s = begin.elapsed().as_secs_f64();
    let plan_h = found.unwrap().plan.length().hours();
    println!("{path:<40} {members:>7} {plan_h:>7.1} {search_s:>9.1} {bound_s:>8.1}");
}

/// A plan of 64 members, and what `fresh` others make of it.
fn held(path: &str, fresh: usize) {
    let lining = lining(path);
    let (found, search_s) = planned(&lining, 64);
    let found = match found {
        Ok(found) => found,
        Err(error) => return println!("{path}: {error}"),
    };
    let bound_h = bound_of(&lining, options(64)).unwrap().hours();
    let (plan_h, rounds) = (found.plan.length().hours(), found.plan.rounds.len());
    println!("{path}: {plan_h:.2} h, bound {bound_h:.2} h, {:.3}, {rounds} rounds, {search_s:.0} s", plan_h / bound_h);
    let furnace = Furnace::of(&lining, Grid::Fine);
    let ensemble = Ensemble::new(&furnace, Belief { members: fresh, seed: 2026 }).unwrap();
    let findings = check(&found.plan, ensemble, PROMISED_SHARE).unwrap();
    println!(
        "    {fresh} others: danger {:.3} for 95 %, {:.3} at most; ramp {:.1} of {:.1} K/h",
        findings.danger, findings.danger_most, findings.ramp.0, found.plan.limits.ramp.0
    );
}
