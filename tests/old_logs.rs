//! Every log format ever written still reads, and the present one is still written byte for byte.

#![allow(clippy::unwrap_used)]

mod log_trials;

use firstheat::log::trial_disk::TrialDisk;
use firstheat::log::{LogBook, LogWriter};
use log_trials::{head, heat_up, name, options, said};

const FORMAT_1: &[u8] = include_bytes!("old_logs/format_1.csv");

#[test]
fn a_log_of_format_1_still_reads() {
    let book = LogBook::from_bytes(name(), FORMAT_1).unwrap();
    assert_eq!(book.head().unwrap(), &head());
    assert_eq!(said(&book.steps), heat_up());
    assert!(book.is_whole());
    assert_eq!(book.damage, []);
}

#[test]
fn the_same_heat_up_is_still_written_byte_for_byte() {
    let disk = TrialDisk::default();
    let mut writer = LogWriter::create_on(disk.clone(), name(), &head(), options()).unwrap();
    for (input, verdicts) in heat_up() {
        writer.record(&input, &verdicts);
    }
    writer.finish().unwrap();
    let (written, golden) = (disk.live(), FORMAT_1);
    assert_eq!(String::from_utf8_lossy(&written), String::from_utf8_lossy(golden));
}

#[test]
fn a_log_of_format_1_can_be_taken_up_again() {
    let disk = TrialDisk::holding(FORMAT_1);
    let (writer, book) = LogWriter::append_on(disk.clone(), name(), options(), |_| Ok(())).unwrap();
    writer.finish().unwrap();
    let after = LogBook::from_bytes(name(), &disk.live()).unwrap();
    assert_eq!(after.steps, book.steps);
    assert_eq!(after.resumes.len(), 1);
}
