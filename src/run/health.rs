//! Whether each probe channel can be believed: faults that it reports, silence, values that stand still or cannot be.

use crate::plan::Flame;
use crate::reading::{Channel, Fault, Place, Reading};
use crate::units::Celsius;

use super::Probe;
use super::doubt::{Gate, Pair, Reach, Seen, Side, Texture};

/// A channel that says nothing for so long is stale, s (a sensor fault shows within 10 s).
pub(super) const STALE_S: f64 = 10.0;

/// A channel whose own rhythm is slower than this is given two and a half of its intervals, s.
const SLOW_RHYTHM_S: f64 = 4.0;

/// However slow a channel is, after this it is stale, s.
const STALE_AT_MOST_S: f64 = 180.0;

/// A fault is over when the channel was good for so long, s, so a loose wire does not chatter.
const GOOD_FOR_S: f64 = 5.0;

/// Lines without sense in a row before that is a fault; a single one happens on any line.
const GARBLED_LINES: u32 = 3;

/// The gas that stands still to the digit for so long, s, is frozen when it should have gone [`SHOULD_HAVE_GONE_K`]: twice
/// as long as a turn from rising to falling takes in digits of 1 K.
const FROZEN_GAS_S: f64 = 20.0;

/// The same of a hot face, which turns more slowly, s.
const FROZEN_FACE_S: f64 = 120.0;

/// How far a standing channel should have gone, after what it went while the others went their ways before, K.
const SHOULD_HAVE_GONE_K: f64 = 12.0;

/// How far the others have to have gone since, K.
const OTHERS_WENT_K: f64 = 10.0;

/// A hot face or gas channel that never moved at all is frozen after this, s, when the others went
/// [`NEVER_MOVED_K`].
const NEVER_MOVED_S: f64 = 120.0;

/// How far the others have to have gone for a channel that never moved to be frozen, K.
const NEVER_MOVED_K: f64 = 100.0;

/// Movement below this is noise, K.
const WAY_K: f64 = 3.0;

/// A channel deeper in may stand still for longer, s.
const FROZEN_DEEP_S: f64 = 2700.0;

/// How far gas and hot faces have to have gone meanwhile on the mean over the pulses, K.
const MEANS_WENT_K: f64 = 200.0;

/// While water evaporates, it and all behind it stand for hours, °C, and on a coarse instrument to the digit. Hotter than
/// this a channel has no wet part in front of it.
const DRY_ABOVE_C: f64 = 140.0;

/// Time constant of means over pulses, s.
const MEAN_S: f64 = 600.0;

/// Nothing in a furnace is colder than the air round it by more than this, K; a swapped couple reads so.
const BELOW_AMBIENT_K: f64 = 10.0;

/// No shop where a lining is heated up is colder, °C: wet linings must not freeze.
const COLDEST_SHOP_C: f64 = 0.0;

/// Inside the wall nothing is hotter than gas and face ever were by more than this, K, or a tenth.
const HOTTER_K: f64 = 60.0;

/// No lining here gets hotter, °C: above the melting point of the materials.
const TOO_HOT_C: f64 = 1850.0;

/// A fault of a channel began or ended.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Change {
    /// Whose.
    pub channel: Channel,
    /// Which.
    pub fault: Fault,
    /// Whether it ended.
    pub over: bool,
}

/// Health of all channels.
#[derive(Clone, Debug)]
pub(super) struct Health {
    channels: Vec<ChannelHealth>,
    pairs: Vec<Pair>,
    ambient_c: f64,
    /// Temperature of the air round the furnace, as far as it is known, °C.
    air_c: f64,
    /// Hottest that gas or a hot face has been, °C.
    hottest_c: f64,
}

/// Health of one channel, and its last word.
#[derive(Clone, Debug)]
pub(super) struct ChannelHealth {
    /// The probe.
    pub probe: Probe,
    /// What it last said, after our own doubts.
    pub value: Option<Result<Celsius, Fault>>,
    /// When it last said anything, s.
    pub heard_s: Option<f64>,
    fault: Option<Fault>,
    good_since_s: Option<f64>,
    interval_s: f64,
    garbled: u32,
    still: Option<Still>,
    way: Way,
    gate: Gate,
    texture: Texture,
    reach: Reach,
    first_c: Option<f64>,
    odd_since_s: Option<f64>,
    /// What another probe at its place says of it.
    contradiction: Option<Fault>,
}

/// Since when a value has stood still, and where everything else was then.
#[derive(Clone, Copy, Debug)]
struct Still {
    raw_c: f64,
    since_s: f64,
    others_went_k: f64,
    surface_mean_c: f64,
}

/// How far a channel has gone up and down, and its mean over pulses.
#[derive(Clone, Copy, Debug, Default)]
struct Way {
    mark_c: Option<f64>,
    went_k: f64,
    mean: Option<(f64, f64)>,
}

impl Way {
    fn take(&mut self, now_s: f64, temp_c: f64) {
        let mark_c = *self.mark_c.get_or_insert(temp_c);
        if (temp_c - mark_c).abs() >= WAY_K {
            self.went_k += (temp_c - mark_c).abs();
            self.mark_c = Some(temp_c);
        }
        let (at_s, mean_c) = self.mean.unwrap_or((now_s, temp_c));
        let share = 1.0 - (-(now_s - at_s).max(0.0) / MEAN_S).exp();
        self.mean = Some((now_s, mean_c + share * (temp_c - mean_c)));
    }
}

