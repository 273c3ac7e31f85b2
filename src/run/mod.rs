//! One door to a heat-up being followed: inputs go in, verdicts come out.
//!
//! [`Run::step`] is pure. The same inputs give the same verdicts, live, headless, replayed or in a test.

mod against;
mod ahead;
mod alarm;
mod cue;
mod doubt;
mod dryness;
mod estimate;
mod forecast;
mod health;
mod lag;
mod now;
mod ramp;
mod replan;
mod sight;
mod snapshot;
mod spread;
mod step;
mod verdict;
mod watch;
mod weigh;

pub use ahead::{Ahead, LookAhead};
pub use replan::{Replan, ReplanError};
pub use snapshot::{
    BurnerNow, ChannelNow, Course, CourseNow, CueNow, DepthNow, DryingNow, Ended, FiresNow, LimitAhead, LogNow,
    PlanClock, PlanPoint, SectionNow, Snapshot, Spoken, StandingWarning, TimeSource, ToldBy, Trace, TracePoint, Weight,
};
pub use verdict::{About, Advice, Ending, Range, SectionEstimate, Verdict, WarningCause};

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::lining::Lining;
use crate::physics::{Belief, SolveError};
use crate::plan::Plan;
use crate::reading::{Channel, Place, Reading};
use crate::thermocouple::Thermocouple;
use crate::units::{Celsius, Metres, Seconds};

use alarm::Alarms;
use cue::{Going, Pacer};
use estimate::Estimator;
use forecast::Forecast;
use health::{FlameSense, Health};
pub(crate) use ramp::{Trail, window_s};

/// Something that happened, and when.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// Time since the heat-up began.
    pub elapsed: Seconds,
    /// What happened.
    pub event: Event,
}

/// What can happen to a heat-up.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// Time passed and nothing else did.
    Tick,
    /// One line came from a probe port.
    Readings(Vec<Reading>),
    /// The operator said or pressed something.
    Operator(Word),
    /// A probe port went away: its name, ": " and the cause.
    PortLost(String),
    /// The port of this name is there again.
    PortBack(String),
    /// The log cannot be written, and why.
    LogFailing(String),
    /// The log is written again; nothing was lost.
    LogBack,
    /// The program had stopped and goes on with the log: nothing was watched for this long.
    TakenUp {
        /// How long, as far as anyone can tell.
        missed: Seconds,
    },
    /// A plan for the rest of the heat-up was found ([`Run::replan_wanted`]).
    Replanned(Box<Plan>),
    /// None was found, and why.
    NotReplanned(String),
}

/// What an operator can say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Word {
    /// The burner is lit.
    On,
    /// The burner is shut.
    Off,
    /// Stop the plan's clock.
    Pause,
    /// Let the plan's clock go on.
    Resume,
    /// Silence the warnings that stand.
    Silence,
    /// Search a new plan for the rest, from how the lining is now.
    Replan,
    /// End the heat-up.
    Quit,
}

/// A probe channel and where its tip sits.
#[derive(Clone, Debug, PartialEq)]
pub struct Probe {
    /// Its name on the line and on the screen.
    pub channel: Channel,
    /// Where it sits.
    pub place: Place,
    /// Hottest that it bears; `None` when that is not known.
    pub limit: Option<Celsius>,
    /// What type its board is set to; `None` when that is not known.
    pub couple: Option<Thermocouple>,
    /// Diameter of its sheath; `None` when that is not known.
    pub sheath: Option<Metres>,
}

/// What a heat-up is followed with.
#[derive(Clone, Debug, PartialEq)]
pub struct Setup {
    /// The lining as built.
    pub lining: Lining,
    /// The plan to keep to.
    pub plan: Plan,
    /// The probes, in the order they are shown.
    pub probes: Vec<Probe>,
    /// How many guesses stand for what is not known.
    pub belief: Belief,
    /// Where elapsed time comes from. Only said, never used: time is an input.
    pub time_source: TimeSource,
}

/// Why a heat-up cannot be followed with what was given.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum RunError {
    /// A probe sits in a section that the lining does not have.
    #[error(
        "probe `{channel}` sits in section `{section}`, but the lining has {sections}; use one of these names in the \
         probe file"
    )]
    NoSuchSection {
        /// The probe.
        channel: Channel,
        /// What it names.
        section: String,
        /// What there is.
        sections: String,
    },
    /// The plan has no pulse.
    #[error("the plan has no round with a burner pulse in it; make one with `firstheat plan`")]
    NoPulse,
    /// The wall could not be solved through its air-drying.
    #[error(transparent)]
    Solve(#[from] SolveError),
    /// Two probes have one name.
    #[error("two probes are called `{channel}`; give each its own name in the probe file")]
    TwoAlike {
        /// The name.
        channel: Channel,
    },
}

