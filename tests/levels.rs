//! Burners that can be turned down, and kilns whose control holds ramps: what their fires do, and how short their plans are.

#![allow(clippy::unwrap_used)]

use std::sync::OnceLock;

use firstheat::lining::Lining;
use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::physics::chamber::propane_jet_kg_s;
use firstheat::physics::{Belief, Drive, Ensemble, Furnace, Grid};
use firstheat::plan::card::{CardOf, told};
use firstheat::plan::check::check;
use firstheat::plan::firing::Firing;
use firstheat::plan::search::{Asked, Found, PROMISED_SHARE, SearchOptions, search};
use firstheat::plan::text::{parse_plan, write_plan};
use firstheat::units::quantity::UnitSystem;
use firstheat::units::{Celsius, Seconds};

const OPTIONS: SearchOptions = SearchOptions { belief: Belief { members: 8, seed: 3 } };

const MARKS: &str =
    "[[burner.mark]]\nname = \"low\"\nshare = \"12 %\"\n[[burner.mark]]\nname = \"half\"\nshare = \"40 %\"\n";

/// A small slab that need not get hot, so that a plan is found in seconds; `burner` stands in the burner's table.
fn slab(burner: &str) -> Lining {
    let text = format!(
        r#"
format = "firstheat lining 1"
name = "slab"
[place]
temperature = "20 C"
humidity = "50 %"
[burner]
power = "12 kW"
{burner}
[[chamber.opening]]
name = "mouth"
diameter = "80 mm"
[goal]
soak-temperature = "240 C"
soak-time = "10 min"
danger-ceiling = 0.4
[[section]]
name = "slab"
shape = "flat"
area = "0.3 m2"
back = "sealed steel"
steel = "2 mm"
[[section.layer]]
material = "dense-castable"
thickness = "15 mm"
mix-water = "11.5 %"
"#
    );
    parse_lining(&text, Materials::built_in()).unwrap()
}

fn found(burner: &str) -> Found {
    search(&Asked::of(&slab(burner), OPTIONS), &mut |_| {}).unwrap()
}

fn by_hand() -> &'static Found {
    static FOUND: OnceLock<Found> = OnceLock::new();
    FOUND.get_or_init(|| found(""))
}

fn with_marks() -> &'static Found {
    static FOUND: OnceLock<Found> = OnceLock::new();
    FOUND.get_or_init(|| found(MARKS))
}

fn with_ramps() -> &'static Found {
    static FOUND: OnceLock<Found> = OnceLock::new();
    FOUND.get_or_init(|| found("holds-ramps = true"))
}

fn gas_after_a_minute(lining: &Lining, drive: Drive) -> [f64; 2] {
    let furnace = Furnace::of(lining, Grid::Coarse);
    let mut ensemble = Ensemble::new(&furnace, Belief { members: 1, seed: 1 }).unwrap();
    ensemble.advance(drive, Seconds(60.0)).unwrap();
    [ensemble.gas(0).0, ensemble.fuel(0).0]
}

/// Choked flow through a jet goes with its absolute pressure (any textbook of gas dynamics), here 1.0133 bar above the gauge's.
#[test]
fn a_mark_of_a_jet_burns_the_fuel_that_its_pressure_gives() {
    let text = "jet = \"1 mm\"\npressure = \"3 bar\"\n[[burner.mark]]\nname = \"low\"\npressure = \"1 bar\"\n";
    let lining = slab("").name;
    let text = format!("{text}# {lining}");
    let made = include_str!("../schedules/box-forge.toml");
    let from = made.find("[burner]").unwrap();
    let to = made[from..].find("\n[[chamber").unwrap() + from;
    let made = format!("{}[burner]\n{text}\n{}", &made[..from], &made[to..]);
    let furnace = Furnace::of(&parse_lining(&made, Materials::built_in()).unwrap(), Grid::Coarse);
    let share = furnace.marks()[0].1;
    assert!((share - 2.0133 / 4.0133).abs() < 1e-3, "{share}");
    let full = propane_jet_kg_s(1e-3, 3e5);
    assert!((furnace.full_fire_kg_s() / full - 1.0).abs() < 1e-9);
}

#[test]
fn full_fire_by_marks_is_the_same_as_by_hand_to_the_last_bit() {
    let lining = slab("");
    let marked = gas_after_a_minute(&lining, Drive::Fires { high: 1.0, low: 0.0, on: 1.0 });
    let by_hand = gas_after_a_minute(&lining, Drive::Burner { on: 1.0 });
    assert_eq!(marked.map(f64::to_bits), by_hand.map(f64::to_bits));
}

