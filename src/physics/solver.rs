//! Steps in time: walls side by side under one source of heat, each step as long as its error allows.
//!
//! The method is the two-stage, second-order, L-stable diagonally implicit Runge-Kutta scheme with
//! gamma = 1 - 1/sqrt 2 (Alexander, SIAM J. Numer. Anal. 14, 1977). One-step, because a burner that is switched breaks
//! the history a multi-step scheme would lean on. Newton's method solves each stage with exact derivatives.

mod places;

use thiserror::Error;

use super::balance::{HotHeat, Known, Rates, Settled, Stage, System, exchange};
use super::chamber::{Chamber, FaceGain, Gas, ShutGas, within_range};
use super::lanes::Lanes;
use super::real::larger;
use super::wall::{FaceHeat, Wall, WallLuck, WallState};

/// Implicit share of each stage.
const GAMMA: f64 = 1.0 - std::f64::consts::FRAC_1_SQRT_2;

/// How carefully time is stepped.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Accuracy {
    /// Temperature error accepted per step, K.
    pub temp_k: f64,
    /// Relative pressure error accepted per step.
    pub pressure: f64,
    /// Longest step, s.
    pub longest_s: f64,
}

impl Accuracy {
    /// Peaks within 1 % of converged.
    pub const USUAL: Self = Self { temp_k: 0.5, pressure: 0.004, longest_s: 600.0 };
    /// To search with what the usual one then checks.
    pub const ROUGH: Self = Self { temp_k: 1.5, pressure: 0.02, longest_s: 900.0 };
    /// For checking the usual one.
    pub const FINE: Self = Self { temp_k: 0.1, pressure: 0.002, longest_s: 120.0 };

    /// Changes by Newton's method that count as settled: a share of what a step may be off.
    fn settled(self) -> Settled {
        Settled { temp_k: 0.1 * self.temp_k, pressure: 0.5 * self.pressure }
    }
}

/// Shortest step before the solver gives up, s: vapour that rushes from a wet layer into a bone-dry one as open as fibre
/// fills its cells in some ten nanoseconds.
const STEP_FLOOR_S: f64 = 1e-9;
/// Longest step to start with after the burner was switched, s.
const LONGEST_SWITCHED_S: f64 = 4.0;
/// Pressure at which the wall has burst, Pa: four times the critical pressure of water.
const BURST_PA: f64 = 90e6;
/// Steps shorter than this are taken whatever their error: a layer of cells so thin and permeable that it settles
/// within them is of no interest on its way there, s.
const BLINK_S: f64 = 1e-3;
/// Pressure below which errors count as absolute, Pa.
const PRESSURE_SCALE_PA: f64 = 20e3;
/// Pressure that even a bone-dry place keeps, Pa.
const LEAST_PRESSURE_PA: f64 = 1e-6;
/// Newton iterations before a step is halved.
const ITERATIONS: usize = 24;

/// Why the wall could not be solved.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum SolveError {
    /// The step would have had to be shorter than its floor.
    #[error("the wall could not be solved at {elapsed_s:.1} s: the time step fell below {STEP_FLOOR_S} s")]
    StepTooSmall {
        /// Since the start.
        elapsed_s: f64,
    },
    /// The pore pressure is beyond anything water or a lining can be at.
    #[error(
        "the pore pressure passed {} MPa at {elapsed_s:.1} s: no lining stands a twentieth of it, so nothing is left to \
         simulate; let water out of the wall or heat it less", BURST_PA / 1e6
    )]
    Burst {
        /// Since the start.
        elapsed_s: f64,
    },
}

/// What drives the walls' hot faces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Drive {
    /// Each face's surroundings have this temperature, changing steadily over the span, K.
    Gas {
        /// At the start of the span.
        from_k: f64,
        /// At its end.
        to_k: f64,
    },
    /// A control holds the chamber's gas at this temperature, changing steadily over the span, K; where the walls keep it hotter, the
    /// burner is shut.
    Held {
        /// At the start of the span.
        from_k: f64,
        /// At its end.
        to_k: f64,
    },
    /// The burner burns for this fraction of the time: 1 on, 0 off, between for the mean over pulses.
    Burner {
        /// 0 to 1.
        on: f64,
    },
    /// The hot face of one wall has this temperature, changing steadily; the chamber's gas follows from it. K.
    HotFace {
        /// Index of the wall.
        wall: usize,
        /// At the start of the span.
        from_k: f64,
        /// At its end.
        to_k: f64,
    },
}

