//! Ports on real pseudo-terminals: old bytes, torn lines, silence, unplugging and plugging in again.
//!
//! A pseudo-terminal whose far end closes takes the same way through the kernel as a USB board that is pulled.

#![allow(clippy::unwrap_used)]

use std::io::{BufRead, BufReader, Write};
use std::os::unix::fs::symlink;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use firstheat::probe::feed::channel;
use firstheat::probe::port::{PortReader, Stopped};
use firstheat::probe::source::Source;
use firstheat::probe::{Lost, PortEvent, PortSpec, Told, file};
use firstheat::reading::{Channel, Fault, Reading};
use firstheat::units::{Celsius, Seconds};
use serialport::{SerialPort, TTYPort};
use tempfile::TempDir;
use tokio::sync::mpsc::Receiver;

/// Longest wait for an event that must come.
const PATIENCE: Duration = Duration::from_secs(5);

/// A board: the far end of a pseudo-terminal, known by a stable name as the system gives USB boards one.
///
/// Numbers of pseudo-terminals are used again at once, so a reader that went by number would find another test's board.
struct Board {
    far: TTYPort,
    /// Held so that bytes sent before anybody reads wait in the port, as they do in a real one.
    near: TTYPort,
    shelf: TempDir,
}

impl Board {
    fn new() -> Self {
        let (far, near) = TTYPort::pair().unwrap();
        let board = Self { far, near, shelf: tempfile::tempdir().unwrap() };
        symlink(board.near.name().unwrap(), board.shelf.path().join("usb-board")).unwrap();
        board
    }

    /// Its stable name.
    fn path(&self) -> String {
        self.shelf.path().join("usb-board").to_str().unwrap().to_owned()
    }

    fn send(&mut self, bytes: &[u8]) {
        self.far.write_all(bytes).unwrap();
    }

    fn read(&self) -> (PortReader, Receiver<Told>) {
        read(&self.path())
    }

    /// Pulls the cable: the name goes, and then the line.
    fn pull(self) -> TempDir {
        std::fs::remove_file(self.path()).unwrap();
        self.shelf
    }

    /// Another board that comes under the name on `shelf`, with `stale` bytes waiting.
    fn plug(shelf: TempDir, stale: &[u8]) -> Self {
        let (far, near) = TTYPort::pair().unwrap();
        let mut board = Self { far, near, shelf };
        board.send(stale);
        symlink(board.near.name().unwrap(), board.path()).unwrap();
        board
    }
}

fn read(path: &str) -> (PortReader, Receiver<Told>) {
    let (sender, receiver) = channel();
    (PortReader::start(spec(path), sender).unwrap(), receiver)
}

/// A port with two channels, `hot` and `core`.
fn spec(path: &str) -> PortSpec {
    let text = format!(
        r#"
        format = "firstheat probes 1"
        [[port]]
        path = "{path}"
        [[port.channel]]
        name = "hot"
        place = "chamber-gas"
        type = "K"
        [[port.channel]]
        name = "core"
        place = "metal-contact"
        section = "wall"
        type = "K"
        "#
    );
    file::parse(&text).unwrap().ports.remove(0)
}

fn next(receiver: &mut Receiver<Told>) -> PortEvent {
    let began = Instant::now();
    loop {
        match receiver.try_recv() {
            Ok(told) => return told.event,
            Err(_) if began.elapsed() < PATIENCE => sleep(Duration::from_millis(2)),
            Err(why) => panic!("nothing came within {PATIENCE:?}: {why}"),
        }
    }
}

fn next_text(receiver: &mut Receiver<Told>) -> String {
    match next(receiver) {
        PortEvent::Line { text, .. } => text,
        other => panic!("{other:?} instead of a line"),
    }
}

fn next_loss(receiver: &mut Receiver<Told>) -> Lost {
    match next(receiver) {
        PortEvent::Lost { why } => why,
        other => panic!("{other:?} instead of a loss"),
    }
}

