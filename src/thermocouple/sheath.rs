//! How late a sheathed thermocouple shows what it stands in.

use crate::units::{Metres, Seconds};

/// Time constant of a sheathed thermocouple in still air.
///
/// Half of a step shows after 8, 23 and 60 s at 1.5, 3 and 6 mm (makers' general data sheets); between and beyond as a
/// power of the diameter. Embedded tips, which touch something solid, are quicker, but what they touch is so slow that
/// it does not matter.
#[must_use]
pub fn lag(sheath: Metres) -> Seconds {
    const HALF_AT_3_MM_S: f64 = 23.0;
    let steepness = if sheath.mm() < 3.0 { (HALF_AT_3_MM_S / 8.0).log2() } else { (60.0 / HALF_AT_3_MM_S).log2() };
    let half_s = HALF_AT_3_MM_S * (sheath.mm() / 3.0).powf(steepness);
    Seconds(half_s / std::f64::consts::LN_2)
}

/// Part of a pulse of length `on` that a sheathed thermocouple in the gas shows, 0 to 1.
#[must_use]
pub fn shown_of_pulse(sheath: Metres, on: Seconds) -> f64 {
    1.0 - (-on.0 / lag(sheath).0).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Times to 90 % in still air, makers' general data sheets: 25, 80 and 200 s. Only the 50 % times went in.
    #[test]
    fn nine_tenths_of_a_step_show_when_the_data_sheets_say() {
        for (sheath_mm, after_s) in [(1.5, 25.0), (3.0, 80.0), (6.0, 200.0)] {
            let share = shown_of_pulse(Metres::from_mm(sheath_mm), Seconds(after_s));
            assert!((share - 0.9).abs() < 0.02, "{sheath_mm} mm after {after_s} s: {share}");
        }
    }
}
