//! Whether wear is found and health is left alone: heat-ups of the simulated furnace, years of them, with a fixed seed.
//!
//! Each heat-up is simulated in full. What the fit made of healthy ones is kept in `tests/reference/trend_pool.csv`, because
//! the three thousand of a hundred series take hours of one core; a few are simulated anew each time and have to come out the
//! same. `TREND_POOL=write cargo test --release --test trend` goes on where the file ends; while it is not full, the
//! rest of the hundred series is drawn from what it holds.

#![allow(clippy::unwrap_used)]

mod browser;
mod made_heat_up;

use std::sync::{Arc, OnceLock};

use assert_cmd::Command;
use firstheat::ageing::{self, Compared, Fitted, HeatUp, Notes, Piece, Trend, Verdict, Wetness};
use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::lining::{Cure, Lining};
use firstheat::physics::{Furnace, Grid};
use firstheat::probe::file;
use firstheat::probe::simulated::{Burner, Habits, SimulatedFurnace};
use firstheat::report;
use firstheat::units::quantity::UnitSystem;
use firstheat::units::{Celsius, Pascals, Seconds};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

fn judge(heat_ups: &[Compared]) -> Trend {
    ageing::judge(heat_ups, UnitSystem::Metric)
}

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

impl Day {
    /// What is noted of it, but for the air.
    fn notes(self) -> Notes {
        Notes { gas_pressure: Some(Pascals(self.pressure_bar * 1e5)), ..Notes::default() }
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

fn heat_up(day: Day) -> HeatUp {
    heat_up_of(lining(), day)
}

/// Simulates the day's heat-up: 15 s of burner each minute for the hour, with the noise and the daily error of real probes.
fn heat_up_of(described: Lining, day: Day) -> HeatUp {
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
    let notes = Notes { ambient: Some(Celsius((day.ambient_c + luck.random_range(-1.0..1.0)).round())), ..day.notes() };
    HeatUp {
        log: format!("day-{}.csv", day.seed),
        begun: None,
        lining: described,
        section: 0,
        notes,
        start_c: Some(day.ambient_c),
        dried: false,
        pieces: pieces.collect(),
    }
}

fn compared(days: &[Day]) -> Vec<Compared> {
    days.par_iter().map(|day| heat_up(*day).compared(400.0, Wetness::HeatedBefore).unwrap()).collect()
}

/// Series of healthy heat-ups, and how many heat-ups each has.
const SERIES: usize = 100;
const YEARS: usize = 30;

/// Seed of the first healthy day.
const FIRST_SEED: u64 = 1000;

const POOL: &str = "tests/reference/trend_pool.csv";

/// Healthy heat-ups that are simulated each time.
const AGAIN: usize = 8;

/// The first few heat-ups of a lining that stays as it was, simulated.
fn healthy() -> &'static [Compared] {
    static HEALTHY: OnceLock<Vec<Compared>> = OnceLock::new();
    HEALTHY.get_or_init(|| compared(&days(0..AGAIN)))
}

/// Healthy days by their numbers.
fn days(numbers: std::ops::Range<usize>) -> Vec<Day> {
    numbers.map(|number| Day::drawn(FIRST_SEED + number as u64)).collect()
}

/// Simulates what is not kept yet, a series at a time, and keeps it.
fn write_pool() {
    let mut text = std::fs::read_to_string(POOL).unwrap_or_default();
    for first in (text.lines().count()..SERIES * YEARS).step_by(YEARS) {
        let series = compared(&days(first..first + YEARS));
        text.extend(series.iter().zip(FIRST_SEED + first as u64..).map(|(one, seed)| kept(seed, one) + "\n"));
        std::fs::write(POOL, &text).unwrap();
    }
}

/// What the fit made of a heat-up, as it is kept: seed, conductivity, its error, burner, its error.
fn kept(seed: u64, one: &Compared) -> String {
    let (lining, burner) = (one.conductivity.unwrap(), one.burner.unwrap());
    format!("{seed},{:.4},{:.4},{:.4},{:.4}", lining.factor, lining.error, burner.factor, burner.error)
}

/// All healthy heat-ups, as they are kept.
fn pool() -> Vec<Compared> {
    static WRITTEN: OnceLock<()> = OnceLock::new();
    if std::env::var("TREND_POOL").is_ok_and(|what| what == "write") {
        WRITTEN.get_or_init(write_pool);
    }
    let text = std::fs::read_to_string(POOL).unwrap();
    text.lines()
        .map(|line| from_kept(&line.split(',').map(|cell| cell.parse().unwrap()).collect::<Vec<f64>>()))
        .collect()
}

fn from_kept(cells: &[f64]) -> Compared {
    let fitted = |at: usize| Some(Fitted { factor: cells[at], error: cells[at + 1] });
    Compared {
        log: format!("day-{}.csv", cells[0]),
        begun: None,
        notes: Day::drawn(cells[0] as u64).notes(),
        target_c: 400.0,
        time_s: None,
        gas_kg: None,
        shell_rise_k: None,
        cool_down_h: None,
        conductivity: fitted(1),
        burner: fitted(3),
        start_c: None,
        unlike: Vec::new(),
    }
}

/// Thirty heat-ups, one a year, whose lining conducts 3 % better each time.
fn worn() -> &'static [Compared] {
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
    let found = first_inspect(worn());
    assert!(
        found.is_some_and(|found| (crossing - 1..=crossing + 3).contains(&found)),
        "{found:?}: {:#?}",
        judge(worn()).conductivity
    );
}

