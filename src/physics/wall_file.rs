//! Bare walls as files: every coefficient of the model given, for checks and for other people's cases.
//!
//! The format is shown with comments in `schedules/wall-r.toml`. All numbers are SI, temperatures in °C. A curve is one
//! number or a list of pairs, straight between and flat outside.

use std::cell::Cell;

use serde::Serialize;

use super::danger;
use super::matter::{Carriage, Matter, Sorption, SorptionExponent, Strength, WaterLaw};
use super::mesh::{Cut, Geometry};
use super::simulate::{WallRun, run_wall};
use super::solver::{Accuracy, SolveError};
use super::steam::{LiquidDensity, SteamTable};
use super::wall::{Face, FaceHeat, FaceVapour, LayerSpec, StartWater, WallLuck, WallSpec};
use crate::lining::text::fields::Fields;
use crate::lining::text::{self, Fault, LiningError, Refused};
use crate::units::{Curve, ZERO_CELSIUS_K};

/// First line of a wall file, without `format =`.
pub const WALL_FORMAT: &str = "firstheat wall 1";

/// Temperatures a wall or its gas may have, °C.
const TEMPS_C: [f64; 2] = [-60.0, 2000.0];
const TEMPS: &str = "a temperature from -60 to 2000 C";
const ANY: [f64; 2] = [0.0, 1e12];
const NOT_NEGATIVE: &str = "a number of at least 0";
/// Longest run, s.
const LONGEST_S: f64 = 3.2e7;

/// A wall, what it is put before, and what is asked of it.
#[derive(Clone, Debug)]
pub struct WallCase {
    /// Its name.
    pub name: String,
    /// The wall.
    pub spec: WallSpec,
    /// Gas (or fixed face) temperature, °C against s.
    pub gas_c: Curve,
    /// When its state is wanted, s, rising.
    pub times_s: Vec<f64>,
    /// Where, m from the hot face.
    pub depths_m: Vec<f64>,
    /// How carefully time is stepped.
    pub accuracy: Accuracy,
    /// Values it should have.
    pub expected: Vec<Expected>,
}

/// A value from elsewhere that the run should meet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Expected {
    /// What is measured.
    pub quantity: Quantity,
    /// When, s; for quantities of one moment.
    pub time_s: f64,
    /// Where, m; for quantities of one place.
    pub depth_m: f64,
    /// The value, in the unit of the quantity.
    pub value: f64,
    /// How far off it may be.
    pub within: f64,
}

/// What an expected value is of; each names its unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quantity {
    /// Temperature at a place and time, °C.
    TemperatureC,
    /// Pore pressure at a place and time, MPa.
    PressureMpa,
    /// Highest pore pressure at a time, MPa.
    HighestPressureMpa,
    /// Water gone by a time, kg/m².
    WaterLostKgM2,
    /// Share of the free water that is left at a time.
    ShareLeft,
    /// Heat through the cold face at a time, W/m²; mean since the output before.
    ColdFluxWM2,
    /// Heat into the hot face at a time, W/m²; mean since the output before.
    HotFluxWM2,
    /// Vapour out of the cold face at a time, kg/(m²·s); mean since the output before.
    ColdVapourKgM2s,
    /// Depth at which half of the water of the first layer is gone, mm.
    FrontMm,
    /// Highest pressure of the run, MPa.
    PeakMpa,
    /// Its time, s.
    PeakTimeS,
    /// Its depth, mm.
    PeakDepthMm,
    /// When 95 % of all water was gone, s.
    DryS,
    /// Thermal tension at a place and time were the layer a plate that can neither stretch nor bend, MPa.
    TensionMpa,
    /// Largest danger number anywhere at a time ([`super::danger`]).
    Danger,
}

const QUANTITIES: [(&str, Quantity); 15] = [
    ("temperature-c", Quantity::TemperatureC),
    ("pressure-mpa", Quantity::PressureMpa),
    ("highest-pressure-mpa", Quantity::HighestPressureMpa),
    ("water-lost-kg-m2", Quantity::WaterLostKgM2),
    ("share-left", Quantity::ShareLeft),
    ("cold-flux-w-m2", Quantity::ColdFluxWM2),
    ("hot-flux-w-m2", Quantity::HotFluxWM2),
    ("cold-vapour-kg-m2s", Quantity::ColdVapourKgM2s),
    ("front-mm", Quantity::FrontMm),
    ("peak-mpa", Quantity::PeakMpa),
    ("peak-time-s", Quantity::PeakTimeS),
    ("peak-depth-mm", Quantity::PeakDepthMm),
    ("dry-s", Quantity::DryS),
    ("tension-mpa", Quantity::TensionMpa),
    ("danger", Quantity::Danger),
];

