//! A few heat-ups against simulated furnaces that are not as believed. The whole is `firstheat rehearse --heat-ups 200`.

#![allow(clippy::unwrap_used)]

use firstheat::app::rehearse::{HeatUpOutcome, Manner, Operators, Rehearsal, Table, probes_for};
use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::physics::Belief;
use firstheat::plan::text::parse_plan;
use firstheat::run::WarningCause;

/// A quarter of an hour of gentle pulses on a coat and a lid; the soak is at the temperature they reach.
const PLAN: &str = r#"
format = "firstheat plan 1"
lining = "school foundry crucible furnace"
[limits]
danger_ceiling = 0.5
ramp_k_per_h = 600.0
service_c = 1500.0
soak_c = 400.0
soak_s = 60.0
[[round]]
count = 6
on_s = 5.0
off_s = 145.0
binds = "ramp"
"#;

/// Up, down again, and up, on a control that holds ramps.
const RAMPS: &str = r#"
[[round]]
from_c = 20.0
to_c = 500.0
ramp_k_per_h = 1000.0
binds = "ramp"
[[round]]
to_c = 300.0
ramp_k_per_h = 4000.0
binds = "ramp"
[[round]]
to_c = 400.0
ramp_k_per_h = 500.0
binds = "ramp"
"#;

fn rehearsal() -> Rehearsal {
    of(include_str!("../schedules/school-foundry-crucible.toml"), PLAN)
}

fn of(lining: &str, plan: &str) -> Rehearsal {
    let lining = parse_lining(lining, Materials::built_in()).unwrap();
    let probes = probes_for(&lining).unwrap();
    let belief = Belief { members: 8, seed: 1 };
    let operators = Operators::EveryThirdErrs;
    Rehearsal { plan: parse_plan(plan).unwrap(), probes, lining, belief, luck: 1, operators }
}

fn heat_ups(numbers: &[u32]) -> Vec<HeatUpOutcome> {
    numbers.iter().map(|number| rehearsal().heat_up(*number).unwrap()).collect()
}

#[test]
fn furnaces_that_are_not_as_believed_are_followed_within_every_bar() {
    let each = heat_ups(&[0, 1, 2]);
    assert_eq!(each[2].manner, Manner::LongPulse);
    let table = Table::of(&each);
    assert_eq!(table.misses(), Vec::<String>::new(), "{}\n{each:#?}", table.text());
}

#[test]
fn a_cue_that_is_missed_for_a_quarter_of_an_hour_draws_a_warning_before_danger_passes_one() {
    let one = &heat_ups(&[5])[0];
    assert_eq!(one.manner, Manner::MissedCue);
    assert!(one.warnings_s.iter().any(|(_, cause)| *cause != WarningCause::LightUp), "{one:?}");
    assert!(one.leads_s.iter().all(Option::is_some), "{one:?}");
}

#[test]
fn the_same_luck_gives_the_same_heat_up() {
    assert_eq!(heat_ups(&[1]), heat_ups(&[1]));
}

/// The readings fall with the set point; no flame is out for that.
#[test]
fn a_ramp_that_goes_down_is_no_flame_that_is_out() {
    let lining = include_str!("../schedules/school-foundry-crucible.toml");
    let lining = lining.replace("[burner]\n", "[burner]\nholds-ramps = true\n");
    let head = PLAN.split("[[round]]").next().unwrap();
    let one = of(&lining, &format!("{head}{RAMPS}")).heat_up(0).unwrap();
    let said_out = one.warnings_s.iter().filter(|(_, cause)| *cause == WarningCause::FlameOut);
    assert_eq!(said_out.count(), 0, "{one:?}");
    assert!(one.length.hours() > 0.5, "{one:?}");
}

/// Bound water of a board behind a brick, which stays far too cool to let it go, keeps no heat-up going: what has to be gone is the
/// water that is free.
#[test]
fn bound_water_behind_a_cool_back_does_not_keep_a_heat_up_going() {
    let lining = r#"
format = "firstheat lining 1"
name = "brick before a board"
[place]
temperature = "20 C"
humidity = "50 %"
[burner]
power = "12 kW"
[[chamber.opening]]
name = "mouth"
diameter = "60 mm"
[goal]
soak-temperature = "450 C"
soak-time = "1 min"
[[section]]
name = "wall"
shape = "flat"
area = "0.3 m2"
back = "open"
[[section.layer]]
material = "insulating-firebrick-26"
thickness = "64 mm"
soaked-water = "1 %"
[[section.layer]]
material = "calcium-silicate-board"
thickness = "25 mm"
"#;
    let plan = PLAN
        .replace("school foundry crucible furnace", "brick before a board")
        .replace("soak_c = 400.0", "soak_c = 450.0")
        .replace("count = 6\non_s = 5.0\noff_s = 145.0", "count = 60\non_s = 30.0\noff_s = 150.0");
    let one = of(lining, &plan).heat_up(0).unwrap();
    assert_eq!(one.manner, Manner::Obedient);
    assert!(one.is_done, "{one:?}");
}
