//! Everything a screen needs of a followed heat-up at one moment, as plain data.
//!
//! Words for people (places, physics, advice) are made where they are known; a screen only lays them out.

use serde::{Deserialize, Serialize};

use crate::plan::Flame;
use crate::plan::firing::Setting;
use crate::reading::{Channel, Fault};
use crate::units::{Celsius, KelvinPerHour, Metres, Seconds};

use super::{Advice, Range, WarningCause};

/// A followed heat-up at one moment. A screen drawn from two equal snapshots is the same screen.
#[derive(Clone, Debug, PartialEq)]
pub struct Snapshot {
    /// The builder's name for the furnace.
    pub lining: String,
    /// Time since the heat-up began.
    pub elapsed: Seconds,
    /// Length of the plan as it stands now, pauses and changes included: from the start to its end.
    pub planned: Seconds,
    /// Time until the plan's end if its clock runs from now on.
    pub remaining: Seconds,
    /// What the plan's clock does.
    pub clock: PlanClock,
    /// What the burner should do; `None` when there is nothing more to do.
    pub cue: Option<CueNow>,
    /// What is believed of the burner itself; `None` until anyone said anything.
    pub burner: Option<BurnerNow>,
    /// One entry per probe channel, in the probe file's order.
    pub channels: Vec<ChannelNow>,
    /// What the hot face should do, in order of time, on this heat-up's clock: what is past stands where it was
    /// expected, what is to come is moved by pauses and changes.
    pub plan_curve: Vec<PlanPoint>,
    /// How the plan before would have gone on, after a new one took over. Empty when none did.
    pub old_plan_curve: Vec<PlanPoint>,
    /// The hottest face if the burner stays as it is; the first point is about now. Empty when nothing is forecast.
    pub forecast: Vec<PlanPoint>,
    /// Each way that the burner may go from here on, with the limits on it. Empty when nobody looked ahead.
    pub courses: Vec<CourseNow>,
    /// One entry per section, in the lining's order.
    pub sections: Vec<SectionNow>,
    /// Warnings that stand, the most urgent first.
    pub warnings: Vec<StandingWarning>,
    /// What was said last, the newest last; at most [`Snapshot::SPOKEN`] entries.
    pub spoken: Vec<Spoken>,
    /// Probe ports that are gone, each in words.
    pub ports_lost: Vec<String>,
    /// How the log fares.
    pub log: LogNow,
    /// Where elapsed time comes from.
    pub time_source: TimeSource,
    /// Set once following is over.
    pub ended: Option<Ended>,
}

impl Snapshot {
    /// Most verdicts that [`Self::spoken`] holds.
    pub const SPOKEN: usize = 40;
}

/// What the plan's clock does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PlanClock {
    /// Nobody has lit the burner yet.
    Waiting,
    /// It runs.
    Runs,
    /// It stands still since this time of the heat-up.
    Paused {
        /// Since when.
        since: Seconds,
    },
    /// The last pulse is over.
    Done,
}

/// What the burner should do now and next, by the plan.
#[derive(Clone, Debug, PartialEq)]
pub struct CueNow {
    /// What the burner should be now.
    pub burner: Flame,
    /// Time until that changes; `None` after the last pulse. Stands still while the plan's clock does.
    pub changes_in: Option<Seconds>,
    /// What it changes to; `None` after the last pulse.
    pub next: Option<Flame>,
    /// Round, from 1.
    pub round: usize,
    /// Number of rounds.
    pub rounds: usize,
    /// Pulse within the round, from 1.
    pub pulse: u32,
    /// Number of pulses in the round.
    pub pulses: u32,
    /// Which limit keeps the round from being stronger, in plain words.
    pub binds: String,
    /// Marks or ramps; `None` by a plan for a burner that is only opened and shut.
    pub fires: Option<FiresNow>,
}

/// What a burner that can be turned down, or a control that holds ramps, is set to and should be.
#[derive(Clone, Debug, PartialEq)]
pub struct FiresNow {
    /// What it is believed to be set to.
    pub set: Setting,
    /// What it should be set to now.
    pub wanted: Setting,
    /// What comes after that.
    pub next: Setting,
    /// Whether it burns and should be turned.
    pub turn_is_due: bool,
    /// Where the control has the gas now.
    pub set_point: Option<Celsius>,
}

/// What is believed of the burner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BurnerNow {
    /// Burning or shut.
    pub flame: Flame,
    /// Since this time of the heat-up.
    pub since: Seconds,
    /// How that is known.
    pub told_by: ToldBy,
}