impl Health {
    /// All channels, none heard yet, in surroundings of `ambient_c`.
    pub fn new(probes: &[Probe], ambient_c: f64) -> Self {
        let places: Vec<Place> = probes.iter().map(|probe| probe.place.clone()).collect();
        let channels = probes.iter().cloned().map(ChannelHealth::new).collect();
        Self { channels, pairs: Pair::all(&places), ambient_c, air_c: ambient_c, hottest_c: f64::NEG_INFINITY }
    }

    /// The channels, in the probe file's order.
    pub fn channels(&self) -> &[ChannelHealth] {
        &self.channels
    }

    /// The fault of `channel`, if it has one now.
    pub fn fault(&self, index: usize) -> Option<Fault> {
        self.channels.get(index).and_then(|channel| channel.fault)
    }

    /// Temperature of the channel at `index` when it can be believed, °C.
    pub fn believed_c(&self, index: usize) -> Option<f64> {
        let channel = self.channels.get(index)?;
        match (channel.fault, channel.value) {
            (None, Some(Ok(temp))) => Some(temp.0),
            _ => None,
        }
    }

    /// Takes in one line. Readings of channels that no probe has are given back by name.
    pub fn hear(&mut self, now_s: f64, readings: &[Reading]) -> (Vec<Change>, Vec<Channel>) {
        let (mut changes, mut strangers) = (Vec::new(), Vec::new());
        for reading in readings {
            match self.channels.iter().position(|known| known.probe.channel == reading.channel) {
                Some(index) => changes.extend(self.hear_one(index, now_s, reading.value)),
                None => strangers.push(reading.channel.clone()),
            }
        }
        changes.extend(self.compare(now_s));
        (changes, strangers)
    }

    /// The program had stopped until `now_s`: silence counts from here on.
    pub fn taken_up(&mut self, now_s: f64) {
        for channel in &mut self.channels {
            channel.heard_s = channel.heard_s.map(|_| now_s);
        }
    }

    /// Whether a channel was heard after `since_s` and can be believed.
    pub fn has_heard_since(&self, since_s: f64) -> bool {
        self.channels.iter().any(|channel| {
            channel.heard_s.is_some_and(|heard_s| heard_s > since_s)
                && channel.fault.is_none()
                && matches!(channel.value, Some(Ok(_)))
        })
    }

    /// Looks for channels that fell silent.
    pub fn listen(&mut self, now_s: f64, following_since_s: f64) -> Vec<Change> {
        let stale = |channel: &mut ChannelHealth| {
            let silent_s = now_s - channel.heard_s.unwrap_or(following_since_s);
            (silent_s > channel.stale_after_s() && channel.fault != Some(Fault::Stale))
                .then(|| channel.falls(Fault::Stale))
        };
        self.channels.iter_mut().filter_map(stale).flatten().collect()
    }

    fn hear_one(&mut self, index: usize, now_s: f64, value: Result<Celsius, Fault>) -> Vec<Change> {
        let heard = self.doubted(index, now_s, value);
        let Some(channel) = self.channels.get_mut(index) else { return Vec::new() };
        if let Some(heard_s) = channel.heard_s {
            channel.interval_s += 0.3 * (now_s - heard_s - channel.interval_s);
        }
        channel.heard_s = Some(now_s);
        // A reading astray says nothing yet; the next one tells what it was.
        let Some(value) = heard else { return Vec::new() };
        channel.garbled = if value == Err(Fault::Garbled) { channel.garbled + 1 } else { 0 };
        if value == Err(Fault::Garbled) && channel.garbled < GARBLED_LINES {
            return Vec::new();
        }
        channel.value = Some(value);
        match value {
            Ok(_) if channel.contradiction.is_some() => Vec::new(),
            Ok(_) => channel.is_good(now_s),
            Err(fault) => channel.falls(fault),
        }
    }

    /// What to make of a value that the line itself finds good; `None` when the next one has to tell.
    fn doubted(&mut self, index: usize, now_s: f64, value: Result<Celsius, Fault>) -> Option<Result<Celsius, Fault>> {
        let temp_c = match value {
            Ok(temp) => temp.0,
            Err(fault) => return Some(Err(self.fault_told(index, fault))),
        };
        if !temp_c.is_finite() {
            return Some(Err(Fault::Garbled));
        }
        if !(-60.0..=TOO_HOT_C).contains(&temp_c) {
            return Some(Err(self.fault_told(index, Fault::OutOfRange)));
        }
        let channel = self.channels.get_mut(index)?;
        if channel.first_c.replace(channel.first_c.unwrap_or(temp_c)).is_none() {
            self.air_c = self.air_now_c();
        }
        let ambient_c = self.air_c;
        let channel = self.channels.get_mut(index)?;
        channel.texture.take(temp_c);
        match channel.gate.take(now_s, temp_c, ambient_c) {
            Seen::Good => {}
            Seen::Stray => return None,
            Seen::Jumping => return Some(Err(Fault::Jumping)),
            Seen::Shorted => return Some(Err(Fault::Short)),
        }
        channel.reach.take(now_s, temp_c);
        channel.way.take(now_s, temp_c);
        if temp_c < ambient_c - BELOW_AMBIENT_K {
            return Some(Err(Fault::Reversed));
        }
        if channel.texture.stands_still() || self.stands_still(index, now_s, temp_c) {
            return Some(Err(Fault::Frozen));
        }
        Some(if self.is_hotter_than_can_be(index, now_s, temp_c) { Err(Fault::Implausible) } else { value })
    }

