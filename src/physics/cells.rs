//! One cell of a wall: what it holds, what flows between it and its neighbours, and what its balances amount to.
//!
//! Each formula is written for a [`Real`], one member's or several's.

use super::elimination::{Chain, Pair, Quad, Row};
use super::flow::{Flux, Outflow, Side};
use super::lanes::Lanes;
use super::matter::{Carriage, Figures, Grad, OwnLuck, Place, Prepared, State, WaterFigures};
use super::real::{Members, Real};
use super::steam::SteamTable;
use super::wall::FaceVapour;

/// What a cell needs to know of its wall for a stage.
#[derive(Clone, Copy)]
pub(super) struct Law<'w> {
    /// Its layer's matter.
    pub matter: &'w Prepared,
    /// Steam table.
    pub steam: &'w SteamTable,
    /// Numbers of the water.
    pub water: WaterFigures,
    /// Volume per area of hot face, m.
    pub volume_m: f64,
    /// Length of the stage, s.
    pub step_s: f64,
}

/// Amounts of a cell: free water, kg/m³, sensible heat, J/m³, fraction of bound water set free.
#[derive(Clone, Copy)]
pub(super) struct Amounts<R> {
    /// Free water.
    pub water: R,
    /// Sensible heat.
    pub heat: R,
    /// Set free.
    pub freed: R,
}

/// A cell in a state, linearised about it.
#[derive(Clone, Copy)]
pub(super) struct Cell<R> {
    /// Its state.
    pub state: State<R>,
    place: Place<R>,
    /// Release of bound water, fraction per second, and its slope by temperature.
    release: (R, R),
    /// Balances without what flows: water and heat.
    storing: [Grad<R>; 2],
    /// What leaves through a face, kg/s per area of hot face.
    loss: Grad<R>,
}

/// What flows over a border towards the cold side, per area of hot face.
#[derive(Clone, Copy)]
pub(super) struct Flows<R> {
    /// Vapour, kg/s.
    pub vapour: Flux<R>,
    /// Vapour and liquid, kg/s.
    pub water: Flux<R>,
    /// Heat, W, with what the water carries but what evaporation takes, as the cell before gives it.
    pub heat: Flux<R>,
}

impl<R: Real> Cell<R> {
    /// The cell in a `state`, where it is `known` to have held so much.
    #[inline(always)]
    pub(super) fn at(law: &Law<'_>, luck: &OwnLuck<R>, state: State<R>, known: &Amounts<R>) -> Self {
        let figures: &Figures = &law.matter.figures;
        let place = law.matter.place(law.steam, &law.water, luck, state);
        let zero = known.freed.like(0.0);
        let (rest, rest_slope) = place.storage.freed_at_rest;
        let ahead = rest - known.freed;
        let per_time = 1.0 / (figures.dehydration_time_s + law.step_s);
        let is_ahead = ahead.above(zero);
        let release = ((ahead * per_time).only(is_ahead), (rest_slope * per_time).only(is_ahead));
        let per_step = law.volume_m / law.step_s;
        let bound = law.volume_m * figures.bound_water_kg_m3;
        let cost = known.freed.like(figures.dehydration_heat_j_kg) - law.water.held(state.temp_k);
        let (water, heat) = (&place.storage.water, &place.storage.heat);
        let wet = Grad {
            v: (water.v - known.water) * per_step - release.0 * bound,
            dt: water.dt * per_step - release.1 * bound,
            dp: water.dp * per_step,
        };
        let storing_heat = Grad {
            v: (heat.v - known.heat) * per_step + release.0 * cost * bound,
            dt: heat.dt * per_step + (release.1 * cost - release.0 * law.water.heat_capacity_j_kgk) * bound,
            dp: heat.dp * per_step,
        };
        // Without water a cell's pressure stays.
        let still = Grad { v: zero, dt: zero, dp: zero.like(1.0) };
        let storing = [if law.matter.permeable { wet } else { still }, storing_heat];
        Self { state, place, release, storing, loss: Grad::none(zero) }
    }

    /// The cell as a contact or a face sees it, `ease` away.
    #[inline(always)]
    fn side(&self, ease_1_m: f64) -> Side<R> {
        Side { ways: self.place.ways, pressure_pa: self.state.pressure_pa, ease_1_m }
    }

