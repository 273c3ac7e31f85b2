//! What each probe said, how well it was, and how fast it rose.

use serde::Serialize;

use super::BUCKETS;
use super::account::Told;
use super::engine::Engine;
use crate::plan::Plan;
use crate::reading::Place;
use crate::run::{Event, Probe, Setup, Trail, Verdict, window_s};
use crate::units::KelvinPerHour;
use crate::units::quantity::{Shown as _, UnitSystem};

/// A silence of this length is told, s.
const LONG_SILENCE_S: f64 = 60.0;

/// Least and most of a probe over a short while.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Envelope {
    /// Middle of the while, s since the heat-up began.
    pub elapsed_s: f64,
    /// Lowest, °C.
    pub low_c: f64,
    /// Mean, °C.
    pub mean_c: f64,
    /// Highest, °C.
    pub high_c: f64,
}

/// How fast a hot face rose on the mean over the pulses, at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RampPoint {
    /// Since the heat-up began, s.
    pub elapsed_s: f64,
    /// Mean rise, K/h.
    pub ramp_k_h: f64,
    /// Steepest that was allowed, K/h; `None` once the section was dry.
    pub limit_k_h: Option<f64>,
}

/// A fault of a probe.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChannelFault {
    /// Began, s.
    pub from_s: f64,
    /// Over, s; `None` when it lasted to the end.
    pub to_s: Option<f64>,
    /// What it was.
    pub what: String,
}

/// One probe over the whole heat-up.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChannelAccount {
    /// The operator's name for it.
    pub channel: String,
    /// Where its tip sits, in words.
    pub place: String,
    /// Readings that were temperatures.
    pub readings: u64,
    /// Readings that were faults.
    pub bad_readings: u64,
    /// Longest time between two readings, s.
    pub longest_silence_s: f64,
    /// Highest believed reading, °C.
    pub highest_c: Option<f64>,
    /// When that was, s.
    pub highest_at_s: Option<f64>,
    /// Its last believed reading, °C.
    pub last_c: Option<f64>,
    /// Its believed readings.
    pub curve: Vec<Envelope>,
    /// How fast it rose, if it sees a hot face.
    pub ramp: Vec<RampPoint>,
    /// Its faults.
    pub faults: Vec<ChannelFault>,
}

impl ChannelAccount {
    /// Steepest rise while a limit stood, with its limit; `None` when none is known.
    #[must_use]
    pub fn steepest(&self) -> Option<RampPoint> {
        let limited = self.ramp.iter().filter(|point| point.limit_k_h.is_some());
        limited.copied().max_by(|a, b| a.ramp_k_h.total_cmp(&b.ramp_k_h))
    }

    /// Health in a few words.
    #[must_use]
    pub fn health(&self) -> String {
        let mut words: Vec<String> = Vec::new();
        for fault in &self.faults {
            let until = fault.to_s.map_or("to the end".to_owned(), |to_s| format!("until {}", super::clock(to_s)));
            words.push(format!("{} from {} {until}", fault.what, super::clock(fault.from_s)));
        }
        if words.is_empty() && self.longest_silence_s > LONG_SILENCE_S {
            words.push(format!("silent for {} once", super::span(self.longest_silence_s)));
        }
        if self.readings == 0 {
            words.push("gave no reading".to_owned());
        }
        if words.is_empty() { "no fault seen".to_owned() } else { words.join("; ") }
    }
}

/// A probe while its readings are taken in.
#[derive(Clone, Debug, Default)]
struct Ear {
    readings: u64,
    bad_readings: u64,
    heard_s: Option<f64>,
    longest_silence_s: f64,
    highest: Option<(f64, f64)>,
    first_c: Option<f64>,
    last_c: Option<f64>,
    buckets: Vec<Bucket>,
    faults: Vec<ChannelFault>,
    rises: Vec<(f64, f64)>,
}

/// Believed readings of a short while.
#[derive(Clone, Copy, Debug)]
struct Bucket {
    low_c: f64,
    high_c: f64,
    sum_c: f64,
    count: u32,
}

impl Default for Bucket {
    fn default() -> Self {
        Self { low_c: f64::INFINITY, high_c: f64::NEG_INFINITY, sum_c: 0.0, count: 0 }
    }
}

/// All probes as they were heard.
#[derive(Clone, Debug)]
pub(super) struct Heard {
    ears: Vec<Ear>,
    places: Vec<Place>,
    bucket_s: f64,
}

/// Length of the window that bridges whole pulses at a moment of the plan, s.
pub(super) fn window_at(plan: &Plan, plan_s: f64) -> f64 {
    let round = plan.rounds.get(plan.cue_at(crate::units::Seconds(plan_s)).round).or(plan.rounds.last());
    window_s(round.map(|round| round.on.0 + round.off.0))
}

/// Length of one pulse with its pause at a moment of the plan, s.
pub(super) fn cycle_at_s(plan: &Plan, plan_s: f64) -> f64 {
    let round = plan.rounds.get(plan.cue_at(crate::units::Seconds(plan_s)).round).or(plan.rounds.last());
    round.map_or(600.0, |round| round.on.0 + round.off.0)
}