    /// A swapped couple that falls out of the range is still a swapped couple.
    fn fault_told(&self, index: usize, fault: Fault) -> Fault {
        let was = self.fault(index);
        if fault == Fault::OutOfRange && was == Some(Fault::Reversed) { Fault::Reversed } else { fault }
    }

    /// Whether something inside the wall is hotter than its face and the gas ever were, or than it was at the start: heat
    /// only comes from there.
    fn is_hotter_than_can_be(&mut self, index: usize, now_s: f64, temp_c: f64) -> bool {
        let hottest_c = self.hottest_c;
        let Some(channel) = self.channels.get_mut(index) else { return false };
        if channel.is_surface() {
            self.hottest_c = hottest_c.max(temp_c);
            return false;
        }
        let first_c = channel.first_c.unwrap_or(temp_c);
        let can_be_c = hottest_c.max(first_c);
        let margin_k = f64::max(HOTTER_K, 0.1 * can_be_c);
        if hottest_c == f64::NEG_INFINITY || temp_c <= can_be_c + margin_k {
            channel.odd_since_s = None;
            return false;
        }
        now_s - *channel.odd_since_s.get_or_insert(now_s) >= GOOD_FOR_S
    }

    /// Compares probes that sit at one place.
    fn compare(&mut self, now_s: f64) -> Vec<Change> {
        let mut changes = Vec::new();
        let air_c = self.air_c;
        let mut pairs = std::mem::take(&mut self.pairs);
        for pair in &mut pairs {
            let [one, other] = pair.channels;
            let sides = [one, other].map(|index| self.channels.get(index).and_then(|channel| channel.side(now_s)));
            let [Some(one), Some(other)] = sides else { continue };
            let found = pair.take(now_s, [one, other], air_c);
            for index in pair.channels {
                let Some(channel) = self.channels.get_mut(index) else { continue };
                let fault = found.filter(|(odd, _)| *odd == index).map(|(_, fault)| fault);
                changes.extend(channel.contradicted(fault, now_s));
            }
        }
        self.pairs = pairs;
        changes
    }

    /// Temperature of the air round the furnace, °C: as in the lining file, or less when the probes began colder than that.
    fn air_now_c(&self) -> f64 {
        let mut firsts_c: Vec<f64> = self.channels.iter().filter_map(|channel| channel.first_c).collect();
        firsts_c.sort_by(f64::total_cmp);
        let middle_c = firsts_c.get(firsts_c.len() / 2).copied().unwrap_or(self.ambient_c);
        middle_c.clamp(self.ambient_c.min(COLDEST_SHOP_C), self.ambient_c)
    }

    /// Whether the value has not moved by a digit for too long while gas and faces moved.
    fn stands_still(&mut self, index: usize, now_s: f64, temp_c: f64) -> bool {
        let (surface_went_k, surface_mean_c) = self.surface();
        let Some(channel) = self.channels.get_mut(index) else { return false };
        let is_surface = channel.is_surface();
        let went_k = channel.way.went_k;
        let others_went_k = surface_went_k - if is_surface { went_k } else { 0.0 };
        let still = match channel.still {
            Some(still) if still.raw_c.total_cmp(&temp_c).is_eq() => still,
            _ => {
                channel.still = Some(Still { raw_c: temp_c, since_s: now_s, others_went_k, surface_mean_c });
                return false;
            }
        };
        let (stood_s, others_since_k) = (now_s - still.since_s, others_went_k - still.others_went_k);
        if !is_surface {
            let means_went_k = (surface_mean_c - still.surface_mean_c).abs();
            return stood_s >= FROZEN_DEEP_S && means_went_k >= MEANS_WENT_K && temp_c > DRY_ABOVE_C;
        }
        if went_k <= 0.0 {
            return stood_s >= NEVER_MOVED_S && others_since_k >= NEVER_MOVED_K;
        }
        let should_k = others_since_k * went_k / still.others_went_k.max(1.0);
        let patience_s = if channel.probe.place == Place::ChamberGas { FROZEN_GAS_S } else { FROZEN_FACE_S };
        stood_s >= patience_s && others_since_k >= OTHERS_WENT_K && should_k >= SHOULD_HAVE_GONE_K
    }

    /// How far gas and hot faces have gone in all, K, and the mean of their means, °C.
    fn surface(&self) -> (f64, f64) {
        let surface = self.channels.iter().filter(|channel| channel.is_surface());
        let sum = |(went_k, mean_c, count): (f64, f64, f64), way: Way| match way.mean {
            Some((_, mean)) => (went_k + way.went_k, mean_c + mean, count + 1.0),
            None => (went_k, mean_c, count),
        };
        let (went_k, mean_c, count) = surface.map(|channel| channel.way).fold((0.0, 0.0, 0.0), sum);
        (went_k, mean_c / f64::max(count, 1.0))
    }
}

