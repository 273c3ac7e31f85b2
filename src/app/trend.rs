//! `trend`: heat-ups of one lining compared on like terms.

use super::replay::setup_of;
use super::report::told_of;
use super::{AppError, Outcome};
use crate::ageing::{self, HeatUp, Notes, Verdict, Wetness};
use crate::cli::TrendArgs;
use crate::files::{refuse_taken, write_new, write_over};
use crate::log::{self, LogBook};
use crate::report;
use crate::units::quantity::UnitSystem;

/// Runs the command. The answer is no when the lining should be inspected.
///
/// # Errors
/// When a log cannot be read, the logs are of different linings, or the page cannot be written.
pub fn run(args: &TrendArgs) -> Result<Outcome, AppError> {
    if let Some(output) = args.output.as_ref().filter(|_| !args.force) {
        refuse_taken(output)?;
    }
    let mut books: Vec<LogBook> = args.logs.iter().map(|path| log::read(path)).collect::<Result<_, _>>()?;
    // The oldest first; those without a date keep the place they were given.
    books.sort_by_key(|book| book.begun);
    let heat_ups: Vec<HeatUp> = books.iter().map(heat_up).collect::<Result<_, _>>()?;
    same_lining(&heat_ups)?;
    let before = if args.heated_before { Wetness::HeatedBefore } else { Wetness::AsDescribed };
    let units = args.units.into();
    let trend = ageing::compare(&heat_ups, before, units)?;
    if let Some(output) = &args.output {
        let lining = heat_ups.first().map_or("", |first| first.lining.name.as_str());
        let page = report::trend::page(&trend, lining, units);
        if args.force { write_over(output, &page)? } else { write_new(output, &page)? }
    }
    if args.json {
        // A trend holds nothing that JSON cannot.
        super::print(&(serde_json::to_string(&trend).unwrap_or_default() + "\n"))?;
    } else {
        super::print(&report::trend::short(&trend, units))?;
    }
    Ok(if trend.verdict == Verdict::Inspect { Outcome::AnswerIsNo } else { Outcome::Done })
}

fn heat_up(book: &LogBook) -> Result<HeatUp, AppError> {
    let head = book.head()?;
    let setup = setup_of(head, &book.path)?;
    let notes = Notes::from_options(&head.options)?;
    Ok(report::heat_up(&told_of(book, &setup, UnitSystem::Metric)?, notes))
}

fn same_lining(heat_ups: &[HeatUp]) -> Result<(), AppError> {
    let Some(first) = heat_ups.first() else { return Ok(()) };
    match heat_ups.iter().find(|other| other.lining.name != first.lining.name) {
        None => Ok(()),
        Some(other) => Err(AppError::OtherLining {
            log: other.log.clone(),
            found: other.lining.name.clone(),
            expected: first.lining.name.clone(),
        }),
    }
}
