//! Temperature and pressure of a wall's places: how they follow a step of Newton's method, and where no balance is solved
//! for them.

use super::{LEAST_PRESSURE_PA, Part};
use crate::physics::balance::System;
use crate::physics::fullness::{self, Place};
use crate::physics::matter::{Grad, State};
use crate::physics::mesh::Join;
use crate::physics::real::{Members, Pass, Real, for_all};

impl<const L: usize> Part<L> {
    /// Applies a share of the changes that a system found, held back where Newton's method overshoots.
    pub(super) fn apply(&mut self, system: &System<L>, share: f64) {
        for_all::<L>(&mut Apply { system, part: self, share });
    }

    /// Finds temperature and pressure at the contacts of layers: what flows into one flows out of it.
    pub(super) fn place_contacts(&mut self) {
        for_all::<L>(&mut Contacts { part: self });
    }
}

/// A step of Newton's method at one place.
#[derive(Clone, Copy)]
struct Step<R> {
    was: State<R>,
    change_k: R,
    change_pa: R,
    /// Pressure that it steps to, held back where it overshoots.
    plain_pa: R,
    /// How full the pores are before it and by how much more it would fill them.
    full: R,
    more: R,
}

impl<R: Real> Step<R> {
    /// The step by a change at a place, held back where it overshoots.
    #[inline(always)]
    fn of(was: State<R>, (change_k, change_pa): (R, R), fullness: &Grad<R>) -> Self {
        /// Largest temperature change believed at once, K.
        const LEAP_K: f64 = 100.0;
        let change_k = change_k.within(-LEAP_K, LEAP_K);
        let plain_pa =
            (was.pressure_pa + change_pa).at_least(was.pressure_pa * 0.2).at_most(was.pressure_pa * 4.0 + 2e5);
        let more = fullness.dt * change_k + fullness.dp * change_pa;
        Self { was, change_k, change_pa, plain_pa, full: fullness.v, more }
    }

    /// Temperature after it, K.
    #[inline(always)]
    fn temp_k(&self) -> R {
        (self.was.temp_k + self.change_k).at_least(self.change_k.like(150.0))
    }

    /// How full the pores are wanted to be after it.
    #[inline(always)]
    fn wanted(&self) -> R {
        (self.full + self.more).at_least(self.full * 0.2).at_most(self.full * 4.0 + 0.2)
    }

    /// Whether y ([`fullness`]) bends within it and it is not small.
    #[inline(always)]
    fn bends(&self) -> R::Truth {
        let (full, wanted) = (self.full, self.wanted());
        let above = full.at_least(wanted).above(full.like(fullness::BENDS.0));
        let bends = R::both(above, full.at_most(wanted).below(full.like(fullness::BENDS.1)));
        let far = Real::abs(self.change_pa).above(self.was.pressure_pa * 0.01);
        let hot = Real::abs(self.change_k).above(full.like(0.3));
        let large = R::either(R::either(far, hot), Real::abs(self.more).above(full * 0.03));
        R::both(R::both(bends, large), full.above(full.like(0.0)))
    }
}

/// Applies a share of the changes that a system found to a wall.
struct Apply<'s, const L: usize> {
    system: &'s System<L>,
    part: &'s mut Part<L>,
    share: f64,
}

impl<const L: usize> Pass for Apply<'_, L> {
    #[inline(always)]
    fn pass<M: Members>(&mut self, members: M) {
        let zero = members.all(0.0);
        let faces = [0, self.part.state.temp_k.len() - 1].into_iter().zip(self.system.face_changes_k());
        for (node, change_k) in faces {
            self.step(members, node, (members.of(&change_k), zero), &Grad::none(zero));
        }
        for (node, kept) in self.system.cells() {
            let change = kept.change(members);
            self.step(members, node, (change.first, change.second), &kept.fullness(members));
        }
    }
}

