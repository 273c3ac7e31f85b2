//! What a plan promises holds for other linings of the kind, on cells half as wide: searched with one seed and the usual
//! cells, simulated afresh pulse by pulse with another seed and finer ones. Members and cells are the only inputs that
//! differ; the limits are those of the lining.

#![allow(clippy::unwrap_used)]

use firstheat::lining::Lining;
use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::physics::{Belief, Ensemble, Furnace, Grid};
use firstheat::plan::Plan;
use firstheat::plan::check::{Findings, check};
use firstheat::plan::search::{Asked, PROMISED_SHARE, SearchOptions, search};

fn lining(text: &str) -> Lining {
    parse_lining(text, Materials::built_in()).unwrap()
}

fn planned(lining: &Lining) -> Plan {
    let options = SearchOptions { belief: Belief { members: 8, seed: 1 } };
    search(&Asked::of(lining, options), &mut |_| {}).unwrap().plan
}

/// What `members` others make of a plan, on cells half as wide.
fn afresh(lining: &Lining, plan: &Plan, members: usize) -> Findings {
    let furnace = Furnace::of(lining, Grid::Fine);
    let ensemble = Ensemble::new(&furnace, Belief { members, seed: 2026 }).unwrap();
    check(plan, ensemble, PROMISED_SHARE).unwrap()
}

/// About an hour of pulses that begin with a few seconds on, before the soak (common practice, no source).
#[test]
fn a_thin_coat_on_fibre_takes_about_an_hour_and_begins_with_seconds() {
    let lining = lining(include_str!("../schedules/thin-coat-forge.toml"));
    let plan = planned(&lining);
    assert!(plan.rounds[0].on.0 <= 10.0, "the first pulse is {:?}", plan.rounds[0]);
    let before_soak_h = plan.length().hours() - plan.limits.soak.hours();
    assert!((0.5..1.5).contains(&before_soak_h), "{before_soak_h} h before the soak");
    let findings = afresh(&lining, &plan, 64);
    assert!(findings.keeps(&plan.limits), "{}", findings.worst_in_words(&plan.limits));
}

/// The first rounds of a casting burn for 3 to 15 % of the time (common practice, no source), at the low fire that practice pulses there:
/// here a quarter of the 20 kW that these linings have. What a slab takes at its ramp limit is 1 to 2 % of the full fire.
#[test]
fn castings_begin_at_low_fire_with_the_duty_of_common_practice() {
    for text in [
        include_str!("../schedules/yardstick-insulating-12.toml"),
        include_str!("../schedules/yardstick-conventional-50.toml"),
    ] {
        assert_eq!(text.matches("power = \"20 kW\"").count(), 1);
        let lining = lining(&text.replace("power = \"20 kW\"", "power = \"5 kW\""));
        let plan = planned(&lining);
        for round in &plan.rounds[..2] {
            let duty = round.on.0 / (round.on + round.off).0;
            assert!((0.03..=0.15).contains(&duty), "{}: {duty}", lining.name);
        }
    }
}

/// 75 mm of dense castable takes many hours (common practice, no source: the published schedules for it last from 12 h).
#[test]
fn a_thick_dense_casting_takes_many_hours() {
    let lining = lining(include_str!("../schedules/cast-barrel-75.toml"));
    let plan = planned(&lining);
    let length_h = plan.length().hours();
    assert!((8.0..48.0).contains(&length_h), "{length_h} h");
    let findings = afresh(&lining, &plan, 20);
    assert!(findings.keeps(&plan.limits), "{}", findings.worst_in_words(&plan.limits));
}
