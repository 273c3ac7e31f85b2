//! Balances of water and heat over every cell and face of a wall, linearised, and the block-tridiagonal system they make.
//!
//! Per cell, with `dt` the implicit part of the step (equations in DEVELOPERS.md, "The wall"):
//! water  V (w - w*) / dt + sum of J out - V `w_d` da/dt = 0
//! heat   V (U - U*) / dt + sum of (Q + c J) out + L sum of Jv out + V `w_d` da/dt (dH - c) = 0
//! where starred amounts are known. Faces have a balance of heat alone, with no volume. U holds the water's own heat, so
//! that "C dT/dt + `c_w` J grad T" of the textbook form becomes a conserved amount; upwind in T.

use super::cells::{Amounts, Cell, Flows, Kept, Law, Moved};
use super::elimination::{Chain, Pair};
use super::flow::Outflow;
use super::lanes::Lanes;
use super::matter::{OwnLuck, State, WaterFigures};
use super::mesh::Join;
use super::real::{Members, Pass, Real, for_all};
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

/// Water that leaves through a face: kg/s per area of hot face with its slopes by the cell's state, and the pressure at the
/// face, Pa.
#[derive(Clone, Copy, Debug)]
struct Leaving<const L: usize> {
    loss: [Lanes<L>; 3],
    face_pa: Lanes<L>,
}

/// A cell's place in the wall.
#[derive(Clone, Copy, Debug)]
struct Spot {
    node: usize,
    layer: usize,
    volume_m: f64,
    /// How it hangs together with the place before and the one after.
    joins: [Join; 2],
    /// Whether vapour leaves it through the hot face, and through the cold one.
    vents: [bool; 2],
}

/// Room to linearise and solve one wall in.
#[derive(Clone, Debug)]
pub(super) struct System<const L: usize> {
    spots: Vec<Spot>,
    /// One for each cell, and one more for what flows into the cold face.
    kept: Vec<Kept<L>>,
    /// What the cells hold once the stage is solved.
    carried: Vec<Carried<L>>,
    /// The hot face, then the cold one.
    faces: [FaceBalance<L>; 2],
    /// Temperature changes of both.
    face_change_k: [Lanes<L>; 2],
    /// Water that leaves through both.
    leaving: [Leaving<L>; 2],
    /// What crossed the faces during the stage.
    rates: Rates<L>,
}

/// Amounts of a cell, as [`Amounts`].
#[derive(Clone, Copy, Debug)]
struct Carried<const L: usize> {
    water: Lanes<L>,
    heat: Lanes<L>,
    freed: Lanes<L>,
}

/// Changes that count as settled.
#[derive(Clone, Copy, Debug)]
pub(super) struct Settled {
    /// Of temperature, K.
    pub temp_k: f64,
    /// Of pressure, relative.
    pub pressure: f64,
}

/// A wall in a state during an implicit stage.
#[derive(Clone, Copy)]
pub(super) struct Stage<'s, const L: usize> {
    /// The wall.
    pub wall: &'s Wall,
    /// How its members differ.
    pub luck: &'s WallLuck<L>,
    /// Where they are.
    pub state: &'s WallState<L>,
    /// What they are known to hold.
    pub known: &'s Known<L>,
    /// Length of the stage, s.
    pub step_s: f64,
}

impl<const L: usize> Stage<'_, L> {
    #[inline(always)]
    fn law(&self, water: WaterFigures, spot: &Spot) -> Law<'_> {
        let (matter, steam) = (&self.wall.layers[spot.layer], &*self.wall.spec.water.steam);
        Law { matter, steam, water, volume_m: spot.volume_m, step_s: self.step_s }
    }

    #[inline(always)]
    fn luck<M: Members>(&self, members: M, spot: &Spot) -> OwnLuck<M::Real> {
        self.luck.layers[spot.layer].of(members)
    }

    #[inline(always)]
    fn known<M: Members>(&self, members: M, spot: &Spot) -> Amounts<M::Real> {
        Amounts {
            water: members.of(&self.known.water[spot.node]),
            heat: members.of(&self.known.heat[spot.node]),
            freed: members.of(&self.known.freed[spot.node]),
        }
    }
}