impl ChannelHealth {
    fn new(probe: Probe) -> Self {
        Self {
            reach: Reach::new(probe.sheath),
            probe,
            value: None,
            heard_s: None,
            fault: None,
            good_since_s: None,
            interval_s: 0.0,
            garbled: 0,
            still: None,
            way: Way::default(),
            gate: Gate::default(),
            texture: Texture::default(),
            first_c: None,
            odd_since_s: None,
            contradiction: None,
        }
    }

    /// Whether it sees the fire: the gas or a hot face.
    fn is_surface(&self) -> bool {
        matches!(self.probe.place, Place::ChamberGas | Place::HotFace { .. })
    }

    /// What it says beside another one, if it has spoken lately.
    fn side(&self, now_s: f64) -> Option<Side> {
        let is_fresh = self.heard_s.is_some_and(|at_s| now_s - at_s < STALE_S);
        match self.value {
            Some(Ok(temp)) if is_fresh => Some(Side {
                temp_c: temp.0,
                hull_c: self.reach.hull_c(),
                lags_s: self.reach.lags_s(),
                couple: self.probe.couple,
            }),
            _ => None,
        }
    }

    /// Silence after which the channel is stale, s: 10 s, or more for one that is known to speak seldom.
    fn stale_after_s(&self) -> f64 {
        if self.interval_s <= SLOW_RHYTHM_S {
            return STALE_S;
        }
        (2.5 * self.interval_s).clamp(STALE_S, STALE_AT_MOST_S)
    }

    /// Another probe at its place contradicts it, or not any more.
    fn contradicted(&mut self, fault: Option<Fault>, now_s: f64) -> Vec<Change> {
        self.contradiction = fault;
        match fault {
            Some(fault) if self.fault.is_none_or(is_contradiction) => self.falls(fault),
            None if self.fault.is_some_and(is_contradiction) => self.is_good(now_s),
            _ => Vec::new(),
        }
    }

    fn falls(&mut self, fault: Fault) -> Vec<Change> {
        self.good_since_s = None;
        if self.fault == Some(fault) {
            return Vec::new();
        }
        let over = self.fault.replace(fault).map(|old| self.change(old, true));
        over.into_iter().chain([self.change(fault, false)]).collect()
    }

    fn is_good(&mut self, now_s: f64) -> Vec<Change> {
        let Some(fault) = self.fault else { return Vec::new() };
        let since_s = *self.good_since_s.get_or_insert(now_s);
        // A silence is over with the first word; a fault that a channel reports may be a loose wire.
        if fault != Fault::Stale && now_s - since_s < GOOD_FOR_S {
            return Vec::new();
        }
        self.fault = None;
        self.good_since_s = None;
        vec![self.change(fault, true)]
    }

    fn change(&self, fault: Fault, over: bool) -> Change {
        Change { channel: self.probe.channel.clone(), fault, over }
    }
}

/// Whether a fault comes from another probe at the same place.
fn is_contradiction(fault: Fault) -> bool {
    matches!(fault, Fault::Implausible | Fault::WrongType | Fault::Drifting)
}

/// A fault in words, with what to look at.
pub(super) fn fault_in_words(fault: Fault) -> &'static str {
    match fault {
        Fault::Open => "open: a wire is off or the junction has burnt through; look at the plug and the tip",
        Fault::Short => {
            "short: the wires touch each other or the sheath; or a wire is off, on a board that does not notice it"
        }
        Fault::Jumping => {
            "jumps from reading to reading: igniter noise, a loose screw or a grounded junction; look at the screws, \
                           keep its wire away from the igniter's, run the computer from its battery"
        }
        Fault::Implausible => {
            "contradicts the other probes: look where its tip is, whether two plugs are swapped, at the type setting, \
                              and whether its wires are swapped at both ends (warm its head with the hand: a right one does \
                              not move)"
        }
        Fault::WrongType => {
            "fits the probe beside it if the board of one of them is set to another type: look at the colours of \
                             the wires and the type settings, and else where the tips are"
        }
        Fault::Drifting => {
            "has moved away from the probe at the same place: check both in boiling water when it is cold, and \
                            warm its head with the hand (wires swapped at both ends then show); the hotter one is believed"
        }
        Fault::Reversed => {
            "reads colder than the air round the furnace: the wires are swapped, at the board or at both ends of the \
                            extension wire"
        }
        Fault::Frozen => "has not moved by a digit while others did: look at the instrument",
        Fault::Stale => "says nothing any more: look at the cable and the board",
        Fault::OutOfRange => "reads what no furnace of this kind can be: look at the type setting and the wires",
        Fault::Unnamed => "has a fault that the board does not name: look at the wires, the tip and the board",
        Fault::Garbled => "sends lines without sense: look at the speed setting and the cable",
    }
}

/// What a flame that is said to burn looks like on the fastest channel.
#[derive(Clone, Debug, Default)]
pub(super) struct FlameSense {
    recent: std::collections::VecDeque<(f64, f64)>,
}

/// Time over which a flame shows on the fastest channel, s.
const FLAME_SHOWS_S: f64 = 30.0;

