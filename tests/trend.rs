//! Whether wear is found and health is left alone: heat-ups of the simulated furnace, years of them, with a fixed seed.
//!
//! Each heat-up is simulated in full. Series of healthy heat-ups are drawn from a pool of them, because a hundred series of
//! thirty would take an hour; `TREND_POOL=3000 cargo test --release --test trend` simulates every one of them.

#![allow(clippy::unwrap_used)]

mod browser;
mod made_heat_up;

use std::sync::{Arc, OnceLock};

use assert_cmd::Command;
use firstheat::ageing::{Compared, HeatUp, Notes, Piece, Verdict, Wetness, judge};
use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::lining::{Cure, Lining};
use firstheat::physics::{Furnace, Grid};
use firstheat::probe::file;
use firstheat::probe::simulated::{Burner, Habits, SimulatedFurnace};
use firstheat::report;
use firstheat::units::{Celsius, Pascals, Seconds};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

const BOARD: &str = r#"format = "firstheat probes 1"
[[port]]
path = "/dev/null"
[[port.channel]]
name = "hot"
place = "hot-face"
section = "wall"
type = "K"
sheath = "1.5 mm"
[[port.channel]]
name = "shell"
place = "shell"
section = "wall"
type = "K"
sheath = "1.5 mm"
"#;

/// Length of a heat-up, s: the outside of two wraps of blanket is warm by then.
const LENGTH_S: f64 = 3600.0;

/// The furnace on one day.
#[derive(Clone, Copy, Debug)]
struct Day {
    seed: u64,
    /// Factor on the conductivity of its layers.
    conductivity: f64,
    /// Part of the gas that the jet lets through.
    jet: f64,
    /// Gas pressure as read off the gauge, bar.
    pressure_bar: f64,
    /// Air, °C.
    ambient_c: f64,
}

impl Day {
    /// A day of its own weather and gas pressure.
    fn drawn(seed: u64) -> Self {
        let mut luck = ChaCha8Rng::seed_from_u64(seed);
        let (pressure_bar, ambient_c) = (luck.random_range(0.5..0.9), luck.random_range(5.0..30.0));
        Self { seed, conductivity: 1.0, jet: 1.0, pressure_bar, ambient_c }
    }
}

/// The school foundry's crucible furnace, long since dry.
fn lining() -> Lining {
    let text = include_str!("../schedules/school-foundry-crucible.toml");
    let mut lining = parse_lining(text, Materials::built_in()).unwrap();
    for layer in lining.sections.iter_mut().flat_map(|section| &mut section.layers) {
        (layer.water.cure, layer.water.mix_fraction) = (Cure::Fired, 0.0);
    }
    lining
}

/// Simulates the day's heat-up: 15 s of burner each minute for the hour, with the noise and the daily error of real probes.
fn heat_up(day: Day) -> HeatUp {
    let described = lining();
    let mut built = described.clone();
    built.surroundings.temp = Celsius(day.ambient_c);
    for layer in built.sections.iter_mut().flat_map(|section| &mut section.layers) {
        let mut material = (*layer.material).clone();
        material.conductivity_w_mk =
            material.conductivity_w_mk.map(|conductivity| conductivity * day.conductivity).unwrap();
        layer.material = Arc::new(material);
    }
    if let firstheat::lining::Fuel::PropaneJet { diameter, gauge_pressure } = &mut built.burner.fuel {
        diameter.0 *= day.jet.sqrt();
        gauge_pressure.0 = day.pressure_bar * 1e5;
    }
    let board = file::parse(BOARD).unwrap().ports.remove(0);
    let habits = Habits { period: Seconds(15.0), noise_k: 0.5, seed: day.seed };
    let mut furnace = SimulatedFurnace::new(&Furnace::of(&built, Grid::Usual), board, habits).unwrap();
    let mut luck = ChaCha8Rng::seed_from_u64(day.seed ^ 0x5eed);
    // Contact and draught make the outside read a little otherwise every day: 1 % of the rise, and half a kelvin.
    let (gain, offset_k) = (1.0 + luck.random_range(-0.017..0.017), luck.random_range(-0.9..0.9));
    let pieces = (0..(LENGTH_S / 60.0) as u32).map(|_| {
        let mut sums = [0.0; 2];
        for quarter in 0..4 {
            furnace.turn(if quarter == 0 { Burner::Lit } else { Burner::Shut });
            let line = furnace.next_line().unwrap();
            for (sum, name) in sums.iter_mut().zip(["hot=", "shell="]) {
                *sum += line.split(name).nth(1).unwrap().split(' ').next().unwrap().parse::<f64>().unwrap() / 4.0;
            }
        }
        let shell_c = day.ambient_c + gain * (sums[1] - day.ambient_c) + offset_k;
        Piece { span_s: 60.0, on: 0.25, hot_c: Some(sums[0]), shell_c: Some(shell_c) }
    });
    HeatUp {
        log: format!("day-{}.csv", day.seed),
        begun: None,
        lining: described,
        section: 0,
        notes: Notes {
            gas_pressure: Some(Pascals(day.pressure_bar * 1e5)),
            ambient: Some(Celsius((day.ambient_c + luck.random_range(-1.0..1.0)).round())),
            ..Notes::default()
        },
        start_c: Some(day.ambient_c),
        pieces: pieces.collect(),
    }
}