/// How the state of the burner is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ToldBy {
    /// The operator said so.
    Operator,
    /// The readings show it.
    Readings,
    /// Nobody said anything else than the plan.
    Plan,
}

/// One probe channel now.
#[derive(Clone, Debug, PartialEq)]
pub struct ChannelNow {
    /// The operator's name for it.
    pub channel: Channel,
    /// Where its tip sits, in words: "floor, 30 mm deep".
    pub place: String,
    /// What it last said; `None` until it has spoken.
    pub value: Option<Result<Celsius, Fault>>,
    /// Time since it last said anything; `None` until it has.
    pub age: Option<Seconds>,
    /// How fast it rises, over a time long enough to bridge a pulse; `None` when that is not known yet.
    pub ramp: Option<KelvinPerHour>,
    /// The steepest rise that is allowed where it sits; `None` where none is.
    pub ramp_limit: Option<KelvinPerHour>,
    /// How far the place where its tip sits has dried; `None` outside of the lining.
    pub drying: Option<DryingNow>,
    /// Filtered values for the curve.
    pub trace: Trace,
}

/// A filtered temperature over the whole heat-up in bounded room: fine lately, coarser long ago.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    /// The coarse ones, then the fine ones.
    points: Vec<TracePoint>,
    /// How many are coarse.
    coarse: usize,
    /// Shortest time between two of those, s.
    apart_s: f64,
}

/// One point of a [`Trace`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TracePoint {
    /// Time since the heat-up began.
    pub elapsed: Seconds,
    /// Temperature.
    pub temp: Celsius,
}

impl Trace {
    /// Most points a trace holds.
    pub const MOST: usize = 720;

    /// Latest points that are never dropped.
    const FINE: usize = Self::MOST / 2;

    /// Appends a point. The oldest of the fine ones becomes a coarse one, or goes where another coarse one is near. When there is
    /// no room for more of those, every other one goes, so they stay spread over the whole time. The first always stays.
    pub fn push(&mut self, point: TracePoint) {
        self.points.push(point);
        if self.points.len() - self.coarse <= Self::FINE {
            return;
        }
        let time_s = |index: usize| self.points[index].elapsed.0;
        if self.coarse > 0 && time_s(self.coarse) - time_s(self.coarse - 1) < self.apart_s {
            self.points.remove(self.coarse);
            return;
        }
        self.coarse += 1;
        if self.coarse > Self::MOST - Self::FINE {
            self.thin_out();
        }
    }

    fn thin_out(&mut self) {
        let coarse = self.coarse;
        let mut index = 0;
        self.points.retain(|_| {
            index += 1;
            index > coarse || index % 2 == 1
        });
        self.coarse = coarse.div_ceil(2);
        let (first, last) = (self.points[0].elapsed.0, self.points[self.coarse - 1].elapsed.0);
        self.apart_s = (last - first) / (self.coarse - 1) as f64;
    }

    /// The points, in order of time.
    #[must_use]
    pub fn points(&self) -> &[TracePoint] {
        &self.points
    }
}

/// What a hot face is expected to be at one moment: 5th, 50th and 95th percentile.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlanPoint {
    /// Time since the heat-up began.
    pub elapsed: Seconds,
    /// 5th percentile.
    pub low: Celsius,
    /// Median.
    pub mid: Celsius,
    /// 95th percentile.
    pub high: Celsius,
}

/// A way that the burner may go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Course {
    /// It stays as it is.
    AsIs,
    /// It does what the plan says.
    AsPlanned,
    /// It is shut now and stays so.
    ShutNow,
}

/// What comes on one way.
#[derive(Clone, Debug, PartialEq)]
pub struct CourseNow {
    /// The way.
    pub course: Course,
    /// How far ahead was looked.
    pub looks: Seconds,
    /// The limits that are reached within that, the nearest first.
    pub limits: Vec<LimitAhead>,
}

/// A limit ahead.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitAhead {
    /// Which.
    pub cause: WarningCause,
    /// The section it concerns.
    pub section: String,
    /// Time to it; 0 when it is passed already.
    pub lead: Seconds,
}

/// What is believed of one section now.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionNow {
    /// The builder's name for it.
    pub section: String,
    /// Danger number of its worst cell.
    pub danger: Range,
    /// Ceiling on the danger number.
    pub ceiling: f64,
    /// Where the worst cell is and what acts there, in words: "sealed back of the floor, steam 0.9 MPa against 2.1 MPa
    /// strength".
    pub worst: String,
    /// Water left, kg.
    pub water_left_kg: Range,
    /// Water before the first flame, kg.
    pub water_initial_kg: f64,
    /// The wall from the fire to its outside, at even depths.
    pub depths: Vec<DepthNow>,
}

