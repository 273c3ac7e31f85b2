//! The plan's clock: which pulse is due, what was really done, and what to say ahead of time.
//!
//! The clock runs only while the burner does what the plan says. A pause, a late light-up or a missed cue therefore
//! shifts the rest of the plan and leaves its shape alone: every pulse and every pause still gets its full length.

use super::verdict::About;
use crate::plan::firing::Setting;
use crate::plan::{Flame, Plan};
use crate::units::{Celsius, KelvinPerHour, Seconds};

/// How long before a change it is announced, s. Long enough to reach for the valve.
pub(super) const LEAD_S: f64 = 5.0;

/// The cooling that is added after a pulse that ran too long is never more than this, s.
const MOST_EXTRA_OFF_S: f64 = 1800.0;

/// One stretch of the plan with the burner in one state.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Stretch {
    /// State of the burner.
    pub flame: Flame,
    /// What it is set to.
    pub set: Setting,
    /// Whether it is the off-time of a pulse, or what the burner is turned down to in its place.
    pub rests: bool,
    /// Whether it is one of pulses, and not a fire or ramp without a pause.
    pub pulsed: bool,
    /// Length, s.
    pub length_s: f64,
    /// Index of the round.
    pub round: usize,
    /// Pulse within the round, from 0.
    pub pulse: u32,
    /// Where it begins on the plan's clock, s.
    pub begins_s: f64,
}

/// What has to be said about the burner.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Say {
    /// It should change to this state in so many seconds; 0 is now.
    Cue(Flame, f64),
    /// It should be set to this mark, or its control to this ramp, in so many seconds; 0 is now.
    Set(Setting, f64),
    /// What was done and what the plan makes of it.
    Notice(String),
    /// The same, with what it is about.
    About(About, String),
}

/// How far the burner is from what the plan says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Lateness {
    /// It does what it should.
    None,
    /// It should burn, since so many seconds.
    Unlit(f64),
    /// It should be shut, since so many seconds; the pulse was to last so many.
    Burning {
        /// Since the cue, s.
        over_s: f64,
        /// Length of the pulse that should have ended; 0 when none was due.
        pulse_s: f64,
    },
    /// It should be turned down to this, since so many seconds.
    High {
        /// Since the cue, s.
        over_s: f64,
        /// Length of the fire that should have ended, s.
        pulse_s: f64,
    },
}

/// The burner as it is believed to be, for whoever simulates it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fired {
    /// Whether it burns.
    pub flame: Flame,
    /// Share of its full fire; 0 shut.
    pub fire: f64,
    /// Where a control that holds ramps has the gas, and how it goes on; `None` for a burner that is set by hand.
    pub gas: Option<(Celsius, KelvinPerHour)>,
}

impl Fired {
    /// Shut.
    pub const SHUT: Self = Self { flame: Flame::Off, fire: 0.0, gas: None };
    /// Full fire.
    pub const FULL: Self = Self { flame: Flame::On, fire: 1.0, gas: None };

    /// Full fire, or shut.
    #[cfg(test)]
    pub fn of(flame: Flame) -> Self {
        if flame == Flame::On { Self::FULL } else { Self::SHUT }
    }
}

/// What the plan's clock does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Going {
    /// The burner was never lit.
    Waiting,
    /// It runs, or waits for the burner to do what it should.
    Running,
    /// The operator stopped it at this elapsed time, s.
    Paused(f64),
    /// The last stretch is over.
    Done,
}

/// The plan's clock and the burner as it is believed to be.
#[derive(Clone, Debug)]
pub(super) struct Pacer {
    stretches: Vec<Stretch>,
    shortest_off_s: f64,
    index: usize,
    into_s: f64,
    extra_s: f64,
    /// What a pause was cut short by, s; the next pause gets it.
    owed_s: f64,
    burner: Flame,
    /// What it is set to.
    set: Setting,
    /// Index of the last ramp that was told.
    ramp_told: Option<usize>,
    burner_since_s: f64,
    started_s: Option<f64>,
    paused_s: Option<f64>,
    /// When the change that is due now was called for.
    due_s: Option<f64>,
    said_ahead: bool,
    not_before_s: f64,
    /// Shifts of the plan's clock against elapsed time: from this time of the plan on, so many seconds.
    shifts: Vec<(f64, f64)>,
}

impl Pacer {
    /// The clock of `plan`, before the first flame.
    pub fn new(plan: &Plan, shortest_off_s: f64) -> Self {
        Self {
            stretches: stretches_of(plan),
            shortest_off_s,
            index: 0,
            into_s: 0.0,
            extra_s: 0.0,
            owed_s: 0.0,
            burner: Flame::Off,
            set: Setting::Shut,
            ramp_told: None,
            burner_since_s: 0.0,
            started_s: None,
            paused_s: None,
            due_s: None,
            said_ahead: false,
            not_before_s: 0.0,
            shifts: Vec::new(),
        }
    }

