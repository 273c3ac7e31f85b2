//! What experiments on real castables and concretes showed, as behaviour: published peaks miss measured ones by 57 to 87 %
//! even after calibration (Riitamaa et al., Int. J. Concrete Struct. Mater., 2026), so only bands and trends are held.

#![allow(clippy::print_stdout)] // Run with --nocapture to see the table.

use firstheat::physics::simulate::{WallRun, run_wall};
use firstheat::physics::solver::Accuracy;
use firstheat::physics::steam::saturation_pressure_pa;
use firstheat::physics::wall::{FaceVapour, WallSpec};
use firstheat::units::Curve;

use crate::build::{ZERO_C, curve, leaves, ramp, reference_wall};
use crate::frozen::Frozen;

fn run(spec: WallSpec, gas: &Curve, times_s: &[f64]) -> WallRun {
    run_wall(spec, gas, times_s, Accuracy::USUAL).unwrap()
}

/// Holds figures to the column "here" of the table of experiments in DEVELOPERS.md, within 3 %.
#[track_caller]
fn assert_told(case: &str, found: &[f64]) {
    let developers = include_str!("../../DEVELOPERS.md");
    let row = developers.lines().find(|line| line.starts_with(&format!("| {case} "))).unwrap();
    let here = row.split(" | ").nth(3).unwrap();
    let told: Vec<f64> = here.split([',', ';']).map(|number| number.trim().parse().unwrap()).collect();
    assert_eq!(told.len(), found.len(), "{case}: {here}");
    for (told, found) in told.iter().zip(found) {
        assert!((found - told).abs() < 0.03 * told, "{case}: DEVELOPERS.md says {told}, found {found}");
    }
}

/// The reference wall with its permeability at 100 °C.
fn with_permeability(mut spec: WallSpec, log10_k: f64) -> WallSpec {
    let matter = &mut spec.layers[0].matter;
    matter.permeability_log10_m2 =
        matter.permeability_log10_m2.as_ref().map(|curve| curve.map(|y| y + log10_k + 16.0).unwrap());
    spec
}

/// Highest pressure and its depth at a kept moment.
fn top(run: &WallRun, state: usize) -> (f64, f64) {
    let pressures = run.states[state].pressure_pa.iter().zip(&run.wall.mesh.nodes);
    pressures
        .map(|(pressure, node)| (pressure.0[0], node.depth_m))
        .fold((0.0, 0.0), |a, b| if b.0 > a.0 { b } else { a })
}

/// Jaspers, thesis, Eindhoven 2013 (NMR and gauge in concrete heated on one face, gauge 20 to 40 mm deep): peaks of 0.27 to
/// 0.85 MPa. Permeabilities of 1e-16 to 1e-15 m2 span that band.
#[test]
fn pressures_at_gauge_depth_lie_in_the_measured_band() {
    let times_s: Vec<f64> = (1..=120).map(|step| 300.0 * f64::from(step)).collect();
    let mut bands = Vec::new();
    for log10_k in [-15.0, -16.0] {
        let mut spec = with_permeability(reference_wall(0.100), log10_k);
        spec.cold.vapour = leaves(1e-7, 1500.0);
        let run = run(spec, &ramp(100.0, 600.0), &times_s);
        let at_gauge = |depth_m: f64| {
            run.states.iter().map(|state| state.pressure_at_pa(&run.wall, depth_m).0[0]).fold(0.0, f64::max) / 1e6
        };
        bands.push((at_gauge(0.020), at_gauge(0.040)));
    }
    println!(
        "gauge at 20 and 40 mm: 1e-15 m2 {:.2} {:.2} MPa, 1e-16 m2 {:.2} {:.2} MPa",
        bands[0].0, bands[0].1, bands[1].0, bands[1].1
    );
    assert_told("P5", &[bands[0].0, bands[0].1, bands[1].0, bands[1].1]);
    assert!(bands[0].0 < 0.85 && bands[1].1 > 0.27, "{bands:?} do not reach the measured 0.27 to 0.85 MPa");
    assert!(bands[0].0 > 0.27 / 2.0 && bands[1].0 < 0.85 * 1.5, "{bands:?} against the measured 0.27 to 0.85 MPa");
}

/// Pel, van der Heijden and Kopinga, 2011 (NMR, concrete): where the boiling front stands, pressure follows saturation (207
/// °C with about 1.8 MPa). The highest pressure of the moving front is 0.70 to 1.0 of saturation at its own temperature.
#[test]
fn the_front_stands_near_saturation() {
    let times_s = [10_800.0, 14_400.0, 18_000.0];
    let run = run(reference_wall(0.075), &ramp(100.0, 600.0), &times_s);
    let mut shares = Vec::new();
    for state in 0..times_s.len() {
        let (pressure_pa, depth_m) = top(&run, state);
        let share = pressure_pa / saturation_pressure_pa(run.states[state].temp_at_k(&run.wall, depth_m).0[0]);
        println!("front at {:.1} mm: {:.2} MPa, {share:.2} of saturation", depth_m * 1e3, pressure_pa / 1e6);
        assert!((0.70..1.02).contains(&share), "{share} of saturation at {depth_m} m");
        shares.push(share);
    }
    assert_told("P6", &shares);
    let at_207_c = saturation_pressure_pa(207.0 + ZERO_C) / 1e6;
    assert!((at_207_c - 1.8).abs() < 0.05, "{at_207_c} MPa at 207 °C");
}