/// One wall with its members' luck and state.
#[derive(Clone, Debug)]
pub struct Part<const L: usize> {
    /// Area of the hot face, m².
    pub area_m2: f64,
    /// What its members share.
    pub wall: std::sync::Arc<Wall>,
    /// How they differ.
    pub luck: std::sync::Arc<WallLuck<L>>,
    /// Where they are.
    pub state: WallState<L>,
    /// What crossed the faces and changed inside since the start, per area of hot face: kg/m² and J/m².
    pub ledger: Rates<L>,
}

/// Walls stepped together.
#[derive(Clone, Debug)]
pub struct Solver<const L: usize> {
    /// The walls.
    pub parts: Vec<Part<L>>,
    /// What they share; without one, only [`Drive::Gas`] may drive.
    pub chamber: Option<Chamber<L>>,
    /// Since the start, s.
    pub elapsed_s: f64,
    /// How carefully.
    pub accuracy: Accuracy,
    /// Steps taken and refused, Newton iterations: for benches and tests.
    pub effort: Effort,
    step_s: f64,
    last_drive: Option<std::mem::Discriminant<Drive>>,
    last_on: f64,
    /// Whether nothing has been accepted yet since the burner was switched.
    just_switched: bool,
    /// Step to start with once it is switched again, learnt from the last time, s.
    switched_step_s: f64,
    /// Gas that explains a known face temperature, K ([`Drive::HotFace`]).
    followed_gas_k: Lanes<L>,
    /// The gas as a control last held it; `None` under anything else, K.
    pub held_gas_k: Option<Lanes<L>>,
    room: Vec<Room<L>>,
}

/// What the stepping cost.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Effort {
    /// Steps accepted.
    pub steps: usize,
    /// Steps refused and repeated.
    pub refused: usize,
    /// Newton iterations.
    pub iterations: usize,
}

/// Working room for one wall.
#[derive(Clone, Debug)]
struct Room<const L: usize> {
    system: System<L>,
    known: Known<L>,
    start: WallState<L>,
    middle: WallState<L>,
    /// Change of temperature and pressure over the last accepted step, per second, to guess the next from.
    trend: Vec<(Lanes<L>, Lanes<L>)>,
    first: Rates<L>,
    second: Rates<L>,
}

impl<const L: usize> Part<L> {
    fn stage<'s>(&'s self, known: &'s Known<L>, step_s: f64) -> Stage<'s, L> {
        Stage { wall: &self.wall, luck: &self.luck, state: &self.state, known, step_s }
    }

    /// A wall with its members at the start.
    #[must_use]
    pub fn new(wall: std::sync::Arc<Wall>, luck: std::sync::Arc<WallLuck<L>>, area_m2: f64) -> Self {
        let state = WallState::start(&wall, &luck);
        Self { area_m2, wall, luck, state, ledger: Rates::ZERO }
    }
}

impl<const L: usize> Solver<L> {
    /// Walls ready to be stepped.
    #[must_use]
    pub fn new(parts: Vec<Part<L>>, chamber: Option<Chamber<L>>, accuracy: Accuracy) -> Self {
        let room = parts.iter().map(Room::for_part).collect();
        let start_k = parts.first().map_or(293.15, |part: &Part<L>| part.wall.spec.start_k);
        Self {
            parts,
            chamber,
            elapsed_s: 0.0,
            accuracy,
            effort: Effort::default(),
            step_s: 1.0,
            last_drive: None,
            last_on: -1.0,
            just_switched: true,
            switched_step_s: 1.0,
            followed_gas_k: Lanes::all(start_k),
            held_gas_k: None,
            room,
        }
    }