    /// The burner as it is believed to be.
    pub fn burner(&self) -> Flame {
        self.burner
    }

    /// What it is believed to be set to.
    pub fn set(&self) -> &Setting {
        &self.set
    }

    /// The burner for whoever simulates it.
    pub fn fired(&self) -> Fired {
        let left = |stretch: &Stretch| Seconds(self.left_in_stretch_s(stretch));
        let gas = match (&self.set, self.stretch()) {
            (Setting::Ramp { ramp, .. }, Some(stretch)) if stretch.set == self.set => {
                stretch.set.set_point(left(stretch)).map(|at| (at, *ramp))
            }
            (Setting::Ramp { to, .. }, _) => Some((*to, KelvinPerHour(0.0))),
            _ => None,
        };
        Fired { flame: self.burner, fire: self.set.fire(), gas }
    }

    /// Whether it burns, but at another mark than it should.
    pub fn turn_is_due(&self) -> bool {
        self.burner == Flame::On && self.wanted() == Flame::On && !self.does(&self.wanted_set())
    }

    /// Whether the operator's word that it burns means that it was turned: that is due, or nearly so.
    pub fn can_turn(&self) -> bool {
        self.turn_is_due() || self.turn_is_near()
    }

    fn turn_is_near(&self) -> bool {
        let (Some(stretch), Some(next)) = (self.stretch(), self.stretches.get(self.index + 1)) else { return false };
        let left_s = self.left_in_stretch_s(stretch);
        let both_burn = self.burner == Flame::On && stretch.flame == Flame::On && next.flame == Flame::On;
        both_burn && next.set != self.set && left_s <= (0.1 * stretch.length_s).clamp(LEAD_S, 60.0)
    }

    /// What the burner or its control should be set to now.
    pub fn wanted_set(&self) -> Setting {
        match (self.paused_s, self.stretch()) {
            (None, Some(stretch)) => stretch.set.clone(),
            _ => Setting::Shut,
        }
    }

    /// What comes after that.
    pub fn next_set(&self) -> Setting {
        self.stretches.get(self.index + 1).map_or(Setting::Shut, |next| next.set.clone())
    }

    /// Whether the burner is as `wanted`: a control follows its ramps by itself.
    fn does(&self, wanted: &Setting) -> bool {
        let follows = self.burner == Flame::On && matches!(wanted, Setting::Ramp { .. });
        follows || self.set == *wanted
    }

    /// Since when it is in that state, s.
    pub fn burner_since_s(&self) -> f64 {
        self.burner_since_s
    }

    /// What the clock does.
    pub fn going(&self) -> Going {
        match (self.paused_s, self.started_s, self.stretch()) {
            (_, _, None) => Going::Done,
            (Some(since_s), ..) => Going::Paused(since_s),
            (None, None, _) => Going::Waiting,
            _ => Going::Running,
        }
    }

    /// The stretch the clock is in; `None` when the plan is over.
    pub fn stretch(&self) -> Option<&Stretch> {
        self.stretches.get(self.index)
    }

    /// What the burner should be now.
    pub fn wanted(&self) -> Flame {
        match (self.paused_s, self.stretch()) {
            (None, Some(stretch)) => stretch.flame,
            _ => Flame::Off,
        }
    }

    /// Time until the burner should change, if the clock runs, s; `None` after the last change.
    pub fn changes_in_s(&self) -> Option<f64> {
        let stretch = self.stretch()?;
        if self.index + 1 == self.stretches.len() && stretch.flame == Flame::Off {
            return None;
        }
        Some(self.left_in_stretch_s(stretch))
    }

    /// When the burner changes within `horizon_s` if it does what the plan says from now on, s from now.
    pub fn changes_within_s(&self, horizon_s: f64) -> Vec<f64> {
        let Some(stretch) = self.stretch().filter(|_| self.paused_s.is_none()) else {
            return if self.burner == Flame::On { vec![0.0] } else { Vec::new() };
        };
        let mut changes_s = if stretch.flame == self.burner { Vec::new() } else { vec![0.0] };
        let (mut at_s, mut flame) = (self.left_in_stretch_s(stretch), stretch.flame);
        for next in self.stretches.iter().skip(self.index + 1) {
            if at_s >= horizon_s {
                break;
            }
            if next.flame != flame {
                changes_s.push(at_s);
                flame = next.flame;
            }
            at_s += next.length_s;
        }
        changes_s
    }

    /// Time until the end of the plan, if the clock runs from now on, s.
    pub fn remaining_s(&self) -> f64 {
        let later: f64 = self.stretches.iter().skip(self.index + 1).map(|stretch| stretch.length_s).sum();
        self.stretch().map_or(0.0, |stretch| self.left_in_stretch_s(stretch) + later)
    }