    /// What flows on to the next cell of the same layer.
    #[inline(always)]
    pub(super) fn flows_to(&self, next: &Self, water: &WaterFigures, half_ease: f64) -> Flows<R> {
        let fall_k = self.state.temp_k - next.state.temp_k;
        let fall_pa = self.state.pressure_pa - next.state.pressure_pa;
        let (from, to) = (&self.place.transport, &next.place.transport);
        let conduction = Flux::conducted(&from.conductivity, &to.conductivity, fall_k, half_ease);
        let vapour = Flux::driven(&from.vapour, &to.vapour, fall_pa, half_ease);
        let liquid = Flux::driven(&from.liquid, &to.liquid, fall_pa, half_ease);
        Flows::of(water, (self.state.temp_k, next.state.temp_k), [&conduction, &vapour, &vapour.plus(&liquid)])
    }

    /// What flows on to the first cell of the next layer; water only where both let it through.
    #[inline(always)]
    pub(super) fn flows_across(
        &self,
        next: &Self,
        water: &WaterFigures,
        (eases, permeable): ([f64; 2], bool),
    ) -> Flows<R> {
        let temps_k = (self.state.temp_k, next.state.temp_k);
        let (from, to) = (&self.place.transport.conductivity, &next.place.transport.conductivity);
        let conduction = Flux::conducted_across(from, to, temps_k.0 - temps_k.1, eases);
        if !permeable {
            return Flows::dry(conduction);
        }
        let (from, to) = (self.side(eases[0]), next.side(eases[1]));
        let vapour = Flux::vapour_across(&from, &to);
        Flows::of(water, temps_k, [&conduction, &vapour, &vapour.plus(&Flux::liquid_across(&from, &to))])
    }

    /// Heat conducted from a face into the cell: the face is as wet as the cell.
    #[inline(always)]
    pub(super) fn heat_from_face(&self, matter: &Prepared, luck: &OwnLuck<R>, face_k: R, ease_1_m: f64) -> Flux<R> {
        let (at_face, in_cell) =
            (matter.dry_conductivity(luck, face_k), matter.dry_conductivity(luck, self.state.temp_k));
        let conductivity = &self.place.transport.conductivity;
        let face = Grad { v: conductivity.v - in_cell.0 + at_face.0, dt: at_face.1, dp: face_k.like(0.0) };
        let cell = Grad { v: conductivity.v, dt: conductivity.dt * 2.0 - in_cell.1, dp: conductivity.dp * 2.0 };
        Flux::conducted(&face, &cell, face_k - self.state.temp_k, 0.5 * ease_1_m)
    }

    /// Takes out of the cell what leaves it through a face `ease` away and `area` times as large as the hot one, as vapour
    /// at the temperature of the cell.
    #[inline(always)]
    pub(super) fn let_out(
        &mut self,
        water: &WaterFigures,
        vapour: FaceVapour,
        (ease_1_m, area): (f64, f64),
    ) -> Outflow<R> {
        let outflow = Outflow::of(&self.side(ease_1_m), vapour, area);
        let loss = &outflow.loss;
        let (latent, slope) = self.place.storage.latent;
        let with_it = water.held(self.state.temp_k) + latent;
        let heat = Grad {
            v: loss.v * with_it,
            dt: loss.dt * with_it + loss.v * (slope + water.heat_capacity_j_kgk),
            dp: loss.dp * with_it,
        };
        self.storing = [self.storing[0].plus(loss), self.storing[1].plus(&heat)];
        self.loss = self.loss.plus(loss);
        outflow
    }

