//! What a person can keep: pulses with their on and off times, from the gentlest to the burner always on; with a burner that
//! can be turned down also the marks by themselves and by turns; ramps of a control that holds them.

use super::firing::{Fire, Firing, ramp_at, strength_of};
use super::{Limits, Round};
use crate::lining::{Burner, Control};
use crate::physics::Furnace;
use crate::units::{Celsius, KelvinPerHour, Seconds};

/// One pulse and the pause after it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pulse {
    /// Burner on.
    pub on: Seconds,
    /// Burner off, or turned down, after it.
    pub off: Seconds,
    /// What the burner does in it.
    pub stroke: Stroke,
}

/// What the burner does in a pulse.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stroke {
    /// Shares of the full fire in the on-time and in the off-time; 1 and 0 for a burner that is only opened and shut.
    Fires {
        /// While on.
        high: f64,
        /// While off; 0 shut.
        low: f64,
    },
    /// The control lets the gas rise so fast; there is no off-time.
    Ramp {
        /// Negative downwards; 0 for a hold.
        ramp: KelvinPerHour,
        /// The hot face's, in which its strength is counted.
        limit: KelvinPerHour,
    },
}

impl Stroke {
    /// Full fire, then shut.
    pub const ON_OFF: Self = Self::Fires { high: 1.0, low: 0.0 };
}

impl Pulse {
    /// Time of pulse and pause.
    #[must_use]
    pub fn cycle(self) -> Seconds {
        self.on + self.off
    }

    /// How strong it is, by which pulses are compared: share of the full fire on the mean; of a ramp its strength.
    #[must_use]
    pub fn duty(self) -> f64 {
        match self.stroke {
            Stroke::Fires { high, low } => (high * self.on.0 + low * self.off.0) / self.cycle().0,
            Stroke::Ramp { ramp, limit } => strength_of(ramp, limit),
        }
    }

    /// Whether it lets the gas fall.
    #[must_use]
    pub fn falls(self) -> bool {
        matches!(self.stroke, Stroke::Ramp { ramp, .. } if ramp.0 < 0.0)
    }

    /// So many of it, with the gas at `set_point` when they begin.
    #[must_use]
    pub(super) fn round(self, count: u32, furnace: &Furnace, set_point: Celsius) -> Round {
        let round = |count, on, firing| Round { count, on, off: self.off, firing, binds: String::new() };
        match self.stroke {
            Stroke::Fires { .. } if *furnace.control() == Control::OnOff => round(count, self.on, Firing::OnOff),
            Stroke::Fires { high, low } => {
                let low = (low > 0.0).then(|| Fire::of(furnace, low));
                round(count, self.on, Firing::Marks { high: Fire::of(furnace, high), low })
            }
            Stroke::Ramp { ramp, .. } => {
                let on = Seconds(f64::from(count) * self.on.0);
                // Hundredths, so that a plan file reads well.
                let to = Celsius(((set_point.0 + ramp.0 * on.hours()) * 100.0).round() / 100.0);
                round(1, on, Firing::Ramp { from: set_point, to, ramp })
            }
        }
    }
}

/// All pulses a person can do with one burner, by rising strength. On-times go in steps of 5 s below a minute, 15 s below five
/// minutes, then whole minutes: nobody keeps 37 s. Waiting goes in steps of 5 s.
#[derive(Clone, Debug)]
pub struct Repertoire {
    pulses: Vec<Pulse>,
    /// Cycle that is aimed at.
    aim_s: f64,
}

/// A cycle may be this much longer than what is aimed at, to meet a duty.
const LONGEST_OVER_AIM: f64 = 2.0;

impl Repertoire {
    /// What can be done with the burner of `furnace` within `limits`, with cycles up to `longest`.
    #[must_use]
    pub fn of(furnace: &Furnace, limits: &Limits, (longest, aim): (Seconds, Seconds)) -> Self {
        match furnace.control() {
            Control::OnOff => Self::on_off(furnace.burner(), longest, aim),
            Control::Marks(_) => Self::marks(furnace, longest, aim),
            Control::Ramps => Self::ramps(limits.ramp, aim),
        }
    }

    /// Each mark by itself, and by turns with the one below it; the lowest by turns with the burner shut.
    fn marks(furnace: &Furnace, longest: Seconds, aim: Seconds) -> Self {
        let Self { pulses: turns, aim_s } = Self::on_off(furnace.burner(), longest, aim);
        let mut pulses = Vec::new();
        let mut low = 0.0;
        for high in furnace.marks().iter().map(|(_, share)| *share).chain([1.0]) {
            pulses.extend(turns.iter().map(|turn| Pulse { stroke: Stroke::Fires { high, low }, ..*turn }));
            let steady = Seconds((aim_s / 60.0).round().max(1.0) * 60.0);
            pulses.push(Pulse { on: steady, off: Seconds(0.0), stroke: Stroke::Fires { high, low: 0.0 } });
            low = high;
        }
        pulses.sort_by(|a, b| a.duty().total_cmp(&b.duty()));
        Self { pulses, aim_s }
    }

