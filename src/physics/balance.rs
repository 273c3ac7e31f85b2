//! Balances of water and heat over every cell and face of a wall, linearised, and the block-tridiagonal system they make.
//!
//! Per cell, with `dt` the implicit part of the step (equations in DEVELOPERS.md, "The wall"):
//! water  V (w - w*) / dt + sum of J out - V `w_d` da/dt = 0
//! heat   V (U - U*) / dt + sum of (Q + c J) out + L sum of Jv out + V `w_d` da/dt (dH - c) = 0
//! where starred amounts are known. Faces have a balance of heat alone, with no volume. U holds the water's own heat, so
//! that "C dT/dt + `c_w` J grad T" of the textbook form becomes a conserved amount; upwind in T.

use pulp::{Arch, Simd, WithSimd};

use super::cells::{BLOCK, Balances, Block, Law, MARGIN, Quads};
use super::flow::{Flux, Outflow, Side};
use super::lanes::Lanes;
use super::matter::{Grad, Readings, State, WaterFigures};
use super::mesh::Join;
use super::wall::{Face, FaceHeat, Wall, WallLuck, WallState};

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

/// The linear system's unknowns or what is left over of its balances: water or temperature (K) first, heat or pressure (Pa)
/// second.
#[derive(Clone, Copy, Debug)]
struct Pair<const L: usize> {
    first: Lanes<L>,
    second: Lanes<L>,
}

/// A 2 by 2 block of the linear system: water and heat by temperature and pressure.
#[derive(Clone, Copy, Debug)]
struct Quad<const L: usize> {
    water_dt: Lanes<L>,
    water_dp: Lanes<L>,
    heat_dt: Lanes<L>,
    heat_dp: Lanes<L>,
}

impl<const L: usize> Quad<L> {
    #[inline(always)]
    fn load(columns: &Quads, entry: usize) -> Self {
        let [water_dt, water_dp, heat_dt, heat_dp] = columns.each_ref().map(|column| Lanes::load(column, entry));
        Self { water_dt, water_dp, heat_dt, heat_dp }
    }

    #[inline(always)]
    fn store(&self, columns: &mut Quads, entry: usize) {
        for (column, lanes) in columns.iter_mut().zip([self.water_dt, self.water_dp, self.heat_dt, self.heat_dp]) {
            lanes.store(column, entry);
        }
    }

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
    fn less(&self, other: &Self) -> Self {
        Self {
            water_dt: self.water_dt - other.water_dt,
            water_dp: self.water_dp - other.water_dp,
            heat_dt: self.heat_dt - other.heat_dt,
            heat_dp: self.heat_dp - other.heat_dp,
        }
    }
}

/// How a row's unknowns follow from those of the row before: change = -(shift + follow * change before).
#[derive(Clone, Copy, Debug)]
struct Chain<const L: usize> {
    follow: Quad<L>,
    shift: Pair<L>,
}

/// A face's balance of heat: what is left over, W/m², and its slopes by the face's temperature and by its cell's state.
#[derive(Clone, Copy, Debug)]
struct FaceBalance<const L: usize> {
    residual: Lanes<L>,
    own: Lanes<L>,
    cell_dt: Lanes<L>,
    cell_dp: Lanes<L>,
}

impl<const L: usize> FaceBalance<L> {
    const NONE: Self = Self { residual: Lanes::ZERO, own: Lanes::ONE, cell_dt: Lanes::ZERO, cell_dp: Lanes::ZERO };

    /// The face has a temperature of its own, and is off it by so much.
    fn pinned(off_k: Lanes<L>) -> Self {
        Self { residual: off_k, ..Self::NONE }
    }
}

/// Room to linearise and solve one wall in.
#[derive(Clone, Debug)]
pub(super) struct System<const L: usize> {
    blocks: Vec<Block>,
    /// Room to read the curves of a block into.
    readings: Box<Readings<BLOCK>>,
    /// The hot face, then the cold one.
    faces: [FaceBalance<L>; 2],
    /// Temperature changes of both.
    face_change_k: [Lanes<L>; 2],
    /// Water that leaves through the hot face and on the cold side, lane by lane.
    outflow: [[Outflow; L]; 2],
    /// Block and entry of the cells from which they leave.
    leave_from: [Option<(usize, usize)>; 2],
}

