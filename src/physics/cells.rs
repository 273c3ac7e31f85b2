//! Cells of one layer, a block at a time and number by number: what they hold, what flows between them and what their
//! balances amount to.
//!
//! Each formula is written for one place ([`super::matter`], [`super::flow`]); the loops here run over cells and members
//! at once, each number of a place in a column of its own, so that the compiler turns them into vector instructions whether
//! there is one member or many. Entry `cell * lanes + lane` of a column belongs to a cell and a member.

use super::flow::Flux;
use super::matter::{Carriage, Figures, Grad, OwnLuck, Prepared, Readings, State, Storage, Transport, WaterFigures};
use super::real::pick;
use super::steam::SteamTable;

/// Entries of a block.
pub(super) const BLOCK: usize = 32;
/// Members side by side at most: room for one more cell at the end of a column.
pub(super) const MARGIN: usize = 8;

/// A number of every cell.
pub(super) type Column = [f64; BLOCK];
/// A number of every cell and of the one before or after the block.
pub(super) type Wide = [f64; BLOCK + MARGIN];

/// Values with their slopes.
#[derive(Clone, Debug)]
pub(super) struct Grads<const N: usize> {
    v: [f64; N],
    dt: [f64; N],
    dp: [f64; N],
}

impl<const N: usize> Grads<N> {
    const ZERO: Self = Self { v: [0.0; N], dt: [0.0; N], dp: [0.0; N] };

    #[inline(always)]
    pub(super) fn at(&self, index: usize) -> Grad {
        Grad { v: self.v[index], dt: self.dt[index], dp: self.dp[index] }
    }

    #[inline(always)]
    pub(super) fn set(&mut self, index: usize, grad: &Grad) {
        (self.v[index], self.dt[index], self.dp[index]) = (grad.v, grad.dt, grad.dp);
    }

    /// Copies entries of another block's.
    fn take(&mut self, to: usize, from: &Self, range: std::ops::Range<usize>) {
        for (into, from) in [(&mut self.v, &from.v), (&mut self.dt, &from.dt), (&mut self.dp, &from.dp)] {
            into[to..to + range.len()].copy_from_slice(&from[range.clone()]);
        }
    }
}

/// Flows from the cell before each cell: entry i from the cell before, entry i + lanes to the next.
#[derive(Clone, Debug)]
pub(super) struct Fluxes {
    value: Wide,
    before: (Wide, Wide),
    after: (Wide, Wide),
}

impl Fluxes {
    const ZERO: Self = {
        let zero = [0.0; BLOCK + MARGIN];
        Self { value: zero, before: (zero, zero), after: (zero, zero) }
    };

    #[inline(always)]
    pub(super) fn at(&self, index: usize) -> Flux {
        Flux {
            value: self.value[index],
            before: (self.before.0[index], self.before.1[index]),
            after: (self.after.0[index], self.after.1[index]),
        }
    }

    #[inline(always)]
    pub(super) fn set(&mut self, index: usize, flux: &Flux) {
        self.value[index] = flux.value;
        (self.before.0[index], self.before.1[index]) = flux.before;
        (self.after.0[index], self.after.1[index]) = flux.after;
    }

    /// Takes the first entries of the next block as what flows out of the last cell.
    fn close(&mut self, entries: usize, next: &Self, lanes: usize) {
        let pairs = [
            (&mut self.value, &next.value),
            (&mut self.before.0, &next.before.0),
            (&mut self.before.1, &next.before.1),
            (&mut self.after.0, &next.after.0),
            (&mut self.after.1, &next.after.1),
        ];
        for (into, from) in pairs {
            into[entries..entries + lanes].copy_from_slice(&from[..lanes]);
        }
    }
}

/// 2 by 2 blocks of the linear system: water by temperature, water by pressure, heat by temperature, heat by pressure.
pub(super) type Quads = [Column; 4];

/// Linearised balances of a block's cells.
pub(super) struct Balances {
    /// By the state of the cell before.
    pub before: Quads,
    /// By the cell's own.
    pub own: Quads,
    /// By that of the cell after.
    pub after: Quads,
    /// What is left over: of water and of heat.
    pub residual: [Column; 2],
}

impl Balances {
    /// Room for some.
    pub(super) const ZERO: Self = {
        let zero = [[0.0; BLOCK]; 4];
        Self { before: zero, own: zero, after: zero, residual: [[0.0; BLOCK]; 2] }
    };
}