#[test]
fn a_line_that_is_sent_becomes_readings() {
    let mut board = Board::new();
    let (_reader, mut told) = board.read();
    board.send(b"\r\nt=12.5 hot=345.2 core=open\r\n");
    let reading = |channel, value| Reading { channel: Channel::new(channel), value };
    let expected = PortEvent::Line {
        text: "t=12.5 hot=345.2 core=open".to_owned(),
        board_time: Some(Seconds(12.5)),
        readings: vec![reading("hot", Ok(Celsius(345.2))), reading("core", Err(Fault::Open))],
    };
    assert_eq!(next(&mut told), expected);
}

#[test]
fn bytes_from_before_the_port_was_opened_are_never_told() {
    let mut board = Board::new();
    board.send(b"\nhot=999\nhot=998\nhot=99");
    let (_reader, mut told) = board.read();
    board.send(b"7\nhot=20.5\n");
    assert_eq!(next_text(&mut told), "hot=20.5");
}

#[test]
fn the_tail_of_a_torn_first_line_is_never_told() {
    let mut board = Board::new();
    let (_reader, mut told) = board.read();
    board.send(b"t=45.2\nhot=20.5\n");
    assert_eq!(next_text(&mut told), "hot=20.5");
}

#[test]
fn a_line_in_pieces_is_told_once_it_is_whole() {
    let mut board = Board::new();
    let (_reader, mut told) = board.read();
    board.send(b"\nhot=3");
    sleep(Duration::from_millis(150));
    assert!(told.try_recv().is_err(), "told before the line ended");
    board.send(b"45.2\n");
    assert_eq!(next_text(&mut told), "hot=345.2");
}

#[test]
fn garbage_is_told_as_such_and_the_next_line_is_read() {
    let mut board = Board::new();
    let (_reader, mut told) = board.read();
    board.send(b"\n\xff\xfe\x00T=\nhot=345.2\n");
    assert!(matches!(next(&mut told), PortEvent::Garbled { text, .. } if text == r"\xff\xfe\x00T="));
    assert_eq!(next_text(&mut told), "hot=345.2");
}

/// Opening raises DTR, which resets many boards: silence, the rest of a line at the boot loader's speed, a greeting, readings.
#[test]
fn a_board_that_restarts_when_it_is_opened_is_read_from_its_first_line_on() {
    let mut board = Board::new();
    let (_reader, mut told) = board.read();
    sleep(Duration::from_millis(600));
    board.send(b"\x00\xf8\x80");
    sleep(Duration::from_millis(200));
    board.send(b"\r\n# board ready, 2 probes\r\n\r\nt=0.5 hot=20.5\r\n");
    assert_eq!(next_text(&mut told), "t=0.5 hot=20.5");
}

/// On a line that is not raw, 0x7f rubs a digit out and 0x15 the whole line: 512.25 would read 51.25.
#[test]
fn control_bytes_do_not_edit_the_line() {
    let mut board = Board::new();
    let (_reader, mut told) = board.read();
    board.send(b"\nhot=512\x7f.25\nhot=5\x1512.25\n");
    for _ in 0..2 {
        assert!(matches!(next(&mut told), PortEvent::Garbled { .. }));
    }
}

#[test]
fn silence_is_no_event_and_ends_nothing() {
    let mut board = Board::new();
    let (_reader, mut told) = board.read();
    sleep(Duration::from_millis(1300));
    assert!(told.try_recv().is_err());
    board.send(b"\nhot=345.2\n");
    assert_eq!(next_text(&mut told), "hot=345.2");
}

#[test]
fn a_pulled_board_is_told_at_once() {
    let board = Board::new();
    let (_reader, mut told) = board.read();
    let pulled = Instant::now();
    let _shelf = board.pull();
    assert!(matches!(next_loss(&mut told), Lost::Unplugged { .. }));
    assert!(pulled.elapsed() < Duration::from_secs(1), "after {:?}", pulled.elapsed());
}