impl<const L: usize> System<L> {
    pub(super) fn new(wall: &Wall, luck: &WallLuck<L>) -> Self {
        const { assert!(L <= MARGIN && BLOCK.is_multiple_of(L), "lanes must fit a block") };
        let mut blocks = Vec::new();
        let cells = 1..wall.mesh.rows.len() - 1;
        let layer_of = |row: usize| wall.mesh.nodes[wall.mesh.rows[row]].layer_before;
        for layer in 0..wall.layers.len() {
            let rows: Vec<usize> = cells.clone().filter(|&row| layer_of(row) == layer).collect();
            for rows in rows.chunks(BLOCK / L) {
                let mut block = Block::new(layer, rows[0], rows.len(), L);
                settle_block(&mut block, wall, luck);
                blocks.push(block);
            }
        }
        let first_leaves = wall.layers[0].permeable.then_some(1);
        let place = |row: usize| {
            let index = blocks.partition_point(|block: &Block| block.first_row <= row).checked_sub(1)?;
            Some((index, (row - blocks[index].first_row) * L))
        };
        let leave_from = [first_leaves, wall.vent()].map(|row| row.and_then(place));
        Self {
            blocks,
            readings: Box::new(Readings::new()),
            faces: [FaceBalance::NONE; 2],
            face_change_k: [Lanes::ZERO; 2],
            outflow: [[Outflow { loss: Grad::ZERO, face_pa: 1.0 }; L]; 2],
            leave_from,
        }
    }

    /// Linearises every balance about `state` for an implicit stage of `step_s`.
    pub(super) fn linearise(&mut self, wall: &Wall, state: &WallState<L>, known: &Known<L>, step_s: f64) {
        for block in &mut self.blocks {
            load_block(block, wall, state, known);
        }
        self.blocks[0].begin_with(&state.temp_k[0].0, &state.pressure_pa[0].0);
        Arch::new().dispatch(Linking { blocks: &mut self.blocks, readings: &mut self.readings, wall, step_s });
        self.link_contacts(wall);
        self.link_hot_face(wall, state);
        self.link_cold_face(wall, state);
        self.let_water_out(wall);
    }

    /// Lets flow what flows through contacts of two layers.
    fn link_contacts(&mut self, wall: &Wall) {
        for index in 1..self.blocks.len() {
            let (before, from) = self.blocks.split_at_mut(index);
            let (before, block) = (&before[index - 1], &mut from[0]);
            let Join::Contact(eases) = wall.mesh.joins[block.first_row - 1] else { continue };
            for lane in 0..L {
                let last = before.entries() - L + lane;
                link_contact(wall, (before, last), (block, lane), eases);
            }
        }
    }

    fn link_hot_face(&mut self, wall: &Wall, state: &WallState<L>) {
        let block = &mut self.blocks[0];
        let mut face = FaceBalance::NONE;
        for lane in 0..L {
            let face_k = state.temp_k[0].0[lane];
            let heat = face_conduction(wall, face_k, (block, lane), wall.mesh.joins[0]);
            let temps_k = (face_k, block.state_at(lane).temp_k);
            block.keep_link(&wall.spec.water.figures(), lane, temps_k, [&heat, &Flux::NONE, &Flux::NONE]);
            face.residual.0[lane] = heat.value;
            face.own.0[lane] = heat.before.0;
            (face.cell_dt.0[lane], face.cell_dp.0[lane]) = heat.after;
        }
        self.faces[0] = face;
    }

