//! The plan's clock: which pulse is due, what was really done, and what to say ahead of time.
//!
//! The clock runs only while the burner does what the plan says. A pause, a late light-up or a missed cue therefore
//! shifts the rest of the plan and leaves its shape alone: every pulse and every pause still gets its full length.

use super::verdict::About;
use crate::plan::{Flame, Plan};

/// How long before a change it is announced, s. Long enough to reach for the valve.
pub(super) const LEAD_S: f64 = 5.0;

/// The cooling that is added after a pulse that ran too long is never more than this, s.
const MOST_EXTRA_OFF_S: f64 = 1800.0;

/// One stretch of the plan with the burner in one state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stretch {
    /// State of the burner.
    pub flame: Flame,
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
        let stretch = self.stretch()?;
        let other = match stretch.flame {
            Flame::On => self.stretches.get(self.index + 1),
            Flame::Off => self.index.checked_sub(1).and_then(|before| self.stretches.get(before)),
        }?;
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
            let Some(stretch) = self.stretch().copied() else { break };
            if stretch.flame != self.burner {
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
        let wanted = self.wanted();
        if wanted != self.burner {
            if self.due_s.is_some() {
                return Vec::new();
            }
            let wait_s = if wanted == Flame::On { self.not_before_s - now_s } else { 0.0 };
            if wait_s <= 0.0 {
                self.due_s = Some(now_s);
                return vec![Say::Cue(wanted, 0.0)];
            }
            return self.ahead(wanted, wait_s);
        }
        match (self.going(), self.changes_in_s()) {
            (Going::Running, Some(left_s)) => self.ahead(other(wanted), left_s),
            _ => Vec::new(),
        }
    }

    /// Takes in that the burner was lit or shut at `now_s`.
    pub fn burner_is(&mut self, flame: Flame, now_s: f64) -> Vec<Say> {
        if flame == self.burner {
            return Vec::new();
        }
        let late_s = self.due_s.map_or(0.0, |due_s| now_s - due_s);
        self.burner = flame;
        self.burner_since_s = now_s;
        self.due_s = None;
        let said = match flame {
            Flame::On => self.lit(now_s, late_s),
            Flame::Off => self.shut(now_s, late_s),
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
            let wait = Stretch { flame: Flame::Off, length_s: wait_s, round: 0, pulse: 0, begins_s: 0.0 };
            for stretch in &mut stretches {
                stretch.begins_s += wait_s;
            }
            stretches.insert(0, wait);
        }
        self.stretches = stretches;
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
        match self.wanted() {
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
                self.note_shift(now_s);
                true
            }
            _ => false,
        }
    }

    /// Adds the last pulse and its pause once more.
    pub fn repeat_last_pulse(&mut self) {
        let last_on = self.stretches.iter().rposition(|stretch| stretch.flame == Flame::On);
        let again: Vec<Stretch> = last_on.map_or_else(Vec::new, |from| self.stretches[from..].to_vec());
        for mut stretch in again {
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
        if self.stretch().is_some_and(|stretch| stretch.flame == Flame::Off) {
            self.extra_s = std::mem::take(&mut self.owed_s);
        }
        self.said_ahead = false;
    }

    fn ahead(&mut self, flame: Flame, left_s: f64) -> Vec<Say> {
        if self.said_ahead || left_s > LEAD_S {
            return Vec::new();
        }
        self.said_ahead = true;
        vec![Say::Cue(flame, left_s)]
    }

    fn lit(&mut self, now_s: f64, late_s: f64) -> Vec<Say> {
        let first = self.started_s.is_none();
        self.started_s.get_or_insert(now_s);
        if self.paused_s.is_some() {
            return vec![Say::Notice("the burner was lit while the plan's clock stands".into())];
        }
        let Some(stretch) = self.stretch().copied() else {
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
        let Some(stretch) = self.stretch().copied() else { return Vec::new() };
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
        if stretch.flame == Flame::On && self.into_s > 0.0 && stood_s > pause_s {
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

/// The other state of the burner.
pub(super) fn other(flame: Flame) -> Flame {
    match flame {
        Flame::On => Flame::Off,
        Flame::Off => Flame::On,
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

/// The plan as stretches of alternating burner states; pulses without a pause between them become one.
fn stretches_of(plan: &Plan) -> Vec<Stretch> {
    let mut stretches: Vec<Stretch> = Vec::new();
    let mut begins_s = 0.0;
    for (round, pulses) in plan.rounds.iter().enumerate() {
        for pulse in 0..pulses.count {
            for (flame, length) in [(Flame::On, pulses.on), (Flame::Off, pulses.off)] {
                if length.0 <= 0.0 {
                    continue;
                }
                match stretches.last_mut() {
                    Some(last) if last.flame == flame => last.length_s += length.0,
                    _ => stretches.push(Stretch { flame, length_s: length.0, round, pulse, begins_s }),
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
    use crate::plan::{Limits, Round};
    use crate::units::{Celsius, KelvinPerHour, Seconds};

    fn plan(rounds: &[(u32, f64, f64)]) -> Plan {
        let round = |(count, on, off): &(u32, f64, f64)| Round {
            count: *count,
            on: Seconds(*on),
            off: Seconds(*off),
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
                Say::Notice(_) | Say::About(..) => None,
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
}
