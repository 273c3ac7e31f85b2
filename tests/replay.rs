//! Sample bytes, whole and damaged: nothing panics, and no wrong reading is taken where the format can tell.
//!
//! Each `hardware-notes/samples/NAME.txt` holds lines as a board may send them, and `NAME.toml` is its probe file. One was
//! recorded from `tests/feeder/feeder.py` over a pseudo-terminal, the others were made from it (`hardware-notes/lines.md`).

#![allow(clippy::unwrap_used)]

use std::fmt::Write;
use std::fs;
use std::path::Path;

use firstheat::probe::feed::Feed;
use firstheat::probe::lines::Start;
use firstheat::probe::{PortEvent, PortSpec, file};
use firstheat::reading::Reading;

struct Sample {
    name: String,
    spec: PortSpec,
    bytes: Vec<u8>,
}

fn samples() -> Vec<Sample> {
    let shelf = Path::new(env!("CARGO_MANIFEST_DIR")).join("hardware-notes/samples");
    let mut samples: Vec<Sample> =
        fs::read_dir(shelf).unwrap().filter_map(|entry| sample(&entry.unwrap().path())).collect();
    samples.sort_by(|one, other| one.name.cmp(&other.name));
    assert!(samples.len() >= 8, "samples are missing");
    samples
}

fn sample(path: &Path) -> Option<Sample> {
    let is_bytes = path.extension().is_some_and(|kind| kind == "txt");
    is_bytes.then(|| Sample {
        name: path.file_stem().unwrap().to_string_lossy().into_owned(),
        spec: file::parse(&fs::read_to_string(path.with_extension("toml")).unwrap()).unwrap().ports.remove(0),
        bytes: fs::read(path).unwrap(),
    })
}

impl Sample {
    fn events(&self, bytes: &[u8]) -> Vec<PortEvent> {
        Feed::new(self.spec.clone(), Start::OnALine).take(bytes)
    }

    /// The readings of each line that is taken from `bytes`.
    fn taken(&self, bytes: &[u8]) -> Vec<Vec<Reading>> {
        let readings = |event| match event {
            PortEvent::Line { readings, .. } => Some(readings),
            _ => None,
        };
        self.events(bytes).into_iter().filter_map(readings).collect()
    }

    /// How many of the damages lead to a temperature that is taken although the channel never sent it.
    fn wrong(&self, damages: impl Iterator<Item = Vec<u8>>) -> Share {
        let sent = self.taken(&self.bytes).concat();
        let is_wrong_reading = |reading: &Reading| reading.value.is_ok() && !sent.contains(reading);
        let is_wrong = |bytes: &Vec<u8>| self.taken(bytes).concat().iter().any(is_wrong_reading);
        let mut share = Share { wrong: 0, of: 0 };
        for bytes in damages {
            share.of += 1;
            share.wrong += usize::from(is_wrong(&bytes));
        }
        share
    }

    fn flips(&self) -> impl Iterator<Item = Vec<u8>> {
        (0..self.bytes.len() * 8).map(|bit| {
            let (mut bytes, at) = self.lines_round(bit / 8);
            bytes[at] ^= 1 << (bit % 8);
            bytes
        })
    }

    fn doubles(&self) -> impl Iterator<Item = Vec<u8>> {
        (0..self.bytes.len()).map(|at| {
            let (mut bytes, at) = self.lines_round(at);
            bytes.insert(at, bytes[at]);
            bytes
        })
    }

    /// Twenty bytes lost from each place on: a buffer that ran over.
    fn gaps(&self) -> impl Iterator<Item = Vec<u8>> {
        (0..self.bytes.len()).map(|at| {
            let (mut bytes, at) = self.lines_round(at);
            bytes.drain(at..bytes.len().min(at + 20));
            bytes
        })
    }

