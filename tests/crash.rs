//! Power cuts, damage and failing disks: no acknowledged row is ever lost.

#![allow(clippy::unwrap_used)]

mod log_trials;

use std::collections::BTreeSet;
use std::io;
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use firstheat::log::medium::Medium as _;
use firstheat::log::tail::Tail;
use firstheat::log::trial_disk::{Access, TrialDisk};
use firstheat::log::{Damage, LogBook, LogError, LogEvent, LogOptions, LogWriter, Recorded, SyncAtOnce};
use firstheat::run::{Event, Input, Verdict};
use log_trials::{head, heat_up, input, name, notice, options, said};

const LONG: Duration = Duration::from_secs(20);

/// A log of the whole heat-up on a disk that never fails, and its bytes.
fn whole_log() -> Vec<u8> {
    let disk = TrialDisk::default();
    write(&disk, &heat_up(), options()).finish().unwrap();
    disk.live()
}

fn write(disk: &TrialDisk, steps: &[(Input, Vec<Verdict>)], options: LogOptions) -> LogWriter {
    let mut writer = LogWriter::create_on(disk.clone(), name(), &head(), options).unwrap();
    for (input, verdicts) in steps {
        writer.record(input, verdicts);
    }
    writer
}

fn read_bytes(bytes: &[u8]) -> Result<LogBook, LogError> {
    LogBook::from_bytes(name(), bytes)
}

/// Takes up a log again, adds a step, and gives what was in it, what was cut, and what is in it then.
fn take_up(bytes: &[u8]) -> Result<(LogBook, Vec<u8>, LogBook), LogError> {
    let disk = TrialDisk::holding(bytes);
    let cut = Arc::new(Mutex::new(Vec::new()));
    let keep = Arc::clone(&cut);
    let save = move |bytes: &[u8]| {
        keep.lock().unwrap().extend_from_slice(bytes);
        io::Result::Ok(())
    };
    let (mut writer, book) = LogWriter::append_on(disk.clone(), name(), options(), save)?;
    writer.record(&input(99.0, Event::Tick), &[notice(99.0, "taken up")]);
    writer.finish()?;
    let cut = cut.lock().unwrap().clone();
    Ok((book, cut, read_bytes(&disk.live())?))
}

/// Waits until the row is safe; `false` once there is no more hope of it.
fn until_durable_while(writer: &LogWriter, row: u64, mut is_hopeful: impl FnMut() -> bool) -> bool {
    while !writer.wait_until_durable(row, Duration::from_millis(1)) {
        if !is_hopeful() {
            return false;
        }
    }
    true
}

/// Offsets after which a group of rows is complete, and the number of its last row.
fn ends_of_groups(bytes: &[u8]) -> Vec<(usize, u64)> {
    let mut ends = Vec::new();
    let mut end = 0;
    for line in bytes.split_inclusive(|byte| *byte == b'\n') {
        end += line.len();
        let row = firstheat::log::Row::from_line(line.strip_suffix(b"\n").unwrap());
        if let Some(row) = row.ok().filter(|row| row.part == row.of) {
            ends.push((end, row.number));
        }
    }
    ends
}

#[test]
fn a_log_cut_at_any_byte_keeps_every_complete_step_and_can_be_taken_up_again() {
    let bytes = whole_log();
    let ends = ends_of_groups(&bytes);
    let all = heat_up();
    for cut in 0..=bytes.len() {
        let complete = ends.iter().filter(|(end, _)| *end <= cut).count();
        if complete == 0 {
            assert!(matches!(take_up(&bytes[..cut]), Err(LogError::NoHead { .. })), "cut at {cut}");
            continue;
        }
        let (end, row) = ends[complete - 1];
        let (book, torn, after) = take_up(&bytes[..cut]).unwrap();
        assert_eq!(said(&book.steps), all[..complete - 1], "cut at {cut}");
        assert_eq!(book.last_row, row, "cut at {cut}");
        assert_eq!(torn, bytes[end..cut], "cut at {cut}");
        assert_eq!(after.steps.len(), complete, "cut at {cut}");
        assert_eq!(after.steps.last().unwrap().verdicts, [notice(99.0, "taken up")]);
        assert_eq!(after.damage, [], "cut at {cut}");
        assert_eq!(after.resumes[0].cut_bytes, torn.len() as u64);
    }
}

