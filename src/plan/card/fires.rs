//! What the burner does in the rounds of a line, in words.

use crate::plan::firing::{Firing, Setting, whole};
use crate::plan::{Plan, Round};
use crate::units::quantity::{Shown, UnitSystem};
use crate::units::{Celsius, KelvinPerHour, Seconds};

/// What a plan is made of: "34 pulses in 29 rounds", "12 ramps and holds in 12 rounds".
#[must_use]
pub fn made_of(plan: &Plan) -> String {
    let ramps = plan.rounds.iter().filter(|round| matches!(round.firing, Firing::Ramp { .. })).count() as u32;
    if ramps as usize == plan.rounds.len() {
        return format!("{ramps} ramps and holds");
    }
    let pulses: u32 = plan.rounds.iter().filter(|round| !round.is_steady()).map(|round| round.count).sum();
    let steady = plan.rounds.iter().any(Round::is_steady);
    let rounds = super::many(plan.rounds.len() as u32, "round");
    match (pulses, steady) {
        (0, _) => format!("steady fires in {rounds}"),
        (_, true) => format!("steady fires and {} in {rounds}", super::many(pulses, "pulse")),
        _ => format!("{} in {rounds}", super::many(pulses, "pulse")),
    }
}

/// What the burner does in `rounds`, at least one: "  4 x 30 s on, 9 min 30 s off", "low for 40 min",
/// "  4 x half 2 min, low 3 min", "50 °C/h to 120 °C"; of several rounds the range.
#[must_use]
pub fn burner(rounds: &[Round], units: UnitSystem) -> String {
    if rounds.iter().all(|round| round.firing.is_on_off()) {
        let count = count_of(rounds);
        return format!(
            "{count:>3} x {} on, {} off",
            range(rounds, |round| round.on),
            range(rounds, |round| round.off)
        );
    }
    match rounds {
        [round] => one(round, units),
        _ => turns(rounds, units),
    }
}

/// The same of a round with a pause behind it, without the pause.
#[must_use]
pub fn before_pause(round: &Round, units: UnitSystem) -> String {
    match &round.firing {
        Firing::OnOff => format!("{:>3} x {} on", round.count, in_words(round.on.0)),
        Firing::Marks { high, .. } => format!("{:>3} x {} {}", round.count, high.mark, in_words(round.on.0)),
        Firing::Ramp { .. } => one(&Round { off: Seconds(0.0), ..round.clone() }, units),
    }
}

fn one(round: &Round, units: UnitSystem) -> String {
    let [on, off] = round.firing.settings().map(|setting| setting.words(units));
    match &round.firing {
        Firing::Ramp { from, to, ramp } => {
            let hold = ramp.0.abs() < 1e-9;
            let words = if hold {
                format!("hold {} for {}", whole(&to.shown(units)), in_words(round.on.0))
            } else {
                ramped(*from, *to, *ramp, units)
            };
            if round.off.0 > 0.0 { format!("{words}, then {} shut", in_words(round.off.0)) } else { words }
        }
        _ if round.is_steady() => format!("{on} for {}", in_words(f64::from(round.count) * round.on.0)),
        _ => format!("{:>3} x {on} {}, {off} {}", round.count, in_words(round.on.0), in_words(round.off.0)),
    }
}

fn ramped(from: Celsius, to: Celsius, ramp: KelvinPerHour, units: UnitSystem) -> String {
    let words = Setting::Ramp { to, ramp: KelvinPerHour(ramp.0.abs()) }.words(units);
    if to < from { format!("down {words}") } else { words }
}

/// "shut to half, 12 turns of 2 to 6 min".
fn turns(rounds: &[Round], units: UnitSystem) -> String {
    let mut settings: Vec<Setting> = Vec::new();
    for round in rounds {
        let [on, off] = round.firing.settings();
        settings.extend((!round.is_steady()).then_some(off));
        settings.push(on);
    }
    settings.sort_by(|a, b| a.fire().total_cmp(&b.fire()));
    let ends = [settings.first(), settings.last()].map(|end| end.map_or_else(String::new, |end| end.words(units)));
    let [low, high] = ends;
    let fires = if low == high { low } else { format!("{low} to {high}") };
    let cycles = range(rounds, |round| round.on + round.off);
    format!("{fires}, {} turns of {cycles}", count_of(rounds))
}

fn count_of(rounds: &[Round]) -> u64 {
    rounds.iter().map(|round| u64::from(round.count)).sum()
}

fn range(rounds: &[Round], time: impl Fn(&Round) -> Seconds) -> String {
    let times = rounds.iter().map(|round| time(round).0);
    let (low_s, high_s) = (times.clone().fold(f64::INFINITY, f64::min), times.fold(0.0, f64::max));
    if (low_s - high_s).abs() < 0.5 { in_words(low_s) } else { between(low_s, high_s) }
}

/// A span in words.
pub(super) fn in_words(span_s: f64) -> String {
    Seconds(span_s).shown(UnitSystem::Metric)
}

/// "20 to 45 s", "50 s to 4 min" or "4 to 12 min": in a range a person reads "4 min" quicker than "3 min 45 s".
fn between(low_s: f64, high_s: f64) -> String {
    /// From here on in whole minutes.
    const LONG_S: f64 = 90.0;
    let minutes = |span_s: f64| (span_s / 60.0).round();
    if high_s < LONG_S {
        format!("{low_s:.0} to {high_s:.0} s")
    } else if low_s < LONG_S {
        format!("{low_s:.0} s to {} min", minutes(high_s))
    } else if minutes(high_s) - minutes(low_s) < 0.5 {
        format!("about {} min", minutes(low_s))
    } else {
        format!("{} to {} min", minutes(low_s), minutes(high_s))
    }
}