#[test]
fn the_verdict_stays_once_the_lining_has_worn() {
    let first = first_inspect(worn()).unwrap();
    let stays = (first..30).all(|last| judge(&worn()[..=last]).verdict == Verdict::Inspect);
    assert!(stays);
}

#[test]
fn the_fitted_conductivity_is_that_of_the_furnace_within_three_of_its_errors() {
    for (one, year) in worn().iter().zip(0_i32..) {
        let (fitted, true_factor) = (one.conductivity.unwrap(), 1.03_f64.powi(year));
        let off = (fitted.factor / true_factor - 1.0).abs();
        assert!(off <= 3.0 * fitted.error && fitted.error < 0.1, "year {year}: {fitted:?}, expected {true_factor}");
    }
}

/// The heat-ups of a healthy series. As many as are kept make series of their own; beyond them they are drawn from all.
fn series(pool: &[Compared], number: usize) -> Vec<Compared> {
    let mut luck = ChaCha8Rng::seed_from_u64(number as u64);
    match pool.chunks_exact(YEARS).nth(number) {
        Some(own) => own.to_vec(),
        None => (0..YEARS).map(|_| pool[luck.random_range(0..pool.len())].clone()).collect(),
    }
}

#[test]
fn a_hundred_healthy_series_never_call_for_an_inspection() {
    let pool = pool();
    assert!(pool.len() >= 10 * YEARS, "only {} heat-ups are kept", pool.len());
    for number in 0..SERIES {
        assert_eq!(first_inspect(&series(&pool, number)), None, "series {number}");
    }
}

/// The fit tells its errors on the safe side: standard deviation of all that are kept, whose truth is 1. It reckons with more
/// draught and drift from day to day than these heat-ups have.
#[test]
fn the_errors_that_are_told_are_no_smaller_than_those_that_are_made() {
    let pool = pool();
    let factors: Vec<f64> = pool.iter().map(|one| one.conductivity.unwrap().factor).collect();
    let made = (factors.iter().map(|factor| (factor - 1.0).powi(2)).sum::<f64>() / factors.len() as f64).sqrt();
    let told = pool.iter().map(|one| one.conductivity.unwrap().error).sum::<f64>() / pool.len() as f64;
    assert!((0.3..1.0).contains(&(made / told)), "made {made}, told {told}");
}

