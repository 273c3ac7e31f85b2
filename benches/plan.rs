//! Speed of the search for a plan, by members and by length of the heat-up, with what it finds.
//!
//!     cargo bench --bench plan          a table by members and hours
//!     cargo bench --bench plan -- fresh 16 256 schedules/x.toml ...
//!                                       plans of 16 members held against 256 others on a finer grid
//!     cargo bench --bench plan -- where 16 schedules/x.toml ...
//!                                       where a plan takes longer than its bound, by hot face

#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::time::Instant;

use firstheat::lining::Lining;
use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::physics::{Belief, Ensemble, Furnace, Grid};
use firstheat::plan::Round;
use firstheat::plan::bound::stepless;
use firstheat::plan::check::check;
use firstheat::plan::search::{Asked, Found, PROMISED_SHARE, PlanError, SearchOptions, bound_of, limits_of, search};
use firstheat::units::Seconds;

/// Linings whose plans take from an hour to two days.
const LININGS: [&str; 3] =
    ["schedules/thin-coat-forge.toml", "schedules/yardstick-insulating-12.toml", "schedules/cast-barrel-75.toml"];

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|arg| !arg.starts_with("--")).collect();
    match &args[..] {
        [word, members, fresh, paths @ ..] if word == "fresh" => {
            return held(members.parse().unwrap(), fresh.parse().unwrap(), paths);
        }
        [word, members, paths @ ..] if word == "where" => {
            return paths.iter().for_each(|path| lags(path, members.parse().unwrap()));
        }
        [] => (),
        _ => panic!("see the top of benches/plan.rs for what can be asked"),
    }
    println!("{:<40} {:>7} {:>7} {:>9} {:>9} {:>9}", "lining", "members", "plan h", "search s", "CPU s", "bound CPU");
    for path in LININGS {
        for members in [8, 16, 32, 64] {
            timed(path, members);
        }
    }
}

fn lining(path: &str) -> Lining {
    parse_lining(&std::fs::read_to_string(path).unwrap(), Materials::built_in()).unwrap()
}

fn planned(lining: &Lining, members: usize) -> (Result<Found, PlanError>, f64) {
    let begin = Instant::now();
    let found = search(&Asked::of(lining, options(members)), &mut |_| {});
    (found, begin.elapsed().as_secs_f64())
}

fn options(members: usize) -> SearchOptions {
    SearchOptions { belief: Belief { members, seed: 1 } }
}

fn timed(path: &str, members: usize) {
    let lining = lining(path);
    let begin_s = cpu_s();
    let (found, search_s) = planned(&lining, members);
    let search_cpu_s = cpu_s() - begin_s;
    let begin_s = cpu_s();
    bound_of(&lining, options(members)).unwrap();
    let bound_cpu_s = cpu_s() - begin_s;
    let plan_h = found.unwrap().plan.length().hours();
    println!("{path:<40} {members:>7} {plan_h:>7.1} {search_s:>9.1} {search_cpu_s:>9.1} {bound_cpu_s:>9.1}");
}

/// Plans of `members`, as a row each: with the bound, the duty of the first rounds, and what `fresh` others make of the plan.
fn held(members: usize, fresh: usize, paths: &[String]) {
    println!("{members} members of seed 1; {fresh} others of seed 2026 on cells half as wide\n");
    println!(
        "| lining | plan, h | bound, h | ratio | rounds | pulses | first duties | danger | CPU s | others: danger, 95 % | most | ramp, K/h |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|---|");
    for path in paths {
        println!("{}", row(path, members, fresh));
    }
}

fn row(path: &str, members: usize, fresh: usize) -> String {
    let lining = lining(path);
    let begin_s = cpu_s();
    let (found, _) = planned(&lining, members);
    let search_s = cpu_s() - begin_s;
    let found = match found {
        Ok(found) => found,
        Err(error) => return format!("{path}: {error}"),
    };
    let bound_h = found.bound.unwrap().hours();
    let (plan, plan_h) = (&found.plan, found.plan.length().hours());
    let pulses: u32 = plan.rounds.iter().map(|round| round.count).sum();
    let duty = |round: &Round| format!("{:.1}", 100.0 * round.on.0 / (round.on.0 + round.off.0));
    let duties: Vec<String> = plan.rounds.iter().take(4).map(duty).collect();
    let ensemble = Ensemble::new(&Furnace::of(&lining, Grid::Fine), Belief { members: fresh, seed: 2026 }).unwrap();
    let others = check(plan, ensemble, PROMISED_SHARE).unwrap();
    format!(
        "| {} | {plan_h:.2} | {bound_h:.2} | {:.3} | {} | {pulses} | {} % | {:.3} | {search_s:.0} | {:.3} | {:.3} | {:.0} of {:.0} |",
        lining.name,
        plan_h / bound_h,
        plan.rounds.len(),
        duties.join(", "),
        found.findings.danger,
        others.danger,
        others.danger_most,
        others.ramp.0,
        plan.limits.ramp.0
    )
}

