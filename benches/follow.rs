//! What following costs: one step, a day replayed, three days on end. `cargo bench --bench follow`.
//!
//! Percentiles are over the steps of a heat-up, which differ: most take a reading in, some move the ensemble on (every 10 s while
//! the burner burns, up to every 60 s in a pause), some look ahead.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::time::{Duration, Instant};

use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::physics::Belief;
use firstheat::plan::text::parse_plan;
use firstheat::reading::{Channel, Place, Reading};
use firstheat::run::{Event, Input, Probe, Run, Setup, TimeSource, Word};
use firstheat::units::{Celsius, Metres, Seconds};

const LINING: &str = include_str!("../schedules/school-foundry-crucible.toml");

const PLAN: &str = r#"
format = "firstheat plan 1"
lining = "school foundry crucible furnace"
[limits]
danger_ceiling = 0.5
ramp_k_per_h = 56.0
service_c = 1200.0
soak_c = 400.0
soak_s = 300.0
[[round]]
count = 1000
on_s = 10.0
off_s = 590.0
binds = "ramp"
"#;

/// One pulse with its pause, s.
const CYCLE_S: u32 = 600;

fn run(members: usize) -> Run {
    let probe = |name: &str, place: Place| Probe {
        channel: Channel::new(name),
        place,
        limit: None,
        couple: None,
        sheath: None,
    };
    Run::new(Setup {
        lining: parse_lining(LINING, Materials::built_in()).unwrap(),
        plan: parse_plan(PLAN).unwrap(),
        probes: vec![
            probe("hot", Place::HotFace { section: "wall".into() }),
            probe("gas", Place::ChamberGas),
            probe("deep", Place::Depth { section: "wall".into(), depth: Metres(0.015) }),
            probe("shell", Place::Shell { section: "wall".into() }),
        ],
        belief: Belief { members, seed: 1 },
        time_source: TimeSource::ProbeLine,
    })
    .unwrap()
}

/// What happens in this second of a heat-up that climbs 380 K in a day, in pulses, with digits that never rest.
fn inputs(second: u32) -> Vec<Input> {
    let now_s = f64::from(second);
    let input = |event| Input { elapsed: Seconds(now_s), event };
    let into_s = f64::from(second % CYCLE_S);
    let mean_c = 20.0 + 380.0 * (now_s / 86_400.0).min(1.0);
    let ripple = if into_s < 10.0 { into_s / 10.0 } else { (-(into_s - 10.0) / 90.0).exp() };
    let noise_k = f64::from(second.wrapping_mul(2_654_435_761) >> 22) / 1024.0 - 0.5;
    let reading = |name: &str, temp_c: f64| Reading { channel: Channel::new(name), value: Ok(Celsius(temp_c)) };
    let line = Event::Readings(vec![
        reading("hot", mean_c + 40.0 * ripple + noise_k),
        reading("gas", mean_c + 160.0 * ripple + noise_k),
        reading("deep", 20.0 + 0.5 * (mean_c - 20.0) + noise_k),
        reading("shell", 20.0 + 0.1 * (mean_c - 20.0) + noise_k),
    ]);
    match second % CYCLE_S {
        0 => vec![input(Event::Operator(Word::On)), input(line)],
        10 => vec![input(Event::Operator(Word::Off)), input(line)],
        _ => vec![input(line)],
    }
}

/// Resident memory, MB.
fn resident_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    let kb = line.and_then(|line| line.split_whitespace().next()).and_then(|kb| kb.parse::<f64>().ok());
    kb.unwrap_or(f64::NAN) / 1024.0
}

/// Percentiles of a day's steps, of those of its dearest hour, and of the dearest step of each minute: a step that moves the ensemble.
fn steps(members: usize) {
    let mut run = run(members);
    let mut hours: Vec<Vec<Duration>> = Vec::new();
    for hour in 0..24 {
        let took = |input| {
            let begun = Instant::now();
            run.step(&input);
            begun.elapsed()
        };
        hours.push((hour * 3600..(hour + 1) * 3600).flat_map(inputs).map(took).collect());
    }
    let total_s = |took: &[Duration]| took.iter().map(Duration::as_secs_f64).sum::<f64>();
    let dearest_of_minutes = hours.iter().flat_map(|hour| hour.chunks(60)).filter_map(|minute| minute.iter().max());
    let dearest_of_minutes: Vec<Duration> = dearest_of_minutes.copied().collect();
    let dearest_hour = hours.iter().max_by(|a, b| total_s(a).total_cmp(&total_s(b))).unwrap().clone();
    for (name, took) in [("a day", hours.concat()), ("its dearest hour", dearest_hour)] {
        let share = 100.0 * total_s(&took) / took.len() as f64;
        println!("steps of {name}, {members} members: {}; {share:.2} % of a core at one a second", percentiles(took));
    }
    println!("dearest step of each minute, {members} members: {}", percentiles(dearest_of_minutes));
}

fn percentiles(mut took: Vec<Duration>) -> String {
    took.sort();
    let at = |share: f64| took[((took.len() - 1) as f64 * share) as usize].as_secs_f64() * 1e3;
    format!("p50 {:.3} ms, p90 {:.2} ms, p99 {:.2} ms, most {:.1} ms", at(0.5), at(0.9), at(0.99), at(1.0))
}

fn long(hours: u32, members: usize) {
    let mut run = run(members);
    run.step(&inputs(0)[0]);
    let before_mb = resident_mb();
    let begun = Instant::now();
    let mut first_hour_mb = f64::NAN;
    for second in 0..hours * 3600 {
        for input in inputs(second) {
            run.step(&input);
        }
        if second == 3600 {
            first_hour_mb = resident_mb();
        }
    }
    println!(
        "{hours} h, 4 channels, one line a second, {members} members: {:.2} s; memory {before_mb:.1} MB at the start, \
         {first_hour_mb:.1} MB after an hour, {:.1} MB at the end",
        begun.elapsed().as_secs_f64(),
        resident_mb()
    );
}

fn main() {
    for members in [16, 64] {
        steps(members);
    }
    long(24, 16);
    if std::env::args().any(|argument| argument == "soak") {
        long(72, 16);
    }
}
