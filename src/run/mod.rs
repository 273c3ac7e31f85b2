//! One door to a heat-up being followed: inputs go in, verdicts come out.
//!
//! [`Run::step`] is pure. The same inputs give the same verdicts, live, headless, replayed or in a test.

mod snapshot;
mod verdict;

pub use snapshot::{
    BurnerNow, ChannelNow, CueNow, Ended, LogNow, PlanClock, PlanPoint, SectionNow, Snapshot, Spoken, StandingWarning,
    TimeSource, ToldBy, Trace, TracePoint, Weight,
};
pub use verdict::{Advice, Range, SectionEstimate, Verdict, WarningCause};

use serde::{Deserialize, Serialize};

use crate::reading::{Channel, Place, Reading};
use crate::units::Seconds;

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
    /// A probe port went away (the words name it and the cause) or came back.
    PortLost(String),
    /// The port named is there again.
    PortBack(String),
    /// The log cannot be written, and why.
    LogFailing(String),
    /// The log is written again; nothing was lost.
    LogBack,
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
}