/// CPU time of this process, s; 0 where it cannot be read.
fn cpu_s() -> f64 {
    /// Ticks of the kernel's clock a second.
    const TICKS: f64 = 100.0;
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields = stat.rsplit(')').next().unwrap_or_default().split_whitespace();
    // User and system time are the 14th and 15th fields; the name, which may hold blanks, is the second.
    fields.skip(11).take(2).filter_map(|ticks| ticks.parse::<f64>().ok()).sum::<f64>() / TICKS
}

/// Hours that a plan and its bound take to each temperature of the middle hot face, and what binds the plan on the way.
fn lags(path: &str, members: usize) {
    let lining = lining(path);
    let (found, search_s) = planned(&lining, members);
    let plan = found.unwrap().plan;
    let bound = bound_course(&lining, members);
    let course: Vec<(f64, f64)> = plan.expected.iter().map(|at| (at.hot_face[1].0, at.elapsed.hours())).collect();
    let rows = plan.expected.len();
    println!(
        "{path}: {:.2} h in {} rounds and {rows} windows, {search_s:.0} s",
        plan.length().hours(),
        plan.rounds.len()
    );
    println!("{:>6} {:>8} {:>8} {:>8} {:>7} {:>6}", "to C", "plan h", "bound h", "ratio", "danger", "duty");
    let mut before = [0.0, 0.0];
    let end_c = bound.iter().map(|at| at.0).fold(0.0, f64::max);
    for to_c in (1..).map(|n| 25.0 * f64::from(n)).take_while(|&to_c| to_c < end_c) {
        let now = [reached(&course, to_c), reached(&bound, to_c)];
        let [plan_h, bound_h] = [now[0] - before[0], now[1] - before[1]];
        let danger = plan.expected.iter().filter(|at| at.hot_face[1].0 <= to_c).map(|at| at.danger[2]).next_back();
        let round = &plan.rounds[plan.cue_at(Seconds(now[0] * 3600.0)).round.min(plan.rounds.len() - 1)];
        println!(
            "{to_c:>6.0} {plan_h:>8.2} {bound_h:>8.2} {:>8.2} {:>7.2} {:>6.3}  {} x {} on {} off: {}",
            plan_h / bound_h,
            danger.unwrap_or(0.0),
            round.on.0 / (round.on.0 + round.off.0),
            round.count,
            round.on.0,
            round.off.0,
            round.binds
        );
        before = now;
    }
    let ends = [&course, &bound].map(|course| course[course.len() - 1].1);
    println!(
        "{:>6} {:>8.2} {:>8.2}\n{:>6} {:>8.2} {:>8.2}",
        "end",
        ends[0] - before[0],
        ends[1] - before[1],
        "all",
        ends[0],
        ends[1]
    );
}

/// Hot face of the middle member and hours, as the bound's burner goes.
fn bound_course(lining: &Lining, members: usize) -> Vec<(f64, f64)> {
    let rough = Furnace::of(lining, Grid::Coarse);
    let start = Ensemble::new(&rough, options(members).belief).unwrap();
    let mut course = Vec::new();
    let end = stepless(start, &limits_of(lining, &rough), &mut |now: &Ensemble| {
        let faces = (0..rough.section_names().len()).map(|section| now.hot_face(0, section).0);
        course.push((faces.fold(f64::NEG_INFINITY, f64::max), now.elapsed().hours()));
        1.0
    });
    let last_c = course[course.len() - 1].0;
    course.push((last_c, end.unwrap().hours()));
    course
}

/// Hours at which a course first comes to `to_c`.
fn reached(course: &[(f64, f64)], to_c: f64) -> f64 {
    let at = course.windows(2).find(|pair| pair[1].0 >= to_c);
    at.map_or(f64::NAN, |pair| pair[0].1 + (to_c - pair[0].0) / (pair[1].0 - pair[0].0) * (pair[1].1 - pair[0].1))
}
