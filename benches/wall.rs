//! Speed of the wall engine. `benches/scipy_wall.py` gives seconds for the same wall by a general-purpose integrator.
//!
//!     cargo bench --bench wall

#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::sync::Arc;

use divan::Bencher;
use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::physics::simulate::WallRun;
use firstheat::physics::solver::{Accuracy, Drive, Effort, Part, Solver};
use firstheat::physics::wall::{Wall, WallLuck};
use firstheat::physics::wall_file::{WallCase, parse_wall};
use firstheat::physics::{self, Belief, Ensemble, Furnace, Grid};
use firstheat::units::Seconds;

fn main() {
    check_peak();
    divan::main();
}

/// The wall R of ten hours.
fn wall_r() -> WallCase {
    parse_wall(include_str!("../schedules/wall-r.toml")).unwrap()
}

/// What is timed must be right: the peak of wall R within 1 % of the independently computed 1.4186 MPa.
fn check_peak() {
    let run = wall_r().run().unwrap();
    let peak_mpa = run.peak.pressure_pa / 1e6;
    assert!((peak_mpa / 1.4186 - 1.0).abs() < 0.01, "{peak_mpa} MPa instead of 1.4186");
    println!("wall R: {peak_mpa:.4} MPa, {:?}", run.effort);
    println!("64 members one by one: {:?}, eight at a time: {:?}", wall_r_of_members::<1>(), wall_r_of_members::<8>());
}

#[divan::bench]
fn wall_r_ten_hours(bencher: Bencher) {
    let case = wall_r();
    bencher.bench_local(|| -> WallRun { case.run().unwrap() });
}

#[divan::bench(args = [25, 50, 100, 200, 400])]
fn wall_r_by_cells(bencher: Bencher, cells: usize) {
    let mut case = wall_r();
    case.spec.layers[0].cut.cells = cells;
    bencher.bench_local(|| case.run().unwrap());
}

/// Members whose permeability spreads evenly over a decade.
const MEMBERS: usize = 64;

/// Wall R for all members, `L` at a time, from the tightest to the most open.
fn wall_r_of_members<const L: usize>() -> Effort {
    let wall = Arc::new(Wall::of(wall_r().spec));
    let mut effort = Effort::default();
    for first in (0..MEMBERS).step_by(L) {
        let mut luck = WallLuck::<L>::none(1);
        for (lane, factor) in luck.layers[0].permeability_ln.0.iter_mut().enumerate() {
            let place = (first + lane) as f64 / (MEMBERS - 1) as f64;
            *factor = (place - 0.5) * std::f64::consts::LN_10;
        }
        let part = Part::new(Arc::clone(&wall), Arc::new(luck), 1.0);
        let mut solver = Solver::new(vec![part], None, Accuracy::USUAL);
        for pair in [(293.15, 873.15, 20_880.0), (873.15, 873.15, 15_120.0)] {
            solver.advance(Drive::Gas { from_k: pair.0, to_k: pair.1 }, pair.2, |_, _| {}).unwrap();
        }
        effort.steps += solver.effort.steps;
        effort.iterations += solver.effort.iterations;
    }
    effort
}

/// 64 members on one core: single runs, and in lanes.
#[divan::bench(consts = [1, 4, 8], sample_count = 10)]
fn wall_r_64_members_in_lanes_of<const L: usize>() -> Effort {
    wall_r_of_members::<L>()
}

#[divan::bench(args = [1, 8, 16, 64], sample_count = 5)]
fn melter_one_hour_of_pulses(bencher: Bencher, members: usize) {
    one_hour_of_pulses(bencher, include_str!("../schedules/school-foundry-melter.toml"), members);
}

#[divan::bench(args = [1, 8, 16, 64], sample_count = 5)]
fn coated_forge_one_hour_of_pulses(bencher: Bencher, members: usize) {
    one_hour_of_pulses(bencher, include_str!("../schedules/thin-coat-forge.toml"), members);
}

/// Members on all cores; on one with `RAYON_NUM_THREADS=1`.
fn one_hour_of_pulses(bencher: Bencher, lining: &str, members: usize) {
    let lining = parse_lining(lining, Materials::built_in()).unwrap();
    let start = Ensemble::new(&Furnace::of(&lining, Grid::Usual), Belief { members, seed: 1 }).unwrap();
    bencher.with_inputs(|| start.clone()).bench_local_values(|mut ensemble| {
        for _ in 0..12 {
            ensemble.advance(physics::Drive::Burner { on: 1.0 }, Seconds(30.0)).unwrap();
            ensemble.advance(physics::Drive::Burner { on: 0.0 }, Seconds(270.0)).unwrap();
        }
        ensemble
    });
}