impl FlameSense {
    /// Appends a temperature of the fastest channel.
    pub fn push(&mut self, now_s: f64, temp_c: f64) {
        self.recent.push_back((now_s, temp_c));
        while self.recent.front().is_some_and(|(at_s, _)| now_s - at_s > FLAME_SHOWS_S) {
            self.recent.pop_front();
        }
    }

    /// Forgets what was before a change of the burner or of the probe.
    pub fn clear(&mut self) {
        self.recent.clear();
    }

    /// What the readings show of the burner; `None` when they show neither. A flame lifts the fastest channel by
    /// kelvins within seconds, a shut burner lets it fall as fast; twice the dead-band within 30 s, and still going the same
    /// way over the last third, is well above noise.
    pub fn shows(&self) -> Option<Flame> {
        if self.recent.len() < 6 {
            return None;
        }
        let mean = |part: &mut dyn Iterator<Item = &(f64, f64)>| {
            let (sum, count) = part.fold((0.0, 0.0), |(sum, count), (_, temp_c)| (sum + temp_c, count + 1.0));
            sum / count
        };
        let third = self.recent.len() / 3;
        let early_c = mean(&mut self.recent.iter().take(third));
        let middle_c = mean(&mut self.recent.iter().skip(third).take(third));
        let late_c = mean(&mut self.recent.iter().rev().take(third));
        let enough_k = 2.0 * super::ramp::dead_band_k(late_c);
        if late_c - early_c >= enough_k && late_c - middle_c >= 0.25 * enough_k {
            return Some(Flame::On);
        }
        (early_c - late_c >= enough_k && middle_c - late_c >= 0.25 * enough_k).then_some(Flame::Off)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::thermocouple::{Thermocouple, lag};
    use crate::units::Metres;

    fn health(places: &[(&str, Place)]) -> Health {
        let probe = |(name, place): &(&str, Place)| Probe {
            channel: Channel::new(name),
            place: place.clone(),
            limit: None,
            couple: None,
            sheath: None,
        };
        Health::new(&places.iter().map(probe).collect::<Vec<_>>(), 20.0)
    }

    fn one() -> Health {
        health(&[("hot", Place::HotFace { section: "wall".into() })])
    }

    fn says(name: &str, value: Result<f64, Fault>) -> Vec<Reading> {
        vec![Reading { channel: Channel::new(name), value: value.map(Celsius) }]
    }

    fn faults(changes: &[Change]) -> Vec<(Fault, bool)> {
        changes.iter().map(|change| (change.fault, change.over)).collect()
    }

    #[test]
    fn an_open_loop_is_a_fault_once() {
        let mut health = one();
        let all: Vec<Change> =
            (0..50).flat_map(|now| health.hear(f64::from(now), &says("hot", Err(Fault::Open))).0).collect();
        assert_eq!(faults(&all), [(Fault::Open, false)]);
    }

    #[test]
    fn a_loose_wire_that_comes_and_goes_each_second_is_one_fault() {
        let mut health = one();
        let value = |now: i32| if now % 2 == 0 { Err(Fault::Open) } else { Ok(30.0 + f64::from(now)) };
        let all: Vec<Change> =
            (0..100).flat_map(|now| health.hear(f64::from(now), &says("hot", value(now))).0).collect();
        assert_eq!(faults(&all), [(Fault::Open, false)]);
    }

    #[test]
    fn a_dead_cable_is_noticed_without_any_reading() {
        let mut health = one();
        let all: Vec<Change> = (0..30).flat_map(|now| health.listen(f64::from(now), 0.0)).collect();
        assert_eq!(faults(&all), [(Fault::Stale, false)]);
    }

    #[test]
    fn a_channel_that_speaks_twice_a_minute_is_not_stale_between_its_words() {
        let mut health = one();
        let mut all = Vec::new();
        for now in 0..600 {
            if now % 30 == 0 {
                all.extend(health.hear(f64::from(now), &says("hot", Ok(20.0 + f64::from(now)))).0);
            }
            let late: Vec<Change> = health.listen(f64::from(now), 0.0);
            all.extend(late.into_iter().filter(|_| now > 240));
        }
        assert!(all.iter().all(|change| change.over), "{all:?}");
    }

    #[test]
    fn a_value_below_the_air_round_the_furnace_is_a_swapped_couple() {
        assert_eq!(faults(&one().hear(5.0, &says("hot", Ok(-14.0))).0), [(Fault::Reversed, false)]);
    }

    #[test]
    fn not_a_number_is_never_a_temperature() {
        let mut health = one();
        for now in 0..3 {
            health.hear(f64::from(now), &says("hot", Ok(f64::NAN)));
        }
        assert_eq!((health.fault(0), health.believed_c(0)), (Some(Fault::Garbled), None));
    }

    #[test]
    fn a_hot_face_that_stands_still_while_the_gas_moves_is_frozen() {
        let mut health = health(&[("hot", Place::HotFace { section: "wall".into() }), ("gas", Place::ChamberGas)]);
        let mut all = Vec::new();
        for now in 0..200 {
            let mut line = says("gas", Ok(100.0 + f64::from(now)));
            line.extend(says("hot", Ok(80.0)));
            all.extend(health.hear(f64::from(now), &line).0);
        }
        assert_eq!(faults(&all), [(Fault::Frozen, false)]);
    }

    #[test]
    fn a_resting_furnace_has_no_frozen_channel() {
        let mut health = health(&[("hot", Place::HotFace { section: "wall".into() }), ("gas", Place::ChamberGas)]);
        let mut line = says("gas", Ok(20.0));
        line.extend(says("hot", Ok(20.0)));
        let all: Vec<Change> = (0..4000).flat_map(|now| health.hear(f64::from(now), &line).0).collect();
        assert_eq!(faults(&all), []);
    }

    /// What a sound instrument does to a temperature: noise, K, its smallest digit, K, and how long it takes for a reading, s.
    #[derive(Clone, Copy, Debug)]
    struct Instrument {
        noise_k: f64,
        digit_k: f64,
        every_s: u32,
    }

    /// A school foundry's furnace in pulses, cold, heating, at the evaporation plateau, soaking and cooling down, and five
    /// sound probes in it: two in the gas, the second thick where nothing else is said and off by the tolerance of class 2 of IEC
    /// 60584-1, a hot face of type S, one 13 mm deep and one at the steel.
    struct Day {
        instrument: Instrument,
        second_mm: f64,
        luck: u64,
        now: u32,
        gas_c: f64,
        temps_c: [f64; 5],
    }

    /// A common converter.
    const FINE: Instrument = Instrument { noise_k: 0.25, digit_k: 0.25, every_s: 1 };

    const NAMES: [&str; 5] = ["gas", "gas 2", "hot", "core", "steel"];

    impl Day {
        fn new(instrument: Instrument) -> Self {
            Self { instrument, second_mm: 6.0, luck: 1, now: 0, gas_c: 12.0, temps_c: [12.0; 5] }
        }

        fn health(&self) -> Health {
            let wall = || "wall".to_owned();
            let places = [
                Place::ChamberGas,
                Place::ChamberGas,
                Place::HotFace { section: wall() },
                Place::Depth { section: wall(), depth: Metres::from_mm(13.0) },
                Place::MetalContact { section: wall() },
            ];
            let couples = [Thermocouple::K, Thermocouple::K, Thermocouple::S, Thermocouple::K, Thermocouple::J];
            let sheaths_mm = [1.5, self.second_mm, 3.0, 3.0, 3.0];
            let probe = |at: usize| Probe {
                channel: Channel::new(NAMES[at]),
                place: places[at].clone(),
                limit: None,
                couple: Some(couples[at]),
                sheath: Some(Metres::from_mm(sheaths_mm[at])),
            };
            Health::new(&(0..5).map(probe).collect::<Vec<_>>(), 20.0)
        }

        /// About normal, with deviation 1, the same each time the test is run.
        fn noise(&mut self) -> f64 {
            let mut sum = 0.0;
            for _ in 0..12 {
                self.luck = self.luck.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                sum += (self.luck >> 40) as f64 / f64::from(1 << 24);
            }
            sum - 6.0
        }

        /// Lets a second pass.
        fn pass(&mut self) {
            self.now += 1;
            let now = self.now;
            let is_lit = (3600..72_000).contains(&now) && now % 300 < 20 + now / 1000;
            let [first_c, second_c, hot_c, core_c, steel_c] = self.temps_c;
            let flame_c = if is_lit { 1500.0 } else { 12.0 };
            self.gas_c += (flame_c - self.gas_c) / 60.0 + (hot_c - self.gas_c) / 15.0;
            let gas_c = self.gas_c;
            // The wet zone stands at the boiling point for hours.
            let is_wet = core_c > 99.0 && now < 50_000;
            let moves_k = [
                (gas_c - first_c) / lag(Metres::from_mm(1.5)).0,
                (gas_c - second_c) / lag(Metres::from_mm(self.second_mm)).0,
                (gas_c - hot_c) / 300.0 + (core_c - hot_c) / 900.0,
                if is_wet { 0.0 } else { (hot_c - core_c) / 3600.0 },
                (core_c - steel_c) / 7200.0 + (12.0 - steel_c) / 9000.0,
            ];
            for (temp_c, moves_k) in self.temps_c.iter_mut().zip(moves_k) {
                *temp_c += moves_k;
            }
        }

        /// What all probes say now.
        fn line(&mut self) -> Vec<Reading> {
            let Instrument { noise_k, digit_k, .. } = self.instrument;
            let mut line = Vec::new();
            for (at, name) in NAMES.iter().enumerate() {
                let scale = if at == 1 { 1.0075 } else { 1.0 };
                let read_c = scale * self.temps_c[at] + noise_k * self.noise();
                line.extend(says(name, Ok((read_c / digit_k).round() * digit_k)));
            }
            line
        }

        /// Lines from now until `until_s`, each changed by `change`, heard by `health`. Gives every change with its time, s.
        fn play(
            &mut self,
            until_s: u32,
            health: &mut Health,
            mut change: impl FnMut(u32, &mut Vec<Reading>),
        ) -> Vec<(u32, Change)> {
            let mut all = Vec::new();
            while self.now < until_s {
                self.pass();
                if self.now.is_multiple_of(self.instrument.every_s) {
                    let mut line = self.line();
                    change(self.now, &mut line);
                    all.extend(health.hear(f64::from(self.now), &line).0.into_iter().map(|change| (self.now, change)));
                }
            }
            all
        }
    }

    /// 24 hours, in which the shop is 8 K colder than the lining file says.
    fn day_of(noise_k: f64, digit_k: f64, every_s: u32) {
        let instrument = Instrument { noise_k, digit_k, every_s };
        let mut day = Day::new(instrument);
        let mut health = day.health();
        let all = day.play(86_400, &mut health, |_, _| {});
        assert!(all.is_empty(), "{instrument:?}: {all:?}");
        assert!(health.channels().iter().all(|channel| channel.way.went_k > 50.0), "the furnace was never hot");
    }

    #[test]
    fn a_day_of_noisy_quarters_of_a_degree_gives_no_fault() {
        day_of(0.25, 0.25, 1);
    }

    #[test]
    fn a_day_of_quiet_whole_degrees_gives_no_fault() {
        day_of(0.03, 1.0, 1);
    }

    #[test]
    fn a_day_of_noisy_whole_degrees_gives_no_fault() {
        day_of(0.6, 1.0, 1);
    }

    #[test]
    fn a_day_of_quiet_quarters_of_a_degree_gives_no_fault() {
        day_of(0.02, 0.25, 1);
    }

    #[test]
    fn a_day_of_restless_tenths_of_a_degree_gives_no_fault() {
        day_of(1.5, 0.1, 1);
    }

    #[test]
    fn a_day_of_a_slow_board_gives_no_fault() {
        day_of(0.25, 0.25, 6);
    }

    /// Seconds until the channel called `name` is told as frozen when it stands from `from_s` on.
    fn frozen_after_s(noise_k: f64, digit_k: f64, name: &str, from_s: u32) -> Option<u32> {
        let mut day = Day::new(Instrument { noise_k, digit_k, every_s: 1 });
        let mut health = day.health();
        let mut held = None;
        let all = day.play(from_s + 200, &mut health, |now, line| {
            for reading in line.iter_mut().filter(|reading| *reading.channel.0 == *name && now >= from_s) {
                reading.value = *held.get_or_insert(reading.value);
            }
        });
        assert!(all.iter().all(|(_, change)| *change.channel.0 == *name), "{all:?}");
        let first = all.into_iter().find(|(_, change)| change.fault == Fault::Frozen)?;
        Some(first.0 - from_s)
    }

    /// One reading a second: noise of five digits lets none stand for ten.
    #[test]
    fn a_noisy_channel_that_freezes_is_told_within_ten_seconds_wherever_it_is() {
        for name in NAMES {
            for from_s in [1800, 30_123, 60_000] {
                let after_s = frozen_after_s(0.5, 0.1, name, from_s);
                assert!(after_s.is_some_and(|after_s| after_s <= 10), "{name} from {from_s}: {after_s:?}");
            }
        }
    }

    /// Noise of one digit: a sound instrument gives the same digit with a chance of up to 38 %, so that 22 readings are needed
    /// before chance is as good as ruled out.
    #[test]
    fn noise_of_one_digit_needs_twenty_odd_readings() {
        let after_s = frozen_after_s(0.25, 0.25, "core", 30_123);
        assert!(after_s.is_some_and(|after_s| (16..=32).contains(&after_s)), "{after_s:?}");
    }

    /// Whole degrees without noise: only that it should have moved tells, and a turn from rising to falling takes up
    /// to 10 s of standing by itself.
    #[test]
    fn a_quiet_coarse_gas_channel_that_freezes_in_a_pulse_is_told_within_half_a_minute() {
        for digit_k in [0.25, 1.0] {
            // Twenty seconds into a pulse.
            let after_s = frozen_after_s(0.03, digit_k, "gas", 30_020);
            assert!(after_s.is_some_and(|after_s| after_s <= 30), "{digit_k} K: {after_s:?}");
        }
    }

    /// The first fault of the second gas probe of this thickness, and seconds until it is told, when it says `lie` of the truth from
    /// `from_s` on.
    fn told_of_second(second_mm: f64, from_s: u32, lie: impl Fn(f64) -> f64) -> Option<(Fault, u32)> {
        let mut day = Day { second_mm, ..Day::new(FINE) };
        let mut health = day.health();
        let all = day.play(from_s + 7200, &mut health, |now, line| {
            for reading in line.iter_mut().filter(|reading| *reading.channel.0 == *"gas 2" && now >= from_s) {
                reading.value = reading.value.map(|temp| Celsius((lie(temp.0) * 4.0).round() / 4.0));
            }
        });
        assert!(all.iter().all(|(_, change)| *change.channel.0 == *"gas 2"), "{all:?}");
        all.first().map(|(at_s, change)| (change.fault, at_s - from_s))
    }

    /// Hot, and late between two pulses.
    const HOT_S: u32 = 60_280;

    /// What a board for type K makes of a type N probe (IEC 60584-1).
    fn n_on_k(truth_c: f64) -> f64 {
        let air = Celsius(12.0);
        let shown =
            Thermocouple::N.loop_emf(Celsius(truth_c), air).and_then(|emf| Thermocouple::K.compensated(emf, air));
        shown.expect("in range").0
    }

    #[test]
    fn a_wrong_type_is_told_within_ten_seconds_beside_a_right_one_when_it_is_hot() {
        let told = told_of_second(1.5, HOT_S, n_on_k);
        assert!(matches!(told, Some((Fault::WrongType, 0..=10))), "{told:?}");
    }

    /// All types show the same while tip and terminals are equally warm.
    #[test]
    fn a_wrong_type_cannot_show_before_there_is_heat() {
        let told = told_of_second(1.5, 0, n_on_k);
        assert!(matches!(told, Some((_, 3600..))), "{told:?}");
    }

    /// Less than half of the height fits no other type; between half and all of it some type always nearly does, and the words of
    /// both faults name both causes.
    #[test]
    fn a_probe_pulled_back_behind_the_face_is_told_within_ten_seconds_beside_a_right_one() {
        let told = told_of_second(1.5, HOT_S, |truth_c| 20.0 + 0.45 * (truth_c - 20.0));
        assert!(matches!(told, Some((Fault::Implausible, 0..=10))), "{told:?}");
    }

    /// A small drift is less than a flame that licks one of two probes makes, so that only means over pulses tell it.
    #[test]
    fn a_drift_of_seven_parts_in_a_hundred_is_told_within_an_hour_by_means_over_pulses() {
        for second_mm in [1.5, 6.0] {
            let told = told_of_second(second_mm, HOT_S, |truth_c| 0.93 * truth_c);
            assert!(matches!(told, Some((Fault::Drifting, 600..=3600))), "{second_mm} mm: {told:?}");
        }
    }

    /// Wires swapped at both ends take twice the temperature of the head above the board off: with a head 60 K above
    /// it, what is told is that the probes contradict each other, and the words name this cause too.
    #[test]
    fn wires_swapped_at_both_ends_contradict_the_probe_beside_them() {
        let told = told_of_second(1.5, HOT_S, |truth_c| truth_c - 2.0 * 60.0);
        assert!(matches!(told, Some((Fault::Implausible, 0..=10))), "{told:?}");
        assert!(fault_in_words(Fault::Implausible).contains("both ends"));
    }

    /// The tip is cold while the head warms: less than the air by twice as much.
    #[test]
    fn wires_swapped_at_both_ends_read_colder_than_the_air_when_the_head_warms_first() {
        let mut health = Day::new(FINE).health();
        let mut all = Vec::new();
        for now in 0..600 {
            let head_k = f64::from(now) / 20.0;
            all.extend(health.hear(f64::from(now), &says("core", Ok(20.0 + 0.1 * head_k - 2.0 * head_k))).0);
        }
        assert_eq!(faults(&all), [(Fault::Reversed, false)]);
    }

    #[test]
    fn a_shop_colder_than_the_lining_file_says_swaps_no_wires() {
        let mut health = Day::new(FINE).health();
        let mut line: Vec<Reading> = NAMES.iter().flat_map(|name| says(name, Ok(3.0))).collect();
        assert_eq!(health.hear(1.0, &line).0, []);
        line[0].value = Ok(Celsius(-9.0));
        assert_eq!(faults(&health.hear(2.0, &line).0), [(Fault::Reversed, false)]);
    }

    #[test]
    fn a_deep_probe_hotter_than_gas_and_face_ever_were_contradicts_them_within_ten_seconds() {
        let mut health =
            health(&[("gas", Place::ChamberGas), ("steel", Place::MetalContact { section: "wall".into() })]);
        let mut all = Vec::new();
        for now in 0..60 {
            let mut line = says("gas", Ok(300.0));
            line.extend(says("steel", Ok(if now < 40 { 60.0 } else { 700.0 })));
            all.extend(health.hear(f64::from(now), &line).0.into_iter().map(|change| (now, change.fault)));
        }
        assert!(matches!(all[..], [(40..=50, Fault::Implausible)]), "{all:?}");
    }

    #[test]
    fn a_swapped_couple_stays_one_when_it_falls_out_of_the_range() {
        let mut health = one();
        let mut all = health.hear(1.0, &says("hot", Ok(-30.0))).0;
        all.extend(health.hear(2.0, &says("hot", Err(Fault::OutOfRange))).0);
        assert_eq!(faults(&all), [(Fault::Reversed, false)]);
    }

    #[test]
    fn sparks_are_one_fault_and_the_temperature_between_them_is_kept() {
        let mut health = one();
        let mut all = Vec::new();
        for now in 0..60 {
            let is_spark = (20..32).contains(&now) && now % 2 == 0;
            let value_c = if is_spark { 900.0 } else { 200.0 };
            all.extend(health.hear(f64::from(now), &says("hot", Ok(value_c + 0.1 * f64::from(now % 3)))).0);
            assert!(health.believed_c(0).is_none_or(|temp_c| temp_c < 300.0), "believed a spark at {now}");
        }
        assert_eq!(faults(&all), [(Fault::Jumping, false), (Fault::Jumping, true)]);
    }

    #[test]
    fn a_lit_burner_shows_on_the_fastest_channel() {
        let mut sense = FlameSense::default();
        (0..20).for_each(|now| sense.push(f64::from(now), 60.0 + f64::from(now)));
        assert_eq!(sense.shows(), Some(Flame::On));
    }

    #[test]
    fn noise_shows_no_flame() {
        let mut sense = FlameSense::default();
        (0..30).for_each(|now| sense.push(f64::from(now), 60.0 + 2.0 * f64::from(now % 3)));
        assert_eq!(sense.shows(), None);
    }
}
