//! What flows from a place to its neighbour or out of a face, with its slopes by the state of both.
//!
//! Between cells of one layer mobilities are averaged. Through a contact of two layers the two halves of the way are
//! resistances in series; what liquid takes of the vapour's way is averaged, and liquid flows as fast as the cell it
//! comes from allows. So a contact is never an unknown of its own, which could have several solutions. The same holds
//! for a face, where the half cell is in series with the exchange outside, and which is free of liquid itself.

use super::elimination::Pair;
use super::matter::{Grad, Ways};
use super::real::Real;
use super::wall::FaceVapour;

/// A flow from one place (before) to the next (after).
#[derive(Clone, Copy, Debug)]
pub(super) struct Flux<R> {
    /// Its value, per area of hot face.
    pub value: R,
    /// Its slopes by temperature and pressure before.
    pub before: (R, R),
    /// Its slopes by temperature and pressure after.
    pub after: (R, R),
}

/// A place as a contact sees it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Side<R> {
    /// What its mobilities are made of.
    pub ways: Ways<R>,
    /// Its pore pressure, Pa.
    pub pressure_pa: R,
    /// Area over length of the way to the contact, 1/m.
    pub ease_1_m: f64,
}

impl<R: Real> Flux<R> {
    /// Nothing flows.
    #[inline(always)]
    pub(super) fn none(like: R) -> Self {
        let zero = like.like(0.0);
        Self { value: zero, before: (zero, zero), after: (zero, zero) }
    }

    /// Water driven by a fall of pressure through the mean of two mobilities. For vapour that is exact in steady flow, whose
    /// squared pressure is then linear.
    #[inline(always)]
    pub(super) fn driven(from: &Grad<R>, to: &Grad<R>, fall_pa: R, half_ease: f64) -> Self {
        let mean = (from.v + to.v) * half_ease;
        let fall = fall_pa * half_ease;
        Self {
            value: mean * fall_pa,
            before: (from.dt * fall, from.dp * fall + mean),
            after: (to.dt * fall, to.dp * fall - mean),
        }
    }

    /// Heat conducted between two cells of one layer.
    #[inline(always)]
    pub(super) fn conducted(from: &Grad<R>, to: &Grad<R>, fall_k: R, half_ease: f64) -> Self {
        let mean = (from.v + to.v) * half_ease;
        let fall = fall_k * half_ease;
        Self {
            value: mean * fall_k,
            before: (from.dt * fall + mean, from.dp * fall),
            after: (to.dt * fall - mean, to.dp * fall),
        }
    }

    /// Heat conducted through a contact.
    #[inline(always)]
    pub(super) fn conducted_across(from: &Grad<R>, to: &Grad<R>, fall_k: R, eases_1_m: [f64; 2]) -> Self {
        let series = Series::of(from.v * eases_1_m[0], to.v * eases_1_m[1]);
        let (first, second) = (series.by_first * fall_k * eases_1_m[0], series.by_second * fall_k * eases_1_m[1]);
        Self {
            value: series.value * fall_k,
            before: (first * from.dt + series.value, first * from.dp),
            after: (second * to.dt - series.value, second * to.dp),
        }
    }

    /// Vapour through a contact: its squared pressure falls linearly in each half.
    #[inline(always)]
    pub(super) fn vapour_across(from: &Side<R>, to: &Side<R>) -> Self {
        let squares = (from.pressure_pa * from.pressure_pa - to.pressure_pa * to.pressure_pa) * 0.5;
        let shares = [from.ways.gas.times(0.5), to.ways.gas.times(0.5)];
        Self::across([from, to], |side| side.ways.steam, shares, (squares, [from.pressure_pa, to.pressure_pa]))
    }