    /// Moves every wall on by `span_s` under `drive`, calling `seen` after each accepted step with its length in s.
    ///
    /// # Errors
    /// When a step falls below its floor or the wall bursts. The state is then that of the last accepted step.
    pub fn advance(&mut self, drive: Drive, span_s: f64, mut seen: impl FnMut(&Self, f64)) -> Result<(), SolveError> {
        self.note_drive(drive);
        let mut done_s = 0.0;
        let mut refused = None;
        while done_s < span_s * (1.0 - 1e-12) {
            let step_s = self.next_step_s(span_s - done_s);
            let shares = [(done_s + GAMMA * step_s) / span_s, (done_s + step_s) / span_s];
            let error = self.try_step(drive, step_s, shares);
            if error.is_some_and(|error| error <= 1.0 || step_s < BLINK_S || is_stubborn(error, refused)) {
                done_s += step_s;
                self.elapsed_s += step_s;
                self.keep_step((drive, shares[1]), step_s, error.unwrap_or(1.0));
                refused = None;
                seen(self, step_s);
                if self.parts.iter().any(|part| part.state.pressure_pa.iter().any(|p| p.largest() > BURST_PA)) {
                    return Err(SolveError::Burst { elapsed_s: self.elapsed_s });
                }
            } else {
                self.take_back();
                self.effort.refused += 1;
                refused = error;
                self.step_s = step_s * error.map_or(0.25, |error| (0.8 / error.sqrt()).clamp(0.2, 0.7));
                if self.step_s < STEP_FLOOR_S {
                    return Err(SolveError::StepTooSmall { elapsed_s: self.elapsed_s });
                }
            }
        }
        Ok(())
    }

    /// Length of the next step: two even ones rather than one long and one sliver before the end of the span.
    fn next_step_s(&self, left_s: f64) -> f64 {
        let step_s = self.step_s.min(self.accuracy.longest_s).min(left_s);
        if step_s < left_s && step_s > 0.5 * left_s { 0.5 * left_s } else { step_s }
    }

    /// A switched burner starts with short steps and no trend.
    fn note_drive(&mut self, drive: Drive) {
        let on = match (drive, &self.chamber) {
            (Drive::Burner { on }, Some(chamber)) => chamber.fires[0] * on + chamber.fires[1] * (1.0 - on),
            _ => -1.0,
        };
        let kind = Some(std::mem::discriminant(&drive));
        let switched = self.last_drive != kind || (on - self.last_on).abs() > 0.25;
        if switched {
            self.step_s = self.step_s.min(self.switched_step_s);
            self.just_switched = true;
            for room in &mut self.room {
                room.trend.fill((Lanes::ZERO, Lanes::ZERO));
            }
        }
        self.last_drive = kind;
        self.last_on = on;
    }

    /// Tries one step; gives its error over the accepted one, or `None` when Newton's method found no solution.
    /// `shares` are the shares of the span over at the ends of the two stages.
    fn try_step(&mut self, drive: Drive, step_s: f64, shares: [f64; 2]) -> Option<f64> {
        let stage_s = GAMMA * step_s;
        for (part, room) in self.parts.iter_mut().zip(&mut self.room) {
            room.start.clone_from(&part.state);
            room.known.take(&room.start);
            room.guess(&mut part.state, stage_s);
        }
        self.solve_stage(drive, stage_s, shares[0])?;
        for (part, room) in self.parts.iter_mut().zip(&mut self.room) {
            room.first = room.second;
            room.middle.clone_from(&part.state);
            // Known for the second stage: the start plus the explicit share of the first stage's change.
            room.known.extend(&room.start, &room.middle, (1.0 - GAMMA) / GAMMA);
            room.guess(&mut part.state, step_s - stage_s);
        }
        self.solve_stage(drive, stage_s, shares[1])?;
        let errors =
            self.parts.iter().zip(&self.room).map(|(part, room)| room.error(&part.wall, &part.state, self.accuracy));
        let worst = errors.fold(0.0, larger);
        worst.is_finite().then_some(worst)
    }

