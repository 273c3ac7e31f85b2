//! What is said about files that are no sound logs: what was found, what was expected, what to do.

#![allow(clippy::unwrap_used)]

mod log_trials;

use std::error::Error;
use std::fmt::Write as _;
use std::fs;

use firstheat::log::row::HEADER;
use firstheat::log::trial_disk::TrialDisk;
use firstheat::log::{Cut, LogBook, LogError, LogWriter};
use insta::assert_snapshot;
use log_trials::{head, heat_up, name, options};

fn sound() -> String {
    let disk = TrialDisk::default();
    let mut writer = LogWriter::create_on(disk.clone(), name(), &head(), options()).unwrap();
    for (input, verdicts) in heat_up() {
        writer.record(&input, &verdicts);
    }
    writer.finish().unwrap();
    String::from_utf8(disk.live()).unwrap()
}

/// The sound log with its lines changed; the header is line 0.
fn with_lines(change: impl FnOnce(&mut Vec<String>)) -> String {
    let mut lines: Vec<_> = sound().lines().map(str::to_owned).collect();
    change(&mut lines);
    lines.join("\n") + "\n"
}

/// The line with a cell replaced and its check made anew: what a later or mistaken program would write.
fn with_fresh_check(line: &str, from: &str, to: &str) -> String {
    assert!(line.contains(from), "{line}");
    let changed = line.replace(from, to);
    let bytes = &changed[..changed.len() - 8];
    format!("{bytes}{:08x}", crc32fast::hash(bytes.as_bytes()))
}

/// What reading and taking up again say.
fn said_about(bytes: impl AsRef<[u8]>) -> String {
    let bytes = bytes.as_ref();
    let mut words = String::new();
    match LogBook::from_bytes(name(), bytes) {
        Err(error) => writeln!(words, "read: {}", chain(&error)).unwrap(),
        Ok(book) => {
            writeln!(words, "read: {} of {} steps", book.steps.len(), heat_up().len()).unwrap();
            book.damage.iter().for_each(|damage| writeln!(words, "  {damage}").unwrap());
            book.strange.iter().for_each(|strange| writeln!(words, "  {strange}").unwrap());
            if let Err(error) = book.head() {
                writeln!(words, "  {}", chain(&error)).unwrap();
            }
        }
    }
    match LogWriter::append_on(TrialDisk::holding(bytes), name(), options(), |_| Ok(())) {
        Err(error) => writeln!(words, "take up: {}", chain(&error)).unwrap(),
        Ok(_) => words.push_str("take up: ready"),
    }
    words
}

