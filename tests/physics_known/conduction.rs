//! Heat alone. Closed forms from Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed. (CJ) and Incropera and
//! De Witt, Fundamentals of Heat and Mass Transfer (ID); tolerance 0.1 % of the span of temperature or flux.

use firstheat::physics::danger;
use firstheat::physics::matter::Strength;
use firstheat::physics::mesh::Geometry;
use firstheat::physics::simulate::{WallRun, run_wall};
use firstheat::physics::solver::Accuracy;
use firstheat::physics::wall::{Face, FaceVapour, WallSpec};
use firstheat::units::Curve;

use crate::build::{ZERO_C, curve, exchange, layer, near, ramp, solid, wall};

fn temp_c(run: &WallRun, state: usize, depth_m: f64) -> f64 {
    run.states[state].temp_at_k(&run.wall, depth_m).0[0] - ZERO_C
}

fn base() -> firstheat::physics::matter::Matter {
    solid(1.5, 2200.0, 1000.0)
}

/// CJ section 2.5: T = T0 + (Ts - T0) erfc(x / 2 sqrt(a t)). 200 mm stand for the half space: in an hour its back
/// changes nothing at 100 mm (image source at 300 mm: erfc 3.03).
#[test]
fn a_half_space_follows_a_step_at_its_face() {
    let spec = wall(vec![layer(base(), 0.2)]);
    let run = run_wall(spec, &Curve::constant(600.0), &[600.0, 3600.0], Accuracy::USUAL).unwrap();
    let depths_m = [0.010, 0.020, 0.050, 0.100];
    let expected = [[441.449, 300.966, 66.668, 20.274], [534.174, 469.674, 295.767, 109.035]];
    for (state, temps) in expected.iter().enumerate() {
        for (depth_m, expected_c) in depths_m.iter().zip(temps) {
            near(&format!("{depth_m} m, moment {state}"), temp_c(&run, state, *depth_m), *expected_c, 0.58);
        }
    }
}

/// CJ section 2.5: flux at the face is conductivity times step over sqrt(pi a t).
#[test]
fn the_flux_into_a_half_space_falls_as_one_over_root_time() {
    let spec = wall(vec![layer(base(), 0.2)]);
    let run = run_wall(spec, &Curve::constant(600.0), &[3599.0, 3601.0], Accuracy::USUAL).unwrap();
    let flux = (run.ledgers[1].hot_heat.0[0] - run.ledgers[0].hot_heat.0[0]) / 2.0;
    near("flux at 3600 s, W/m2", flux, 9907.4, 9.9);
}

/// CJ section 2.4 by repeated integrals of erfc: a face that rises 100 K/h.
#[test]
fn a_half_space_follows_a_ramp_at_its_face() {
    let spec = wall(vec![layer(base(), 0.8)]);
    let run = run_wall(spec, &ramp(100.0, 720.0), &[18_000.0], Accuracy::USUAL).unwrap();
    let expected = [(0.0, 520.0), (0.010, 471.075), (0.025, 404.872), (0.050, 311.986), (0.100, 180.530)];
    for (depth_m, expected_c) in expected {
        near(&format!("{depth_m} m"), temp_c(&run, 0, depth_m), expected_c, 0.5);
    }
}

/// CJ section 3.4: late in a ramp r the insulated back lags by r L^2 / 2a.
#[test]
fn an_insulated_back_lags_a_ramp_by_the_square_of_thickness() {
    for (thickness_m, lag_k) in [(0.025, 12.73), (0.050, 50.93), (0.075, 114.58), (0.100, 203.70)] {
        let run = run_wall(wall(vec![layer(base(), thickness_m)]), &ramp(100.0, 1520.0), &[50_000.0], Accuracy::USUAL);
        let run = run.unwrap();
        let lag = temp_c(&run, 0, 0.0) - temp_c(&run, 0, thickness_m);
        near(&format!("lag over {thickness_m} m"), lag, lag_k, 1e-3 * lag_k);
    }
}

/// ID chapter 3: castable, fibre and steel in series, steady, hot face 1200 °C, outside convection 10 W/m2K and
/// radiation at emissivity 0.8 to 20 °C.
fn composite(geometry: Geometry) -> WallRun {
    let layers = vec![
        layer(solid(1.2, 2200.0, 1000.0), 0.050),
        layer(solid(0.20, 128.0, 1000.0), 0.050),
        layer(solid(45.0, 7850.0, 500.0), 0.003),
    ];
    let cold = Face { heat: exchange(10.0, 0.8), vapour: FaceVapour::Sealed };
    let spec = WallSpec { geometry, cold, ..wall(layers) };
    run_wall(spec, &Curve::constant(1200.0), &[400_000.0, 403_600.0], Accuracy::USUAL).unwrap()
}

