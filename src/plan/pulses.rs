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

/// The pulses with cycles up to `longest`, as near to `aim` as duty allows, by rising duty. On-times go
/// in steps of 5 s below a minute, 15 s below five minutes, then whole minutes: nobody keeps 37 s.
#[must_use]
pub fn ladder(burner: &Burner, longest: Seconds, aim: Seconds) -> Vec<Pulse> {
    /// Ratio of one duty to the next that is aimed at.
    const RUNG: f64 = 1.02;
    let longest_s = longest.0.max(burner.shortest_on.0 + burner.shortest_off.0);
    let mut pulses: Vec<Pulse> = Vec::new();
    for on_s in on_times().take_while(|&on_s| on_s < longest_s).filter(|&on_s| on_s >= burner.shortest_on.0) {
        for off_s in off_times().take_while(|&off_s| on_s + off_s <= longest_s) {
            if off_s >= burner.shortest_off.0 {
                pulses.push(Pulse { on: Seconds(on_s), off: Seconds(off_s) });
            }
        }
    }
    pulses.sort_by(|a, b| a.duty().total_cmp(&b.duty()));
    // Nobody tires of the valve at one pulse a minute or less (common practice, no source: pulse programmes seen).
    let aim_s = aim.0.clamp(60.0, 600.0);
    // A pulse much longer than the aim lifts a thin wet coat as a whole: only the shortest may stand that far apart.
    let shortest_s = pulses.iter().map(|pulse| pulse.on.0).fold(f64::INFINITY, f64::min);
    pulses.retain(|pulse| pulse.cycle().0 <= LONGEST_OVER_AIM * aim_s || pulse.on.0 <= shortest_s);
    thin_out(&pulses, aim_s, RUNG)
}

/// A cycle may be this much longer than what is aimed at, to meet a duty.
const LONGEST_OVER_AIM: f64 = 2.0;

/// 5, 10 .. 55 s, 60, 75 .. 285 s, then whole minutes.
fn on_times() -> impl Iterator<Item = f64> {
    let quarters = (4..20).map(|n| 15.0 * f64::from(n));
    let minutes = (5..).map(|n| 60.0 * f64::from(n));
    below_a_minute().chain(quarters).chain(minutes)
}

/// 5, 10 .. 175 s, then quarters of a minute: waiting needs no steady hand, and the finer steps let ramps be met.
fn off_times() -> impl Iterator<Item = f64> {
    let fives = (1..36).map(|n| 5.0 * f64::from(n));
    fives.chain((12..).map(|n| 15.0 * f64::from(n)))
}

fn below_a_minute() -> impl Iterator<Item = f64> {
    (1..12).map(|n| 5.0 * f64::from(n))
}

/// Keeps one pulse per rung of duty: the one whose cycle is nearest to `aim_s`.
fn thin_out(pulses: &[Pulse], aim_s: f64, rung: f64) -> Vec<Pulse> {
    let mut kept: Vec<Pulse> = Vec::new();
    let mut rest = pulses;
    while let Some(first) = rest.first() {
        let width = rest.partition_point(|pulse| pulse.duty() < first.duty() * rung);
        let off_aim = |pulse: &Pulse| (pulse.cycle().0 / aim_s).ln().abs();
        let best = rest[..width].iter().min_by(|a, b| off_aim(a).total_cmp(&off_aim(b)));
        kept.extend(best);
        rest = &rest[width..];
    }
    kept.dedup();
    kept
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

    #[test]
    fn the_ladder_rises_from_a_few_seconds_in_minutes_to_nearly_always_on() {
        let ladder = ladder(&burner(), Seconds(600.0), Seconds(300.0));
        assert!(ladder.windows(2).all(|pair| pair[0].duty() < pair[1].duty()));
        assert!(ladder[0].duty() < 0.012, "{:?}", ladder[0]);
        assert!(ladder.last().is_some_and(|pulse| pulse.duty() > 0.9), "{:?}", ladder.last());
    }

    #[test]
    fn pulses_gentler_than_the_shortest_allows_stand_apart_but_are_not_longer() {
        let ladder = ladder(&burner(), Seconds(1200.0), Seconds(120.0));
        assert!(ladder.iter().all(|pulse| pulse.on.0 <= 5.0 || pulse.cycle().0 <= 240.0));
        assert!(ladder.windows(2).all(|pair| pair[1].duty() < 1.12 * pair[0].duty()), "no wide gap: {ladder:?}");
    }

    #[test]
    fn no_pulse_is_shorter_than_a_person_can_do() {
        let ladder = ladder(&burner(), Seconds(300.0), Seconds(120.0));
        assert!(ladder.iter().all(|pulse| pulse.on.0 >= 5.0 && pulse.off.0 >= 20.0 && pulse.cycle().0 <= 300.0));
    }
}