    fn link_cold_face(&mut self, wall: &Wall, state: &WallState<L>) {
        let last = self.blocks.len() - 1;
        let block = &mut self.blocks[last];
        let node = wall.mesh.nodes.len() - 1;
        let mut face = FaceBalance::NONE;
        for lane in 0..L {
            let (entry, face_k) = (block.entries() - L + lane, state.temp_k[node].0[lane]);
            let join = wall.mesh.joins[wall.mesh.joins.len() - 1];
            let heat = face_conduction(wall, face_k, (block, entry), join).reversed();
            let temps_k = (block.state_at(entry).temp_k, face_k);
            block.keep_link(&wall.spec.water.figures(), entry + L, temps_k, [&heat, &Flux::NONE, &Flux::NONE]);
            face.residual.0[lane] = -heat.value;
            face.own.0[lane] = -heat.after.0;
            (face.cell_dt.0[lane], face.cell_dp.0[lane]) = (-heat.before.0, -heat.before.1);
        }
        self.faces[1] = face;
    }

    /// Takes out of the outermost cells that let water through what leaves through the faces: vapour, at the temperature
    /// of the cell.
    fn let_water_out(&mut self, wall: &Wall) {
        for which in 0..2 {
            let Some((index, first)) = self.leave_from[which] else { continue };
            let block = &mut self.blocks[index];
            let row = block.first_row + first / L;
            let (join, vapour, area) = if which == 0 {
                (wall.mesh.joins[0], wall.spec.hot.vapour, 1.0)
            } else {
                (wall.mesh.joins[row], wall.spec.cold.vapour, wall.mesh.cold_area)
            };
            let ease = match join {
                Join::Face(ease) | Join::Inside(ease) | Join::Contact([ease, _]) => ease,
            };
            for lane in 0..L {
                let entry = first + lane;
                let outflow = Outflow::of(&side(wall, block, entry, ease), vapour, area);
                block.lose(&wall.spec.water.figures(), entry, &outflow.loss);
                self.outflow[which][lane] = outflow;
            }
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
        match around.hot {
            HotHeat::Flux { value, slope } => {
                self.faces[0].residual -= value;
                self.faces[0].own -= slope;
            }
            HotHeat::Fixed(temp_k) => self.faces[0] = FaceBalance::pinned(state.temp_k[0] - temp_k),
        }
        let temp_k = state.temp_k[wall.mesh.nodes.len() - 1];
        match wall.spec.cold.heat {
            FaceHeat::Insulated => {}
            FaceHeat::Fixed => self.faces[1] = FaceBalance::pinned(temp_k - around.cold_k),
            FaceHeat::Exchange { .. } => {
                let (gain, slope) = exchange(&wall.spec.cold, Lanes::all(around.cold_k), temp_k);
                let factor = luck.cold_exchange * wall.mesh.cold_area;
                self.faces[1].residual -= gain * factor;
                self.faces[1].own -= slope * factor;
            }
        }
    }

    /// Eliminates from the cold face to the hot one. Gives the change of the hot face's temperature were the face's heat
    /// as linearised, and what one more watt per square metre would add to it.
    pub(super) fn eliminate(&mut self, wall: &Wall) -> (Lanes<L>, Lanes<L>) {
        let water = wall.spec.water.figures();
        let first = Arch::new().dispatch(Eliminating { blocks: &mut self.blocks, water, cold: &self.faces[1] });
        let hot = &mut self.faces[0];
        hot.residual -= hot.cell_dt * first.shift.first + hot.cell_dp * first.shift.second;
        hot.own -= hot.cell_dt * first.follow.water_dt + hot.cell_dp * first.follow.heat_dt;
        let per_watt = Lanes::ONE / hot.own;
        (-(hot.residual * per_watt), per_watt)
    }

    /// Finds every change, the hot face having got `more_heat` W/m² beyond the linearised.
    pub(super) fn substitute(&mut self, more_heat: Lanes<L>) {
        let hot = &self.faces[0];
        self.face_change_k[0] = (more_heat - hot.residual) / hot.own;
        let mut before = Pair { first: self.face_change_k[0], second: Lanes::ZERO };
        for block in &mut self.blocks {
            before.first.store(&mut block.change[0], 0);
            before.second.store(&mut block.change[1], 0);
            for entry in (0..block.entries()).step_by(L) {
                let followed = Quad::load(&block.follow, entry).apply(&before);
                let shift = &block.shift;
                before = Pair {
                    first: -(Lanes::load(&shift[0], entry) + followed.first),
                    second: -(Lanes::load(&shift[1], entry) + followed.second),
                };
                before.first.store(&mut block.change[0], entry + L);
                before.second.store(&mut block.change[1], entry + L);
            }
        }
        let cold = &self.faces[1];
        self.face_change_k[1] =
            -(cold.residual + cold.cell_dt * before.first + cold.cell_dp * before.second) / cold.own;
    }

    /// Shows `see` the change of every place: its node, its member, and what it becomes to first order.
    pub(super) fn each_change(&self, wall: &Wall, mut see: impl FnMut(usize, usize, &Change)) {
        let last = wall.mesh.nodes.len() - 1;
        for (node, change_k) in [0, last].into_iter().zip(self.face_change_k) {
            for lane in 0..L {
                see(node, lane, &Change { temp_k: change_k.0[lane], pressure_pa: 0.0, fullness: Grad::ZERO });
            }
        }
        for block in &self.blocks {
            for entry in 0..block.entries() {
                let node = wall.mesh.rows[block.first_row + entry / L];
                let [temp_k, pressure_pa] = block.change_at(entry);
                see(node, entry % L, &Change { temp_k, pressure_pa, fullness: block.fullness.at(entry) });
            }
        }
    }

    /// Pressures at the hot face and where vapour leaves the cold side, at the last linearisation, Pa.
    pub(super) fn face_pressures_pa(&self) -> [Lanes<L>; 2] {
        self.outflow.map(|outflow| Lanes(outflow.map(|outflow| outflow.face_pa)))
    }

    /// Finds the conserved amounts after the changes, to first order: what was there and what came over the borders, each
    /// border's flow counted once for both its sides, so that none is lost however the equations were solved. Whether they
    /// leave no cell with less than no water, take no bound water back, and set no more free than there was.
    pub(super) fn carry(&mut self, wall: &Wall, step_s: f64) -> bool {
        let last = self.blocks.len() - 1;
        for block in &mut self.blocks {
            block.move_all();
        }
        for index in 0..last {
            let (before, from) = self.blocks.split_at_mut(index + 1);
            before[index].close_moved(&from[0]);
        }
        self.blocks[last].move_last(&self.face_change_k[1].0);
        Arch::new().dispatch(Carrying { blocks: &mut self.blocks, wall, step_s });
        self.blocks.iter().all(Block::is_possible)
    }

    /// Puts the amounts that were carried into a state.
    pub(super) fn give(&self, wall: &Wall, into: &mut WallState<L>) {
        for block in &self.blocks {
            for entry in (0..block.entries()).step_by(L) {
                let node = wall.mesh.rows[block.first_row + entry / L];
                into.water_kg_m3[node] = Lanes::load(&block.carried.water, entry);
                into.heat_j_m3[node] = Lanes::load(&block.carried.heat, entry);
                into.freed[node] = Lanes::load(&block.carried.freed, entry);
            }
        }
    }

    /// What crossed the faces and changed inside during the stage, to first order like [`Self::carry`].
    pub(super) fn rates(&self, wall: &Wall) -> Rates<L> {
        let last = &self.blocks[self.blocks.len() - 1];
        let mut rates = Rates::ZERO;
        rates.hot_heat = Lanes::load(&self.blocks[0].moved.heat, 0);
        rates.cold_heat = Lanes::load(&last.moved.heat, last.entries());
        for block in &self.blocks {
            for entry in (0..block.entries()).step_by(L) {
                rates.evaporation += Lanes::load(&block.carried.evaporation, entry);
                rates.freed += Lanes::load(&block.carried.released, entry);
                rates.dehydration += Lanes::load(&block.carried.dehydration, entry);
            }
        }
        let (hot_water, hot_heat) = self.left_through(wall, 0);
        let (cold_water, cold_heat) = self.left_through(wall, 1);
        (rates.hot_water, rates.cold_water) = (hot_water, cold_water);
        rates.hot_heat -= hot_heat;
        rates.cold_heat += cold_heat;
        rates
    }

    /// Water that leaves through a face, kg/s, and the heat it takes along, W, per area of hot face.
    fn left_through(&self, wall: &Wall, which: usize) -> (Lanes<L>, Lanes<L>) {
        let Some((index, first)) = self.leave_from[which] else { return (Lanes::ZERO, Lanes::ZERO) };
        let (mut water, mut heat) = (Lanes::ZERO, Lanes::ZERO);
        for lane in 0..L {
            let left = self.blocks[index].left_after(
                &wall.spec.water.figures(),
                first + lane,
                &self.outflow[which][lane].loss,
            );
            (water.0[lane], heat.0[lane]) = left;
        }
        (water, heat)
    }
}

/// How a place changes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Change {
    /// Temperature, K.
    pub temp_k: f64,
    /// Pressure, Pa.
    pub pressure_pa: f64,
    /// How full its pores are at the last linearisation ([`super::fullness`]).
    pub fullness: Grad,
}