/// Some cells of one layer that lie side by side.
#[derive(Clone, Debug)]
pub(super) struct Block {
    /// Their layer.
    pub layer: usize,
    /// Row of the first.
    pub first_row: usize,
    /// How many.
    pub cells: usize,
    /// Members side by side.
    pub lanes: usize,
    /// Half of area over length of the way from the cell before.
    pub half_ease_1_m: Column,
    /// Volume per area of hot face, m.
    pub volume_m: Column,
    /// How the members differ: logarithm of permeability, factors on conductivity and sorption exponent.
    pub luck: [Column; 3],
    /// Temperature to linearise about, from the cell before the first on, K.
    pub temp_k: Wide,
    /// Pore pressure, likewise, Pa.
    pub pressure_pa: Wide,
    /// Known amounts: free water, kg/m³, sensible heat, J/m³, fraction of bound water set free.
    pub known: [Column; 3],
    /// Heat of evaporation, J/kg, and its slope by temperature.
    pub latent: [Column; 2],
    /// Release of bound water, fraction per second, and its slope by temperature.
    pub release: [Column; 2],
    /// How full the pores are.
    pub fullness: Grads<BLOCK>,
    /// Sensible heat, J/m³.
    pub heat: Grads<BLOCK>,
    /// Balances without what flows: water and heat.
    pub storing: [Grads<BLOCK>; 2],
    /// Mobility of vapour, from the cell before the first on, s.
    vapour: Grads<{ BLOCK + MARGIN }>,
    /// Mobility of liquid, likewise, s.
    liquid: Grads<{ BLOCK + MARGIN }>,
    /// Conductivity, likewise, W/(m·K).
    conductivity: Grads<{ BLOCK + MARGIN }>,
    /// Flow of vapour, kg/s per area of hot face.
    pub vapour_flow: Fluxes,
    /// Flow of vapour and liquid.
    pub water_flow: Fluxes,
    /// Flow of heat, W per area of hot face, with what the water carries but what evaporation takes, as the cell before gives it.
    pub heat_flow: Fluxes,
    /// How a cell's change follows from that of the cell before, once eliminated.
    pub follow: Quads,
    /// What it changes by if that one does not.
    pub shift: [Column; 2],
    /// Change of temperature and pressure, from the cell before the first on.
    pub change: [Wide; 2],
    /// What leaves through a face, kg/s per area of hot face.
    loss: Grads<BLOCK>,
    /// Flows after the change.
    pub moved: Moved,
    /// Amounts after the change.
    pub carried: Carried,
}

/// Flows after a change, like [`Fluxes`].
#[derive(Clone, Debug)]
pub(super) struct Moved {
    /// As [`Block::vapour_flow`].
    vapour: Wide,
    /// As [`Block::water_flow`].
    water: Wide,
    /// As [`Block::heat_flow`].
    pub heat: Wide,
}

/// Conserved amounts after a change, and what happened to the cells on the way.
#[derive(Clone, Debug)]
pub(super) struct Carried {
    /// Free water, kg/m³.
    pub water: Column,
    /// Sensible heat, J/m³.
    pub heat: Column,
    /// Fraction of bound water set free.
    pub freed: Column,
    /// Heat taken by evaporation, W per area of hot face.
    pub evaporation: Column,
    /// Bound water set free, kg/s per area of hot face.
    pub released: Column,
    /// Heat taken by that, less what that water brings, W per area of hot face.
    pub dehydration: Column,
    /// Fraction of bound water set free since the stage began.
    more: Column,
}

/// What a block needs to know of its wall for a stage: numbers by value, so that no loop need look whether it has just
/// overwritten them.
#[derive(Clone, Copy)]
pub(super) struct Law<'w> {
    /// Curves of the layer's matter.
    pub matter: &'w Prepared,
    /// Steam table.
    pub steam: &'w SteamTable,
    /// Numbers of the layer's matter.
    pub figures: Figures,
    /// Numbers of the water.
    pub water: WaterFigures,
    /// Length of the stage, s.
    pub step_s: f64,
}