    /// Newton's method on all walls and the chamber together, for an implicit stage of `stage_s`.
    fn solve_stage(&mut self, drive: Drive, stage_s: f64, share: f64) -> Option<()> {
        self.pin_faces(drive, share);
        let mut gases = self.settled_gases(drive);
        let mut before = f64::INFINITY;
        for iteration in 0..ITERATIONS {
            self.effort.iterations += 1;
            for (part, room) in self.parts.iter().zip(&mut self.room) {
                room.system.linearise(&part.stage(&room.known, stage_s), part.wall.spec.ambient_k);
            }
            let size = self.find_changes(drive, share, &mut gases);
            if !size.is_finite() {
                return None;
            }
            let settled = size < 1.0
                && self
                    .parts
                    .iter()
                    .zip(&mut self.room)
                    .all(|(part, room)| room.system.carry(&part.stage(&room.known, stage_s)));
            let cycles = iteration >= PATIENT_ITERATIONS && size > 0.5 * before;
            let applied = if cycles && !settled { 0.5 } else { 1.0 };
            before = size;
            for (part, room) in self.parts.iter_mut().zip(&mut self.room) {
                if settled {
                    room.second = room.system.rates();
                    room.system.give(&mut part.state);
                }
                part.apply(&room.system, applied);
            }
            if settled {
                if let Some(chamber) = &mut self.chamber {
                    for gas in &gases {
                        chamber.keep(gas);
                    }
                }
                return Some(());
            }
        }
        None
    }

    /// Puts faces of known temperature there at once.
    fn pin_faces(&mut self, drive: Drive, share: f64) {
        for (index, part) in self.parts.iter_mut().enumerate() {
            let pinned = match drive {
                Drive::Gas { from_k, to_k } if part.wall.spec.hot.heat == FaceHeat::Fixed => Some((from_k, to_k)),
                Drive::HotFace { wall, from_k, to_k } if wall == index => Some((from_k, to_k)),
                _ => None,
            };
            if let Some((from_k, to_k)) = pinned {
                part.state.temp_k[0] = Lanes::all(from_k + (to_k - from_k) * share);
            }
        }
    }

    /// The gases of a burner-driven stage, in balance with the faces as they are.
    fn settled_gases(&self, drive: Drive) -> Vec<Gas<L>> {
        let (Drive::Burner { on }, Some(chamber)) = (drive, &self.chamber) else { return Vec::new() };
        let faces = self.faces();
        let mut gases = chamber.gases(on);
        for gas in &mut gases {
            chamber.settle(gas, &faces);
        }
        gases
    }

    /// Closes the hot faces, balances the chamber and finds every change; gives the size of the largest over what counts as
    /// settled. What the last, unseen iteration would still change is far smaller, since Newton's method squares the error,
    /// and goes into the conserved amounts of the next step.
    fn find_changes(&mut self, drive: Drive, share: f64, gases: &mut [Gas<L>]) -> f64 {
        let gains: Vec<Vec<FaceGain<L>>> = match (&self.chamber, drive) {
            (Some(chamber), Drive::Burner { .. }) => {
                let of_part =
                    |part: &Part<L>| gases.iter().map(|gas| chamber.gain(gas, part.state.temp_k[0])).collect();
                self.parts.iter().map(of_part).collect()
            }
            _ => vec![Vec::new(); self.parts.len()],
        };
        let held = self.held(drive, share);
        let mut responses = Vec::with_capacity(self.parts.len());
        for (index, (part, room)) in self.parts.iter().zip(&mut self.room).enumerate() {
            let hot = match drive {
                Drive::Burner { .. } => shared_gain(gases, &gains[index]),
                Drive::Held { .. } => held.heat(part, self.chamber.as_ref()),
                Drive::Gas { from_k, to_k } => gas_heat(part, Lanes::all(from_k + (to_k - from_k) * share)),
                Drive::HotFace { wall, from_k, to_k } if wall == index => {
                    HotHeat::Fixed(Lanes::all(from_k + (to_k - from_k) * share))
                }
                Drive::HotFace { .. } => gas_heat(part, self.followed_gas_k),
            };
            responses.push(room.system.close_hot_face(&part.state, &hot));
        }
        let changes_k = self.gas_changes(gases, &gains, &responses);
        let held_back = |(gas, change_k): (&Gas<L>, &Lanes<L>)| match &self.chamber {
            Some(chamber) => chamber.held_back(gas, *change_k),
            None => *change_k,
        };
        let steps_k: Vec<Lanes<L>> = gases.iter().zip(&changes_k).map(held_back).collect();
        let mut size = 0.0;
        for ((part, room), gains) in self.parts.iter().zip(&mut self.room).zip(&gains) {
            let mut more = Lanes::ZERO;
            for ((gas, gain), step_k) in gases.iter().zip(gains).zip(&steps_k) {
                more += gain.by_gas * *step_k * gas.weight;
            }
            size = larger(size, room.system.substitute(&part.state, more, self.accuracy.settled()));
        }
        for ((gas, change_k), step_k) in gases.iter_mut().zip(changes_k).zip(steps_k) {
            size = larger(size, change_k.abs().largest() / GAS_SETTLED_K);
            gas.temp_k = within_range(gas.temp_k + step_k);
        }
        size
    }

