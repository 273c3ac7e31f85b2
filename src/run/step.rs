//! One step: what came in, in the order in which it has to be taken in and answered.

use super::cue::{Going, Say, in_words};
use super::forecast::{Forecast, Nearness};
use super::health::{Change, fault_in_words};
use super::ramp::window_s;
use super::verdict::{About, Ending, Verdict};
use super::{Ended, Event, Input, LogNow, Run, TimeSource, ToldBy, TracePoint, Word};
use crate::plan::Flame;
use crate::reading::{Channel, Fault, Place, Reading};
use crate::units::{Celsius, Seconds};

/// What sees the chamber this far below the set point of a control that holds ramps should not fall, K.
const HELD_WITHIN_K: f64 = 50.0;

/// Estimates are given at most this often, s.
const ESTIMATE_EVERY_S: f64 = 10.0;

/// After an operator's word, readings are not asked about the burner for so long, s: probes lag.
const WORD_HOLDS_S: f64 = 20.0;

/// A slow probe goes on rising after the burner was shut, because the gas was far hotter than it showed, s.
const RISES_ON_S: f64 = 120.0;

/// The last pulse is repeated for a lining that is not dry or not soaked, up to this many lengths of the plan in all.
const MOST_LENGTHS: f64 = 2.0;

/// A soak counts within this of its temperature, K.
const SOAK_WITHIN_K: f64 = 15.0;

/// A light-up this late lets the rest be planned anew, s.
const LATE_PLAN_S: f64 = 300.0;

/// After a gap of this length nothing that was said before counts for the burner, s.
const LONG_GAP_S: f64 = 60.0;

/// After a stand of this length it is asked whether the lining has cooled too far to go on, s.
const LONG_STAND_S: f64 = 600.0;

impl Run {
    /// Takes in one input; what it gives rise to comes in order, the echo of a probe line last.
    pub(super) fn take(&mut self, input: &Input) -> Vec<Verdict> {
        let mut said = Vec::new();
        if self.begun_s.is_none() {
            self.elapsed_s = input.elapsed.0.max(0.0);
            self.begun_s = Some(self.elapsed_s);
            said.push(self.ready());
            said.extend(self.slow_sheaths(self.elapsed_s));
        }
        let span_s = (input.elapsed.0 - self.elapsed_s).max(0.0);
        self.elapsed_s += span_s;
        let echo = self.take_event(&input.event, &mut said);
        if let Event::TakenUp { missed } = input.event {
            said.push(self.take_up(missed.0));
        } else {
            self.pass(span_s, &mut said);
        }
        self.take_word(&input.event, &mut said);
        said.extend(self.missing());
        self.ask_the_readings(&mut said);
        said.extend(self.change_plan());
        self.cue(&mut said);
        self.foresee(&mut said);
        let looks = self.look();
        said.extend(self.alarms.judge(self.elapsed_s, looks));
        said.extend(self.estimate_if_due());
        self.end_if_done(&input.event, &mut said);
        said.extend(echo);
        said
    }

    fn ready(&self) -> Verdict {
        Verdict::Ready {
            elapsed_s: self.elapsed_s,
            lining: self.lining.name.clone(),
            planned_s: self.plan.length().0,
            time_from_probe: self.time_source == TimeSource::ProbeLine,
        }
    }

    /// Takes in readings and the state of ports and log; gives the echo of a probe line.
    fn take_event(&mut self, event: &Event, said: &mut Vec<Verdict>) -> Option<Verdict> {
        let elapsed_s = self.elapsed_s;
        match event {
            Event::Readings(readings) => return Some(self.hear(readings, said)),
            Event::PortLost(text) => {
                self.ports_lost.push(text.clone());
                said.push(Verdict::Fault { elapsed_s, channel: None, text: text.clone(), over: false });
            }
            Event::PortBack(text) => {
                self.ports_lost.retain(|lost| lost.split(": ").next() != Some(text.as_str()));
                let text = format!("{text}: there again");
                said.push(Verdict::Fault { elapsed_s, channel: None, text, over: true });
            }
            Event::LogFailing(why) => {
                self.log = LogNow::Failing { rows: 0, why: why.clone() };
                let text = format!("the log cannot be written: {why}; following goes on without it");
                said.push(Verdict::Fault { elapsed_s, channel: None, text, over: false });
            }
            Event::LogBack => {
                self.log = LogNow::Writing { rows: 0 };
                let text = "the log is written again; nothing was lost".into();
                said.push(Verdict::Fault { elapsed_s, channel: None, text, over: true });
            }
            Event::Replanned(plan) => self.replanned(plan),
            Event::NotReplanned(why) => said.push(self.not_replanned(why)),
            Event::Tick | Event::Operator(_) | Event::TakenUp { .. } => {}
        }
        None
    }