impl Block {
    /// A block of `cells` from a row on, of a layer; its numbers are filled in by the system it belongs to.
    pub(super) fn new(layer: usize, first_row: usize, cells: usize, lanes: usize) -> Self {
        let (column, wide) = ([0.0; BLOCK], [0.0; BLOCK + MARGIN]);
        Self {
            layer,
            first_row,
            cells,
            lanes,
            half_ease_1_m: column,
            volume_m: column,
            luck: [column; 3],
            temp_k: wide,
            pressure_pa: wide,
            known: [column; 3],
            latent: [column; 2],
            release: [column; 2],
            fullness: Grads::ZERO,
            heat: Grads::ZERO,
            storing: [Grads::ZERO; 2],
            vapour: Grads::ZERO,
            liquid: Grads::ZERO,
            conductivity: Grads::ZERO,
            vapour_flow: Fluxes::ZERO,
            water_flow: Fluxes::ZERO,
            heat_flow: Fluxes::ZERO,
            follow: [column; 4],
            shift: [column; 2],
            change: [wide; 2],
            loss: Grads::ZERO,
            moved: Moved { vapour: wide, water: wide, heat: wide },
            carried: Carried {
                water: column,
                heat: column,
                freed: column,
                evaporation: column,
                released: column,
                dehydration: column,
                more: column,
            },
        }
    }

    /// Takes a face's state as that of the cell before the first.
    pub(super) fn begin_with(&mut self, temp_k: &[f64], pressure_pa: &[f64]) {
        self.temp_k[..temp_k.len()].copy_from_slice(temp_k);
        self.pressure_pa[..pressure_pa.len()].copy_from_slice(pressure_pa);
    }

    /// Entries in use.
    #[inline(always)]
    pub(super) fn entries(&self) -> usize {
        (self.cells * self.lanes).min(BLOCK)
    }

    /// Entry of the block's own cells in a column that begins with the cell before.
    #[inline(always)]
    fn shift(&self) -> usize {
        self.lanes.min(MARGIN)
    }

    /// A member's luck.
    #[inline(always)]
    pub(super) fn luck_at(&self, entry: usize) -> OwnLuck {
        OwnLuck {
            permeability_ln: self.luck[0][entry],
            conductivity: self.luck[1][entry],
            sorption: self.luck[2][entry],
        }
    }

    /// State of an entry.
    #[inline(always)]
    pub(super) fn state_at(&self, entry: usize) -> State {
        let index = entry + self.shift();
        State { temp_k: self.temp_k[index], pressure_pa: self.pressure_pa[index] }
    }

    /// What an entry lets through.
    pub(super) fn conductivity_at(&self, entry: usize) -> Grad {
        self.conductivity.at(entry + self.shift())
    }

    /// Finds what every cell holds and lets through.
    #[inline(always)]
    pub(super) fn evaluate(&mut self, law: Law<'_>, readings: &mut Readings<BLOCK>) {
        let (n, shift) = (self.entries(), self.shift());
        let Law { figures, water, .. } = law;
        law.matter.read(law.steam, &self.temp_k[shift..shift + n], readings);
        if law.matter.permeable {
            for entry in 0..n {
                let state = State { temp_k: self.temp_k[entry + shift], pressure_pa: self.pressure_pa[entry + shift] };
                let (storage, transport) = figures.wet(&water, &self.luck_at(entry), state, &readings.at(entry));
                self.keep(law, (entry, entry + shift), &storage, &transport);
            }
        } else {
            for entry in 0..n {
                let (storage, transport) = figures.dry(&self.luck_at(entry), &readings.at(entry));
                self.keep(law, (entry, entry + shift), &storage, &transport);
                // No water: its pressure stays.
                self.storing[0].set(entry, &Grad { v: 0.0, dt: 0.0, dp: 1.0 });
            }
        }
    }