/// A quarter of the fuel for the whole time is as much fuel as all of it for a quarter; the chamber is cooler than at full fire
/// and hotter than by pulses, since no cold air is drawn in between.
#[test]
fn a_low_fire_burns_its_share_and_loses_less_than_pulses() {
    let lining = slab("");
    let [low_c, low_kg] = gas_after_a_minute(&lining, Drive::Fires { high: 0.25, low: 0.0, on: 1.0 });
    let [mean_c, mean_kg] = gas_after_a_minute(&lining, Drive::Burner { on: 0.25 });
    let [full_c, _] = gas_after_a_minute(&lining, Drive::Burner { on: 1.0 });
    assert!((low_kg / mean_kg - 1.0).abs() < 1e-9, "{low_kg} kg, {mean_kg} kg");
    assert!(low_c < full_c && mean_c < full_c, "{low_c} {mean_c} {full_c}");
}

/// Half a per cent for the steps that times and ramps go in.
#[test]
fn a_plan_with_marks_is_no_longer_than_by_hand_and_no_shorter_than_its_bound() {
    let (hand, marks) = (by_hand().plan.length().hours(), with_marks().plan.length().hours());
    let bound = with_marks().bound.unwrap().hours();
    assert!(marks <= 1.005 * hand, "{marks} h, by hand {hand} h");
    assert!(bound < marks, "{marks} h, bound {bound} h");
}

#[test]
fn a_plan_of_ramps_is_no_longer_than_by_hand_and_no_shorter_than_its_bound() {
    let (hand, ramps) = (by_hand().plan.length().hours(), with_ramps().plan.length().hours());
    let bound = with_ramps().bound.unwrap().hours();
    assert!(ramps <= 1.005 * hand, "{ramps} h, by hand {hand} h");
    assert!(bound < ramps, "{ramps} h, bound {bound} h");
}

#[test]
fn low_fires_begin_at_the_lowest_mark_and_are_turned_up_mark_by_mark() {
    let coat = include_str!("../schedules/thin-coat-forge.toml");
    let lining = parse_lining(&format!("{coat}\n{MARKS}"), Materials::built_in()).unwrap();
    let rounds = search(&Asked::of(&lining, OPTIONS), &mut |_| {}).unwrap().plan.rounds;
    let shares: Vec<f64> = rounds
        .iter()
        .map(|round| match &round.firing {
            Firing::Marks { high, .. } => high.share,
            other => panic!("{other:?}"),
        })
        .collect();
    assert!((shares[0] - 0.12).abs() < 1e-9, "{shares:?}");
    let shut =
        rounds.iter().filter(|round| matches!(&round.firing, Firing::Marks { high, low: None } if high.share > 0.2));
    assert_eq!(shut.filter(|round| !round.is_steady()).count(), 0, "above the lowest mark it is turned and not shut");
}

#[test]
fn ramps_follow_on_one_another_and_end_at_the_soak() {
    let mut at = Celsius(20.0);
    for round in &with_ramps().plan.rounds {
        let Firing::Ramp { from, to, ramp } = round.firing else { panic!("{round:?}") };
        assert_eq!(from, at);
        assert!((from.0 + ramp.0 * round.on.hours() - to.0).abs() < 0.01, "{round:?}");
        at = to;
    }
    assert!(at.0 >= 225.0, "{at:?}");
}

/// Somebody sets each of them on a control: they are few, each has a line of its own on the card, and none asks for less than the air.
#[test]
fn a_program_of_ramps_is_short_and_stands_on_the_card_ramp_by_ramp() {
    let found = with_ramps();
    let rounds = &found.plan.rounds;
    assert!(rounds.len() <= 16, "{} ramps", rounds.len());
    for round in rounds {
        let Firing::Ramp { to, .. } = round.firing else { panic!("{round:?}") };
        assert!(to.0 >= 20.0, "{round:?}");
    }
    let lining = slab("holds-ramps = true");
    let card = CardOf { plan: &found.plan, findings: &found.findings, lining: &lining, label: "", start: None };
    assert_eq!(told(&card, UnitSystem::Metric, 3).rows.len(), rounds.len());
}

/// The file's text, read again and simulated on the members that it was searched with, as `check` does.
#[test]
fn the_written_plan_keeps_the_limits_it_was_made_for() {
    for (found, burner) in [(with_marks(), MARKS), (with_ramps(), "holds-ramps = true")] {
        let plan = parse_plan(&write_plan(&found.plan)).unwrap();
        assert_eq!(plan, found.plan);
        let furnace = Furnace::of(&slab(burner), Grid::Usual);
        let findings = check(&plan, Ensemble::new(&furnace, OPTIONS.belief).unwrap(), PROMISED_SHARE).unwrap();
        assert!(findings.keeps(&plan.limits), "{}", findings.worst_in_words(&plan.limits));
    }
}

#[test]
fn one_thread_and_two_find_the_same_to_the_last_bit() {
    for burner in [MARKS, "holds-ramps = true"] {
        let options = SearchOptions { belief: Belief { members: 16, seed: 3 } };
        let with = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| search(&Asked::of(&slab(burner), options), &mut |_| {}).unwrap())
        };
        assert_eq!(with(1), with(2));
    }
}
