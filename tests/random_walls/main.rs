//! The engine on walls and linings drawn at random: whatever is thrown at it, it solves, stays finite and loses neither
//! water nor heat.
//!
//! The seeds are fixed. `FIRSTHEAT_CASES` draws that many instead, `FIRSTHEAT_FIRST` begins at another seed.

#![allow(clippy::unwrap_used)]

mod draw;

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use draw::{LiningCase, WallCase, lining_case, wall_case};
use firstheat::physics::solver::{Accuracy, Drive, Part, Solver};
use firstheat::physics::wall::{Wall, WallLuck, WallState};
use firstheat::physics::{self, Belief, Ensemble, Furnace, Grid, SolveError};
use firstheat::units::Seconds;

/// Runs `check` on each seed on as many threads as there are cores and gathers what it finds wrong.
fn sweep(usual: u64, check: impl Fn(u64) -> Result<(), String> + Sync) {
    let number = |name: &str, otherwise: u64| std::env::var(name).map_or(otherwise, |text| text.parse().unwrap());
    let first = number("FIRSTHEAT_FIRST", 1);
    let last = first + number("FIRSTHEAT_CASES", usual);
    let next = AtomicU64::new(first);
    let work = || {
        let mut wrong = Vec::new();
        loop {
            let seed = next.fetch_add(1, Ordering::Relaxed);
            if seed >= last {
                return wrong;
            }
            let caught = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| check(seed)));
            match caught.unwrap_or_else(|_| Err("it panicked".to_owned())) {
                Ok(()) => {}
                Err(what) => wrong.push(format!("seed {seed}: {what}")),
            }
        }
    };
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let mut wrong: Vec<String> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads).map(|_| scope.spawn(work)).collect();
        workers.into_iter().flat_map(|worker| worker.join().unwrap()).collect()
    });
    wrong.sort();
    assert!(wrong.is_empty(), "{} of {} cases:\n{}", wrong.len(), last - first, wrong.join("\n"));
}

/// Water (kg/m²) and heat (J/m²) at one moment, to hold against those of another.
struct Books {
    free: f64,
    bound: f64,
    heat: f64,
}

impl Books {
    fn of(part: &Part<1>) -> Self {
        Self {
            free: part.state.free_water_kg_m2(&part.wall).0[0],
            bound: part.state.bound_water_kg_m2(&part.wall).0[0],
            heat: part.state.heat_j_m2(&part.wall).0[0],
        }
    }

    /// What does not add up since `start`, as shares of what was there or moved.
    fn check(&self, start: &Self, part: &Part<1>) -> Result<(), String> {
        let ledger = &part.ledger;
        let [hot, cold, freed] = [ledger.hot_water, ledger.cold_water, ledger.freed].map(|lanes| lanes.0[0]);
        let all = start.free + start.bound + 1e-6;
        let water = (self.free - start.free - (freed - hot - cold)).abs() / all;
        let bound = (self.bound - start.bound + freed).abs() / all;
        let [hot, cold] = [ledger.hot_heat, ledger.cold_heat].map(|lanes| lanes.0[0]);
        let taken = ledger.evaporation.0[0] + ledger.dehydration.0[0];
        let turned_over = hot.abs() + cold.abs() + taken.abs() + self.heat.abs() + start.heat.abs() + 1.0;
        let heat = (self.heat - start.heat - (hot - cold - taken)).abs() / turned_over;
        if water < 1e-9 && bound < 1e-9 && heat < 1e-6 {
            return Ok(());
        }
        Err(format!("balances: free water off by {water:.1e}, bound water by {bound:.1e}, heat by {heat:.1e}"))
    }
}

/// What no state may be.
fn check_state(state: &WallState<1>, wall: &Wall, bounds_k: [f64; 2]) -> Result<(), String> {
    for (index, node) in wall.mesh.nodes.iter().enumerate() {
        let depth_mm = node.depth_m * 1e3;
        let [temp_k, pressure_pa, water, heat, freed] =
            [&state.temp_k, &state.pressure_pa, &state.water_kg_m3, &state.heat_j_m3, &state.freed]
                .map(|field| field[index].0[0]);
        let all = [temp_k, pressure_pa, water, heat, freed];
        if !all.iter().all(|value| value.is_finite()) {
            return Err(format!("not finite at {depth_mm:.1} mm: {all:?}"));
        }
        // Evaporation and freed water cool a place below all that surrounds it; without air in the way of the vapour it
        // goes on well below freezing. And a dry place that takes up vapour gets its heat: until its own relative
        // pressure is in balance it is hotter than what the vapour comes from, and may be than all that surrounds it.
        if !(bounds_k[0] - 90.0..=bounds_k[1] + 40.0).contains(&temp_k) {
            return Err(format!("{temp_k:.2} K at {depth_mm:.1} mm, outside {bounds_k:?}"));
        }
        if pressure_pa < 0.0 || (node.is_cell() && (water < -1e-6 || !(-1e-6..=1.0 + 1e-6).contains(&freed))) {
            return Err(format!("{pressure_pa} Pa, {water} kg/m3, {freed} freed at {depth_mm:.1} mm"));
        }
    }
    Ok(())
}

