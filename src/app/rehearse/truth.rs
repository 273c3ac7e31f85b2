//! A furnace as it really is, drawn beside what is believed of it.

use std::sync::Arc;

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use crate::lining::material::Material;
use crate::lining::{Fuel, Layer, Lining};
use crate::probe::set::PortSpec;
use crate::reading::Place;
use crate::units::{KelvinDiff, Metres, Watts};

/// A lining that is far tighter lets through this much less than one that is as tight as is believed possible.
const FAR_TIGHTER: f64 = 10.0;

/// Factors and offsets by which a furnace differs from its lining file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Truth {
    /// On permeability, 1/3 to 3.
    pub permeability: f64,
    /// On the water of the mix, 0.8 to 1.2.
    pub water: f64,
    /// On conductivity, 0.85 to 1.15.
    pub conductivity: f64,
    /// On the burner's power, 0.8 to 1.2.
    pub power: f64,
    /// Whether probes show up to 2 K too much or too little, and sit up to 3 mm too deep or too high: seed of that.
    tips: u64,
}

impl Truth {
    /// The furnace of the heat-up with this number.
    #[must_use]
    pub fn draw(luck: u64, number: u32) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(luck.wrapping_mul(1_000_003).wrapping_add(u64::from(number)));
        let mut within = |most: f64| most * (2.0 * even(&mut rng) - 1.0);
        Self {
            permeability: within(3.0_f64.ln()).exp(),
            water: 1.0 + within(0.20),
            conductivity: 1.0 + within(0.15),
            power: 1.0 + within(0.20),
            tips: rng.random(),
        }
    }

    /// The same furnace with a lining far tighter than anyone believes: a mix that was rammed or cured otherwise. With what its
    /// lining file says of the permeability, a casting left alone with its burner lit stays below danger 1 as a rule.
    #[must_use]
    pub fn far_tighter(self) -> Self {
        Self { permeability: self.permeability / FAR_TIGHTER, ..self }
    }

    /// The lining as it really is.
    #[must_use]
    pub fn lining(&self, believed: &Lining) -> Lining {
        let mut lining = believed.clone();
        for layer in lining.sections.iter_mut().flat_map(|section| &mut section.layers) {
            self.change(layer);
        }
        lining.burner.fuel = match lining.burner.fuel {
            Fuel::Power(power) => Fuel::Power(Watts(power.0 * self.power)),
            // The flow goes with the area of the jet.
            Fuel::PropaneJet { diameter, gauge_pressure } => {
                Fuel::PropaneJet { diameter: Metres(diameter.0 * self.power.sqrt()), gauge_pressure }
            }
        };
        lining
    }

    fn change(&self, layer: &mut Layer) {
        let material = &*layer.material;
        let decades = self.permeability.log10();
        let moved = (
            material.permeability_log10_m2.map(|log10_m2| log10_m2 + decades),
            material.conductivity_w_mk.map(|w_mk| w_mk * self.conductivity),
        );
        if let (Ok(permeability_log10_m2), Ok(conductivity_w_mk)) = moved {
            layer.material = Arc::new(Material { conductivity_w_mk, permeability_log10_m2, ..material.clone() });
        }
        layer.water.mix_fraction *= self.water;
    }

    /// The board with its tips where they really are, and showing what they really do.
    #[must_use]
    pub fn board(&self, believed: &PortSpec) -> PortSpec {
        let mut rng = ChaCha8Rng::seed_from_u64(self.tips);
        let mut within = |most: f64| most * (2.0 * even(&mut rng) - 1.0);
        let mut board = believed.clone();
        for channel in &mut board.channels {
            channel.offset = KelvinDiff(channel.offset.0 + within(2.0));
            let beside_m = within(0.003);
            if let Place::Depth { depth, .. } = &mut channel.place {
                *depth = Metres((depth.0 + beside_m).max(0.001));
            }
        }
        board
    }
}

/// An even number between 0 and 1.
pub(super) fn even(rng: &mut ChaCha8Rng) -> f64 {
    (f64::from(rng.random::<u32>()) + 0.5) / 4_294_967_296.0
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::lining::material::Materials;
    use crate::lining::text::parse_lining;

    #[test]
    fn two_hundred_furnaces_reach_out_to_every_bound_and_stay_within() {
        let all: Vec<Truth> = (0..200).map(|number| Truth::draw(1, number)).collect();
        let ends = |value: fn(&Truth) -> f64| {
            all.iter()
                .map(value)
                .fold((f64::INFINITY, 0.0_f64), |(least, most), value| (least.min(value), most.max(value)))
        };
        for ((least, most), bounds) in [
            (ends(|truth| truth.permeability), (1.0 / 3.0, 3.0)),
            (ends(|truth| truth.water), (0.8, 1.2)),
            (ends(|truth| truth.conductivity), (0.85, 1.15)),
            (ends(|truth| truth.power), (0.8, 1.2)),
        ] {
            assert!(least >= bounds.0 && least < 1.05 * bounds.0, "{least} of {bounds:?}");
            assert!(most <= bounds.1 && most > 0.95 * bounds.1, "{most} of {bounds:?}");
        }
    }

    #[test]
    fn the_real_lining_differs_in_what_was_drawn() {
        let text = include_str!("../../../schedules/school-foundry-crucible.toml");
        let believed = parse_lining(text, Materials::built_in()).unwrap();
        let truth = Truth { permeability: 3.0, water: 1.2, conductivity: 0.85, power: 0.8, tips: 1 };
        let real = truth.lining(&believed);
        let (before, after) = (&believed.sections[0].layers[0], &real.sections[0].layers[0]);
        let decades = after.material.permeability_log10_m2.at(20.0) - before.material.permeability_log10_m2.at(20.0);
        assert!((decades - 3.0_f64.log10()).abs() < 1e-12, "{decades}");
        assert!((after.water.mix_fraction / before.water.mix_fraction - 1.2).abs() < 1e-12);
    }
}