/// Takes in every reading.
pub(super) fn hear(told: &Told<'_>, length_s: f64) -> Heard {
    let probes = &told.setup.probes;
    let bucket_s = (length_s / BUCKETS as f64).max(1.0);
    let ambient_c = told.setup.lining.surroundings.temp.0;
    let mut ears = vec![Ear::default(); probes.len()];
    let mut trails = vec![Trail::new(ambient_c); probes.len()];
    let mut looked_s = f64::NEG_INFINITY;
    for moment in &told.moments {
        for verdict in moment.verdicts {
            note_fault(&mut ears, probes, verdict);
        }
        let now_s = moment.input.elapsed.0;
        let Event::Readings(readings) = &moment.input.event else { continue };
        for reading in readings {
            let Some(index) = probes.iter().position(|probe| probe.channel == reading.channel) else { continue };
            let (Some(ear), Some(trail)) = (ears.get_mut(index), trails.get_mut(index)) else { continue };
            match reading.value {
                Ok(temp) if ear.hear(now_s, temp.0, bucket_s) => trail.push(now_s, temp.0),
                Ok(_) => {}
                Err(_) => ear.bad_readings += 1,
            }
        }
        if now_s - looked_s >= bucket_s {
            looked_s = now_s;
            let window_s = window_at(&told.setup.plan, now_s);
            for (ear, trail) in ears.iter_mut().zip(&trails) {
                ear.rises.extend(trail.rise(window_s).map(|rise| (now_s, rise.ramp.0)));
            }
        }
    }
    Heard { ears, places: probes.iter().map(|probe| probe.place.clone()).collect(), bucket_s }
}

fn note_fault(ears: &mut [Ear], probes: &[Probe], verdict: &Verdict) {
    let Verdict::Fault { elapsed_s, channel: Some(channel), text, over } = verdict else { return };
    let index = probes.iter().position(|probe| probe.channel == *channel);
    let Some(ear) = index.and_then(|index| ears.get_mut(index)) else { return };
    if *over {
        if let Some(open) = ear.faults.iter_mut().rfind(|fault| fault.to_s.is_none()) {
            open.to_s = Some(*elapsed_s);
        }
    } else {
        ear.faults.push(ChannelFault { from_s: *elapsed_s, to_s: None, what: text.clone() });
    }
}

impl Ear {
    /// Takes in a temperature; whether it can be believed.
    fn hear(&mut self, now_s: f64, temp_c: f64, bucket_s: f64) -> bool {
        self.readings += 1;
        self.longest_silence_s = self.longest_silence_s.max(now_s - self.heard_s.unwrap_or(now_s));
        self.heard_s = Some(now_s);
        if self.faults.iter().any(|fault| fault.to_s.is_none()) {
            return false;
        }
        self.first_c.get_or_insert(temp_c);
        self.last_c = Some(temp_c);
        if self.highest.is_none_or(|(highest_c, _)| temp_c > highest_c) {
            self.highest = Some((temp_c, now_s));
        }
        let index = (now_s / bucket_s).max(0.0) as usize;
        if self.buckets.len() <= index {
            self.buckets.resize(index + 1, Bucket::default());
        }
        if let Some(bucket) = self.buckets.get_mut(index) {
            bucket.low_c = bucket.low_c.min(temp_c);
            bucket.high_c = bucket.high_c.max(temp_c);
            bucket.sum_c += temp_c;
            bucket.count += 1;
        }
        true
    }

    /// Mean of what was believed between two times, °C.
    fn mean_c(&self, from_s: f64, to_s: f64, bucket_s: f64) -> Option<f64> {
        let (first, last) = ((from_s / bucket_s).max(0.0) as usize, (to_s / bucket_s).max(0.0) as usize);
        let within = self.buckets.iter().take(last.max(first + 1)).skip(first).filter(|bucket| bucket.count > 0);
        let means: Vec<f64> = within.map(|bucket| bucket.sum_c / f64::from(bucket.count)).collect();
        (!means.is_empty()).then(|| means.iter().sum::<f64>() / means.len() as f64)
    }

    fn curve(&self, bucket_s: f64) -> Vec<Envelope> {
        let round = |temp_c: f64| (temp_c * 10.0).round() / 10.0;
        let heard = self.buckets.iter().enumerate().filter(|(_, bucket)| bucket.count > 0);
        heard
            .map(|(index, bucket)| Envelope {
                elapsed_s: ((index as f64 + 0.5) * bucket_s).round(),
                low_c: round(bucket.low_c),
                mean_c: round(bucket.sum_c / f64::from(bucket.count)),
                high_c: round(bucket.high_c),
            })
            .collect()
    }
}