    /// Length of the pulse and the pause of the round at hand as planned, s; `None` when the burner just burns or rests.
    pub fn cycle_s(&self) -> Option<f64> {
        let stretch = self.stretch().filter(|stretch| stretch.pulsed)?;
        let before = self.index.checked_sub(1).and_then(|before| self.stretches.get(before));
        let other = if stretch.rests { before } else { self.stretches.get(self.index + 1) }?;
        Some(stretch.length_s + other.length_s)
    }

    /// Where elapsed time puts the time `plan_s` of the plan's clock, s.
    pub fn elapsed_of_s(&self, plan_s: f64) -> f64 {
        let after = self.shifts.partition_point(|(from_s, _)| *from_s <= plan_s);
        let shift_s = match after.checked_sub(1).and_then(|index| self.shifts.get(index)) {
            Some((_, shift_s)) => *shift_s,
            None => self.started_s.unwrap_or(0.0),
        };
        plan_s + shift_s
    }

    /// Time of the plan's clock, s.
    pub fn plan_s(&self) -> f64 {
        self.stretch().map_or_else(
            || self.stretches.last().map_or(0.0, |last| last.begins_s + last.length_s),
            |stretch| stretch.begins_s + self.into_s.min(stretch.length_s),
        )
    }

    /// Lets time pass up to `now_s`, `span_s` after the last call.
    pub fn pass(&mut self, now_s: f64, span_s: f64) {
        let mut span_s = span_s;
        while span_s > 0.0 && self.paused_s.is_none() && self.started_s.is_some() {
            let Some(stretch) = self.stretch().cloned() else { break };
            if !self.does(&stretch.set) {
                break;
            }
            let left_s = self.left_in_stretch_s(&stretch);
            if span_s < left_s {
                self.into_s += span_s;
                break;
            }
            span_s -= left_s;
            self.next_stretch();
        }
        self.note_shift(now_s);
    }

    /// What has to be said at `now_s`: changes that are due or nearly so.
    pub fn cues(&mut self, now_s: f64) -> Vec<Say> {
        let wanted = self.wanted_set();
        if !self.does(&wanted) {
            if self.due_s.is_some() {
                return Vec::new();
            }
            let lights = self.burner == Flame::Off && wanted.flame() == Flame::On;
            let wait_s = if lights { self.not_before_s - now_s } else { 0.0 };
            if wait_s <= 0.0 {
                self.due_s = Some(now_s);
                return vec![Say::change(&wanted, 0.0)];
            }
            return self.ahead(&wanted, wait_s);
        }
        let told = self.tell_ramp(&wanted);
        if !told.is_empty() {
            return told;
        }
        match (self.going(), self.changes_in_s()) {
            (Going::Running, Some(left_s)) => self.ahead(&self.next_set(), left_s),
            _ => Vec::new(),
        }
    }

    /// Tells a ramp once as it begins; its control is taken to follow it.
    fn tell_ramp(&mut self, wanted: &Setting) -> Vec<Say> {
        let is_ramp = matches!(wanted, Setting::Ramp { .. });
        if !is_ramp || self.going() != Going::Running || self.ramp_told == Some(self.index) {
            return Vec::new();
        }
        self.ramp_told = Some(self.index);
        if self.set == *wanted {
            return Vec::new();
        }
        self.set = wanted.clone();
        vec![Say::change(wanted, 0.0)]
    }

    /// Takes in that the burner was lit, turned or shut at `now_s`: lit and turned to what the plan asks for.
    pub fn burner_is(&mut self, flame: Flame, now_s: f64) -> Vec<Say> {
        let late_s = self.due_s.map_or(0.0, |due_s| now_s - due_s);
        if flame == self.burner {
            return if flame == Flame::On && self.can_turn() { self.turned(now_s, late_s) } else { Vec::new() };
        }
        self.burner = flame;
        self.set = self.set_by(flame);
        self.burner_since_s = now_s;
        self.due_s = None;
        let said = match flame {
            Flame::On => self.lit(now_s, late_s),
            Flame::Off => self.shut(now_s, late_s),
        };
        self.note_shift(now_s);
        said
    }

    /// What the burner is set to by whoever says that it was lit or shut.
    fn set_by(&self, flame: Flame) -> Setting {
        let burning = |stretch: &&Stretch| stretch.flame == Flame::On;
        match flame {
            Flame::Off => Setting::Shut,
            Flame::On => {
                let ahead = self.stretches.iter().skip(self.index).find(burning);
                let known = ahead.or_else(|| self.stretches.iter().rfind(burning));
                known.map_or(Setting::Full, |stretch| stretch.set.clone())
            }
        }
    }

