//! Kills a program that keeps a log, at random moments: every row it said was safe is there afterwards.

#![allow(clippy::unwrap_used)]

mod log_trials;

use std::env;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread;
use std::time::Duration;

use firstheat::app::follow::replayed;
use firstheat::app::replay::documents_of;
use firstheat::lining::text::digest;
use firstheat::log::{Document, Head, LogBook, LogWriter, PROGRAM, Recorded, read};
use firstheat::physics::Belief;
use firstheat::reading::{Channel, Fault, Reading};
use firstheat::run::{Event, Input, Run, TimeSource, Verdict, Word};
use firstheat::units::{Celsius, Seconds};
use log_trials::{head, input, notice, options, reading, said};

/// Names the log to the child. The child is this test again, as a program of its own.
const CHILD_LOG: &str = "FIRSTHEAT_KILL_TEST_LOG";

/// How many logs are kept.
const LOGS: u32 = 10;

/// How often the child that keeps a log is killed, each time to be taken up by the next.
const KILLS_PER_LOG: u32 = 10;

/// More kills than the usual ones: ten times as many logs with `FIRSTHEAT_KILL_TIMES=10`.
const TIMES: &str = "FIRSTHEAT_KILL_TIMES";

/// How often a followed heat-up is killed, for each time.
const KILLS_OF_A_HEAT_UP: u32 = 20;

fn times() -> u32 {
    env::var(TIMES).ok().and_then(|times| times.parse().ok()).unwrap_or(1)
}

#[test]
fn rows_acknowledged_before_kill_9_are_all_in_the_log() {
    if let Some(path) = env::var_os(CHILD_LOG) {
        log_until_killed(Path::new(&path));
    }
    let directory = tempfile::tempdir().unwrap();
    let mut random = Random(0x5eed);
    let mut lives = 0;
    for log in 0..LOGS * times() {
        let path = directory.path().join(format!("{log}.csv"));
        let mut acknowledged = None;
        for kill in 0..KILLS_PER_LOG {
            // Most are killed while they log, some while they begin or take up a log.
            let moment = if random.below(5) == 0 { Moment::AfterStart } else { Moment::AfterFirstWords };
            let after = Duration::from_micros(random.below(30_000));
            let safe_row = kill_a_child("rows_acknowledged_before_kill_9_are_all_in_the_log", &path, moment, after);
            lives += u32::from(safe_row.is_some());
            acknowledged = safe_row.or(acknowledged);
            assert_holds(&path, acknowledged).unwrap_or_else(|why| panic!("log {log}, kill {kill}: {why}"));
        }
        let (writer, book) = LogWriter::append(&path, options()).unwrap();
        writer.finish().unwrap();
        assert_eq!(read(&path).unwrap().steps, book.steps);
    }
    assert!(lives > LOGS * times() * KILLS_PER_LOG / 2, "only {lives} children lived long enough to say anything");
}

#[test]
fn a_heat_up_killed_again_and_again_is_believed_as_if_it_had_never_stopped() {
    if let Some(path) = env::var_os(CHILD_LOG) {
        follow_until_killed(Path::new(&path));
    }
    let directory = tempfile::tempdir().unwrap();
    let mut random = Random(0xf1a7);
    for heat_up in 0..times() {
        let path = directory.path().join(format!("heat-up-{heat_up}.csv"));
        let mut acknowledged = None;
        for kill in 0..KILLS_OF_A_HEAT_UP {
            let after = Duration::from_micros(random.below(150_000));
            let this = "a_heat_up_killed_again_and_again_is_believed_as_if_it_had_never_stopped";
            acknowledged = kill_a_child(this, &path, Moment::AfterFirstWords, after).or(acknowledged);
            let book = read(&path).unwrap();
            assert!(book.last_row >= acknowledged.unwrap_or(0) && book.is_whole(), "kill {kill}: {:?}", book.damage);
        }
        let book = read(&path).unwrap();
        let taken_up = run_of(&book);
        let mut unbroken = new_run(&path);
        for step in 0..book.steps.len() {
            unbroken.step(&heat_up_input(step));
        }
        assert!(book.steps.len() > 100, "only {} steps", book.steps.len());
        assert_eq!(format!("{taken_up:?}"), format!("{unbroken:?}"));
    }
}

fn heat_up_head() -> Head {
    let document = |text: &str| Document { text: text.to_owned(), digest: digest(text) };
    Head {
        program: PROGRAM.to_owned(),
        seed: 1,
        time_source: TimeSource::Computer,
        estimates_every: Seconds(60.0),
        options: vec![("members".to_owned(), "1".to_owned())],
        lining: document(include_str!("../schedules/school-foundry-crucible.toml")),
        plan: document(
            "format = \"firstheat plan 1\"\nlining = \"school foundry crucible furnace\"\n[limits]\n\
             danger_ceiling = 0.5\nramp_k_per_h = 56.0\nservice_c = 1200.0\nsoak_c = 400.0\nsoak_s = 300.0\n\
             [[round]]\ncount = 90\non_s = 10.0\noff_s = 110.0\nbinds = \"ramp\"\n",
        ),
        probes: document(
            "format = \"firstheat probes 1\"\n[[port]]\npath = \"/dev/null\"\n[[port.channel]]\nname = \"hot\"\n\
             place = \"hot-face\"\nsection = \"wall\"\ntype = \"K\"\n",
        ),
    }
}