    fn hear(&mut self, readings: &[Reading], said: &mut Vec<Verdict>) -> Verdict {
        let now_s = self.elapsed_s;
        let (changes, strangers) = self.health.hear(now_s, readings);
        said.extend(changes.into_iter().map(|change| fault_verdict(now_s, change)));
        for stranger in strangers {
            if !self.strangers.contains(&stranger) {
                let text = format!("the line speaks of `{stranger}`, which the probe file does not know; passed over");
                said.push(Verdict::Notice { elapsed_s: now_s, text, about: None });
                self.strangers.push(stranger);
            }
        }
        for index in 0..self.trails.len() {
            self.note(index, now_s);
        }
        self.echo(readings)
    }

    /// Appends the believed value of a channel to its trail and trace.
    fn note(&mut self, index: usize, now_s: f64) {
        let fresh = self.health.channels().get(index).and_then(|channel| channel.heard_s);
        let (Some(temp_c), Some(heard_s)) = (self.health.believed_c(index), fresh) else { return };
        if heard_s < now_s {
            return;
        }
        if let (Some(trail), Some(trace)) = (self.trails.get_mut(index), self.traces.get_mut(index)) {
            trail.push(now_s, temp_c);
            let last = trace.points().last().copied();
            if last.is_none_or(|point| now_s - point.elapsed.0 >= 1.0) {
                // Half of the step, so that noise of a reading does not fill the curve and a pulse still shows.
                let shown_c = last.map_or(temp_c, |point| point.temp.0 + 0.5 * (temp_c - point.temp.0));
                trace.push(TracePoint { elapsed: Seconds(now_s), temp: Celsius(shown_c) });
            }
        }
        if self.fastest() == Some(index) {
            if self.sense_channel != Some(index) {
                self.sense.clear();
                self.sense_channel = Some(index);
            }
            self.sense.push(now_s, temp_c);
        }
    }

    /// The channel on which a flame shows first: the gas, else a hot face.
    pub(super) fn fastest(&self) -> Option<usize> {
        let channels = self.health.channels().iter().enumerate();
        let sees =
            channels.filter(|(index, _)| self.estimator.sees_fire(*index) && self.health.fault(*index).is_none());
        sees.min_by_key(|(_, channel)| u8::from(channel.probe.place != Place::ChamberGas)).map(|(index, _)| index)
    }

    /// The line as it was taken: what each channel said, and every fault that stands.
    fn echo(&self, readings: &[Reading]) -> Verdict {
        let mut values: Vec<(Channel, Celsius)> = Vec::new();
        let mut faults: Vec<(Channel, Fault)> = Vec::new();
        for (index, channel) in self.health.channels().iter().enumerate() {
            let spoke = readings.iter().any(|reading| reading.channel == channel.probe.channel);
            let name = channel.probe.channel.clone();
            match (self.health.fault(index), channel.value) {
                (Some(fault), _) => faults.push((name, fault)),
                (None, Some(Ok(temp))) if spoke => values.push((name, temp)),
                _ => {}
            }
        }
        Verdict::Reading { elapsed_s: self.elapsed_s, values, faults }
    }

    /// Time has passed with the burner as it was.
    fn pass(&mut self, span_s: f64, said: &mut Vec<Verdict>) {
        let now_s = self.elapsed_s;
        self.pacer.pass(now_s, span_s);
        let fired = self.pacer.fired();
        let mut outcome = self.estimator.pass(now_s, fired, &self.health);
        if self.estimator.is_piece_full() {
            let piece_s = self.estimator.gathered_s();
            outcome = outcome.and(self.estimator.finish());
            self.note_faces(now_s);
            self.count_soak(piece_s);
            said.extend(self.hold_against_wall(now_s));
            said.extend(self.tell_drying(now_s));
        }
        match (outcome, self.unsolved) {
            (Err(error), false) => {
                let text =
                    format!("the estimate stands still: {error}; trust the readings, and go slower than planned");
                said.push(Verdict::Fault { elapsed_s: now_s, channel: None, text, over: false });
                self.unsolved = true;
            }
            (Ok(()), true) => {
                let text = "the estimate goes on".into();
                said.push(Verdict::Fault { elapsed_s: now_s, channel: None, text, over: true });
                self.unsolved = false;
            }
            _ => {}
        }
    }

