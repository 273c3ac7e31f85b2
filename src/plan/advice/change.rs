//! Single changes to a lining, its drying or its burner.

use std::sync::Arc;

use super::dried;
use crate::lining::material::{Kind, Material, Materials};
use crate::lining::text::USUAL_DANGER_CEILING;
use crate::lining::treatment::with_fibres;
use crate::lining::{Back, Fuel, Lining};
use crate::plan::Plan;
use crate::plan::why::{longest, stretches};
use crate::units::quantity::{Shown, UnitSystem};
use crate::units::{Celsius, KelvinPerHour, Metres, Pascals, Seconds, Watts};

/// Factor on the permeability that fibres bring to a mix whose class is not known. Source: the low end of 10 to 100 for dense
/// castables, from memory.
const FIBRE_FACTOR: f64 = 10.0;
/// Thinnest layer that is proposed: what a hand coats or casts. Common practice, no source.
const THINNEST_M: f64 = 0.003;

/// One change.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Weep holes in every closed shell.
    WeepHoles,
    /// Polymer fibres in every mix that has none.
    Fibres,
    /// Every layer that was mixed with water so many times as thick in the section named, or in all.
    Thickness {
        /// Factor on the thickness, below 1.
        factor: f64,
        /// Index of the section.
        section: Option<usize>,
    },
    /// More drying in the air of the place, or with warm air in the chamber.
    Drying {
        /// Air in the chamber, when it is warmed.
        chamber: Option<Celsius>,
        /// For how long.
        time: Seconds,
    },
    /// A burner so many times as strong.
    Burner {
        /// Factor on its power.
        factor: f64,
    },
    /// Pulses as short as a person can do.
    ShorterPulses(Seconds),
    /// No ramp limit stricter than the materials' own.
    OwnRamp,
    /// The builder's own ramp limit so many times as steep.
    SteeperRamp(f64),
    /// The danger ceiling as it usually is, and never above.
    Ceiling(f64),
    /// A soak at a lower temperature.
    SoakTemp(Celsius),
    /// Cast and cured warm next time.
    WarmCure,
}

impl Change {
    /// `lining` after the change; `None` when it has no place in it.
    #[must_use]
    pub fn on(&self, lining: &Lining) -> Option<Lining> {
        let mut changed = lining.clone();
        let is_changed = match self {
            Self::WeepHoles => drill(&mut changed),
            Self::Fibres => add_fibres(&mut changed),
            Self::Thickness { factor, section } => thin(&mut changed, *factor, *section),
            Self::Drying { chamber, time } => return Some(dried(lining, *chamber, *time)),
            Self::Burner { factor } => {
                changed.burner.fuel = scaled(lining.burner.fuel, *factor);
                true
            }
            Self::ShorterPulses(on) => {
                let is_shorter = *on < lining.burner.shortest_on;
                changed.burner.shortest_on = *on;
                is_shorter
            }
            Self::OwnRamp => changed.goal.ramp.take().is_some(),
            Self::SteeperRamp(factor) => {
                changed.goal.ramp = lining.goal.ramp.map(|ramp| KelvinPerHour(ramp.0 * factor));
                changed.goal.ramp.is_some()
            }
            Self::Ceiling(ceiling) => {
                let is_safe = *ceiling <= USUAL_DANGER_CEILING && *ceiling > lining.goal.danger_ceiling;
                changed.goal.danger_ceiling = *ceiling;
                is_safe
            }
            Self::SoakTemp(temp) => {
                let is_lower = *temp < lining.goal.soak_temp;
                changed.goal.soak_temp = *temp;
                is_lower
            }
            Self::WarmCure => cure_warm(&mut changed),
        };
        is_changed.then_some(changed)
    }

    /// The change to `lining` in words.
    #[must_use]
    pub fn words(&self, lining: &Lining) -> String {
        match self {
            Self::WeepHoles => "weep holes of 3 to 6 mm in the closed steel".to_owned(),
            Self::Fibres => "polymer fibres in the mix".to_owned(),
            Self::Thickness { factor, section } => thinner_in_words(lining, *factor, *section),
            Self::Drying { chamber: None, time } => format!("{} more in the air of the place", super::days(*time)),
            Self::Drying { chamber: Some(temp), time } => {
                format!("{} of warm air in the chamber, at {:.0} °C", super::days(*time), temp.0)
            }
            Self::Burner { factor } => {
                let kind = if *factor > 1.0 { "stronger" } else { "weaker" };
                format!("a {kind} burner: {}", burner_in_words(scaled(lining.burner.fuel, *factor)))
            }
            Self::ShorterPulses(on) => format!("pulses as short as {}", on.shown(UnitSystem::Metric)),
            Self::OwnRamp => "the materials' own ramp limit instead of the stricter one in the lining file".to_owned(),
            Self::SteeperRamp(factor) => {
                let ramp = lining.goal.ramp.map_or(f64::NAN, |ramp| ramp.0 * factor);
                format!("a ramp limit of {ramp:.0} K/h in the lining file, no steeper than the materials' own")
            }
            Self::Ceiling(ceiling) => {
                format!("a danger ceiling of {ceiling:.2}, the usual one being {USUAL_DANGER_CEILING:.2}")
            }
            Self::SoakTemp(temp) => format!("a soak at {:.0} °C", temp.0),
            Self::WarmCure => "cured at 25 °C or more instead of colder".to_owned(),
        }
    }