    /// The line of byte `at` with its neighbours, as far as damage there can reach, and where that byte is in them.
    fn lines_round(&self, at: usize) -> (Vec<u8>, usize) {
        let is_end = |byte: &u8| matches!(byte, b'\n' | b'\r');
        let from = self.bytes[..at].iter().rposition(is_end).map_or(0, |end| end + 1);
        let ends = (at + 20..self.bytes.len()).filter(|place| is_end(&self.bytes[*place]));
        let to = ends.skip(2).find(|place| *place > at + 20).map_or(self.bytes.len(), |end| end + 1);
        (self.bytes[from..to].to_vec(), at - from)
    }
}

#[derive(Clone, Copy)]
struct Share {
    wrong: usize,
    of: usize,
}

#[test]
fn each_sample_gives_the_readings_it_should() {
    let mut told = String::new();
    for sample in samples() {
        writeln!(told, "{}", sample.name).unwrap();
        for event in sample.events(&sample.bytes) {
            writeln!(told, "    {}", words(&event)).unwrap();
        }
    }
    insta::assert_snapshot!(told);
}

fn words(event: &PortEvent) -> String {
    match event {
        PortEvent::Line { board_time, readings, .. } => {
            let time = board_time.map_or("     -".to_owned(), |at| format!("{:6.1}", at.0));
            let value = |reading: &Reading| match reading.value {
                Ok(temp) => format!("{} {:.1}", reading.channel, temp.0),
                Err(fault) => format!("{} {fault}", reading.channel),
            };
            format!("{time}  {}", readings.iter().map(value).collect::<Vec<_>>().join("  "))
        }
        PortEvent::Garbled { text, why } => format!("refused {text:?}: {why}"),
        other => format!("{other:?}"),
    }
}

/// The EMFs of `millivolts` were worked out from the temperatures of `labelled` with the `PyPI` package
/// `thermocouples_reference` 0.20, terminals at 26.5 °C, to 0.1 µV.
#[test]
fn millivolts_and_their_junction_give_the_temperatures_they_were_made_from() {
    let named = |name: &str| samples().into_iter().find(|sample| sample.name == name).unwrap();
    let [made, from] = ["millivolts", "labelled"].map(|name| {
        let sample = named(name);
        sample.taken(&sample.bytes).concat()
    });
    assert!(made.len() == from.len() && made.len() > 30, "{} and {}", made.len(), from.len());
    for (one, other) in made.iter().zip(&from) {
        let apart_k = match (one.value, other.value) {
            (Ok(one), Ok(other)) => (one.0 - other.0).abs(),
            (one, other) => f64::from(u8::from(one != other)),
        };
        assert!(apart_k < 0.01, "{one:?} and {other:?}");
    }
}

#[test]
fn a_sample_cut_at_every_byte_gives_the_same_events() {
    for sample in samples() {
        let whole = sample.events(&sample.bytes);
        for cut in 0..=sample.bytes.len() {
            let mut feed = Feed::new(sample.spec.clone(), Start::OnALine);
            let mut events = feed.take(&sample.bytes[..cut]);
            events.extend(feed.take(&sample.bytes[cut..]));
            assert_eq!(events, whole, "{} cut at {cut}", sample.name);
        }
    }
}

/// Opening a port at any moment: what is taken is what was sent, never a piece of a line.
#[test]
fn a_sample_joined_at_any_byte_gives_only_lines_that_were_sent() {
    for sample in samples() {
        let sent = sample.taken(&sample.bytes);
        for from in 0..sample.bytes.len() {
            let events = Feed::new(sample.spec.clone(), Start::MidLine).take(&sample.bytes[from..]);
            for event in events {
                if let PortEvent::Line { readings, .. } = event {
                    assert!(sent.contains(&readings), "{} from {from}: {readings:?}", sample.name);
                }
            }
        }
    }
}

#[test]
fn no_single_damage_gets_past_check_characters() {
    for sample in samples().iter().filter(|sample| ["crc16", "xor8"].contains(&sample.name.as_str())) {
        for (damage, share) in
            [("flipped bit", sample.wrong(sample.flips())), ("doubled byte", sample.wrong(sample.doubles()))]
        {
            assert!(
                share.of > 500 && share.wrong == 0,
                "{}: {} of {} past, {damage}",
                sample.name,
                share.wrong,
                share.of
            );
        }
    }
}