    fn note_faces(&mut self, now_s: f64) {
        for (section, trail) in self.face_trails.iter_mut().enumerate() {
            trail.push(now_s, self.estimator.hot_face_c(section));
        }
    }

    /// Adds to the soak while the hottest face, on the mean over the pulses, is at the soak's temperature.
    fn count_soak(&mut self, piece_s: f64) {
        let window_s = window_s(self.pacer.cycle_s());
        let means = (0..self.face_trails.len()).filter_map(|section| self.face_mean_c(section, window_s));
        let hottest_c = means.fold(f64::NEG_INFINITY, f64::max);
        if hottest_c >= self.plan.limits.soak_temp.0 - SOAK_WITHIN_K {
            self.soaked_s += piece_s;
        }
    }

    /// Takes in what the operator said.
    fn take_word(&mut self, event: &Event, said: &mut Vec<Verdict>) {
        let Event::Operator(word) = event else { return };
        let now_s = self.elapsed_s;
        let answer = match word {
            Word::On => self.burner_is(Flame::On, ToldBy::Operator),
            Word::Off => self.burner_is(Flame::Off, ToldBy::Operator),
            Word::Pause => self.pacer.pause(now_s),
            Word::Resume => self.resume(),
            Word::Replan => {
                said.push(self.wants_replan());
                return;
            }
            Word::Silence => {
                said.push(self.alarms.silence(now_s));
                return;
            }
            Word::Quit => return,
        };
        said.extend(answer.into_iter().map(|say| say.verdict(now_s)));
    }

    pub(super) fn burner_is(&mut self, flame: Flame, told_by: ToldBy) -> Vec<Say> {
        let was_due = self.pacer.lateness(self.elapsed_s);
        if self.told_by != ToldBy::Operator {
            self.told_by = told_by;
        }
        let turns = flame == Flame::On && self.pacer.can_turn();
        if self.pacer.burner() == flame && !turns {
            return Vec::new();
        }
        self.late_said = 0;
        self.sense.clear();
        self.contradicted_since_s = None;
        let stood_s = match was_due {
            super::cue::Lateness::Unlit(late_s) => late_s,
            _ => 0.0,
        };
        self.ask_for_a_plan_after(was_due);
        let back = if flame == Flame::On { self.go_back_if_cold(stood_s) } else { Vec::new() };
        let mut said = self.pacer.burner_is(flame, self.elapsed_s);
        said.extend(back);
        said
    }

    fn resume(&mut self) -> Vec<Say> {
        let stood_s = match self.pacer.going() {
            Going::Paused(since_s) => self.elapsed_s - since_s,
            _ => 0.0,
        };
        if stood_s >= LONG_STAND_S {
            self.deviates();
        }
        let mut said = self.pacer.resume(self.elapsed_s);
        said.extend(self.go_back_if_cold(stood_s));
        said
    }

    /// Wants a new plan when a pulse began or ended so late that the rest should be looked at again.
    fn ask_for_a_plan_after(&mut self, was_due: super::cue::Lateness) {
        use super::cue::Lateness;
        let is_far_off = match was_due {
            Lateness::None => false,
            Lateness::Unlit(late_s) => late_s >= LATE_PLAN_S,
            Lateness::High { over_s, pulse_s } | Lateness::Burning { over_s, pulse_s } => {
                over_s >= (0.5 * pulse_s).max(10.0)
            }
        };
        if is_far_off {
            self.deviates();
        }
    }

    /// The program had stopped for `missed_s`. The plan's clock stood; what the burner did meanwhile nobody saw.
    fn take_up(&mut self, missed_s: f64) -> Verdict {
        let now_s = self.elapsed_s;
        self.pacer.taken_up(now_s);
        self.health.taken_up(now_s);
        self.estimator.bridge(now_s);
        self.sense.clear();
        self.contradicted_since_s = None;
        self.forecast = None;
        let was = if self.pacer.burner() == Flame::On { "lit" } else { "shut" };
        let is_long = missed_s >= LONG_GAP_S;
        if is_long {
            // Whoever said it spoke of the time before; from now on the readings may tell otherwise.
            self.told_by = ToldBy::Plan;
            self.deviates();
        }
        let ask = if is_long { "; say `on` or `off` if that has changed" } else { "" };
        let text = format!(
            "following goes on: {} were not watched and the plan moved by as much; the burner was last {was}{ask}",
            in_words(missed_s)
        );
        Verdict::Notice { elapsed_s: now_s, text, about: None }
    }