impl<const L: usize> System<L> {
    pub(super) fn new(wall: &Wall) -> Self {
        let mesh = &wall.mesh;
        let (first, vent) = (wall.layers[0].permeable.then_some(1), wall.vent());
        let spot = |row: usize| {
            let node = mesh.rows[row];
            Spot {
                node,
                layer: mesh.nodes[node].layer_before,
                volume_m: mesh.nodes[node].volume_m,
                joins: [mesh.joins[row - 1], mesh.joins[row]],
                vents: [first == Some(row), vent == Some(row)],
            }
        };
        let spots: Vec<Spot> = (1..mesh.rows.len() - 1).map(spot).collect();
        Self {
            kept: vec![Kept::NONE; spots.len() + 1],
            carried: vec![Carried { water: Lanes::ZERO, heat: Lanes::ZERO, freed: Lanes::ZERO }; spots.len()],
            spots,
            faces: [FaceBalance::NONE; 2],
            face_change_k: [Lanes::ZERO; 2],
            leaving: [Leaving { loss: [Lanes::ZERO; 3], face_pa: Lanes::ONE }; 2],
            rates: Rates::ZERO,
        }
    }

    /// Linearises every balance about a state and eliminates the cells, from the last on. `cold_k` is the temperature behind
    /// the cold face, K.
    pub(super) fn linearise(&mut self, stage: &Stage<'_, L>, cold_k: f64) {
        let temp_k = stage.state.temp_k[stage.wall.mesh.nodes.len() - 1];
        let cold = &stage.wall.spec.cold;
        self.faces[1] = match cold.heat {
            FaceHeat::Insulated => FaceBalance::NONE,
            FaceHeat::Fixed => FaceBalance::pinned(temp_k - Lanes::all(cold_k)),
            FaceHeat::Exchange { .. } => {
                let (gain, slope) = exchange(cold, Lanes::all(cold_k), temp_k);
                let factor = stage.luck.cold_exchange * stage.wall.mesh.cold_area;
                FaceBalance { residual: gain * factor, own: slope * factor, ..FaceBalance::NONE }
            }
        };
        for_all::<L>(&mut Linearise { system: self, stage });
    }

    /// Adds the heat that reaches the hot face. Gives the change of its temperature were the face's heat as linearised, and
    /// what one more watt per square metre would add to it.
    pub(super) fn close_hot_face(&mut self, state: &WallState<L>, heat: &HotHeat<L>) -> (Lanes<L>, Lanes<L>) {
        match *heat {
            HotHeat::Flux { value, slope } => {
                self.faces[0].residual -= value;
                self.faces[0].own -= slope;
            }
            HotHeat::Fixed(temp_k) => self.faces[0] = FaceBalance::pinned(state.temp_k[0] - temp_k),
        }
        let hot = &mut self.faces[0];
        let [water_dt, _, heat_dt, _, first, second] = self.kept[0].chain_lanes();
        hot.residual -= hot.cell_dt * *first + hot.cell_dp * *second;
        hot.own -= hot.cell_dt * *water_dt + hot.cell_dp * *heat_dt;
        let per_watt = Lanes::ONE / hot.own;
        (-(hot.residual * per_watt), per_watt)
    }

    /// Finds every change, the hot face having got `more_heat` W/m² beyond the linearised. Gives the largest over what
    /// counts as `settled`; not a number if any is none.
    pub(super) fn substitute(&mut self, state: &WallState<L>, more_heat: Lanes<L>, settled: Settled) -> f64 {
        let hot = &self.faces[0];
        self.face_change_k[0] = (more_heat - hot.residual) / hot.own;
        let mut pass = Substitute { system: self, state, settled, size: Lanes::ZERO };
        for_all::<L>(&mut pass);
        pass.size.largest()
    }

    /// Temperature changes of the hot and the cold face, K.
    pub(super) fn face_changes_k(&self) -> [Lanes<L>; 2] {
        self.face_change_k
    }

    /// Node of every cell, and what is kept of it.
    pub(super) fn cells(&self) -> impl Iterator<Item = (usize, &Kept<L>)> {
        self.spots.iter().map(|spot| spot.node).zip(&self.kept)
    }

    /// Pressures at the hot face and where vapour leaves the cold side, at the last linearisation, Pa.
    pub(super) fn face_pressures_pa(&self) -> [Lanes<L>; 2] {
        self.leaving.map(|leaving| leaving.face_pa)
    }

