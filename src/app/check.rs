//! `check`: what a file of ours means, or what is wrong with it.

use std::fmt::Write as _;
use std::path::Path;

use super::{AppError, Outcome, chain};
use crate::cli::CheckArgs;
use crate::files::{read_lining, read_plan, read_text};
use crate::lining::Lining;
use crate::lining::text::digest;
use crate::log::{self, LogBook};
use crate::plan::Plan;
use crate::probe::file;
use crate::probe::set::ProbeSet;
use crate::run::Verdict;

/// Runs the command: says something of every file, and answers no when one of them cannot be used.
///
/// # Errors
/// When output is refused.
pub fn run(args: &CheckArgs) -> Result<Outcome, AppError> {
    let mut outcome = Outcome::Done;
    for path in &args.files {
        match words_for(path) {
            Ok(words) => super::print(&format!("{}: {words}", path.display()))?,
            Err(error) => {
                outcome = Outcome::AnswerIsNo;
                super::print(&format!("{}\n", chain(&error)))?;
            }
        }
    }
    Ok(outcome)
}

fn words_for(path: &Path) -> Result<String, AppError> {
    let text = read_text(path)?;
    let first = text.trim_start_matches('\u{feff}').lines().find(|line| line.trim_start().starts_with("format"));
    match first {
        _ if text.starts_with("row,") => Ok(log_words(&log::read(path)?)),
        Some(line) if line.contains("firstheat lining") => {
            let lining = read_lining(path)?;
            Ok(lining_words(&lining.value, &lining.text))
        }
        Some(line) if line.contains("firstheat plan") => Ok(plan_words(&read_plan(path)?.value)),
        Some(line) if line.contains("firstheat probes") => {
            let set = file::parse(&text)
                .map_err(|wrong| AppError::Probes { path: path.to_owned(), source: Box::new(wrong) })?;
            Ok(probe_words(&set))
        }
        _ => Err(AppError::Foreign { path: path.to_owned() }),
    }
}

fn lining_words(lining: &Lining, text: &str) -> String {
    let mut words = format!("lining `{}`, digest {}\n", lining.name, digest(text));
    for section in &lining.sections {
        let layers =
            section.layers.iter().map(|layer| format!("{:.0} mm {}", layer.thickness.mm(), layer.material.key));
        // Writing to a string cannot fail.
        let _ = writeln!(words, "  section {}: {}", section.name, layers.collect::<Vec<_>>().join(", "));
    }
    words
}

fn plan_words(plan: &Plan) -> String {
    let pulses: u32 = plan.rounds.iter().map(|round| round.count).sum();
    let hours = plan.length().hours();
    let mut words =
        format!("plan for `{}`: {pulses} pulses in {} rounds, {hours:.1} h\n", plan.lining, plan.rounds.len());
    for round in &plan.rounds {
        let (count, on_s, off_s) = (round.count, round.on.0, round.off.0);
        let _ = writeln!(words, "  {count} x {on_s:.0} s on, {off_s:.0} s off ({})", round.binds);
    }
    words
}

fn probe_words(set: &ProbeSet) -> String {
    let mut words = format!("{} probes on {} ports\n", set.channels().count(), set.ports.len());
    for port in &set.ports {
        let _ = writeln!(words, "  port {} at {} baud", port.path, port.speed);
        for spec in &port.channels {
            let (letter, limit_c) = (spec.couple.letter(), spec.limit.0);
            let _ = writeln!(words, "    {} type {letter}, bears {limit_c:.0} °C", spec.channel);
        }
    }
    words
}

fn log_words(book: &LogBook) -> String {
    let length = book.steps.last().map_or(0.0, |step| step.input.elapsed.hours());
    let warnings = book.verdicts().filter(|verdict| matches!(verdict, Verdict::Warning { .. })).count();
    let mut words = format!("log of {} steps over {length:.2} h with {warnings} warnings\n", book.steps.len());
    for damage in &book.damage {
        let _ = writeln!(words, "  damage: {damage}");
    }
    words
}
