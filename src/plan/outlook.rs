//! What a lining will do in service, before anything is bought: shell, heat stored and lost, gas, time to heat, water.
//!
//! The same walls as everywhere, taken as dry: this is how the furnace behaves after its first heat.

mod change;

use serde::Serialize;

use crate::lining::cuts::CutList;
use crate::lining::{Back, Cure, Lining, Section, Shape, Water};
use crate::physics::{Belief, Drive, Ensemble, Furnace, Grid, SolveError};
use crate::units::{Celsius, Curve, Kilograms, Metres, Seconds, Watts};

pub use change::{Change, HardFace, LEAST_BORE, changed};

use super::trial::Range;

/// Shares of the possible linings that low, middle and high stand for.
const SHARES: Range = [0.05, 0.5, 0.95];
/// How long the chamber takes to its temperature when shell and heat after an hour are asked, s: as good as at once.
const RISE_S: f64 = 60.0;
/// A shell that moves less than this while the time doubles is steady, K.
const STEADY_K: f64 = 0.2;
/// Longest time that is waited for a steady wall, h.
const LONGEST_H: f64 = 1024.0;
/// Longest heating with the burner on that is looked at, h.
const LONGEST_HEATING_H: f64 = 8.0;
/// Steps in which heating is looked at, s.
const HEATING_STEP_S: f64 = 30.0;
/// Slices of a layer over which stored heat is summed.
const SLICES: usize = 40;
/// Mild steel, J/(m³·K): 7850 kg/m³ times 500 J/(kg·K), handbook values.
const STEEL_J_M3K: f64 = 7850.0 * 500.0;

/// What is asked of a lining.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Chamber temperature at work.
    pub at: Celsius,
    /// Hot-face temperature at which work begins.
    pub heat: Celsius,
    /// Possible linings.
    pub belief: Belief,
}

/// What a lining will do.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Outlook {
    /// Its name, with what was changed.
    pub name: String,
    /// Its sections.
    pub sections: Vec<SectionOutlook>,
    /// Through all walls when steady (middle lining).
    pub lost_w: Watts,
    /// In all walls an hour after the chamber came to its temperature, J (middle lining).
    pub stored_hour_j: f64,
    /// In all walls when steady, J (middle lining).
    pub stored_steady_j: f64,
    /// Propane per hour that holds the chamber there, after an hour and when steady (middle lining).
    pub gas_per_hour: [Kilograms; 2],
    /// Burner on from cold until the mean hot face is at its heat: quick, middle and slow linings; `None` when not
    /// within eight hours.
    pub heating: [Option<Seconds>; 3],
    /// Propane that takes (middle lining), when it gets there.
    pub heating_gas: Option<Kilograms>,
    /// Dry mass.
    pub dry: Kilograms,
    /// Water before it dries, free and bound.
    pub water: Kilograms,
    /// Rolls and bags, when all prices are given.
    pub cost: Option<f64>,
}

/// What one section will do.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SectionOutlook {
    /// Its name.
    pub name: String,
    /// Outside, an hour after the chamber came to its temperature.
    pub shell_hour_c: Range,
    /// Outside, when steady.
    pub shell_steady_c: Range,
    /// Through it when steady (middle lining).
    pub lost_w: Watts,
    /// Key of each layer with its water before it dries, free and bound.
    pub layers: Vec<(String, Kilograms)>,
}

/// Works it out.
///
/// # Errors
/// When the engine cannot solve the wall.
pub fn outlook(lining: &Lining, asked: &Asked) -> Result<Outlook, SolveError> {
    let dry = fired(lining);
    let cold = Ensemble::new(&Furnace::of(&dry, Grid::Usual), asked.belief)?;
    let mut held = cold.clone();
    held.advance(Drive::Gas { temp: asked.at }, Seconds(RISE_S))?;
    held.advance(Drive::Gas { temp: asked.at }, Seconds(3600.0))?;
    let hour = held.clone();
    until_steady(&mut held, asked.at)?;
    let (heating, heating_gas) = heat_up(cold, asked.heat)?;
    let gas = |ensemble: &Ensemble| Kilograms(ensemble.fuel_rate_to_hold(0, asked.at) * 3600.0);
    let sections: Vec<SectionOutlook> = (0..dry.sections.len())
        .map(|index| section_outlook(&lining.sections[index], &dry.sections[index], [&hour, &held], index))
        .collect();
    Ok(Outlook {
        name: lining.name.clone(),
        lost_w: Watts(sections.iter().map(|section| section.lost_w.0).sum()),
        sections,
        stored_hour_j: stored_j(&dry, &hour),
        stored_steady_j: stored_j(&dry, &held),
        gas_per_hour: [gas(&hour), gas(&held)],
        heating,
        heating_gas,
        dry: lining.dry_mass(),
        water: lining.water_kg(),
        cost: CutList::of(lining).cost(),
    })
}

/// The lining after its first heat: no water, nothing bound.
fn fired(lining: &Lining) -> Lining {
    let mut dry = lining.clone();
    for layer in dry.sections.iter_mut().flat_map(|section| &mut section.layers) {
        layer.water = Water { mix_fraction: 0.0, cure: Cure::Fired, air_dried: Seconds(0.0) };
    }
    dry
}

fn until_steady(ensemble: &mut Ensemble, at: Celsius) -> Result<(), SolveError> {
    let shells = |ensemble: &Ensemble| -> Vec<f64> {
        let sections = ensemble.furnace().section_names().len();
        (0..ensemble.members())
            .flat_map(|member| (0..sections).map(move |section| (member, section)))
            .map(|(member, section)| ensemble.section(member, section).shell.0)
            .collect()
    };
    let (mut before, mut span_h) = (shells(ensemble), 1.0);
    while span_h < LONGEST_H {
        ensemble.advance(Drive::Gas { temp: at }, Seconds::from_hours(span_h))?;
        let now = shells(ensemble);
        let moved = before.iter().zip(&now).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        if moved < STEADY_K {
            return Ok(());
        }
        (before, span_h) = (now, span_h * 2.0);
    }
    Ok(())
}