    /// Finds the conserved amounts after the changes, to first order: what was there and what came over the borders, each
    /// border's flow counted once for both its sides, so that none is lost however the equations were solved. Whether they
    /// leave no cell with less than no water, take no bound water back, and set no more free than there was.
    pub(super) fn carry(&mut self, stage: &Stage<'_, L>) -> bool {
        let mut pass = Carry { system: self, stage, possible: true };
        for_all::<L>(&mut pass);
        pass.possible
    }

    /// Puts the amounts that were carried into a state.
    pub(super) fn give(&self, into: &mut WallState<L>) {
        for (spot, carried) in self.spots.iter().zip(&self.carried) {
            into.water_kg_m3[spot.node] = carried.water;
            into.heat_j_m3[spot.node] = carried.heat;
            into.freed[spot.node] = carried.freed;
        }
    }

    /// What crossed the faces and changed inside during the stage, to first order like [`Self::carry`].
    pub(super) fn rates(&self) -> Rates<L> {
        self.rates
    }
}

/// A cell, what flows into it, and how the cell after it follows.
type Eliminated<R> = (Cell<R>, Flows<R>, Chain<R>);

/// Linearises every balance and eliminates the cells.
struct Linearise<'s, const L: usize> {
    system: &'s mut System<L>,
    stage: &'s Stage<'s, L>,
}

impl<const L: usize> Pass for Linearise<'_, L> {
    #[inline(always)]
    fn pass<M: Members>(&mut self, members: M) {
        let water = self.stage.wall.spec.water.figures();
        let mut last: Option<Eliminated<M::Real>> = None;
        for index in (0..self.system.spots.len()).rev() {
            let cell = self.cell(members, water, index);
            let (flows, chain) = match &last {
                None => self.cold_face(members, &cell),
                Some((next, out, chain)) => {
                    let into = self.flows(water, (&cell, next), index + 1);
                    let row = next.balances(&water, cell.state.temp_k, (&into, out));
                    (into, self.keep(members, (index + 1, &into), &chain.eliminate(&row)))
                }
            };
            last = Some((cell, flows, chain));
        }
        if let Some((first, out, chain)) = &last {
            self.hot_face(members, water, (first, out), chain);
        }
    }
}

