//! Balances of water and heat over every node of a wall, linearised, and the block-tridiagonal system they make.
//!
//! Per cell, with `dt` the implicit part of the step (equations in DEVELOPERS.md, "The wall"):
//! water  V (w - w*) / dt + sum of J out - V `w_d` da/dt = 0
//! heat   V (U - U*) / dt + sum of (Q + c J) out + L sum of Jv out + V `w_d` da/dt (dH - c) = 0
//! where starred amounts are known. Contacts and faces are the same with no volume. U holds the water's own heat, so
//! that "C dT/dt + `c_w` J grad T" of the textbook form becomes a conserved amount; upwind in T.

use super::lanes::Lanes;
use super::matter::{Carriage, Grad, Storage, Transport};
use super::wall::{Face, FaceHeat, FaceVapour, Wall, WallLuck, WallState};

/// A 2 by 2 block: water and heat balance by temperature and pressure.
#[derive(Clone, Copy, Debug)]
struct Block<const L: usize> {
    water_dt: Lanes<L>,
    water_dp: Lanes<L>,
    heat_dt: Lanes<L>,
    heat_dp: Lanes<L>,
}

/// A change of state, or the two residuals that ask for it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pair<const L: usize> {
    /// Water residual, or temperature change (K).
    pub first: Lanes<L>,
    /// Heat residual, or pressure change (Pa).
    pub second: Lanes<L>,
}

impl<const L: usize> Block<L> {
    const ZERO: Self =
        Self { water_dt: Lanes::ZERO, water_dp: Lanes::ZERO, heat_dt: Lanes::ZERO, heat_dp: Lanes::ZERO };

    #[inline(always)]
    fn inverse(&self) -> Self {
        let over = Lanes::ONE / (self.water_dt * self.heat_dp - self.water_dp * self.heat_dt);
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
    fn apply(&self, to: &Pair<L>) -> Pair<L> {
        Pair {
            first: self.water_dt * to.first + self.water_dp * to.second,
            second: self.heat_dt * to.first + self.heat_dp * to.second,
        }
    }

    #[inline(always)]
    fn subtract(&mut self, other: &Self) {
        self.water_dt -= other.water_dt;
        self.water_dp -= other.water_dp;
        self.heat_dt -= other.heat_dt;
        self.heat_dp -= other.heat_dp;
    }
}

/// One node's linearised balance.
#[derive(Clone, Copy, Debug)]
struct Row<const L: usize> {
    before: Block<L>,
    own: Block<L>,
    after: Block<L>,
    residual: Pair<L>,
}

impl<const L: usize> Row<L> {
    const EMPTY: Self = Self {
        before: Block::ZERO,
        own: Block::ZERO,
        after: Block::ZERO,
        residual: Pair { first: Lanes::ZERO, second: Lanes::ZERO },
    };
}

/// What a node held at the last linearisation, kept to carry conserved amounts along.
#[derive(Clone, Copy, Debug)]
struct Held<const L: usize> {
    water: Grad<L>,
    heat: Grad<L>,
    latent: (Lanes<L>, Lanes<L>),
    /// Release of bound water, fraction per second, and its slope by temperature.
    release: (Lanes<L>, Lanes<L>),
}

/// Vapour flux through a link at the last linearisation: value, and slopes by the state before and behind it.
#[derive(Clone, Copy, Debug)]
struct VapourFlux<const L: usize> {
    value: Lanes<L>,
    before: (Lanes<L>, Lanes<L>),
    after: (Lanes<L>, Lanes<L>),
}

/// Heat that reaches the hot face from outside, and its slope by the face's temperature.
#[derive(Clone, Copy, Debug)]
pub(super) enum HotHeat<const L: usize> {
    /// A flux, W/m², falling with face temperature.
    Flux {
        /// Its value.
        value: Lanes<L>,
        /// Its slope, W/(m²·K).
        slope: Lanes<L>,
    },
    /// The face has this temperature, K.
    Fixed(Lanes<L>),
}

/// What the surroundings do to a wall during one implicit stage.
#[derive(Clone, Copy, Debug)]
pub(super) struct Surroundings<const L: usize> {
    /// At the hot face.
    pub hot: HotHeat<L>,
    /// How vapour leaves the hot face.
    pub hot_vapour: FaceVapour,
    /// Temperature behind the cold face, K.
    pub cold_k: f64,
}

/// Amounts known before an implicit stage is solved, one per node.
#[derive(Clone, Debug)]
pub(super) struct Known<const L: usize> {
    /// Free water, kg/m³.
    pub water: Vec<Lanes<L>>,
    /// Sensible heat, J/m³.
    pub heat: Vec<Lanes<L>>,
    /// Fraction of bound water set free.
    pub freed: Vec<Lanes<L>>,
}

/// Rates of what crosses a wall's faces and changes inside, per area of hot face.
#[derive(Clone, Copy, Debug)]
pub struct Rates<const L: usize> {
    /// Water leaving the hot face, kg/(m²·s).
    pub hot_water: Lanes<L>,
    /// Water leaving the cold face.
    pub cold_water: Lanes<L>,
    /// Bound water set free.
    pub freed: Lanes<L>,
    /// Heat entering the hot face, less what leaving water carries, W/m².
    pub hot_heat: Lanes<L>,
    /// Heat leaving the cold face, with what leaving water carries.
    pub cold_heat: Lanes<L>,
    /// Heat taken by evaporation.
    pub evaporation: Lanes<L>,
    /// Heat taken by setting bound water free, less the sensible heat that water brings.
    pub dehydration: Lanes<L>,
}

impl<const L: usize> Rates<L> {
    /// Nothing moves.
    pub const ZERO: Self = Self {
        hot_water: Lanes::ZERO,
        cold_water: Lanes::ZERO,
        freed: Lanes::ZERO,
        hot_heat: Lanes::ZERO,
        cold_heat: Lanes::ZERO,
        evaporation: Lanes::ZERO,
        dehydration: Lanes::ZERO,
    };