    #[inline(always)]
    fn keep(&mut self, law: Law<'_>, (entry, index): (usize, usize), storage: &Storage, transport: &Transport) {
        let matter = law.figures;
        let temp_k = self.temp_k[index];
        let release = release(storage, self.known[2][entry], matter.dehydration_time_s + law.step_s);
        let per_step = self.volume_m[entry] / law.step_s;
        let bound = self.volume_m[entry] * matter.bound_water_kg_m3;
        let cost = matter.dehydration_heat_j_kg - law.water.held(temp_k);
        let (water, heat) = (&storage.water, &storage.heat);
        let balance = Grad {
            v: (water.v - self.known[0][entry]) * per_step - release.0 * bound,
            dt: water.dt * per_step - release.1 * bound,
            dp: water.dp * per_step,
        };
        self.storing[0].set(entry, &balance);
        let balance = Grad {
            v: (heat.v - self.known[1][entry]) * per_step + release.0 * cost * bound,
            dt: heat.dt * per_step + (release.1 * cost - release.0 * law.water.heat_capacity_j_kgk) * bound,
            dp: heat.dp * per_step,
        };
        self.storing[1].set(entry, &balance);
        (self.latent[0][entry], self.latent[1][entry]) = storage.latent;
        (self.release[0][entry], self.release[1][entry]) = release;
        self.loss.set(entry, &Grad::ZERO);
        self.fullness.set(entry, &storage.fullness);
        self.heat.set(entry, heat);
        self.vapour.set(index, &transport.vapour);
        self.liquid.set(index, &transport.liquid);
        self.conductivity.set(index, &transport.conductivity);
    }

    /// Takes over what the last cell of the block before lets through, and its state.
    pub(super) fn follow(&mut self, before: &Self) {
        let (n, lanes) = (before.entries(), self.lanes);
        self.temp_k[..lanes].copy_from_slice(&before.temp_k[n..n + lanes]);
        self.pressure_pa[..lanes].copy_from_slice(&before.pressure_pa[n..n + lanes]);
        self.vapour.take(0, &before.vapour, n..n + lanes);
        self.liquid.take(0, &before.liquid, n..n + lanes);
        self.conductivity.take(0, &before.conductivity, n..n + lanes);
    }

    /// Finds what flows between cells of the layer.
    #[inline(always)]
    pub(super) fn link(&mut self, law: Law<'_>) {
        let (n, shift) = (self.entries(), self.shift());
        for entry in 0..n {
            let (from, to) = (entry, entry + shift);
            let half = self.half_ease_1_m[entry];
            let temps_k = (self.temp_k[from], self.temp_k[to]);
            let fall_pa = self.pressure_pa[from] - self.pressure_pa[to];
            let (one, other) = (self.conductivity.at(from), self.conductivity.at(to));
            let conduction = Flux::conducted(&one, &other, temps_k.0 - temps_k.1, half);
            let vapour = Flux::driven(&self.vapour.at(from), &self.vapour.at(to), fall_pa, half);
            let liquid = Flux::driven(&self.liquid.at(from), &self.liquid.at(to), fall_pa, half);
            self.keep_link(&law.water, entry, temps_k, [&conduction, &vapour, &vapour.plus(&liquid)]);
        }
    }

    /// Keeps what flows from the cell before, or the last but one entry's, into the cell of an entry.
    #[inline(always)]
    pub(super) fn keep_link(
        &mut self,
        water: &WaterFigures,
        entry: usize,
        (t0, t1): (f64, f64),
        [conduction, vapour, total]: [&Flux; 3],
    ) {
        let carried = total.value * water.heat_capacity_j_kgk;
        let (held0, held1) = (water.held(t0), water.held(t1));
        // At the upstream temperature, or at that of the cell before if the water's heat is left out.
        let forward = water.carries_heat == Carriage::LeftOut || total.value > 0.0;
        let by_temp = (pick(forward, carried, 0.0), pick(forward, 0.0, carried));
        let given = total.carrying(pick(forward, held0, held1), by_temp);
        self.vapour_flow.set(entry, vapour);
        self.water_flow.set(entry, total);
        self.heat_flow.set(entry, &conduction.plus(&given));
    }

    /// Takes what flows into the next block's first cell as what flows out of the last one here.
    pub(super) fn close(&mut self, next: &Self) {
        let (n, lanes) = (self.entries(), self.lanes);
        self.vapour_flow.close(n, &next.vapour_flow, lanes);
        self.water_flow.close(n, &next.water_flow, lanes);
        self.heat_flow.close(n, &next.heat_flow, lanes);
    }

