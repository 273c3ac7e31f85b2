//! From a lining as the builder describes it to walls the solver can step.

use std::sync::Arc;

use super::drying::Drying;
use super::matter::{Matter, Sorption, SorptionExponent, Strength, WaterLaw};
use super::mesh::{Cut, Geometry};
use super::solver::Accuracy;
use super::steam::{liquid_density_kg_m3, saturation_pressure_pa};
use super::wall::{Face, FaceHeat, FaceVapour, LayerSpec, StartWater, Wall, WallSpec};
use crate::lining::material::{Kind, Material};
use crate::lining::{Back, Burner, Control, Cure, Fuel, Layer, Lining, MarkAt, Section, Shape};
use crate::units::{Curve, KelvinPerHour};

/// A lining cut into cells, ready to be solved.
#[derive(Clone, Debug)]
pub struct Furnace {
    /// Its sections.
    pub(super) sections: Vec<FurnaceSection>,
    /// Names of the sections.
    pub(super) names: Vec<String>,
    /// Keys of the distinct materials; members draw their luck once for each.
    pub(super) materials: Vec<Arc<Material>>,
    /// Fuel energy per time with the burner on, W (lower heating value).
    pub(super) power_w: f64,
    /// Marks that the burner can be turned down to, and their shares of the full fire, from the lowest up.
    pub(super) marks: Vec<(String, f64)>,
    /// As described.
    pub(super) lining: Lining,
    /// How finely its layers are cut.
    pub(super) grid: Grid,
}

/// One section of a furnace.
#[derive(Clone, Debug)]
pub(super) struct FurnaceSection {
    pub wall: Arc<Wall>,
    pub area_m2: f64,
    /// Index into the furnace's materials of each layer; `None` for the shell.
    pub material: Vec<Option<usize>>,
    /// Air drying before the first flame.
    pub drying: Drying,
    /// Steepest ramp its wet layers stand.
    pub ramp_limit: KelvinPerHour,
}

/// How finely layers are cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grid {
    /// Half as fine and with longer steps, four times as fast: to search with, not to promise anything.
    Coarse,
    /// Within 1 % of converged peaks.
    Usual,
    /// Twice as fine.
    Fine,
}

impl Grid {
    /// How carefully time is stepped on it.
    pub(super) fn accuracy(self) -> Accuracy {
        match self {
            Self::Coarse => Accuracy::ROUGH,
            Self::Usual | Self::Fine => Accuracy::USUAL,
        }
    }
}

/// Convection at a face in still air, W/(m²·K) (memory; natural convection 5 to 10).
const STILL_AIR_W_M2K: f64 = 8.0;
/// Coefficient of vapour leaving a face, s/m: Lewis' analogy at a convection of 10 W/(m²·K) gives 7e-8 (computed); peaks
/// change by less than 1 % if it is ten times that.
const VAPOUR_COEFFICIENT_S_M: f64 = 1e-7;
/// Emissivity of an oxidised steel shell (memory).
const STEEL_EMISSIVITY: f64 = 0.8;

impl Furnace {
    /// Cuts `lining` into cells.
    #[must_use]
    pub fn of(lining: &Lining, grid: Grid) -> Self {
        let mut materials: Vec<Arc<Material>> = Vec::new();
        let sections =
            lining.sections.iter().map(|section| cut_section(lining, section, grid, &mut materials)).collect();
        Self {
            sections,
            names: lining.sections.iter().map(|section| section.name.clone()).collect(),
            materials,
            power_w: fuel_power_w(lining.burner.fuel),
            marks: marks_of(&lining.burner),
            lining: lining.clone(),
            grid,
        }
    }

    /// Names of the sections, in the lining's order.
    #[must_use]
    pub fn section_names(&self) -> &[String] {
        &self.names
    }

    /// Marks that the burner can be turned down to, with their shares of the full fire, above 0 and below 1, from the lowest
    /// up; none of a burner that is only opened and shut.
    #[must_use]
    pub fn marks(&self) -> &[(String, f64)] {
        &self.marks
    }

    /// The burner.
    #[must_use]
    pub fn burner(&self) -> &Burner {
        &self.lining.burner
    }

    /// What its burner can be set to.
    #[must_use]
    pub fn control(&self) -> &Control {
        &self.lining.burner.control
    }

    /// The same furnace with a burner that is only opened and shut.
    #[must_use]
    pub fn by_hand(&self) -> Self {
        let mut furnace = Self { marks: Vec::new(), ..self.clone() };
        furnace.lining.burner.control = Control::OnOff;
        furnace
    }

    /// Propane that the burner takes at its full fire, kg/s.
    #[must_use]
    pub fn full_fire_kg_s(&self) -> f64 {
        self.power_w / super::chamber::PROPANE_HEATING_VALUE_J_KG
    }

    /// Steepest ramp that a section's wet layers stand.
    #[must_use]
    pub fn ramp_limit(&self, section: usize) -> KelvinPerHour {
        self.sections[section].ramp_limit
    }