    /// Adds `other` times `factor`.
    pub fn add(&mut self, other: &Self, factor: f64) {
        self.hot_water += other.hot_water * factor;
        self.cold_water += other.cold_water * factor;
        self.freed += other.freed * factor;
        self.hot_heat += other.hot_heat * factor;
        self.cold_heat += other.cold_heat * factor;
        self.evaporation += other.evaporation * factor;
        self.dehydration += other.dehydration * factor;
    }
}

/// Room to linearise and solve one wall in.
#[derive(Clone, Debug)]
pub(super) struct System<const L: usize> {
    rows: Vec<Row<L>>,
    held: Vec<Held<L>>,
    vapour: Vec<VapourFlux<L>>,
    /// Change of each node, after [`Self::substitute`].
    pub change: Vec<Pair<L>>,
    hot: OpenFace<L>,
    cold: OpenFace<L>,
    /// Node at which the cold side's vapour leaves.
    vent: usize,
}

/// The row of a face before anything crosses the face, and the vapour that then does.
#[derive(Clone, Copy, Debug)]
struct OpenFace<const L: usize> {
    row: Row<L>,
    loss: Grad<L>,
}

impl<const L: usize> System<L> {
    pub(super) fn new(wall: &Wall) -> Self {
        let nodes = wall.mesh.nodes.len();
        let held = Held {
            water: Grad::ZERO,
            heat: Grad::ZERO,
            latent: (Lanes::ZERO, Lanes::ZERO),
            release: (Lanes::ZERO, Lanes::ZERO),
        };
        let flux =
            VapourFlux { value: Lanes::ZERO, before: (Lanes::ZERO, Lanes::ZERO), after: (Lanes::ZERO, Lanes::ZERO) };
        Self {
            rows: vec![Row::EMPTY; nodes],
            held: vec![held; nodes],
            vapour: vec![flux; nodes],
            change: vec![Pair { first: Lanes::ZERO, second: Lanes::ZERO }; nodes],
            hot: OpenFace { row: Row::EMPTY, loss: Grad::ZERO },
            cold: OpenFace { row: Row::EMPTY, loss: Grad::ZERO },
            vent: wall.vent(),
        }
    }

