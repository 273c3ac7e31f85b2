//! Draws walls, linings and heat-ups at random; a seed gives the same one for ever.

use std::sync::Arc;

use firstheat::lining::make::Make;
use firstheat::lining::material::Materials;
use firstheat::lining::{
    Back, Burner, Chamber, Control, Cure, Fuel, Goal, Layer, Lining, Section, Shape, Surroundings, Water,
};
use firstheat::physics::matter::{Matter, Sorption, SorptionExponent, WaterLaw};
use firstheat::physics::mesh::{Cut, Geometry};
use firstheat::physics::wall::{Face, FaceHeat, FaceVapour, LayerSpec, StartWater, WallSpec};
use firstheat::units::{Celsius, Curve, Metres, Seconds, SquareMetres, Watts};
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

/// A stream of choices.
pub struct Dice(ChaCha8Rng);

impl Dice {
    pub fn of(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0.random_range(low..=high)
    }

    /// Even in the logarithm.
    pub fn decades(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    pub fn below(&mut self, count: usize) -> usize {
        self.0.random_range(0..count)
    }

    pub fn one_in(&mut self, count: usize) -> bool {
        self.below(count) == 0
    }

    /// From `low` to `high`, with the ends themselves now and then.
    pub fn with_ends(&mut self, low: f64, high: f64) -> f64 {
        match self.below(6) {
            0 => low,
            1 => high,
            _ => self.between(low, high),
        }
    }
}

/// A wall, and the gas it is put before: temperature (°C) and length (s) of each stretch.
#[derive(Debug)]
pub struct WallCase {
    pub spec: WallSpec,
    pub stretches: Vec<(f64, f64)>,
}

impl WallCase {
    /// All but the steam table.
    pub fn in_short(&self) -> String {
        let WallSpec { geometry, layers, hot, cold, start_k, .. } = &self.spec;
        format!("{geometry:?}\n{layers:?}\nhot {hot:?}\ncold {cold:?}\nstart {start_k} K\n{:?}", self.stretches)
    }
}

pub fn wall_case(seed: u64) -> WallCase {
    let mut dice = Dice::of(seed);
    let count = 1 + dice.below(3);
    let layers: Vec<LayerSpec> = (0..count).map(|_| layer(&mut dice)).collect();
    let thickness_m: f64 = layers.iter().map(|layer| layer.cut.thickness_m).sum();
    let geometry = if dice.one_in(3) {
        Geometry::Radial { inner_radius_m: dice.decades(0.02, 1.0).max(0.05 * thickness_m) }
    } else {
        Geometry::Planar
    };
    let start_c = dice.with_ends(1.0, 40.0);
    let hot = Face {
        heat: if dice.one_in(4) { FaceHeat::Fixed } else { exchange(&mut dice, 5.0) },
        vapour: if dice.one_in(6) { FaceVapour::Sealed } else { open(&mut dice) },
    };
    let cold = Face {
        heat: if dice.one_in(5) { FaceHeat::Insulated } else { exchange(&mut dice, 2.0) },
        vapour: if dice.one_in(2) { FaceVapour::Sealed } else { open(&mut dice) },
    };
    let spec = WallSpec {
        geometry,
        layers,
        hot,
        cold,
        start_k: start_c + 273.15,
        ambient_k: start_c + 273.15,
        water: WaterLaw::default(),
    };
    WallCase { spec, stretches: stretches(&mut dice) }
}

/// Pulses of 5 s to 1 h between -20 and 1600 °C.
fn stretches(dice: &mut Dice) -> Vec<(f64, f64)> {
    let top_c = dice.with_ends(100.0, 1600.0);
    let low_c = dice.with_ends(-20.0, 60.0);
    (0..4 + dice.below(10))
        .map(|index| (if index % 2 == 0 { top_c } else { low_c }, dice.decades(5.0, 3600.0)))
        .collect()
}

fn exchange(dice: &mut Dice, least_w_m2k: f64) -> FaceHeat {
    FaceHeat::Exchange { convection_w_m2k: dice.decades(least_w_m2k, 100.0), emissivity: dice.with_ends(0.0, 1.0) }
}

fn open(dice: &mut Dice) -> FaceVapour {
    FaceVapour::Leaves { coefficient_s_m: dice.decades(1e-8, 1e-6), surroundings_pa: dice.between(0.0, 2300.0) }
}

fn layer(dice: &mut Dice) -> LayerSpec {
    let thickness_m = dice.decades(0.002, 0.5);
    let matter = matter(dice);
    let full = matter.porosity * 998.2;
    // Up to 97 % of the pores, as linings are described; sometimes the brim itself.
    let water = if dice.one_in(12) { full } else { dice.with_ends(0.0, 0.97) * full };
    LayerSpec { matter, cut: Cut::usual(thickness_m, 1), start: StartWater::Content(water) }
}

fn matter(dice: &mut Dice) -> Matter {
    let porosity = dice.between(0.02, 0.95);
    let log10_k = dice.between(-19.0, -9.0);
    let warm_k = (log10_k + dice.between(0.0, 3.0)).min(-9.0);
    let jump_c = dice.between(90.0, 300.0);
    let permeability = match dice.below(3) {
        0 => Curve::constant(log10_k),
        1 => rising(&[(100.0, log10_k), (800.0, warm_k)]),
        _ => rising(&[(jump_c, log10_k), (jump_c + dice.with_ends(1.0, 50.0), warm_k)]),
    };
    let exponent = if dice.one_in(4) {
        SorptionExponent::Constant(dice.decades(0.05, 1.0))
    } else {
        SorptionExponent::Falling { shape: dice.between(20.0, 25.0) }
    };
    Matter {
        density_kg_m3: dice.decades(64.0, 4000.0) * (1.0 - porosity).max(0.05),
        heat_capacity_j_kgk: rising(&[(20.0, dice.between(700.0, 1000.0)), (1000.0, dice.between(1000.0, 1300.0))]),
        conductivity_w_mk: rising(&[(20.0, dice.decades(0.03, 15.0)), (1000.0, dice.decades(0.05, 5.0))]),
        wet_conductivity_w_mk: dice.with_ends(0.0, 1.0),
        porosity,
        permeability_log10_m2: Some(permeability),
        sorption: Sorption { exponent, power: *pick(dice, &[1.0, 1.0, 5.0, 20.0]) },
        bound_water_kg_m3: dice.with_ends(0.0, 200.0),
        dehydration: rising(&[(100.0, 0.0), (200.0, 0.3), (330.0, 0.9), (600.0, 1.0)]),
        dehydration_heat_j_kg: dice.with_ends(0.0, 2.5e6),
        dehydration_time_s: dice.decades(60.0, 10_800.0),
        strength: None,
    }
}

fn pick<'c, T>(dice: &mut Dice, choices: &'c [T]) -> &'c T {
    &choices[dice.below(choices.len())]
}