#[test]
fn a_board_that_comes_back_under_another_number_is_found_by_its_stable_name() {
    let board = Board::new();
    let (_reader, mut told) = board.read();
    let shelf = board.pull();
    assert!(matches!(next_loss(&mut told), Lost::Unplugged { .. }));
    let mut board = Board::plug(shelf, b"\nhot=999\nhot=99");
    assert_eq!(next(&mut told), PortEvent::Back);
    board.send(b"8\nhot=21.5\n");
    assert_eq!(next_text(&mut told), "hot=21.5");
}

#[test]
fn a_board_that_is_pulled_a_hundred_times_comes_back_within_three_seconds_each_time() {
    let mut board = Board::new();
    let (_reader, mut told) = board.read();
    for cycle in 0..100 {
        let shelf = board.pull();
        assert!(matches!(next_loss(&mut told), Lost::Unplugged { .. }), "cycle {cycle}");
        let plugged = Instant::now();
        board = Board::plug(shelf, b"\nhot=999\nhot=99");
        assert_eq!(next(&mut told), PortEvent::Back, "cycle {cycle}");
        assert!(plugged.elapsed() < Duration::from_secs(3), "cycle {cycle}: after {:?}", plugged.elapsed());
        board.send(format!("8\nhot={cycle}.5\n").as_bytes());
        assert_eq!(next_text(&mut told), format!("hot={cycle}.5"));
    }
}

#[test]
fn a_loss_is_told_once_however_long_it_lasts() {
    let board = Board::new();
    let (_reader, mut told) = board.read();
    let _shelf = board.pull();
    next_loss(&mut told);
    sleep(Duration::from_millis(1200));
    assert!(told.try_recv().is_err(), "told again");
}

#[test]
fn a_silent_port_whose_name_leads_elsewhere_is_let_go_of() {
    let silent = Board::new();
    let (_reader, mut told) = silent.read();
    let mut other = Board::new();
    std::fs::remove_file(silent.path()).unwrap();
    symlink(other.near.name().unwrap(), silent.path()).unwrap();
    assert!(matches!(next_loss(&mut told), Lost::Moved { .. }));
    assert_eq!(next(&mut told), PortEvent::Back);
    other.send(b"\nhot=21.5\n");
    assert_eq!(next_text(&mut told), "hot=21.5");
}

#[test]
fn a_port_that_is_not_there_yet_can_be_waited_for() {
    let shelf = tempfile::tempdir().unwrap();
    let (sender, mut told) = channel();
    let path = shelf.path().join("usb-board").to_str().unwrap().to_owned();
    let reader = PortReader::start_waiting(spec(&path), sender).unwrap();
    assert!(matches!(next_loss(&mut told), Lost::Missing { .. }));
    let _board = Board::plug(shelf, b"");
    assert_eq!(next(&mut told), PortEvent::Back);
    assert_eq!(reader.stop(), Stopped::Ended);
}

#[test]
fn a_reader_stops_within_its_limit() {
    let board = Board::new();
    let (reader, _told) = board.read();
    let asked = Instant::now();
    assert_eq!(reader.stop(), Stopped::Ended);
    assert!(asked.elapsed() < Duration::from_secs(1), "after {:?}", asked.elapsed());
}

#[test]
fn a_reader_ends_and_frees_the_port_when_nobody_listens() {
    let board = Board::new();
    let (_reader, told) = board.read();
    drop(told);
    let began = Instant::now();
    let (sender, _told) = channel();
    while PortReader::start(spec(&board.path()), sender.clone()).is_err() {
        assert!(began.elapsed() < PATIENCE, "the port is still held");
        sleep(Duration::from_millis(10));
    }
}

#[test]
fn two_readers_of_one_port_are_refused() {
    let board = Board::new();
    let (_reader, _told) = board.read();
    let refused = refusal(&board.path());
    assert!(matches!(refused, Lost::Busy { .. }), "{refused}");
}