/// Burner on from cold until the mean hot face is at `heat`.
fn heat_up(mut ensemble: Ensemble, heat: Celsius) -> Result<([Option<Seconds>; 3], Option<Kilograms>), SolveError> {
    let mut when: Vec<Option<f64>> = vec![None; ensemble.members()];
    let mut gas = None;
    while ensemble.elapsed().hours() < LONGEST_HEATING_H && when.iter().any(Option::is_none) {
        ensemble.advance(Drive::Burner { on: 1.0 }, Seconds(HEATING_STEP_S))?;
        for (member, when) in when.iter_mut().enumerate() {
            if when.is_none() && mean_face_c(&ensemble, member) >= heat.0 {
                *when = Some(ensemble.elapsed().0);
                if member == 0 {
                    gas = Some(ensemble.fuel(0));
                }
            }
        }
    }
    let longest_s = LONGEST_HEATING_H * 3600.0;
    let spans = SHARES.map(|share| {
        let span_s = ensemble.percentile(share, |member| when[member].unwrap_or(f64::INFINITY));
        (span_s <= longest_s).then_some(Seconds(span_s))
    });
    Ok((spans, gas))
}

/// Mean over all hot faces by area.
fn mean_face_c(ensemble: &Ensemble, member: usize) -> f64 {
    let sections = &ensemble.furnace().lining().sections;
    let weighed = sections
        .iter()
        .enumerate()
        .map(|(index, section)| section.hot_face_area().0 * ensemble.section(member, index).hot_face.0);
    weighed.sum::<f64>() / ensemble.furnace().lining().hot_face_area().0
}

fn section_outlook(wet: &Section, dry: &Section, states: [&Ensemble; 2], index: usize) -> SectionOutlook {
    let shell = |ensemble: &Ensemble| {
        SHARES.map(|share| ensemble.percentile(share, |member| ensemble.section(member, index).shell.0))
    };
    // What lies behind a floor that is cast in a bore is counted with the round wall.
    let contents = wet.layers.iter().zip(wet.contents()).filter(|(_, held)| held.dry.0 > 0.0);
    SectionOutlook {
        name: wet.name.clone(),
        shell_hour_c: shell(states[0]),
        shell_steady_c: shell(states[1]),
        lost_w: heat_through(dry, |depth| states[1].temp_at(0, index, depth)),
        layers: contents
            .map(|(layer, held)| (layer.material.key.clone(), Kilograms(held.free.0 + held.bound.0)))
            .collect(),
    }
}

/// Heat that flows through a section in a steady state, from the temperatures `temp_at` its depths: the mean of what flows
/// through each layer, weighed by the fall of temperature in it. With k(T) the flow is the integral of k over temperature,
/// times area over thickness, or for a round wall 2 pi L over the logarithm of the radii (Carslaw and Jaeger, 1959).
pub fn heat_through(section: &Section, temp_at: impl Fn(Metres) -> Celsius) -> Watts {
    let (mut depth, mut sum, mut falls) = (0.0, 0.0, 0.0);
    for layer in &section.layers {
        let outer = depth + layer.thickness.0;
        let (hot, cold) = (temp_at(Metres(depth)).0, temp_at(Metres(outer)).0);
        let ease_m = match section.shape {
            Shape::Flat { area } => area.0 / layer.thickness.0,
            Shape::Barrel { bore, length } => {
                let radius_m = bore.0 / 2.0;
                std::f64::consts::TAU * length.0 / ((radius_m + outer) / (radius_m + depth)).ln()
            }
        };
        let fall = (hot - cold).abs();
        sum += fall * ease_m * integral(&layer.material.conductivity_w_mk, cold, hot);
        falls += fall;
        depth = outer;
    }
    Watts(if falls > 0.0 { sum / falls } else { 0.0 })
}

/// Integral of `curve` from `low` to `high`, by the midpoint rule.
fn integral(curve: &Curve, low: f64, high: f64) -> f64 {
    const STEPS: usize = 400;
    let step = (high - low) / STEPS as f64;
    (0..STEPS).map(|index| curve.at(low + step * (index as f64 + 0.5)) * step).sum()
}

/// Heat in all walls of the middle lining above the surroundings, J.
fn stored_j(lining: &Lining, ensemble: &Ensemble) -> f64 {
    let start_c = lining.surroundings.temp.0;
    let mut sum_j = 0.0;
    for (index, section) in lining.sections.iter().enumerate() {
        let mut depth_m = 0.0;
        for layer in &section.layers {
            let slice_m = layer.thickness.0 / SLICES as f64;
            for slice in 0..SLICES {
                let (from, to) = (depth_m + slice_m * slice as f64, depth_m + slice_m * (slice as f64 + 1.0));
                let temp_c = ensemble.temp_at(0, index, Metres(f64::midpoint(from, to))).0;
                let per_kg_j = integral(&layer.material.heat_capacity_j_kgk, start_c, temp_c);
                sum_j += layer.material.density_kg_m3 * section.shape.volume_m3(Metres(from), Metres(to)) * per_kg_j;
            }
            depth_m += layer.thickness.0;
        }
        if let Back::SealedSteel { thickness } | Back::VentedSteel { thickness } = section.back {
            let volume_m3 = section.shape.volume_m3(Metres(depth_m), Metres(depth_m + thickness.0));
            sum_j += STEEL_J_M3K * volume_m3 * (ensemble.section(0, index).shell.0 - start_c);
        }
    }
    sum_j
}
