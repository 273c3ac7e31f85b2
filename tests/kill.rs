//! Kills a program that keeps a log, at random moments: every row it said was safe is there afterwards.

#![allow(clippy::unwrap_used)]

mod log_trials;

use std::env;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread;
use std::time::Duration;

use firstheat::log::{LogWriter, Recorded, read};
use firstheat::reading::Fault;
use firstheat::run::{Event, Input, Verdict};
use log_trials::{head, input, notice, options, reading, said};

/// Names the log to the child. The child is this test again, as a program of its own.
const CHILD_LOG: &str = "FIRSTHEAT_KILL_TEST_LOG";

/// How many logs are kept.
const LOGS: u32 = 10;

/// How often the child that keeps a log is killed, each time to be taken up by the next.
const KILLS_PER_LOG: u32 = 10;

#[test]
fn rows_acknowledged_before_kill_9_are_all_in_the_log() {
    if let Some(path) = env::var_os(CHILD_LOG) {
        log_until_killed(Path::new(&path));
    }
    let directory = tempfile::tempdir().unwrap();
    let mut random = Random(0x5eed);
    let mut lives = 0;
    for log in 0..LOGS {
        let path = directory.path().join(format!("{log}.csv"));
        let mut acknowledged = None;
        for kill in 0..KILLS_PER_LOG {
            // Most are killed while they log, some while they begin or take up a log.
            let moment = if random.below(5) == 0 { Moment::AfterStart } else { Moment::AfterFirstWords };
            let safe_row = kill_a_child_that_logs_to(&path, moment, Duration::from_micros(random.below(30_000)));
            lives += u32::from(safe_row.is_some());
            acknowledged = safe_row.or(acknowledged);
            assert_holds(&path, acknowledged).unwrap_or_else(|why| panic!("log {log}, kill {kill}: {why}"));
        }
        let (writer, book) = LogWriter::append(&path, options()).unwrap();
        writer.finish().unwrap();
        assert_eq!(read(&path).unwrap().steps, book.steps);
    }
    assert!(lives > LOGS * KILLS_PER_LOG / 2, "only {lives} children lived long enough to say anything");
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
fn kill_a_child_that_logs_to(path: &Path, moment: Moment, after: Duration) -> Option<u64> {
    let mut child = Command::new(env::current_exe().unwrap())
        .args(["rows_acknowledged_before_kill_9_are_all_in_the_log", "--exact", "--nocapture"])
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