#[test]
fn what_is_no_port_is_refused_with_the_reason() {
    let shelf = tempfile::tempdir().unwrap();
    let file = shelf.path().join("a-file");
    std::fs::write(&file, "hot=1\n").unwrap();
    let paths = [shelf.path().join("nothing"), shelf.path().to_owned(), file, "/dev/null".into()];
    let told: Vec<String> = paths.iter().map(|path| refusal(path.to_str().unwrap()).to_string()).collect();
    let told = told.join("\n").replace(shelf.path().to_str().unwrap(), "[shelf]");
    insta::assert_snapshot!(told);
}

fn refusal(path: &str) -> Lost {
    let (sender, _told) = channel();
    PortReader::start(spec(path), sender).unwrap_err()
}

#[test]
fn a_file_gives_the_same_events_and_then_its_end() {
    let shelf = tempfile::tempdir().unwrap();
    let path = shelf.path().join("lines.txt");
    std::fs::write(&path, "hot=20.5\n\nhot=21.5\nhot=2").unwrap();
    let (sender, mut told) = channel();
    let _source = Source::start(spec(path.to_str().unwrap()), sender).unwrap();
    assert_eq!([next_text(&mut told), next_text(&mut told)], ["hot=20.5", "hot=21.5"]);
    assert!(matches!(next(&mut told), PortEvent::Garbled { text, .. } if text == "hot=2"));
    assert!(matches!(next_loss(&mut told), Lost::Ended { .. }));
}

#[test]
fn a_file_longer_than_the_channel_is_read_to_the_last_line() {
    let shelf = tempfile::tempdir().unwrap();
    let path = shelf.path().join("lines.txt");
    let lines: Vec<String> = (0..5000).map(|line| format!("t={line} hot=20.5\n")).collect();
    std::fs::write(&path, lines.concat()).unwrap();
    let (sender, mut told) = channel();
    let _source = Source::start(spec(path.to_str().unwrap()), sender).unwrap();
    let last = (0..5000).map(|_| next_text(&mut told)).last();
    assert_eq!(last.as_deref(), Some("t=4999 hot=20.5"));
}

#[test]
fn a_slow_consumer_is_told_how_many_lines_were_dropped() {
    let mut board = Board::new();
    let (sender, mut told) = tokio::sync::mpsc::channel(4);
    let _reader = PortReader::start(spec(&board.path()), sender).unwrap();
    board.send(b"\n");
    for _ in 0..10 {
        board.send(b"hot=20.5\n");
    }
    sleep(Duration::from_millis(200));
    let kept = (0..4).filter(|_| matches!(next(&mut told), PortEvent::Line { .. })).count();
    assert_eq!((kept, next(&mut told)), (4, PortEvent::Missed { lines: 6 }));
}

/// The feeder, an independent program that plays furnace and board.
struct Feeder {
    program: Child,
    words: ChildStdin,
    says: BufReader<std::process::ChildStdout>,
    path: String,
}

impl Feeder {
    fn start(arguments: &[&str]) -> Self {
        let mut program = Command::new("python3")
            .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/feeder/feeder.py"))
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("python3, which the feeder is written in");
        let words = program.stdin.take().unwrap();
        let mut says = BufReader::new(program.stdout.take().unwrap());
        let mut path = String::new();
        says.read_line(&mut path).unwrap();
        Self { program, words, says, path: path.trim().to_owned() }
    }

    fn tell(&mut self, line: &str) {
        writeln!(self.words, "{line}").unwrap();
    }

    fn answer(&mut self) -> String {
        let mut word = String::new();
        self.says.read_line(&mut word).unwrap();
        word.trim().to_owned()
    }
}

impl Drop for Feeder {
    fn drop(&mut self) {
        let _ = self.program.kill();
        let _ = self.program.wait();
    }
}