impl<const L: usize> Apply<'_, L> {
    #[inline(always)]
    fn step<M: Members>(
        &mut self,
        members: M,
        node: usize,
        (change_k, change_pa): (M::Real, M::Real),
        fullness: &Grad<M::Real>,
    ) {
        let state = &mut self.part.state;
        let was = State { temp_k: members.of(&state.temp_k[node]), pressure_pa: members.of(&state.pressure_pa[node]) };
        let step = Step::of(was, (change_k * self.share, change_pa * self.share), fullness);
        let least = members.all(LEAST_PRESSURE_PA);
        members.put(step.temp_k(), &mut state.temp_k[node]);
        members.put(step.plain_pa.at_least(least), &mut state.pressure_pa[node]);
        let bends = step.bends();
        if M::Real::any(bends) {
            let bent_pa = self.bent(members, node, &step, bends).at_least(least);
            members.put(bent_pa, &mut self.part.state.pressure_pa[node]);
        }
    }

    /// Pressure of a place after a step of Newton's method: where y bends within it the one stepped to in y, if that is the
    /// shorter step.
    #[inline(always)]
    fn bent<M: Members>(
        &self,
        members: M,
        node: usize,
        step: &Step<M::Real>,
        bends: <M::Real as Real>::Truth,
    ) -> M::Real {
        let Part { wall, luck, .. } = &*self.part;
        let layer = wall.mesh.nodes[node].layer_before;
        let table = &wall.spec.water.steam;
        let place = Place {
            sorption: &wall.layers[layer].figures.sorption,
            factor: members.of(&luck.layers[layer].sorption),
            temp_k: step.temp_k(),
            steam: table.read(step.temp_k()),
        };
        let stepped_pa = place.pressure_pa(step.wanted(), step.plain_pa, bends);
        // Where relative pressure would not change.
        let still_pa = step.was.pressure_pa * place.steam.pressure / table.read(step.was.temp_k).pressure;
        let shorter = Real::abs(stepped_pa - still_pa).below(Real::abs(step.plain_pa - still_pa));
        M::Real::pick(M::Real::both(bends, shorter), stepped_pa, step.plain_pa)
    }
}

/// Finds temperature and pressure at the contacts of a wall's layers.
struct Contacts<'p, const L: usize> {
    part: &'p mut Part<L>,
}

impl<const L: usize> Pass for Contacts<'_, L> {
    #[inline(always)]
    fn pass<M: Members>(&mut self, members: M) {
        let wall = std::sync::Arc::clone(&self.part.wall);
        for (pair, join) in wall.mesh.rows.windows(2).zip(&wall.mesh.joins) {
            let Join::Contact(eases) = *join else { continue };
            let (first, second) = (self.side(members, pair[0], eases[0]), self.side(members, pair[1], eases[1]));
            let contact = pair[0] + 1;
            members.put(first.conducts.mean(&second.conducts), &mut self.part.state.temp_k[contact]);
            let pressure_pa = match (first.permeable, second.permeable) {
                (true, true) => first.lets_through.mean(&second.lets_through),
                (false, true) => second.lets_through.value,
                _ => first.lets_through.value,
            };
            members.put(pressure_pa, &mut self.part.state.pressure_pa[contact]);
        }
    }
}

/// A cell beside a contact.
struct Beside<R> {
    /// Its temperature, and how easily heat gets from it to the contact.
    conducts: Weighed<R>,
    /// Its pressure, and how easily water does.
    lets_through: Weighed<R>,
    permeable: bool,
}

/// A value with its weight.
struct Weighed<R> {
    value: R,
    weight: R,
}

impl<R: Real> Weighed<R> {
    #[inline(always)]
    fn mean(&self, other: &Self) -> R {
        (self.value * self.weight + other.value * other.weight) / (self.weight + other.weight)
    }
}

impl<const L: usize> Contacts<'_, L> {
    #[inline(always)]
    fn side<M: Members>(&self, members: M, node: usize, ease_1_m: f64) -> Beside<M::Real> {
        let Part { wall, luck, state, .. } = &*self.part;
        let layer = wall.mesh.nodes[node].layer_before;
        let state =
            State { temp_k: members.of(&state.temp_k[node]), pressure_pa: members.of(&state.pressure_pa[node]) };
        let (matter, water) = (&wall.layers[layer], &wall.spec.water);
        let transport = matter.place(&water.steam, &water.figures(), &luck.layers[layer].of(members), state).transport;
        let mobility = transport.vapour.v + transport.liquid.v;
        Beside {
            conducts: Weighed { value: state.temp_k, weight: transport.conductivity.v * ease_1_m },
            lets_through: Weighed { value: state.pressure_pa, weight: mobility * ease_1_m },
            permeable: matter.permeable,
        }
    }
}
