//! One heat-up of a rehearsal, and what became of it.

use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;

use super::operator::{Manner, Operator};
use super::standing::Standing;
use super::truth::{Truth, even};
use super::{Operators, Rehearsal};
use crate::app::AppError;
use crate::app::setup::probes_of;
use crate::physics::{Furnace, Grid};
use crate::plan::Flame;
use crate::plan::firing::Setting;
use crate::probe::feed::{Feed, PortEvent};
use crate::probe::lines::Start;
use crate::probe::simulated::{Burner, Fire, Habits, SimulatedFurnace};
use crate::run::{Event, Input, Run, Setup, TimeSource, Verdict, WarningCause, Word};
use crate::units::Seconds;

/// From one line of the board to the next.
const PERIOD_S: f64 = 2.0;

/// Noise of a reading, K.
const NOISE_K: f64 = 1.5;

/// Operators who err do so in this part of the plan, and those who leave with the burner lit in this one, while most linings are
/// still wet.
const OTHERS_ERR: (f64, f64) = (0.15, 0.75);
const HEEDLESS_LEAVE: (f64, f64) = (0.05, 0.40);

/// The truth is compared with what is believed so often, s.
const COMPARED_EVERY_S: f64 = 60.0;

/// A heat-up that takes so many lengths of its plan is given up.
const MOST_LENGTHS: f64 = 2.5;

/// The danger number has to fall below this before passing 1 again counts anew.
const BELOW: f64 = 0.7;

/// A heat-up that was left to itself is watched for so long, s.
const LEFT_FOR_S: f64 = 7200.0;

/// Pressures closer than this to the end of a range are in it, Pa: a hundredth of an atmosphere.
const SLACK_PA: f64 = 1000.0;

/// Overpressure from which the range says something, Pa.
const WORTH_PA: f64 = 20_000.0;

/// What became of a heat-up.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// Its number.
    pub number: u32,
    /// The furnace.
    pub truth: Truth,
    /// The operator.
    pub manner: Manner,
    /// How long it took.
    pub length: Seconds,
    /// Whether the program said that the plan is done and the lining dry.
    pub is_done: bool,
    /// Highest true danger number.
    pub danger: f64,
    /// True share of water left in the layers that can spall, at the end.
    pub wet_share: f64,
    /// For each time that the true danger number passed 1: for how long a warning had stood that wants the burner shut, s; `None`
    /// without one.
    pub leads_s: Vec<Option<f64>>,
    /// The same for the call to shut the gas and step away.
    pub calls_s: Vec<Option<f64>>,
    /// Times of warnings, s.
    pub warnings_s: Vec<(f64, WarningCause)>,
    /// Comparisons of the highest true pressure of a section with its range, and how many were inside.
    pub compared: (u32, u32),
    /// The same where the true overpressure was worth it.
    pub compared_high: (u32, u32),
    /// Plans that took over.
    pub replans: u32,
}

/// A heat-up under way.
pub struct HeatUp {
    run: Run,
    furnace: SimulatedFurnace,
    feed: Feed,
    operator: Operator,
    outcome: Outcome,
    standing: Standing,
    most_s: f64,
    now_s: f64,
    next_line_s: f64,
    next_comparison_s: f64,
    is_over: bool,
}

