//! A recorded heat-up in the form in which the wear of a lining is judged.

use super::account::Told;
use super::{burner, channels, dryness};
use crate::ageing::{HeatUp, Notes, Piece};
use crate::reading::Place;

/// Length of a piece, s.
const PIECE_S: f64 = 60.0;

/// The heat-up of a log, from its first flame on. The section is the first whose hot face and shell both have a probe, else the
/// first that has a probe at its hot face, else the first of all.
#[must_use]
pub fn heat_up(told: &Told<'_>, notes: Notes) -> HeatUp {
    let length_s = told.moments.last().map_or(0.0, |moment| moment.input.elapsed.0);
    let burner = burner::account(told, length_s);
    let heard = channels::hear(told, length_s);
    let lining = &told.setup.lining;
    let face = |section: &str| Place::HotFace { section: section.to_owned() };
    let shell = |section: &str| Place::Shell { section: section.to_owned() };
    let has = |place: &Place| told.setup.probes.iter().any(|probe| probe.place == *place);
    let names = || lining.sections.iter().map(|section| section.name.as_str());
    let both = names().position(|name| has(&face(name)) && has(&shell(name)));
    let section = both.or_else(|| names().position(|name| has(&face(name)))).unwrap_or(0);
    let name = names().nth(section).unwrap_or_default();
    let begin_s = burner.pulses.first().map_or(0.0, |pulse| pulse.lit_s);
    let count = ((length_s - begin_s) / PIECE_S).floor().max(0.0) as u32;
    let piece = |index: u32| {
        let (from_s, to_s) = (begin_s + f64::from(index) * PIECE_S, begin_s + f64::from(index + 1) * PIECE_S);
        let mean_c = |place: &Place| heard.first_mean_c(|known| known == place, from_s, to_s).map(|(_, temp_c)| temp_c);
        Piece {
            span_s: PIECE_S,
            on: burner.on_share(from_s, to_s),
            hot_c: mean_c(&face(name)),
            shell_c: mean_c(&shell(name)),
        }
    };
    HeatUp {
        log: told.file.clone(),
        begun: told.begun.clone(),
        lining: lining.clone(),
        section,
        notes,
        start_c: heard.first_c(&face(name)),
        dried: dryness::says_soaked(told),
        pieces: (0..count).map(piece).collect(),
    }
}