impl Quantity {
    /// As the file calls it.
    #[must_use]
    pub fn word(self) -> &'static str {
        QUANTITIES.iter().find(|(_, quantity)| *quantity == self).map_or("", |(word, _)| word)
    }

    fn is_of_a_moment(self) -> bool {
        !matches!(self, Self::PeakMpa | Self::PeakTimeS | Self::PeakDepthMm | Self::DryS)
    }

    fn is_of_a_place(self) -> bool {
        matches!(self, Self::TemperatureC | Self::PressureMpa | Self::TensionMpa)
    }
}

impl WallCase {
    /// Runs it.
    ///
    /// # Errors
    /// When a step cannot be solved.
    pub fn run(&self) -> Result<WallRun, SolveError> {
        run_wall(self.spec.clone(), &self.gas_c, &self.times_s, self.accuracy)
    }

    /// What the run has for an expected value; `None` when it never came to it, such as 95 % dry.
    #[must_use]
    pub fn found(&self, run: &WallRun, expected: &Expected) -> Option<f64> {
        let peak = match expected.quantity {
            Quantity::PeakMpa => Some(run.peak.pressure_pa / 1e6),
            Quantity::PeakTimeS => Some(run.peak.time_s),
            Quantity::PeakDepthMm => Some(run.peak.depth_m * 1e3),
            Quantity::DryS => return run.dry_s,
            _ => None,
        };
        if peak.is_some() {
            return peak;
        }
        let moment = self.times_s.iter().position(|time_s| (time_s - expected.time_s).abs() < 1e-6)?;
        self.found_at(run, expected, moment)
    }

    fn found_at(&self, run: &WallRun, expected: &Expected, moment: usize) -> Option<f64> {
        let (state, ledger, wall) = (run.states.get(moment)?, run.ledgers.get(moment)?, &run.wall);
        let before = moment.checked_sub(1).map(|before| (&run.ledgers[before], self.times_s[before]));
        let rate = |of: &dyn Fn(&super::Rates<1>) -> f64| {
            let (earlier, from_s) = before.map_or((0.0, 0.0), |(ledger, time_s)| (of(ledger), time_s));
            (of(ledger) - earlier) / (self.times_s[moment] - from_s)
        };
        Some(match expected.quantity {
            Quantity::TemperatureC => state.temp_at_k(wall, expected.depth_m).0[0] - ZERO_CELSIUS_K,
            Quantity::PressureMpa => state.pressure_at_pa(wall, expected.depth_m).0[0] / 1e6,
            Quantity::HighestPressureMpa => {
                state.pressure_pa.iter().map(|pressure| pressure.0[0]).fold(0.0, f64::max) / 1e6
            }
            Quantity::WaterLostKgM2 => (ledger.hot_water + ledger.cold_water).0[0],
            Quantity::ShareLeft => state.free_water_kg_m2(wall).0[0] / run.start[0],
            Quantity::ColdFluxWM2 => rate(&|ledger| ledger.cold_heat.0[0]),
            Quantity::HotFluxWM2 => rate(&|ledger| ledger.hot_heat.0[0]),
            Quantity::ColdVapourKgM2s => rate(&|ledger| ledger.cold_water.0[0]),
            Quantity::FrontMm => self.front_mm(run, moment)?,
            Quantity::TensionMpa => {
                let layer = wall.mesh.layer_at(expected.depth_m);
                let (mean_k, temp_k) =
                    (danger::mean_temp_k(wall, state, layer), state.temp_at_k(wall, expected.depth_m));
                danger::thermal_tension_pa(wall, layer, mean_k, temp_k).0[0] / 1e6
            }
            Quantity::Danger => danger::worst(wall, &WallLuck::none(wall.layers.len()), state).number.0[0],
            Quantity::PeakMpa | Quantity::PeakTimeS | Quantity::PeakDepthMm | Quantity::DryS => return None,
        })
    }