fn compared(days: &[Day]) -> Vec<Compared> {
    days.par_iter().map(|day| heat_up(*day).compared(400.0, Wetness::HeatedBefore).unwrap()).collect()
}

/// Heat-ups of a lining that stays as it was.
fn pool() -> &'static [Compared] {
    static POOL: OnceLock<Vec<Compared>> = OnceLock::new();
    POOL.get_or_init(|| {
        let size = std::env::var("TREND_POOL").ok().and_then(|size| size.parse().ok()).unwrap_or(16);
        compared(&(0..size).map(|seed| Day::drawn(1000 + seed)).collect::<Vec<_>>())
    })
}

/// Thirty heat-ups, one a year, whose lining conducts 3 % better each time.
fn ageing() -> &'static [Compared] {
    static AGEING: OnceLock<Vec<Compared>> = OnceLock::new();
    AGEING.get_or_init(|| {
        let day = |year: u64| Day { conductivity: 1.03_f64.powi(year as i32), ..Day::drawn(year) };
        compared(&(0..30).map(day).collect::<Vec<_>>())
    })
}

/// Index of the first heat-up after which an inspection is called for.
fn first_inspect(series: &[Compared]) -> Option<usize> {
    (1..=series.len()).find(|count| judge(&series[..*count]).verdict == Verdict::Inspect).map(|count| count - 1)
}

#[test]
fn a_fifth_more_conductivity_is_found_within_three_heat_ups_of_its_crossing() {
    // 1.03 to the 7th is the first above 1.2.
    let crossing = 7;
    let found = first_inspect(ageing());
    assert!(
        found.is_some_and(|found| (crossing - 1..=crossing + 3).contains(&found)),
        "{found:?}: {:#?}",
        judge(ageing()).conductivity
    );
}

#[test]
fn the_verdict_stays_once_the_lining_has_worn() {
    let first = first_inspect(ageing()).unwrap();
    let stays = (first..30).all(|last| judge(&ageing()[..=last]).verdict == Verdict::Inspect);
    assert!(stays);
}

#[test]
fn the_fitted_conductivity_is_that_of_the_furnace_within_three_of_its_errors() {
    for (one, year) in ageing().iter().zip(0_i32..) {
        let (fitted, true_factor) = (one.conductivity.unwrap(), 1.03_f64.powi(year));
        let off = (fitted.factor / true_factor - 1.0).abs();
        assert!(off <= 3.0 * fitted.error && fitted.error < 0.1, "year {year}: {fitted:?}, expected {true_factor}");
    }
}

#[test]
fn a_hundred_healthy_series_never_call_for_an_inspection() {
    let pool = pool();
    let mut luck = ChaCha8Rng::seed_from_u64(7);
    let thinned = pool.len() < 3000;
    for series in 0..100 {
        let pick =
            |index: usize| if thinned { luck.random_range(0..pool.len()) } else { (series * 30 + index) % pool.len() };
        let picks: Vec<usize> = (0..30).map(pick).collect();
        let heat_ups: Vec<Compared> = picks.iter().map(|pick| pool[*pick].clone()).collect();
        assert_eq!(first_inspect(&heat_ups), None, "series {series}");
    }
}

#[test]
fn a_healthy_lining_is_as_new() {
    assert_eq!(judge(pool()).verdict, Verdict::AsNew, "{:?}", judge(pool()).reasons);
}

#[test]
fn a_fouled_jet_is_named_and_the_lining_is_not_blamed() {
    let fouled = |seed: u64| Day { jet: if seed < 2 { 1.0 } else { 0.7 }, ..Day::drawn(500 + seed) };
    let trend = judge(&compared(&(0..5).map(fouled).collect::<Vec<_>>()));
    assert_eq!(trend.verdict, Verdict::AsNew, "{:?}", trend.reasons);
    assert!(
        trend.reasons.iter().any(|reason| reason.contains("clean the jet")),
        "{:?} {:?}",
        trend.reasons,
        trend.burner
    );
}

#[test]
fn the_first_heat_up_becomes_the_baseline_by_itself() {
    let trend = judge(&pool()[..1]);
    assert_eq!((trend.verdict, trend.baseline.as_deref()), (Verdict::CannotTell, Some("day-1000.csv")));
}