    /// The fire was turned to what is due, or to what is due in a moment.
    fn turned(&mut self, now_s: f64, late_s: f64) -> Vec<Say> {
        if !self.turn_is_due() {
            // A little early: a low fire lasts longer by as much, this one or the next, so that the mean heat stays.
            let left_s = self.stretch().map_or(0.0, |stretch| self.left_in_stretch_s(stretch));
            self.next_stretch();
            if self.stretch().is_some_and(|stretch| stretch.rests) {
                self.extra_s += left_s;
            } else {
                self.owed_s += left_s;
            }
        }
        let (before, wanted) = (self.set.fire(), self.wanted_set());
        self.set = wanted;
        self.burner_since_s = now_s;
        self.due_s = None;
        self.said_ahead = false;
        let said = match self.stretch().cloned() {
            Some(stretch) if stretch.pulsed && self.set.fire() < before => self.cool_longer(&stretch, late_s),
            _ => Vec::new(),
        };
        self.note_shift(now_s);
        said
    }

    /// Stops the clock.
    pub fn pause(&mut self, now_s: f64) -> Vec<Say> {
        if self.going() == Going::Done {
            return vec![Say::Notice("the plan is over; there is no clock to stop".into())];
        }
        if self.paused_s.is_none() {
            self.paused_s = Some(now_s);
            self.due_s = None;
        }
        let burning = if self.burner == Flame::On { "; shut the burner" } else { "" };
        vec![Say::Notice(format!("the plan's clock stands{burning}; `resume` lets it go on where it stopped"))]
    }

    /// The program had stopped: the clock stood, and whatever was called for is called for anew.
    pub fn taken_up(&mut self, now_s: f64) {
        self.due_s = None;
        self.said_ahead = false;
        self.note_shift(now_s);
    }

    /// Another plan takes over while the burner is shut. Its first pulse waits for the rest of the pause at hand, at most
    /// for as long as a pause of its own.
    pub fn replace(&mut self, plan: &Plan, now_s: f64) {
        let rest_s = self.stretch().filter(|stretch| stretch.flame == Flame::Off);
        let rest_s = rest_s.map_or(0.0, |stretch| self.left_in_stretch_s(stretch));
        let mut stretches = stretches_of(plan);
        let pause_s = stretches.iter().find(|stretch| stretch.flame == Flame::Off).map_or(0.0, |pause| pause.length_s);
        let wait_s = rest_s.min(pause_s);
        if wait_s > 0.0 {
            let wait = Stretch {
                flame: Flame::Off,
                set: Setting::Shut,
                rests: true,
                pulsed: true,
                length_s: wait_s,
                round: 0,
                pulse: 0,
                begins_s: 0.0,
            };
            for stretch in &mut stretches {
                stretch.begins_s += wait_s;
            }
            stretches.insert(0, wait);
        }
        self.stretches = stretches;
        self.ramp_told = None;
        (self.index, self.into_s, self.extra_s, self.owed_s) = (0, 0.0, 0.0, 0.0);
        self.due_s = None;
        self.said_ahead = false;
        self.shifts = vec![(f64::NEG_INFINITY, now_s)];
    }

    /// Lets the clock go on.
    pub fn resume(&mut self, now_s: f64) -> Vec<Say> {
        let Some(since_s) = self.paused_s.take() else {
            return vec![Say::Notice("the plan's clock was not stopped".into())];
        };
        self.due_s = None;
        self.said_ahead = false;
        let stood_s = now_s - since_s;
        let redone = self.redo_after(stood_s);
        self.note_shift(now_s);
        vec![Say::Notice(format!("the plan goes on, moved by {}{redone}", in_words(stood_s)))]
    }

    /// How far the burner is from what the plan says at `now_s`.
    pub fn lateness(&self, now_s: f64) -> Lateness {
        let (Some(due_s), Some(_)) = (self.due_s, self.started_s) else { return Lateness::None };
        let before_s = self.index.checked_sub(1).and_then(|before| self.stretches.get(before));
        match self.wanted() {
            Flame::On if self.burner == Flame::On => {
                if self.wanted_set().fire() < self.set.fire() {
                    Lateness::High { over_s: now_s - due_s, pulse_s: before_s.map_or(0.0, |pulse| pulse.length_s) }
                } else {
                    // Turned up late, the lining only heats more slowly.
                    Lateness::None
                }
            }
            Flame::On => Lateness::Unlit(now_s - due_s),
            Flame::Off => {
                let pulse_s = self.index.checked_sub(1).and_then(|before| self.stretches.get(before));
                let pulse_s = if self.into_s > 0.0 { None } else { pulse_s };
                Lateness::Burning { over_s: now_s - due_s, pulse_s: pulse_s.map_or(0.0, |pulse| pulse.length_s) }
            }
        }
    }

