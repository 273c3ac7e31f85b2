//! Balances of water and heat over every node of a wall, linearised, and the block-tridiagonal system they make.
//!
//! Per cell, with `dt` the implicit part of the step (equations in DEVELOPERS.md, "The wall"):
//! water  V (w - w*) / dt + sum of J out - V `w_d` da/dt = 0
//! heat   V (U - U*) / dt + sum of (Q + c J) out + L sum of Jv out + V `w_d` da/dt (dH - c) = 0
//! where starred amounts are known. Faces have a balance of heat alone, with no volume. U holds the water's own heat, so
//! that "C dT/dt + `c_w` J grad T" of the textbook form becomes a conserved amount; upwind in T.

use super::flow::{Flux, Outflow, Side};
use super::lanes::Lanes;
use super::matter::{Carriage, Grad, Storage, Transport};
use super::mesh::Join;
use super::wall::{Face, FaceHeat, Wall, WallLuck, WallState};

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

    /// A face, before heat reaches it. Its pressure follows from that of its cell.
    const FACE: Self = Self { own: Block { water_dp: Lanes::ONE, ..Block::ZERO }, ..Self::EMPTY };
}

/// What a node held at the last linearisation, kept to carry conserved amounts along.
#[derive(Clone, Copy, Debug)]
struct Held<const L: usize> {
    temp_k: Lanes<L>,
    heat: Grad<L>,
    latent: (Lanes<L>, Lanes<L>),
    /// Release of bound water, fraction per second, and its slope by temperature.
    release: (Lanes<L>, Lanes<L>),
    /// How full the pores are.
    fullness: Grad<L>,
}

