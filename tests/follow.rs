//! The whole following loop on paused time: a day passes in seconds, with a fake port, a fake operator and a disk that
//! fails.

#![allow(clippy::unwrap_used)]

use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use chrono::{DateTime, FixedOffset, TimeDelta};
use crossterm::event::Event as TerminalEvent;
use firstheat::app::AppError;
use firstheat::app::follow::attend::{Following, Signals, Sources, Time, attend};
use firstheat::app::follow::outlet::{Closing, Now, Outlet};
use firstheat::app::follow::words::{Said, Words};
use firstheat::clock::{SleepClock, Stopwatch};
use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::log::trial_disk::TrialDisk;
use firstheat::log::{Document, Head, LogBook, LogOptions, LogWriter, WallClock};
use firstheat::physics::Belief;
use firstheat::plan::text::parse_plan;
use firstheat::probe::feed::{Lost, PortEvent, Told};
use firstheat::probe::file;
use firstheat::probe::set::ProbeSet;
use firstheat::reading::{Channel, Reading};
use firstheat::run::{Run, Setup, TimeSource, Verdict, Word};
use firstheat::units::{Celsius, Seconds};
use tokio::sync::mpsc;
use tokio::time::{sleep, timeout};

const PROBES: &str = r#"
format = "firstheat probes 1"
[[port]]
path = "/dev/board"
[[port.channel]]
name = "hot"
place = "hot-face"
section = "wall"
type = "K"
"#;

const PLAN: &str = r#"
format = "firstheat plan 1"
lining = "school foundry melter"
[limits]
danger_ceiling = 0.5
ramp_k_per_h = 56.0
service_c = 1200.0
soak_c = 650.0
soak_s = 3600.0
[[round]]
count = 400
on_s = 10.0
off_s = 590.0
binds = "ramp"
"#;

/// Keeps what was said.
#[derive(Clone, Default)]
struct Kept(Arc<Mutex<Vec<Verdict>>>);

impl Outlet for Kept {
    fn say(&mut self, verdicts: &[Verdict], _now: Now<'_>) -> Result<(), AppError> {
        self.0.lock().unwrap().extend_from_slice(verdicts);
        Ok(())
    }

    fn refresh(&mut self, _now: Now<'_>) -> Result<(), AppError> {
        Ok(())
    }

    fn pressed(&mut self, _event: &TerminalEvent, _now: Now<'_>) -> Option<Word> {
        None
    }

    fn shows_ahead(&self) -> bool {
        false
    }
    fn closing(&self) -> Closing {
        Closing::Silent
    }
}

/// A heat-up under test: what it says, and the ends through which the test plays port and operator.
struct Bench {
    following: Following,
    sources: Sources,
    kept: Kept,
    port: mpsc::Sender<Told>,
    operator: mpsc::Sender<Said>,
}

fn probes() -> ProbeSet {
    file::parse(PROBES).unwrap()
}

fn run() -> Run {
    let text = std::fs::read_to_string("schedules/school-foundry-melter.toml").unwrap();
    let probe = |spec: &firstheat::probe::set::ChannelSpec| firstheat::run::Probe {
        channel: spec.channel.clone(),
        place: spec.place.clone(),
        limit: Some(spec.limit),
        couple: Some(spec.couple),
        sheath: spec.sheath,
    };
    Run::new(Setup {
        lining: parse_lining(&text, Materials::built_in()).unwrap(),
        plan: parse_plan(PLAN).unwrap(),
        probes: probes().channels().map(probe).collect(),
        belief: Belief { members: 1, seed: 1 },
        time_source: TimeSource::Computer,
    })
    .unwrap()
}

fn head() -> Head {
    Head {
        program: "firstheat test".into(),
        seed: 1,
        time_source: TimeSource::Computer,
        estimates_every: Seconds(60.0),
        options: Vec::new(),
        lining: Document::default(),
        plan: Document::default(),
        probes: Document::default(),
    }
}

fn bench(log: Option<LogWriter>) -> Bench {
    bench_timed(log, Time::Clock(Stopwatch::start()))
}