    /// After a long stand, goes back to the round that the lining's temperature belongs to.
    fn go_back_if_cold(&mut self, stood_s: f64) -> Vec<Say> {
        let Some(round) = self.pacer.stretch().map(|stretch| stretch.round) else { return Vec::new() };
        let Some(face_c) = self.hottest_face_c().filter(|_| stood_s >= LONG_STAND_S) else { return Vec::new() };
        let begins: Vec<(usize, f64)> =
            (0..=round).filter_map(|round| Some((round, self.expected_at_round_c(round)?))).collect();
        let fits = begins.iter().rev().find(|(_, begin_c)| *begin_c <= face_c + SOAK_WITHIN_K).or(begins.first());
        match fits {
            Some((back, _)) if *back < round && self.pacer.back_to_round(*back, self.elapsed_s) => {
                let text = format!(
                    "the lining cooled to {face_c:.0} °C in {}: going back to round {}",
                    in_words(stood_s),
                    back + 1
                );
                vec![Say::About(About::BackToRound { round: *back as u32 + 1 }, text)]
            }
            _ => Vec::new(),
        }
    }

    /// What the plan expects of the hot face where `round` begins, °C.
    fn expected_at_round_c(&self, round: usize) -> Option<f64> {
        let begins_s: f64 = self.plan.rounds.iter().take(round).map(super::cue::round_length_s).sum();
        let after = self.plan.expected.partition_point(|expected| expected.elapsed.0 <= begins_s);
        self.plan.expected.get(after.checked_sub(1)?).map(|expected| expected.hot_face[1].0)
    }

    /// Channels that fell silent.
    fn missing(&mut self) -> Vec<Verdict> {
        let now_s = self.elapsed_s;
        let begun_s = self.begun_s.unwrap_or(now_s);
        self.health.listen(now_s, begun_s).into_iter().map(|change| fault_verdict(now_s, change)).collect()
    }

    /// Lets the readings tell what the burner does, when nobody does.
    fn ask_the_readings(&mut self, said: &mut Vec<Verdict>) {
        let (now_s, burner) = (self.elapsed_s, self.pacer.burner());
        let told = self.told_by == ToldBy::Operator;
        let holds = now_s - self.pacer.burner_since_s() < WORD_HOLDS_S && self.pacer.going() != Going::Waiting;
        let shown = self.sense.shows().filter(|shown| *shown != burner && !holds);
        let shown = shown.filter(|shown| *shown == Flame::On || !self.is_held());
        let Some(shown) = shown else {
            self.contradicted_since_s = None;
            return;
        };
        if !told {
            let what = if shown == Flame::On { "rise: taking the burner as lit" } else { "fall: taking it as shut" };
            let text = format!("nobody said so, but the readings {what}");
            said.push(Verdict::Notice { elapsed_s: now_s, text, about: None });
            let answer = self.burner_is(shown, ToldBy::Readings);
            said.extend(answer.into_iter().map(|say| say.verdict(now_s)));
            return;
        }
        let rises_on = shown == Flame::On && now_s - self.pacer.burner_since_s() < RISES_ON_S;
        if rises_on {
            return;
        }
        if self.contradicted_since_s.is_none() && shown == Flame::On {
            let text = "the burner is said to be shut, but the readings rise as if it burnt: look at the flame";
            said.push(Verdict::Notice { elapsed_s: now_s, text: text.into(), about: None });
        }
        self.contradicted_since_s.get_or_insert(now_s);
    }

    /// Whether what sees the chamber may fall though the flame burns: where a control that holds ramps lets the set point fall, and
    /// where it stands near the set point or above it.
    fn is_held(&self) -> bool {
        let Some((at, ramp)) = self.pacer.fired().gas else { return false };
        let seen_c = self.fastest().and_then(|index| self.health.believed_c(index));
        ramp.0 < 0.0 || seen_c.is_some_and(|seen_c| seen_c >= at.0 - HELD_WITHIN_K)
    }

    fn cue(&mut self, said: &mut Vec<Verdict>) {
        let now_s = self.elapsed_s;
        said.extend(self.pacer.cues(now_s).into_iter().map(|say| say.verdict(now_s)));
        if self.told_by != ToldBy::Operator && self.pacer.turn_is_due() {
            // Readings do not tell one fire from another: where nobody speaks, turning is taken as done.
            said.extend(self.pacer.burner_is(Flame::On, now_s).into_iter().map(|say| say.verdict(now_s)));
        }
        said.extend(self.late_notice());
    }