impl<const L: usize> Linearise<'_, L> {
    /// A cell with what leaves it through the faces.
    #[inline(always)]
    fn cell<M: Members>(&mut self, members: M, water: WaterFigures, index: usize) -> Cell<M::Real> {
        let (stage, spot) = (self.stage, self.system.spots[index]);
        let state = State {
            temp_k: members.of(&stage.state.temp_k[spot.node]),
            pressure_pa: members.of(&stage.state.pressure_pa[spot.node]),
        };
        let (law, known) = (stage.law(water, &spot), stage.known(members, &spot));
        let mut cell = Cell::at(&law, &stage.luck(members, &spot), state, &known);
        let spec = &stage.wall.spec;
        let faces = [(spec.hot.vapour, 1.0), (spec.cold.vapour, stage.wall.mesh.cold_area)];
        for (which, (vapour, area)) in faces.into_iter().enumerate() {
            if spot.vents[which] {
                let (Join::Face(ease) | Join::Inside(ease) | Join::Contact([ease, _])) = spot.joins[which];
                let outflow = cell.let_out(&water, vapour, (ease, area));
                self.keep_outflow(members, which, &outflow);
            }
        }
        self.system.kept[index].keep(members, &cell, (spot.vents != [false; 2], water.carries_heat));
        cell
    }

    #[inline(always)]
    fn keep_outflow<M: Members>(&mut self, members: M, which: usize, outflow: &Outflow<M::Real>) {
        let leaving = &mut self.system.leaving[which];
        for (lanes, value) in leaving.loss.iter_mut().zip([outflow.loss.v, outflow.loss.dt, outflow.loss.dp]) {
            members.put(value, lanes);
        }
        members.put(outflow.face_pa, &mut leaving.face_pa);
    }

    /// What flows into the cell of an index from the one before.
    #[inline(always)]
    fn flows<R: Real>(&self, water: WaterFigures, (before, cell): (&Cell<R>, &Cell<R>), index: usize) -> Flows<R> {
        let spots = &self.system.spots;
        match spots[index].joins[0] {
            Join::Contact(eases) => {
                let permeable = [index - 1, index].map(|index| self.stage.wall.layers[spots[index].layer].permeable);
                before.flows_across(cell, &water, (eases, permeable == [true; 2]))
            }
            Join::Inside(ease) | Join::Face(ease) => before.flows_to(cell, &water, 0.5 * ease),
        }
    }

    /// Keeps what flows into a cell, and how it follows from the one before.
    #[inline(always)]
    fn keep<M: Members>(
        &mut self,
        members: M,
        (index, into): (usize, &Flows<M::Real>),
        chain: &Chain<M::Real>,
    ) -> Chain<M::Real> {
        let kept = &mut self.system.kept[index];
        kept.keep_flows(members, into);
        kept.keep_chain(members, chain);
        *chain
    }

    /// What flows from the last cell into the cold face, and how the face follows the cell.
    #[inline(always)]
    fn cold_face<M: Members>(&mut self, members: M, cell: &Cell<M::Real>) -> (Flows<M::Real>, Chain<M::Real>) {
        let (stage, last) = (self.stage, self.system.spots.len() - 1);
        let spot = &self.system.spots[last];
        let face_k = members.of(&stage.state.temp_k[stage.wall.mesh.nodes.len() - 1]);
        let Join::Face(ease) = spot.joins[1] else { unreachable!("the last place of a mesh is its cold face") };
        let (matter, luck) = (&stage.wall.layers[spot.layer], stage.luck(members, spot));
        let heat = cell.heat_from_face(matter, &luck, face_k, ease).reversed();
        let flows = Flows::dry(heat);
        self.system.kept[last + 1].keep_flows(members, &flows);
        let face = &mut self.system.faces[1];
        if stage.wall.spec.cold.heat != FaceHeat::Fixed {
            // Closed by what the surroundings give, which stands there already.
            let given = match stage.wall.spec.cold.heat {
                FaceHeat::Exchange { .. } => (members.of(&face.residual), members.of(&face.own)),
                FaceHeat::Fixed | FaceHeat::Insulated => (members.all(0.0), members.all(0.0)),
            };
            members.put(-heat.value - given.0, &mut face.residual);
            members.put(-heat.after.0 - given.1, &mut face.own);
            members.put(-heat.before.0, &mut face.cell_dt);
            members.put(-heat.before.1, &mut face.cell_dp);
        }
        let by_cell = (members.of(&face.cell_dt), members.of(&face.cell_dp));
        (flows, Chain::of_face(members.of(&face.residual), members.of(&face.own), by_cell))
    }

    /// Eliminates the first cell, and puts together the hot face's balance but for the heat that reaches it from outside.
    #[inline(always)]
    fn hot_face<M: Members>(
        &mut self,
        members: M,
        water: WaterFigures,
        (cell, out): (&Cell<M::Real>, &Flows<M::Real>),
        chain: &Chain<M::Real>,
    ) {
        let (stage, spot) = (self.stage, self.system.spots[0]);
        let face_k = members.of(&stage.state.temp_k[0]);
        let Join::Face(ease) = spot.joins[0] else { unreachable!("the first place of a mesh is its hot face") };
        let (matter, luck) = (&stage.wall.layers[spot.layer], stage.luck(members, &spot));
        let heat = cell.heat_from_face(matter, &luck, face_k, ease);
        let into = Flows::dry(heat);
        let row = cell.balances(&water, face_k, (&into, out));
        self.keep(members, (0, &into), &chain.eliminate(&row));
        let face = &mut self.system.faces[0];
        members.put(heat.value, &mut face.residual);
        members.put(heat.before.0, &mut face.own);
        members.put(heat.after.0, &mut face.cell_dt);
        members.put(heat.after.1, &mut face.cell_dp);
    }
}

/// Finds every change from the hot face on.
struct Substitute<'s, const L: usize> {
    system: &'s mut System<L>,
    state: &'s WallState<L>,
    settled: Settled,
    size: Lanes<L>,
}

