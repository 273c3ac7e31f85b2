//! Advice in sentences, for the card and its page.

use super::{Drying, Dryings, Effect, Effects, Remedy, days, order};
use crate::plan::card::in_units;
use crate::units::Seconds;
use crate::units::quantity::{Shown, UnitSystem};

/// How the hours of advice were found.
pub const SKETCHED: &str = "Searched by the engine, but only sketched: 8 possible linings, coarse cells, not pulse by pulse. So plan \
                            again after a change.";

impl Effects {
    /// One sentence for each change that has a place in the lining: first those worth doing, by the hours they save.
    #[must_use]
    pub fn sentences(&self, units: UnitSystem) -> Vec<String> {
        let (worth, rest): (Vec<&Effect>, Vec<&Effect>) =
            self.effects.iter().partition(|effect| effect.is_worth_it(self.as_it_is));
        let mut sentences: Vec<String> = worth.into_iter().map(|effect| self.worth(effect)).collect();
        if sentences.is_empty() {
            sentences.push("No single change that was tried shortens it by more than the odd minute.".to_owned());
        }
        let rest: Vec<String> = rest.into_iter().map(not_worth).collect();
        if !rest.is_empty() {
            sentences.push(format!("Not worth it for the hours: {}.", rest.join("; ")));
        }
        sentences.push(format!("As it is, {}. {SKETCHED}", hours(self.as_it_is)));
        sentences.iter().map(|words| in_units(words, units)).collect()
    }

    fn worth(&self, effect: &Effect) -> String {
        let saved = Seconds(order(effect.saves));
        let share = 100.0 * saved.0 / self.as_it_is.0;
        let note = if effect.note.is_empty() { String::new() } else { format!(" ({})", effect.note) };
        format!("saves {} ({share:.0} %): {}{note}", hours(saved), effect.change)
    }
}

fn not_worth(effect: &Effect) -> String {
    match effect.saves {
        None => format!("{} (no safe heat-up at all)", effect.change),
        Some(saves) if saves.0 < -360.0 => format!("{} ({} longer)", effect.change, hours(Seconds(-saves.0))),
        Some(saves) if saves.0 > 360.0 => format!("{} ({})", effect.change, hours(saves)),
        Some(_) => format!("{} (nothing)", effect.change),
    }
}

impl Dryings {
    /// One sentence for each way of drying, and then what to do.
    #[must_use]
    pub fn sentences(&self, units: UnitSystem) -> Vec<String> {
        let mut sentences: Vec<String> = Vec::new();
        for ways in self.ways.chunk_by(|a, b| a.how == b.how) {
            let each: Vec<String> = ways.iter().map(|way| Self::way(way, units)).collect();
            sentences.push(format!("{}: {}", ways[0].how, each.join("; ")));
        }
        sentences.push(self.proposal());
        sentences.push(format!(
            "As it is, {} and {} of water in it. {SKETCHED}",
            hours(self.as_it_is),
            self.water.shown(units)
        ));
        sentences.iter().map(|words| in_units(words, units)).collect()
    }

    fn way(way: &Drying, units: UnitSystem) -> String {
        let gone = way.water_gone.shown(units);
        let what = match way.saves {
            None => "no safe heat-up".to_owned(),
            Some(saves) if saves.0.abs() < 360.0 => "saves nothing".to_owned(),
            Some(saves) if saves.0 < 0.0 => format!("{} longer", hours(Seconds(-saves.0))),
            Some(saves) => format!("saves {}", hours(saves)),
        };
        format!("{} {what} ({gone} of water gone)", days(way.time))
    }
}

/// What would make a heat-up possible, a line each; the first is the nearest.
#[must_use]
pub fn remedy_words(remedies: &[Remedy], units: UnitSystem) -> Vec<String> {
    let word = |remedy: &Remedy| {
        let note = if remedy.note.is_empty() { String::new() } else { format!(" ({})", remedy.note) };
        in_units(&format!("{}: then a heat-up of about {}{note}", remedy.change, hours(remedy.length)), units)
    };
    remedies.iter().map(word).collect()
}

/// "4.2 h".
fn hours(span: Seconds) -> String {
    format!("{:.1} h", span.hours())
}