fn solve_wall(case: &WallCase) -> Result<(), String> {
    let wall = Arc::new(Wall::of(case.spec.clone()));
    let luck = Arc::new(WallLuck::<1>::none(wall.layers.len()));
    let part = Part::new(Arc::clone(&wall), luck, 1.0);
    let start = Books::of(&part);
    let mut solver = Solver::new(vec![part], None, Accuracy::USUAL);
    let start_k = case.spec.start_k;
    let temps_k = case.stretches.iter().map(|stretch| stretch.0 + 273.15);
    let bounds_k = temps_k.fold([start_k, start_k], |[low, high], temp_k| [low.min(temp_k), high.max(temp_k)]);
    let mut gas_k = start_k;
    let mut wrong = Ok(());
    for &(temp_c, span_s) in &case.stretches {
        let to_k = temp_c + 273.15;
        for (from_k, to_k, span_s) in [(gas_k, to_k, 1.0), (to_k, to_k, span_s)] {
            let advanced = solver.advance(Drive::Gas { from_k, to_k }, span_s, |solver, _| {
                if wrong.is_ok() {
                    let part = &solver.parts[0];
                    wrong = check_state(&part.state, &wall, bounds_k)
                        .and_then(|()| Books::of(part).check(&start, part))
                        .map_err(|what| format!("at {:.1} s: {what}", solver.elapsed_s));
                }
            });
            match advanced {
                Ok(()) => {}
                // A wall sealed on both sides and set aglow: what it says is what there is to say.
                Err(SolveError::Burst { .. }) => return wrong,
                Err(error) => return Err(format!("{error} ({:?})", solver.effort)),
            }
        }
        gas_k = to_k;
        wrong.clone()?;
    }
    let effort = solver.effort;
    // Steps are at most 600 s long; a switched gas costs some tens more each. One wall in two thousand, hair-thin and open
    // beside one a million times tighter, takes tens of thousands.
    let affordable = 100_000;
    if effort.steps + effort.refused > affordable {
        return Err(format!("{effort:?} for {:.0} s", solver.elapsed_s));
    }
    Ok(())
}

#[test]
fn walls_at_random_are_solved_and_lose_nothing() {
    sweep(120, |seed| {
        let case = wall_case(seed);
        solve_wall(&case).map_err(|what| if verbose() { format!("{what}\n{}", case.in_short()) } else { what })
    });
}

/// Where `L` members of a wall, all with the same luck, are after its first stretch.
fn after_the_first_stretch<const L: usize>(case: &WallCase) -> WallState<L> {
    let wall = Arc::new(Wall::of(case.spec.clone()));
    let luck = Arc::new(WallLuck::<L>::none(wall.layers.len()));
    let mut solver = Solver::new(vec![Part::new(wall, luck, 1.0)], None, Accuracy::USUAL);
    let (temp_c, span_s) = case.stretches[0];
    let (from_k, to_k) = (case.spec.start_k, temp_c + 273.15);
    // How far a wall gets before it bursts is as good.
    let _ = solver.advance(Drive::Gas { from_k, to_k }, span_s.min(3600.0), |_, _| {});
    solver.parts.swap_remove(0).state
}

/// Five members: four fill the registers of most machines, and the fifth goes alone.
#[test]
fn members_side_by_side_end_with_the_same_bits_as_one_alone() {
    sweep(40, |seed| {
        let case = wall_case(seed);
        let (alone, five) = (after_the_first_stretch::<1>(&case), after_the_first_stretch::<5>(&case));
        let fields = [
            (&alone.temp_k, &five.temp_k),
            (&alone.pressure_pa, &five.pressure_pa),
            (&alone.water_kg_m3, &five.water_kg_m3),
            (&alone.heat_j_m3, &five.heat_j_m3),
            (&alone.freed, &five.freed),
        ];
        for (one, five) in fields.into_iter().flat_map(|(one, five)| one.iter().zip(five)) {
            if five.0.iter().any(|lane| lane.to_bits() != one.0[0].to_bits()) {
                return Err(format!("{five:?} side by side, {one:?} alone"));
            }
        }
        Ok(())
    });
}

fn solve_lining(case: &LiningCase) -> Result<(), String> {
    let furnace = Furnace::of(&case.lining, Grid::Usual);
    let mut ensemble = Ensemble::new(&furnace, Belief { members: 8, seed: 1 }).map_err(|error| error.to_string())?;
    for &(on, span_s) in &case.stretches {
        ensemble
            .advance(physics::Drive::Burner { on }, Seconds(span_s))
            .map_err(|error| format!("burner {on:.2} for {span_s:.0} s: {error}"))?;
        check_ensemble(&ensemble)?;
    }
    Ok(())
}

fn check_ensemble(ensemble: &Ensemble) -> Result<(), String> {
    for member in 0..ensemble.members() {
        for section in 0..ensemble.furnace().section_names().len() {
            let now = ensemble.section(member, section);
            let peak = ensemble.peak(member, section);
            let all = [
                now.hot_face.0,
                now.contact.0,
                now.shell.0,
                now.water_left.0,
                now.wet_share,
                now.danger.number,
                peak.number,
                peak.pressure.0,
                ensemble.gas(member).0,
            ];
            if !all.iter().all(|value| value.is_finite()) || now.water_left.0 < -1e-9 || now.hot_face.0 < -80.0 {
                let elapsed_s = ensemble.elapsed().0;
                return Err(format!("member {member}, section {section}, {elapsed_s:.0} s: {now:?}, gas {}", all[8]));
            }
        }
    }
    Ok(())
}

#[test]
fn linings_at_random_are_solved_under_any_pulses() {
    sweep(24, |seed| {
        let case = lining_case(seed);
        solve_lining(&case).map_err(|what| if verbose() { format!("{what}\n{case:#?}") } else { what })
    });
}

/// Whether the whole case is printed with what is wrong with it.
fn verbose() -> bool {
    std::env::var_os("FIRSTHEAT_WHOLE").is_some()
}
