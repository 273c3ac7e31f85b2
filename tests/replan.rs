//! After a pause, a late or long pulse: the clock shifts first, then a new plan for the rest takes over.

#![allow(clippy::unwrap_used)]

use std::path::Path;

use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::log::trial_disk::TrialDisk;
use firstheat::log::{Document, Head, LogBook, LogOptions, LogWriter, PROGRAM};
use firstheat::physics::Belief;
use firstheat::plan::Flame;
use firstheat::plan::text::parse_plan;
use firstheat::reading::{Channel, Place, Reading};
use firstheat::run::{Event, Input, Probe, Run, Setup, TimeSource, Verdict, Word};
use firstheat::units::{Celsius, Seconds};

const PLAN: &str = r#"
format = "firstheat plan 1"
lining = "school foundry crucible furnace"
[limits]
danger_ceiling = 0.5
ramp_k_per_h = 600.0
service_c = 1500.0
soak_c = 150.0
soak_s = 60.0
[[round]]
count = 20
on_s = 10.0
off_s = 110.0
binds = "ramp"
[[expected]]
elapsed_s = 0.0
hot_face_c = [18.0, 18.0, 18.0]
danger = [0.0, 0.0, 0.0]
water_left_kg = [0.1, 0.2, 0.3]
[[expected]]
elapsed_s = 2400.0
hot_face_c = [130.0, 150.0, 170.0]
danger = [0.0, 0.1, 0.2]
water_left_kg = [0.0, 0.0, 0.1]
"#;

/// A heat-up whose face follows the mean of the plan.
struct HeatUp {
    run: Run,
    now_s: f64,
    inputs: Vec<(Input, Vec<Verdict>)>,
}

impl HeatUp {
    fn new() -> Self {
        let lining = include_str!("../schedules/school-foundry-crucible.toml");
        let place = Place::HotFace { section: "wall".into() };
        let run = Run::new(Setup {
            lining: parse_lining(lining, Materials::built_in()).unwrap(),
            plan: parse_plan(PLAN).unwrap(),
            probes: vec![Probe { channel: Channel::new("hot"), place, limit: None, couple: None, sheath: None }],
            belief: Belief { members: 2, seed: 1 },
            time_source: TimeSource::Computer,
        })
        .unwrap();
        Self { run, now_s: 0.0, inputs: Vec::new() }
    }

    fn step(&mut self, event: Event) -> Vec<Verdict> {
        let input = Input { elapsed: Seconds(self.now_s), event };
        let said = self.run.step(&input);
        self.inputs.push((input, said.clone()));
        said
    }

    fn say(&mut self, word: Word) -> Vec<Verdict> {
        self.step(Event::Operator(word))
    }

    /// Readings for `span_s`.
    fn wait(&mut self, span_s: u32) {
        for _ in 0..span_s {
            self.now_s += 1.0;
            let value = Ok(Celsius(18.0 + 0.05 * self.now_s.min(600.0)));
            self.step(Event::Readings(vec![Reading { channel: Channel::new("hot"), value }]));
        }
    }

    /// One pulse of the plan, and its pause.
    fn pulse(&mut self, on_s: u32) {
        self.say(Word::On);
        self.wait(on_s);
        self.say(Word::Off);
        self.wait(110);
    }
}

#[test]
fn an_obedient_heat_up_wants_no_new_plan() {
    let mut heat_up = HeatUp::new();
    (0..3).for_each(|_| heat_up.pulse(10));
    assert!(heat_up.run.replan_wanted().is_none());
}

#[test]
fn a_pulse_three_times_too_long_wants_a_new_plan_once() {
    let mut heat_up = HeatUp::new();
    heat_up.pulse(10);
    heat_up.pulse(30);
    let wanted = [heat_up.run.replan_wanted().is_some(), heat_up.run.replan_wanted().is_some()];
    assert_eq!(wanted, [true, false]);
}

#[test]
fn a_night_moves_the_plan_and_then_a_new_one_takes_over_when_the_burner_is_shut() {
    let mut heat_up = HeatUp::new();
    (0..3).for_each(|_| heat_up.pulse(10));
    heat_up.say(Word::Pause);
    let before = heat_up.run.snapshot();
    heat_up.wait(1300);
    heat_up.say(Word::Resume);
    let moved = heat_up.run.snapshot();
    assert!((moved.remaining.0 - before.remaining.0).abs() < 121.0, "only moved: {:?}", moved.remaining);
    let found = heat_up.run.replan_wanted().unwrap().search().unwrap();
    // While it burns the plan at hand goes on.
    heat_up.say(Word::On);
    heat_up.wait(10);
    heat_up.step(Event::Replanned(Box::new(found.clone())));
    assert!(heat_up.run.snapshot().old_plan_curve.is_empty());
    let said = heat_up.say(Word::Off);
    let takes_over = |verdict: &Verdict| matches!(verdict, Verdict::Notice { text, .. } if text.contains("takes over"));
    assert_eq!(said.iter().filter(|verdict| takes_over(verdict)).count(), 1, "{said:?}");
    let after = heat_up.run.snapshot();
    assert!(!after.old_plan_curve.is_empty(), "the screen shows the old plan as well");
    let cue = after.cue.unwrap();
    assert_eq!((cue.round, cue.rounds, cue.burner), (1, found.rounds.len(), Flame::Off));
    assert!((after.remaining.0 - found.length().0).abs() <= 120.0, "{:?} {:?}", after.remaining, found.length());
}

#[test]
fn a_new_plan_stands_in_the_log_and_replays_without_a_search() {
    let mut heat_up = HeatUp::new();
    heat_up.pulse(10);
    heat_up.step(Event::Replanned(Box::new(parse_plan(PLAN).unwrap())));
    heat_up.pulse(10);
    heat_up.step(Event::NotReplanned("danger 0.61 of 0.50".into()));
    let head = Head {
        program: PROGRAM.to_owned(),
        seed: 1,
        time_source: TimeSource::Computer,
        estimates_every: Seconds(0.0),
        options: Vec::new(),
        lining: Document::default(),
        plan: Document::default(),
        probes: Document::default(),
    };
    let disk = TrialDisk::default();
    let mut log = LogWriter::create_on(disk.clone(), Path::new("t.csv"), &head, LogOptions::default()).unwrap();
    for (input, said) in &heat_up.inputs {
        log.record(input, said);
    }
    log.finish().unwrap();
    let book = LogBook::from_bytes(Path::new("t.csv"), &disk.live()).unwrap();
    let inputs: Vec<&Input> = heat_up.inputs.iter().map(|(input, _)| input).collect();
    assert_eq!(book.inputs().collect::<Vec<_>>(), inputs);
    let mut again = HeatUp::new().run;
    let said: Vec<Vec<Verdict>> = book.inputs().map(|input| again.step(input)).collect();
    assert_eq!(said, heat_up.inputs.iter().map(|(_, said)| said.clone()).collect::<Vec<_>>());
}
