//! `report`: what happened in a heat-up, as one HTML page, a short text, or JSON.

use std::path::{Path, PathBuf};

use super::replay::setup_of;
use super::{AppError, Outcome};
use crate::ageing::NAMES;
use crate::cli::ReportArgs;
use crate::files::{refuse_taken, write_new, write_over};
use crate::log::{self, LogBook};
use crate::report::{Account, Moment, Told, Verdict, page, text};
use crate::run::Setup;
use crate::units::quantity::UnitSystem;

/// Runs the command. The answer is no when danger was reached or the lining is not known to be dry.
///
/// # Errors
/// When the log cannot be read, what it was followed with does not read any more, or the page cannot be written.
pub fn run(args: &ReportArgs) -> Result<Outcome, AppError> {
    let output = args.output.clone().unwrap_or_else(|| page_name(&args.log));
    let writes_page = !args.json || args.output.is_some();
    if writes_page && !args.force {
        refuse_taken(&output)?;
    }
    let book = log::read(&args.log)?;
    let setup = setup_of(book.head()?, &args.log)?;
    let account = account_of(&book, &setup, args.units.into())?;
    if writes_page {
        let page = page::page(&account);
        if args.force { write_over(&output, &page)? } else { write_new(&output, &page)? }
    }
    if args.json {
        // An account holds nothing that JSON cannot: numbers that are none become null.
        super::print(&(serde_json::to_string(&account).unwrap_or_default() + "\n"))?;
    } else {
        super::print(&format!("{}\npage: {}\n", text::short(&account), output.display()))?;
    }
    let is_fine = account.dryness.verdict == Verdict::Dry && !account.was_danger_reached();
    Ok(if is_fine { Outcome::Done } else { Outcome::AnswerIsNo })
}

/// What happened in the heat-up of a log.
///
/// # Errors
/// When its lining cannot be solved.
pub fn account_of(book: &LogBook, setup: &Setup, units: UnitSystem) -> Result<Account, AppError> {
    Ok(Account::of(&told_of(book, setup, units)?)?)
}

/// A log as a report is made from it.
///
/// # Errors
/// When it has no usable head.
pub fn told_of<'a>(book: &'a LogBook, setup: &'a Setup, units: UnitSystem) -> Result<Told<'a>, AppError> {
    let head = book.head()?;
    let notes = head.options.iter().filter(|(name, _)| NAMES.contains(&name.as_str())).cloned();
    Ok(Told {
        file: book.path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned()),
        begun: book.begun.map(|begun| begun.format("%-d %B %Y, %H:%M").to_string()),
        program: head.program.clone(),
        setup,
        notes: notes.collect(),
        moments: book.steps.iter().map(|step| Moment { input: &step.input, verdicts: &step.verdicts }).collect(),
        troubles: troubles(book),
        units,
    })
}

fn troubles(book: &LogBook) -> Vec<String> {
    let mut troubles: Vec<String> = book.damage.iter().map(ToString::to_string).collect();
    troubles.extend(book.strange.iter().map(ToString::to_string));
    troubles.extend(book.gaps.iter().map(|gap| format!("row {}: {} steps were not saved", gap.row, gap.steps)));
    let resumed =
        |resume: &log::Resume| format!("row {}: the log was taken up again by {}", resume.row, resume.program);
    troubles.extend(book.resumes.iter().map(resumed));
    troubles
}

/// The page beside the log: "heat-up-report.html".
fn page_name(log: &Path) -> PathBuf {
    let stem = log.file_stem().map_or_else(|| "heat-up".into(), std::ffi::OsStr::to_string_lossy);
    log.with_file_name(format!("{stem}-report.html"))
}