    /// Linearises every balance about `state` for an implicit stage of `step_s`.
    pub(super) fn linearise(
        &mut self,
        wall: &Wall,
        luck: &WallLuck<L>,
        state: &WallState<L>,
        known: &Known<L>,
        step_s: f64,
    ) {
        let last = wall.mesh.nodes.len() - 1;
        let mut behind: Option<Transport<L>> = None;
        for index in 0..=last {
            let (transport_before, transport_after) = self.open_row(wall, luck, state, known, (index, step_s));
            if let Some(from) = behind {
                self.link(wall, state, index - 1, &from, &transport_before);
            }
            behind = Some(transport_after);
        }
    }

    /// Starts the row of a node with what happens in the node itself; gives what it lets through on either side.
    #[inline(always)]
    fn open_row(
        &mut self,
        wall: &Wall,
        luck: &WallLuck<L>,
        state: &WallState<L>,
        known: &Known<L>,
        (index, step_s): (usize, f64),
    ) -> (Transport<L>, Transport<L>) {
        let node = &wall.mesh.nodes[index];
        let (temp_k, pressure_pa) = (state.temp_k[index], state.pressure_pa[index]);
        let at = |layer: usize| wall.layers[layer].at(&wall.spec.water, &luck.layers[layer], temp_k, pressure_pa);
        let mut row = Row::EMPTY;
        if node.is_cell() {
            let layer = &wall.layers[node.layer_before];
            let (storage, transport) = at(node.layer_before);
            let release = release(&storage, known.freed[index], layer.matter.dehydration_time_s + step_s);
            self.held[index] = Held { water: storage.water, heat: storage.heat, latent: storage.latent, release };
            let per_step = node.volume_m / step_s;
            let bound = node.volume_m * layer.matter.bound_water_kg_m3;
            let cost = Lanes::all(layer.matter.dehydration_heat_j_kg) - wall.spec.water.held(temp_k);
            row.residual.first = (storage.water.v - known.water[index]) * per_step - release.0 * bound;
            row.own.water_dt = storage.water.dt * per_step - release.1 * bound;
            row.own.water_dp = storage.water.dp * per_step;
            row.residual.second = (storage.heat.v - known.heat[index]) * per_step + release.0 * cost * bound;
            row.own.heat_dt = storage.heat.dt * per_step
                + (release.1 * cost - release.0 * wall.spec.water.heat_capacity_j_kgk) * bound;
            row.own.heat_dp = storage.heat.dp * per_step;
            if !layer.permeable {
                row.own.water_dp = Lanes::ONE;
            }
            self.rows[index] = row;
            return (transport, transport);
        }
        let (storage_before, before) = at(node.layer_before);
        let (storage_after, after) =
            if node.layer_after == node.layer_before { (storage_before, before) } else { at(node.layer_after) };
        let storage = if wall.wet_layer(index) == node.layer_before { storage_before } else { storage_after };
        self.held[index].latent = storage.latent;
        self.held[index].release = (Lanes::ZERO, Lanes::ZERO);
        if !wall.layers[wall.wet_layer(index)].permeable {
            row.own.water_dp = Lanes::ONE;
        }
        self.rows[index] = row;
        (before, after)
    }

