//! Water and steam: closed forms and exact similarity solutions.

use firstheat::physics::matter::{Carriage, Matter, OwnLuck, Prepared, Sorption, SorptionExponent, State, WaterLaw};
use firstheat::physics::mesh::Cut;
use firstheat::physics::simulate::{WallRun, run_wall};
use firstheat::physics::solver::Accuracy;
use firstheat::physics::steam::{LiquidDensity, SteamTable, VAPOUR_GAS_CONSTANT_J_KGK, saturation_pressure_pa};
use firstheat::physics::wall::{Face, FaceHeat, FaceVapour, LayerSpec, StartWater, WallSpec};
use firstheat::units::Curve;

use crate::build::{ZERO_C, curve, exchange, leaves, near, porous, sharp, wall, wet};

/// Bear, Dynamics of Fluids in Porous Media (memory): in steady isothermal gas flow P squared is linear in depth.
#[test]
fn squared_pressure_is_linear_in_steady_vapour_flow() {
    let dry = Matter { porosity: 0.2, ..sharp(porous(1.2, 2.2e6, -15.0)) };
    let mut spec = wall(vec![LayerSpec { start: StartWater::Pressure(101_325.0), ..wet(dry, 0.050, 0.0) }]);
    spec.start_k = 473.15;
    spec.ambient_k = 473.15;
    spec.hot.vapour = FaceVapour::Fixed(5e5);
    spec.cold = Face { heat: FaceHeat::Fixed, vapour: FaceVapour::Fixed(101_325.0) };
    let run = run_wall(spec, &Curve::constant(200.0), &[20_000.0, 21_000.0], Accuracy::USUAL).unwrap();
    let middle_pa = run.states[1].pressure_at_pa(&run.wall, 0.025).0[0];
    near("pressure in the middle, Pa", middle_pa, 360_740.0, 400.0);
    let flux = (run.ledgers[1].cold_water.0[0] - run.ledgers[0].cold_water.0[0]) / 1000.0;
    near("flux, kg/m2s", flux, 6.9006e-4, 6.9e-7);
}

/// Crank, The Mathematics of Diffusion, section 4.3: a slab that gives its water to one face. Liquid flow alone with a
/// linear sorption curve makes the equation linear: `D = k c_l P_sat / (phi mu)`.
#[test]
fn linear_diffusion_empties_a_slab_as_crank_has_it() {
    let temp_k = 293.15;
    let viscosity = 0.6612 * (temp_k - 229.0_f64).powf(-1.562);
    // A vanishing gas permeability and a huge ratio leave liquid flow alone.
    let ratio = 1e9;
    let k = 1e-8 * 0.2 * viscosity / (saturation_pressure_pa(temp_k) * ratio);
    let matter = Matter {
        sorption: Sorption { exponent: SorptionExponent::Constant(1.0), power: 1.0 },
        ..porous(1.2, 2.2e6, k.log10())
    };
    let mut spec = wall(vec![wet(matter, 0.050, 100.0)]);
    spec.water = WaterLaw { liquid_ratio: ratio, liquid_power: 0, latent_j_kg: Some(0.0), ..WaterLaw::default() };
    spec.hot.vapour = FaceVapour::Fixed(1e-3);
    let times_s = [3600.0, 36_000.0, 259_200.0];
    let run = run_wall(spec, &Curve::constant(20.0), &times_s, Accuracy::USUAL).unwrap();
    for (state, left) in [0.864_594, 0.571_860, 0.062_774].into_iter().enumerate() {
        let share = run.states[state].free_water_kg_m2(&run.wall).0[0] / run.start[0];
        near(&format!("share left at {} s", times_s[state]), share, left, 1e-3);
    }
}

/// The sorption relation at constant liquid content (computed with the concrete codes' density fit): phi 0.2, 130 kg/m3.
#[test]
fn a_sealed_element_builds_the_pressure_of_its_isotherm() {
    let law = WaterLaw { steam: SteamTable::shared(LiquidDensity::ConcreteFit), ..WaterLaw::default() };
    let prepared = Prepared::of(&porous(1.2, 2.2e6, -16.0));
    for (temp_c, expected_pa) in [(100.0, 75_900.0), (150.0, 391_190.0), (200.0, 1_375_100.0), (250.0, 3_725_300.0)] {
        let temp_k = temp_c + ZERO_C;
        // The figures count liquid alone; vapour in the rest of the pores comes on top.
        let liquid = |pressure_pa: f64| {
            let (storage, _) = prepared.at(&law, &OwnLuck::NONE, State { temp_k, pressure_pa });
            let vapour = pressure_pa / (VAPOUR_GAS_CONSTANT_J_KGK * temp_k);
            let full = 0.2 * law.steam.at(temp_k).liquid;
            (storage.water.v - 0.2 * vapour) / (1.0 - 0.2 * vapour / full)
        };
        let (mut low, mut high) = (1.0, 1e7);
        for _ in 0..100 {
            let middle = 0.5 * (low + high);
            if liquid(middle) < 130.0 { low = middle } else { high = middle }
        }
        near(&format!("pressure at {temp_c} °C"), low, expected_pa, 1e-3 * expected_pa);
    }
}

