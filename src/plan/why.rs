//! Why a plan is not shorter: what binds, stretch by stretch, in a line of plain words each.

use serde::Serialize;

use super::pauses::PAUSE;
use super::{Plan, Round};
use crate::units::Seconds;

/// Neighbouring rounds that the same limit keeps from being stronger.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stretch {
    /// When it begins.
    pub from: Seconds,
    /// When it ends.
    pub to: Seconds,
    /// Number of its first round, from 1.
    pub first: usize,
    /// Number of its last round.
    pub last: usize,
    /// What binds, in plain words.
    pub binds: String,
}

/// A stretch shorter than this share of the heat-up is told with its neighbour.
const SHORT_SHARE: f64 = 0.04;

/// What binds from the first flame to the end. Short interludes of another limit go with the stretch around them; pauses stand
/// by themselves.
#[must_use]
pub fn stretches(plan: &Plan) -> Vec<Stretch> {
    let mut parts = joined(parts_of(plan));
    let short_s = SHORT_SHARE * active_s(plan);
    while let Some(at) = shortest_interlude(&parts, short_s) {
        let into = host_of(&parts, at);
        let gone = parts.remove(at);
        let into = if into > at { into - 1 } else { into };
        let host = &mut parts[into];
        host.from_s = host.from_s.min(gone.from_s);
        host.to_s = host.to_s.max(gone.to_s);
        host.first = host.first.min(gone.first);
        host.last = host.last.max(gone.last);
        parts = joined(parts);
    }
    parts.into_iter().map(Part::told).collect()
}

/// The stretch in which most of the time with the burner at work is spent.
#[must_use]
pub fn longest(stretches: &[Stretch]) -> Option<&Stretch> {
    let length_s = |stretch: &&Stretch| stretch.to.0 - stretch.from.0;
    let working = stretches.iter().filter(|stretch| !is_pause(&stretch.binds));
    working.max_by(|a, b| length_s(a).total_cmp(&length_s(b)))
}

/// Whether a reason is a pause of the watch.
fn is_pause(binds: &str) -> bool {
    binds.starts_with("nobody is there")
}

/// A reason without its figures: what differs only in them is the same.
#[must_use]
pub fn kind_of(reason: &str) -> String {
    reason.chars().filter(|c| !c.is_ascii_digit() && *c != '.').collect()
}

/// A reason as a person reads it.
#[must_use]
pub fn plain(binds: &str) -> String {
    match binds.strip_prefix("danger ").and_then(|rest| rest.split_once(": ")) {
        Some((number, place)) => format!("the danger number is at its ceiling ({number} in the search): {place}"),
        None if binds.is_empty() => "the plan file gives no reason".to_owned(),
        None => binds.to_owned(),
    }
}

#[derive(Clone, Debug)]
struct Part {
    from_s: f64,
    to_s: f64,
    first: usize,
    last: usize,
    kind: String,
    /// Reason of its longest round, and how long that is.
    reason: (String, f64),
    is_pause: bool,
}

impl Part {
    fn told(self) -> Stretch {
        Stretch {
            from: Seconds(self.from_s),
            to: Seconds(self.to_s),
            first: self.first,
            last: self.last,
            binds: plain(&self.reason.0),
        }
    }
}

/// Each round by itself; the off time of a pause is a part of its own.
fn parts_of(plan: &Plan) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut at_s = 0.0;
    for (index, round) in plan.rounds.iter().enumerate() {
        let to_s = at_s + f64::from(round.count) * (round.on.0 + round.off.0);
        let part = |from_s, to_s| Part {
            from_s,
            to_s,
            first: index + 1,
            last: index + 1,
            kind: kind_of(&round.binds),
            reason: (round.binds.clone(), to_s - from_s),
            is_pause: is_pause(&round.binds) && round.off > PAUSE,
        };
        parts.push(part(at_s, to_s));
        at_s = to_s;
    }
    parts
}

/// Time without pauses.
fn active_s(plan: &Plan) -> f64 {
    let working = |round: &&Round| !(is_pause(&round.binds) && round.off > PAUSE);
    plan.rounds.iter().filter(working).map(|round| f64::from(round.count) * (round.on.0 + round.off.0)).sum()
}