#[test]
fn what_is_kept_of_the_healthy_series_is_what_the_engine_says_now() {
    for ((now, kept), seed) in healthy().iter().zip(pool()).zip(FIRST_SEED..) {
        let (now, kept) = ([now.conductivity, now.burner], [kept.conductivity, kept.burner]);
        for (now, kept) in now.into_iter().zip(kept) {
            let (now, kept) = (now.unwrap(), kept.unwrap());
            let off = (now.factor - kept.factor).abs();
            assert!(
                off < 0.003,
                "seed {seed}: {now:?}, kept {kept:?}; write the pool anew when the engine has changed"
            );
        }
    }
}

#[test]
fn a_healthy_lining_is_as_new() {
    assert_eq!(judge(healthy()).verdict, Verdict::AsNew, "{:?}", judge(healthy()).reasons);
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
    let trend = judge(&healthy()[..1]);
    assert_eq!((trend.verdict, trend.baseline.as_deref()), (Verdict::CannotTell, Some("day-1000.csv")));
}

/// The furnace as it was lined: its first heat-up drives the water out, three later ones find it dry.
fn relined() -> &'static [HeatUp] {
    static RELINED: OnceLock<Vec<HeatUp>> = OnceLock::new();
    RELINED.get_or_init(|| {
        let wet =
            parse_lining(include_str!("../schedules/school-foundry-crucible.toml"), Materials::built_in()).unwrap();
        let first = HeatUp { dried: true, ..heat_up_of(wet.clone(), Day::drawn(700)) };
        let later = (701..705).map(|seed| HeatUp { lining: wet.clone(), ..heat_up(Day::drawn(seed)) });
        std::iter::once(first).chain(later).collect()
    })
}

#[test]
fn the_first_heat_of_a_wet_lining_is_no_baseline_and_the_next_one_is() {
    let trend = ageing::compare(relined(), Wetness::AsDescribed, UnitSystem::Metric).unwrap();
    assert_eq!(
        (trend.verdict, trend.baseline.as_deref()),
        (Verdict::AsNew, Some("day-701.csv")),
        "{:?}",
        trend.reasons
    );
    assert!(trend.reasons.iter().any(|reason| reason.contains("still wet")), "{:?}", trend.reasons);
}

#[test]
fn a_lining_that_no_heat_up_has_dried_yet_cannot_be_told() {
    let mut wet: Vec<HeatUp> = relined().to_vec();
    for one in &mut wet {
        (one.dried, one.lining.goal.soak_temp) = (false, Celsius(1500.0));
    }
    let trend = ageing::compare(&wet, Wetness::AsDescribed, UnitSystem::Metric).unwrap();
    assert_eq!((trend.verdict, trend.baseline), (Verdict::CannotTell, None));
}

#[test]
fn a_lining_that_was_heated_before_has_its_baseline_in_the_oldest_log() {
    let later = &relined()[1..];
    let trend = ageing::compare(later, Wetness::HeatedBefore, UnitSystem::Metric).unwrap();
    assert_eq!(trend.baseline.as_deref(), Some("day-701.csv"));
}

#[test]
fn a_page_in_us_units_says_fahrenheit_and_ounces() {
    let trend = ageing::judge(healthy(), UnitSystem::Us);
    let page = report::trend::page(&trend, "school foundry crucible furnace", UnitSystem::Us);
    // 400 °C is 752 °F.
    assert!(page.contains("752 °F") && page.contains(" oz") && page.contains(" psi"), "{:?}", trend.confounders);
    assert!(!page.contains("°C") && !page.contains(" bar"));
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
    let mut heat_ups = healthy()[..5].to_vec();
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
    let trend = judge(healthy());
    assert!(trend.confounders.iter().any(|one| one.starts_with("gas pressure from")), "{:?}", trend.confounders);
    assert!(trend.confounders.iter().any(|one| one.starts_with("air from")), "{:?}", trend.confounders);
}

#[test]
fn the_page_opens_on_a_telephone_and_prints_on_a4() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("wear.html");
    let page = report::trend::page(&judge(worn()), "school foundry crucible furnace", UnitSystem::Metric);
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