    /// Adds what flows through the link behind node `index` to its row and the next.
    #[inline(always)]
    fn link(&mut self, wall: &Wall, state: &WallState<L>, index: usize, from: &Transport<L>, to: &Transport<L>) {
        let ease = wall.mesh.ease_1_m[index];
        let (t0, t1) = (state.temp_k[index], state.temp_k[index + 1]);
        let fall_k = t0 - t1;
        let half = 0.5 * ease;
        let mean = (from.conductivity.v + to.conductivity.v) * half;
        let conduction = Flux {
            value: mean * fall_k,
            before: (from.conductivity.dt * fall_k * half + mean, from.conductivity.dp * fall_k * half),
            after: (to.conductivity.dt * fall_k * half - mean, to.conductivity.dp * fall_k * half),
        };
        let permeable = wall.layers[wall.mesh.nodes[index].layer_after].permeable;
        let (vapour, total) = if permeable {
            let fall_pa = state.pressure_pa[index] - state.pressure_pa[index + 1];
            let vapour = Flux::driven(&from.vapour, &to.vapour, fall_pa, half);
            let nodes = &wall.mesh.nodes;
            let liquid = if nodes[index].is_cell() && nodes[index + 1].is_cell() {
                Flux::driven(&from.liquid, &to.liquid, fall_pa, half)
            } else {
                Flux::upstream(&from.liquid, &to.liquid, fall_pa, ease)
            };
            (vapour, vapour.plus(&liquid))
        } else {
            (Flux::NONE, Flux::NONE)
        };
        self.vapour[index] = VapourFlux { value: vapour.value, before: vapour.before, after: vapour.after };
        self.add_link(wall, index, (t0, t1), &conduction, &vapour, &total);
    }

    #[inline(always)]
    fn add_link(
        &mut self,
        wall: &Wall,
        index: usize,
        (t0, t1): (Lanes<L>, Lanes<L>),
        conduction: &Flux<L>,
        vapour: &Flux<L>,
        total: &Flux<L>,
    ) {
        let law = &wall.spec.water;
        let c = law.heat_capacity_j_kgk;
        let (held0, held1) = (law.held(t0), law.held(t1));
        // Heat carried out of node 0 and into node 1: at the upstream temperature, or each at its own when left out.
        let (out_heat, out_dt, in_heat, in_dt) = match law.carries_heat {
            Carriage::Counted => {
                let forward = Lanes::ZERO.below(total.value);
                let held = forward.pick(held0, held1);
                let by0 = forward.pick(total.value * c, Lanes::ZERO);
                let by1 = forward.pick(Lanes::ZERO, total.value * c);
                (held, (by0, by1), held, (by0, by1))
            }
            Carriage::LeftOut => (held0, (total.value * c, Lanes::ZERO), held1, (Lanes::ZERO, total.value * c)),
        };
        let (latent0, latent0_dt) = self.held[index].latent;
        let (latent1, latent1_dt) = self.held[index + 1].latent;
        let row = &mut self.rows[index];
        row.residual.first += total.value;
        row.own.water_dt += total.before.0;
        row.own.water_dp += total.before.1;
        row.after.water_dt = total.after.0;
        row.after.water_dp = total.after.1;
        row.residual.second += conduction.value + total.value * out_heat + vapour.value * latent0;
        row.own.heat_dt += conduction.before.0
            + total.before.0 * out_heat
            + out_dt.0
            + vapour.before.0 * latent0
            + vapour.value * latent0_dt;
        row.own.heat_dp += conduction.before.1 + total.before.1 * out_heat + vapour.before.1 * latent0;
        row.after.heat_dt = conduction.after.0 + total.after.0 * out_heat + out_dt.1 + vapour.after.0 * latent0;
        row.after.heat_dp = conduction.after.1 + total.after.1 * out_heat + vapour.after.1 * latent0;
        let row = &mut self.rows[index + 1];
        row.residual.first -= total.value;
        row.before.water_dt = -total.before.0;
        row.before.water_dp = -total.before.1;
        row.own.water_dt -= total.after.0;
        row.own.water_dp -= total.after.1;
        row.residual.second -= conduction.value + total.value * in_heat + vapour.value * latent1;
        row.before.heat_dt = -(conduction.before.0 + total.before.0 * in_heat + in_dt.0 + vapour.before.0 * latent1);
        row.before.heat_dp = -(conduction.before.1 + total.before.1 * in_heat + vapour.before.1 * latent1);
        row.own.heat_dt -= conduction.after.0
            + total.after.0 * in_heat
            + in_dt.1
            + vapour.after.0 * latent1
            + vapour.value * latent1_dt;
        row.own.heat_dp -= conduction.after.1 + total.after.1 * in_heat + vapour.after.1 * latent1;
    }

