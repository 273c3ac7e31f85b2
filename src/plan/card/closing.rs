//! What every card says whatever the plan: when to stop, cautions, signs of trouble, what to do then.

use super::in_units;
use crate::plan::Plan;
use crate::units::quantity::UnitSystem;

/// What turning down asks for (common practice, no source: a slow mixture lets the flame burn back into the tube).
const TURNED_DOWN: &str = "Turned down, look at the flame each time: one that burns back into the burner or lifts off is shut, not \
                           nursed. Between two marks it is turned and not shut.";

/// Headings with their sentences, in `units`. Sources: carbon monoxide, NIOSH REL of 35 ppm with a ceiling of 200 ppm; slow
/// cooling, makers' general sheets; twenty minutes of cool water on a burn, common first-aid teaching (memory); the rest common
/// practice of the trade.
pub fn closing(units: UnitSystem, plan: &Plan) -> Vec<(&'static str, Vec<String>)> {
    let sections: [(&str, &[&str]); 4] = [
        (
            "When to stop",
            &[
                "Done when the last round is through, the deepest probe has left its plateau near 100 °C (110 to 125 °C in dense \
               linings), and cold glass at the opening no longer fogs; else repeat the last round. Then gas off, opening \
               covered, cooling at most 56 K/h. Hairline cracks are meant to form.",
            ],
        ),
        (
            "Before every pulse",
            &[
                "Every pulse is a light-up: door open, nobody in line with the opening, a flame at the burner mouth before \
                 the gas. Hot walls do not light it.",
                "Burns, scalding steam, flying chips: face shield, gloves, clothes that do not melt, nobody alone.",
                "Carbon monoxide has no smell: moving air, a meter that reads; leave at 35 ppm. Soapy water on gas joints. \
                 Fibre and silica dust: P100 respirator, no dry sweeping, no compressed air.",
                "Local codes and licensed practice come before this page. Models such as this one miss measured peak \
                 pressures by 57 to 87 %: margins are kept, and the probes decide.",
            ],
        ),
        (
            "Signs of trouble",
            &[
                "A bang, flakes on the floor, a crack that opens while you watch, a jet of steam: burner off; nobody looks in \
                 before it is cold. Thick steam: burner off until it thins, then go on.",
                "A flame that went out: gas off, wait 5 min, vent, light anew. The pulse counts as not done.",
            ],
        ),
        (
            "Emergency",
            &[
                "Gas off at the cylinder, all out of line with the openings. A smell of gas: light and switch nothing, leave.",
                "Headache, dizziness, nausea: carbon monoxide. All out into fresh air, and call for help.",
                "Burnt skin: cool running water for 20 min; call for help when it blisters or is on face or hands. Never \
                 water on a hot lining.",
            ],
        ),
    ];
    let of = |sentences: &[&str]| sentences.iter().map(|sentence| in_units(sentence, units)).collect();
    let mut told: Vec<(&str, Vec<String>)> =
        sections.into_iter().map(|(heading, sentences)| (heading, of(sentences))).collect();
    if !plan.fires().is_empty() {
        told[1].1.push(TURNED_DOWN.to_owned());
    }
    told
}