#[test]
fn power_lost_at_any_byte_loses_no_acknowledged_row() {
    let steps = heat_up();
    let size = whole_log().len();
    let head_size = {
        let disk = TrialDisk::default();
        write(&disk, &[], options()).finish().unwrap();
        disk.live().len()
    };
    let mut seen = BTreeSet::new();
    for budget in 0..size - head_size {
        let disk = TrialDisk::default();
        let hurried = LogOptions { finish_within: Duration::ZERO, sync_every: Duration::ZERO, ..options() };
        let mut writer = LogWriter::create_on(disk.clone(), name(), &head(), hurried).unwrap();
        disk.cut_power_after(budget);
        let mut events = writer.events().unwrap();
        for pair in steps.chunks(2) {
            let mut last = 0;
            for (input, verdicts) in pair {
                let Recorded::Row(row) = writer.record(input, verdicts) else { panic!("no room") };
                last = row;
            }
            let has_power = || !matches!(events.try_recv(), Ok(LogEvent::Failing(_)));
            if !until_durable_while(&writer, last, has_power) {
                break;
            }
        }
        let acknowledged = writer.durable_row();
        seen.insert(acknowledged);
        drop(writer);
        for kept in [0, disk.unsaved_bytes() / 2, disk.unsaved_bytes()] {
            let book = read_bytes(&disk.after_power_cut(kept)).unwrap();
            assert!(
                book.last_row >= acknowledged,
                "budget {budget}: {acknowledged} acknowledged, {} there",
                book.last_row
            );
            assert_eq!(said(&book.steps), steps[..book.steps.len()], "budget {budget}");
        }
    }
    assert!(seen.len() >= steps.len() / 2, "power was to go after each acknowledgement: {seen:?}");
}

#[test]
fn a_flipped_byte_anywhere_is_noticed_and_costs_only_the_steps_it_touches() {
    let bytes = whole_log();
    let all = heat_up();
    let ends = ends_of_groups(&bytes);
    for at in 0..bytes.len() {
        for flip in [0x01, 0x20, 0x80] {
            let mut damaged = bytes.clone();
            damaged[at] ^= flip;
            let book = read_bytes(&damaged).unwrap();
            assert!(!book.damage.is_empty(), "byte {at} ^ {flip:#x}");
            let group = ends.iter().filter(|(end, _)| *end <= at).count();
            // A lost line end takes the beginning of the next group with it.
            let spared = |step: usize| step + 1 != group && (step != group || bytes[at] != b'\n');
            let expected: Vec<_> = (0..all.len()).filter(|step| spared(*step)).map(|step| all[step].clone()).collect();
            let found = said(&book.steps);
            let is_there = expected.iter().all(|step| found.contains(step));
            assert!(is_there, "byte {at} ^ {flip:#x}: {:?}", book.damage);
            assert!(found.iter().all(|step| all.contains(step)), "byte {at} ^ {flip:#x} made a step up");
        }
    }
}

#[test]
fn nothing_is_added_to_a_log_damaged_before_its_end() {
    let bytes = whole_log();
    let (last_group, _) = ends_of_groups(&bytes)[heat_up().len() - 1];
    let header_end = bytes.iter().position(|byte| *byte == b'\n').unwrap();
    for at in header_end + 1..last_group - 1 {
        let mut damaged = bytes.clone();
        damaged[at] ^= 0x04;
        assert!(matches!(take_up(&damaged), Err(LogError::Damaged { .. } | LogError::Head { .. })), "byte {at}");
    }
}