    /// Adds what crosses the faces.
    pub(super) fn close_faces(
        &mut self,
        wall: &Wall,
        luck: &WallLuck<L>,
        state: &WallState<L>,
        around: &Surroundings<L>,
    ) {
        self.hot.row = self.rows[0];
        self.hot.loss = self.close_vapour(wall, state, 0, around.hot_vapour);
        let row = &mut self.rows[0];
        match around.hot {
            HotHeat::Flux { value, slope } => {
                row.residual.second -= value;
                row.own.heat_dt -= slope;
            }
            HotHeat::Fixed(temp_k) => pin(row, state.temp_k[0] - temp_k),
        }
        let last = wall.mesh.nodes.len() - 1;
        self.cold.row = self.rows[last];
        self.cold.loss = self.close_vapour(wall, state, self.vent, cold_vapour(wall));
        self.close_cold_heat(wall, luck, state, around.cold_k);
    }

    /// Adds the vapour that leaves through a face; gives it per area of hot face.
    fn close_vapour(&mut self, wall: &Wall, state: &WallState<L>, index: usize, vapour: FaceVapour) -> Grad<L> {
        let pressure_pa = state.pressure_pa[index];
        let row = &mut self.rows[index];
        match vapour {
            FaceVapour::Sealed => Grad::ZERO,
            FaceVapour::Fixed(fixed_pa) => {
                row.residual.first = pressure_pa - fixed_pa;
                row.own.water_dt = Lanes::ZERO;
                row.own.water_dp = Lanes::ONE;
                (row.before.water_dt, row.before.water_dp) = (Lanes::ZERO, Lanes::ZERO);
                (row.after.water_dt, row.after.water_dp) = (Lanes::ZERO, Lanes::ZERO);
                Grad::ZERO
            }
            FaceVapour::Leaves { coefficient_s_m, surroundings_pa } => {
                let excess_pa = pressure_pa - surroundings_pa;
                let leaves = Lanes::ZERO.below(excess_pa);
                let loss = Grad {
                    v: leaves.pick(excess_pa * coefficient_s_m, Lanes::ZERO),
                    dt: Lanes::ZERO,
                    dp: leaves.pick(Lanes::all(coefficient_s_m), Lanes::ZERO),
                };
                let (latent, latent_dt) = self.held[index].latent;
                let held = wall.spec.water.held(state.temp_k[index]);
                row.residual.first += loss.v;
                row.own.water_dp += loss.dp;
                row.residual.second += loss.v * (held + latent);
                row.own.heat_dt += loss.v * (latent_dt + wall.spec.water.heat_capacity_j_kgk);
                row.own.heat_dp += loss.dp * (held + latent);
                loss
            }
        }
    }

    fn close_cold_heat(&mut self, wall: &Wall, luck: &WallLuck<L>, state: &WallState<L>, cold_k: f64) {
        let last = wall.mesh.nodes.len() - 1;
        let temp_k = state.temp_k[last];
        match wall.spec.cold.heat {
            FaceHeat::Insulated => {}
            FaceHeat::Fixed => pin(&mut self.rows[last], temp_k - cold_k),
            FaceHeat::Exchange { .. } => {
                let (gain, slope) = exchange(&wall.spec.cold, Lanes::all(cold_k), temp_k);
                let factor = luck.cold_exchange * wall.mesh.cold_area;
                self.rows[last].residual.second -= gain * factor;
                self.rows[last].own.heat_dt -= slope * factor;
            }
        }
    }