fn rising(points: &[(f64, f64)]) -> Curve {
    Curve::new(points.to_vec()).unwrap()
}

/// A lining of shipped materials, and how the burner is used: share on and length (s) of each stretch.
#[derive(Debug)]
pub struct LiningCase {
    pub lining: Lining,
    pub stretches: Vec<(f64, f64)>,
}

pub fn lining_case(seed: u64) -> LiningCase {
    let mut dice = Dice::of(seed);
    let sections: Vec<Section> = (0..=dice.below(3)).map(|index| section(&mut dice, index)).collect();
    let area_m2: f64 = sections.iter().map(|section| section.hot_face_area().0).sum();
    let lining = Lining {
        name: format!("lining of seed {seed}"),
        surroundings: Surroundings { temp: Celsius(dice.between(1.0, 40.0)), humidity: dice.with_ends(0.0, 1.0) },
        burner: Burner {
            fuel: Fuel::Power(Watts(area_m2 * dice.decades(3e3, 150e3))),
            equivalence_ratio: dice.between(0.7, 1.2),
            shortest_on: Seconds(5.0),
            shortest_off: Seconds(20.0),
            control: Control::OnOff,
        },
        chamber: Chamber { opening: SquareMetres(area_m2 * dice.decades(0.003, 0.3)) },
        sections,
        goal: Goal { soak_temp: Celsius(600.0), soak: Seconds(3600.0), danger_ceiling: 0.5, ramp: None },
        drying: Surroundings { temp: Celsius(dice.between(1.0, 40.0)), humidity: dice.with_ends(0.0, 1.0) },
        chamber_drying: None,
        stock: Vec::new(),
    };
    let pulses = (0..3 + dice.below(8)).map(|index| {
        let on = if dice.one_in(5) { dice.between(0.0, 1.0) } else { f64::from(u8::from(index % 2 == 0)) };
        (on, dice.decades(5.0, 3600.0))
    });
    let stretches = pulses.collect();
    LiningCase { lining, stretches }
}

fn section(dice: &mut Dice, index: usize) -> Section {
    let layers: Vec<Layer> = (0..=dice.below(3)).map(|_| lining_layer(dice)).collect();
    let shape = if dice.one_in(2) {
        Shape::Flat { area: SquareMetres(dice.decades(0.01, 5.0)) }
    } else {
        Shape::Barrel { bore: Metres(dice.decades(0.05, 1.0)), length: Metres(dice.between(0.1, 2.0)) }
    };
    let back = match dice.below(3) {
        0 => Back::Open,
        1 => Back::VentedSteel { thickness: Metres(dice.decades(2e-4, 0.03)) },
        _ => Back::SealedSteel { thickness: Metres(dice.decades(2e-4, 0.03)) },
    };
    let make = Make::unsaid(&layers);
    Section { name: format!("section {index}"), shape, layers, back, make }
}

fn lining_layer(dice: &mut Dice) -> Layer {
    let entries: Vec<_> = Materials::built_in().iter().collect();
    let material = Arc::clone(&pick(dice, &entries).material);
    let most = material.pores_hold_kg_m3() / material.density_kg_m3 + material.bound_water;
    let water = Water {
        mix_fraction: dice.with_ends(0.0, most),
        cure: *pick(dice, &[Cure::Cold, Cure::Mixed, Cure::Warm, Cure::Fired]),
        air_dried: Seconds(if dice.one_in(2) { 0.0 } else { dice.decades(3600.0, 7.0 * 86_400.0) }),
    };
    Layer { material, thickness: Metres(dice.decades(0.002, 0.3)), water }
}