impl Heard {
    /// Mean of the hottest hot face over `window_s` before `elapsed_s`, °C.
    pub fn hottest_face_c(&self, elapsed_s: f64, window_s: f64) -> Option<f64> {
        let faces = self.ears.iter().zip(&self.places).filter(|(_, place)| matches!(place, Place::HotFace { .. }));
        faces.filter_map(|(ear, _)| ear.mean_c(elapsed_s - window_s, elapsed_s, self.bucket_s)).reduce(f64::max)
    }

    /// Mean of the probes that `wanted` picks, the first that was believed, over a while, °C, and which it was.
    pub fn first_mean_c(&self, wanted: impl Fn(&Place) -> bool, from_s: f64, to_s: f64) -> Option<(usize, f64)> {
        let mut fitting = self.ears.iter().zip(&self.places).enumerate().filter(|(_, (_, place))| wanted(place));
        fitting.find_map(|(index, (ear, _))| Some((index, ear.mean_c(from_s, to_s, self.bucket_s)?)))
    }

    /// The first believed reading at a place, °C.
    pub fn first_c(&self, place: &Place) -> Option<f64> {
        self.ears.iter().zip(&self.places).find(|(_, known)| *known == place)?.0.first_c
    }

    /// Where the probe at `index` sits.
    pub fn place(&self, index: usize) -> Option<&Place> {
        self.places.get(index)
    }

    /// Length of the short whiles that are kept apart, s.
    pub fn bucket_s(&self) -> f64 {
        self.bucket_s
    }

    /// Part of the short whiles in which a hot face or the gas could be believed, 0 to 1.
    pub fn fire_seen_share(&self, length_s: f64) -> f64 {
        let buckets = (length_s / self.bucket_s).ceil().max(1.0) as usize;
        let sees = |index: &usize| {
            let fire = self.ears.iter().zip(&self.places).filter(|(_, place)| sees_fire(place));
            fire.filter_map(|(ear, _)| ear.buckets.get(*index)).any(|bucket| bucket.count > 0)
        };
        (0..buckets).filter(sees).count() as f64 / buckets as f64
    }

    /// The deepest probe inside a lining that was believed: its index and its curve.
    pub fn deepest(&self) -> Option<(usize, Vec<Envelope>)> {
        let depth_m = |place: &Place| match place {
            Place::Depth { depth, .. } => Some(depth.0),
            Place::MetalContact { .. } => Some(f64::MAX),
            _ => None,
        };
        let deep = self.places.iter().enumerate().filter_map(|(index, place)| Some((index, depth_m(place)?)));
        let heard = deep.filter(|(index, _)| self.ears.get(*index).is_some_and(|ear| ear.last_c.is_some()));
        let (index, _) = heard.max_by(|a, b| a.1.total_cmp(&b.1))?;
        Some((index, self.ears.get(index)?.curve(self.bucket_s)))
    }

    /// What there is to say of each probe.
    pub fn accounts(&self, setup: &Setup, engine: &Engine, units: UnitSystem) -> Vec<ChannelAccount> {
        let account = |(ear, probe): (&Ear, &Probe)| ChannelAccount {
            channel: probe.channel.to_string(),
            place: place_in_words(&probe.place, units),
            readings: ear.readings,
            bad_readings: ear.bad_readings,
            longest_silence_s: ear.longest_silence_s,
            highest_c: ear.highest.map(|(temp_c, _)| temp_c),
            highest_at_s: ear.highest.map(|(_, at_s)| at_s),
            last_c: ear.last_c,
            curve: ear.curve(self.bucket_s),
            ramp: ramp(ear, probe, setup, engine),
            faults: ear.faults.clone(),
        };
        self.ears.iter().zip(&setup.probes).map(account).collect()
    }
}

fn sees_fire(place: &Place) -> bool {
    matches!(place, Place::HotFace { .. } | Place::ChamberGas)
}

fn ramp(ear: &Ear, probe: &Probe, setup: &Setup, engine: &Engine) -> Vec<RampPoint> {
    let Place::HotFace { section } = &probe.place else { return Vec::new() };
    let Some(index) = setup.lining.sections.iter().position(|known| known.name == *section) else { return Vec::new() };
    let limit = KelvinPerHour(engine.ramp_limit(index).0.min(setup.plan.limits.ramp.0));
    let point = |&(at_s, ramp_k_h): &(f64, f64)| RampPoint {
        elapsed_s: at_s.round(),
        ramp_k_h: (ramp_k_h * 10.0).round() / 10.0,
        limit_k_h: engine.wet_until_s(index).is_none_or(|dry_s| at_s <= dry_s).then_some(limit.0),
    };
    ear.rises.iter().map(point).collect()
}

/// Where a tip sits, in words.
pub(super) fn place_in_words(place: &Place, units: UnitSystem) -> String {
    match place {
        Place::ChamberGas => "chamber gas".into(),
        Place::HotFace { section } => format!("hot face of the {section}"),
        Place::Depth { section, depth } => format!("{} deep in the {section}", depth.shown(units)),
        Place::MetalContact { section } => format!("metal contact of the {section}"),
        Place::Shell { section } => format!("shell of the {section}"),
    }
}