    /// What a control makes of the chamber, with the faces as they are.
    fn held(&self, drive: Drive, share: f64) -> Held<L> {
        let Drive::Held { from_k, to_k } = drive else { return Held { set_k: Lanes::ZERO, shut: None } };
        let set_k = Lanes::all(from_k + (to_k - from_k) * share);
        let hottest_k = self.parts.iter().map(|part| part.state.temp_k[0].largest()).fold(0.0, f64::max);
        // With the burner shut no gas is hotter than the hottest face.
        let chamber = self.chamber.as_ref().filter(|_| hottest_k > set_k.0[0]);
        Held { set_k, shut: chamber.map(|chamber| chamber.shut(&self.faces())) }
    }

    /// Area (m²) and temperature (K) of each hot face.
    fn faces(&self) -> Vec<(f64, Lanes<L>)> {
        self.parts.iter().map(|part| (part.area_m2, part.state.temp_k[0])).collect()
    }

    /// Solves the chamber's balances, one per gas, with the faces following.
    fn gas_changes(
        &self,
        gases: &[Gas<L>],
        gains: &[Vec<FaceGain<L>>],
        responses: &[(Lanes<L>, Lanes<L>)],
    ) -> Vec<Lanes<L>> {
        let Some(chamber) = &self.chamber else { return Vec::new() };
        let count = gases.len();
        let mut matrix = [[Lanes::ZERO; 2]; 2];
        let mut left = [Lanes::ZERO; 2];
        for (j, gas) in gases.iter().enumerate() {
            let (supply, slope) = chamber.supply(gas);
            left[j] = supply;
            matrix[j][j] = slope;
            for ((part, gains), (alone, per_watt)) in self.parts.iter().zip(gains).zip(responses) {
                left[j] -= (gains[j].value + gains[j].by_face * *alone) * part.area_m2;
                matrix[j][j] -= gains[j].by_gas * part.area_m2;
                for (m, other) in gases.iter().enumerate() {
                    matrix[j][m] -= gains[j].by_face * *per_watt * gains[m].by_gas * (other.weight * part.area_m2);
                }
            }
        }
        match count {
            0 => Vec::new(),
            1 => vec![-(left[0] / matrix[0][0])],
            _ => {
                let over = Lanes::ONE / (matrix[0][0] * matrix[1][1] - matrix[0][1] * matrix[1][0]);
                vec![
                    (matrix[0][1] * left[1] - matrix[1][1] * left[0]) * over,
                    (matrix[1][0] * left[0] - matrix[0][0] * left[1]) * over,
                ]
            }
        }
    }

    /// Books an accepted step.
    fn keep_step(&mut self, (drive, share): (Drive, f64), step_s: f64, error: f64) {
        self.effort.steps += 1;
        let grown = step_s * (0.85 / error.max(1e-9).sqrt()).clamp(0.5, 2.5);
        // A step cut short by the end of the span says nothing against a longer one.
        self.step_s = if step_s < self.step_s { self.step_s.max(grown) } else { grown };
        if std::mem::take(&mut self.just_switched) {
            // Heat that sets in at once leaves an error that falls about as slowly as the step.
            self.switched_step_s = (step_s * (0.7 / error.max(1e-9)).clamp(0.5, 2.0)).min(LONGEST_SWITCHED_S);
        }
        for (part, room) in self.parts.iter_mut().zip(&mut self.room) {
            part.ledger.add(&room.first, (1.0 - GAMMA) * step_s);
            part.ledger.add(&room.second, GAMMA * step_s);
            room.place_unsolved(part);
            room.note_trend(&part.state, step_s);
        }
        if let (Some(chamber), Drive::Burner { on }) = (&mut self.chamber, drive) {
            let fire = chamber.fires[0] * on + chamber.fires[1] * (1.0 - on);
            chamber.burnt_j += chamber.power_w * (fire * step_s);
        }
        self.held_gas_k = matches!(drive, Drive::Held { .. }).then(|| self.held(drive, share).gas_k());
        if let Drive::HotFace { wall, .. } = drive {
            self.follow_gas(wall);
        }
    }

