//! The block-tridiagonal system that a wall's balances make, row by row, eliminated from the cold face to the hot one.

use super::real::Real;

/// The linear system's unknowns or what is left over of its balances: temperature (K) or water first, pressure (Pa) or
/// heat second.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pair<R> {
    /// Temperature or water.
    pub first: R,
    /// Pressure or heat.
    pub second: R,
}

/// A 2 by 2 block of the linear system: water and heat by temperature and pressure.
#[derive(Clone, Copy, Debug)]
pub(super) struct Quad<R> {
    /// Water by temperature.
    pub water_dt: R,
    /// Water by pressure.
    pub water_dp: R,
    /// Heat by temperature.
    pub heat_dt: R,
    /// Heat by pressure.
    pub heat_dp: R,
}

/// A row of the system: the linearised balances of a cell by its own change and those of its neighbours.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row<R> {
    /// By the change of the cell before.
    pub before: Quad<R>,
    /// By the cell's own.
    pub own: Quad<R>,
    /// By that of the cell after.
    pub after: Quad<R>,
    /// What is left over.
    pub residual: Pair<R>,
}

/// How a row's unknowns follow from those of the row before: change = -(shift + follow * change before).
#[derive(Clone, Copy, Debug)]
pub(super) struct Chain<R> {
    /// The factor.
    pub follow: Quad<R>,
    /// What it changes by anyway.
    pub shift: Pair<R>,
}

impl<R: Real> Quad<R> {
    #[inline(always)]
    fn inverse(&self) -> Self {
        let over = (self.water_dt * self.heat_dp - self.water_dp * self.heat_dt).over();
        Self {
            water_dt: self.heat_dp * over,
            water_dp: -(self.water_dp * over),
            heat_dt: -(self.heat_dt * over),
            heat_dp: self.water_dt * over,
        }
    }

    #[inline(always)]
    fn times(&self, right: &Self) -> Self {
        Self {
            water_dt: self.water_dt * right.water_dt + self.water_dp * right.heat_dt,
            water_dp: self.water_dt * right.water_dp + self.water_dp * right.heat_dp,
            heat_dt: self.heat_dt * right.water_dt + self.heat_dp * right.heat_dt,
            heat_dp: self.heat_dt * right.water_dp + self.heat_dp * right.heat_dp,
        }
    }

    #[inline(always)]
    fn apply(&self, to: &Pair<R>) -> Pair<R> {
        Pair {
            first: self.water_dt * to.first + self.water_dp * to.second,
            second: self.heat_dt * to.first + self.heat_dp * to.second,
        }
    }

    #[inline(always)]
    fn less(&self, other: &Self) -> Self {
        Self {
            water_dt: self.water_dt - other.water_dt,
            water_dp: self.water_dp - other.water_dp,
            heat_dt: self.heat_dt - other.heat_dt,
            heat_dp: self.heat_dp - other.heat_dp,
        }
    }
}

impl<R: Real> Chain<R> {
    /// How a face's temperature follows from its cell: its balance leaves `residual` over and changes by `own` with its own
    /// temperature and by `by_cell` with the cell's state.
    #[inline(always)]
    pub(super) fn of_face(residual: R, own: R, by_cell: (R, R)) -> Self {
        let (over, zero) = (own.over(), own.like(0.0));
        Self {
            follow: Quad { water_dt: by_cell.0 * over, water_dp: by_cell.1 * over, heat_dt: zero, heat_dp: zero },
            shift: Pair { first: residual * over, second: zero },
        }
    }

    /// How `row` follows, when the row after follows like this.
    #[inline(always)]
    pub(super) fn eliminate(&self, row: &Row<R>) -> Self {
        let own = row.own.less(&row.after.times(&self.follow));
        let pushed = row.after.apply(&self.shift);
        let residual = Pair { first: row.residual.first - pushed.first, second: row.residual.second - pushed.second };
        let inverse = own.inverse();
        Self { follow: inverse.times(&row.before), shift: inverse.apply(&residual) }
    }

    /// The change, when the row before has changed so.
    #[inline(always)]
    pub(super) fn change_after(&self, before: &Pair<R>) -> Pair<R> {
        let followed = self.follow.apply(before);
        Pair { first: -(self.shift.first + followed.first), second: -(self.shift.second + followed.second) }
    }
}