/// Evaluates all blocks and lets flow what flows between their cells.
struct Linking<'s> {
    blocks: &'s mut [Block],
    readings: &'s mut Readings<BLOCK>,
    wall: &'s Wall,
    step_s: f64,
}

impl WithSimd for Linking<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        for index in 0..self.blocks.len() {
            let (before, from) = self.blocks.split_at_mut(index);
            let block = &mut from[0];
            let law = law_of(self.wall, block, self.step_s);
            block.evaluate(law, self.readings);
            if let Some(before) = before.last() {
                block.follow(before);
            }
            block.link(law);
        }
    }
}

/// Assembles the balances of all blocks and eliminates their rows, from the last on, and gives how the first one's follow from the hot face.
struct Eliminating<'s, const L: usize> {
    blocks: &'s mut [Block],
    water: WaterFigures,
    cold: &'s FaceBalance<L>,
}

impl<const L: usize> WithSimd for Eliminating<'_, L> {
    type Output = Chain<L>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> Chain<L> {
        let over = Lanes::ONE / self.cold.own;
        let zero = Lanes::ZERO;
        let follow = Quad {
            water_dt: self.cold.cell_dt * over,
            water_dp: self.cold.cell_dp * over,
            heat_dt: zero,
            heat_dp: zero,
        };
        let mut next = Chain { follow, shift: Pair { first: self.cold.residual * over, second: zero } };
        let mut balances = Balances::ZERO;
        for index in (0..self.blocks.len()).rev() {
            let (blocks, later) = self.blocks.split_at_mut(index + 1);
            let block = &mut blocks[index];
            if let Some(later) = later.first() {
                block.close(later);
            }
            block.assemble(&self.water, &mut balances);
            for cell in (0..block.entries() / L).rev() {
                let entry = cell * L;
                let after = Quad::load(&balances.after, entry);
                let own = Quad::load(&balances.own, entry).less(&after.times(&next.follow));
                let pushed = after.apply(&next.shift);
                let residual = Pair {
                    first: Lanes::load(&balances.residual[0], entry) - pushed.first,
                    second: Lanes::load(&balances.residual[1], entry) - pushed.second,
                };
                let inverse = own.inverse();
                next = Chain {
                    follow: inverse.times(&Quad::load(&balances.before, entry)),
                    shift: inverse.apply(&residual),
                };
                next.follow.store(&mut block.follow, entry);
                next.shift.first.store(&mut block.shift[0], entry);
                next.shift.second.store(&mut block.shift[1], entry);
            }
        }
        next
    }
}