impl HeatUp {
    /// The heat-up with this number, before its first flame.
    ///
    /// # Errors
    /// When a wall cannot be solved.
    pub fn new(rehearsal: &Rehearsal, number: u32) -> Result<Self, AppError> {
        let Rehearsal { lining, plan, probes, belief, luck, operators } = rehearsal;
        let truth = Truth::draw(*luck, number);
        let truth = if *operators == Operators::Heedless { truth.far_tighter() } else { truth };
        let no_port = || AppError::System { doing: "a board", source: std::io::ErrorKind::NotFound.into() };
        let board = probes.ports.first().ok_or_else(no_port)?;
        let habits = Habits { period: Seconds(PERIOD_S), noise_k: NOISE_K, seed: luck.wrapping_add(u64::from(number)) };
        let real = Furnace::of(&truth.lining(lining), Grid::Usual);
        let furnace = SimulatedFurnace::new(&real, truth.board(board), habits)?;
        let run = Run::new(Setup {
            lining: lining.clone(),
            plan: plan.clone(),
            probes: probes_of(probes),
            belief: *belief,
            time_source: TimeSource::ProbeLine,
        })?;
        let manner = match operators {
            Operators::EveryThirdErrs => Manner::of(number),
            Operators::Heedless => Manner::Heedless,
        };
        let mut rng = ChaCha8Rng::seed_from_u64(u64::from(number));
        let (from, to) = if manner == Manner::Heedless { HEEDLESS_LEAVE } else { OTHERS_ERR };
        let errs_at_s = (from + (to - from) * even(&mut rng)) * plan.length().0;
        Ok(Self {
            run,
            furnace,
            feed: Feed::new(board.clone(), Start::OnALine),
            operator: Operator::new(manner, errs_at_s),
            outcome: Outcome {
                number,
                truth,
                manner,
                length: Seconds(0.0),
                is_done: false,
                danger: 0.0,
                wet_share: 1.0,
                leads_s: Vec::new(),
                calls_s: Vec::new(),
                warnings_s: Vec::new(),
                compared: (0, 0),
                compared_high: (0, 0),
                replans: 0,
            },
            standing: Standing::default(),
            most_s: MOST_LENGTHS * plan.length().0 + 2.0 * 3600.0,
            now_s: 0.0,
            next_line_s: PERIOD_S,
            next_comparison_s: COMPARED_EVERY_S,
            is_over: false,
        })
    }

    /// Goes on until the program ends it, or it takes far too long.
    ///
    /// # Errors
    /// When a wall cannot be solved.
    pub fn to_its_end(mut self) -> Result<Outcome, AppError> {
        self.step(Event::Tick);
        while !self.run.has_ended() && self.now_s < self.most_s && !self.was_seen_to_its_end() {
            self.go_on()?;
        }
        let snapshot = self.run.snapshot();
        self.outcome.length = Seconds(self.now_s);
        self.outcome.is_done = snapshot.ended.is_some_and(|ended| ended.reason.contains("dry"));
        let sections = self.sections();
        self.outcome.wet_share =
            sections.map(|section| self.furnace.wall().section(0, section).free_share).fold(0.0, f64::max);
        Ok(self.outcome)
    }

    /// Whether nobody is there any more and it has passed danger 1, or will not.
    fn was_seen_to_its_end(&self) -> bool {
        self.operator.left_s().is_some_and(|left_s| self.is_over || self.now_s - left_s >= LEFT_FOR_S)
    }

    fn sections(&self) -> std::ops::Range<usize> {
        0..self.furnace.wall().furnace().section_names().len()
    }

    /// Time passes to whatever comes first: a line, a change that the plan wants, or the operator's hand.
    fn go_on(&mut self) -> Result<(), AppError> {
        let changes_s = self.run.next_change().map(|at| at.0).filter(|at_s| *at_s > self.now_s + 1e-6);
        let acts_s = self.operator.next_s().map(|at_s| at_s.max(self.now_s + 1e-3));
        let next_s = [changes_s, acts_s].into_iter().flatten().fold(self.next_line_s, f64::min);
        self.furnace.advance_to(Seconds(next_s))?;
        self.now_s = next_s;
        self.look_at_the_truth();
        if acts_s.is_some_and(|at_s| at_s <= next_s) {
            self.act();
        }
        if next_s >= self.next_line_s - 1e-9 {
            self.next_line_s += PERIOD_S;
            let line = self.furnace.line();
            for event in self.feed.take(format!("{line}\n").as_bytes()) {
                if let PortEvent::Line { readings, .. } = event {
                    self.step(Event::Readings(readings));
                }
            }
        } else {
            self.step(Event::Tick);
        }
        if let Some(replan) = self.run.replan_wanted() {
            match replan.search() {
                Ok(plan) => {
                    self.outcome.replans += 1;
                    self.step(Event::Replanned(Box::new(plan)));
                }
                Err(error) => self.step(Event::NotReplanned(error.to_string())),
            }
        }
        Ok(())
    }