    /// Liquid through a contact.
    #[inline(always)]
    pub(super) fn liquid_across(from: &Side<R>, to: &Side<R>) -> Self {
        let fall_pa = from.pressure_pa - to.pressure_pa;
        let (none, one) = (fall_pa.like(0.0), fall_pa.like(1.0));
        let forward = fall_pa.above(none);
        let [first, second] = [from.ways.liquid, to.ways.liquid];
        let shares = [
            Grad { v: first.v.only(forward), dt: first.dt.only(forward), dp: first.dp.only(forward) },
            Grad {
                v: R::pick(forward, none, second.v),
                dt: R::pick(forward, none, second.dt),
                dp: R::pick(forward, none, second.dp),
            },
        ];
        Self::across([from, to], |side| side.ways.full, shares, (fall_pa, [one; 2]))
    }

    /// Driven by `drive`, whose slopes by the two pressures are `by_pressure` and less `by_pressure`, through two eases in
    /// series and the sum of two shares of both.
    #[inline(always)]
    fn across(
        [from, to]: [&Side<R>; 2],
        ease: impl Fn(&Side<R>) -> (R, R),
        shares: [Grad<R>; 2],
        (drive, by_pressure): (R, [R; 2]),
    ) -> Self {
        let (first, second) = (ease(from), ease(to));
        let series = Series::of(first.0 * from.ease_1_m, second.0 * to.ease_1_m);
        let share = shares[0].v + shares[1].v;
        let (through, driven) = (share * series.value, drive * series.value);
        let shared = share * drive;
        Self {
            value: through * drive,
            before: (
                shares[0].dt * driven + shared * series.by_first * first.1 * from.ease_1_m,
                shares[0].dp * driven + through * by_pressure[0],
            ),
            after: (
                shares[1].dt * driven + shared * series.by_second * second.1 * to.ease_1_m,
                shares[1].dp * driven - through * by_pressure[1],
            ),
        }
    }

    /// The same flow, named from its other end.
    #[inline(always)]
    pub(super) fn reversed(&self) -> Self {
        let minus = |slopes: (R, R)| (-slopes.0, -slopes.1);
        Self { value: -self.value, before: minus(self.after), after: minus(self.before) }
    }

    /// What this flow of water carries when it holds so much heat, J/kg, whose product with the flow has the slopes
    /// `by_temp` by the temperatures before and after.
    #[inline(always)]
    pub(super) fn carrying(&self, held: R, by_temp: (R, R)) -> Self {
        Self {
            value: self.value * held,
            before: (self.before.0 * held + by_temp.0, self.before.1 * held),
            after: (self.after.0 * held + by_temp.1, self.after.1 * held),
        }
    }

    /// The flow after the changes of temperature and pressure at both its ends, to first order.
    #[inline(always)]
    pub(super) fn after_change(&self, before: &Pair<R>, after: &Pair<R>) -> R {
        self.value
            + self.before.0 * before.first
            + self.before.1 * before.second
            + self.after.0 * after.first
            + self.after.1 * after.second
    }

    /// Two flows together.
    #[inline(always)]
    pub(super) fn plus(&self, other: &Self) -> Self {
        Self {
            value: self.value + other.value,
            before: (self.before.0 + other.before.0, self.before.1 + other.before.1),
            after: (self.after.0 + other.after.0, self.after.1 + other.after.1),
        }
    }
}

/// Two eases in series: 1 / (1/x + 1/y), and its slopes by x and y.
struct Series<R> {
    value: R,
    by_first: R,
    by_second: R,
}

impl<R: Real> Series<R> {
    #[inline(always)]
    fn of(x: R, y: R) -> Self {
        let over = (x + y).over();
        let (share_x, share_y) = (x * over, y * over);
        Self { value: x * share_y, by_first: share_y * share_y, by_second: share_x * share_x }
    }
}

/// Water that leaves a cell through a face, as vapour whatever it was in the cell.
#[derive(Clone, Copy, Debug)]
pub(super) struct Outflow<R> {
    /// How much, kg/s per area of hot face, with its slopes by the cell's state.
    pub loss: Grad<R>,
    /// Pressure at the face, Pa.
    pub face_pa: R,
}