    /// Goes back to the first pulse of `round`, because the lining cooled. Does nothing when that is ahead.
    pub fn back_to_round(&mut self, round: usize, now_s: f64) -> bool {
        let first = self.stretches.iter().position(|stretch| stretch.round == round);
        match first {
            Some(first) if first < self.index => {
                self.index = first;
                self.into_s = 0.0;
                self.extra_s = 0.0;
                self.due_s = None;
                self.said_ahead = false;
                self.ramp_told = None;
                self.note_shift(now_s);
                true
            }
            _ => false,
        }
    }

    /// Adds the last pulse and its pause once more; of a fire or ramp without a pause some minutes at what it ended with.
    pub fn repeat_last_pulse(&mut self) {
        /// So long, s.
        const MORE_S: f64 = 600.0;
        let last_on = self.stretches.iter().rposition(|stretch| stretch.flame == Flame::On);
        let again: Vec<Stretch> = last_on.map_or_else(Vec::new, |from| self.stretches[from..].to_vec());
        for mut stretch in again {
            if !stretch.pulsed && stretch.flame == Flame::On {
                stretch.length_s = MORE_S;
                if let Setting::Ramp { ramp, .. } = &mut stretch.set {
                    *ramp = KelvinPerHour(0.0);
                }
            }
            stretch.begins_s = self.stretches.last().map_or(0.0, |last| last.begins_s + last.length_s);
            self.stretches.push(stretch);
        }
        self.said_ahead = false;
    }

    fn left_in_stretch_s(&self, stretch: &Stretch) -> f64 {
        (stretch.length_s + self.extra_s - self.into_s).max(0.0)
    }

    fn next_stretch(&mut self) {
        self.index += 1;
        self.into_s = 0.0;
        self.extra_s = 0.0;
        if self.stretch().is_some_and(|stretch| stretch.rests) {
            self.extra_s = std::mem::take(&mut self.owed_s);
        }
        self.said_ahead = false;
    }

    fn ahead(&mut self, set: &Setting, left_s: f64) -> Vec<Say> {
        if self.said_ahead || left_s > LEAD_S {
            return Vec::new();
        }
        self.said_ahead = true;
        vec![Say::change(set, left_s)]
    }

    fn lit(&mut self, now_s: f64, late_s: f64) -> Vec<Say> {
        let first = self.started_s.is_none();
        self.started_s.get_or_insert(now_s);
        if self.paused_s.is_some() {
            return vec![Say::Notice("the burner was lit while the plan's clock stands".into())];
        }
        let Some(stretch) = self.stretch().cloned() else {
            return vec![Say::Notice("the burner was lit after the end of the plan".into())];
        };
        let left_s = self.left_in_stretch_s(&stretch);
        match stretch.flame {
            Flame::On if !first && late_s >= 10.0 => {
                let redone = self.redo_after(late_s);
                let text = format!("lit {} late: the plan moves by as much{redone}", in_words(late_s));
                vec![Say::About(About::LitLate, text)]
            }
            Flame::On => Vec::new(),
            Flame::Off if left_s <= (0.1 * stretch.length_s).max(LEAD_S) => {
                // A little early: the next pause is longer by as much, so that the mean heat stays.
                self.next_stretch();
                self.owed_s += left_s;
                Vec::new()
            }
            Flame::Off => {
                let text = format!("lit {} before it was due; shut it and wait", in_words(left_s));
                vec![Say::About(About::LitEarly, text)]
            }
        }
    }

    fn shut(&mut self, now_s: f64, over_s: f64) -> Vec<Say> {
        self.not_before_s = now_s + self.shortest_off_s;
        if self.paused_s.is_some() {
            return Vec::new();
        }
        let Some(stretch) = self.stretch().cloned() else { return Vec::new() };
        let left_s = self.left_in_stretch_s(&stretch);
        match stretch.flame {
            Flame::On if left_s <= (0.1 * stretch.length_s).max(3.0).min(stretch.length_s / 2.0) => {
                // A little early: the pause is longer by as much, so that the cycle stays.
                self.next_stretch();
                self.extra_s += left_s;
                Vec::new()
            }
            Flame::On => {
                self.said_ahead = false;
                vec![Say::Notice(format!("shut {} early: the rest of the pulse is still to come", in_words(left_s)))]
            }
            Flame::Off => self.cool_longer(&stretch, over_s),
        }
    }

    /// Lengthens the pause after a pulse that ran `over_s` too long, so that the mean heat stays what was planned.
    fn cool_longer(&mut self, pause: &Stretch, over_s: f64) -> Vec<Say> {
        let Some(pulse) = self.index.checked_sub(1).and_then(|before| self.stretches.get(before)) else {
            return Vec::new();
        };
        if over_s <= (0.1 * pulse.length_s).max(2.0) || self.into_s > 0.0 {
            return Vec::new();
        }
        self.extra_s = (over_s * pause.length_s / pulse.length_s.max(1.0)).min(MOST_EXTRA_OFF_S);
        let (over, extra) = (in_words(over_s), in_words(self.extra_s));
        vec![Say::Notice(format!("the pulse ran {over} too long: its pause is {extra} longer, so the mean heat stays"))]
    }

