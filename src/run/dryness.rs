//! Where the lining boils and where it is dry: what the readings show of it, and how sure the ensemble is.

use super::snapshot::DryingNow;
use super::verdict::Verdict;
use super::{Run, Trail};
use crate::reading::Place;
use crate::units::{Celsius, KelvinPerHour};

/// Water boils in pores within this, °C: from the boiling point to where steam at twenty times the air's pressure does
/// (steam tables: 212 °C at 2 MPa).
const BOILS_C: (f64, f64) = (95.0, 212.0);

/// On a plateau a place warms at this part of the rate that it and the face showed before, or less.
const STANDS_SHARE: f64 = 0.35;

/// The face has to rise for a place to stand still against it, K/h.
const FACE_RISES: KelvinPerHour = KelvinPerHour(5.0);

/// Window over which a plateau is told, s.
const PLATEAU_WINDOW_S: f64 = 1200.0;

/// From this weight of the members on it is said that a place is dry, and that water boils where the readings stand.
const SURE: f64 = 0.95;
const LIKELY: f64 = 0.5;

/// What was said of the drying of one place. Each is said once.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct DryingSaid {
    was_looked_at: bool,
    boils: bool,
    is_dry: bool,
}

impl Run {
    /// Says where water begins to boil and where it is gone, at each probe inside the lining, and how sure that is. Of a place
    /// that was dry from the start nothing is said.
    pub(super) fn tell_drying(&mut self, elapsed_s: f64) -> Vec<Verdict> {
        let mut told = Vec::new();
        for index in 0..self.drying_said.len() {
            let Some(drying) = self.drying_now(index) else { continue };
            let Some(said) = self.drying_said.get_mut(index) else { continue };
            let wet_share = 1.0 - drying.dry_share;
            let begins_dry = !said.was_looked_at && drying.dry_share >= SURE;
            said.was_looked_at = true;
            if begins_dry {
                (said.boils, said.is_dry) = (true, true);
            }
            let mut say = |text: String| told.push((index, text));
            if let Some(temp) = drying.plateau.filter(|_| !said.boils && wet_share >= LIKELY) {
                said.boils = true;
                say(format!("stands at {:.0} °C: water boils there, {:.0} % sure", temp.0, 100.0 * wet_share));
            }
            if !said.is_dry && drying.dry_share >= SURE {
                said.is_dry = true;
                say(format!("its place is dry, {:.0} % sure", 100.0 * drying.dry_share));
            }
        }
        let name = |index: usize| self.health.channels().get(index).map(|channel| channel.probe.channel.to_string());
        let notice = |(index, text): (usize, String)| {
            let text = format!("{}: {text}", name(index).unwrap_or_default());
            Verdict::Notice { elapsed_s, text, about: None }
        };
        told.into_iter().map(notice).collect()
    }

    /// How far the place of the channel at `index` has dried.
    pub(super) fn drying_now(&self, index: usize) -> Option<DryingNow> {
        let place = &self.health.channels().get(index)?.probe.place;
        let is_inside = matches!(place, Place::Depth { .. } | Place::MetalContact { .. });
        let dry_share = is_inside.then(|| self.estimator.dry_share_at(index)).flatten()?;
        Some(DryingNow { dry_share, plateau: self.plateau_of(index) })
    }

    /// The temperature at which the channel stands while the face goes on rising.
    fn plateau_of(&self, index: usize) -> Option<Celsius> {
        let rise = self.trails.get(index)?.rise(PLATEAU_WINDOW_S)?;
        let faces = (0..self.trails.len()).filter(|other| self.estimator.hot_face_of(*other).is_some());
        let face = faces.filter_map(|other| self.trails.get(other)).chain(&self.face_trails);
        let steepest = face.filter_map(|trail: &Trail| trail.rise(PLATEAU_WINDOW_S)).map(|rise| rise.ramp.0);
        let face_k_h = steepest.reduce(f64::max)?;
        let boils = (BOILS_C.0..=BOILS_C.1).contains(&rise.mean_c);
        (boils && face_k_h >= FACE_RISES.0 && rise.ramp.0 <= STANDS_SHARE * face_k_h).then_some(Celsius(rise.mean_c))
    }
}