#[test]
fn a_tail_of_zeros_is_torn_and_not_damage() {
    let mut bytes = whole_log();
    bytes.resize(bytes.len() + 512, 0);
    let (book, torn, _) = take_up(&bytes).unwrap();
    assert_eq!(torn, [0; 512]);
    assert!(matches!(book.damage[..], [Damage::TornTail { bytes: 512, .. }]));
}

#[test]
fn a_refused_sync_acknowledges_nothing_it_did_not_save() {
    let disk = TrialDisk::default();
    let mut writer = write(&disk, &[], options());
    let mut events = writer.events().unwrap();
    disk.refuse_syncs(1);
    let Recorded::Row(row) = writer.record(&input(1.0, Event::Tick), &[notice(1.0, "a")]) else { panic!("no room") };
    assert!(matches!(events.blocking_recv(), Some(LogEvent::Failing(why)) if why.contains("input/output error")));
    assert!(writer.wait_until_durable(row, LONG));
    let safe = disk.after_power_cut(0);
    assert_eq!(read_bytes(&safe).unwrap().last_row, row);
    assert_eq!(events.blocking_recv(), Some(LogEvent::Back));
}

#[test]
fn a_sync_tried_again_on_the_same_bytes_would_have_lost_them() {
    let mut disk = TrialDisk::default();
    disk.append(b"row\n").unwrap();
    disk.refuse_syncs(1);
    assert!(disk.sync().is_err());
    disk.sync().unwrap();
    assert_ne!(disk.after_power_cut(0), b"row\n");
}

#[test]
fn syncs_refused_for_a_while_lose_no_acknowledged_row() {
    for refused in 1..6 {
        let disk = TrialDisk::default();
        let mut writer = write(&disk, &[], LogOptions { sync_at_once: SyncAtOnce::EveryStep, ..options() });
        disk.refuse_syncs(refused);
        for (input, verdicts) in heat_up() {
            writer.record(&input, &verdicts);
            let acknowledged = writer.durable_row();
            for kept in [0, disk.unsaved_bytes()] {
                let there = read_bytes(&disk.after_power_cut(kept)).unwrap();
                assert!(there.last_row >= acknowledged, "{refused} refused");
            }
        }
        writer.finish().unwrap();
        assert_eq!(said(&read_bytes(&disk.after_power_cut(0)).unwrap().steps), heat_up());
    }
}

#[test]
fn a_full_disk_is_reported_once_and_everything_is_there_when_it_has_room_again() {
    let disk = TrialDisk::default();
    let mut writer = write(&disk, &[], options());
    let mut events = writer.events().unwrap();
    disk.limit_room(Some(disk.live().len() + 700));
    let mut last = 0;
    for (input, verdicts) in heat_up() {
        if let Recorded::Row(row) = writer.record(&input, &verdicts) {
            last = row;
        }
    }
    assert!(
        matches!(events.blocking_recv(), Some(LogEvent::Failing(why)) if why.starts_with("cannot write the log: "))
    );
    assert!(!writer.wait_until_durable(last, Duration::from_millis(30)));
    disk.limit_room(None);
    assert!(writer.wait_until_durable(last, LONG));
    assert_eq!(events.blocking_recv(), Some(LogEvent::Back));
    writer.finish().unwrap();
    assert_eq!(events.blocking_recv(), None);
    let book = read_bytes(&disk.after_power_cut(0)).unwrap();
    assert_eq!(said(&book.steps), heat_up());
    assert!(book.is_whole());
}

#[test]
fn a_disk_that_turns_read_only_is_reported_and_everything_is_there_when_it_can_be_written_again() {
    let disk = TrialDisk::default();
    let steps = heat_up();
    let (before, after) = steps.split_at(steps.len() / 2);
    let mut writer = write(&disk, before, options());
    let mut events = writer.events().unwrap();
    disk.mount(Access::ReadOnly);
    let mut last = 0;
    for (input, verdicts) in after {
        let Recorded::Row(row) = writer.record(input, verdicts) else { panic!("no room") };
        last = row;
    }
    let Some(LogEvent::Failing(why)) = events.blocking_recv() else { panic!("nothing was said") };
    assert!(why.contains("read-only"), "{why}");
    assert!(!writer.wait_until_durable(last, Duration::from_millis(30)));
    disk.mount(Access::ReadAndWrite);
    assert!(writer.wait_until_durable(last, LONG));
    writer.finish().unwrap();
    let book = read_bytes(&disk.after_power_cut(0)).unwrap();
    assert_eq!(said(&book.steps), steps);
    assert!(book.is_whole());
}

