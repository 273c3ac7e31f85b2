//! Whether each probe channel can be believed: faults that it reports, silence, values that stand still or cannot be.

use crate::plan::Flame;
use crate::reading::{Channel, Fault, Place, Reading};
use crate::units::Celsius;

use super::Probe;
use super::doubt::{Gate, Pair, Seen, Texture};

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

/// A hot face or the gas that stands still to the digit for so long while things move is frozen, s.
const FROZEN_HOT_S: f64 = 120.0;

/// A channel deeper in may stand still for longer, s: on the evaporation plateau a coarse instrument does.
const FROZEN_DEEP_S: f64 = 2700.0;

/// What has to move elsewhere for a standing value to be suspicious, K.
const OTHERS_MOVED_K: f64 = 20.0;

/// Nothing in a furnace is colder than the air round it by more than this, K; a swapped couple reads so.
const BELOW_AMBIENT_K: f64 = 10.0;

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
    gate: Gate,
    texture: Texture,
    first_c: Option<f64>,
    odd_since_s: Option<f64>,
    /// What another probe at its place says of it.
    contradiction: Option<Fault>,
}

/// Since when a value has stood still, and where everything else was then.
#[derive(Clone, Debug)]
struct Still {
    raw_c: f64,
    since_s: f64,
    others_c: Vec<Option<f64>>,
}

impl Health {
    /// All channels, none heard yet, in surroundings of `ambient_c`.
    pub fn new(probes: &[Probe], ambient_c: f64) -> Self {
        let places: Vec<Place> = probes.iter().map(|probe| probe.place.clone()).collect();
        let channels = probes.iter().cloned().map(ChannelHealth::new).collect();
        Self { channels, pairs: Pair::all(&places), ambient_c, hottest_c: f64::NEG_INFINITY }
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
        let ambient_c = self.ambient_c;
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
        channel.texture.take(temp_c);
        match channel.gate.take(now_s, temp_c, ambient_c) {
            Seen::Good => {}
            Seen::Stray => return None,
            Seen::Jumping => return Some(Err(Fault::Jumping)),
            Seen::Shorted => return Some(Err(Fault::Short)),
        }
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
        if matches!(channel.probe.place, Place::ChamberGas | Place::HotFace { .. }) {
            self.hottest_c = hottest_c.max(temp_c);
            return false;
        }
        let first_c = *channel.first_c.get_or_insert(temp_c);
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
        let mut pairs = std::mem::take(&mut self.pairs);
        for pair in &mut pairs {
            let [one, other] = pair.channels;
            let is_fresh = |index: usize| {
                self.channels
                    .get(index)
                    .is_some_and(|channel| channel.heard_s.is_some_and(|at_s| now_s - at_s < STALE_S))
            };
            let both = |index: usize| match self.channels.get(index)?.value {
                Some(Ok(temp)) if is_fresh(index) => Some(temp.0),
                _ => None,
            };
            let (Some(one_c), Some(other_c)) = (both(one), both(other)) else { continue };
            let couples = [one, other].map(|index| self.channels.get(index).and_then(|channel| channel.probe.couple));
            let found = pair.take(now_s, [one_c, other_c], couples, self.ambient_c);
            for index in pair.channels {
                let Some(channel) = self.channels.get_mut(index) else { continue };
                let fault = found.filter(|(odd, _)| *odd == index).map(|(_, fault)| fault);
                changes.extend(channel.contradicted(fault, now_s));
            }
        }
        self.pairs = pairs;
        changes
    }