    /// Eliminates from the cold face to the hot one. Gives the change of the hot node's temperature were the face's heat
    /// as linearised, and what one more watt per square metre would add to it.
    pub(super) fn eliminate(&mut self) -> (Lanes<L>, Lanes<L>) {
        for index in (1..self.rows.len()).rev() {
            let row = self.rows[index];
            let inverse = row.own.inverse();
            // change = -inverse residual - inverse before * (change before)
            let shift = inverse.apply(&row.residual);
            let follow = inverse.times(&row.before);
            let ahead = &mut self.rows[index - 1];
            let coupling = ahead.after;
            ahead.own.subtract(&coupling.times(&follow));
            let pushed = coupling.apply(&shift);
            ahead.residual.first -= pushed.first;
            ahead.residual.second -= pushed.second;
            self.rows[index].before = follow;
            self.rows[index].residual = shift;
        }
        let inverse = self.rows[0].own.inverse();
        self.rows[0].own = inverse;
        let change = inverse.apply(&self.rows[0].residual);
        self.rows[0].residual = change;
        (-change.first, inverse.water_dp)
    }

    /// Finds every change, the hot face having got `more_heat` W/m² beyond the linearised.
    pub(super) fn substitute(&mut self, more_heat: Lanes<L>) {
        let inverse = self.rows[0].own;
        let shift = self.rows[0].residual;
        self.change[0] = Pair {
            first: inverse.water_dp * more_heat - shift.first,
            second: inverse.heat_dp * more_heat - shift.second,
        };
        for index in 1..self.rows.len() {
            let row = &self.rows[index];
            let followed = row.before.apply(&self.change[index - 1]);
            self.change[index] = Pair {
                first: -(row.residual.first + followed.first),
                second: -(row.residual.second + followed.second),
            };
        }
    }

    /// Conserved amounts after the changes, to first order: they meet the linearised balances exactly.
    pub(super) fn carry(&self, wall: &Wall, known: &Known<L>, step_s: f64, into: &mut WallState<L>) {
        for (index, node) in wall.mesh.nodes.iter().enumerate() {
            if node.is_cell() {
                let (held, change) = (&self.held[index], &self.change[index]);
                into.water_kg_m3[index] = held.water.after(change.first, change.second);
                into.heat_j_m3[index] = held.heat.after(change.first, change.second);
                into.freed[index] = known.freed[index] + (held.release.0 + held.release.1 * change.first) * step_s;
            }
        }
    }

    /// What crossed the faces and changed inside during the stage, to first order like [`Self::carry`].
    pub(super) fn rates(&self, wall: &Wall, state: &WallState<L>) -> Rates<L> {
        let last = self.change.len() - 1;
        let mut rates = Rates::ZERO;
        let into = self.hot.row.after_change(None, &self.change[0], Some(&self.change[1]));
        let out = self.cold.row.after_change(Some(&self.change[last - 1]), &self.change[last], None);
        rates.hot_water = -into.first;
        rates.hot_heat = into.second + self.face_latent(0, &self.hot);
        if self.vent == last {
            rates.cold_water = -out.first;
            rates.cold_heat = -(out.second + self.face_latent(last, &self.cold));
        } else {
            let change = &self.change[self.vent];
            let held = wall.spec.water.held(state.temp_k[self.vent]);
            rates.cold_water = self.cold.loss.after(change.first, change.second);
            rates.cold_heat = rates.cold_water * held
                + self.cold.loss.v * change.first * wall.spec.water.heat_capacity_j_kgk
                - out.second;
        }
        self.add_inner_rates(wall, state, &mut rates);
        rates
    }