#[test]
fn a_flat_composite_wall_reaches_its_steady_state() {
    let run = composite(Geometry::Planar);
    let flux = (run.ledgers[1].cold_heat.0[0] - run.ledgers[0].cold_heat.0[0]) / 3600.0;
    near("flux, W/m2", flux, 3461.0, 3.4);
    for (depth_m, expected_c) in [(0.050, 1055.79), (0.100, 190.54), (0.103, 190.31)] {
        near(&format!("{depth_m} m"), temp_c(&run, 1, depth_m), expected_c, 1.0);
    }
}

#[test]
fn a_round_composite_wall_reaches_its_steady_state() {
    let inner_radius_m = 0.075;
    let mut layers_mm = composite(Geometry::Radial { inner_radius_m }).wall.spec.clone();
    // Inner radius 75, 100, 150, 153 mm.
    layers_mm.layers[0] = layer(solid(1.2, 2200.0, 1000.0), 0.025);
    let run = run_wall(layers_mm, &Curve::constant(1200.0), &[400_000.0, 403_600.0], Accuracy::USUAL).unwrap();
    let per_area = (run.ledgers[1].cold_heat.0[0] - run.ledgers[0].cold_heat.0[0]) / 3600.0;
    let per_length = per_area * 2.0 * std::f64::consts::PI * inner_radius_m;
    near("heat per length, W/m", per_length, 2848.86, 2.8);
    for (depth_m, expected_c) in [(0.025, 1091.30), (0.075, 172.09), (0.078, 171.89)] {
        near(&format!("{depth_m} m"), temp_c(&run, 1, depth_m), expected_c, 1.0);
    }
}

/// ID chapter 5, lumped capacity: time constant rho c V / h A of a 6 mm steel plate, h = 10 on both sides.
#[test]
fn a_steel_plate_cools_with_its_time_constant() {
    let face = Face { heat: exchange(10.0, 0.0), vapour: FaceVapour::Sealed };
    let plate = layer(solid(45.0, 7850.0, 500.0), 0.006);
    let spec = WallSpec { hot: face, cold: face, start_k: 120.0 + ZERO_C, ..wall(vec![plate]) };
    let run = run_wall(spec, &Curve::constant(20.0), &[1177.5], Accuracy::USUAL).unwrap();
    near("plate after one time constant", temp_c(&run, 0, 0.003), 20.0 + 100.0 / std::f64::consts::E, 0.1);
}

/// Two layers under a ramp and hold, by numerical inversion of the Laplace transform (computed; frozen in
/// `tests/reference/wall_exact.csv`).
#[test]
fn a_two_layer_wall_follows_the_laplace_solution() {
    let rows: Vec<Vec<f64>> = include_str!("../reference/wall_exact.csv")
        .lines()
        .skip(1)
        .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect();
    let layers = vec![layer(solid(1.5, 2300.0, 950.0), 0.025), layer(solid(0.25, 128.0, 1100.0), 0.050)];
    let cold = Face { heat: exchange(12.0, 0.0), vapour: FaceVapour::Sealed };
    for row in rows {
        let spec = WallSpec { cold, ..wall(layers.clone()) };
        let run = run_wall(spec, &ramp(100.0, 600.0), &[row[0] * 3600.0], Accuracy::USUAL).unwrap();
        for (column, depth_m) in [(1, 0.025), (2, 0.075), (5, 0.0125)] {
            near(&format!("{} h, {depth_m} m", row[0]), temp_c(&run, 0, depth_m), row[column], 0.58);
        }
    }
}