    /// The gas that gives a face whose temperature is known the heat it took in the last step; other walls see it.
    fn follow_gas(&mut self, wall: usize) {
        let part = &self.parts[wall];
        let wanted = self.room[wall].second.hot_heat;
        let mut gas_k = self.followed_gas_k;
        for _ in 0..8 {
            let (gain, by_gas) = gain_from(part, gas_k);
            gas_k = within_range(gas_k + ((wanted - gain) / by_gas).clamp(-200.0, 200.0));
        }
        // Half way each step: the heat a face takes follows every flicker of a reading.
        self.followed_gas_k = (self.followed_gas_k + gas_k) * 0.5;
    }

    /// Takes a refused step back.
    fn take_back(&mut self) {
        for (part, room) in self.parts.iter_mut().zip(&mut self.room) {
            part.state.clone_from(&room.start);
            room.trend.fill((Lanes::ZERO, Lanes::ZERO));
        }
    }
}

/// Whether an error stays although the step was cut: then it is not the step's but a jump of the state itself, such as
/// what Newton's method had left over at a bend of the sorption curve.
fn is_stubborn(error: f64, refused: Option<f64>) -> bool {
    refused.is_some_and(|before| error > 0.85 * before)
}

/// Newton iterations after which a small cycle about a kink (a face that starts to lose vapour, the bend of the sorption
/// curve) is damped until it is small enough: what remains goes into the conserved amounts of the next step.
const PATIENT_ITERATIONS: usize = 6;
/// A gas changing by less than this has settled, K.
const GAS_SETTLED_K: f64 = 1.0;

/// What a control makes of a chamber.
struct Held<const L: usize> {
    /// Its set point, K.
    set_k: Lanes<L>,
    /// The gas with the burner shut; `None` where the set point is above it.
    shut: Option<ShutGas<L>>,
}

impl<const L: usize> Held<L> {
    /// What a part's hot face gets.
    fn heat(&self, part: &Part<L>, chamber: Option<&Chamber<L>>) -> HotHeat<L> {
        let set = gas_heat(part, self.set_k);
        let (HotHeat::Flux { value, slope }, Some(chamber), Some(shut)) = (&set, chamber, &self.shut) else {
            return set;
        };
        let is_shut = self.set_k.below(shut.gas.temp_k);
        let (shut_value, shut_slope) = chamber.gain_of_shut(shut, (part.area_m2, part.state.temp_k[0]));
        HotHeat::Flux { value: is_shut.pick(shut_value, *value), slope: is_shut.pick(shut_slope, *slope) }
    }

    /// Temperature of the gas, K.
    fn gas_k(&self) -> Lanes<L> {
        self.shut.as_ref().map_or(self.set_k, |shut| self.set_k.max(shut.gas.temp_k))
    }
}

/// What the gases together give a face.
fn shared_gain<const L: usize>(gases: &[Gas<L>], gains: &[FaceGain<L>]) -> HotHeat<L> {
    let (mut value, mut slope) = (Lanes::ZERO, Lanes::ZERO);
    for (gas, gain) in gases.iter().zip(gains) {
        value += gain.value * gas.weight;
        slope += gain.by_face * gas.weight;
    }
    HotHeat::Flux { value, slope }
}

/// What a gas of known temperature gives a part's hot face.
fn gas_heat<const L: usize>(part: &Part<L>, gas_k: Lanes<L>) -> HotHeat<L> {
    if part.wall.spec.hot.heat == FaceHeat::Fixed {
        HotHeat::Fixed(gas_k)
    } else {
        let (value, slope) = exchange(&part.wall.spec.hot, gas_k, part.state.temp_k[0]);
        HotHeat::Flux { value, slope }
    }
}

/// Heat that a part's hot face gets from a gas, W/m², and its slope by gas temperature.
fn gain_from<const L: usize>(part: &Part<L>, gas_k: Lanes<L>) -> (Lanes<L>, Lanes<L>) {
    // The exchange is antisymmetric: seen from the gas, the face is the surroundings.
    let (loss, slope) = exchange(&part.wall.spec.hot, part.state.temp_k[0], gas_k);
    (-loss, -slope)
}

