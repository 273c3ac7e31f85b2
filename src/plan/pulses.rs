//! Pulses a person at a valve can keep: which on and off times there are, from the gentlest to the burner always on.

use crate::lining::Burner;
use crate::units::Seconds;

/// One pulse and the pause after it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pulse {
    /// Burner on.
    pub on: Seconds,
    /// Burner off after it.
    pub off: Seconds,
}

impl Pulse {
    /// Time of pulse and pause.
    #[must_use]
    pub fn cycle(self) -> Seconds {
        self.on + self.off
    }

    /// Share of the time with the burner on.
    #[must_use]
    pub fn duty(self) -> f64 {
        self.on.0 / self.cycle().0
    }
}

/// All pulses a person can do with one burner, by rising duty. On-times go in steps of 5 s below a minute, 15 s below five
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
    /// The pulses with cycles up to `longest`, as near as duty allows to `aim`, or to a part of it below ten minutes.
    ///
    /// # Panics
    /// Never: the shortest pulse of the burner is always one of them.
    #[must_use]
    pub fn of(burner: &Burner, longest: Seconds, aim: Seconds) -> Self {
        // Nobody tires of the valve at one pulse a minute or less (common practice, no source: pulse programmes seen).
        let aim_s = (aim.0 / (aim.0 / 600.0).ceil()).max(60.0);
        let longest_s = longest.0.max(burner.shortest_on.0 + burner.shortest_off.0);
        let shortest = Pulse { on: burner.shortest_on, off: burner.shortest_off };
        let mut pulses: Vec<Pulse> = vec![shortest];
        for on_s in on_times().take_while(|&on_s| on_s < longest_s).filter(|&on_s| on_s >= burner.shortest_on.0) {
            // A pulse much longer than the aim lifts a thin wet coat as a whole: only the shortest may stand that far apart.
            let is_shortest = pulses.iter().all(|pulse| pulse.on.0 >= on_s);
            let most_s = if is_shortest { longest_s } else { longest_s.min(LONGEST_OVER_AIM * aim_s) };
            let offs = off_times().take_while(|&off_s| on_s + off_s <= most_s);
            let offs = offs.filter(|&off_s| off_s >= burner.shortest_off.0);
            pulses.extend(offs.map(|off_s| Pulse { on: Seconds(on_s), off: Seconds(off_s) }));
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

    /// The pulse to do where no more than `duty` is allowed, after others of `before`: close below that duty, in a cycle
    /// like the last one, with a waiting time that is easily kept. The gentlest when nothing is below.
    #[must_use]
    pub fn below(&self, duty: f64, before: Option<Pulse>) -> Pulse {
        /// Pulses this much below what is allowed are not looked at.
        const NEAR: f64 = 0.93;
        let end = self.pulses.partition_point(|pulse| pulse.duty() <= duty * (1.0 + 1e-9)).max(1);
        let start = self.pulses.partition_point(|pulse| pulse.duty() < NEAR * duty).min(end - 1);
        let last_s = before.map_or(self.aim_s, |pulse| pulse.cycle().0);
        let cost = |pulse: &Pulse| {
            let [change, off_aim] = [last_s, self.aim_s].map(|other_s| (pulse.cycle().0 / other_s).ln().abs());
            120.0 * (1.0 - pulse.duty() / duty).max(0.0) + 2.0 * change + off_aim + oddness(pulse.off)
        };
        let near = self.pulses[start..end].iter();
        near.min_by(|a, b| cost(a).total_cmp(&cost(b))).copied().unwrap_or(self.pulses[0])
    }
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
    use crate::lining::Fuel;
    use crate::units::Watts;

    fn burner() -> Burner {
        Burner {
            fuel: Fuel::Power(Watts(10e3)),
            equivalence_ratio: 1.0,
            shortest_on: Seconds(5.0),
            shortest_off: Seconds(20.0),
        }
    }

    fn repertoire(aim_s: f64) -> Repertoire {
        Repertoire::of(&burner(), Seconds(1200.0), Seconds(aim_s))
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
            let found = all.below(duty, None).duty();
            assert!(found <= duty * (1.0 + 1e-9) && found > 0.93 * duty, "{found} for {duty}");
        }
    }

    #[test]
    fn the_cycle_stays_about_as_it_was() {
        let all = repertoire(300.0);
        let before = Pulse { on: Seconds(20.0), off: Seconds(280.0) };
        let next = all.below(1.07 * before.duty(), Some(before));
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