#[test]
fn a_slow_disk_is_reported_and_recording_does_not_wait_for_it() {
    let disk = TrialDisk::default();
    let slow = LogOptions { slow_after: Duration::from_millis(20), ..options() };
    let mut writer = write(&disk, &[], slow);
    let mut events = writer.events().unwrap();
    disk.slow_down(LONG);
    writer.record(&input(1.0, Event::Tick), &[]);
    std::thread::sleep(Duration::from_millis(40));
    let Recorded::Row(row) = writer.record(&input(2.0, Event::Tick), &[]) else { panic!("no room") };
    assert!(writer.durable_row() < row, "recording must not have waited");
    assert!(matches!(events.try_recv(), Ok(LogEvent::Failing(why)) if why.contains("has not taken a row")));
    disk.slow_down(Duration::ZERO);
    assert!(writer.wait_until_durable(row, LONG));
    assert_eq!(events.blocking_recv(), Some(LogEvent::Back));
}

#[test]
fn steps_beyond_the_memory_bound_leave_a_gap_that_the_log_tells_of() {
    let disk = TrialDisk::default();
    let mut writer = write(&disk, &[], LogOptions { memory_bytes: 400, ..options() });
    let mut events = writer.events().unwrap();
    disk.limit_room(Some(0));
    let lost = (0..20).filter(|at| writer.record(&input(f64::from(*at), Event::Tick), &[]) == Recorded::NoRoom).count();
    assert!(lost > 10, "{lost} lost");
    disk.limit_room(None);
    while events.blocking_recv() != Some(LogEvent::Back) {}
    writer.record(&input(50.0, Event::Tick), &[]);
    writer.finish().unwrap();
    let book = read_bytes(&disk.live()).unwrap();
    assert_eq!(book.gaps.iter().map(|gap| gap.steps).sum::<u64>(), lost as u64);
    assert_eq!(book.steps.len(), 21 - lost);
    assert_eq!(book.damage, []);
    assert!(!book.is_whole());
}

#[test]
fn rows_the_disk_never_took_are_handed_back_in_the_end() {
    let disk = TrialDisk::default();
    let hurried = LogOptions { finish_within: Duration::from_millis(50), ..options() };
    let mut writer = write(&disk, &[], hurried);
    disk.limit_room(Some(0));
    writer.record(&input(7.5, Event::Tick), &[notice(7.5, "last words")]);
    let start = Instant::now();
    let Err(LogError::Unsaved { why, lines, .. }) = writer.finish() else { panic!("saved on a full disk") };
    assert!(start.elapsed() < LONG);
    assert!(why.starts_with("cannot write the log: "), "{why}");
    assert_eq!(lines.lines().count(), 2);
    assert!(lines.contains("last words"), "{lines}");
}

#[test]
fn a_log_someone_else_changed_is_not_written_over() {
    let disk = TrialDisk::holding(b"0123456789");
    let mut tail = Tail::at_end_of(disk.clone()).unwrap();
    disk.clone().truncate(4).unwrap();
    disk.clone().append(b"something else").unwrap();
    assert!(tail.mend().is_err());
    assert_eq!(disk.live(), b"0123something else");
}

#[cfg(target_os = "linux")]
#[test]
fn a_file_on_a_full_disk_says_so() {
    // Every write to this device is refused for want of room: full(4) of the Linux manual.
    let mut file = firstheat::log::medium::DiskFile::open(Path::new("/dev/full")).unwrap();
    assert_eq!(file.append(b"row").unwrap_err().kind(), io::ErrorKind::StorageFull);
}