impl<const L: usize> Known<L> {
    fn take(&mut self, state: &WallState<L>) {
        self.water.clone_from(&state.water_kg_m3);
        self.heat.clone_from(&state.heat_j_m3);
        self.freed.clone_from(&state.freed);
    }

    /// The start plus `factor` times the change to the middle.
    fn extend(&mut self, start: &WallState<L>, middle: &WallState<L>, factor: f64) {
        let onward = |into: &mut [Lanes<L>], from: &[Lanes<L>], to: &[Lanes<L>]| {
            for ((into, from), to) in into.iter_mut().zip(from).zip(to) {
                *into = *from + (*to - *from) * factor;
            }
        };
        onward(&mut self.water, &start.water_kg_m3, &middle.water_kg_m3);
        onward(&mut self.heat, &start.heat_j_m3, &middle.heat_j_m3);
        onward(&mut self.freed, &start.freed, &middle.freed);
    }
}

impl<const L: usize> Room<L> {
    fn for_part(part: &Part<L>) -> Self {
        let state = &part.state;
        Self {
            system: System::new(&part.wall),
            known: Known {
                water: state.water_kg_m3.clone(),
                heat: state.heat_j_m3.clone(),
                freed: state.freed.clone(),
            },
            start: state.clone(),
            middle: state.clone(),
            trend: vec![(Lanes::ZERO, Lanes::ZERO); state.temp_k.len()],
            first: Rates::ZERO,
            second: Rates::ZERO,
        }
    }

    /// Moves a state along the trend of the last step, as Newton's first guess.
    fn guess(&self, state: &mut WallState<L>, ahead_s: f64) {
        for (index, trend) in self.trend.iter().enumerate() {
            state.temp_k[index] += trend.0 * ahead_s;
            let pressure_pa = state.pressure_pa[index];
            state.pressure_pa[index] = (pressure_pa + trend.1 * ahead_s).max(pressure_pa * 0.5);
        }
    }

    /// Temperature and pressure where no balance is solved for them: what flows into a contact of two layers flows out
    /// of it, and the pressure of a face is what the water leaving there needs.
    fn place_unsolved(&self, part: &mut Part<L>) {
        part.place_contacts();
        let [hot_pa, cold_pa] = self.system.face_pressures_pa();
        let (wall, last) = (&part.wall, part.wall.mesh.nodes.len() - 1);
        if wall.layers[0].permeable {
            part.state.pressure_pa[0] = hot_pa;
        }
        if wall.layers[wall.mesh.nodes[last].layer_before].permeable {
            part.state.pressure_pa[last] = cold_pa;
        }
    }

    fn note_trend(&mut self, state: &WallState<L>, step_s: f64) {
        for (index, trend) in self.trend.iter_mut().enumerate() {
            *trend = (
                (state.temp_k[index] - self.start.temp_k[index]) * (1.0 / step_s),
                (state.pressure_pa[index] - self.start.pressure_pa[index]) * (1.0 / step_s),
            );
        }
    }

    /// Error of a step over the accepted one: how far the middle lies off the straight line through start and end.
    /// Faces have no history of their own and may jump.
    fn error(&self, wall: &Wall, end: &WallState<L>, accuracy: Accuracy) -> f64 {
        let mut worst = Lanes::ZERO;
        for index in (0..self.trend.len()).filter(|&index| wall.mesh.nodes[index].is_cell()) {
            let off = |start: Lanes<L>, middle: Lanes<L>, end: Lanes<L>| middle - start - (end - start) * GAMMA;
            let off_k = off(self.start.temp_k[index], self.middle.temp_k[index], end.temp_k[index]);
            let off_pa = off(self.start.pressure_pa[index], self.middle.pressure_pa[index], end.pressure_pa[index]);
            worst = worst.max_or_nan(off_k.abs() * (1.0 / accuracy.temp_k));
            worst = worst
                .max_or_nan(off_pa.abs() * (1.0 / accuracy.pressure) / (end.pressure_pa[index] + PRESSURE_SCALE_PA));
        }
        worst.largest()
    }
}