#[test]
fn no_lost_stretch_gets_past_crc16() {
    for sample in samples().iter().filter(|sample| sample.name == "crc16") {
        let share = sample.wrong(sample.gaps());
        assert!(share.of > 500 && share.wrong == 0, "{} of {} past", share.wrong, share.of);
    }
}

/// What damage gets past each format; the figures stand in `hardware-notes/lines.md` too.
#[test]
fn the_share_of_damage_that_gets_past_each_format_is_known() {
    let mut told = String::from("wrong reading taken, per cent of    flipped bits  doubled bytes  20 bytes lost\n");
    for sample in samples() {
        let shares = [sample.wrong(sample.flips()), sample.wrong(sample.doubles()), sample.wrong(sample.gaps())];
        let [flips, doubles, gaps] = shares.map(|share| 100.0 * share.wrong as f64 / share.of as f64);
        writeln!(told, "{:34}{flips:14.1}{doubles:15.1}{gaps:15.1}", sample.name).unwrap();
    }
    insta::assert_snapshot!(told);
}

/// Ten megabytes of noise, from a generator that gives the same each time.
#[test]
fn ten_megabytes_of_noise_give_no_reading_and_hold_no_memory() {
    let sample = samples().into_iter().find(|sample| sample.name == "crc16").unwrap();
    let mut feed = Feed::new(sample.spec.clone(), Start::MidLine);
    let (mut luck, mut refused) = (1_u64, 0);
    for _ in 0..10_240 {
        let noise: Vec<u8> = (0..1024)
            .map(|_| {
                luck = luck.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (luck >> 56) as u8
            })
            .collect();
        for event in feed.take(&noise) {
            assert!(matches!(event, PortEvent::Garbled { .. }), "{event:?}");
            refused += 1;
        }
    }
    assert!(refused > 10_000, "{refused} lines");
    assert_eq!(feed.take(b"\n").len() + feed.take(&sample.bytes).len(), 1 + sample.events(&sample.bytes).len());
}

#[test]
fn a_board_at_another_speed_gives_no_reading() {
    for sample in samples() {
        for (board, port) in [(9600, 38_400), (19_200, 38_400), (115_200, 38_400), (57_600, 38_400), (38_400, 9600)] {
            let rubbish = as_read(&sample.bytes, board, port);
            assert!(!rubbish.is_empty(), "{} at {board} read at {port}: the line model gives nothing", sample.name);
            let taken = sample.taken(&rubbish);
            assert!(taken.is_empty(), "{} at {board} read at {port}: {taken:?}", sample.name);
        }
    }
}

#[test]
fn the_line_model_gives_every_byte_back_at_the_right_speed() {
    for sample in samples() {
        assert_eq!(as_read(&sample.bytes, 38_400, 38_400), sample.bytes, "{}", sample.name);
    }
}

/// What a receiver at `port` baud makes of bytes sent back to back at `board` baud, 8N1, sampling in the middle of bits.
/// A byte whose stop bit is missing comes as it is, as receivers that do not mark framing errors give it.
fn as_read(bytes: &[u8], board: u32, port: u32) -> Vec<u8> {
    let mut line = vec![true; 4];
    for byte in bytes {
        line.push(false);
        line.extend((0..8).map(|bit| byte >> bit & 1 == 1));
        line.push(true);
    }
    let bit_of = f64::from(board) / f64::from(port);
    let level = |at: f64| line.get(at as usize).copied().unwrap_or(true);
    let mut read = Vec::new();
    let mut at = 0.0;
    while at < line.len() as f64 {
        if level(at) {
            at += 0.1 * bit_of.min(1.0);
            continue;
        }
        let bits = (0..8).map(|bit| level(at + (1.5 + f64::from(bit)) * bit_of));
        read.push(bits.enumerate().fold(0, |byte, (bit, high)| byte | u8::from(high) << bit));
        at += 9.5 * bit_of;
        while !level(at) && at < line.len() as f64 && read.len() < 10 * bytes.len() {
            at += 0.1 * bit_of.min(1.0);
        }
    }
    read
}