/// CJ section 11.2 (Neumann): evaporation front fixed at 100 °C. Highly permeable dry side, impermeable wet side, and a
/// sorption curve so sharp (m = 0.01) that its width shifts the front by less than 0.1 mm.
#[test]
fn an_evaporation_front_moves_as_neumann_has_it() {
    for (surface_c, growth) in [(300.0, 7.416_681e-4), (600.0, 1.109_484e-3)] {
        let matter = Matter {
            wet_conductivity_w_mk: 0.3 / (150.0 / (0.2 * 998.2)),
            sorption: Sorption { exponent: SorptionExponent::Constant(0.01), power: 1.0 },
            ..porous(1.2, 2.2e6, -11.0)
        };
        let mut spec = wall(vec![LayerSpec {
            cut: Cut { thickness_m: 0.2, cells: 400, grading: 1.0 },
            ..wet(matter, 0.2, 150.0)
        }]);
        spec.water = WaterLaw {
            heat_capacity_j_kgk: 0.5e6 / 150.0,
            liquid_ratio: 0.0,
            gas_power: 16,
            latent_j_kg: Some(2.257e6),
            carries_heat: Carriage::LeftOut,
            ..WaterLaw::default()
        };
        spec.hot.vapour = leaves(1.0, 101_325.0);
        let run = run_wall(spec, &curve(&[(0.0, 20.0), (1.0, surface_c)]), &[3600.0], Accuracy::USUAL).unwrap();
        let gone = run.start[0] - run.states[0].free_water_kg_m2(&run.wall).0[0];
        let front_mm = gone / 150.0 * 1e3;
        near(&format!("front at {surface_c} °C, mm"), front_mm, growth * 60.0 * 1e3, 0.1);
    }
}

/// Depth at which half of the water is gone, m.
fn front_m(run: &WallRun, state: usize, half_kg_m3: f64) -> f64 {
    let nodes = &run.wall.mesh.nodes;
    let cells: Vec<usize> = (0..nodes.len()).filter(|&index| nodes[index].is_cell()).collect();
    let water = |index: usize| run.states[state].water_kg_m3[index].0[0];
    let pair = cells.windows(2).find(|pair| water(pair[0]) < half_kg_m3 && water(pair[1]) >= half_kg_m3).unwrap();
    let share = (half_kg_m3 - water(pair[0])) / (water(pair[1]) - water(pair[0]));
    nodes[pair[0]].depth_m + share * (nodes[pair[1]].depth_m - nodes[pair[0]].depth_m)
}

/// Coupled heat and steam at a sharp front, exact similarity solution (derivation in DEVELOPERS.md). The sorption curve
/// of the limit (m = 0.05) is not infinitely sharp: pressure within 4 %, depth within 2 %.
#[test]
fn a_coupled_front_builds_the_pressure_of_the_similarity_solution() {
    let cells = [
        (200.0, -16.0, 0.5367, 15.649),
        (300.0, -17.0, 2.3517, 18.543),
        (300.0, -16.0, 1.0537, 27.178),
        (300.0, -15.0, 0.4285, 35.405),
        (600.0, -15.0, 0.8791, 55.602),
    ];
    for (surface_c, log10_k, pressure_mpa, depth_mm) in cells {
        let mut spec = wall(vec![LayerSpec {
            cut: Cut { thickness_m: 0.120, cells: 200, grading: 3.0 },
            ..wet(sharp(porous(1.2, 2.2e6, log10_k)), 0.120, 130.0)
        }]);
        spec.water = WaterLaw { liquid_ratio: 0.0, carries_heat: Carriage::LeftOut, ..WaterLaw::default() };
        spec.hot.vapour = leaves(1.0, 101_325.0);
        let times_s: Vec<f64> = (6..=12).map(|step| f64::from(step) * 300.0).collect();
        let run = run_wall(spec, &curve(&[(0.0, 20.0), (10.0, surface_c)]), &times_s, Accuracy::USUAL).unwrap();
        let highest = |state: usize| run.states[state].pressure_pa.iter().map(|p| p.0[0]).fold(0.0, f64::max);
        let mean_mpa = (0..times_s.len()).map(highest).sum::<f64>() / times_s.len() as f64 / 1e6;
        let label = format!("{surface_c} °C, 1e{log10_k}");
        near(&format!("pressure at {label}"), mean_mpa, pressure_mpa, 0.04 * pressure_mpa);
        let depth = front_m(&run, times_s.len() - 1, 65.0) * 1e3;
        near(&format!("depth at {label}"), depth, depth_mm, 0.02 * depth_mm);
    }
}

/// A dry wall has no pore pressure, however hot.
#[test]
fn a_dry_wall_builds_no_pressure() {
    let mut spec: WallSpec = wall(vec![wet(porous(1.2, 2.2e6, -17.0), 0.050, 0.0)]);
    spec.hot = Face { heat: exchange(20.0, 0.8), vapour: leaves(1e-7, 1500.0) };
    let run = run_wall(spec, &curve(&[(0.0, 20.0), (600.0, 1000.0)]), &[7200.0], Accuracy::USUAL).unwrap();
    assert!(run.peak.pressure_pa < 1000.0, "{} Pa in a dry wall", run.peak.pressure_pa);
}