/// Carries the conserved amounts of all blocks along.
struct Carrying<'s> {
    blocks: &'s mut [Block],
    wall: &'s Wall,
    step_s: f64,
}

impl WithSimd for Carrying<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        for block in self.blocks {
            let law = law_of(self.wall, block, self.step_s);
            block.carry(law);
        }
    }
}

#[inline(always)]
fn law_of<'w>(wall: &'w Wall, block: &Block, step_s: f64) -> Law<'w> {
    let (matter, water) = (&wall.layers[block.layer], &wall.spec.water);
    Law { matter, steam: &water.steam, figures: matter.figures, water: water.figures(), step_s }
}

/// Fills in what stays the same.
fn settle_block<const L: usize>(block: &mut Block, wall: &Wall, luck: &WallLuck<L>) {
    let luck = &luck.layers[block.layer];
    for entry in 0..block.entries() {
        let (row, lane) = (block.first_row + entry / L, entry % L);
        block.volume_m[entry] = wall.mesh.nodes[wall.mesh.rows[row]].volume_m;
        if let Join::Inside(ease) = wall.mesh.joins[row - 1] {
            block.half_ease_1_m[entry] = 0.5 * ease;
        }
        let own = luck.lane(lane);
        for (column, value) in block.luck.iter_mut().zip([own.permeability_ln, own.conductivity, own.sorption]) {
            column[entry] = value;
        }
    }
}