fn bench_timed(log: Option<LogWriter>, time: Time) -> Bench {
    let kept = Kept::default();
    let (port, told) = mpsc::channel(64);
    let (operator, words) = mpsc::channel(64);
    let following = Following::new(run(), log, Box::new(kept.clone()), time, probes());
    let sources = Sources { told, words: Words::Channel(words), signals: Signals::none() };
    Bench { following, sources, kept, port, operator }
}

fn told(event: PortEvent) -> Told {
    Told { port: "/dev/board".into(), at: std::time::Instant::now(), event }
}

fn line(temp_c: f64) -> Told {
    let readings = vec![Reading { channel: Channel::new("hot"), value: Ok(Celsius(temp_c)) }];
    told(PortEvent::Line { text: String::new(), board_time: None, readings })
}

/// Sends a reading that warms slowly, each `period`, for ever.
fn steady_board(port: mpsc::Sender<Told>, period: Duration) {
    tokio::spawn(async move {
        let mut temp_c = 18.0;
        while port.send(line(temp_c)).await.is_ok() {
            temp_c += 20.0 * period.as_secs_f64() / 3600.0 * if temp_c < 300.0 { 1.0 } else { -1.0 };
            sleep(period).await;
        }
    });
}

/// Says the words at their times, s.
fn operator(words: mpsc::Sender<Said>, plan: Vec<(u64, Word)>) {
    tokio::spawn(async move {
        let mut now_s = 0;
        for (at_s, word) in plan {
            sleep(Duration::from_secs(at_s - now_s)).await;
            now_s = at_s;
            words.send(Said::Word(word)).await.unwrap();
        }
        // Keeps its end open, as a terminal does.
        sleep(Duration::from_secs(1_000_000)).await;
    });
}

fn cues(kept: &Kept) -> Vec<f64> {
    let said = kept.0.lock().unwrap();
    let due = said.iter().filter_map(|verdict| match verdict {
        Verdict::Cue { elapsed_s, in_s, .. } if *in_s <= 0.0 => Some(*elapsed_s),
        _ => None,
    });
    due.collect()
}

fn faults(kept: &Kept) -> Vec<(String, bool)> {
    let said = kept.0.lock().unwrap();
    let faults = said.iter().filter_map(|verdict| match verdict {
        Verdict::Fault { text, over, .. } => Some((text.clone(), *over)),
        _ => None,
    });
    faults.collect()
}

#[tokio::test(start_paused = true)]
async fn a_day_with_a_failing_disk_is_followed_to_its_end() {
    let disk = TrialDisk::default();
    let options = LogOptions { finish_within: Duration::from_millis(200), ..LogOptions::default() };
    let log = LogWriter::create_on(disk.clone(), std::path::Path::new("trial.csv"), &head(), options).unwrap();
    let mut bench = bench(Some(log));
    steady_board(bench.port, Duration::from_secs(30));
    operator(bench.operator, vec![(1, Word::On), (11, Word::Off), (60, Word::Pause), (86_400, Word::Quit)]);
    disk.limit_room(Some(0));
    attend(&mut bench.following, bench.sources).await.unwrap();
    let last = bench.kept.0.lock().unwrap().last().cloned();
    assert!(
        matches!(last, Some(Verdict::End { elapsed_s, .. }) if (86_399.0..86_402.0).contains(&elapsed_s)),
        "{last:?}"
    );
    assert!(faults(&bench.kept).iter().any(|(text, over)| text.contains("log") && !over), "{:?}", faults(&bench.kept));
    assert!(bench.following.finish_log().is_err(), "the rows that the disk refused are given back");
}

#[tokio::test(start_paused = true)]
async fn cues_come_on_the_second_without_any_reading() {
    let mut bench = bench(None);
    operator(bench.operator, vec![(2, Word::On), (12, Word::Off), (602, Word::On), (620, Word::Quit)]);
    attend(&mut bench.following, bench.sources).await.unwrap();
    let expected = [0.0, 12.0, 602.0, 612.0];
    let found = cues(&bench.kept);
    assert!(
        found.len() == 4 && found.iter().zip(expected).all(|(found, expected)| (found - expected).abs() < 0.05),
        "{found:?}"
    );
}