    /// Puts the balances together from what is stored and what flows in and out; `before_k` is the temperature where it
    /// flows in from.
    #[inline(always)]
    pub(super) fn balances(&self, water: &WaterFigures, before_k: R, (into, out): (&Flows<R>, &Flows<R>)) -> Row<R> {
        let (latent, slope) = self.place.storage.latent;
        let mut heat_in = into.heat;
        if water.carries_heat == Carriage::LeftOut {
            // The cell after gets heat at its own temperature.
            let left_out = water.heat_capacity_j_kgk;
            let other = into.water.value * left_out;
            let rise_k = self.state.temp_k - before_k;
            heat_in = heat_in.plus(&into.water.carrying(rise_k * left_out, (-other, other)));
        }
        let heat_out = &out.heat;
        let (vapour_in, vapour_out) = (&into.vapour, &out.vapour);
        let [held_water, held_heat] = &self.storing;
        let heat =
            held_heat.v - (heat_in.value + vapour_in.value * latent) + (heat_out.value + vapour_out.value * latent);
        Row {
            residual: Pair { first: held_water.v - into.water.value + out.water.value, second: heat },
            before: Quad {
                water_dt: -into.water.before.0,
                water_dp: -into.water.before.1,
                heat_dt: -(heat_in.before.0 + vapour_in.before.0 * latent),
                heat_dp: -(heat_in.before.1 + vapour_in.before.1 * latent),
            },
            own: Quad {
                water_dt: held_water.dt - into.water.after.0 + out.water.before.0,
                water_dp: held_water.dp - into.water.after.1 + out.water.before.1,
                heat_dt: held_heat.dt - (heat_in.after.0 + vapour_in.after.0 * latent + vapour_in.value * slope)
                    + (heat_out.before.0 + vapour_out.before.0 * latent + vapour_out.value * slope),
                heat_dp: held_heat.dp - (heat_in.after.1 + vapour_in.after.1 * latent)
                    + (heat_out.before.1 + vapour_out.before.1 * latent),
            },
            after: Quad {
                water_dt: out.water.after.0,
                water_dp: out.water.after.1,
                heat_dt: heat_out.after.0 + vapour_out.after.0 * latent,
                heat_dp: heat_out.after.1 + vapour_out.after.1 * latent,
            },
        }
    }
}

impl<R: Real> Flows<R> {
    /// Heat conducted and nothing else.
    #[inline(always)]
    pub(super) fn dry(conduction: Flux<R>) -> Self {
        let none = Flux::none(conduction.value);
        Self { vapour: none, water: none, heat: conduction }
    }

    /// What flows between places of two temperatures when heat is conducted, vapour flows, and water in `total`.
    #[inline(always)]
    fn of(water: &WaterFigures, (t0, t1): (R, R), [conduction, vapour, total]: [&Flux<R>; 3]) -> Self {
        let carried = total.value * water.heat_capacity_j_kgk;
        let (held0, held1) = (water.held(t0), water.held(t1));
        // At the upstream temperature, or at that of the cell before if the water's heat is left out.
        let given = if water.carries_heat == Carriage::LeftOut {
            total.carrying(held0, (carried, carried.like(0.0)))
        } else {
            let none = carried.like(0.0);
            let forward = total.value.above(none);
            let by_temp = (carried.only(forward), R::pick(forward, none, carried));
            total.carrying(R::pick(forward, held0, held1), by_temp)
        };
        Self { vapour: *vapour, water: *total, heat: conduction.plus(&given) }
    }
}

/// What is kept of a cell from its linearisation until its stage is solved, for all members.
#[derive(Clone, Debug)]
pub(super) struct Kept<const L: usize> {
    /// Heat of evaporation, J/kg, and its slope by temperature.
    latent: [Lanes<L>; 2],
    /// Release of bound water, fraction per second, and its slope by temperature.
    release: [Lanes<L>; 2],
    /// What leaves through a face, kg/s per area of hot face.
    loss: [Lanes<L>; 3],
    /// How full the pores are ([`super::fullness`]).
    fullness: [Lanes<L>; 3],
    /// Sensible heat, J/m³.
    heat: [Lanes<L>; 3],
    /// Flows into the cell from the one before: vapour, water, heat.
    into: [[Lanes<L>; 5]; 3],
    /// How it follows from the cell before: the factors, then the shifts.
    chain: [Lanes<L>; 6],
    /// Change of temperature, K, and pressure, Pa.
    change: [Lanes<L>; 2],
}

#[inline(always)]
fn put_grad<M: Members, const L: usize>(members: M, grad: &Grad<M::Real>, into: &mut [Lanes<L>; 3]) {
    for (lanes, value) in into.iter_mut().zip([grad.v, grad.dt, grad.dp]) {
        members.put(value, lanes);
    }
}

#[inline(always)]
fn grad_of<M: Members, const L: usize>(members: M, [v, dt, dp]: &[Lanes<L>; 3]) -> Grad<M::Real> {
    Grad { v: members.of(v), dt: members.of(dt), dp: members.of(dp) }
}