    fn face_latent(&self, index: usize, face: &OpenFace<L>) -> Lanes<L> {
        let change = &self.change[index];
        let (latent, slope) = self.held[index].latent;
        face.loss.after(change.first, change.second) * latent + face.loss.v * slope * change.first
    }

    fn add_inner_rates(&self, wall: &Wall, state: &WallState<L>, rates: &mut Rates<L>) {
        let law = &wall.spec.water;
        let last = self.change.len() - 1;
        let at_face = |face: &OpenFace<L>, index: usize| {
            (face.loss.v, face.loss.after(self.change[index].first, self.change[index].second))
        };
        // Vapour through each border of a node: as linearised about, and after the change.
        let leaving = at_face(&self.hot, 0);
        let vented = at_face(&self.cold, self.vent);
        let mut before = (-leaving.0, -leaving.1);
        for (index, node) in wall.mesh.nodes.iter().enumerate() {
            let change = &self.change[index];
            let behind = if index == last {
                (Lanes::ZERO, Lanes::ZERO)
            } else {
                (self.vapour[index].value, self.vapour[index].after_change(change, &self.change[index + 1]))
            };
            let mut out = (behind.0 - before.0, behind.1 - before.1);
            if index == self.vent {
                out = (out.0 + vented.0, out.1 + vented.1);
            }
            let held = &self.held[index];
            rates.evaporation += out.1 * held.latent.0 + out.0 * held.latent.1 * change.first;
            before = behind;
            if node.is_cell() {
                let layer = &wall.layers[node.layer_before].matter;
                let bound = node.volume_m * layer.bound_water_kg_m3;
                let release = held.release.0 + held.release.1 * change.first;
                let cost = Lanes::all(layer.dehydration_heat_j_kg) - law.held(state.temp_k[index]);
                rates.freed += release * bound;
                rates.dehydration += (release * cost - held.release.0 * change.first * law.heat_capacity_j_kgk) * bound;
            }
        }
    }
}

impl<const L: usize> Row<L> {
    /// The residuals after the changes of the node and its neighbours.
    fn after_change(&self, before: Option<&Pair<L>>, own: &Pair<L>, after: Option<&Pair<L>>) -> Pair<L> {
        let mut sum = self.residual;
        let terms = [(&self.before, before), (&self.own, Some(own)), (&self.after, after)];
        for (block, change) in terms.iter().filter_map(|(block, change)| change.map(|change| (block, change))) {
            let added = block.apply(change);
            sum.first += added.first;
            sum.second += added.second;
        }
        sum
    }
}

/// A flux through a link, with its slopes by temperature and pressure of the node before and behind it.
#[derive(Clone, Copy)]
struct Flux<const L: usize> {
    value: Lanes<L>,
    before: (Lanes<L>, Lanes<L>),
    after: (Lanes<L>, Lanes<L>),
}

impl<const L: usize> Flux<L> {
    const NONE: Self =
        Self { value: Lanes::ZERO, before: (Lanes::ZERO, Lanes::ZERO), after: (Lanes::ZERO, Lanes::ZERO) };

    /// Water driven by a fall of pressure through the mean of two mobilities: exact for vapour in steady flow, whose
    /// squared pressure is then linear.
    #[inline(always)]
    fn driven(from: &Grad<L>, to: &Grad<L>, fall_pa: Lanes<L>, half_ease: f64) -> Self {
        let mean = (from.v + to.v) * half_ease;
        let fall = fall_pa * half_ease;
        Self {
            value: mean * fall_pa,
            before: (from.dt * fall, from.dp * fall + mean),
            after: (to.dt * fall, to.dp * fall - mean),
        }
    }

