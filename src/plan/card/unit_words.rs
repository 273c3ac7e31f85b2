//! Sentences about a plan, which are written in metric units, in the units a person wants.

use crate::units::quantity::{Shown, UnitSystem};
use crate::units::{Celsius, KelvinPerHour, Metres, Pascals};

/// `words` with each number before °C, K/h, mm or MPa turned into `units`. Metric words stay as they are, but for rates,
/// which the trade gives in °C/h.
///
/// # Examples
/// ```
/// use firstheat::plan::card::in_units;
/// use firstheat::units::quantity::UnitSystem;
///
/// assert_eq!(in_units("at most 56 K/h, then wait", UnitSystem::Us), "at most 101 °F/h, then wait");
/// ```
#[must_use]
pub fn in_units(words: &str, units: UnitSystem) -> String {
    if units == UnitSystem::Metric {
        return words.replace(" K/h", " °C/h");
    }
    let tokens: Vec<&str> = words.split(' ').collect();
    let mut turned: Vec<String> = Vec::with_capacity(tokens.len());
    let mut at = 0;
    while at < tokens.len() {
        // A range has its unit only once: "110 to 125 °C".
        let range = tokens.get(at..at + 4).filter(|four| four[1] == "to").and_then(|four| {
            Some(format!(
                "{} to {}",
                number_only(&quantity(four[0], four[3], units)?),
                quantity(four[2], four[3], units)?
            ))
        });
        let single = || tokens.get(at..at + 2).and_then(|two| quantity(two[0], two[1], units));
        let (text, taken) = match range {
            Some(text) => (text, 4),
            None => single().map_or_else(|| (tokens[at].to_owned(), 1), |text| (text, 2)),
        };
        turned.push(text);
        at += taken;
    }
    turned.join(" ")
}

/// A number and its unit, each with what punctuation clings to it, in `units`; `None` when they are no quantity.
fn quantity(number: &str, unit: &str, units: UnitSystem) -> Option<String> {
    let bare = number.trim_start_matches('(');
    let value: f64 = bare.parse().ok()?;
    let name = unit.trim_end_matches([',', ';', '.', ':', ')']);
    let (shown, decimals) = match name {
        "°C" => (Celsius(value).shown(units), 0),
        "K/h" => (KelvinPerHour(value).shown(units), 0),
        "mm" => (Metres::from_mm(value).shown(units), 2),
        "MPa" => (Pascals(value * 1e6).shown(units), 0),
        _ => return None,
    };
    let (figure, shown_unit) = shown.split_once(' ')?;
    let figure: f64 = figure.parse().ok()?;
    Some(format!("{}{figure:.decimals$} {shown_unit}{}", &number[..number.len() - bare.len()], &unit[name.len()..]))
}

fn number_only(shown: &str) -> &str {
    shown.split(' ').next().unwrap_or(shown)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 100 °C = 212 °F and 125 °C = 257 °F by definition; 1 in = 25.4 mm by definition; 1 MPa = 145.038 psi (NIST SP 811).
    #[test]
    fn metric_words_turn_into_us_ones_with_their_punctuation() {
        let words = "plateau (100 to 125 °C); 10 mm deep, steam 1.0 MPa against 2 rounds";
        let turned = "plateau (212 to 257 °F); 0.39 in deep, steam 145 psi against 2 rounds";
        assert_eq!(in_units(words, UnitSystem::Us), turned);
    }

    #[test]
    fn metric_words_stay_as_they_are_but_for_rates() {
        let words = "at 650 °C  the wall may rise 56 K/h";
        assert_eq!(in_units(words, UnitSystem::Metric), "at 650 °C  the wall may rise 56 °C/h");
    }
}