    /// What has to be known before it is done.
    #[must_use]
    pub fn note(&self) -> &'static str {
        match self {
            Self::WeepHoles => {
                "drill them low in the shell before the first flame, with the lining in place: shallow, and no water"
            }
            Self::Fibres => "for the next cast; what stands cannot get them any more",
            Self::Thickness { .. } => "for the next lining; the shell gets hotter: compare with `firstheat wall`",
            Self::Burner { factor } if *factor > 1.0 => {
                "for the heat-up; ask whether the burner and its gas line are made for it"
            }
            Self::Burner { .. } => {
                "for the heat-up: a smaller jet; never starve a burner by its pressure, it burns back"
            }
            Self::WarmCure => "for the next cast",
            Self::SoakTemp(_) => "water that is bound deep then comes out in a later heat: heat that one slowly too",
            _ => "",
        }
    }

    /// Whether it can be done to a lining that stands.
    #[must_use]
    pub fn is_for_what_stands(&self) -> bool {
        !matches!(self, Self::Fibres | Self::Thickness { .. } | Self::WarmCure)
    }
}

/// Every single change that has a place in `lining`, with the lining after it.
#[must_use]
pub fn one_changes(lining: &Lining, plan: &Plan) -> Vec<(Change, Lining)> {
    let day = Seconds::from_hours(24.0);
    let three = Seconds(3.0 * day.0);
    let changes = [
        Change::WeepHoles,
        Change::Fibres,
        Change::Thickness { factor: 0.75, section: binding_section(lining, plan) },
        Change::Drying { chamber: None, time: three },
        Change::Drying { chamber: Some(Celsius(60.0)), time: three },
        Change::Burner { factor: 1.5 },
        Change::Burner { factor: 0.5 },
        Change::ShorterPulses(Seconds(5.0)),
        Change::OwnRamp,
        Change::Ceiling(USUAL_DANGER_CEILING),
        Change::WarmCure,
    ];
    changes.into_iter().filter_map(|change| change.on(lining).map(|changed| (change, changed))).collect()
}

/// The section that is named where the plan is bound longest.
fn binding_section(lining: &Lining, plan: &Plan) -> Option<usize> {
    let stretches = stretches(plan);
    let binds = &longest(&stretches)?.binds;
    lining.sections.iter().position(|section| binds.contains(&format!(" the {} ", section.name)))
}

fn drill(lining: &mut Lining) -> bool {
    let mut is_changed = false;
    for section in &mut lining.sections {
        if let Back::SealedSteel { thickness } = section.back {
            section.back = Back::VentedSteel { thickness };
            is_changed = true;
        }
    }
    is_changed
}

fn add_fibres(lining: &mut Lining) -> bool {
    let mut is_changed = false;
    for layer in lining.sections.iter_mut().flat_map(|section| &mut section.layers) {
        if layer.material.kind != Kind::Castable || layer.water.cure == crate::lining::Cure::Fired {
            continue;
        }
        if let Some(material) = with_fibres(&layer.material, fibre_factor(&layer.material)) {
            layer.material = material;
            is_changed = true;
        }
    }
    is_changed
}

fn fibre_factor(material: &Material) -> f64 {
    Materials::built_in().get(&material.key).map_or(FIBRE_FACTOR, |entry| entry.response.fibre_factor)
}

fn thin(lining: &mut Lining, factor: f64, only: Option<usize>) -> bool {
    let mut is_changed = false;
    for (index, section) in lining.sections.iter_mut().enumerate() {
        if only.is_some_and(|only| only != index) {
            continue;
        }
        for layer in section.layers.iter_mut().filter(|layer| layer.material.kind.is_mixed_with_water()) {
            let thinner_m = factor * layer.thickness.0;
            if thinner_m >= THINNEST_M {
                layer.thickness = Metres(thinner_m);
                is_changed = true;
            }
        }
    }
    is_changed
}

fn thinner_in_words(lining: &Lining, factor: f64, only: Option<usize>) -> String {
    let sections = lining.sections.iter().enumerate().filter(|(index, _)| only.is_none_or(|only| only == *index));
    let mixed = sections.flat_map(|(_, section)| {
        let layers = section.layers.iter().filter(|layer| layer.material.kind.is_mixed_with_water());
        layers.map(|layer| (section.name.as_str(), layer))
    });
    let mut words: Vec<String> = Vec::new();
    for (name, layer) in mixed.filter(|(_, layer)| factor * layer.thickness.0 >= THINNEST_M) {
        let (new_mm, old_mm) = (factor * layer.thickness.mm(), layer.thickness.mm());
        words
            .push(format!("the {} of the {name} {new_mm:.0} mm instead of {old_mm:.0} mm", layer.material.kind.word()));
    }
    words.join(", ")
}

