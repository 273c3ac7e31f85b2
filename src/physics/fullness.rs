//! The measure of how full pores are that Newton's method steps in.
//!
//! Where pores are neither empty nor full, the water they hold changes a hundredfold within a few per cent of pressure;
//! where they are full, pressure changes manifold with hardly any water. Newton's method in either pressure or water
//! strays on the other side of the bend. In the sum y = s(h, T) + h of saturation and relative pressure both change at
//! most as fast as y, so it is stepped in y: the linear system is the same whatever is stepped in, only how far to go
//! differs (primary variables are switched so in reservoir engineering; Forsyth, Wu and Pruess, Adv. Water Resources
//! 18, 1995).

use super::matter::{Grad, SorptionLaw};
use super::real::Real;
use super::steam::Saturation;

/// Between these y is no straight line over pressure, empty pores below and full ones above.
pub(super) const BENDS: (f64, f64) = (0.5, 2.1);

/// y at a state, from the saturation there.
#[inline(always)]
pub(super) fn of<R: Real>(saturation: &Grad<R>, pressure_pa: R, steam: &Saturation<R>) -> Grad<R> {
    let per_pressure = steam.pressure.over();
    let h = pressure_pa * per_pressure;
    Grad {
        v: saturation.v + h,
        dt: saturation.dt - h * steam.pressure_slope * per_pressure,
        dp: saturation.dp + per_pressure,
    }
}

/// A cell whose fullness is known and whose pressure is looked for.
pub(super) struct Place<'w> {
    /// Sorption of its layer.
    pub sorption: &'w SorptionLaw,
    /// Its member's factor on the exponent.
    pub factor: f64,
    /// Its temperature, K.
    pub temp_k: f64,
    /// Water at that temperature.
    pub steam: Saturation,
}

impl Place<'_> {
    /// y and its slope by pressure.
    fn fullness(&self, pressure_pa: f64) -> (f64, f64) {
        let saturation = self.sorption.saturation(self.factor, self.temp_k, pressure_pa, &self.steam);
        let y = of(&saturation, pressure_pa, &self.steam);
        (y.v, y.dp)
    }

    /// The pressure at which y is `wanted`, Pa, looked for from `guess_pa`: Newton's method kept within bounds that
    /// close in on it. Good to a ten-thousandth of y, since only the next linearisation starts from it.
    pub(super) fn pressure_pa(&self, wanted: f64, guess_pa: f64) -> f64 {
        /// Looks before the best so far is taken.
        const LOOKS: usize = 60;
        // s is not negative, so h is at most y.
        let (mut low, mut high) = (0.0, wanted * self.steam.pressure);
        let mut pressure_pa = if guess_pa > low && guess_pa < high { guess_pa } else { 0.5 * high };
        for _ in 0..LOOKS {
            let (value, slope) = self.fullness(pressure_pa);
            let over = value - wanted;
            if over.abs() < 1e-4 * wanted {
                break;
            }
            if over > 0.0 {
                high = pressure_pa;
            } else {
                low = pressure_pa;
            }
            let next = pressure_pa - over / slope;
            pressure_pa = if next > low && next < high { next } else { 0.5 * (low + high) };
        }
        pressure_pa
    }
}