impl<const L: usize> Held<L> {
    /// Release of bound water after a change of state, fraction per second.
    fn released(&self, change: &Pair<L>) -> Lanes<L> {
        self.release.0 + self.release.1 * change.first
    }
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

/// Room to linearise and solve one wall in. All but the faces' flows are indexed by row.
#[derive(Clone, Debug)]
pub(super) struct System<const L: usize> {
    rows: Vec<Row<L>>,
    held: Vec<Held<L>>,
    /// Vapour from each row to the next.
    vapour: Vec<Flux<L>>,
    /// Water from each row to the next, vapour and liquid.
    water: Vec<Flux<L>>,
    /// Change of each row, after [`Self::substitute`].
    pub change: Vec<Pair<L>>,
    /// Heat from each row to the next, with what the water carries but what evaporation takes.
    heat: Vec<Flux<L>>,
    /// Water that leaves through the hot face and on the cold side.
    outflow: [Outflow<L>; 2],
    /// Rows from which they leave.
    leave_from: [Option<usize>; 2],
}

impl<const L: usize> System<L> {
    pub(super) fn new(wall: &Wall) -> Self {
        let rows = wall.mesh.rows.len();
        let held = Held {
            temp_k: Lanes::ZERO,
            heat: Grad::ZERO,
            latent: (Lanes::ZERO, Lanes::ZERO),
            release: (Lanes::ZERO, Lanes::ZERO),
            fullness: Grad::ZERO,
        };
        Self {
            rows: vec![Row::EMPTY; rows],
            held: vec![held; rows],
            vapour: vec![Flux::NONE; rows - 1],
            water: vec![Flux::NONE; rows - 1],
            change: vec![Pair { first: Lanes::ZERO, second: Lanes::ZERO }; rows],
            heat: vec![Flux::NONE; rows - 1],
            outflow: [Outflow { loss: Grad::ZERO, face_pa: Lanes::ONE }; 2],
            leave_from: [wall.layers[0].permeable.then_some(1), wall.vent()],
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
        let last = self.rows.len() - 1;
        self.rows[0] = Row::FACE;
        self.rows[last] = Row::FACE;
        let mut before = None;
        for row in 1..last {
            let transport = self.open_row(wall, luck, state, known, (row, step_s));
            match (&before, wall.mesh.joins[row - 1]) {
                (Some(before), Join::Inside(ease)) => {
                    self.link_inside(wall, state, row - 1, [before, &transport], ease);
                }
                (Some(before), Join::Contact(eases)) => {
                    self.link_contact(wall, luck, state, row - 1, [before, &transport], eases);
                }
                _ => self.link_hot_face(wall, luck, state, &transport),
            }
            before = Some(transport);
        }
        if let Some(transport) = before {
            self.link_cold_face(wall, luck, state, &transport);
        }
        self.let_water_out(wall, luck, state);
    }

    /// Starts the row of a cell with what happens in the cell itself; gives what it lets through.
    #[inline(always)]
    fn open_row(
        &mut self,
        wall: &Wall,
        luck: &WallLuck<L>,
        state: &WallState<L>,
        known: &Known<L>,
        (index, step_s): (usize, f64),
    ) -> Transport<L> {
        let place = wall.mesh.rows[index];
        let node = &wall.mesh.nodes[place];
        let (temp_k, pressure_pa) = (state.temp_k[place], state.pressure_pa[place]);
        let layer = &wall.layers[node.layer_before];
        let luck = &luck.layers[node.layer_before];
        let (storage, transport) = layer.at(&wall.spec.water, luck, temp_k, pressure_pa);
        let release = release(&storage, known.freed[place], layer.matter.dehydration_time_s + step_s);
        self.held[index] =
            Held { temp_k, heat: storage.heat, latent: storage.latent, release, fullness: storage.fullness };
        let per_step = node.volume_m / step_s;
        let bound = node.volume_m * layer.matter.bound_water_kg_m3;
        let cost = Lanes::all(layer.matter.dehydration_heat_j_kg) - wall.spec.water.held(temp_k);
        let row = &mut self.rows[index];
        *row = Row::EMPTY;
        row.residual.first = (storage.water.v - known.water[place]) * per_step - release.0 * bound;
        row.own.water_dt = storage.water.dt * per_step - release.1 * bound;
        row.own.water_dp = storage.water.dp * per_step;
        row.residual.second = (storage.heat.v - known.heat[place]) * per_step + release.0 * cost * bound;
        row.own.heat_dt =
            storage.heat.dt * per_step + (release.1 * cost - release.0 * wall.spec.water.heat_capacity_j_kgk) * bound;
        row.own.heat_dp = storage.heat.dp * per_step;
        if !layer.permeable {
            row.own.water_dp = Lanes::ONE;
        }
        transport
    }

    /// Adds what flows between row `index` and the next, two cells of one layer.
    #[inline(always)]
    fn link_inside(
        &mut self,
        wall: &Wall,
        state: &WallState<L>,
        index: usize,
        [from, to]: [&Transport<L>; 2],
        ease: f64,
    ) {
        let (before, after) = (wall.mesh.rows[index], wall.mesh.rows[index + 1]);
        let temps = (state.temp_k[before], state.temp_k[after]);
        let half = 0.5 * ease;
        let conduction = Flux::conducted(&from.conductivity, &to.conductivity, temps.0 - temps.1, half);
        let (vapour, total) = if wall.layers[wall.mesh.nodes[before].layer_before].permeable {
            let fall_pa = state.pressure_pa[before] - state.pressure_pa[after];
            let vapour = Flux::driven(&from.vapour, &to.vapour, fall_pa, half);
            (vapour, vapour.plus(&Flux::driven(&from.liquid, &to.liquid, fall_pa, half)))
        } else {
            (Flux::NONE, Flux::NONE)
        };
        self.add_link(wall, index, temps, &conduction, &vapour, &total);
    }

    /// Adds what flows between row `index` and the next through a contact of two layers.
    fn link_contact(
        &mut self,
        wall: &Wall,
        luck: &WallLuck<L>,
        state: &WallState<L>,
        index: usize,
        [from, to]: [&Transport<L>; 2],
        eases: [f64; 2],
    ) {
        let (before, after) = (wall.mesh.rows[index], wall.mesh.rows[index + 1]);
        let temps = (state.temp_k[before], state.temp_k[after]);
        let conduction = Flux::conducted_across(&from.conductivity, &to.conductivity, temps.0 - temps.1, eases);
        let permeable = |place: usize| wall.layers[wall.mesh.nodes[place].layer_before].permeable;
        let (vapour, total) = if permeable(before) && permeable(after) {
            let from = side(wall, luck, state, before, eases[0]);
            let to = side(wall, luck, state, after, eases[1]);
            let vapour = Flux::vapour_across(&from, &to);
            (vapour, vapour.plus(&Flux::liquid_across(&from, &to)))
        } else {
            (Flux::NONE, Flux::NONE)
        };
        self.add_link(wall, index, temps, &conduction, &vapour, &total);
    }

    fn link_hot_face(&mut self, wall: &Wall, luck: &WallLuck<L>, state: &WallState<L>, cell: &Transport<L>) {
        let heat = face_conduction(wall, luck, state, (0, wall.mesh.rows[1]), cell, wall.mesh.joins[0]);
        let temps = (state.temp_k[0], state.temp_k[1]);
        self.add_link(wall, 0, temps, &heat, &Flux::NONE, &Flux::NONE);
    }

    fn link_cold_face(&mut self, wall: &Wall, luck: &WallLuck<L>, state: &WallState<L>, cell: &Transport<L>) {
        let last = self.rows.len() - 1;
        let (from, face) = (wall.mesh.rows[last - 1], wall.mesh.rows[last]);
        let heat = face_conduction(wall, luck, state, (face, from), cell, wall.mesh.joins[last - 1]).reversed();
        let temps = (state.temp_k[from], state.temp_k[face]);
        self.add_link(wall, last - 1, temps, &heat, &Flux::NONE, &Flux::NONE);
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
        let carried_c = total.value * law.heat_capacity_j_kgk;
        let (held0, held1) = (law.held(t0), law.held(t1));
        // Heat out of the row before and into the row after: at the upstream temperature, or each at its own if the
        // water's heat is left out.
        let (out, into) = match law.carries_heat {
            Carriage::Counted => {
                let forward = Lanes::ZERO.below(total.value);
                let by = (forward.pick(carried_c, Lanes::ZERO), forward.pick(Lanes::ZERO, carried_c));
                let heat = conduction.plus(&total.carrying(forward.pick(held0, held1), by));
                (heat, heat)
            }
            Carriage::LeftOut => (
                conduction.plus(&total.carrying(held0, (carried_c, Lanes::ZERO))),
                conduction.plus(&total.carrying(held1, (Lanes::ZERO, carried_c))),
            ),
        };
        self.vapour[index] = *vapour;
        self.water[index] = *total;
        self.heat[index] = out;
        let (latent0, latent0_dt) = self.held[index].latent;
        let (latent1, latent1_dt) = self.held[index + 1].latent;
        let row = &mut self.rows[index];
        row.residual.first += total.value;
        row.own.water_dt += total.before.0;
        row.own.water_dp += total.before.1;
        row.after.water_dt = total.after.0;
        row.after.water_dp = total.after.1;
        row.residual.second += out.value + vapour.value * latent0;
        row.own.heat_dt += out.before.0 + vapour.before.0 * latent0 + vapour.value * latent0_dt;
        row.own.heat_dp += out.before.1 + vapour.before.1 * latent0;
        row.after.heat_dt = out.after.0 + vapour.after.0 * latent0;
        row.after.heat_dp = out.after.1 + vapour.after.1 * latent0;
        let row = &mut self.rows[index + 1];
        row.residual.first -= total.value;
        row.before.water_dt = -total.before.0;
        row.before.water_dp = -total.before.1;
        row.own.water_dt -= total.after.0;
        row.own.water_dp -= total.after.1;
        row.residual.second -= into.value + vapour.value * latent1;
        row.before.heat_dt = -(into.before.0 + vapour.before.0 * latent1);
        row.before.heat_dp = -(into.before.1 + vapour.before.1 * latent1);
        row.own.heat_dt -= into.after.0 + vapour.after.0 * latent1 + vapour.value * latent1_dt;
        row.own.heat_dp -= into.after.1 + vapour.after.1 * latent1;
    }

    /// Takes out of the outermost cells that let water through what leaves through the faces: vapour, at the temperature
    /// of the cell.
    fn let_water_out(&mut self, wall: &Wall, luck: &WallLuck<L>, state: &WallState<L>) {
        for (which, row) in self.leave_from.into_iter().enumerate() {
            let Some(row) = row else { continue };
            let (join, vapour, area) = if which == 0 {
                (wall.mesh.joins[0], wall.spec.hot.vapour, 1.0)
            } else {
                (wall.mesh.joins[row], wall.spec.cold.vapour, wall.mesh.cold_area)
            };
            let ease = match join {
                Join::Face(ease) | Join::Inside(ease) | Join::Contact([ease, _]) => ease,
            };
            let outflow = Outflow::of(&side(wall, luck, state, wall.mesh.rows[row], ease), vapour, area);
            let loss = &outflow.loss;
            let (latent, latent_dt) = self.held[row].latent;
            let with_it = wall.spec.water.held(state.temp_k[wall.mesh.rows[row]]) + latent;
            let row = &mut self.rows[row];
            row.residual.first += loss.v;
            row.own.water_dt += loss.dt;
            row.own.water_dp += loss.dp;
            row.residual.second += loss.v * with_it;
            row.own.heat_dt += loss.dt * with_it + loss.v * (latent_dt + wall.spec.water.heat_capacity_j_kgk);
            row.own.heat_dp += loss.dp * with_it;
            self.outflow[which] = outflow;
        }
    }

    /// Adds the heat that crosses the faces.
    pub(super) fn close_faces(
        &mut self,
        wall: &Wall,
        luck: &WallLuck<L>,
        state: &WallState<L>,
        around: &Surroundings<L>,
    ) {
        let row = &mut self.rows[0];
        match around.hot {
            HotHeat::Flux { value, slope } => {
                row.residual.second -= value;
                row.own.heat_dt -= slope;
            }
            HotHeat::Fixed(temp_k) => pin(row, state.temp_k[0] - temp_k),
        }
        self.close_cold_heat(wall, luck, state, around.cold_k);
    }

    fn close_cold_heat(&mut self, wall: &Wall, luck: &WallLuck<L>, state: &WallState<L>, cold_k: f64) {
        let last = self.rows.len() - 1;
        let temp_k = state.temp_k[wall.mesh.rows[last]];
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

    /// How full the pores of a row were at the last linearisation ([`super::fullness`]).
    pub(super) fn fullness(&self, row: usize) -> &Grad<L> {
        &self.held[row].fullness
    }

    /// Pressures at the hot face and where vapour leaves the cold side, at the last linearisation, Pa.
    pub(super) fn face_pressures_pa(&self) -> [Lanes<L>; 2] {
        [self.outflow[0].face_pa, self.outflow[1].face_pa]
    }

    /// Conserved amounts after the changes, to first order: what was there and what came over the borders, each border's
    /// flow counted once for both its sides. None is lost, however the equations were solved.
    pub(super) fn carry(&self, wall: &Wall, known: &Known<L>, step_s: f64, into: &mut WallState<L>) {
        for row in 1..self.rows.len() - 1 {
            let place = wall.mesh.rows[row];
            let (held, change) = (&self.held[row], &self.change[row]);
            into.water_kg_m3[place] = self.water_after(wall, known, step_s, row);
            into.heat_j_m3[place] = match wall.spec.water.carries_heat {
                Carriage::Counted => self.heat_after(wall, known, step_s, row),
                Carriage::LeftOut => held.heat.after(change.first, change.second),
            };
            into.freed[place] = known.freed[place] + held.released(change) * step_s;
        }
    }

    /// Free water of a row after the changes, kg/m³.
    fn water_after(&self, wall: &Wall, known: &Known<L>, step_s: f64, row: usize) -> Lanes<L> {
        let place = wall.mesh.rows[row];
        let node = &wall.mesh.nodes[place];
        let flow = |link: usize| self.water[link].after_change(&self.change[link], &self.change[link + 1]);
        let change = &self.change[row];
        let mut gained = flow(row - 1) - flow(row);
        for which in self.outflows_of(row) {
            gained -= self.outflow[which].loss.after(change.first, change.second);
        }
        let bound = wall.layers[node.layer_before].matter.bound_water_kg_m3;
        known.water[place] + (gained * (1.0 / node.volume_m) + self.held[row].released(change) * bound) * step_s
    }

    /// Sensible heat of a row after the changes, J/m³.
    fn heat_after(&self, wall: &Wall, known: &Known<L>, step_s: f64, row: usize) -> Lanes<L> {
        let place = wall.mesh.rows[row];
        let node = &wall.mesh.nodes[place];
        let flow = |link: usize| self.heat[link].after_change(&self.change[link], &self.change[link + 1]);
        let mut gained = flow(row - 1) - flow(row) - self.evaporation(row);
        for which in self.outflows_of(row) {
            gained -= self.carried_out(wall, which, row);
        }
        let per_volume = gained * (1.0 / node.volume_m) - self.dehydration(wall, row);
        known.heat[place] + per_volume * step_s
    }

    /// Which of the two outflows leave from a row.
    fn outflows_of(&self, row: usize) -> impl Iterator<Item = usize> {
        let leave_from = self.leave_from;
        (0..leave_from.len()).filter(move |&which| leave_from[which] == Some(row))
    }

    /// Whether the changes leave no cell with less than no water, take no bound water back, and set no more free than
    /// there was.
    pub(super) fn is_possible(&self, wall: &Wall, known: &Known<L>, step_s: f64) -> bool {
        /// A rounding of the share set free, or of the water of a bone-dry place in kg/m³.
        const HAIR: f64 = 1e-9;
        (1..self.rows.len() - 1).all(|row| {
            let rate = self.held[row].released(&self.change[row]);
            let more = rate * step_s;
            let freed = known.freed[wall.mesh.rows[row]] + more;
            let water = self.water_after(wall, known, step_s, row);
            !water.below(Lanes::all(-HAIR)).any()
                && !more.below(Lanes::all(-HAIR)).any()
                && !Lanes::all(1.0 + HAIR).below(freed).any()
        })
    }

    /// What crossed the faces and changed inside during the stage, to first order like [`Self::carry`].
    pub(super) fn rates(&self, wall: &Wall) -> Rates<L> {
        let last = self.change.len() - 1;
        let mut rates = Rates::ZERO;
        rates.hot_heat = self.heat[0].after_change(&self.change[0], &self.change[1]);
        rates.cold_heat = self.heat[last - 1].after_change(&self.change[last - 1], &self.change[last]);
        for row in 1..last {
            let change = &self.change[row];
            for which in self.outflows_of(row) {
                let water = self.outflow[which].loss.after(change.first, change.second);
                let heat = self.carried_out(wall, which, row);
                if which == 0 {
                    rates.hot_water = water;
                    rates.hot_heat -= heat;
                } else {
                    rates.cold_water = water;
                    rates.cold_heat += heat;
                }
            }
            let node = &wall.mesh.nodes[wall.mesh.rows[row]];
            let bound_kg_m2 = wall.layers[node.layer_before].matter.bound_water_kg_m3 * node.volume_m;
            rates.evaporation += self.evaporation(row);
            rates.freed += self.held[row].released(change) * bound_kg_m2;
            rates.dehydration += self.dehydration(wall, row) * node.volume_m;
        }
        rates
    }

    /// Heat that the water leaving a row through a face takes along, W per area of hot face.
    fn carried_out(&self, wall: &Wall, which: usize, row: usize) -> Lanes<L> {
        let (loss, change) = (&self.outflow[which].loss, &self.change[row]);
        let law = &wall.spec.water;
        loss.after(change.first, change.second) * law.held(self.held[row].temp_k)
            + loss.v * change.first * law.heat_capacity_j_kgk
    }

    /// Heat that evaporation takes from a row, W per area of hot face: more vapour leaves it than comes in.
    fn evaporation(&self, row: usize) -> Lanes<L> {
        let change = &self.change[row];
        let flow = |link: usize| self.vapour[link].after_change(&self.change[link], &self.change[link + 1]);
        let mut about = self.vapour[row].value - self.vapour[row - 1].value;
        let mut after = flow(row) - flow(row - 1);
        for which in self.outflows_of(row) {
            let loss = &self.outflow[which].loss;
            about += loss.v;
            after += loss.after(change.first, change.second);
        }
        let (latent, slope) = self.held[row].latent;
        after * latent + about * slope * change.first
    }

    /// Heat that setting bound water free takes, less what that water brings, W/m³.
    fn dehydration(&self, wall: &Wall, row: usize) -> Lanes<L> {
        let (held, change) = (&self.held[row], &self.change[row]);
        let matter = &wall.layers[wall.mesh.nodes[wall.mesh.rows[row]].layer_before].matter;
        let law = &wall.spec.water;
        let cost = Lanes::all(matter.dehydration_heat_j_kg) - law.held(held.temp_k);
        let brought = held.release.0 * change.first * law.heat_capacity_j_kgk;
        (held.released(change) * cost - brought) * matter.bound_water_kg_m3
    }
}

impl<const L: usize> Flux<L> {
    /// The flow after the changes of both its ends, to first order.
    fn after_change(&self, before: &Pair<L>, after: &Pair<L>) -> Lanes<L> {
        self.value
            + self.before.0 * before.first
            + self.before.1 * before.second
            + self.after.0 * after.first
            + self.after.1 * after.second
    }
}

/// A cell as a contact or a face sees it, `ease` away.
fn side<const L: usize>(wall: &Wall, luck: &WallLuck<L>, state: &WallState<L>, place: usize, ease_1_m: f64) -> Side<L> {
    let layer = wall.mesh.nodes[place].layer_before;
    let pressure_pa = state.pressure_pa[place];
    let ways = wall.layers[layer].ways_at(&wall.spec.water, &luck.layers[layer], state.temp_k[place], pressure_pa);
    Side { ways, pressure_pa, ease_1_m }
}

/// Heat conducted from a face into the cell beside it: the face is as wet as the cell.
fn face_conduction<const L: usize>(
    wall: &Wall,
    luck: &WallLuck<L>,
    state: &WallState<L>,
    (face, place): (usize, usize),
    cell: &Transport<L>,
    join: Join,
) -> Flux<L> {
    let Join::Face(ease) = join else { return Flux::NONE };
    let layer = wall.mesh.nodes[place].layer_before;
    let (face_k, cell_k) = (state.temp_k[face], state.temp_k[place]);
    let dry = |temp_k: Lanes<L>| wall.layers[layer].dry_conductivity(&luck.layers[layer], temp_k);
    let (at_face, in_cell) = (dry(face_k), dry(cell_k));
    let conductivity = &cell.conductivity;
    let face = Grad { v: conductivity.v - in_cell.0 + at_face.0, dt: at_face.1, dp: Lanes::ZERO };
    let cell = Grad { v: conductivity.v, dt: conductivity.dt * 2.0 - in_cell.1, dp: conductivity.dp * 2.0 };
    Flux::conducted(&face, &cell, face_k - cell_k, 0.5 * ease)
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