#[test]
fn without_a_reading_of_the_outside_nothing_is_said_of_the_lining() {
    let mut blind = heat_up(Day::drawn(1));
    for piece in &mut blind.pieces {
        piece.shell_c = None;
    }
    let one = blind.compared(400.0, Wetness::HeatedBefore).unwrap();
    let trend = judge(&[one.clone(), one.clone(), one.clone(), one]);
    assert_eq!(trend.verdict, Verdict::CannotTell);
    assert!(trend.reasons.iter().any(|reason| reason.contains("the outside behind the hot face was not read")));
}

#[test]
fn another_load_is_left_out_and_named() {
    let mut heat_ups = pool()[..5].to_vec();
    for one in &mut heat_ups {
        one.notes.load = Some("empty".to_owned());
    }
    heat_ups[4].notes.load = Some("crucible, 2 kg brass".to_owned());
    let trend = judge(&heat_ups);
    assert_eq!(trend.conductivity[4], None);
    assert!(trend.confounders.iter().any(|one| one.contains("another load")), "{:?}", trend.confounders);
}

#[test]
fn gas_pressure_and_weather_are_named_as_confounders() {
    let trend = judge(pool());
    assert!(trend.confounders.iter().any(|one| one.starts_with("gas pressure from")), "{:?}", trend.confounders);
    assert!(trend.confounders.iter().any(|one| one.starts_with("air from")), "{:?}", trend.confounders);
}

#[test]
fn the_page_opens_on_a_telephone_and_prints_on_a4() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("wear.html");
    let page = report::trend::page(&judge(ageing()), "school foundry crucible furnace");
    std::fs::write(&path, &page).unwrap();
    assert_eq!(browser::fetches(&page), [""; 0]);
    assert_eq!(browser::complaints(&path), [""; 0]);
    assert!(browser::width_needed_px(&path, 400) <= 400);
    let (size, words) = browser::on_paper(&path);
    assert!(
        size.contains("A4") && words.contains("Inspect the lining.") && words.contains("Heat of the burner"),
        "{size}"
    );
}

fn firstheat(dir: &std::path::Path, args: &[&str], input: &str) -> (i32, String) {
    let out = Command::cargo_bin("firstheat").unwrap().current_dir(dir).args(args).write_stdin(input).output().unwrap();
    (out.status.code().unwrap(), String::from_utf8([out.stdout, out.stderr].concat()).unwrap())
}

/// Follows a minute of a heat-up with notes, in a directory of its own.
fn followed() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("lining.toml"), made_heat_up::LINING).unwrap();
    std::fs::write(dir.path().join("plan.toml"), made_heat_up::plan(2)).unwrap();
    std::fs::write(dir.path().join("probes.toml"), made_heat_up::PROBES.replace("/dev/ttyUSB0", "-")).unwrap();
    let args =
        ["follow", "lining.toml", "--plan", "plan.toml", "--probes", "probes.toml", "--headless", "--log", "a.csv"];
    let notes = ["--time-from-probe", "--members", "1", "--note", "gas-pressure=0.5 bar", "--note", "load=empty"];
    let lines = "t=0 hot=18 gas=18 shell=18\nt=30 hot=40 gas=300 shell=18\nt=60 hot=60 gas=200 shell=18\n";
    let (code, said) = firstheat(dir.path(), &[&args[..], &notes[..]].concat(), lines);
    assert_eq!(code, 0, "{said}");
    dir
}

#[test]
fn what_was_noted_when_following_stands_in_report_and_trend() {
    let dir = followed();
    let report: serde_json::Value =
        serde_json::from_str(&firstheat(dir.path(), &["report", "a.csv", "--json"], "").1).unwrap();
    assert_eq!(report["notes"], serde_json::json!([["gas-pressure", "0.5 bar"], ["load", "empty"]]));
    let trend: serde_json::Value =
        serde_json::from_str(&firstheat(dir.path(), &["trend", "a.csv", "--json"], "").1).unwrap();
    assert_eq!(trend["heat_ups"][0]["notes"]["gas_pressure"].as_f64(), Some(50_000.0));
}

#[test]
fn notes_change_nothing_in_a_replay() {
    let (code, said) = firstheat(followed().path(), &["replay", "a.csv"], "");
    assert_eq!(code, 0, "{said}");
}

#[test]
fn a_note_that_cannot_be_read_is_refused_before_anything_begins() {
    let args = ["follow", "l.toml", "--plan", "p.toml", "--probes", "q.toml", "--note", "gas-pressure=0.5"];
    let (code, said) = firstheat(std::env::temp_dir().as_path(), &args, "");
    assert!(
        code == 2 && said.contains("the note `gas-pressure` cannot be read: found \"0.5\" without a unit"),
        "{said}"
    );
}