    /// Whether the value has not moved by a digit for too long while others moved.
    fn stands_still(&mut self, index: usize, now_s: f64, temp_c: f64) -> bool {
        let others_c: Vec<Option<f64>> = (0..self.channels.len()).map(|other| self.believed_c(other)).collect();
        let Some(channel) = self.channels.get_mut(index) else { return false };
        let surface = matches!(channel.probe.place, Place::ChamberGas | Place::HotFace { .. });
        let patience_s = if surface { FROZEN_HOT_S } else { FROZEN_DEEP_S };
        match &channel.still {
            Some(still) if still.raw_c.total_cmp(&temp_c).is_eq() => {
                let moved = |(other, (then, now)): (usize, (&Option<f64>, &Option<f64>))| {
                    let moved_k = if let (Some(then), Some(now)) = (then, now) { (now - then).abs() } else { 0.0 };
                    // The skin can burn while the deep is still cold, so only its own kind tells on a deep channel.
                    other != index && moved_k >= if surface { OTHERS_MOVED_K } else { 5.0 * OTHERS_MOVED_K }
                };
                let others = still.others_c.iter().zip(&others_c).enumerate().any(moved);
                now_s - still.since_s >= patience_s && others && (surface || temp_c > self.ambient_c + OTHERS_MOVED_K)
            }
            _ => {
                channel.still = Some(Still { raw_c: temp_c, since_s: now_s, others_c });
                false
            }
        }
    }
}

impl ChannelHealth {
    fn new(probe: Probe) -> Self {
        Self {
            probe,
            value: None,
            heard_s: None,
            fault: None,
            good_since_s: None,
            interval_s: 0.0,
            garbled: 0,
            still: None,
            gate: Gate::default(),
            texture: Texture::default(),
            first_c: None,
            odd_since_s: None,
            contradiction: None,
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
        Fault::Implausible => "contradicts the other probes: look where its tip is, and whether two plugs are swapped",
        Fault::WrongType => {
            "fits the probe beside it if its board is set to another type: look at the colours of the wire and \
                             the type setting"
        }
        Fault::Drifting => {
            "has moved away from the probe at the same place: check both in boiling water when it is cold; the \
                            hotter one is believed"
        }
        Fault::Reversed => "reads colder than the air round the furnace: the wires are probably swapped",
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

    fn health(places: &[(&str, Place)]) -> Health {
        let probe = |(name, place): &(&str, Place)| Probe {
            channel: Channel::new(name),
            place: place.clone(),
            limit: None,
            couple: None,
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

    /// A day of a school foundry's furnace in pulses, five probes with noise of 0.5 K and digits of 0.25 °C (and one
    /// coarse one of 1 °C), one reading each a second.
    #[test]
    fn a_day_of_sound_noisy_probes_gives_no_fault() {
        let wall = || "wall".to_owned();
        let depth = Place::Depth { section: wall(), depth: crate::units::Metres::from_mm(13.0) };
        let places = [
            ("gas", Place::ChamberGas),
            ("gas 2", Place::ChamberGas),
            ("hot", Place::HotFace { section: wall() }),
            ("core", depth),
            ("steel", Place::MetalContact { section: wall() }),
        ];
        let mut health = health(&places);
        let (mut luck, mut temps_c) = (1_u64, [20.0; 5]);
        let mut noise = || {
            let mut sum = 0.0;
            for _ in 0..12 {
                luck = luck.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                sum += (luck >> 40) as f64 / f64::from(1 << 24);
            }
            0.5 * (sum - 6.0)
        };
        let mut all = Vec::new();
        for now in 0..86_400_u32 {
            let flame_c = if now % 300 < 30 + now / 1000 { 1500.0 } else { 20.0 };
            let [gas_c, second_c, hot_c, core_c, steel_c] = temps_c;
            let moves = [
                (flame_c - gas_c) / 60.0 + (hot_c - gas_c) / 30.0,
                (gas_c - second_c) / 40.0,
                (gas_c - hot_c) / 300.0 + (core_c - hot_c) / 900.0,
                // The wet zone stands at the boiling point for hours.
                if core_c > 99.0 && now < 40_000 { 0.0 } else { (hot_c - core_c) / 3600.0 },
                (core_c - steel_c) / 7200.0 + (20.0 - steel_c) / 9000.0,
            ];
            let mut line = Vec::new();
            for (place, (name, _)) in places.iter().enumerate() {
                temps_c[place] += moves[place];
                let digit = if *name == "steel" { 1.0 } else { 0.25 };
                line.extend(says(name, Ok(((temps_c[place] + noise()) / digit).round() * digit)));
            }
            all.extend(health.hear(f64::from(now), &line).0);
        }
        assert_eq!(faults(&all), [], "{temps_c:?}");
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