    /// Water driven by a fall of pressure with the mobility of the place it comes from. At contacts, which hold nothing,
    /// it makes the flow in rise and the flow out fall as their pressure falls, whatever the layers: a mean would leave
    /// them several pressures to choose from, or none that Newton's method finds.
    #[inline(always)]
    fn upstream(from: &Grad<L>, to: &Grad<L>, fall_pa: Lanes<L>, ease: f64) -> Self {
        let forward = Lanes::ZERO.below(fall_pa);
        let mobility = forward.pick(from.v, to.v) * ease;
        let fall = fall_pa * ease;
        let of = |grad: Lanes<L>| grad * fall;
        Self {
            value: mobility * fall_pa,
            before: (forward.pick(of(from.dt), Lanes::ZERO), forward.pick(of(from.dp), Lanes::ZERO) + mobility),
            after: (forward.pick(Lanes::ZERO, of(to.dt)), forward.pick(Lanes::ZERO, of(to.dp)) - mobility),
        }
    }

    #[inline(always)]
    fn plus(&self, other: &Self) -> Self {
        Self {
            value: self.value + other.value,
            before: (self.before.0 + other.before.0, self.before.1 + other.before.1),
            after: (self.after.0 + other.after.0, self.after.1 + other.after.1),
        }
    }
}

impl<const L: usize> VapourFlux<L> {
    fn after_change(&self, before: &Pair<L>, after: &Pair<L>) -> Lanes<L> {
        self.value
            + self.before.0 * before.first
            + self.before.1 * before.second
            + self.after.0 * after.first
            + self.after.1 * after.second
    }
}

/// Replaces a node's heat balance by "the temperature is what it should be".
fn pin<const L: usize>(row: &mut Row<L>, off_k: Lanes<L>) {
    row.residual.second = off_k;
    row.own.heat_dt = Lanes::ONE;
    row.own.heat_dp = Lanes::ZERO;
    (row.before.heat_dt, row.before.heat_dp) = (Lanes::ZERO, Lanes::ZERO);
    (row.after.heat_dt, row.after.heat_dp) = (Lanes::ZERO, Lanes::ZERO);
}

/// Release of bound water over an implicit stage, fraction per second, and its slope by temperature.
#[inline(always)]
fn release<const L: usize>(storage: &Storage<L>, freed: Lanes<L>, time_s: f64) -> (Lanes<L>, Lanes<L>) {
    let ahead = storage.freed_at_rest.0 - freed;
    let goes_on = Lanes::ZERO.below(ahead);
    (
        goes_on.pick(ahead * (1.0 / time_s), Lanes::ZERO),
        goes_on.pick(storage.freed_at_rest.1 * (1.0 / time_s), Lanes::ZERO),
    )
}

/// Cold-side vapour, per area of hot face.
fn cold_vapour(wall: &Wall) -> FaceVapour {
    match wall.spec.cold.vapour {
        FaceVapour::Leaves { coefficient_s_m, surroundings_pa } => {
            FaceVapour::Leaves { coefficient_s_m: coefficient_s_m * wall.mesh.cold_area, surroundings_pa }
        }
        other => other,
    }
}

/// Heat that a face at `face_k` gains from surroundings at `around_k`, W/m², and its slope by face temperature.
#[inline(always)]
pub(super) fn exchange<const L: usize>(face: &Face, around_k: Lanes<L>, face_k: Lanes<L>) -> (Lanes<L>, Lanes<L>) {
    match face.heat {
        FaceHeat::Exchange { convection_w_m2k, emissivity } => {
            let radiation = emissivity * STEFAN_BOLTZMANN_W_M2K4;
            let fourth = |t: Lanes<L>| (t * t) * (t * t);
            (
                (around_k - face_k) * convection_w_m2k + (fourth(around_k) - fourth(face_k)) * radiation,
                -(face_k * face_k * face_k * (4.0 * radiation) + convection_w_m2k),
            )
        }
        FaceHeat::Fixed | FaceHeat::Insulated => (Lanes::ZERO, Lanes::ZERO),
    }
}

/// Stefan-Boltzmann constant, W/(m²·K⁴) (CODATA).
pub const STEFAN_BOLTZMANN_W_M2K4: f64 = 5.670_374_419e-8;
