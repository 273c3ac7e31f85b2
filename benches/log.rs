//! How many rows a second the log takes, and how fast a day's log is read.

#![allow(clippy::unwrap_used)]

use std::time::Duration;

use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use firstheat::log::{Document, Entry, Head, LogBook, LogOptions, LogWriter, Recorded, Row, SyncAtOnce, read};
use firstheat::reading::{Channel, Reading};
use firstheat::run::{Event, Input, TimeSource};
use firstheat::units::{Celsius, Seconds};

/// Probe channels a line.
const CHANNELS: usize = 4;

/// Probe lines written in one go.
const LINES: usize = 5_000;

fn main() {
    divan::main();
}

fn head() -> Head {
    let document =
        || Document { text: "name = \"upright melting furnace\"\n".to_owned(), digest: "00000000".to_owned() };
    Head {
        program: firstheat::log::PROGRAM.to_owned(),
        seed: 1,
        time_source: TimeSource::Computer,
        estimates_every: Seconds(10.0),
        options: Vec::new(),
        lining: document(),
        plan: document(),
        probes: document(),
    }
}

fn line(number: usize) -> Input {
    let elapsed_s = number as f64 * 1.000_137;
    let channels = ["gas", "barrel face", "barrel mid", "shell"];
    let reading = |name: &&str| Reading { channel: Channel::new(name), value: Ok(Celsius(20.0 + elapsed_s / 97.0)) };
    Input { elapsed: Seconds(elapsed_s), event: Event::Readings(channels[..CHANNELS].iter().map(reading).collect()) }
}

fn write_log(path: &std::path::Path, sync_at_once: SyncAtOnce, lines: usize) {
    let options = LogOptions { sync_at_once, finish_within: Duration::from_secs(60), ..LogOptions::default() };
    let mut writer = LogWriter::create(path, &head(), options).unwrap();
    for number in 0..lines {
        assert!(matches!(writer.record(&line(number), &[]), Recorded::Row(_)));
    }
    writer.finish().unwrap();
}

/// From the call to the row being safe on disk, regular syncs.
#[divan::bench(sample_count = 10)]
fn rows_written_to_disk(bencher: Bencher<'_, '_>) {
    let directory = tempfile::tempdir().unwrap();
    bencher
        .counter(ItemsCount::new(LINES * CHANNELS))
        .with_inputs(|| tempfile::NamedTempFile::new_in(&directory).unwrap().into_temp_path().with_extension("csv"))
        .bench_values(|path| write_log(&path, SyncAtOnce::WarningsAndWords, LINES));
}

/// One step at a time, each safe before the next: what the disk itself allows.
#[divan::bench(sample_count = 5)]
fn steps_each_safe_before_the_next(bencher: Bencher<'_, '_>) {
    let directory = tempfile::tempdir().unwrap();
    bencher
        .counter(ItemsCount::new(200_usize))
        .with_inputs(|| tempfile::NamedTempFile::new_in(&directory).unwrap().into_temp_path().with_extension("csv"))
        .bench_values(|path| {
            let options = LogOptions { sync_at_once: SyncAtOnce::EveryStep, ..LogOptions::default() };
            let mut writer = LogWriter::create(&path, &head(), options).unwrap();
            for number in 0..200 {
                let Recorded::Row(row) = writer.record(&line(number), &[]) else { panic!("no room") };
                assert!(writer.wait_until_durable(row, Duration::from_secs(5)));
            }
            writer.finish().unwrap();
        });
}

/// How long following waits for the log: the call alone.
#[divan::bench]
fn a_call_to_record(bencher: Bencher<'_, '_>) {
    let directory = tempfile::tempdir().unwrap();
    let mut writer = LogWriter::create(&directory.path().join("log.csv"), &head(), LogOptions::default()).unwrap();
    let input = line(12_345);
    bencher.bench_local(|| writer.record(black_box(&input), &[]));
}

/// A row made into a line.
#[divan::bench]
fn a_row_to_its_line(bencher: Bencher<'_, '_>) {
    let row = Row {
        number: 123_456,
        elapsed: Seconds(86_399.123_456_789),
        wall_time: None,
        part: 1,
        of: 1,
        entry: Entry::Reading(Reading { channel: Channel::new("barrel face"), value: Ok(Celsius(1_043.217)) }),
    };
    bencher.bench(|| black_box(&row).to_line());
}

/// A day of one probe line a second.
#[divan::bench(sample_count = 3)]
fn a_day_of_rows_read(bencher: Bencher<'_, '_>) {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("day.csv");
    let lines = 86_400;
    write_log(&path, SyncAtOnce::Nothing, lines);
    bencher.counter(ItemsCount::new(lines * CHANNELS)).bench(|| -> LogBook { read(&path).unwrap() });
}