fn scaled(fuel: Fuel, factor: f64) -> Fuel {
    match fuel {
        Fuel::Power(power) => Fuel::Power(Watts(power.0 * factor)),
        // Fuel goes with the area of the jet.
        Fuel::PropaneJet { diameter, gauge_pressure } => {
            Fuel::PropaneJet { diameter: Metres(diameter.0 * factor.sqrt()), gauge_pressure: Pascals(gauge_pressure.0) }
        }
    }
}

fn burner_in_words(fuel: Fuel) -> String {
    match fuel {
        Fuel::Power(power) => power.shown(UnitSystem::Metric),
        Fuel::PropaneJet { diameter, gauge_pressure } => {
            format!("a jet of {:.2} mm at {}", diameter.mm(), gauge_pressure.shown(UnitSystem::Metric))
        }
    }
}

/// The layers that were cured cold as after a usual cure: without what the cold took from permeability and strength.
fn cure_warm(lining: &mut Lining) -> bool {
    use crate::lining::Cure;
    use crate::lining::treatment::{COLD_CURE_PERMEABILITY_FACTOR, COLD_CURE_STRENGTH_FACTOR};
    let mut is_changed = false;
    for layer in lining.sections.iter_mut().flat_map(|section| &mut section.layers) {
        if layer.material.kind != Kind::Castable || layer.water.cure != Cure::Cold {
            continue;
        }
        let mut material = Material::clone(&layer.material);
        let shift = COLD_CURE_PERMEABILITY_FACTOR.log10();
        let Ok(warmer) = material.permeability_log10_m2.map(|log10_m2| log10_m2 - shift) else { continue };
        material.permeability_log10_m2 = warmer;
        material.rupture_mpa /= COLD_CURE_STRENGTH_FACTOR;
        layer.material = Arc::new(material);
        layer.water.cure = Cure::Mixed;
        is_changed = true;
    }
    is_changed
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lining::text::parse_lining;

    fn lining(text: &str) -> Lining {
        parse_lining(text, Materials::built_in()).expect("a shipped lining")
    }

    fn box_forge() -> Lining {
        lining(include_str!("../../../schedules/box-forge.toml"))
    }

    #[test]
    fn weep_holes_go_into_closed_steel_alone() {
        let drilled = Change::WeepHoles.on(&box_forge()).expect("its floor is closed");
        assert!(drilled.sections.iter().all(|section| matches!(section.back, Back::VentedSteel { .. })));
        assert_eq!(Change::WeepHoles.on(&drilled), None);
    }

    #[test]
    fn fibres_go_into_mixes_that_have_none() {
        let arch = lining(include_str!("../../../schedules/kiln-arch.toml"));
        assert_eq!(Change::Fibres.on(&arch), None, "the arch has fibres");
        let with = Change::Fibres.on(&box_forge()).expect("its floor has none");
        let k = |lining: &Lining, temp_c: f64| lining.sections[1].layers[0].material.permeability_log10_m2.at(temp_c);
        assert!((k(&with, 100.0) - k(&box_forge(), 100.0)).abs() < 1e-9, "nothing before they melt");
        assert!(k(&with, 300.0) > k(&box_forge(), 300.0) + 0.2);
    }

    #[test]
    fn a_ceiling_above_the_safe_one_is_never_proposed() {
        for ceiling in [0.51, 0.6, 1.0] {
            assert_eq!(Change::Ceiling(ceiling).on(&box_forge()), None);
        }
        let mut careful = box_forge();
        careful.goal.danger_ceiling = 0.3;
        assert!(Change::Ceiling(0.5).on(&careful).is_some());
    }

    #[test]
    fn a_burner_by_its_jet_gets_another_jet_at_the_same_pressure() {
        let thin = lining(include_str!("../../../schedules/thin-coat-forge.toml"));
        let words = Change::Burner { factor: 0.5 }.words(&thin);
        assert_eq!(words, "a weaker burner: a jet of 0.63 mm at 0.689 bar");
    }

    #[test]
    fn thinner_says_which_and_from_what() {
        let change = Change::Thickness { factor: 0.75, section: Some(1) };
        let thinner = change.on(&box_forge()).expect("a floor");
        assert_eq!(change.words(&box_forge()), "the castable of the floor 14 mm instead of 19 mm");
        assert!((thinner.sections[1].layers[0].thickness.mm() - 14.25).abs() < 1e-9);
        assert_eq!(thinner.sections[0], box_forge().sections[0]);
    }
}