impl<R: Real> Outflow<R> {
    /// What leaves `cell` through a face that is `area` times the hot one.
    #[inline(always)]
    pub(super) fn of(cell: &Side<R>, vapour: FaceVapour, area: f64) -> Self {
        match vapour {
            FaceVapour::Sealed => Self { loss: Grad::none(cell.pressure_pa), face_pa: cell.pressure_pa },
            FaceVapour::Fixed(fixed_pa) => Self::towards(&HalfCell::of(cell), cell.pressure_pa.like(fixed_pa)),
            FaceVapour::Leaves { coefficient_s_m, surroundings_pa } => {
                Self::leaving(&HalfCell::of(cell), coefficient_s_m * area, surroundings_pa)
            }
        }
    }

    /// Towards a face of known pressure, or from it.
    #[inline(always)]
    fn towards(cell: &HalfCell<R>, face_pa: R) -> Self {
        let HalfCell { steam, liquid, pressure_pa } = cell;
        let squares = (*pressure_pa * *pressure_pa - face_pa * face_pa) * 0.5;
        let fall_pa = *pressure_pa - face_pa;
        let loss = Grad {
            v: steam.v * squares + liquid.v * fall_pa,
            dt: steam.dt * squares + liquid.dt * fall_pa,
            dp: steam.dp * squares + steam.v * *pressure_pa + liquid.dp * fall_pa + liquid.v,
        };
        Self { loss, face_pa }
    }

    /// Through a face that lets out `coefficient` times what its pressure is above that of the surroundings. The face's
    /// pressure follows from what arrives there, a quadratic equation.
    #[inline(always)]
    fn leaving(cell: &HalfCell<R>, coefficient: f64, surroundings_pa: f64) -> Self {
        let HalfCell { steam, liquid, pressure_pa } = cell;
        let leaves = pressure_pa.above(pressure_pa.like(surroundings_pa));
        let linear = liquid.v + coefficient;
        let half = steam.v * *pressure_pa * *pressure_pa * 0.5;
        let constant = half + liquid.v * *pressure_pa + coefficient * surroundings_pa;
        let root = (linear * linear + steam.v * constant * 2.0).sqrt();
        let face_pa = constant * 2.0 / (linear + root);
        let per_change = (steam.v * face_pa + linear).over();
        let squares = (*pressure_pa * *pressure_pa - face_pa * face_pa) * 0.5;
        let fall_pa = *pressure_pa - face_pa;
        let face_dt = (steam.dt * squares + liquid.dt * fall_pa) * per_change;
        let face_dp = (steam.dp * squares + liquid.dp * fall_pa + steam.v * *pressure_pa + liquid.v) * per_change;
        let if_leaving = |value: R| value.only(leaves);
        let loss = Grad {
            v: if_leaving((face_pa - surroundings_pa) * coefficient),
            dt: if_leaving(face_dt * coefficient),
            dp: if_leaving(face_dp * coefficient),
        };
        Self { loss, face_pa: R::pick(leaves, face_pa, *pressure_pa) }
    }
}

/// The way from a cell's middle to a face.
struct HalfCell<R> {
    /// Ease of vapour per pressure.
    steam: Grad<R>,
    /// Ease of liquid.
    liquid: Grad<R>,
    pressure_pa: R,
}

impl<R: Real> HalfCell<R> {
    #[inline(always)]
    fn of(cell: &Side<R>) -> Self {
        let (steam, slope) = cell.ways.steam;
        let ease = cell.ease_1_m;
        // No liquid is in the way at the face.
        let in_cell = &cell.ways.gas;
        let gas = Grad { v: (in_cell.v + 1.0) * 0.5, dt: in_cell.dt * 0.5, dp: in_cell.dp * 0.5 };
        let liquid = cell.ways.liquid();
        Self {
            steam: Grad {
                v: steam * gas.v * ease,
                dt: (slope * gas.v + steam * gas.dt) * ease,
                dp: steam * gas.dp * ease,
            },
            liquid: Grad { v: liquid.v * ease, dt: liquid.dt * ease, dp: liquid.dp * ease },
            pressure_pa: cell.pressure_pa,
        }
    }
}