    fn act(&mut self) {
        let burner = match self.furnace.burner() {
            Burner::Lit => Flame::On,
            Burner::Shut => Flame::Off,
        };
        let run = &self.run;
        let is_warned = || {
            let warnings = run.snapshot().warnings;
            warnings.iter().any(|warning| warning.burner == Some(Flame::Off) && !warning.silenced)
        };
        let Some(flame) = self.operator.act(self.now_s, burner, is_warned) else { return };
        let (turned, word) = match flame {
            Flame::On => (Burner::Lit, Word::On),
            Flame::Off => (Burner::Shut, Word::Off),
        };
        self.furnace.turn(turned);
        self.step(Event::Operator(word));
        self.set_fire();
    }

    /// Sets the burner, or its control, to what the operator has just said.
    fn set_fire(&mut self) {
        let fires = self.run.snapshot().cue.and_then(|cue| cue.fires);
        let fire = match fires.map(|fires| fires.set) {
            Some(Setting::Mark(fire)) => Fire::Share(fire.share),
            Some(Setting::Ramp { to, ramp }) => Fire::Ramp { at: self.furnace.wall().gas(0), to, ramp },
            Some(Setting::Full | Setting::Shut) | None => return,
        };
        self.furnace.set(fire);
    }

    fn step(&mut self, event: Event) {
        let said = self.run.step(&Input { elapsed: Seconds(self.now_s), event });
        for verdict in &said {
            self.operator.hear(self.now_s, verdict);
            self.standing.hear(verdict);
            if let Verdict::Cue { in_s, set: Some(Setting::Ramp { .. }), .. } = verdict
                && *in_s <= 0.0
            {
                // The control goes on by itself.
                self.set_fire();
            }
            if let Verdict::Warning { elapsed_s, cause, .. } = verdict {
                self.outcome.warnings_s.push((*elapsed_s, *cause));
            }
        }
    }

    /// Sees what nobody in the story can see.
    fn look_at_the_truth(&mut self) {
        let wall = self.furnace.wall();
        let danger = self.sections().map(|section| wall.section(0, section).danger.number).fold(0.0, f64::max);
        self.outcome.danger = self.outcome.danger.max(danger);
        if danger >= 1.0 && !self.is_over {
            self.is_over = true;
            let lead_s =
                |since_s: Option<f64>| since_s.map(|since_s| self.now_s - since_s).filter(|lead_s| *lead_s > 0.0);
            self.outcome.leads_s.push(lead_s(self.standing.since_s()));
            self.outcome.calls_s.push(lead_s(self.standing.called_s()));
        }
        self.is_over &= danger >= BELOW;
        if self.now_s >= self.next_comparison_s {
            self.next_comparison_s += COMPARED_EVERY_S;
            self.compare();
        }
    }

    fn compare(&mut self) {
        let wall = self.furnace.wall();
        let ranges = self.run.pressures();
        for (section, range) in ranges.iter().enumerate() {
            let true_pa = wall.highest_pressure(0, section).0.0;
            let is_in = true_pa >= range.low - SLACK_PA && true_pa <= range.high + SLACK_PA;
            let add = |counts: &mut (u32, u32)| {
                counts.0 += 1;
                counts.1 += u32::from(is_in);
            };
            add(&mut self.outcome.compared);
            if true_pa > 101_325.0 + WORTH_PA {
                add(&mut self.outcome.compared_high);
            }
        }
    }
}