    /// Begins an interrupted pulse anew when it was out for longer than the pause that belongs to it.
    fn redo_after(&mut self, stood_s: f64) -> &'static str {
        let Some(stretch) = self.stretch() else { return "" };
        let pause_s = self.stretches.get(self.index + 1).map_or(0.0, |next| next.length_s);
        if stretch.flame == Flame::On && stretch.pulsed && self.into_s > 0.0 && stood_s > pause_s {
            self.into_s = 0.0;
            return ", and the interrupted pulse is done anew";
        }
        ""
    }

    fn note_shift(&mut self, now_s: f64) {
        if self.started_s.is_none() {
            return;
        }
        let plan_s = self.plan_s();
        let shift_s = now_s - plan_s;
        let known_s = self.shifts.last().map(|(_, shift_s)| *shift_s);
        if known_s.is_some_and(|known_s| (known_s - shift_s).abs() < 0.5) {
            return;
        }
        while self.shifts.last().is_some_and(|(from_s, _)| *from_s >= plan_s) {
            self.shifts.pop();
        }
        self.shifts.push((plan_s, shift_s));
    }
}

/// A span in words a person reads at a glance: "45 s", "3 min 20 s", "2 h 5 min".
pub(super) fn in_words(span_s: f64) -> String {
    let whole_s = span_s.round().max(0.0) as u64;
    match (whole_s / 3600, whole_s / 60 % 60, whole_s % 60) {
        (0, 0, seconds) => format!("{seconds} s"),
        (0, minutes, 0) => format!("{minutes} min"),
        (0, minutes, seconds) => format!("{minutes} min {seconds} s"),
        (hours, 0, _) => format!("{hours} h"),
        (hours, minutes, _) => format!("{hours} h {minutes} min"),
    }
}

/// Length of all pulses of a round with their pauses, s.
pub(super) fn round_length_s(round: &crate::plan::Round) -> f64 {
    f64::from(round.count) * (round.on.0 + round.off.0)
}

impl Say {
    /// That the burner should be set to `set`.
    fn change(set: &Setting, in_s: f64) -> Self {
        match set {
            Setting::Shut => Self::Cue(Flame::Off, in_s),
            Setting::Full => Self::Cue(Flame::On, in_s),
            other => Self::Set(other.clone(), in_s),
        }
    }
}