#[inline(always)]
fn flux_of<M: Members, const L: usize>(members: M, numbers: &[Lanes<L>; 5]) -> Flux<M::Real> {
    let [value, before_dt, before_dp, after_dt, after_dp] = numbers;
    Flux {
        value: members.of(value),
        before: (members.of(before_dt), members.of(before_dp)),
        after: (members.of(after_dt), members.of(after_dp)),
    }
}

impl<const L: usize> Kept<L> {
    /// Nothing yet.
    pub(super) const NONE: Self = {
        let zero = Lanes::ZERO;
        Self {
            latent: [zero; 2],
            release: [zero; 2],
            loss: [zero; 3],
            fullness: [zero; 3],
            heat: [zero; 3],
            into: [[zero; 5]; 3],
            chain: [zero; 6],
            change: [zero; 2],
        }
    };

    /// Keeps what the end of a stage needs of a cell; its heat only if the water's is left out.
    #[inline(always)]
    pub(super) fn keep<M: Members>(
        &mut self,
        members: M,
        cell: &Cell<M::Real>,
        (vents, carries_heat): (bool, Carriage),
    ) {
        let storage = &cell.place.storage;
        for (lanes, value) in self.latent.iter_mut().zip([storage.latent.0, storage.latent.1]) {
            members.put(value, lanes);
        }
        for (lanes, value) in self.release.iter_mut().zip([cell.release.0, cell.release.1]) {
            members.put(value, lanes);
        }
        put_grad(members, &storage.fullness, &mut self.fullness);
        if vents {
            put_grad(members, &cell.loss, &mut self.loss);
        }
        if carries_heat == Carriage::LeftOut {
            put_grad(members, &storage.heat, &mut self.heat);
        }
    }

    /// Keeps what flows into the cell.
    #[inline(always)]
    pub(super) fn keep_flows<M: Members>(&mut self, members: M, flows: &Flows<M::Real>) {
        for (kept, flux) in self.into.iter_mut().zip([&flows.vapour, &flows.water, &flows.heat]) {
            let numbers = [flux.value, flux.before.0, flux.before.1, flux.after.0, flux.after.1];
            for (lanes, value) in kept.iter_mut().zip(numbers) {
                members.put(value, lanes);
            }
        }
    }

    /// Keeps how the cell follows from the one before.
    #[inline(always)]
    pub(super) fn keep_chain<M: Members>(&mut self, members: M, chain: &Chain<M::Real>) {
        let (follow, shift) = (&chain.follow, &chain.shift);
        let numbers = [follow.water_dt, follow.water_dp, follow.heat_dt, follow.heat_dp, shift.first, shift.second];
        for (lanes, value) in self.chain.iter_mut().zip(numbers) {
            members.put(value, lanes);
        }
    }

    /// How the cell follows from the one before, for all members: the factors, then the shifts.
    pub(super) fn chain_lanes(&self) -> &[Lanes<L>; 6] {
        &self.chain
    }

    /// How the cell follows from the one before.
    #[inline(always)]
    pub(super) fn chain<M: Members>(&self, members: M) -> Chain<M::Real> {
        let [water_dt, water_dp, heat_dt, heat_dp, first, second] = &self.chain;
        Chain {
            follow: Quad {
                water_dt: members.of(water_dt),
                water_dp: members.of(water_dp),
                heat_dt: members.of(heat_dt),
                heat_dp: members.of(heat_dp),
            },
            shift: Pair { first: members.of(first), second: members.of(second) },
        }
    }

    /// Keeps the change of the cell.
    #[inline(always)]
    pub(super) fn keep_change<M: Members>(&mut self, members: M, change: &Pair<M::Real>) {
        members.put(change.first, &mut self.change[0]);
        members.put(change.second, &mut self.change[1]);
    }

    /// Change of the cell: temperature, K, and pressure, Pa.
    #[inline(always)]
    pub(super) fn change<M: Members>(&self, members: M) -> Pair<M::Real> {
        Pair { first: members.of(&self.change[0]), second: members.of(&self.change[1]) }
    }

    /// How full the pores are at the linearisation.
    #[inline(always)]
    pub(super) fn fullness<M: Members>(&self, members: M) -> Grad<M::Real> {
        grad_of(members, &self.fullness)
    }