    /// Ramps down and up in steps that are easily set.
    fn ramps(limit: KelvinPerHour, aim: Seconds) -> Self {
        // A tenth of an hour, or a fiftieth: then set points are round figures.
        let on = Seconds(if aim.0 >= 720.0 { 360.0 } else { 72.0 });
        let steepest = ramp_at(1.0, limit).0;
        let quickest = -ramp_at(0.0, limit).0;
        let down = even_ramps().take_while(|ramp| *ramp <= quickest).map(|ramp| -ramp);
        let up = even_ramps().take_while(|ramp| *ramp <= steepest);
        let pulse = |ramp| Pulse { on, off: Seconds(0.0), stroke: Stroke::Ramp { ramp: KelvinPerHour(ramp), limit } };
        let mut pulses: Vec<Pulse> = down.chain([0.0]).chain(up).map(pulse).collect();
        pulses.sort_by(|a, b| a.duty().total_cmp(&b.duty()));
        Self { pulses, aim_s: aim.0 }
    }

    /// The pulses with cycles up to `longest`, as near as duty allows to `aim`, or to a part of it below ten minutes.
    fn on_off(burner: &Burner, longest: Seconds, aim: Seconds) -> Self {
        // Nobody tires of the valve at one pulse a minute or less (common practice, no source: pulse programmes seen).
        let aim_s = (aim.0 / (aim.0 / 600.0).ceil()).max(60.0);
        let longest_s = longest.0.max(burner.shortest_on.0 + burner.shortest_off.0);
        let stroke = Stroke::ON_OFF;
        let shortest = Pulse { on: burner.shortest_on, off: burner.shortest_off, stroke };
        let mut pulses: Vec<Pulse> = vec![shortest];
        for on_s in on_times().take_while(|&on_s| on_s < longest_s).filter(|&on_s| on_s >= burner.shortest_on.0) {
            // A pulse much longer than the aim lifts a thin wet coat as a whole: only the shortest may stand that far apart.
            let is_shortest = pulses.iter().all(|pulse| pulse.on.0 >= on_s);
            let most_s = if is_shortest { longest_s } else { longest_s.min(LONGEST_OVER_AIM * aim_s) };
            let offs = off_times().take_while(|&off_s| on_s + off_s <= most_s);
            let offs = offs.filter(|&off_s| off_s >= burner.shortest_off.0);
            pulses.extend(offs.map(|off_s| Pulse { on: Seconds(on_s), off: Seconds(off_s), stroke }));
        }
        pulses.sort_by(|a, b| a.duty().total_cmp(&b.duty()));
        Self { pulses, aim_s }
    }

    /// Duties of the gentlest and of the strongest pulses.
    #[must_use]
    pub fn duties(&self) -> (f64, f64) {
        let duty = |pulse: Option<&Pulse>| pulse.map_or(0.0, |pulse| pulse.duty());
        (duty(self.pulses.first()), duty(self.pulses.last()))
    }

    /// The gentlest of the pulses that may be done.
    pub(super) fn gentlest(&self, may: impl Fn(&Pulse) -> bool) -> Option<Pulse> {
        self.pulses.iter().find(|pulse| may(pulse)).copied()
    }

    /// The pulse to do where no more than `duty` is allowed, after others of `before`: close below that duty, in a cycle
    /// like the last one, with a waiting time that is easily kept, and on for `longest_on_s` at most. The gentlest when nothing is
    /// below.
    #[must_use]
    pub fn below(&self, duty: f64, before: Option<Pulse>, longest_on_s: f64) -> Pulse {
        /// Pulses this much below what is allowed are not looked at.
        const NEAR: f64 = 0.93;
        let end = self.pulses.partition_point(|pulse| pulse.duty() <= duty * (1.0 + 1e-9)).max(1);
        if let Some(ramp) = self.pulses.get(end - 1).filter(|pulse| matches!(pulse.stroke, Stroke::Ramp { .. })) {
            return *ramp;
        }
        let start = self.pulses.partition_point(|pulse| pulse.duty() < NEAR * duty).min(end - 1);
        let last_s = before.map_or(self.aim_s, |pulse| pulse.cycle().0);
        let cost = |pulse: &Pulse| {
            let [change, off_aim] = [last_s, self.aim_s].map(|other_s| (pulse.cycle().0 / other_s).ln().abs());
            120.0 * (1.0 - pulse.duty() / duty).max(0.0) + 2.0 * change + off_aim + oddness(pulse.off)
        };
        let is_short = |pulse: &&Pulse| pulse.on.0 <= longest_on_s;
        let near = self.pulses[start..end].iter().filter(is_short).min_by(|a, b| cost(a).total_cmp(&cost(b)));
        near.or_else(|| self.pulses[..end].iter().rfind(is_short)).copied().unwrap_or(self.pulses[0])
    }
}