impl<const L: usize> Pass for Substitute<'_, L> {
    #[inline(always)]
    fn pass<M: Members>(&mut self, members: M) {
        let Settled { temp_k, pressure } = self.settled;
        let in_settled = |change_k: M::Real| Real::abs(change_k) * (1.0 / temp_k);
        let mut before = Pair { first: members.of(&self.system.face_change_k[0]), second: members.all(0.0) };
        let mut size = members.all(0.0).larger(in_settled(before.first));
        for (spot, kept) in self.system.spots.iter().zip(&mut self.system.kept) {
            before = kept.chain(members).change_after(&before);
            kept.keep_change(members, &before);
            let pressure_pa = members.of(&self.state.pressure_pa[spot.node]);
            size = size.larger(in_settled(before.first));
            size = size.larger(Real::abs(before.second) * (1.0 / pressure) / (pressure_pa + 1e3));
        }
        let cold = &self.system.faces[1];
        let by_cell = members.of(&cold.cell_dt) * before.first + members.of(&cold.cell_dp) * before.second;
        let change_k = -(members.of(&cold.residual) + by_cell) / members.of(&cold.own);
        members.put(change_k, &mut self.system.face_change_k[1]);
        members.put(size.larger(in_settled(change_k)), &mut self.size);
    }
}

/// Finds the conserved amounts after the changes, and what crossed the faces.
struct Carry<'s, const L: usize> {
    system: &'s mut System<L>,
    stage: &'s Stage<'s, L>,
    possible: bool,
}

impl<const L: usize> Pass for Carry<'_, L> {
    #[inline(always)]
    fn pass<M: Members>(&mut self, members: M) {
        let water = self.stage.wall.spec.water.figures();
        let zero = members.all(0.0);
        let count = self.system.spots.len();
        let mut before = Pair { first: members.of(&self.system.face_change_k[0]), second: zero };
        let mut change = self.system.kept[0].change(members);
        let mut into = self.system.kept[0].moved(members, &before, &change);
        members.put(into.heat, &mut self.system.rates.hot_heat);
        let (mut evaporation, mut released, mut dehydration) = (zero, zero, zero);
        for index in 0..count {
            let spot = self.system.spots[index];
            before = change;
            change = if index + 1 < count {
                self.system.kept[index + 1].change(members)
            } else {
                Pair { first: members.of(&self.system.face_change_k[1]), second: zero }
            };
            let out: Moved<M::Real> = self.system.kept[index + 1].moved(members, &before, &change);
            let (law, known) = (self.stage.law(water, &spot), self.stage.known(members, &spot));
            let temp_k = members.of(&self.stage.state.temp_k[spot.node]);
            let after = self.system.kept[index].carried(members, &law, (temp_k, &known), (&into, &out));
            self.possible &= !M::Real::any(after.impossible());
            let carried = &mut self.system.carried[index];
            members.put(after.amounts.water, &mut carried.water);
            members.put(after.amounts.heat, &mut carried.heat);
            members.put(after.amounts.freed, &mut carried.freed);
            evaporation = evaporation + after.evaporation;
            released = released + after.released;
            dehydration = dehydration + after.dehydration;
            into = out;
        }
        let rates = &mut self.system.rates;
        members.put(into.heat, &mut rates.cold_heat);
        members.put(evaporation, &mut rates.evaporation);
        members.put(released, &mut rates.freed);
        members.put(dehydration, &mut rates.dehydration);
        self.count_leaving(members, water);
    }
}

impl<const L: usize> Carry<'_, L> {
    /// Counts the water that leaves through the faces, and the heat it takes along.
    #[inline(always)]
    fn count_leaving<M: Members>(&mut self, members: M, water: WaterFigures) {
        let mut left = [(members.all(0.0), members.all(0.0)); 2];
        for (spot, kept) in self.system.spots.iter().zip(&self.system.kept) {
            let faces = spot.vents.iter().zip(&self.system.leaving).zip(&mut left);
            for ((_, leaving), left) in faces.filter(|((vents, _), _)| **vents) {
                let [v, dt, dp] = &leaving.loss;
                let (v, dt, dp) = (members.of(v), members.of(dt), members.of(dp));
                let change = kept.change(members);
                let lost = v + dt * change.first + dp * change.second;
                let held = water.held(members.of(&self.stage.state.temp_k[spot.node]));
                *left = (lost, lost * held + v * change.first * water.heat_capacity_j_kgk);
            }
        }
        let rates = &mut self.system.rates;
        members.put(left[0].0, &mut rates.hot_water);
        members.put(left[1].0, &mut rates.cold_water);
        let hot_heat = members.of(&rates.hot_heat) - left[0].1;
        let cold_heat = members.of(&rates.cold_heat) + left[1].1;
        members.put(hot_heat, &mut rates.hot_heat);
        members.put(cold_heat, &mut rates.cold_heat);
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