/// Neighbours of one kind as one.
fn joined(parts: Vec<Part>) -> Vec<Part> {
    let mut joined: Vec<Part> = Vec::new();
    for part in parts {
        match joined.last_mut() {
            Some(last) if last.kind == part.kind && !part.is_pause && !last.is_pause => {
                last.to_s = part.to_s;
                last.last = part.last;
                if part.reason.1 > last.reason.1 {
                    last.reason = part.reason;
                }
            }
            _ => joined.push(part),
        }
    }
    joined
}

fn length_s(part: &Part) -> f64 {
    part.to_s - part.from_s
}

/// The shortest part that is too short to be told by itself and has a neighbour to go with.
fn shortest_interlude(parts: &[Part], short_s: f64) -> Option<usize> {
    let has_host = |at: usize| neighbours(parts, at).next().is_some();
    let short = (0..parts.len()).filter(|&at| !parts[at].is_pause && length_s(&parts[at]) < short_s && has_host(at));
    short.min_by(|&a, &b| length_s(&parts[a]).total_cmp(&length_s(&parts[b])))
}

/// The longer of the neighbours of `at`.
fn host_of(parts: &[Part], at: usize) -> usize {
    neighbours(parts, at).max_by(|&a, &b| length_s(&parts[a]).total_cmp(&length_s(&parts[b]))).unwrap_or(at)
}

fn neighbours(parts: &[Part], at: usize) -> impl Iterator<Item = usize> {
    let both = [at.checked_sub(1), (at + 1 < parts.len()).then_some(at + 1)];
    both.into_iter().flatten().filter(|&other| !parts[other].is_pause)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Limits;
    use crate::plan::firing::Firing;
    use crate::units::{Celsius, KelvinPerHour};

    /// A plan of single pulses, each with its length in minutes and its reason.
    fn plan(rounds: &[(f64, &str)]) -> Plan {
        let round = |&(minutes, binds): &(f64, &str)| Round {
            count: 1,
            on: Seconds(60.0),
            off: Seconds(60.0 * (minutes - 1.0)),
            firing: Firing::OnOff,
            binds: binds.to_owned(),
        };
        Plan {
            lining: "arch".into(),
            lining_digest: String::new(),
            limits: Limits {
                danger_ceiling: 0.5,
                ramp: KelvinPerHour(56.0),
                service: Celsius(1200.0),
                soak_temp: Celsius(600.0),
                soak: Seconds(3600.0),
            },
            rounds: rounds.iter().map(round).collect(),
            expected: Vec::new(),
        }
    }

    fn told(rounds: &[(f64, &str)]) -> Vec<(f64, usize, usize, String)> {
        let stretches = stretches(&plan(rounds));
        stretches.into_iter().map(|part| (part.to.hours(), part.first, part.last, part.binds)).collect()
    }

    #[test]
    fn rounds_of_one_limit_are_one_stretch_whatever_the_figures() {
        let told = told(&[(60.0, "danger 0.41: 12 mm deep"), (90.0, "danger 0.47: 30 mm deep"), (60.0, "the soak")]);
        let danger = "the danger number is at its ceiling (0.47 in the search): 30 mm deep";
        assert_eq!(told, [(2.5, 1, 2, danger.to_owned()), (3.5, 3, 3, "the soak".to_owned())]);
    }

    #[test]
    fn a_short_interlude_goes_with_the_stretch_around_it() {
        let told = told(&[(100.0, "floor"), (2.0, "wall"), (100.0, "floor")]);
        assert_eq!(told.len(), 1);
        assert_eq!((told[0].1, told[0].2, told[0].3.as_str()), (1, 3, "floor"));
    }

    #[test]
    fn a_pause_parts_two_stretches_of_one_limit() {
        let told = told(&[(100.0, "floor"), (840.0, "nobody is there from 18:00 to 08:00"), (100.0, "floor")]);
        assert_eq!(told.len(), 3);
    }
}