/// A heat-up being followed.
#[derive(Clone, Debug)]
pub struct Run {
    lining: Lining,
    plan: Plan,
    time_source: TimeSource,
    elapsed_s: f64,
    begun_s: Option<f64>,
    pacer: Pacer,
    told_by: ToldBy,
    late_said: u8,
    health: Health,
    /// Names of channels on the line that no probe has, each said once.
    strangers: Vec<Channel>,
    sense: FlameSense,
    sense_channel: Option<usize>,
    contradicted_since_s: Option<f64>,
    trails: Vec<Trail>,
    face_trails: Vec<Trail>,
    traces: Vec<Trace>,
    ramp_over_since_s: Vec<Option<f64>>,
    estimator: Estimator,
    estimate_said_s: Option<f64>,
    unsolved: bool,
    /// How far each channel is from what the wall model holds possible.
    distances: Vec<against::Distance>,
    /// What was said of the drying where each channel sits.
    drying_said: Vec<dryness::DryingSaid>,
    forecast: Option<Forecast>,
    /// What was seen ahead, for the snapshot alone.
    ahead: Option<Ahead>,
    /// Whether it was said that there is no forecast, since there last was one with the burner on.
    no_forecast_said: bool,
    alarms: Alarms,
    ports_lost: Vec<String>,
    log: LogNow,
    repeats: bool,
    soaked_s: f64,
    replanning: replan::Replanning,
    danger_reached: Option<Seconds>,
    spoken: VecDeque<Spoken>,
    ended: Option<Ended>,
}

impl Run {
    /// A heat-up before its first input.
    ///
    /// # Errors
    /// When the plan has no pulse, or a probe does not fit the lining.
    pub fn new(setup: Setup) -> Result<Self, RunError> {
        let Setup { lining, plan, probes, belief, time_source } = setup;
        if plan.rounds.iter().all(|round| round.count == 0 || round.on.0 <= 0.0) {
            return Err(RunError::NoPulse);
        }
        for (index, probe) in probes.iter().enumerate() {
            if probes.iter().skip(index + 1).any(|other| other.channel == probe.channel) {
                return Err(RunError::TwoAlike { channel: probe.channel.clone() });
            }
        }
        let ambient_c = lining.surroundings.temp.0;
        let health = Health::new(&probes, ambient_c);
        let estimator = Estimator::new(&lining, belief, &health)?;
        Ok(Self {
            pacer: Pacer::new(&plan, lining.burner.shortest_off.0),
            time_source,
            elapsed_s: 0.0,
            begun_s: None,
            told_by: ToldBy::Plan,
            late_said: 0,
            strangers: Vec::new(),
            sense: FlameSense::default(),
            sense_channel: None,
            contradicted_since_s: None,
            trails: vec![Trail::new(ambient_c); probes.len()],
            face_trails: vec![Trail::new(ambient_c); lining.sections.len()],
            traces: vec![Trace::default(); probes.len()],
            ramp_over_since_s: vec![None; lining.sections.len()],
            health,
            estimator,
            estimate_said_s: None,
            unsolved: false,
            distances: vec![against::Distance::default(); probes.len()],
            drying_said: vec![dryness::DryingSaid::default(); probes.len()],
            forecast: None,
            ahead: None,
            no_forecast_said: false,
            alarms: Alarms::default(),
            ports_lost: Vec::new(),
            log: LogNow::Writing { rows: 0 },
            repeats: false,
            soaked_s: 0.0,
            replanning: replan::Replanning::default(),
            danger_reached: None,
            spoken: VecDeque::new(),
            ended: None,
            lining,
            plan,
        })
    }

    /// Takes in what happened and says what follows from it. After the end nothing follows any more, unless following is
    /// taken up again.
    pub fn step(&mut self, input: &Input) -> Vec<Verdict> {
        if matches!(input.event, Event::TakenUp { .. }) {
            self.ended = None;
        }
        if self.ended.is_some() {
            return Vec::new();
        }
        let said = self.take(input);
        for verdict in &said {
            self.remember(verdict);
        }
        said
    }

    /// Whether following is over.
    #[must_use]
    pub fn has_ended(&self) -> bool {
        self.ended.is_some()
    }

    /// Whether the pessimistic danger number has ever reached 1.
    #[must_use]
    pub fn was_danger_reached(&self) -> bool {
        self.danger_reached.is_some()
    }

    /// Highest pore pressure of each section now, Pa absolute.
    #[must_use]
    pub fn pressures(&self) -> Vec<Range> {
        (0..self.estimator.sections().len()).map(|section| self.estimator.highest_pressure_pa(section)).collect()
    }

    /// When the plan next wants the burner to change, so that a clock can tick right then; `None` when it is not known.
    #[must_use]
    pub fn next_change(&self) -> Option<Seconds> {
        let runs = self.pacer.going() == Going::Running && self.pacer.wanted() == self.pacer.burner();
        self.pacer.changes_in_s().filter(|_| runs).map(|left_s| Seconds(self.elapsed_s + left_s))
    }
}