/// Timoshenko and Goodier, Theory of Elasticity (memory): a plate that cannot bend, E alpha (mean T - T) / (1 - nu);
/// with the parabola of a ramp the back stands E alpha r L^2 / 6 a (1 - nu).
#[test]
fn a_ramp_stretches_the_back_of_a_plate_that_cannot_bend() {
    let strength = Strength {
        tensile_pa: 1e6,
        factor: Curve::constant(1.0),
        youngs_pa: 20e9,
        expansion_per_k: 7e-6,
        poisson: 0.2,
    };
    for (thickness_m, tension_mpa) in [(0.025, 0.743), (0.050, 2.971), (0.075, 6.684), (0.100, 11.883)] {
        let matter = firstheat::physics::matter::Matter { strength: Some(strength.clone()), ..base() };
        let run = run_wall(wall(vec![layer(matter, thickness_m)]), &ramp(100.0, 1520.0), &[50_000.0], Accuracy::USUAL);
        let run = run.unwrap();
        let state = &run.states[0];
        let mean_k = danger::mean_temp_k(&run.wall, state, 0);
        let back_k = state.temp_at_k(&run.wall, thickness_m);
        let tension_pa = danger::thermal_tension_pa(&run.wall, 0, mean_k, back_k).0[0];
        near(&format!("{thickness_m} m, MPa"), tension_pa / 1e6, tension_mpa, 1e-3 * tension_mpa + 5e-4);
    }
}

/// First order or better: halving the cells at least halves the error of the half-space step.
#[test]
fn a_finer_grid_converges() {
    let error = |cells: usize| {
        let mut spec = wall(vec![layer(base(), 0.2)]);
        spec.layers[0].cut.cells = cells;
        let run = run_wall(spec, &Curve::constant(600.0), &[3600.0], Accuracy::FINE).unwrap();
        [(0.020, 469.674), (0.050, 295.767), (0.100, 109.035)]
            .into_iter()
            .map(|(depth_m, exact_c)| (temp_c(&run, 0, depth_m) - exact_c).abs())
            .sum::<f64>()
    };
    let (coarse, fine) = (error(10), error(20));
    assert!(fine < 0.5 * coarse, "{fine} after {coarse}");
}

/// What goes in comes out or stays: heat to 1e-6 of what went in.
#[test]
fn the_heat_balance_of_a_composite_wall_closes() {
    let run = composite(Geometry::Planar);
    let ledger = &run.ledgers[1];
    let stored = run.states[1].heat_j_m2(&run.wall).0[0] - run.start[2];
    let moved = ledger.hot_heat.0[0] - ledger.cold_heat.0[0];
    near("heat stored, J/m2", stored, moved, 1e-6 * ledger.hot_heat.0[0]);
}

/// The heated hollow cylinder of a published benchmark of concrete codes (mock-up of a nuclear vessel, test of an open
/// finite-element code): inner radius 0.5 m, outer 1.1 m, inner face driven up to 200 °C, outer face convection 10 W/m2K to
/// 20 °C, conductivity 1.5 - 0.000625 t W/mK, volumetric heat (0.005 t + 1.7) MJ/m3K up to 200 °C, pure conduction. The
/// expected figures are converged: 240 elements, time step to nothing (computed); within 0.3 K from 120 ks on.
fn hollow_cylinder() -> WallSpec {
    let matter = firstheat::physics::matter::Matter {
        heat_capacity_j_kgk: curve(&[(0.0, 1.7e6), (200.0, 2.7e6)]),
        conductivity_w_mk: curve(&[(0.0, 1.5), (400.0, 1.25)]),
        ..solid(1.0, 1.0, 1.0)
    };
    WallSpec {
        geometry: Geometry::Radial { inner_radius_m: 0.5 },
        cold: Face { heat: exchange(10.0, 0.0), vapour: FaceVapour::Sealed },
        ..wall(vec![layer(matter, 0.6)])
    }
}

#[test]
fn a_heated_hollow_cylinder_agrees_with_the_published_benchmark() {
    let inner = curve(&[(36_000.0, 20.0), (114_120.0, 150.0), (138_600.0, 80.0), (213_120.0, 200.0)]);
    let times_s = [120_000.0, 220_000.0, 300_000.0, 900_000.0];
    let run = run_wall(hollow_cylinder(), &inner, &times_s, Accuracy::USUAL).unwrap();
    let expected = [
        [115.759, 95.864, 63.455, 43.713, 32.557, 26.479, 23.303],
        [166.196, 137.639, 95.853, 69.285, 51.944, 40.025, 31.296],
        [176.733, 155.920, 120.743, 92.856, 70.821, 53.307, 39.093],
        [180.733, 163.288, 132.714, 106.560, 83.738, 63.514, 45.370],
    ];
    for (state, temps) in expected.iter().enumerate() {
        for (depth_m, expected_c) in [0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6].into_iter().zip(temps) {
            near(&format!("{} s, {depth_m} m", times_s[state]), temp_c(&run, state, depth_m), *expected_c, 0.3);
        }
    }
}