    /// Depth at which half of the water that the first layer began with is gone, mm.
    fn front_mm(&self, run: &WallRun, moment: usize) -> Option<f64> {
        let StartWater::Content(start_kg_m3) = self.spec.layers.first()?.start else { return None };
        let (nodes, half) = (&run.wall.mesh.nodes, 0.5 * start_kg_m3);
        let cells: Vec<usize> = (0..nodes.len()).filter(|&index| nodes[index].is_cell()).collect();
        let water = |index: usize| run.states[moment].water_kg_m3[index].0[0];
        let pair = cells.windows(2).find(|pair| water(pair[0]) < half && water(pair[1]) >= half)?;
        let share = (half - water(pair[0])) / (water(pair[1]) - water(pair[0]));
        Some(1e3 * (nodes[pair[0]].depth_m + share * (nodes[pair[1]].depth_m - nodes[pair[0]].depth_m)))
    }
}

/// Reads a wall file.
///
/// # Errors
/// When the text is no wall file, or holds anything that cannot be used; all of it is named with line and key.
pub fn parse_wall(text: &str) -> Result<WallCase, LiningError> {
    text::read(text, WALL_FORMAT, read_wall)
}

fn read_wall(top: &Fields<'_>) -> Result<WallCase, Refused> {
    let name = top.needed_text("name", "its name", "\"reference wall\"").map(|name| name.value.to_owned());
    let geometry = read_geometry(top);
    let start_c = needed(top, "start-temperature-c", TEMPS_C, TEMPS);
    let behind_c = top.figure("surroundings-temperature-c", TEMPS_C, TEMPS);
    let gas_c = top.curve("gas-c", TEMPS_C, TEMPS).and_then(|gas| gas.ok_or_else(|| missing(top, "gas-c")));
    let accuracy = read_accuracy(top);
    let fineness = top.figure("fineness", [1.0, 16.0], "a whole number from 1 to 16").map(|given| given.unwrap_or(1.0));
    let fineness = fineness.unwrap_or(1.0).round() as usize;
    let layers = read_layers(top, fineness);
    let (hot, cold) = (read_face(top, "hot-face"), read_face(top, "cold-face"));
    let water = read_water(top);
    let output = read_output(top);
    if output.is_err() {
        // Their times cannot be checked.
        top.accept(&["expected"]);
    }
    let (times_s, depths_m) = output?;
    let expected = read_expected(top, &times_s);
    let start_k = start_c? + ZERO_CELSIUS_K;
    let spec = WallSpec {
        geometry: geometry?,
        layers: layers?,
        hot: hot?,
        cold: cold?,
        start_k,
        ambient_k: behind_c?.map_or(start_k, |behind_c| behind_c + ZERO_CELSIUS_K),
        water: water?,
    };
    let accuracy = accuracy?;
    Ok(WallCase { name: name?, spec, gas_c: gas_c?, times_s, depths_m, accuracy, expected: expected? })
}

fn missing(fields: &Fields<'_>, name: &'static str) -> Refused {
    fields.missing(name, "a number or a list of pairs", &format!("{name} = [[0, 20], [20880, 600]]"))
}

fn needed(fields: &Fields<'_>, name: &'static str, bounds: [f64; 2], range: &'static str) -> Result<f64, Refused> {
    fields
        .figure(name, bounds, range)?
        .ok_or_else(|| fields.missing(name, range, &format!("{name} = {}", bounds[0].max(1.0))))
}

