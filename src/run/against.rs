//! Whether deep probes say what the wall can be, and whether sheaths are quick enough for the plan.
//!
//! A probe that has moved away from the wall model is told and goes on being used: the model may be the one that is wrong, and
//! leaving out a probe that says "still wet" would be the unsafe side.

use super::verdict::{Range, Verdict};
use super::{Probe, Run};
use crate::plan::Plan;
use crate::reading::Place;
use crate::thermocouple::shown_of_pulse;
use crate::units::{Metres, Seconds};

/// Smallest distance from what the ensemble holds possible that is odd, K: a tip that sits a few millimetres off.
const ODD_K: f64 = 15.0;

/// And as a share of the rise above the air. Models of this kind miss temperatures by up to 16 % (DEVELOPERS.md).
const ODD_SHARE: f64 = 0.2;

/// Time constant of the mean of the distance, s. The wall itself answers in minutes.
const SMOOTHED_S: f64 = 600.0;

/// A sheath that shows less than this part of the plan's shortest pulse is too slow for it.
const SHOWS_ENOUGH: f64 = 0.3;

/// How far a channel is from what the wall model holds possible.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Distance {
    heard_s: Option<f64>,
    /// Mean distance beyond the range, in units of what is odd; positive when the channel is hotter.
    mean: f64,
    is_told: bool,
}

/// What became of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Told {
    /// It has just become odd.
    Begins,
    /// It has just ceased to be.
    Ends,
}

impl Distance {
    fn take(&mut self, now_s: f64, read_c: f64, range: Range, air_c: f64) -> Option<Told> {
        let beyond_k = (read_c - range.high).max(0.0) - (range.low - read_c).max(0.0);
        let rise_k = f64::max(read_c, range.mid) - air_c;
        let odd_k = f64::max(ODD_K, ODD_SHARE * rise_k);
        let span_s = self.heard_s.replace(now_s).map_or(0.0, |heard_s| (now_s - heard_s).max(0.0));
        self.mean += (1.0 - (-span_s / SMOOTHED_S).exp()) * (beyond_k / odd_k - self.mean);
        let was_told = self.is_told;
        self.is_told = self.mean.abs() > if was_told { 0.5 } else { 1.0 };
        match (was_told, self.is_told) {
            (false, true) => Some(Told::Begins),
            (true, false) => Some(Told::Ends),
            _ => None,
        }
    }
}

impl Run {
    /// Holds deep probes against the wall model, when a probe that sees the fire drives it.
    pub(super) fn hold_against_wall(&mut self, now_s: f64) -> Vec<Verdict> {
        if self.fastest().is_none() {
            return Vec::new();
        }
        let air_c = self.lining.surroundings.temp.0;
        let mut said = Vec::new();
        for (index, distance) in self.distances.iter_mut().enumerate() {
            let (Some(read_c), Some(range)) = (self.health.believed_c(index), self.estimator.expects(index)) else {
                continue;
            };
            let Some(told) = distance.take(now_s, read_c, range, air_c) else { continue };
            let channel = self.health.channels().get(index).map(|channel| channel.probe.channel.clone());
            said.push(Verdict::Fault {
                elapsed_s: now_s,
                channel,
                text: words(read_c, range),
                over: told == Told::Ends,
            });
        }
        said
    }

    /// Probes whose sheath is too slow for the pulses of the plan.
    pub(super) fn slow_sheaths(&self, elapsed_s: f64) -> Vec<Verdict> {
        let Some(on) = shortest_pulse(&self.plan) else { return Vec::new() };
        let told = |channel: &super::health::ChannelHealth| {
            let text = slow_sheath(&channel.probe, on)?;
            Some(Verdict::Notice { elapsed_s, text, about: None })
        };
        self.health.channels().iter().filter_map(told).collect()
    }
}

fn words(read_c: f64, range: Range) -> String {
    format!(
        "has drifted away from the wall model: it reads {read_c:.0} °C where {:.0} to {:.0} °C are possible; look at its depth \
         in the probe file, at its type setting and its plug, and check it in boiling water when it is cold; it is still \
         used",
        range.low, range.high
    )
}