/// What happens in the step with this number: one reading a second, and the operator obeys.
fn heat_up_input(number: usize) -> Input {
    let now_s = number as f64;
    let event = match number % 120 {
        1 => Event::Operator(Word::On),
        11 => Event::Operator(Word::Off),
        _ => {
            let temp_c = 20.0 + now_s / 60.0 + 0.1 * (number % 7) as f64;
            Event::Readings(vec![Reading { channel: Channel::new("hot"), value: Ok(Celsius(temp_c)) }])
        }
    };
    Input { elapsed: Seconds(now_s), event }
}

fn new_run(path: &Path) -> Run {
    let documents = documents_of(&heat_up_head(), path).unwrap();
    Run::new(documents.setup(Belief { members: 1, seed: 1 }, TimeSource::Computer)).unwrap()
}

fn run_of(book: &LogBook) -> Run {
    let head = book.head().unwrap();
    replayed(&documents_of(head, &book.path).unwrap(), head, book).unwrap()
}

/// Follows as fast as it can, from where the log has got to, and says after each step which row is safe.
fn follow_until_killed(path: &Path) -> ! {
    let (mut writer, mut run, begun) = if path.exists() {
        let (writer, book) = LogWriter::append(path, options()).unwrap();
        (writer, run_of(&book), book.steps.len())
    } else {
        (LogWriter::create(path, &heat_up_head(), options()).unwrap(), new_run(path), 0)
    };
    let mut out = std::io::stdout();
    for number in begun.. {
        let input = heat_up_input(number);
        let verdicts = run.step(&input);
        assert!(matches!(writer.record(&input, &verdicts), Recorded::Row(_)));
        writeln!(out, "safe {}", writer.durable_row()).unwrap();
        thread::sleep(Duration::from_micros(500));
    }
    unreachable!("there is always another step")
}

/// Whether the log holds every row up to the acknowledged one, and steps 0, 1, 2 ... without a hole.
fn assert_holds(path: &Path, acknowledged: Option<u64>) -> Result<(), String> {
    let book = match read(path) {
        Err(_) if acknowledged.is_none() => {
            // Killed before the head was safe: as if it had never been begun.
            let _ = std::fs::remove_file(path);
            return Ok(());
        }
        read => read.map_err(|error| error.to_string())?,
    };
    if book.last_row < acknowledged.unwrap_or(0) {
        return Err(format!("row {acknowledged:?} was acknowledged, the last is {}", book.last_row));
    }
    if !book.is_whole() {
        return Err(format!("damaged: {:?}", book.damage));
    }
    let expected: Vec<_> = (0..book.steps.len()).map(step).collect();
    if said(&book.steps) == expected { Ok(()) } else { Err("a step is missing or changed".to_owned()) }
}

/// From when on the time until the kill counts.
#[derive(Clone, Copy, PartialEq)]
enum Moment {
    AfterStart,
    AfterFirstWords,
}

/// Starts a child, kills it, and gives the last row it said was safe, if it came so far.
fn kill_a_child(test: &str, path: &Path, moment: Moment, after: Duration) -> Option<u64> {
    let mut child = Command::new(env::current_exe().unwrap())
        .args([test, "--exact", "--nocapture"])
        .env(CHILD_LOG, path)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut out = BufReader::new(child.stdout.take().unwrap());
    let mut words = String::new();
    while moment == Moment::AfterFirstWords && !words.contains("safe ") {
        assert!(out.read_line(&mut words).unwrap() > 0, "the child ended by itself");
    }
    thread::sleep(after);
    child.kill().unwrap();
    child.wait().unwrap();
    out.read_to_string(&mut words).unwrap();
    let complete = words.rsplit_once('\n').map_or("", |(complete, _)| complete);
    complete.lines().filter_map(|line| line.strip_prefix("safe ")).filter_map(|row| row.parse().ok()).next_back()
}

/// Logs as fast as it can and says after each step which row is safe.
fn log_until_killed(path: &Path) -> ! {
    let (mut writer, begun) = if path.exists() {
        let (writer, book) = LogWriter::append(path, options()).unwrap();
        (writer, book.steps.len())
    } else {
        (LogWriter::create(path, &head(), options()).unwrap(), 0)
    };
    let mut out = std::io::stdout();
    for number in begun.. {
        let (input, verdicts) = step(number);
        assert!(matches!(writer.record(&input, &verdicts), Recorded::Row(_)));
        writeln!(out, "safe {}", writer.durable_row()).unwrap();
        thread::sleep(Duration::from_micros(50));
    }
    unreachable!("there is always another step")
}

/// The step with this number.
fn step(number: usize) -> (Input, Vec<Verdict>) {
    let elapsed_s = number as f64 * 0.1;
    let readings = vec![reading("arch", Ok(20.0 + elapsed_s)), reading("shell", Err(Fault::Stale))];
    (input(elapsed_s, Event::Readings(readings)), vec![notice(elapsed_s, &format!("step {number}"))])
}

/// A small generator of numbers that look random, the same in every run (Marsaglia's xorshift, 2003).
struct Random(u64);

impl Random {
    fn below(&mut self, bound: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % bound
    }
}