/// What is believed of one depth of a section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DepthNow {
    /// From the hot face.
    pub depth: Metres,
    /// Temperature, °C.
    pub temp_c: Range,
    /// Pore pressure over the air's, MPa.
    pub steam_mpa: Range,
    /// Water, free and bound, kg/m³.
    pub water_kg_m3: Range,
}

/// How far a place has dried.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DryingNow {
    /// Weight of the members that hold no free water to speak of there, 0 to 1: how sure it is that it is dry.
    pub dry_share: f64,
    /// Where its temperature stands because water boils there, if it does.
    pub plateau: Option<Celsius>,
}

/// A warning that stands until what it is about is over.
#[derive(Clone, Debug, PartialEq)]
pub struct StandingWarning {
    /// Which limit.
    pub cause: WarningCause,
    /// The channel it was seen on, if on one.
    pub channel: Option<Channel>,
    /// The section it concerns, if one.
    pub section: Option<String>,
    /// When it was raised; a warning raised anew has a new time.
    pub since: Seconds,
    /// Forecast time to the limit; `None` when it is passed already.
    pub lead: Option<Seconds>,
    /// What to do and why.
    pub advice: Advice,
    /// What the advice wants the burner to be, if it is about the burner. It goes before the plan's cue on the screen.
    pub burner: Option<Flame>,
    /// Whether the operator has silenced it.
    pub silenced: bool,
}

/// A verdict in words, for the list of what was said last.
#[derive(Clone, Debug, PartialEq)]
pub struct Spoken {
    /// Time since the heat-up began.
    pub elapsed: Seconds,
    /// How grave.
    pub weight: Weight,
    /// What was said, with its reason.
    pub text: String,
}

/// How grave a verdict is, the gravest last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// Worth knowing.
    Notice,
    /// The burner should change, or did.
    Cue,
    /// A channel, port or the log is not well, or is well again.
    Fault,
    /// A limit is ahead or passed.
    Warning,
}

/// How the log fares.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LogNow {
    /// No log is kept, because the operator asked for none.
    Off,
    /// Rows are safe.
    Writing {
        /// Rows that would survive a power cut.
        rows: u64,
    },
    /// Rows cannot be written; following goes on.
    Failing {
        /// Rows that would survive a power cut.
        rows: u64,
        /// Why, in words.
        why: String,
    },
}

/// Where elapsed time comes from. Logs keep it as `clock` or `probe`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum TimeSource {
    /// This computer's clock.
    #[serde(rename = "clock")]
    Computer,
    /// The time that comes with the probe lines.
    #[serde(rename = "probe")]
    ProbeLine,
}

/// How following ended.
#[derive(Clone, Debug, PartialEq)]
pub struct Ended {
    /// Time since the heat-up began.
    pub elapsed: Seconds,
    /// Why.
    pub reason: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day_at_one_a_second() -> Trace {
        let mut trace = Trace::default();
        for second in 0..86_400 {
            trace.push(TracePoint { elapsed: Seconds(f64::from(second)), temp: Celsius(f64::from(second) / 100.0) });
        }
        trace
    }

    #[test]
    fn a_trace_of_a_day_stays_within_its_room() {
        assert!(day_at_one_a_second().points().len() <= Trace::MOST);
    }

    #[test]
    fn a_trace_keeps_its_first_point_and_its_latest_minutes() {
        let trace = day_at_one_a_second();
        let times: Vec<i64> = trace.points().iter().map(|point| point.elapsed.0 as i64).collect();
        assert_eq!(times[0], 0);
        let latest: Vec<i64> = (86_100..86_400).collect();
        assert_eq!(times[times.len() - 300..], latest);
    }

    #[test]
    fn a_trace_of_a_day_has_no_hole_longer_than_ten_minutes() {
        let trace = day_at_one_a_second();
        let longest_s = trace.points().windows(2).map(|pair| pair[1].elapsed.0 - pair[0].elapsed.0).fold(0.0, f64::max);
        assert!(longest_s <= 600.0, "{longest_s} s");
    }

    #[test]
    fn a_trace_stays_in_order_of_time() {
        assert!(day_at_one_a_second().points().is_sorted_by(|a, b| a.elapsed.0 < b.elapsed.0));
    }
}