#[tokio::test(start_paused = true)]
async fn a_dead_cable_is_noticed_without_any_reading() {
    let mut bench = bench(None);
    operator(bench.operator, vec![(30, Word::Quit)]);
    attend(&mut bench.following, bench.sources).await.unwrap();
    assert_eq!(faults(&bench.kept).len(), 1, "{:?}", faults(&bench.kept));
}

#[tokio::test(start_paused = true)]
async fn a_port_that_goes_and_comes_back_is_told_once_each() {
    let mut bench = bench(None);
    operator(bench.operator, vec![(9, Word::Quit)]);
    let why = Lost::Missing { path: "/dev/board".into() };
    for event in [PortEvent::Lost { why }, PortEvent::Back] {
        bench.port.send(told(event)).await.unwrap();
    }
    attend(&mut bench.following, bench.sources).await.unwrap();
    let over: Vec<bool> = faults(&bench.kept).into_iter().map(|(_, over)| over).collect();
    assert_eq!((over, bench.following.run().snapshot().ports_lost), (vec![false, true], Vec::<String>::new()));
}

#[tokio::test(start_paused = true)]
async fn a_word_that_nobody_knows_is_answered_with_those_that_are() {
    let mut bench = bench(None);
    bench.operator.send(Said::Unknown("open".into())).await.unwrap();
    operator(bench.operator, vec![(3, Word::Quit)]);
    attend(&mut bench.following, bench.sources).await.unwrap();
    let said = bench.kept.0.lock().unwrap();
    assert!(
        said.iter().any(|verdict| matches!(verdict, Verdict::Notice { text, .. } if text.contains("pause, resume")))
    );
}

#[tokio::test(start_paused = true)]
async fn a_word_that_was_said_before_a_line_is_taken_before_it() {
    let mut bench = bench(None);
    bench.port.send(line(18.0)).await.unwrap();
    bench.operator.send(Said::Word(Word::On)).await.unwrap();
    operator(bench.operator, vec![(3, Word::Quit)]);
    let attended = timeout(Duration::from_secs(60), attend(&mut bench.following, bench.sources)).await;
    attended.unwrap().unwrap();
    let snapshot = bench.following.run().snapshot();
    assert!(snapshot.burner.is_some_and(|burner| burner.since.0 < 0.05), "{:?}", snapshot.burner);
}

fn notices(kept: &Kept) -> Vec<String> {
    let said = kept.0.lock().unwrap();
    let notices = said.iter().filter_map(|verdict| match verdict {
        Verdict::Notice { text, .. } => Some(text.clone()),
        _ => None,
    });
    notices.collect()
}

fn log_on(disk: &TrialDisk, options: LogOptions) -> LogWriter {
    LogWriter::create_on(disk.clone(), std::path::Path::new("trial.csv"), &head(), options).unwrap()
}

#[tokio::test(start_paused = true)]
async fn rows_that_a_full_disk_refused_are_all_there_once_it_has_room_again() {
    let disk = TrialDisk::default();
    let options = LogOptions { retry_after: Duration::from_millis(5), ..LogOptions::default() };
    let mut bench = bench(Some(log_on(&disk, options)));
    steady_board(bench.port, Duration::from_secs(2));
    operator(bench.operator, vec![(1, Word::On), (11, Word::Off), (1800, Word::Quit)]);
    disk.limit_room(Some(disk.live().len()));
    attend(&mut bench.following, bench.sources).await.unwrap();
    disk.limit_room(None);
    bench.following.finish_log().unwrap();
    let book = LogBook::from_bytes(std::path::Path::new("trial.csv"), &disk.live()).unwrap();
    let lines = book.inputs().filter(|input| matches!(input.event, firstheat::run::Event::Readings(_))).count();
    assert!(book.is_whole() && lines >= 899, "{lines} lines, {:?}", book.damage);
}