fn chain(error: &(dyn Error + 'static)) -> String {
    let causes = std::iter::successors(error.source(), |cause: &&(dyn Error + 'static)| (*cause).source());
    causes.fold(error.to_string(), |chain, cause| chain + ": " + &cause.to_string())
}

/// Index of the line that holds these words.
fn line_with(lines: &[String], words: &str) -> usize {
    lines.iter().position(|line| line.contains(words)).unwrap()
}

#[test]
fn an_empty_file() {
    assert_snapshot!(said_about(""));
}

#[test]
fn a_file_of_another_kind() {
    assert_snapshot!(said_about("time;temperature\r\n0;20,5\r\n"));
}

#[test]
fn a_file_that_is_no_text() {
    assert_snapshot!(said_about(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"));
}

#[test]
fn a_log_of_a_later_format() {
    let later = HEADER.replace("check_v1", "pressure_pa,check_v2");
    assert_snapshot!(said_about(later + "\n1,2,3,4,5,6\n"));
}

#[test]
fn a_log_that_breaks_off_in_its_head() {
    let sound = sound();
    assert_snapshot!(said_about(&sound[..400]));
}

#[test]
fn a_log_that_breaks_off_in_a_step() {
    let sound = sound();
    assert_snapshot!(said_about(&sound[..sound.len() - 150]));
}

#[test]
fn a_value_that_was_edited() {
    assert_snapshot!(said_about(sound().replace("104.25", "94.25")));
}

#[test]
fn a_header_that_was_edited() {
    assert_snapshot!(said_about(sound().replacen("elapsed_s", "seconds", 1)));
}

#[test]
fn a_line_in_the_head_that_was_edited() {
    assert_snapshot!(said_about(sound().replacen("roof = 0.05", "roof = 0.06", 1)));
}

#[test]
fn a_line_that_was_removed() {
    assert_snapshot!(said_about(with_lines(|lines| {
        let at = line_with(lines, "port-lost");
        lines.remove(at);
    })));
}

#[test]
fn a_line_that_stands_twice() {
    assert_snapshot!(said_about(with_lines(|lines| {
        let at = line_with(lines, "log-failing");
        lines.insert(at, lines[at].clone());
    })));
}

#[test]
fn a_line_from_a_person() {
    assert_snapshot!(said_about(with_lines(|lines| {
        let at = line_with(lines, "log-failing");
        lines.insert(at, "# the gas ran out here".to_owned());
    })));
}

#[test]
fn a_line_that_is_no_utf_8() {
    let sound = sound();
    let (before, after) = sound.split_once(",log-failing,").unwrap();
    assert_snapshot!(said_about([before.as_bytes(), b",log-f\xffiling,", after.as_bytes()].concat()));
}

#[test]
fn a_log_saved_anew_by_a_spreadsheet() {
    assert_snapshot!(said_about(sound().replace(',', ";")));
}

#[test]
fn a_log_whose_line_ends_and_byte_order_mark_were_changed_is_as_good_as_before() {
    assert_snapshot!(said_about(sound().replace('\n', "\r\n").trim_start_matches('\u{feff}')));
}

#[test]
fn a_word_of_a_later_version() {
    assert_snapshot!(said_about(with_lines(|lines| {
        let at = line_with(lines, ",operator,on,");
        lines[at] = with_fresh_check(&lines[at], ",operator,on,", ",operator,relight,");
    })));
}

#[test]
fn a_kind_of_verdict_of_a_later_version() {
    assert_snapshot!(said_about(with_lines(|lines| {
        let at = line_with(lines, ",notice,");
        lines[at] = with_fresh_check(&lines[at], ",notice,", ",hint,");
    })));
}

#[test]
fn a_head_without_a_seed() {
    assert_snapshot!(said_about(with_lines(|lines| {
        let at = line_with(lines, ",head,seed,");
        lines[at] = with_fresh_check(&lines[at], ",head,seed,", ",head,dice,");
    })));
}

#[test]
fn a_name_that_is_taken() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("kiln.csv");
    fs::write(&path, "mine").unwrap();
    let error = LogWriter::create(&path, &head(), options()).unwrap_err();
    assert!(matches!(error, LogError::Exists { .. }));
    assert_snapshot!(error.to_string().replace(directory.path().to_str().unwrap(), "DIR"));
    assert_eq!(fs::read(&path).unwrap(), b"mine");
}

#[test]
fn a_directory_that_is_not_there() {
    let directory = tempfile::tempdir().unwrap();
    let error = LogWriter::create(&directory.path().join("no/kiln.csv"), &head(), options()).unwrap_err();
    assert_snapshot!(chain(&error).replace(directory.path().to_str().unwrap(), "DIR"));
}

#[test]
fn a_log_that_another_program_writes() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("kiln.csv");
    let writer = LogWriter::create(&path, &head(), options()).unwrap();
    let error = LogWriter::append(&path, options()).unwrap_err();
    assert_snapshot!(error.to_string().replace(directory.path().to_str().unwrap(), "DIR"));
    writer.finish().unwrap();
    LogWriter::append(&path, options()).unwrap();
}

#[test]
fn what_is_cut_is_kept_beside_and_never_over_an_older_one() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("kiln.csv");
    let sound = sound();
    fs::write(&path, sound.clone() + "half a ro").unwrap();
    LogWriter::append(&path, options()).unwrap();
    fs::write(&path, sound.clone() + "another").unwrap();
    LogWriter::append(&path, options()).unwrap();
    assert_eq!(fs::read_to_string(directory.path().join("kiln.csv.torn")).unwrap(), "half a ro");
    assert_eq!(fs::read_to_string(directory.path().join("kiln.csv.torn2")).unwrap(), "another");
    assert!(fs::read_to_string(&path).unwrap().starts_with(&sound));
}

#[test]
fn everything_from_the_damage_on_is_set_aside_when_a_person_asks_for_it() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("kiln.csv");
    fs::write(&path, sound().replace("no room", "NO ROOM")).unwrap();
    let (writer, book) = LogWriter::append_cutting(&path, options(), Cut::FromFirstDamage).unwrap();
    writer.finish().unwrap();
    assert_eq!(book.steps.len(), 6);
    let aside = fs::read_to_string(directory.path().join("kiln.csv.torn")).unwrap();
    assert!(aside.contains("NO ROOM") && aside.contains(",end,"));
    let after = firstheat::log::read(&path).unwrap();
    assert_eq!(after.damage, []);
    assert_eq!(after.resumes[0].cut_bytes, aside.len() as u64);
}

#[cfg(unix)]
#[test]
fn a_log_deleted_while_it_is_written_is_there_again() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("kiln.csv");
    let mut writer = LogWriter::create(&path, &head(), options()).unwrap();
    let mut events = writer.events().unwrap();
    fs::remove_file(&path).unwrap();
    for (input, verdicts) in heat_up() {
        writer.record(&input, &verdicts);
    }
    let Some(firstheat::log::LogEvent::Failing(why)) = events.blocking_recv() else { panic!("nothing was noticed") };
    assert_eq!(why, "cannot save the log: the file was deleted or moved while it was written");
    assert_eq!(events.blocking_recv(), Some(firstheat::log::LogEvent::Back));
    writer.finish().unwrap();
    assert_eq!(fs::read_to_string(&path).unwrap(), sound());
}