    /// Puts the balances together from what is stored and what flows.
    #[inline(always)]
    pub(super) fn assemble(&self, water: &WaterFigures, into: &mut Balances) {
        let (n, shift) = (self.entries(), self.shift());
        // If the water's heat is left out, the cell after gets heat at its own temperature.
        let left_out = pick(water.carries_heat == Carriage::LeftOut, water.heat_capacity_j_kgk, 0.0);
        let Balances { before, own, after, residual } = into;
        for entry in 0..n {
            let next = entry + shift;
            let (latent, slope) = (self.latent[0][entry], self.latent[1][entry]);
            let (water_in, water_out) = (self.water_flow.at(entry), self.water_flow.at(next));
            let (vapour_in, vapour_out) = (self.vapour_flow.at(entry), self.vapour_flow.at(next));
            let rise_k = self.temp_k[next] - self.temp_k[entry];
            let other = water_in.value * left_out;
            let heat_in = self.heat_flow.at(entry).plus(&water_in.carrying(rise_k * left_out, (-other, other)));
            let heat_out = self.heat_flow.at(next);
            let (water, heat) = (self.storing[0].at(entry), self.storing[1].at(entry));
            residual[0][entry] = water.v - water_in.value + water_out.value;
            residual[1][entry] =
                heat.v - (heat_in.value + vapour_in.value * latent) + (heat_out.value + vapour_out.value * latent);
            before[0][entry] = -water_in.before.0;
            before[1][entry] = -water_in.before.1;
            before[2][entry] = -(heat_in.before.0 + vapour_in.before.0 * latent);
            before[3][entry] = -(heat_in.before.1 + vapour_in.before.1 * latent);
            own[0][entry] = water.dt - water_in.after.0 + water_out.before.0;
            own[1][entry] = water.dp - water_in.after.1 + water_out.before.1;
            own[2][entry] = heat.dt - (heat_in.after.0 + vapour_in.after.0 * latent + vapour_in.value * slope)
                + (heat_out.before.0 + vapour_out.before.0 * latent + vapour_out.value * slope);
            own[3][entry] = heat.dp - (heat_in.after.1 + vapour_in.after.1 * latent)
                + (heat_out.before.1 + vapour_out.before.1 * latent);
            after[0][entry] = water_out.after.0;
            after[1][entry] = water_out.after.1;
            after[2][entry] = heat_out.after.0 + vapour_out.after.0 * latent;
            after[3][entry] = heat_out.after.1 + vapour_out.after.1 * latent;
        }
    }

    /// Takes out of a cell what leaves it through a face.
    pub(super) fn lose(&mut self, water: &WaterFigures, entry: usize, loss: &Grad) {
        let (latent, slope) = (self.latent[0][entry], self.latent[1][entry]);
        let with_it = water.held(self.state_at(entry).temp_k) + latent;
        let (mut own_water, mut own_heat) = (self.storing[0].at(entry), self.storing[1].at(entry));
        own_water.v += loss.v;
        own_water.dt += loss.dt;
        own_water.dp += loss.dp;
        own_heat.v += loss.v * with_it;
        own_heat.dt += loss.dt * with_it + loss.v * (slope + water.heat_capacity_j_kgk);
        own_heat.dp += loss.dp * with_it;
        self.storing[0].set(entry, &own_water);
        self.storing[1].set(entry, &own_heat);
        let before = self.loss.at(entry);
        let both = Grad { v: before.v + loss.v, dt: before.dt + loss.dt, dp: before.dp + loss.dp };
        self.loss.set(entry, &both);
    }

    /// Change of temperature and pressure of an entry.
    #[inline(always)]
    pub(super) fn change_at(&self, entry: usize) -> [f64; 2] {
        let index = entry + self.shift();
        [self.change[0][index], self.change[1][index]]
    }

    /// Finds the flows into every cell after the change.
    #[inline(always)]
    pub(super) fn move_all(&mut self) {
        let (n, shift) = (self.entries(), self.shift());
        let [change_k, change_pa] = &self.change;
        for entry in 0..n {
            let next = entry + shift;
            let (before, after) = ((change_k[entry], change_pa[entry]), (change_k[next], change_pa[next]));
            self.moved.vapour[entry] = self.vapour_flow.at(entry).after_change(before, after);
            self.moved.water[entry] = self.water_flow.at(entry).after_change(before, after);
            self.moved.heat[entry] = self.heat_flow.at(entry).after_change(before, after);
        }
    }

    /// Takes what flows into the next block as what flows out of this one.
    pub(super) fn close_moved(&mut self, next: &Self) {
        let (n, lanes) = (self.entries(), self.lanes);
        self.moved.vapour[n..n + lanes].copy_from_slice(&next.moved.vapour[..lanes]);
        self.moved.water[n..n + lanes].copy_from_slice(&next.moved.water[..lanes]);
        self.moved.heat[n..n + lanes].copy_from_slice(&next.moved.heat[..lanes]);
    }