/// 1, 2 .. 20, 22 .. 50, 55 .. 100, 110 .. 200, 225 .. 500, 550 and so on, K/h.
fn even_ramps() -> impl Iterator<Item = f64> {
    let steps = [(1.0, 20.0), (2.0, 50.0), (5.0, 100.0), (10.0, 200.0), (25.0, 500.0), (50.0, f64::INFINITY)];
    let mut at = 0.0;
    std::iter::from_fn(move || {
        let step = steps.iter().find(|(_, up_to)| at < *up_to).map_or(50.0, |(step, _)| *step);
        at += step;
        Some(at)
    })
}

/// 5, 10 .. 55 s, 60, 75 .. 285 s, then whole minutes.
fn on_times() -> impl Iterator<Item = f64> {
    let quarters = (4..20).map(|n| 15.0 * f64::from(n));
    let minutes = (5..).map(|n| 60.0 * f64::from(n));
    below_a_minute().chain(quarters).chain(minutes)
}

/// 5, 10, 15 s and so on: waiting needs no steady hand, and the finer steps let ramps be met.
fn off_times() -> impl Iterator<Item = f64> {
    (1..).map(|n| 5.0 * f64::from(n))
}

/// How unwelcome a waiting time is that is not a whole, half or quarter minute, as a logarithm of cycle lengths.
fn oddness(off: Seconds) -> f64 {
    let is_whole = |of_s: f64| (off.0 / of_s - (off.0 / of_s).round()).abs() < 1e-9;
    [(60.0, 0.0), (30.0, 0.05), (15.0, 0.1)].into_iter().find(|&(of_s, _)| is_whole(of_s)).map_or(0.2, |(_, odd)| odd)
}

fn below_a_minute() -> impl Iterator<Item = f64> {
    (1..12).map(|n| 5.0 * f64::from(n))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lining::{Control, Fuel};
    use crate::units::Watts;

    fn burner() -> Burner {
        Burner {
            fuel: Fuel::Power(Watts(10e3)),
            equivalence_ratio: 1.0,
            shortest_on: Seconds(5.0),
            shortest_off: Seconds(20.0),
            control: Control::OnOff,
        }
    }

    fn repertoire(aim_s: f64) -> Repertoire {
        Repertoire::on_off(&burner(), Seconds(1200.0), Seconds(aim_s))
    }

    #[test]
    fn pulses_reach_from_a_few_seconds_in_minutes_to_nearly_always_on() {
        let (gentlest, strongest) = repertoire(300.0).duties();
        assert!(gentlest < 0.005 && strongest > 0.9, "{gentlest} to {strongest}");
    }

    #[test]
    fn a_pulse_is_close_below_what_is_allowed() {
        let all = repertoire(300.0);
        for thousandth in 20..900 {
            let duty = f64::from(thousandth) / 1000.0;
            let found = all.below(duty, None, f64::INFINITY).duty();
            assert!(found <= duty * (1.0 + 1e-9) && found > 0.93 * duty, "{found} for {duty}");
        }
    }

    #[test]
    fn the_cycle_stays_about_as_it_was() {
        let all = repertoire(300.0);
        let before = Pulse { on: Seconds(20.0), off: Seconds(280.0), stroke: Stroke::ON_OFF };
        let next = all.below(1.07 * before.duty(), Some(before), f64::INFINITY);
        assert!((next.cycle().0 / before.cycle().0).ln().abs() < 0.35, "{next:?} after {before:?}");
    }

    #[test]
    fn pulses_gentler_than_the_shortest_allows_stand_apart_but_are_not_longer() {
        let all = repertoire(120.0);
        assert!(all.pulses.iter().all(|pulse| pulse.on.0 <= 5.0 || pulse.cycle().0 <= 240.0));
    }

    #[test]
    fn no_pulse_is_shorter_than_a_person_can_do() {
        let all = repertoire(120.0);
        assert!(all.pulses.iter().all(|pulse| pulse.on.0 >= 5.0 && pulse.off.0 >= 20.0 && pulse.cycle().0 <= 1200.0));
    }
}