    /// The lining it was cut from.
    #[must_use]
    pub fn lining(&self) -> &Lining {
        &self.lining
    }

    /// In words, where a danger is and what makes it: "sealed back of the floor, steam 0.90 MPa against 2.1 MPa
    /// strength". Thermal tension stands beside steam, or steam beside it, where it is a twentieth of the danger or more.
    #[must_use]
    pub fn describe(&self, section: usize, danger: &super::Danger) -> String {
        let name = &self.names[section];
        let layer = &self.lining.sections[section].layers[danger.layer];
        let behind_m: f64 =
            self.lining.sections[section].layers[..=danger.layer].iter().map(|layer| layer.thickness.0).sum();
        let to_back_m = behind_m - danger.depth.0;
        let near_m = 0.15 * layer.thickness.0;
        let place = if to_back_m < near_m && danger.layer + 1 == self.lining.sections[section].layers.len() {
            match self.lining.sections[section].back {
                Back::SealedSteel { .. } => format!("sealed back of the {name}"),
                Back::VentedSteel { .. } => format!("drilled back of the {name}"),
                Back::Open => format!("open back of the {name}"),
            }
        } else {
            format!("{:.0} mm deep in the {name}", danger.depth.mm())
        };
        let strength_mpa = danger.strength.0 / 1e6;
        let steam = (danger.steam, format!("steam {:.2} MPa", danger.steam * strength_mpa));
        let thermal = (danger.thermal, format!("thermal tension {:.2} MPa", danger.thermal * strength_mpa));
        let (main, other) = if danger.steam >= danger.thermal { (steam, thermal) } else { (thermal, steam) };
        let what = if other.0 >= 0.05 * danger.number && other.0 > 0.0 {
            format!("{} and {}", main.1, other.1)
        } else {
            main.1
        };
        format!("{place}, {what} against {strength_mpa:.1} MPa strength")
    }
}

fn fuel_power_w(fuel: Fuel) -> f64 {
    match fuel {
        Fuel::Power(power) => power.0,
        Fuel::PropaneJet { diameter, gauge_pressure } => {
            super::chamber::propane_jet_kg_s(diameter.0, gauge_pressure.0) * super::chamber::PROPANE_HEATING_VALUE_J_KG
        }
    }
}

/// Marks with their shares of the full fire, from the lowest up; of marks that come out alike the first.
fn marks_of(burner: &Burner) -> Vec<(String, f64)> {
    let full_w = fuel_power_w(burner.fuel);
    let share = |at: MarkAt| match (at, burner.fuel) {
        (MarkAt::Share(share), _) => share,
        (MarkAt::Pressure(gauge_pressure), Fuel::PropaneJet { diameter, .. }) => {
            fuel_power_w(Fuel::PropaneJet { diameter, gauge_pressure }) / full_w
        }
        // The lining file gives pressures to jets alone.
        (MarkAt::Pressure(_), Fuel::Power(_)) => 1.0,
    };
    let mut marks: Vec<(String, f64)> =
        burner.control.marks().iter().map(|mark| (mark.name.clone(), share(mark.at))).collect();
    marks.retain(|(_, share)| *share > 0.0 && *share < 1.0);
    marks.sort_by(|a, b| a.1.total_cmp(&b.1));
    marks.dedup_by(|later, first| later.1 - first.1 < 1e-6);
    marks
}

fn cut_section(lining: &Lining, section: &Section, grid: Grid, materials: &mut Vec<Arc<Material>>) -> FurnaceSection {
    let mut layers: Vec<LayerSpec> = section.layers.iter().map(|layer| layer_spec(layer, lining, grid)).collect();
    let mut material: Vec<Option<usize>> = section.layers.iter().map(|layer| Some(known(materials, layer))).collect();
    let (shell, vapour) = match section.back {
        Back::SealedSteel { thickness } => (Some(thickness), FaceVapour::Sealed),
        Back::VentedSteel { thickness } => (Some(thickness), leaves(lining)),
        Back::Open => (None, leaves(lining)),
    };
    if let Some(thickness) = shell {
        layers.push(steel(thickness.0));
        material.push(None);
    }
    let cold_emissivity =
        if shell.is_some() { STEEL_EMISSIVITY } else { section.layers[section.layers.len() - 1].material.emissivity };
    let (geometry, area_m2) = match section.shape {
        Shape::Flat { area } => (Geometry::Planar, area.0),
        Shape::Barrel { bore, length } => {
            (Geometry::Radial { inner_radius_m: bore.0 / 2.0 }, std::f64::consts::PI * bore.0 * length.0)
        }
    };
    let face = |emissivity, vapour| Face {
        heat: FaceHeat::Exchange { convection_w_m2k: STILL_AIR_W_M2K, emissivity },
        vapour,
    };
    let spec = WallSpec {
        geometry,
        layers,
        hot: face(section.layers[0].material.emissivity, leaves(lining)),
        cold: face(cold_emissivity, vapour),
        start_k: lining.surroundings.temp.kelvin(),
        ambient_k: lining.surroundings.temp.kelvin(),
        water: WaterLaw::default(),
    };
    FurnaceSection {
        drying: Drying::of(section, &spec, lining.drying).then_warm(lining.chamber_drying),
        wall: Arc::new(Wall::of(spec)),
        area_m2,
        material,
        ramp_limit: KelvinPerHour(
            section.layers.iter().map(|layer| layer.material.ramp_limit.0).fold(f64::INFINITY, f64::min),
        ),
    }
}