    /// Finds what flows out of the last cell into a face, after the face's change too.
    pub(super) fn move_last(&mut self, face_change_k: &[f64]) {
        let n = self.entries();
        for (lane, &change_k) in face_change_k.iter().enumerate() {
            let [cell_k, cell_pa] = self.change_at(n - self.lanes + lane);
            let heat = self.heat_flow.at(n + lane).after_change((cell_k, cell_pa), (change_k, 0.0));
            self.moved.heat[n + lane] = heat;
        }
    }

    /// Finds the conserved amounts after the change.
    #[inline(always)]
    pub(super) fn carry(&mut self, law: Law<'_>) {
        let (n, shift) = (self.entries(), self.shift());
        let (matter, water) = (law.figures, law.water);
        let counted = water.carries_heat == Carriage::Counted;
        for entry in 0..n {
            let next = entry + shift;
            let (change_k, change_pa) = (self.change[0][next], self.change[1][next]);
            let temp_k = self.temp_k[next];
            let loss = self.loss.at(entry);
            let lost = loss.after(change_k, change_pa);
            let taken_along = lost * water.held(temp_k) + loss.v * change_k * water.heat_capacity_j_kgk;
            // More vapour leaves the cell than comes in.
            let about = self.vapour_flow.at(next).value - self.vapour_flow.at(entry).value + loss.v;
            let after = self.moved.vapour[next] - self.moved.vapour[entry] + lost;
            let evaporation = after * self.latent[0][entry] + about * self.latent[1][entry] * change_k;
            let released = self.release[0][entry] + self.release[1][entry] * change_k;
            let cost = matter.dehydration_heat_j_kg - water.held(temp_k);
            let brought = self.release[0][entry] * change_k * water.heat_capacity_j_kgk;
            let dehydration = (released * cost - brought) * matter.bound_water_kg_m3;
            let volume_m = self.volume_m[entry];
            let gained_water = self.moved.water[entry] - self.moved.water[next] - lost;
            let gained_heat = self.moved.heat[entry] - self.moved.heat[next] - evaporation - taken_along;
            let carried = &mut self.carried;
            let freed_water = released * matter.bound_water_kg_m3;
            carried.water[entry] = self.known[0][entry] + (gained_water / volume_m + freed_water) * law.step_s;
            let heat = self.known[1][entry] + (gained_heat / volume_m - dehydration) * law.step_s;
            carried.heat[entry] = pick(counted, heat, self.heat.at(entry).after(change_k, change_pa));
            carried.more[entry] = released * law.step_s;
            carried.freed[entry] = self.known[2][entry] + released * law.step_s;
            carried.evaporation[entry] = evaporation;
            carried.released[entry] = freed_water * volume_m;
            carried.dehydration[entry] = dehydration * volume_m;
        }
    }

    /// Whether the amounts after the change can be.
    pub(super) fn is_possible(&self) -> bool {
        /// A rounding of the share set free, or of the water of a bone-dry place in kg/m³.
        const HAIR: f64 = 1e-9;
        let Carried { water, freed, more, .. } = &self.carried;
        (0..self.entries()).all(|entry| {
            let impossible = water[entry] < -HAIR || more[entry] < -HAIR || freed[entry] > 1.0 + HAIR;
            !impossible
        })
    }

    /// What of `loss` leaves an entry after the change, kg/s, and the heat it takes along, W, per area of hot face.
    pub(super) fn left_after(&self, water: &WaterFigures, entry: usize, loss: &Grad) -> (f64, f64) {
        let [change_k, change_pa] = self.change_at(entry);
        let lost = loss.after(change_k, change_pa);
        let held = water.held(self.state_at(entry).temp_k);
        (lost, lost * held + loss.v * change_k * water.heat_capacity_j_kgk)
    }
}

/// Release of bound water over an implicit stage, fraction per second, and its slope by temperature.
#[inline(always)]
fn release(storage: &Storage, freed: f64, time_s: f64) -> (f64, f64) {
    let ahead = storage.freed_at_rest.0 - freed;
    let per_time = 1.0 / time_s;
    (pick(ahead > 0.0, ahead * per_time, 0.0), pick(ahead > 0.0, storage.freed_at_rest.1 * per_time, 0.0))
}