/// Fills in where the cells are and what they are known to hold.
fn load_block<const L: usize>(block: &mut Block, wall: &Wall, state: &WallState<L>, known: &Known<L>) {
    for entry in (0..block.entries()).step_by(L) {
        let node = wall.mesh.rows[block.first_row + entry / L];
        state.temp_k[node].store(&mut block.temp_k, entry + L);
        state.pressure_pa[node].store(&mut block.pressure_pa, entry + L);
        for (column, amounts) in block.known.iter_mut().zip([&known.water, &known.heat, &known.freed]) {
            amounts[node].store(column, entry);
        }
    }
}

/// Lets flow what flows through a contact of two layers, from an entry of one block to one of the next.
fn link_contact(wall: &Wall, (before, last): (&Block, usize), (block, first): (&mut Block, usize), eases: [f64; 2]) {
    let temps_k = (before.state_at(last).temp_k, block.state_at(first).temp_k);
    let (one, other) = (before.conductivity_at(last), block.conductivity_at(first));
    let conduction = Flux::conducted_across(&one, &other, temps_k.0 - temps_k.1, eases);
    let (vapour, total) = if wall.layers[before.layer].permeable && wall.layers[block.layer].permeable {
        let (from, to) = (side(wall, before, last, eases[0]), side(wall, block, first, eases[1]));
        let vapour = Flux::vapour_across(&from, &to);
        (vapour, vapour.plus(&Flux::liquid_across(&from, &to)))
    } else {
        (Flux::NONE, Flux::NONE)
    };
    block.keep_link(&wall.spec.water.figures(), first, temps_k, [&conduction, &vapour, &total]);
}

/// A cell as a contact or a face sees it, `ease` away.
fn side(wall: &Wall, block: &Block, entry: usize, ease_1_m: f64) -> Side {
    let state = block.state_at(entry);
    let ways = wall.layers[block.layer].ways_at(&wall.spec.water, &block.luck_at(entry), state);
    Side { ways, pressure_pa: state.pressure_pa, ease_1_m }
}

/// Heat conducted from a face into the cell beside it: the face is as wet as the cell.
fn face_conduction(wall: &Wall, face_k: f64, (block, entry): (&Block, usize), join: Join) -> Flux {
    let Join::Face(ease) = join else { return Flux::NONE };
    let State { temp_k, .. } = block.state_at(entry);
    let dry = |temp_k: f64| wall.layers[block.layer].dry_conductivity(&block.luck_at(entry), temp_k);
    let (at_face, in_cell) = (dry(face_k), dry(temp_k));
    let conductivity = block.conductivity_at(entry);
    let face = Grad { v: conductivity.v - in_cell.0 + at_face.0, dt: at_face.1, dp: 0.0 };
    let cell = Grad { v: conductivity.v, dt: conductivity.dt * 2.0 - in_cell.1, dp: conductivity.dp * 2.0 };
    Flux::conducted(&face, &cell, face_k - temp_k, 0.5 * ease)
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