/// Barakat, Pel, Krause and Adan, J. Am. Ceram. Soc. 103 (2020) 2101 (NMR on castables): the drying front moves linearly in
/// time under a ramp.
#[test]
fn the_drying_front_moves_linearly_under_a_ramp() {
    let times_s = [10_800.0, 14_400.0, 18_000.0];
    let run = run(reference_wall(0.075), &ramp(100.0, 600.0), &times_s);
    let depths_mm: Vec<f64> = (0..3).map(|state| top(&run, state).1 * 1e3).collect();
    let steps = [depths_mm[1] - depths_mm[0], depths_mm[2] - depths_mm[1]];
    println!("front at 3, 4, 5 h: {depths_mm:.1?} mm");
    assert_told("P7", &depths_mm);
    assert!(steps[0] > 10.0 && (steps[1] / steps[0] - 1.0).abs() < 0.25, "steps of {steps:?} mm an hour");
}

/// Temperature of the middle of a plate when half its water is gone.
fn middle_c_at_half(name: &str) -> f64 {
    let frozen = Frozen::named(name);
    let half_s = frozen.result("dry50_s").unwrap();
    let times_s: Vec<f64> = (0..=400).map(|step| half_s * (0.8 + 0.001 * f64::from(step))).collect();
    let run = run(frozen.spec(), &frozen.gas(), &times_s);
    let half = 0.5 * (run.start[0] + run.start[1]);
    let gone = |state: usize| (run.ledgers[state].hot_water + run.ledgers[state].cold_water).0[0];
    let state = (0..times_s.len()).find(|&state| gone(state) >= half).unwrap();
    run.states[state].temp_at_k(&run.wall, 0.020).0[0] - ZERO_C
}

/// Innocentini et al., 45th Brazilian Congress of Ceramics, 2001 (cement-free castable): at 1 °C/min the bulk leaves near
/// 100 °C, at 5 °C/min it is trapped to higher temperature, worse the lower the permeability. Figures: the independent
/// code, within 1 K.
#[test]
fn faster_heating_of_a_tighter_castable_drives_water_out_hotter() {
    let mut temps_c = Vec::new();
    for log10_k in [-14, -15, -16, -17] {
        let [slow, fast] = [1, 5].map(|rate| {
            let name = format!("plate-k1e{log10_k}-{rate}K");
            let middle_c = middle_c_at_half(&name);
            let expected_c = Frozen::named(&name).result("middle_c_at_dry50").unwrap();
            assert!((middle_c - expected_c).abs() < 1.0, "{name}: {middle_c} instead of {expected_c} °C");
            middle_c
        });
        println!("1e{log10_k} m2: {slow:.1} °C at 1 K/min, {fast:.1} °C at 5 K/min");
        assert!(fast > slow + 5.0, "1e{log10_k}: {slow} °C and {fast} °C");
        temps_c.extend([slow, fast]);
    }
    assert_told("P9", &temps_c);
    assert!((middle_c_at_half("plate-k1e-14-1K") - 100.0).abs() < 5.0);
}

/// Gong and Mujumdar, Int. J. Heat Mass Transfer 38 (1995) 1297: an impermeable hot or cold face raises the pressure very
/// much.
#[test]
fn a_sealed_face_raises_the_pressure() {
    let peak_of = |hot: FaceVapour, cold: FaceVapour| {
        let mut spec = reference_wall(0.075);
        (spec.hot.vapour, spec.cold.vapour) = (hot, cold);
        run(spec, &ramp(100.0, 600.0), &[43_200.0]).peak.pressure_pa / 1e6
    };
    let (open, sealed) = (leaves(1e-7, 1500.0), FaceVapour::Sealed);
    let [both, cold, hot] = [peak_of(open, open), peak_of(open, sealed), peak_of(sealed, open)];
    println!("both open {both:.2}, cold sealed {cold:.2}, hot sealed {hot:.2} MPa");
    assert_told("P10", &[both, cold, hot]);
    assert!(cold > 1.3 * both && hot > 3.0 * both, "{both} {cold} {hot}");
}

/// Juarez Trujillo et al., Int. J. Thermal Sciences 185 (2023) 108063: the first holding time is not productive.
#[test]
fn a_hold_at_150_degrees_hardly_lowers_the_peak() {
    let peak = |gas: &Curve| run(reference_wall(0.075), gas, &[61_200.0]).peak.pressure_pa / 1e6;
    let straight = peak(&ramp(100.0, 600.0));
    let held = peak(&curve(&[(0.0, 20.0), (4680.0, 150.0), (15_480.0, 150.0), (31_680.0, 600.0)]));
    println!("straight {straight:.3}, 3 h at 150 °C {held:.3} MPa");
    assert_told("P11", &[straight, held]);
    assert!((held / straight - 1.0).abs() < 0.03, "{straight} and {held} MPa");
}

/// Taikabutsu 40 (1988) no. 5 (gauge in castables): pressure rises as the curing temperature falls. A cold cure binds more
/// water and gives it up earlier (figures of the shipped materials file).
#[test]
fn a_cold_cure_raises_the_pressure() {
    use firstheat::lining::material::Materials;
    let entry = Materials::built_in().get("dense-castable").unwrap();
    let peak = |dehydration: &Curve, factor: f64| {
        let mut spec = reference_wall(0.075);
        let matter = &mut spec.layers[0].matter;
        matter.dehydration = dehydration.clone();
        matter.bound_water_kg_m3 *= factor;
        run(spec, &ramp(100.0, 600.0), &[43_200.0]).peak.pressure_pa / 1e6
    };
    let [cold_factor, warm_factor] = entry.response.bound_water_factor;
    let cold = peak(&entry.material.dehydration.cold, cold_factor);
    let warm = peak(&entry.material.dehydration.warm, warm_factor);
    println!("cold cure {cold:.2}, warm cure {warm:.2} MPa");
    assert_told("P12", &[cold, warm]);
    assert!(cold > warm, "{cold} MPa after a cold cure, {warm} MPa after a warm one");
}