    /// Flows into the cell after the changes before and in it: vapour, water and heat; and that of vapour before them.
    #[inline(always)]
    pub(super) fn moved<M: Members>(
        &self,
        members: M,
        before: &Pair<M::Real>,
        after: &Pair<M::Real>,
    ) -> Moved<M::Real> {
        let [vapour, water, heat] = &self.into;
        Moved {
            vapour_about: members.of(&vapour[0]),
            vapour: flux_of(members, vapour).after_change(before, after),
            water: flux_of(members, water).after_change(before, after),
            heat: flux_of(members, heat).after_change(before, after),
        }
    }

    /// The amounts after the change of the cell at `temp_k` that was `known` to hold so much, and what happened on the way.
    #[inline(always)]
    pub(super) fn carried<M: Members>(
        &self,
        members: M,
        law: &Law<'_>,
        (temp_k, known): (M::Real, &Amounts<M::Real>),
        (into, out): (&Moved<M::Real>, &Moved<M::Real>),
    ) -> Carried<M::Real> {
        let (figures, water) = (&law.matter.figures, &law.water);
        let change = self.change(members);
        let loss = grad_of(members, &self.loss);
        let held = water.held(temp_k);
        let lost = loss.after(change.first, change.second);
        let taken_along = lost * held + loss.v * change.first * water.heat_capacity_j_kgk;
        // More vapour leaves the cell than comes in.
        let about = out.vapour_about - into.vapour_about + loss.v;
        let after = out.vapour - into.vapour + lost;
        let [latent, latent_slope] = [members.of(&self.latent[0]), members.of(&self.latent[1])];
        let evaporation = after * latent + about * latent_slope * change.first;
        let [release, release_slope] = [members.of(&self.release[0]), members.of(&self.release[1])];
        let released = release + release_slope * change.first;
        let cost = held.like(figures.dehydration_heat_j_kg) - held;
        let brought = release * change.first * water.heat_capacity_j_kgk;
        let dehydration = (released * cost - brought) * figures.bound_water_kg_m3;
        let gained_water = into.water - out.water - lost;
        let gained_heat = into.heat - out.heat - evaporation - taken_along;
        let freed_water = released * figures.bound_water_kg_m3;
        let volume_m = held.like(law.volume_m);
        let heat = if water.carries_heat == Carriage::Counted {
            known.heat + (gained_heat / volume_m - dehydration) * law.step_s
        } else {
            grad_of(members, &self.heat).after(change.first, change.second)
        };
        let more = released * law.step_s;
        Carried {
            amounts: Amounts {
                water: known.water + (gained_water / volume_m + freed_water) * law.step_s,
                heat,
                freed: known.freed + more,
            },
            more,
            evaporation,
            released: freed_water * law.volume_m,
            dehydration: dehydration * law.volume_m,
        }
    }
}

/// Flows over a border after a change, and vapour's before it.
#[derive(Clone, Copy)]
pub(super) struct Moved<R> {
    /// Vapour before the change.
    pub vapour_about: R,
    /// Vapour.
    pub vapour: R,
    /// Water.
    pub water: R,
    /// Heat.
    pub heat: R,
}

/// What a cell holds after a change, and what happened to it on the way.
#[derive(Clone, Copy)]
pub(super) struct Carried<R> {
    /// What it holds.
    pub amounts: Amounts<R>,
    /// Fraction of bound water set free since the stage began.
    pub more: R,
    /// Heat taken by evaporation, W per area of hot face.
    pub evaporation: R,
    /// Bound water set free, kg/s per area of hot face.
    pub released: R,
    /// Heat taken by that, less what that water brings, W per area of hot face.
    pub dehydration: R,
}

impl<R: Real> Carried<R> {
    /// Where the amounts cannot be: less than no water, bound water taken back, more set free than there was.
    #[inline(always)]
    pub(super) fn impossible(&self) -> R::Truth {
        /// A rounding of the share set free, or of the water of a bone-dry place in kg/m³.
        const HAIR: f64 = 1e-9;
        let lowest = self.more.like(-HAIR);
        let negative = R::either(self.amounts.water.below(lowest), self.more.below(lowest));
        R::either(negative, self.amounts.freed.above(lowest.like(1.0 + HAIR)))
    }
}