/// Reads a line of the feeder: its time and its temperatures.
fn next_from_feeder(told: &mut Receiver<Told>) -> (Seconds, Vec<f64>) {
    match next(told) {
        PortEvent::Line { board_time: Some(at), readings, .. } => {
            (at, readings.iter().map(|reading| reading.value.unwrap().0).collect())
        }
        other => panic!("{other:?} instead of a line with a time"),
    }
}

#[test]
fn a_named_pipe_is_read_like_a_port() {
    let shelf = tempfile::tempdir().unwrap();
    let path = shelf.path().join("pipe").to_str().unwrap().to_owned();
    assert!(Command::new("mkfifo").arg(&path).status().unwrap().success());
    let (sender, mut told) = channel();
    let _source = Source::start(spec(&path), sender).unwrap();
    let _feeder = Feeder::start(&["--port", &path, "--speedup", "100", "--until", "3"]);
    let times: Vec<Seconds> = (0..4).map(|_| next_from_feeder(&mut told).0).collect();
    assert_eq!(times, [0.0, 1.0, 2.0, 3.0].map(Seconds));
    assert!(matches!(next_loss(&mut told), Lost::Ended { .. }));
}

#[test]
fn the_feeder_keeps_a_schedule_and_breaks_a_probe() {
    let shelf = tempfile::tempdir().unwrap();
    let schedule = shelf.path().join("schedule");
    std::fs::write(&schedule, "2 on\n6 off\n").unwrap();
    let arguments = ["--speedup", "50", "--schedule", schedule.to_str().unwrap(), "--fault", "core=open@8"];
    let mut feeder = Feeder::start(&arguments);
    let (_reader, mut told) = read(&feeder.path);
    let mut lines: Vec<Vec<Reading>> = vec![Vec::new(); 9];
    while lines[8].is_empty() {
        if let PortEvent::Line { board_time: Some(at), readings, .. } = next(&mut told) {
            lines[at.0 as usize] = readings;
        }
    }
    assert_eq!((feeder.answer(), feeder.answer()), ("on".to_owned(), "off".to_owned()));
    assert!(lines[6][0].value.unwrap().0 > lines[3][0].value.unwrap().0 + 5.0, "{lines:?}");
    assert_eq!((lines[7][1].value.is_ok(), lines[8][1].value), (true, Err(Fault::Open)));
}

#[test]
fn the_feeder_obeys_a_cue_in_lockstep_and_heats() {
    let mut feeder = Feeder::start(&["--lockstep", "--period", "10"]);
    let (_reader, mut told) = read(&feeder.path);
    let (at, cold) = next_from_feeder(&mut told);
    assert_eq!(at, Seconds(0.0));
    feeder.tell(r#"{"kind":"cue","elapsed_s":0,"burner":"on","in_s":5}"#);
    feeder.tell(r#"{"kind":"reading","elapsed_s":0}"#);
    let (at, warm) = next_from_feeder(&mut told);
    assert_eq!((at, feeder.answer().as_str()), (Seconds(10.0), "on"));
    assert!(warm[0] > cold[0] + 5.0, "hot face from {} to {}", cold[0], warm[0]);
}

#[test]
fn the_feeder_that_overheats_does_not_shut_its_burner() {
    let mut feeder = Feeder::start(&["--lockstep", "--period", "10", "--overheat"]);
    let (_reader, mut told) = read(&feeder.path);
    let (_, mut before) = next_from_feeder(&mut told);
    feeder.tell("on");
    feeder.tell(r#"{"kind":"cue","elapsed_s":0,"burner":"off","in_s":0}"#);
    for _ in 0..5 {
        feeder.tell(r#"{"kind":"reading","elapsed_s":0}"#);
        let (_, now) = next_from_feeder(&mut told);
        assert!(now[0] > before[0], "hot face from {} to {}", before[0], now[0]);
        before = now;
    }
}