    /// Makes the forecast anew when it is old. With the burner shut only danger can still rise, so where no section is near its
    /// ceiling none is needed.
    fn foresee(&mut self, said: &mut Vec<Verdict>) {
        let (now_s, fired) = (self.elapsed_s, self.pacer.fired());
        let half = 0.5 * self.plan.limits.danger_ceiling;
        let is_near = (0..self.estimator.sections().len()).any(|section| self.estimator.danger(section).high > half);
        let nearness = if is_near { Nearness::Near } else { Nearness::Far };
        if fired.flame == Flame::Off && (self.pacer.going() == Going::Waiting || nearness == Nearness::Far) {
            self.forecast = None;
            return;
        }
        let must_see_s = self.must_see_s();
        if self.forecast.as_ref().is_some_and(|forecast| !forecast.is_old(now_s, fired, nearness, must_see_s)) {
            return;
        }
        let wall = (&self.estimator.ensemble, self.estimator.sections().len());
        match Forecast::for_warnings(wall, fired, now_s, must_see_s) {
            Ok(forecast) => {
                self.no_forecast_said &= fired.flame == Flame::Off;
                self.forecast = Some(forecast);
            }
            Err(error) => {
                self.forecast = None;
                if !std::mem::replace(&mut self.no_forecast_said, true) {
                    let text = format!("no forecast for now: {error}");
                    said.push(Verdict::Notice { elapsed_s: now_s, text, about: None });
                }
            }
        }
    }

    fn estimate_if_due(&mut self) -> Option<Verdict> {
        let now_s = self.elapsed_s;
        if self.estimate_said_s.is_some_and(|said_s| now_s - said_s < ESTIMATE_EVERY_S - 1e-9) {
            return None;
        }
        self.estimate_said_s = Some(now_s);
        let sections = self.estimator.estimates();
        if sections.iter().any(|section| section.danger.high >= 1.0) {
            self.danger_reached.get_or_insert(Seconds(now_s));
        }
        Some(Verdict::Estimate { elapsed_s: now_s, sections })
    }

    fn end_if_done(&mut self, event: &Event, said: &mut Vec<Verdict>) {
        let elapsed_s = self.elapsed_s;
        let mut end = |ending: Ending, reason: String| {
            self.ended = Some(Ended { elapsed: Seconds(elapsed_s), reason: reason.clone() });
            said.push(Verdict::End { elapsed_s, reason, ending: Some(ending) });
        };
        if *event == Event::Operator(Word::Quit) {
            let reason = "ended before the plan was done: shut the gas and leave the lining to cool slowly";
            return end(Ending::Stopped, reason.into());
        }
        if self.pacer.going() != Going::Done || self.pacer.burner() == Flame::On {
            return;
        }
        let is_dry = (0..self.lining.sections.len()).all(|section| self.estimator.is_dry(section));
        let soaked = self.soaked_s >= self.plan.limits.soak.0;
        if is_dry && soaked {
            return end(
                Ending::DryAndSoaked,
                "the plan is done, the lining is dry and has soaked: shut the gas at the cylinder (what water is \
                        still counted is bound in the binder or lies in fibre, where it does no harm)"
                    .into(),
            );
        }
        let lacks = if is_dry { "has not soaked for as long as it should" } else { "still holds water" };
        if self.pacer.plan_s() >= MOST_LENGTHS * self.plan.length().0 {
            let ending = if is_dry { Ending::NotSoaked } else { Ending::Wet };
            let reason = format!("the plan took twice its length and the lining {lacks}: look for what is wrong");
            return end(ending, reason);
        }
        if !self.repeats {
            let text = format!("the plan is done, but the lining {lacks}: the last pulse is repeated until it is");
            said.push(Verdict::Notice { elapsed_s, text, about: None });
        }
        self.repeats = true;
        self.pacer.repeat_last_pulse();
        self.cue(said);
    }
}

impl Say {
    /// As a verdict.
    pub(super) fn verdict(self, elapsed_s: f64) -> Verdict {
        match self {
            Self::Cue(burner, in_s) => Verdict::Cue { elapsed_s, burner, in_s: tenths(in_s), set: None },
            Self::Set(set, in_s) => Verdict::Cue { elapsed_s, burner: set.flame(), in_s: tenths(in_s), set: Some(set) },
            Self::Notice(text) => Verdict::Notice { elapsed_s, text, about: None },
            Self::About(about, text) => Verdict::Notice { elapsed_s, text, about: Some(about) },
        }
    }
}

fn tenths(span_s: f64) -> f64 {
    (span_s * 10.0).round() / 10.0
}

fn fault_verdict(elapsed_s: f64, change: Change) -> Verdict {
    let text = fault_in_words(change.fault).to_owned();
    Verdict::Fault { elapsed_s, channel: Some(change.channel), text, over: change.over }
}
