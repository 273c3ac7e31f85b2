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
pub(super) struct Place<'w, R> {
    /// Sorption of its layer.
    pub sorption: &'w SorptionLaw,
    /// Its member's factor on the exponent.
    pub factor: R,
    /// Its temperature, K.
    pub temp_k: R,
    /// Water at that temperature.
    pub steam: Saturation<R>,
}

impl<R: Real> Place<'_, R> {
    /// y and its slope by pressure.
    #[inline(always)]
    fn fullness(&self, pressure_pa: R) -> (R, R) {
        let saturation = self.sorption.saturation(self.factor, self.temp_k, pressure_pa, &self.steam);
        let y = of(&saturation, pressure_pa, &self.steam);
        (y.v, y.dp)
    }

    /// The pressure at which y is `wanted` for the members who are `looking`, Pa, looked for from `guess_pa`: Newton's method
    /// kept within bounds that close in on it. Good to a ten-thousandth of y, since only the next linearisation starts from it.
    #[inline(always)]
    pub(super) fn pressure_pa(&self, wanted: R, guess_pa: R, looking: R::Truth) -> R {
        /// Looks before the best so far is taken.
        const LOOKS: usize = 60;
        let within = |pressure_pa: R, low: R, high: R| R::both(pressure_pa.above(low), pressure_pa.below(high));
        // s is not negative, so h is at most y.
        let (mut low, mut high) = (wanted.like(0.0), wanted * self.steam.pressure);
        let mut pressure_pa = R::pick(within(guess_pa, low, high), guess_pa, high * 0.5);
        let mut looking = looking;
        for _ in 0..LOOKS {
            let (value, slope) = self.fullness(pressure_pa);
            let over = value - wanted;
            looking = R::both(looking, Real::abs(over).above(wanted * 1e-4));
            if !R::any(looking) {
                break;
            }
            let too_high = over.above(over.like(0.0));
            high = R::pick(too_high, pressure_pa, high);
            low = R::pick(too_high, low, pressure_pa);
            let next = pressure_pa - over / slope;
            let next = R::pick(within(next, low, high), next, (low + high) * 0.5);
            pressure_pa = R::pick(looking, next, pressure_pa);
        }
        pressure_pa
    }
}
