//! Taking a heat-up up again from its log: the estimate is the one of a run that never stopped, to the last bit.

#![allow(clippy::unwrap_used)]

use std::path::Path;

use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::log::trial_disk::TrialDisk;
use firstheat::log::{Document, Head, LogBook, LogOptions, LogWriter, PROGRAM, Recorded};
use firstheat::physics::Belief;
use firstheat::plan::text::parse_plan;
use firstheat::reading::{Channel, Place, Reading};
use firstheat::run::{Event, Input, PlanClock, Probe, Run, Setup, TimeSource, ToldBy, Verdict, Word};
use firstheat::units::{Celsius, Seconds};

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
count = 20
on_s = 10.0
off_s = 110.0
binds = "ramp"
"#;

fn run() -> Run {
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
            probe("shell", Place::Shell { section: "wall".into() }),
        ],
        belief: Belief { members: 3, seed: 1 },
        time_source: TimeSource::Computer,
    })
    .unwrap()
}

fn head() -> Head {
    Head {
        program: PROGRAM.to_owned(),
        seed: 1,
        time_source: TimeSource::Computer,
        estimates_every: Seconds(0.0),
        options: Vec::new(),
        lining: Document::default(),
        plan: Document::default(),
        probes: Document::default(),
    }
}

fn input(elapsed_s: f64, event: Event) -> Input {
    Input { elapsed: Seconds(elapsed_s), event }
}

/// Readings of the second `second`: pulses on the face, a slow shell, digits that never quite repeat.
fn readings(second: u32) -> Event {
    let now_s = f64::from(second);
    let ripple_k = 30.0 * (-(now_s % 120.0) / 40.0).exp();
    let hot_c = 20.0 + now_s / 60.0 + ripple_k + f64::from(second % 7) * 0.13;
    let shell_c = 18.0 + now_s / 2000.0 + f64::from(second % 5) * 0.1;
    let reading = |name: &str, temp_c: f64| Reading { channel: Channel::new(name), value: Ok(Celsius(temp_c)) };
    Event::Readings(vec![reading("hot", hot_c), reading("shell", shell_c)])
}

/// Five minutes of an obedient heat-up, one reading a second.
fn heat_up() -> Vec<Input> {
    let mut inputs = vec![input(0.0, Event::Tick)];
    for second in 0..300 {
        match second % 120 {
            1 => inputs.push(input(f64::from(second), Event::Operator(Word::On))),
            11 => inputs.push(input(f64::from(second), Event::Operator(Word::Off))),
            _ => {}
        }
        inputs.push(input(f64::from(second), readings(second)));
    }
    inputs
}

fn follow(run: &mut Run, inputs: &[Input]) {
    for input in inputs {
        run.step(input);
    }
}

/// The log of these inputs, read back.
fn logged(inputs: &[Input]) -> LogBook {
    let disk = TrialDisk::default();
    let mut writer =
        LogWriter::create_on(disk.clone(), Path::new("trial.csv"), &head(), LogOptions::default()).unwrap();
    let mut run = run();
    for input in inputs {
        let said = run.step(input);
        assert!(matches!(writer.record(input, &said), Recorded::Row(_)));
    }
    writer.finish().unwrap();
    LogBook::from_bytes(Path::new("trial.csv"), &disk.live()).unwrap()
}

fn notices(said: &[Verdict]) -> Vec<&str> {
    said.iter()
        .filter_map(|verdict| match verdict {
            Verdict::Notice { text, .. } => Some(text.as_str()),
            _ => None,
        })
        .collect()
}

#[test]
fn a_log_taken_up_at_any_moment_leads_to_the_run_that_never_stopped() {
    let inputs = heat_up();
    let mut unbroken = run();
    let said: Vec<Vec<Verdict>> = inputs.iter().map(|input| unbroken.step(input)).collect();
    let book = logged(&inputs);
    for cut in [1, 57, 131, book.steps.len()] {
        let mut taken_up = run();
        for input in book.inputs().take(cut) {
            taken_up.step(input);
        }
        for (input, said) in inputs.iter().zip(&said).skip(cut) {
            assert_eq!(&taken_up.step(input), said, "taken up after {cut} steps");
        }
        assert_eq!(format!("{taken_up:?}"), format!("{unbroken:?}"), "taken up after {cut} steps");
    }
}

#[test]
fn an_hour_that_nobody_watched_moves_the_plan_by_an_hour() {
    let mut run = run();
    follow(&mut run, &heat_up());
    let before = run.snapshot();
    let said = run.step(&input(299.0 + 3600.0, Event::TakenUp { missed: Seconds(3600.0) }));
    let after = run.snapshot();
    assert!(notices(&said)[0].contains("1 h were not watched"), "{said:?}");
    assert!((after.remaining.0 - before.remaining.0).abs() < 1.0, "{:?} {:?}", before.remaining, after.remaining);
    assert_eq!(after.clock, PlanClock::Runs);
    // Whoever said so spoke of an hour ago.
    assert_eq!(after.burner.unwrap().told_by, ToldBy::Plan);
}

#[test]
fn the_estimate_waits_for_readings_and_then_bridges_what_was_missed() {
    let mut run = run();
    follow(&mut run, &heat_up());
    run.step(&input(3899.0, Event::TakenUp { missed: Seconds(3600.0) }));
    let waiting = format!("{:?}", run.snapshot().sections);
    run.step(&input(3900.0, Event::Tick));
    assert_eq!(format!("{:?}", run.snapshot().sections), waiting);
    // A reading never stands quite still.
    let cold = |name: &str, second: i32| Reading {
        channel: Channel::new(name),
        value: Ok(Celsius(19.5 + 0.1 * f64::from(second % 3))),
    };
    for second in 3901..3912 {
        let readings = vec![cold("hot", second), cold("shell", second + 1)];
        run.step(&input(f64::from(second), Event::Readings(readings)));
    }
    let after = run.snapshot();
    assert_ne!(format!("{:?}", after.sections), waiting);
    let face = after.channels.iter().find(|channel| &*channel.channel.0 == "hot").unwrap();
    assert!(matches!(face.value, Some(Ok(Celsius(value))) if (value - 19.5).abs() < 0.3), "{:?}", face.value);
}

#[test]
fn a_heat_up_that_was_ended_by_a_signal_goes_on_when_it_is_taken_up() {
    let mut run = run();
    follow(&mut run, &heat_up());
    run.step(&input(300.0, Event::Operator(Word::Quit)));
    assert!(run.has_ended());
    run.step(&input(330.0, Event::TakenUp { missed: Seconds(30.0) }));
    assert!(!run.has_ended());
}

#[test]
fn a_log_that_was_taken_up_replays_the_same_over_the_gap() {
    let mut inputs = heat_up();
    inputs.push(input(1500.0, Event::TakenUp { missed: Seconds(1201.0) }));
    inputs.extend((1501..1600).map(|second| input(f64::from(second), readings(second))));
    let book = logged(&inputs);
    let mut again = run();
    for step in &book.steps {
        let said: Vec<Verdict> =
            again.step(&step.input).into_iter().filter(|said| !matches!(said, Verdict::Reading { .. })).collect();
        assert_eq!(said, step.verdicts, "row {}", step.row);
    }
}