fn or(
    fields: &Fields<'_>,
    name: &'static str,
    usual: f64,
    (bounds, range): ([f64; 2], &'static str),
) -> Result<f64, Refused> {
    Ok(fields.figure(name, bounds, range)?.unwrap_or(usual))
}

fn needed_curve(
    fields: &Fields<'_>,
    name: &'static str,
    bounds: [f64; 2],
    range: &'static str,
) -> Result<Curve, Refused> {
    fields.curve(name, bounds, range)?.ok_or_else(|| missing(fields, name))
}

fn read_geometry(top: &Fields<'_>) -> Result<Geometry, Refused> {
    let round = top.word("shape", &[("flat", false), ("round", true)])?.is_some_and(|placed| placed.value);
    if !round {
        return Ok(Geometry::Planar);
    }
    let inner_radius_m = needed(top, "inner-radius-m", [1e-3, 100.0], "a radius from 0.001 to 100 m")?;
    Ok(Geometry::Radial { inner_radius_m })
}

fn read_accuracy(top: &Fields<'_>) -> Result<Accuracy, Refused> {
    let Some(fields) = top.table("accuracy")? else { return Ok(Accuracy::USUAL) };
    let usual = Accuracy::USUAL;
    let temp_k = or(&fields, "temperature-k", usual.temp_k, ([1e-4, 10.0], "an error per step from 0.0001 to 10 K"));
    let pressure = or(&fields, "pressure", usual.pressure, ([1e-6, 0.2], "a relative error per step from 1e-6 to 0.2"));
    let longest_s = or(&fields, "longest-step-s", usual.longest_s, ([0.01, 1e5], "a step from 0.01 to 100000 s"));
    fields.finish();
    Ok(Accuracy { temp_k: temp_k?, pressure: pressure?, longest_s: longest_s? })
}

fn read_layers(top: &Fields<'_>, fineness: usize) -> Result<Vec<LayerSpec>, Refused> {
    let tables = top.tables("layer")?;
    if tables.is_empty() {
        return Err(top.missing("layer", "at least one [[layer]]", "[[layer]]"));
    }
    let layers: Vec<Result<LayerSpec, Refused>> = tables.iter().map(|fields| read_layer(fields, fineness)).collect();
    layers.into_iter().collect()
}

fn read_layer(fields: &Fields<'_>, fineness: usize) -> Result<LayerSpec, Refused> {
    let name = fields.text("name", "\"castable\"");
    let thickness = needed(fields, "thickness-m", [1e-5, 20.0], "a thickness from 0.00001 to 20 m");
    let cells = fields.figure("cells", [2.0, 5000.0], "a whole number of cells from 2 to 5000");
    let grading = or(fields, "grading", 1.0, ([0.05, 50.0], "a grading from 0.05 to 50"));
    let matter = read_matter(fields);
    let start = read_start(fields);
    fields.finish();
    name?;
    let usual = Cut::usual(thickness?, fineness);
    let cells = cells?.map_or(usual.cells, |cells| cells.round() as usize * fineness);
    Ok(LayerSpec { matter: matter?, cut: Cut { cells, grading: grading?, ..usual }, start: start? })
}

fn read_start(fields: &Fields<'_>) -> Result<StartWater, Refused> {
    let water = fields.figure("start-water-kg-m3", [0.0, 1000.0], "a water content from 0 to 1000 kg/m3")?;
    let pressure = fields.figure("start-pressure-pa", [1e-6, 1e8], "a pressure from 1e-6 to 1e8 Pa")?;
    match (water, pressure) {
        (Some(_), Some(_)) => {
            let fault = Fault::Both { first: "start-water-kg-m3", second: "start-pressure-pa" };
            Err(fields.refuse("start-pressure-pa", fault))
        }
        (_, Some(pressure_pa)) => Ok(StartWater::Pressure(pressure_pa)),
        (water, None) => Ok(StartWater::Content(water.unwrap_or(0.0))),
    }
}

fn read_matter(fields: &Fields<'_>) -> Result<Matter, Refused> {
    let density = needed(fields, "density-kg-m3", [0.1, 30_000.0], "a density from 0.1 to 30000 kg/m3");
    let heat_capacity =
        needed_curve(fields, "heat-capacity-j-kgk", [1e-3, 1e9], "a specific heat from 0.001 to 1e9 J/kgK");
    let conductivity =
        needed_curve(fields, "conductivity-w-mk", [1e-4, 1e4], "a conductivity from 0.0001 to 10000 W/mK");
    let wet = or(fields, "wet-conductivity-w-mk", 0.0, ([0.0, 100.0], "a conductivity from 0 to 100 W/mK"));
    let porosity = or(fields, "porosity", 0.0, ([0.0, 0.99], "a porosity from 0 to 0.99"));
    let permeability =
        fields.curve("permeability-log10-m2", [-40.0, -3.0], "a logarithm of a permeability in m2 from -40 to -3");
    let sorption = read_sorption(fields);
    let bound = or(fields, "bound-water-kg-m3", 0.0, ([0.0, 1000.0], "a water content from 0 to 1000 kg/m3"));
    let dehydration = fields.curve("dehydration", [0.0, 1.0], "shares from 0 to 1");
    let heat = or(fields, "dehydration-heat-j-kg", 0.0, ([0.0, 1e7], "a heat from 0 to 1e7 J/kg"));
    let time = or(fields, "dehydration-time-s", 600.0, ([0.1, 1e7], "a time from 0.1 to 1e7 s"));
    Ok(Matter {
        density_kg_m3: density?,
        heat_capacity_j_kgk: heat_capacity?,
        conductivity_w_mk: conductivity?,
        wet_conductivity_w_mk: wet?,
        porosity: porosity?,
        permeability_log10_m2: permeability?,
        sorption: sorption?,
        bound_water_kg_m3: bound?,
        dehydration: dehydration?.unwrap_or_else(|| Curve::constant(0.0)),
        dehydration_heat_j_kg: heat?,
        dehydration_time_s: time?,
        strength: read_strength(fields)?,
    })
}

fn read_strength(layer: &Fields<'_>) -> Result<Option<Strength>, Refused> {
    let Some(fields) = layer.table("strength")? else { return Ok(None) };
    let tensile = needed(&fields, "tensile-pa", [1.0, 1e10], "a strength from 1 to 1e10 Pa");
    let factor = fields.curve("factor", [1e-3, 100.0], "factors from 0.001 to 100");
    let youngs = needed(&fields, "youngs-pa", [1.0, 1e12], "a modulus from 1 to 1e12 Pa");
    let expansion = needed(&fields, "expansion-per-k", [0.0, 1e-3], "an expansion from 0 to 0.001 per K");
    let poisson = or(&fields, "poisson", 0.2, ([0.0, 0.49], "a ratio from 0 to 0.49"));
    fields.finish();
    Ok(Some(Strength {
        tensile_pa: tensile?,
        factor: factor?.unwrap_or_else(|| Curve::constant(1.0)),
        youngs_pa: youngs?,
        expansion_per_k: expansion?,
        poisson: poisson?,
    }))
}

fn read_sorption(fields: &Fields<'_>) -> Result<Sorption, Refused> {
    let constant = fields.figure("sorption-exponent", [1e-3, 10.0], "an exponent m from 0.001 to 10");
    let shape = or(fields, "sorption-shape", 22.34, ([1.0, 1000.0], "a constant from 1 to 1000"));
    let power = or(fields, "sorption-power", 1.0, ([0.01, 1000.0], "a power from 0.01 to 1000"));
    if fields.has("sorption-exponent") && fields.has("sorption-shape") {
        let fault = Fault::Both { first: "sorption-exponent", second: "sorption-shape" };
        return Err(fields.refuse("sorption-shape", fault));
    }
    let shape = shape?;
    let exponent = constant?.map_or(SorptionExponent::Falling { shape }, SorptionExponent::Constant);
    Ok(Sorption { exponent, power: power? })
}

/// Ways in which heat crosses a face.
#[derive(Clone, Copy)]
enum HeatWord {
    Exchange,
    Fixed,
    Insulated,
}

/// Ways in which vapour crosses a face.
#[derive(Clone, Copy)]
enum VapourWord {
    Leaves,
    Fixed,
    Sealed,
}

fn read_face(top: &Fields<'_>, name: &'static str) -> Result<Face, Refused> {
    let Some(fields) = top.table(name)? else {
        return Err(top.missing(name, "how heat and vapour cross it", &format!("[{name}]")));
    };
    let heats = [("exchange", HeatWord::Exchange), ("fixed", HeatWord::Fixed), ("insulated", HeatWord::Insulated)];
    let vapours = [("leaves", VapourWord::Leaves), ("fixed", VapourWord::Fixed), ("sealed", VapourWord::Sealed)];
    let heat = fields.word("heat", &heats).and_then(|word| match word.map_or(HeatWord::Exchange, |word| word.value) {
        HeatWord::Exchange => {
            let convection = needed(&fields, "convection-w-m2k", [0.0, 1e6], "a coefficient from 0 to 1e6 W/m2K");
            let emissivity = or(&fields, "emissivity", 0.0, ([0.0, 1.0], "an emissivity from 0 to 1"));
            Ok(FaceHeat::Exchange { convection_w_m2k: convection?, emissivity: emissivity? })
        }
        HeatWord::Fixed => Ok(FaceHeat::Fixed),
        HeatWord::Insulated => Ok(FaceHeat::Insulated),
    });
    let vapour =
        fields.word("vapour", &vapours).and_then(|word| match word.map_or(VapourWord::Sealed, |word| word.value) {
            VapourWord::Leaves => {
                let coefficient =
                    needed(&fields, "coefficient-s-m", [0.0, 1e6], "a coefficient from 0 to 1e6 kg/m2sPa");
                let outside = or(&fields, "surroundings-pa", 0.0, (ANY, NOT_NEGATIVE));
                Ok(FaceVapour::Leaves { coefficient_s_m: coefficient?, surroundings_pa: outside? })
            }
            VapourWord::Fixed => {
                Ok(FaceVapour::Fixed(needed(&fields, "pressure-pa", [1e-6, 1e8], "a pressure from 1e-6 to 1e8 Pa")?))
            }
            VapourWord::Sealed => Ok(FaceVapour::Sealed),
        });
    fields.finish();
    Ok(Face { heat: heat?, vapour: vapour? })
}

fn read_water(top: &Fields<'_>) -> Result<WaterLaw, Refused> {
    let usual = WaterLaw::default();
    let Some(fields) = top.table("water")? else { return Ok(usual) };
    let laws = [("iapws", LiquidDensity::Iapws), ("concrete-fit", LiquidDensity::ConcreteFit)];
    let law = fields.word("properties", &laws);
    let heat = or(&fields, "heat-capacity-j-kgk", usual.heat_capacity_j_kgk, (ANY, NOT_NEGATIVE));
    let ratio = or(&fields, "liquid-ratio", usual.liquid_ratio, (ANY, NOT_NEGATIVE));
    let powers = ([0.0, 31.0], "a whole power from 0 to 31");
    let gas_power = or(&fields, "gas-power", f64::from(usual.gas_power), powers);
    let gas_floor = or(&fields, "gas-floor", usual.gas_floor, ([0.0, 1.0], "a saturation from 0 to 1"));
    let liquid_power = or(&fields, "liquid-power", f64::from(usual.liquid_power), powers);
    let latent = fields.figure("latent-j-kg", [0.0, 1e7], "a heat from 0 to 1e7 J/kg");
    let carries = fields.truth("carries-heat");
    fields.finish();
    Ok(WaterLaw {
        steam: SteamTable::shared(law?.map_or(LiquidDensity::Iapws, |law| law.value)),
        heat_capacity_j_kgk: heat?,
        liquid_ratio: ratio?,
        gas_power: gas_power?.round() as u32,
        gas_floor: gas_floor?,
        liquid_power: liquid_power?.round() as u32,
        latent_j_kg: latent?,
        carries_heat: if carries?.unwrap_or(true) { Carriage::Counted } else { Carriage::LeftOut },
    })
}

fn read_output(top: &Fields<'_>) -> Result<(Vec<f64>, Vec<f64>), Refused> {
    let Some(fields) = top.table("output")? else {
        return Err(top.missing("output", "times and depths to print", "[output]"));
    };
    let times = fields.figures("times-s", [1e-3, LONGEST_S], "times from 0.001 to 3.2e7 s");
    let depths = fields.figures("depths-m", [0.0, 100.0], "depths from 0 to 100 m");
    let (times, depths) = (times?, depths?);
    if times.is_empty() {
        return Err(fields.missing("times-s", "at least one time", "times-s = [3600, 7200]"));
    }
    if let Some((before, next)) = times.iter().zip(times.iter().skip(1)).find(|(before, next)| next <= before) {
        let found = format!("{next} after {before}");
        return Err(fields.refuse("times-s", Fault::OutOfRange { found, range: "times that rise" }));
    }
    fields.finish();
    Ok((times, depths))
}

fn read_expected(top: &Fields<'_>, times_s: &[f64]) -> Result<Vec<Expected>, Refused> {
    let failed = Cell::new(None);
    let mut all = Vec::new();
    for fields in top.tables("expected")? {
        match read_one_expected(&fields, times_s) {
            Ok(expected) => all.push(expected),
            Err(refused) => failed.set(Some(refused)),
        }
    }
    failed.get().map_or(Ok(all), Err)
}

fn read_one_expected(fields: &Fields<'_>, times_s: &[f64]) -> Result<Expected, Refused> {
    let quantity = match fields.word("quantity", &QUANTITIES)? {
        Some(word) => word.value,
        None => return Err(fields.missing("quantity", "what is expected", "quantity = \"temperature-c\"")),
    };
    let everything = [-1e12, 1e12];
    let value = needed(fields, "value", everything, "a number");
    let within = needed(fields, "within", ANY, NOT_NEGATIVE);
    let (mut time_s, mut depth_m) = (Ok(0.0), Ok(0.0));
    if quantity.is_of_a_moment() {
        time_s = needed(fields, "time-s", [0.0, LONGEST_S], "one of the output times");
    }
    if quantity.is_of_a_place() {
        depth_m = needed(fields, "depth-m", [0.0, 100.0], "a depth from 0 to 100 m");
    }
    fields.finish();
    let (time_s, depth_m) = (time_s?, depth_m?);
    if quantity.is_of_a_moment() && !times_s.iter().any(|output_s| (output_s - time_s).abs() < 1e-6) {
        let fault = Fault::OutOfRange { found: time_s.to_string(), range: "one of the output times" };
        return Err(fields.refuse("time-s", fault));
    }
    Ok(Expected { quantity, time_s, depth_m, value: value?, within: within? })
}