fn shortest_pulse(plan: &Plan) -> Option<Seconds> {
    let is_pulsed = |round: &&crate::plan::Round| round.firing.is_on_off() || !round.is_steady();
    let pulses = plan.rounds.iter().filter(|round| round.count > 0 && round.on.0 > 0.0);
    let pulses = pulses.filter(is_pulsed).map(|round| round.on);
    pulses.min_by(|one, other| one.0.total_cmp(&other.0))
}

/// What to say of a probe that sees the fire through a sheath too slow for pulses of this length.
fn slow_sheath(probe: &Probe, on: Seconds) -> Option<String> {
    let sheath = probe.sheath.filter(|_| matches!(probe.place, Place::ChamberGas | Place::HotFace { .. }))?;
    let shown = shown_of_pulse(sheath, on);
    if shown >= SHOWS_ENOUGH {
        return None;
    }
    let thin = Metres::from_mm(1.5);
    let advice = if sheath > thin {
        format!("; a sheath of 1.5 mm shows {:.0} %", 100.0 * shown_of_pulse(thin, on))
    } else {
        String::new()
    };
    Some(format!(
        "{}: the sheath of {:.1} mm is too slow for pulses of {:.0} s and shows {:.0} % of one, so that the chamber is hotter in \
         a pulse than it reads{advice}",
        probe.channel,
        sheath.mm(),
        on.0,
        100.0 * shown
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::Channel;

    const RANGE: Range = Range { low: 180.0, mid: 200.0, high: 220.0 };

    /// Seconds until a channel that reads `read_c` is told.
    fn told_after_s(read_c: f64) -> Option<u32> {
        let mut distance = Distance::default();
        (0..7200).step_by(10).find(|now| distance.take(f64::from(*now), read_c, RANGE, 20.0) == Some(Told::Begins))
    }

    #[test]
    fn a_probe_within_a_fifth_of_the_rise_of_what_is_possible_is_left_alone() {
        assert_eq!((told_after_s(150.0), told_after_s(255.0)), (None, None));
    }

    /// At twice what is odd the mean needs ln 2 of its time constant: 416 s.
    #[test]
    fn a_probe_twice_as_far_off_is_told_within_ten_minutes_hot_or_cold() {
        // A fifth of the rise above the air is odd: of 180 K, and of 333 K.
        let [cold, hot] = [180.0 - 2.0 * 36.0, 220.0 + 2.0 * 66.7].map(told_after_s);
        assert!(cold.is_some_and(|after_s| (416..430).contains(&after_s)), "{cold:?}");
        assert!(hot.is_some_and(|after_s| (416..430).contains(&after_s)), "{hot:?}");
    }

    #[test]
    fn it_is_over_when_the_probe_is_back() {
        let mut distance = Distance::default();
        let reads_c = |now: u32| if now < 3600 { 60.0 } else { 200.0 };
        let told: Vec<Told> =
            (0..7200).step_by(10).filter_map(|now| distance.take(f64::from(now), reads_c(now), RANGE, 20.0)).collect();
        assert_eq!(told, [Told::Begins, Told::Ends]);
    }

    fn probe(sheath_mm: f64) -> Probe {
        Probe {
            channel: Channel::new("gas"),
            place: Place::ChamberGas,
            limit: None,
            couple: None,
            sheath: Some(Metres::from_mm(sheath_mm)),
        }
    }

    /// A 6 mm sheath shows half of a step after 60 s (makers' data sheets), so 21 % after 20 s.
    #[test]
    fn a_thick_sheath_is_told_with_what_it_shows_of_a_pulse() {
        let told = slow_sheath(&probe(6.0), Seconds(20.0)).expect("too slow");
        assert!(told.contains("6.0 mm") && told.contains("shows 21 %") && told.contains("1.5 mm shows 82 %"), "{told}");
        assert_eq!(slow_sheath(&probe(1.5), Seconds(20.0)), None);
    }
}