/// Index of a layer's material among those known, which it joins.
fn known(materials: &mut Vec<Arc<Material>>, layer: &Layer) -> usize {
    materials.iter().position(|material| **material == *layer.material).unwrap_or_else(|| {
        materials.push(Arc::clone(&layer.material));
        materials.len() - 1
    })
}

fn leaves(lining: &Lining) -> FaceVapour {
    let air = lining.surroundings;
    FaceVapour::Leaves {
        coefficient_s_m: VAPOUR_COEFFICIENT_S_M,
        surroundings_pa: air.humidity * saturation_pressure_pa(air.temp.kelvin()),
    }
}

fn layer_spec(layer: &Layer, lining: &Lining, grid: Grid) -> LayerSpec {
    let fineness = if grid == Grid::Fine { 2 } else { 1 };
    let matter = matter_of(layer);
    // A pore space filled to the brim has no place for the first steam; the mix entrains a little air.
    let full = 0.97 * matter.porosity * liquid_density_kg_m3(lining.surroundings.temp.kelvin());
    let cut = match layer.material.kind {
        Kind::Fibre => Cut::coarse(layer.thickness.0, fineness),
        _ => Cut::usual(layer.thickness.0, fineness),
    };
    LayerSpec {
        matter,
        cut: if grid == Grid::Coarse { cut.halved() } else { cut },
        start: StartWater::Content(layer.free_water_kg_m3().min(full)),
    }
}

fn matter_of(layer: &Layer) -> Matter {
    let material = &layer.material;
    let dehydration = match layer.water.cure {
        Cure::Cold => &material.dehydration.cold,
        Cure::Mixed => &material.dehydration.mixed,
        Cure::Warm | Cure::Fired => &material.dehydration.warm,
    };
    Matter {
        density_kg_m3: material.density_kg_m3,
        heat_capacity_j_kgk: material.heat_capacity_j_kgk.clone(),
        conductivity_w_mk: material.conductivity_w_mk.clone(),
        wet_conductivity_w_mk: material.wet_conductivity_w_mk,
        porosity: material.porosity,
        permeability_log10_m2: Some(material.permeability_log10_m2.clone()),
        sorption: Sorption {
            exponent: SorptionExponent::Falling { shape: 22.34 },
            power: sorption_power(material.kind),
        },
        bound_water_kg_m3: layer.bound_water_kg_m3(),
        dehydration: dehydration.clone(),
        dehydration_heat_j_kg: material.dehydration.heat_j_kg,
        dehydration_time_s: material.dehydration.time_s,
        strength: (material.rupture_mpa > 0.0).then(|| Strength {
            // Tensile strength is half the modulus of rupture (memory; flexure of a ceramic reads about twice).
            tensile_pa: 0.5e6 * material.rupture_mpa,
            factor: material.rupture_factor.clone(),
            youngs_pa: material.youngs_gpa * 1e9,
            expansion_per_k: material.expansion_per_k,
            poisson: 0.2,
        }),
    }
}

/// How much sharper than cement paste a material lets go of its water (estimate: fibre and brick hold almost none below
/// saturation).
fn sorption_power(kind: Kind) -> f64 {
    match kind {
        Kind::Mortar | Kind::Castable | Kind::Plastic => 1.0,
        Kind::Brick | Kind::Board => 5.0,
        Kind::Fibre => 20.0,
    }
}

/// A sheet of mild steel (handbook values: 7850 kg/m³, 45 W/(m·K), 500 J/(kg·K)).
fn steel(thickness_m: f64) -> LayerSpec {
    LayerSpec {
        matter: Matter {
            density_kg_m3: 7850.0,
            heat_capacity_j_kgk: Curve::constant(500.0),
            conductivity_w_mk: Curve::constant(45.0),
            wet_conductivity_w_mk: 0.0,
            porosity: 0.0,
            permeability_log10_m2: None,
            sorption: Sorption::default(),
            bound_water_kg_m3: 0.0,
            dehydration: Curve::constant(0.0),
            dehydration_heat_j_kg: 0.0,
            dehydration_time_s: 1.0,
            strength: None,
        },
        cut: Cut { thickness_m, cells: 2, grading: 1.0 },
        start: StartWater::Content(0.0),
    }
}
