//! The followed heat-up as a screen needs it.

use super::cue::Going;
use super::snapshot::{
    BurnerNow, ChannelNow, CueNow, FiresNow, PlanClock, PlanPoint, SectionNow, Snapshot, Spoken, Weight,
};
use super::verdict::Verdict;
use super::watch::place_in_words;
use super::{Run, ToldBy, Trace};
use crate::plan::Flame;
use crate::units::Seconds;
use crate::units::quantity::UnitSystem;

/// Depths at which the wall is shown.
const DEPTHS: usize = 9;

impl Run {
    /// Everything a screen needs, as it is now.
    #[must_use]
    pub fn snapshot(&self) -> Snapshot {
        let remaining_s = self.pacer.remaining_s();
        Snapshot {
            lining: self.lining.name.clone(),
            elapsed: Seconds(self.elapsed_s),
            planned: Seconds(self.elapsed_s + remaining_s),
            remaining: Seconds(remaining_s),
            clock: match self.pacer.going() {
                Going::Waiting => PlanClock::Waiting,
                Going::Running => PlanClock::Runs,
                Going::Paused(since_s) => PlanClock::Paused { since: Seconds(since_s) },
                Going::Done => PlanClock::Done,
            },
            cue: self.cue_now(),
            burner: self.burner_now(),
            channels: (0..self.trails.len()).filter_map(|index| self.channel_now(index)).collect(),
            plan_curve: self.plan_curve(),
            old_plan_curve: self.replanning.old().to_vec(),
            forecast: self.stays().map_or_else(Vec::new, |forecast| forecast.hottest.clone()),
            courses: self.courses(),
            sections: (0..self.lining.sections.len()).map(|section| self.section_now(section)).collect(),
            warnings: self.alarms.standing(),
            spoken: self.spoken.iter().cloned().collect(),
            ports_lost: self.ports_lost.clone(),
            log: self.log.clone(),
            time_source: self.time_source,
            ended: self.ended.clone(),
        }
    }

    /// Keeps a verdict for the list of what was said last.
    pub(super) fn remember(&mut self, verdict: &Verdict) {
        let Some((weight, text)) = in_words(verdict) else { return };
        self.spoken.push_back(Spoken { elapsed: Seconds(verdict.elapsed_s()), weight, text });
        while self.spoken.len() > Snapshot::SPOKEN {
            self.spoken.pop_front();
        }
    }

    fn cue_now(&self) -> Option<CueNow> {
        let stretch = self.pacer.stretch()?;
        let round = self.plan.rounds.get(stretch.round)?;
        let changes_in = self.pacer.changes_in_s().map(Seconds);
        Some(CueNow {
            burner: self.pacer.wanted(),
            changes_in,
            next: changes_in.map(|_| self.pacer.next_set().flame()),
            round: stretch.round + 1,
            rounds: self.plan.rounds.len(),
            pulse: if stretch.pulsed { stretch.pulse + 1 } else { 1 },
            pulses: if stretch.pulsed { round.count } else { 1 },
            binds: round.binds.clone(),
            fires: self.fires_now(),
        })
    }

    fn fires_now(&self) -> Option<FiresNow> {
        if self.plan.rounds.iter().all(|round| round.firing.is_on_off()) {
            return None;
        }
        Some(FiresNow {
            set: self.pacer.set().clone(),
            wanted: self.pacer.wanted_set(),
            next: self.pacer.next_set(),
            turn_is_due: self.pacer.turn_is_due(),
            set_point: self.pacer.fired().gas.map(|(at, _)| at),
        })
    }

    fn burner_now(&self) -> Option<BurnerNow> {
        if self.told_by == ToldBy::Plan && self.pacer.going() == Going::Waiting {
            return None;
        }
        let (flame, since_s) = (self.pacer.burner(), self.pacer.burner_since_s());
        Some(BurnerNow { flame, since: Seconds(since_s), told_by: self.told_by })
    }

    fn channel_now(&self, index: usize) -> Option<ChannelNow> {
        let channel = self.health.channels().get(index)?;
        let (ramp, ramp_limit) = self.ramp_of(index);
        let value = match self.health.fault(index) {
            Some(fault) => Some(Err(fault)),
            None => channel.value,
        };
        Some(ChannelNow {
            channel: channel.probe.channel.clone(),
            place: place_in_words(&channel.probe.place),
            value,
            age: channel.heard_s.map(|heard_s| Seconds(self.elapsed_s - heard_s)),
            ramp,
            ramp_limit,
            drying: self.drying_now(index),
            trace: self.traces.get(index).cloned().unwrap_or_else(Trace::default),
        })
    }

    pub(super) fn plan_curve(&self) -> Vec<PlanPoint> {
        let point = |expected: &crate::plan::Expected| PlanPoint {
            elapsed: Seconds(self.pacer.elapsed_of_s(expected.elapsed.0)),
            low: expected.hot_face[0],
            mid: expected.hot_face[1],
            high: expected.hot_face[2],
        };
        let mut curve = self.replanning.past().to_vec();
        curve.extend(self.plan.expected.iter().map(point));
        curve.sort_by(|a, b| a.elapsed.0.total_cmp(&b.elapsed.0));
        curve
    }

    fn section_now(&self, section: usize) -> SectionNow {
        SectionNow {
            section: self.estimator.sections().get(section).cloned().unwrap_or_default(),
            danger: self.estimator.danger(section),
            ceiling: self.plan.limits.danger_ceiling,
            worst: self.worst_in_words(section),
            water_left_kg: self.estimator.water_left_kg(section),
            water_initial_kg: self.estimator.water_initial_kg(section),
            depths: self.estimator.depths(section, DEPTHS),
        }
    }
}

/// A verdict in words with its weight; `None` for what comes all the time.
fn in_words(verdict: &Verdict) -> Option<(Weight, String)> {
    Some(match verdict {
        Verdict::Reading { .. } | Verdict::Estimate { .. } => return None,
        Verdict::Ready { lining, .. } => (Weight::Notice, format!("ready to follow the first heat of {lining}")),
        Verdict::Cue { burner, in_s, set, .. } => {
            let word = match (set, burner) {
                (Some(set), _) => set.words(UnitSystem::Metric),
                (None, Flame::On) => "on".to_owned(),
                (None, Flame::Off) => "off".to_owned(),
            };
            let when = if *in_s > 0.0 { format!("in {in_s:.0} s") } else { "now".to_owned() };
            (Weight::Cue, format!("burner {word} {when}"))
        }
        Verdict::Warning { advice, .. } => (Weight::Warning, advice.clone().into()),
        Verdict::Notice { text, .. } => (Weight::Notice, text.clone()),
        Verdict::Fault { channel, text, over, .. } => {
            let whose = channel.as_ref().map_or_else(String::new, |channel| format!("{channel}: "));
            let over = if *over { "over: " } else { "" };
            (Weight::Fault, format!("{over}{whose}{text}"))
        }
        Verdict::End { reason, .. } => (Weight::Notice, reason.clone()),
    })
}