#[tokio::test(start_paused = true)]
async fn refused_syncs_are_said_on_the_screen_and_following_goes_on() {
    let disk = TrialDisk::default();
    let options = LogOptions {
        retry_after: Duration::from_millis(5),
        sync_every: Duration::from_millis(1),
        ..LogOptions::default()
    };
    let mut bench = bench(Some(log_on(&disk, options)));
    steady_board(bench.port, Duration::from_secs(2));
    operator(bench.operator, vec![(1, Word::On), (11, Word::Off), (20_000, Word::Quit)]);
    disk.refuse_syncs(3);
    attend(&mut bench.following, bench.sources).await.unwrap();
    bench.following.finish_log().unwrap();
    let book = LogBook::from_bytes(std::path::Path::new("trial.csv"), &disk.live()).unwrap();
    assert!(book.is_whole());
    let told: Vec<bool> =
        faults(&bench.kept).iter().filter(|(text, _)| text.contains("log")).map(|one| one.1).collect();
    assert_eq!(told.first(), Some(&false), "{:?}", faults(&bench.kept));
}

#[tokio::test(start_paused = true)]
async fn a_clock_that_is_set_back_and_forward_moves_no_cue() {
    let hours = Arc::new(AtomicI64::new(0));
    let told = Arc::clone(&hours);
    // Summer time begins: the offset changes as well as the hour.
    let wall_clock = WallClock::new(move || {
        let hours = told.load(Ordering::Relaxed);
        let zone = FixedOffset::east_opt(if hours > 0 { 7200 } else { 3600 }).unwrap();
        let noon: DateTime<FixedOffset> = "2026-03-29T01:59:00+01:00".parse().unwrap();
        (noon + TimeDelta::hours(hours)).with_timezone(&zone)
    });
    let disk = TrialDisk::default();
    let mut bench = bench(Some(log_on(&disk, LogOptions { wall_clock, ..LogOptions::default() })));
    tokio::spawn(async move {
        for set in [-5, 1, 40] {
            sleep(Duration::from_secs(100)).await;
            hours.store(set, Ordering::Relaxed);
        }
    });
    operator(bench.operator, vec![(2, Word::On), (12, Word::Off), (602, Word::On), (620, Word::Quit)]);
    attend(&mut bench.following, bench.sources).await.unwrap();
    bench.following.finish_log().unwrap();
    let found = cues(&bench.kept);
    let expected = [0.0, 12.0, 602.0, 612.0];
    assert!(
        found.len() == 4 && found.iter().zip(expected).all(|(found, expected)| (found - expected).abs() < 0.05),
        "{found:?}"
    );
    let book = LogBook::from_bytes(std::path::Path::new("trial.csv"), &disk.live()).unwrap();
    let mut again = run();
    let now: Vec<Verdict> = book.inputs().flat_map(|input| again.step(input)).collect();
    assert_eq!(now, *bench.kept.0.lock().unwrap());
    assert!(book.inputs().zip(book.inputs().skip(1)).all(|(one, next)| next.elapsed.0 >= one.elapsed.0));
}

#[tokio::test(start_paused = true)]
async fn a_computer_that_slept_says_how_long_nothing_was_watched() {
    let slept_ms = Arc::new(AtomicU64::new(0));
    let watch = Stopwatch::at(Seconds(0.0), SleepClock::Told(Arc::clone(&slept_ms)));
    let mut bench = bench_timed(None, Time::Clock(watch));
    tokio::spawn(async move {
        sleep(Duration::from_secs(100)).await;
        slept_ms.store(3_600_000, Ordering::Relaxed);
    });
    operator(bench.operator, vec![(1, Word::On), (11, Word::Off), (200, Word::Quit)]);
    attend(&mut bench.following, bench.sources).await.unwrap();
    assert!(
        notices(&bench.kept).iter().any(|text| text.contains("1 h were not watched")),
        "{:?}",
        notices(&bench.kept)
    );
    let elapsed_s = bench.following.run().snapshot().elapsed.0;
    assert!((elapsed_s - 3800.0).abs() < 2.0, "{elapsed_s}");
}