/// The plan as stretches of changing burner states; pulses without a pause between them become one.
fn stretches_of(plan: &Plan) -> Vec<Stretch> {
    let mut stretches: Vec<Stretch> = Vec::new();
    let mut begins_s = 0.0;
    for (round, pulses) in plan.rounds.iter().enumerate() {
        let [on, off] = pulses.firing.settings();
        let pulsed = !pulses.is_steady() || pulses.firing.is_on_off();
        for pulse in 0..pulses.count {
            for (set, length, rests) in [(&on, pulses.on, false), (&off, pulses.off, true)] {
                if length.0 <= 0.0 {
                    continue;
                }
                let (flame, set) = (set.flame(), set.clone());
                match stretches.last_mut() {
                    Some(last) if last.set == set => last.length_s += length.0,
                    _ => stretches.push(Stretch {
                        flame,
                        set,
                        rests,
                        pulsed,
                        length_s: length.0,
                        round,
                        pulse,
                        begins_s,
                    }),
                }
                begins_s += length.0;
            }
        }
    }
    stretches
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::firing::{Fire, Firing};
    use crate::plan::{Limits, Round};

    fn plan(rounds: &[(u32, f64, f64)]) -> Plan {
        let round = |(count, on, off): &(u32, f64, f64)| Round {
            count: *count,
            on: Seconds(*on),
            off: Seconds(*off),
            firing: Firing::OnOff,
            binds: "ramp".into(),
        };
        Plan {
            lining: "school foundry".into(),
            lining_digest: String::new(),
            limits: Limits {
                danger_ceiling: 0.5,
                ramp: KelvinPerHour(56.0),
                service: Celsius(1200.0),
                soak_temp: Celsius(600.0),
                soak: Seconds(0.0),
            },
            rounds: rounds.iter().map(round).collect(),
            expected: Vec::new(),
        }
    }

    /// Runs the clock in steps of a second from `from_s` to `to_s` and gathers the cues.
    fn cues_between(pacer: &mut Pacer, from_s: u32, to_s: u32) -> Vec<(f64, Flame, f64)> {
        let mut cues = Vec::new();
        for now in from_s..=to_s {
            let now_s = f64::from(now);
            pacer.pass(now_s, if now == from_s { 0.0 } else { 1.0 });
            cues.extend(pacer.cues(now_s).into_iter().filter_map(|say| match say {
                Say::Cue(flame, in_s) => Some((now_s, flame, in_s)),
                Say::Set(..) | Say::Notice(_) | Say::About(..) => None,
            }));
        }
        cues
    }

    #[test]
    fn the_first_cue_is_to_light_now() {
        let mut pacer = Pacer::new(&plan(&[(2, 30.0, 60.0)]), 20.0);
        assert_eq!(pacer.cues(0.0), [Say::Cue(Flame::On, 0.0)]);
    }

    #[test]
    fn the_plan_waits_for_the_first_flame() {
        let mut pacer = Pacer::new(&plan(&[(2, 30.0, 60.0)]), 20.0);
        cues_between(&mut pacer, 0, 500);
        assert_eq!((pacer.going(), pacer.remaining_s()), (Going::Waiting, 180.0));
    }

    #[test]
    fn a_change_is_said_five_seconds_ahead_and_when_it_is_due() {
        let mut pacer = Pacer::new(&plan(&[(2, 30.0, 60.0)]), 20.0);
        pacer.burner_is(Flame::On, 0.0);
        assert_eq!(cues_between(&mut pacer, 0, 40), [(25.0, Flame::Off, 5.0), (30.0, Flame::Off, 0.0)]);
    }

    #[test]
    fn a_late_light_up_moves_the_plan_and_keeps_every_pulse_whole() {
        let mut pacer = Pacer::new(&plan(&[(2, 30.0, 60.0)]), 20.0);
        pacer.burner_is(Flame::On, 0.0);
        cues_between(&mut pacer, 0, 30);
        pacer.burner_is(Flame::Off, 30.0);
        cues_between(&mut pacer, 30, 130);
        pacer.burner_is(Flame::On, 130.0);
        assert_eq!(cues_between(&mut pacer, 130, 165), [(155.0, Flame::Off, 5.0), (160.0, Flame::Off, 0.0)]);
    }

    #[test]
    fn a_pulse_that_ran_on_is_followed_by_a_longer_pause() {
        let mut pacer = Pacer::new(&plan(&[(2, 30.0, 60.0)]), 20.0);
        pacer.burner_is(Flame::On, 0.0);
        cues_between(&mut pacer, 0, 50);
        pacer.burner_is(Flame::Off, 50.0);
        assert_eq!(pacer.changes_in_s(), Some(60.0 + 20.0 * 60.0 / 30.0));
    }

    #[test]
    fn a_burner_shut_a_second_early_keeps_the_length_of_the_cycle() {
        let mut pacer = Pacer::new(&plan(&[(2, 30.0, 60.0)]), 20.0);
        pacer.burner_is(Flame::On, 0.0);
        cues_between(&mut pacer, 0, 29);
        pacer.burner_is(Flame::Off, 29.0);
        assert_eq!(pacer.changes_in_s(), Some(61.0));
    }

    #[test]
    fn a_pulse_cut_short_gets_its_rest_after_the_shortest_pause() {
        let mut pacer = Pacer::new(&plan(&[(2, 30.0, 60.0)]), 20.0);
        pacer.burner_is(Flame::On, 0.0);
        cues_between(&mut pacer, 0, 10);
        pacer.burner_is(Flame::Off, 10.0);
        assert_eq!(cues_between(&mut pacer, 10, 35), [(25.0, Flame::On, 5.0), (30.0, Flame::On, 0.0)]);
        assert_eq!(pacer.changes_in_s(), Some(20.0));
    }

    #[test]
    fn a_burner_lit_far_too_early_is_called_off() {
        let mut pacer = Pacer::new(&plan(&[(2, 30.0, 600.0)]), 20.0);
        pacer.burner_is(Flame::On, 0.0);
        cues_between(&mut pacer, 0, 30);
        pacer.burner_is(Flame::Off, 30.0);
        cues_between(&mut pacer, 30, 100);
        pacer.burner_is(Flame::On, 100.0);
        assert_eq!(pacer.cues(100.0), [Say::Cue(Flame::Off, 0.0)]);
    }

    #[test]
    fn a_pause_calls_the_burner_off_and_moves_the_rest() {
        let mut pacer = Pacer::new(&plan(&[(2, 30.0, 60.0)]), 20.0);
        pacer.burner_is(Flame::On, 0.0);
        cues_between(&mut pacer, 0, 10);
        pacer.pause(10.0);
        assert_eq!(pacer.cues(10.0), [Say::Cue(Flame::Off, 0.0)]);
        pacer.burner_is(Flame::Off, 12.0);
        cues_between(&mut pacer, 12, 30);
        pacer.resume(30.0);
        assert_eq!(cues_between(&mut pacer, 32, 33), [(32.0, Flame::On, 0.0)]);
    }

    #[test]
    fn pulses_without_a_pause_are_one_long_burn() {
        let pacer = Pacer::new(&plan(&[(1, 30.0, 60.0), (3, 100.0, 0.0)]), 20.0);
        let lengths: Vec<f64> = pacer.stretches.iter().map(|stretch| stretch.length_s).collect();
        assert_eq!(lengths, [30.0, 60.0, 300.0]);
    }

    #[test]
    fn past_times_of_the_plan_stay_where_they_were() {
        let mut pacer = Pacer::new(&plan(&[(3, 30.0, 60.0)]), 20.0);
        pacer.burner_is(Flame::On, 10.0);
        cues_between(&mut pacer, 10, 40);
        pacer.burner_is(Flame::Off, 40.0);
        cues_between(&mut pacer, 40, 150);
        pacer.burner_is(Flame::On, 150.0);
        assert_eq!((pacer.elapsed_of_s(20.0), pacer.elapsed_of_s(100.0)), (30.0, 160.0));
    }

    fn mark(mark: &str, share: f64) -> Fire {
        Fire { mark: mark.into(), share }
    }

    /// Two turns of a minute at half and two at low, then half for ten minutes.
    fn turned_down() -> Pacer {
        let (low, half) = (mark("low", 0.25), mark("half", 0.5));
        let mut plan = plan(&[(2, 60.0, 120.0), (1, 600.0, 0.0)]);
        plan.rounds[0].firing = Firing::Marks { high: half.clone(), low: Some(low) };
        plan.rounds[1].firing = Firing::Marks { high: half, low: None };
        Pacer::new(&plan, 5.0)
    }

    /// Runs the clock in steps of a second and gathers what should be set when.
    fn set_between(pacer: &mut Pacer, from_s: u32, to_s: u32) -> Vec<(f64, String, f64)> {
        let mut gathered = Vec::new();
        for now_s in (from_s + 1..=to_s).map(f64::from) {
            pacer.pass(now_s, 1.0);
            gathered.extend(pacer.cues(now_s).into_iter().filter_map(|say| match say {
                Say::Set(set, in_s) => Some((now_s, set.words(crate::units::quantity::UnitSystem::Metric), in_s)),
                _ => None,
            }));
        }
        gathered
    }

    #[test]
    fn a_fire_is_lit_at_its_mark_and_turned_when_it_is_due() {
        let mut pacer = turned_down();
        assert_eq!(pacer.cues(0.0), [Say::Set(Setting::Mark(mark("half", 0.5)), 0.0)]);
        pacer.burner_is(Flame::On, 0.0);
        let told = set_between(&mut pacer, 0, 70);
        assert_eq!(told, [(55.0, "low".to_owned(), 5.0), (60.0, "low".to_owned(), 0.0)]);
        assert_eq!(pacer.lateness(70.0), Lateness::High { over_s: 10.0, pulse_s: 60.0 });
    }

    #[test]
    fn a_fire_turned_down_late_stays_down_longer_and_keeps_its_shape() {
        let mut pacer = turned_down();
        pacer.burner_is(Flame::On, 0.0);
        set_between(&mut pacer, 0, 70);
        pacer.burner_is(Flame::On, 70.0);
        assert!((pacer.fired().fire - 0.25).abs() < 1e-12);
        // 120 s and twice the 10 s that ran too long.
        let told = set_between(&mut pacer, 70, 211);
        assert_eq!(told, [(205.0, "half".to_owned(), 5.0), (210.0, "half".to_owned(), 0.0)]);
    }

    #[test]
    fn a_control_follows_its_ramps_without_a_word() {
        let mut plan = plan(&[(1, 600.0, 0.0), (1, 600.0, 0.0)]);
        let ramp =
            |from_c, to_c, ramp| Firing::Ramp { from: Celsius(from_c), to: Celsius(to_c), ramp: KelvinPerHour(ramp) };
        plan.rounds[0].firing = ramp(20.0, 30.0, 60.0);
        plan.rounds[1].firing = ramp(30.0, 50.0, 120.0);
        let mut pacer = Pacer::new(&plan, 5.0);
        pacer.cues(0.0);
        pacer.burner_is(Flame::On, 0.0);
        let told = set_between(&mut pacer, 0, 900);
        let next = "120 °C/h to 50 °C".to_owned();
        assert_eq!(told, [(595.0, next.clone(), 5.0), (600.0, next, 0.0)]);
        let (at, ramp) = pacer.fired().gas.expect("a ramp");
        assert!((at.0 - 40.0).abs() < 1e-9 && (ramp.0 - 120.0).abs() < 1e-9, "{at:?}");
    }
}
